"""Files to fill in: the field sheet to print, and empty tables as CSV and as workbooks.

One folder a kind of table, ``csv`` and ``xlsx``; each is a property folder once its tables are
filled in. All columns come from the declared tables.
"""

from __future__ import annotations

import csv
import datetime as dt
import io
import os
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from wiremap.errors import MissingExtraError
from wiremap.model.field_columns import FIELD_TABLES, FieldColumn, field_columns
from wiremap.write.outputs import write_files
from wiremap.write.settings_template import write_settings_template

if TYPE_CHECKING:
    from collections.abc import Callable

    from wiremap.draw.fieldsheet.papers import PaperName
    from wiremap.model.field_columns import Units

FIELD_SHEET = "field-sheet.pdf"
_UNIT_WORDS = {"ft": "feet", "in": "inches", "m": "metres", "deg": "degrees"}
_CREATED = dt.datetime(2026, 1, 1, tzinfo=dt.UTC)
_SUBJECT = "Table to fill in for wiremap. Advisory; not a utility locate."
_ROWS = 5_000
"""Rows of a workbook that have lists to choose from (project choice: some ten days' work)."""


@dataclass(frozen=True)
class Templates:
    """What `write_templates` did.

    Attributes
    ----------
    written : tuple of Path
        Files that are new.
    kept : tuple of Path
        Files that were there already, and were left alone.
    missing : tuple of MissingExtraError
        What was not written for want of an optional package.
    """

    written: tuple[Path, ...]
    kept: tuple[Path, ...]
    missing: tuple[MissingExtraError, ...] = ()


def write_templates(
    out: str | Path,
    *,
    paper: PaperName = "letter",
    units: Literal["auto", "ft", "m"] = "auto",
) -> Templates:
    """Write the field sheet and empty tables to fill in; a file that is there is left alone.

    Parameters
    ----------
    out : path
        Folder to write into; made where it does not exist. It gets ``field-sheet.pdf`` and the
        folders ``csv`` and ``xlsx``, each with ``property.toml``, ``locates``, ``zones``,
        ``references`` and ``readings``: take the one that suits and name it after the property.
    paper : str
        Paper of the field sheet, ``letter`` or ``a4``.
    units : str
        Unit in the headings of lengths: ``ft`` (feet, and inches for depths and offsets) or
        ``m``; where ``auto``, that of the paper.

    Returns
    -------
    Templates
        Where reportlab or XlsxWriter is not installed, the rest is written all the same.

    Raises
    ------
    WriteError
        The folder cannot be written to.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     first = write_templates(folder, paper="a4")
    ...     again = write_templates(folder, paper="a4")
    >>> len(first.written), len(first.kept), len(again.written)
    (11, 0, 0)
    """
    unit: Units = ("ft" if paper == "letter" else "m") if units == "auto" else units
    folder = Path(out)
    makers = _list_makers(paper, unit)
    new = [name for name in makers if not os.path.lexists(folder / name)]
    missing: dict[str, MissingExtraError] = {}

    def write(staging: Path) -> list[Path]:
        made = []
        for name in new:
            try:
                content = makers[name]()
            except MissingExtraError as error:
                missing.setdefault(error.package, error)
                continue
            path = staging / name
            path.parent.mkdir(exist_ok=True)
            path.write_bytes(content)
            made.append(path)
        return made

    written = write_files(folder, [], write) if new else []
    kept = [folder / name for name in makers if name not in new]
    return Templates(tuple(written), tuple(kept), tuple(missing.values()))


def _list_makers(paper: PaperName, units: Units) -> dict[str, Callable[[], bytes]]:
    """Return what makes each file, by its name."""
    settings = write_settings_template().encode()
    makers: dict[str, Callable[[], bytes]] = {FIELD_SHEET: partial(_draw_sheet, paper, units)}
    for kind, make in (("csv", _make_csv), ("xlsx", _make_workbook)):
        makers[f"{kind}/property.toml"] = lambda: settings
        for stem, table in FIELD_TABLES.items():
            columns = field_columns(table, units=units)
            makers[f"{kind}/{stem}.{kind}"] = partial(make, stem, columns)
    return makers


def _draw_sheet(paper: PaperName, units: Units) -> bytes:
    from wiremap.draw.fieldsheet.document import draw_field_sheet

    return draw_field_sheet(paper, units=units)


def _make_csv(_: str, columns: list[FieldColumn]) -> bytes:
    text = io.StringIO(newline="")
    csv.writer(text).writerow([column.heading for column in columns])
    return text.getvalue().encode("utf-8-sig")


def _make_workbook(stem: str, columns: list[FieldColumn]) -> bytes:
    """Return a workbook: each heading with a note, lists to choose from, cells kept as typed."""
    try:
        import xlsxwriter
    except ImportError as error:
        raise MissingExtraError("XlsxWriter", "xlsx") from error
    data = io.BytesIO()
    with xlsxwriter.Workbook(data, {"in_memory": True}) as book:
        book.set_properties({"created": _CREATED, "comments": _SUBJECT})
        sheet = book.add_worksheet(stem)
        # text, so that zone 3-4 and tie 3/8 do not become dates
        typed = book.add_format({"num_format": "@"})
        head = book.add_format({"bold": True, "bottom": 2, "num_format": "@"})
        for place, field in enumerate(columns):
            sheet.set_column(place, place, max(len(field.heading) + 2, 9), typed)
            sheet.write_string(0, place, field.heading, head)
            sheet.write_comment(0, place, describe_column(field), {"x_scale": 2, "y_scale": 1.2})
            if field.column.options:
                words = [str(word) for word in field.column.options]
                sheet.data_validation(
                    1, place, _ROWS, place,
                    {"validate": "list", "source": words, "error_type": "warning",
                     "error_title": field.heading, "error_message": "No word of the list."},
                )  # fmt: skip
        sheet.freeze_panes(1, 1)
        sheet.ignore_errors({"number_stored_as_text": f"A1:XFD{_ROWS + 1}"})
    return data.getvalue()


def describe_column(field: FieldColumn) -> str:
    """Return what is written into a column: its meaning, its unit, the words to choose from.

    Parameters
    ----------
    field : FieldColumn

    Returns
    -------
    str

    Examples
    --------
    >>> from wiremap.model.tables import LOCATES_IN
    >>> (depth,) = [c for c in field_columns(LOCATES_IN, units="ft") if c.heading == "depth_in"]
    >>> describe_column(depth)
    'Depth of the wire below the ground, plumb. In inches.'
    """
    parts = [field.column.meaning]
    if field.unit:
        parts.append(f"In {_UNIT_WORDS[field.unit]}.")
    if field.column.options:
        parts.append("One of: " + ", ".join(field.column.options) + ".")
    return " ".join(parts)
