"""Labels drawn where they were placed: words, frames, clear ground and leaders."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from wiremap.draw.sheets.labels import PADDING_PT, Label
from wiremap.draw.sheets.lettering import CAP_HEIGHT
from wiremap.draw.sheets.pen import LINE_SPACING, WHITE
from wiremap.draw.styles import GRAPHITE

if TYPE_CHECKING:
    from wiremap.draw.sheets.pen import Pen
    from wiremap.draw.spots import Placement


def draw_labels(pen: Pen, placement: Placement[Label]) -> None:
    """Draw labels where they were placed, leaders first.

    Parameters
    ----------
    pen : Pen
    placement : Placement
    """
    for place in placement.placed:
        if place.has_leader:
            _draw_leader(pen, place.label, place.middle)
    for label, middle, angle, _, covers_wire in placement.placed:
        width, height = label.size
        if angle:
            _draw_turned(pen, label, middle, angle)
            continue
        box = (middle[0] - width / 2, middle[1] - height / 2, middle[0] + width / 2,
               middle[1] + height / 2)  # fmt: skip
        if label.frame:
            pen.box(box, fill=WHITE, ink=label.frame, width_pt=0.8, round_pt=height * 0.3)
        elif covers_wire:
            pen.box(box, fill=WHITE, ink=None)
        _draw_lines(pen, label, middle)


def _draw_lines(pen: Pen, label: Label, middle: tuple[float, float]) -> None:
    """Write the lines of a label, flush with the side that its point is on."""
    step = LINE_SPACING * label.size_pt
    base = middle[1] + step * (len(label.lines) - 1) / 2 - CAP_HEIGHT * label.size_pt / 2
    half = label.size[0] / 2
    away = middle[0] - label.at[0] if label.spots is None else 0.0
    align, x = "middle", middle[0]
    if abs(away) > half:
        align = "left" if away > 0 else "right"
        x += PADDING_PT - half if away > 0 else half - PADDING_PT
    for number, line in enumerate(label.lines):
        pen.text(line, (x, base - number * step), label.size_pt, ink=label.ink,
                 bold=label.bold and number == 0, align=align)  # fmt: skip


def _draw_turned(pen: Pen, label: Label, middle: tuple[float, float], angle_deg: float) -> None:
    """Draw one line of text along its line, on clear ground."""
    turn = math.radians(angle_deg)
    across = np.array([math.cos(turn), math.sin(turn)])
    up = np.array([-math.sin(turn), math.cos(turn)])
    width, height = label.size
    corners = [
        np.array(middle) + sx * across * width / 2 + sy * up * height / 2
        for sx, sy in ((-1, -1), (1, -1), (1, 1), (-1, 1))
    ]
    pen.area([np.array(corners)], fill=WHITE)
    at = np.array(middle) - up * CAP_HEIGHT * label.size_pt / 2
    pen.text(label.lines[0], at, label.size_pt, ink=label.ink, align="middle", angle_deg=angle_deg)


def _draw_leader(pen: Pen, label: Label, middle: tuple[float, float]) -> None:
    """Draw a thin line from the label's nearest edge to its symbol."""
    width, height = label.size
    away = np.array(label.at) - middle
    share = min(
        (half - 1.0) / abs(step) if step else math.inf
        for half, step in zip((width / 2, height / 2), away, strict=True)
    )
    start = np.array(middle) + away * min(share, 1.0)
    end = np.array(label.at) - away / np.hypot(*away) * label.clear_pt
    pen.line(start, end, ink=GRAPHITE.light, width_pt=0.35)
