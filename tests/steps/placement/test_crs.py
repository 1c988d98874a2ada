"""Working CRS, metric twin and frame."""

import numpy as np
import pytest
from pyproj import CRS, Geod, Transformer
from tables_placement import codes, finding, locates, place, xy

from wiremap.errors import SettingsError
from wiremap.steps.placement.crs import make_frame, metric_twin, parse_crs, utm_crs

US_FOOT = 1200 / 3937


def test_the_utm_zone_of_the_data_is_chosen_and_announced():
    """Longitude 97.5 W lies in zone 14 north; the choice is a finding and a note."""
    placed = place(locates({"point": "P", "lon": -97.5, "lat": 30.0}))
    assert placed.frame.crs == CRS("EPSG:32614")
    assert finding(placed, "crs-chosen").value == "WGS 84 / UTM zone 14N"
    assert (
        "WGS 84 / UTM zone 14N (EPSG:32614), chosen from the data"
        in dict(placed.notes)["working CRS"]
    )


@pytest.mark.parametrize(
    ("code", "lon", "lat", "expected"),
    [
        ("EPSG:4326", -97.5, 30, "EPSG:32614"),
        ("EPSG:4326", 151, -33, "EPSG:32756"),
        ("EPSG:4326", 5, 60, "EPSG:32632"),
        ("EPSG:4326", 15, 78, "EPSG:32633"),
        ("EPSG:4269", -97.5, 30, "EPSG:26914"),
        ("EPSG:6318", -84.5, 33, "EPSG:6345"),
        ("EPSG:4258", 9, 50, "EPSG:25832"),
    ],
)
def test_the_chosen_zone_keeps_the_datum_of_the_data(code, lon, lat, expected):
    """EPSG's own UTM CRS of each datum; Norway and Svalbard have their exceptions."""
    chosen = utm_crs(parse_crs(code), lon, lat)
    assert chosen.to_authority() == tuple(expected.split(":"))


def test_a_datum_without_utm_codes_gets_a_zone_of_its_own():
    """GDA2020 has no CRS named UTM in EPSG; the zone is built on it and computes as MGA does."""
    chosen = utm_crs(parse_crs("EPSG:7844"), 144.4, -37.9)
    assert chosen.geodetic_crs.name == "GDA2020"
    ours = Transformer.from_crs("EPSG:7844", chosen, always_xy=True).transform(144.4, -37.9)
    mga = Transformer.from_crs("EPSG:7844", "EPSG:7855", always_xy=True).transform(144.4, -37.9)
    assert ours == pytest.approx(mga, abs=1e-6)


def test_british_national_grid_example_goes_through_the_step():
    """EPSG Guidance Note 7-2, method 9807 (tolerance 0.01 m: the note's intermediates round)."""
    rows = locates({"point": "P", "lon": 0.5, "lat": 50.5})
    placed = place(rows, input_crs="EPSG:4277", crs="EPSG:27700")
    np.testing.assert_allclose(xy(placed), [(577274.99, 69740.50)], atol=0.01)


def test_lambert_us_survey_foot_example_goes_through_the_step():
    """EPSG Guidance Note 7-2, method 9802: 2963503.91, 254759.80 US survey feet."""
    rows = locates({"point": "P", "lon": -96.0, "lat": 28.5})
    placed = place(rows, input_crs="EPSG:4267", crs="EPSG:32040")
    assert placed.frame.metres_per_unit == pytest.approx(US_FOOT, rel=1e-12)
    feet = xy(placed) / US_FOOT
    np.testing.assert_allclose(feet, [(2963503.91, 254759.80)], atol=0.01)
    np.testing.assert_allclose(xy(placed), [(903277.79918, 77650.94254)], atol=1e-4)


def test_survey_feet_are_never_read_as_international_feet():
    """The same point read in the wrong foot moves 1.80656 m east and 0.15530 m north."""
    rows = locates({"point": "P", "easting": 2963503.9128, "northing": 254759.8006})
    placed = place(rows, input_crs="EPSG:32040", crs="EPSG:32040")
    np.testing.assert_allclose(xy(placed), [(903277.79918, 77650.94254)], atol=1e-3)
    wrong = np.array([2963503.9128, 254759.8006]) * 0.3048
    np.testing.assert_allclose(xy(placed)[0] - wrong, [1.80656, 0.15530], atol=1e-4)


@pytest.mark.parametrize("code", ["EPSG:2277", "EPSG:2222", "EPSG:32040"])
def test_the_metric_twin_is_the_same_projection_times_the_unit(code):
    """Survey foot and foot: coordinates in the twin are exactly the factor times as large."""
    crs = CRS(code)
    twin = metric_twin(crs)
    factor = crs.axis_info[0].unit_conversion_factor
    place_deg = (-97.5, 30.1)
    ours = Transformer.from_crs(crs.geodetic_crs, twin, always_xy=True).transform(*place_deg)
    theirs = Transformer.from_crs(crs.geodetic_crs, crs, always_xy=True).transform(*place_deg)
    np.testing.assert_allclose(ours, np.array(theirs) * factor, rtol=1e-14)
    assert {axis.unit_name for axis in twin.axis_info} == {"metre"}


def test_a_metric_crs_is_its_own_twin():
    """Nothing is built where nothing differs."""
    assert metric_twin(CRS("EPSG:26914")) == CRS("EPSG:26914")


def test_frame_scale_and_convergence_are_those_of_flinders_peak():
    """GDA technical manual: k 1.00023056, convergence 1 deg 35' 03.65"; the sign is checked below."""
    flinders = np.array([273741.2966, 5796489.7769])
    frame = make_frame(CRS("EPSG:7855"), flinders)
    assert frame.scale_factor == pytest.approx(1.00023056, abs=1e-8)
    assert abs(frame.convergence_deg) == pytest.approx(1 + 35 / 60 + 3.65 / 3600, abs=1e-5)


def test_convergence_is_grid_north_clockwise_of_true_north():
    """A step to true north turns from grid north by minus the convergence, by geodesic."""
    centre = np.array([273741.2966, 5796489.7769])
    frame = make_frame(CRS("EPSG:7855"), centre)
    lon, lat, _ = Geod(ellps="GRS80").fwd(frame.lon_deg, frame.lat_deg, 0.0, 100.0)
    to_plane = Transformer.from_crs("EPSG:7844", "EPSG:7855", always_xy=True)
    east, north = np.array(to_plane.transform(lon, lat)) - centre
    assert np.degrees(np.arctan2(east, north)) == pytest.approx(-frame.convergence_deg, abs=1e-3)


@pytest.mark.parametrize(
    ("key", "value"),
    [("crs", "EPSG:99999"), ("crs", "Texas"), ("input_crs", "WGS85"), ("input_crs", "EPSG:4978")],
)
def test_an_unknown_crs_names_key_value_and_remedy(key, value):
    """One line says which setting, what it held, and what to write."""
    rows = locates({"point": "P", "lon": -97.5, "lat": 30.0})
    with pytest.raises(SettingsError, match=rf"coordinates\.{key}.*{value}.*EPSG code"):
        place(rows, **{key: value})


@pytest.mark.parametrize("value", ["EPSG:4326", "EPSG:4269"])
def test_a_geographic_working_crs_is_refused(value):
    """Degrees are no plane to measure in."""
    rows = locates({"point": "P", "lon": -97.5, "lat": 30.0})
    with pytest.raises(SettingsError, match=rf"must be projected.*{value}.*UTM"):
        place(rows, crs=value)


def test_web_mercator_is_called_distorted():
    """At 35 degrees the web map plane draws 100 m as 122.08 (1 / cos 35 = 1.220775)."""
    placed = place(locates({"point": "P", "lon": -97.5, "lat": 35.0}), crs="EPSG:3857")
    assert "122.08 m" in finding(placed, "crs-distorted").message
    assert placed.frame.scale_factor == pytest.approx(1.220775, abs=1e-5)


def test_a_state_plane_zone_is_not_called_distorted():
    """State plane keeps lengths within 1 in 10,000."""
    placed = place(locates({"point": "P", "lon": -97.5, "lat": 30.1}), crs="EPSG:2277")
    assert "crs-distorted" not in codes(placed)


def test_a_projection_written_out_has_no_area_to_be_held_against():
    """A PROJ text without an area of use, bound to a datum shift: taken for what it projects."""
    text = "+proj=tmerc +lat_0=30 +lon_0=-97.5 +ellps=GRS80 +towgs84=0,0,0 +units=m +type=crs"
    placed = place(locates({"point": "P", "easting": 0.0, "northing": 100.0}), input_crs=text)
    assert "outside-area-of-use" not in codes(placed)
    assert placed.frame.lat_deg == pytest.approx(30.0009, abs=1e-4)
    assert placed.frame.crs.name.endswith("UTM zone 14N")


def test_a_place_that_the_projection_does_not_know_is_reported():
    """An easting of half the earth's radius times a thousand: no degrees, no zone, no position."""
    rows = locates({"point": "P", "easting": 5e8, "northing": 5e8})
    placed = place(rows, input_crs="EPSG:2193")
    assert len(placed.locates) == 0
    assert placed.findings


def test_compound_and_three_dimensional_crs_are_read_in_plan():
    """Heights are no part of a horizontal position."""
    rows = locates({"point": "P", "lon": -97.5, "lat": 30.0})
    plain, compound, solid = (
        xy(place(rows, input_crs=code, crs="EPSG:26914"))
        for code in ("EPSG:4269", "EPSG:5498", "EPSG:4269+5703")
    )
    np.testing.assert_allclose(compound, plain)
    np.testing.assert_allclose(solid, plain)
    np.testing.assert_allclose(
        xy(place(rows, input_crs="EPSG:4979")), xy(place(rows, input_crs="EPSG:4326"))
    )
