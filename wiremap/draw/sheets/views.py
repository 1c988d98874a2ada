"""A view: which part of the ground stands where on the page, at which scale."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from wiremap.draw.sheets.papers import Scale

    Floats = NDArray[np.float64]

Box = tuple[float, float, float, float]
"""Left, bottom, right, top."""


@dataclass(frozen=True)
class View:
    """A window on the page and the ground that is seen through it.

    Attributes
    ----------
    window : tuple of float
        Left, bottom, right and top on the page, points.
    middle_m : tuple of float
        Ground position at the middle of the window, metres.
    scale : Scale
    tile : tuple of float
        The part of the window that is this sheet's own; match lines run along its edges where
        another sheet goes on.
    neighbours : tuple of str
        Sheets that go on at the left, bottom, right and top; an empty text where none does.
    """

    window: Box
    middle_m: tuple[float, float]
    scale: Scale
    tile: Box
    neighbours: tuple[str, str, str, str] = ("", "", "", "")

    def to_page(self, xy_m: Floats) -> Floats:
        """Return ground positions as positions on the page.

        Parameters
        ----------
        xy_m : array of shape (n, 2)
            Metres on the ground.

        Returns
        -------
        array of shape (n, 2)
            Points from the lower left corner of the page.
        """
        middle = ((self.window[0] + self.window[2]) / 2, (self.window[1] + self.window[3]) / 2)
        return (np.asarray(xy_m) - self.middle_m) * self.scale.points_per_m + middle

    def to_ground(self, xy_pt: Floats) -> Floats:
        """Return positions on the page as ground positions.

        Parameters
        ----------
        xy_pt : array of shape (n, 2)
            Points from the lower left corner of the page.

        Returns
        -------
        array of shape (n, 2)
            Metres on the ground.
        """
        middle = ((self.window[0] + self.window[2]) / 2, (self.window[1] + self.window[3]) / 2)
        return (np.asarray(xy_pt) - middle) / self.scale.points_per_m + self.middle_m

    def holds(self, xy_pt: Floats) -> NDArray[np.bool_]:
        """Return which positions on the page lie in the window; NaN does not."""
        left, bottom, right, top = self.window
        x, y = xy_pt[:, 0], xy_pt[:, 1]
        inside: NDArray[np.bool_] = (x >= left) & (x <= right) & (y >= bottom) & (y <= top)
        return inside

    def owns(self, xy_pt: Floats) -> NDArray[np.bool_]:
        """Return which positions on the page are this sheet's to name.

        Parameters
        ----------
        xy_pt : array of shape (n, 2)

        Returns
        -------
        array of bool
            In the window, and not beyond a match line.
        """
        reach = [
            self.tile[side] if name else self.window[side]
            for side, name in enumerate(self.neighbours)
        ]
        x, y = xy_pt[:, 0], xy_pt[:, 1]
        own: NDArray[np.bool_] = (
            (x >= reach[0]) & (x <= reach[2]) & (y >= reach[1]) & (y <= reach[3])
        )
        return own

    def touches(self, xy_pt: Floats) -> bool:
        """Return whether the box around positions on the page meets the window."""
        left, bottom, right, top = self.window
        low, high = xy_pt.min(axis=0), xy_pt.max(axis=0)
        return bool(low[0] <= right and high[0] >= left and low[1] <= top and high[1] >= bottom)
