"""How the lean was held, from how depths and slopes scatter."""

from __future__ import annotations

import numpy as np
import pytest

from wiremap.formulas.gaussian_process import noise_evidence
from wiremap.formulas.lean_errors import LEVELS, LeanError, weigh_lean

STATED = LeanError(2.0, 0.5, 0.4)
NOTHING = np.zeros(len(LEVELS))


def sharp(level):
    """Evidence that all but settles a variance."""
    return -50.0 * np.abs(np.array(LEVELS) - level)


def parts(lean):
    """Variances of side, pair and property, in units of that stated."""
    whole = (lean.sigma_deg / STATED.sigma_deg) ** 2
    side, pair = 1 - lean.common_share, lean.common_share - lean.systematic_share
    return whole * np.array([side, pair, lean.systematic_share])


def test_without_readings_the_lean_stays_about_as_stated():
    """Nothing to weigh: two degrees, about half of the variance common."""
    lean = weigh_lean(NOTHING + NOTHING[:, None], NOTHING, stated=STATED)
    assert lean.sigma_deg == pytest.approx(2.0, abs=0.1)
    assert lean.common_share == pytest.approx(0.5, abs=0.1)
    assert lean.systematic_share == pytest.approx(0.4, abs=0.05)


@pytest.mark.parametrize(("side", "pair"), [(1.0, 0.0), (0.0, 1.0), (0.5, 0.5)])
def test_what_scatters_is_measured_and_the_rest_of_what_is_stated_may_be_shared(side, pair):
    """All of the variance stated seen to scatter leaves less to share than none of it."""
    told = parts(weigh_lean(sharp(side)[:, None] + sharp(pair), NOTHING, stated=STATED))
    quiet = parts(weigh_lean(sharp(0.0)[:, None] + sharp(0.0), NOTHING, stated=STATED))
    assert told[:2] == pytest.approx([side, pair], abs=0.02)
    assert told[2] < 0.6 * quiet[2]
    assert quiet[2] > 0.6


def test_more_scatter_than_stated_is_believed():
    """Sides that scatter with 3 degrees where 2 are stated."""
    lean = weigh_lean(NOTHING + NOTHING[:, None], sharp(2.25), stated=STATED)
    assert lean.sigma_deg > 3.0


def test_evidence_finds_the_noise_of_a_process():
    """Of four noises the one drawn with, for an Ornstein-Uhlenbeck process simulated exactly."""
    rng = np.random.default_rng(3)
    run, place = np.repeat(np.arange(20), 12), np.tile(np.arange(12) * 4.0, 20)
    keep = np.exp(-4.0 / 15.0)
    drift = rng.normal(0, 0.04, (20, 12))
    for i in range(1, 12):
        drift[:, i] = keep * drift[:, i - 1] + np.sqrt(1 - keep**2) * drift[:, i]
    value = 0.3 + drift.ravel() + rng.normal(0, 0.03, 240)
    sigmas = np.array([[0.01], [0.02], [0.03], [0.045]]) * np.ones(240)
    fit = noise_evidence(run, place, value, sigmas, length_scale_m=15.0, amplitude=0.05, mean=0.3,
                         mean_sigma=0.05)  # fmt: skip
    assert fit.argmax() == 2
