"""The wire schedule as CSV and, where the extra ``xlsx`` is installed, as a workbook."""

from __future__ import annotations

import csv
import datetime as dt
import math
from typing import TYPE_CHECKING, Any

from wiremap.plugins import Writer
from wiremap.write.findings import write_cells

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    import pandas as pd

_MADE = dt.datetime(2000, 1, 1, tzinfo=dt.UTC)
"""Stands for the time of writing, so that equal schedules make equal files."""


def write_schedule(
    layers: Mapping[str, pd.DataFrame], target: Path, context: Mapping[str, Any]
) -> list[Path]:
    """Write the wire schedule: one row a zone, with its valves, wire, reading and fault.

    Parameters
    ----------
    layers : mapping of str to DataFrame
        Not used.
    target : Path
        Folder to write into.
    context : mapping
        ``slug``, and ``schedule``: the table; without it nothing is written.

    Returns
    -------
    list of Path
        ``<slug>-schedule.csv``, and ``<slug>-schedule.xlsx`` where XlsxWriter is installed.

    Raises
    ------
    OSError
        A file cannot be written.
    """
    del layers
    schedule = context.get("schedule")
    if schedule is None:
        return []
    path = target / f"{context['slug']}-schedule.csv"
    with path.open("w", encoding="utf-8-sig", newline="") as file:
        rows = csv.writer(file)
        rows.writerow(schedule.columns)
        rows.writerows(zip(*(write_cells(schedule[name]) for name in schedule), strict=True))
    workbook = path.with_suffix(".xlsx")
    return [path, workbook] if _write_workbook(schedule, workbook) else [path]


def _write_workbook(schedule: pd.DataFrame, path: Path) -> bool:
    """Write the workbook; return whether the package for it is there."""
    try:
        import xlsxwriter
    except ImportError:
        return False
    plain = {"strings_to_formulas": False, "strings_to_urls": False, "strings_to_numbers": False}
    with xlsxwriter.Workbook(path, plain) as workbook:
        workbook.set_properties({"created": _MADE.replace(tzinfo=None)})
        sheet = workbook.add_worksheet("Wire schedule")
        bold = workbook.add_format({"bold": True, "bottom": 1})
        for column, name in enumerate(schedule.columns):
            sheet.write_string(0, column, name, bold)
            for row, value in enumerate(schedule[name].tolist(), start=1):
                _write_cell(sheet, row, column, value)
        sheet.freeze_panes(1, 1)
        sheet.autofit()
    return True


def _write_cell(sheet: Any, row: int, column: int, value: object) -> None:
    """Write a number as a number, all else as text, and nothing where a value is missing."""
    if isinstance(value, int | float) and math.isfinite(value):
        sheet.write_number(row, column, value)
    elif isinstance(value, float) and math.isinf(value):
        sheet.write_string(row, column, "open")
    elif isinstance(value, str) and value:
        sheet.write_string(row, column, value)


WRITER = Writer(
    name="schedule",
    suffixes=(".csv", ".xlsx"),
    write=write_schedule,
    meaning="The wire schedule: zones, valves, wire, readings",
)
