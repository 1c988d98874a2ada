"""The levels of a run, how their errors hang together, and the evidence of a model for them."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from wiremap.formulas.tone import USUAL_DECAY_PER_M

if TYPE_CHECKING:
    import numpy.typing as npt

    Floats = npt.NDArray[np.float64]

_SUPPOSITIONS = (
    # depth error and length, times as stated; decay, sigma per metre and over the run; weight
    (0.15, 1.0, 0.001, 0.0, 1.0),
    (0.5, 1.0, 0.001, 0.0, 1.0),
    (1.0, 0.6, 0.001, 0.0, 1.0),
    (0.5, 1.0, 0.005, 0.2, 1.0),
)

_NOTHING = np.empty(0)

NOISE_WEIGHT = 10.0
"""How many levels the stated noise weighs as. Project choice."""

NEVER = -1e9
"""Log odds of what cannot be."""


class Levels(NamedTuple):
    """The heard levels of one run, in order.

    Attributes
    ----------
    chainage_m : ndarray
        ``(n,)`` increasing.
    log_current : ndarray
        ``(n,)`` log of level times depth.
    noise : ndarray
        ``(n,)`` relative noise of each level, one standard deviation.
    depth_noise : ndarray
        ``(n,)`` relative standard deviation of each depth, alike between neighbours.
    depth_length_m : float
        Length over which the depth's error stays alike.
    free_steps : ndarray
        ``(n, q)`` columns of what may change the level without a fault: gains, branches.
    read_shift : ndarray
        ``(n,)`` log of the depth read at the level over the depth that `log_current` rests on;
        NaN where none was read.
    read_noise : ndarray
        ``(n,)`` relative standard deviation of the depth read, what all readings share left out.
    decay_per_m : float
        Decay of log current that is usual on the property.
    fewest_behind : int
        How many levels must stand behind a step: two where the wire's own end may lower the last.
    """

    chainage_m: Floats
    log_current: Floats
    noise: Floats
    depth_noise: Floats
    depth_length_m: float
    free_steps: Floats
    read_shift: Floats = _NOTHING
    read_noise: Floats = _NOTHING
    decay_per_m: float = USUAL_DECAY_PER_M
    fewest_behind: int = 1


class Priors(NamedTuple):
    """How likely each thing is before the levels are seen. Project choices.

    Attributes
    ----------
    leak, rise, taper : float
        One more step down, one more step up, a taper to an open end.
    accept : float
        Probability from which a step is believed.
    """

    leak: float = 1.0
    rise: float = 0.02
    taper: float = 0.02
    accept: float = 0.5


def level_covariance(levels: Levels) -> Floats:
    """Return how the errors of the levels hang together.

    Parameters
    ----------
    levels : Levels
        ``n`` levels.

    Returns
    -------
    ndarray
        ``(4, n, n)``, four suppositions: the depth known far better than stated, twice as well,
        as stated but alike over little more than half the length, and twice as well with a
        decay that is far from the usual. Each also holds the noise of the levels and a decay of
        0.001 per metre either way of the usual, the last 0.005 or 0.2 over the whole run
        (project choices).

    References
    ----------
    Matern covariance of smoothness 5/2: Rasmussen and Williams (2006), Gaussian Processes for
    Machine Learning, section 4.2 (from memory).

    Examples
    --------
    >>> one = Levels(np.zeros(1), np.zeros(1), np.ones(1), np.zeros(1), 15.0, np.empty((1, 0)))
    >>> level_covariance(one).ravel().tolist()
    [1.0, 1.0, 1.0, 1.0]
    """
    x = levels.chainage_m
    distance = np.sqrt(5.0) * np.abs(x[:, None] - x[None, :]) / levels.depth_length_m
    depth = levels.depth_noise[:, None] * levels.depth_noise[None, :]
    along = x - x.mean()
    noise, slope = np.diag(levels.noise**2), along[:, None] * along[None, :]
    members = []
    span = max(float(np.ptp(x)), 1.0)
    for share, stretch, decay_sigma, decay_share, _ in _SUPPOSITIONS:
        far = distance / stretch
        decay = max(decay_sigma, decay_share / span)
        alike = (1.0 + far + far**2 / 3.0) * np.exp(-far)
        members.append(noise + decay**2 * slope + share**2 * depth * alike)
    return np.stack(members)


SUPPOSITION_PENALTIES: Floats = np.array([-2.0 * np.log(each[-1]) for each in _SUPPOSITIONS])
"""What the weight of each supposition adds to the penalty of its projector."""


def degrees_of_freedom(levels: Levels) -> int:
    """Return how many levels are left over when the mean and the free steps are fitted.

    Parameters
    ----------
    levels : Levels

    Returns
    -------
    int
        At least 1.
    """
    return max(len(levels.chainage_m) - 1 - int(levels.free_steps.shape[1]), 1)


def log_evidence(residual: Floats, penalty: Floats, degrees: int) -> Floats:
    """Return the log evidence of a model with the scale of the noise integrated out.

    Parameters
    ----------
    residual : ndarray
        Weighted sum of squares that the model leaves.
    penalty : ndarray
        Log determinants, as `wiremap.formulas.changepoints.Projector` has them.
    degrees : int
        Degrees of freedom.

    Returns
    -------
    ndarray
        Up to a constant that all models share.

    References
    ----------
    Normal likelihood with a conjugate prior on its variance: Gelman et al. (2013), Bayesian Data
    Analysis, section 14.8 (from memory).

    Examples
    --------
    >>> float(log_evidence(np.array(0.0), np.array(2.0), 0) + 5.0 * np.log(10.0))
    -1.0
    """
    total = NOISE_WEIGHT + degrees
    return -0.5 * penalty - 0.5 * total * np.log(NOISE_WEIGHT + residual)


def sum_logs(values: Floats, *, axis: int = 0) -> Floats:
    """Return the log of a sum of exponentials.

    Parameters
    ----------
    values : ndarray
        Finite logarithms.
    axis : int
        Axis to sum over.

    Returns
    -------
    ndarray
        One axis fewer.

    Examples
    --------
    >>> float(sum_logs(np.log([1.0, 2.0])).round(9) - np.log(3.0).round(9))
    0.0
    """
    top = values.max(axis=axis, keepdims=True)
    summed: Floats = np.log(np.exp(values - top).sum(axis=axis)) + np.squeeze(top, axis)
    return summed
