"""Two-tape ties: a point from its distances to two or more fixed points, and back.

All positions are metres in one plane, all distances plane metres.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]

MISS_SIGMAS = 3.0
"""Circles that miss by no more than this many standard deviations are taken to touch.
Project choice: 99.7 % of good tapes."""


class Tie(NamedTuple):
    """Where two circles cross.

    Attributes
    ----------
    xy : array, shape (n, 2)
        Positions, metres; NaN where the circles miss by more than the tapes explain.
    cov : array, shape (n, 2, 2)
        Covariances, square metres, from the tapes and the references; NaN likewise.
    cut_angle_deg : array, shape (n,)
        Angle at which the two tapes cross, 0 to 180; NaN where there is no position.
    gap_m : array, shape (n,)
        How far the circles miss each other: 0 where they cross; NaN where a and b coincide.
    touches : array of bool, shape (n,)
        The circles miss, but by no more than the tapes explain: placed where they nearly touch.
    """

    xy: Floats
    cov: Floats
    cut_angle_deg: Floats
    gap_m: Floats
    touches: NDArray[np.bool_]


class Adjusted(NamedTuple):
    """Positions adjusted by least squares.

    Attributes
    ----------
    xy : array, shape (n, 2)
        Positions, metres.
    cov : array, shape (n, 2, 2)
        Covariances, square metres.
    residuals_m : array, shape (n, k)
        Distance to the adjusted position less the taped one.
    chi2 : array, shape (n,)
        Sum of squared normalised residuals.
    dof : array of int, shape (n,)
        Distances used less two.
    """

    xy: Floats
    cov: Floats
    residuals_m: Floats
    chi2: Floats
    dof: NDArray[np.int64]


def cross_tapes(
    references: ArrayLike,
    distances: ArrayLike,
    *,
    side: ArrayLike,
    sigma_m: float = 0.0,
    cov: ArrayLike | None = None,
) -> Tie:
    """Return the points at two taped distances from two fixed points.

    Along the line from a to b the point stands at ``x = (ra^2 - rb^2 + D^2) / 2D``, off it at
    ``y = sqrt(ra^2 - x^2)``, left of the line for ``side`` +1 and right of it for -1. With equal
    tape sigma and exact references the radial RMS is ``sigma sqrt(2) / sin(cut angle)``; where the
    angle goes flat, the sigma of the offset follows from that of its square.

    Parameters
    ----------
    references : array_like, shape (n, 2, 2)
        Fixed points a and b of each row, metres.
    distances : array_like, shape (n, 2)
        Distances from them, metres, positive.
    side : array_like, shape (n,)
        +1 left, -1 right of the line from a to b.
    sigma_m : float
        Standard deviation of a taped distance.
    cov : array_like, shape (n, 2, 2, 2), optional
        Covariances of the fixed points, square metres; exact where not given.

    Returns
    -------
    Tie
        NaN where a and b coincide or the circles miss.

    References
    ----------
    DRMS of two ranges: ``sigma sqrt(2) / sin(gamma)``, as in N. Bowditch, *The American Practical
    Navigator*, from memory.

    Examples
    --------
    >>> tie = cross_tapes([[(0, 0), (14, 0)]], [(13, 15)], side=[1])
    >>> tie.xy.tolist(), tie.cut_angle_deg.round(2).tolist()
    ([[5.0, 12.0]], [59.49])
    >>> cross_tapes([[(0, 0), (14, 0)]], [(3, 4)], side=[1]).gap_m.tolist()
    [7.0]
    """
    anchors = np.asarray(references, dtype=float)
    start, end = anchors[:, 0], anchors[:, 1]
    ra, rb = np.asarray(distances, dtype=float).T
    length = np.hypot(*(end - start).T)
    length = np.where(length > 0, length, np.nan)
    unit = (end - start) / length[:, None]
    along = (ra**2 - rb**2 + length**2) / (2 * length)
    off = np.sqrt(np.maximum(ra**2 - along**2, 0.0)) * np.asarray(side, dtype=float)
    left = np.stack([-unit[:, 1], unit[:, 0]], axis=1)
    xy = start + unit * along[:, None] + left * off[:, None]
    variances = range_variance(xy, anchors, sigma_m, cov)
    gap = np.maximum(np.maximum(length - ra - rb, np.abs(ra - rb) - length), 0.0)
    touches = (gap > 0) & (gap <= MISS_SIGMAS * np.sqrt(variances.sum(axis=1)))
    missed = ((gap > 0) & ~touches) | np.isnan(length)
    xy = np.where(missed[:, None], np.nan, xy)
    turn = np.stack([unit, left], axis=2)
    local = _tie_covariance(ra, rb, along / length, length, off, np.asarray(side), variances)
    cov = np.where(missed[:, None, None], np.nan, turn @ local @ turn.transpose(0, 2, 1))
    return Tie(xy, cov, cut_angles(start, end, xy), gap, touches & ~missed)


def _tie_covariance(
    ra: Floats, rb: Floats, share: Floats, length: Floats, off: Floats, side: Floats, var: Floats
) -> Floats:
    """Covariance in the frame (along a to b, left of it).

    The offset is a root, which is not linear where the tapes lie flat: its sigma is half of how
    far it moves when its square moves by two sigma, the larger way.
    """
    pull_a, pull_b = ra * (1 - share), rb * share
    half_root_sigma = np.sqrt(pull_a**2 * var[:, 0] + pull_b**2 * var[:, 1])
    reach = 4 * half_root_sigma  # two sigma of the offset squared
    size = np.abs(off)
    nearer = size - np.sqrt(np.maximum(size**2 - reach, 0.0))
    farther = np.sqrt(size**2 + reach) - size
    across = np.maximum(nearer, farther) / 2
    mixed = ra * pull_a * var[:, 0] - rb * pull_b * var[:, 1]
    slope = np.divide(across, half_root_sigma, out=np.zeros_like(across), where=across > 0)
    along = (ra**2 * var[:, 0] + rb**2 * var[:, 1]) / length**2
    shared = mixed / length * slope * side
    return np.stack([np.stack([along, shared], 1), np.stack([shared, across**2], 1)], axis=1)


def range_variance(
    xy: ArrayLike, references: ArrayLike, sigma_m: float, cov: ArrayLike | None = None
) -> Floats:
    """Return the variance of taped distances, the fixed points' own errors included.

    Parameters
    ----------
    xy : array_like, shape (n, 2)
        Where the tapes meet, metres.
    references : array_like, shape (n, k, 2)
        Fixed points, metres.
    sigma_m : float
        Standard deviation of a taped distance.
    cov : array_like, shape (n, k, 2, 2), optional
        Covariances of the fixed points; exact where not given.

    Returns
    -------
    array, shape (n, k)
        Square metres.

    Examples
    --------
    >>> range_variance([(3, 4)], [[(0, 0)]], 0.3, [[0.16 * np.eye(2)]]).round(4).tolist()
    [[0.25]]
    """
    anchors = np.asarray(references, dtype=float)
    variance = np.full(anchors.shape[:2], float(sigma_m) ** 2)
    if cov is None:
        return variance
    unit = _directions(np.asarray(xy, dtype=float), anchors)
    own: Floats = np.einsum("nki,nkij,nkj->nk", unit, np.asarray(cov, dtype=float), unit)
    return variance + own


def _directions(xy: Floats, anchors: Floats) -> Floats:
    """Return unit vectors from the fixed points to the positions; zero where they coincide."""
    away = xy[:, None, :] - anchors
    distance = np.hypot(away[..., 0], away[..., 1])[..., None]
    return np.divide(away, distance, out=np.zeros_like(away), where=distance > 0)


def adjust_ties(
    xy: ArrayLike,
    references: ArrayLike,
    distances: ArrayLike,
    *,
    sigma_m: float,
    cov: ArrayLike | None = None,
) -> Adjusted:
    """Return the positions that fit three or more taped distances best.

    Weighted least squares by damped Gauss-Newton steps from a first position, such as
    `cross_tapes` gives. The weights hold the tape's and the fixed points' variance.

    Parameters
    ----------
    xy : array_like, shape (n, 2)
        First positions, metres.
    references : array_like, shape (n, k, 2)
        Fixed points, metres; NaN where a row has fewer than k.
    distances : array_like, shape (n, k)
        Taped distances, metres; NaN where a row has fewer.
    sigma_m : float
        Standard deviation of a taped distance, positive.
    cov : array_like, shape (n, k, 2, 2), optional
        Covariances of the fixed points, square metres; exact where not given.

    Returns
    -------
    Adjusted
        NaN where fewer than two distances are given.

    Examples
    --------
    >>> corners = [[(0, 0), (14, 0), (0, 12)]]
    >>> met = adjust_ties([(5, 12)], corners, [[13.02, 14.99, 5.015]], sigma_m=0.02)
    >>> met.xy.round(5).tolist(), met.residuals_m.round(5).tolist()
    ([[5.01974, 12.00864]], [[-0.00442, 0.00508, 0.00475]])
    """
    position = np.array(xy, dtype=float).reshape(-1, 2)
    taped = np.asarray(distances, dtype=float)
    used = np.isfinite(taped)
    anchors = np.where(used[..., None], np.asarray(references, dtype=float), 0.0)
    errors = None if cov is None else np.where(used[..., None, None], np.asarray(cov), 0.0)
    enough = used.sum(axis=1) > 1
    position[~enough] = np.nan
    weight = np.where(used, 1 / range_variance(position, anchors, sigma_m, errors), 0.0)
    position = _descend(position, anchors, np.where(used, taped, 0.0), weight)
    unit = _directions(position, anchors)
    weight = np.where(used, 1 / range_variance(position, anchors, sigma_m, errors), 0.0)
    inverse = _inverse(np.einsum("nki,nk,nkj->nij", unit, weight, unit))
    residual = np.where(used, _distance(position, anchors) - taped, np.nan)
    chi2 = np.nansum(weight * residual**2, axis=1)
    return Adjusted(position, inverse, residual, chi2, np.maximum(used.sum(axis=1) - 2, 0))


_ITERATIONS, _CLOSE_M, _DAMPING = 60, 1e-7, 1e-3


def _descend(position: Floats, anchors: Floats, taped: Floats, weight: Floats) -> Floats:
    """Return where the weighted squares are least, reached downhill from a first position.

    Gauss-Newton steps; a row whose step goes uphill stays, and is damped more (Levenberg). Rows
    whose step has become small are done.
    """
    position = position.copy()
    damping = np.zeros(len(position))
    rows = np.flatnonzero(np.isfinite(position[:, 0]))
    for _ in range(_ITERATIONS):
        if not len(rows):
            break
        here, fixed, scale = position[rows], anchors[rows], weight[rows]
        unit = _directions(here, fixed)
        residual = taped[rows] - _distance(here, fixed)
        pull = (unit * scale[..., None]).transpose(0, 2, 1)
        normal = pull @ unit
        extra = np.trace(normal, axis1=1, axis2=2) * damping[rows]
        inverse = _inverse(normal + extra[:, None, None] * np.eye(2))
        step = (inverse @ pull @ residual[..., None])[..., 0]
        tried = taped[rows] - _distance(here + step, fixed)
        down = np.sum(scale * (tried**2 - residual**2), axis=1) <= 0
        position[rows[down]] += step[down]
        worse = np.maximum(damping[rows] * 10, _DAMPING)
        damping[rows] = np.where(down, damping[rows] / 10, worse)
        rows = rows[~(np.abs(step).max(axis=1) < _CLOSE_M)]
    return position


def _distance(xy: Floats, anchors: Floats) -> Floats:
    return np.hypot(xy[:, None, 0] - anchors[..., 0], xy[:, None, 1] - anchors[..., 1])


def _inverse(matrices: Floats) -> Floats:
    """Inverses of 2x2 matrices; NaN where there is none."""
    determinant = np.linalg.det(matrices)
    sound = determinant > 0
    inverse = np.full_like(matrices, np.nan)
    inverse[sound] = np.linalg.inv(matrices[sound])
    return inverse


def cut_angles(a: ArrayLike, b: ArrayLike, xy: ArrayLike) -> Floats:
    """Return the angle at each position between the directions to two fixed points.

    Parameters
    ----------
    a, b, xy : array_like, shape (..., 2)
        Fixed points and positions, metres.

    Returns
    -------
    array, shape (...)
        Degrees, 0 to 180. NaN positions give NaN.

    Examples
    --------
    >>> cut_angles([(0, 0)], [(14, 0)], [(5, 12)]).round(2).tolist()
    [59.49]
    """
    to_a = np.asarray(a, dtype=float) - np.asarray(xy, dtype=float)
    to_b = np.asarray(b, dtype=float) - np.asarray(xy, dtype=float)
    cross = to_a[..., 0] * to_b[..., 1] - to_a[..., 1] * to_b[..., 0]
    dot = to_a[..., 0] * to_b[..., 0] + to_a[..., 1] * to_b[..., 1]
    angles: Floats = np.degrees(np.arctan2(np.abs(cross), dot))
    return angles


def sides(a: ArrayLike, b: ArrayLike, xy: ArrayLike) -> Floats:
    """Return on which side of the line from a to b each position lies.

    Parameters
    ----------
    a, b, xy : array_like, shape (..., 2)
        Fixed points and positions, metres.

    Returns
    -------
    array, shape (...)
        +1 left, -1 right, 0 on the line.

    Examples
    --------
    >>> sides([(0, 0)], [(14, 0)], [(5, 12)]).tolist()
    [1.0]
    """
    start, end, point = (np.asarray(p, dtype=float) for p in (a, b, xy))
    base, reach = end - start, point - start
    side: Floats = np.sign(base[..., 0] * reach[..., 1] - base[..., 1] * reach[..., 0])
    return side
