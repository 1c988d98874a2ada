"""Levels read at coils: which of several valves at a box the traced wire feeds."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
import shapely

from wiremap.formulas.tone import linear_level
from wiremap.model.kinds import Feature
from wiremap.steps.faults.rows import read_numbers, read_texts

if TYPE_CHECKING:
    import geopandas as gpd
    import numpy.typing as npt

    from wiremap.model.settings import Settings

COLUMNS = ("valve", "run", "point", "level", "margin", "locate")


def compare_coils(placed: gpd.GeoDataFrame, *, settings: Settings) -> pd.DataFrame:
    """Return the level at each coil, and how far it stands above its rivals.

    Parameters
    ----------
    placed : GeoDataFrame
        All located rows; those of feature ``valve`` with a level count.
    settings : Settings
        Scale, gain table and the join distance within which valves share a box.

    Returns
    -------
    DataFrame
        Columns valve, run, point (the same name as valve), level (linear), margin, locate (index
        in ``placed``). The margin is the share of its level by which a coil exceeds its loudest
        rival of the same run, gain and box (or within the join distance): 1 with no rival
        heard, 0 for equals, negative for one that is exceeded.
    """
    tone = read_numbers(placed, "tone")
    feature = placed["feature"].to_numpy(dtype=object) if len(placed) else np.empty(0, object)
    at = np.flatnonzero((feature == Feature.VALVE) & np.isfinite(tone))
    if not len(at):
        return pd.DataFrame({name: [] for name in COLUMNS})
    rows = placed.iloc[at]
    level = linear_level(tone[at], scale=settings.locating.tone_scale)
    margin = _margins(level, _rivals(rows, settings))
    point = rows["point"].to_numpy(dtype=object)
    values = (point, read_texts(rows, "run"), point, level, margin, at)
    return pd.DataFrame(dict(zip(COLUMNS, values, strict=True)))


def _rivals(rows: gpd.GeoDataFrame, settings: Settings) -> tuple[npt.NDArray[np.intp], ...]:
    """Return pairs of valves read on one run at one gain in one box."""
    geometry = rows.geometry.to_numpy()
    tree = shapely.STRtree(geometry)
    a, b = tree.query(geometry, predicate="dwithin", distance=settings.thresholds.join_m)
    run, box, gain = read_texts(rows, "run"), read_texts(rows, "box"), read_numbers(rows, "gain")
    same = (a != b) & (run[a] == run[b]) & ((gain[a] == gain[b]) | np.isnan(gain[a] - gain[b]))
    same &= (box[a] == box[b]) | (box[a] == "") | (box[b] == "")
    return a[same], b[same]


def _margins(
    level: npt.NDArray[np.float64], pairs: tuple[npt.NDArray[np.intp], ...]
) -> npt.NDArray[np.float64]:
    loudest = np.zeros(len(level))
    np.maximum.at(loudest, pairs[0], level[pairs[1]])
    greater = np.maximum(level, loudest)
    return np.where(greater > 0, (level - loudest) / np.where(greater > 0, greater, 1.0), 0.0)
