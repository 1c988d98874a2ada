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
_LEAST_STRETCHES = 5
_LEAST_STRAY_TAN = 0.0437
_MEDIAN_OF_NORMAL = 0.6745
_HUBER = 1.5


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
        property tells the slope no better than to 8 degrees, one standard deviation.

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


def slopes_by_other_runs(
    run: ArrayLike,
    stretch: ArrayLike,
    heading_deg: ArrayLike,
    slope_tan: ArrayLike,
    slope_sigma_tan: ArrayLike,
) -> tuple[Array, Array]:
    """Return the cross slope that the pairs of all other runs let expect at each pair.

    Parameters
    ----------
    run, stretch : array-like of int, shape (n,)
        Run of each pair, and stretch from `wiremap.formulas.cross_slopes.number_stretches`.
    heading_deg : array-like, shape (n,)
        Direction walked; NaN leaves a pair out.
    slope_tan, slope_sigma_tan : array-like, shape (n,)
        Cross slope of each pair, rising to the left positive; NaN leaves a pair out.

    Returns
    -------
    expected_tan, sigma_tan : array, shape (n,)
        NaN and infinite where fewer than five stretches of other runs have pairs. The sigma is
        how far the stretches of the property stray from one plane (never taken below 2.5
        degrees), and how well that plane is known; widened by Student's factor where few
        stretches tell it.

    Notes
    -----
    A wire beside a second conductor reads like a wire on a slope, and all pairs of the run agree.
    What then speaks against it is that no other wire of the property lies on such a slope.

    Examples
    --------
    >>> run, level = list(range(8)), [0.0] * 7 + [0.3]
    >>> expected, sigma = slopes_by_other_runs(run, run, [45.0 * i for i in run], level, [0.03] * 8)
    >>> float(expected[-1].round(3)), bool(0.3 > 3.7 * sigma[-1])
    (0.0, True)
    """
    from scipy.stats import t as student

    run, stretch = np.unique(np.asarray(run), return_inverse=True)[1], np.asarray(stretch)
    slope, noise = np.asarray(slope_tan, dtype=float), np.asarray(slope_sigma_tan, dtype=float)
    heading = np.radians(np.asarray(heading_deg, dtype=float))
    to_left = np.column_stack((-np.cos(heading), np.sin(heading)))
    used = np.isfinite(slope) & np.isfinite(noise) & np.isfinite(heading)
    nothing = np.full(len(slope), np.nan), np.full(len(slope), np.inf)
    if not used.any():
        return nothing
    count, mean = _gather(stretch, used, np.column_stack((slope, noise**2, to_left, run)))
    of_run = mean[:, 4].astype(int)
    side, variance = mean[:, 2:4], mean[:, 1] / count
    trust, stray = np.ones(len(count)), _STRAY_TAN**2
    for _ in range(_ROUNDS + 2):
        weight = trust / (variance + stray)
        square = np.eye(2) / _PRIOR_TAN**2 + (side.T * weight) @ side
        residual = mean[:, 0] - side @ np.linalg.solve(square, side.T @ (weight * mean[:, 0]))
        # two unknowns were fitted to them
        free = np.sqrt(len(count) / max(len(count) - 2, 1))
        scatter = free * float(np.median(np.abs(residual))) / _MEDIAN_OF_NORMAL
        stray = max(scatter**2 - float(np.median(variance)), _LEAST_STRAY_TAN**2)
        far = np.abs(residual) / np.sqrt(variance + stray)
        trust = np.minimum(1.0, _HUBER / np.maximum(far, _HUBER)) ** 2
    weight = trust / (variance + stray)
    square, moment = _without_each_run(of_run, side, weight, mean[:, 0], run.max() + 1)
    spread = np.linalg.inv(square)
    gradient = (spread @ moment[..., None])[..., 0]
    others = len(of_run) - np.bincount(of_run, minlength=run.max() + 1)[run]
    widen = student.ppf(0.975, np.maximum(others - 2, 1)) / student.ppf(0.975, np.inf)
    plane = np.einsum("ni,nij,nj->n", to_left, spread[run], to_left)
    known = (others >= _LEAST_STRETCHES) & np.isfinite(heading)
    return (
        np.where(known, (to_left * gradient[run]).sum(axis=1), np.nan),
        np.where(known, widen * np.sqrt(plane + stray), np.inf),
    )


def _without_each_run(
    of_run: NDArray[np.intp], side: Array, weight: Array, slope: Array, runs: int
) -> tuple[Array, Array]:
    """Return normal equations (r, 2, 2) and (r, 2) of one plane, each run's own part taken off."""
    square, moment = np.zeros((runs, 2, 2)), np.zeros((runs, 2))
    np.add.at(square, of_run, weight[:, None, None] * side[:, :, None] * side[:, None, :])
    np.add.at(moment, of_run, (weight * slope)[:, None] * side)
    return np.eye(2) / _PRIOR_TAN**2 + square.sum(axis=0) - square, moment.sum(axis=0) - moment


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
