"""The line that coarse marks most likely stand beside: straight, with few turns."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from wiremap.formulas.polylines import distances_to_rays, neighbours, step_lengths, unit_vectors

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]
    Flags = NDArray[np.bool_]

TURN_SCALE_RAD = 0.15
"""Typical turn of a wire from mark to mark (project choice: of 0.05 to 0.2, the value that
straightened simulated legs and meanders best without making either worse)."""
SMALL_TURN_RAD = 0.02
"""Turns below this count as straight, so that the weights stay finite."""
LARGEST_SHIFT_SIGMAS = 2.0
"""No vertex moves farther than this from its mark."""
HELD_SHARE = 0.05
"""Share of its standard deviation that a held vertex is taken to have."""
ROUNDS = 6
"""Rounds of reweighting; later ones move nothing by more than a centimetre."""


def straighten(xy: Floats, line: Ints, sigma_m: Floats, held: Flags) -> Floats:
    """Return vertices moved toward the line of least turning that their accuracy allows.

    Least squares of the shifts over their variance, and of turns over `TURN_SCALE_RAD`, turns by
    their size and not its square: a few sharp corners cost less than many small zigzags, so
    corners stay and noise goes. Solved by reweighting, all lines in one banded system.

    The noise counted is the stated one or what the line's own zigzag shows, whichever is
    less: accurate marks under a coarse statement stay where they are.

    Parameters
    ----------
    xy : array, shape (n, 2)
        Vertices in metres.
    line : array of int, shape (n,)
        Line of each vertex, never decreasing.
    sigma_m : array, shape (n,)
        One standard deviation of each position along one axis, metres, positive.
    held : array of bool, shape (n,)
        Vertices that stay where they were located: devices.

    Returns
    -------
    array, shape (n, 2)
        No vertex moves by more than two of its standard deviations.

    References
    ----------
    The penalty on the size of second differences is that of Kim, Koh, Boyd and Gorinevsky,
    "l1 trend filtering", SIAM Review 51 (2009), from memory.

    Examples
    --------
    >>> xy = np.array([[0.0, 0.2], [4, -0.2], [8, 0.2], [12, -0.2], [16, 0.2]])
    >>> none = np.zeros(5, dtype=bool)
    >>> straight = straighten(xy, np.zeros(5, int), np.full(5, 0.35), none)
    >>> bool(np.ptp(straight[:, 1]) < 0.1)
    True
    """
    middle = np.flatnonzero(neighbours(line, -1)[1] & neighbours(line, 1)[1])
    if not len(middle):
        return xy.copy()
    sigma = sigma_m * np.minimum(_zigzag(xy, line, sigma_m, middle), 1.0)
    sigma = np.maximum(np.where(held, HELD_SHARE * sigma, sigma), 1e-4)
    origin = xy.mean(axis=0)
    mark = xy - origin
    step = np.maximum(step_lengths(xy, line), np.maximum(2.0 * sigma, 0.1))
    parts = np.stack([1.0 / step[middle], np.zeros(len(middle)), 1.0 / step[middle + 1]])
    parts[1] = -parts[0] - parts[2]
    moved = mark
    for _ in range(ROUNDS):
        turn = sum(parts[k][:, None] * moved[middle + k - 1] for k in range(3))
        size = np.sqrt((turn**2).sum(axis=1) + SMALL_TURN_RAD**2)
        moved = _solve(mark, sigma**-2, middle, parts, 1.0 / (TURN_SCALE_RAD * size))
    shift = np.where(held[:, None], 0.0, moved - mark)
    length = np.hypot(shift[:, 0], shift[:, 1])
    least = np.minimum(1.0, LARGEST_SHIFT_SIGMAS * sigma / np.maximum(length, 1e-12))
    straight: Floats = xy + shift * least[:, None]
    return straight


def _solve(mark: Floats, data: Floats, middle: Ints, parts: Floats, weight: Floats) -> Floats:
    """Return the minimum of weighted shifts and turns."""
    from scipy.linalg import solveh_banded

    band = np.zeros((3, len(mark)))
    band[2] = data
    for k in range(3):
        band[2, middle + k - 1] += weight * parts[k] ** 2
    band[1, middle] += weight * parts[0] * parts[1]
    band[1, middle + 1] += weight * parts[1] * parts[2]
    band[0, middle + 1] += weight * parts[0] * parts[2]
    solution: Floats = solveh_banded(
        band, mark * data[:, None], overwrite_ab=True, check_finite=False
    )
    return solution


def _zigzag(xy: Floats, line: Ints, sigma_m: Floats, middle: Ints) -> Floats:
    """Return each line's own zigzag as a share of what its accuracy lets expect.

    The distance of a mark from the chord of its neighbours has the mark's variance and, halfway
    between them, a quarter of each neighbour's; the median of a normal size is 0.6745 standard
    deviations.
    """
    along = unit_vectors(xy[middle + 1] - xy[middle - 1])
    variance = sigma_m**2
    expected = variance[middle] + 0.25 * (variance[middle - 1] + variance[middle + 1])
    off = distances_to_rays(xy[middle], xy[middle - 1], along) / np.sqrt(expected)
    owner = line[middle]
    order = np.lexsort((off, owner))
    first = np.flatnonzero(np.append(True, np.diff(owner) > 0))
    counts = np.diff(np.append(first, len(owner)))
    share = np.full(int(line[-1]) + 1, np.inf)
    share[owner[first]] = off[order][first + counts // 2] / 0.6745
    return share[line]
