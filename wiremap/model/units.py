"""Length units and the ways people write a length down.

Inside wiremap every length is in metres. The foot is exactly 0.3048 m; the US survey foot,
retired after 2022 but alive in old state-plane coordinates, is 1200/3937 m (NIST and NGS,
85 FR 62698, 5 October 2020).
"""

from __future__ import annotations

import math
import re
from fractions import Fraction
from itertools import pairwise

METRES_PER_UNIT: dict[str, float] = {
    "m": 1.0,
    "cm": 0.01,
    "mm": 0.001,
    "ft": 0.3048,
    "in": 0.0254,
    "ftus": 1200 / 3937,
}
"""Metres in one unit, by the suffix that a column name carries."""

_WORDS = {
    "m": "m", "metre": "m", "metres": "m", "meter": "m", "meters": "m",
    "cm": "cm", "mm": "mm",
    "ft": "ft", "foot": "ft", "feet": "ft", "'": "ft", "′": "ft", "’": "ft",
    "in": "in", "inch": "in", "inches": "in", '"': "in", "″": "in", "”": "in", "''": "in",
    "ftus": "ftus", "usft": "ftus", "sft": "ftus",
}  # fmt: skip
_NUMBER = r"(?:\d+[-\s]+\d+/\d+|\d+/\d+|\d*[.,]?\d+(?:[eE][-+]?\d+)?|\d+\.)"
_PART = re.compile(rf"\s*({_NUMBER})\s*(''|[A-Za-z]+|['\"′″’”])?\.?\s*,?")


def _number(text: str) -> Fraction:
    whole, _, fraction = re.sub(r"[-\s]+", " ", text.replace(",", ".")).rpartition(" ")
    return Fraction(fraction) + (Fraction(whole) if whole else 0)


def parse_length(text: str, *, default_unit: str = "m") -> float:
    r"""Return a written length in metres.

    Parameters
    ----------
    text : str
        A number with or without a unit, a mixed fraction, or feet and inches:
        ``0.36``, ``0,36``, ``14 1/2``, ``1' 2 1/2"``, ``0.36 m``, ``5 ft 3 in``.
    default_unit : str
        Unit of a number that carries none: a key of `METRES_PER_UNIT`.

    Returns
    -------
    float
        Metres.

    Raises
    ------
    ValueError
        The text is not a length.

    Examples
    --------
    >>> round(parse_length("1' 2 1/2\""), 4)
    0.3683
    >>> round(parse_length("14 1/2", default_unit="in"), 4)
    0.3683
    >>> parse_length("soft")
    Traceback (most recent call last):
    ...
    ValueError: not a length: 'soft'
    """
    rest = text.strip()
    sign = -1 if rest[:1] in {"-", "−"} else 1
    rest = rest.lstrip("+-−")
    parts: list[tuple[Fraction, str]] = []
    while rest.strip():
        match = _PART.match(rest)
        if match is None:
            raise ValueError(f"not a length: {text!r}")
        word = match[2]
        unit = default_unit if word is None else _WORDS.get(word.lower(), "")
        # inches after feet may stand without their mark: 5' 3
        if word is None and parts and parts[-1][1] == "ft":
            unit = "in"
        if not unit:
            raise ValueError(f"not a length: {text!r}")
        parts.append((_number(match[1]), unit))
        rest = rest[match.end() :]
    descending = [METRES_PER_UNIT[unit] for _, unit in parts]
    if not parts or any(a <= b for a, b in pairwise(descending)):
        raise ValueError(f"not a length: {text!r}")
    return sign * sum(float(number) * METRES_PER_UNIT[unit] for number, unit in parts)


CERTAIN = 0.995
"""Confidence from which rounding would say 100 %, which nothing in the ground is."""


def share_text(share: float) -> str:
    """Return a confidence as a percentage that never says certain.

    Parameters
    ----------
    share : float
        From 0 to 1.

    Returns
    -------
    str
        Empty where it is not known.

    Examples
    --------
    >>> share_text(0.42), share_text(0.9999), share_text(float("nan"))
    ('42 %', 'over 99 %', '')
    """
    if not math.isfinite(share):
        return ""
    return "over 99 %" if share >= CERTAIN else f"{100 * share:.0f} %"
