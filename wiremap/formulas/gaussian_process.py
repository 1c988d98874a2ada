"""Values along lines: a Gaussian process with exponential covariance, in linear time.

Each line (a run of wire) is a chain of nodes. The process is an Ornstein-Uhlenbeck process about
a mean that is itself uncertain. Its precision matrix is tridiagonal, so that all lines of a
property are one tridiagonal system, solved exactly by LAPACK.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike, NDArray

    Array = NDArray[np.float64]

_LEAST_STEP_M = 1e-3
_BELIEF = 0.9


@dataclass(frozen=True)
class Smoothed:
    """What is known at each node, in the order the nodes were given.

    Attributes
    ----------
    mean, sigma : array
        Value and its standard deviation.
    shared_sigma : array
        Standard deviation that the shared errors leave; not in `sigma`.
    left_out_residual, left_out_sigma : array
        Observation less what all others predict there, and its standard deviation with the
        observation's own noise; NaN at nodes without observation.
    log_likelihood : array, shape (groups,)
        Log density of the observations of each group, by the sorted unique groups.
    """

    mean: Array
    sigma: Array
    shared_sigma: Array
    left_out_residual: Array
    left_out_sigma: Array
    log_likelihood: Array


def smooth_chains(  # noqa: PLR0913 - the process and its observations, all by keyword
    group: ArrayLike,
    position_m: ArrayLike,
    value: ArrayLike,
    sigma: ArrayLike,
    *,
    length_scale_m: ArrayLike,
    amplitude: ArrayLike,
    mean: float,
    mean_sigma: float,
    shared: ArrayLike = 0.0,
) -> Smoothed:
    """Return value and uncertainty at every node of every chain.

    Parameters
    ----------
    group : array-like of int, shape (n,)
        Chain that the node belongs to.
    position_m : array-like, shape (n,)
        Distance along the chain.
    value : array-like, shape (n,)
        Observation at the node; NaN where there is none.
    sigma : array-like, shape (n,)
        Standard deviation of the observation, above zero, independent between observations.
    length_scale_m, amplitude : float or array-like, shape (n,)
        Distance over which values stay alike, and their standard deviation about the chain's
        mean; constant within a chain.
    mean, mean_sigma : float
        What is known of a chain's mean before it is observed; sigma above zero.
    shared : array-like, shape (n,) or (k, n)
        Error of each observation, signed, for one sigma of an error that all observations of a
        chain share; one row for each such error.

    Returns
    -------
    Smoothed
        A chain without observation gets the prior.

    References
    ----------
    .. [1] Rue, Held, "Gaussian Markov Random Fields", 2005, chapter 2 (from memory). The
       diagonal of the inverse of a tridiagonal matrix follows from its two factorisations,
       from the top and from the bottom.

    Examples
    --------
    >>> depth = smooth_chains(
    ...     [0, 0, 0], [0.0, 10.0, 500.0], [0.3, np.nan, np.nan], [0.02, 1, 1],
    ...     length_scale_m=15.0, amplitude=0.05, mean=0.35, mean_sigma=0.05,
    ... )
    >>> depth.sigma.round(3).tolist()
    [0.019, 0.048, 0.062]
    """
    group, position = np.asarray(group), np.asarray(position_m, dtype=float)
    order = np.lexsort((position, group))
    n = len(order)
    names, line = np.unique(group[order], return_inverse=True)
    codes = len(names)
    scale, size, noise = (
        np.broadcast_to(np.asarray(a, dtype=float), (n,))[order]
        for a in (length_scale_m, amplitude, sigma)
    )
    shifts = np.atleast_2d(np.asarray(shared, dtype=float))
    shifts = np.broadcast_to(shifts, (len(shifts), n))[:, order]
    y = np.asarray(value, dtype=float)[order]
    seen = np.isfinite(y)
    weight = np.where(seen, 1 / noise**2, 0.0)
    y, shifts = np.where(seen, y - mean, 0.0), np.where(seen, shifts, 0.0)
    chain = _Chain(line, position[order], scale, size, weight)
    # one solve for the observations, a constant, and the shared errors
    columns = np.column_stack((y, np.ones(n), *shifts))
    fit = chain.solve(weight[:, None] * columns)
    back = weight[:, None] * (columns - fit)
    sums = np.column_stack([np.bincount(line, b, minlength=codes) for b in back.T])
    mean_precision = sums[:, 1] + mean_sigma**-2
    level, shift_levels = sums[:, 0] / mean_precision, sums[:, 2:] / mean_precision[:, None]
    rest = 1 - fit[:, 1]
    variance = chain.variance + rest**2 / mean_precision[line]
    moved = fit[:, 2:] + rest[:, None] * shift_levels[line]
    weighted = back[:, 0] - back[:, 1] * level[line]
    precision = weight - weight**2 * chain.variance - back[:, 1] ** 2 / mean_precision[line]
    with np.errstate(divide="ignore", invalid="ignore"):
        residual = np.where(seen, weighted / precision, np.nan)
        spread = np.where(seen, 1 / np.sqrt(np.maximum(precision, 1e-12)), np.nan)
        log_weight = np.where(seen, np.log(weight / (2 * np.pi)), 0.0)
    # the quadratic form and the determinants, line by line
    fits = np.bincount(line, log_weight - y * weighted - chain.log_ratio, minlength=codes)
    log_density = fits - np.log(mean_precision * mean_sigma**2)
    place = np.empty(n, dtype=np.intp)
    place[order] = np.arange(n)
    return Smoothed(
        (mean + fit[:, 0] + rest * level[line])[place],
        np.sqrt(np.maximum(variance, 0))[place],
        np.sqrt((moved**2).sum(axis=1))[place],
        residual[place],
        spread[place],
        log_density / 2,
    )


class Scales(NamedTuple):
    """Length scales and amplitudes that the observations favour, and the weight of each pair."""

    weight: Array
    length_scale_m: Array
    amplitude: Array


def fit_scales(  # noqa: PLR0913 - the process and its observations, all by keyword
    group: ArrayLike,
    position_m: ArrayLike,
    value: ArrayLike,
    sigma: ArrayLike,
    *,
    length_scale_m: float,
    amplitude: float,
    mean: float,
    mean_sigma: float,
) -> Scales:
    """Return the length scales and amplitudes that the observations of all chains favour.

    A grid about the values given: a quarter to four times the length scale, a quarter to three
    times the amplitude, held near the middle by a log-normal prior (sigma ln 2, a project
    choice) so that few observations leave it where it was.

    Parameters
    ----------
    group, position_m, value, sigma : array-like, shape (n,)
        As for `smooth_chains`; every node observed.
    length_scale_m, amplitude : float
        Middle of the grid, above zero.
    mean, mean_sigma : float
        As for `smooth_chains`.

    Returns
    -------
    Scales
        The likeliest pairs, the best first, as many as hold nine tenths of the belief; weights
        sum to 1. Many observations leave one pair, few leave several.

    Examples
    --------
    >>> scales = fit_scales([0], [0.0], [0.3], [0.02], length_scale_m=15.0, amplitude=0.05,
    ...                     mean=0.3, mean_sigma=0.1)
    >>> float(scales.length_scale_m[0]), float(scales.amplitude[0])
    (15.0, 0.05)
    """
    fit, scales, sizes = _fit_grid(
        group, position_m, value, np.atleast_2d(np.asarray(sigma, dtype=float)),
        length_scale_m=length_scale_m, amplitude=amplitude, mean=mean, mean_sigma=mean_sigma,
    )  # fmt: skip
    fit = fit[0]
    belief = np.exp(fit - fit.max())
    belief /= belief.sum()
    order = np.argsort(-belief, kind="stable")
    kept = order[: int(np.searchsorted(np.cumsum(belief[order]), _BELIEF)) + 1]
    return Scales(
        belief[kept] / belief[kept].sum(), scales[kept] * length_scale_m, sizes[kept] * amplitude
    )


def noise_evidence(  # noqa: PLR0913 - the process and its observations, all by keyword
    group: ArrayLike,
    position_m: ArrayLike,
    value: ArrayLike,
    sigmas: ArrayLike,
    *,
    length_scale_m: float,
    amplitude: float,
    mean: float,
    mean_sigma: float,
) -> Array:
    """Return how well each of several noises agrees with the observations of all chains.

    Parameters
    ----------
    group, position_m, value : array-like, shape (n,)
        As for `smooth_chains`; every node observed.
    sigmas : array-like, shape (k, n)
        Noise of each observation, above zero, in each of the cases.
    length_scale_m, amplitude, mean, mean_sigma : float
        As for `fit_scales`.

    Returns
    -------
    array, shape (k,)
        Log evidence, the scales summed out, up to a constant; zero without observations.

    Examples
    --------
    >>> fit = noise_evidence([0] * 6, range(6), [0.31, 0.29, 0.31, 0.29, 0.31, 0.29],
    ...                      [[0.01] * 6, [0.03] * 6], length_scale_m=15.0, amplitude=0.05,
    ...                      mean=0.3, mean_sigma=0.05)
    >>> bool(fit[0] > fit[1])
    True
    """
    sigmas = np.asarray(sigmas, dtype=float)
    if not sigmas.shape[1]:
        return np.zeros(len(sigmas))
    fit, _, _ = _fit_grid(
        group, position_m, value, sigmas,
        length_scale_m=length_scale_m, amplitude=amplitude, mean=mean, mean_sigma=mean_sigma,
    )  # fmt: skip
    evidence: Array = np.logaddexp.reduce(fit, axis=1)
    return evidence


def sample_chains(group: ArrayLike, position_m: ArrayLike, *, most: int) -> NDArray[np.intp]:
    """Return which observations to weigh where they are too many: those of some chains, whole.

    Parameters
    ----------
    group, position_m : array-like, shape (n,)
        Number of each observation's chain, and where it lies along it.
    most : int
        How many observations at the most; at least 1.

    Returns
    -------
    array of int
        Places of observations, ascending: of every so many-th chain, filled up with others. Of a
        chain that is too long by itself those at its start.

    Examples
    --------
    >>> sample_chains([0, 0, 1, 1, 2, 2], [0, 9] * 3, most=4).tolist()
    [0, 1, 4, 5]
    >>> sample_chains([7, 7, 7], [9.0, 0.0, 5.0], most=2).tolist()
    [1, 2]
    """
    chain = np.asarray(group)
    every = max(-(-len(chain) // most), 1)
    order = np.lexsort((np.asarray(position_m), chain, chain % every))
    taken: NDArray[np.intp] = np.sort(order[:most])
    return taken


def _fit_grid(  # noqa: PLR0913 - the process and its observations, all by keyword
    group: ArrayLike,
    position_m: ArrayLike,
    value: ArrayLike,
    sigmas: Array,
    *,
    length_scale_m: float,
    amplitude: float,
    mean: float,
    mean_sigma: float,
) -> tuple[Array, Array, Array]:
    """Return log density and prior (k, tries) for k noises, and the ratios of scales tried."""
    ratios = np.array([(0.25, 0.5, 1, 2, 4), (0.25, 0.5, 1, 1.75, 3)])
    scales, sizes = (g.ravel() for g in np.meshgrid(ratios[0], ratios[1]))
    names, ranks = np.unique(np.asarray(group), return_inverse=True)
    lines = len(names)
    (cases, n), count = sigmas.shape, len(scales)
    tries = cases * count
    smoothed = smooth_chains(
        np.tile(ranks, tries) + np.repeat(np.arange(tries) * lines, n),
        np.tile(np.asarray(position_m, dtype=float), tries),
        np.tile(np.asarray(value, dtype=float), tries),
        np.repeat(sigmas, count, axis=0).ravel(),
        length_scale_m=np.repeat(np.tile(scales * length_scale_m, cases), n),
        amplitude=np.repeat(np.tile(sizes * amplitude, cases), n),
        mean=mean,
        mean_sigma=mean_sigma,
    )
    fit = smoothed.log_likelihood.reshape(cases, count, lines).sum(axis=2)
    return fit - (np.log2(scales) ** 2 + np.log2(sizes) ** 2) / 2, scales, sizes


def average_smoothed(cases: Sequence[Smoothed], weight: ArrayLike) -> Smoothed:
    """Return what is known at each node when one of several cases holds.

    Parameters
    ----------
    cases : sequence of Smoothed
        At least one, of the same nodes.
    weight : array-like
        Probability of each; they sum to 1.

    Returns
    -------
    Smoothed
        The mean over the cases; the variance is the mean of theirs and the spread of their
        values. Residuals and likelihood are those of the first.

    Examples
    --------
    >>> one, two = (smooth_chains([0], [0.0], [np.nan], [1.0], length_scale_m=15.0, amplitude=0.03,
    ...                           mean=mean, mean_sigma=0.04) for mean in (0.2, 0.4))
    >>> both = average_smoothed([one, two], [0.5, 0.5])
    >>> both.mean.round(3).tolist(), both.sigma.round(3).tolist()
    ([0.3], [0.112])
    """
    if len(cases) == 1:
        return cases[0]
    share = np.asarray(weight, dtype=float)

    def average(values: list[Array]) -> Array:
        mean: Array = np.tensordot(share, np.stack(values), 1)
        return mean

    mean = average([case.mean for case in cases])
    variance = average([case.sigma**2 + (case.mean - mean) ** 2 for case in cases])
    shared = average([case.shared_sigma**2 for case in cases])
    return replace(cases[0], mean=mean, sigma=np.sqrt(variance), shared_sigma=np.sqrt(shared))


class _Chain:
    """The posterior precision of all nodes, factorised from the top and from the bottom."""

    def __init__(
        self, line: NDArray[np.intp], position: Array, scale: Array, size: Array, weight: Array
    ) -> None:
        from scipy.linalg.lapack import dpttrf

        n = len(position)
        step = np.maximum(np.diff(position), _LEAST_STEP_M) / scale[1:]
        joined = line[1:] == line[:-1]
        likeness = np.where(joined, np.exp(-step), 0.0)
        innovation = np.where(joined, -np.expm1(-2 * step), 1.0)
        prior = size**-2
        diagonal = prior.copy()
        pull = likeness**2 / innovation
        diagonal[:-1] += prior[:-1] * pull
        diagonal[1:] += prior[1:] * pull
        diagonal += weight
        across = -prior[1:] * likeness / innovation
        # two nodes of their own at the end: LAPACK wants two at least
        diagonal, across = np.append(diagonal, (1.0, 1.0)), np.append(across, (0.0, 0.0))[: n + 1]
        self._pivots, self._factors, _ = dpttrf(diagonal, across)
        upward, _, _ = dpttrf(diagonal[::-1].copy(), across[::-1].copy())
        self.variance: Array = (1 / (self._pivots + upward[::-1] - diagonal))[:n]
        # log of the posterior's pivots over the prior's
        self.log_ratio: Array = np.log(self._pivots[:n] * size**2)
        self.log_ratio[1:] += np.log(innovation)

    def solve(self, right: Array) -> Array:
        """Return the posterior covariance times the columns given."""
        from scipy.linalg.lapack import dpttrs

        padded = np.concatenate((right, np.zeros((2, right.shape[1]))))
        solution: Array = dpttrs(self._pivots, self._factors, padded)[0][: len(right)]
        return solution
