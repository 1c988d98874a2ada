"""Points off the line that their neighbours make.

A walk is the points of one wire in the order they were taken. Lengths are metres.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from wiremap.formulas.polylines import (
    chainages,
    distances_to_rays,
    distances_to_segments,
    leg_directions,
    neighbours,
    step_lengths,
    turns_deg,
    unit_vectors,
)
from wiremap.formulas.stationing import project_on_line

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]
    Flags = NDArray[np.bool_]

OUTLIER_SIGMAS = 4.0
"""Standard deviations beyond which a point can be off the line (project choice: one false alarm
in 16,000 points of normal error)."""
OUTLIER_TURN_DEG = 60.0
"""Turning that leaving an outlier out must save. A corner saves none (project choice)."""
OVERLONG = 1.35
"""Share of the walk's usual step beyond which an outlier's longer step lies (project choice: marks
are paced, and pacing varies by a quarter)."""
SPIKE_DETOUR = 1.5
"""How many times as long as the way past it the two steps at a lone blunder are (project choice:
a right-angle corner makes 1.41 at most, and wires turn by no more at one mark)."""
SPIKE_STEPS = 1.4
"""How many usual steps long each of the two is on average, the shorter one at least one (project
choice: above `OVERLONG`)."""
END_STEPS = 4.0
"""Usual steps beyond which an outermost mark that also lies off to the side is a blunder (project
choice: wire under paving goes on straight, and is marked more than once beyond it)."""
MOST_ASIDE = 0.2
"""Share of a walk's marks beyond which several that stand off are its shape, not blunders (project
choice): marks farther apart than the wire's corners zigzag."""


def find_outliers(
    xy: Floats, line: Ints, sigma_m: Floats, suspect: Flags, *, least_m: float
) -> Flags:
    """Return which points stand alone off the line that their neighbours make.

    A point is held against three lines that do not use it: the chord of its two neighbours, and
    the legs before and after these, carried on. A corner lies on a carried-on leg, so it is no
    outlier; leaving it out would not straighten the line either. Where marks are spaced evenly
    and no corner is marked, a lone mark between two corners stands off as well, but no farther
    from its neighbours than marks usually stand: it is no outlier. A mark that the walk leaps to
    and back from is one whatever leg it lies on. An end is called only where the walk leaps to it,
    over `END_STEPS` usual steps, and turns by more than `OUTLIER_TURN_DEG`. Several of a walk's
    marks are none where they are more than `MOST_ASIDE` of them.

    Parameters
    ----------
    xy : array, shape (n, 2)
        Points in the order walked, metres.
    line : array of int, shape (n,)
        Walk of each point, never decreasing.
    sigma_m : array, shape (n,)
        One standard deviation of each position along one axis, metres.
    suspect : array of bool, shape (n,)
        Points that can be called: those located by tone alone. A valve at the tip of a short
        spur stands off its neighbours' line by right.
    least_m : float
        Least distance off the line, metres.

    Returns
    -------
    array of bool, shape (n,)
        Walks of fewer than four points have none.

    Examples
    --------
    >>> xy = np.array([[0.0, 0], [4, 0], [8, 9], [12, 0], [16, 0]])
    >>> every = np.ones(5, dtype=bool)
    >>> find_outliers(xy, np.zeros(5, int), np.full(5, 0.02), every, least_m=3.0).tolist()
    [False, False, True, False, False]
    """
    found = np.zeros(len(xy), dtype=bool)
    kept = np.arange(len(xy))
    for _ in range(4):
        bad = _stand_off(xy[kept], line[kept], sigma_m[kept], suspect[kept], least_m)
        if not bad.any():
            break
        found[kept[bad]] = True
        touched = np.isin(line[kept], np.unique(line[kept[bad]]))
        kept = kept[touched & ~bad]
    aside = np.bincount(line, weights=found, minlength=1)
    many = (aside > 1) & (aside > MOST_ASIDE * np.bincount(line, minlength=1))
    return found & ~many[line]


def _stand_off(xy: Floats, line: Ints, sigma_m: Floats, suspect: Flags, least_m: float) -> Flags:
    """Return the worst point of each neighbourhood that stands off its line."""
    if len(xy) < 4:  # noqa: PLR2004 - two points each side of a line, or one and two
        return np.zeros(len(xy), dtype=bool)
    (a, has_a), (b, has_b) = neighbours(line, -1), neighbours(line, 1)
    (_, has_aa), (_, has_bb) = neighbours(line, -2), neighbours(line, 2)
    around = np.sqrt(sigma_m**2 + np.maximum(sigma_m[a], sigma_m[b]) ** 2)
    before, after = _steps_beside(xy, line)
    usual = _usual_step(xy, line)
    leap = before + after > SPIKE_DETOUR * np.hypot(*(xy[b] - xy[a]).T) + 2.0 * around
    leap &= (before + after > 2.0 * SPIKE_STEPS * usual) & (np.minimum(before, after) > usual)
    off = np.where(leap, distances_to_segments(xy, xy[a], xy[b]), _off_neighbours(xy, line))
    judged = has_a & has_b & (has_aa | has_bb)
    bad = judged & (off > np.maximum(least_m, OUTLIER_SIGMAS * around))
    bent = _turning_saved_deg(xy, line) > OUTLIER_TURN_DEG
    bad &= leap | (bent & (np.maximum(before, after) > OVERLONG * usual))
    bad |= _leapt_ends(xy, line, np.maximum(END_STEPS * usual, least_m + OUTLIER_SIGMAS * around))
    bad &= suspect
    # the mark beside an end comes before the end: without it, the leap may be gone
    rank = np.where(bad, np.where(judged, off, 0.5 * (before + after)) / around, 0.0)
    worst: Flags = bad & (rank >= rank[a]) & (rank > np.where(has_b, rank[b], -1.0))
    return worst


def _leapt_ends(xy: Floats, line: Ints, farthest_m: Floats) -> Flags:
    """Return the outermost points that one leap leads to, off to the side of what comes before."""
    far = np.zeros(len(xy), dtype=bool)
    for inward in (1, -1):
        (inner, has_inner), (_, has_outer) = neighbours(line, inward), neighbours(line, -inward)
        (third, has_third), (_, has_more) = (
            neighbours(line, 2 * inward),
            neighbours(line, 4 * inward),
        )
        leg, before = xy - xy[inner], xy[inner] - xy[third]
        turned = _between_deg(unit_vectors(leg), unit_vectors(before)) > OUTLIER_TURN_DEG
        is_end = has_inner & ~has_outer & has_third & has_more
        far |= is_end & turned & (np.hypot(*leg.T) > farthest_m)
    return far


def distance_off_line_m(point: Floats, line: Floats) -> float:
    """Return how far a point stands off a line at the place where it would be put into it.

    Parameters
    ----------
    point : array, shape (2,)
        Metres.
    line : array, shape (n, 2)
        The line without the point; two vertices or more.

    Returns
    -------
    float
        Metres to the nearest of the leg that it falls on and the legs beside that one, carried
        on: a corner that was left out lies on these. Beyond an end more than the line's longest
        leg ahead counts as well.

    Examples
    --------
    >>> cut = np.array([[0.0, 0], [4, 0], [8, 4], [8, 8]])
    >>> distance_off_line_m(np.array([8.0, 0]), cut), distance_off_line_m(np.array([4.0, 6]), cut)
    (0.0, 4.0)
    """
    none = np.zeros(len(line), dtype=np.int64)
    along, offset = project_on_line(point[None, :], line)
    place = int(np.searchsorted(chainages(line, none), along[0]))
    if place in {0, len(line)}:
        marks = chainages(line, none)
        ahead = max(-along[0], along[0] - marks[-1]) - np.diff(marks).max()
        return float(np.hypot(offset[0], max(ahead, 0.0)))
    longer = np.insert(line, place, point, axis=0)
    return float(_off_neighbours(longer, np.append(none, 0))[place])


def _off_neighbours(xy: Floats, line: Ints) -> Floats:
    """Return the distance of each point to what its neighbours make without it: chord or leg."""
    (a, _), (b, _) = neighbours(line, -1), neighbours(line, 1)
    (aa, has_aa), (bb, has_bb) = neighbours(line, -2), neighbours(line, 2)
    carried_on = distances_to_rays(xy, xy[a], unit_vectors(xy[a] - xy[aa]))
    carried_back = distances_to_rays(xy, xy[b], unit_vectors(xy[b] - xy[bb]))
    legs = np.minimum(np.where(has_aa, carried_on, np.inf), np.where(has_bb, carried_back, np.inf))
    off: Floats = np.minimum(distances_to_segments(xy, xy[a], xy[b]), legs)
    return off


def _steps_beside(xy: Floats, line: Ints) -> tuple[Floats, Floats]:
    """Return the lengths of the steps to and from each point."""
    step = step_lengths(xy, line)
    after, has_after = neighbours(line, 1)
    return step, np.where(has_after, step[after], 0.0)


def _usual_step(xy: Floats, line: Ints) -> Floats:
    """Return a middle step of each point's line, no longer than half of its steps."""
    order = np.lexsort((step_lengths(xy, line), line))
    codes = np.arange(line.max() + 1)
    first, stop = np.searchsorted(line, codes), np.searchsorted(line, codes, side="right")
    # the first point's step is zero and sorts first; of three steps an outlier makes two
    place = first + 1 + np.maximum(stop - first - 3, 0) // 2
    usual: Floats = step_lengths(xy, line)[order[np.minimum(place, len(xy) - 1)]][line]
    return usual


def _turning_saved_deg(xy: Floats, line: Ints) -> Floats:
    """Return by how much less the line turns when each vertex is left out."""
    turn = np.abs(turns_deg(xy, line))
    (a, has_a), (b, has_b) = neighbours(line, -1), neighbours(line, 1)
    before, after = leg_directions(xy, line)
    across = unit_vectors(xy[b] - xy[a])
    left = np.where(has_a, _between_deg(before[a], across), 0.0)
    right = np.where(has_b, _between_deg(across, after[b]), 0.0)
    (_, has_aa), (_, has_bb) = neighbours(line, -2), neighbours(line, 2)
    left, right = np.where(has_aa, left, 0.0), np.where(has_bb, right, 0.0)
    saved: Floats = turn + turn[a] + turn[b] - left - right
    return saved


def _between_deg(one: Floats, other: Floats) -> Floats:
    between: Floats = np.degrees(np.arccos(np.clip((one * other).sum(axis=1), -1.0, 1.0)))
    return between
