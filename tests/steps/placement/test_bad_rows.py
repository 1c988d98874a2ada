"""Rows of any nonsense: findings, never an exception, and nothing placed without an rms."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tables_placement import UTM14, codes, finding, locates, place, references

NUMBERS = st.sampled_from(
    [None, np.nan, np.inf, -np.inf, 0.0, -1.0, 5.0, 30.0, -97.5, 6.4e5, 3.32e6, 1e300]
)
NAMES = st.sampled_from([None, "", " ", "A", "b", "Z", "é", "A;B"])
ROWS = st.fixed_dictionaries(
    {"point": NAMES, "feature": st.sampled_from(["path", "reference", "check_point", None])},
    optional={
        **dict.fromkeys(
            ("lon", "lat", "easting", "northing", "elevation_m", "order", "h_rms_m",
             "tie_a_dist_m", "tie_b_dist_m", "tie_c_dist_m", "baseline_chainage_m",
             "baseline_offset_m", "grid_x_m", "grid_y_m"), NUMBERS),
        **dict.fromkeys(("tie_a", "tie_b", "tie_c", "baseline_a", "baseline_b", "run"), NAMES),
        "tie_side": st.sampled_from([None, "left", "RIGHT", "up"]),
        "position_crs": st.sampled_from([None, "", UTM14, "EPSG:2277", "EPSG:4326", "no such crs"]),
    },
)  # fmt: skip
FIXED = st.fixed_dictionaries(
    {"reference": NAMES},
    optional={
        **dict.fromkeys(
            ("lon", "lat", "easting", "northing", "grid_x_m", "grid_y_m", "rms_m"), NUMBERS),
        "position_crs": st.sampled_from([None, UTM14, "EPSG:4326", "no such crs"]),
    },
)  # fmt: skip


@settings(max_examples=25, deadline=None)
@given(
    st.lists(ROWS, min_size=1, max_size=6),
    st.lists(FIXED, max_size=4),
    st.sampled_from([None, "EPSG:26914", "EPSG:2277", "EPSG:32655"]),
)
def test_nonsense_gives_findings_and_sound_points_only(rows, fixed, crs):
    """Every row is either placed with a finite rms or reported."""
    placed = place(locates(*rows), references(*fixed), **({"crs": crs} if crs else {}))
    assert np.isfinite(placed.locates.geometry.get_coordinates()).all().all()
    assert (placed.locates.position_rms_m > 0).all()
    assert np.isfinite(placed.locates.position_rms_m).all()
    if len(placed.locates) < len(rows):
        assert placed.findings
    assert (placed.references.rms > 0).all()


def test_an_unknown_crs_of_a_file_is_a_bad_value():
    """The rows of one file cannot be read; the rest is placed."""
    placed = place(
        locates({"point": "P", "lon": -97.5, "lat": 30.0},
                {"point": "Q", "lon": -97.5, "lat": 30.0, "position_crs": "EPSG:0"})
    )  # fmt: skip
    assert finding(placed, "bad-value").value == "EPSG:0"
    assert placed.locates.point.tolist() == ["P"]


def test_eastings_beside_degrees_need_a_projected_crs():
    """input_crs is geographic: eastings are read in the working CRS where one is given."""
    rows = locates({"point": "P", "easting": 644678.6, "northing": 3319793.2})
    assert "need a projected CRS" in finding(place(rows), "bad-value").message
    placed = place(rows, crs=UTM14)
    assert placed.locates.geometry.x[0] == pytest.approx(644678.6)


def test_a_stated_rms_of_nothing_is_not_believed():
    """0 and negative RMS fall back to the default."""
    rows = [
        {"point": f"P{i}", "lon": -97.5, "lat": 30.0, "h_rms_m": r}
        for i, r in enumerate((0, -1, 0.03))
    ]
    placed = place(locates(*rows), default_rms_m=0.7)
    assert placed.locates.position_rms_m.tolist() == pytest.approx([0.7, 0.7, 0.03])


def test_half_a_position_is_none():
    """A longitude alone places nothing."""
    assert codes(place(locates({"point": "P", "lon": -97.5}))) == ["no-position"]
