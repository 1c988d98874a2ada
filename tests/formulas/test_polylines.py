"""Arithmetic on polylines."""

import numpy as np
import pytest

from wiremap.formulas.polylines import (
    chainages,
    directions,
    distances_to_segments,
    headings_deg,
    leg_directions,
    length_moments,
    turns_deg,
)

LINE = np.array([[0.0, 0.0], [4.0, 0.0], [4.0, 3.0], [9.0, 15.0]])
ONE = np.zeros(4, dtype=np.int64)


def test_chainage_is_the_length_walked_so_far():
    """Right triangles: legs of 4, 3 and 13 m (5-12-13)."""
    assert chainages(LINE, ONE).tolist() == [0.0, 4.0, 7.0, 20.0]


def test_lines_do_not_run_into_each_other():
    """Two lines in one array give what each gives alone."""
    xy = np.concatenate([LINE, LINE + 100.0])
    line = np.repeat([0, 1], 4)

    assert chainages(xy, line).tolist() == chainages(LINE, ONE).tolist() * 2
    assert turns_deg(xy, line) == pytest.approx(np.tile(turns_deg(LINE, ONE), 2))
    assert directions(xy, line) == pytest.approx(np.tile(directions(LINE, ONE), (2, 1)))


def test_turns_are_positive_to_the_left():
    """A square walked anticlockwise turns 90 degrees left at each corner, clockwise right."""
    square = np.array([[0.0, 0], [1, 0], [1, 1], [0, 1]])

    assert turns_deg(square, ONE) == pytest.approx([0, 90, 90, 0])
    assert turns_deg(square[::-1], ONE) == pytest.approx([0, -90, -90, 0])


def test_coinciding_marks_take_the_direction_around_them():
    """A point located twice at one place does not stop the walk."""
    twice = np.array([[0.0, 0], [0, 0], [5, 0], [5, 0], [5, 5]])

    before, after = leg_directions(twice, np.zeros(5, dtype=np.int64))

    assert before.tolist() == [[1, 0], [1, 0], [1, 0], [1, 0], [0, 1]]
    assert after.tolist() == [[1, 0], [1, 0], [0, 1], [0, 1], [0, 1]]


def test_all_marks_at_one_place_have_no_direction():
    """No direction is made up where there is none."""
    same = np.zeros((3, 2))

    assert not directions(same, np.zeros(3, dtype=np.int64)).any()
    assert headings_deg(np.zeros((1, 2))).tolist() == [0.0]


def test_empty_input_gives_empty_arrays():
    """No vertices, no lines."""
    none, line = np.empty((0, 2)), np.empty(0, dtype=np.int64)

    assert (
        len(chainages(none, line)) == len(turns_deg(none, line)) == len(directions(none, line)) == 0
    )


def test_distance_to_a_segment_without_length_is_that_to_its_point():
    """A 3-4-5 triangle."""
    start = np.array([[0.0, 0.0]])

    assert distances_to_segments(np.array([[3.0, 4.0]]), start, start).tolist() == [5.0]


def test_length_variance_and_excess_agree_with_a_simulation():
    """20,000 draws of a bent line with independent errors: variance within 5 %, mean excess within
    10 % (outside fact: the Monte Carlo itself)."""
    rng = np.random.default_rng(3)
    xy = np.column_stack([np.arange(0.0, 60.0, 6.0), np.zeros(10)])
    xy[5:, 1] = np.arange(5) * 3.0
    line = np.zeros(10, dtype=np.int64)
    covariance = np.tile([0.09, 0.02, 0.04], (10, 1))
    variance, excess = length_moments(xy, line, covariance)

    errors = rng.multivariate_normal([0, 0], [[0.09, 0.02], [0.02, 0.04]], (20000, 10))
    lengths = np.linalg.norm(np.diff(xy + errors, axis=1), axis=2).sum(axis=1)

    last = np.array([6.0, 3.0]) / np.hypot(6.0, 3.0)
    ends = 0.09 + last @ [[0.09, 0.02], [0.02, 0.04]] @ last
    assert np.sqrt(variance[-1] + ends) == pytest.approx(lengths.std(), rel=0.05)
    assert excess[-1] == pytest.approx(lengths.mean() - chainages(xy, line)[-1], rel=0.1)
