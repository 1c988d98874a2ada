"""Cells as numbers, metres, ohms and zones."""

import math

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from wiremap.model.units import METRES_PER_UNIT
from wiremap.read.values import (
    as_text,
    parse_number,
    read_integers,
    read_lengths,
    read_numbers,
    read_ohms,
    read_zones,
)


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("12.5", 12.5), (" 12.5 ", 12.5), ("41,5", 41.5), ("2,234,567.12", 2234567.12),
        ("500,123.45", 500123.45), ("1.234,5", 1234.5), ("1 234,5", 1234.5), ("0,123", 0.123),
        ("45 dB", 45), ("88%", 88), ("+3", 3), ("-0.5", -0.5), ("\u22120.5", -0.5), ("12.", 12),
    ],
)  # fmt: skip
def test_numbers_as_people_write_them(text, value):
    """Decimal commas, grouped digits, a real minus sign, a unit behind."""
    assert read_numbers(pd.Series([text])).data[0] == pytest.approx(value, rel=1e-15)


@pytest.mark.parametrize("text", ["", "  ", "-", "n/a", "NA", "none", "null", None, float("nan")])
def test_cells_that_say_nothing_are_empty_and_not_bad(text):
    """People mark an empty cell in many ways."""
    read = read_numbers(pd.Series([text], dtype=object))

    assert math.isnan(read.data[0])
    assert not read.bad[0]


@pytest.mark.parametrize(
    "text",
    ["nan", "NaN", "inf", "-Infinity", "1e308", "1e99999999", "soft", "=1+1", "#REF!", "1,234"],
)
def test_cells_that_are_no_usable_number_are_bad_and_empty(text):
    """Not a number, infinite, absurd, a formula, or either of two numbers."""
    read = read_numbers(pd.Series([text, "1"]))

    assert math.isnan(read.data[0])
    assert read.bad.tolist() == [True, False]


def test_typed_infinity_is_bad_and_typed_missing_is_empty():
    """Vector files and workbooks bring numbers, not text."""
    assert read_numbers(pd.Series([1.0, np.inf, np.nan])).bad.tolist() == [False, True, False]


def test_a_decimal_comma_file_reads_both_marks():
    """In such a file 1.234,5 has grouped digits."""
    read = read_numbers(pd.Series(["1,5", "1.234,5", "7"]), decimal_comma=True)

    assert read.data.tolist() == [1.5, 1234.5, 7.0]


@pytest.mark.parametrize(
    ("text", "unit", "metres"),
    [
        ("14 1/2", "in", 0.3683), ("1' 2 1/2\"", "m", 0.3683), ("0.36 m", "in", 0.36),
        ("0,36", "m", 0.36), ("36", "cm", 0.36), ("1", "ftus", 1200 / 3937), ("5 ft 3 in", "m", 1.6002),
    ],
)  # fmt: skip
def test_lengths_become_metres(text, unit, metres):
    """The foot is 0.3048 m and the survey foot 1200/3937 m (NIST, 85 FR 62698)."""
    assert read_lengths(pd.Series([text]), unit=unit).data[0] == pytest.approx(metres, abs=1e-12)


@pytest.mark.parametrize(
    "text", ["1/0", "1e99999999 m", "9" * 500, "1" * 79 + "x", "'" * 70, "2 in 3 ft"]
)
def test_hostile_lengths_are_bad_at_once(text):
    """Division by zero, huge exponents and long digits neither raise nor hang."""
    assert read_lengths(pd.Series([text]), unit="m").bad[0]


@given(
    st.floats(0.001, 1e6, allow_nan=False), st.sampled_from(sorted(METRES_PER_UNIT)),
)  # fmt: skip
def test_a_length_reads_back_in_every_unit(length, unit):
    """By suffix or by unit in the cell, the metres are the same."""
    bare = read_lengths(pd.Series([repr(length)]), unit=unit).data[0]

    assert bare == pytest.approx(length * METRES_PER_UNIT[unit], rel=1e-12)
    assert read_lengths(pd.Series([length]), unit=unit).data[0] == pytest.approx(bare, rel=1e-12)


@given(st.integers(0, 400), st.integers(0, 11), st.integers(0, 15))
def test_feet_inches_and_sixteenths_read_as_their_sum(feet, inches, sixteenths):
    """A foot is twelve inches of 25.4 mm."""
    text = f"{feet}' {inches} {sixteenths}/16\""
    metres = (feet * 12 + inches + sixteenths / 16) * 0.0254

    assert read_lengths(pd.Series([text]), unit="m").data[0] == pytest.approx(metres, abs=1e-9)


@given(st.lists(st.text(max_size=30), min_size=1, max_size=5))
def test_any_cell_is_a_number_or_empty_or_bad(cells):
    """Nothing raises, and what is not bad is finite or empty."""
    for read in (
        read_numbers(pd.Series(cells, dtype="str")),
        read_lengths(pd.Series(cells, dtype="str"), unit="ft"),
        read_integers(pd.Series(cells, dtype="str")),
    ):
        assert np.isnan(read.data[read.bad]).all()
        assert not np.isinf(read.data).any()


@given(
    st.lists(
        st.one_of(
            st.text(max_size=10), st.floats(), st.integers(), st.none(), st.booleans(), st.dates()
        ),
        min_size=1,
        max_size=5,
    )
)
def test_any_typed_cell_becomes_text(cells):
    """Workbooks bring cells of every type; text is trimmed and never empty."""
    for text in as_text(pd.Series(cells, dtype=object)).dropna():
        assert text
        assert text == text.strip()


def test_whole_numbers_of_a_workbook_lose_their_decimal_point():
    """A point called 101 comes as 101.0 from a sheet."""
    assert as_text(pd.Series([101.0, 2.5, True, "x"], dtype=object)).tolist() == [
        "101",
        "2.5",
        "True",
        "x",
    ]


@pytest.mark.parametrize(
    ("cell", "ohms"),
    [("28.5", 28.5), ("OL", math.inf), ("open", math.inf), ("O.L.", math.inf), ("1.2 k", 1200),
     ("28 ohms", 28), ("0.5 M\u03a9", 5e5), ("28,5", 28.5)],
)  # fmt: skip
def test_ohms_as_a_meter_and_its_reader_write_them(cell, ohms):
    """OL is what a meter shows beyond its range (common practice, no source)."""
    assert read_ohms(pd.Series([cell])).data[0] == ohms


def test_negative_ohms_are_bad():
    """No resistance is below zero."""
    assert read_ohms(pd.Series(["-3"])).bad[0]


@pytest.mark.parametrize(
    ("cell", "zone"),
    [("3", "3"), ("3;4", "3;4"), ("3, 4", "3;4"), (3.0, "3"), ("3.0", "3"), ("Zone 3", "3"), ("03", "3"),
     ("3 & 4", "3;4"), ("3/4", "3;4"), ("3;3", "3"), ("Sta. 7", "7"), ("A5", "A5"), ("MV", "MV"), ("#12", "12"),
     ("0", "0"), ("3 4", "3;4"), ("M/V", "M/V"), ("Z-3", "3")],
)  # fmt: skip
def test_zones_as_people_write_them(cell, zone):
    """Labels are parted by semicolons, whole numbers without zeros in front."""
    assert read_zones(pd.Series([cell], dtype=object)).tolist() == [zone]


@given(st.lists(st.integers(1, 99), min_size=1, max_size=4, unique=True))
def test_zone_lists_are_read_the_same_twice(zones):
    """Reading what was written changes nothing."""
    once = read_zones(pd.Series([", ".join(map(str, zones))]))

    assert once.tolist() == [";".join(map(str, zones))]
    assert read_zones(once).tolist() == once.tolist()


def test_a_fraction_is_no_whole_number():
    """Counts are whole."""
    assert read_integers(pd.Series(["2", "2.5", "x"])).bad.tolist() == [False, True, True]


def test_an_ambiguous_number_says_so():
    """1,234 is a thousand in one country and one and a bit in another."""
    with pytest.raises(ValueError, match="either of two"):
        parse_number("1,234")
