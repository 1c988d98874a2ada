"""Straightening the zigzag of coarse marks."""

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from walked_wires import legs_wire, marks_on, noisy, straight, winding_wire

from wiremap.formulas.smoothing import straighten


def straightened(xy, sigma_m, held=()):
    hold = np.zeros(len(xy), dtype=bool)
    hold[list(held)] = True
    return straighten(xy, np.zeros(len(xy), dtype=np.int64), np.full(len(xy), sigma_m), hold)


def path_error(wire, vertices):
    every = shapely.points(shapely.get_coordinates(shapely.segmentize(wire, 0.5)))
    return shapely.distance(every, shapely.LineString(vertices)).mean()


@pytest.mark.parametrize("make", [legs_wire, winding_wire])
def test_coarse_marks_come_nearer_to_the_wire(make):
    """Sixty invented wires, marks 4 m apart with 0.5 m RMS: a tenth less path error at least."""
    rng = np.random.default_rng(4)
    before, after = [], []
    for _ in range(60):
        wire = make(rng)
        xy = noisy(marks_on(wire, rng), rng, 0.5)
        before.append(path_error(wire, xy))
        after.append(path_error(wire, straightened(xy, 0.5 / np.sqrt(2))))

    assert np.mean(after) < 0.9 * np.mean(before)


@pytest.mark.parametrize("make", [legs_wire, winding_wire])
def test_accurate_marks_stay_where_they_are(make):
    """At 2 cm RMS the path error moves by no more than a millimetre."""
    rng = np.random.default_rng(4)
    for _ in range(20):
        wire = make(rng)
        xy = noisy(marks_on(wire, rng), rng, 0.02)

        assert path_error(wire, straightened(xy, 0.0141)) < path_error(wire, xy) + 1e-3


def test_accurate_marks_under_a_coarse_statement_are_not_bent():
    """Straight legs marked to 2 cm, stated as 0.5 m: the line's own zigzag says better."""
    rng = np.random.default_rng(4)
    wire = legs_wire(rng)
    xy = noisy(marks_on(wire, rng), rng, 0.02)

    assert path_error(wire, straightened(xy, 0.354)) < path_error(wire, xy) + 5e-3


def test_a_marked_corner_is_not_cut():
    """On the mean of forty walks a right angle moves by less than one standard deviation."""
    rng = np.random.default_rng(9)
    legs = np.concatenate([straight(40.0), [40, 0] + straight(40.0)[1:, ::-1]])
    moved = [straightened(noisy(legs, rng, 0.5), 0.354)[10] - [40, 0] for _ in range(40)]

    assert np.hypot(*np.mean(moved, axis=0)) < 0.354


@given(st.integers(0, 10**6), st.floats(0.05, 1.5))
def test_no_vertex_moves_beyond_two_standard_deviations_and_held_ones_not_at_all(seed, sigma_m):
    """The shift is held to the mark's own accuracy; devices stay."""
    rng = np.random.default_rng(seed)
    xy = noisy(marks_on(winding_wire(rng), rng), rng, 1.0)
    moved = straightened(xy, sigma_m, held=(0, 7))

    assert np.hypot(*(moved - xy).T).max() <= 2.0 * sigma_m + 1e-9
    assert moved[[0, 7]] == pytest.approx(xy[[0, 7]])


@given(st.integers(0, 10**6), st.floats(0, 6.3))
def test_straightening_turns_with_the_plane(seed, angle):
    """Turned and shifted marks give the turned and shifted line."""
    rng = np.random.default_rng(seed)
    xy = noisy(marks_on(winding_wire(rng, 60.0), rng), rng, 0.5)
    turn = np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])

    there = straightened(xy @ turn + [1e5, -2e5], 0.354)

    assert there == pytest.approx(straightened(xy, 0.354) @ turn + [1e5, -2e5], abs=1e-5)


def test_two_points_stay():
    """A line without an inner vertex has nothing to straighten."""
    xy = np.array([[0.0, 0.0], [5.0, 1.0]])

    assert straightened(xy, 1.0).tolist() == xy.tolist()
