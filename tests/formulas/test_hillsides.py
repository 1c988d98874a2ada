"""The lie of a property from offsets taped on one side, checked against planes made for it."""

import numpy as np
import pytest

from wiremap.formulas.depth_pairs import null_offset_m
from wiremap.formulas.hillsides import hillside_slopes


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
