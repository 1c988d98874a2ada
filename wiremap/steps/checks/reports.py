"""Findings for rows that break a rule: one each, until there are too many of them."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pandas as pd

from wiremap.model.findings import Finding

if TYPE_CHECKING:
    import numpy as np

ROWS_REPORTED = 50
"""Rows that break one rule and get a finding each; the rest share one (project choice)."""


def report_rows(
    code: str,
    work: pd.DataFrame,
    rows: np.ndarray,
    message: str,
    *,
    column: str = "",
    advice: str = "",
    most: int = ROWS_REPORTED,
) -> list[Finding]:
    """Return findings for rows that break a rule.

    Parameters
    ----------
    code : str
        A key of `CODES`.
    work : DataFrame
        Columns point, source_file, source_row, and `column`.
    rows : array of int
        Positions of the rows.
    message : str
        ``{value}`` in it becomes the row's cell in `column`.
    column : str
        Column that the rule is about.
    advice : str
        What to do; the code's own advice where empty.
    most : int
        Rows that get a finding each; the rest share one.

    Returns
    -------
    list of Finding
    """
    shown = rows[:most]
    values = work[column].iloc[shown].tolist() if column else [""] * len(shown)
    points = work["point"].iloc[shown].tolist()
    files = work["source_file"].iloc[shown].tolist()
    numbers = work["source_row"].iloc[shown].tolist()
    found = []
    for point, file, number, value in zip(points, files, numbers, values, strict=True):
        text = f"{value:.6g}" if isinstance(value, float) else str(value)
        source_file, row = text_of(file), None if pd.isna(number) else int(number)
        found.append(
            Finding(
                code,
                text_of(point) or f"{source_file} row {row}",
                message.replace("{value}", text),
                advice=advice,
                source_file=source_file,
                source_row=row,
                column=column,
                value=text,
            )
        )
    left = rows[most:]
    if len(left):
        in_file, at_row = work["source_file"], work["source_row"]
        text = (
            f"{len(left)} further rows break the same rule, from row {at_row.iloc[left[0]]} of"
            f" {in_file.iloc[left[0]]} to row {at_row.iloc[left[-1]]} of {in_file.iloc[left[-1]]}: "
            + message.replace(", got {value}", "").replace("{value}", "...")
        )
        found.append(Finding(code, column or "rows", text, advice=advice, column=column))
    return found


def text_of(value: object) -> str:
    """Return a cell of a text column, an empty text where it is missing.

    Parameters
    ----------
    value : object

    Returns
    -------
    str
    """
    return value if isinstance(value, str) else ""


def filled(cells: pd.Series) -> np.ndarray:
    """Return which cells of text hold something.

    Parameters
    ----------
    cells : Series of str

    Returns
    -------
    array of bool
    """
    held: np.ndarray = cells.notna().to_numpy(dtype=bool)
    return held & (cells != "").to_numpy(dtype=bool, na_value=False)
