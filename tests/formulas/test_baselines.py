"""Baseline and offset against hand geometry and Monte Carlo."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from wiremap.formulas.baselines import (
    baseline_covariance,
    measure_from_baseline,
    place_on_baseline,
)

metres = st.floats(-200, 200)


def test_right_of_a_line_going_north_is_east():
    """Hand geometry: from (10, 10) north, 8 along and 3 right is (13, 18)."""
    np.testing.assert_allclose(place_on_baseline([(10, 10)], [(10, 40)], [8], [3]), [[13, 18]])


@given(metres, metres, st.floats(0, 360), st.floats(2, 100))
def test_point_to_baseline_to_point(x, y, turn, length):
    """Measured off a baseline and placed again, a point comes back."""
    a = np.array([600_000.0, 4_000_000.0])
    b = a + length * np.array([np.sin(np.radians(turn)), np.cos(np.radians(turn))])
    point = a + np.array([x, y])
    along, off = measure_from_baseline([a], [b], [point])
    np.testing.assert_allclose(place_on_baseline([a], [b], along, off)[0], point, atol=1e-7)


def test_a_baseline_without_length_places_nothing():
    """Start and aim coincide: NaN, not a guess."""
    assert np.isnan(place_on_baseline([(1, 1)], [(1, 1)], [2], [2])).all()


def test_baseline_covariance_holds_against_monte_carlo():
    """20,000 baselines with all five errors, past the far reference: the sampled covariance."""
    rng = np.random.default_rng(11)
    n, tape, square, ref = 20_000, 0.02, 0.5, 0.03
    a = rng.normal(0, ref, (n, 2))
    b = np.array([20, 5]) + rng.normal(0, ref, (n, 2))
    along, off = 35 + rng.normal(0, tape, n), 12 + rng.normal(0, tape, n)
    # a right angle held wrong by d shifts the mark along the line by d times the offset
    held = along + np.radians(rng.normal(0, square, n)) * 12
    sampled = np.cov(place_on_baseline(a, b, held, off).T)
    own = ref**2 * np.eye(2)[None]
    cov = baseline_covariance(
        [(0, 0)], [(20, 5)], [35], [12],
        sigma_m=tape, square_sigma_deg=square, cov=np.stack([own, own], axis=1),
    )  # fmt: skip
    np.testing.assert_allclose(cov[0], sampled, atol=0.05 * np.trace(sampled))


def test_a_point_beyond_the_references_is_worse_than_one_between():
    """The references' errors turn the baseline; the far end swings most."""
    own = 0.05**2 * np.eye(2)[None]
    traces = [
        np.trace(
            baseline_covariance([(0, 0)], [(20, 0)], [along], [0], sigma_m=0.02,
                                square_sigma_deg=0.5, cov=np.stack([own, own], axis=1))[0]
        )
        for along in (10, 20, 60)
    ]  # fmt: skip
    assert traces[0] < traces[1] < traces[2]
