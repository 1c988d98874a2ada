"""Dimensions: every controller, valve, splice and fault tied to two permanent points.

Reads the device layers, the placed locates, the layer ``references`` and the buildings of the
base; returns layer ``ties``.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import pandas as pd
import shapely

from wiremap.draw.sight import find_blocked
from wiremap.formulas.two_tape import cut_angles, sides
from wiremap.model.cells import numbers
from wiremap.model.findings import Finding
from wiremap.model.tables import TIES
from wiremap.steps.dimensions.buildings import read_buildings

if TYPE_CHECKING:
    from collections.abc import Mapping

    import geopandas as gpd
    from numpy.typing import NDArray

    from wiremap.model.frame import Frame
    from wiremap.model.settings import Settings

    Floats = NDArray[np.float64]
    Objects = NDArray[np.object_]
    Rows = NDArray[np.intp]

NAMES = {
    "controllers": "controller",
    "valves": "valve",
    "splices": "splice",
    "faults": "fault",
}
"""Layers that are dimensioned, with the column that names a feature."""

NEAREST = 24
"""References looked at for each feature, the nearest first. Project choice: enough for a good cut
angle, few enough that thousands of features stay quick."""

SAME_SIGMAS = 3.0
"""A taped row and a feature this many RMS apart, or less, may be one thing. Project choice."""


class Dimensions(NamedTuple):
    """What `dimension_features` returns.

    Attributes
    ----------
    ties : DataFrame
        Layer ``ties``: one row a feature.
    findings : list of Finding
        Features with fewer than two permanent references in tape reach, with flat cut angles, or
        with a building before a reference.
    """

    ties: pd.DataFrame
    findings: list[Finding]


class Features(NamedTuple):
    """Features to dimension, in arrays; `located` is the row of placed, -1 where not known."""

    layers: Objects
    names: Objects
    xy: Floats
    rms_m: Floats
    located: Rows


class Tapes(NamedTuple):
    """Rows of placed taped from two permanent references a and b, in arrays."""

    rows: Rows
    kinds: Objects
    xy: Floats
    rms_m: Floats
    a: Rows
    b: Rows
    distances: Floats


class Points(NamedTuple):
    """Permanent references, in arrays."""

    names: Objects
    xy: Floats


def dimension_features(
    devices: Mapping[str, gpd.GeoDataFrame],
    placed: gpd.GeoDataFrame,
    references: gpd.GeoDataFrame,
    *,
    frame: Frame,
    settings: Settings,
    base: Mapping[str, gpd.GeoDataFrame] | None = None,
) -> Dimensions:
    """Return the distances of each controller, valve, splice and fault from two permanent points.

    1. Where the feature was taped from two permanent references, those distances are given.
    2. Else both distances are computed from the positions, on the ground, for the pair of
       permanent references within ``tape_reach_m`` whose tapes cross nearest a right angle. A
       pair with both tapes clear of the base's buildings goes before all others, unless its cut
       angle is flat.
    3. Where fewer than two are in reach, the nearest ones beyond it serve, with a finding. So
       does a pair with a building before it, which the columns ``blocked_a`` and ``blocked_b``
       tell.

    Parameters
    ----------
    devices : mapping of str to GeoDataFrame
        Layers ``controllers``, ``valves``, ``splices``, ``faults``; others are passed over. The
        column ``locate``, where there is one, is the row in `placed` that the feature rests on.
    placed : GeoDataFrame
        Placed locates, columns tie_a, tie_a_dist_m, tie_b, tie_b_dist_m.
    references : GeoDataFrame, layer ``references``
        Columns reference, is_permanent, in the same plane.
    frame : Frame
    settings : Settings
        Thresholds tape_reach_m and min_cut_angle_deg.
    base : mapping of str to GeoDataFrame, optional
        Base layers by name. Without one, or without buildings in it, nothing is held to stand in
        the way of a tape.

    Returns
    -------
    Dimensions
        Empty layers give an empty table.

    References
    ----------
    Two permanent points of reference for each dimensioned item is what public record-drawing
    standards ask for; permanent are buildings, drainage inlets, walks, curbs, light poles and the
    like.

    Examples
    --------
    >>> import geopandas as gpd
    >>> from shapely import Point
    >>> from pyproj import CRS
    >>> from wiremap.model.frame import Frame
    >>> from wiremap.model.settings import Settings
    >>> utm = CRS("EPSG:32614")
    >>> valves = gpd.GeoDataFrame({"valve": ["V1"]}, geometry=[Point(5, 12)], crs=utm)
    >>> fixed = gpd.GeoDataFrame({"reference": ["A", "B"], "is_permanent": [True, True]},
    ...                          geometry=[Point(0, 0), Point(14, 0)], crs=utm)
    >>> met = dimension_features({"valves": valves}, valves.iloc[:0], fixed,
    ...                          frame=Frame(utm, utm), settings=Settings())
    >>> met.ties[["reference_a", "distance_a_m", "distance_b_m", "side"]].values.tolist()
    [['A', 13.0, 15.0, 'left']]
    """
    features = _features(devices)
    permanent = references["is_permanent"].fillna(value=True).to_numpy(dtype=bool)
    points = Points(
        references["reference"].to_numpy(dtype=object)[permanent],
        _coordinates(references)[permanent],
    )
    if not len(features.names):
        return Dimensions(TIES.empty(), [])
    if len(points.names) < 2:  # noqa: PLR2004 - a dimension needs two
        return Dimensions(TIES.empty(), [_too_few(len(points.names), len(features.names))])
    limits = settings.thresholds
    buildings = read_buildings(base or {}, np.concatenate([features.xy, points.xy]), frame=frame)
    a, b = _best_pairs(
        features.xy, points.xy, buildings,
        reach=limits.tape_reach_m * frame.scale_factor, least_cut_deg=limits.min_cut_angle_deg,
    )  # fmt: skip
    distances = _pair_distances(features.xy, points.xy, a, b) / frame.scale_factor
    a, b, distances, measured = _measured(features, _read_tapes(placed, points), a, b, distances)
    cut = cut_angles(points.xy[a], points.xy[b], features.xy)
    side = sides(points.xy[a], points.xy[b], features.xy)
    blocked_a, blocked_b = (
        find_blocked(features.xy, points.xy[k], buildings) & ~measured for k in (a, b)
    )
    table = pd.DataFrame(
        {
            "layer": features.layers,
            "feature_id": features.names,
            "reference_a": points.names[a],
            "distance_a_m": distances[:, 0],
            "reference_b": points.names[b],
            "distance_b_m": distances[:, 1],
            "side": np.where(side < 0, "right", "left"),
            "source": np.where(measured, "measured", "computed"),
            "cut_angle_deg": cut,
            "blocked_a": blocked_a,
            "blocked_b": blocked_b,
        }
    )
    return Dimensions(TIES.conform(table), _findings(features, table, settings))


def _features(devices: Mapping[str, gpd.GeoDataFrame]) -> Features:
    """All features of the dimensioned layers that have a place."""
    parts: list[Features] = []
    for layer, column in NAMES.items():
        table = devices.get(layer)
        if table is None or not len(table):
            continue
        table = table[~(table.geometry.is_empty | table.geometry.isna())]
        rows = numbers(table, "locate")
        part = Features(
            np.full(len(table), layer, dtype=object),
            table[column].fillna("").astype(str).to_numpy(dtype=object),
            _coordinates(table),
            np.nan_to_num(numbers(table, "position_rms_m")),
            np.where(np.isfinite(rows), rows, -1).astype(np.intp),
        )
        parts.append(part)
    if not parts:
        nothing, none = np.empty(0, dtype=object), np.empty(0)
        return Features(nothing, nothing, none.reshape(0, 2), none, none.astype(np.intp))
    return Features(
        np.concatenate([part.layers for part in parts]),
        np.concatenate([part.names for part in parts]),
        np.concatenate([part.xy for part in parts]),
        np.concatenate([part.rms_m for part in parts]),
        np.concatenate([part.located for part in parts]),
    )


def _coordinates(table: gpd.GeoDataFrame) -> Floats:
    return np.stack([table.geometry.x.to_numpy(), table.geometry.y.to_numpy()], axis=1)


def _best_pairs(
    xy: Floats, points: Floats, buildings: Objects, *, reach: float, least_cut_deg: float
) -> tuple[Rows, Rows]:
    """Return the pair of references with the best cut angle for each feature."""
    apart = np.hypot(xy[:, None, 0] - points[:, 0], xy[:, None, 1] - points[:, 1])
    near = np.argsort(apart, axis=1, kind="stable")[:, :NEAREST]
    distance = np.take_along_axis(apart, near, axis=1)
    first, second = np.triu_indices(near.shape[1], k=1)
    cut = cut_angles(points[near[:, first]], points[near[:, second]], xy[:, None, :])
    sine = np.sin(np.radians(cut))
    farther = np.maximum(distance[:, first], distance[:, second]) / reach
    in_reach = distance <= reach
    blocked = np.zeros(in_reach.shape, dtype=bool)
    at = np.nonzero(in_reach)[0]
    blocked[in_reach] = find_blocked(xy[at], points[near[in_reach]], buildings)
    sighted = ~(blocked[:, first] | blocked[:, second])
    sound = sighted & (sine >= np.sin(np.radians(least_cut_deg)))
    # pairs in reach come first, the sighted ones before all; beyond reach the nearer ones
    score = np.where(farther > 1, sine / (1 + farther), np.where(sound, 4.0, 2.0) + sine)
    best = np.argmax(np.where(np.isnan(score), -1.0, score), axis=1)
    row = np.arange(len(xy))
    a, b = near[row, first[best]], near[row, second[best]]
    return np.minimum(a, b), np.maximum(a, b)


def _pair_distances(xy: Floats, points: Floats, a: Rows, b: Rows) -> Floats:
    return np.stack([np.hypot(*(xy - points[k]).T) for k in (a, b)], axis=1)


def _measured(
    features: Features, tapes: Tapes, a: Rows, b: Rows, distances: Floats
) -> tuple[Rows, Rows, Floats, NDArray[np.bool_]]:
    """Replace computed pairs by taped ones."""
    measured = np.zeros(len(features.names), bool)
    if not len(tapes.rows):
        return a, b, distances, measured
    at = _tape_of(features, tapes)
    measured = at >= 0
    a, b = np.where(measured, tapes.a[at], a), np.where(measured, tapes.b[at], b)
    return a, b, np.where(measured[:, None], tapes.distances[at], distances), measured


def _read_tapes(placed: gpd.GeoDataFrame, points: Points) -> Tapes:
    """Return the rows of placed that were taped from two permanent references."""
    lengths = np.stack([numbers(placed, f"tie_{k}_dist_m") for k in "ab"], axis=1)
    rows = np.flatnonzero((lengths > 0).all(axis=1))
    taped = placed.iloc[rows]
    index = {_key(name): i for i, name in enumerate(points.names)}
    a, b = (
        np.array([index.get(_key(name), -1) for name in taped[f"tie_{k}"]], dtype=np.intp)
        if len(rows)
        else rows
        for k in "ab"
    )
    sound = (a >= 0) & (b >= 0) & (a != b)
    rows = rows[sound]
    return Tapes(
        rows,
        placed["feature"].to_numpy(dtype=object)[rows] if len(rows) else np.empty(0, object),
        _coordinates(placed.iloc[rows]),
        np.nan_to_num(numbers(placed, "position_rms_m"))[rows],
        a[sound],
        b[sound],
        lengths[rows],
    )


def _tape_of(features: Features, tapes: Tapes) -> Rows:
    """Return the tape of each feature, -1 where it has none.

    It is that of the row the feature rests on, else that of the nearest row of its kind, if the
    row has no nearer feature and both stand at one place as far as their positions tell.
    """
    row_of = {int(row): i for i, row in enumerate(tapes.rows)}
    at = np.array([row_of.get(int(row), -1) for row in features.located], dtype=np.intp)
    for layer, kind in NAMES.items():
        mine = np.flatnonzero(features.layers == layer)
        rows = np.flatnonzero(tapes.kinds == kind)
        if not len(mine) or not len(rows):
            continue
        tree = shapely.STRtree(shapely.points(features.xy[mine]))
        nearest = mine[tree.nearest(shapely.points(tapes.xy[rows]))]
        apart = np.hypot(*(features.xy[nearest] - tapes.xy[rows]).T)
        limit = SAME_SIGMAS * np.hypot(features.rms_m[nearest], tapes.rms_m[rows])
        for i in np.argsort(apart, kind="stable"):
            if apart[i] <= limit[i] and at[nearest[i]] < 0:
                at[nearest[i]] = rows[i]
    return at


def _key(name: str) -> str:
    """How a reference's name is matched: case and outer spaces do not count."""
    return " ".join(str(name).casefold().split())


def _too_few(references: int, features: int) -> Finding:
    message = (
        f"Two permanent references are needed to dimension a feature; the property has"
        f" {references}, so none of its {features} controllers, valves, splices and faults is"
        " dimensioned."
    )
    advice = "Add building corners, curbs or other permanent points to references.csv."
    return Finding("few-references", "references", message, advice)


def _findings(features: Features, ties: pd.DataFrame, settings: Settings) -> list[Finding]:
    """Report ties beyond tape reach, at a flat angle, or through a building."""
    limits = settings.thresholds
    longest = ties[["distance_a_m", "distance_b_m"]].max(axis=1).to_numpy()
    cut = ties["cut_angle_deg"].to_numpy()
    far = (longest > limits.tape_reach_m) & (ties["source"] == "computed").to_numpy()
    flat = np.minimum(cut, 180 - cut) < limits.min_cut_angle_deg
    blocked = ties[["blocked_a", "blocked_b"]].to_numpy()
    findings = []
    for i in np.flatnonzero(far | flat | blocked.any(axis=1)):
        what = f"{NAMES[features.layers[i]]} {features.names[i]}"
        if far[i]:
            message = (
                f"{what} has fewer than two permanent references within {limits.tape_reach_m:g} m;"
                f" the ties given reach {longest[i]:.1f} m."
            )
        elif flat[i]:
            message = (
                f"{what}: the best pair of permanent references in reach crosses at {cut[i]:.0f}"
                f" degrees, within {limits.min_cut_angle_deg:g} of a straight line."
            )
        else:
            both = ties.loc[i, ["reference_a", "reference_b"]].to_numpy()
            hidden = " and ".join(both[blocked[i]])
            message = (
                f"{what}: a building stands between it and {hidden}; the tie is computed and no"
                " tape reaches along it."
            )
        x_m, y_m = features.xy[i]
        findings.append(
            Finding(
                "few-references", str(features.names[i]), message, x_m=float(x_m), y_m=float(y_m)
            )
        )
    return findings
