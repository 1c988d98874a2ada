"""Invented wires, marks on them, and placed locates, for the tests of traces and what follows."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from pyproj import CRS

from wiremap.model.frame import Frame
from wiremap.model.tables import CONTROLLERS, SPLICES, VALVES, WIRE_SEGMENTS

CRS_METRIC = CRS("EPSG:26914")
FRAME = Frame(crs=CRS_METRIC, metric_crs=CRS_METRIC)
ORIGIN = np.array([500000.0, 4000000.0])


def straight(length_m, step_m=4.0):
    """Marks along a wire that runs east."""
    along = np.arange(0.0, length_m + step_m / 2, step_m)
    return np.column_stack([along, np.zeros(len(along))])


def legs_wire(rng, legs=4, leg_m=40.0):
    """A wire of straight legs that turns at each by up to a right angle."""
    corners, heading = [np.zeros(2)], rng.uniform(0, 2 * np.pi)
    for _ in range(legs):
        way = np.array([np.cos(heading), np.sin(heading)])
        corners.append(corners[-1] + rng.uniform(0.5, 1.5) * leg_m * way)
        heading += np.radians(rng.choice([-90, 90, 45, -45, 20, -20, 60, -60]))
    return shapely.LineString(np.array(corners))


def winding_wire(rng, length_m=160.0):
    """A wire that winds as a hand-dug trench does."""
    count = int(length_m * 2)
    heading = np.cumsum(rng.normal(0, 0.05, count)) + rng.uniform(0, 2 * np.pi)
    return shapely.LineString(np.cumsum(np.column_stack([np.cos(heading), np.sin(heading)]), 0) / 2)


def marks_on(wire, rng, step_m=4.0):
    """Marks at uneven paces along a wire, not at its corners, both ends included."""
    along = np.cumsum(rng.uniform(0.75, 1.25, int(wire.length / step_m * 2)) * step_m)
    along = np.concatenate([[0.0], along[along < wire.length - 0.5], [wire.length]])
    return shapely.get_coordinates(shapely.line_interpolate_point(wire, along))


def placed(runs, rms_m=0.02, **columns):
    """Placed locates: runs maps a name to its marks in the order walked."""
    xy = np.concatenate([np.asarray(marks, dtype=float) for marks in runs.values()]) + ORIGIN
    count = len(xy)
    names = [name for name, marks in runs.items() for _ in range(len(marks))]
    points = [f"{name}-{i}" for name, marks in runs.items() for i in range(len(marks))]
    texts = {
        "point": points,
        "feature": "path",
        "run": names,
        "date": "2026-05-04",
        "source_file": "locates.csv",
        "zone": None,
        "controller": None,
    }
    rms = np.full(count, rms_m)
    numbers = {
        "order": np.nan,
        "source_row": np.arange(count) + 2,
        "position_rms_m": rms,
        "cov_xx_m2": rms**2 / 2,
        "cov_xy_m2": 0.0,
        "cov_yy_m2": rms**2 / 2,
        "elevation_m": np.nan,
    }
    table = pd.DataFrame({**texts, **numbers, **columns}, index=pd.RangeIndex(count))
    table = table.astype(dict.fromkeys(texts, "str"))
    return gpd.GeoDataFrame(table, geometry=gpd.points_from_xy(*xy.T), crs=CRS_METRIC)


def noisy(marks, rng, rms_m):
    """Marks with independent normal errors."""
    return marks + rng.normal(0, rms_m / np.sqrt(2), marks.shape)


def device_layers(valves=(), splices=(), controllers=(), rms_m=0.02):
    """Layers of devices from (name, (x, y), columns) each."""
    layers = []
    for kind, table, items in (
        ("valve", VALVES, valves),
        ("splice", SPLICES, splices),
        ("controller", CONTROLLERS, controllers),
    ):
        rows = [{kind: name, "position_rms_m": rms_m, **columns} for name, _, columns in items]
        places = [shapely.Point(np.array(xy) + ORIGIN) for _, xy, _ in items]
        frame = gpd.GeoDataFrame(
            pd.DataFrame(rows, columns=None if rows else [kind]), geometry=places, crs=CRS_METRIC
        )
        layers.append(table.conform(frame, crs=CRS_METRIC))
    return layers


def segments_of(vertices, cover_low_m=0.2):
    """Segments with a known cover, as far as the dig buffer reads them."""
    rows = pd.DataFrame({"run": vertices["run"], "cover_low_m": cover_low_m})
    return WIRE_SEGMENTS.conform(gpd.GeoDataFrame(rows, geometry=[None] * len(rows)))
