"""Text tables: CSV, TSV and survey point lists.

Gives one `RawTable` whose index is the line number that a person sees in the file.
"""

from __future__ import annotations

import csv
import io
import re
from itertools import islice
from typing import TYPE_CHECKING, Literal, NamedTuple

import numpy as np
import pandas as pd

from wiremap.errors import EmptyTableError, ReadError
from wiremap.plugins import FileOptions, Problem, RawTable, Reader
from wiremap.read.asides import clear_asides, strip_comment
from wiremap.read.columns import is_number_name
from wiremap.read.headers import describe_titles, gather_titles, name_columns
from wiremap.read.sniffing import (
    LONGEST_LINE,
    SAMPLE_LINES,
    decode_text,
    detect_dialect,
    find_header,
    sample_lines,
)

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

MOST_BYTES = 250_000_000
"""Largest text table that is read; project choice, some two million rows."""
_NAMES = {"\t": "tab", " ": "white space"}
_DAY, _CLOCK = (
    re.compile(r"\d{2,4}[-/.]\d\d?[-/.]\d{2,4}"),
    re.compile(r"\d\d?:\d\d(:\d\d(\.\d+)?)?"),
)


class _Layout(NamedTuple):
    """Where the table stands in the text, how its cells are parted, and what was noticed."""

    delimiter: str
    names: list[str]
    lines_above: int
    problems: list[Problem]
    notes: list[str]
    titles: tuple[str, ...] = ()


class _Body(NamedTuple):
    """The rows of a text table, and what was wrong with some."""

    frame: pd.DataFrame
    problems: list[Problem]
    notes: list[str]


def read_delimited(path: Path, options: FileOptions) -> list[RawTable]:
    """Read a text table, whatever encoding, delimiter and decimal mark it was saved with.

    Parameters
    ----------
    path : Path
    options : FileOptions
        What is known about the file; the rest is detected and noted.

    Returns
    -------
    list of RawTable
        One table. Cells are text, or numbers where the column's name and all its cells are
        numeric. The index is the line where a row starts.

    Raises
    ------
    ReadError
        The file cannot be opened, is empty or binary, or has no rows below its header.
    """
    try:
        _refuse_large(path)
        decoded = decode_text(path.read_bytes(), path=path.name, encoding=options.encoding)
    except OSError as error:
        raise ReadError(f"the file cannot be opened: {error.strerror}", path=path.name) from error
    lines = sample_lines(decoded.text, path=path.name)
    try:
        detected = detect_dialect(lines)
        delimiter = _named_delimiter(options.delimiter) or detected.delimiter
        comma = options.decimal == "," if options.decimal else detected.decimal_comma
        layout = _find_layout(decoded.text, delimiter, options)
        body = _parse(decoded.text, layout, decimal_comma=comma)
        cleared = clear_asides(body.frame)
    except csv.Error as error:
        remedy = "look for a quote that is never closed"
        raise ReadError(f"the cells run together: {error}", path=path.name,
                        remedy=remedy) from error  # fmt: skip
    if cleared.frame.empty and not body.problems:
        remedy = "fill it in, or export it again with its rows"
        raise EmptyTableError("the file has a header and no rows", path=path.name, remedy=remedy)
    notes = list(decoded.notes)
    if delimiter != "," and not options.delimiter:
        notes.append(f"cells parted by {_NAMES.get(delimiter, delimiter)}")
    if comma and not options.decimal:
        notes.append("decimal comma")
    return [
        RawTable(
            cleared.frame,
            notes=(*notes, *layout.notes, *body.notes, *cleared.notes),
            problems=(*layout.problems, *body.problems),
            decimal_comma=comma,
            titles=layout.titles,
        )
    ]


def _refuse_large(path: Path) -> None:
    size = path.stat().st_size
    if size > MOST_BYTES:
        rule = f"the file is larger than {MOST_BYTES / 1e6:.0f} MB"
        remedy = "split it into several files"
        raise ReadError(rule, path=path.name, value=f"{size / 1e6:.0f} MB", remedy=remedy)


def _named_delimiter(name: str | None) -> str:
    words = {"tab": "\t", "\\t": "\t", "comma": ",", "semicolon": ";", "space": " "}
    return words.get(name.lower(), name[:1]) if name else ""


def _rows_of(text: str, delimiter: str, *, quoting: bool = True) -> Iterator[tuple[int, list[str]]]:
    """Yield the line where each row ends, counted from 1, and its cells."""
    lines = io.StringIO(text)
    style: Literal[0, 3] = csv.QUOTE_MINIMAL if quoting else csv.QUOTE_NONE
    if delimiter == " ":
        reader = csv.reader(
            (" ".join(line.split()) for line in lines), delimiter=" ", quoting=style
        )
    else:
        reader = csv.reader(lines, delimiter=delimiter, quoting=style, skipinitialspace=True)
    for row in reader:
        yield reader.line_num, row


def _find_layout(text: str, delimiter: str, options: FileOptions) -> _Layout:
    """Find the header, or name the columns where there is none."""
    filled = ((end, row) for end, row in _rows_of(text[:LONGEST_LINE], delimiter)
              if any(c.strip() for c in row))  # fmt: skip
    head = list(islice(filled, SAMPLE_LINES))
    rows = [row for _, row in head]
    if not rows:
        raise ReadError("no cell holds anything", remedy="export it again with its rows")
    place = None if options.header is False else find_header(rows)
    if place is None and options.header:
        place = 0
    if place is None:
        # free text parted by white space is the last column, however many words it has
        widest = 0 if delimiter == " " and options.columns else max(map(len, rows))
        named = name_columns(options.columns, width=widest)
        notes = [] if options.header is False else ["no header row was found"]
        return _Layout(delimiter, named.names, 0, named.problems, notes)
    cells = strip_comment([c.strip() for c in rows[place]])
    while len(cells) > 1 and not cells[-1]:
        cells.pop()
    cells = _part_times(cells, rows[place + 1 :]) if delimiter == " " else cells
    named = name_columns(options.columns or cells, width=len(cells))
    titles = gather_titles(rows[:place])
    notes = describe_titles(titles)
    return _Layout(delimiter, named.names, head[place][0], named.problems, notes, titles)


def _part_times(names: list[str], rows: list[list[str]]) -> list[str]:
    """Name the time of day behind a date that white space parts from it, under one heading."""
    whole = [row for row in rows if len(row) == len(names) + 1]
    if not whole or len(whole) < len(rows):
        return names
    for place in range(len(names)):
        if all(_DAY.fullmatch(row[place]) and _CLOCK.fullmatch(row[place + 1]) for row in whole):
            return [*names[: place + 1], "time", *names[place + 1 :]]
    return names


def _parse(text: str, layout: _Layout, *, decimal_comma: bool) -> _Body:
    start = 0
    for _ in range(layout.lines_above):
        start = text.find("\n", start) + 1 or len(text)
    body = text[start:]
    rows = body.count("\n") + (0 if body.endswith("\n") or not body else 1)
    fences = len(layout.names) - 1
    # a first row that is too long would set the width of all others
    regular = body.partition("\n")[0].count(layout.delimiter) == fences
    regular = regular and body.count(layout.delimiter) == rows * fences
    if rows and regular and '"' not in body and layout.delimiter != " ":
        frame = _parse_regular(body, layout, decimal_comma=decimal_comma)
        if len(frame) == rows:
            return _Body(_without_blank(frame), [], [])
    return _parse_ragged(body, layout)


def _parse_regular(body: str, layout: _Layout, *, decimal_comma: bool) -> pd.DataFrame:
    """Parse a body whose every line has all its cells and no quotes."""
    numeric = [] if decimal_comma else [n for n in layout.names if is_number_name(n)]
    try:
        frame = pd.read_csv(
            io.BytesIO(body.encode()),  # twice as fast as text
            sep=layout.delimiter,
            names=layout.names,
            header=None,
            index_col=False,
            dtype=dict.fromkeys(set(layout.names) - set(numeric), "str"),
            keep_default_na=False,
            na_values={name: [""] for name in numeric},
            skip_blank_lines=False,
            quoting=csv.QUOTE_NONE,
            low_memory=False,
        )
    except pd.errors.ParserError:  # too many cells in one line, too few in another
        return pd.DataFrame()
    first = layout.lines_above + 1
    frame.index = pd.RangeIndex(first, first + len(frame))
    return frame


def _without_blank(frame: pd.DataFrame) -> pd.DataFrame:
    """Return the frame without rows that hold nothing."""
    blank = np.flatnonzero(_is_blank(frame.iloc[:, 0]))
    for place in range(1, frame.shape[1]):
        if not len(blank):
            return frame
        blank = blank[_is_blank(frame.iloc[blank, place])]
    return frame.drop(index=frame.index[blank])


def _is_blank(cells: pd.Series) -> np.ndarray:
    empty: np.ndarray = cells.isna().to_numpy(dtype=bool)
    if isinstance(cells.dtype, pd.StringDtype):
        empty = empty | (cells == "").to_numpy(dtype=bool, na_value=False)
    return empty


def _parse_ragged(body: str, layout: _Layout) -> _Body:
    """Parse line by line: quoted line ends, blank lines, rows too short or too long."""
    gathered = _gather(body, layout, quoting=True)
    notes = []
    if gathered is None:
        gathered = _gather(body, layout, quoting=False)
        notes.append("a quote is never closed, so quotes were not taken as such")
    assert gathered is not None
    cells, numbers, problems, short = gathered
    if short:
        which = f"{len(short)} rows have" if len(short) > 1 else "one row has"
        notes.append(f"{which} fewer cells than the header, such as row {short[0]}")
    columns = dict(zip(layout.names, zip(*cells, strict=True), strict=True)) if cells else {}
    index = pd.Index(numbers, dtype="int64")
    frame = pd.DataFrame(columns, index=index, columns=layout.names, dtype="str")
    return _Body(frame, problems, notes)


def _gather(
    body: str, layout: _Layout, *, quoting: bool
) -> tuple[list[list[str]], list[int], list[Problem], list[int]] | None:
    """Return cells, line numbers, problems and short rows; None where a quote never closes."""
    width, spaced = len(layout.names), layout.delimiter == " "
    cells: list[list[str]] = []
    numbers: list[int] = []
    problems: list[Problem] = []
    short: list[int] = []
    start = 1
    for end, read in _rows_of(body, layout.delimiter, quoting=quoting):
        row = read if quoting else [c.strip().strip('"') for c in read]
        number = layout.lines_above + start
        if end > start and _swallows_rows(row, layout):
            return None
        start = end + 1
        if not any(c.strip() for c in row):
            continue
        kept = _fit(row, width, join=spaced)
        if len(kept) > width:
            problems.append(_too_long(row, width, number))
            continue
        if len(row) < width:
            short.append(number)
        cells.append(kept)
        numbers.append(number)
    return cells, numbers, problems, short


def _swallows_rows(row: list[str], layout: _Layout) -> bool:
    """Return whether a quoted cell holds whole rows, so that its quote is a stray one."""
    fences = max(len(layout.names) - 1, 1)
    lines = [line for cell in row for line in cell.split("\n")[1:]]
    return any(line.count(layout.delimiter) >= fences for line in lines)


def _fit(row: list[str], width: int, *, join: bool) -> list[str]:
    """Return a row of the table's width where nothing is lost by it, else the row."""
    if len(row) <= width:
        return row + [""] * (width - len(row))
    if join:
        return [*row[: width - 1], " ".join(row[width - 1 :])]
    return row if any(c.strip() for c in row[width:]) else row[:width]


def _too_long(row: list[str], width: int, number: int) -> Problem:
    return Problem(
        rule=f"the row has {len(row)} cells where the header has {width}; it was set aside",
        row=number,
        value=" | ".join(row)[:80],
        remedy="put quotes around a cell that holds the delimiter",
    )


READER = Reader(
    "delimited",
    (".csv", ".tsv", ".txt", ".asc", ".dat", ".pnt", ".prn", ".xyz", ".pos"),
    read_delimited,
    "Text table: CSV, TSV, survey point list; encoding, delimiter and decimal mark are detected",
)
