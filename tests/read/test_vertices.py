"""Features as rows with positions, whatever their mix."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from wiremap.read.layers import Layer
from wiremap.read.vertices import tabulate_layer

_NUMBERS = st.floats(1, 80)
_PLACES = st.tuples(_NUMBERS, _NUMBERS)
_SHAPES = (
    st.builds(shapely.Point, _PLACES)
    | st.builds(shapely.LineString, st.lists(_PLACES, min_size=2, max_size=6))
    | st.builds(shapely.MultiPoint, st.lists(_PLACES, min_size=1, max_size=3))
    | st.sampled_from([None, shapely.Point(), shapely.Point(np.nan, 1.0)])
)


@settings(deadline=None)
@given(st.lists(_SHAPES, max_size=8))
def test_every_position_is_a_row_or_a_problem(shapes):
    """Positions keep their order; each feature without one is named by its number."""
    geometries = np.array([*shapes, None], dtype=object)[:-1]
    frame = pd.DataFrame({"n": range(len(shapes))}, index=range(1, len(shapes) + 1))
    table = tabulate_layer(Layer("marks", frame, geometries, "EPSG:4326"))
    good = [s for s in shapes if s is not None and not s.is_empty and np.isfinite(s.bounds).all()]
    xy = np.concatenate([np.empty((0, 2)), *(shapely.get_coordinates(s) for s in good)])
    assert table.frame[["lon", "lat"]].to_numpy().tolist() == xy.tolist()
    left_out = {number for number, s in enumerate(shapes, 1) if not any(s is g for g in good)}
    assert {problem.row for problem in table.problems} == left_out
    assert set(table.frame.index) == set(frame.index) - left_out


@settings(deadline=None)
@given(st.lists(st.integers(2, 5), min_size=1, max_size=5))
def test_points_of_lines_are_numbered_within_their_line(lengths):
    """Identifiers are unique in the layer."""
    lines = [shapely.LineString(np.arange(2 * n).reshape(n, 2) + 1.0) for n in lengths]
    frame = pd.DataFrame({"Run": [f"R{k}" for k in range(len(lines))]})
    table = tabulate_layer(Layer("runs", frame, np.array(lines, dtype=object), "EPSG:26914"))
    expected = [f"R{k}-{i + 1}" for k, n in enumerate(lengths) for i in range(n)]
    assert table.frame["point"].tolist() == expected
    assert table.frame["Run"].tolist() == [name.partition("-")[0] for name in expected]


@pytest.mark.parametrize(
    ("layer", "feature"),
    [("valves", "valve"), ("Quick Couplers", "quick_coupler"), ("marks", "")],
)
def test_a_layer_named_after_a_kind_says_what_its_points_are(layer, feature):
    """A feature that a row states itself goes before it."""
    points = shapely.points([[1, 2], [3, 4]])
    frame = pd.DataFrame({"feature": [None, "splice"]})
    table = tabulate_layer(Layer(layer, frame, points, "EPSG:4326"))
    assert table.frame["feature"].fillna("").tolist() == [feature, "splice"]


def test_a_name_of_a_layer_is_shown_without_control_characters():
    """It goes to messages on a terminal."""
    frame = pd.DataFrame({"n": [1]})
    table = tabulate_layer(Layer("a\x1b[31m\nb", frame, shapely.points([[1, 2]]), None))
    assert table.part == "a[31mb"
