"""Slopes from scattered elevations and from surfaces."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from wiremap.formulas.terrain import plane_slope_tan, surface_slope_tan, triangulate_heights


def scatter(rng, n=60, spread=20.0):
    return rng.uniform(-spread, spread, n), rng.uniform(-spread, spread, n)


@pytest.mark.parametrize("bearing_deg", [0, 45, 90, 200, 315])
def test_a_plane_gives_its_slope_in_every_direction(bearing_deg):
    """Gradient (0.10, -0.05): slope toward bearing b is 0.10 sin b - 0.05 cos b."""
    x, y = scatter(np.random.default_rng(1))
    ground = plane_slope_tan(x, y, 50 + 0.1 * x - 0.05 * y, at_x_m=[0.0], at_y_m=[0.0],
                             bearing_deg=[bearing_deg])  # fmt: skip
    bearing = np.radians(bearing_deg)
    assert ground.slope_tan == pytest.approx(
        [0.1 * np.sin(bearing) - 0.05 * np.cos(bearing)], abs=1e-4
    )


def test_a_few_gross_elevations_do_not_tilt_the_plane():
    """Robust: three of sixty elevations off by metres."""
    rng = np.random.default_rng(2)
    x, y = scatter(rng, spread=8)
    z = 0.1 * x + rng.normal(0, 0.02, 60)
    z[:3] += 5
    ground = plane_slope_tan(x, y, z, at_x_m=[0.0], at_y_m=[0.0], bearing_deg=[90.0])
    assert ground.slope_tan == pytest.approx([0.1], abs=0.05)


def test_stated_sigma_covers_the_slope():
    """Truth within 1.96 sigma 90 to 99 % of the time, elevations noisy by 0.05 m."""
    rng = np.random.default_rng(3)
    held = []
    for _ in range(150):
        x, y = scatter(rng, n=16, spread=8)
        ground = plane_slope_tan(x, y, 0.08 * x + rng.normal(0, 0.05, 16), at_x_m=[0.0], at_y_m=[0.0],
                                 bearing_deg=[90.0])  # fmt: skip
        held.append(abs(ground.slope_tan[0] - 0.08) < 1.96 * ground.sigma_tan[0])
    assert 0.90 <= np.mean(held) <= 0.995


def test_points_in_one_line_say_nothing_across_it():
    """A lone run gives the slope along itself and next to none across."""
    x = np.arange(12.0)
    ground = plane_slope_tan(x, np.zeros(12), 0.1 * x, at_x_m=[6.0, 6.0], at_y_m=[0.0, 0.0],
                             bearing_deg=[90.0, 0.0])  # fmt: skip
    assert ground.slope_tan[0] == pytest.approx(0.1, abs=1e-3)
    assert ground.sigma_tan[1] > 10


def test_too_few_elevations_give_no_slope():
    """NaN with infinite sigma; nothing is made up."""
    ground = plane_slope_tan([0, 1, 2, np.nan], [0, 1, 0, 1], [5, 5, 5, 5], at_x_m=[0], at_y_m=[0],
                             bearing_deg=[0])  # fmt: skip
    assert np.isnan(ground.slope_tan).all()
    assert np.isinf(ground.sigma_tan).all()


def test_far_points_give_a_slope_with_more_doubt():
    """Points 30 to 50 m away still settle the slope of a property, to no better than 0.05."""
    rng = np.random.default_rng(4)
    angle, away = rng.uniform(0, 2 * np.pi, 40), rng.uniform(30, 50, 40)
    x, y = away * np.sin(angle), away * np.cos(angle)
    ground = plane_slope_tan(x, y, 0.2 * x, at_x_m=[0], at_y_m=[0], bearing_deg=[90])
    assert ground.slope_tan == pytest.approx([0.2], abs=0.02)
    assert ground.sigma_tan[0] >= 0.05


def test_a_surface_gives_its_slope_and_nothing_outside():
    """Central difference on a plane; NaN and no weight where the surface ends."""

    def surface(x, y):
        return np.where(x < 10, 0.2 * y - 0.1 * x, np.nan)

    ground = surface_slope_tan(surface, at_x_m=[0, 20], at_y_m=[0, 0], bearing_deg=[90, 90])
    assert ground.slope_tan[0] == pytest.approx(-0.1)
    assert ground.sigma_tan[0] == pytest.approx(np.tan(np.radians(1.5)))
    assert np.isnan(ground.slope_tan[1])
    assert np.isinf(ground.sigma_tan[1])


def test_a_surface_that_bends_within_reach_says_that_its_slope_is_less_sure():
    """At the foot of a bank the slopes over two lengths differ, which counts into the sigma."""

    def bank(x, y):
        return 0.4 * np.maximum(x - 2.0, 0.0) + 0 * y

    foot = surface_slope_tan(bank, at_x_m=[0.0], at_y_m=[0.0], bearing_deg=[90])
    assert foot.slope_tan[0] == pytest.approx(0.0, abs=1e-12)
    assert foot.sigma_tan[0] == pytest.approx(np.hypot(np.tan(np.radians(1.5)), 0.1))
    edge = surface_slope_tan(
        lambda x, y: np.where(x < 3, 0.1 * y, np.nan), at_x_m=[0], at_y_m=[0], bearing_deg=[90]
    )
    assert edge.sigma_tan[0] == pytest.approx(2 * np.tan(np.radians(1.5)))


PLANES = st.tuples(*[st.floats(-0.5, 0.5, allow_subnormal=False)] * 2, st.floats(-100, 3000))


@given(plane=PLANES, seed=st.integers(0, 2**32 - 1))
def test_triangles_between_points_of_a_plane_are_that_plane(plane, seed):
    """Whatever points are given, a plane comes back within their hull and the reach."""
    along_x, along_y, height = plane
    xy = np.random.default_rng(seed).uniform(5e5, 5e5 + 40, (30, 2))
    ground = triangulate_heights(
        np.column_stack((xy, along_x * xy[:, 0] + along_y * xy[:, 1] + height)), reach_m=60
    )
    x, y = xy.mean(axis=0)
    assert float(ground(x, y)) == pytest.approx(along_x * x + along_y * y + height, abs=1e-6)
    assert np.isnan(ground(5e5 + 1e4, 5e5))


def test_ground_far_from_every_point_is_not_known():
    """Between two banks of points a hundred metres apart nothing was measured."""
    points = [[x, y, 1.0] for x in (0.0, 100.0) for y in (0.0, 10.0)]
    ground = triangulate_heights(points, reach_m=25)
    assert ground([2.0, 50.0], [5.0, 5.0]).tolist() == [1.0, pytest.approx(np.nan, nan_ok=True)]


@pytest.mark.parametrize(
    "points",
    [[], [[0, 0, 1], [1, 0, 1]], [[0, 0, 1], [1, 1, 2], [2, 2, 3]], [[0, 0, np.nan]] * 5],
    ids=["none", "two", "in one line", "no heights"],
)
def test_points_that_make_no_triangle_are_no_surface(points):
    """Such a file says nothing of a slope."""
    with pytest.raises(ValueError, match="three points or more"):
        triangulate_heights(points, reach_m=25)
