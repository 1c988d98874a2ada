"""Wires as the map carries them, and the lanes of a shared trench."""

from __future__ import annotations

import json

import geopandas as gpd
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import LineString
from synthetic_layers import CRS, make_layers

from wiremap.draw.lanes import find_lanes, lanes_at_vertices
from wiremap.draw.wires import wire_features


def features(layers):
    return json.loads(wire_features(layers))["features"]


def test_a_run_is_one_line_with_its_values_along_it():
    """Vertices, pieces, and the columns of wire_runs are all there."""
    layers = make_layers(3, points_per_run=10).layers
    segments = layers["wire_segments"]
    found = features(layers)

    assert [f["properties"]["run"] for f in found] == ["W1", "W2", "W3"]
    for f in found:
        own = segments[segments["run"] == f["properties"]["run"]]
        p = f["properties"]
        assert len(f["geometry"]["coordinates"]) == len(own) + 1
        assert len(p["chainage"]) == len(p["depth"]) == len(own) + 1
        assert len(p["cover"]) == len(p["evidence"]) == len(own)
        assert p["depth"][:-1] == pytest.approx(own["depth_from_m"], abs=6e-4)
        assert p["depth"][-1] == pytest.approx(own["depth_to_m"].iloc[-1], abs=6e-4)
        assert p["evidence"] == "".join(word[0] for word in own["evidence"])
        assert p["end_kind"] in {"valve", "lost"}


def test_a_gap_in_a_run_breaks_its_line():
    """Two stretches that do not meet are two features of one run."""
    layers = make_layers(1, points_per_run=10).layers
    layers["wire_segments"] = layers["wire_segments"].drop(index=4)

    assert [len(f["geometry"]["coordinates"]) for f in features(layers)] == [5, 5]


def test_stretches_with_bends_keep_their_bends_and_their_chainage():
    """Depth and chainage at a bend come from its share of the stretch."""
    layers = {
        "wire_segments": gpd.GeoDataFrame(
            {"run": ["A"], "chainage_from_m": [0.0], "chainage_to_m": [10.0],
             "depth_from_m": [0.2], "depth_to_m": [0.4]},
            geometry=[LineString([(0, 0), (3, 0), (3, 3), (7, 3)])], crs=CRS,
        )
    }  # fmt: skip
    (found,) = features(layers)

    assert found["properties"]["chainage"] == [0, 3, 6, 10]
    assert found["properties"]["depth"] == [0.2, 0.26, 0.32, 0.4]


def test_runs_stand_in_where_there_are_no_stretches():
    """A job that has lines only can be mapped too."""
    layers = make_layers(2).layers
    found = features({"wire_runs": layers["wire_runs"]})

    assert [f["properties"]["zones"] for f in found] == ["1", "2"]


def test_no_wires_give_an_empty_collection():
    """Missing and empty layers alike."""
    layers = make_layers(1).layers
    assert features({}) == []
    assert features({"wire_segments": layers["wire_segments"].iloc[:0]}) == []


def test_wires_of_one_trench_take_lanes_beside_each_other():
    """Three alike wires lie left, middle and right, whichever way each was walked."""
    starts = np.array([[0, 0], [20, 0.1], [0, 0.2]], dtype=float)
    ends = np.array([[20, 0], [0, 0.1], [20, 0.2]], dtype=float)
    lanes = find_lanes(starts, ends, runs=np.array([0, 1, 2]))

    to_the_south = lanes * np.sign(ends[:, 0] - starts[:, 0])
    assert to_the_south.tolist() == [-1, 0, 1]


def test_a_crossing_or_a_distant_wire_shares_no_trench():
    """Wires that cross, or lie over 0.6 m apart, are drawn where they are."""
    starts = np.array([[0, 0], [10, -5], [0, 0.7]], dtype=float)
    ends = np.array([[20, 0], [10, 5], [20, 0.7]], dtype=float)

    assert find_lanes(starts, ends, runs=np.array([0, 1, 2])).tolist() == [0, 0, 0]


@given(st.integers(1, 30))
def test_a_bundle_stays_six_lanes_wide_and_balanced(wires):
    """Many wires are drawn closer; their lanes differ and sum to nothing."""
    starts = np.column_stack([np.zeros(wires), np.linspace(0, 0.3, wires)])
    lanes = find_lanes(starts, starts + np.array([9.0, 0.0]), runs=np.arange(wires))

    assert len(set(np.round(lanes, 9))) == wires
    assert lanes.sum() == pytest.approx(0, abs=1e-9)
    assert np.ptp(lanes) <= 6


def test_lanes_meet_halfway_at_a_vertex():
    """Two chains do not touch each other's lanes."""
    lanes = np.array([1.0, 0.0, -2.0])

    assert lanes_at_vertices(lanes, chains=np.array([0, 0, 1])).tolist() == [1, 0.5, 0, -2, -2]


def test_no_wire_at_all_has_no_lanes():
    """Empty in, empty out."""
    none = np.empty((0, 2))

    assert find_lanes(none, none, runs=np.empty(0, dtype=int)).tolist() == []
    assert lanes_at_vertices(np.empty(0), chains=np.empty(0, dtype=int)).tolist() == []
