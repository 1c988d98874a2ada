"""Sheet furniture: border, spine, strip with north arrow, scale bar, legend, notes, title block."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from wiremap.draw.sheets import notes
from wiremap.draw.sheets.compass import north_and_scale
from wiremap.draw.sheets.flow import Piece
from wiremap.draw.sheets.inks import QUIET, RULE, SPINE
from wiremap.draw.sheets.keyplans import draw_key
from wiremap.draw.sheets.legends import legend_piece
from wiremap.draw.sheets.lettering import CAP_HEIGHT, cut, text_width, wrap
from wiremap.draw.sheets.pen import LINE_SPACING
from wiremap.draw.styles import COPPER, GRAPHITE, STYLES

if TYPE_CHECKING:
    from collections.abc import Sequence

    from wiremap.draw.sheets.contents import Contents
    from wiremap.draw.sheets.papers import Paper
    from wiremap.draw.sheets.pen import Pen
    from wiremap.draw.sheets.views import Box, View

_FEET_PER_M = 1 / 0.3048


@dataclass(frozen=True)
class Layout:
    """Where the parts of a sheet stand, points: border, spine, strip and body."""

    border: Box
    spine: Box
    strip: Box
    body: Box
    text_pt: float


def lay_out(paper: Paper) -> Layout:
    """Return the parts of a sheet of a paper.

    Parameters
    ----------
    paper : Paper

    Returns
    -------
    Layout
        The spine carries RECORD DRAWING in capitals one inch high on 36 x 24 in paper, smaller in
        proportion on smaller paper.
    """
    size = paper.text_pt
    margin = max(0.0125 * paper.width_pt, 14.0)
    left, bottom = margin, margin
    right, top = paper.width_pt - margin, paper.height_pt - margin
    spine = 1.5 * _spine_capital(paper)
    strip = 34 * size
    return Layout(
        border=(left, bottom, right, top),
        spine=(left, bottom, left + spine, top),
        strip=(right - strip, bottom, right, top),
        body=(left + spine, bottom, right - strip, top),
        text_pt=size,
    )


def _spine_capital(paper: Paper) -> float:
    return 72.0 * min(paper.width_pt / 2592.0, 1.0)


@dataclass(frozen=True)
class SheetFacts:
    """What the furniture says of one sheet.

    Attributes
    ----------
    title : str
    number, total : int
    view : View or None
        The plan on it, if any.
    has_ties : bool
        Whether the plan is a tie plan.
    tiles : tuple of (str, Box)
        Number and ground box of each plan sheet, for the key plan.
    scale_label : str
    titles : tuple of str
        Titles of all sheets of the set, in order.
    """

    title: str
    number: int
    total: int
    view: View | None = None
    has_ties: bool = False
    tiles: tuple[tuple[str, Box], ...] = ()
    scale_label: str = "as noted"
    titles: tuple[str, ...] = ()


def draw_furniture(
    pen: Pen, contents: Contents, paper: Paper, layout: Layout, facts: SheetFacts
) -> None:
    """Draw everything around the body of a sheet.

    Parameters
    ----------
    pen : Pen
    contents : Contents
    paper : Paper
    layout : Layout
    facts : SheetFacts
    """
    _draw_spine(pen, paper, layout)
    _draw_strip(pen, contents, layout, facts)
    pen.box(layout.border, ink=GRAPHITE.light, width_pt=1.6)
    pen.line(layout.strip[:2], (layout.strip[0], layout.strip[3]), ink=GRAPHITE.light, width_pt=1.0)


def _draw_spine(pen: Pen, paper: Paper, layout: Layout) -> None:
    """Write RECORD DRAWING up the left edge."""
    left, bottom, right, top = layout.spine
    capital = _spine_capital(paper)
    size = capital / CAP_HEIGHT
    words = "RECORD DRAWING"
    length = text_width(words, size, bold=True)
    base = (left + right) / 2 + capital / 2
    pen.outline_text(words, (base, (bottom + top - length) / 2), size, ink=GRAPHITE.light,
                     fill=SPINE, angle_deg=90.0, width_pt=0.012 * size)  # fmt: skip
    pen.line((right, bottom), (right, top), ink=GRAPHITE.light, width_pt=1.0)
    pen.line((right - 3, bottom), (right - 3, top), ink=COPPER.light, width_pt=1.0)


def _draw_strip(pen: Pen, contents: Contents, layout: Layout, facts: SheetFacts) -> None:
    """Draw the strip: title block and caution from below, the rest from above, key plan between."""
    size = layout.text_pt
    pad = 0.9 * size
    left, bottom, right, top = layout.strip
    width = right - left - 2 * pad
    foot = [
        _caution(width, size), _revision_table(contents, width, 0.82 * size),
        _title_block(contents, facts, width, size),
    ]  # fmt: skip
    at = bottom + pad
    for piece in reversed(foot):
        piece.draw(pen, left + pad, at + piece.height_pt)
        at += piece.height_pt + pad
    head = _fitting_head(contents, facts, width, size, top - pad - at)
    y = top - pad
    for piece in head:
        piece.draw(pen, left + pad, y)
        y -= piece.height_pt + 1.3 * pad
    index = _sheet_index(facts, width, 0.86 * size)
    if y - index.height_pt >= at:
        at += index.height_pt + pad
        index.draw(pen, left + pad, at)
        at += pad
    if y - at > 9 * size and (facts.view is None or len(facts.tiles) > 1):
        draw_key(
            pen, contents, facts.tiles, str(facts.number), (left + pad, at, right - pad, y), size
        )


def _fitting_head(
    contents: Contents, facts: SheetFacts, width: float, size: float, room: float
) -> list[Piece]:
    """Return the upper part of the strip in the largest letters at which all of it fits."""
    pieces: list[Piece] = []
    for factor in (1.0, 0.93, 0.86, 0.8, 0.74, 0.68, 0.62):
        pieces = _strip_head(contents, facts, width, factor * size)
        if sum(p.height_pt + 1.17 * size for p in pieces) <= room:
            break
    return pieces


def _strip_head(contents: Contents, facts: SheetFacts, width: float, small: float) -> list[Piece]:
    pieces = []
    if facts.view is not None:
        pieces.append(north_and_scale(contents, facts.view.scale, width, small / 0.86))
        pieces.append(
            legend_piece(contents, width_pt=width, text_pt=small, has_ties=facts.has_ties)
        )
    pieces.append(_note_list("COORDINATES", notes.coordinate_notes(contents), width, small))
    pieces.append(_note_list("ACCURACY", notes.accuracy_notes(contents), width, small))
    return pieces


def _note_list(title: str, statements: Sequence[str], width: float, size: float) -> Piece:
    lines = [wrap(text, width, size, most=8) for text in statements]
    step = LINE_SPACING * size
    height = 1.8 * size + sum(len(part) * step + 0.3 * size for part in lines)

    def draw(pen: Pen, left: float, top: float) -> None:
        pen.text(title, (left, top - 1.1 * size), 1.1 * size, bold=True, ink=GRAPHITE.light)
        at = top - 1.8 * size
        for part in lines:
            for line in part:
                pen.text(line, (left, at - size), size)
                at -= step
            at -= 0.3 * size

    return Piece(height, draw)


def _sheet_index(facts: SheetFacts, width: float, size: float) -> Piece:
    """Return the list of the sheets; titles that follow each other alike share a line."""
    groups: list[tuple[str, int, int]] = []
    for number, title in enumerate(facts.titles, start=1):
        plain = title.split(", part ")[0]
        if groups and groups[-1][0] == plain:
            groups[-1] = (plain, groups[-1][1], number)
        else:
            groups.append((plain, number, number))
    groups = groups[:12]
    step = 1.45 * size
    height = 1.9 * size + step * len(groups)

    def draw(pen: Pen, left: float, top: float) -> None:
        pen.text("SHEETS OF THIS SET", (left, top - 1.1 * size), 1.1 * size, bold=True,
                 ink=GRAPHITE.light)  # fmt: skip
        for place, (title, first, last) in enumerate(groups):
            base = top - 1.9 * size - (place + 0.75) * step
            is_here = first <= facts.number <= last
            span = f"{first}" if first == last else f"{first} to {last}"
            pen.text(span, (left, base), size, bold=is_here)
            pen.text(cut(title, width - 5 * size, size, bold=is_here), (left + 4.6 * size, base),
                     size, bold=is_here)  # fmt: skip

    return Piece(height, draw)


def _caution(width: float, size: float) -> Piece:
    pad = 0.7 * size
    lines = wrap(notes.CAUTION, width - 2 * pad, 0.92 * size)
    step = LINE_SPACING * 0.92 * size
    height = 2 * pad + 1.7 * size + len(lines) * step
    ink = STYLES["faults"].ink.light

    def draw(pen: Pen, left: float, top: float) -> None:
        pen.box((left, top - height, left + width, top), ink=ink, width_pt=1.6)
        pen.text("CAUTION", (left + pad, top - pad - size), 1.2 * size, bold=True, ink=ink)
        for number, line in enumerate(lines):
            pen.text(line, (left + pad, top - pad - 2.6 * size - number * step), 0.92 * size)

    return Piece(height, draw)


def _revision_table(contents: Contents, width: float, size: float) -> Piece:
    rows = notes.revisions(contents)[-6:]
    shares = (0.08, 0.2, 0.46, 0.26)
    starts = [sum(shares[:n]) * width for n in range(4)]
    step = 1.7 * size
    height = step * (len(rows) + 1)

    def draw(pen: Pen, left: float, top: float) -> None:
        for number, row in enumerate([("No.", "Date", "Revision", "By"), *rows]):
            base = top - number * step - 1.15 * size
            for start, share, cell in zip(starts, shares, row, strict=True):
                text = cut(cell, share * width - 0.5 * size, size, bold=number == 0)
                pen.text(text, (left + start, base), size, bold=number == 0)
            low = top - (number + 1) * step
            pen.line((left, low), (left + width, low), ink=RULE, width_pt=0.4)

    return Piece(height, draw)


def _title_block(contents: Contents, facts: SheetFacts, width: float, size: float) -> Piece:
    name = wrap(contents.name, width, 1.9 * size, bold=True, most=3)
    title = wrap(facts.title, width, 1.15 * size, most=2)
    cells = _title_cells(contents, facts)
    cell_height = 3.0 * size
    rows = -(-len(cells) // 2)
    words = 1.6 * size + len(name) * 1.9 * size * 1.2 + len(title) * 1.15 * size * LINE_SPACING
    height = words + 0.9 * size + rows * cell_height + 1.5 * size

    def draw(pen: Pen, left: float, top: float) -> None:
        pen.line((left, top), (left + width, top), ink=COPPER.light, width_pt=2.0)
        at = top - 1.5 * size
        pen.text("RECORD DRAWING · IRRIGATION CONTROL WIRING", (left, at), 0.86 * size, bold=True,
                 ink=COPPER.light)  # fmt: skip
        for line in name:
            at -= 1.9 * size * 1.2
            pen.text(line, (left, at), 1.9 * size, bold=True, ink=GRAPHITE.light)
        for line in title:
            at -= 1.15 * size * LINE_SPACING + 0.1 * size
            pen.text(line, (left, at), 1.15 * size, ink=QUIET)
        at = top - words - 0.9 * size
        for number, (label, value) in enumerate(cells):
            x = left + number % 2 * width / 2
            y = at - number // 2 * cell_height
            pen.line((left, y), (left + width, y), ink=RULE, width_pt=0.4)
            pen.text(label, (x, y - 0.95 * size), 0.72 * size, ink=QUIET)
            pen.text(cut(value, width / 2 - 0.5 * size, size, bold=True), (x, y - 2.3 * size), size,
                     bold=True)  # fmt: skip
        low = top - height
        pen.line((left, low + 1.35 * size), (left + width, low + 1.35 * size), ink=RULE,
                 width_pt=0.4)  # fmt: skip
        pen.text(cut(f"{notes.software(contents)} · {contents.slug}", width, 0.72 * size),
                 (left, low + 0.3 * size), 0.72 * size, ink=QUIET)  # fmt: skip

    return Piece(height, draw)


def _title_cells(contents: Contents, facts: SheetFacts) -> list[tuple[str, str]]:
    made, chart = contents.settings.property, contents.settings.chart
    approved = "not yet approved"
    if chart.approved:
        on = f", {chart.approved_on.isoformat()}" if chart.approved_on else ""
        approved = f"{chart.approved_by or 'approved'}{on}"
    return [
        ("SCALE", facts.scale_label),
        ("SHEET", f"{facts.number} of {facts.total}"),
        ("PREPARED BY", made.prepared_by or "not stated"),
        ("DATE", made.prepared_on.isoformat() if made.prepared_on else "not dated"),
        ("APPROVAL", approved),
        ("STATUS", "RECORD DRAWING"),
    ]
