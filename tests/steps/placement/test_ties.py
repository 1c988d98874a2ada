"""Rows fixed by two and three tapes."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tables_placement import UTM14, codes, finding, locates, place, references, xy

# a place where UTM 14 draws lengths true: its scale is 1 some 180 km off the middle meridian
EAST, NORTH = 680_000.0, 3_320_000.0
CORNERS = {"A": (0.0, 0.0), "B": (14.0, 0.0), "C": (0.0, 12.0), "D": (40.0, 3.0)}


def corners(rms_m=0.001, **more):
    """References at the corners, placed exactly."""
    return references(
        *({"reference": n, "easting": EAST + x, "northing": NORTH + y} for n, (x, y) in CORNERS.items()),
        position_crs=UTM14, rms_m=rms_m, **more,
    )  # fmt: skip


def tie(ra, rb, side="left", a="A", b="B", **more):
    """A tie row."""
    side = {"tie_side": side} if side else {}
    return {
        "point": "P",
        "tie_a": a,
        "tie_a_dist_m": ra,
        "tie_b": b,
        "tie_b_dist_m": rb,
        **side,
        **more,
    }


def placed_by_ties(*rows, **kwargs):
    """Place tie rows on the corners."""
    return place(locates(*rows), corners(), **kwargs)


def local(placed):
    """Positions from the first corner, on the ground."""
    return (xy(placed) - [EAST, NORTH]) / placed.frame.scale_factor


@pytest.mark.parametrize(("side", "y"), [("left", 12), ("right", -12), ("L", 12), ("R", -12)])
def test_swing_ties_land_on_their_side(side, y):
    """D 14, r 13 and 15 cross at (5, 12) and (5, -12); the side tells."""
    placed = placed_by_ties(tie(13.0, 15.0, side))
    assert placed.locates.placed_by[0] == "ties"
    np.testing.assert_allclose(local(placed), [(5, y)], atol=2e-3)
    # sigma 0.02, cut angle 59.49 degrees: DRMS 0.03283
    assert placed.locates.position_rms_m[0] == pytest.approx(0.03283, rel=0.01)


def test_taped_distances_are_ground_distances():
    """A tape does not know the projection: 500 ground metres east are 500 k plane metres."""
    fixed = references(
        {"reference": "A", "easting": 500_000.0, "northing": NORTH},
        {"reference": "B", "easting": 500_030.0, "northing": NORTH},
        position_crs=UTM14, rms_m=0.001,
    )  # fmt: skip
    placed = place(locates(tie(25.0, 25.0)), fixed)
    k = placed.frame.scale_factor
    assert k == pytest.approx(0.9996, abs=1e-6)
    assert np.hypot(*(xy(placed)[0] - [500_000, NORTH])) == pytest.approx(25 * k, abs=1e-6)


def test_a_third_tie_adjusts_the_position():
    """Anchors (0,0), (14,0), (0,12), ties 13.02, 14.99, 5.015 give (5.01974, 12.00864)."""
    placed = placed_by_ties(tie(13.02, 14.99, tie_c="C", tie_c_dist_m=5.015))
    np.testing.assert_allclose(local(placed), [(5.01974, 12.00864)], atol=3e-3)
    assert "tie-residual" not in codes(placed)


def test_a_third_tie_that_disagrees_is_reported_and_widens_the_rms():
    """A third tape 40 cm off: the residuals are named, the rms grows."""
    sound = placed_by_ties(tie(13, 15, tie_c="C", tie_c_dist_m=5.0)).locates.position_rms_m[0]
    placed = placed_by_ties(tie(13, 15, tie_c="C", tie_c_dist_m=5.4))
    message = finding(placed, "tie-residual").message
    assert "A " in message
    assert "C " in message
    assert placed.locates.position_rms_m[0] > 5 * sound


def test_many_sound_ties_raise_no_false_report():
    """Three tapes to each of 300 points, held to 2 cm as the settings say: none is reported."""
    rng = np.random.default_rng(11)
    rows = []
    for x, y in rng.uniform((1, 3), (12, 11), (300, 2)):
        a, b, c = (
            np.hypot(x - u, y - v) + rng.normal(0, 0.02) for u, v in ((0, 0), (14, 0), (0, 12))
        )
        rows.append(tie(a, b, tie_c="C", tie_c_dist_m=c))
    placed = placed_by_ties(*rows)
    assert len(placed.locates) == 300
    assert "tie-residual" not in codes(placed)


def test_the_third_tie_overrules_a_wrong_side_and_says_so():
    """The point is left of the line; written right, the third tie fits the left alone."""
    placed = placed_by_ties(tie(13, 15, "right", tie_c="C", tie_c_dist_m=5.0))
    assert "tie_side says right" in finding(placed, "tie-residual").message
    np.testing.assert_allclose(local(placed), [(5, 12)], atol=3e-3)


def test_a_third_reference_in_line_with_the_others_judges_no_side():
    """E on the line from A to B is as far from both answers: the written side stands."""
    fixed = corners()
    fixed.loc[len(fixed), ["reference", "easting", "northing", "rms_m"]] = [
        "E",
        EAST + 7,
        NORTH,
        0.001,
    ]
    fixed["position_crs"] = UTM14
    row = tie(13.0, 15.0, "right", tie_c="E", tie_c_dist_m=np.hypot(2, 12) + 0.01)
    placed = place(locates(row), fixed)
    assert "tie-residual" not in codes(placed)
    np.testing.assert_allclose(local(placed), [(5, -12)], atol=0.02)


def test_circles_that_miss_are_a_finding_with_the_taped_numbers():
    """3 m and 4 m about corners 14 m apart miss by 7 m."""
    placed = placed_by_ties(tie(3.0, 4.0))
    found = finding(placed, "tie-circles-miss")
    assert "3.000 m and 4.000 m about A and B" in found.message
    assert "by 7.0" in found.message
    assert (found.source_file, found.source_row) == ("spring.csv", 2)
    assert len(placed.locates) == 0
    assert "no-position" not in codes(placed)


def test_a_flat_cut_is_weak_and_says_its_rms():
    """Tapes that cross within 20 degrees of a straight line keep a large rms."""
    placed = placed_by_ties(tie(7.05, 7.05))
    assert "degrees" in finding(placed, "weak-tie").message
    assert placed.locates.position_rms_m[0] > 0.08


@pytest.mark.parametrize(
    ("row", "code", "words"),
    [
        (tie(13, 15, b="Z"), "unknown-reference", "'Z'"),
        (tie(13, 15, b="A"), "bad-tie", "different references"),
        (tie(13, 15, b=""), "bad-tie", "two references"),
        (tie(-13, 15), "bad-tie", "greater than 0"),
        (tie(np.nan, 15), "bad-tie", "greater than 0"),
        (tie(13, 15, "north"), "bad-tie", "left or right"),
        (tie(13, 15, tie_c="A", tie_c_dist_m=4), "bad-tie", "different references"),
    ],
)
def test_ties_that_cannot_be_computed_say_why(row, code, words):
    """Each fault is one finding with the row."""
    placed = placed_by_ties(row)
    assert words in finding(placed, code).message
    assert len(placed.locates) == 0


def test_two_names_of_one_spot_give_no_tie():
    """A and A2 at one place: no direction, and no warning of arithmetic."""
    fixed = corners()
    fixed.loc[len(fixed), ["reference", "easting", "northing", "rms_m"]] = ["A2", EAST, NORTH, 0.01]
    fixed["position_crs"] = UTM14
    placed = place(locates(tie(13.0, 15.0, b="A2")), fixed)
    assert "stand apart" in finding(placed, "bad-tie").message
    row = {"point": "P", "baseline_a": "A", "baseline_b": "A2", "baseline_chainage_m": 3.0}
    assert "one place" in finding(place(locates(row), fixed), "bad-tie").message


def test_an_unknown_third_reference_leaves_two_tapes():
    """The third is reported, the position stands on two."""
    placed = placed_by_ties(tie(13, 15, tie_c="Z", tie_c_dist_m=5))
    assert "'Z'" in finding(placed, "unknown-reference").message
    np.testing.assert_allclose(local(placed), [(5, 12)], atol=2e-3)


def test_names_of_references_match_without_case_and_spaces():
    """' a ' is A: field books are written by hand."""
    np.testing.assert_allclose(
        local(placed_by_ties(tie(13, 15, a=" a ", b="b"))), [(5, 12)], atol=2e-3
    )


def test_without_a_side_both_answers_are_told_and_none_is_taken():
    """Nothing speaks for one: no position is made up."""
    placed = placed_by_ties(tie(13, 15, ""))
    message = finding(placed, "bad-tie").message
    assert "680005.00, 3320012.0" in message
    assert "680005.00, 3319988.0" in message
    assert len(placed.locates) == 0


def test_the_third_tie_tells_the_side():
    """Only the left answer is 5 m from C."""
    placed = placed_by_ties(tie(13, 15, "", tie_c="C", tie_c_dist_m=5.0))
    np.testing.assert_allclose(local(placed), [(5, 12)], atol=3e-3)


def test_a_coarse_position_of_the_row_tells_the_side():
    """GNSS of 2 m does not place the point, but shows on which side it is."""
    row = tie(13, 15, "", easting=EAST + 4, northing=NORTH - 11, position_crs=UTM14, h_rms_m=2.0)
    placed = placed_by_ties(row)
    assert placed.locates.placed_by[0] == "ties"
    np.testing.assert_allclose(local(placed), [(5, -12)], atol=2e-3)


def test_neighbours_of_the_run_tell_the_side():
    """The marks before and after stand right of the line."""
    known = [
        {"point": n, "run": "R", "easting": EAST + x, "northing": NORTH - 11, "position_crs": UTM14}
        for n, x in (("N1", 3), ("N2", 7))
    ]
    placed = placed_by_ties(known[0], tie(13, 15, "", run="R"), known[1])
    np.testing.assert_allclose(local(placed)[1], (5, -12), atol=2e-3)


@settings(max_examples=15, deadline=None)
@given(st.floats(-25, 35), st.floats(-25, 35), st.permutations(["A", "B", "C", "D"]))
def test_point_to_ties_to_point(x, y, names):
    """Two tapes from a known point, through the step, give it back within the stated rms."""
    (ax, ay), (bx, by) = CORNERS[names[0]], CORNERS[names[1]]
    ra, rb = np.hypot(x - ax, y - ay), np.hypot(x - bx, y - by)
    across = (bx - ax) * (y - ay) - (by - ay) * (x - ax)
    if min(ra, rb) < 0.5 or abs(across) < 0.05 * ra * rb:
        return
    side = "left" if across > 0 else "right"
    placed = placed_by_ties(tie(ra, rb, side, a=names[0], b=names[1]))
    off = np.hypot(*(local(placed)[0] - [x, y]))
    assert off < max(0.05, placed.locates.position_rms_m[0])
