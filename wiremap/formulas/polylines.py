"""Arithmetic on many polylines at once: lengths, chainages, headings, turns, offsets.

Vertices of all lines stand in one array, line after line; ``line`` gives each vertex the number
of its line and never decreases. So a thousand lines cost as little as one.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]
    Flags = NDArray[np.bool_]


def step_lengths(xy: Floats, line: Ints) -> Floats:
    """Return the distance of each vertex from the one before it on its line.

    Parameters
    ----------
    xy : array, shape (n, 2)
        Vertices in metres.
    line : array of int, shape (n,)
        Line of each vertex, never decreasing.

    Returns
    -------
    array, shape (n,)
        Metres; 0 at the first vertex of a line. Empty input gives an empty array.

    Examples
    --------
    >>> step_lengths(np.array([[0.0, 0], [3, 4], [9, 9], [9, 10]]), np.array([0, 0, 1, 1])).tolist()
    [0.0, 5.0, 0.0, 1.0]
    """
    steps = np.zeros(len(xy))
    if len(xy) > 1:
        delta = xy[1:] - xy[:-1]
        steps[1:] = np.hypot(delta[:, 0], delta[:, 1]) * (line[1:] == line[:-1])
    return steps


def chainages(xy: Floats, line: Ints) -> Floats:
    """Return the distance of each vertex from the start of its line, along the line.

    Parameters
    ----------
    xy : array, shape (n, 2)
        Vertices in metres.
    line : array of int, shape (n,)
        Line of each vertex, never decreasing.

    Returns
    -------
    array, shape (n,)
        Metres; 0 at the first vertex of a line.

    Examples
    --------
    >>> chainages(np.array([[0.0, 0], [3, 4], [3, 6], [9, 9]]), np.array([0, 0, 0, 1])).tolist()
    [0.0, 5.0, 7.0, 0.0]
    """
    return _running(step_lengths(xy, line), line)


def neighbours(line: Ints, shift: int) -> tuple[Ints, Flags]:
    """Return the vertex that stands ``shift`` places on, and whether it is of the same line.

    Parameters
    ----------
    line : array of int, shape (n,)
        Line of each vertex, never decreasing.
    shift : int
        Places on; negative for places back.

    Returns
    -------
    index : array of int, shape (n,)
        Vertex number; the vertex itself where there is none.
    exists : array of bool, shape (n,)

    Examples
    --------
    >>> index, exists = neighbours(np.array([0, 0, 1]), 1)
    >>> index.tolist(), exists.tolist()
    ([1, 1, 2], [True, False, False])
    """
    here = np.arange(len(line))
    index = here + shift
    exists = (index >= 0) & (index < len(line))
    index = np.where(exists, index, here)
    exists &= line[index] == line
    return np.where(exists, index, here), exists


def unit_vectors(vectors: Floats) -> Floats:
    """Return vectors scaled to length 1.

    Parameters
    ----------
    vectors : array, shape (n, 2)

    Returns
    -------
    array, shape (n, 2)
        Zero vectors stay zero.

    Examples
    --------
    >>> unit_vectors(np.array([[3.0, 4], [0, 0]])).tolist()
    [[0.6, 0.8], [0.0, 0.0]]
    """
    length = np.hypot(vectors[:, 0], vectors[:, 1])
    return vectors / np.where(length > 0, length, 1.0)[:, None]


def directions(xy: Floats, line: Ints) -> Floats:
    """Return the walking direction at each vertex as a unit vector.

    At an inner vertex it halves the turn between the two legs; at an end it is that of the leg.
    Vertices that coincide share the direction of the legs around them.

    Parameters
    ----------
    xy : array, shape (n, 2)
        Vertices in metres.
    line : array of int, shape (n,)
        Line of each vertex, never decreasing.

    Returns
    -------
    array, shape (n, 2)
        Zero where all vertices of a line coincide.

    Examples
    --------
    >>> directions(np.array([[0.0, 0], [2, 0], [2, 2]]), np.zeros(3, int)).round(3).tolist()
    [[1.0, 0.0], [0.707, 0.707], [0.0, 1.0]]
    """
    before, after = leg_directions(xy, line)
    mean = unit_vectors(before + after)
    hairpin = np.hypot(mean[:, 0], mean[:, 1]) == 0
    return np.where(hairpin[:, None], after, mean)


def leg_directions(xy: Floats, line: Ints) -> tuple[Floats, Floats]:
    """Return the unit vectors of the legs that arrive at and leave each vertex.

    Parameters
    ----------
    xy : array, shape (n, 2)
        Vertices in metres.
    line : array of int, shape (n,)
        Line of each vertex, never decreasing.

    Returns
    -------
    before, after : array, shape (n, 2)
        The first vertex of a line takes the leaving leg for both, the last one the arriving leg.
        A leg without length takes the direction of the next one that has some.

    Examples
    --------
    >>> before, after = leg_directions(np.array([[0.0, 0], [2, 0], [2, 2]]), np.zeros(3, int))
    >>> before.tolist(), after.tolist()
    ([[1.0, 0.0], [1.0, 0.0], [0.0, 1.0]], [[1.0, 0.0], [0.0, 1.0], [0.0, 1.0]])
    """
    count = len(xy)
    here = np.arange(count)
    moves = step_lengths(xy, line) > 0
    first = np.searchsorted(line, line, side="left")
    last = np.searchsorted(line, line, side="right") - 1
    arriving = np.maximum.accumulate(np.where(moves, here, -1)) if count else here
    later = np.where(moves, here, count)
    leaving = np.append(np.minimum.accumulate(later[::-1])[::-1], count)[1:] if count else here
    arrives, leaves = arriving > first, leaving <= last
    legs = np.zeros((count + 1, 2))
    if count > 1:
        legs[1:count] = unit_vectors(xy[1:] - xy[:-1])
    none = np.zeros(2)
    before = np.where(arrives[:, None], legs[np.where(arrives, arriving, 0)], none)
    after = np.where(leaves[:, None], legs[np.where(leaves, leaving, 0)], none)
    return (
        np.where(arrives[:, None], before, after),
        np.where(leaves[:, None], after, before),
    )


def headings_deg(vectors: Floats) -> Floats:
    """Return the heading of direction vectors.

    Parameters
    ----------
    vectors : array, shape (n, 2)
        East and north parts.

    Returns
    -------
    array, shape (n,)
        Degrees clockwise from north, 0 up to 360.

    Examples
    --------
    >>> headings_deg(np.array([[0.0, 1], [1, 0], [0, -1], [-1, 0]])).tolist()
    [0.0, 90.0, 180.0, 270.0]
    """
    return np.degrees(np.arctan2(vectors[:, 0], vectors[:, 1])) % 360.0


def turns_deg(xy: Floats, line: Ints) -> Floats:
    """Return by how much each line turns at each vertex.

    Parameters
    ----------
    xy : array, shape (n, 2)
        Vertices in metres.
    line : array of int, shape (n,)
        Line of each vertex, never decreasing.

    Returns
    -------
    array, shape (n,)
        Degrees, to the left positive, within -180 to 180; 0 at the ends of a line.

    Examples
    --------
    >>> turns_deg(np.array([[0.0, 0], [2, 0], [2, 2]]), np.zeros(3, int)).round(6).tolist()
    [0.0, 90.0, 0.0]
    """
    before, after = leg_directions(xy, line)
    cross = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    dot = (before * after).sum(axis=1)
    turns: Floats = np.degrees(np.arctan2(cross, dot))
    return turns


def distances_to_segments(points: Floats, starts: Floats, ends: Floats) -> Floats:
    """Return the distance of each point from its own segment.

    Parameters
    ----------
    points, starts, ends : array, shape (n, 2)
        Metres. A segment without length is its start.

    Returns
    -------
    array, shape (n,)
        Metres.

    Examples
    --------
    >>> distances_to_segments(np.array([[1.0, 1]]), np.array([[0.0, 0]]), np.array([[4.0, 0]]))
    array([1.])
    """
    along = ends - starts
    square = (along**2).sum(axis=1)
    share = ((points - starts) * along).sum(axis=1) / np.where(square > 0, square, 1.0)
    foot = starts + np.clip(share, 0.0, 1.0)[:, None] * along
    off = points - foot
    distance: Floats = np.hypot(off[:, 0], off[:, 1])
    return distance


def distances_to_rays(points: Floats, starts: Floats, unit: Floats) -> Floats:
    """Return the distance of each point from its own ray.

    Parameters
    ----------
    points, starts : array, shape (n, 2)
        Metres.
    unit : array, shape (n, 2)
        Unit vectors of the rays; the start alone counts where it is zero.

    Returns
    -------
    array, shape (n,)
        Metres.

    Examples
    --------
    >>> east = np.array([[1.0, 0]])
    >>> distances_to_rays(np.array([[-3.0, 4]]), np.array([[0.0, 0]]), east)
    array([5.])
    """
    relative = points - starts
    along = np.maximum((relative * unit).sum(axis=1), 0.0)
    off = relative - along[:, None] * unit
    distance: Floats = np.hypot(off[:, 0], off[:, 1])
    return distance


def length_moments(xy: Floats, line: Ints, covariance: Floats) -> tuple[Floats, Floats]:
    """Return how position errors of inner vertices act on the length of each line so far.

    Both grow along the line, so that those of a stretch are the difference of its ends. A
    stretch's own two ends add their variance along it.

    Parameters
    ----------
    xy : array, shape (n, 2)
        Vertices in metres.
    line : array of int, shape (n,)
        Line of each vertex, never decreasing.
    covariance : array, shape (n, 3)
        Position covariance xx, xy, yy, square metres; errors of vertices are independent.

    Returns
    -------
    variance : array, shape (n,)
        Variance of the length, to first order, square metres: only turns let it grow.
    excess : array, shape (n,)
        By how much errors square to the legs lengthen the zigzag on average, metres: to second
        order a leg of length s grows by the sum of both ends' cross variances over 2 s.

    Examples
    --------
    >>> xy = np.array([[0.0, 0], [10, 0], [10, 10]])
    >>> variance, excess = length_moments(xy, np.zeros(3, int), np.tile([0.01, 0, 0.01], (3, 1)))
    >>> variance.round(6).tolist(), excess.round(6).tolist()
    ([0.0, 0.02, 0.02], [0.0, 0.001, 0.002])
    """
    before, after = leg_directions(xy, line)
    step = step_lengths(xy, line)
    previous = neighbours(line, -1)[0]
    side = np.column_stack([-before[:, 1], before[:, 0]])
    across = _along(side, covariance) + _along(side, covariance[previous])
    grown = np.where(step > 0, across / (2.0 * np.where(step > 0, step, 1.0)), 0.0)
    grown = np.minimum(grown, np.sqrt(across))
    return _running(_along(before - after, covariance), line), _running(grown, line)


def _along(direction: Floats, covariance: Floats) -> Floats:
    """Return the variance along each direction."""
    x, y = direction[:, 0], direction[:, 1]
    return x * x * covariance[:, 0] + 2 * x * y * covariance[:, 1] + y * y * covariance[:, 2]


def _running(values: Floats, line: Ints) -> Floats:
    """Return the running sum of values within each line."""
    total = np.cumsum(values)
    first = np.searchsorted(line, line, side="left")
    return total - total[first] + values[first]
