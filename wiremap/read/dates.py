"""Dates and times as people write them, to ISO 8601."""

from __future__ import annotations

import datetime as dt
import re
from typing import NamedTuple

import numpy as np
import pandas as pd

from wiremap.read.values import Cells, as_text, spread_text

FIRST_YEAR, LAST_YEAR = 1950, 2100
"""Years within which a locate can have been taken (project choice)."""
_ISO = re.compile(
    r"(\d{4})-(\d\d)-(\d\d)(?:[T ](\d\d):(\d\d)(?::(\d\d)(?:[.,]\d+)?)?\s*(Z|[+-]\d\d:?\d\d)?)?"
)
_NUMERIC = re.compile(r"(\d{1,2})([/.\-])(\d{1,2})\2(\d{4}|\d{2})(?:[T\s,]+(.*))?")
_YEAR_FIRST = re.compile(r"(\d{4})([/.\-]?)(\d{1,2})\2(\d{1,2})(?:[T\s]+(.*))?")
_SERIAL = re.compile(r"(\d{5})(?:\.(\d{1,9}))?")
_EPOCH = re.compile(r"(1\d{9})(\d{3})?")  # seconds or milliseconds, 2001 to 2033
_DAY_0 = dt.date(1899, 12, 30)  # ECMA-376, 18.17.4.1: serial 1 is 1900-01-01, 1900 as a leap year
_WORDED = ("%d %b %Y", "%d %B %Y", "%b %d %Y", "%B %d %Y", "%d %b %y", "%b %d %y", "%a %d %b %Y")
_CLOCK = ("%H:%M:%S", "%H:%M", "%I:%M %p", "%I:%M:%S %p", "%I:%M%p", "%H:%M:%S.%f")
_TIME_OF_DAY = (
    r"\d\d?:\d\d(?::\d\d(?:\.\d+)?)?(?:\s*[AaPp]\.?[Mm]\.?)?(?:\s*(?:Z|UTC|[A-Z]{2,3}T))?"
)
_ZONES = {"UTC": "Z", "GMT": "Z", "EST": "-05:00", "EDT": "-04:00", "CST": "-06:00",
          "CDT": "-05:00", "MST": "-07:00", "MDT": "-06:00", "PST": "-08:00",
          "PDT": "-07:00"}  # fmt: skip
"""Offsets of the zones that RFC 822, section 5.1 names."""
_TWELVE = 12
_LONGEST = 40


class _Order(NamedTuple):
    """Whether the day stands first, and how that is known."""

    day_first: bool
    note: str


def read_dates(
    cells: pd.Series, *, day_first: bool | None = None, has_serials: bool = False
) -> Cells:
    """Return cells as ISO 8601 text.

    Parameters
    ----------
    cells : Series
        Dates, times or text.
    day_first : bool, optional
        Whether ``3/4/2026`` is the third of April; else told from the column, and noted.
    has_serials : bool
        Whether ``46146`` is a day as spreadsheets count them; else it is bad.

    Returns
    -------
    Cells
        Values are text, NaN where empty or bad. A year outside 1950 to 2100 is bad.

    Examples
    --------
    >>> read_dates(pd.Series(["2026-05-04", "25/5/2026", "0000-01-01"])).data.tolist()
    ['2026-05-04', '2026-05-25', nan]
    """
    rule = f"must be a date from {FIRST_YEAR} to {LAST_YEAR}, best written 2026-05-04"
    if pd.api.types.is_datetime64_any_dtype(cells):
        return _read_stamps(cells, rule)
    text = as_text(cells)
    codes, distinct = pd.factorize(text)
    words = [str(word)[:_LONGEST] for word in distinct]
    order = _find_order(words, day_first=day_first)
    kept = [w if has_serials or not _SERIAL.fullmatch(w) else "" for w in words]
    parsed = [_write_date(word, day_first=order.day_first) for word in kept]
    values = spread_text([p or np.nan for p in parsed], codes, cells.index)
    bad = np.array([*(p is None for p in parsed), False], dtype=bool)[codes]
    counted = _describe_counts([w for w, p in zip(words, parsed, strict=True) if p])
    return Cells(values, bad, rule, (*([order.note] if order.note else []), *counted))


def join_times(days: pd.Series, times: pd.Series) -> pd.Series | None:
    """Return dates with the times of day that stand in a column of their own.

    Parameters
    ----------
    days, times : Series
        Cells of both columns, of one index.

    Returns
    -------
    Series of str or None
        None where a filled time is no time of day, or the dates have theirs already.

    Examples
    --------
    >>> join_times(pd.Series(["5/4/2026", "5/4/2026"]), pd.Series(["9:30 AM", ""])).tolist()
    ['5/4/2026 9:30 AM', '5/4/2026']
    """
    day, time = as_text(days), as_text(times).str.rstrip(".")
    filled = time.dropna()
    if not len(filled) or not filled.str.fullmatch(_TIME_OF_DAY).all():
        return None
    return None if day.str.contains(":").any() else (day + " " + time).fillna(day)


def _describe_counts(words: list[str]) -> list[str]:
    """Return what was counted from, where times are plain numbers."""
    notes = []
    serial = next(filter(_SERIAL.fullmatch, words), "")
    if serial:
        notes.append(f"dates such as {serial} were read as days since {_DAY_0}, the spreadsheet's")
    epoch = next(filter(_EPOCH.fullmatch, words), "")
    if epoch:
        unit = "seconds" if len(epoch) == 10 else "milliseconds"  # noqa: PLR2004
        notes.append(f"times such as {epoch} were read as {unit} since 1970-01-01, UTC")
    return notes


def _read_stamps(cells: pd.Series, rule: str) -> Cells:
    """Return typed times as ISO 8601 text, in UTC where they carry a zone."""
    zoned = cells.dt.tz is not None
    plain = cells.dt.tz_convert("UTC").dt.tz_localize(None) if zoned else cells
    stamps = plain.to_numpy(dtype="datetime64[s]")
    years = plain.dt.year.to_numpy(dtype=float)
    bad = ~np.isnan(years) & ~((years >= FIRST_YEAR) & (years <= LAST_YEAR))
    is_dates = not zoned and bool((plain.isna() | (plain == plain.dt.normalize())).all())
    text = np.datetime_as_string(stamps, unit="D" if is_dates else "s").astype(object)
    text = text + ("Z" if zoned else "")
    text[bad | np.isnan(years)] = np.nan
    return Cells(pd.Series(text, index=cells.index, dtype="str"), bad, rule)


def _find_order(words: list[str], *, day_first: bool | None) -> _Order:
    found = [m for w in words if (m := _NUMERIC.fullmatch(w))]
    if not found or day_first is not None:
        return _Order(bool(day_first), "")
    first = max(int(m[1]) for m in found)
    second = max(int(m[3]) for m in found)
    if first > _TWELVE:
        return _Order(day_first=True, note=f"dates such as {found[0][0]} were read day first")
    if second > _TWELVE:
        return _Order(day_first=False, note=f"dates such as {found[0][0]} were read month first")
    dotted = found[0][2] == "."
    order = "day first, as points part them" if dotted else "month first, though either fits"
    note = f"dates such as {found[0][0]} were read {order}; set day_first for the file to fix it"
    return _Order(dotted, note)


def _write_date(word: str, *, day_first: bool) -> str | None:
    """Return ISO text, or None where the word is no date of our time."""
    iso = _ISO.fullmatch(word)
    try:
        if iso:
            day = dt.date(int(iso[1]), int(iso[2]), int(iso[3]))
            clock = word[11:].replace(",", ".").strip()
            if clock:
                dt.time(int(iso[4]), int(iso[5]), min(int(iso[6] or 0), 59))
        else:
            day, clock = _parse_date(word, day_first=day_first)
    except ValueError:
        return None
    if not FIRST_YEAR <= day.year <= LAST_YEAR:
        return None
    return f"{day.isoformat()}T{clock}" if clock else day.isoformat()


def _parse_date(word: str, *, day_first: bool) -> tuple[dt.date, str]:
    """Return the date and the time of day of a text that is not ISO; ValueError where neither."""
    epoch = _EPOCH.fullmatch(word)
    if epoch:
        moment = dt.datetime.fromtimestamp(int(epoch[1]), dt.UTC)
        return moment.date(), f"{moment:%H:%M:%S}Z"
    serial = _SERIAL.fullmatch(word)
    if serial:
        seconds = round(float(f"0.{serial[2] or 0}") * 86_400)
        clock = str(dt.timedelta(seconds=seconds)).rjust(8, "0") if seconds else ""
        return _DAY_0 + dt.timedelta(days=int(serial[1])), clock
    year_first = _YEAR_FIRST.fullmatch(word)
    if year_first:
        day = dt.date(int(year_first[1]), int(year_first[3]), int(year_first[4]))
        return day, _parse_clock(year_first[5])
    numeric = _NUMERIC.fullmatch(word)
    if numeric:
        a, b, year = int(numeric[1]), int(numeric[3]), int(numeric[4])
        # a part over twelve can only be the day
        first_is_day = a > _TWELVE or (day_first and b <= _TWELVE)
        day_number, month = (a, b) if first_is_day else (b, a)
        century = 2000 if len(numeric[4]) == 2 else 0  # noqa: PLR2004
        return dt.date(year + century, month, day_number), _parse_clock(numeric[5])
    cleaned = " ".join(re.sub(r"[,\-./]", " ", word).split())
    for layout in _WORDED:
        try:
            return dt.datetime.strptime(cleaned, layout).date(), ""  # noqa: DTZ007 - no time of day
        except ValueError:
            continue
    raise ValueError(f"not a date: {word!r}")


def _parse_clock(text: str | None) -> str:
    if not text:
        return ""
    cleaned = text.strip().upper().replace("A.M.", "AM").replace("P.M.", "PM")
    cleaned = re.sub(r"(\.\d{6})\d+", r"\1", cleaned)  # a clock here counts microseconds
    zone = re.search(r"(Z|[+-]\d\d:?\d\d|" + "|".join(_ZONES) + ")$", cleaned)
    bare = (cleaned[: zone.start()] if zone else cleaned).strip().removesuffix("UTC").strip()
    offset = _ZONES.get(zone[0], zone[0]) if zone else ""
    for layout in _CLOCK:
        try:
            clock = dt.datetime.strptime(bare, layout).time()  # noqa: DTZ007 - a time of day
        except ValueError:
            continue
        return clock.replace(microsecond=0).isoformat() + offset
    raise ValueError(f"not a time: {text!r}")
