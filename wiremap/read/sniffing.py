"""How a text file is written: encoding, line ends, delimiter, decimal mark, header row.

Takes bytes or text, gives what was detected. Nothing here knows what a column means.
"""

from __future__ import annotations

import codecs
import csv
import re
from typing import TYPE_CHECKING, NamedTuple

from wiremap.errors import ReadError

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

LONGEST_LINE = 131_072
"""Characters in a line beyond which a file is not taken for a table (project choice)."""
SNIFFED_BYTES = 4096
"""Bytes at the beginning of a file that tell a receiver's log from a table (project choice)."""
SAMPLE_LINES = 60
"""Lines that delimiter, decimal mark and header are judged by (project choice)."""

_MAGIC = {
    b"PK\x03\x04": "a zip archive or workbook",
    b"SQLite format 3\x00": "an SQLite or GeoPackage file",
    b"%PDF": "a PDF",
    b"\x89PNG": "a PNG image",
    b"\xff\xd8\xff": "a JPEG image",
    b"GIF8": "a GIF image",
    b"\xd0\xcf\x11\xe0": "an old binary workbook",
    b"\x1f\x8b": "a gzip archive",
}
_OTHER_TEXT = {
    "<?xml": "XML",
    "<gpx": "a GPX file",
    "<kml": "a KML file",
    "<html": "a web page",
    "<!doctype": "a web page",
    "{": "JSON",
    "$gp": "an NMEA 0183 log",
    "$gn": "an NMEA 0183 log",
}
_MARKS = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)
COMMENTS = ("#", "%", "//")
"""What a line starts with that is a comment, or a header written as one."""
_POINT = re.compile(r"[-+]?\d+\.\d+")
_COMMA = re.compile(r"[-+]?\d+,\d+")
_NUMBER = re.compile(r"[-+]?(?:\d+[.,]?\d*|[.,]\d+)(?:[eE][-+]?\d+)?")
_WHITESPACE = " "
_CONTROL = bytes(sign for sign in range(1, 32) if sign not in b"\t\n\f\r\x1a\x1b")
_LEAST_TEXT = 0.97
"""Share of a text's signs that are no control characters, at least (project choice)."""


_LOG = re.compile(rb"\$[A-Z]{2}(?:GGA|RMC|GSA|GSV|GLL|GST|VTG|ZDA),")


def holds_log(path: Path) -> bool:
    """Return whether a file of text is a receiver's log, whatever its name ends in.

    Parameters
    ----------
    path : Path

    Returns
    -------
    bool
        True where an NMEA 0183 sentence stands near its beginning; False where it cannot be read.
    """
    try:
        with path.open("rb") as file:
            return bool(_LOG.search(file.read(SNIFFED_BYTES)))
    except OSError:
        return False


class Text(NamedTuple):
    """A decoded file: its text with plain line ends, its encoding, and what was noticed."""

    text: str
    encoding: str
    notes: tuple[str, ...]


class Dialect(NamedTuple):
    """How the cells of a text table are parted: delimiter and decimal mark."""

    delimiter: str
    decimal_comma: bool


def decode_text(data: bytes, *, path: str = "", encoding: str | None = None) -> Text:
    r"""Return the text of a file, whatever encoding and line ends it was saved with.

    Parameters
    ----------
    data : bytes
        The whole file.
    path : str
        Name used in messages.
    encoding : str, optional
        Encoding, where it is known; else UTF-8, UTF-16 or cp1252 is detected.

    Returns
    -------
    Text
        Line ends are ``\n``. Notes say when the encoding is not UTF-8 and when NUL characters
        were removed.

    Raises
    ------
    ReadError
        The file is empty, is no text, or cannot be decoded.

    Examples
    --------
    >>> decode_text("naïve".encode("cp1252")).encoding
    'cp1252'
    """
    _refuse_binary(data, path)
    chosen = encoding or _detect_encoding(data, path)
    text = _decode(data, chosen, path, is_given=encoding is not None)
    _refuse_other_text(text, path)
    plain = chosen.lower().replace("_", "-") in {"utf-8", "utf-8-sig", "ascii"}
    notes = [] if plain else [f"encoding {chosen}"]
    if "\0" in text:
        notes.append(f"{text.count(chr(0))} NUL characters removed")
        text = text.replace("\0", "")
    if "\r" in text:
        text = text.replace("\r\n", "\n").replace("\r", "\n")
    return Text(text, chosen, tuple(notes))


def _refuse_binary(data: bytes, path: str) -> None:
    if not data.strip(b" \t\r\n\x00\xef\xbb\xbf"):
        raise ReadError("the file is empty", path=path, remedy="export it again with its rows")
    kind = next((what for magic, what in _MAGIC.items() if data.startswith(magic)), "")
    if kind:
        remedy = "give the file the ending of its kind, or export it as CSV"
        raise ReadError(f"the file is named as text but is {kind}", path=path, remedy=remedy)


def _refuse_other_text(text: str, path: str) -> None:
    start = text[:200].lstrip("\ufeff \t\r\n").lower()
    kind = next((what for first, what in _OTHER_TEXT.items() if start.startswith(first)), "")
    if kind:
        remedy = "give the file the ending of its kind"
        raise ReadError(f"the file is named as a table but is {kind}", path=path, remedy=remedy)


def _decode(data: bytes, encoding: str, path: str, *, is_given: bool) -> str:
    """Decode a file; a detected encoding always succeeds, a given one is held to its word."""
    try:
        return data.decode("utf-8-sig" if encoding.lower() in {"utf-8", "utf8"} else encoding)
    except LookupError as error:
        rule = "the encoding named for the file is none that exists"
        raise ReadError(rule, path=path, value=encoding, remedy="name utf-8 or cp1252") from error
    except UnicodeDecodeError as error:
        if not is_given:
            return data.decode(encoding, errors="replace")
        rule = f"the file is not {encoding}: byte {error.start + 1} has no meaning in it"
        raise ReadError(rule, path=path, remedy="correct or drop encoding") from error


def _detect_encoding(data: bytes, path: str) -> str:
    for mark, name in _MARKS:
        if data.startswith(mark):
            return name
    head = data[:4096]
    if b"\0" in head:
        for name, zeros in (("utf-16-le", head[1::2]), ("utf-16-be", head[0::2])):
            if zeros.count(0) > 0.8 * len(zeros):
                return name
        # a receiver that lost power leaves NUL characters in its text; other signs make it binary
        text = len(head.translate(None, _CONTROL)) / len(head)
        if text < _LEAST_TEXT or head.count(0) > len(head) // 2:
            remedy = "export the table as CSV text"
            raise ReadError("the file is binary, not text", path=path, remedy=remedy)
    try:
        data.decode("utf-8")
    except UnicodeDecodeError:
        return "cp1252"
    return "utf-8"


def sample_lines(text: str, *, path: str = "") -> list[str]:
    """Return the first lines of a text that hold anything.

    Parameters
    ----------
    text : str
    path : str
        Name used in messages.

    Returns
    -------
    list of str
        At most `SAMPLE_LINES`.

    Raises
    ------
    ReadError
        A line is longer than `LONGEST_LINE`, or none holds anything.
    """
    if _has_longer_line(text, LONGEST_LINE):
        rule = f"a line is longer than {LONGEST_LINE:,} characters, so this is no table"
        raise ReadError(rule, path=path, remedy="export one row a line")
    lines = text[: LONGEST_LINE + 1].split("\n")
    complete = lines[:-1] if len(text) > LONGEST_LINE else lines
    filled = [line for line in complete if line.strip()][:SAMPLE_LINES]
    if not filled:
        raise ReadError("the file holds no rows", path=path, remedy="export it again")
    return filled


def _has_longer_line(text: str, most: int) -> bool:
    """Return whether a line is longer, looking at one place in each `most` characters."""
    start = 0
    while len(text) - start > most:
        end = text.rfind("\n", start, start + most + 1)
        if end < 0:
            return True
        start = end + 1
    return False


def split_cells(lines: Sequence[str], *, delimiter: str) -> list[list[str]]:
    """Return the cells of lines, parted at a delimiter; a space stands for any white space.

    Parameters
    ----------
    lines : sequence of str
    delimiter : str
        One character.

    Returns
    -------
    list of list of str
        Quoted cells keep their delimiters.

    Examples
    --------
    >>> split_cells(['a;"b;c"'], delimiter=";")
    [['a', 'b;c']]
    """
    if delimiter == _WHITESPACE:
        lines = [" ".join(line.split()) for line in lines]
    return [row for row in csv.reader(lines, delimiter=delimiter, skipinitialspace=True) if row]


def detect_dialect(lines: Sequence[str]) -> Dialect:
    """Return how the cells of a text table are parted.

    Parameters
    ----------
    lines : sequence of str
        Lines that hold something.

    Returns
    -------
    Dialect
        Delimiter ``,``, ``;``, tab or ``|``, by which most lines have the same number of cells;
        a space where only white space parts them; ``,`` for a single column. A decimal comma is
        told from numbers such as ``1,5`` in cells.

    Examples
    --------
    >>> detect_dialect(["point;lat", "P1;41,5"])
    Dialect(delimiter=';', decimal_comma=True)
    """
    lines = [line for line in lines if not line.startswith(COMMENTS)] or lines
    scored = [(*_regularity(lines, d), d) for d in (",", ";", "\t", "|")]
    share, _, delimiter = max(scored, key=lambda s: (s[0], s[1]))
    if share == 0:
        spaced, cells = _regularity(lines, _WHITESPACE)
        numeric = sum(bool(_NUMBER.fullmatch(c)) for c in lines[-1].split())
        # words in a single column have spaces too; a table of numbers has numbers between them
        delimiter = _WHITESPACE if spaced > 0 and cells > 2 and numeric > 1 else ","  # noqa: PLR2004
    found = [c.strip() for row in split_cells(lines, delimiter=delimiter) for c in row]
    commas = sum(bool(_COMMA.fullmatch(c)) for c in found)
    points = sum(bool(_POINT.fullmatch(c)) for c in found)
    return Dialect(delimiter, decimal_comma=commas > points)


def _regularity(lines: Sequence[str], delimiter: str) -> tuple[float, int]:
    """Return the share of lines with the commonest number of cells, and that number."""
    counts = [len(row) for row in split_cells(lines, delimiter=delimiter)]
    if not counts:
        return 0.0, 1
    commonest = max(set(counts), key=lambda n: (counts.count(n), n))
    return (counts.count(commonest) / len(counts) if commonest > 1 else 0.0), commonest


def find_header(rows: Sequence[Sequence[object]]) -> int | None:
    """Return which row names the columns.

    Parameters
    ----------
    rows : sequence of sequences
        The first rows of a table, as cells.

    Returns
    -------
    int or None
        Position in `rows` of the first row that is about as full as the fullest and holds no
        number, title rows above it left aside; None where every full row holds numbers. A row
        that starts as a comment counts where no other is a header.

    Examples
    --------
    >>> find_header([["Maple Court", "", ""], ["Sta.", "Name", "Ohms"], [1, "lawn", 28]])
    1
    >>> find_header([["101", "5000.00", "2000.00"]]) is None
    True
    """
    filled = [sum(bool(str(c).strip()) for c in row if c is not None) for row in rows]
    remarks = _find_remarks(rows)
    plain = [k for k in range(min(len(rows), SAMPLE_LINES // 2)) if k not in remarks]
    first = plain[0] if plain else len(rows)
    enough = max(1, 0.6 * max((filled[k] for k in plain or remarks), default=0))
    candidates = [k for k in plain if filled[k] >= enough][:1]
    candidates += [k for k in reversed(remarks) if k < first and filled[k] >= enough]
    named = (k for k in candidates if not any(is_number(c) for c in rows[k]))
    return next(named, None)


def _find_remarks(rows: Sequence[Sequence[object]]) -> list[int]:
    """Return the positions of rows that start as comments; a lone ``#`` heads a column."""
    starts = [str(next(iter(row), "")).strip() for row in rows]
    found = [k for k, start in enumerate(starts) if start.startswith(COMMENTS)]
    return [] if [starts[k] for k in found] == ["#"] else found


def is_number(cell: object) -> bool:
    """Return whether a cell is a number, or text that is nothing but one.

    Parameters
    ----------
    cell : object

    Returns
    -------
    bool

    Examples
    --------
    >>> is_number("41,5"), is_number("L-017")
    (True, False)
    """
    if isinstance(cell, bool) or cell is None:
        return False
    if isinstance(cell, int | float):
        return cell == cell  # noqa: PLR0124 - NaN is no number
    return bool(_NUMBER.fullmatch(str(cell).strip()[:64]))
