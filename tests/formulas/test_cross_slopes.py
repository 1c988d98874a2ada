"""What a stretch's pairs and the ground let expect of the cross slope."""

from __future__ import annotations

import numpy as np
import pytest

from wiremap.formulas.cross_slopes import borrowed_slopes, check_slopes, number_stretches

BLANK = np.full(12, np.nan)


def check(pair, *, ground=BLANK, ground_sigma=np.inf, sigma=0.05):
    return check_slopes(
        np.zeros(12, dtype=int), np.arange(12) * 4.0, pair_tan=pair, pair_sigma_tan=np.full(12, sigma),
        ground_tan=ground, ground_sigma_tan=np.where(np.isfinite(ground), ground_sigma, np.inf),
        others_tan=BLANK, others_sigma_tan=np.full(12, np.inf), length_scale_m=15.0, change_tan=np.tan(np.radians(2.5)), prior_tan=0.105,
    )  # fmt: skip


def test_a_steady_slope_is_slope():
    """Check values: ten degrees make every pair uneven by 0.176; none of it is left unexplained."""
    found = check(np.full(12, 0.176))
    assert found.expected == pytest.approx(np.full(12, 0.176), abs=0.02)
    assert np.abs(found.residual / found.residual_sigma).max() < 1


def test_one_odd_pair_stands_out_of_its_neighbours():
    """A pair 0.5 off where its neighbours agree is beyond 3.7 standard deviations, the rest not."""
    pair = np.full(12, 0.1)
    pair[5] += 0.5
    z = np.abs(check(pair).residual / check(pair).residual_sigma)
    assert z[5] > 3.7
    assert np.delete(z, 5).max() < 3.7


def test_a_whole_stretch_against_known_ground_stands_out():
    """Ground known level to 1.5 degrees, all pairs uneven by 0.18: the mean of five tells."""
    found = check(np.full(12, 0.18), ground=np.zeros(12), ground_sigma=0.026)
    assert (np.abs(found.window_residual / found.window_sigma) > 3.7).all()


def test_one_sided_pairs_take_the_slope_of_their_neighbours_with_doubt():
    """Expected slope from the two-sided neighbours; sigma larger than theirs."""
    pair = np.full(12, 0.15)
    pair[4:7] = np.nan
    found = check(pair)
    assert found.expected[5] == pytest.approx(0.15, abs=0.02)
    assert found.expected_sigma[5] > found.expected_sigma[0]
    assert np.isnan(found.residual[5])


def test_a_stretch_of_which_nothing_is_known_gets_the_prior():
    """Level on average, as uncertain as prior and change together."""
    found = check(BLANK)
    assert found.expected == pytest.approx(np.zeros(12), abs=1e-12)
    assert found.expected_sigma == pytest.approx(
        np.full(12, np.hypot(0.105, np.tan(np.radians(2.5))))
    )
    assert np.isinf(found.window_sigma).all()


def test_a_turn_starts_a_new_stretch_and_places_off_runs_stand_alone():
    """Slope across one heading says nothing across another."""
    numbers = number_stretches([0, 0, 0, -1, -1], [0, 4, 8, np.nan, np.nan], [10, 20, 80, 0, 0])
    assert numbers[0] == numbers[1] != numbers[2]
    assert len(set(numbers[2:])) == 3


def test_a_gentle_bend_is_cut_where_it_has_led_away():
    """Ten degrees at each step, north to east: no step is a turn, the whole is."""
    numbers = number_stretches(np.zeros(10, dtype=int), np.arange(10) * 4.0, np.arange(10) * 10.0)
    assert len(set(numbers)) == 4
    assert len(set(number_stretches(np.zeros(4, dtype=int), np.arange(4.0), [359, 1, 358, 3]))) == 1


def test_no_pairs_give_empty_answers():
    """Nothing in, nothing out."""
    nothing = np.zeros(0)
    found = check_slopes(nothing.astype(int), nothing, pair_tan=nothing, pair_sigma_tan=nothing,
                         ground_tan=nothing, ground_sigma_tan=nothing, others_tan=nothing,
                         others_sigma_tan=nothing, length_scale_m=15.0,
                         change_tan=0.04, prior_tan=0.1)  # fmt: skip
    assert all(len(values) == 0 for values in found)


def test_lone_offsets_of_both_sides_tell_the_slope_of_their_stretch():
    """Check values, 10 degrees: left offsets 0.36984, right ones 0.25897, depth alike."""
    side = np.arange(12) % 2 == 0
    slope, sigma = borrowed_slopes(
        np.zeros(12, dtype=int), np.where(side, 0.36984, np.nan), np.where(side, np.nan, 0.25897), lean_deg=45.0
    )  # fmt: skip
    assert np.degrees(np.arctan(slope)) == pytest.approx(np.full(12, 10.0), abs=0.01)
    # twelve shares of one piece of knowledge
    assert sigma / np.sqrt(12) == pytest.approx(np.full(12, 0.1 * np.sqrt(1 / 3)))


def test_lone_offsets_of_one_side_tell_nothing():
    """All left, or one right among them: no slope is made up."""
    left = np.full(6, 0.3)
    right = np.full(6, np.nan)
    for _ in range(2):
        slope, sigma = borrowed_slopes(np.zeros(6, dtype=int), left, right, lean_deg=45.0)
        assert np.isnan(slope).all()
        assert np.isinf(sigma).all()
        left[0], right[0] = np.nan, 0.3
