"""The findings as a CSV file that a spreadsheet opens safely."""

from __future__ import annotations

import csv
import re
from typing import TYPE_CHECKING, Any

from wiremap.model.tables import FINDINGS
from wiremap.plugins import Writer

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    import pandas as pd

_NUMBER = re.compile(r"[-+]?(\d+([.,]\d*)?|[.,]\d+)([eE][-+]?\d+)?")
_FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n")


def write_findings(
    layers: Mapping[str, pd.DataFrame], target: Path, context: Mapping[str, Any]
) -> list[Path]:
    """Write ``findings.csv``: one row a finding, most severe first.

    The file is UTF-8 with a byte order mark, so that spreadsheets show accents, and no cell can
    be taken for a formula.

    Parameters
    ----------
    layers : mapping of str to DataFrame
        Only the layer ``findings`` is used; without it the file holds the header alone.
    target : Path
        Folder to write into.
    context : mapping
        Not used.

    Returns
    -------
    list of Path
        The one file.

    Raises
    ------
    OSError
        The file cannot be written.
    """
    del context
    path = target / "findings.csv"
    names = FINDINGS.column_names
    frame = layers["findings"] if "findings" in layers else FINDINGS.empty()
    columns = [write_cells(frame[name]) for name in names]
    with path.open("w", encoding="utf-8-sig", newline="") as file:
        rows = csv.writer(file)
        rows.writerow(names)
        rows.writerows(zip(*columns, strict=True))
    return [path]


def write_cells(column: pd.Series) -> list[str]:
    """Return a column as cells that no spreadsheet takes for formulas.

    Parameters
    ----------
    column : Series

    Returns
    -------
    list of str
        Empty where a value is missing.
    """
    return [
        "" if missing else guard_formula(str(value))
        for value, missing in zip(column.tolist(), column.isna().tolist(), strict=True)
    ]


def guard_formula(text: str) -> str:
    """Return a cell's text so that no spreadsheet takes it for a formula.

    Parameters
    ----------
    text : str
        Any text. Numbers, signed ones too, stay as they are.

    Returns
    -------
    str
        With an apostrophe in front where a spreadsheet would compute it.

    Examples
    --------
    >>> guard_formula("=2+3"), guard_formula("-0.35")
    ("'=2+3", '-0.35')
    """
    plain = text.lstrip(" ")
    if plain.startswith(_FORMULA_STARTS) and not _NUMBER.fullmatch(plain):
        return f"'{text}"
    return text


WRITER = Writer(
    name="findings",
    suffixes=(".csv",),
    write=write_findings,
    meaning="findings.csv: what is wrong, doubtful or worth knowing",
)
