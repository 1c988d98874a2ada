"""Rows of a raw table that are no records: units under the header, comments, totals.

They are left aside with a note that says what they held; a row of units gives its units to the
names of the columns.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import pandas as pd

from wiremap.read.columns import is_unit
from wiremap.read.values import as_text

if TYPE_CHECKING:
    from collections.abc import Sequence

_TOTAL = re.compile(
    r"(?:grand |sub)?(?:total|sum|count|average|mean)s?\b|end\b|\(?\d+ (?:rows|records|points)\b",
    re.IGNORECASE,
)
_OTHER_UNITS = frozenset(
    {
        "deg",
        "degrees",
        "°",
        "dd",
        "dms",
        "ohm",
        "ohms",
        "ω",
        "db",
        "gpm",
        "lpm",
        "l/s",
        "psi",
        "awg",
    }
)
_NO_UNIT = frozenset({"-", "--", "none", "text", "n/a"})
_LEAST_CELLS = 3
"""Fewest columns of a table whose last rows can be told from remarks (project choice)."""


class Cleared(NamedTuple):
    """A table of records alone, and what was left aside, in words."""

    frame: pd.DataFrame
    notes: list[str]


def strip_comment(cells: Sequence[str]) -> list[str]:
    """Return the cells of a header without the sign of a comment before the first.

    Parameters
    ----------
    cells : sequence of str

    Returns
    -------
    list of str

    Examples
    --------
    >>> strip_comment(["# Point", "Northing"]), strip_comment(["#", "Northing"])
    (['Point', 'Northing'], ['#', 'Northing'])
    """
    if cells and cells[0] == "%":
        return list(cells[1:])
    first = re.sub(r"^(?:#|//|%)\s*(?=[A-Za-z])", "", cells[0]) if cells else ""
    return [first, *cells[1:]]


def clear_asides(frame: pd.DataFrame) -> Cleared:
    """Return a table without its rows that are no records.

    Parameters
    ----------
    frame : DataFrame
        Cells as read, indexed by the row that a person sees.

    Returns
    -------
    Cleared
        Left aside are: a first row of nothing but units, which go into the columns' names; rows
        that repeat the header; rows that start with ``#`` or ``//`` and hold no number; and at
        the end, totals and remarks such as ``Total points: 14``. The note names each kind.

    Examples
    --------
    >>> table = pd.DataFrame({"point": ["", "P1"], "depth": ["in", "12"], "note": ["", "soft"]})
    >>> cleared = clear_asides(table)
    >>> cleared.frame.columns.tolist(), len(cleared.frame)
    (['point', 'depth (in)', 'note'], 1)
    """
    notes: list[str] = []
    frame = _take_units(frame, notes)
    first = frame.iloc[:, 0] if frame.shape[1] else pd.Series(dtype=object)
    if not len(first) or pd.api.types.is_numeric_dtype(first):
        return Cleared(frame, notes)
    start = as_text(first).str.slice(0, 80)
    kinds = {
        "repeating the header": _find_repeats(frame, start),
        "starting as a comment": _find_comments(frame, start),
        "below the table": _find_remarks(frame, start),
    }
    aside = np.zeros(len(frame), dtype=bool)
    for what, rows in kinds.items():
        found = np.setdiff1d(rows, np.flatnonzero(aside))
        aside[found] = True
        if len(found):
            count = f"{len(found)} rows {what} were" if len(found) > 1 else f"1 row {what} was"
            shown = " ".join(_filled(frame, int(found[0])))[:60]
            row = frame.index[found[0]]
            notes.append(f"{count} left aside, such as row {row}: {shown}")
    return Cleared(frame.loc[~aside], notes) if aside.any() else Cleared(frame, notes)


def _filled(frame: pd.DataFrame, place: int) -> list[str]:
    cells = frame.iloc[place].tolist()
    return [str(c).strip() for c in cells if not pd.isna(c) and str(c).strip()]


def _take_units(frame: pd.DataFrame, notes: list[str]) -> pd.DataFrame:
    """Put the units of a first row that holds nothing else into the names of its columns."""
    if len(frame) < 2 or not _are_units(_filled(frame, 0)):  # noqa: PLR2004
        return frame
    cells = ["" if pd.isna(c) else str(c).strip().strip("()[]") for c in frame.iloc[0]]
    named = [
        f"{name} ({unit})" if is_unit(unit) and f"({unit})" not in name else name
        for name, unit in zip(map(str, frame.columns), cells, strict=True)
    ]
    notes.append(f"row {frame.index[0]} was taken as the units of the columns")
    return frame.iloc[1:].set_axis(named, axis="columns")


def _are_units(cells: list[str]) -> bool:
    """Return whether cells are units and nothing else."""
    plain = [cell.strip("()[]").lower() for cell in cells]
    told = [is_unit(cell) or cell in _OTHER_UNITS for cell in plain]
    return any(told) and all(t or cell in _NO_UNIT for t, cell in zip(told, plain, strict=True))


def _find_repeats(frame: pd.DataFrame, start: pd.Series) -> np.ndarray:
    """Return the places of rows whose every filled cell is the name of its column."""
    names = [str(name).lower() for name in frame.columns]
    rows = np.flatnonzero((start.str.lower() == names[0]).to_numpy(dtype=bool, na_value=False))
    same, filled = np.ones(len(rows), dtype=bool), np.zeros(len(rows), dtype=int)
    for k, name in enumerate(names if len(rows) else ()):
        cells = as_text(frame.iloc[rows, k]).str.lower()
        same &= (cells.isna() | (cells == name)).to_numpy(dtype=bool)
        filled += cells.notna().to_numpy()
    return rows[same & (filled > 1)]


def _find_comments(frame: pd.DataFrame, start: pd.Series) -> np.ndarray:
    """Return the places of rows that start as a comment; ``#12`` is the name of a point."""
    rows = np.flatnonzero(start.str.match(r"(?:#|//)(?!\s*\d+$)").to_numpy(bool, na_value=False))
    has_number = np.zeros(len(rows), dtype=bool)
    for k in range(frame.shape[1] if len(rows) else 0):
        numbers = pd.to_numeric(as_text(frame.iloc[rows, k]), errors="coerce")
        has_number |= numbers.notna().to_numpy()
    return rows[~has_number]


def _find_remarks(frame: pd.DataFrame, start: pd.Series) -> np.ndarray:
    """Return the places of the last rows, as far up as each is a total or a remark."""
    places: list[int] = []
    if frame.shape[1] < _LEAST_CELLS:
        return np.array(places, dtype=np.intp)
    for place in range(len(frame) - 1, -1, -1):
        word = start.iloc[place]
        is_remark = isinstance(word, str) and (
            bool(_TOTAL.match(word)) or (":" in word and len(_filled(frame, place)) == 1)
        )
        if not is_remark:
            break
        places.append(place)
    return np.array(places[::-1], dtype=np.intp)
