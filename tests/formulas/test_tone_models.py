"""What the levels along one run say, on levels without and with noise."""

from __future__ import annotations

import numpy as np
import pytest

from wiremap.formulas.changepoints import projector
from wiremap.formulas.leaks import smallest_loss
from wiremap.formulas.tone_evidence import Levels, level_covariance, sum_logs
from wiremap.formulas.tone_models import judge_levels


def levels_of(x, log_current, noise=0.03, free=None):
    """Return levels of one noise whose depths are well known."""
    count = len(x)
    sigma = np.full(count, noise)
    steps = np.empty((count, 0)) if free is None else free
    return Levels(x, log_current, sigma, np.full(count, 0.02), 15.0, steps)


def noisy(seed, count=30, spacing=5.0, noise=0.03):
    """Return chainages and noise of a sound run with a decay of a hundredth in ten metres."""
    rng = np.random.default_rng(seed)
    x = spacing * np.arange(count)
    return x, noise * rng.standard_normal(count) - 0.001 * x


def test_a_sound_run_shows_nothing():
    """Thirty sound levels: no leak, no taper."""
    x, y = noisy(1)
    verdict = judge_levels(levels_of(x, y))
    assert verdict.leaks == ()
    assert verdict.taper_probability < 0.05
    assert 0.05 < verdict.smallest_loss < 0.25


def test_a_leak_is_placed_in_its_gap_with_its_loss():
    """A loss of 0.4 between 70 and 75 m."""
    x, y = noisy(2)
    verdict = judge_levels(levels_of(x, y + np.where(x > 72, np.log(0.6), 0)))
    (leak,) = verdict.leaks
    assert 70 <= leak.low_m < leak.middle_m < leak.high_m <= 75
    assert leak.loss_low < 0.4 < leak.loss_high
    assert leak.probability > 0.99


def test_two_leaks_are_told_apart():
    """Losses of 0.3 at 42 m and 0.3 at 107 m, which together look like a steep decay."""
    x, y = noisy(3)
    y = y + np.log(0.7) * ((x > 42).astype(float) + (x > 107))
    verdict = judge_levels(levels_of(x, y))
    assert [round(leak.middle_m, -1) for leak in verdict.leaks] == [40, 110]


@pytest.mark.parametrize("height", [-0.5, 0.5], ids=["dip", "bump"])
def test_a_step_that_another_undoes_is_no_leak(height):
    """Deeper wire or a second wire alongside for forty metres: the level comes back."""
    x, y = noisy(4, count=40)
    verdict = judge_levels(levels_of(x, y + height * ((x > 62) & (x < 103))))
    assert verdict.leaks == ()


def test_a_step_at_a_known_branch_is_free():
    """The same drop is a leak where nothing stands and none where the current may divide."""
    x, y = noisy(5)
    y = y + np.where(x > 72, np.log(0.6), 0)
    branch = (x > 72).astype(float)[:, None]
    assert len(judge_levels(levels_of(x, y)).leaks) == 1
    assert judge_levels(levels_of(x, y, free=branch)).leaks == ()


def test_a_taper_is_an_open_end_beyond_the_last_level():
    """A straight fall to zero at 150 m, heard to 145 m."""
    x, y = noisy(6)
    verdict = judge_levels(levels_of(x, y + np.log((150 - x) / 150)))
    assert verdict.taper_probability > 0.99
    assert verdict.leaks == ()
    assert 145 < verdict.end_low_m < 150 < verdict.end_high_m
    assert verdict.end_middle_m == pytest.approx(150, abs=2)


@pytest.mark.parametrize("place", [None, 402.0])
def test_a_long_run_is_looked_at_in_groups_first(place):
    """Two hundred levels: a sound run stays sound, a leak is still placed in its own gap."""
    x, y = noisy(7, count=200)
    y = y if place is None else y + np.where(x > place, np.log(0.75), 0)
    verdict = judge_levels(levels_of(x, y))
    assert len(verdict.model) == 200
    assert [leak.low_m <= place <= leak.high_m for leak in verdict.leaks] == (
        [] if place is None else [True]
    )


def test_shorter_and_noisier_runs_hide_larger_leaks():
    """The smallest loss that could be found grows with noise and falls with the levels."""

    def least(count, noise):
        x, y = noisy(8, count, noise=noise)
        levels = levels_of(x, y, noise)
        return smallest_loss(levels, projector(level_covariance(levels)), [])

    assert least(40, 0.03) < least(12, 0.03) < least(12, 0.1)
    assert least(12, 0.03) < least(4, 0.03)
    assert least(1, 0.03) == 1.0


def test_the_model_passes_through_the_levels():
    """Residuals of the fitted model are the size of the noise."""
    x, y = noisy(9)
    y = y + np.where(x > 72, np.log(0.6), 0)
    verdict = judge_levels(levels_of(x, y))
    assert np.std(y - verdict.model) < 0.04
    assert verdict.sigma == pytest.approx(1.0, abs=0.35)


def test_logs_are_summed_without_underflow():
    """Very small probabilities add as they should."""
    assert sum_logs(np.array([-1000.0, -1000.0])) == pytest.approx(-1000 + np.log(2))
