"""Site grid and baselines through the step."""

import numpy as np
import pytest
from tables_placement import UTM14, codes, finding, locates, place, references, xy

EAST, NORTH = 680_000.0, 3_320_000.0
GRID = {"A": (0, 0), "B": (50, 0), "C": (50, 30), "D": (0, 30), "E": (20, 60)}
TURN = np.radians(25.0)


def to_map(x, y):
    """The map position of a grid position, true to scale."""
    z = (x + 1j * y) * np.exp(1j * TURN) * 1.0
    return EAST + z.real, NORTH + z.imag


def corners(names="ABCDE", moved=None, scale=1.0, rms_m=0.01):
    """References with both grid and map coordinates; `moved` shifts one of them."""
    rows = []
    for name in names:
        x, y = GRID[name]
        east, north = to_map(x, y)
        east += (moved or {}).get(name, 0.0)
        rows.append({"reference": name, "easting": east, "northing": north,
                     "grid_x_m": x * scale, "grid_y_m": y * scale})  # fmt: skip
    return references(*rows, position_crs=UTM14, rms_m=rms_m)


ROW = {"point": "P", "grid_x_m": 12.0, "grid_y_m": 34.0}


@pytest.mark.parametrize("names", ["AB", "ABC", "ABCDE"])
def test_a_grid_position_lands_where_the_references_put_it(names):
    """Two references and more give the same exact turn."""
    placed = place(locates(ROW), corners(names))
    assert placed.locates.placed_by[0] == "grid"
    np.testing.assert_allclose(xy(placed), [to_map(12, 34)], atol=0.01)
    assert "25.0000 degrees" in dict(placed.notes)["site grid"]
    assert 0.02 < placed.locates.position_rms_m[0] < 0.1


def test_of_five_references_the_bad_one_is_named_and_left_out():
    """C is 0.6 m off; without it the others agree."""
    placed = place(locates(ROW), corners(moved={"C": 0.6}))
    found = finding(placed, "grid-residual")
    assert found.subject == "C"
    assert "0.600 m (east 0.600 m, north" in found.message
    np.testing.assert_allclose(xy(placed), [to_map(12, 34)], atol=0.01)


def test_three_references_that_disagree_widen_the_rms_and_name_none():
    """Three cannot tell which is wrong: all residuals are given."""
    sound = place(locates(ROW), corners("ABC")).locates.position_rms_m[0]
    placed = place(locates(ROW), corners("ABC", moved={"C": 0.6}))
    message = finding(placed, "grid-residual").message
    assert all(f"{name} 0." in message for name in "ABC")
    assert placed.locates.position_rms_m[0] > 3 * sound


def test_exchanged_grid_axes_are_suspected():
    """A reflection is refused, and the likely mistake named."""
    fixed = corners()
    fixed[["grid_x_m", "grid_y_m"]] = fixed[["grid_y_m", "grid_x_m"]].to_numpy()
    placed = place(locates(ROW), fixed)
    assert "exchanged they fit" in finding(placed, "grid-residual").message


def test_a_grid_in_feet_is_told_by_its_scale():
    """Grid numbers 3.28 times the map's metres: the scale is 0.3048."""
    placed = place(locates(ROW), corners(scale=1 / 0.3048))
    assert "0.3048 m on the map" in finding(placed, "grid-residual").message


def test_one_reference_fits_no_grid():
    """Each grid row says what is missing."""
    placed = place(locates(ROW), corners("A"))
    assert "two references" in finding(placed, "bad-tie").message
    assert len(placed.locates) == 0


def test_references_at_one_spot_fit_no_grid():
    """Two references at one grid position fix no turn."""
    fixed = corners("AB")
    fixed["grid_x_m"] = 5.0
    fixed["grid_y_m"] = 5.0
    assert "bad-tie" in codes(place(locates(ROW), fixed))


def test_a_reference_known_by_grid_alone_carries_ties():
    """G has only a grid position; the fit gives it a place, and a tie hangs on it."""
    fixed = corners("ABC")
    fixed.loc[len(fixed), ["reference", "grid_x_m", "grid_y_m"]] = ["G", 20.0, 10.0]
    row = {"point": "T", "tie_a": "A", "tie_a_dist_m": np.hypot(10, 20), "tie_b": "G",
           "tie_b_dist_m": np.hypot(10, 10), "tie_side": "left"}  # fmt: skip
    placed = place(locates(row), fixed)
    assert "G" in placed.references.reference.tolist()
    np.testing.assert_allclose(xy(placed), [to_map(10, 20)], atol=0.02)


def test_baseline_and_offset_land_right_of_the_line():
    """From A toward B, 10 m along and 4 m right, is grid (10, -4)."""
    row = {"point": "P", "baseline_a": "A", "baseline_b": "B",
           "baseline_chainage_m": 10.0, "baseline_offset_m": 4.0}  # fmt: skip
    placed = place(locates(row), corners())
    assert placed.locates.placed_by[0] == "baseline"
    np.testing.assert_allclose(xy(placed), [to_map(10, -4)], atol=0.01)


def test_a_baseline_without_offset_is_on_the_line():
    """An offset of nothing is often not written (common practice)."""
    row = {"point": "P", "baseline_a": "A", "baseline_b": "B", "baseline_chainage_m": 10.0}
    np.testing.assert_allclose(xy(place(locates(row), corners())), [to_map(10, 0)], atol=0.01)


@pytest.mark.parametrize(
    ("row", "code", "words"),
    [
        (
            {"baseline_a": "A", "baseline_b": "Z", "baseline_chainage_m": 1.0},
            "unknown-reference",
            "'Z'",
        ),
        (
            {"baseline_a": "A", "baseline_b": "A", "baseline_chainage_m": 1.0},
            "bad-tie",
            "starts and ends",
        ),
        ({"baseline_a": "A", "baseline_chainage_m": 1.0}, "bad-tie", "one is missing"),
        ({"baseline_a": "A", "baseline_b": "B"}, "bad-tie", "baseline_chainage"),
    ],
)
def test_baselines_that_cannot_be_computed_say_why(row, code, words):
    """Each fault is one finding with the row."""
    placed = place(locates({"point": "P", **row}), corners())
    assert words in finding(placed, code).message
    assert len(placed.locates) == 0
