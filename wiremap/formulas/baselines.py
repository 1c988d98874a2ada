"""Baseline and offset: a point by its distance along a line of two fixed points and square off it.

All positions are metres in one plane, all distances plane metres.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]


def place_on_baseline(a: ArrayLike, b: ArrayLike, chainage: ArrayLike, offset: ArrayLike) -> Floats:
    """Return the points at distances along and square off the lines from a to b.

    Parameters
    ----------
    a, b : array_like, shape (n, 2)
        Where each baseline starts, and what it points at, metres.
    chainage : array_like, shape (n,)
        Distance from a toward b, metres; may be negative or pass b.
    offset : array_like, shape (n,)
        Distance square off the line, metres, right positive.

    Returns
    -------
    array, shape (n, 2)
        Metres. NaN where a and b coincide.

    Examples
    --------
    >>> place_on_baseline([(10, 10)], [(10, 30)], [8], [3]).tolist()
    [[13.0, 18.0]]
    """
    start = np.asarray(a, dtype=float).reshape(-1, 2)
    unit, right, _ = _axes(start, b)
    along, off = np.asarray(chainage, dtype=float), np.asarray(offset, dtype=float)
    xy: Floats = start + unit * along[:, None] + right * off[:, None]
    return xy


def measure_from_baseline(a: ArrayLike, b: ArrayLike, xy: ArrayLike) -> tuple[Floats, Floats]:
    """Return the distance along and the offset off the lines from a to b.

    Parameters
    ----------
    a, b, xy : array_like, shape (n, 2)
        Start and aim of each baseline, and the positions, metres.

    Returns
    -------
    chainage, offset : array, shape (n,)
        Metres; the offset is positive to the right.

    Examples
    --------
    >>> [v.tolist() for v in measure_from_baseline([(10, 10)], [(10, 30)], [(13, 18)])]
    [[8.0], [3.0]]
    """
    start = np.asarray(a, dtype=float).reshape(-1, 2)
    unit, right, _ = _axes(start, b)
    reach = np.asarray(xy, dtype=float).reshape(-1, 2) - start
    return np.sum(reach * unit, axis=1), np.sum(reach * right, axis=1)


def baseline_covariance(
    a: ArrayLike,
    b: ArrayLike,
    chainage: ArrayLike,
    offset: ArrayLike,
    *,
    sigma_m: float,
    square_sigma_deg: float,
    cov: ArrayLike,
) -> Floats:
    """Return the covariance of points placed by baseline and offset.

    First-order propagation of both taped distances, of the right angle as it was held, and of the
    two fixed points: their errors shift the baseline and turn it, which grows past b.

    Parameters
    ----------
    a, b, chainage, offset : array_like
        As for `place_on_baseline`.
    sigma_m : float
        Standard deviation of a taped distance.
    square_sigma_deg : float
        How well the right angle was held, degrees.
    cov : array_like, shape (n, 2, 2, 2)
        Covariances of a and b, square metres.

    Returns
    -------
    array, shape (n, 2, 2)
        Square metres.

    Examples
    --------
    >>> exact = np.zeros((1, 2, 2, 2))
    >>> baseline_covariance([(0, 0)], [(20, 0)], [5], [0], sigma_m=0.02, square_sigma_deg=1,
    ...                     cov=exact).round(6).tolist()
    [[[0.0004, 0.0], [0.0, 0.0004]]]
    """
    start = np.asarray(a, dtype=float).reshape(-1, 2)
    unit, right, length = _axes(start, b)
    along, off = np.asarray(chainage, dtype=float), np.asarray(offset, dtype=float)
    reach = unit * along[:, None] + right * off[:, None]
    turned = np.stack([-reach[:, 1], reach[:, 0]], axis=1)
    # turning the baseline by d moves the point by d times `turned`; b moving left turns it
    by_b = np.einsum("ni,nj->nij", turned, -right / length[:, None])
    by_a = np.eye(2) - by_b
    along_variance = sigma_m**2 + (np.radians(square_sigma_deg) * off) ** 2
    own = np.asarray(cov, dtype=float)
    total: Floats = (
        by_a @ own[:, 0] @ by_a.transpose(0, 2, 1)
        + by_b @ own[:, 1] @ by_b.transpose(0, 2, 1)
        + along_variance[:, None, None] * np.einsum("ni,nj->nij", unit, unit)
        + sigma_m**2 * np.einsum("ni,nj->nij", right, right)
    )
    return total


def _axes(start: Floats, b: ArrayLike) -> tuple[Floats, Floats, Floats]:
    """Return unit vectors along and right of the lines, and their lengths."""
    base = np.asarray(b, dtype=float).reshape(-1, 2) - start
    length = np.hypot(base[:, 0], base[:, 1])
    with np.errstate(divide="ignore", invalid="ignore"):
        unit = base / length[:, None]
    return unit, np.stack([unit[:, 1], -unit[:, 0]], axis=1), length
