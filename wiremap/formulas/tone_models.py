"""What the levels along one run say: sound, one or more leaks, or a taper to an open end.

Each model's evidence is its likelihood with the free parameters integrated out (the penalty that
Schwarz's criterion approximates), the noise taken from the run itself.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from wiremap.formulas.changepoints import Projector, absorb, projector
from wiremap.formulas.leaks import Leak, find_steps, measure_leaks, smallest_loss, step_column
from wiremap.formulas.tapers import Tapers, taper_candidates, taper_end, weigh_tapers
from wiremap.formulas.tone_evidence import (
    SUPPOSITION_PENALTIES,
    Levels,
    Priors,
    level_covariance,
)

if TYPE_CHECKING:
    import numpy.typing as npt

    Floats = npt.NDArray[np.float64]

_MANY_LEVELS = 80
_CLEARLY_SOUND = -0.5
_ENDS = (8, 48)
_CLEARLY_NO_TAPER = -6.0
_LIKELIER = 0.5
_PRIORS = Priors()


class Verdict(NamedTuple):
    """What the levels of a run say.

    Attributes
    ----------
    leaks : tuple of Leak
        In order along the run; empty where none is believed.
    taper_probability : float
        Probability that the current tapers to an open end.
    end_low_m, end_middle_m, end_high_m : float
        Where the taper reaches zero, 95 % interval; NaN where none is likelier than not.
    smallest_loss : float
        Share of the current that a leak in the middle must lose to be found.
    model : ndarray
        ``(n,)`` fitted log current at the levels.
    sigma : float
        Noise of the fit relative to what was assumed.
    """

    leaks: tuple[Leak, ...]
    taper_probability: float
    end_low_m: float
    end_middle_m: float
    end_high_m: float
    smallest_loss: float
    model: Floats
    sigma: float


def judge_levels(
    levels: Levels,
    *,
    priors: Priors = _PRIORS,
    silent_m: float = float("nan"),
) -> Verdict:
    """Return what the levels of one run say.

    Parameters
    ----------
    levels : Levels
        Three or more levels, without those that stand alone.
    priors : Priors
        Probabilities before the levels are seen.
    silent_m : float
        Chainage of the first silent point beyond the last level; NaN where there is none.

    Returns
    -------
    Verdict

    References
    ----------
    Evidence with a conjugate prior on the noise: any text on Bayesian regression. Schwarz (1978),
    Annals of Statistics 6(2), is its large-sample limit.

    Examples
    --------
    >>> x = np.arange(0.0, 100, 5)
    >>> y = np.where(x > 52, np.log(0.6), 0.0) + 0.02 * np.sin(37 * x)
    >>> noise = np.full(20, 0.03)
    >>> verdict = judge_levels(Levels(x, y, noise, noise, 15.0, np.empty((20, 0))))
    >>> [(round(leak.middle_m, 1), round(leak.loss, 1)) for leak in verdict.leaks]
    [(52.5, 0.4)]
    """
    count = len(levels.chainage_m)
    if count > _MANY_LEVELS:
        coarse = _thin(levels, -(-count // (_MANY_LEVELS // 2)))
        view = _view(coarse, priors, silent_m)
        if max(view.odds_leak, view.odds_taper) < _CLEARLY_SOUND and not view.places:
            return _conclude(levels, view, priors)
    return _conclude(levels, _view(levels, priors, silent_m), priors)


class _View(NamedTuple):
    """The evidence of each model on one set of levels."""

    levels: Levels
    start: Projector
    places: list[int]
    odds_leak: float
    tapers: Tapers
    weights: Floats
    odds_taper: float


def _view(levels: Levels, priors: Priors, silent_m: float) -> _View:
    along = levels.chainage_m - levels.chainage_m[0]
    decayed = levels.log_current + levels.decay_per_m * along
    levels = levels._replace(log_current=decayed)
    start = absorb(projector(level_covariance(levels)), levels.free_steps)
    start = start._replace(penalty=start.penalty + SUPPOSITION_PENALTIES)
    places, odds_leak = find_steps(levels, start, priors)
    for ends in _ENDS:
        tapers = taper_candidates(levels.chainage_m, silent_m=silent_m, ends=ends)
        log_taper, weights = weigh_tapers(levels, tapers, start)
        odds_taper = log_taper + float(np.log(priors.taper))
        if odds_taper < _CLEARLY_NO_TAPER:
            break
    return _View(levels, start, places, odds_leak, tapers, weights, odds_taper)


def _conclude(levels: Levels, view: _View, priors: Priors) -> Verdict:
    """Return the verdict from the evidence, the model fitted to all levels."""
    others = np.logaddexp(0.0, view.odds_leak)
    share = float(np.exp(view.odds_taper - np.logaddexp(others, view.odds_taper)))
    tapers = share > _LIKELIER
    leaks: tuple[Leak, ...] = ()
    if view.places and not tapers:
        leaks = measure_leaks(view.levels, view.start, view.places, 1.0 - share, priors)
    shape = view.tapers.log_shape[:, view.weights.argmax()] if tapers else None
    model, sigma = _fit(levels, [] if tapers else view.places, shape)
    end = taper_end(view.tapers, view.weights if tapers else np.empty(0))
    least = smallest_loss(view.levels, view.start, view.places)
    return Verdict(leaks, share, *end, least, model, sigma)


def _thin(levels: Levels, size: int) -> Levels:
    """Return means over groups of neighbours, for a first look at a long run."""
    firsts = np.arange(0, len(levels.chainage_m), size)
    counts = np.diff(np.append(firsts, len(levels.chainage_m)))

    def mean(values: Floats) -> Floats:
        summed: Floats = np.add.reduceat(values, firsts, axis=0)
        return summed / counts.reshape((-1,) + (1,) * (values.ndim - 1))

    return Levels(
        mean(levels.chainage_m), mean(levels.log_current),
        np.sqrt(mean(levels.noise**2) / counts), mean(levels.depth_noise),
        levels.depth_length_m, mean(levels.free_steps), decay_per_m=levels.decay_per_m,
        fewest_behind=levels.fewest_behind,
    )  # fmt: skip


def _fit(levels: Levels, places: list[int], shape: Floats | None) -> tuple[Floats, float]:
    """Return fitted log current and residual scale, for drawing."""
    x, y = levels.chainage_m, levels.log_current
    offset = np.zeros(len(x)) if shape is None else shape
    columns = [np.ones(len(x)), *levels.free_steps.T]
    if shape is None:
        columns += [x - x.mean()] + [step_column(len(x), gap) for gap in sorted(places)]
    design = np.column_stack(columns) / levels.noise[:, None]
    coefficients, *_ = np.linalg.lstsq(design, (y - offset) / levels.noise, rcond=None)
    model: Floats = offset + np.column_stack(columns) @ coefficients
    degrees = max(len(x) - len(columns), 1)
    return model, float(np.sqrt((((y - model) / levels.noise) ** 2).sum() / degrees))
