"""Stretches of wire that want a mark of their own: inferred ones, and shallow ones.

Reads ``wire_segments``; returns lines that drawings lay under the wires.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

if TYPE_CHECKING:
    import pandas as pd
    from numpy.typing import NDArray

_TOUCHING_M = 1e-3


class Stretches(NamedTuple):
    """Unbroken stretches: the run of each, its line, and where it starts and ends along it."""

    runs: NDArray[np.object_]
    lines: NDArray[np.object_]
    from_m: NDArray[np.float64]
    to_m: NDArray[np.float64]


def inferred_stretches(segments: pd.DataFrame) -> Stretches:
    """Return the stretches between locates that lie too far apart to call the wire traced.

    Parameters
    ----------
    segments : GeoDataFrame, layer ``wire_segments``

    Returns
    -------
    Stretches
        None where nothing is inferred.

    Examples
    --------
    >>> from wiremap.model.tables import WIRE_SEGMENTS
    >>> len(inferred_stretches(WIRE_SEGMENTS.empty()).lines)
    0
    """
    return join_stretches(segments, (segments["evidence"] == "inferred").to_numpy(dtype=bool))


def shallow_stretches(segments: pd.DataFrame, *, min_cover_m: float) -> Stretches:
    """Return the stretches whose cover may be less than the limit.

    Parameters
    ----------
    segments : GeoDataFrame, layer ``wire_segments``
        Column cover_low_m; NaN, where no depth is known, is not shallow.
    min_cover_m : float
        Cover limit.

    Returns
    -------
    Stretches

    Examples
    --------
    >>> from wiremap.model.tables import WIRE_SEGMENTS
    >>> len(shallow_stretches(WIRE_SEGMENTS.empty(), min_cover_m=0.15).lines)
    0
    """
    cover_m = segments["cover_low_m"].to_numpy(dtype=float, na_value=np.nan)
    return join_stretches(segments, cover_m < min_cover_m)


def join_stretches(segments: pd.DataFrame, chosen: NDArray[np.bool_]) -> Stretches:
    """Return the chosen rows as lines, rows that follow one another on a run joined.

    Parameters
    ----------
    segments : GeoDataFrame, layer ``wire_segments``
        Ordered by run and chainage.
    chosen : array of bool
        One flag a row.

    Returns
    -------
    Stretches
        In plan: heights are dropped.

    Examples
    --------
    >>> import geopandas as gpd
    >>> from shapely import LineString
    >>> rows = gpd.GeoDataFrame(
    ...     {"run": ["W1", "W1"], "chainage_from_m": [0.0, 1.0], "chainage_to_m": [1.0, 2.0]},
    ...     geometry=[LineString([(0, 0), (1, 0)]), LineString([(1, 0), (2, 0)])],
    ... )
    >>> join_stretches(rows, np.array([True, True])).lines.tolist()
    [<LINESTRING (0 0, 1 0, 2 0)>]
    """
    import shapely

    shapes = np.asarray(segments["geometry"].array, dtype=object)
    kept = np.flatnonzero(chosen & (shapely.get_num_coordinates(shapes) > 1))
    runs = segments["run"].to_numpy(dtype=object)[kept]
    if not len(kept):
        none = np.empty(0)
        return Stretches(runs, np.empty(0, dtype=object), none, none)
    low = segments["chainage_from_m"].to_numpy(dtype=float)[kept]
    high = segments["chainage_to_m"].to_numpy(dtype=float)[kept]
    xy, row = shapely.get_coordinates(shapes[kept], return_index=True)
    starts = np.r_[True, (runs[1:] != runs[:-1]) | (np.abs(low[1:] - high[:-1]) > _TOUCHING_M)]
    stretch = np.cumsum(starts) - 1
    is_first = np.diff(row, prepend=-1) > 0
    is_doubled = is_first & ~starts[row]  # where a row goes on, its first vertex is there already
    lines = shapely.linestrings(xy[~is_doubled], indices=stretch[row][~is_doubled])
    ends = np.r_[np.flatnonzero(starts)[1:], len(kept)] - 1
    return Stretches(runs[starts], np.atleast_1d(lines), low[starts], high[ends])
