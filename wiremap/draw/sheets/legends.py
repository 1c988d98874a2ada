"""The legend: what the symbols, lines and figures of a plan mean; only what is on it."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from wiremap.draw.sheets.contents import numbers
from wiremap.draw.sheets.flow import Piece
from wiremap.draw.sheets.inks import BAND, MUTED_WIRE, QUIET
from wiremap.draw.sheets.lettering import CAP_HEIGHT, cut, text_width, wrap
from wiremap.draw.sheets.marks import LOST, Mark, find_marks
from wiremap.draw.sheets.pen import LINE_SPACING, WHITE
from wiremap.draw.sheets.symbols import draw_mark
from wiremap.draw.sheets.tielines import BLOCKED_DASH, TIE_DASH
from wiremap.draw.sheets.wiring import draw_wire
from wiremap.draw.styles import COPPER, GRAPHITE, SHARED_WIRE, STYLES, Style, wire_ink, zone_number
from wiremap.model.cells import flags

if TYPE_CHECKING:
    from collections.abc import Callable

    from wiremap.draw.sheets.contents import Contents
    from wiremap.draw.sheets.pen import Pen

_MOST_ZONES = 72
_SWATCH = 3.4


class _Entry(NamedTuple):
    draw: Callable[[Pen, float, float, float], None]
    label: str
    is_short: bool = False


def legend_piece(
    contents: Contents, *, width_pt: float, text_pt: float, has_ties: bool = False
) -> Piece:
    """Return the legend of a plan.

    Parameters
    ----------
    contents : Contents
    width_pt : float
    text_pt : float
        Size of its letters.
    has_ties : bool, default False
        Whether it explains a tie plan.

    Returns
    -------
    Piece
    """
    entries = _symbol_entries(contents, text_pt) + _line_entries(contents, text_pt, has_ties)
    rows = _pair(entries, width_pt, text_pt)
    zones = [] if has_ties else _zones(contents)
    columns = max(int(width_pt // (5.2 * text_pt)), 1)
    zone_rows = -(-len(zones) // columns)
    title, zone_title = 2.1 * text_pt, 1.9 * text_pt if zones else 0.0
    total = title + sum(row.height_pt for row in rows) + zone_title + zone_rows * 1.5 * text_pt

    def draw(pen: Pen, left: float, top: float) -> None:
        pen.text(
            "LEGEND", (left, top - text_pt * 1.1), text_pt * 1.1, bold=True, ink=GRAPHITE.light
        )
        at = top - title
        for row in rows:
            row.draw(pen, left, at)
            at -= row.height_pt
        if zones:
            pen.text("Wire of zone", (left, at - 1.2 * text_pt), text_pt, ink=QUIET)
            at -= zone_title
        for number, zone in enumerate(zones):
            x = left + number % columns * width_pt / columns
            _draw_zone(pen, zone, x, at - (number // columns + 0.6) * 1.5 * text_pt, text_pt,
                       width_pt / columns)  # fmt: skip

    return Piece(total, draw)


def _pair(entries: list[_Entry], width_pt: float, text_pt: float) -> list[Piece]:
    """Return the rows of the legend: short entries two to a row, long ones alone."""
    half = width_pt / 2
    swatch = _SWATCH * text_pt
    rows: list[list[_Entry]] = []
    for entry in entries:
        is_short = text_width(entry.label, text_pt) <= half - swatch - 0.5 * text_pt
        last = rows[-1] if rows else []
        if is_short and len(last) == 1 and last[0].is_short:
            last.append(entry._replace(is_short=True))
        else:
            rows.append([entry._replace(is_short=is_short)])
    return [_entry_row(row, width_pt, text_pt) for row in rows]


def _entry_row(entries: list[_Entry], width_pt: float, text_pt: float) -> Piece:
    step, swatch = 1.75 * text_pt, _SWATCH * text_pt
    lines = [wrap(e.label, width_pt - swatch, text_pt, most=3) for e in entries]
    deepest = max(len(part) for part in lines)
    height = max(step, deepest * LINE_SPACING * text_pt + 0.45 * text_pt)

    def draw(pen: Pen, left: float, top: float) -> None:
        for place, (entry, words) in enumerate(zip(entries, lines, strict=True)):
            x = left + place * width_pt / 2
            entry.draw(pen, x, top - step / 2, swatch - text_pt)
            for number, line in enumerate(words):
                base = top - step / 2 - CAP_HEIGHT * text_pt / 2 - number * LINE_SPACING * text_pt
                pen.text(line, (x + swatch, base), text_pt)

    return Piece(height, draw)


def _zones(contents: Contents) -> list[str]:
    """Return the zones that have wire of a colour of their own."""
    found = {zones for zones in contents.wires.zones if wire_ink(zones) != SHARED_WIRE}
    return sorted(found, key=lambda zone: (zone_number(zone), zone))[:_MOST_ZONES]


def _draw_zone(pen: Pen, zone: str, x: float, y: float, text_pt: float, width_pt: float) -> None:
    draw_wire(pen, zone, np.array([(x, y), (x + 2.0 * text_pt, y)]), width_pt=0.26 * text_pt)
    name = cut(zone, max(width_pt - 2.6 * text_pt, text_pt), text_pt)
    pen.text(name, (x + 2.4 * text_pt, y - CAP_HEIGHT * text_pt / 2), text_pt)


def _symbol_entries(contents: Contents, text_pt: float) -> list[_Entry]:
    """Return one entry for each style of symbol on the plan, topmost first."""
    seen: dict[str, Mark] = {}
    for mark in reversed(find_marks(contents)):
        seen.setdefault(mark.style.label, mark)
    labels = {
        "On the zone list": "Valve, on the zone list",
        "Shared by zones": "Valve shared by zones",
        "Zone not on the list": "Valve, zone not on the list",
        "Zone suggested by the evidence": "Valve, zone suggested by the evidence",
        "No zone known": "Valve, no zone known",
        "Controllers": "Controller",
        "Splices": "Splice",
        "Reference points": "Permanent reference",
        "Break": "Fault: break",
        "Leak": "Fault: leak to ground",
        "Open end": "Fault: open end",
        "Reported": "Fault as reported",
    }
    return [
        _Entry(_symbol_drawer(mark, text_pt), labels.get(label, label))
        for label, mark in seen.items()
    ]


def _symbol_drawer(mark: Mark, text_pt: float) -> Callable[[Pen, float, float, float], None]:
    def draw(pen: Pen, left: float, y: float, width: float) -> None:
        draw_mark(pen, mark, np.array([left + width / 2, y]), text_pt=1.15 * text_pt)

    return draw


def _line_entries(contents: Contents, text_pt: float, has_ties: bool) -> list[_Entry]:  # noqa: FBT001
    band = _Entry(_band_drawer(STYLES["dig_buffer"], text_pt), "Dig by hand: advisory band")
    bands = [band] if contents.band else []
    if has_ties:
        ties = [
            ("Tie, with its distance", TIE_DASH),
            ("* Building in the way: computed, no tape reaches", BLOCKED_DASH),
        ]
        columns = (flags(contents.layer("ties"), name) for name in ("blocked_a", "blocked_b"))
        shown = ties if any(map(any, columns)) else ties[:1]
        return [
            *(_Entry(_line_drawer(COPPER.light, 0.45, dash), label) for label, dash in shown),
            _Entry(_line_drawer(MUTED_WIRE, 0.06 * text_pt, ()), "Wire"),
            *bands,
        ]
    entries = []
    if any(wire_ink(zones) == SHARED_WIRE for zones in contents.wires.zones):
        label = "Wire of several zones, or of none known"
        entries.append(_Entry(_line_drawer(SHARED_WIRE.ink.light, 0.17 * text_pt, ()), label))
    if "inferred" in set(contents.wires.evidence):
        dash = (0.6 * text_pt, 0.5 * text_pt)
        label = "Wire inferred between distant marks"
        entries.append(_Entry(_line_drawer(SHARED_WIRE.ink.light, 0.17 * text_pt, dash), label))
    cover = numbers(contents.layer("wire_segments"), "cover_low_m")
    limit = contents.settings.advisory.min_cover_m
    if (cover < limit).any():
        dash = (0.12 * text_pt, 0.3 * text_pt)
        label = f"Cover may be less than {contents.units.depth(limit)}: hand tools only"
        entries.append(
            _Entry(_line_drawer(STYLES["hand_dig"].ink.light, 0.42 * text_pt, dash), label)
        )
    if len(contents.layer("faults")):
        entries.append(_Entry(_interval_drawer(text_pt), "A fault lies here, 95 % sure"))
    entries += bands
    if len(contents.route.run):
        units = contents.units
        label = (
            f"{units.name} along the wire from its start / depth, {units.depth_unit} (± in the"
            " routing table)"
        )
        entries.append(_Entry(_route_drawer(text_pt), label))
    return entries


def _line_drawer(
    ink: str, width_pt: float, dash_pt: tuple[float, ...]
) -> Callable[[Pen, float, float, float], None]:
    def draw(pen: Pen, left: float, y: float, width: float) -> None:
        pen.line((left, y), (left + width, y), ink=ink, width_pt=width_pt, dash_pt=dash_pt)

    return draw


def _interval_drawer(text_pt: float) -> Callable[[Pen, float, float, float], None]:
    def draw(pen: Pen, left: float, y: float, width: float) -> None:
        for side in (-0.45, 0.45):
            pen.line((left, y + side * text_pt), (left + width, y + side * text_pt),
                     ink=LOST.ink.light, width_pt=0.9)  # fmt: skip

    return draw


def _band_drawer(style: Style, text_pt: float) -> Callable[[Pen, float, float, float], None]:
    def draw(pen: Pen, left: float, y: float, width: float) -> None:
        box = (left, y - 0.5 * text_pt, left + width, y + 0.5 * text_pt)
        pen.box(box, fill=BAND, ink=style.ink.light, width_pt=0.5, dash_pt=(0.9, 2.4))

    return draw


def _route_drawer(text_pt: float) -> Callable[[Pen, float, float, float], None]:
    def draw(pen: Pen, left: float, y: float, width: float) -> None:
        del width
        pen.circle((left + 0.25 * text_pt, y), 0.14 * text_pt, ink=GRAPHITE.light, fill=WHITE)
        pen.text("9/9", (left + 0.6 * text_pt, y - 0.25 * text_pt), 0.7 * text_pt)

    return draw
