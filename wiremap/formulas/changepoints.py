"""Steps in a series whose noise may be correlated: every place at once.

Reads arrays, returns arrays. Nothing here knows of wires.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

if TYPE_CHECKING:
    import numpy.typing as npt

    Floats = npt.NDArray[np.float64]

_TINY = 1e-9


class Projector(NamedTuple):
    """Inverse covariance with the free parameters projected out.

    Attributes
    ----------
    matrix : ndarray
        ``(..., n, n)``.
    penalty : ndarray
        ``(...)``: log determinants, the part of the likelihood that does not see the values.
    """

    matrix: Floats
    penalty: Floats


class Steps(NamedTuple):
    """The best step at each gap; gap k lies between values k and k + 1.

    Attributes
    ----------
    size : ndarray
        ``(..., n - 1)``: level after minus level before.
    information : ndarray
        Inverse variance of the size for noise of unit scale; 0 where it cannot be estimated.
    residual : ndarray
        Weighted sum of squares left with this step.
    base : ndarray
        ``(...)``: weighted sum of squares left with no step.
    """

    size: Floats
    information: Floats
    residual: Floats
    base: Floats


class Pairs(NamedTuple):
    """The best two steps at each pair of gaps.

    Attributes
    ----------
    sizes : ndarray
        ``(..., 2, n - 1, n - 1)``: size of the step at the row's gap, and at the column's.
    determinant : ndarray
        ``(..., n - 1, n - 1)``: of their information matrix.
    residual : ndarray
        Weighted sum of squares left with both.
    base : ndarray
        ``(...)``: weighted sum of squares left with neither.
    """

    sizes: Floats
    determinant: Floats
    residual: Floats
    base: Floats


def projector(covariance: Floats) -> Projector:
    """Return the inverse covariance with the mean projected out.

    Parameters
    ----------
    covariance : ndarray
        ``(..., n, n)``, positive definite.

    Returns
    -------
    Projector

    Raises
    ------
    numpy.linalg.LinAlgError
        A covariance is singular.

    References
    ----------
    Restricted likelihood: Harville (1977), JASA 72(358) (from memory).

    Examples
    --------
    >>> projector(np.eye(2)).matrix.tolist()
    [[0.5, -0.5], [-0.5, 0.5]]
    """
    inverse: Floats = np.linalg.inv(covariance).astype(np.float64)
    root: Floats = np.einsum("...ii->...i", np.linalg.cholesky(covariance))
    log_determinant: Floats = 2.0 * np.log(root).sum(axis=-1)
    ones = np.ones(covariance.shape[-1])
    return _project(Projector(inverse, log_determinant), ones)


def absorb(at: Projector, columns: Floats) -> Projector:
    """Return the projector with further free columns projected out.

    Parameters
    ----------
    at : Projector
        What stands so far.
    columns : ndarray
        ``(n, q)``: each is a regressor whose coefficient is free. One that is already explained
        changes nothing.

    Returns
    -------
    Projector

    Examples
    --------
    >>> absorb(projector(np.eye(2)), np.array([[0.0], [1.0]])).matrix.tolist()
    [[0.0, 0.0], [0.0, 0.0]]
    """
    for column in columns.T:
        at = _project(at, column)
    return at


def _project(at: Projector, column: Floats) -> Projector:
    weighted = at.matrix @ column
    information = weighted @ column
    free = information > _TINY * np.abs(np.einsum("...ii->...i", at.matrix)).max(-1) + 1e-300
    scale = np.where(free, 1.0 / np.where(free, information, 1.0), 0.0)
    outer = weighted[..., :, None] * weighted[..., None, :]
    return Projector(
        at.matrix - scale[..., None, None] * outer,
        at.penalty + np.where(free, np.log(np.where(free, information, 1.0)), 0.0),
    )


def scan_steps(values: Floats, at: Projector) -> Steps:
    """Return the best step at every gap of a series.

    Parameters
    ----------
    values : ndarray
        ``(n,)`` values in order; no NaN.
    at : Projector
        Their inverse covariance, free parameters projected out.

    Returns
    -------
    Steps
        For n values, n - 1 gaps.

    References
    ----------
    Generalised least squares; with white noise the residual is that of Hinkley (1970),
    Biometrika 57(1) (from memory).

    Examples
    --------
    >>> steps = scan_steps(np.array([0, 0, 3, 3.0]), projector(np.eye(4)))
    >>> int(steps.residual.argmin()), float(steps.size[1])
    (1, 3.0)
    """
    weighted = at.matrix @ values
    base = weighted @ values
    after = _after_gaps(len(values))
    score = weighted @ after
    information = ((at.matrix @ after) * after).sum(axis=-2)
    largest = np.abs(np.einsum("...ii->...i", at.matrix)).max(-1)[..., None]
    known = information > _TINY * largest + 1e-300
    information = np.where(known, information, 0.0)
    size = np.where(known, score / np.where(known, information, 1.0), 0.0)
    return Steps(size, information, np.maximum(base[..., None] - size * score, 0.0), base)


def scan_pairs(values: Floats, at: Projector) -> Pairs:
    """Return the best two steps at every pair of gaps of a series.

    Parameters
    ----------
    values : ndarray
        ``(n,)`` values in order; no NaN.
    at : Projector
        Their inverse covariance, free parameters projected out.

    Returns
    -------
    Pairs
        Symmetric over its last two axes; a pair that cannot be told apart leaves the base.

    Examples
    --------
    >>> pairs = scan_pairs(np.array([2, 2, 1, 1, 0, 0.0]), projector(np.eye(6)))
    >>> float(pairs.residual[1, 3].round(9)), pairs.sizes[:, 1, 3].round(9).tolist()
    (0.0, [-1.0, -1.0])
    """
    weighted = at.matrix @ values
    base = weighted @ values
    after = _after_gaps(len(values))
    score = weighted @ after
    sums = after.T @ (at.matrix @ after)
    own = np.einsum("...ii->...i", sums)
    determinant = own[..., :, None] * own[..., None, :] - sums**2
    known = determinant > _TINY * own[..., :, None] * own[..., None, :] + 1e-300
    determinant = np.where(known, determinant, 1.0)
    first = own[..., None, :] * score[..., :, None] - sums * score[..., None, :]
    first = np.where(known, first / determinant, 0.0)
    second = np.swapaxes(first, -1, -2)
    drop = first * score[..., :, None] + second * score[..., None, :]
    return Pairs(
        np.stack([first, second], axis=-3), determinant,
        np.maximum(base[..., None, None] - drop, 0.0), base,
    )  # fmt: skip


def _after_gaps(count: int) -> Floats:
    """Return one column a gap: 1 for the values after it."""
    return np.tri(count, count - 1, -1)


def interval_of_gaps(
    edges: Floats, weights: Floats, shares: tuple[float, ...] = (0.025, 0.5, 0.975)
) -> Floats:
    """Return quantiles of a place that lies in one of several gaps, evenly within each.

    Parameters
    ----------
    edges : ndarray
        ``(n,)`` increasing places that part the gaps.
    weights : ndarray
        ``(n - 1,)`` probability of each gap; any positive sum.
    shares : tuple of float
        Cumulative shares wanted.

    Returns
    -------
    ndarray
        One place for each share.

    Examples
    --------
    >>> interval_of_gaps(np.array([0.0, 4, 8]), np.array([0.0, 1.0])).round(6).tolist()
    [4.1, 6.0, 7.9]
    """
    total = np.concatenate([[0.0], np.cumsum(weights)])
    quantiles: Floats = np.interp(np.asarray(shares) * total[-1], total, edges)
    return quantiles
