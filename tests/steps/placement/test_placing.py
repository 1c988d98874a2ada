"""The step as a whole: mixed kinds, references, check points, row order."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pyproj import Transformer
from tables_placement import UTM14, codes, finding, locates, place, references, xy

EAST, NORTH = 640_000.0, 3_320_000.0
CORNERS = {"A": (0.0, 0.0), "B": (30.0, 0.0), "C": (30.0, 20.0), "D": (0.0, 20.0)}
SPOTS = [(5.0, 8.0), (12.0, 15.0), (22.0, 6.0), (26.0, 25.0), (-6.0, 11.0)]


def corners():
    """Four corners in the map, with a site grid turned by nothing."""
    return references(
        *(
            {"reference": n, "easting": EAST + x, "northing": NORTH + y, "grid_x_m": x, "grid_y_m": y}
            for n, (x, y) in CORNERS.items()
        ),
        position_crs=UTM14, rms_m=0.01, kind="building corner",
    )  # fmt: skip


def test_one_property_placed_five_ways_agrees_within_what_is_stated():
    """GNSS, state plane feet, ties, baseline and grid, each with its noise: normalised errors."""
    rng = np.random.default_rng(8)
    k = 0.9998416  # plane metres in a ground metre here, from the frame of the same place
    to_deg = Transformer.from_crs(UTM14, "EPSG:4326", always_xy=True)
    to_feet = Transformer.from_crs("EPSG:32614", "EPSG:2277", always_xy=True)
    rows, truth = [], []
    for x, y in SPOTS * 4:
        east, north = EAST + x, NORTH + y
        noisy = np.array([east, north]) + rng.normal(0, 0.3, 2)
        lon, lat = to_deg.transform(*noisy)
        rows.append(
            {"lon": lon, "lat": lat, "h_rms_m": 0.3 * np.sqrt(2), "position_crs": "EPSG:4326"}
        )
        noisy = np.array([east, north]) + rng.normal(0, 0.02, 2)
        e_ft, n_ft = to_feet.transform(*noisy)
        rows.append({"easting": e_ft, "northing": n_ft, "h_rms_m": 0.02 * np.sqrt(2),
                     "position_crs": "EPSG:2277"})  # fmt: skip
        tapes = [(np.hypot(x - CORNERS[n][0], y - CORNERS[n][1])) / k for n in "AB"]
        rows.append({"tie_a": "A", "tie_b": "B", "tie_side": "left",
                     "tie_a_dist_m": tapes[0] + rng.normal(0, 0.02),
                     "tie_b_dist_m": tapes[1] + rng.normal(0, 0.02)})  # fmt: skip
        rows.append({"baseline_a": "A", "baseline_b": "B",
                     "baseline_chainage_m": x / k + rng.normal(0, 0.02) + np.radians(rng.normal(0, 0.5)) * y,
                     "baseline_offset_m": -y / k + rng.normal(0, 0.02)})  # fmt: skip
        rows.append({"grid_x_m": x + rng.normal(0, 0.02), "grid_y_m": y + rng.normal(0, 0.02)})
        truth += [(east, north)] * 5
    rows = [{"point": f"P{i}", **row} for i, row in enumerate(rows)]
    placed = place(locates(*rows), corners(), crs=UTM14)
    assert placed.frame.scale_factor == pytest.approx(k, abs=5e-6)
    assert len(placed.locates) == len(rows)
    error = xy(placed) - truth
    cov = placed.locates[["cov_xx_m2", "cov_xy_m2", "cov_xy_m2", "cov_yy_m2"]].to_numpy()
    chi2 = np.einsum("ni,nij,nj->n", error, np.linalg.inv(cov.reshape(-1, 2, 2)), error)
    for kind, mine in placed.locates.groupby("placed_by"):
        mean = chi2[mine.index].mean()
        assert 0.8 < mean < 3.5, (kind, mean)  # expected 2, of 20 points each


def test_a_row_with_several_positions_gets_the_smallest_rms_and_says_so():
    """Ties of 4 cm beat GNSS of half a metre."""
    row = {"point": "P", "easting": EAST + 5.2, "northing": NORTH + 8, "position_crs": UTM14,
           "grid_x_m": 5.0, "grid_y_m": 8.0}  # fmt: skip
    placed = place(locates(row), corners())
    assert placed.locates.placed_by[0] == "grid"
    assert dict(placed.notes)["rows with several kinds of position"].startswith("1;")
    assert "positions-disagree" not in codes(placed)


def test_positions_of_one_row_that_disagree_are_reported():
    """GNSS of 0.1 m and a grid position 3 m apart."""
    row = {"point": "P", "easting": EAST + 8, "northing": NORTH + 8, "position_crs": UTM14,
           "grid_x_m": 5.0, "grid_y_m": 8.0, "h_rms_m": 0.1}  # fmt: skip
    found = finding(place(locates(row), corners()), "positions-disagree")
    assert "3.00" in found.message
    assert "by grid" in found.message


def test_a_shift_that_many_rows_share_is_one_finding():
    """Fifty rows with eastings 1.2 m off their degrees: one cause, said once with its size."""
    to_deg = Transformer.from_crs(UTM14, "EPSG:4326", always_xy=True)
    rows = []
    for i in range(50):
        lon, lat = to_deg.transform(EAST + i, NORTH)
        rows.append({"point": f"P{i}", "lon": lon, "lat": lat, "easting": EAST + i + 1.2,
                     "northing": NORTH, "h_rms_m": 0.02})  # fmt: skip
    found = finding(place(locates(*rows), crs=UTM14), "positions-disagree")
    assert "50 rows" in found.message
    assert "1.200 m in the middle" in found.message


def test_a_row_without_any_position_is_reported_and_left_out():
    """One row of two has nothing; infinite coordinates are nothing too."""
    placed = place(
        locates({"point": "P", "lon": -97.5, "lat": 30.0}, {"point": "Q"},
                {"point": "R", "lon": np.inf, "lat": 30.0})
    )  # fmt: skip
    assert placed.locates.point.tolist() == ["P"]
    assert [f.subject for f in placed.findings if f.code == "no-position"] == ["Q", "R"]


def test_located_references_carry_ties():
    """Rows of feature reference are fixed points by their point name."""
    fixed = [
        {"point": n, "feature": "reference", "easting": EAST + x, "northing": NORTH + y,
         "position_crs": UTM14, "h_rms_m": 0.02}
        for n, (x, y) in CORNERS.items()
    ]  # fmt: skip
    row = {"point": "P", "tie_a": "A", "tie_a_dist_m": 13.0, "tie_b": "B", "tie_b_dist_m": 21.4,
           "tie_side": "left"}  # fmt: skip
    placed = place(locates(*fixed, row))
    assert placed.references.reference.tolist() == list("ABCD")
    assert placed.locates.placed_by.tolist() == ["survey"] * 4 + ["ties"]


def test_a_reference_located_twice_is_combined_and_a_contradiction_told():
    """Two positions of 2 cm, half a metre apart."""
    fixed = [
        {"point": "A", "feature": "reference", "easting": EAST + x, "northing": NORTH,
         "position_crs": UTM14, "h_rms_m": 0.02}
        for x in (0.0, 0.5)
    ]  # fmt: skip
    placed = place(locates(*fixed))
    assert (
        "2 positions lie up to 0.250 m from their mean"
        in finding(placed, "repeat-disagrees").message
    )
    assert placed.references.geometry.x[0] == pytest.approx(EAST + 0.25)
    assert placed.references.rms[0] > 0.1


def test_a_reference_listed_twice_alike_is_one_survey():
    """The same coordinates in two files do not make the position any better."""
    row = {"reference": "A", "easting": EAST, "northing": NORTH, "rms_m": 0.02}
    fixed = references(row, {**row, "reference": " a"}, position_crs=UTM14)
    placed = place(locates({"point": "P", "lon": -97.5475, "lat": 30.0023}), fixed)
    assert placed.references.reference.tolist() == ["A"]
    assert placed.references.rms[0] == pytest.approx(0.02)


def test_a_reference_without_position_is_reported():
    """It cannot carry a tie."""
    fixed = corners()
    fixed.loc[0, ["easting", "grid_x_m"]] = np.nan
    placed = place(locates({"point": "P", "lon": -97.5, "lat": 30.0}), fixed)
    assert finding(placed, "no-position").subject == "A"


@pytest.mark.parametrize(
    ("kind", "name", "permanent"),
    [("building corner", "A", True), ("curb", "A", True), ("oak tree", "A", False),
     ("fence_post", "A", False), ("flag", "A", False), ("", "NE corner", True),
     ("", "stake 3", False), ("light pole", "tree line", True)],
)  # fmt: skip
def test_references_that_grow_or_move_are_not_permanent(kind, name, permanent):
    """Public record standards: buildings, curbs, poles are permanent; trees, fences, flags not."""
    fixed = references(
        {"reference": name, "easting": EAST, "northing": NORTH, "kind": kind}, position_crs=UTM14
    )
    placed = place(locates({"point": "P", "grid_x_m": 1.0, "grid_y_m": 1.0}), fixed)
    assert placed.references.is_permanent.tolist() == [permanent]


def test_check_points_give_the_nssda_statement():
    """Twenty check points 0.3 m east and 0.4 m north off: RMSE 0.5, 95 % 2.4477 * 0.35 = 0.857 m."""
    known = [(10.0 * i, 7.0 * i) for i in range(20)]
    fixed = references(
        *({"reference": f"K{i}", "easting": EAST + x, "northing": NORTH + y, "elevation_m": 200.0}
          for i, (x, y) in enumerate(known)),
        position_crs=UTM14, rms_m=0.01,
    )  # fmt: skip
    rows = [
        {"point": f"K{i}", "feature": "check_point", "easting": EAST + x + 0.3,
         "northing": NORTH + y + 0.4, "position_crs": UTM14, "h_rms_m": 0.5, "elevation_m": 200.1}
        for i, (x, y) in enumerate(known)
    ]  # fmt: skip
    notes = dict(place(locates(*rows), fixed).notes)
    assert (
        notes["NSSDA horizontal"]
        == "Tested 0.857 meters horizontal accuracy at 95% confidence level"
    )
    assert notes["NSSDA vertical"].startswith("Tested 0.196 meters vertical accuracy")
    assert notes["ASPRS 2023 RMSE_H"] == "0.500 m, from 20 points; the standard asks 30"
    few = place(locates(*rows[:5]), fixed)
    assert (
        "Tested with 5 points, fewer than the standard's 20" in dict(few.notes)["NSSDA horizontal"]
    )
    assert "accuracy-statement" in codes(few)


def test_check_points_may_carry_their_known_coordinates():
    """Located by lon and lat, known by easting and northing of the same row."""
    east, north = 644_678.6, 3_319_793.2
    to_deg = Transformer.from_crs(UTM14, "EPSG:4326", always_xy=True)
    rows = []
    for i in range(3):
        lon, lat = to_deg.transform(east + 50 * i + 0.1, north)
        rows.append({"point": f"K{i}", "feature": "check_point", "lon": lon, "lat": lat,
                     "easting": east + 50 * i, "northing": north})  # fmt: skip
    placed = place(locates(*rows), crs=UTM14)
    assert dict(placed.notes)["RMSE x, y, radial"].startswith("0.100 m, 0.000 m")


def test_a_map_that_states_too_little_error_is_told_so():
    """Stated 0.02 m, found 0.5 m: the advice is to state more."""
    fixed = references(
        {"reference": "K", "easting": EAST, "northing": NORTH}, position_crs=UTM14, rms_m=0.01
    )
    row = {"point": "K", "feature": "check_point", "easting": EAST + 0.3, "northing": NORTH + 0.4,
           "position_crs": UTM14, "h_rms_m": 0.02}  # fmt: skip
    assert "raise default_rms_m" in finding(place(locates(row), fixed), "accuracy-statement").advice


def test_a_table_with_a_position_and_nothing_else_is_enough():
    """Only lon and lat: every other column counts as empty."""
    placed = place(pd.DataFrame({"lon": [-97.5], "lat": [30.0]}), pd.DataFrame())
    assert placed.locates.placed_by.tolist() == ["gnss"]


def test_empty_tables_give_empty_layers():
    """Nothing in, nothing out, no error."""
    placed = place(locates({"point": "P"}).iloc[:0], references())
    assert len(placed.locates) == len(placed.references) == 0
    assert placed.findings == []
    assert {"position_rms_m", "placed_by", "cov_xx_m2"} <= set(placed.locates)


def test_every_input_column_is_kept_and_the_input_untouched():
    """Columns of the crew's own stay; the caller's table is not changed."""
    rows = locates({"point": "P", "lon": -97.5, "lat": 30.0, "soil": "clay"})
    before = rows.copy()
    placed = place(rows)
    assert set(rows) <= set(placed.locates)
    assert placed.locates.soil[0] == "clay"
    pd.testing.assert_frame_equal(rows, before)


@settings(max_examples=15, deadline=None)
@given(st.permutations(range(6)))
def test_the_order_of_rows_does_not_matter(order):
    """Any order of mixed rows places each point where it was."""
    rows = [
        {"point": "P0", "lon": -97.5475, "lat": 30.0023},
        {"point": "P1", "easting": EAST + 3, "northing": NORTH + 4, "position_crs": UTM14},
        {
            "point": "P2",
            "tie_a": "A",
            "tie_a_dist_m": 13.0,
            "tie_b": "B",
            "tie_b_dist_m": 21.4,
            "tie_side": "left",
        },
        {
            "point": "P3",
            "baseline_a": "A",
            "baseline_b": "B",
            "baseline_chainage_m": 10.0,
            "baseline_offset_m": 4.0,
        },
        {"point": "P4", "grid_x_m": 12.0, "grid_y_m": 9.0},
        {"point": "P5", "grid_x_m": 2.0, "grid_y_m": 9.0},
    ]
    plain = place(locates(*rows), corners(), crs=UTM14)
    mixed = place(locates(*(rows[i] for i in order)), corners(), crs=UTM14)
    back = mixed.locates.set_index("point").loc[plain.locates.point]
    np.testing.assert_allclose(back.geometry.get_coordinates(), xy(plain), atol=1e-4)
