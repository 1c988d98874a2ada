"""Points off the line, rows out of order, passes over one wire."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from walked_wires import legs_wire, marks_on, noisy, straight, winding_wire

from wiremap.formulas.walks import find_outliers, is_disordered, split_passes, turn_back


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


def test_ends_are_never_outliers():
    """There is nothing beyond an end to hold it against."""
    xy = straight(24.0)
    xy[0, 1] = xy[-1, 1] = 9.0

    assert outliers(xy) == []


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


def passes_of(xy, *, visits=None, sigma_m=0.02):
    sigma = np.full(len(xy), sigma_m)
    line = np.zeros(len(xy), dtype=np.int64)
    visits = np.zeros(len(xy), dtype=np.int64) if visits is None else visits
    return split_passes(xy, turn_back(xy, line, sigma), visits, sigma).tolist()


def test_walking_back_is_another_pass():
    """Out over eleven marks and back over ten."""
    out = straight(40.0)

    assert passes_of(np.concatenate([out, out[::-1][1:] + 0.05])) == [0] * 11 + [1] * 10


def test_a_walk_on_another_day_over_the_same_wire_is_another_pass():
    """Two visits in the same sense."""
    out = straight(40.0)
    visits = np.repeat([0, 1], 11)

    assert passes_of(np.concatenate([out, out + 0.05]), visits=visits) == [0] * 11 + [1] * 11


def test_a_walk_on_another_day_that_goes_on_is_no_other_pass():
    """The second half of the wire, walked the next day."""
    visits = np.repeat([0, 1], 11)

    assert (
        passes_of(np.concatenate([straight(40), np.add(straight(40), [44, 0])]), visits=visits)
        == [0] * 22
    )


@pytest.mark.parametrize("backward", [False, True])
def test_a_walk_on_another_day_that_starts_along_the_wire_and_goes_on_is_another_pass(backward):
    """The last 12 m again, for the sake of certainty, and 28 m more; either way round."""
    second = np.add(straight(40.0)[:: -1 if backward else 1], [28.5, 0.0])
    visits = np.repeat([0, 1], 11)

    assert passes_of(np.concatenate([straight(40.0), second]), visits=visits) == list(visits)


def test_a_branch_traced_on_another_day_is_no_other_pass():
    """It shares 12 m in the middle of the wire and leaves it sideways."""
    branch = [[12.0, 0], [16, 0], [20, 0], [24, 0], [24, 4], [24, 8], [24, 12], [24, 16], [24, 20]]
    visits = np.repeat([0, 1], [11, 9])

    assert set(passes_of(np.concatenate([straight(40.0), branch]), visits=visits)) == {0}


def test_a_wire_that_turns_back_beside_itself_is_one_pass():
    """A hairpin whose legs lie three metres apart is a wire, not a second walk."""
    out = straight(40.0)

    assert passes_of(np.concatenate([out, np.add(out[::-1], [0, 3.0])])) == [0] * 22


def test_shuffled_rows_are_no_passes():
    """Rows in no order at all double back at most marks."""
    xy = np.random.default_rng(5).permutation(straight(120.0))

    assert set(passes_of(xy)) == {0}


@pytest.mark.parametrize("rms_m", [0.02, 0.5, 1.0])
def test_walking_back_is_seen_through_coarse_positions(rms_m):
    """Twenty winding wires walked out and back: two passes each, cut within three marks."""
    rng = np.random.default_rng(8)
    for _ in range(20):
        wire = winding_wire(rng, 120.0)
        out, back = marks_on(wire, rng), marks_on(wire, rng)[::-1]
        xy = noisy(np.concatenate([out, back]), rng, rms_m)
        found = np.array(passes_of(xy, sigma_m=rms_m / np.sqrt(2)))

        assert found.max() == 1
        assert abs(int((found == 0).sum()) - len(out)) <= 3


def test_a_later_visit_that_walks_past_a_lost_end_is_another_pass():
    """The first visit lost the tone half way; the second walked the whole wire."""
    first, second = np.arange(0, 22, 4.0), np.arange(0, 62, 4.0)
    xy = np.column_stack([np.append(first, second), np.zeros(len(first) + len(second))])
    visits = np.repeat([0, 1], [len(first), len(second)])
    passes = split_passes(xy, np.zeros(len(xy), bool), visits, np.full(len(xy), 0.05))
    assert passes.tolist() == visits.tolist()


def test_marks_farther_apart_than_the_corners_are_no_outliers():
    """Legs of 8 m at right angles, marked every 10 m: each mark stands off its neighbours."""
    zigzag = np.array([[0.0, 0], [8, 2], [10, 8], [16, 8], [16, 18], [24, 16], [24, 26]])

    assert outliers(zigzag) == []


def test_coarse_marks_that_double_back_by_noise_are_in_order():
    """Marks 0.5 m apart with a standard deviation of 0.6 m, and the same marks shuffled."""
    rng = np.random.default_rng(5)
    along = np.column_stack([np.arange(0.0, 60.0, 0.5), np.zeros(120)])
    noisy = along + rng.normal(0, 0.6, along.shape)
    one, sigma_m = np.zeros(120, dtype=int), np.full(120, 0.6)

    assert not is_disordered(noisy, one, sigma_m).any()
    assert is_disordered(noisy[rng.permutation(120)], one, sigma_m).all()
