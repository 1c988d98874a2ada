"""Numbers as a drawing writes them: lengths, depths, angles, in feet or in metres."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

_FOOT_M, _INCH_M = 0.3048, 0.0254
_Z_95 = 1.96

_NUMBER = r"\d+(?:\.\d+)?"
_SPAN = rf"{_NUMBER}(?: to {_NUMBER})?"
_LENGTHS_M = re.compile(rf"(?<![\w.])((?:{_NUMBER} to {_NUMBER}, )*{_SPAN}) m\b")
"""Lengths in metres within a sentence: one, a span, or spans that share a unit. The map's script
reads the same."""


@dataclass(frozen=True)
class Units:
    """The unit of a drawing's dimensions.

    Attributes
    ----------
    name : str
        ``ft`` or ``m``.

    Examples
    --------
    >>> feet, metres = Units("ft"), Units("m")
    >>> feet.length(20.0), metres.length(20.0)
    ('65.6 ft', '20.00 m')
    >>> feet.depth(0.3), metres.depth(0.3, 0.02)
    ('11.8 in', '0.30 ± 0.04 m')
    """

    name: str

    @property
    def is_feet(self) -> bool:
        """Whether lengths are feet and depths inches."""
        return self.name == "ft"

    @property
    def depth_unit(self) -> str:
        """Unit of depths."""
        return "in" if self.is_feet else "m"

    def from_metres(self, length_m: float) -> float:
        """Return a length in this unit."""
        return length_m / _FOOT_M if self.is_feet else length_m

    def depth_from_metres(self, depth_m: float) -> float:
        """Return a depth in inches or metres."""
        return depth_m / _INCH_M if self.is_feet else depth_m

    def length(self, length_m: float, *, has_unit: bool = True) -> str:
        """Return a length in words; an empty text where it is not known."""
        if not math.isfinite(length_m):
            return ""
        number = f"{self.from_metres(length_m):.{1 if self.is_feet else 2}f}"
        return f"{number} {self.name}" if has_unit else number

    def depth(self, depth_m: float, sigma_m: float = math.nan, *, has_unit: bool = True) -> str:
        """Return a depth in words, with its 95 % interval where sigma is known."""
        if not math.isfinite(depth_m):
            return ""
        places = 1 if self.is_feet else 2
        number = f"{self.depth_from_metres(depth_m):.{places}f}"
        if math.isfinite(sigma_m):
            number += f" ± {self.depth_from_metres(_Z_95 * sigma_m):.{places}f}"
        return f"{number} {self.depth_unit}" if has_unit else number

    def sentence(self, text: str) -> str:
        """Return a sentence with its metres in this unit: short lengths in inches, others in feet.

        A number is given no more places than it had.

        Examples
        --------
        >>> Units("ft").sentence("0.134 m at the least; chainage 0.0 to 5.8, 35.6 to 57.2 m")
        '5.3 in at the least; chainage 0.0 to 19.0, 116.8 to 187.7 ft'
        """
        return _LENGTHS_M.sub(_in_feet, text) if self.is_feet else text


def _in_feet(found: re.Match[str]) -> str:
    """Return lengths in metres as inches where all are short, else as feet."""
    is_short = all(float(number) < 1 for number in re.findall(_NUMBER, found[1]))
    unit_m, unit, lost = (_INCH_M, "in", 2) if is_short else (_FOOT_M, "ft", 0)

    def convert(number: re.Match[str]) -> str:
        places = len(number[0].partition(".")[2])
        return f"{float(number[0]) / unit_m:.{min(max(places - lost, 0), 1)}f}"

    return f"{re.sub(_NUMBER, convert, found[1])} {unit}"


def degrees_text(angle_deg: float) -> str:
    r"""Return an angle as degrees, minutes and seconds.

    Parameters
    ----------
    angle_deg : float

    Returns
    -------
    str

    Examples
    --------
    >>> degrees_text(0.853)
    '0°51\'11"'
    """
    seconds = round(abs(angle_deg) * 3600)
    return f"{seconds // 3600}°{seconds % 3600 // 60:02d}'{seconds % 60:02d}\""
