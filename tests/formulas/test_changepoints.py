"""Steps in a series against published data sets."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from wiremap.formulas.changepoints import (
    absorb,
    interval_of_gaps,
    projector,
    scan_pairs,
    scan_steps,
)

NILE = np.array([
    1120, 1160, 963, 1210, 1160, 1160, 813, 1230, 1370, 1140, 995, 935, 1110, 994, 1020, 960, 1180,
    799, 958, 1140, 1100, 1210, 1150, 1250, 1260, 1220, 1030, 1100, 774, 840, 874, 694, 940, 833,
    701, 916, 692, 1020, 1050, 969, 831, 726, 456, 824, 702, 1120, 1100, 832, 764, 821, 768, 845,
    864, 862, 698, 845, 744, 796, 1040, 759, 781, 865, 845, 944, 984, 897, 822, 1010, 771, 676,
    649, 846, 812, 742, 801, 1040, 860, 874, 848, 890, 744, 749, 838, 1050, 918, 986, 797, 923,
    975, 815, 1020, 906, 901, 1170, 912, 746, 919, 718, 714, 740,
], dtype=float)  # fmt: skip
HANDBOOK = np.array([
    324.925, 324.675, 324.725, 324.350, 325.350, 325.225, 324.125, 324.525, 325.225, 324.600,
    324.625, 325.150, 328.325, 327.250, 327.825, 328.500, 326.675, 327.775, 326.875, 328.350,
])  # fmt: skip
CHEMICAL = np.array([
    102.0, 94.8, 98.3, 98.4, 102.0, 98.5, 99.0, 97.7, 100.0, 98.1, 101.3, 98.7, 101.1, 98.4, 97.0,
    96.7, 100.3, 101.4, 97.2, 101.0,
])  # fmt: skip


def gain(values):
    """Return twice the log likelihood that the best single step gains, and its gap."""
    steps = scan_steps(values, projector(np.eye(len(values))))
    left = steps.residual.min()
    return len(values) * np.log(steps.base / left), int(steps.residual.argmin())


def test_the_nile_breaks_after_1898():
    """Nile 1871-1970 (open data set; from memory): after value 28, means 1097.75 and 849.9722."""
    steps = scan_steps(NILE, projector(np.eye(100)))
    gap = int(steps.residual.argmin())
    assert gap + 1 == 28
    assert steps.size[gap] == pytest.approx(849.9722 - 1097.75, abs=1e-4)


def test_a_step_leaves_the_two_segments_own_sums_of_squares():
    """With white noise the residual is the closed form, at every gap of the Nile series."""
    steps = scan_steps(NILE, projector(np.eye(100)))
    expected = [NILE[:k].var() * k + NILE[k:].var() * (100 - k) for k in range(1, 100)]
    assert steps.residual == pytest.approx(expected)
    assert steps.base == pytest.approx(NILE.var() * 100)


def test_the_handbook_series_steps_before_its_cusum_signal():
    """NIST/SEMATECH e-Handbook 6.3.2.3 (from memory): the CUSUM first exceeds h at value 14.

    A CUSUM signals after the change: the step lies before value 13, and its size is the
    difference of the two means.
    """
    improvement, gap = gain(HANDBOOK)
    assert gap + 1 == 12
    assert improvement > 4 * np.log(20)


def test_the_chemical_series_shows_no_step():
    """Montgomery and Runger, example 16-6: CUSUM of H 10, K 1 about 99 never signals."""
    improvement, _ = gain(CHEMICAL)
    assert improvement < 3 * np.log(20)


def test_clean_steps_are_found_one_after_the_other():
    """Killick, Fearnhead and Eckley (2012), clean steps: 50 x 0, 50 x 5, 50 x 1."""
    values = np.repeat([0.0, 5.0, 1.0], 50)
    at = projector(np.eye(150))
    first = int(scan_steps(values, at).residual.argmin())
    at = absorb(at, (np.arange(150) > first).astype(float)[:, None])
    second = int(scan_steps(values, at).residual.argmin())
    assert sorted([first + 1, second + 1]) == [50, 100]
    assert scan_steps(values, at).residual.min() == pytest.approx(0.0, abs=1e-9)


def test_two_steps_are_found_at_once():
    """The pair of gaps that leaves nothing is the true one, with both sizes (clean steps)."""
    values = np.repeat([0.0, -2.0, -3.0], 10)
    pairs = scan_pairs(values, projector(np.eye(30)))
    assert pairs.residual[9, 19] == pytest.approx(0.0, abs=1e-9)
    assert pairs.sizes[:, 9, 19] == pytest.approx([-2.0, -1.0])
    order = np.unravel_index(pairs.residual.argmin(), pairs.residual.shape)
    assert sorted(order) == [9, 19]


def test_a_pair_agrees_with_one_step_after_the_other():
    """Both at once is the same as the second with the first left free, on the Nile series."""
    at = projector(np.eye(100))
    pairs = scan_pairs(NILE, at)
    freed = absorb(at, (np.arange(100) > 27).astype(float)[:, None])
    later = scan_steps(NILE, freed)
    assert pairs.residual[27, 60] == pytest.approx(later.residual[60])
    assert pairs.sizes[1, 27, 60] == pytest.approx(later.size[60])


def test_what_is_already_free_cannot_step_again():
    """A gap whose step was projected out carries no information, and nothing is divided by it."""
    column = (np.arange(6) > 2).astype(float)[:, None]
    at = absorb(absorb(projector(np.eye(6)), column), column)
    steps = scan_steps(np.arange(6.0), at)
    assert steps.information[2] == 0
    assert steps.size[2] == 0
    assert np.isfinite(steps.residual).all()


@settings(max_examples=25, deadline=None)
@given(
    st.lists(st.floats(-5, 5), min_size=4, max_size=12),
    st.floats(-3, 3),
    st.integers(0, 2**31),
)
def test_a_step_added_is_a_step_found(values, height, seed):
    """Generalised least squares is linear: adding a step of some height moves its size by that."""
    rng = np.random.default_rng(seed)
    factor = rng.standard_normal((len(values), len(values)))
    at = projector(factor @ factor.T + np.eye(len(values)))
    gap = len(values) // 2
    step = height * (np.arange(len(values)) > gap)
    before, after = scan_steps(np.array(values), at), scan_steps(np.array(values) + step, at)
    assert after.size[gap] - before.size[gap] == pytest.approx(height, abs=1e-6)
    assert after.residual[gap] == pytest.approx(before.residual[gap], abs=1e-6)


def test_a_place_between_two_likely_gaps_has_an_interval_over_both():
    """Half the weight in each of two gaps of 4 m: 2.5 % points are 0.2 m inside the outer edges."""
    edges = np.array([0.0, 4.0, 8.0, 12.0])
    low, middle, high = interval_of_gaps(edges, np.array([0.5, 0.5, 0.0]))
    assert [low, middle, high] == pytest.approx([0.2, 4.0, 7.8])
