"""One run's tone to the faults it shows."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from wiremap.formulas.leaks import free_gaps
from wiremap.formulas.tone_evidence import Priors
from wiremap.formulas.tone_models import Verdict, judge_levels
from wiremap.model.kinds import FaultKind

if TYPE_CHECKING:
    from wiremap.formulas.leaks import Leak
    from wiremap.steps.faults.levels import RunTone

_NAN = float("nan")
_FEWEST_LEVELS = 4
_UNDECIDED_LOSS = 0.4
_BREAK_LOSS = 0.93
_TAPER_PRIORS = {"silent": 0.5, "loose": 0.2, "joined": 0.02}
_BELIEVED = 0.75
_LIKELIER = 0.5
_FEW_LEVELS_CONFIDENCE = 0.6
_NO_LEVELS_CONFIDENCE = 0.5
_UNLIKELY = 0.05
_WANDER_M = 0.2
_WANDER_SHARE = 0.005


@dataclass(frozen=True)
class Found:
    """One computed fault.

    Attributes
    ----------
    run, kind
        Where and what.
    chainage_m, low_m, high_m : float
        Chainage along the run and its 95 % interval.
    confidence : float
        Probability that it is of this kind.
    levels : int
        How many levels it rests on.
    heard_m : float
        Chainage where the tone was last heard.
    visit : str
        Day of the last level; empty where not said.
    loss, loss_low, loss_high : float
        Share of the current that leaves, with its 95 % interval; NaN at an open end.
    """

    run: str
    kind: FaultKind
    chainage_m: float
    low_m: float
    high_m: float
    confidence: float
    levels: int
    heard_m: float
    visit: str
    loss: float = _NAN
    loss_low: float = _NAN
    loss_high: float = _NAN


class Judged(NamedTuple):
    """What one run shows.

    Attributes
    ----------
    found : list of Found
        Computed faults in order from the transmitter.
    verdict : Verdict or None
        None where the run has too few levels to judge.
    undecided : str
        Why the run cannot be judged, in words; empty where it can.
    heard : tuple of float
        First and last chainage of the levels in the run's own direction; NaN where there is none.
    """

    found: list[Found]
    verdict: Verdict | None
    undecided: str
    heard: tuple[float, float]


def judge_run(tone: RunTone) -> Judged:
    """Return the faults that one run's tone shows.

    Parameters
    ----------
    tone : RunTone

    Returns
    -------
    Judged
    """
    count = len(tone.levels.chainage_m)
    silent = not np.isnan(tone.silent_m)
    if count < _FEWEST_LEVELS:
        found = [_break(tone, _few_confidence(count))] if silent else []
        why = f"only {count} levels can be compared, at least {_FEWEST_LEVELS} are needed"
        return Judged(found, None, "" if count == 0 or silent else why, _heard(tone))
    priors = Priors(taper=_TAPER_PRIORS[tone.ending])
    verdict = judge_levels(tone.levels, priors=priors, silent_m=tone.silent_m)
    found = [_leak(tone, leak) for leak in verdict.leaks]
    believed = _LIKELIER if silent else _BELIEVED
    if verdict.taper_probability > believed:
        found = [_open_end(tone, verdict)]
    elif silent:
        found.append(_break(tone, 0.99 * (1.0 - verdict.taper_probability)))
    why = ""
    if not found and verdict.taper_probability > _LIKELIER:
        why = (
            "the level fades toward the end, too little to tell an open end from decay"
            f" (probability {verdict.taper_probability:.0%})"
        )
    elif not found and _free_drop(tone, verdict):
        why = _free_drop(tone, verdict)
    elif not found and verdict.smallest_loss > _UNDECIDED_LOSS:
        why = f"a leak must lose {verdict.smallest_loss:.0%} of the current to be told from noise"
    return Judged(found, verdict, why, _heard(tone))


def _free_drop(tone: RunTone, verdict: Verdict) -> str:
    """Return in words where more than half the current leaves at what is no fault by itself."""
    drops = np.diff(verdict.model)
    gaps = [gap for gap in free_gaps(tone.levels) if drops[gap] < np.log(0.5)]
    if not gaps:
        return ""
    place = tone.along(float(tone.levels.chainage_m[gaps[0] : gaps[0] + 2].mean()))
    return (
        f"the level drops by {-np.expm1(drops[gaps[0]]):.0%} near {place:.1f} m,"
        " where a branch joins or the gain or the day changes; that is more than an even division"
        " explains, and a leak there cannot be told from it"
    )


def _heard(tone: RunTone) -> tuple[float, float]:
    x = tone.levels.chainage_m
    if not len(x):
        return (_NAN, _NAN)
    first, last = sorted((tone.along(float(x[0])), tone.along(float(x[-1]))))
    return first, last


def _few_confidence(count: int) -> float:
    return _FEW_LEVELS_CONFIDENCE if count else _NO_LEVELS_CONFIDENCE


def _found(
    tone: RunTone,
    kind: FaultKind,
    place_m: tuple[float, float, float],
    confidence: float,
    loss: tuple[float, float, float] = (_NAN, _NAN, _NAN),
) -> Found:
    """Return a fault in the run's own direction, its interval widened by the chainage's error."""
    low, middle, high = sorted(tone.along(each) for each in place_m)
    error = chainage_sigma(middle, tone.sigma_m)
    return Found(
        run=tone.run,
        kind=kind,
        chainage_m=middle,
        low_m=max(middle - float(np.hypot(middle - low, 1.96 * error)), 0.0),
        high_m=middle + float(np.hypot(high - middle, 1.96 * error)),
        confidence=confidence,
        levels=len(tone.levels.chainage_m),
        heard_m=tone.along(_last_heard(tone)),
        visit=tone.visit,
        loss=loss[0],
        loss_low=loss[1],
        loss_high=loss[2],
    )


def chainage_sigma(chainage_m: float, position_sigma_m: float) -> float:
    """Return the standard deviation of a chainage as a distance along the wire.

    Parameters
    ----------
    chainage_m : float
        Along the chords between marks, which are shorter than wire that bends and wanders.
    position_sigma_m : float
        Of a point on the run.

    Returns
    -------
    float
        Metres: the position, 0.2 m, and half a per cent of the chainage (project choices).
    """
    return float(np.sqrt(position_sigma_m**2 + _WANDER_M**2 + (_WANDER_SHARE * chainage_m) ** 2))


def _last_heard(tone: RunTone) -> float:
    """Return where the wire was last heard: a mark over the null is a mark of tone."""
    x = tone.levels.chainage_m
    last = float(x[-1]) if len(x) else _NAN
    return float(np.fmax(last, tone.previous_m))


def _break(tone: RunTone, confidence: float) -> Found:
    """Return a break between the last heard and the first silent point.

    The interval reaches to the silent one, where the tone may have been seen to go.
    """
    heard = _last_heard(tone)
    if np.isnan(heard):
        heard = tone.silent_m
    gap = tone.silent_m - heard
    place = (heard + _UNLIKELY * gap, heard + gap / 2.0, tone.silent_m)
    return _found(tone, FaultKind.BREAK, place, confidence, (1.0, 1.0, 1.0))


def _leak(tone: RunTone, leak: Leak) -> Found:
    kind = FaultKind.BREAK if leak.loss > _BREAK_LOSS else FaultKind.LEAK
    place = (leak.low_m, leak.middle_m, leak.high_m)
    loss = (leak.loss, leak.loss_low, leak.loss_high)
    return _found(tone, kind, place, leak.probability, loss)


def _open_end(tone: RunTone, verdict: Verdict) -> Found:
    place = (verdict.end_low_m, verdict.end_middle_m, verdict.end_high_m)
    return _found(tone, FaultKind.OPEN_END, place, verdict.taper_probability)
