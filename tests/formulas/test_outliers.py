"""Points off the line that their neighbours make."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from walked_wires import legs_wire, marks_on, noisy, straight, winding_wire

from wiremap.formulas.outliers import find_outliers


def outliers(xy, *, sigma_m=0.02, least_m=3.0, suspect=None):
    count = len(xy)
    every = np.ones(count, dtype=bool) if suspect is None else suspect
    line = np.zeros(count, dtype=np.int64)
    return np.flatnonzero(
        find_outliers(xy, line, np.full(count, sigma_m), every, least_m=least_m)
    ).tolist()


def test_a_lone_mark_off_a_straight_line_is_found():
    """Five metres square off a line of marks four metres apart."""
    xy = straight(40.0)
    xy[4, 1] = 5.0

    assert outliers(xy) == [4]


def test_two_lone_marks_with_one_between_are_both_found():
    """The first one found does not hide the next."""
    xy = straight(60.0)
    xy[[5, 7], 1] = 6.0, 7.0

    assert outliers(xy) == [5, 7]


def test_a_mark_is_held_against_its_own_accuracy():
    """Five metres off says nothing of positions with two metres of standard deviation."""
    xy = straight(40.0)
    xy[4, 1] = 5.0

    assert outliers(xy, sigma_m=2.0) == []


@pytest.mark.parametrize("turn_deg", [30.0, 60.0, 90.0, 120.0])
def test_a_genuine_corner_is_no_outlier(turn_deg):
    """Marks eight metres apart before and after a corner that is marked, or not."""
    turn = np.radians(turn_deg)
    arriving = np.column_stack([np.arange(-40.0, 1.0, 8.0), np.zeros(6)])
    leaving = np.arange(8.0, 41.0, 8.0)[:, None] * [np.cos(turn), np.sin(turn)]

    assert outliers(np.concatenate([arriving, leaving])) == []
    assert outliers(np.concatenate([arriving[:-1], leaving])) == []


@pytest.mark.parametrize("step_m", [3.0, 10.0])
def test_a_mark_that_the_walk_leaps_to_and_back_from_is_found_on_a_leg_carried_on(step_m):
    """The leg before the corner, carried on, goes right through the blunder five steps ahead."""
    legs = [[0.0, 0], [1, 0], [2, 0], [3, 0], [3, 1], [3, 2], [3, 3], [3, 4]]
    xy = step_m * np.array(legs)
    xy[4] = step_m * np.array([8.0, 0.0])

    assert outliers(xy) == [4]


def test_a_short_spur_to_a_valve_is_no_outlier():
    """A valve is seen, not heard: the walk may go out to it and come back."""
    xy = straight(40.0)
    xy[5] = [18.0, 6.0]
    heard = np.ones(len(xy), dtype=bool)
    heard[5] = False

    assert outliers(xy, suspect=heard) == []
    assert outliers(xy) == [5]


def test_a_spur_of_several_marks_is_no_outlier():
    """Out and back over two marks each way."""
    xy = np.concatenate(
        [straight(20.0), [[20, 4], [20, 8], [20, 4.2], [24, 0]], np.add(straight(20), [28, 0])]
    )

    assert outliers(xy) == []


def test_an_end_a_few_steps_off_is_no_outlier():
    """There is nothing beyond an end to hold it against."""
    xy = straight(24.0)
    xy[0, 1] = xy[-1, 1] = 9.0

    assert outliers(xy) == []


@pytest.mark.parametrize(("end", "beside"), [(0, 1), (-1, -2)])
def test_an_end_that_one_leap_to_the_side_leads_to_is_an_outlier(end, beside):
    """Five steps off; straight ahead, as wire goes on under paving, it is none."""
    aside, ahead = straight(24.0), straight(24.0)
    aside[end, 1] = 20.0
    ahead[end] += 5.0 * (ahead[end] - ahead[beside])

    assert outliers(aside) == [end % len(aside)]
    assert outliers(ahead) == []


@given(st.integers(0, 10**6))
def test_sound_walks_have_no_outliers(seed):
    """Legs and winding wires, coarse or fine marks two to eight metres apart."""
    rng = np.random.default_rng(seed)
    wire = legs_wire(rng) if seed % 2 else winding_wire(rng)
    rms = rng.choice([0.02, 0.5, 1.0])
    xy = noisy(marks_on(wire, rng, rng.choice([2.0, 4.0, 8.0])), rng, rms)

    assert outliers(xy, sigma_m=rms / np.sqrt(2)) == []


def test_neighbouring_lines_do_not_make_outliers():
    """Where one walk ends and the next begins nothing is compared."""
    xy = np.concatenate([straight(24.0), np.add(straight(24.0), [0, 500.0])])
    line = np.repeat([0, 1], 7)
    every = np.ones(14, dtype=bool)

    assert not find_outliers(xy, line, np.full(14, 0.02), every, least_m=3.0).any()


def test_marks_farther_apart_than_the_corners_are_no_outliers():
    """Legs of 8 m at right angles, marked every 10 m: each mark stands off its neighbours."""
    zigzag = np.array([[0.0, 0], [8, 2], [10, 8], [16, 8], [16, 18], [24, 16], [24, 26]])

    assert outliers(zigzag) == []
