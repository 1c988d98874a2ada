"""The key plan: the whole property, and which sheet shows which part."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from wiremap.draw.sheets.inks import QUIET
from wiremap.draw.styles import BASE_STYLES, COPPER, GRAPHITE

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from wiremap.draw.sheets.contents import Contents
    from wiremap.draw.sheets.pen import Pen
    from wiremap.draw.sheets.views import Box

    Floats = NDArray[np.float64]


def draw_key(
    pen: Pen, contents: Contents, tiles: Sequence[tuple[str, Box]], here: str, box: Box, size: float
) -> None:
    """Draw the property small, with the sheets of the plan over it.

    Parameters
    ----------
    pen : Pen
    contents : Contents
    tiles : sequence of (str, Box)
        Number and ground box of each sheet of the plan.
    here : str
        Number of the sheet that it stands on.
    box : tuple of float
        Room that there is.
    size : float
        Size of its letters.
    """
    extent = contents.extent
    if extent is None:
        return
    left, bottom, right, top = box
    pen.text("KEY PLAN", (left, top - size), size, bold=True, ink=GRAPHITE.light)
    top -= 1.9 * size
    low, high = np.array(extent[:2]), np.array(extent[2:])
    for _, (a, b, c, d) in tiles:
        low, high = np.minimum(low, (a, b)), np.maximum(high, (c, d))
    span = np.maximum(high - low, 1e-6)
    room = np.array([right - left, min(top - bottom, 34 * size)])
    scale = float((room / span).min())
    offset = np.array([left + (room[0] - span[0] * scale) / 2, top - span[1] * scale])

    def to_page(xy: Floats) -> Floats:
        moved: Floats = (np.asarray(xy) - low) * scale + offset
        return moved

    for kind, _, rings in contents.base:
        pen.lines([to_page(ring) for ring in rings], ink=BASE_STYLES[kind].ink.light, width_pt=0.35)
    pen.lines([to_page(part) for part in contents.outline], ink=QUIET, width_pt=0.3)
    for number, tile in tiles:
        corners = to_page(np.array([tile[:2], tile[2:]]))
        is_here = number == here
        pen.box((*corners[0], *corners[1]), ink=COPPER.light if is_here else QUIET,
                width_pt=1.8 if is_here else 0.5)  # fmt: skip
        if len(tiles) > 1:
            pen.text(number, corners.mean(axis=0), size, bold=is_here, align="middle",
                     ink=COPPER.light if is_here else QUIET)  # fmt: skip
