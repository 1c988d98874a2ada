"""Depth pairs against check values of the field of a long straight conductor.

Values are from the project's table of check values, section on locating physics: computed there
from the law of Biot and Savart, independent of this code; the law itself is in any text on
electromagnetism.
"""

from __future__ import annotations

import numpy as np
import pytest
from field import Hand, Section, take_pairs
from hypothesis import given
from hypothesis import strategies as st

from wiremap.formulas.depth_pairs import (
    cross_slope_tan,
    null_offset_m,
    one_sided_depth_m,
    reduce_pairs,
    two_sided_depth_m,
)

DEPTH_M = 0.30
SLOPES = [
    (5, 0.33002, 0.27692, 0.30347, 0.32876, 0.27586),
    (10, 0.36984, 0.25897, 0.31440, 0.36422, 0.25503),
    (15, 0.42426, 0.24495, 0.33461, 0.40981, 0.23660),
    (20, 0.50195, 0.23406, 0.36800, 0.47168, 0.21995),
    (30, 0.81962, 0.21962, 0.51962, 0.70981, 0.19019),
]


@pytest.mark.parametrize(
    ("lean_deg", "offset_m"),
    [(45, 0.30000), (44, 0.28971), (46, 0.31066), (43, 0.27975), (47, 0.32171), (40, 0.25173),
     (50, 0.35753), (30, 0.17321), (60, 0.51962)],
)  # fmt: skip
def test_null_of_a_leaning_receiver_on_level_ground_stands_at_depth_times_tangent(
    lean_deg, offset_m
):
    """Check values: coil tilted t from vertical, null at x = d tan t, d 0.30 m."""
    assert null_offset_m(DEPTH_M, lean_deg=lean_deg) == pytest.approx(offset_m, abs=6e-6)
    assert one_sided_depth_m(offset_m, lean_deg=lean_deg) == pytest.approx(DEPTH_M, abs=2e-5)


@pytest.mark.parametrize(("slope_deg", "up", "down", "mean", "plan_up", "plan_down"), SLOPES)
def test_both_sides_give_the_depth_on_any_slope(slope_deg, up, down, mean, plan_up, plan_down):
    """Check values: table of slopes, offsets along the ground, d 0.30 m, lean by gravity."""
    assert null_offset_m(DEPTH_M, slope_deg=[slope_deg, -slope_deg]) == pytest.approx(
        [up, down], abs=6e-6
    )
    assert (up + down) / 2 == pytest.approx(mean, abs=1e-5)
    assert two_sided_depth_m(up, down) == pytest.approx(DEPTH_M, abs=1e-5)
    assert np.degrees(np.arctan(cross_slope_tan(up, down))) == pytest.approx(slope_deg, abs=2e-3)
    assert one_sided_depth_m(up, slope_deg=slope_deg) == pytest.approx(DEPTH_M, abs=2e-5)
    assert one_sided_depth_m(down, slope_deg=-slope_deg) == pytest.approx(DEPTH_M, abs=2e-5)


@pytest.mark.parametrize(("slope_deg", "up", "down", "mean", "plan_up", "plan_down"), SLOPES)
def test_plan_offsets_give_the_depth_as_their_harmonic_mean(
    slope_deg, up, down, mean, plan_up, plan_down
):
    """Check values: the depth is the harmonic mean of the plan offsets exactly."""
    assert 2 / (1 / plan_up + 1 / plan_down) == pytest.approx(DEPTH_M, abs=1e-5)
    pair = reduce_pairs(plan_up, plan_down, in_plan=True, mark_sigma_m=1e-6, path_sigma_m=1e-6,
                        lean_sigma_deg=1e-4)  # fmt: skip
    assert pair.depth_m == pytest.approx([DEPTH_M], abs=1e-5)


def test_slope_identities_hold_for_every_lean():
    """Depth and slope come back from the offsets that they make, leans 25 to 65 degrees."""
    lean, slope = (g.ravel() for g in np.meshgrid(np.arange(25, 66, 5.0), np.arange(-20, 21, 4.0)))
    left = null_offset_m(0.37, slope_deg=slope, lean_deg=lean)
    right = null_offset_m(0.37, slope_deg=-slope, lean_deg=lean)
    assert two_sided_depth_m(left, right, lean_deg=lean) == pytest.approx(0.37, rel=1e-12)
    assert cross_slope_tan(left, right, lean_deg=lean) == pytest.approx(np.tan(np.radians(slope)))


def test_no_null_where_the_ground_is_as_steep_as_the_lean_leaves():
    """At 45 degrees of lean the null runs off uphill when the ground itself rises 45 degrees."""
    assert np.isnan(null_offset_m(0.3, slope_deg=45.1))


@pytest.mark.parametrize(("error_deg", "mean_m"), [(1, 0.31066), (2, 0.32171), (5, 0.35753)])
def test_leaning_too_far_on_both_sides_makes_the_depth_too_great(error_deg, mean_m):
    """Check values: both sides over-tilted by e, the same sense of error."""
    offset = null_offset_m(DEPTH_M, lean_deg=45 + error_deg)
    assert two_sided_depth_m(offset, offset) == pytest.approx(mean_m, abs=1e-5)


@pytest.mark.parametrize(("error_deg", "mean_m"), [(1, 0.30018), (2, 0.30073), (5, 0.30463)])
def test_a_bubble_that_is_off_nearly_cancels_between_the_sides(error_deg, mean_m):
    """Check values: one side +e, the other -e; averaging removes it."""
    far, near = null_offset_m(DEPTH_M, lean_deg=[45 + error_deg, 45 - error_deg])
    assert (far + near) / 2 == pytest.approx(mean_m, abs=1e-5)
    assert two_sided_depth_m(far, near) == pytest.approx(DEPTH_M, rel=0.031)


def test_depth_changes_three_and_a_half_percent_for_a_degree_of_common_lean():
    """Check values: sensitivity at 45 degrees 2d per radian, 10.47 mm a degree at 0.30 m."""
    pair = reduce_pairs(0.3, 0.3, mark_sigma_m=1e-9, path_sigma_m=1e-9, lean_sigma_deg=1.0,
                        common_share=1.0, systematic_share=1.0)  # fmt: skip
    assert pair.depth_sigma_m == pytest.approx([0.01047], abs=2e-5)
    assert pair.systematic_sigma_m == pytest.approx(pair.depth_sigma_m, rel=1e-3)


@pytest.mark.parametrize(("height_m", "offset_m"), [(0.05, 0.35), (0.10, 0.40), (0.15, 0.45)])
def test_the_height_of_the_receiver_is_taken_off(height_m, offset_m):
    """Check values: receiver held h above ground, offset d + h."""
    pair = reduce_pairs(offset_m, offset_m, height_m=height_m, mark_sigma_m=1e-6, path_sigma_m=1e-6,
                        lean_sigma_deg=1e-4)  # fmt: skip
    assert pair.depth_m == pytest.approx([DEPTH_M], abs=1e-5)


@given(
    depth=st.floats(0.05, 1.0),
    slope=st.floats(-25, 25),
    lean=st.floats(30, 55),
    height=st.floats(0, 0.2),
    side=st.sampled_from(["left", "right", "both"]),
)
def test_a_pair_made_from_a_depth_reduces_to_that_depth(depth, slope, lean, height, side):
    """What the closed form makes, the reduction gives back, from either side or both."""
    left = null_offset_m(depth + height, slope_deg=slope, lean_deg=lean)
    right = null_offset_m(depth + height, slope_deg=-slope, lean_deg=lean)
    pair = reduce_pairs(
        np.nan if side == "right" else left, np.nan if side == "left" else right,
        lean_deg=lean, height_m=height, slope_tan=np.tan(np.radians(slope)),
        mark_sigma_m=1e-7, path_sigma_m=1e-7, lean_sigma_deg=1e-5,
    )  # fmt: skip
    assert pair.depth_m == pytest.approx([depth], abs=1e-5)
    assert np.degrees(np.arctan(pair.slope_tan)) == pytest.approx([slope], abs=1e-3)


def test_a_place_without_offsets_gives_no_depth():
    """NaN in, NaN out; nothing is made up."""
    pair = reduce_pairs([np.nan], [np.nan])
    assert np.isnan(pair.depth_m).all()


@pytest.mark.parametrize("slope_deg", [0, 10, 20])
@pytest.mark.parametrize("depth_m", [0.15, 0.3, 0.6])
@pytest.mark.parametrize("sides", [1, 2])
def test_propagated_sigma_agrees_with_a_monte_carlo(slope_deg, depth_m, sides):
    """Stated and simulated scatter within 6 %, bias under a fifth of the scatter."""
    n, rng = 8000, np.random.default_rng(11)
    slope = np.tan(np.radians(slope_deg))
    left = null_offset_m(depth_m, slope_deg=slope_deg)
    right = null_offset_m(depth_m, slope_deg=-slope_deg)
    stated = reduce_pairs(
        left, right if sides == 2 else np.nan, slope_tan=slope, slope_sigma_tan=0.03
    )
    lean = np.radians(2.0) * rng.normal(size=(3, n))
    common = own = np.sqrt(0.5)
    path, one, two = 0.015 * rng.normal(size=(3, n))
    at_left = np.degrees(common * lean[0] + own * lean[1]) + 45
    at_right = np.degrees(common * lean[0] + own * lean[2]) + 45
    simulated = reduce_pairs(
        null_offset_m(depth_m, slope_deg=slope_deg, lean_deg=at_left) + path + one,
        null_offset_m(depth_m, slope_deg=-slope_deg, lean_deg=at_right) - path + two
        if sides == 2
        else np.nan,
        slope_tan=slope + 0.03 * rng.normal(size=n), slope_sigma_tan=0.03,
    ).depth_m  # fmt: skip
    assert stated.depth_sigma_m[0] == pytest.approx(simulated.std(), rel=0.06)
    assert abs(simulated.mean() - depth_m) < 0.2 * simulated.std()


@pytest.mark.parametrize("common_share", [0.0, 0.5, 1.0])
@pytest.mark.parametrize("slope_deg", [0, 10, 20])
def test_stated_intervals_hold_the_depth_as_often_as_they_say(common_share, slope_deg):
    """Pairs taken in a simulated field, depths 0.1 to 0.6 m: 92 to 99 % in each cell.

    The sides' lean errors may have anything in common; the share assumed lies between.
    """
    rng = np.random.default_rng(5)
    depth = np.linspace(0.1, 0.6, 1500)
    section = Section(depth, np.full(1500, np.tan(np.radians(slope_deg))))
    hand = Hand(common_share=common_share, systematic_share=0.0)
    left, right = take_pairs(section, hand, rng)
    pair = reduce_pairs(np.maximum(left, 0.01), np.maximum(right, 0.01))
    held = np.abs(pair.depth_m - depth) < 1.96 * pair.depth_sigma_m
    assert 0.925 <= held.mean() <= 0.985
