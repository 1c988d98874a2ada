"""Tapers: their shapes, and where they reach zero."""

from __future__ import annotations

import numpy as np
import pytest

from wiremap.formulas.changepoints import projector
from wiremap.formulas.tapers import taper_candidates, taper_end, weigh_tapers
from wiremap.formulas.tone_evidence import Levels

X = np.arange(0.0, 80, 4)


def levels_of(current, noise=0.03):
    """Return levels of one current along X."""
    sigma = np.full(len(X), noise)
    return Levels(X, np.log(current), sigma, np.zeros(len(X)), 15.0, np.empty((len(X), 0)))


def fit(current, **options):
    """Return the log evidence of a taper, and its end."""
    tapers = taper_candidates(X, **options)
    levels = levels_of(current)
    log, weights = weigh_tapers(levels, tapers, projector(np.diag(levels.noise**2)[None]))
    return log, taper_end(tapers, weights)


@pytest.mark.parametrize(
    "shape",
    [
        lambda left: left / 82.0,
        lambda left: np.minimum(1.0, left / 41.0),
        lambda left: np.sinh(2 * left / 82),
        lambda left: 1 - np.exp(-left / 20.0),
    ],
    ids=["straight", "late", "open line", "knee"],
)
def test_a_taper_is_extrapolated_to_its_end(shape):
    """Four ways to fade toward 82 m, heard to 76 m (transmission-line limits): end within 1.5 m."""
    log, (low, middle, high) = fit(shape(82.0 - X))
    assert log > 10
    assert middle == pytest.approx(82.0, abs=1.5)
    assert 76.0 < low < middle < high < 85.0


def test_a_current_that_stands_is_no_taper():
    """A slow decay speaks against every taper."""
    log, _ = fit(np.exp(-0.001 * X))
    assert log < -10


def test_silence_soon_after_makes_a_far_end_less_likely():
    """The level must be below hearing where the tone was lost: the end moves no farther."""
    current = (90.0 - X) / 90.0 * (1 + 0.02 * np.sin(5 * X))
    heard, lost = fit(current)[1], fit(current, silent_m=80.0)[1]
    assert lost[2] <= heard[2]


def test_every_candidate_starts_at_one_and_falls():
    """Log shapes are 0 at the start and never rise."""
    tapers = taper_candidates(X)
    assert (tapers.log_shape[0] == 0).all()
    assert (np.diff(tapers.log_shape, axis=0) <= 1e-12).all()
    assert (tapers.end_m > X[-1]).all()


def test_no_candidate_gives_no_end():
    """Where nothing fades far enough there is no evidence and no end."""
    tapers = taper_candidates(X)._replace(
        end_m=np.empty(0), log_shape=np.empty((len(X), 0)), log_prior=np.empty(0)
    )
    log, weights = weigh_tapers(levels_of(np.ones(len(X))), tapers, projector(np.eye(len(X))[None]))
    assert log == -np.inf
    assert np.isnan(taper_end(tapers, weights)).all()


def test_a_run_shorter_than_a_metre_has_tapers_without_warnings():
    """Three marks in 0.3 m: falls that would start beyond the end are none, and none is NaN."""
    tapers = taper_candidates(np.array([0.0, 0.1, 0.3]))

    assert len(tapers.end_m)
    assert np.isfinite(tapers.log_shape).all()
