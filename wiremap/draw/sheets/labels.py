"""A label of a sheet: its words, its letters, and what it asks of its place."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from wiremap.draw.sheets.lettering import CAP_HEIGHT, text_width
from wiremap.draw.sheets.pen import BLACK, LINE_SPACING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

PADDING_PT = 1.4
"""Clear space around a label."""


@dataclass(frozen=True)
class Label:
    """A text that wants a place near a point, or on a line.

    Attributes
    ----------
    lines : tuple of str
        Lines of text.
    at : tuple of float
        The point it belongs to, points on the page.
    size_pt : float
        Size of its letters.
    rank : int
        Lower is placed first.
    clear_pt : float
        Half the size of the symbol at the point.
    rings : int
        How far out it may be put: 1 beside the point, more with a leader.
    spots : array of shape (n, 3), optional
        Middles and angles (degrees) to choose from instead, for a label on a line.
    ink : str
    bold : bool
    frame : str
        Ink of a frame around it; none where empty.
    owner : str
        Run whose own wire it may cover.
    most_wires : int
        How many other wires it may cover at most; rather than cover more it is left off.
    """

    lines: tuple[str, ...]
    at: tuple[float, float]
    size_pt: float
    rank: int = 5
    clear_pt: float = 3.0
    rings: int = 4
    spots: Floats | None = None
    ink: str = BLACK
    bold: bool = False
    frame: str = ""
    owner: str = ""
    most_wires: int = 99

    @property
    def size(self) -> tuple[float, float]:
        """Width and height, points, with the clear space around."""
        width = max(text_width(line, self.size_pt, bold=self.bold) for line in self.lines)
        height = self.size_pt * (CAP_HEIGHT + 0.12 + LINE_SPACING * (len(self.lines) - 1))
        side = 2 * PADDING_PT + (self.size_pt * 0.5 if self.frame else 0.0)
        return width + side, height + side

    @property
    def clear(self) -> float:
        """Half the size of the symbol at the point."""
        return self.clear_pt

    @property
    def step(self) -> float:
        """How far out the second ring of spots lies."""
        return 1.1 * self.size_pt
