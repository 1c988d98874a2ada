"""Similarity fit in the plane: rotation, scale and shift that carry one set of points to another.

A plane vector (x, y) is written as the complex number x + iy; a similarity without reflection is
then ``z -> shift + factor * z`` with ``factor = scale * exp(i rotation)``.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]

MIN_POINTS = 2
"""Two points fix rotation, scale and shift."""


class Similarity(NamedTuple):
    """A fitted similarity, from site grid to map.

    Attributes
    ----------
    scale : float
        Target length of one source unit.
    rotation_deg : float
        Anticlockwise turn from source to target.
    source_centre, target_centre : array, shape (2,)
        Weighted centres; the first maps to the second.
    residuals : array, shape (n, 2)
        Target less mapped source, metres.
    chi2 : float
        Sum of weighted squared residuals.
    dof : int
        Twice the number of points less four.
    centre_variance : float
        Variance of the target centre in each axis.
    turn_variance : float
        Variance of a mapped point in each axis, a unit of source length off the centre.
    """

    scale: float
    rotation_deg: float
    source_centre: Floats
    target_centre: Floats
    residuals: Floats
    chi2: float
    dof: int
    centre_variance: float
    turn_variance: float


def fit_similarity(
    source: ArrayLike, target: ArrayLike, *, variances: ArrayLike | None = None
) -> Similarity | None:
    """Return the similarity that carries source points to target points best.

    Weighted least squares over rotation, scale and shift; a reflection is never chosen, however
    well it would fit.

    Parameters
    ----------
    source, target : array_like, shape (n, 2)
        Matching points, in any length unit.
    variances : array_like, shape (n,), optional
        Variance of each pair in each axis, target units squared; 1 where not given.

    Returns
    -------
    Similarity or None
        None where fewer than two distinct source points are given.

    References
    ----------
    S. Umeyama, *Least-squares estimation of transformation parameters between two point
    patterns*, IEEE PAMI 13 (1991) 376-380.

    Examples
    --------
    >>> met = fit_similarity([(0, 0), (1, 0), (0, 2)], [(0, 0), (-1, 0), (0, 2)])
    >>> round(met.scale, 3), map_points(met, [(0, 0)]).round(3).tolist()
    (0.721, [[-0.8, 0.4]])
    >>> fit_similarity([(0, 0)], [(5, 5)]) is None
    True
    """
    xy = np.asarray(source, dtype=float).reshape(-1, 2)
    to = np.asarray(target, dtype=float).reshape(-1, 2)
    weight = np.ones(len(xy)) if variances is None else 1 / np.asarray(variances, dtype=float)
    if len(xy) < MIN_POINTS:
        return None
    total = weight.sum()
    centre, centre_to = (weight @ xy) / total, (weight @ to) / total
    z, w = _complex(xy - centre), _complex(to - centre_to)
    spread = float(np.sum(weight * np.abs(z) ** 2))
    if spread <= np.finfo(float).eps * float(np.sum(weight * np.abs(_complex(xy)) ** 2)):
        return None
    factor = np.sum(weight * np.conj(z) * w) / spread
    left = w - factor * z
    return Similarity(
        float(np.abs(factor)),
        float(np.degrees(np.angle(factor))),
        centre,
        centre_to,
        np.stack([left.real, left.imag], axis=1),
        float(np.sum(weight * np.abs(left) ** 2)),
        2 * len(xy) - 4,
        1 / float(total),
        1 / spread,
    )


def map_points(fit: Similarity, xy: ArrayLike) -> Floats:
    """Return source points carried to the target plane.

    Parameters
    ----------
    fit : Similarity
    xy : array_like, shape (n, 2)
        Source points. NaN stays NaN.

    Returns
    -------
    array, shape (n, 2)

    Examples
    --------
    >>> quarter = fit_similarity([(0, 0), (1, 0)], [(5, 5), (5, 7)])
    >>> map_points(quarter, [(0, 1)]).tolist()
    [[3.0, 5.0]]
    """
    factor = fit.scale * np.exp(1j * np.radians(fit.rotation_deg))
    z = factor * _complex(np.asarray(xy, dtype=float).reshape(-1, 2) - fit.source_centre)
    return np.stack([z.real, z.imag], axis=1) + fit.target_centre


def map_variances(fit: Similarity, xy: ArrayLike) -> Floats:
    """Return the variance in each axis that the fit itself gives mapped points.

    It grows with the square of the distance from the centre of the points that were fitted.

    Parameters
    ----------
    fit : Similarity
        Fitted with variances.
    xy : array_like, shape (n, 2)
        Source points.

    Returns
    -------
    array, shape (n,)

    Examples
    --------
    >>> fit = fit_similarity([(0, 0), (10, 0)], [(0, 0), (10, 0)], variances=[0.02, 0.02])
    >>> map_variances(fit, [(5, 0), (10, 0)]).round(6).tolist()
    [0.01, 0.02]
    """
    off = np.asarray(xy, dtype=float).reshape(-1, 2) - fit.source_centre
    variances: Floats = fit.centre_variance + fit.turn_variance * np.sum(off**2, axis=1)
    return variances


def mirrored_residual_rms(source: ArrayLike, target: ArrayLike) -> float:
    """Return the RMS residual of the fit with source x and y exchanged.

    Parameters
    ----------
    source, target : array_like, shape (n, 2)

    Returns
    -------
    float
        Far below that of `fit_similarity` where the source's axes are exchanged; NaN where
        nothing can be fitted.

    Examples
    --------
    >>> mirrored_residual_rms([(0, 0), (0, 1), (2, 0)], [(0, 0), (1, 0), (0, 2)])
    0.0
    """
    fit = fit_similarity(np.asarray(source, dtype=float).reshape(-1, 2)[:, ::-1], target)
    return float("nan") if fit is None else float(np.sqrt(np.mean(fit.residuals**2) * 2))


def _complex(xy: Floats) -> NDArray[np.complex128]:
    return xy[:, 0] + 1j * xy[:, 1]
