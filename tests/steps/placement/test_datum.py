"""Datum transformations: stated, carried, or refused."""

import numpy as np
import pytest
from tables_placement import UTM14, codes, finding, locates, place, references, xy

from wiremap.model.kinds import Severity
from wiremap.steps.placement.datum import Operation, nad83_offset_m

ROW = {"point": "P", "lon": -97.5, "lat": 30.0, "h_rms_m": 0.02}


def test_data_and_map_in_one_datum_carry_nothing():
    """The common case: no transformation, no accuracy, no finding."""
    placed = place(locates(ROW))
    assert "datum-shift" not in codes(placed)
    assert placed.locates.position_rms_m[0] == pytest.approx(0.02)
    assert np.isnan(placed.frame.accuracy_m)
    assert placed.locates.datum_accuracy_m.isna().all()


def test_a_null_shift_is_stated_with_its_figure_but_does_not_swell_the_rms():
    """WGS 84 to NAD83 moves nothing and states 4 m: common to the map, told apart from the rms."""
    placed = place(locates(ROW), crs="EPSG:26914")
    message = finding(placed, "datum-shift").message
    assert "moves nothing" in message
    assert "4 m" in message
    assert placed.locates.position_rms_m[0] == pytest.approx(0.02)
    assert placed.locates.datum_accuracy_m[0] == placed.frame.accuracy_m == 4.0
    assert any("accuracy 4 m" in value for _, value in placed.notes)


def test_nad83_and_wgs84_are_told_apart_by_more_than_a_metre():
    """Helmert of ITRF2014 to NAD83(2011) by PROJ: 1.1 m in Georgia, one to two in the States."""
    assert nad83_offset_m(-84.0, 33.0) == pytest.approx(1.13, abs=0.1)
    message = finding(place(locates(ROW), crs="EPSG:26914"), "datum-shift").message
    assert f"lie {nad83_offset_m(-97.5, 30.0):.2f} m apart" in message


def test_a_shift_that_moves_points_is_added_to_every_rms():
    """ED50 to ETRS89: a Helmert shift of metres; its accuracy joins the rms in quadrature."""
    rows = locates({"point": "P", "lon": 2.0, "lat": 48.0, "h_rms_m": 0.5})
    placed = place(rows, input_crs="EPSG:4230", crs="EPSG:25831")
    accuracy = placed.frame.accuracy_m
    assert accuracy > 0.5
    assert placed.locates.position_rms_m[0] == pytest.approx(np.hypot(0.5, accuracy))
    assert placed.locates.datum_accuracy_m.isna().all()
    assert "part of every position's RMS" in finding(placed, "datum-shift").message


@pytest.mark.parametrize(
    ("moved_m", "accuracy_m", "carried_m"),
    [(0.0, 4.0, 0.0), (0.4, 2.0, 0.0), (150.0, 1.5, 1.5), (150.0, np.nan, 0.0), (0.0, np.nan, 0.0)],
)
def test_an_accuracy_is_carried_where_the_shift_exceeds_it(moved_m, accuracy_m, carried_m):
    """A shift below its own accuracy is as good as none, with a small grid installed or without."""
    operation = Operation(None, "", accuracy_m, moved_m, "", same_datum=False)
    assert operation.carried_m == carried_m


def test_a_transformation_of_unknown_accuracy_is_refused_with_the_remedy():
    """NAD27 to NAD83 without its grid: no position, the grid's operation and the setting named."""
    rows = locates({"point": "P", "lon": -97.5, "lat": 30.0})
    placed = place(rows, input_crs="EPSG:4267", crs="EPSG:26914")
    refused = finding(placed, "no-position")
    assert len(placed.locates) == 0
    assert "NAD27 to NAD83" in refused.message
    assert "allow_ballpark" in refused.advice
    allowed = place(rows, input_crs="EPSG:4267", crs="EPSG:26914", allow_ballpark=True)
    assert len(allowed.locates) == 1
    assert "unknown" in finding(allowed, "datum-shift").message
    assert finding(allowed, "datum-shift").severity is Severity.WARNING


def test_realisations_of_nad83_meet_by_a_null_shift_of_stated_accuracy():
    """NAD83(2011) to NAD83 has no direct operation without grids; 2 m and 4 m through WGS 84."""
    placed = place(locates(ROW), input_crs="EPSG:6318", crs="EPSG:26914")
    message = finding(placed, "datum-shift").message
    assert "through WGS 84" in message
    assert "grid is not installed" in message
    assert placed.frame.accuracy_m == pytest.approx(np.hypot(2, 4))
    assert placed.locates.position_rms_m[0] == pytest.approx(0.02)
    plain = place(locates(ROW), input_crs="EPSG:4269", crs="EPSG:26914")
    np.testing.assert_allclose(xy(placed), xy(plain), atol=1e-6)


def test_an_exact_shift_is_carried_without_a_cost():
    """GDA94 to GDA2020 moves 1.6 m and is known to a centimetre."""
    rows = locates({"point": "P", "lon": 144.4, "lat": -37.9, "h_rms_m": 0.02})
    placed = place(rows, input_crs="EPSG:4283", crs="EPSG:7855")
    assert placed.locates.position_rms_m[0] == pytest.approx(np.hypot(0.02, 0.01))


def test_mixed_datums_are_a_warning():
    """Locates in WGS 84 and references in NAD83 may be shifted against each other."""
    fixed = references(
        {"reference": "A", "easting": 644700.0, "northing": 3319700.0}, position_crs="EPSG:26914"
    )
    placed = place(locates(ROW), fixed)
    shift = finding(placed, "datum-shift")
    assert shift.severity is Severity.WARNING
    assert "against each other" in shift.message


def test_files_in_different_crs_meet_in_one_plane():
    """One place in degrees and in metres: the same point of the map."""
    rows = locates(
        {"point": "P", "lon": -97.5, "lat": 30.0},
        {"point": "Q", "easting": 644678.6, "northing": 3319793.2, "position_crs": UTM14},
    )
    placed = place(rows)
    assert placed.locates.placed_by.tolist() == ["gnss", "survey"]
    assert np.hypot(*(xy(placed)[0] - xy(placed)[1])) < 200
