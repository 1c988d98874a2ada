"""Reader of NMEA 0183 logs: one row a fix, from GGA, GNS, RMC, GST and ZDA sentences.

Sentences are parsed as columns of text: a log of a day at ten fixes a second is read at once.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from wiremap.errors import ReadError
from wiremap.model.kinds import Feature
from wiremap.plugins import FileOptions, Problem, RawTable, Reader
from wiremap.read.layers import translated

if TYPE_CHECKING:
    from pathlib import Path

    import pandas as pd
    from numpy.typing import NDArray

_CRS = "EPSG:4326"
_SENTENCE = re.compile(
    rb"\$([A-Z][A-Z0-9]{3}[\x20-\x23\x25-\x29\x2b-\x7e]*)(?:\*([0-9A-Fa-f]{2}))?"
)
_KINDS = ("GGA", "GNS", "RMC", "GST", "ZDA")
_MODES = {"R": 4, "F": 5, "P": 3, "D": 2, "A": 1, "E": 6, "M": 7, "S": 8}
"""GGA fix quality of the mode letters of RMC and GNS, the best first."""
_FIELDS = 15  # of the longest sentence that is read, GGA
_SHOWN_PROBLEMS = 20
_NO_POSITION_QUALITY = (0, 8)


class _Sentences(NamedTuple):
    """Sentences whose checksum is right: line in the file, kind, and fields as text."""

    line: NDArray[np.intp]
    kind: NDArray[np.str_]
    fields: pd.DataFrame


def read_nmea(path: Path, options: FileOptions) -> list[RawTable]:
    """Read the fixes of an NMEA 0183 log.

    Parameters
    ----------
    path : Path
        The file.
    options : FileOptions
        ``date`` is the day of the log where no RMC or ZDA sentence tells it.

    Returns
    -------
    list of RawTable
        One table, one row a fix with a position, indexed by the line it starts on: ``point``,
        ``feature`` (path), ``run`` (the file's name), ``lon``, ``lat``, ``elevation_m`` (above
        mean sea level), ``geoid_separation_m``, ``h_rms_m``, ``date`` (ISO 8601, UTC), ``time``,
        ``fix_quality``, ``satellites``, ``hdop``. The RMS is that of GST where the log has it.
        Lines without a checksum or with a wrong one, and fixes without a position, are problems.

    Raises
    ------
    ReadError
        The file holds no GGA, GNS or RMC sentence with a right checksum.
    """
    with translated(path):
        data = path.read_bytes()
    problems: list[Problem] = []
    sentences = _parse_sentences(data, problems)
    epochs = _assemble(sentences)
    if epochs.empty or epochs["fix_quality"].isna().all():
        raise ReadError(
            "holds no GGA, GNS or RMC sentence with a right checksum",
            path=path.name,
            remedy="log these sentences with their checksums, or give the file its own ending",
        )
    dated, notes = _date_fixes(epochs, options.date)
    fixes = dated[dated["fix_quality"].notna()]
    notes = [f"{len(fixes)} fixes", *notes]
    is_void = (fixes["lon"].isna() | fixes["lat"].isna()).to_numpy()
    if is_void.any():
        first = int(fixes.index[is_void][0])
        rule = f"{int(is_void.sum())} fixes without a position were left out"
        problems.append(Problem(rule, row=first, code="read-note"))
    if is_void.all():
        raise ReadError(
            f"holds {len(fixes)} fixes, none of them with a position",
            path=path.name,
            remedy="log where the receiver has a fix",
        )
    fixes = fixes[~is_void].drop(columns="day")
    stem = path.stem
    fixes.insert(0, "point", [f"{stem}-{k}" for k in range(1, len(fixes) + 1)])
    fixes.insert(1, "feature", str(Feature.PATH))
    fixes.insert(2, "run", stem)
    return [RawTable(frame=fixes, crs=_CRS, notes=tuple(notes), problems=tuple(problems))]


def checksum(sentence: str) -> str:
    """Return the checksum of a sentence: XOR of its bytes between ``$`` and ``*``.

    Parameters
    ----------
    sentence : str
        With or without ``$`` and what follows ``*``.

    Returns
    -------
    str
        Two hexadecimal digits.

    References
    ----------
    NMEA 0183, section 5.3 (sentence structure), from memory.

    Examples
    --------
    >>> checksum("GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,")
    '47'
    """
    body = sentence.removeprefix("$").partition("*")[0].encode("latin-1")
    return f"{int(_xor([body])[0]):02X}"


def _xor(bodies: list[bytes]) -> NDArray[np.uint8]:
    """Return the XOR of the bytes of each text; an empty text gives 0."""
    lengths = np.array([len(b) + 1 for b in bodies])
    buffer = np.frombuffer(b"\x00".join(bodies) + b"\x00", dtype=np.uint8)
    starts = np.concatenate([[0], np.cumsum(lengths)[:-1]])
    return np.bitwise_xor.reduceat(buffer, starts)


def _parse_sentences(data: bytes, problems: list[Problem]) -> _Sentences:
    """Return the sentences that can be trusted; the others become problems."""
    import pandas as pd

    data = data.replace(b"\r\n", b"\n").replace(b"\r", b"\n")
    found_at = list(_SENTENCE.finditer(data))
    bodies, sums = [m[1] for m in found_at], [m[2] or b"" for m in found_at]
    ends = np.flatnonzero(np.frombuffer(data, dtype=np.uint8) == ord("\n"))
    line = np.searchsorted(ends, [m.start() for m in found_at])
    if not bodies:
        return _Sentences(line, np.empty(0, dtype="U3"), pd.DataFrame())
    found = _xor(bodies)
    given = np.array([int(text, 16) if text else -1 for text in sums])
    is_good = found == given
    problems += _limited(
        [
            Problem(
                "the checksum is wrong" if given[i] >= 0 else "the sentence has no checksum",
                row=int(line[i]) + 1,
                value=f"*{given[i]:02X} for *{found[i]:02X}" if given[i] >= 0 else "",
                remedy="the line was left out",
            )
            for i in np.flatnonzero(~is_good)
        ]
    )
    text = pd.Series([bodies[i].decode("latin-1") for i in np.flatnonzero(is_good)], dtype="str")
    kind = text.str.slice(2, 5)
    wanted = kind.isin(_KINDS).to_numpy()
    fields = text[wanted].str.split(",", n=_FIELDS, expand=True).reset_index(drop=True)
    fields = fields.fillna("")
    for place in range(fields.shape[1], _FIELDS):
        fields[place] = ""
    return _Sentences(line[is_good][wanted] + 1, kind[wanted].to_numpy(dtype="U3"), fields)


def _limited(problems: list[Problem]) -> list[Problem]:
    """Return the first problems of a kind and one that counts the rest."""
    if len(problems) <= _SHOWN_PROBLEMS:
        return problems
    rest = len(problems) - _SHOWN_PROBLEMS
    last = problems[_SHOWN_PROBLEMS]
    return [
        *problems[:_SHOWN_PROBLEMS],
        Problem(f"and {rest} more lines alike: {last.rule}", row=last.row, remedy=last.remedy),
    ]


class _Epochs:
    """The sentences grouped by time of day, and their fields by kind."""

    def __init__(self, sentences: _Sentences) -> None:
        time = sentences.fields[1].to_numpy(dtype=object)
        is_start = np.r_[True, time[1:] != time[:-1]]
        self.start = np.flatnonzero(is_start)
        self._epoch = np.cumsum(is_start) - 1
        self._sentences = sentences

    def pick(self, kind: str, field: int) -> NDArray[np.object_]:
        """Return one field of the first sentence of a kind in each epoch, else empty."""
        rows = np.flatnonzero(self._sentences.kind == kind)[::-1]
        picked = np.full(len(self.start), "", dtype=object)
        picked[self._epoch[rows]] = self._sentences.fields[field].to_numpy(dtype=object)[rows]
        return picked

    def number(self, **fields: int) -> NDArray[np.float64]:
        """Return a number from the first of several kinds that gives it, by their fields."""
        return _first([_number(self.pick(kind, field)) for kind, field in fields.items()])

    def place(self, **fields: int) -> NDArray[np.float64]:
        """Return degrees from a field and the letter behind it, of the first kind that gives it."""
        parts = ((self.pick(kind, f), self.pick(kind, f + 1)) for kind, f in fields.items())
        return _first([_degrees(text, side) for text, side in parts])


def _first(columns: list[NDArray[np.float64]]) -> NDArray[np.float64]:
    """Return the first value of each row that is a number."""
    found = columns[0]
    for column in columns[1:]:
        found = np.where(np.isnan(found), column, found)
    return found


def _assemble(sentences: _Sentences) -> pd.DataFrame:
    """Return one row an epoch: what the sentences of one time of day say together."""
    import pandas as pd

    if not len(sentences.kind):
        return pd.DataFrame()
    epochs = _Epochs(sentences)
    pick, number = epochs.pick, epochs.number
    quality = _read_quality(epochs)
    is_void = np.isin(quality, _NO_POSITION_QUALITY)
    sigma = np.hypot(number(GST=6), number(GST=7))
    return pd.DataFrame(
        {
            "lon": np.where(is_void, np.nan, epochs.place(GGA=4, GNS=4, RMC=5)),
            "lat": np.where(is_void, np.nan, epochs.place(GGA=2, GNS=2, RMC=3)),
            "elevation_m": number(GGA=9, GNS=9),
            "geoid_separation_m": number(GGA=11, GNS=10),
            "h_rms_m": np.where(sigma > 0, sigma, np.nan),
            "time": sentences.fields[1].to_numpy(dtype=object)[epochs.start],
            "day": _days(pick("RMC", 9), pick("ZDA", 4), pick("ZDA", 3), pick("ZDA", 2)),
            "fix_quality": quality,
            "satellites": number(GGA=7, GNS=7),
            "hdop": number(GGA=8, GNS=8),
        },
        index=pd.Index(sentences.line[epochs.start]),
    )


def _read_quality(epochs: _Epochs) -> NDArray[np.float64]:
    """Return the fix quality of each epoch; NaN where no sentence of it holds a position.

    A valid RMC sentence of old receivers, which has no mode letter, counts as 1, a valid fix.
    """
    gns, status, mode = epochs.pick("GNS", 6), epochs.pick("RMC", 2), epochs.pick("RMC", 12)
    valid = np.where(mode == "", 1.0, _rank_modes(mode))
    of_rmc = np.select([status == "A", status != ""], [valid, 0.0], np.nan)
    return _first([epochs.number(GGA=6), _rank_modes(gns), of_rmc])


def _rank_modes(letters: NDArray[np.object_]) -> NDArray[np.float64]:
    """Return the best fix quality of mode letters, one a satellite system; NaN for none."""
    ranks: dict[str, float] = {"": np.nan}
    for word in set(letters) - {""}:
        ranks[word] = next((_MODES[letter] for letter in _MODES if letter in word), 0)
    return np.array([ranks[word] for word in letters], dtype=float)


def _number(text: NDArray[np.object_]) -> NDArray[np.float64]:
    import pandas as pd

    number = pd.to_numeric(pd.Series(text), errors="coerce").to_numpy(dtype=float)
    return np.where(np.isfinite(number), number, np.nan)


def _degrees(text: NDArray[np.object_], side: NDArray[np.object_]) -> NDArray[np.float64]:
    """Return degrees from ``dddmm.mmmm`` and the letter of its hemisphere."""
    packed = _number(text)
    whole = np.floor(packed / 100)
    minutes = packed - 100 * whole
    sign = np.select([np.isin(side, ["N", "E"]), np.isin(side, ["S", "W"])], [1.0, -1.0], np.nan)
    limit = np.where(np.isin(side, ["N", "S"]), 90.0, 180.0)
    degrees = whole + minutes / 60
    return np.where((minutes < 60) & (degrees <= limit), sign * degrees, np.nan)  # noqa: PLR2004


def _days(
    rmc: NDArray[np.object_],
    year: NDArray[np.object_],
    month: NDArray[np.object_],
    day: NDArray[np.object_],
) -> NDArray[np.datetime64]:
    """Return the day of each epoch: RMC's ``ddmmyy``, else ZDA's; NaT where neither tells it."""
    import pandas as pd

    short = pd.to_datetime(pd.Series(rmc, dtype="str"), format="%d%m%y", errors="coerce")
    full = pd.Series([f"{y}-{m}-{d}" for y, m, d in zip(year, month, day, strict=True)])
    zda = pd.to_datetime(full, format="%Y-%m-%d", errors="coerce")
    return zda.fillna(short).to_numpy(dtype="datetime64[s]")


def _date_fixes(fixes: pd.DataFrame, date: str | None) -> tuple[pd.DataFrame, list[str]]:
    """Add ``date``, carrying the day on across fixes that do not state it and past midnight."""
    import pandas as pd

    seconds = _seconds_of_day(fixes["time"].to_numpy(dtype=object))
    step = np.diff(seconds, prepend=seconds[:1])
    midnights = pd.Series(np.cumsum(step < -_HALF_DAY_S), index=fixes.index)
    stated = fixes["day"] - pd.to_timedelta(midnights, unit="D")
    first = stated.ffill().bfill()
    notes = []
    if first.isna().all() and date:
        first = pd.Series(pd.Timestamp(date), index=fixes.index)
    if first.isna().all():
        notes.append("no sentence tells the day; set date under [files] in property.toml")
    moment = first + pd.to_timedelta(midnights, unit="D") + pd.to_timedelta(seconds, unit="s")
    text = moment.dt.round("ms").dt.strftime("%Y-%m-%dT%H:%M:%S.%f").str.slice(0, 23)
    text = text.str.removesuffix(".000") + "Z"
    dated = fixes.drop(columns="time")
    dated.insert(5, "date", text)
    return dated, notes


_HALF_DAY_S = 43_200


def _seconds_of_day(text: NDArray[np.object_]) -> NDArray[np.float64]:
    """Return seconds since midnight from ``hhmmss.ss``; NaN where it is not a time."""
    packed = _number(text)
    hours, rest = np.divmod(packed, 10_000)
    minutes, seconds = np.divmod(rest, 100)
    is_time = (hours >= 0) & (hours < 24) & (minutes < 60) & (seconds < 61)  # noqa: PLR2004
    return np.where(is_time, hours * 3600 + minutes * 60 + seconds, np.nan)


READER = Reader(
    "nmea", (".nmea", ".nma", ".log"), read_nmea, "NMEA 0183 log: GGA, GNS, RMC, GST, ZDA"
)
