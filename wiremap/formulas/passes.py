"""Several passes over one wire, averaged into one line."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from wiremap.formulas.polylines import chainages, unit_vectors
from wiremap.formulas.smoothing import straighten
from wiremap.formulas.stationing import line_length, points_at, project_on_line

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]
    Flags = NDArray[np.bool_]

NOISE_SIGMAS = 3.0
"""Standard deviations off the other passes from which a mark shows what they passed over."""
END_SIGMAS = 2.5
"""Standard deviations within which two passes end at one place."""
STRAY_SIGMAS = 4.0
"""Standard deviations within which a mark off the other passes is no stray."""
MOST_STEP, LEAST_STEP = 0.75, 0.25
"""Shares of the usual step: a mark farther than the first from every vertex is a vertex, one
nearer than the second never (project choice: nearer ones would make a zigzag of pacing)."""
WANDER_SHARE = 0.1
"""How far a wire strays from the spine's chord between two marks, one standard deviation, as a
share of the distance from the nearer mark, corners without a mark included (project choice)."""
MOST_MISSED = 3
"""Places between two marks of a pass that lie along the spine, with none between, on one stretch
(project choice)."""
ENOUGH = 0.75
"""Share of the longest pass that the most accurate one must cover to be the spine: the others carry
it on, and coarse zigzags look longer than they are (project choice)."""


class Marks(NamedTuple):
    """Marks over one wire in the order walked, pass after pass.

    Attributes
    ----------
    xy : array, shape (n, 2)
        Positions, metres.
    variance : array, shape (n,)
        Variance of each position along one axis, square metres, positive.
    number : array of int, shape (n,)
        Pass of each mark, from 0.
    visit : array of int, shape (n,)
        Visit of each mark: passes of one visit share more of their errors.
    keep : array of bool, shape (n,)
        Marks that must be vertices: devices and exposed wire.
    """

    xy: Floats
    variance: Floats
    number: Ints
    visit: Ints
    keep: Flags


class Common(NamedTuple):
    """Share of a position's variance that is the same for several marks at one place.

    Attributes
    ----------
    in_visit : float
        Of marks of one visit: what the receiver, the base station and the day add.
    between_visits : float
        Of marks of different visits: what the datum and the base station add.
    """

    in_visit: float
    between_visits: float


class Merged(NamedTuple):
    """One line out of several passes.

    Attributes
    ----------
    row : array of int, shape (k,)
        The given mark that each vertex stands for, in the order of the line.
    xy : array, shape (k, 2)
        Averaged positions, metres.
    shrink : array, shape (k,)
        Averaged variance over the variance of the vertex's own mark, at most 1.
    passes : array of int, shape (k,)
        How many passes each vertex rests on.
    """

    row: Ints
    xy: Floats
    shrink: Floats
    passes: Ints


class _Laid(NamedTuple):
    """Marks laid along the spine: given row, chainage, distance to the left of it."""

    row: Ints
    chainage: Floats
    offset: Floats


class _Average(NamedTuple):
    """What the marks of each vertex make together."""

    offset: Floats
    xy: Floats
    variance: Floats
    passes: Ints


def merge_passes(marks: Marks, *, reach_m: float, common: Common) -> Merged:
    """Return the line that several passes over one wire make, each weighted by its accuracy.

    1. The spine is the pass that covers most wire; among nearly equal ones the most accurate.
       Where another pass goes on beyond its ends, by more than noise, that pass carries it on.
       It is straightened within its accuracy, so that the others are laid along no zigzag.
    2. The other passes are laid along it. Marks in gaps of the spine, marks that stand off it by
       more than noise, and devices become further vertices.
    3. At each vertex the distances square off the spine of the marks nearest to it are averaged,
       with weights of one over their variance; marks of one visit share one weight. Averaging
       distances, not positions, keeps corners where they are. Where passes end together, the
       line ends at their mean. A device is the mean of its own locates alone.

    Parameters
    ----------
    marks : Marks
        Marks of one wire. The line runs the way the first pass was walked.
    reach_m : float
        Marks of a pass farther off the spine than this, and than four standard deviations,
        between its ends, are left out.
    common : Common
        What does not average out.

    Returns
    -------
    Merged

    Examples
    --------
    >>> xy = np.array([[0.0, 0.2], [9, 0.2], [9, -0.2], [0, -0.2]])
    >>> number = np.array([0, 0, 1, 1])
    >>> marks = Marks(xy, np.full(4, 0.01), number, number, np.zeros(4, bool))
    >>> merged = merge_passes(marks, reach_m=3.0, common=Common(0.84, 0.0))
    >>> bool(np.allclose(merged.xy, [[0, 0], [9, 0]]))
    True
    """
    spine, line = _draw_spine(marks, reach_m)
    laid = _lay_all(marks, spine, line, reach_m)
    chosen = _choose_vertices(marks, spine, laid)
    row = laid.row[chosen]
    mean = _average(marks, laid, chosen, _gather(marks, laid, chosen), common)
    added = laid.chainage[chosen[len(spine) :]]
    chainage = np.append(_meet_ends(marks, spine, laid), added)
    place = _place(line, chainage, mean.offset)
    place = np.where(marks.keep[row][:, None], mean.xy, place)
    vertex = np.argsort(chainage, kind="stable")
    first = np.flatnonzero(marks.number == marks.number.min())
    if np.sign(np.diff(project_on_line(marks.xy[first], line)[0])).sum() < 0:
        vertex = vertex[::-1]
    shrink = np.minimum(mean.variance / marks.variance[row], 1.0)
    return Merged(row[vertex], place[vertex], shrink[vertex], mean.passes[vertex])


def _draw_spine(marks: Marks, reach_m: float) -> tuple[Ints, Floats]:
    """Return the rows of the spine, and the straightened line through them."""
    spine = _base_pass(marks)
    base, line = marks.number[spine[0]], _straight(marks, spine)
    for number in np.unique(marks.number):
        if number == base:
            continue
        rows = np.flatnonzero(marks.number == number)
        longer = _carry_on(marks, spine, line, rows, reach_m)
        if len(longer) > len(spine):
            spine, line = longer, _straight(marks, longer)
    return spine, line


def _straight(marks: Marks, rows: Ints) -> Floats:
    one = np.zeros(len(rows), dtype=np.int64)
    return straighten(marks.xy[rows], one, np.sqrt(marks.variance[rows]), marks.keep[rows])


def _base_pass(marks: Marks) -> Ints:
    """Return the rows of the pass that covers most wire, of nearly equal ones the most accurate.

    A leap over many marks' spacings covers no wire.
    """
    rows = [np.flatnonzero(marks.number == name) for name in np.unique(marks.number)]
    rows = [r for r in rows if len(r) > 1] or [np.arange(len(marks.number))]
    steps = [np.hypot(*np.diff(marks.xy[r], axis=0).T) for r in rows]
    longest = 3.0 * float(np.median(np.concatenate(steps)))
    covered = np.array([np.minimum(s, longest).sum() for s in steps])
    means = np.array([marks.variance[r].mean() for r in rows])
    return rows[int(np.where(covered >= ENOUGH * covered.max(), means, np.inf).argmin())]


def _carry_on(marks: Marks, spine: Ints, line: Floats, rows: Ints, reach_m: float) -> Ints:
    """Return the spine with the marks by which another pass goes on beyond its ends."""
    length = line_length(line)
    chainage, offset = project_on_line(marks.xy[rows], line)
    reach = _reach_m(marks, rows, spine, reach_m)
    beside = np.flatnonzero((chainage >= 0) & (chainage <= length) & (np.abs(offset) < reach))
    if not len(beside):
        return spine
    # the longest stretch beside the spine: a wire that closes on itself comes beside it again
    parts = np.split(beside, np.flatnonzero(np.diff(beside) > MOST_MISSED) + 1)
    stretch = max(parts, key=lambda part: np.ptp(chainage[part]))
    first, last = stretch[0], stretch[-1]
    if np.sign(np.diff(chainage[stretch] if last > first else chainage)).sum() < 0:
        rows, chainage = rows[::-1], chainage[::-1]
        first, last = len(rows) - 1 - last, len(rows) - 1 - first
    walked = chainages(marks.xy[rows], np.zeros(len(rows), dtype=np.int64))
    before = walked[first] - walked - chainage[first]
    beyond = walked - walked[last] + chainage[last] - length
    here = np.arange(len(rows))
    ahead = (here < first) & (chainage[first] < length / 2)
    ahead &= before > _noise(marks, rows, spine[0])
    behind = (here > last) & (chainage[last] > length / 2)
    behind &= beyond > _noise(marks, rows, spine[-1])
    return np.concatenate([rows[ahead], spine, rows[behind]])


def _noise(marks: Marks, rows: Ints, other: Ints) -> Floats:
    """Return how far apart marks may stand that are at one place."""
    return np.asarray(END_SIGMAS * np.sqrt(marks.variance[rows] + marks.variance[other]))


def _reach_m(marks: Marks, rows: Ints, spine: Ints, reach_m: float) -> Floats:
    """Return how far off the spine marks are no strays."""
    variance = marks.variance[rows] + np.median(marks.variance[spine])
    return np.maximum(reach_m, STRAY_SIGMAS * np.sqrt(variance))


def _lay_all(marks: Marks, spine: Ints, line: Floats, reach_m: float) -> _Laid:
    """Return all marks laid along the spine; strays are left out."""
    along = chainages(line, np.zeros(len(line), dtype=np.int64))
    normal = _normals(along, line)
    own = ((marks.xy[spine] - line) * normal).sum(axis=1)
    others = np.setdiff1d(np.arange(len(marks.number)), spine)
    chainage, offset = project_on_line(marks.xy[others], line)
    start, end = _noise(marks, others, spine[0]), _noise(marks, others, spine[-1])
    used = (chainage >= -start) & (chainage <= along[-1] + end)
    used &= np.abs(offset) < _reach_m(marks, others, spine, reach_m)
    return _Laid(
        np.append(spine, others[used]),
        np.append(along, chainage[used]),
        np.append(own, offset[used]),
    )


def _choose_vertices(marks: Marks, spine: Ints, laid: _Laid) -> Ints:
    """Return which laid marks become vertices: the spine, and of the other passes what adds to it.

    The spine stands first among the laid marks.
    """
    chosen = np.arange(len(spine))
    length = laid.chainage[len(spine) - 1]
    step = float(np.median(np.diff(laid.chainage[: len(spine)])))
    rest = np.arange(len(spine), len(laid.row))
    number = marks.number[laid.row[rest]]
    for one in np.unique(number):
        mine = rest[number == one]
        chainage, keep = laid.chainage[mine], marks.keep[laid.row[mine]]
        gap = _gaps(chainage, laid.chainage[chosen])
        gap = np.where((chainage >= 0) & (chainage <= length), gap, 0.0)
        off = np.abs(laid.offset[mine] - np.median(laid.offset[mine]))
        spread = marks.variance[laid.row[mine]] + np.median(marks.variance[spine])
        clearly_off = off > NOISE_SIGMAS * np.sqrt(spread)
        devices = chosen[marks.keep[laid.row[chosen]]]
        fresh = keep & (_gaps(chainage, laid.chainage[devices]) > MOST_STEP * step)
        plain = ~keep & ((gap > MOST_STEP * step) | (clearly_off & (gap > LEAST_STEP * step)))
        chosen = np.append(chosen, mine[fresh | plain])
    return chosen


def _gaps(chainage: Floats, others: Floats) -> Floats:
    """Return the distance from each chainage to the nearest of others."""
    if not len(others):
        return np.full(len(chainage), np.inf)
    at = np.sort(others)
    right = np.clip(np.searchsorted(at, chainage), 1, len(at) - 1) if len(at) > 1 else 0
    left = np.maximum(right - 1, 0)
    return np.asarray(np.minimum(np.abs(chainage - at[right]), np.abs(chainage - at[left])))


def _gather(marks: Marks, laid: _Laid, chosen: Ints) -> Ints:
    """Return the vertex that each laid mark adds to, -1 where none.

    A device takes its own locates only; marks between take the nearest vertex.
    """
    keep = marks.keep[laid.row]
    owner = np.full(len(laid.row), -1, dtype=np.int64)
    for kind in (True, False):
        mine = np.flatnonzero(keep == kind)
        anchors = np.flatnonzero(keep[chosen] == kind)
        if len(anchors) and len(mine):
            owner[mine] = _nearest(laid.chainage[mine], laid.chainage[chosen], anchors)
    owner[chosen] = np.arange(len(chosen))
    return owner


def _nearest(chainage: Floats, of_vertex: Floats, anchors: Ints) -> Ints:
    order = anchors[np.argsort(of_vertex[anchors], kind="stable")]
    middle = 0.5 * (of_vertex[order][1:] + of_vertex[order][:-1])
    nearest: Ints = order[np.searchsorted(middle, chainage)]
    return nearest


def _meet_ends(marks: Marks, spine: Ints, laid: _Laid) -> Floats:
    """Return the chainages of the spine, its ends at the mean of the passes that end there."""
    chainage = laid.chainage[: len(spine)].copy()
    number = marks.number[laid.row]
    for end, pick in ((0, np.argmin), (len(spine) - 1, np.argmax)):
        if marks.keep[spine[end]]:
            continue
        parts = [np.flatnonzero(number == one) for one in np.unique(number)]
        last = np.array([part[int(pick(laid.chainage[part]))] for part in parts])
        noise = _noise(marks, laid.row[last], spine[end])
        last = last[np.abs(laid.chainage[last] - chainage[end]) <= noise]
        weight = 1.0 / marks.variance[laid.row[last]]
        chainage[end] = (weight * laid.chainage[last]).sum() / weight.sum()
    return chainage


def _average(marks: Marks, laid: _Laid, chosen: Ints, owner: Ints, common: Common) -> _Average:
    """Return the mean offset of each vertex's marks, its variance, and the passes among them."""
    used = np.flatnonzero(owner >= 0)
    row, vertex = laid.row[used], owner[used]
    sigma = np.sqrt(marks.variance[row])
    stray = WANDER_SHARE * (laid.chainage[used] - laid.chainage[chosen[vertex]])
    pair = vertex * (marks.visit.max() + 1) + marks.visit[row]
    _, visit, count = np.unique(pair, return_inverse=True, return_counts=True)
    # what marks of one visit have in common counts once
    weight = 1.0 / ((sigma**2 + stray**2) * count[visit])
    spread = weight * sigma
    total = np.bincount(vertex, weight)
    alone = np.bincount(vertex, spread**2)
    strayed = np.bincount(vertex, (weight * stray) ** 2)
    of_visit = np.bincount(visit, spread)
    vertex_of = np.zeros(len(count), dtype=np.int64)
    vertex_of[visit] = vertex
    together = np.bincount(vertex_of, of_visit**2)
    always = np.bincount(vertex, spread) ** 2
    inner, outer = common
    mean = np.bincount(vertex, weight * laid.offset[used]) / total
    xy = np.stack([np.bincount(vertex, weight * marks.xy[row, k]) for k in (0, 1)], axis=1)
    passes = np.unique(vertex * (marks.number.max() + 1) + marks.number[row])
    return _Average(
        mean,
        xy / total[:, None],
        (strayed + (1 - inner) * alone + (inner - outer) * together + outer * always) / total**2,
        np.bincount(passes // (marks.number.max() + 1)),
    )


def _place(line: Floats, chainage: Floats, offset: Floats) -> Floats:
    """Return positions beside a line, beyond its ends beside its end legs carried on."""
    length = line_length(line)
    over = chainage - np.clip(chainage, 0.0, length)
    normal = _normals(chainage, line)
    along = np.column_stack([normal[:, 1], -normal[:, 0]])
    place: Floats = points_at(chainage, line) + over[:, None] * along + offset[:, None] * normal
    return place


def _normals(chainage: Floats, line: Floats) -> Floats:
    """Return the unit vectors square to the left of a line at given chainages."""
    length = line_length(line)
    here = np.clip(chainage, 0.0, length)
    ahead = points_at(np.minimum(here + 1e-3, length), line)
    along = unit_vectors(ahead - points_at(np.maximum(here - 1e-3, 0.0), line))
    return np.column_stack([-along[:, 1], along[:, 0]])
