"""The advisory band around each wire, to be dug by hand.

Reads vertices, segments and lines; returns the layer ``dig_buffer``. Advisory only: never a
utility locate.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import pandas as pd

from wiremap.formulas.polylines import leg_directions, neighbours
from wiremap.model.kinds import Feature
from wiremap.model.tables import DIG_BUFFER
from wiremap.steps.buffers.corners import hidden_corners

if TYPE_CHECKING:
    import geopandas as gpd
    from numpy.typing import NDArray

    from wiremap.model.findings import Finding
    from wiremap.model.frame import Frame
    from wiremap.model.settings import Settings

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]
    Flags = NDArray[np.bool_]

ADVISORY = (
    "Advisory only; not a utility locate. Call the local one-call service before digging (811 in"
    " the United States). Local law sets the tolerance zone. Buried depth changes. Other"
    " utilities are not shown. Dig by hand inside the band."
)
"""The caution that every band carries."""
LOST_ADVISORY = " The tone was lost at an end: the wire continues there, its position unknown."
WIDTH_STEP_M = 0.05
"""Half widths are rounded up to this, so that stretches of nearly one width are one band."""
WANDER_SHARE = 0.02
"""How far a wire strays from the chord between two marks, one standard deviation at mid-chord,
as a share of the chord (project choice: 8 cm in 4 m, about the width of a hand-dug trench)."""
ARC_POINTS = 8
"""Points in a quarter of a round end."""


class Buffers(NamedTuple):
    """The bands.

    Attributes
    ----------
    dig_buffer : GeoDataFrame
        Layer ``dig_buffer``, one row a run.
    findings : list of Finding
    """

    dig_buffer: gpd.GeoDataFrame
    findings: list[Finding]


class _Bands(NamedTuple):
    """The bands of all runs, their greatest half widths, and which go on beyond a lost end."""

    names: list[str]
    shapes: NDArray[np.object_]
    half_m: Floats
    continues: Flags


def radial_quantile(confidence: float) -> float:
    """Return the radius that holds a position, in standard deviations along one axis.

    Parameters
    ----------
    confidence : float
        Share of errors to be held, 0 to less than 1.

    Returns
    -------
    float
        Radius for errors of equal normal spread along both axes.

    References
    ----------
    FGDC-STD-007.3-1998, appendix 3-A: 2.4477 at 95 %.

    Examples
    --------
    >>> round(radial_quantile(0.95), 4)
    2.4477
    """
    return float(np.sqrt(-2.0 * np.log1p(-confidence)))


def buffer_runs(
    vertices: pd.DataFrame,
    segments: gpd.GeoDataFrame,
    lines: gpd.GeoDataFrame,
    *,
    frame: Frame,
    settings: Settings,
) -> Buffers:
    """Return the band around each run inside which to dig by hand.

    Advisory only, not a utility locate: it does not replace a call to the one-call service.

    1. The half width at a vertex is the tolerance and the radius that holds its position at the
       stated confidence (along its worst axis).
    2. A stretch between two vertices takes the greater of the two, and what the wire may stray
       from a straight chord, so the band never narrows before it may.
    3. Where the line turns at both ends of a stretch, the corner may lie between the marks: the
       band also holds the corner that the legs before and after make when they are carried on.
       Where it turns at one end, and the marks around do not show that the corner is at that
       mark, the band holds the right angle that fits between the leg carried on and the other
       mark.
    4. Beyond an end where the tone was lost, a fan says that the wire continues.

    Parameters
    ----------
    vertices : DataFrame
        Vertices of the lines, columns run, feature, x_m, y_m, cov_xx_m2, cov_xy_m2, cov_yy_m2,
        and widen_m where the age of the observations widens the band.
    segments : GeoDataFrame
        Layer ``wire_segments``, columns run, cover_low_m.
    lines : GeoDataFrame
        Lines, column run.
    frame : Frame
        The working frame.
    settings : Settings
        ``advisory.tolerance_m``, ``advisory.confidence``, ``thresholds.lost_fan_m``,
        ``thresholds.lost_fan_deg``.

    Returns
    -------
    Buffers
        One polygon a run, all of a run's band and fan united; ``area_m2`` in ground square
        metres; ``cover_low_m`` NaN where no depth is known.
    """
    if not len(lines):
        return Buffers(DIG_BUFFER.empty(crs=frame.metric_crs), [])
    run, names = pd.factorize(vertices["run"])
    line = run.astype(np.int64)
    xy = vertices[["x_m", "y_m"]].to_numpy(dtype=float)
    half = _half_widths(vertices, settings) * frame.scale_factor
    lost = _lost_ends(vertices["feature"].to_numpy(dtype=object) == str(Feature.LOST), line)
    whole, wider, owner = _draw_bands(xy, line, half, settings)
    fans = _draw_fans(xy, line, half, lost, frame, settings)
    extras = np.concatenate([wider, fans])
    shapes = _unite(whole, extras, np.concatenate([owner, line[lost[: len(fans)]]]))
    widest = np.maximum.reduceat(half, np.searchsorted(line, np.arange(len(names))))
    continues = np.isin(np.arange(len(names)), line[lost])
    bands = _Bands(names.tolist(), shapes, widest, continues)
    table = _tabulate(bands, segments, frame, settings)
    return Buffers(DIG_BUFFER.conform(table, crs=frame.metric_crs), [])


def _half_widths(vertices: pd.DataFrame, settings: Settings) -> Floats:
    """Return tolerance and position radius at each vertex, in ground metres."""
    xx, xy, yy = (
        vertices[name].to_numpy(dtype=float) for name in ("cov_xx_m2", "cov_xy_m2", "cov_yy_m2")
    )
    greatest = 0.5 * (xx + yy) + np.sqrt(0.25 * (xx - yy) ** 2 + xy**2)
    radius = radial_quantile(settings.advisory.confidence) * np.sqrt(greatest)
    half: Floats = settings.advisory.tolerance_m + radius
    return half + vertices["widen_m"].to_numpy(dtype=float) if "widen_m" in vertices else half


def _draw_bands(
    xy: Floats, line: Ints, half: Floats, settings: Settings
) -> tuple[NDArray[np.object_], NDArray[np.object_], Ints]:
    """Return each line's band at its least width, what is wider, and the line of each of those."""
    import shapely

    start = np.flatnonzero(line[1:] == line[:-1])
    owner = line[start]
    length = np.hypot(*(xy[start + 1] - xy[start]).T)
    width = _stretch_widths(xy, line, half, start, settings)
    least = np.minimum.reduceat(width, np.searchsorted(owner, np.arange(line[-1] + 1)))
    whole = _widen(shapely.linestrings(xy, indices=line), least)
    wider = np.flatnonzero(width > least[owner])
    same = (np.diff(wider) == 1) & (np.diff(width[wider]) == 0) & (np.diff(owner[wider]) == 0)
    stretch = np.cumsum(np.append(0, ~same))[: len(wider)]
    first = np.flatnonzero(np.append(True, ~same))[: len(wider)]
    legs = np.stack([xy[start[wider]], xy[start[wider] + 1]], axis=1).reshape(-1, 2)
    paths = shapely.linestrings(legs, indices=np.repeat(stretch, 2)) if len(wider) else whole[:0]
    radius = np.maximum(half[start], half[start + 1]) - settings.advisory.tolerance_m
    corner, apex = hidden_corners(xy, line, start, np.maximum(radius, WANDER_SHARE * length))
    triangles = np.stack([xy[start[corner]], apex, xy[start[corner] + 1]], axis=1)
    corners = _widen(shapely.polygons(triangles), width[corner]) if len(corner) else whole[:0]
    extras = np.concatenate([_widen(paths, width[wider[first]]), corners])
    return whole, extras, np.concatenate([owner[wider[first]], owner[corner]])


def _stretch_widths(
    xy: Floats, line: Ints, half: Floats, start: Ints, settings: Settings
) -> Floats:
    """Return the half width of each stretch, rounded up to `WIDTH_STEP_M`."""
    tolerance = settings.advisory.tolerance_m
    length = np.hypot(*(xy[start + 1] - xy[start]).T)
    typical = pd.Series(length).groupby(line[start]).transform("median").to_numpy()
    stray = radial_quantile(settings.advisory.confidence) * WANDER_SHARE
    radius = np.maximum(half[start], half[start + 1]) - tolerance
    width = tolerance + np.hypot(radius, stray * np.maximum(length, 2.0 * typical))
    steps: Floats = np.ceil(width / WIDTH_STEP_M - 1e-9)
    return steps * WIDTH_STEP_M


def _widen(shapes: NDArray[np.object_], half: Floats) -> NDArray[np.object_]:
    """Return shapes widened so that the chords of round ends stay outside the true circle."""
    import shapely

    outside = 1.0 / np.cos(np.pi / (4 * ARC_POINTS))
    bands: NDArray[np.object_] = shapely.buffer(shapes, half * outside, quad_segs=ARC_POINTS)
    return bands


def _lost_ends(lost: Flags, line: Ints) -> Ints:
    """Return the end vertices where the tone was lost."""
    ends = ~neighbours(line, -1)[1] | ~neighbours(line, 1)[1]
    return np.flatnonzero(lost & ends)


def _draw_fans(
    xy: Floats, line: Ints, half: Floats, lost: Ints, frame: Frame, settings: Settings
) -> NDArray[np.object_]:
    """Return the fans beyond lost ends; none where they have no length."""
    import shapely

    reach = settings.thresholds.lost_fan_m * frame.scale_factor
    if not len(lost) or reach == 0:
        return np.empty(0, dtype=object)
    before, after = leg_directions(xy, line)
    is_last = ~neighbours(line, 1)[1][lost]
    outward = np.where(is_last[:, None], before[lost], -after[lost])
    opening = np.radians(settings.thresholds.lost_fan_deg) / 2
    angle = np.arctan2(outward[:, 1], outward[:, 0])[:, None] + np.linspace(-opening, opening, 13)
    arc = np.stack([np.cos(angle), np.sin(angle)], axis=2)
    rim = xy[lost][:, None, :] + (half[lost] + reach)[:, None, None] * arc
    fans: NDArray[np.object_] = shapely.polygons(
        np.concatenate([xy[lost][:, None, :], rim], axis=1)
    )
    return fans


def _unite(
    whole: NDArray[np.object_], extras: NDArray[np.object_], owner: Ints
) -> NDArray[np.object_]:
    """Return one polygon a line; extras mostly stand apart from each other."""
    import shapely

    order = np.argsort(owner, kind="stable")
    lines, starts = np.unique(owner[order], return_index=True)
    united = whole.copy()
    beside = [
        shapely.disjoint_subset_union_all(part) for part in np.split(extras[order], starts[1:])
    ]
    if len(lines):
        united[lines] = shapely.union(whole[lines], np.array(beside, dtype=object))
    return united


def _tabulate(
    bands: _Bands, segments: gpd.GeoDataFrame, frame: Frame, settings: Settings
) -> gpd.GeoDataFrame:
    """Return the rows of the layer."""
    import geopandas as gpd
    import shapely

    cover = segments.groupby("run")["cover_low_m"].min().reindex(bands.names)
    caution = np.where(bands.continues, ADVISORY + LOST_ADVISORY, ADVISORY)
    return gpd.GeoDataFrame(
        {
            "run": pd.Series(bands.names, dtype="str"),
            "half_width_m": bands.half_m / frame.scale_factor,
            "cover_low_m": cover.to_numpy(dtype=float),
            "tolerance_m": settings.advisory.tolerance_m,
            "confidence": settings.advisory.confidence,
            "area_m2": shapely.area(bands.shapes) / frame.scale_factor**2,
            "advisory_only": True,
            "advisory": caution,
        },
        geometry=bands.shapes,
        crs=frame.metric_crs,
    )
