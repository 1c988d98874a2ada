"""The lie of a property from offsets taped on one side, checked against planes made for it."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from wiremap.formulas.depth_pairs import null_offset_m
from wiremap.formulas.hillsides import hillside_slopes, slopes_by_other_runs


def hillside(slope_deg, aspect_deg, headings_deg, *, depth_m=0.3, lean_deg=45.0):
    """Return the cross slope tangent, and the left and right offsets, at headings on a plane."""
    rise = np.tan(np.radians(slope_deg))
    toward = np.radians(np.asarray(headings_deg, dtype=float) - 90.0 - aspect_deg)
    tan = rise * np.cos(toward)
    slope = np.degrees(np.arctan(tan))
    left = null_offset_m(depth_m, slope_deg=slope, lean_deg=lean_deg)
    right = null_offset_m(depth_m, slope_deg=-slope, lean_deg=lean_deg)
    return tan, left, right


def fit(headings, left, right, *, known=None, known_sigma=None, stretch=None):
    count = len(headings)
    return hillside_slopes(
        np.arange(count) if stretch is None else stretch, headings, left, right, lean_deg=45.0,
        known_tan=np.full(count, np.nan) if known is None else known,
        known_sigma_tan=np.full(count, np.inf) if known_sigma is None else known_sigma,
    )  # fmt: skip


@pytest.mark.parametrize("slope_deg", [0, 5, 12, 20])
@pytest.mark.parametrize("side", ["left", "right"])
def test_one_side_taped_all_over_a_plane_tells_its_slope(slope_deg, side):
    """Headings all round: within a third of the slope, and within two sigma."""
    headings = np.arange(0.0, 360.0, 20.0)
    tan, left, right = hillside(slope_deg, 40.0, headings)
    none = np.full(len(headings), np.nan)
    slope, sigma = fit(headings, *((left, none) if side == "left" else (none, right)))
    assert (np.abs(slope - tan) <= 0.35 * np.tan(np.radians(slope_deg)) + 1e-9).all()
    assert (np.abs(slope - tan) <= 2 * sigma).all()


def test_slopes_known_elsewhere_lean_a_lone_offset_the_right_way():
    """Two-sided pairs on a 12 degree plane, and one lone offset on another stretch."""
    headings = np.array([*np.arange(0.0, 360.0, 30.0), 75.0])
    tan, left, right = hillside(12.0, 130.0, headings)
    right[-1] = np.nan
    known, sigma = tan.copy(), np.full(len(tan), 0.03)
    known[-1], sigma[-1] = np.nan, np.inf
    slope, spread = fit(headings, left, right, known=known, known_sigma=sigma)
    assert slope[-1] == pytest.approx(tan[-1], abs=0.03)
    assert spread[-1] < 0.1
    assert np.isnan(slope[:-1]).all()  # their own stretches tell


def test_a_lone_offset_tells_nothing_of_the_hillside():
    """Depth and slope cannot be told apart in one offset."""
    slope, sigma = fit([10.0], [0.4], [np.nan])
    assert np.isnan(slope).all()
    assert np.isinf(sigma).all()


def test_one_direction_tells_nothing_across_another():
    """All walked north with left offsets: no contrast, so nothing is claimed."""
    slope, sigma = fit([0.0] * 8, [0.4] * 8, [np.nan] * 8)
    assert np.isinf(sigma).all()
    assert np.isnan(slope).all()


def test_the_pairs_of_a_stretch_weigh_as_one():
    """Four times the pairs on each stretch: each value's sigma is twice as wide."""
    headings = np.arange(0.0, 360.0, 20.0)
    _, left, _ = hillside(8.0, 0.0, headings)
    none = np.full(len(headings), np.nan)
    _, single = fit(headings, left, none)
    again = np.repeat(headings, 4)
    _, fourfold = fit(
        again, np.repeat(left, 4), np.full(len(again), np.nan),
        stretch=np.repeat(np.arange(len(headings)), 4),
    )  # fmt: skip
    assert fourfold.mean() == pytest.approx(2 * single.mean(), rel=0.1)


@given(
    seed=st.integers(0, 2**32 - 1), runs=st.integers(10, 30), tilt=st.floats(-0.3, 0.3),
    turn=st.floats(0, 360),
)  # fmt: skip
def test_other_runs_on_one_plane_let_expect_that_plane(seed, runs, tilt, turn):
    """On a plane of any tilt the expected slope is the plane's, whatever an odd run reads."""
    rng = np.random.default_rng(seed)
    heading = np.repeat(np.linspace(0, 360, runs, endpoint=False) + turn, 3)
    run = np.repeat(np.arange(runs), 3)
    true = tilt * np.sin(np.radians(heading))  # rising to the north by tilt, seen to the left
    read = true + rng.normal(0, 0.01, len(run))
    odd = run == 0
    expected, sigma = slopes_by_other_runs(
        run, run, heading, np.where(odd, read + 0.5, read), np.full(len(run), 0.01)
    )
    assert expected[odd] == pytest.approx(true[odd], abs=0.05)
    assert (np.abs(expected - true)[~odd] < 3 * sigma[~odd]).all()
    assert (3.7 * sigma[odd] < 0.5).all()


def test_few_other_runs_let_expect_nothing():
    """Five stretches of other runs are the least; a run of its own says nothing of itself."""
    run, level, noise = np.arange(5), np.zeros(5), np.full(5, 0.02)
    expected, sigma = slopes_by_other_runs(run, run, 70.0 * run, level, noise)
    assert np.isnan(expected).all()
    assert np.isinf(sigma).all()
    one_run = slopes_by_other_runs(
        np.zeros(9), np.arange(9), 40.0 * np.arange(9), *np.zeros((2, 9))
    )
    assert np.isnan(one_run[0]).all()


def test_runs_that_lie_each_on_their_own_slope_let_expect_little():
    """Where banks tilt every way by ten degrees, one more such slope is no wonder."""
    rng = np.random.default_rng(3)
    run = np.arange(40)
    slope = np.tan(np.radians(rng.normal(0, 10, 40)))
    _, sigma = slopes_by_other_runs(run, run, rng.uniform(0, 360, 40), slope, np.full(40, 0.02))
    assert (sigma > np.tan(np.radians(7))).all()
