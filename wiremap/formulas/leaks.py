"""Leaks: steps down in the log current, found, measured, and the smallest that could be found."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from wiremap.formulas.changepoints import (
    Projector,
    Steps,
    absorb,
    interval_of_gaps,
    scan_pairs,
    scan_steps,
)
from wiremap.formulas.tone_depths import leak_share
from wiremap.formulas.tone_evidence import (
    NEVER,
    NOISE_WEIGHT,
    Levels,
    Priors,
    degrees_of_freedom,
    log_evidence,
    sum_logs,
)

if TYPE_CHECKING:
    import numpy.typing as npt

    Floats = npt.NDArray[np.float64]

_MOST_STEPS = 5
_APART = 2
_LONE_LEVEL_SHARE = 0.5
_SIGMAS_TO_FIND = 7.5
_HOPELESS = -2.0


class Leak(NamedTuple):
    """One step down.

    Attributes
    ----------
    low_m, middle_m, high_m : float
        2.5, 50 and 97.5 % points of its chainage, the gap between levels included.
    loss, loss_low, loss_high : float
        Share of the current that leaves, and its 95 % interval.
    probability : float
        Probability that there is such a step.
    """

    low_m: float
    middle_m: float
    high_m: float
    loss: float
    loss_low: float
    loss_high: float
    probability: float


def _weigh_gaps(
    levels: Levels, at: Projector, steps: Steps, sign: float, taken: list[int]
) -> tuple[Floats, Floats, Floats]:
    """Return log evidence of a step of one sign at each gap over none, with its size and sigma."""
    from scipy.special import log_ndtr

    degrees = degrees_of_freedom(levels)
    variance = (NOISE_WEIGHT + steps.residual) / (NOISE_WEIGHT + degrees)
    known = steps.information > 0
    sigma = np.sqrt(variance / np.where(known, steps.information, 1.0))
    size = sign * steps.size
    gain = (
        log_evidence(steps.residual, at.penalty[:, None], degrees)
        + np.log(sigma * np.sqrt(2 * np.pi))
        - np.abs(size)
        + log_ndtr(size / sigma)
        + _log_places(levels.chainage_m)
    )
    gain[~known] = NEVER
    gain[:, _shut_gaps(levels, taken)] = NEVER
    none = sum_logs(log_evidence(steps.base, at.penalty, degrees))
    return gain - none, steps.size, sigma


def _shut_gaps(levels: Levels, taken: list[int]) -> npt.NDArray[np.bool_]:
    """Return the gaps too near an end or a step already found to hold another."""
    count = len(levels.chainage_m)
    gaps = np.arange(count - 1)
    shut = count - 1 - gaps < levels.fewest_behind
    for gap in taken:
        shut |= np.abs(gaps - gap) < _APART
    return shut


def _log_places(x: Floats) -> Floats:
    """Return the log prior of a step at each gap: the wire is as likely to leak at any metre.

    A step that a lone level at the end of the run shows may be that level's own error.
    """
    share = np.maximum(np.diff(x), 1e-3) / max(x[-1] - x[0], 1e-3)
    share[[0, -1]] *= _LONE_LEVEL_SHARE
    log_share: Floats = np.log(share)
    return log_share


def free_gaps(levels: Levels) -> list[int]:
    """Return the gaps at which the level may step once and for all without a fault.

    Parameters
    ----------
    levels : Levels

    Returns
    -------
    list of int
        Gap k lies between levels k and k + 1.

    Examples
    --------
    >>> x, once = np.arange(3.0), np.array([[0.0], [1.0], [1.0]])
    >>> free_gaps(Levels(x, x, x, x, 15.0, once))
    [0]
    """
    rises = np.diff(levels.free_steps, axis=0)
    once = (rises >= 0).all(axis=0) & (rises.sum(axis=0) == 1)
    return [int(gap) for gap in rises[:, once].argmax(axis=0)] if once.any() else []


def find_steps(levels: Levels, start: Projector, priors: Priors) -> tuple[list[int], float]:
    """Return the steps that are believed, up or down.

    1. Steps are added one at a time while each is believed.
    2. Where the first falls short of it, two at once are tried: two alike can pass for a
       steeper decay. One that is hopeless is left at that: of 423 simulated runs none that was
       won by two had log odds of one below -0.5.

    Parameters
    ----------
    levels : Levels
    start : Projector
        Inverse covariance of the levels, free steps projected out.
    priors : Priors

    Returns
    -------
    list of int
        Gaps, in the order found; gap k lies between levels k and k + 1.
    float
        Log odds of one leak or more over none.

    Examples
    --------
    >>> from wiremap.formulas.changepoints import projector
    >>> x, noise = np.arange(20.0), np.full(20, 0.03)
    >>> values = np.where(x > 9, -0.5, 0.0) + 0.02 * np.sin(37 * x)
    >>> levels = Levels(x, values, noise, noise, 15.0, np.empty((20, 0)))
    >>> start = projector(np.diag(noise**2)[None])
    >>> find_steps(levels, start, Priors())[0]
    [9]
    """
    count = len(levels.chainage_m)
    if count <= levels.fewest_behind:
        return [], -np.inf
    limit = float(np.log(priors.accept / (1 - priors.accept)))
    taken: list[int] = []
    odds, gap = _best_step(levels, start, taken, priors)
    if _HOPELESS < odds < limit and count > 1 + _APART + levels.fewest_behind:
        both, pair = _best_pair(levels, start, priors)
        if both > max(limit, odds):
            odds, taken = both, list(pair)
            gain, gap = _best_step(levels, _absorb_steps(start, taken), taken, priors)
        else:
            gain = odds
    else:
        gain = odds
    while gain >= limit and len(taken) < _MOST_STEPS:
        odds += gain if taken else 0.0
        taken.append(gap)
        gain, gap = _best_step(levels, _absorb_steps(start, taken), taken, priors)
    return taken, odds


def _best_step(
    levels: Levels, at: Projector, taken: list[int], priors: Priors
) -> tuple[float, int]:
    """Return the log odds of one more step, up or down, and its likeliest gap."""
    steps = scan_steps(levels.log_current, at)
    down = sum_logs(_weigh_gaps(levels, at, steps, -1.0, taken)[0]) + np.log(priors.leak)
    up = sum_logs(_weigh_gaps(levels, at, steps, 1.0, taken)[0]) + np.log(priors.rise)
    falls, rises = float(sum_logs(down)), float(sum_logs(up))
    return max(falls, rises), int((down if falls >= rises else up).argmax())


def _best_pair(levels: Levels, at: Projector, priors: Priors) -> tuple[float, tuple[int, int]]:
    """Return the log odds of two steps down at once over none, and their likeliest gaps."""
    degrees = degrees_of_freedom(levels)
    pairs = scan_pairs(levels.log_current, at)
    first, second = np.triu_indices(len(levels.chainage_m) - 1, _APART)
    shut = _shut_gaps(levels, free_gaps(levels))
    open_ = ~(shut[first] | shut[second])
    first, second = first[open_], second[open_]
    if not len(first):
        return NEVER, (0, 0)
    residual, sizes = pairs.residual[:, first, second], pairs.sizes[:, :, first, second]
    scale = (NOISE_WEIGHT + residual) / (NOISE_WEIGHT + degrees)
    log_place = _log_places(levels.chainage_m)
    gain = (
        log_evidence(residual, at.penalty[:, None], degrees)
        + np.log(2 * np.pi * scale)
        - 0.5 * np.log(pairs.determinant[:, first, second])
        + np.where((sizes < 0).all(axis=1), -np.abs(sizes).sum(axis=1), NEVER)
        + log_place[first] + log_place[second] + np.log(2.0)
    )  # fmt: skip
    none = sum_logs(log_evidence(pairs.base, at.penalty, degrees))
    best = int(sum_logs(gain).argmax())
    odds = float(sum_logs(sum_logs(gain)) - none) + 2 * float(np.log(priors.leak))
    return odds, (int(first[best]), int(second[best]))


def _absorb_steps(at: Projector, gaps: list[int]) -> Projector:
    count = at.matrix.shape[-1]
    return absorb(at, np.array([step_column(count, gap) for gap in gaps]).reshape(-1, count).T)


def step_column(count: int, gap: int) -> Floats:
    """Return 0 up to a gap and 1 beyond it.

    Parameters
    ----------
    count : int
        Number of levels.
    gap : int
        The gap between levels ``gap`` and ``gap + 1``.

    Returns
    -------
    ndarray

    Examples
    --------
    >>> step_column(3, 0).tolist()
    [0.0, 1.0, 1.0]
    """
    return (np.arange(count) > gap).astype(np.float64)


def measure_leaks(
    levels: Levels, start: Projector, places: list[int], share: float, priors: Priors
) -> tuple[Leak, ...]:
    """Return the steps down that last, each measured with the others left free.

    Parameters
    ----------
    levels : Levels
    start : Projector
        Inverse covariance of the levels, free steps projected out.
    places : list of int
        Gaps of the steps, from `find_steps`.
    share : float
        Probability that the run does not taper to an open end instead.
    priors : Priors

    Returns
    -------
    tuple of Leak
        In order along the run. A step that another undoes is left out.

    Examples
    --------
    >>> from wiremap.formulas.changepoints import projector
    >>> x, noise = np.arange(20.0), np.full(20, 0.03)
    >>> values = np.where(x > 9, -0.5, 0.0) + 0.02 * np.sin(37 * x)
    >>> levels = Levels(x, values, noise, noise, 15.0, np.empty((20, 0)))
    >>> start = projector(np.diag(noise**2)[None])
    >>> leaks = measure_leaks(levels, start, [9], 1.0, Priors())
    >>> [(leak.middle_m, round(leak.loss, 2)) for leak in leaks]
    [(9.5, 0.39)]
    """
    leaks = []
    for gap in _lasting(levels, sorted(places)):
        others = [g for g in places if g != gap]
        at = _absorb_steps(start, others)
        steps = scan_steps(levels.log_current, at)
        logs, size, sigma = _weigh_gaps(levels, at, steps, -1.0, others)
        each = sum_logs(logs)
        log_odds = float(sum_logs(each)) + np.log(priors.leak)
        likely = np.exp(-np.logaddexp(0.0, -log_odds)) * leak_share(levels, gap, others)
        if likely > priors.accept:
            leaks.append(_measure(levels, logs, size, sigma, share * likely))
    return tuple(leaks)


def _lasting(levels: Levels, places: list[int]) -> list[int]:
    """Return the steps down that last: current that has left does not come back.

    A dip (a deeper stretch) or a bump (a second wire alongside) is a step that another undoes.
    """
    count = len(levels.chainage_m)
    columns = [np.ones(count), *levels.free_steps.T, *(step_column(count, gap) for gap in places)]
    design = np.column_stack(columns) / levels.noise[:, None]
    fitted, *_ = np.linalg.lstsq(design, levels.log_current / levels.noise, rcond=None)
    heights = np.concatenate([[0.0], np.cumsum(fitted[len(columns) - len(places) :])])
    drops = np.diff(heights)
    before, after = (
        np.minimum.accumulate(heights)[:-1],
        np.maximum.accumulate(heights[::-1])[-2::-1],
    )
    lasts = (drops < 0) & (before - after >= -0.5 * drops)
    return [gap for gap, keep in zip(places, lasts.tolist(), strict=True) if keep]


def _measure(levels: Levels, logs: Floats, size: Floats, sigma: Floats, probability: float) -> Leak:
    weights = np.exp(logs - logs.max())
    weights /= weights.sum()
    low, middle, high = interval_of_gaps(levels.chainage_m, weights.sum(axis=0))
    mean = float((weights * size).sum())
    spread = float(np.sqrt((weights * (sigma**2 + (size - mean) ** 2)).sum()))
    loss, loss_low, loss_high = -np.expm1([mean, mean + 1.96 * spread, mean - 1.96 * spread])
    return Leak(
        low_m=float(low),
        middle_m=float(middle),
        high_m=float(high),
        loss=float(np.clip(loss, 0.0, 1.0)),
        loss_low=float(np.clip(loss_low, 0.0, 1.0)),
        loss_high=float(np.clip(loss_high, 0.0, 1.0)),
        probability=float(probability),
    )


def smallest_loss(levels: Levels, at: Projector, fitted: list[int]) -> float:
    """Return the loss that is found with about 95 % power at the middling gap.

    Parameters
    ----------
    levels : Levels
    at : Projector
        Inverse covariance of the levels, free steps projected out.
    fitted : list of int
        Gaps of steps already found, which do not count as noise.

    Returns
    -------
    float
        Share of the current, up to 1 where the run is too short. It is a step of seven and a half
        of its own sigma (by simulation: the noise of a short run is not known well enough for
        less).

    Examples
    --------
    >>> from wiremap.formulas.changepoints import projector
    >>> x, noise = np.arange(20.0), np.full(20, 0.03)
    >>> values = np.where(x > 9, -0.5, 0.0) + 0.02 * np.sin(37 * x)
    >>> levels = Levels(x, values, noise, noise, 15.0, np.empty((20, 0)))
    >>> start = projector(np.diag(noise**2)[None])
    >>> round(smallest_loss(levels, start, [9]), 2)
    0.1
    """
    open_ = ~_shut_gaps(levels, [])
    if not open_.any():
        return 1.0
    at = _absorb_steps(at, fitted)
    steps = scan_steps(levels.log_current, at)
    degrees = degrees_of_freedom(levels)
    weights = log_evidence(steps.base, at.penalty, degrees)
    weights = np.exp(weights - sum_logs(weights))
    scale = (NOISE_WEIGHT + steps.base) / (NOISE_WEIGHT + degrees)
    information = np.median((weights / scale) @ steps.information[:, open_])
    return float(-np.expm1(-_SIGMAS_TO_FIND / np.sqrt(information))) if information > 0 else 1.0
