"""Stretches that drawings mark."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import shapely
from hypothesis import given
from hypothesis import strategies as st

from wiremap.write.stretches import inferred_stretches, join_stretches, shallow_stretches


def make_segments(rows):
    """Return segments from (run, chainage from, chainage to, evidence, cover)."""
    return gpd.GeoDataFrame(
        {
            "run": [row[0] for row in rows],
            "chainage_from_m": [float(row[1]) for row in rows],
            "chainage_to_m": [float(row[2]) for row in rows],
            "evidence": [row[3] for row in rows],
            "cover_low_m": [row[4] for row in rows],
        },
        geometry=[shapely.LineString([(row[1], 0, 9), (row[2], 0, 9)]) for row in rows],
        crs="EPSG:26914",
    )


ROWS = [
    ("W1", 0, 10, "traced", 0.3),
    ("W1", 10, 40, "inferred", 0.1),
    ("W1", 40, 70, "inferred", np.nan),
    ("W2", 70, 100, "inferred", 0.1),
    ("W2", 120, 150, "inferred", 0.1),
]


def test_neighbours_of_one_run_are_joined_and_runs_and_gaps_part_them():
    """W1 gives one line of two rows; W2 is another wire, and its second row stands apart."""
    found = inferred_stretches(make_segments(ROWS))
    assert found.runs.tolist() == ["W1", "W2", "W2"]
    assert found.from_m.tolist() == [10, 70, 120]
    assert found.to_m.tolist() == [70, 100, 150]
    assert shapely.get_num_coordinates(found.lines).tolist() == [3, 2, 2]
    assert not shapely.has_z(found.lines).any()


def test_a_depth_that_is_not_known_is_not_shallow():
    """NaN is below no limit."""
    found = shallow_stretches(make_segments(ROWS), min_cover_m=0.152)
    assert found.from_m.tolist() == [10, 70, 120]
    assert found.to_m.tolist() == [40, 100, 150]


@given(st.lists(st.booleans(), min_size=1, max_size=30))
def test_joining_neither_loses_nor_adds_length(chosen):
    """Whatever rows are chosen, their lines are as long as the rows."""
    segments = make_segments([("W1", k, k + 1, "traced", 0.3) for k in range(len(chosen))])
    found = join_stretches(segments, np.array(chosen))
    assert shapely.length(found.lines).sum() == sum(chosen)
    assert (found.to_m - found.from_m).sum() == sum(chosen)
