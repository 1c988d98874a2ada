"""Two-tape ties against circles, Monte Carlo and a published least-squares case."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from wiremap.formulas.repeats import isotropic, radial_rms
from wiremap.formulas.two_tape import adjust_ties, cross_tapes, cut_angles, range_variance, sides

A, B = np.array([[0.0, 0.0]]), np.array([[14.0, 0.0]])


def cross(a, b, ra, rb, *, side, sigma_m=0.0, cov=None):
    """Cross tapes from references given one by one."""
    references = np.stack([np.asarray(a, float), np.asarray(b, float)], axis=1)
    return cross_tapes(references, np.stack([ra, rb], axis=1), side=side, sigma_m=sigma_m, cov=cov)


@pytest.mark.parametrize(("base", "ra", "rb", "x", "y"), [(14, 13, 15, 5, 12), (5, 3, 4, 1.8, 2.4)])
@pytest.mark.parametrize("side", [1, -1])
def test_two_circles_cross_where_geometry_says(base, ra, rb, x, y, side):
    """Swing ties, x = (r1^2 - r2^2 + D^2) / 2D: computed by hand, two answers by side."""
    tie = cross([(0, 0)], [(base, 0)], [ra], [rb], side=[side])
    np.testing.assert_allclose(tie.xy, [[x, side * y]], atol=1e-12)


@pytest.mark.parametrize(("ra", "rb", "gap"), [(3, 4, 7.0), (30, 10, 6.0)])
def test_circles_that_miss_give_no_position_but_the_gap(ra, rb, gap):
    """Circles apart, and one inside the other: the gap follows from the distances."""
    tie = cross(A, B, [ra], [rb], side=[1], sigma_m=0.02)
    assert np.isnan(tie.xy).all()
    assert np.isnan(tie.cov).all()
    assert np.isnan(tie.cut_angle_deg).all()
    assert tie.gap_m == pytest.approx(gap)
    assert not tie.touches[0]


def test_circles_that_miss_by_less_than_the_tapes_explain_touch():
    """A gap of 20 mm with tapes of 20 mm: placed on the line, with an honest width across it."""
    tie = cross(A, B, [6.99], [6.99], side=[1], sigma_m=0.02)
    assert tie.touches[0]
    np.testing.assert_allclose(tie.xy, [[7, 0]], atol=1e-9)
    assert 0.3 < np.sqrt(tie.cov[0, 1, 1]) < 0.7


def test_a_reference_tied_to_itself_gives_no_position():
    """No line, no crossing."""
    for ra, rb in ((5, 5), (5, 6)):
        tie = cross(A, A, [ra], [rb], side=[1], sigma_m=0.02)
        assert np.isnan(tie.xy).all()
        assert np.isnan(tie.cov).all()


@pytest.mark.parametrize(
    ("xy", "angle", "drms"),
    [((7, 7), 90.0, 0.02828), ((5, 12), 59.49, 0.03283), ((5, 4), 117.38, None)],
)
def test_tie_precision_is_sigma_root_two_over_sine_of_the_cut(xy, angle, drms):
    """DRMS = sigma sqrt(2) / sin(cut angle); figures for sigma 0.02 from an independent table."""
    ra, rb = np.hypot(*xy), np.hypot(xy[0] - 14, xy[1])
    tie = cross(A, B, [ra], [rb], side=[1], sigma_m=0.02)
    assert tie.cut_angle_deg[0] == pytest.approx(angle, abs=0.01)
    expected = 0.02 * np.sqrt(2) / np.sin(np.radians(angle))
    assert radial_rms(tie.cov)[0] == pytest.approx(expected, rel=1e-2)
    if drms is not None:
        assert expected == pytest.approx(drms, abs=1e-5)


def test_tie_covariance_holds_against_monte_carlo():
    """20,000 pairs of tapes with references off by their own RMS: the sampled covariance."""
    rng = np.random.default_rng(3)
    n, sigma, rms = 20_000, 0.03, 0.05
    a = rng.normal(0, rms / np.sqrt(2), (n, 2))
    b = np.array([14, 0]) + rng.normal(0, rms / np.sqrt(2), (n, 2))
    ra, rb = 13 + rng.normal(0, sigma, n), 15 + rng.normal(0, sigma, n)
    sampled = np.cov(cross(a, b, ra, rb, side=np.ones(n)).xy.T)
    own = isotropic([rms])
    tie = cross(A, B, [13], [15], side=[1], sigma_m=sigma, cov=np.stack([own, own], axis=1))
    np.testing.assert_allclose(tie.cov[0], sampled, atol=0.05 * np.trace(sampled))


def test_the_width_across_a_flat_cut_holds_against_monte_carlo():
    """A point 0.3 m off a 14 m line, tapes 20 mm: sampled spread about the truth, both sides told."""
    rng = np.random.default_rng(5)
    n, truth = 20_000, np.array([7.0, 0.3])
    ra = np.hypot(*truth) + rng.normal(0, 0.02, n)
    rb = np.hypot(7.0, 0.3) + rng.normal(0, 0.02, n)
    many = np.ones((n, 1))
    tie = cross(A * many, B * many, ra, rb, side=np.ones(n), sigma_m=0.02)
    placed = np.isfinite(tie.xy[:, 0])
    inside = np.abs(tie.xy[:, 1] - truth[1]) <= 1.96 * np.sqrt(tie.cov[:, 1, 1])
    assert placed.mean() > 0.99
    assert inside[placed].mean() > 0.93


@given(
    st.floats(-40, 40), st.floats(-40, 40), st.floats(5, 30), st.floats(0, 360),
    st.floats(1e5, 9e5), st.floats(1e6, 9e6),
)  # fmt: skip
def test_two_tapes_from_a_point_give_it_back(x, y, base, turn, east, north):
    """Point to ties to point, at map coordinates; near the line the root loses digits."""
    a = np.array([east, north])
    b = a + base * np.array([np.cos(np.radians(turn)), np.sin(np.radians(turn))])
    point = a + np.array([x, y])
    ra, rb = np.hypot(*(point - a)), np.hypot(*(point - b))
    side = sides(a, b, point)
    cut = cut_angles(a, b, point)
    if min(cut, 180 - cut) < 1 or min(ra, rb) < 0.1:
        return
    tie = cross([a], [b], [ra], [rb], side=[side], sigma_m=0.02)
    np.testing.assert_allclose(tie.xy[0], point, atol=1e-5)


def test_three_ties_adjust_to_the_least_squares_position():
    """Anchors (0,0), (14,0), (0,12), ties 13.02, 14.99, 5.015: solved independently."""
    anchors = [[(0, 0), (14, 0), (0, 12)]]
    met = adjust_ties([(5, 12)], anchors, [[13.02, 14.99, 5.015]], sigma_m=0.02)
    np.testing.assert_allclose(met.xy, [[5.01974, 12.00864]], atol=1e-5)
    np.testing.assert_allclose(met.residuals_m, [[-0.00442, 0.00508, 0.00475]], atol=1e-5)
    assert met.dof.tolist() == [1]
    assert met.chi2[0] == pytest.approx(np.sum(met.residuals_m**2) / 0.02**2)


def test_a_missing_third_tie_leaves_the_two_tape_position():
    """NaN in the third distance: the same position and covariance as two tapes give."""
    anchors = [[(0, 0), (14, 0), (0, 12)]]
    met = adjust_ties([(4.9, 11.8)], anchors, [[13, 15, np.nan]], sigma_m=0.02)
    tie = cross(A, B, [13], [15], side=[1], sigma_m=0.02)
    np.testing.assert_allclose(met.xy, tie.xy, atol=1e-7)
    np.testing.assert_allclose(met.cov, tie.cov, rtol=1e-2, atol=1e-8)
    assert np.isnan(met.residuals_m[0, 2])
    assert met.dof.tolist() == [0]


def test_ties_that_contradict_each_other_wildly_stay_near_their_references():
    """300 sets of random tapes of 1 to 40 m: least squares never runs away."""
    rng = np.random.default_rng(1)
    anchors, taped = rng.uniform(-20, 20, (300, 3, 2)), rng.uniform(1, 40, (300, 3))
    start = rng.uniform(-20, 20, (300, 2))
    met = adjust_ties(start, anchors, taped, sigma_m=0.02)
    assert np.abs(met.xy).max() < 80
    before = np.hypot(*(start[:, None] - anchors).transpose(2, 0, 1)) - taped
    assert (np.sum(met.residuals_m**2, axis=1) <= np.sum(before**2, axis=1) + 1e-9).all()


def test_one_distance_adjusts_to_nothing():
    """A single tape fixes no point."""
    met = adjust_ties([(1, 1)], [[(0, 0), (14, 0)]], [[5, np.nan]], sigma_m=0.02)
    assert np.isnan(met.xy).all()


def test_references_of_poor_position_widen_the_tape():
    """A reference's error counts along the tape only."""
    across = [[np.diag([0.0, 0.25])]]
    along = [[np.diag([0.25, 0.0])]]
    assert range_variance([(5, 0)], [[(0, 0)]], 0.0, across)[0, 0] == pytest.approx(0.0)
    assert range_variance([(5, 0)], [[(0, 0)]], 0.0, along)[0, 0] == pytest.approx(0.25)


def test_side_is_left_of_the_line_from_a_to_b():
    """Looking from (0, 0) to (0, 10), west is left."""
    assert sides([0, 0], [0, 10], [-1, 5]) == 1
    assert sides([0, 0], [0, 10], [1, 5]) == -1
    assert sides([0, 0], [0, 10], [0, 5]) == 0
