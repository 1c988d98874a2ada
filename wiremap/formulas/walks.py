"""The walk along a wire: points off the line, walks that double back, passes over one wire.

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

SHARP_TURN_DEG = 120.0
"""A turn beyond this is a change of mind of the walker, not of the wire (project choice: wires
turn by up to a right angle at one mark, and coarse positions add some tens of degrees)."""
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
MOST_ASIDE = 0.2
"""Share of a walk's marks beyond which several that stand off are its shape, not blunders (project
choice): marks farther apart than the wire's corners zigzag."""
MOSTLY = 0.6
"""Share of a piece's marks beside what was walked before from which on it is another pass over it
(project choice)."""
DISORDERED_SHARE = 0.4
"""Share of marks where a walk doubles back from which on its rows are merely out of order
(project choice: two thirds in a shuffled straight line, a tenth at most in a coarse walk)."""


def find_outliers(
    xy: Floats, line: Ints, sigma_m: Floats, suspect: Flags, *, least_m: float
) -> Flags:
    """Return which points stand alone off the line that their neighbours make.

    A point is held against three lines that do not use it: the chord of its two neighbours, and
    the legs before and after these, carried on. A corner lies on a carried-on leg, so it is no
    outlier; leaving it out would not straighten the line either. Where marks are spaced evenly
    and no corner is marked, a lone mark between two corners stands off as well, but no farther
    from its neighbours than marks usually stand: it is no outlier. A mark that the walk leaps to
    and back from is one whatever leg it lies on. Ends are never called, nor are several of a
    walk's marks where they are more than `MOST_ASIDE` of them.

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
        bad = _stand_off(xy[kept], line[kept], sigma_m[kept], least_m) & suspect[kept]
        if not bad.any():
            break
        found[kept[bad]] = True
        touched = np.isin(line[kept], np.unique(line[kept[bad]]))
        kept = kept[touched & ~bad]
    aside = np.bincount(line, weights=found, minlength=1)
    many = (aside > 1) & (aside > MOST_ASIDE * np.bincount(line, minlength=1))
    return found & ~many[line]


def _stand_off(xy: Floats, line: Ints, sigma_m: Floats, least_m: float) -> Flags:
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
    rank = np.where(bad, off / around, 0.0)
    worst: Flags = bad & (rank >= rank[a]) & (rank > np.where(has_b, rank[b], -1.0))
    return worst


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
    steps = step_lengths(xy, line)
    order = np.lexsort((steps, line))
    codes = np.arange(line.max() + 1)
    first, stop = np.searchsorted(line, codes), np.searchsorted(line, codes, side="right")
    # the first point's step is zero and sorts first; of three steps an outlier makes two
    place = first + 1 + np.maximum(stop - first - 3, 0) // 2
    usual: Floats = steps[order[np.minimum(place, len(xy) - 1)]][line]
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


def is_disordered(xy: Floats, line: Ints, sigma_m: Floats) -> Flags:
    """Return which points belong to a walk that doubles back too often to have been walked.

    Parameters
    ----------
    xy : array, shape (n, 2)
        Points in the order given, metres.
    line : array of int, shape (n,)
        Walk of each point, never decreasing and not negative.
    sigma_m : array, shape (n,)
        One standard deviation of each position along one axis, metres: steps of up to two of
        them double back by noise alone.

    Returns
    -------
    array of bool, shape (n,)

    Examples
    --------
    >>> xy = np.array([[0.0, 0], [9, 0], [1, 0], [8, 0], [2, 0]])
    >>> is_disordered(xy, np.zeros(5, int), np.full(5, 0.02)).tolist()
    [True, True, True, True, True]
    """
    (a, has_a), (b, has_b) = neighbours(line, -1), neighbours(line, 1)
    inner = has_a & has_b
    before, after = xy - xy[a], xy[b] - xy
    step = np.minimum(np.hypot(*before.T), np.hypot(*after.T))
    back = inner & ((before * after).sum(axis=1) < 0) & (step > 2.0 * sigma_m)
    judged = np.bincount(line, weights=inner)
    share = np.bincount(line, weights=back) / np.maximum(judged, 1.0)
    return (share > DISORDERED_SHARE)[line] if len(line) else back


def turn_back(xy: Floats, line: Ints, sigma_m: Floats) -> Flags:
    """Return the points where a walk turns back on itself, by more than position noise.

    Directions are taken over one, three and six marks, so that a turn shows although coarse
    positions hide it from mark to mark; of marks that turn together the tip counts.

    Parameters
    ----------
    xy : array, shape (n, 2)
        Points in the order walked, metres.
    line : array of int, shape (n,)
        Walk of each point, never decreasing.
    sigma_m : array, shape (n,)
        One standard deviation of each position along one axis, metres.

    Returns
    -------
    array of bool, shape (n,)

    Examples
    --------
    >>> out_and_back = np.array([[0.0, 0], [4, 0], [8, 0], [4, 0.1], [0, 0.1]])
    >>> turn_back(out_and_back, np.zeros(5, int), np.full(5, 0.02)).tolist()
    [False, False, True, False, False]
    """
    tips = np.zeros(len(xy), dtype=bool)
    limit = np.cos(np.radians(SHARP_TURN_DEG))
    for reach in (1, 3, 6):
        (a, has_a), (b, has_b) = neighbours(line, -reach), neighbours(line, reach)
        before, after = xy - xy[a], xy[b] - xy
        size = np.hypot(before[:, 0], before[:, 1]), np.hypot(after[:, 0], after[:, 1])
        turned = (before * after).sum(axis=1) < limit * size[0] * size[1]
        turned &= has_a & has_b & (np.minimum(*size) > 3.0 * sigma_m)
        found = _tips(turned, line, np.hypot(*(after - before).T))
        tips |= found & ~within_marks(tips, line, reach)
    return tips


def within_marks(chosen: Flags, line: Ints, reach: int) -> Flags:
    """Return the points that stand within some places of a chosen one of their walk.

    Parameters
    ----------
    chosen : array of bool, shape (n,)
    line : array of int, shape (n,)
        Walk of each point, never decreasing.
    reach : int
        Places, either way.

    Returns
    -------
    array of bool, shape (n,)

    Examples
    --------
    >>> within_marks(np.array([True, False, False, False]), np.zeros(4, int), 1).tolist()
    [True, True, False, False]
    """
    here = np.arange(len(line))
    low = np.maximum(here - reach, np.searchsorted(line, line, side="left"))
    high = np.minimum(here + reach + 1, np.searchsorted(line, line, side="right"))
    count = np.append(0, np.cumsum(chosen))
    near: Flags = count[high] > count[low]
    return near


def _tips(turned: Flags, line: Ints, sharpness: Floats) -> Flags:
    """Return, of each stretch of marks that turn together, the sharpest one."""
    tips = np.zeros(len(turned), dtype=bool)
    marks = np.flatnonzero(turned)
    if len(marks):
        fresh = (np.diff(marks) > 1) | (np.diff(line[marks]) != 0)
        stretch = np.cumsum(np.append(0, fresh))
        order = np.lexsort((sharpness[marks], stretch))
        last = np.flatnonzero(np.append(np.diff(stretch[order]) > 0, True))
        tips[marks[order[last]]] = True
    return tips


def split_passes(xy: Floats, cuts: Flags, visits: Ints, sigma_m: Floats) -> Ints:
    """Return which pass over the wire each point of one walk belongs to.

    The walk is cut where it turns back and where another visit begins. A piece that lies along
    what was walked before is another pass over it, and so is a visit that begins or ends along
    it and goes past its end; any other piece carries the line on.

    Parameters
    ----------
    xy : array, shape (n, 2)
        Points in the order walked, metres.
    cuts : array of bool, shape (n,)
        Where the walk turns back.
    visits : array of int, shape (n,)
        Visit (file and day) of each point.
    sigma_m : array, shape (n,)
        One standard deviation of each position along one axis, metres.

    Returns
    -------
    array of int, shape (n,)
        0 for the first pass. All 0 where the rows are merely out of order.

    Examples
    --------
    >>> xy = np.array([[0.0, 0], [4, 0], [8, 0], [4, 0.1], [0, 0.1]])
    >>> cuts = np.array([False, False, True, False, False])
    >>> split_passes(xy, cuts, np.zeros(5, int), np.full(5, 0.02)).tolist()
    [0, 0, 0, 1, 1]
    """
    new_visit = np.append(False, visits[1:] != visits[:-1])
    cuts = cuts & ~within_marks(new_visit, np.zeros(len(xy), dtype=np.int64), 6)
    piece = np.cumsum(np.append(False, cuts[:-1]) | new_visit)
    count = int(piece[-1]) + 1
    passes = np.zeros(len(xy), dtype=np.int64)
    if count == 1 or is_disordered(xy, np.zeros_like(piece), sigma_m).any():
        return passes
    starts = np.searchsorted(piece, np.arange(count + 1))
    last = 0
    for number in range(1, count):
        part = np.arange(starts[number], starts[number + 1])
        is_visit = bool(new_visit[starts[number]])
        if _is_pass(xy, sigma_m, part, passes[: starts[number]], is_visit=is_visit):
            last += 1
            passes[part] = last
    return passes


def _is_pass(xy: Floats, sigma_m: Floats, part: Ints, earlier: Ints, *, is_visit: bool) -> bool:
    """Return whether a piece is another pass over what was walked earlier, by pass."""
    former = np.flatnonzero(earlier == 0)
    if _is_beside(xy, sigma_m, part, former).mean() > MOSTLY:
        return is_visit or len(part) > 1
    # a later visit may go on where an earlier one stopped or lost the tone
    return is_visit and (
        bool(_is_beside(xy, sigma_m, former, part).mean() > MOSTLY)
        or any(
            _goes_on(xy, sigma_m, part, np.flatnonzero(earlier == one))
            for one in np.unique(earlier)
        )
    )


def _is_beside(xy: Floats, sigma_m: Floats, part: Ints, former: Ints) -> Flags:
    """Return which points of a piece lie beside a line walked before, as far as noise allows."""
    line = drop_repeats(xy[former])
    if len(line) < 2:  # noqa: PLR2004
        return np.zeros(len(part), dtype=bool)
    chainage, offset = project_on_line(xy[part], line)
    reach = _reach(sigma_m, part, former)
    beside: Flags = (np.abs(offset) < reach) & (chainage > -reach)
    return beside & (chainage < _length(line) + reach)


def _reach(sigma_m: Floats, part: Ints, former: Ints) -> Floats:
    return np.maximum(0.5, 3.0 * np.hypot(sigma_m[part], np.median(sigma_m[former])))


def _goes_on(xy: Floats, sigma_m: Floats, part: Ints, former: Ints) -> bool:
    """Return whether a piece begins, or ends, along a line walked before and goes past its end."""
    beside = _is_beside(xy, sigma_m, part, former)
    if beside.all() or not beside.any():
        return False
    line = drop_repeats(xy[former])
    chainage = project_on_line(xy[part], line)[0]
    noise_m = float(_reach(sigma_m, part, former).max())
    step_m = float(step_lengths(line, np.zeros(len(line), dtype=np.int64)).max())
    for lead, at in ((beside, chainage), (beside[::-1], chainage[::-1])):
        along = at[: int(lead.argmin())]
        if len(along) and abs(along[-1] - along[0]) > 2.0 * noise_m:
            left = _length(line) - along[-1] if along[-1] > along[0] else along[-1]
            if left < max(noise_m, step_m):
                return True
    return False


def _length(line: Floats) -> float:
    return float(np.hypot(*np.diff(line, axis=0).T).sum())


def drop_repeats(xy: Floats) -> Floats:
    """Return the vertices of one line without those that repeat the one before.

    Parameters
    ----------
    xy : array, shape (n, 2)

    Returns
    -------
    array, shape (m, 2)

    Examples
    --------
    >>> drop_repeats(np.array([[0.0, 0], [0, 0], [1, 0]])).tolist()
    [[0.0, 0.0], [1.0, 0.0]]
    """
    moved = np.append(True, (np.diff(xy, axis=0) != 0).any(axis=1))
    kept: Floats = xy[moved[: len(xy)]]
    return kept
