"""Accuracy statements against the standards' constants and a published data set."""

import numpy as np
import pytest

from wiremap.formulas.accuracy import (
    AXIS_95,
    RADIAL_95,
    asprs_rmse,
    horizontal_accuracy,
    vertical_accuracy,
)

ANNEX_D = np.array(
    [
        (359584.394, 5142449.934, 477.127, 359584.534, 5142450.004, 477.198),
        (359872.190, 5147939.180, 412.406, 359872.290, 5147939.280, 412.396),
        (359893.089, 5136979.824, 487.292, 359893.072, 5136979.894, 487.190),
        (359927.194, 5151084.129, 393.591, 359927.264, 5151083.979, 393.691),
        (372737.074, 5151675.999, 451.305, 372736.944, 5151675.879, 451.218),
    ]
)
ERRORS = ANNEX_D[:, :3] - ANNEX_D[:, 3:]


def test_constants_are_those_of_the_standard():
    """FGDC-STD-007.3-1998, App. 3-A: 1.7308 radial, 2.4477 by axis."""
    assert pytest.approx(1.7308, abs=5e-5) == RADIAL_95
    assert pytest.approx(2.4477, abs=5e-5) == AXIS_95


def test_asprs_annex_d_statistics_come_out():
    """ASPRS 2014, Annex D (data from memory): RMSE 0.102, 0.106, 0.081, radial 0.147, 0.255, 0.160."""
    met = horizontal_accuracy(ERRORS[:, :2])
    assert met.points == 5
    assert (met.rmse_x, met.rmse_y, met.rmse_r) == pytest.approx((0.102, 0.106, 0.147), abs=5e-4)
    assert (met.mean_x, met.mean_y) == pytest.approx((-0.033, 0.006), abs=5e-4)
    assert met.accuracy_95 == pytest.approx(0.255, abs=5e-4)
    count, rmse_z, accuracy_z = vertical_accuracy(ERRORS[:, 2])
    assert (count, rmse_z, accuracy_z) == pytest.approx((5, 0.081, 0.160), abs=5e-4)


def test_unequal_axes_use_the_mean_of_both():
    """App. 3-A.1 by hand: errors (3, 4) give 2.4477 * 0.5 * 7 = 8.567."""
    met = horizontal_accuracy(np.tile([3.0, 4.0], (20, 1)))
    assert met.rmse_r == pytest.approx(5)
    assert met.accuracy_95 == pytest.approx(8.567, abs=1e-3)


def test_very_unequal_axes_have_no_formula_but_a_bound():
    """App. 3-A.1: below a ratio of 0.6 the standard gives none; the bound covers the exact 1.97."""
    met = horizontal_accuracy([(1.0, 0.2), (-1.0, -0.2)])
    assert np.isnan(met.accuracy_95)
    assert met.bound_95 > 1.9704


def test_vertical_factor_matches_public_lidar_metadata():
    """Public lidar metadata, 51 points: RMSEz 0.0574002119585 gives 0.112504415439."""
    assert vertical_accuracy([0.0574002119585])[2] == pytest.approx(0.112504415439)


def test_nothing_to_check_gives_nothing():
    """NaN rows are left out; none left gives NaN, no warning."""
    assert horizontal_accuracy([(np.nan, 1.0)]).points == 0
    assert vertical_accuracy([np.nan])[0] == 0
    assert np.isnan(vertical_accuracy([])[1])


def test_the_check_survey_has_a_share_in_the_2023_figure():
    """ASPRS Ed. 2 (2023), from memory: root of the sum of squares."""
    assert asprs_rmse(0.3, 0.4) == pytest.approx(0.5)
