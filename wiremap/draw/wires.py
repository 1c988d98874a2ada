"""Wires as the map carries them: one GeoJSON feature an unbroken wire, with values along it.

Reads ``wire_segments`` and ``wire_runs``. What changes along a wire (depth, cover, evidence)
stands in lists beside the line instead of in a feature a stretch, which is a tenth of the size.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from wiremap.draw.features import DECIMALS_DEG, json_text, lonlat_geometry, number_list, row_texts
from wiremap.draw.lanes import find_lanes, lanes_at_vertices

if TYPE_CHECKING:
    from collections.abc import Mapping

    import geopandas as gpd
    import pandas as pd
    from numpy.typing import NDArray

_PIECE_NUMBERS = {"cover_low_m": "cover", "depth_sigma_m": "sigma", "position_rms_m": "rms"}


@dataclass(frozen=True)
class _Chains:
    """Stretches strung together: vertices and pieces, chain after chain."""

    run: NDArray[np.object_]
    vertex_start: NDArray[np.int64]
    lonlat: NDArray[np.float64]
    xy_m: NDArray[np.float64]
    row: NDArray[np.int64]
    chain: NDArray[np.int64]
    chainage_m: NDArray[np.float64]
    depth_m: NDArray[np.float64]


def wire_features(layers: Mapping[str, pd.DataFrame]) -> str:
    """Return the wires as the text of a GeoJSON feature collection.

    Parameters
    ----------
    layers : mapping of str to DataFrame
        ``wire_segments`` and ``wire_runs``; either may be missing.

    Returns
    -------
    str
        Properties: the columns of ``wire_runs``; ``chainage`` and ``depth`` at each vertex;
        ``cover``, ``sigma``, ``rms`` and ``evidence`` of each piece; ``lane`` at each vertex
        where the wire shares a trench.

    Examples
    --------
    >>> wire_features({})
    '{"type":"FeatureCollection","features":[]}'
    """
    segments = _segments(layers)
    if segments is None:
        return '{"type":"FeatureCollection","features":[]}'
    chains = _string_together(segments)
    facts = _run_facts(layers.get("wire_runs"))
    lanes = _lanes(chains)
    shared = {
        key: segments[name].to_numpy(dtype=float)[chains.row]
        for name, key in _PIECE_NUMBERS.items()
        if name in segments
    }
    evidence = (
        segments["evidence"].astype(str).str[:1].to_numpy(dtype=object)[chains.row]
        if "evidence" in segments
        else None
    )
    features = []
    for number, start in enumerate(chains.vertex_start[:-1]):
        vertex = slice(start, chains.vertex_start[number + 1])
        piece = slice(start - number, chains.vertex_start[number + 1] - number - 1)
        run = str(chains.run[number])
        members = [facts.get(run) or f'"run":{json_text(run)}']
        members += [
            f'"chainage":{number_list(chains.chainage_m[vertex], decimals=2)}',
            f'"depth":{number_list(chains.depth_m[vertex])}',
            *(f'"{key}":{number_list(values[piece])}' for key, values in shared.items()),
        ]
        if evidence is not None:
            members.append(f'"evidence":{json_text("".join(evidence[piece]))}')
        if lanes[vertex].any():
            members.append(f'"lane":{number_list(lanes[vertex], decimals=2)}')
        line = number_list(chains.lonlat[vertex], decimals=DECIMALS_DEG)
        features.append(
            f'{{"type":"Feature","geometry":{{"type":"LineString","coordinates":{line}}},'
            f'"properties":{{{",".join(members)}}}}}'
        )
    return '{"type":"FeatureCollection","features":[' + ",".join(features) + "]}"


def _segments(layers: Mapping[str, pd.DataFrame]) -> gpd.GeoDataFrame | None:
    """Return the stretches; the runs themselves where there are none; None where nothing is."""
    import shapely

    for name in ("wire_segments", "wire_runs"):
        frame: Any = layers.get(name)
        if frame is None or len(frame) == 0:
            continue
        shapes = np.asarray(frame.geometry.array, dtype=object)
        there = shapely.get_num_coordinates(shapes) > 0
        drawn = frame if there.all() else frame.loc[there]
        if (shapely.get_num_geometries(shapes) > 1).any():
            drawn = drawn.explode(index_parts=False)
        if len(drawn):
            stretches: gpd.GeoDataFrame = drawn.reset_index(drop=True)
            return stretches
    return None


def _run_facts(runs: pd.DataFrame | None) -> dict[str, str]:
    if runs is None or len(runs) == 0:
        return {}
    return dict(zip(runs["run"].astype(str), row_texts(runs), strict=True))


def _column(frame: pd.DataFrame, name: str) -> NDArray[np.float64]:
    if name in frame:
        return frame[name].to_numpy(dtype=float, na_value=np.nan)
    return np.full(len(frame), np.nan)


def _string_together(segments: gpd.GeoDataFrame) -> _Chains:
    """Return the stretches as chains; a chain ends where its run ends or the line breaks off."""
    import shapely

    lines = shapely.force_2d(np.asarray(segments.geometry.array, dtype=object))
    xy, line = shapely.get_coordinates(lines, return_index=True)
    xy_m = xy * _metres_per_unit(segments)
    start = np.r_[0, np.flatnonzero(np.diff(line)) + 1]
    end = np.r_[start[1:], len(line)] - 1
    run = segments["run"].astype(str).to_numpy(dtype=object)
    gap_m = np.hypot(*(xy_m[start[1:]] - xy_m[end[:-1]]).T)
    new = np.r_[True, (run[1:] != run[:-1]) | (gap_m > 1e-3)]  # noqa: PLR2004 - a millimetre
    kept = np.ones(len(line), dtype=bool)
    kept[start[~new]] = False
    share = _share_of_line(xy_m, line=line, start=start)
    chain = (np.cumsum(new) - 1)[line]
    lonlat = shapely.get_coordinates(lonlat_geometry(segments))
    first_piece = np.ones(len(line), dtype=bool)
    first_piece[start] = False
    return _Chains(
        run=run[new],
        vertex_start=np.r_[np.flatnonzero(np.diff(chain[kept], prepend=-1)), kept.sum()],
        lonlat=lonlat[kept],
        xy_m=xy_m[kept],
        row=line[first_piece],
        chain=chain[first_piece],
        chainage_m=_along(segments, "chainage", line=line, share=share)[kept],
        depth_m=_along(segments, "depth", line=line, share=share)[kept],
    )


def _metres_per_unit(frame: gpd.GeoDataFrame) -> float:
    if frame.crs is None or not frame.crs.is_projected:
        return 1.0
    return float(frame.crs.axis_info[0].unit_conversion_factor)


def _share_of_line(
    xy_m: NDArray[np.float64], *, line: NDArray[np.int64], start: NDArray[np.int64]
) -> NDArray[np.float64]:
    """Return how far along its own line each vertex lies, 0 to 1."""
    step = np.r_[0.0, np.hypot(*np.diff(xy_m, axis=0).T)]
    step[start] = 0.0
    walked = np.cumsum(step)
    walked -= walked[start][line]
    length = np.zeros(len(start))
    np.maximum.at(length, line, walked)
    return walked / np.where(length > 0, length, 1.0)[line]


def _along(
    segments: pd.DataFrame, what: str, *, line: NDArray[np.int64], share: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return a value at each vertex from the values at both ends of its line."""
    low, high = _column(segments, f"{what}_from_m"), _column(segments, f"{what}_to_m")
    return low[line] + share * (high - low)[line]


def _lanes(chains: _Chains) -> NDArray[np.float64]:
    import pandas as pd

    from_vertex = np.arange(len(chains.chain)) + chains.chain
    ranks = pd.Series(chains.run).rank(method="dense").to_numpy().astype(np.int64)
    lanes = find_lanes(
        chains.xy_m[from_vertex], chains.xy_m[from_vertex + 1], runs=ranks[chains.chain]
    )
    return lanes_at_vertices(lanes, chains=chains.chain)
