"""The walk along a wire: walks that double back, passes over one wire.

A walk is the points of one wire in the order they were taken. Lengths are metres.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from wiremap.formulas.polylines import neighbours, step_lengths
from wiremap.formulas.stationing import line_length, project_on_line

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]
    Flags = NDArray[np.bool_]

SHARP_TURN_DEG = 120.0
"""A turn beyond this is a change of mind of the walker, not of the wire (project choice: wires
turn by up to a right angle at one mark, and coarse positions add some tens of degrees)."""
MOSTLY = 0.6
"""Share of a piece's marks beside what was walked before from which on it is another pass over it
(project choice)."""
DISORDERED_SHARE = 0.4
"""Share of marks where a walk doubles back from which on its rows are merely out of order
(project choice: two thirds in a shuffled straight line, a tenth at most in a coarse walk)."""


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
    return beside & (chainage < line_length(line) + reach)


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
            left = line_length(line) - along[-1] if along[-1] > along[0] else along[-1]
            if left < max(noise_m, step_m):
                return True
    return False


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
