"""Cells of a field file as numbers, metres, degrees, ohms, dates and zones.

Each function takes one column of cells, as text or typed, and gives `Cells`: the values, which
cells could not be taken, and the rule they broke. Whole columns are parsed at once; only cells
that fail go to the slow parser, each distinct text once.
"""

from __future__ import annotations

import math
import re
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import pandas as pd

from wiremap.model.units import METRES_PER_UNIT, parse_length

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

LARGEST = 1e9
"""Magnitude beyond which no number of a field file is meant (project choice)."""
LONGEST_CELL = 80
"""Characters of a cell beyond which it is not parsed as a value (project choice)."""
_MISSING = frozenset(
    {"", "-", "--", "---", "\u2014", "\u2013", "n/a", "na", "none", "null", "?", "n.a.", "<na>"}
)
_OPEN = frozenset({"open", "ol", "o.l.", "o.l", "o/l", "inf", "infinite", "infinity", "∞", "opn",
                   "overload", "over limit", "open circuit"})  # fmt: skip
_GROUPED = re.compile(r"[-+]?\d{1,3}(?:,\d{3})+(?:\.\d+)?")
_COMMA = re.compile(r"[-+]?(?:\d+|\d{1,3}(?:[.\s]\d{3})+),\d+")
_PLAIN = re.compile(r"[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d{1,2})?")
_WITH_UNIT = re.compile(r"([-+]?[\d.,]+(?:[eE][-+]?\d{1,2})?)\s*([^\d\s.,+-][^\d]*)")
_HUGE_EXPONENT = re.compile(r"[eE][-+]?\d{3,}")
_PREFIX = {"k": 1e3, "m": 1e6, "g": 1e9, "": 1.0}
_OHM = re.compile(r"([kKmMgG]?)\s*(?:ohms?|Ω|Ω|Ohms?)?\.?", re.IGNORECASE)


class Cells(NamedTuple):
    """A column as values: NaN where empty or bad, `bad` where a cell broke the rule."""

    data: np.ndarray | pd.Series
    bad: np.ndarray
    rule: str
    notes: tuple[str, ...] = ()


def as_text(cells: pd.Series) -> pd.Series:
    """Return cells as trimmed text, NaN where empty.

    Parameters
    ----------
    cells : Series
        Text, numbers, dates or a mixture.

    Returns
    -------
    Series of str
        Whole numbers without a decimal point.

    Examples
    --------
    >>> as_text(pd.Series([3.0, " P1 ", None])).tolist()
    ['3', 'P1', nan]
    """
    if not isinstance(cells.dtype, pd.StringDtype):
        cells = _plain_text(cells)
    stripped = cells.str.strip() if _has_space(cells) else cells
    empty = (stripped == "").to_numpy(dtype=bool, na_value=True)
    return stripped.mask(empty) if empty.any() else stripped


def _has_space(cells: pd.Series) -> bool:
    """Return whether any cell holds white space: a quick look that saves most columns a trim."""
    if cells.isna().to_numpy().any():
        return True
    joined = "".join(cells.to_numpy())
    return joined.split(maxsplit=1) != [joined] and joined != ""


def spread_text(words: Sequence[str | float], codes: np.ndarray, index: pd.Index) -> pd.Series:
    """Return a column of text from its distinct words.

    Parameters
    ----------
    words : list
        Distinct words; NaN for none.
    codes : array of int
        Position of each row's word; -1 for none.
    index : Index

    Returns
    -------
    Series of str

    Examples
    --------
    >>> spread_text(["a"], np.array([0, -1]), pd.RangeIndex(2)).tolist()
    ['a', nan]
    """
    distinct = pd.array([*words, np.nan], dtype="str")
    return pd.Series(distinct.take(codes), index=index)


def _plain_text(cells: pd.Series) -> pd.Series:
    """Return typed cells as text: each distinct value once."""
    if pd.api.types.is_datetime64_any_dtype(cells):
        return cells.map(_write_value, na_action="ignore").astype("str")
    codes, distinct = pd.factorize(cells.astype(object), use_na_sentinel=True)
    return spread_text([_write_value(v) for v in distinct], codes, cells.index)


def _write_value(value: object) -> str:
    if isinstance(value, float | np.floating) and float(value).is_integer():
        return str(int(value))
    if hasattr(value, "isoformat"):
        text = str(value.isoformat())
        return text.removesuffix("T00:00:00")
    return str(value)


def read_numbers(
    cells: pd.Series, *, decimal_comma: bool = False, parse: Callable[[str], float] | None = None
) -> Cells:
    """Return cells as numbers.

    Parameters
    ----------
    cells : Series
    decimal_comma : bool
        Whether the file writes ``1,5`` for one and a half.
    parse : callable, optional
        Takes a text that is no plain number; raises ValueError where it cannot.

    Returns
    -------
    Cells
        Infinite, not-a-number and absurd cells (beyond `LARGEST`) are bad.

    Examples
    --------
    >>> read_numbers(pd.Series(["12.5", "", "nan", "1e308"])).bad.tolist()
    [False, False, True, True]
    """
    rule = f"must be a number within ±{LARGEST:g}"
    if pd.api.types.is_numeric_dtype(cells) and not pd.api.types.is_bool_dtype(cells):
        values = cells.to_numpy(dtype=float, na_value=np.nan, copy=True)
        missing = np.isnan(values)
    else:
        text = as_text(cells)
        missing = text.isna().to_numpy()
        values = _parse_text(text, missing, decimal_comma=decimal_comma, parse=parse)
        missing = missing | (values == _NOTHING)
    bad = ~missing & ~(np.abs(values) <= LARGEST)
    values[bad | missing] = np.nan
    return Cells(values, bad, rule)


_NOTHING = -1.797e308
"""Stands for a cell that says there is no value, such as ``n/a``."""


def _parse_text(
    text: pd.Series,
    missing: np.ndarray,
    *,
    decimal_comma: bool,
    parse: Callable[[str], float] | None,
) -> np.ndarray:
    swapped = text
    if decimal_comma:
        swapped = text.str.replace(",", ".", regex=False)
    values = np.array(pd.to_numeric(swapped, errors="coerce"), dtype=float)
    failed = np.flatnonzero(np.isnan(values) & ~missing)
    if len(failed):
        known: dict[str, float] = {}
        found = text.iloc[failed].tolist()
        for cell in set(found):
            known[cell] = _parse_cell(
                cell, decimal_comma=decimal_comma, parse=parse or parse_number
            )
        values[failed] = [known[cell] for cell in found]
    return values


def _parse_cell(cell: str, *, decimal_comma: bool, parse: Callable[[str], float]) -> float:
    if cell.lower() in _MISSING:
        return _NOTHING
    if len(cell) > LONGEST_CELL or _HUGE_EXPONENT.search(cell):
        return math.nan
    plain = cell.replace("\u2212", "-").replace("\u00a0", " ")
    if decimal_comma and _COMMA.fullmatch(plain):
        plain = re.sub(r"[.\s]", "", plain).replace(",", ".")
    try:
        return parse(plain)
    except (ValueError, ZeroDivisionError, OverflowError):
        return math.nan


def parse_number(text: str) -> float:
    """Return a number written by hand: with a decimal comma, grouped digits or a unit behind it.

    Parameters
    ----------
    text : str
        Such as ``41,5``, ``2,234,567.12``, ``45 dB``.

    Returns
    -------
    float

    Raises
    ------
    ValueError
        The text is no number, or ``1,234`` could be either of two.

    Examples
    --------
    >>> parse_number("2,234,567.12"), parse_number("41,5"), parse_number("45 dB")
    (2234567.12, 41.5, 45.0)
    """
    text = text.strip()
    if _PLAIN.fullmatch(text):
        return float(text)
    if _GROUPED.fullmatch(text) and ("." in text or text.count(",") > 1):
        return float(text.replace(",", ""))
    if _GROUPED.fullmatch(text) and not text.lstrip("+-").startswith("0"):
        raise ValueError(f"either of two numbers: {text!r}")
    if _COMMA.fullmatch(text):
        return float(re.sub(r"[.\s]", "", text).replace(",", "."))
    with_unit = _WITH_UNIT.fullmatch(text)
    if with_unit and with_unit[2].strip().lower() in {"db", "dbm", "%", "°", "deg", "degrees"}:
        return parse_number(with_unit[1])
    raise ValueError(f"not a number: {text!r}")


def read_lengths(cells: pd.Series, *, unit: str, decimal_comma: bool = False) -> Cells:
    """Return cells as metres.

    Parameters
    ----------
    cells : Series
        Numbers, or text such as ``14 1/2``, ``1' 2 1/2"``, ``0.36 m``.
    unit : str
        Unit of a number that carries none: a key of `METRES_PER_UNIT`.
    decimal_comma : bool
        Whether the file writes ``1,5`` for one and a half.

    Returns
    -------
    Cells

    Examples
    --------
    >>> read_lengths(pd.Series(["14 1/2", "0.36 m", "soft"]), unit="in").data.round(4).tolist()
    [0.3683, 0.36, nan]
    """
    metres = METRES_PER_UNIT[unit]

    def parse(text: str) -> float:
        try:
            return parse_number(text)
        except ValueError:
            if _GROUPED.fullmatch(text):
                raise
        # in the file's unit, so that plain and written lengths are scaled alike below
        return parse_length(text, default_unit=unit) / metres

    read = read_numbers(cells, decimal_comma=decimal_comma, parse=parse)
    rule = f"must be a length ({unit} where it names no unit)"
    return read._replace(data=read.data * metres, rule=rule)


def read_ohms(cells: pd.Series, *, decimal_comma: bool = False) -> Cells:
    """Return cells as ohms; a reading that says open is infinite.

    Parameters
    ----------
    cells : Series
        Numbers, or text such as ``28.5``, ``OL``, ``open``, ``1.2 k``.
    decimal_comma : bool
        Whether the file writes ``1,5`` for one and a half.

    Returns
    -------
    Cells

    Examples
    --------
    >>> read_ohms(pd.Series(["28.5", "OL", "1.2 k"])).data.tolist()
    [28.5, inf, 1200.0]
    """
    is_open = as_text(cells).str.lower().isin(_OPEN).to_numpy()

    def parse(text: str) -> float:
        with_unit = _WITH_UNIT.fullmatch(text)
        prefix = _OHM.fullmatch(with_unit[2].strip()) if with_unit else None
        if with_unit is None or prefix is None:
            return parse_number(text)
        return parse_number(with_unit[1]) * _PREFIX[prefix[1].lower()]

    read = read_numbers(cells.mask(is_open), decimal_comma=decimal_comma, parse=parse)
    negative = read.data < 0
    values = np.where(is_open, np.inf, np.where(negative, np.nan, read.data))
    return Cells(values, read.bad | negative, "must be ohms, zero or more, or open")


def read_integers(cells: pd.Series, *, decimal_comma: bool = False) -> Cells:
    """Return cells as whole numbers.

    Parameters
    ----------
    cells : Series
    decimal_comma : bool
        Whether the file writes ``1,5`` for one and a half.

    Returns
    -------
    Cells
        A fraction is bad.

    Examples
    --------
    >>> read_integers(pd.Series(["2", "2.5"])).bad.tolist()
    [False, True]
    """
    read = read_numbers(cells, decimal_comma=decimal_comma)
    broken = read.data != np.round(read.data)
    broken &= ~np.isnan(read.data)
    values = np.where(broken, np.nan, read.data)
    return Cells(values, read.bad | broken, "must be a whole number")


_LEADING = re.compile(
    r"^(?:(?:zones?|stations?|sta|stn|st|zn|z|no|number)\.?\s*[#:-]?|#)\s*(?=\d)", re.IGNORECASE
)
_PARTING = re.compile(
    r"\s*(?:[;,&+\n]|\band\b|(?<=\d)\s*/(?=\s*\d)|(?<=\d)\s(?=\s*\d))\s*", re.IGNORECASE
)
_WHOLE = re.compile(r"0*(\d+)(?:\.0+)?")


def read_zones(cells: pd.Series) -> pd.Series:
    """Return zone labels as the contract writes them.

    Parameters
    ----------
    cells : Series
        Such as ``3``, ``3.0``, ``3;4``, ``3, 4``, ``Zone 3``, ``03``.

    Returns
    -------
    Series of str
        Labels parted by semicolons, each once, in the order given; NaN where empty.

    Examples
    --------
    >>> read_zones(pd.Series(["3, 4", 3.0, "Zone 03", ""])).tolist()
    ['3;4', '3', '3', nan]
    """
    text = as_text(cells)
    codes, distinct = pd.factorize(text)
    return spread_text([_write_zones(str(word)) for word in distinct], codes, cells.index)


def _write_zones(word: str) -> str | float:
    if word.lower() in _MISSING:
        return math.nan
    labels: dict[str, None] = {}
    for part in _PARTING.split(word):
        label = _LEADING.sub("", part.strip())
        whole = _WHOLE.fullmatch(label)
        label = (whole[1].lstrip("0") or "0") if whole else label
        if label:
            labels[label] = None
    return ";".join(labels) or math.nan
