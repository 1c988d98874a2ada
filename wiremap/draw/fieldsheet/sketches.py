"""Sketches of the field sheet: the depth pair in section and in plan, and the two-tape tie."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from wiremap.draw.sheets.inks import QUIET, thin
from wiremap.draw.styles import COPPER, GRAPHITE, STYLES

if TYPE_CHECKING:
    from wiremap.draw.sheets.pen import Pen
    from wiremap.draw.sheets.views import Box

    Point = tuple[float, float]

_INK = GRAPHITE.light
_WIRE = COPPER.light
_MARK = STYLES["depth_readings"].ink.light
_SOIL = thin(COPPER.light, 0.1)
_SIZE = 6.6


def arrow(pen: Pen, start: Point, end: Point, *, ink: str = _INK, both: bool = False) -> None:
    """Draw a line with a head at its end, or at both.

    Parameters
    ----------
    pen : Pen
    start, end : (float, float)
    ink : str
    both : bool, default False
    """
    pen.line(start, end, ink=ink, width_pt=0.7)
    along = np.subtract(end, start)
    along = along / (np.hypot(*along) or 1.0)
    across = np.array([-along[1], along[0]])
    tips = [(np.asarray(end), along)] + ([(np.asarray(start), -along)] if both else [])
    for tip, way in tips:
        back = tip - 5 * way
        pen.area([np.array([tip, back + 1.8 * across, back - 1.8 * across])], fill=ink)


def draw_section(pen: Pen, box: Box) -> None:
    """Draw a depth pair on level ground as seen in the direction walked.

    Parameters
    ----------
    pen : Pen
    box : (left, bottom, right, top)
    """
    left, bottom, right, top = box
    middle, ground = (left + right) / 2, bottom + 0.6 * (top - bottom)
    depth = 0.49 * (top - bottom)
    wire = (middle, ground - depth)
    pen.box((left, bottom, right, ground), fill=_SOIL, ink=None)
    pen.line((left, ground), (right, ground), ink=_INK, width_pt=1.2)
    for side in (-1.0, 1.0):
        _draw_lean(pen, wire, (middle + side * depth, ground), side)
    _draw_receiver(pen, (middle, ground), 0.0, thin(_INK, 0.3))
    pen.line(wire, (middle, ground), ink=QUIET, width_pt=0.5, dash_pt=(2, 2))
    pen.circle(wire, 3.2, ink=_WIRE, fill=_WIRE)
    pen.text("wire", (middle + 6, wire[1] - 7), _SIZE, ink=_WIRE)
    pen.text("depth", (middle + 3, ground - 0.6 * depth), _SIZE, ink=QUIET)
    _draw_dot(pen, (middle, ground))
    for side, name in ((-1.0, "offset_left"), (1.0, "offset_right")):
        end = (middle + side * depth, ground - 8)
        arrow(pen, (middle + side * 2, ground - 8), end, both=True)
        pen.text(name, (middle + side * 0.43 * depth, ground - 17), _SIZE, bold=True,
                 align="middle")  # fmt: skip
    pen.text("null mark", (middle - depth - 6, ground - 8), _SIZE, align="right")
    pen.text("null mark", (middle + depth + 6, ground - 8), _SIZE)
    pen.text("LEFT", (left + 4, top - 8), _SIZE, bold=True, ink=QUIET)
    pen.text("RIGHT", (right - 4, top - 8), _SIZE, bold=True, ink=QUIET, align="right")
    pen.text("path mark", (middle + 5, ground + 4), _SIZE)


def _draw_lean(pen: Pen, wire: Point, mark: Point, side: float) -> None:
    """Draw the receiver leaning over a null mark, its axis on the wire, and the angle of lean."""
    pen.line(wire, mark, ink=_MARK, width_pt=0.6, dash_pt=(3, 2))
    _draw_receiver(pen, mark, side * 45.0, _INK)
    _draw_dot(pen, mark)
    if side > 0:
        reach = 34.0
        pen.line(mark, (mark[0], mark[1] + reach + 8), ink=QUIET, width_pt=0.5, dash_pt=(2, 2))
        angles = np.radians(np.linspace(90.0, 45.0, 12))
        curve = np.column_stack([np.cos(angles), np.sin(angles)]) * reach + mark
        pen.lines([curve], ink=QUIET)
        pen.text("lean", (mark[0] + 5, mark[1] + reach + 4), _SIZE, bold=True)


def _draw_receiver(pen: Pen, foot: Point, lean_deg: float, ink: str) -> None:
    """Draw a receiver as a rod with a foot and a handle, leaning to the right."""
    angle = math.radians(lean_deg)
    along = np.array([math.sin(angle), math.cos(angle)])
    across = np.array([along[1], -along[0]])
    start = np.asarray(foot) + 3 * along
    end = start + 44 * along
    corners = [start - 2 * across, start + 2 * across, end + 2 * across, end - 2 * across]
    pen.area([np.array(corners)], fill="#ffffff", ink=ink, width_pt=0.8)
    pen.line(end - 5 * across, end + 5 * across, ink=ink, width_pt=2.0)


def _draw_dot(pen: Pen, at: Point) -> None:
    pen.circle(at, 2.4, ink=_INK, fill="#ffffff", width_pt=0.9)


def draw_plan(pen: Pen, box: Box) -> None:
    """Draw a depth pair from above: which side is left follows from the direction walked.

    Parameters
    ----------
    pen : Pen
    box : (left, bottom, right, top)
    """
    left, bottom, right, top = box
    middle, centre = (left + right) / 2, (bottom + top) / 2
    reach = 0.2 * (right - left)
    pen.line((middle, bottom), (middle, top - 12), ink=_WIRE, width_pt=1.6)
    arrow(pen, (middle, top - 14), (middle, top), ink=_WIRE)
    pen.text("direction walked", (middle + 5, top - 7), _SIZE)
    for side, name in ((-1.0, "offset_left"), (1.0, "offset_right")):
        mark = (middle + side * reach, centre)
        arrow(pen, (middle + side * 3, centre), (mark[0] - side * 3, centre), both=True)
        _draw_dot(pen, mark)
        pen.text(name, (mark[0] + side * 5, centre - 2.4), _SIZE, bold=True,
                 align="left" if side > 0 else "right")  # fmt: skip
    _draw_dot(pen, (middle, centre))
    corner = [(middle + 6, centre), (middle + 6, centre - 6), (middle, centre - 6)]
    pen.lines([np.array(corner)], ink=QUIET)
    pen.text("square off the wire", (middle + 9, centre - 11), 0.9 * _SIZE, ink=QUIET)


def draw_tie(pen: Pen, box: Box) -> None:
    """Draw a point tied by two tapes to two corners of a building.

    Parameters
    ----------
    pen : Pen
    box : (left, bottom, right, top)
    """
    left, bottom, right, top = box
    width, height = right - left, top - bottom
    wall = top - 0.36 * height
    a, b = (left + 0.2 * width, wall), (left + 0.72 * width, wall)
    point = (left + 0.52 * width, bottom + 0.14 * height)
    pen.box((a[0], wall, b[0], top - 8), fill=thin(_INK, 0.1), ink=_INK, width_pt=0.9)
    for corner, name, side in ((a, "tie_a", -1.0), (b, "tie_b", 1.0)):
        pen.line(corner, point, ink=_MARK, width_pt=0.8)
        _draw_dot(pen, corner)
        middle = ((corner[0] + point[0]) / 2 + side * 4, (corner[1] + point[1]) / 2 - 5)
        pen.text(f"{name}_dist", middle, _SIZE, bold=True, align="right" if side < 0 else "left")
        pen.text(name, (corner[0] + side * 5, corner[1] - 2), _SIZE, bold=True,
                 align="right" if side < 0 else "left")  # fmt: skip
    arrow(pen, (a[0] + 8, wall + 6), (b[0] - 8, wall + 6), ink=QUIET)
    for line, text in enumerate(("the point lies on the right", "from tie_a toward tie_b")):
        pen.text(text, ((a[0] + b[0]) / 2, wall + 11 + line * 1.25 * _SIZE), _SIZE, ink=QUIET,
                 align="middle")  # fmt: skip
    pen.symbol("square", point, 8.0, ink=_INK, fill="#ffffff")
    pen.text("valve", (point[0] + 8, point[1] - 2), _SIZE)
