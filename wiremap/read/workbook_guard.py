"""Refuse workbooks that would unpack to more than any field list holds.

The reader of workbooks lays each sheet out as a full rectangle, so that one stray cell in the
last corner would ask for all the memory there is; and a workbook is an archive, which may unpack
to a thousand times its size.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from wiremap.errors import ReadError
from wiremap.read.archives import open_archive

if TYPE_CHECKING:
    from pathlib import Path

MOST_BYTES = 400_000_000
"""Bytes that the sheets of a workbook may unpack to (project choice: a million rows of ten)."""
MOST_CELLS = 30_000_000
"""Cells of a sheet's rectangle, empty ones included (project choice: about a gigabyte)."""
SHEET = re.compile(r"xl/worksheets/[^/]+\.xml", re.IGNORECASE)
"""Where the archive usually holds its sheets; a workbook may name any other member as one."""
_CELLS = b"sheetData"
_IS = rb"(?<![\w:])r\s*=\s*[\"']"  # the cell's own name, no xmlns:r
_OUTSIDE = re.compile(_IS + rb"(?:[A-Z]{4}|[A-Z]*\d{8}|[^\"'A-Z0-9])", re.IGNORECASE)
_ROW = re.compile(rb"<(?:\w+:)?row\b[^>]*?" + _IS + rb"(\d+)")
_FAR_ROW = re.compile(_IS + rb"[A-Z]{1,3}(\d{6,7})", re.IGNORECASE)
_WIDE = tuple(re.compile(_IS + rb"([A-Z]{%d})\d" % n, re.IGNORECASE) for n in (3, 2))
_LETTERS = 26


def guard_workbook(path: Path) -> None:
    """Refuse a workbook that would unpack to more than any field list holds.

    Parameters
    ----------
    path : Path

    Raises
    ------
    ReadError
        The file is no archive, unpacks to more than `MOST_BYTES`, has a cell that no sheet can
        hold, or a sheet whose rectangle holds more than `MOST_CELLS`.
    """
    remedy = "save it again as .xlsx, without a password"
    with open_archive(path, rule="the workbook cannot be opened", remedy=remedy) as archive:
        members = archive.infolist()
        if sum(m.file_size for m in members) > MOST_BYTES:
            rule = f"the workbook unpacks to more than {MOST_BYTES / 1e6:.0f} MB"
            raise ReadError(rule, path=path.name, remedy="split it, or export it as CSV")
        for member in members:
            content = archive.read(member)
            if _CELLS in content:
                _guard_sheet(content, path.name)


def _guard_sheet(xml: bytes, path: str) -> None:
    if _OUTSIDE.search(xml):
        rule = "a sheet has a cell outside of what a sheet can hold"
        raise ReadError(rule, path=path, remedy="export the sheet as CSV")
    rows = max(map(int, _ROW.findall(xml) + _FAR_ROW.findall(xml)), default=0)
    columns = next((_widest(found) for wide in _WIDE if (found := wide.findall(xml))), _LETTERS)
    if rows * columns > MOST_CELLS:
        raise ReadError(
            f"a sheet reaches to row {rows:,} and column {columns:,}, more cells than"
            f" {MOST_CELLS:,}",
            path=path,
            remedy="delete the stray cell far out, or export the sheet as CSV",
        )


def _widest(names: list[bytes]) -> int:
    """Return the number of the last of columns named by letters."""
    last = max({name.upper() for name in names})
    number = 0
    for letter in last:
        number = number * _LETTERS + letter - ord("A") + 1
    return number
