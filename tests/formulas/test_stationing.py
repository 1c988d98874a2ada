"""Where points fall along one polyline, and where its chainages lie."""

import tracemalloc

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from wiremap.formulas.polylines import chainages
from wiremap.formulas.stationing import locate_on_line, points_at, project_on_line

LINE = np.array([[0.0, 0.0], [4.0, 0.0], [4.0, 3.0], [9.0, 15.0]])
ONE = np.zeros(4, dtype=np.int64)


@given(st.lists(st.tuples(st.floats(-50, 50), st.floats(-50, 50)), min_size=1, max_size=8))
def test_projection_inside_the_line_agrees_with_the_geometry_library(places):
    """Chainage and distance of points agree with shapely wherever the foot is not beyond an end."""
    points = np.array(places)
    line = shapely.LineString(LINE)
    chainage, offset = project_on_line(points, LINE)
    inside = (chainage > 1e-6) & (chainage < 20 - 1e-6)

    for place, along, away in zip(points[inside], chainage[inside], offset[inside], strict=True):
        point = shapely.Point(place)
        assert abs(away) == pytest.approx(line.distance(point), abs=1e-9)
        foot = line.interpolate(along)
        assert foot.distance(point) == pytest.approx(line.distance(point), abs=1e-9)


def test_projection_beyond_the_ends_carries_the_end_legs_on():
    """Before the first vertex chainage is negative, after the last one beyond the length."""
    chainage, offset = project_on_line(np.array([[-3.0, 1.0], [9.0 + 5, 15.0 + 12]]), LINE)

    assert chainage == pytest.approx([-3.0, 33.0])
    assert offset == pytest.approx([1.0, 0.0])


def test_points_come_back_from_their_chainages():
    """points_at undoes chainages at the vertices."""
    assert points_at(chainages(LINE, ONE), LINE) == pytest.approx(LINE)


def test_walks_of_a_log_need_no_table_of_all_pairs():
    """20,000 marks on 20,000 legs: all pairs would take 6.4 GB. Places known by construction."""
    x = np.linspace(0.0, 40_000.0, 20_001)
    line = np.column_stack([x, np.zeros(len(x))])
    marks = np.column_stack([x[:-1] + 1.0, np.full(20_000, 0.25)])

    tracemalloc.start()
    chainage, offset = project_on_line(marks, line)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()

    assert chainage == pytest.approx(marks[:, 0])
    assert offset == pytest.approx(marks[:, 1])
    assert peak < 100e6


def test_a_point_as_near_to_two_legs_lies_on_the_first():
    """The middle of a square walked round: all four sides are as near."""
    square = np.array([[0.0, 0.0], [4.0, 0.0], [4.0, 4.0], [0.0, 4.0], [0.0, 0.0]])

    chainage, offset = project_on_line(np.array([[2.0, 2.0]]), square)

    assert (chainage.tolist(), offset.tolist()) == ([2.0], [2.0])


def test_places_on_a_line_are_those_that_the_geometry_library_finds():
    """200 random points beside 40 random lines, held against shapely."""
    rng = np.random.default_rng(4)
    for _ in range(40):
        line = np.cumsum(rng.normal(0, 3, (12, 2)), axis=0)
        points = line[rng.integers(0, 12, 5)] + rng.normal(0, 2, (5, 2))
        chainage, distance = locate_on_line(points, line)
        wire, marks = shapely.linestrings(line), shapely.points(points)
        assert distance == pytest.approx(shapely.distance(marks, wire), abs=1e-9)
        assert chainage == pytest.approx(shapely.line_locate_point(wire, marks), abs=1e-9)
