"""How text files are told apart: encoding, line ends, delimiter, header."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wiremap.errors import ReadError
from wiremap.read.sniffing import (
    decode_text,
    detect_dialect,
    find_header,
    is_number,
    sample_lines,
)

TABLE = "point,note\r\nP1,naïve\r\n"


@pytest.mark.parametrize(
    ("encoding", "announced"),
    [
        ("utf-8", ()),
        ("utf-8-sig", ()),
        ("utf-16", ("encoding utf-16",)),
        ("utf-16-le", ("encoding utf-16-le",)),
        ("utf-16-be", ("encoding utf-16-be",)),
        ("cp1252", ("encoding cp1252",)),
    ],
)
def test_a_text_reads_alike_in_every_encoding(encoding, announced):
    """All but UTF-8 are announced; line ends become plain ones."""
    decoded = decode_text(TABLE.encode(encoding))

    assert decoded.text == "point,note\nP1,naïve\n"
    assert decoded.notes == announced


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_every_line_end_of_every_machine_is_one_line_end(end):
    """CR alone is what old machines and some loggers write."""
    assert decode_text(f"a{end}b{end}".encode()).text == "a\nb\n"


@pytest.mark.parametrize("data", [b"", b"\xef\xbb\xbf", b"\r\n \n", b"\0\0\0"])
def test_an_empty_file_is_refused_as_empty(data):
    """A byte order mark, blank lines or NULs alone hold nothing."""
    with pytest.raises(ReadError, match=r"x\.csv: the file is empty"):
        decode_text(data, path="x.csv")


@pytest.mark.parametrize(
    ("data", "kind"),
    [
        (b"PK\x03\x04rest", "workbook"),
        (b"SQLite format 3\x00rest", "GeoPackage"),
        (b"%PDF-1.7", "PDF"),
        (b"\x00\x01\x02\x00\x03\x04" * 20, "binary"),
    ],
)
def test_a_binary_file_named_csv_is_refused_by_what_it_is(data, kind):
    """The first bytes are those that each format's own documentation names (from memory)."""
    with pytest.raises(ReadError, match=kind):
        decode_text(data, path="x.csv")


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("<?xml version='1.0'?><gpx/>", "XML"),
        ('{"type": "FeatureCollection"}', "JSON"),
        ("$GPGGA,1\n", "NMEA"),
    ],
)
def test_text_of_another_format_named_csv_is_refused_by_what_it_is(text, kind):
    """Reading it as a table would give nonsense."""
    with pytest.raises(ReadError, match=rf"x\.csv: the file is named as a table but is .*{kind}"):
        decode_text(text.encode(), path="x.csv")


def test_nuls_of_a_logger_that_lost_power_are_removed_and_counted():
    """The good rows before and behind still count."""
    text = "a,b\n" + "1,2\n" * 2000
    decoded = decode_text(text.encode() + b"\0\0\0" + b"3,4\n")

    assert decoded.text == text + "3,4\n"
    assert decoded.notes == ("3 NUL characters removed",)


@pytest.mark.parametrize("encoding", ["utf-7000", "ascii"])
def test_an_encoding_named_wrongly_is_refused(encoding):
    """Both the unknown name and the name that does not fit."""
    with pytest.raises(ReadError, match=r"encoding named|is not ascii"):
        decode_text(TABLE.encode(), encoding=encoding)


@pytest.mark.parametrize("delimiter", [",", ";", "\t", "|"])
def test_the_delimiter_is_the_one_that_makes_even_rows(delimiter):
    """Other delimiters occur inside the cells."""
    rows = [["point", "note"], ["P1", "a.b"], ["P2", "c"]]

    assert detect_dialect([delimiter.join(r) for r in rows]).delimiter == delimiter


def test_a_decimal_comma_is_told_from_the_cells():
    """Semicolons part the cells where the comma is the decimal mark."""
    assert detect_dialect(["point;lat", "P1;41,5", "P2;41,6"]) == (";", True)
    assert detect_dialect(["point;lat", "P1;41.5", "P2;41.6"]) == (";", False)
    assert detect_dialect(["point,lat", 'P1,"41,5"']) == (",", True)


def test_white_space_parts_a_survey_list():
    """Point, northing, easting, elevation, code and free text."""
    lines = ["101  5000.00  2000.00  100.0 VLV 6in box", "102  5001.00  2001.00  100.1 PATH"]

    assert detect_dialect(lines).delimiter == " "


def test_the_header_is_the_first_full_row_without_numbers():
    """Title rows stand above it; a list of numbers has none."""
    assert find_header([["Maple Court"], ["Sta.", "Name"], ["1", "lawn"]]) == 1
    assert find_header([["101", "5000.0", "2000.0"], ["102", "5001.0", "2001.0"]]) is None
    assert find_header([]) is None


def test_one_line_of_many_megabytes_is_refused():
    """It is no table, and nothing is gained by parsing it."""
    with pytest.raises(ReadError, match="longer than"):
        sample_lines("x" * 5_000_000, path="x.csv")


@given(st.binary(max_size=400))
def test_any_bytes_are_text_or_a_read_error(data):
    """No other exception escapes, and what comes back has no NUL and no CR."""
    try:
        decoded = decode_text(data, path="x.csv")
    except ReadError:
        return
    assert "\0" not in decoded.text
    assert "\r" not in decoded.text


@given(
    st.lists(
        st.text(st.characters(exclude_characters="\r\n"), max_size=40).filter(str.strip),
        min_size=1,
        max_size=8,
    )
)
def test_any_lines_have_a_dialect(lines):
    """The delimiter is one of the known five."""
    assert detect_dialect(lines).delimiter in {",", ";", "\t", "|", " "}


def test_numbers_in_cells_are_told_from_words():
    """Booleans and NaN are no numbers; a decimal comma is."""
    assert [is_number(c) for c in (1, 2.5, "41,5", "1e3", float("nan"), True, None, "L-01")] == [
        True, True, True, True, False, False, False, False,
    ]  # fmt: skip
