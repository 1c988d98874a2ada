"""Workbooks that would take all memory are refused before they are opened."""

import zipfile

import openpyxl
import pytest

from wiremap.errors import ReadError
from wiremap.plugins import FileOptions
from wiremap.read import workbook_guard
from wiremap.read.workbook import read_workbook
from wiremap.read.workbook_guard import guard_workbook


def write(path, cell):
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.append(["point", "lat"])
    sheet.append(["P1", 41.5])
    sheet[cell] = "stray"
    book.save(path)
    return path


@pytest.mark.parametrize("cell", ["XFD1048576", "ZZ1048576", "XFD20000"])
def test_a_stray_cell_in_the_last_corner_is_refused_with_its_place(tmp_path, cell):
    """The reader would lay out every cell up to it, and the process would be aborted."""
    path = write(tmp_path / "locates.xlsx", cell)

    with pytest.raises(
        ReadError, match=r"locates\.xlsx: a sheet reaches to row [\d,]+ and column [\d,]+"
    ):
        read_workbook(path, FileOptions())


@pytest.mark.parametrize("cell", ["C5", "A9000", "AB90"])
def test_a_cell_a_little_out_is_no_reason(tmp_path, cell):
    """People leave remarks beside and below their lists."""
    guard_workbook(write(tmp_path / "locates.xlsx", cell))


def test_an_archive_that_unpacks_to_too_much_is_refused(tmp_path, monkeypatch):
    """The sizes are read from the archive's own list, nothing is unpacked."""
    monkeypatch.setattr(workbook_guard, "MOST_BYTES", 100_000)
    path = tmp_path / "locates.xlsx"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("xl/worksheets/sheet1.xml", b"0" * 200_000)

    with pytest.raises(ReadError, match="unpacks to more than"):
        guard_workbook(path)


@pytest.mark.parametrize("reference", ["AXFD13", "B4999999999999", "&#65;1"])
def test_a_reference_that_no_sheet_can_hold_is_refused(tmp_path, reference):
    """A sheet ends at XFD1048576 (ECMA-376, from memory)."""
    path = tmp_path / "locates.xlsx"
    with zipfile.ZipFile(path, "w") as archive:
        sheet = (
            f'<worksheet><sheetData><row r="1"><c r="{reference}"/></row></sheetData></worksheet>'
        )
        archive.writestr("xl/worksheets/sheet1.xml", sheet)

    with pytest.raises(ReadError, match="outside of what a sheet can hold"):
        guard_workbook(path)
