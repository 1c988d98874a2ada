"""Paper of the field sheet, and the frame that its pages share."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

from wiremap.draw.sheets.inks import QUIET
from wiremap.draw.sheets.lettering import text_width, wrap
from wiremap.draw.sheets.papers import PAPERS, POINTS_PER_M, Paper
from wiremap.draw.sheets.pen import LINE_SPACING
from wiremap.draw.styles import COPPER, GRAPHITE, STYLES

if TYPE_CHECKING:
    from collections.abc import Sequence

    from wiremap.draw.sheets.pen import Pen
    from wiremap.draw.sheets.views import Box

PaperName = Literal["letter", "a4"]

FIELD_PAPERS: dict[PaperName, Paper] = {
    "letter": PAPERS["letter"],
    "a4": Paper("A4, 297 x 210 mm", 0.297 * POINTS_PER_M, 0.210 * POINTS_PER_M, 5.8, "m"),
}
"""Papers by their name."""

MARGIN_PT = 30.0
"""Margin that every printer leaves (project choice: 10.6 mm)."""

CAUTION = (
    "Advisory only: field notes and marks are not a utility locate. Before any digging call the"
    " one-call service, 811 in the United States, and wait for its answer. Switch the transmitter"
    " off before you touch a conductor, a clip or the stake. Dig by hand near the wire. Local law"
    " and local codes come first."
)
"""The caution at the foot of every page."""

_CAUTION_PT = 7.0


def draw_frame(pen: Pen, paper: Paper, title: str, *, facts: Sequence[tuple[str, float]]) -> Box:
    """Draw the head and the foot of a page, and return what is left between them.

    Parameters
    ----------
    pen : Pen
    paper : Paper
    title : str
    facts : sequence of (str, float)
        What is filled in at the head: its label, and its share of the width.

    Returns
    -------
    (left, bottom, right, top)
        Points.
    """
    left, right = MARGIN_PT, paper.width_pt - MARGIN_PT
    top = paper.height_pt - MARGIN_PT
    pen.text(title, (left, top - 12), 14.0, bold=True, ink=GRAPHITE.light)
    used = text_width(title, 14.0, bold=True) + 18
    if facts:
        _draw_facts(pen, facts, (left + used, top - 14, right, top))
    pen.line((left, top - 21), (right, top - 21), ink=COPPER.light, width_pt=1.6)
    bottom = MARGIN_PT + _draw_caution(pen, left, right)
    return left, bottom + 6, right, top - 27


def _draw_facts(pen: Pen, facts: Sequence[tuple[str, float]], box: Box) -> None:
    """Draw labels, each with a line to write on."""
    left, bottom, right, _ = box
    total = sum(share for _, share in facts)
    for label, share in facts:
        width = (right - box[0]) * share / total
        pen.text(label, (left, bottom + 2), 6.6, ink=QUIET)
        start = left + text_width(label, 6.6) + 3
        pen.line((start, bottom), (left + width - 7, bottom), ink=GRAPHITE.light, width_pt=0.5)
        left += width


def _draw_caution(pen: Pen, left: float, right: float) -> float:
    """Draw the caution at the foot and return its height."""
    size, pad = _CAUTION_PT, 5.0
    word = text_width("CAUTION  ", size, bold=True)
    lines = wrap(CAUTION, right - left - word - 2 * pad, size)
    height = len(lines) * LINE_SPACING * size + 2 * pad - 1
    ink = STYLES["faults"].ink.light
    pen.box((left, MARGIN_PT, right, MARGIN_PT + height), ink=ink, width_pt=1.0)
    at = MARGIN_PT + height - pad - size + 1
    pen.text("CAUTION", (left + pad, at), size, bold=True, ink=ink)
    for line in lines:
        pen.text(line, (left + pad + word, at), size)
        at -= LINE_SPACING * size
    return height
