"""Coordinates that cannot be where they say."""

import numpy as np
import pytest
from tables_placement import UTM14, codes, finding, locates, place, references

GOOD = [{"point": f"P{i}", "lon": -97.5 + i * 1e-4, "lat": 30.0 + i * 1e-4} for i in range(10)]


def test_a_latitude_beyond_the_pole_is_an_exchange():
    """lat -97.5, lon 30: set aside and named."""
    placed = place(locates(*GOOD, {"point": "X", "lon": 30.0, "lat": -97.5}))
    assert finding(placed, "swapped-axes").subject == "X"
    assert finding(placed, "swapped-axes").source_row == 12
    assert "X" not in placed.locates.point.tolist()


def test_an_exchange_that_stays_on_the_globe_is_found_by_its_distance():
    """Longitude 30, latitude 75 exchanged: far from all others, among them when put right."""
    good = [{"point": f"P{i}", "lon": -75 + i * 1e-4, "lat": 30.0} for i in range(10)]
    placed = place(locates(*good, {"point": "X", "lon": 30.0, "lat": -75.0}))
    swapped = finding(placed, "swapped-axes")
    assert "exchanged, it lies among them" in swapped.message
    assert len(placed.locates) == 10


def test_a_lone_far_point_is_set_aside_with_its_distance():
    """A degree wrong in latitude is 111 km."""
    placed = place(locates(*GOOD, {"point": "X", "lon": -97.5, "lat": 31.0}))
    assert "111 km" in finding(placed, "distant-point").message
    assert len(placed.locates) == 10


def test_a_receiver_without_a_fix_is_set_aside():
    """Rows at 0, 0 are what a receiver writes before it knows its place (common practice)."""
    placed = place(locates(*GOOD, {"point": "X", "lon": 0.0, "lat": 0.0}))
    assert codes(placed).count("distant-point") + codes(placed).count("no-position") == 1
    assert len(placed.locates) == 10


def test_a_second_cluster_is_no_blunder():
    """Two halves of a campus 5 km apart are both kept."""
    other = [{"point": f"Q{i}", "lon": -97.45 + i * 1e-4, "lat": 30.0} for i in range(6)]
    placed = place(locates(*GOOD, *other))
    assert "distant-point" not in codes(placed)
    assert len(placed.locates) == 16


@pytest.mark.parametrize(
    ("crs", "east", "north", "code", "words"),
    [
        ("EPSG:26914", 3319793.2, 644678.6, "swapped-axes", "exchanged"),
        (
            "EPSG:26914",
            644678.6 / 0.3048,
            3319793.2 / 0.3048,
            "outside-area-of-use",
            "read as feet",
        ),
        ("EPSG:2277", 949573.0, 3070000.0, "outside-area-of-use", "read as metres"),
        ("EPSG:26914", -97.5, 30.0, "outside-area-of-use", "look like degrees"),
    ],
)
def test_projected_coordinates_outside_their_area_name_the_mistake(crs, east, north, code, words):
    """Exchanged axes, feet for metres, metres for feet, degrees for metres: set aside."""
    rows = locates({"point": "P", "easting": east, "northing": north})
    placed = place(rows, input_crs=crs)
    assert words in finding(placed, code).message
    assert len(placed.locates) == 0


def test_a_wrong_zone_is_reported_and_kept():
    """Zone 10 coordinates in the Pacific: lengths are sound, the place is not."""
    rows = locates({"point": "P", "easting": 500000.0, "northing": 1000000.0})
    placed = place(rows, input_crs="EPSG:26910")
    assert "zone may be wrong" in finding(placed, "outside-area-of-use").message
    assert len(placed.locates) == 1


def test_a_missing_minus_sign_is_named():
    """Longitude 97.5 east in a CRS of North America."""
    placed = place(locates({"point": "P", "lon": 97.5, "lat": 30.0}), input_crs="EPSG:4269")
    assert "sign of the longitude" in finding(placed, "outside-area-of-use").message


def test_a_given_working_crs_tells_an_exchange_in_world_wide_degrees():
    """EPSG:4326 is valid everywhere; the working CRS is not."""
    rows = locates({"point": "P", "lon": 30.0, "lat": -82.0})
    placed = place(rows, crs="EPSG:32617")
    assert finding(placed, "swapped-axes").value == "30, -82"


def test_a_working_crs_of_another_zone_is_a_warning():
    """Zone 14 data in zone 17: drawn, and told."""
    placed = place(locates(*GOOD), crs="EPSG:26917")
    assert "outside-area-of-use" in codes(placed)
    assert len(placed.locates) == len(GOOD)


def test_feet_of_two_kinds_are_told_apart():
    """length_unit ft beside a survey-foot CRS: the difference at these coordinates, in metres."""
    rows = locates({"point": "P", "easting": 3100000.0, "northing": 10070000.0})
    placed = place(rows, input_crs="EPSG:2277", length_unit="ft")
    off = np.hypot(3100000.0, 10070000.0) * (1200 / 3937 - 0.3048)
    assert f"{off:.2f} m" in finding(placed, "unit-mismatch").message
    assert "unit-mismatch" not in codes(place(rows, input_crs="EPSG:2277", length_unit="ftus"))


def test_a_far_reference_is_set_aside_too():
    """One reference typed 10 km off would pull its ties away."""
    fixed = references(
        {"reference": "A", "easting": 644700.0, "northing": 3329700.0}, position_crs=UTM14
    )
    placed = place(locates(*GOOD, *[{**g, "point": g["point"] + "b"} for g in GOOD]), fixed)
    assert finding(placed, "distant-point").subject == "A"
    assert len(placed.references) == 0
