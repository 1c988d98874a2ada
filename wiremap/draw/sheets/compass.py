"""North arrow and scale bar."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from wiremap.draw.sheets.flow import Piece, stack
from wiremap.draw.sheets.pen import WHITE
from wiremap.draw.styles import COPPER, GRAPHITE

if TYPE_CHECKING:
    from wiremap.draw.sheets.contents import Contents
    from wiremap.draw.sheets.papers import Scale
    from wiremap.draw.sheets.pen import Pen

_FEET_PER_M = 1 / 0.3048


def north_and_scale(contents: Contents, scale: Scale, width: float, size: float) -> Piece:
    """Return the north arrow with the scale in words and as bars beside it.

    Parameters
    ----------
    contents : Contents
    scale : Scale
    width : float
        Room that there is, points.
    size : float
        Size of ordinary letters.

    Returns
    -------
    Piece
    """
    high = 9.5 * size
    bars = stack(
        [
            scale_bar(scale, "ft", width - 9 * size, 0.8 * size),
            scale_bar(scale, "m", width - 9 * size, 0.8 * size),
        ],
        0.7 * size,
    )

    def draw(pen: Pen, left: float, top: float) -> None:
        convergence = contents.frame.convergence_deg if contents.frame else 0.0
        draw_north(pen, (left + 3.6 * size, top - high / 2), high, convergence_deg=convergence,
                   text_pt=0.8 * size)  # fmt: skip
        pen.text(
            f"Scale {scale.label}", (left + 9 * size, top - 1.6 * size), 1.25 * size, bold=True
        )
        bars.draw(pen, left + 9 * size, top - 2.9 * size)

    return Piece(high, draw)


def draw_north(
    pen: Pen,
    middle: tuple[float, float],
    height_pt: float,
    *,
    convergence_deg: float,
    text_pt: float,
) -> None:
    """Draw grid north as a needle, and true north as a line with a ring.

    Parameters
    ----------
    pen : Pen
    middle : tuple of float
    height_pt : float
    convergence_deg : float
        Grid north minus true north, clockwise positive: true north lies that much to the left.
    text_pt : float
    """
    x, y = middle
    low, high = y - height_pt / 2 + 0.2 * text_pt, y + height_pt / 2 - 1.6 * text_pt
    half = 0.13 * height_pt
    left = np.array([(x, high), (x - half, low), (x, low + 0.12 * height_pt)])
    right = np.array([(x, high), (x + half, low), (x, low + 0.12 * height_pt)])
    pen.area([left], fill=WHITE, ink=GRAPHITE.light, width_pt=0.7)
    if pen.is_monochrome:
        pen.area([right], ink=GRAPHITE.light, width_pt=0.7)
    else:
        pen.area([right], fill=GRAPHITE.light, ink=GRAPHITE.light, width_pt=0.7)
    pen.text("GRID N", (x, high + 0.5 * text_pt), text_pt, bold=True, align="middle")
    reach = 0.86 * (high - low)
    lean = math.radians(-convergence_deg)
    tip = (x + reach * math.sin(lean), low + reach * math.cos(lean))
    pen.line((x, low), tip, ink=COPPER.light, width_pt=0.9)
    pen.circle(tip, 0.28 * text_pt, ink=COPPER.light, fill=WHITE, width_pt=0.9)
    side = -1 if convergence_deg >= 0 else 1
    pen.text("TRUE N", (tip[0] + side * 0.7 * text_pt, tip[1] - 0.3 * text_pt), 0.85 * text_pt,
             ink=COPPER.light, align="right" if side < 0 else "left")  # fmt: skip


def scale_bar(scale: Scale, unit: str, width_pt: float, text_pt: float) -> Piece:
    """Return a bar of four blocks in feet or metres, as long as fits.

    Parameters
    ----------
    scale : Scale
    unit : str
        ``ft`` or ``m``.
    width_pt : float
        Room that there is.
    text_pt : float

    Returns
    -------
    Piece
    """
    per_unit = scale.points_per_m / (_FEET_PER_M if unit == "ft" else 1.0)
    most = (width_pt - 3.2 * text_pt) / (4 * per_unit)
    power = 10.0 ** math.floor(math.log10(most))
    step = next(n * power for n in (5.0, 2.0, 1.0) if n * power <= most)
    block, high = step * per_unit, 0.55 * text_pt

    def draw(pen: Pen, left: float, top: float) -> None:
        low = top - 1.3 * text_pt - high
        for number in range(4):
            box = (left + number * block, low, left + (number + 1) * block, low + high)
            pen.box(box, fill=WHITE, ink=GRAPHITE.light, width_pt=0.6)
            if number % 2 == 0:
                pen.blot(box)
        for number in (0, 1, 2, 4):
            text = f"{number * step:g}" + (f" {unit}" if number == 4 else "")  # noqa: PLR2004
            pen.text(text, (left + number * block, low + high + 0.35 * text_pt), text_pt)

    return Piece(1.3 * text_pt + high, draw)
