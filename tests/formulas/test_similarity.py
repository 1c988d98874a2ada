"""The similarity fit against published transformations."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from wiremap.formulas.similarity import (
    fit_similarity,
    map_points,
    map_variances,
    mirrored_residual_rms,
)

ED50 = [(300000, 4500000), (315000, 4740000), (520000, 4680000), (420000, 4600000)]
ETRS89 = [
    (299905.060, 4499796.515),
    (314906.904, 4739796.774),
    (519906.767, 4679795.125),
    (419906.005, 4599795.760),
]


def test_umeyama_example_has_no_reflection():
    """Umeyama, IEEE PAMI 13 (1991), numerical example (from memory): c 0.721, R, t (-0.8, 0.4).

    A reflection would fit the three points exactly and must not be chosen.
    """
    source, target = [(0, 0), (1, 0), (0, 2)], [(0, 0), (-1, 0), (0, 2)]
    fit = fit_similarity(source, target)
    assert fit is not None
    assert fit.scale == pytest.approx(0.7211102551)
    turn = np.radians(fit.rotation_deg)
    assert (np.cos(turn), np.sin(turn)) == pytest.approx((0.8320502943, -0.5547001962))
    np.testing.assert_allclose(map_points(fit, [(0, 0)]), [(-0.8, 0.4)], atol=1e-12)
    assert np.mean(np.sum(fit.residuals**2, axis=1)) == pytest.approx(0.533333, abs=1e-6)


def test_epsg_5166_points_are_mapped_within_a_millimetre():
    """EPSG operation 5166, ED50 to ETRS89 UTM 31N: a mapping agency's test sheet (2010)."""
    fit = fit_similarity(ED50, ETRS89)
    assert fit is not None
    np.testing.assert_allclose(map_points(fit, ED50), ETRS89, atol=1e-3)
    assert np.sqrt(np.mean(fit.residuals**2)) == pytest.approx(0.00016, abs=1e-5)
    assert fit.scale == pytest.approx(1.0000015504, abs=5e-9)
    assert -fit.rotation_deg * 3600 == pytest.approx(1.56504, abs=1e-3)


@given(
    st.lists(st.tuples(st.floats(-100, 100), st.floats(-100, 100)), min_size=3, max_size=8),
    st.floats(-180, 180), st.floats(0.1, 10), st.floats(1e5, 9e5), st.floats(1e6, 9e6),
)  # fmt: skip
def test_a_grid_made_from_map_points_fits_back(points, turn, scale, east, north):
    """Grid to map to grid: an exact similarity is found again, whatever its turn."""
    grid = np.array(points)
    if np.ptp(grid, axis=0).max() < 1:
        return
    factor = scale * np.exp(1j * np.radians(turn))
    z = factor * (grid[:, 0] + 1j * grid[:, 1])
    target = np.stack([z.real + east, z.imag + north], axis=1)
    fit = fit_similarity(grid, target)
    assert fit is not None
    np.testing.assert_allclose(map_points(fit, grid), target, atol=1e-6)


def test_two_points_are_enough_and_leave_nothing_to_test():
    """Two points fix the fit; there is no residual."""
    fit = fit_similarity([(0, 0), (10, 0)], [(5, 5), (5, 15)])
    assert fit is not None
    assert (fit.scale, fit.rotation_deg, fit.dof) == pytest.approx((1, 90, 0))


@pytest.mark.parametrize("points", [[], [(1, 1)], [(3, 3), (3, 3), (3, 3)]])
def test_too_few_distinct_points_fit_nothing(points):
    """None, one, or one point three times."""
    assert fit_similarity(points, points) is None


def test_a_heavier_point_is_met_better():
    """A point of a hundredth of the variance keeps nearly all of its place."""
    source, target = [(0, 0), (10, 0), (0, 10)], [(0, 0), (10, 0), (0, 10.3)]
    even = fit_similarity(source, target)
    skewed = fit_similarity(source, target, variances=[1, 1, 0.01])
    assert even is not None
    assert skewed is not None
    assert np.hypot(*skewed.residuals[2]) < np.hypot(*even.residuals[2]) / 10


def test_the_fit_variance_holds_against_monte_carlo():
    """5,000 fits over four noisy references: the spread of a point outside them."""
    rng = np.random.default_rng(2)
    source = np.array([(0, 0), (30, 0), (30, 20), (0, 20)], float)
    sigma = 0.02
    mapped = []
    for _ in range(5000):
        fit = fit_similarity(source, source + rng.normal(0, sigma, source.shape))
        assert fit is not None
        mapped.append(map_points(fit, [(60, 40)])[0])
    model = fit_similarity(source, source, variances=np.full(4, sigma**2))
    assert model is not None
    assert np.var(mapped, axis=0) == pytest.approx(map_variances(model, [(60, 40)])[0], rel=0.08)


def test_exchanged_axes_are_told_by_the_mirrored_fit():
    """With x and y exchanged the fit is exact, as written it is not."""
    source = np.array([(0, 0), (10, 0), (10, 5), (2, 7)], float)
    target = source[:, ::-1] + 100
    fit = fit_similarity(source, target)
    assert fit is not None
    assert np.abs(fit.residuals).max() > 1
    assert mirrored_residual_rms(source, target) == pytest.approx(0, abs=1e-9)
