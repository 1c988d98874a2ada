"""Rows of a walk that stand out of order, put into the order that makes the walk shortest."""

from __future__ import annotations

from bisect import bisect_left
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray
    from scipy.sparse import csr_array

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

SAVED_STEPS = 1.2
SAVED_SIGMAS = 8.0
"""What a change of order must save: this many steps between marks, and half a step and this many
standard deviations (project choice: two exchanged rows cost two steps; sound walks with marks
as coarse as their steps are left alone)."""
LARGEST_WALK = 1500
"""Points above which a walk is not put in another order: each change looks at all pairs."""


def resequence(xy: Floats, sigma_m: Floats) -> Ints:
    """Return the order of points that makes one walk clearly shorter.

    1. Where the line is far longer than the shortest tree over its points, start from the order
       along that tree's longest branch; else from the order given.
    2. Reverse a stretch, or move one point, as long as each change clearly saves length: more
       than a step, and more than position errors make up.
    3. Keep the sense of the walk: most neighbours stand in the order given.

    Parameters
    ----------
    xy : array, shape (n, 2)
        Points in the order given, metres.
    sigma_m : array, shape (n,)
        One standard deviation of each position along one axis, metres.

    Returns
    -------
    array of int, shape (n,)
        Places in ``xy`` in their new order; the order given where nothing is clearly shorter,
        and for walks of more than `LARGEST_WALK` points.

    Examples
    --------
    >>> xy = np.array([[0.0, 0], [8, 0], [4, 0], [12, 0]])
    >>> resequence(xy, np.full(4, 0.02)).tolist()
    [0, 2, 1, 3]
    """
    from scipy.sparse.csgraph import minimum_spanning_tree

    given = np.arange(len(xy))
    if not 3 <= len(xy) <= LARGEST_WALK:  # noqa: PLR2004
        return given
    distance = np.hypot(*(xy[:, None, :] - xy[None, :, :]).transpose(2, 0, 1))
    tree = minimum_spanning_tree(np.maximum(distance, 1e-6))  # less counts as no edge
    step, sigma = float(np.median(tree.data)), float(np.median(sigma_m))
    least_gain_m = max(SAVED_STEPS * step, 0.5 * step + SAVED_SIGMAS * sigma)
    order = given if _length(given, distance) < 2.0 * tree.sum() else _order_along(tree)
    order = _shorten(order, distance, least_gain_m)
    if _length(given, distance) - _length(order, distance) < least_gain_m:
        return given
    return order[::-1] if (np.diff(order) > 0).mean() < 0.5 else order  # noqa: PLR2004


def count_moved(order: Ints) -> int:
    """Return how few rows must move to put a walk into a new order.

    Parameters
    ----------
    order : array of int, shape (n,)
        Former places in their new order.

    Returns
    -------
    int
        All rows but the longest series of them that keep their order.

    Examples
    --------
    >>> count_moved(np.array([0, 2, 1, 3])), count_moved(np.array([1, 2, 3, 0]))
    (1, 1)
    """
    series: list[int] = []
    for place in order.tolist():
        at = bisect_left(series, place)
        series[at : at + 1] = [place]
    return len(order) - len(series)


def _length(order: Ints, distance: Floats) -> float:
    return float(distance[order[:-1], order[1:]].sum())


def _order_along(tree: csr_array) -> Ints:
    """Return points in the order of their distance along a tree from the end of it."""
    from scipy.sparse.csgraph import dijkstra

    from_first = dijkstra(tree, directed=False, indices=0)
    from_end = dijkstra(tree, directed=False, indices=int(from_first.argmax()))
    order: Ints = np.argsort(from_end, kind="stable")
    return order


def _shorten(order: Ints, distance: Floats, least_gain_m: float) -> Ints:
    """Take the best change again and again, as long as one saves enough."""
    for _ in range(2 * len(order)):
        # a place before and one after, at no distance
        between = np.pad(distance[np.ix_(order, order)], 1)
        gain_turn, turned = _best_reversal(order, between)
        gain_move, moved = _best_move(order, between)
        if max(gain_turn, gain_move) < least_gain_m:
            break
        order = turned if gain_turn >= gain_move else moved
    return order


def _best_reversal(order: Ints, between: Floats) -> tuple[float, Ints]:
    """Return the stretch whose reversal saves most: what it saves, and the new order."""
    count = len(order)
    step = np.append(np.diagonal(between, offset=1), 0.0)
    first, last = np.triu_indices(count, k=1)
    first, last = first + 1, last + 1
    gain = step[first - 1] + step[last] - between[first - 1, last] - between[first, last + 1]
    gain[(first == 1) & (last == count)] = 0.0
    best = int(gain.argmax())
    i, j = first[best] - 1, last[best]
    return float(gain[best]), np.concatenate([order[:i], order[i:j][::-1], order[j:]])


def _best_move(order: Ints, between: Floats) -> tuple[float, Ints]:
    """Return the single point whose move saves most: what it saves, and the new order."""
    count = len(order)
    here = np.arange(1, count + 1)
    saved = between[here - 1, here] + between[here, here + 1] - between[here - 1, here + 1]
    saved[[0, -1]] = between[1, 2], between[count - 1, count]
    gap = np.arange(count + 1)  # between place gap and place gap + 1
    cost = between[here][:, gap] + between[here][:, gap + 1] - between[gap, gap + 1]
    gain = saved[:, None] - cost
    gain[here - 1, here - 1] = gain[here - 1, here] = 0.0
    point, place = divmod(int(gain.argmax()), count + 1)
    moved = np.insert(np.delete(order, point), place - (place > point), order[point])
    return float(gain[point, place]), moved
