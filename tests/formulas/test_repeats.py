"""Combining repeated positions."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import chi2

from wiremap.formulas.repeats import chi_square_limit, combine, isotropic, radial_rms


def test_two_equal_positions_meet_in_the_middle_with_half_the_variance():
    """By hand: equal weights."""
    met = combine([(0, 0), (2, 0)], isotropic([1, 1]))
    np.testing.assert_allclose(met.xy, [(1, 0)])
    assert radial_rms(met.cov)[0] == pytest.approx(np.sqrt(0.5))
    assert met.chi2[0] == pytest.approx(4.0)


def test_each_group_is_combined_alone():
    """Two groups in any order, at map coordinates, with no digits lost."""
    xy = np.array([(6e5, 4e6), (6e5, 5e6), (6e5 + 0.01, 4e6), (6e5, 5e6 + 0.01)])
    met = combine(xy, isotropic([0.1] * 4), groups=[0, 1, 0, 1])
    np.testing.assert_allclose(met.xy - [(6e5, 4e6), (6e5, 5e6)], [(0.005, 0), (0, 0.005)])
    assert met.dof.tolist() == [2, 2]


def test_a_group_of_one_keeps_its_position_and_covariance():
    """Nothing is combined and nothing can be tested."""
    cov = np.array([[[0.04, 0.01], [0.01, 0.09]]])
    met = combine([(3, 4)], cov)
    np.testing.assert_allclose(met.cov, cov)
    assert (met.chi2[0], met.dof[0]) == (0, 0)
    assert chi_square_limit(met.dof)[0] == np.inf


@given(st.permutations(range(6)))
def test_the_order_of_repeats_does_not_matter(order):
    """Any row order gives the same mean."""
    rng = np.random.default_rng(0)
    xy, cov = rng.normal(0, 1, (6, 2)), isotropic(rng.uniform(0.1, 1, 6))
    shuffled = list(order)
    np.testing.assert_allclose(combine(xy[shuffled], cov[shuffled]).xy, combine(xy, cov).xy)


@pytest.mark.parametrize(("dof", "tolerance"), [(1, 1e-9), (2, 1e-9), (4, 3e-3), (12, 2e-3)])
def test_chi_square_limits_match_the_distribution(dof, tolerance):
    """Against scipy's chi-square quantile at 0.99."""
    assert chi_square_limit(dof) == pytest.approx(chi2.ppf(0.99, dof), rel=tolerance)
