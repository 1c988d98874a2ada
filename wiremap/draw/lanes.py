"""Lanes: which side of a shared trench each wire is drawn on.

Reads the pieces of all wires; returns how far beside its place each is drawn, in lane widths, so
that wires in one trench stand next to each other instead of on top of each other.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

TRENCH_M = 0.6
"""Wires nearer than this, and alike in direction, share a trench (project choice)."""

_COS_ALIKE = np.cos(np.radians(20.0))
_WIDEST = 6.0


def find_lanes(
    starts: NDArray[np.float64], ends: NDArray[np.float64], *, runs: NDArray[np.int64]
) -> NDArray[np.float64]:
    """Return the lane of each piece of wire.

    Parameters
    ----------
    starts, ends : ndarray of shape (n, 2)
        Ends of each piece in a plane, metres.
    runs : ndarray of shape (n,)
        Rank of the run that each piece belongs to: wires of a trench lie in this order.

    Returns
    -------
    ndarray of shape (n,)
        Lane widths to the right of the piece as it runs from start to end; 0 where the piece has
        its trench to itself. A bundle is at most six lanes wide, however many wires it holds.

    Examples
    --------
    >>> starts = np.array([[0.0, 0.0], [9.0, 0.2]])
    >>> ends = np.array([[9.0, 0.0], [0.0, 0.2]])
    >>> find_lanes(starts, ends, runs=np.array([0, 1])).tolist()
    [-0.5, -0.5]
    """
    pieces, others = _neighbours(starts, ends, runs=runs)
    lanes = np.zeros(len(starts))
    if len(pieces) == 0:
        return lanes
    own = np.arange(len(starts))
    piece, other = np.concatenate([own, pieces]), np.concatenate([own, others])
    rank = runs[other]
    order = np.lexsort((rank, piece))
    piece, other, rank = piece[order], other[order], rank[order]
    first = np.r_[True, (np.diff(piece) != 0) | (np.diff(rank) != 0)]
    piece, other, rank = piece[first], other[first], rank[first]
    count = np.bincount(piece, minlength=len(starts))
    before = np.bincount(piece[rank < runs[piece]], minlength=len(starts))
    leader = other[np.r_[True, np.diff(piece) != 0]]
    direction = _directions(starts, ends)
    sense = np.where((direction * direction[leader]).sum(axis=1) < 0, -1.0, 1.0)
    squeeze = np.minimum(1.0, _WIDEST / np.maximum(count, 1))
    return sense * squeeze * (before - (count - 1) / 2.0)


def _directions(starts: NDArray[np.float64], ends: NDArray[np.float64]) -> NDArray[np.float64]:
    along = ends - starts
    length = np.hypot(along[:, 0], along[:, 1])
    return along / np.where(length > 0, length, 1.0)[:, None]


def _neighbours(
    starts: NDArray[np.float64], ends: NDArray[np.float64], *, runs: NDArray[np.int64]
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Return pairs of pieces of different runs that share a trench."""
    import shapely

    lines = shapely.linestrings(np.stack([starts, ends], axis=1))
    middles = shapely.points((starts + ends) / 2.0)
    pieces, others = shapely.STRtree(lines).query(middles, predicate="dwithin", distance=TRENCH_M)
    direction = _directions(starts, ends)
    alike = np.abs((direction[pieces] * direction[others]).sum(axis=1)) >= _COS_ALIKE
    kept = alike & (runs[pieces] != runs[others])
    return pieces[kept], others[kept]


def lanes_at_vertices(
    lanes: NDArray[np.float64], *, chains: NDArray[np.int64]
) -> NDArray[np.float64]:
    """Return the lane at each vertex: the mean of the pieces that meet there.

    Parameters
    ----------
    lanes : ndarray of shape (n,)
        Lane of each piece, in order along its chain.
    chains : ndarray of shape (n,)
        Chain that each piece belongs to, ascending from 0 without gaps.

    Returns
    -------
    ndarray of shape (n + number of chains,)

    Examples
    --------
    >>> lanes_at_vertices(np.array([1.0, 0.0]), chains=np.array([0, 0])).tolist()
    [1.0, 0.5, 0.0]
    """
    place = np.arange(len(lanes)) + chains
    size = len(lanes) + (int(chains[-1]) + 1 if len(chains) else 0)
    total = np.bincount(place, lanes, size) + np.bincount(place + 1, lanes, size)
    met = np.bincount(place, minlength=size) + np.bincount(place + 1, minlength=size)
    return total / np.maximum(met, 1)  # type: ignore[no-any-return]
