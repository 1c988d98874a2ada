"""Positions put together from several columns."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from wiremap.model.settings import Settings
from wiremap.model.tables import LOCATES_IN
from wiremap.plugins import RawTable
from wiremap.read.conversion import Source, convert_table
from wiremap.read.positions import sign_angles


def convert(settings=None, **columns):
    """Return a table of text as locates."""
    raw = RawTable(pd.DataFrame(columns, dtype="str"))
    source = Source("a.csv", settings or Settings())
    return convert_table(raw, table=LOCATES_IN, source=source)


@pytest.mark.parametrize(
    ("angle", "letter", "axis", "signed"),
    [(80.5, "W", "lon", -80.5), (80.5, "east", "lon", 80.5), (-80.5, "w.", "lon", -80.5),
     (35.0, "S", "lat", -35.0), (35.0, None, "lat", 35.0)],
)  # fmt: skip
def test_the_letter_beside_an_angle_gives_its_sign(angle, letter, axis, signed):
    """South and west are negative (ISO 6709)."""
    read = sign_angles(np.array([angle]), pd.Series([letter], dtype="str"), axis=axis)
    assert read.data.tolist() == [signed]
    assert not read.bad.any()


@pytest.mark.parametrize(
    ("angle", "letter", "axis"), [(-80.5, "E", "lon"), (80.5, "N", "lon"), (35.0, "x", "lat")]
)
def test_a_letter_that_does_not_fit_makes_the_angle_bad(angle, letter, axis):
    """Rather no position than one on the other side of the world."""
    read = sign_angles(np.array([angle]), pd.Series([letter], dtype="str"), axis=axis)
    assert read.bad.tolist() == [True]
    assert np.isnan(read.data).all()


def test_hemispheres_in_columns_of_their_own_are_joined():
    """Without them the point would stand 14,000 km off."""
    found = convert(**{"Lat": ["35.2"], "N/S": ["N"], "Lon": ["80.8"], "E/W": ["W"]})
    assert found.frame[["lon", "lat"]].to_numpy().tolist() == [[-80.8, 35.2]]


def test_the_rms_of_both_axes_gives_the_radial_one():
    """FGDC-STD-007.3: RMSE radial is the root of the sum of the squares of x and y."""
    found = convert(lon=["-80"], lat=["35"], **{"Easting RMS": ["0.03"], "Northing RMS": ["0.04"]})
    assert found.frame["h_rms_m"].tolist() == pytest.approx([0.05])


def test_a_stated_radial_rms_goes_before_that_of_the_axes():
    """Lateral RMS is the receiver's own sum."""
    columns = {"Easting RMS": ["0.03"], "Northing RMS": ["0.04"], "Lateral RMS": ["0.06"]}
    assert convert(lon=["-80"], lat=["35"], **columns).frame["h_rms_m"].tolist() == [0.06]


@pytest.mark.parametrize("input_crs", ["EPSG:26914", "EPSG:4326"])
def test_rows_by_degrees_and_rows_by_plane_coordinates_share_a_file(input_crs):
    """The second row has an easting alone; where every row has degrees, one kind is enough."""
    settings = Settings.model_validate({"coordinates": {"input_crs": input_crs}})
    degrees = {"lon": ["-99.5", None], "lat": ["35.0", None]}
    plane = {"easting": [None, "454000.5"], "northing": [None, "3873000.5"]}
    frame = convert(settings, **degrees, **plane).frame
    assert frame[["lon", "easting"]].notna().to_numpy().tolist() == [[True, False], [False, True]]
    assert frame["position_crs"].tolist() == [input_crs] * 2

    both = {name: [values[k]] * 2 for k, part in enumerate((degrees, plane))
            for name, values in part.items()}  # fmt: skip
    frame = convert(settings, **both).frame
    assert frame["lon"].notna().all() != frame["easting"].notna().all()


def test_an_elevation_without_a_unit_beside_a_plane_of_feet_is_doubted():
    """A slope from it would be three times too steep."""
    plane = {"coordinates": {"input_crs": "EPSG:2264"}}
    rows = {"easting": ["1450000"], "northing": ["540000"]}
    codes = [
        f.code
        for f in convert(Settings.model_validate(plane), **rows, elevation=["696.8"]).findings
    ]
    assert codes.count("unit-mismatch") == 1
    plane["coordinates"]["length_unit"] = "ftus"
    assert not convert(Settings.model_validate(plane), **rows, elevation=["696.8"]).findings
    del plane["coordinates"]["length_unit"]
    assert not convert(Settings.model_validate(plane), **rows, elevation_ftus=["696.8"]).findings


def test_a_geopoint_of_a_form_brings_its_height_and_accuracy():
    """XForms for field forms: latitude, longitude, altitude, accuracy (from memory)."""
    frame = convert(geopoint=["35.22714 -80.84321 212.4 0.3"]).frame
    found = frame[["lon", "lat", "elevation_m", "h_rms_m"]].to_numpy().tolist()
    assert found == [[-80.84321, 35.22714, 212.4, 0.3]]


def test_a_location_in_words_is_no_position():
    """A column guessed by its name is let go where its cells say otherwise."""
    found = convert(lon=["-80"], lat=["35"], Location=["by the oak"])
    assert found.frame["lon"].tolist() == [-80.0]
    assert found.frame["Location"].tolist() == ["by the oak"]
