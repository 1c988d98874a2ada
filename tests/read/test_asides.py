"""Rows that are no records: units, comments, repeated headers, totals."""

from __future__ import annotations

import pandas as pd
import pytest

from wiremap.read.asides import clear_asides


def table(*rows, names=("point", "northing", "code")):
    """A table of text whose rows are numbered from 2, as below a header."""
    frame = pd.DataFrame(rows, columns=list(names), dtype="str")
    return frame.set_axis(pd.RangeIndex(2, 2 + len(frame)))


GOOD = (("P1", "5000.00", "VLV"), ("P2", "5001.00", "SPL"))


def test_a_row_of_units_goes_into_the_names_of_its_columns():
    """Row 2 under the header, as survey programs print it (common practice, no source)."""
    cleared = clear_asides(table(("", "US ft", ""), *GOOD))
    assert cleared.frame.columns.tolist() == ["point", "northing (US ft)", "code"]
    assert cleared.frame.index.tolist() == [3, 4]
    assert cleared.notes == ["row 2 was taken as the units of the columns"]


def test_a_row_that_is_a_point_named_like_a_unit_is_kept():
    """A point called m with a position is a point."""
    frame = table(("m", "5000.00", "VLV"), *GOOD)
    assert clear_asides(frame).frame.equals(frame)


def test_a_lone_row_of_units_is_kept():
    """Nothing would be left to have those units."""
    assert len(clear_asides(table(("", "ft", ""))).frame) == 1


@pytest.mark.parametrize(
    ("row", "told"),
    [
        (("# second day", "", ""), "starting as a comment"),
        (("// office copy", None, None), "starting as a comment"),
        (("POINT", "Northing", "Code"), "repeating the header"),
    ],
)
def test_what_is_no_record_is_left_aside_with_its_row(row, told):
    """Between the rows of the table."""
    cleared = clear_asides(table(GOOD[0], row, GOOD[1]))
    assert cleared.frame["point"].tolist() == ["P1", "P2"]
    assert told in cleared.notes[0]
    assert "row 3" in cleared.notes[0]


@pytest.mark.parametrize(
    "row",
    [
        ("#12", "5002.00", "VLV"),
        ("#12", "", ""),
        ("# gate", "5002.00", "VLV"),
        ("point", "5002.00", "VLV"),
        ("P3 by the gate", "", ""),
        ("Total", "5002.00", "VLV"),
    ],
)
def test_a_row_that_may_be_a_point_is_kept(row):
    """A number beside the sign, or a name that is cut off: it is reported, not dropped."""
    frame = table(GOOD[0], row, GOOD[1])
    assert clear_asides(frame).frame.equals(frame)


@pytest.mark.parametrize(
    "rows",
    [
        [("Total points: 2", "", "")],
        [("Total", "2", "")],
        [("", "", ""), ("End of report", "", "")],
        [("Checked by: two of us", "", ""), ("(2 rows affected)", "", "")],
    ],
)
def test_totals_and_remarks_below_the_table_are_left_aside(rows):
    """As office programs print them (common practice, no source)."""
    cleared = clear_asides(table(*GOOD, *[r for r in rows if any(r)]))
    assert cleared.frame["point"].tolist() == ["P1", "P2"]
    assert "below the table" in cleared.notes[-1]


def test_a_table_of_two_columns_keeps_its_last_row():
    """A list of points and notes may end in any words."""
    frame = table(("P1", "a: b"), ("Total: 3", ""), names=("point", "note"))
    assert clear_asides(frame).frame.equals(frame)
