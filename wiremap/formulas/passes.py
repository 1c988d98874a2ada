"""Several passes over one wire, averaged into one line."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from wiremap.formulas.polylines import chainages, points_at, project_on_line

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]
    Flags = NDArray[np.bool_]


class Merged(NamedTuple):
    """One line out of several passes.

    Attributes
    ----------
    row : array of int, shape (k,)
        The given point that each vertex stands for, in the order of the line.
    xy : array, shape (k, 2)
        Averaged positions, metres.
    shrink : array, shape (k,)
        Averaged variance over the variance of the vertex's own point.
    passes : array of int, shape (k,)
        How many passes each vertex rests on.
    """

    row: Ints
    xy: Floats
    shrink: Floats
    passes: Ints


class _Offsets(NamedTuple):
    """Where one pass runs beside the base line."""

    row: Ints
    chainage: Floats
    offset: Floats
    variance: Floats


def merge_passes(
    xy: Floats, variance: Floats, number: Ints, keep: Flags, *, reach_m: float
) -> Merged:
    """Return the line that several passes over one wire make, each weighted by its accuracy.

    1. The longest pass is the base; among passes of nearly its length the most accurate one.
    2. Every other pass is laid along the base. Its points beyond the base's ends carry the line
       on; points between two base vertices, and devices, become vertices.
    3. At each vertex the passes' distances square off the base are averaged with weights of one
       over their variance. Averaging offsets, not positions, keeps corners where they are.

    Parameters
    ----------
    xy : array, shape (n, 2)
        Points in the order walked, metres.
    variance : array, shape (n,)
        Variance of each position along one axis, square metres, positive.
    number : array of int, shape (n,)
        Pass of each point, from 0; the line runs the way pass 0 was walked.
    keep : array of bool, shape (n,)
        Points that must be vertices: devices and exposed wire.
    reach_m : float
        Points of a pass farther off the base than this, between its ends, are left out.

    Returns
    -------
    Merged

    Examples
    --------
    >>> xy = np.array([[0.0, 0.2], [9, 0.2], [9, -0.2], [0, -0.2]])
    >>> number = np.array([0, 0, 1, 1])
    >>> merge_passes(xy, np.full(4, 0.01), number, np.zeros(4, bool), reach_m=3.0).xy.tolist()
    [[0.0, 0.0], [9.0, 0.0]]
    """
    base = _base_pass(xy, variance, number)
    line = xy[base]
    others = [np.flatnonzero(number == k) for k in np.unique(number) if k != number[base[0]]]
    laid = [_lay_along(xy, variance, rows, line, reach_m) for rows in others]
    marks = chainages(line, np.zeros(len(line), dtype=np.int64))
    own = _Offsets(base, marks, np.zeros(len(base)), variance[base])
    row, chainage = _choose_vertices(own, laid, keep)
    averaged, best, count = _average([own, *laid], chainage, row, variance)
    place = _place(xy, row, chainage, averaged, line, marks[-1])
    vertex = np.argsort(chainage, kind="stable")
    first = np.flatnonzero(number == number.min())
    walked = project_on_line(xy[first], line)[0]
    if len(first) > 1 and walked[-1] < walked[0]:
        vertex = vertex[::-1]
    shrink = np.minimum(best / variance[row], 1.0)
    return Merged(row[vertex], place[vertex], shrink[vertex], count[vertex])


def _base_pass(xy: Floats, variance: Floats, number: Ints) -> Ints:
    """Return the rows of the pass that covers most wire, of nearly equal ones the most accurate.

    A leap over many marks' spacings covers no wire.
    """
    rows = [np.flatnonzero(number == name) for name in np.unique(number)]
    steps = [np.hypot(*np.diff(xy[r], axis=0).T) for r in rows]
    longest = 3.0 * float(np.median(np.concatenate(steps)))
    covered = np.array([np.minimum(s, longest).sum() for s in steps])
    means = np.array([variance[r].mean() for r in rows])
    return rows[int(np.where(covered >= 0.9 * covered.max(), means, np.inf).argmin())]


def _lay_along(xy: Floats, variance: Floats, rows: Ints, line: Floats, reach_m: float) -> _Offsets:
    """Return one pass laid along the base line, in the base's sense; strays are left out."""
    chainage, offset = project_on_line(xy[rows], line)
    length = float(np.hypot(*np.diff(line, axis=0).T).sum())
    if len(rows) > 1 and chainage[-1] < chainage[0]:
        rows, chainage, offset = rows[::-1], chainage[::-1], offset[::-1]
    within = (chainage >= 0) & (chainage <= length) & (np.abs(offset) < reach_m)
    places = np.flatnonzero(within)
    if not len(places):
        return _Offsets(rows[:0], chainage[:0], offset[:0], variance[:0])
    legs = np.append(0.0, np.cumsum(np.hypot(*np.diff(xy[rows], axis=0).T)))
    here = np.arange(len(rows))
    ahead, behind = here < places[0], here > places[-1]
    ahead &= chainage < length / 2
    behind &= chainage > length / 2
    chainage = np.where(
        ahead, np.minimum(chainage[places[0]] - legs[places[0]] + legs, -1e-6), chainage
    )
    chainage = np.where(
        behind, np.maximum(chainage[places[-1]] - legs[places[-1]] + legs, length + 1e-6), chainage
    )
    used = within | ahead | behind
    order = np.flatnonzero(used)[np.argsort(chainage[used], kind="stable")]
    return _Offsets(rows[order], chainage[order], offset[order], variance[rows[order]])


def _choose_vertices(own: _Offsets, laid: list[_Offsets], keep: Flags) -> tuple[Ints, Floats]:
    """Return base vertices, and points of the other passes that add to them."""
    row, chainage = own.row, own.chainage
    apart = 0.75 * float(np.median(np.diff(own.chainage))) if len(own.row) > 1 else 0.0
    for other in laid:
        gap = np.abs(other.chainage[:, None] - chainage[None, :]).min(axis=1)
        added = (gap > apart) | (keep[other.row] & ~_same_device(other, row, chainage, keep, apart))
        row = np.append(row, other.row[added])
        chainage = np.append(chainage, other.chainage[added])
    return row, chainage


def _same_device(other: _Offsets, row: Ints, chainage: Floats, keep: Flags, apart: float) -> Flags:
    devices = chainage[keep[row]]
    if not len(devices):
        return np.zeros(len(other.row), dtype=bool)
    same: Flags = np.abs(other.chainage[:, None] - devices[None, :]).min(axis=1) <= apart
    return same


def _average(
    passes: list[_Offsets], chainage: Floats, row: Ints, variance: Floats
) -> tuple[Floats, Floats, Ints]:
    """Return averaged offset, its variance, and the number of passes at each chainage."""
    weight, moment = np.zeros(len(chainage)), np.zeros(len(chainage))
    count = np.zeros(len(chainage), dtype=np.int64)
    for one in passes:
        if not len(one.row):
            continue
        known = (chainage >= one.chainage[0] - 0.01) & (chainage <= one.chainage[-1] + 0.01)
        right = np.clip(np.searchsorted(one.chainage, chainage), 1, max(len(one.row) - 1, 1))
        right = np.minimum(right, len(one.row) - 1)
        left = np.maximum(right - 1, 0)
        gap = one.chainage[right] - one.chainage[left]
        share = np.clip((chainage - one.chainage[left]) / np.where(gap > 0, gap, 1.0), 0.0, 1.0)
        offset = (1 - share) * one.offset[left] + share * one.offset[right]
        spread = (1 - share) ** 2 * one.variance[left] + share**2 * one.variance[right]
        weight += known / spread
        moment += known * offset / spread
        count += known
    lone = count == 0
    weight = np.where(lone, 1.0 / variance[row], weight)
    return moment / weight, 1.0 / weight, np.maximum(count, 1)


def _place(
    xy: Floats, row: Ints, chainage: Floats, offset: Floats, line: Floats, length: float
) -> Floats:
    """Return positions beside the base line; beyond its ends points stand where they are."""
    place = points_at(chainage, line)
    ahead = points_at(np.minimum(chainage + 1e-3, length), line)
    behind = points_at(np.maximum(chainage - 1e-3, 0.0), line)
    along = ahead - behind
    along /= np.maximum(np.hypot(along[:, 0], along[:, 1]), 1e-12)[:, None]
    place = place + offset[:, None] * np.column_stack([-along[:, 1], along[:, 0]])
    outside = (chainage < 0) | (chainage > length)
    return np.where(outside[:, None], xy[row], place)
