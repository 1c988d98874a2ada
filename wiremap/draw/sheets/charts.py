"""The controller chart: what is kept in the controller's door, drawn at its own size.

Nothing on it is reduced afterwards, and no letter is lower than the settings allow.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from wiremap.draw.sheets import notes
from wiremap.draw.sheets.codes import draw_code
from wiremap.draw.sheets.contents import texts
from wiremap.draw.sheets.inks import FAINT, QUIET, RULE
from wiremap.draw.sheets.labelling import draw_labels
from wiremap.draw.sheets.labels import Label
from wiremap.draw.sheets.lettering import CAP_HEIGHT, cut, wrap
from wiremap.draw.sheets.marks import Mark, find_marks
from wiremap.draw.sheets.papers import POINTS_PER_M, Scale
from wiremap.draw.sheets.pen import LINE_SPACING
from wiremap.draw.sheets.symbols import draw_mark, symbol_size
from wiremap.draw.sheets.views import View
from wiremap.draw.sheets.wiring import draw_wire, wire_pieces
from wiremap.draw.spots import place_labels
from wiremap.draw.styles import BASE_STYLES, COPPER, GRAPHITE, STYLES

if TYPE_CHECKING:
    from wiremap.draw.sheets.contents import Contents
    from wiremap.draw.sheets.pen import Pen
    from wiremap.draw.sheets.views import Box

_SEASONS = ("Spring", "Summer", "Fall")
_COLUMN = 46.0


class ZoneRow(NamedTuple):
    """A zone of a controller, as its chart lists it."""

    zone: str
    name: str
    valves: str
    has_wire: bool


@dataclass(frozen=True)
class ChartForm:
    """How the charts of a property are laid out, points.

    Attributes
    ----------
    width, height : float
        Size of the page: the controller's door.
    text_pt : float
        Size of the letters: the least that is allowed, or more where there is room.
    columns : int
        Columns of the zone table.
    table_top : float
        Upper edge of the table on the first page; the map stands above it.
    """

    width: float
    height: float
    text_pt: float
    columns: int
    table_top: float

    @property
    def left(self) -> float:
        """Left edge of what is drawn; the right edge is as far from the other side."""
        return 2.2 * self.text_pt

    @property
    def right(self) -> float:
        """Right edge of what is drawn."""
        return self.width - self.left

    @property
    def top(self) -> float:
        """Lower edge of the heading."""
        return self.height - 8.6 * self.text_pt

    @property
    def bottom(self) -> float:
        """Upper edge of the foot."""
        return 16.2 * self.text_pt

    @property
    def row(self) -> float:
        """Height of a row of the table."""
        return 1.55 * self.text_pt

    def capacity(self, page: int) -> int:
        """Return how many zones a page holds."""
        top = self.table_top if page == 1 else self.top
        return max(int((top - self.bottom) / self.row + 1e-6) - 2, 1) * self.columns


@dataclass(frozen=True)
class ChartPage:
    """One page of a controller's chart."""

    controller: str
    is_only: bool
    rows: tuple[ZoneRow, ...]
    page: int
    pages: int
    form: ChartForm


def list_charts(contents: Contents) -> list[ChartPage]:
    """Return the pages of the charts of all controllers.

    Parameters
    ----------
    contents : Contents

    Returns
    -------
    list of ChartPage
        One or more for each controller that was located or that the zone list names; none
        where there is neither.
    """
    controllers = _controllers(contents)
    rows = {name: _zone_rows(contents, name, len(controllers) == 1) for name in controllers}
    form = _form(contents, max((len(part) for part in rows.values()), default=0))
    pages = []
    for controller, listed in rows.items():
        first, more = form.capacity(1), form.capacity(2)
        parts = [listed[:first]]
        parts += [listed[n : n + more] for n in range(first, len(listed), more)]
        pages += [
            ChartPage(controller, len(rows) == 1, tuple(part), n, len(parts), form)
            for n, part in enumerate(parts, 1)
        ]
    return pages


def _controllers(contents: Contents) -> list[str]:
    named = contents.texts("controllers", "controller") + contents.texts("zones", "controller")
    return list(dict.fromkeys(name for name in named if name))


def _zone_rows(contents: Contents, controller: str, is_only: bool) -> list[ZoneRow]:  # noqa: FBT001
    frame = contents.schedule if contents.schedule is not None else contents.layer("zones")
    columns = (texts(frame, c) for c in ("controller", "zone", "name", "valve", "runs"))
    runs_of = zip(*(contents.texts("wire_runs", c) for c in ("controller", "zones")), strict=True)
    wired = {zones for owner, zones in runs_of if is_only or owner in {controller, ""}}
    return [
        ZoneRow(zone, name, valve or runs or "not located", zone in wired)
        for owner, zone, name, valve, runs in zip(*columns, strict=True)
        if owner == controller or (is_only and not owner)
    ]


def _form(contents: Contents, rows: int) -> ChartForm:
    """Return the layout: letters as large as leave the map its share of the page."""
    chart = contents.settings.chart
    width, height = chart.door_width_m * POINTS_PER_M, chart.door_height_m * POINTS_PER_M
    least = chart.min_text_m * POINTS_PER_M / CAP_HEIGHT
    for factor, share in ((1.7, 0.4), (1.4, 0.4), (1.2, 0.45), (1.0, 0.62)):
        size = factor * least
        columns = max(1, int((width - 4.4 * size) // (_COLUMN * size)))
        form = ChartForm(width, height, size, columns, 0.0)
        wanted = (-(-rows // columns) + 2) * form.row
        room = form.top - form.bottom
        fits = wanted <= share * room and width >= 1.2 * _COLUMN * size
        if fits or factor == 1.0:
            return replace(form, table_top=form.bottom + min(wanted, share * room))
    raise AssertionError


def draw_chart(pen: Pen, contents: Contents, chart: ChartPage) -> None:
    """Draw one page of a controller's chart.

    Parameters
    ----------
    pen : Pen
    contents : Contents
    chart : ChartPage
    """
    form = chart.form
    size = form.text_pt
    frame = (size, size, form.width - size, form.height - size)
    pen.box(frame, ink=GRAPHITE.light, width_pt=1.2)
    _draw_head(pen, contents, chart)
    if chart.page == 1:
        _draw_map(pen, contents, chart, (form.left, form.table_top + size, form.right, form.top))
    _draw_table(pen, chart, form.table_top if chart.page == 1 else form.top)
    _draw_foot(pen, contents, chart)


def _draw_head(pen: Pen, contents: Contents, chart: ChartPage) -> None:
    form, settings = chart.form, contents.settings.chart
    size, left, right = form.text_pt, form.left, form.right
    wide, top = right - left, form.height - 2.2 * size
    pen.text(cut(f"Controller {chart.controller}", 0.6 * wide, 2.4 * size, bold=True),
             (left, top - 2.2 * size), 2.4 * size, bold=True, ink=GRAPHITE.light)  # fmt: skip
    pen.text(cut(contents.name, 0.56 * wide, 1.3 * size), (left, top - 4.4 * size), 1.3 * size,
             ink=QUIET)  # fmt: skip
    pen.text("CONTROLLER CHART", (right, top - 1.5 * size), 1.2 * size, bold=True, align="right",
             ink=COPPER.light)  # fmt: skip
    if settings.approved:
        on = f" {settings.approved_on.isoformat()}" if settings.approved_on else ""
        words = f"Record drawing approved{on} {settings.approved_by}".rstrip()
        pen.text(cut(words, 0.42 * wide, size), (right, top - 4.2 * size), size, align="right")
    else:
        pen.text("DRAFT", (right, top - 4.4 * size), 2.4 * size, bold=True, align="right",
                 ink=STYLES["faults"].ink.light)  # fmt: skip
    pen.line((left, top - 5.4 * size), (right, top - 5.4 * size), ink=COPPER.light, width_pt=1.4)


def _draw_foot(pen: Pen, contents: Contents, chart: ChartPage) -> None:
    """Write copies, draft, date and caution, and draw the code."""
    size, left, right = chart.form.text_pt, chart.form.left, chart.form.right
    settings = contents.settings.chart
    top = chart.form.bottom - size
    pen.line((left, top), (right, top), ink=COPPER.light, width_pt=0.8)
    if settings.link:
        code = 12.0 * size
        draw_code(pen, settings.link, (right - code, 2.2 * size), code)
        right -= code + size
    made = contents.settings.property
    draft = "" if settings.approved else "Draft until the record drawing is approved. "
    date = f" {made.prepared_on.isoformat()}" if made.prepared_on else ""
    maker = f" by {made.prepared_by}" if made.prepared_by else ""
    prepared = f" Prepared{date}{maker}." if date or maker else ""
    words = (
        f"{draft}Make {settings.copies} copies; keep one in the controller, sealed against water."
        f" Minutes and season are filled in by whoever programs the controller.{prepared}"
        f" Page {chart.page} of {chart.pages}."
    )
    link = f"Scan for: {settings.link}" if settings.link else ""
    at = top - 0.4 * size
    for text, most in ((words, 3), (f"Caution: {notes.CAUTION}", 6), (link, 1)):
        for line in wrap(text, right - left, size, most=most):
            at -= LINE_SPACING * size
            pen.text(line, (left, at), size)


def _draw_table(pen: Pen, chart: ChartPage, top: float) -> None:
    """Draw the zones with colour, area, valves, and empty boxes for minutes by season."""
    form = chart.form
    gap = 1.5 * form.text_pt
    width = (form.right - form.left - gap * (form.columns - 1)) / form.columns
    rows = -(-len(chart.rows) // form.columns)
    for column in range(form.columns):
        part = chart.rows[column * rows : (column + 1) * rows]
        if part:
            _draw_table_column(pen, form, part, (form.left + column * (width + gap), top), width)


def _draw_table_column(
    pen: Pen, form: ChartForm, rows: tuple[ZoneRow, ...], corner: tuple[float, float], width: float
) -> None:
    (left, top), size, step = corner, form.text_pt, form.row
    season = min(5.2 * size, 0.13 * width)
    right = left + width
    zone, area, valve = left + 3.2 * size, left + 7.2 * size, right - 3 * season - 8.0 * size
    low = top - 1.1 * step
    for place, words in ((zone, "Zone"), (area, "Area"), (valve, "Valve")):
        pen.text(words, (place, low), size, bold=True)
    for number, words in enumerate(_SEASONS):
        middle = right - (2.5 - number) * season
        pen.text(cut(words, season, size, bold=True), (middle, low), size, bold=True,
                 align="middle")  # fmt: skip
    for number, row in enumerate(rows):
        low = top - (number + 2) * step - 0.35 * size
        if row.has_wire:
            swatch = np.array([(left, low + 0.5 * step), (left + 2.4 * size, low + 0.5 * step)])
            draw_wire(pen, row.zone, swatch, width_pt=0.42 * size)
        base = low + 0.5 * step - CAP_HEIGHT * size / 2
        pen.text(cut(row.zone, 3.8 * size, size, bold=True), (zone, base), size, bold=True)
        pen.text(cut(row.name, valve - area - 0.5 * size, size), (area, base), size)
        pen.text(cut(row.valves, 7.6 * size, size), (valve, base), size)
        for place in range(3):
            cell = right - (3 - place) * season
            pen.box((cell, low, cell + season, low + step), ink=RULE, width_pt=0.35)
        pen.line((left, low), (right, low), ink=RULE, width_pt=0.35)


def _draw_map(pen: Pen, contents: Contents, chart: ChartPage, box: Box) -> None:
    """Draw the controller's wires in zone colours with their valves, as large as fits."""
    view = _map_view(contents, box)
    if view is None:
        return
    size = chart.form.text_pt
    owners = dict(
        zip(*(contents.texts("wire_runs", c) for c in ("run", "controller")), strict=True)
    )
    with pen.clipped(box):
        for kind, _, rings in contents.base:
            style = BASE_STYLES[kind]
            page = [view.to_page(ring) for ring in rings]
            if style.fill and len(page[0]) > 3:  # noqa: PLR2004 - a closed ring
                pen.area(page, fill=style.fill.light)
            pen.lines(page, ink=style.ink.light, width_pt=0.5)
        wires = contents.wires
        for run, zones, corners in zip(wires.run, wires.zones, wires.corners, strict=True):
            is_own = chart.is_only or owners.get(run, "") in {chart.controller, ""}
            path = view.to_page(corners)
            if is_own:
                draw_wire(pen, zones, path, width_pt=0.2 * size)
            else:
                pen.lines([path], ink=FAINT, width_pt=0.3, is_round=True)
        _draw_devices(pen, contents, chart, view)
    pen.box(box, ink=GRAPHITE.light, width_pt=0.6)
    pen.text("Not to scale; grid north is up.", (box[0] + size, box[1] + 0.7 * size), size,
             ink=QUIET)  # fmt: skip


def _map_view(contents: Contents, box: Box) -> View | None:
    extent = contents.extent
    if extent is None:
        return None
    left, bottom, right, top = extent
    span = np.maximum((right - left, top - bottom), 1.0)
    room = np.array([box[2] - box[0], box[3] - box[1]]) * 0.9
    scale = Scale("fit", "not to scale", float((room / span).min()))
    return View(box, ((left + right) / 2, (bottom + top) / 2), scale, box)


def _draw_devices(pen: Pen, contents: Contents, chart: ChartPage, view: View) -> None:
    """Draw controllers and the controller's valves, each valve with the number of its zone."""
    size = chart.form.text_pt
    labels, boxes = [], []
    for mark, words in _chart_marks(contents, chart):
        at = view.to_page(np.array([mark.xy_m]))[0]
        half = symbol_size(mark.style.size_px, 0.8 * size) / 2
        boxes.append((*(at - half), *(at + half)))
        draw_mark(pen, mark, at, text_pt=0.8 * size)
        short = cut(words, 14 * size, size, bold=True)
        labels.append(Label((short,), (float(at[0]), float(at[1])), size, rank=mark.rank,
                            clear_pt=half, rings=5, bold=True))  # fmt: skip
    pieces, runs = wire_pieces(contents, view)
    placement = place_labels(
        labels, window=view.window, symbols=np.array(boxes).reshape(-1, 4), wires=pieces,
        wire_runs=runs,
    )  # fmt: skip
    draw_labels(pen, placement)


def _chart_marks(contents: Contents, chart: ChartPage) -> list[tuple[Mark, str]]:
    """Return controllers and the controller's valves with the words beside them."""
    marks = find_marks(contents)
    found = [(mark, mark.lines[0]) for mark in marks if mark.layer == "controllers" and mark.lines]
    columns = (contents.texts("valves", c) for c in ("controller", "zone", "valve"))
    xy = contents.points.get("valves", np.empty((0, 2)))
    rows = [
        row
        for row, at in zip(zip(*columns, strict=True), xy.tolist(), strict=False)
        if np.isfinite(at).all()
    ]
    valves = [mark for mark in marks if mark.layer == "valves"]
    for mark, (owner, zone, name) in zip(valves, rows, strict=True):
        if chart.is_only or owner in {chart.controller, ""}:
            found.append((mark, zone.replace(";", ", ") or name or "?"))
    return found
