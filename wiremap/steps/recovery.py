"""Recovery: where a new ground surface leaves less cover over the wires than they had.

Reads the layers of a record and points of the new surface; returns table ``lost_cover``.
"""

from __future__ import annotations

from statistics import NormalDist
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
import shapely

from wiremap.formulas.stationing import locate_on_line, points_at
from wiremap.formulas.terrain import triangulate_heights
from wiremap.model.cells import numbers, texts
from wiremap.model.season_tables import LOST_COVER

if TYPE_CHECKING:
    from collections.abc import Mapping

    import geopandas as gpd
    from numpy.typing import NDArray

    from wiremap.model.settings import Settings

    Floats = NDArray[np.float64]
    Flags = NDArray[np.bool_]

_STEP_M = 1.0  # project choice: finer than marks stand apart
_SHALLOWER, _TOO_SHALLOW, _BARE = "shallower", "too_shallow", "bare"


class Recovered(NamedTuple):
    """What `recover_cover` returns.

    Attributes
    ----------
    lost_cover : GeoDataFrame
        Table ``lost_cover``, the shallowest stretch first; in the record's CRS.
    unknown : list of str
        What could not be told, in words: a sentence a run.
    """

    lost_cover: gpd.GeoDataFrame
    unknown: list[str]


class _Run(NamedTuple):
    """One run at stations along its line: all in metres."""

    name: str
    line: Any
    chainage: Floats
    xy: Floats
    ground: Floats
    ground_sigma: Floats
    depth: Floats
    depth_sigma: Floats


def recover_cover(
    layers: Mapping[str, gpd.GeoDataFrame],
    surface: NDArray[np.float64],
    *,
    metres_per_unit: float,
    surface_sigma_m: float,
    settings: Settings,
) -> Recovered:
    """Return the stretches of wire over which ground was lost.

    A wire keeps its elevation when the ground above it is graded: cover is the new surface less
    the wire's elevation, and that is the ground as it was located less the depth. A stretch is
    listed where the loss is greater than its uncertainty.

    Parameters
    ----------
    layers : mapping of str to GeoDataFrame
        Layers of a record: wire_runs, wire_segments, and locates with column elevation_m.
    surface : array, shape (n, 3)
        Points of the new ground in the metric plane, elevations in metres of the same datum as
        the record's. Between them the ground is taken as plane triangles; farther than
        ``thresholds.inferred_gap_m`` from every point it is unknown.
    metres_per_unit : float
        Metres in one unit of the layers' CRS.
    surface_sigma_m : float
        One standard deviation of the new surface's elevations.
    settings : Settings
        ``advisory.confidence``, ``advisory.min_cover_m``, ``thresholds.inferred_gap_m``.

    Returns
    -------
    Recovered
        The sigma of a ground elevation as located is taken as its horizontal radial RMS (project
        choice: heights of satellite receivers are rarely better than that).

    Raises
    ------
    ValueError
        The surface has fewer than three points that make a triangle.
    """
    reach_m = settings.thresholds.inferred_gap_m
    ground = triangulate_heights(surface, reach_m=reach_m)
    runs, unknown = _lay_stations(layers, metres_per_unit, reach_m)
    rows: list[dict[str, Any]] = []
    for run in runs:
        new = np.asarray(ground(*run.xy.T))
        if np.isnan(new).all():
            unknown.append(f"Run {run.name} lies outside the new surface.")
            continue
        rows += _find_losses(run, new, surface_sigma_m, settings)
    return Recovered(_tabulate(rows, layers["wire_runs"].crs, metres_per_unit), unknown)


def _lay_stations(
    layers: Mapping[str, gpd.GeoDataFrame], metres: float, reach_m: float
) -> tuple[list[_Run], list[str]]:
    """Return the runs whose ground and depth are known, and what is not known of the others."""
    runs, unknown = [], []
    table, locates, segments = (layers[n] for n in ("wire_runs", "locates", "wire_segments"))
    heights = numbers(locates, "elevation_m")
    located = np.isfinite(heights)
    xy = shapely.get_coordinates(locates.geometry.to_numpy()[located]) * metres
    rms = numbers(locates, "position_rms_m")[located]
    of_run: dict[str, list[int]] = {}
    for row, text in enumerate(texts(locates, "run")[located]):
        for run in str(text).split(";"):
            of_run.setdefault(run, []).append(row)
    for name, shape in zip(table["run"], table.geometry, strict=True):
        line = shapely.transform(shapely.force_2d(shape), lambda c: c * metres)
        mine = of_run.get(name, [])
        own = segments[(segments["run"] == name).to_numpy()]
        depth, sigma, marks = _depths(own)
        if len(mine) < 2 or not len(marks):  # noqa: PLR2004 - a profile
            what = "depths" if len(mine) > 1 else "ground elevations"
            unknown.append(f"Run {name} has no {what} in the record.")
            continue
        length = shapely.length(line)
        at = np.unique(np.append(np.arange(0.0, length, _STEP_M), length))
        vertices = shapely.get_coordinates(line)
        stands, _ = locate_on_line(xy[mine], vertices)
        ground = _between(at, stands, heights[located][mine], reach_m)
        scale = length / marks[-1] if marks[-1] > 0 else 1.0
        places = points_at(at, vertices)
        doubt = np.interp(at, *_sorted(stands, rms[mine]))
        deep, spread = (np.interp(at / scale, marks, values) for values in (depth, sigma))
        runs.append(_Run(str(name), line, at / scale, places, ground, doubt, deep, spread))
    return runs, unknown


def _depths(segments: gpd.GeoDataFrame) -> tuple[Floats, Floats, Floats]:
    """Return depth, its sigma and chainage at the ends of a run's stretches, where known."""
    ends = ("from", "to")
    marks = np.concatenate([numbers(segments, f"chainage_{end}_m") for end in ends])
    depth = np.concatenate([numbers(segments, f"depth_{end}_m") for end in ends])
    sigma = np.tile(numbers(segments, "depth_sigma_m"), 2)
    order = np.argsort(marks, kind="stable")
    order = order[np.isfinite(depth[order])]
    return depth[order], sigma[order], marks[order]


def _sorted(stands: Floats, values: Floats) -> tuple[Floats, Floats]:
    order = np.argsort(stands, kind="stable")
    return stands[order], values[order]


def _between(at: Floats, stands: Floats, heights: Floats, reach_m: float) -> Floats:
    """Return ground elevations along a run; NaN beyond its ends and in wide gaps."""
    x, z = _sorted(stands, heights)
    place = np.clip(np.searchsorted(x, at), 1, len(x) - 1)
    wide = x[place] - x[place - 1] > reach_m
    ground = np.interp(at, x, z, left=np.nan, right=np.nan)
    return np.where(wide, np.nan, ground)


def _find_losses(
    run: _Run, new: Floats, surface_sigma_m: float, settings: Settings
) -> list[dict[str, Any]]:
    """Return the stretches of one run that lost cover beyond doubt."""
    confidence = settings.advisory.confidence
    lost = run.ground - new
    doubt = np.hypot(run.ground_sigma, surface_sigma_m)
    cover = run.depth - lost
    sigma = np.hypot(run.depth_sigma, doubt)
    low = cover - NormalDist().inv_cdf(confidence) * sigma
    is_lost = lost > NormalDist().inv_cdf((1 + confidence) / 2) * doubt
    status = np.where(low < settings.advisory.min_cover_m, _TOO_SHALLOW, _SHALLOWER)
    status = np.where(cover <= 0, _BARE, status)
    rows = []
    for first, last in _stretches(is_lost, status):
        part = slice(first, last + 1)
        worst = first + int(np.argmin(cover[part]))
        rows.append(
            {
                "run": run.name,
                "chainage_from_m": float(run.chainage[first]),
                "chainage_to_m": float(run.chainage[last]),
                "cover_before_m": float(run.depth[worst]),
                "cover_now_m": float(cover[worst]),
                "cover_sigma_m": float(sigma[worst]),
                "cover_low_m": float(low[part].min()),
                "lost_m": float(lost[part].max()),
                "status": str(status[first]),
                "message": _say(run, first, last, worst, cover, lost),
                "geometry": _stretch(run, first, last),
            }
        )
    return rows


def _stretches(flags: Flags, status: NDArray[np.str_]) -> list[tuple[int, int]]:
    """Return first and last place of each stretch of set flags of one status."""
    places = np.flatnonzero(flags)
    if not len(places):
        return []
    parted = (np.diff(places) > 1) | (status[places[1:]] != status[places[:-1]])
    starts = places[np.append(True, parted)]
    ends = places[np.append(parted, True)]
    return list(zip(starts.tolist(), ends.tolist(), strict=True))


def _stretch(run: _Run, first: int, last: int) -> Any:
    """Return a stretch as a line; a lone station reaches half a step to both sides."""
    if last > first:
        return shapely.linestrings(run.xy[first : last + 1])
    length = shapely.length(run.line)
    middle = float(shapely.line_locate_point(run.line, shapely.Point(run.xy[first])))
    ends = np.clip([middle - _STEP_M / 2, middle + _STEP_M / 2], 0.0, length)
    return shapely.LineString(shapely.line_interpolate_point(run.line, ends))


def _say(run: _Run, first: int, last: int, worst: int, cover: Floats, lost: Floats) -> str:
    span = f"from {run.chainage[first]:.1f} to {run.chainage[last]:.1f} m"
    before, now = run.depth[worst], cover[worst]
    if now <= 0:
        return f"Run {run.name} {span}: the wire lies bare; it had {before:.2f} m of cover."
    return (
        f"Run {run.name} {span}: {now:.2f} m of cover is left of {before:.2f} m; up to"
        f" {lost[first : last + 1].max():.2f} m of ground was taken."
    )


def _tabulate(rows: list[dict[str, Any]], crs: Any, metres: float) -> gpd.GeoDataFrame:
    import geopandas as gpd

    if not rows:
        return LOST_COVER.empty(crs=crs)
    rows = sorted(rows, key=lambda row: row["cover_low_m"])
    table = gpd.GeoDataFrame(rows, geometry="geometry")
    shapes = shapely.transform(table.geometry.to_numpy(), lambda c: c / metres)
    return LOST_COVER.conform(table.set_geometry(shapes).set_crs(crs), crs=crs)
