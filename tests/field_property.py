"""Simulated properties: runs walked over terrain, with the truth kept beside what was written."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import geopandas as gpd
import numpy as np
import pandas as pd
from field import Hand, Section, take_pairs
from pyproj import CRS

from wiremap.formulas.terrain import triangulate_heights
from wiremap.model.frame import Frame

PLANE = CRS("EPSG:26914")
FRAME = Frame(PLANE, PLANE)


@dataclass(frozen=True)
class Scene:
    """What a simulated property is like."""

    runs: int = 6
    marks: int = 15
    step_m: float = 4.0
    slope_deg: float = 0.0  # of the whole property, rising to the north
    rolling_deg: float = 1.0  # cross slope changes along a run by about this
    depth_m: float = 0.3
    depth_spread_m: float = 0.04
    hand: Hand = field(default_factory=Hand)
    one_sided: float = 0.0  # share of pairs
    lone_left: float = 0.5  # share of those taken to the left
    read: float = 1.0  # share of marks that carry a pair
    elevation_sigma_m: float = float("nan")  # NaN: no elevations
    terrain_sigma_m: float = float("nan")  # noise of a terrain of 1 m cells; NaN: no terrain
    noted_slope: float = 0.0  # share of pairs with a cross slope in the notes
    spacing_m: float = float("nan")  # a second conductor to the right of the first run
    share: float = 0.2
    along: float = 1.0  # share of that run beside the second conductor
    lean_deg: float = 45.0
    height_m: float = 0.0
    exposed: float = 0.0


def walk(scene, rng):
    """Return placed locates, points, vertices and the truth of one property."""
    count = scene.runs * scene.marks
    run = np.repeat(np.arange(scene.runs), scene.marks)
    chainage = np.tile(np.arange(scene.marks) * scene.step_m, scene.runs)
    # runs head anywhere; a plane slope rises to the north
    heading = np.repeat(rng.uniform(0, 360, scene.runs), scene.marks)
    rad = np.radians(heading)
    x, y = 15.0 * run + chainage * np.sin(rad), 5.0 * run + chainage * np.cos(rad)
    gradient = np.tan(np.radians(scene.slope_deg))
    phase = np.repeat(rng.uniform(0, 2 * np.pi, scene.runs), scene.marks)
    rolling = np.tan(np.radians(scene.rolling_deg)) * np.sqrt(2) * np.sin(chainage / 12 + phase)
    slope = gradient * np.sin(rad) + rolling  # rising to the left of the heading
    depth = true_depth(scene, run, chainage, phase)
    beside = (
        np.isfinite(scene.spacing_m)
        & (run == 0)
        & (chainage < scene.along * scene.marks * scene.step_m)
    )
    section = Section(
        depth, slope, np.full((count, 1), np.nan_to_num(scene.spacing_m, nan=1.0)),
        np.where(beside, scene.share, 0.0)[:, None],
    )  # fmt: skip
    left, right = take_pairs(
        section, scene.hand, rng, lean_deg=scene.lean_deg, height_m=scene.height_m
    )
    read = rng.random(count) < scene.read
    lone, to_left = rng.random(count) < scene.one_sided, rng.random(count) < scene.lone_left
    left = np.where(read & ~(lone & ~to_left), np.maximum(left, 0.01), np.nan)
    right = np.where(read & ~(lone & to_left), np.maximum(right, 0.01), np.nan)
    exposed = rng.random(count) < scene.exposed
    noted = np.degrees(np.arctan(slope)) + rng.normal(0, 1.5, count)
    names = np.array([f"P{i}" for i in range(count)], dtype=object)
    labels = np.array([f"R{i}" for i in run], dtype=object)
    frame = pd.DataFrame({
        "point": names, "feature": np.where(exposed, "exposed", "path"), "run": labels,
        "offset_left_m": left, "offset_right_m": right,
        "lean_deg": scene.lean_deg, "receiver_height_m": scene.height_m,
        "cross_slope_deg": np.where(rng.random(count) < scene.noted_slope, noted, np.nan),
        "depth_m": np.where(exposed, depth + rng.normal(0, 0.01, count), np.nan),
        "elevation_m": 100 + y * gradient + rng.normal(0, 1, count) * scene.elevation_sigma_m,
        "position_rms_m": 0.3, "placed_by": "gnss",
        "source_file": "walk.csv", "source_row": np.arange(count) + 2,
    })  # fmt: skip
    placed = gpd.GeoDataFrame(frame, geometry=gpd.points_from_xy(x, y), crs=PLANE)
    points = placed.assign(
        locate=np.arange(count), chainage_m=chainage, heading_deg=heading, on_line=True
    )
    vertices = pd.DataFrame({
        "run": labels, "sequence": np.tile(np.arange(scene.marks), scene.runs), "point": names,
        "feature": frame["feature"], "chainage_m": chainage, "x_m": x, "y_m": y,
        "position_rms_m": 0.3, "is_exposed": exposed,
    })  # fmt: skip
    truth = pd.DataFrame(
        {"depth_m": depth, "slope_tan": slope, "beside": beside, "phase": phase, "run": run}
    )
    return placed, points, vertices, truth


def terrain(scene, placed, rng):
    """Return the ground between cells of a terrain image, or None where the scene has none."""
    if np.isnan(scene.terrain_sigma_m):
        return None
    west, south, east, north = placed.total_bounds
    x, y = (
        g.ravel()
        for g in np.meshgrid(np.arange(west - 9, east + 9), np.arange(south - 9, north + 9))
    )
    height = (
        100 + y * np.tan(np.radians(scene.slope_deg)) + rng.normal(0, scene.terrain_sigma_m, len(x))
    )
    return triangulate_heights(np.column_stack((x, y, height)), reach_m=25)


def true_depth(scene, run, chainage, phase):
    """The wire's depth at chainages of runs, metres."""
    level = scene.depth_m + scene.depth_spread_m * np.sin(phase * 3)
    return np.maximum(level + scene.depth_spread_m * np.sin(chainage / 9 + 2 * phase), 0.05)


def changed(scene, **parts):
    """Return a scene with parts replaced."""
    return replace(scene, **parts)
