"""Where along each run the level may change without a fault."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import shapely

if TYPE_CHECKING:
    import geopandas as gpd
    import numpy.typing as npt
    import pandas as pd

    Places = dict[str, npt.NDArray[np.float64]]

_SHARED_TRENCH = 3


def splices_beside(
    lines: gpd.GeoDataFrame, splices: gpd.GeoDataFrame, *, reach_m: float, scale_factor: float
) -> pd.DataFrame:
    """Return the splices that a run passes, whether or not their rows name it.

    Parameters
    ----------
    lines : GeoDataFrame
        One row a run: run, geometry.
    splices : GeoDataFrame
        Located splices.
    reach_m : float
        Distance from the line within which a splice is taken to be on it, in metres.
    scale_factor : float
        Plane metres in one ground metre.

    Returns
    -------
    DataFrame
        Columns run, chainage_m.
    """
    import pandas as pd

    line, point = lines.geometry.to_numpy(), splices.geometry.to_numpy()
    tree = shapely.STRtree(line)
    at, near = tree.query(point, predicate="dwithin", distance=reach_m * scale_factor)
    along = shapely.line_locate_point(line[near], point[at]) / scale_factor
    return pd.DataFrame({"run": lines["run"].to_numpy(dtype=object)[near], "chainage_m": along})


def branch_places(connections: pd.DataFrame, beside: pd.DataFrame) -> Places:
    """Return the chainages at which each run meets another wire, a splice or a valve.

    Parameters
    ----------
    connections : DataFrame
        Columns run, chainage_m, other_kind, other, other_chainage_m.
    beside : DataFrame
        Columns run, chainage_m: further places.

    Returns
    -------
    dict of str to ndarray
        By run, metres.
    """
    here = connections["run"].to_numpy(dtype=object)
    other = (connections["other_kind"] == "run").to_numpy(dtype=bool)
    return _group(
        np.concatenate([
            here, connections["other"].to_numpy(dtype=object)[other],
            beside["run"].to_numpy(dtype=object),
        ]),
        np.concatenate([
            _chainages(connections, "chainage_m"),
            _chainages(connections, "other_chainage_m")[other],
            _chainages(beside, "chainage_m"),
        ]),
    )  # fmt: skip


def fed_at_far_end(connections: pd.DataFrame, lengths: dict[str, float]) -> set[str]:
    """Return the runs whose only controller stands nearer their far end.

    Parameters
    ----------
    connections : DataFrame
        Columns run, chainage_m, other_kind.
    lengths : dict of str to float
        Length of each run in metres.

    Returns
    -------
    set of str
    """
    if not len(connections):
        return set()
    at = (connections["other_kind"] == "controller").to_numpy(dtype=bool)
    run, chainage = (
        connections["run"].to_numpy(dtype=object)[at],
        _chainages(connections, "chainage_m")[at],
    )
    length = np.array([lengths.get(name, np.nan) for name in run], dtype=np.float64)
    far, near = set(run[chainage > 0.8 * length]), set(run[chainage <= 0.8 * length])
    return far - near


def crossing_places(lines: gpd.GeoDataFrame, *, scale_factor: float) -> Places:
    """Return the chainages at which each run is crossed by another.

    Parameters
    ----------
    lines : GeoDataFrame
        One row a run: run, geometry.
    scale_factor : float
        Plane metres in one ground metre.

    Returns
    -------
    dict of str to ndarray
        By run, metres. Runs that meet more than three times share a trench: no crossing.
    """
    geometry = lines.geometry.to_numpy()
    tree = shapely.STRtree(geometry)
    a, b = tree.query(geometry, predicate="crosses")
    if not len(a):
        return {}
    meets = shapely.intersection(geometry[a], geometry[b])
    parts, pair = shapely.get_parts(meets, return_index=True)
    few = np.bincount(pair, minlength=len(a))[pair] <= _SHARED_TRENCH
    parts, pair = parts[few], pair[few]
    middle = shapely.centroid(parts)
    chainage = shapely.line_locate_point(geometry[a[pair]], middle) / scale_factor
    return _group(lines["run"].to_numpy(dtype=object)[a[pair]], chainage)


def _chainages(connections: pd.DataFrame, name: str) -> npt.NDArray[np.float64]:
    return connections[name].to_numpy(dtype=np.float64, na_value=np.nan)


def _group(names: npt.NDArray[np.object_], values: npt.NDArray[np.float64]) -> Places:
    groups: dict[str, list[float]] = {}
    for name, value in zip(names, values.tolist(), strict=True):
        groups.setdefault(name, []).append(value)
    return {name: np.array(each) for name, each in groups.items()}
