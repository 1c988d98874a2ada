"""Words on lists and valves, read as what they mean: zones, controllers, gauges, readings."""

from __future__ import annotations

import math
import re
from typing import Literal

Kind = Literal["zone", "master_valve", "pump_start", "spare"]

_LEAD = re.compile(r"^(?:zone|station|stn|sta|zn|z|no|nr|valve)?[\s.:#№_-]*(?=\d)", re.IGNORECASE)
_PARTS = re.compile(r"\s*(?:[;,&+/|]|\band\b)\s*", re.IGNORECASE)
_CONTROLLER = re.compile(r"\b(?:controller|control|ctrl|clock|timer)\b", re.IGNORECASE)
_KINDS: tuple[tuple[Kind, re.Pattern[str]], ...] = (
    ("master_valve", re.compile(r"m\.?v\.?\s*\d*|master(?:[\s_-]*valve)?\s*\d*", re.IGNORECASE)),
    (
        "pump_start",
        re.compile(r"(?:pump|p\.?s\.?r?\.?)(?:[\s_-]*(?:start|relay))*\s*\d*", re.IGNORECASE),
    ),
    ("spare", re.compile(r"spare(?:[\s_-]*wire)?\s*\d*", re.IGNORECASE)),
)
_GAUGE = re.compile(r"(?<![\d.])(\d{1,2})(?![\d.])")
_MARKED_GAUGE = re.compile(
    r"#\s*(\d{1,2})(?!\d)|(?<!\d)(\d{1,2})\s*-?\s*(?:awg|ga\b|gauge)", re.IGNORECASE
)
_CONDUCTORS = re.compile(r"(?<!\d)([2-9])\s*[xX\u00d7]", re.IGNORECASE)
_OHMS = re.compile(r"^[<>~≥≤\s]*([\d.,]+)\s*([kKmMgG]?)\s*(?:ohms?|[\u03a9\u2126])?$")
_OPEN = re.compile(r"^(?:open|o\.?l\.?|inf(?:inite|inity)?|∞|over(?:load)?)$", re.IGNORECASE)
_LEAST_AWG, _MOST_AWG = 4, 26


def split_zones(text: str) -> list[str]:
    """Return the zones that a cell names, as people write them on the controller.

    Parameters
    ----------
    text : str
        Such as ``3``, ``3;4``, ``Zone 3``, ``Sta. 07``, ``3.0``. Empty text gives nothing.

    Returns
    -------
    list of str
        As written, each once.

    Examples
    --------
    >>> split_zones("Zone 3; 04"), split_zones("7 & 8"), split_zones("3.0"), split_zones("")
    (['Zone 3', '04'], ['7', '8'], ['3'], [])
    """
    whole = (re.sub(r"^(\d+)\.0+$", r"\1", part.strip()) for part in _PARTS.split(text))
    return list(dict.fromkeys(part for part in whole if part))


def zone_key(label: str) -> str:
    """Return what two labels of one zone have in common.

    Parameters
    ----------
    label : str
        One label of `split_zones`.

    Returns
    -------
    str
        Lower case, without leading words, leading zeros and inner spaces; ``mv`` for a master
        valve and ``pump`` for a pump start, with their number.

    Examples
    --------
    >>> zone_key("03"), zone_key("Sta. 12A"), zone_key("Master Valve"), zone_key("MV 2")
    ('3', '12a', 'mv', 'mv2')
    """
    kind = word_kind(label)
    if kind:
        number = re.sub(r"\D", "", label).lstrip("0")
        word = {"master_valve": "mv", "pump_start": "pump", "spare": "spare"}[kind]
        return word + (number if number != "1" or kind == "spare" else "")
    bare = re.sub(r"\s+", "", _LEAD.sub("", label.strip()))
    return bare.lstrip("0").casefold() or bare


def word_kind(label: str) -> Literal["master_valve", "pump_start", "spare"] | None:
    """Return the kind of station that a word by itself names, None for a common zone.

    Parameters
    ----------
    label : str

    Returns
    -------
    str or None

    Examples
    --------
    >>> word_kind("MV"), word_kind("pump start"), word_kind("Pump house lawn"), word_kind("3")
    ('master_valve', 'pump_start', None, None)
    """
    for kind, pattern in _KINDS:
        if pattern.fullmatch(label.strip()) and kind != "zone":
            return kind
    return None


def controller_key(name: str) -> str:
    """Return what two spellings of one controller have in common.

    Parameters
    ----------
    name : str

    Returns
    -------
    str
        Letters and digits in lower case, without the word controller and the like.

    Examples
    --------
    >>> controller_key("Controller A"), controller_key("a"), controller_key("North-2")
    ('a', 'a', 'north2')
    """
    bare = re.sub(r"[\W_]+", "", _CONTROLLER.sub("", name)).casefold()
    return bare or re.sub(r"[\W_]+", "", name).casefold()


def read_gauge(text: str, *, marked: bool = False) -> float:
    """Return a wire gauge as a number.

    Parameters
    ----------
    text : str
        Such as ``18``, ``#14``, ``14 AWG``, ``18/7``.
    marked : bool
        Read only a number that is marked as a gauge, as in ``white #12``.

    Returns
    -------
    float
        NaN where there is none between 4 and 26.

    Examples
    --------
    >>> read_gauge("18 AWG"), read_gauge("18/7"), read_gauge("white", marked=True)
    (18.0, 18.0, nan)
    """
    match = (_MARKED_GAUGE if marked else _GAUGE).search(text)
    if match is None:
        return math.nan
    gauge = float(next(group for group in match.groups() if group))
    return gauge if _LEAST_AWG <= gauge <= _MOST_AWG else math.nan


def count_conductors(text: str) -> int:
    """Return how many conductors side by side make the common.

    Parameters
    ----------
    text : str
        Such as ``2 x #14 white``.

    Returns
    -------
    int
        1 where not said.

    Examples
    --------
    >>> count_conductors("2 x #14 white"), count_conductors("white")
    (2, 1)
    """
    match = _CONDUCTORS.search(text)
    return int(match[1]) if match else 1


def read_ohms(text: str) -> float:
    """Return a resistance as written on a meter or a list.

    Parameters
    ----------
    text : str
        Such as ``38``, ``38 ohm``, ``1.2 M``, ``500k``, ``OL``, ``open``.

    Returns
    -------
    float
        Ohms; infinite for an open reading; NaN where the text is no resistance.

    Examples
    --------
    >>> read_ohms("38,5"), read_ohms("500k"), read_ohms("OL"), read_ohms("wet")
    (38.5, 500000.0, inf, nan)
    """
    if _OPEN.match(text.strip()):
        return math.inf
    match = _OHMS.match(text.strip())
    if match is None:
        return math.nan
    try:
        number = float(match[1].replace(",", "."))
    except ValueError:
        return math.nan
    return number * {"": 1.0, "k": 1e3, "m": 1e6, "g": 1e9}[match[2].lower()]
