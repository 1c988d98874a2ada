"""Workbooks: one `RawTable` a sheet, its index the row number that the sheet shows."""

from __future__ import annotations

import re
import zipfile
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import pandas as pd

from wiremap.errors import EmptyTableError, MissingExtraError, ReadError
from wiremap.plugins import FileOptions, Problem, RawTable, Reader
from wiremap.read.asides import clear_asides
from wiremap.read.headers import describe_titles, gather_titles, name_columns
from wiremap.read.sniffing import SAMPLE_LINES, find_header
from wiremap.read.workbook_guard import SHEET, guard_workbook

if TYPE_CHECKING:
    from pathlib import Path


_ERROR = re.compile(
    rb'<c (?=[^>]*\bt="e")[^>]*\br="([A-Z]{1,3}\d{1,7})"[^>]*>'
    rb"(?:<f\b[^<]*</f>|<f\b[^>]*/>)?<v>(#[^<]{1,20})</v>"
)


def read_workbook(path: Path, options: FileOptions) -> list[RawTable]:
    """Read the sheets of a workbook.

    Parameters
    ----------
    path : Path
    options : FileOptions
        `sheet`, `header` and `columns` are used.

    Returns
    -------
    list of RawTable
        One a sheet that holds rows. Cells are text, numbers, booleans or dates; a formula cell
        has the value that was stored with it. A cell merged over several rows fills each of them.
        Title rows above the header are left aside, with a note.

    Raises
    ------
    ReadError
        The file is no workbook, would unpack to too much, has no such sheet, or no sheet holds
        rows.
    MissingExtraError
        python-calamine is not installed.
    """
    try:
        from python_calamine import CalamineError, CalamineWorkbook
    except ImportError as error:
        raise MissingExtraError("python-calamine", "xlsx") from error
    guard_workbook(path)
    try:
        with path.open("rb") as stream:
            book = CalamineWorkbook.from_filelike(stream)
            names = _choose_sheets(book.sheet_names, options.sheet, path.name)
            sheets = {name: _read_cells(book.get_sheet_by_name(name)) for name in names}
    except (CalamineError, OSError, ValueError) as error:
        if isinstance(error, ReadError):
            raise
        remedy = "save it again as .xlsx, without a password"
        raise ReadError(f"the workbook cannot be opened: {error}", path=path.name,
                        remedy=remedy) from error  # fmt: skip
    broken = _find_errors(path)
    tables = [_frame_sheet(name, rows, options) for name, rows in sheets.items()]
    held = [table for table in tables if table is not None and len(table.frame)]
    if not held:
        raise EmptyTableError("no sheet holds rows below a header", path=path.name,
                              remedy="fill in a sheet, or remove the file")  # fmt: skip
    return [replace(held[0], problems=(*held[0].problems, *broken)), *held[1:]]


def _find_errors(path: Path) -> list[Problem]:
    """Return a problem where formulas gave errors: such cells are read as empty.

    ``#N/A`` is none: it is written where there is no value.
    """
    found: list[tuple[bytes, bytes]] = []
    with zipfile.ZipFile(path) as archive:
        for name in archive.namelist():
            if SHEET.fullmatch(name):
                found += _ERROR.findall(archive.read(name))
    told = [(cell.decode(), error.decode()) for cell, error in found if error != b"#N/A"]
    if not told:
        return []
    cell, error = told[0]
    rule = f"{len(told)} cells hold the error of a formula and were read as empty, such as {cell}"
    row = int("".join(filter(str.isdigit, cell)))
    return [Problem(rule, row=row, value=error, remedy="correct the formula, or write the value")]


def _choose_sheets(names: list[str], wanted: str | None, path: str) -> list[str]:
    if not wanted:
        return names
    if wanted not in names:
        remedy = "the sheets are " + ", ".join(names)
        raise ReadError("the workbook has no such sheet", path=path, value=wanted, remedy=remedy)
    return [wanted]


def _read_cells(sheet: Any) -> list[list[Any]]:
    rows: list[list[Any]] = sheet.to_python(skip_empty_area=False)
    for (top, left), (bottom, right) in sheet.merged_cell_ranges or []:
        # only cells merged downwards repeat: a merged title stays one cell
        if left != right or bottom >= len(rows):
            continue
        for row in range(top + 1, bottom + 1):
            rows[row][left] = rows[top][left]
    return rows


def _frame_sheet(name: str, rows: list[list[Any]], options: FileOptions) -> RawTable | None:
    """Return one sheet as a raw table, or None where it is empty."""
    filled = [k for k, row in enumerate(rows) if any(_holds(c) for c in row)]
    if not filled:
        return None
    head = [rows[k] for k in filled[:SAMPLE_LINES]]
    place = None if options.header is False else find_header(head)
    if place is None and options.header:
        place = 0
    width = max(len(rows[k]) for k in filled)
    cells = [] if place is None else [str(c).strip() for c in head[place]]
    named = name_columns(options.columns or cells, width=width)
    body = filled if place is None else filled[place + 1 :]
    columns = list(zip(*(rows[k] for k in body), strict=True)) if body else [()] * width
    used = [k for k, column in enumerate(columns) if k < len(cells) or any(map(_holds, column))]
    frame = pd.DataFrame(
        {named.names[k]: pd.Series([c if _holds(c) else None for c in columns[k]]) for k in used}
    ).set_axis(pd.Index([k + 1 for k in body], dtype="int64"))
    frame, notes = clear_asides(frame)
    titles = gather_titles(head[: place or 0])
    notes = [*describe_titles(titles), *notes]
    problems = tuple(named.problems)
    return RawTable(frame, part=name, notes=tuple(notes), problems=problems, titles=titles)


def _holds(cell: Any) -> bool:
    return cell is not None and (not isinstance(cell, str) or bool(cell.strip()))


READER = Reader(
    "workbook",
    (".xlsx",),
    read_workbook,
    "Workbook: each sheet a table; title rows above the header are left aside",
)
