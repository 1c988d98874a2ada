"""Cross slope from the lie of the whole property, where nothing nearer tells.

On a hillside the offsets taped uphill are long and those taped downhill short, whatever the
direction the wires were walked in. One slope of the whole property, fitted to all that is known,
says what cross slope to expect where none was measured.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Array = NDArray[np.float64]

_PRIOR_TAN = 0.2
_STRAY_TAN = 0.07
_USEFUL_TAN = 0.14
_DEPTH_SCATTER = 0.16
_OFFSET_SCATTER = 0.1
_ROUNDS = 3
_STEEPEST_TAN = 0.6


def hillside_slopes(
    stretch: ArrayLike,
    heading_deg: ArrayLike,
    left_m: ArrayLike,
    right_m: ArrayLike,
    *,
    lean_deg: ArrayLike,
    known_tan: ArrayLike,
    known_sigma_tan: ArrayLike,
) -> tuple[Array, Array]:
    """Return the cross slope that the lie of the property lets expect at each pair.

    Parameters
    ----------
    stretch : array-like of int, shape (n,)
        From `wiremap.formulas.cross_slopes.number_stretches`.
    heading_deg : array-like, shape (n,)
        Direction walked; NaN leaves a pair out.
    left_m, right_m : array-like, shape (n,)
        Offsets; NaN where that side was not measured.
    lean_deg : array-like
        Lean of the receiver.
    known_tan, known_sigma_tan : array-like, shape (n,)
        Cross slope known at a pair, rising to the left positive; NaN, and infinite, where not.

    Returns
    -------
    slope_tan, sigma_tan : array, shape (n,)
        The sigma of each is widened so that a stretch's values together weigh as one. NaN, and
        infinite, for pairs without heading, in stretches where a slope is known, and where the
        property tells less than 8 degrees, one standard deviation.

    Notes
    -----
    Least squares for one gradient and one typical depth, with one value a stretch and side: a
    lone offset in tangents of the lean is longer than the depth by 1 / (1 - t), where t is the
    slope toward its side. Held to 11 degrees about level before anything is known; slopes stray
    4 degrees from one plane, depths of stretches by one part in six, offsets by a tenth: project
    choices.

    Examples
    --------
    >>> lone, none = [0.375, 0.25, 0.375, 0.25] * 3, [float("nan")] * 12
    >>> slope, _ = hillside_slopes(range(12), [0, 180] * 6, lone, none, lean_deg=45.0,
    ...                            known_tan=none, known_sigma_tan=[float("inf")] * 12)
    >>> slope[:2].round(1).tolist()
    [0.2, -0.2]
    """
    stretch = np.asarray(stretch)
    left, right = np.asarray(left_m, dtype=float), np.asarray(right_m, dtype=float)
    heading = np.radians(np.asarray(heading_deg, dtype=float))
    to_left = np.column_stack((-np.cos(heading), np.sin(heading)))
    tan = np.tan(np.radians(np.broadcast_to(np.asarray(lean_deg, dtype=float), left.shape)))
    square, moment = np.eye(2) / _PRIOR_TAN**2, np.zeros(2)
    known, sigma = np.asarray(known_tan, dtype=float), np.asarray(known_sigma_tan, dtype=float)
    told = np.isfinite(known) & np.isfinite(heading)
    count, mean = _gather(stretch, told, np.column_stack((known, sigma**2, to_left)))
    weight = 1 / (mean[:, 1] / count + _STRAY_TAN**2)
    square = square + (mean[:, 2:].T * weight) @ mean[:, 2:]
    moment = moment + mean[:, 2:].T @ (weight * mean[:, 0])
    sides = []
    for sign, offset, other in ((1.0, left, right), (-1.0, right, left)):
        lone = np.isfinite(offset) & np.isnan(other) & np.isfinite(heading) & ~told
        columns = np.column_stack((np.log(np.where(lone, offset, 1.0) / tan), sign * to_left))
        number, means = _gather(stretch, lone, columns)
        sides.append(np.column_stack((number, means)))
    gradient, spread = _solve(np.concatenate(sides), square, moment)
    shared = np.bincount(stretch)[stretch]
    variance = np.einsum("ni,ij,nj->n", to_left, spread, to_left) + _STRAY_TAN**2
    useful = (variance < _USEFUL_TAN**2) & (np.bincount(stretch, told)[stretch] == 0)
    return (
        np.where(useful, to_left @ gradient, np.nan),
        np.where(useful, np.sqrt(variance * shared), np.inf),
    )


def _gather(
    stretch: NDArray[np.intp], used: NDArray[np.bool_], columns: Array
) -> tuple[Array, Array]:
    """Return how many pairs of each stretch are used, and the means of their columns."""
    count = np.bincount(stretch[used]).astype(float)
    filled = np.flatnonzero(count)
    sums = [np.bincount(stretch[used], column[used])[filled] for column in columns.T]
    return count[filled], np.column_stack(sums) / count[filled, None]


def _solve(lone: Array, square: Array, moment: Array) -> tuple[Array, Array]:
    """Return the gradient and its covariance from lone offsets: count, log offset, side."""
    count, longer, side = lone[:, 0], lone[:, 1], lone[:, 2:]
    weight = 1 / (_DEPTH_SCATTER**2 + _OFFSET_SCATTER**2 / np.maximum(count, 1))
    spread: Array = np.asarray(np.linalg.inv(square), dtype=float)
    gradient: Array = spread @ moment
    for _ in range(_ROUNDS if len(lone) > 1 else 0):
        slope = np.clip(side @ gradient, -_STEEPEST_TAN, _STEEPEST_TAN)
        steep = side / (1 - slope)[:, None]
        value = longer + np.log1p(-slope) + steep @ gradient
        # the typical depth is taken out by reckoning from the weighted means
        steep = steep - np.average(steep, axis=0, weights=weight)
        value = value - np.average(value, weights=weight)
        normal = square + (steep.T * weight) @ steep
        spread = np.asarray(np.linalg.inv(normal), dtype=float)
        gradient = spread @ (moment + steep.T @ (weight * value))
    return gradient, spread
