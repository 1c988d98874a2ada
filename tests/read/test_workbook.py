"""Workbooks: sheets, row numbers, typed cells, merged cells."""

import datetime as dt
import sys

import openpyxl
import pandas as pd
import pytest

from wiremap.errors import MissingExtraError, ReadError
from wiremap.plugins import FileOptions
from wiremap.read.workbook import READER, read_workbook


@pytest.fixture
def write(tmp_path):
    def write_sheets(sheets, merged=()):
        book = openpyxl.Workbook()
        book.remove(book.active)
        for name, rows in sheets.items():
            sheet = book.create_sheet(name)
            for row in rows:
                sheet.append(row)
            for cells in merged:
                sheet.merge_cells(cells)
        path = tmp_path / "locates.xlsx"
        book.save(path)
        return path

    return write_sheets


def test_each_sheet_that_holds_rows_is_a_table(write):
    """An empty sheet and a sheet with a header alone are left out."""
    path = write({"May": [["point", "lat"], ["P1", 41.5]], "Empty": [], "Head": [["point", "lat"]]})

    tables = read_workbook(path, FileOptions())
    assert [t.part for t in tables] == ["May"]
    assert tables[0].frame.index.tolist() == [2]
    assert tables[0].frame.loc[2].tolist() == ["P1", 41.5]


def test_rows_keep_the_number_that_the_sheet_shows(write):
    """Title rows, blank rows and a merged title do not shift them."""
    rows = [
        ["Maple Court 2026", None, None],
        [None],
        ["Sta.", "Name", "Ohms"],
        [1, "lawn", 28.5],
        [None],
        [2, "beds", "OL"],
    ]
    path = write({"Zones": rows}, merged=["A1:C1"])

    (table,) = read_workbook(path, FileOptions())
    assert table.frame.columns.tolist() == ["Sta.", "Name", "Ohms"]
    assert table.frame.index.tolist() == [4, 6]


def test_a_cell_merged_downwards_fills_each_of_its_rows(write):
    """A controller's name is often merged over its stations."""
    rows = [["Controller", "Sta."], ["A", 1], [None, 2], ["B", 1]]
    path = write({"Zones": rows}, merged=["A2:A3"])

    (table,) = read_workbook(path, FileOptions())
    assert table.frame["Controller"].tolist() == ["A", "A", "B"]


def test_dates_and_numbers_keep_their_types(write):
    """What the cell holds, not how it is shown."""
    path = write({"May": [["point", "date", "depth"], ["P1", dt.date(2026, 5, 4), 0.36]]})

    (table,) = read_workbook(path, FileOptions())
    assert table.frame.loc[2, "date"].isoformat()[:10] == "2026-05-04"
    assert table.frame.loc[2, "depth"] == 0.36


def test_a_formula_without_a_stored_value_is_an_empty_cell(write):
    """Nothing is computed, and the formula's text is no value."""
    path = write({"May": [["point", "depth"], ["P1", "=1+1"]]})

    (table,) = read_workbook(path, FileOptions())
    assert table.frame["point"].tolist() == ["P1"]
    assert pd.isna(table.frame.loc[2, "depth"])


def test_a_sheet_can_be_chosen_and_a_wrong_name_lists_those_there_are(write):
    """The option names it."""
    path = write({"A": [["point"], ["P1"]], "B": [["point"], ["P2"]]})

    (table,) = read_workbook(path, FileOptions(sheet="B"))
    assert table.frame["point"].tolist() == ["P2"]
    with pytest.raises(ReadError, match="the sheets are A, B"):
        read_workbook(path, FileOptions(sheet="C"))


@pytest.mark.parametrize("data", [b"", b"PK\x03\x04nothing", b"point,lat\nP1,41\n"])
def test_what_is_no_workbook_is_refused(tmp_path, data):
    """One line with the file's name."""
    path = tmp_path / "locates.xlsx"
    path.write_bytes(data)

    with pytest.raises(ReadError, match=r"locates\.xlsx: the workbook cannot be opened"):
        read_workbook(path, FileOptions())


def test_a_workbook_without_rows_is_refused(write):
    """Every sheet is empty."""
    with pytest.raises(ReadError, match="no sheet holds rows"):
        read_workbook(write({"Empty": []}), FileOptions())


def test_a_missing_package_is_named_with_its_install_line(write, monkeypatch):
    """The extra is called xlsx."""
    monkeypatch.setitem(sys.modules, "python_calamine", None)

    with pytest.raises(MissingExtraError, match=r"pip install 'wiremap\[xlsx\]'"):
        read_workbook(write({"A": [["point"], ["P1"]]}), FileOptions())


def test_the_reader_takes_workbooks():
    """The ending that the registry finds it by."""
    assert READER.suffixes == (".xlsx",)
