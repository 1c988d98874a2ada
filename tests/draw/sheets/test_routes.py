"""Dimension points of the routing."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from wiremap.draw.sheets.routes import (
    LONGEST_STEP_M,
    choose_references,
    depths_at,
    dimension_route,
)

MILLIMETRES = st.integers(-80_000, 80_000).map(lambda count: count / 1000)
STEPS = st.lists(st.tuples(MILLIMETRES, MILLIMETRES), min_size=2, max_size=12)


@settings(max_examples=40)
@given(st.lists(STEPS, min_size=1, max_size=4))
def test_no_two_points_of_a_run_are_further_apart_than_100_feet(walks):
    """A county development standard: routing dimensioned at most 100 ft apart and at turns."""
    lines = np.array([shapely.LineString(np.cumsum(walk, axis=0)) for walk in walks], dtype=object)
    route = dimension_route(lines)
    for number, line in enumerate(lines):
        own = route.run == number
        along = route.chainage_m[own]
        if line.length == 0:
            continue
        assert along[0] == 0
        assert along[-1] == pytest.approx(line.length)
        assert (np.diff(along) <= LONGEST_STEP_M + 1e-6).all()
        assert set(route.kind[own]) <= {"start", "turn", "through", "end"}


def test_a_right_angle_is_a_turn_and_scatter_is_none():
    """The marks scatter by a few centimetres; the wire turns once."""
    x = np.linspace(0, 20, 21)
    scatter = 0.05 * np.array([(-1) ** n for n in range(21)])
    there = np.column_stack([x, scatter])
    back = np.column_stack([20 + scatter[1:], x[1:]])
    route = dimension_route(np.array([shapely.LineString(np.vstack([there, back]))]))

    assert route.kind.tolist() == ["start", "turn", "end"]
    assert route.chainage_m[1] == pytest.approx(20, abs=0.3)


def test_empty_lines_have_no_points():
    """A run without a line is no error."""
    route = dimension_route(np.array([shapely.LineString()]))
    assert len(route.run) == len(route.xy) == 0


def test_depths_come_from_the_curve_and_are_not_carried_past_its_ends():
    """Halfway between 0.2 m and 0.4 m lies 0.3 m; beyond the curve nothing is known."""
    route = dimension_route(np.array([shapely.LineString([(0, 0), (10, 0), (10, 10)])]))
    curves = pd.DataFrame(
        {
            "run": "W1",
            "chainage_m": [5.0, 15.0],
            "depth_m": [0.2, 0.4],
            "depth_sigma_m": [0.02, 0.02],
        }
    )
    found = depths_at(route, np.array(["W1"], dtype=object), curves)

    assert found[1].tolist() == pytest.approx([0.3, 0.02])
    assert np.isnan(found[[0, 2]]).all()


def test_references_that_cross_at_a_good_angle_are_chosen():
    """A pair in line with the point fixes nothing, however near."""
    references = np.array([(1.0, 0.0), (2.0, 0.0), (0.0, 8.0)])
    found = choose_references(np.zeros((1, 2)), references, reach_m=30.0)

    assert sorted([found.first[0], found.second[0]]) == [0, 2]
    assert sorted([found.first_m[0], found.second_m[0]]) == [1.0, 8.0]


@pytest.mark.parametrize(
    "references", [[], [(3.0, 0.0)], [(3.0, 0.0), (4.0, 0.0)], [(300.0, 0.0), (0.0, 300.0)]]
)
def test_where_no_two_references_serve_there_is_no_tie(references):
    """None, one, two in line, two out of reach."""
    found = choose_references(np.zeros((2, 2)), np.array(references).reshape(-1, 2), reach_m=30.0)
    assert (found.first == -1).all()
    assert np.isnan(found.second_m).all()


def test_no_reference_behind_a_house_is_chosen():
    """From (5, -2) the far corners of a house of 10 by 8 m are hidden, the near ones and a post not."""
    references = np.array([(0.0, 0.0), (10.0, 0.0), (10.0, 8.0), (0.0, 8.0), (5.0, -9.0)])
    here, house = np.array([(5.0, -2.0)]), np.array([shapely.box(0, 0, 10, 8)])

    seen = choose_references(here, references, reach_m=30.0, buildings=house)
    hidden = choose_references(here, references[[2, 3]], reach_m=30.0, buildings=house)

    assert {int(seen.first[0]), int(seen.second[0])} <= {0, 1, 4}
    assert int(hidden.first[0]) == -1
    assert int(choose_references(here, references[[2, 3]], reach_m=30.0).first[0]) == 0
