"""Where the routing of the wires is dimensioned: at ends, at turns, and every 100 ft between.

Reads runs on the ground plane; returns one row a dimension point, with its depth and its
distances from two permanent references.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from wiremap.draw.sight import find_blocked, find_insides

if TYPE_CHECKING:
    import pandas as pd
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Integers = NDArray[np.int64]

LONGEST_STEP_M = 30.48
"""Greatest distance between two dimension points: 100 ft, as a county's development standard
asks of control wiring."""

LEAST_TURN_DEG = 20.0
"""Deflection from which a bend is dimensioned (project choice: below it the eye sees no turn)."""

_SMOOTHING_M = 0.3
_NEAREST = 6


class Route(NamedTuple):
    """Dimension points, ordered by run and chainage; arrays of one length."""

    run: Integers
    chainage_m: Floats
    xy: Floats
    kind: NDArray[np.str_]


class References(NamedTuple):
    """Two references and the distance from each, for each point; -1 and NaN where there is none."""

    first: Integers
    first_m: Floats
    second: Integers
    second_m: Floats


def dimension_route(lines: NDArray[np.object_], *, smoothing_m: Floats | None = None) -> Route:
    """Return where runs are dimensioned.

    1. Each run is simplified, so that the scatter of the marks makes no turns.
    2. Its ends, and its corners that turn by 20 degrees or more, are dimensioned.
    3. Between two of those further apart than 100 ft, points are added at equal distances.

    Parameters
    ----------
    lines : array of LineString
        Runs, metres on the ground; empty lines give no points.
    smoothing_m : array, optional
        How far the marks of each run scatter; 0.3 m where not given or less.

    Returns
    -------
    Route
        ``kind`` is start, turn, through or end.

    Examples
    --------
    >>> import shapely
    >>> lines = np.array([shapely.LineString([(0, 0), (40, 0), (40, 10)])])
    >>> route = dimension_route(lines)
    >>> route.kind.tolist(), route.chainage_m.tolist()
    (['start', 'through', 'turn', 'end'], [0.0, 20.0, 40.0, 50.0])
    """
    import shapely

    kept = np.flatnonzero(shapely.get_num_coordinates(lines) > 1)
    if not kept.size:
        return Route(*(np.empty(0, int), np.empty(0), np.empty((0, 2)), np.empty(0, "U7")))
    whole = lines[kept]
    least = np.full(len(kept), _SMOOTHING_M)
    if smoothing_m is not None:
        least = np.fmax(least, smoothing_m[kept])
    corners, line = shapely.get_coordinates(
        shapely.simplify(whole, least, preserve_topology=False), return_index=True
    )
    kind = _corner_kinds(corners, line)
    named = kind != ""
    corners, line, kind = corners[named], line[named], kind[named]
    chainage = shapely.line_locate_point(whole[line], shapely.points(corners))
    last = kind == "end"
    chainage[last] = shapely.length(whole)[line[last]]
    return _with_steps(whole, kept, line, chainage, kind)


def _corner_kinds(corners: Floats, line: Integers) -> NDArray[np.str_]:
    """Return what each corner is; an empty text where it turns too little to count."""
    first = np.r_[True, np.diff(line) != 0]
    last = np.r_[first[1:], True]
    step = np.diff(corners, axis=0)
    heading = np.degrees(np.arctan2(step[:, 1], step[:, 0]))
    turn = np.zeros(len(corners))
    turn[1:-1] = np.abs((np.diff(heading) + 180.0) % 360.0 - 180.0)
    kind = np.where(turn >= LEAST_TURN_DEG, "turn", "").astype("U7")
    kind[first], kind[last] = "start", "end"
    return kind


def _with_steps(
    whole: NDArray[np.object_],
    rows: Integers,
    line: Integers,
    chainage: Floats,
    kind: NDArray[np.str_],
) -> Route:
    """Return the route with points added where two are too far apart."""
    import shapely

    order = np.lexsort((chainage, line))
    line, chainage, kind = line[order], chainage[order], kind[order]
    gap = np.where(np.diff(line) == 0, np.diff(chainage), 0.0)
    more = np.maximum(np.ceil(gap / LONGEST_STEP_M - 1e-9).astype(int) - 1, 0)
    at = np.repeat(np.arange(len(gap)), more)
    place = np.arange(len(at)) - np.repeat(np.cumsum(more) - more, more) + 1
    added = chainage[at] + gap[at] * place / (more[at] + 1)
    line, chainage = np.r_[line, line[at]], np.r_[chainage, added]
    kind = np.r_[kind, np.full(len(at), "through")]
    order = np.lexsort((chainage, line))
    line, chainage, kind = line[order], chainage[order], kind[order]
    points = shapely.line_interpolate_point(whole[line], chainage)
    return Route(rows[line], chainage, shapely.get_coordinates(points), kind)


def depths_at(route: Route, runs: NDArray[np.object_], curves: pd.DataFrame | None) -> Floats:
    """Return the depth and its sigma at each dimension point, from the depth curves.

    Parameters
    ----------
    route : Route
    runs : array of str
        Name of each run that `route` counts.
    curves : DataFrame or None
        run, chainage_m, depth_m, depth_sigma_m.

    Returns
    -------
    array of shape (n, 2)
        NaN where the depth is not known there.
    """
    found = np.full((len(route.run), 2), np.nan)
    if curves is None or not len(curves):
        return found
    names = curves["run"].astype(str).to_numpy()
    starts = np.flatnonzero(np.r_[True, names[1:] != names[:-1]])
    rows = {
        names[a]: slice(a, b) for a, b in zip(starts, np.r_[starts[1:], len(names)], strict=True)
    }
    columns = [curves[c].to_numpy(float) for c in ("chainage_m", "depth_m", "depth_sigma_m")]
    for run in np.unique(route.run):
        part = rows.get(str(runs[run]))
        if part is None:
            continue
        along, *values = (column[part] for column in columns)
        own = route.run == run
        for column, value in enumerate(values):
            found[own, column] = np.interp(
                route.chainage_m[own], along, value, left=np.nan, right=np.nan
            )
    return found


def choose_references(
    points: Floats,
    references: Floats,
    *,
    reach_m: float,
    buildings: NDArray[np.object_] | tuple[()] = (),
) -> References:
    """Return two permanent references for each point: near ones that cross at a good angle.

    Parameters
    ----------
    points, references : array of shape (n, 2), (m, 2)
        Metres on the ground.
    reach_m : float
        Longest distance that is taped.
    buildings : array of geometry, optional
        Metres on the ground; no tape runs through one.

    Returns
    -------
    found : References
        Of the pairs among the nearest six, the one for which an error of the tape moves the
        point least: (a^2 + b^2) / sin^2 of the cut angle is smallest. Pairs that cut at less than
        20 degrees, reach too far or have a building before them are none.

    Examples
    --------
    >>> found = choose_references(np.array([[1.0, 1.0]]), np.eye(2) * 9.0, reach_m=30.0)
    >>> found.first.tolist(), found.second_m.round(2).tolist()
    ([0], [8.06])
    """
    count, none = len(points), np.full(len(points), -1)
    unknown = np.full(count, np.nan)
    if len(references) < 2 or not count:  # noqa: PLR2004 - a tie takes two
        return References(none, unknown, none.copy(), unknown.copy())
    away = references[None, :, :] - points[:, None, :]
    distance = np.hypot(away[..., 0], away[..., 1])
    near = np.argsort(distance, axis=1, kind="stable")[:, :_NEAREST]
    away = np.take_along_axis(away, near[..., None], axis=1)
    distance = np.take_along_axis(distance, near, axis=1)
    a, b = np.triu_indices(near.shape[1], 1)
    cross = away[:, a, 0] * away[:, b, 1] - away[:, a, 1] * away[:, b, 0]
    far = np.maximum(distance[:, a] * distance[:, b], 1e-12)
    sine = np.abs(cross) / far
    insides = find_insides(np.asarray(buildings, dtype=object), np.vstack([points, references]))
    ends = references[near].reshape(-1, 2)
    seen = ~find_blocked(np.repeat(points, near.shape[1], axis=0), ends, insides)
    seen = seen.reshape(near.shape)
    usable = (sine > np.sin(np.radians(20.0))) & (distance[:, b] <= reach_m)
    usable &= seen[:, a] & seen[:, b]
    cost = np.where(
        usable, (distance[:, a] ** 2 + distance[:, b] ** 2) / sine.clip(0.1) ** 2, np.inf
    )
    best = cost.argmin(axis=1)
    row = np.arange(count)
    good = np.isfinite(cost[row, best])
    first, second = a[best], b[best]
    return References(
        np.where(good, near[row, first], -1), np.where(good, distance[row, first], np.nan),
        np.where(good, near[row, second], -1), np.where(good, distance[row, second], np.nan),
    )  # fmt: skip
