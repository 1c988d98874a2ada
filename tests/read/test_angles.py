"""Longitudes and latitudes as people write them."""

import math

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from wiremap.read.angles import parse_angle, read_angles, read_packed


@pytest.mark.parametrize(
    "text",
    [
        "41.39093333333333", "N 41 23.456", "41 23.456 N", "41\u00b023.456'N", "41\u00b0 23' 27.36\" N",
        "41:23:27.36", "41d 23m 27.36s N", "41-23-27.36", "N41\u00b023\u203227.36\u2033", "+41 23 27.36",
        "41 deg 23.456 min north", "Lat 41 23 27.36",
    ],
)  # fmt: skip
def test_one_latitude_in_many_spellings(text):
    """41 degrees 23.456 minutes is 41 + 23.456/60 degrees."""
    assert parse_angle(text, axis="lat") == pytest.approx(41 + 23.456 / 60, abs=1e-12)


@pytest.mark.parametrize(
    "text",
    ["W 97 08.5", "-97 08.5", "97\u00b008.5'W", "-97:08:30", "-97.14166666666667", "097 08.5 w"],
)
def test_west_is_negative(text):
    """The sign or the letter stands for the whole angle, not for its degrees alone."""
    assert parse_angle(text, axis="lon") == pytest.approx(-(97 + 8.5 / 60), abs=1e-12)


@pytest.mark.parametrize(
    "text",
    ["", "soft", "41 61.0", "41 23 60.5", "41.5 23", "1 2 3 4", "N 41 S", "E 41 23", "41 23 27 x"],
)
def test_what_is_no_latitude_is_refused(text):
    """Minutes under sixty, one hemisphere, of this axis, and a fraction in the last part only."""
    with pytest.raises(ValueError, match=r"."):
        parse_angle(text, axis="lat")


@given(st.floats(-89.99, 89.99), st.sampled_from(["dm", "dms", "d"]))
def test_an_angle_written_out_reads_back(angle, style):
    """Degrees, minutes and seconds lose nothing beyond rounding."""
    size, letter = abs(angle), "S" if angle < 0 else "N"
    degrees = math.floor(size)
    minutes = (size - degrees) * 60
    whole = math.floor(minutes)
    seconds = (minutes - whole) * 60
    text = {
        "d": f"{size:.12f} {letter}",
        "dm": f"{letter} {degrees} {min(minutes, 59.9999999999):.10f}",
        "dms": f"{degrees}\u00b0{whole}'{min(seconds, 59.99999999):.8f}\"{letter}",
    }[style]

    assert parse_angle(text, axis="lat") == pytest.approx(angle, abs=1e-8)


def test_swapped_columns_stay_readable_and_absurd_ones_do_not():
    """A longitude in the latitude column is kept, so that the swap can be named."""
    read = read_angles(pd.Series([-97.1, 500000.0]), axis="lat")

    np.testing.assert_array_equal(read.data, [-97.1, np.nan])
    assert read.bad.tolist() == [False, True]


@pytest.mark.parametrize(
    "cell",
    [
        "41.5, -97.25", "41.5 -97.25", "41.5,-97.25", "(41.5; -97.25)", "N 41 30 W 97 15", "41\u00b030'N 97\u00b015'W",
        "97 15 W, 41 30 N", "POINT (-97.25 41.5)", "POINT Z (-97.25 41.5 300)", "41,5; -97,25", "41,5 -97,25", "N41 30.0, W97 15.0",
        "41 30 0 -97 15 0",
    ],
)  # fmt: skip
def test_two_coordinates_in_one_cell(cell):
    """Letters tell which is which; without them the latitude comes first."""
    packed = read_packed(pd.Series([cell]), lat_first=True)

    assert (packed.lon[0], packed.lat[0]) == pytest.approx((-97.25, 41.5))


@pytest.mark.parametrize(
    "cell", ["41.5", "north gate", "41.5, soft", "1 2 3", "POINT EMPTY", "41,5,6,7"]
)
def test_a_cell_without_two_coordinates_is_bad(cell):
    """No half of a position is taken."""
    packed = read_packed(pd.Series([cell, None]), lat_first=True)

    assert packed.bad.tolist() == [True, False]
    assert np.isnan(packed.lon).all()


@given(st.text(max_size=60))
def test_any_text_is_read_or_bad(text):
    """Nothing raises."""
    for lat_first in (True, False):
        packed = read_packed(pd.Series([text], dtype="str"), lat_first=lat_first)
        assert packed.bad[0] or not text.strip() or abs(packed.lat[0]) <= 180
    read = read_angles(pd.Series([text], dtype="str"), axis="lon")
    assert not np.isinf(read.data).any()
