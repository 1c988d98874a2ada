"""Numbers as a drawing writes them: lengths, depths, angles, in feet or in metres."""

from __future__ import annotations

import math
from dataclasses import dataclass

_FOOT_M, _INCH_M = 0.3048, 0.0254
_Z_95 = 1.96


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
