"""Invented devices, zone lists and clean properties, shared by the tests of devices and zones."""

from __future__ import annotations

from typing import NamedTuple

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from hypothesis import strategies as st
from pyproj import CRS

from wiremap.model.frame import Frame
from wiremap.model.settings import Settings
from wiremap.model.tables import DEPTH_READINGS, LOCATES_IN, READINGS, VALVES, ZONE_LIST
from wiremap.steps.devices import Devices, find_devices
from wiremap.steps.zones import Reconciled, reconcile_zones

PLANE = CRS.from_epsg(26914)
FRAME = Frame(PLANE, PLANE)
SETTINGS = Settings()


def place(rows: list[dict[str, object]]) -> gpd.GeoDataFrame:
    """Return rows as placed locates; `xy` is the position in metres, `rms` its radial RMS."""
    table = LOCATES_IN.conform(pd.DataFrame(rows).drop(columns=["xy", "rms"], errors="ignore"))
    xy = np.array([row["xy"] for row in rows], dtype=float).reshape(-1, 2)
    rms = np.array([row.get("rms", 0.05) for row in rows], dtype=float)
    half = rms**2 / 2
    columns = {"position_rms_m": rms, "cov_xx_m2": half, "cov_xy_m2": 0.0 * half, "cov_yy_m2": half}
    return gpd.GeoDataFrame(table.assign(**columns), geometry=shapely.points(xy), crs=PLANE)


def trace(placed: gpd.GeoDataFrame, depth_m: float = 0.3) -> pd.DataFrame:
    """Return the placed rows that carry a run as points on runs, walked eastward."""
    on = placed[placed["run"].notna()]
    points = on.assign(
        locate=on.index,
        chainage_m=on.geometry.x,
        wire_depth_m=depth_m,
        wire_depth_sigma_m=0.03,
    )
    return points.sort_values(["run", "chainage_m"]).reset_index(drop=True)


def find(rows: list[dict[str, object]], readings: pd.DataFrame | None = None) -> Devices:
    """Return the devices of some rows."""
    placed = place(rows)
    if readings is None:
        readings = DEPTH_READINGS.empty(crs=PLANE).assign(locate=pd.Series(dtype="int64"))
    return find_devices(placed, trace(placed), readings, frame=FRAME, settings=SETTINGS)


class World(NamedTuple):
    """The tables that zones are reconciled from."""

    zone_list: pd.DataFrame
    valves: gpd.GeoDataFrame
    runs: pd.DataFrame
    paths: pd.DataFrame
    readings: pd.DataFrame
    coils: pd.DataFrame

    def reconcile(self, settings: Settings = SETTINGS) -> Reconciled:
        """Return the reconciliation of the world."""
        return reconcile_zones(*self, settings=settings)


def clean_world(valve_counts: list[int], *, seed: int = 0, controllers: int = 1) -> World:
    """Return a property without any mistake: zone i has valve_counts[i - 1] valves.

    With several controllers, each has all the zones.
    """
    rng = np.random.default_rng(seed)
    names = [chr(ord("A") + c) for c in range(controllers)]
    zones = [(c, z, n) for c in names for z, n in enumerate(valve_counts, 1)]
    valves = [(c, z, k) for c, z, n in zones for k in range(n)]
    length = {(c, z): rng.uniform(15, 400) for c, z, _ in zones}
    wire = {(c, z): 2 * length[c, z] * 0.0083 for c, z, _ in zones}
    zone_list = pd.DataFrame(
        {
            "zone": [str(z) for _, z, _ in zones],
            "controller": [c for c, _, _ in zones],
            "name": [f"Bed {z}" for _, z, _ in zones],
            "valves": [n for _, _, n in zones],
            "awg": "14",
            "ohms": [rng.uniform(20, 60) / max(n, 1) + wire[c, z] for c, z, n in zones],
            "kind": "zone",
            "source_file": "zones.csv",
            "source_row": range(2, len(zones) + 2),
        }
    )
    found = pd.DataFrame(
        {
            "valve": [f"{c}-V{z}{'abcdef'[k]}" for c, z, k in valves],
            "zone": [str(z) for _, z, _ in valves],
            "controller": [c for c, _, _ in valves],
            "run": [f"{c}-R{z}" for c, z, _ in valves],
            "run_zone": [str(z) for _, z, _ in valves],
            "zone_from": "valve",
            "source_file": "locates.csv",
            "source_row": range(2, len(valves) + 2),
        }
    )
    xy = rng.uniform(0, 200, (len(valves), 2))
    runs = pd.DataFrame(
        {
            "run": [f"{c}-R{z}" for c, z, n in zones if n],
            "zones": [str(z) for _, z, n in zones if n],
            "controller": [c for c, _, n in zones if n],
            "end_kind": "valve",
            "length_m": [length[c, z] for c, z, n in zones if n],
        }
    )
    paths = pd.DataFrame(
        {
            "valve": found["valve"],
            "controller": found["controller"],
            "runs": found["run"],
            "path_length_m": [length[c, z] for c, z, _ in valves],
            "path_length_sigma_m": 0.5,
        }
    )
    return World(
        ZONE_LIST.conform(zone_list),
        VALVES.conform(gpd.GeoDataFrame(found, geometry=shapely.points(xy), crs=PLANE)),
        runs,
        paths,
        READINGS.empty(),
        pd.DataFrame({"valve": [], "run": [], "point": [], "level": [], "margin": []}),
    )


@st.composite
def clean_worlds(draw: st.DrawFn) -> World:
    """Draw a property without any mistake."""
    counts = draw(st.lists(st.integers(1, 3), min_size=3, max_size=12))
    return clean_world(
        counts, seed=draw(st.integers(0, 10**6)), controllers=draw(st.integers(1, 3))
    )


def change(frame: pd.DataFrame, row: int, **cells: object) -> pd.DataFrame:
    """Return a copy with some cells of a row changed."""
    changed = frame.copy()
    for name, value in cells.items():
        changed.loc[row, name] = value
    return changed


def codes(result: Devices | Reconciled) -> list[tuple[str, str]]:
    """Return code and subject of all findings, apart from kinds never located."""
    return [(f.code, f.subject) for f in result.findings if f.code != "not-surveyed"]
