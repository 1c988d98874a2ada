"""Current that tapers to nothing at an open end: shapes, their fit, and where they reach zero."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from wiremap.formulas.changepoints import interval_of_gaps
from wiremap.formulas.tone_evidence import Levels, degrees_of_freedom, log_evidence, sum_logs

if TYPE_CHECKING:
    import numpy.typing as npt

    from wiremap.formulas.changepoints import Projector

    Floats = npt.NDArray[np.float64]

_STARTS = (0.0, 0.2, 0.4, 0.6, 0.75)
_BENDS = (1.0, 2.0, 4.0)
_KNEES = (0.15, 0.3, 0.6)
_BEYOND_M = 15.0
_DEEPEST = 0.45
_FAINTEST = 1e-3


class Tapers(NamedTuple):
    """Candidate tapers of one run.

    Attributes
    ----------
    end_m : ndarray
        ``(m,)`` chainage where each reaches zero.
    log_shape : ndarray
        ``(n, m)`` log of the current along the run, 0 at its start.
    log_prior : ndarray
        ``(m,)`` log probability before the levels are seen.
    """

    end_m: Floats
    log_shape: Floats
    log_prior: Floats


def taper_candidates(
    chainage_m: Floats, *, silent_m: float = float("nan"), ends: int = 48
) -> Tapers:
    """Return tapers that a run may show, over where they end and how they bend.

    Parameters
    ----------
    chainage_m : ndarray
        ``(n,)`` increasing chainages of the levels in metres, two or more.
    silent_m : float
        Where the tone could no longer be heard; NaN where it was heard to the last. A taper that
        would still be well above the faintest audible level there is the less likely.
    ends : int
        How many places to try for the end.

    Returns
    -------
    Tapers
        Three families: a constant current that falls in a straight line to zero (leakage spread
        evenly over the far part); sinh(b (E - x)), the open line with leakage all along;
        1 - exp(-(E - x)/c), a fall that comes late. Ends lie from half a metre beyond the last
        level to one and a half run lengths, the nearer the likelier (mean 15 m: project choice).

    References
    ----------
    Current of an open-ended line with series impedance and leakage: sinh of the distance to the
    end, any text on transmission lines. The two others are its limits for weak leakage.

    Examples
    --------
    >>> tapers = taper_candidates(np.array([0.0, 10, 20, 30, 40]))
    >>> bool((tapers.end_m > 40).all()), tapers.log_shape.shape[0]
    (True, 5)
    """
    first, last = float(chainage_m[0]), float(chainage_m[-1])
    span = max(last - first, 1.0)
    beyond = np.geomspace(0.4, max(1.5 * span, 20.0), ends + 1)
    end_m = last + np.sqrt(beyond[1:] * beyond[:-1])
    prior = np.exp(-beyond[:-1] / _BEYOND_M) - np.exp(-beyond[1:] / _BEYOND_M)
    places = np.append(chainage_m, silent_m if silent_m > last else np.inf)
    log_shape = _log_shapes(np.minimum(places, 1e6), end_m, first, span)
    shapes = log_shape.shape[1] // ends
    weight = np.tile(np.log(prior / prior.sum()), shapes)
    weight += np.log(_inaudible(log_shape[-2], log_shape[-1]))
    deep = log_shape[-2] - log_shape[0] < np.log(_DEEPEST)
    log_prior = weight[deep] - np.log(shapes)
    return Tapers(np.tile(end_m, shapes)[deep], log_shape[:-1, deep], log_prior)


def _log_shapes(places: Floats, ends: Floats, first: float, span: float) -> Floats:
    """Return log current at the places, one column a shape and end, 0 at the first place."""
    left = np.maximum(ends[None, :] - places[:, None], 1e-6)
    # a run shorter than the least span may end before such a fall would start
    falls = [np.maximum(ends - first - s * span, 1e-6) for s in _STARTS]
    shapes = [np.minimum(1.0, left / fall) for fall in falls]
    shapes += [_sinh(b / span * left) for b in _BENDS]
    shapes += [1.0 - np.exp(-left / (k * span)) for k in _KNEES]
    log_shape = np.log(np.concatenate(shapes, axis=1))
    relative: Floats = log_shape - log_shape[0]
    return relative


def _inaudible(log_heard: Floats, log_there: Floats) -> Floats:
    """Return the probability that a level cannot be heard, the last heard one being audible.

    The faintest audible level is anywhere between a thousandth of the first level and the last
    heard one, evenly on a log scale.
    """
    room = np.maximum(log_heard - np.log(_FAINTEST), 1e-3)
    share: Floats = np.clip((log_heard - log_there) / room, 1e-3, 1.0)
    return share


def _sinh(argument: Floats) -> Floats:
    """Return sinh scaled so that it neither overflows nor loses its small values."""
    top = argument.max(axis=0)
    scaled: Floats = np.exp(argument - top) * -np.expm1(-2.0 * argument)
    return scaled


def taper_residuals(values: Floats, tapers: Tapers, at: Projector) -> Floats:
    """Return the weighted sum of squares that each taper leaves.

    Parameters
    ----------
    values : ndarray
        ``(n,)`` log current.
    tapers : Tapers
        Candidates over the same chainages.
    at : Projector
        ``(..., n, n)`` inverse covariance, free parameters projected out.

    Returns
    -------
    ndarray
        ``(..., m)``, not negative.

    Examples
    --------
    >>> from wiremap.formulas.changepoints import projector
    >>> tapers = taper_candidates(np.arange(0.0, 50, 10))
    >>> left = taper_residuals(tapers.log_shape[:, 7], tapers, projector(np.eye(5)))
    >>> int(left.argmin())
    7
    """
    difference = values[:, None] - tapers.log_shape
    left: Floats = (difference * (at.matrix @ difference)).sum(axis=-2)
    return np.maximum(left, 0.0)


def weigh_tapers(levels: Levels, tapers: Tapers, at: Projector) -> tuple[float, Floats]:
    """Return how much likelier a taper is than none, and which.

    Parameters
    ----------
    levels : Levels
    tapers : Tapers
        Candidates over the same chainages.
    at : Projector
        Inverse covariance of the levels, free steps projected out.

    Returns
    -------
    float
        Log evidence over no taper; minus infinity without candidates.
    ndarray
        Probability of each candidate, given that there is a taper.

    Examples
    --------
    >>> from wiremap.formulas.changepoints import projector
    >>> x, noise = np.arange(0.0, 50, 5), np.full(10, 0.03)
    >>> levels = Levels(x, np.log(1 - x / 50), noise, noise, 15.0, np.empty((10, 0)))
    >>> weigh_tapers(levels, taper_candidates(x), projector(np.diag(noise**2)[None]))[0] > 10
    True
    """
    degrees = degrees_of_freedom(levels)
    if not len(tapers.end_m):
        return -np.inf, np.empty(0)
    left = taper_residuals(levels.log_current, tapers, at)
    logs = log_evidence(left, at.penalty[:, None], degrees) + tapers.log_prior
    base = np.maximum((at.matrix @ levels.log_current) @ levels.log_current, 0.0)
    each = sum_logs(logs)
    total = float(sum_logs(each))
    none = float(sum_logs(log_evidence(base, at.penalty, degrees)))
    return total - none, np.exp(each - total)


def taper_end(tapers: Tapers, weights: Floats) -> tuple[float, float, float]:
    """Return where the current reaches zero.

    Parameters
    ----------
    tapers : Tapers
    weights : ndarray
        Probability of each.

    Returns
    -------
    low_m, middle_m, high_m : float
        2.5, 50 and 97.5 % points of the chainage; NaN without candidates.

    Examples
    --------
    >>> taper_end(taper_candidates(np.arange(2.0)), np.empty(0))
    (nan, nan, nan)
    """
    if not len(weights):
        return float("nan"), float("nan"), float("nan")
    ends = np.unique(tapers.end_m)
    place = np.searchsorted(ends, tapers.end_m)
    mass: Floats = np.bincount(place, weights, len(ends)).astype(np.float64)
    edges = np.sqrt(ends[1:] * ends[:-1])
    edges = np.concatenate([[2 * ends[0] - edges[0]], edges, [2 * ends[-1] - edges[-1]]])
    low, middle, high = interval_of_gaps(edges, mass)
    return float(low), float(middle), float(high)
