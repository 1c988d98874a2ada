"""A simulator of tone along runs: current, depth, receiver, and what goes wrong.

Level = gain * I(x) / (2 D(x)) * noise. Every run is a straight line of its own; truths are kept.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from pyproj import CRS

from wiremap.model.frame import Frame

METRIC = CRS("EPSG:26914")
FRAME = Frame(crs=METRIC, metric_crs=METRIC)


@dataclass(frozen=True)
class World:
    """How tone behaves and is read on one property."""

    noise: float = 0.05
    additive: float = 0.0
    decay_per_m: float = 0.001
    depth_swing: float = 0.15
    depth_roughness: float = 0.0
    depth_length_m: float = 15.0
    depth_steps: float = 0.0
    depth_sigma: float = 0.06
    depth_every: int | None = 1
    spacing_m: tuple[float, float] = (3.0, 8.0)
    points: tuple[int, int] = (20, 60)
    taper: str = "linear"
    scale: str = "linear"


@dataclass(frozen=True)
class Truth:
    """What is wrong with one run."""

    kind: str = "sound"
    place_m: tuple[float, ...] = ()
    loss: tuple[float, ...] = ()


def draw_chainages(rng, world):
    """Return chainages of the path points."""
    count = int(rng.integers(*world.points, endpoint=True))
    return np.concatenate([[0.0], np.cumsum(rng.uniform(*world.spacing_m, count - 1))])


def draw_depths(rng, x, world):
    """Return the wire's true depth at each point."""
    if world.depth_steps:
        at = np.sort(rng.uniform(0, x[-1], max(int(x[-1] / 25), 1)))
        return 0.32 * (1 + world.depth_steps * rng.uniform(-1, 1, len(at) + 1))[at.searchsorted(x)]
    gap = np.abs(x[:, None] - x[None, :]) / world.depth_length_m
    smooth = np.exp(-0.5 * gap**2) + 1e-8 * np.eye(len(x))
    swing = np.linalg.cholesky(smooth) @ rng.standard_normal(len(x))
    rough = rng.standard_normal(len(x)) * world.depth_roughness
    return 0.32 * np.clip(1 + world.depth_swing * swing + rough, 0.4, 2.0)


def read_depths(rng, x, depth, world):
    """Return depth and sigma as the profile gives them, linear between readings; the readings."""
    none = np.full(len(x), np.nan)
    if world.depth_every is None:
        return none, none, none
    at = np.arange(0, len(x), world.depth_every)
    read = depth[at] * (1 + world.depth_sigma * rng.standard_normal(len(at)))
    away = np.abs(x[:, None] - x[at][None, :]).min(axis=1) / world.depth_length_m
    swing = 0.32 * max(world.depth_swing, 0.1)
    sigma = np.hypot(world.depth_sigma * 0.32, swing * np.sqrt(1 - np.exp(-(away**2))))
    readings = none.copy()
    readings[at] = read
    return np.interp(x, x[at], read), sigma, readings


def current_along(x, end_m, truth, world):
    """Return the current at each point, 1 at the start."""
    current = np.exp(-world.decay_per_m * x)
    if truth.kind == "leak":
        for place, loss in zip(truth.place_m, truth.loss, strict=True):
            current = np.where(x > place, current * (1 - loss), current)
    if truth.kind == "open_end":
        left = np.maximum(end_m - x, 0.0)
        if world.taper == "linear":
            current = current * left / end_m
        elif world.taper == "late":
            current = current * np.minimum(1.0, left / (0.5 * end_m))
        else:
            current = current * (1 - np.exp(-left / (0.3 * end_m)))
    return current


def draw_truth(rng, x, kind, loss):
    """Return a truth of one kind, placed where it can be told."""
    if kind == "leak":
        return Truth(kind, (float(rng.uniform(x[2], x[-4])),), (loss,))
    if kind == "leaks":
        third = len(x) // 3
        first = float(rng.uniform(x[1], x[third]))
        second = float(rng.uniform(x[min(2 * third, len(x) - 5)], x[-4]))
        return Truth("leak", (first, second), (loss, loss))
    if kind == "break":
        return Truth(kind, (float(rng.uniform(x[4], x[-1])),), (1.0,))
    if kind == "open_end":
        return Truth(kind, (float(x[-1] * rng.uniform(0.97, 1.0)),), ())
    return Truth()


def walk_run(rng, name, kind, world, *, loss=0.3, lost=True):
    """Return the rows of one run and its truth."""
    x = draw_chainages(rng, world)
    truth = draw_truth(rng, x, kind, loss)
    end = truth.place_m[0] if truth.kind in {"break", "open_end"} else np.inf
    depth = draw_depths(rng, x, world)
    level = current_along(x, end, truth, world) / (2 * depth)
    level = level * (1 + world.noise * rng.standard_normal(len(x)))
    level = level + world.additive * rng.standard_normal(len(x)) / 0.64
    heard = (x < end) & (level > 0.02)
    known, sigma, readings = read_depths(rng, x, depth, world)
    rows = pd.DataFrame(
        {
            "run": name,
            "feature": "path",
            "tone": 100 * level,
            "chainage_m": x,
            "wire_depth_m": known,
            "wire_depth_sigma_m": sigma,
            "read_m": readings,
            "read_sigma_m": world.depth_sigma * readings,
            "gain": np.nan,
        }
    )
    if truth.kind in {"break", "open_end"}:
        gone = int(np.flatnonzero(heard)[-1]) + 1
        rows = rows.iloc[: gone + int(lost and gone < len(x))].copy()
        if gone < len(rows):
            rows.loc[rows.index[gone], ["feature", "tone"]] = ["lost", np.nan]
            rows.loc[rows.index[gone], ["wire_depth_m", "wire_depth_sigma_m"]] = np.nan
    if world.scale == "decibel":
        rows["tone"] = 20 * np.log10(rows["tone"])
    return rows, truth


def survey(seed, kinds, world, **options):
    """Return points, lines and truths of one run for each kind named."""
    rng = np.random.default_rng(seed)
    walked = [walk_run(rng, f"R{i:04d}", kind, world, **options) for i, kind in enumerate(kinds)]
    return (*lay_out([rows for rows, _ in walked]), [truth for _, truth in walked])


def lay_out(runs):
    """Return points and lines of runs, each straight along x on a row of its own."""
    rows = pd.concat(runs, ignore_index=True)
    row = pd.factorize(rows["run"])[0]
    geometry = shapely.points(rows["chainage_m"].to_numpy(), 40.0 * row)
    points = gpd.GeoDataFrame(rows, geometry=geometry, crs=METRIC)
    points["point"] = [f"P{i}" for i in range(len(points))]
    points["locate"] = np.arange(len(points))
    for column, value in {
        "on_line": True,
        "position_rms_m": 0.05,
        "date": np.nan,
        "zone": np.nan,
        "box": np.nan,
        "note": np.nan,
        "status": np.nan,
    }.items():
        if column not in points:
            points[column] = value
    ends = points.groupby("run")["chainage_m"].max()
    lines = gpd.GeoDataFrame(
        {"run": ends.index, "length_m": ends.to_numpy()},
        geometry=[
            shapely.LineString([(0, 40.0 * i), (max(end, 1.0), 40.0 * i)])
            for i, end in enumerate(ends)
        ],
        crs=METRIC,
    )
    return points, lines


def no_connections():
    """Return a connections table without rows."""
    return pd.DataFrame(
        {"run": [], "chainage_m": [], "other_kind": [], "other": [], "other_chainage_m": []}
    )


def variant(world, **changes):
    """Return a world with some of its settings changed."""
    return replace(world, **changes)
