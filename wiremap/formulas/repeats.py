"""Repeated positions of one feature: combined by inverse covariance, and tested for agreement."""

from __future__ import annotations

from statistics import NormalDist
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]


class Combined(NamedTuple):
    """Positions combined group by group.

    Attributes
    ----------
    xy : array, shape (g, 2)
        Weighted means, metres.
    cov : array, shape (g, 2, 2)
        Their covariances, square metres. They only shrink: see `combine`.
    chi2 : array, shape (g,)
        Sum of squared normalised residuals; 0 for a group of one.
    dof : array of int, shape (g,)
        Degrees of freedom: twice the count less two.
    """

    xy: Floats
    cov: Floats
    chi2: Floats
    dof: NDArray[np.int64]


def combine(xy: ArrayLike, cov: ArrayLike, *, groups: ArrayLike | None = None) -> Combined:
    """Return the weighted mean position of each group of repeated locates.

    Each position weighs by the inverse of its covariance. The errors of a group are taken as
    independent; what its positions have in common (one datum shift, one base station) does not
    shrink by repeating and has to be added by the caller. Where the positions disagree
    (``chi2 > chi_square_limit(dof)``) the covariance is too small by about ``chi2 / dof``.

    Parameters
    ----------
    xy : array_like, shape (n, 2)
        Positions, metres.
    cov : array_like, shape (n, 2, 2)
        Covariances, square metres; positive definite.
    groups : array_like of int, shape (n,), optional
        Group of each position, counted from 0 without gaps; one group where not given.

    Returns
    -------
    Combined
        One row a group. Empty input gives no rows. NaN in a group gives NaN.

    References
    ----------
    Weighted least squares with a common mean; see for example E. M. Mikhail, *Observations and
    Least Squares* (1976), from memory.

    Examples
    --------
    >>> met = combine([(0, 0), (3, 0)], [np.eye(2), 2 * np.eye(2)])
    >>> met.xy.tolist(), met.chi2.round(6).tolist(), met.dof.tolist()
    ([[1.0, 0.0]], [3.0], [2])
    >>> combine(np.empty((0, 2)), np.empty((0, 2, 2))).xy.shape
    (0, 2)
    """
    points = np.asarray(xy, dtype=float).reshape(-1, 2)
    weights = np.linalg.inv(np.asarray(cov, dtype=float).reshape(-1, 2, 2))
    group = np.zeros(len(points), int) if groups is None else np.asarray(groups, dtype=int)
    count = int(group.max()) + 1 if len(group) else 0
    # offsets from each group's first position keep the sums small, so that digits last
    first = np.zeros(count, int)
    first[group[::-1]] = np.arange(len(group))[::-1]
    offsets = points - points[first][group] if len(points) else points
    total = np.zeros((count, 2, 2))
    np.add.at(total, group, weights)
    weighted = np.zeros((count, 2))
    np.add.at(weighted, group, np.einsum("nij,nj->ni", weights, offsets))
    combined = np.linalg.inv(total)
    mean = np.einsum("gij,gj->gi", combined, weighted)
    residuals = offsets - mean[group]
    terms = np.einsum("ni,nij,nj->n", residuals, weights, residuals)
    chi2 = np.bincount(group, weights=terms, minlength=count).astype(float)
    dof = 2 * np.bincount(group, minlength=count) - 2
    return Combined(mean + points[first], np.asarray(combined, dtype=np.float64), chi2, dof)


def chi_square_limit(dof: ArrayLike, *, confidence: float = 0.99) -> Floats:
    """Return the value that chi-square exceeds by chance only rarely.

    Parameters
    ----------
    dof : array_like of int
        Degrees of freedom. 0 gives infinity: nothing can be tested.
    confidence : float
        Share of cases below the limit, between 0 and 1.

    Returns
    -------
    array
        Same shape as `dof`. Exact for 1 and 2 degrees of freedom, within 0.3 % beyond.

    References
    ----------
    E. B. Wilson and M. M. Hilferty, *The distribution of chi-square*, PNAS 17 (1931) 684-688.

    Examples
    --------
    >>> chi_square_limit([1, 2, 10]).round(2).tolist()
    [6.63, 9.21, 23.24]
    """
    freedom = np.asarray(dof, dtype=float)
    normal = NormalDist()
    spread = 2 / (9 * np.maximum(freedom, 1))
    limit = freedom * (1 - spread + normal.inv_cdf(confidence) * np.sqrt(spread)) ** 3
    limit = np.where(freedom == 1, normal.inv_cdf((1 + confidence) / 2) ** 2, limit)
    limit = np.where(freedom == 2, -2 * np.log1p(-confidence), limit)  # noqa: PLR2004 - exact
    return np.where(freedom <= 0, np.inf, limit)


def isotropic(rms_m: ArrayLike) -> Floats:
    """Return circular covariances from radial RMS.

    Parameters
    ----------
    rms_m : array_like, shape (n,)
        Radial RMS, metres: ``sqrt(sx^2 + sy^2)``.

    Returns
    -------
    array, shape (n, 2, 2)
        Half of ``rms_m`` squared in each axis, square metres. NaN stays NaN.

    Examples
    --------
    >>> isotropic([2.0]).tolist()
    [[[2.0, 0.0], [0.0, 2.0]]]
    """
    rms = np.asarray(rms_m, dtype=float).reshape(-1)
    cov = np.zeros((len(rms), 2, 2))
    cov[:, 0, 0] = cov[:, 1, 1] = rms**2 / 2
    return cov


def radial_rms(cov: ArrayLike) -> Floats:
    """Return the radial RMS of covariances, metres: the root of the trace.

    Parameters
    ----------
    cov : array_like, shape (n, 2, 2)
        Square metres.

    Returns
    -------
    array, shape (n,)

    Examples
    --------
    >>> radial_rms([[[9.0, 1.0], [1.0, 16.0]]]).tolist()
    [5.0]
    """
    matrices = np.asarray(cov, dtype=float).reshape(-1, 2, 2)
    rms: Floats = np.sqrt(matrices[:, 0, 0] + matrices[:, 1, 1])
    return rms
