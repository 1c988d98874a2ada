"""The frame of a plan: its neat line with grid figures, and the match lines where it is cut."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from wiremap.draw.sheets.grounds import grid_lines
from wiremap.draw.sheets.inks import QUIET
from wiremap.draw.sheets.lettering import CAP_HEIGHT, text_width
from wiremap.draw.sheets.pen import WHITE
from wiremap.draw.styles import GRAPHITE

if TYPE_CHECKING:
    from wiremap.draw.sheets.contents import Contents
    from wiremap.draw.sheets.pen import Pen
    from wiremap.draw.sheets.views import Box, View


class MatchLine(NamedTuple):
    """One cut: its ends, its words, the box that the words stand in, and whether it lies flat."""

    start: tuple[float, float]
    end: tuple[float, float]
    words: str
    box: Box
    is_flat: bool


def find_match_lines(view: View, *, text_pt: float) -> list[MatchLine]:
    """Return the match lines of a plan.

    Parameters
    ----------
    view : View
    text_pt : float
        Size of their words.

    Returns
    -------
    list of MatchLine
        One for each side where another sheet goes on.
    """
    left, bottom, right, top = view.tile
    edges = (
        ((left, bottom), (left, top)), ((left, bottom), (right, bottom)),
        ((right, bottom), (right, top)), ((left, top), (right, top)),
    )  # fmt: skip
    found = []
    for name, (start, end) in zip(view.neighbours, edges, strict=True):
        if not name:
            continue
        words = f"MATCH LINE · SEE SHEET {name}"
        is_flat = start[1] == end[1]
        long, short = text_width(words, text_pt, bold=True) / 2 + text_pt, 0.75 * text_pt
        half = (long, short) if is_flat else (short, long)
        x, y = (start[0] + end[0]) / 2, (start[1] + end[1]) / 2
        box = (x - half[0], y - half[1], x + half[0], y + half[1])
        found.append(MatchLine(start, end, words, box, is_flat))
    return found


def draw_match_lines(pen: Pen, view: View, *, text_pt: float) -> None:
    """Draw the match lines of a plan.

    Parameters
    ----------
    pen : Pen
    view : View
    text_pt : float
    """
    for start, end, words, box, is_flat in find_match_lines(view, text_pt=text_pt):
        pen.line(start, end, ink=GRAPHITE.light, width_pt=1.5, dash_pt=(18.0, 4.0, 4.0, 4.0))
        pen.box(box, fill=WHITE, ink=None)
        x, y = (box[0] + box[2]) / 2, (box[1] + box[3]) / 2
        low = CAP_HEIGHT * text_pt / 2
        at = (x, y - low) if is_flat else (x + low, y)
        pen.text(words, at, text_pt, bold=True, align="middle", angle_deg=0.0 if is_flat else 90.0)


def draw_neat_line(pen: Pen, contents: Contents, view: View, *, text_pt: float) -> None:
    """Draw the frame of a plan, its grid ticks, and its match lines.

    Parameters
    ----------
    pen : Pen
    contents : Contents
    view : View
    text_pt : float
    """
    left, bottom, right, top = view.window
    pen.box(view.window, ink=GRAPHITE.light, width_pt=0.9)
    size = 0.68 * text_pt
    across, up = grid_lines(contents, view)
    for value, x in across:
        pen.line((x, bottom), (x, bottom - 0.45 * size), ink=GRAPHITE.light, width_pt=0.5)
        if left + 4 * size < x < right - 4 * size:
            pen.text(f"E {value:,.0f}", (x, bottom - 1.5 * size), size, ink=QUIET, align="middle")
    for value, y in up:
        pen.line((left, y), (left - 0.45 * size, y), ink=GRAPHITE.light, width_pt=0.5)
        if bottom + 4 * size < y < top - 4 * size:
            pen.text(f"N {value:,.0f}", (left - 0.75 * size, y), size, ink=QUIET, align="middle",
                     angle_deg=90.0)  # fmt: skip
    draw_match_lines(pen, view, text_pt=text_pt)
