"""The PDF of a property: every sheet of the record drawing, then the controller charts."""

from __future__ import annotations

from contextlib import contextmanager
from io import BytesIO
from typing import TYPE_CHECKING, Any

import numpy as np

from wiremap.draw.sheets.charts import draw_chart, list_charts
from wiremap.draw.sheets.composition import Sheet, compose_sheets
from wiremap.draw.sheets.contents import gather_contents
from wiremap.draw.sheets.furniture import (
    SheetFacts,
    draw_furniture,
    lay_out,
)
from wiremap.draw.sheets.inks import QUIET
from wiremap.draw.sheets.lettering import cut, embedded_font, text_width
from wiremap.draw.sheets.matchlines import draw_neat_line
from wiremap.draw.sheets.measures import Units
from wiremap.draw.sheets.papers import PAPERS, Paper
from wiremap.draw.sheets.pen import Pen
from wiremap.draw.sheets.plans import draw_plan
from wiremap.draw.styles import GRAPHITE
from wiremap.errors import MissingExtraError

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    import pandas as pd

    from wiremap.draw.sheets.contents import Contents
    from wiremap.draw.sheets.furniture import Layout
    from wiremap.draw.sheets.views import Box

_REMARK = 28


def draw_sheets(layers: Mapping[str, pd.DataFrame], *, context: Mapping[str, Any]) -> bytes:
    """Return the record drawing of a property as a PDF.

    Parameters
    ----------
    layers : mapping of str to DataFrame
        Layers of an as-built by name, in the working CRS; any may be missing or empty.
    context : mapping of str to object
        ``name``, ``slug``, ``settings``, and where known ``frame``, ``curves``, ``schedule``,
        ``base``. Paper, scale, units and ink come from ``settings.sheets``; the charts' size and
        approval from ``settings.chart``.

    Returns
    -------
    bytes
        The same for the same record.

    Raises
    ------
    MissingExtraError
        reportlab, or segno where the chart carries a QR code, is not installed.
    """
    try:
        from reportlab.pdfgen.canvas import Canvas
    except ImportError as error:
        raise MissingExtraError("reportlab", "sheets") from error
    settings = context["settings"].sheets
    paper = PAPERS[settings.paper]
    units = Units(paper.units if settings.units == "auto" else settings.units)
    contents = gather_contents(layers, context=context, units=units)
    out = BytesIO()
    canvas = Canvas(
        out, pagesize=(paper.width_pt, paper.height_pt), invariant=1,
        initialFontName=embedded_font(),
    )  # fmt: skip
    _describe(canvas, contents)
    pen = Pen(canvas, is_monochrome=settings.monochrome)
    _draw_all(pen, contents, paper)
    with _binary_streams():
        canvas.save()
    return out.getvalue()


@contextmanager
def _binary_streams() -> Iterator[None]:
    """Have reportlab write compressed streams as they are: a fifth smaller than as text."""
    from reportlab import rl_config

    former, rl_config.useA85 = rl_config.useA85, 0
    try:
        yield
    finally:
        rl_config.useA85 = former


def _describe(canvas: Any, contents: Contents) -> None:
    made = contents.settings.property
    canvas.setTitle(f"{contents.name}: record drawing")
    canvas.setAuthor(made.prepared_by or "not stated")
    canvas.setSubject(
        "Record drawing of irrigation control wiring. Advisory; not a utility locate."
    )
    canvas.setCreator("wiremap")


def _draw_all(pen: Pen, contents: Contents, paper: Paper) -> None:
    layout = lay_out(paper)
    named = contents.settings.sheets.scale
    units = contents.units.name if named == "auto" else ("ft" if "in" in named else "m")
    sheets = compose_sheets(contents, layout, units=units)
    charts = list_charts(contents)
    total = len(sheets) + len(charts)
    tiles = {has_ties: _tiles(sheets, has_ties=has_ties) for has_ties in (False, True)}
    titles = tuple(sheet.title for sheet in sheets)
    titles += tuple(f"Controller chart {chart.controller}" for chart in charts)
    for number, sheet in enumerate(sheets, start=1):
        facts = SheetFacts(
            sheet.title, number, total, sheet.view, sheet.has_ties,
            tiles[sheet.has_ties], sheet.view.scale.label if sheet.view else "as noted",
            titles,
        )  # fmt: skip
        _bookmark(pen, f"{number} {sheet.title}", number)
        _draw_sheet(pen, contents, paper, layout, sheet, facts)
        pen.canvas.showPage()
    for number, chart in enumerate(charts, start=len(sheets) + 1):
        pen.canvas.setPageSize((chart.form.width, chart.form.height))
        _bookmark(pen, f"{number} Controller chart {chart.controller}", number)
        draw_chart(pen, contents, chart)
        pen.canvas.showPage()


def _bookmark(pen: Pen, title: str, number: int) -> None:
    pen.canvas.bookmarkPage(f"sheet-{number}")
    pen.canvas.addOutlineEntry(title, f"sheet-{number}")


def _tiles(sheets: list[Sheet], *, has_ties: bool) -> tuple[tuple[str, Box], ...]:
    """Return number and ground box of each plan sheet of a kind."""
    found = []
    for number, sheet in enumerate(sheets, start=1):
        if sheet.view is None or sheet.has_ties != has_ties:
            continue
        tile = sheet.view.tile
        low, high = sheet.view.to_ground(np.array([tile[:2], tile[2:]])).tolist()
        found.append((str(number), (low[0], low[1], high[0], high[1])))
    return tuple(found)


def _draw_sheet(
    pen: Pen, contents: Contents, paper: Paper, layout: Layout, sheet: Sheet, facts: SheetFacts
) -> None:
    size = layout.text_pt
    if sheet.view is not None:
        placement = draw_plan(pen, contents, sheet.view, text_pt=size, has_ties=sheet.has_ties)
        draw_neat_line(pen, contents, sheet.view, text_pt=size)
        left, _, right, top = sheet.view.window
        title = f"{sheet.title.upper()} · {sheet.view.scale.label}"
        title = cut(title, right - left, 1.1 * size, bold=True)
        pen.text(title, (left, top + 0.7 * size), 1.1 * size, bold=True, ink=GRAPHITE.light)
        count = len(placement.left_off)
        used = text_width(title, 1.1 * size, bold=True)
        if count and right - left - used > _REMARK * size:
            noun = "label" if count == 1 else "labels"
            words = f"{count} {noun} found no room; see the tables"
            pen.text(words, (right, top + 0.7 * size), 0.8 * size, align="right", ink=QUIET)
    for piece, left, top in sheet.placed:
        piece.draw(pen, left, top)
    draw_furniture(pen, contents, paper, layout, facts)
