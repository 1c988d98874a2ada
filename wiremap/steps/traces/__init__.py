"""Traces: located points in, the line of each wire out.

Reads placed locates; returns points on runs, vertices and lines.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from wiremap.formulas.outliers import OUTLIER_SIGMAS, distance_off_line_m, find_outliers
from wiremap.formulas.passes import Common, Marks, merge_passes
from wiremap.formulas.polylines import step_lengths
from wiremap.formulas.sequences import count_moved, resequence
from wiremap.formulas.smoothing import straighten
from wiremap.formulas.walks import drop_repeats, is_disordered, split_passes, turn_back
from wiremap.model.cells import source_of
from wiremap.model.findings import Finding
from wiremap.steps.traces.spurs import cut_spurs
from wiremap.steps.traces.tables import Vertices, draw_lines, locate_points, tabulate_vertices
from wiremap.steps.traces.walks import gather_walks, texts

if TYPE_CHECKING:
    import geopandas as gpd
    import pandas as pd
    from numpy.typing import NDArray

    from wiremap.model.frame import Frame
    from wiremap.model.settings import Settings, Thresholds
    from wiremap.steps.traces.walks import Walks

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]
    Flags = NDArray[np.bool_]

__all__ = ["Traces", "trace_runs"]

_BENDS_BY_M = 0.5
"""How far a wire may bend away from the line of the marks beside one. Project choice."""


class Traces(NamedTuple):
    """The wires as lines.

    Attributes
    ----------
    points : GeoDataFrame
        One row a located row on a run: the columns of the placed locates with ``run``,
        ``chainage_m``, ``heading_deg``, ``on_line``, ``locate``. Ordered by run and chainage.
    vertices : DataFrame
        The vertices of the lines, ordered by run and sequence.
    lines : GeoDataFrame
        One row a run: ``run``, geometry, ``length_m``.
    findings : list of Finding
    """

    points: gpd.GeoDataFrame
    vertices: pd.DataFrame
    lines: gpd.GeoDataFrame
    findings: list[Finding]


def trace_runs(placed: gpd.GeoDataFrame, *, frame: Frame, settings: Settings) -> Traces:
    """Return each traced wire as a line through its located points.

    1. Group points by run; a point whose run names several wires lies on each.
    2. Put each run in order: by ``order`` where given, else as the rows stand. Set lone outliers
       aside, and faults reported farther off the run than their positions allow.
    3. Tell apart several passes over one wire: other visits, and walking back.
    4. Rows that stand out of order are moved only where that clearly shortens the line.
    5. Average the passes, each weighted by its accuracy. Straighten the zigzag that coarse marks
       make, within their accuracy and around corners; devices stay where they were located.
    6. Join the vertices by straight chords. A run that ends at a valve, splice or controller ends
       there: a last mark that stands past it, within the accuracy of both, is not drawn to.

    A line keeps the sense it was walked in, so chainage counts from where the walk began.

    Parameters
    ----------
    placed : GeoDataFrame
        Placed locates, columns point, feature, run, order, date, source_file, position_rms_m,
        cov_xx_m2, cov_xy_m2, cov_yy_m2; geometry in the metric plane.
    frame : Frame
        The working frame; chainages are ground metres.
    settings : Settings
        ``thresholds.outlier_m``, ``thresholds.assumed_depth_m``, ``thresholds.join_m``.

    Returns
    -------
    Traces
        Position covariances of vertices hold the bulge of the null near bends. A run with fewer
        than two usable points has no line, and its points no chainage. Input without runs gives
        empty tables.
    """
    thresholds = settings.thresholds
    walks = gather_walks(placed, join_m=thresholds.join_m)
    aside = _stand_off(walks, walks.run, thresholds.outlier_m)
    aside &= ~_disordered(walks, ~aside)
    aside |= _faults_off(walks, thresholds.outlier_m)
    aside[_beside_their_run(walks, aside, thresholds.outlier_m)] = False
    kept, passes, findings = _sort_out(walks.take(np.flatnonzero(~aside)))
    line = kept.run * (passes.max(initial=0) + 1) + passes
    late = _stand_off(kept, line, thresholds.outlier_m)
    walks, passes, outlier = _put_back(kept, passes, late, walks.take(np.flatnonzero(aside)))
    found = _merge(walks, passes, ~outlier, thresholds)
    found, too_short = _drop_short(found, walks)
    feature = texts(placed, "feature")[walks.locate[found.place]]
    found = cut_spurs(found, walks.run[found.place], feature, _sigma(found, walks))
    sigma_m = _sigma(found, walks)
    straight = straighten(found.xy, walks.run[found.place], sigma_m, walks.keep[found.place])
    found = found._replace(xy=straight)
    findings += [_too_short(walks, run) for run in too_short]
    vertices = tabulate_vertices(found, walks, placed, frame, thresholds.assumed_depth_m)
    lines = draw_lines(found, walks, frame)
    points = locate_points(found, walks, placed, outlier, frame, passes)
    findings += _report_outliers(points, lines, outlier)
    return Traces(points, vertices, lines, findings)


def _disordered(walks: Walks, counted: Flags) -> Flags:
    """Return which points belong to a run whose counted points double back too often."""
    rows = np.flatnonzero(counted)
    muddled = is_disordered(walks.xy[rows], walks.run[rows], walks.sigma_m[rows])
    return np.isin(walks.run, np.unique(walks.run[rows[muddled]]))


def _stand_off(walks: Walks, line: Ints, least_m: float) -> Flags:
    """Return which points located by tone alone stand off their line."""
    return find_outliers(walks.xy, line, walks.sigma_m, ~walks.keep, least_m=least_m)


def _faults_off(walks: Walks, least_m: float) -> Flags:
    """Return the faults that stand farther off their run's other points than positions allow.

    A fault is often reported by another crew, with another receiver; the wire does not go there.
    """
    import shapely

    off = np.zeros(len(walks.run), dtype=bool)
    for run in np.unique(walks.run[walks.fault]):
        rows = np.flatnonzero(walks.run == run)
        faults, others = rows[walks.fault[rows]], rows[~walks.fault[rows]]
        line = drop_repeats(walks.xy[others])
        if len(line) < 2:  # noqa: PLR2004
            continue
        wire, marks = shapely.linestrings(line), shapely.points(walks.xy[faults])
        offset = shapely.distance(marks, wire)
        spread = np.hypot(walks.sigma_m[faults], np.median(walks.sigma_m[others]))
        off[faults] = offset > np.maximum(least_m, OUTLIER_SIGMAS * spread)
    return off


def _beside_their_run(walks: Walks, aside: Flags, least_m: float) -> list[int]:
    """Return the points set aside that lie on their run after all: merely out of order."""
    beside: list[int] = []
    for run in np.unique(walks.run[aside]):
        rows = np.flatnonzero(walks.run == run)
        line = drop_repeats(walks.xy[rows[~aside[rows]]])
        for point in rows[aside[rows]].tolist() if len(line) > 1 else []:
            noise_m = OUTLIER_SIGMAS * np.sqrt(2.0) * walks.sigma_m[point]
            off_m = distance_off_line_m(walks.xy[point], line)
            if off_m < min(max(_BENDS_BY_M, noise_m), least_m):
                beside.append(point)
    return beside


def _put_back(kept: Walks, passes: Ints, late: Flags, aside: Walks) -> tuple[Walks, Ints, Flags]:
    """Return all rows again, those set aside behind the others of their run, in no pass."""
    count = len(aside.run)
    order = np.argsort(np.append(kept.run, aside.run), kind="stable")
    passes = np.append(passes, np.full(count, -1))
    outlier = np.append(late, np.ones(count, dtype=bool))
    return kept.join(aside).take(order), passes[order], outlier[order]


def _sort_out(walks: Walks) -> tuple[Walks, Ints, list[Finding]]:
    """Return walks in their final order, the pass of each row, and what was moved."""
    findings: list[Finding] = []
    passes = np.zeros(len(walks.run), dtype=np.int64)
    back = turn_back(walks.xy, walks.run, walks.sigma_m)
    change = np.append(False, (walks.run[1:] == walks.run[:-1]) & (np.diff(walks.visit) != 0))
    places = np.arange(len(walks.run))
    bounds = np.searchsorted(walks.run, np.arange(len(walks.names) + 1))
    for run in np.unique(walks.run[back | change[: len(back)]]):
        part = slice(int(bounds[run]), int(bounds[run + 1]))
        number = split_passes(walks.xy[part], back[part], walks.visit[part], walks.sigma_m[part])
        order, moved = _order_passes(walks.take(np.arange(part.start, part.stop)), number)
        places[part] = part.start + order
        passes[part] = number[order]
        if moved:
            findings.append(_resequenced(walks.names[run], moved))
    return walks.take(places), passes, findings


def _order_passes(walk: Walks, number: Ints) -> tuple[Ints, int]:
    """Return the order of one run's rows, pass after pass, and how many were moved."""
    orders, moved = [], 0
    for one in np.unique(number):
        rows = np.flatnonzero(number == one)
        if walk.ordered[0]:
            orders.append(rows)
            continue
        order = resequence(walk.xy[rows], walk.sigma_m[rows])
        moved += count_moved(order)
        orders.append(rows[order])
    return np.concatenate(orders), moved


def _merge(walks: Walks, passes: Ints, on_line: Flags, thresholds: Thresholds) -> Vertices:
    """Return the vertices of all lines; runs of several passes are averaged."""
    common = Common(
        1.0 - thresholds.relative_rms_share**2,
        thresholds.visit_common_share * (1.0 - thresholds.relative_rms_share**2),
    )
    several = np.isin(walks.run, np.unique(walks.run[passes > 0]))
    place = np.flatnonzero(on_line & ~several)
    parts = [Vertices(place, walks.xy[place], np.ones(len(place)), np.ones(len(place), int))]
    for run in np.unique(walks.run[several]):
        rows = np.flatnonzero((walks.run == run) & on_line)
        if len(rows) < 2:  # noqa: PLR2004
            continue
        marks = Marks(
            walks.xy[rows], walks.sigma_m[rows] ** 2, passes[rows], walks.visit[rows],
            walks.keep[rows],
        )  # fmt: skip
        merged = merge_passes(marks, reach_m=thresholds.outlier_m, common=common)
        parts.append(Vertices(rows[merged.row], merged.xy, merged.shrink, merged.passes))
    joined = Vertices(
        np.concatenate([part.place for part in parts]),
        np.concatenate([part.xy for part in parts]),
        np.concatenate([part.shrink for part in parts]),
        np.concatenate([part.passes for part in parts]),
    )
    order = np.argsort(walks.run[joined.place], kind="stable")
    return joined.take(order)


def _sigma(found: Vertices, walks: Walks) -> Floats:
    """Return one standard deviation of each vertex along one axis, metres."""
    sigma_m: Floats = walks.sigma_m[found.place] * np.sqrt(found.shrink)
    return sigma_m


def _drop_short(found: Vertices, walks: Walks) -> tuple[Vertices, list[int]]:
    """Return the vertices of runs that make a line, and the runs that make none."""
    run = walks.run[found.place]
    length = np.bincount(run, weights=step_lengths(found.xy, run), minlength=len(walks.names))
    short = np.flatnonzero(length <= 0)
    kept = ~np.isin(run, short)
    return found.take(kept), short.tolist()


def _resequenced(run: str, moved: int) -> Finding:
    return Finding(
        "run-resequenced",
        run,
        f"Run {run}: rows must stand in the order walked; {moved} of them did not and were moved,"
        " because that makes the line clearly shorter.",
    )


def _too_short(walks: Walks, run: int) -> Finding:
    name = walks.names[run]
    count = int((walks.run == run).sum())
    return Finding(
        "run-too-short",
        name,
        f"Run {name}: a line needs two usable points apart from each other, got {count}.",
    )


def _report_outliers(
    points: gpd.GeoDataFrame, lines: gpd.GeoDataFrame, outlier: Flags
) -> list[Finding]:
    """Return a finding for each point set aside."""
    import shapely

    if not outlier.any():
        return []
    geometry = dict(zip(lines["run"], lines.geometry, strict=True))
    aside = points[~points["on_line"] & points["run"].isin(geometry)]
    findings = []
    for row in aside.to_dict("records"):
        off = float(shapely.distance(row["geometry"], geometry[row["run"]]))
        findings.append(
            Finding(
                "outlier-position",
                str(row["point"]),
                f"Point {row['point']} of run {row['run']}: must stand near the line of its"
                f" neighbours, got {off:.1f} m off it"
                f" (position RMS {row['position_rms_m']:.2f} m).",
                **source_of(row),
                column="run",
                value=str(row["run"]),
                x_m=row["geometry"].x,
                y_m=row["geometry"].y,
            )
        )
    return findings
