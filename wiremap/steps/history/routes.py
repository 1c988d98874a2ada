"""Stretches of wire that a later visit found elsewhere: laid anew, or walked wrong before."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import pandas as pd

from wiremap.formulas.repeats import chi_square_limit
from wiremap.formulas.stationing import line_length, locate_on_line
from wiremap.formulas.walks import drop_repeats
from wiremap.model.cells import numbers, texts
from wiremap.model.kinds import ON_WIRE
from wiremap.steps.history.rows import BETTER, split_by

if TYPE_CHECKING:
    import geopandas as gpd
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]
    Flags = NDArray[np.bool_]
    Texts = NDArray[np.object_]

_SIGMAS = float(np.sqrt(chi_square_limit(2, confidence=0.9999)))
_STRAY_M = 0.5  # project choice: what a wire may lie off the chord between two marks
_FEWEST = 3  # points of a visit that make a line


class Reroute(NamedTuple):
    """A stretch of one run that lies elsewhere.

    Attributes
    ----------
    run, day : str
        The run, and the day of the later visit.
    former, later : array of int
        Rows of the older line between the places where the newer one leaves and meets it again,
        and rows of the newer line between them.
    after : int
        The row of the older line behind which the newer rows belong.
    off_m : float
        How far the two are apart at most.
    wins : bool
        Whether the newer line holds: it is not much coarser.
    """

    run: str
    day: str
    former: Ints
    later: Ints
    after: int
    off_m: float
    wins: bool


class Walked(NamedTuple):
    """Rows on wires: position, one standard deviation along one axis, run and visit."""

    rows: Ints
    xy: Floats
    sigma_m: Floats
    run: Texts
    visit: Texts


def gather_walked(placed: gpd.GeoDataFrame, *, holds: Flags) -> Walked:
    """Return the rows that stand on one wire each, in the order walked.

    Parameters
    ----------
    placed : GeoDataFrame
        All placed rows.
    holds : array of bool
        Rows that no visit has closed.

    Returns
    -------
    Walked
        Rows that name several runs are left out: they are joints.
    """
    run = texts(placed, "run")
    on_wire = np.isin(texts(placed, "feature"), [str(f) for f in ON_WIRE])
    rows = np.flatnonzero(on_wire & holds & (run != ""))
    code, names = pd.factorize(run[rows])
    joint = np.array([";" in str(name) for name in names], dtype=bool)
    rows = rows[~joint[code]] if len(rows) else rows
    if "order" in placed:
        given = numbers(placed, "order")[rows]
        rows = rows[np.argsort(np.where(np.isnan(given), rows, given), kind="stable")]
    xy = placed.geometry.get_coordinates().to_numpy()[rows]
    rms = numbers(placed, "position_rms_m")[rows]
    return Walked(rows, xy, rms / np.sqrt(2.0), run[rows], texts(placed, "visit")[rows])


def find_reroutes(walked: Walked) -> list[Reroute]:
    """Return the stretches that a later visit found elsewhere.

    The later visit must leave the older line and meet it again: a branch that goes off, or a leg
    that merely runs beside another one, replaces nothing. Nor does a visit that goes on past the
    older line's end and comes back to it, round a loop.

    Parameters
    ----------
    walked : Walked

    Returns
    -------
    list of Reroute
        Oldest visit first within a run.
    """
    found = []
    for run, mine in split_by(walked.run):
        parts = dict(split_by(walked.visit[mine]))
        for day in sorted(parts)[1:]:
            older = [mine[part] for other, part in parts.items() if other < day]
            found += _leave_and_meet(walked, max(older, key=len), mine[parts[day]], run, day)
    return found


def _leave_and_meet(walked: Walked, old: Ints, new: Ints, run: str, day: str) -> list[Reroute]:
    """Return where one later line leaves one older line and meets it again."""
    if min(len(old), len(new)) < _FEWEST or not all(line_length(walked.xy[r]) for r in (old, new)):
        return []
    old_line, new_line = (drop_repeats(walked.xy[rows]) for rows in (old, new))
    along, apart = locate_on_line(walked.xy[new], old_line)
    reach = _SIGMAS * np.hypot(walked.sigma_m[new], np.median(walked.sigma_m[old])) + _STRAY_M
    stretches = _between_anchors(apart > reach)
    if not stretches:
        return []
    _, from_new = locate_on_line(walked.xy[old], new_line)
    limit = _SIGMAS * np.hypot(walked.sigma_m[old], np.median(walked.sigma_m[new])) + _STRAY_M
    marks, _ = locate_on_line(walked.xy[old], old_line)
    wins = bool(np.median(walked.sigma_m[new]) <= BETTER * np.median(walked.sigma_m[old]))
    found = []
    step = np.hypot(*np.diff(walked.xy[new], axis=0).T)
    for first, last in stretches:
        if _goes_past(along[:first], marks.max(), step[first - 1] + reach[first - 1]) or _goes_past(
            along[:last:-1], marks.max(), step[last] + reach[last + 1]
        ):
            continue
        low, high = sorted((along[first - 1], along[last + 1]))
        inside = (marks > low) & (marks < high) & (from_new > limit)
        before = np.flatnonzero(marks <= low)
        if not inside.any() or not len(before):
            continue
        later = new[first : last + 1]
        backward = along[first - 1] > along[last + 1]
        found.append(
            Reroute(
                run, day, walked.rows[old[inside]], walked.rows[later[::-1] if backward else later],
                int(walked.rows[old[before[-1]]]), float(apart[first : last + 1].max()),
                wins,
            )
        )  # fmt: skip
    return found


def _goes_past(along: Floats, length_m: float, near_m: float) -> bool:
    """Whether a walk along a line heads for the end that it leaves at: it carries the line on."""
    heading = along[-1] - along[0]
    left_m = length_m - along[-1] if heading > 0 else along[-1]
    return bool(heading != 0 and left_m < near_m)


def _between_anchors(is_off: Flags) -> list[tuple[int, int]]:
    """Return first and last place of each stretch of two set flags or more, unset on both sides."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], is_off, [False]]).astype(int)))
    stretches = [(int(a), int(b) - 1) for a, b in edges.reshape(-1, 2)]
    return [(a, b) for a, b in stretches if a > 0 and b < len(is_off) - 1 and b > a]
