"""Longitudes and latitudes as people write them: degrees, minutes, seconds, hemispheres."""

from __future__ import annotations

import math
import re
from functools import partial
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from wiremap.read.values import Cells, as_text, read_numbers

if TYPE_CHECKING:
    import pandas as pd

_NUMBERS = re.compile(r"[-+]?\d+(?:\.\d+)?")
_LETTERS = re.compile(r"[A-Za-z]+")
_WORDS = {
    "north": "n",
    "south": "s",
    "east": "e",
    "west": "w",
    **dict.fromkeys(("lat", "lon", "long", "latitude", "longitude"), ""),
    **dict.fromkeys(("deg", "d", "min", "m", "sec"), " "),
}
_ALLOWED = re.compile("[-+\\d.\\sNSEWnsew°º'\u2019\u2032\"\u201d\u2033:]*")
_POINT = re.compile(r"\s*(?:SRID=\d+;)?\s*POINT\s*Z?M?\s*\(([^()]*)\)\s*", re.IGNORECASE)
_GEOPOINT = re.compile(
    r"(-?\d{1,2}\.\d{3,}) (-?\d{1,3}\.\d{3,}) (-?\d+(?:\.\d+)?)(?: (\d+(?:\.\d+)?))?"
)
_NO_PLACE = (math.nan,) * 4
_SIXTY = 60
_LIMIT = {"lon": 360.0, "lat": 90.0}


class Packed(NamedTuple):
    """Longitudes and latitudes from cells that hold both, and what stands behind them."""

    lon: np.ndarray
    lat: np.ndarray
    bad: np.ndarray
    elevation_m: np.ndarray
    rms_m: np.ndarray


def parse_angle(text: str, *, axis: str) -> float:
    r"""Return a written longitude or latitude in degrees.

    Parameters
    ----------
    text : str
        Such as ``41.39``, ``N 41 23.456``, ``41°23'27.4"N``, ``-97:08:44.2``.
    axis : str
        ``lon`` or ``lat``; a hemisphere of the other axis is refused.

    Returns
    -------
    float
        Degrees, south and west negative.

    Raises
    ------
    ValueError
        The text is no such angle.

    Examples
    --------
    >>> round(parse_angle("N 41 23.456", axis="lat"), 6)
    41.390933
    >>> round(parse_angle("97°08'44.2\"W", axis="lon"), 6)
    -97.145611
    """
    plain = text.strip().replace("\u2212", "-")
    words = [w.lower() for w in _LETTERS.findall(plain)]
    if "s" in words and len(set(words) & set("nsew")) > 1:
        plain = re.sub(r"(?<=\d)\s*s\b", " ", plain)  # seconds, not south
    plain = _LETTERS.sub(lambda word: _WORDS.get(word[0].lower(), word[0]), plain)
    letters = [c.lower() for c in plain if c in "NSEWnsew"]
    if not _ALLOWED.fullmatch(plain) or len(letters) > 1:
        raise ValueError(f"not an angle: {text!r}")
    if letters and letters[0] not in {"lon": "ew", "lat": "ns"}[axis]:
        raise ValueError(f"hemisphere {letters[0].upper()} is not of {axis}: {text!r}")
    # a hyphen between the parts parts them; only the first one is a sign
    plain = plain[:1] + re.sub(r"(?<=\d)\s*-", " ", plain[1:])
    parts = [float(number) for number in _NUMBERS.findall(plain)]
    if not 1 <= len(parts) <= 3 or any(not 0 <= p < _SIXTY for p in parts[1:]):  # noqa: PLR2004
        raise ValueError(f"not an angle: {text!r}")
    if any(p != int(p) for p in parts[:-1]):
        raise ValueError(f"only the last part may have a fraction: {text!r}")
    size = math.fsum(abs(p) / _SIXTY**k for k, p in enumerate(parts))
    is_negative = "-" in plain or bool(letters and letters[0] in "sw")
    return -size if is_negative else size


def read_angles(cells: pd.Series, *, axis: str, decimal_comma: bool = False) -> Cells:
    """Return cells as longitudes or latitudes in degrees.

    Parameters
    ----------
    cells : Series
    axis : str
        ``lon`` or ``lat``.
    decimal_comma : bool
        Whether the file writes ``41,5`` for 41.5.

    Returns
    -------
    Cells
        Beyond 360 or 90 degrees a cell is bad, unless it could be the other axis: a latitude
        within 180 degrees is kept, so that swapped columns are seen as such.

    Examples
    --------
    >>> import pandas as pd
    >>> read_angles(pd.Series(["41,5", "N 41 30"]), axis="lat", decimal_comma=True).data.tolist()
    [41.5, 41.5]
    """
    comma = re.compile(r"(?<=\d),(?=\d)")

    def parse(text: str) -> float:
        return parse_angle(comma.sub(".", text), axis=axis)

    read = read_numbers(cells, decimal_comma=decimal_comma, parse=parse)
    beyond = np.abs(read.data) > max(_LIMIT[axis], 180.0)
    values = np.where(beyond, np.nan, read.data)
    return Cells(values, read.bad | beyond, f"must be a {_NAMES[axis]} in degrees")


_NAMES = {"lon": "longitude", "lat": "latitude"}


def read_packed(cells: pd.Series, *, lat_first: bool) -> Packed:
    """Return both coordinates of cells that hold two.

    Parameters
    ----------
    cells : Series
        Such as ``41.39, -97.14``, ``N 41 23.456 W 097 08.737``, ``POINT (-97.14 41.39)``; or the
        geopoint of a form, ``41.39 -97.14 430.0 4.5``: latitude, longitude, altitude and
        accuracy, in metres.
    lat_first : bool
        Whether the latitude comes first where no letter tells.

    Returns
    -------
    Packed

    References
    ----------
    XForms for field forms, data type geopoint: latitude, longitude, altitude and accuracy
    parted by spaces; from memory.

    Examples
    --------
    >>> import pandas as pd
    >>> read_packed(pd.Series(["41.5, -97.25"]), lat_first=True).lon.tolist()
    [-97.25]
    """
    text = as_text(cells)
    missing = text.isna().to_numpy()
    parse = partial(_parse_packed, lat_first=lat_first)
    found = {cell: parse(cell) for cell in set(text[~missing])}
    rows = np.array([found.get(c, _NO_PLACE) for c in text], dtype=float).reshape(-1, 4)
    bad = ~missing & np.isnan(rows[:, :2]).any(axis=1)
    return Packed(rows[:, 0], rows[:, 1], bad, rows[:, 2], rows[:, 3])


def _parse_packed(cell: str, *, lat_first: bool) -> tuple[float, float, float, float]:
    """Return longitude, latitude, altitude and accuracy, NaN where the cell holds none."""
    cell = cell[:120]
    form = _GEOPOINT.fullmatch(cell)
    if form and abs(float(form[1])) <= _LIMIT["lat"] and abs(float(form[2])) <= _LIMIT["lon"]:
        accuracy = float(form[4] or 0)
        return float(form[2]), float(form[1]), float(form[3]), accuracy or math.nan
    point = _POINT.fullmatch(cell)
    if point:
        cell, lat_first = " ".join(point[1].split()[:2]), False
    try:
        first, second = _halve(cell)
        if re.search(r"[EWew]", first) and re.search(r"[NSns]", second):
            lat_first = False
        elif re.search(r"[NSns]", first):
            lat_first = True
        lat, lon = (first, second) if lat_first else (second, first)
        pair = parse_angle(lon, axis="lon"), parse_angle(lat, axis="lat")
    except ValueError:
        return _NO_PLACE
    within = abs(pair[0]) <= _LIMIT["lon"] and abs(pair[1]) <= 180  # noqa: PLR2004
    return (*pair, math.nan, math.nan) if within else _NO_PLACE


def _halve(cell: str) -> tuple[str, str]:
    """Part a cell into its two coordinates."""
    plain = cell.strip("()[] ")
    for mark in (";", "/", "|", ", ", ","):
        halves = [re.sub(r"(?<=\d),(?=\d)", ".", h) for h in plain.split(mark) if h.strip()]
        if len(halves) == 2:  # noqa: PLR2004
            return halves[0], halves[1]
    lettered = re.fullmatch(r"(.*[NSEWnsew])\s*([-+\d].*[NSEWnsew])", plain) or re.fullmatch(
        r"([NSEWnsew].*\S)\s*([NSEWnsew].*)", plain
    )
    if lettered:
        return lettered[1], lettered[2]
    words = plain.split()
    if len(words) in {2, 4, 6}:
        words = [re.sub(r"(?<=\d),(?=\d)", ".", word) for word in words]
        half = len(words) // 2
        return " ".join(words[:half]), " ".join(words[half:])
    raise ValueError(f"not two coordinates: {cell!r}")
