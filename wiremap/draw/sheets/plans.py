"""The plan: ground, wires, dimension points or ties, symbols and labels, true to scale."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from wiremap.draw.sheets.grounds import base_labels, draw_ground
from wiremap.draw.sheets.labelling import draw_labels
from wiremap.draw.sheets.marks import Mark, find_marks
from wiremap.draw.sheets.matchlines import find_match_lines
from wiremap.draw.sheets.symbols import draw_mark, mark_labels, symbol_boxes
from wiremap.draw.sheets.tielines import draw_ties, find_ties, tie_labels
from wiremap.draw.sheets.wiring import (
    draw_hazards,
    draw_route,
    draw_wires,
    route_labels,
    wire_labels,
    wire_pieces,
)
from wiremap.draw.spots import Placement, place_labels

if TYPE_CHECKING:
    from wiremap.draw.sheets.contents import Contents
    from wiremap.draw.sheets.labels import Label
    from wiremap.draw.sheets.pen import Pen
    from wiremap.draw.sheets.views import Box, View


def draw_plan(
    pen: Pen, contents: Contents, view: View, *, text_pt: float, has_ties: bool = False
) -> Placement[Label]:
    """Draw what the view shows.

    Parameters
    ----------
    pen : Pen
    contents : Contents
    view : View
    text_pt : float
        Size of ordinary letters.
    has_ties : bool, default False
        Draw ties to permanent references instead of depths and dimension points.

    Returns
    -------
    Placement
        The labels, and which of them found no place.
    """
    marks = [mark for mark in find_marks(contents) if _is_seen(mark, view)]
    labels = mark_labels(marks, view, text_pt=text_pt, has_ties=has_ties)
    labels += wire_labels(contents, view, text_pt=text_pt)
    ties = find_ties(contents) if has_ties else []
    labels += (
        tie_labels(ties, view, text_pt=text_pt)
        if has_ties
        else route_labels(contents, view, text_pt=text_pt)
    )
    labels += base_labels(contents, view, text_pt=text_pt)
    wires, wire_runs = wire_pieces(contents, view)
    cuts = np.array([line.box for line in find_match_lines(view, text_pt=text_pt)]).reshape(-1, 4)
    placement = place_labels(
        labels, window=_inset(view.window, 3.0), wires=wires, wire_runs=wire_runs,
        symbols=np.vstack([symbol_boxes(marks, view, text_pt), cuts]),
    )  # fmt: skip
    with pen.clipped(view.window):
        draw_ground(pen, contents, view, text_pt=text_pt)
        draw_wires(pen, contents, view, text_pt=text_pt, is_muted=has_ties)
        if has_ties:
            draw_ties(pen, ties, view)
        else:
            draw_hazards(pen, contents, view, text_pt=text_pt)
            draw_route(pen, contents, view, text_pt=text_pt)
        for mark in marks:
            draw_mark(pen, mark, view.to_page(np.array([mark.xy_m]))[0], text_pt=text_pt)
        draw_labels(pen, placement)
    return placement


def _inset(box: Box, by_pt: float) -> Box:
    return (box[0] + by_pt, box[1] + by_pt, box[2] - by_pt, box[3] - by_pt)


def _is_seen(mark: Mark, view: View) -> bool:
    return bool(view.holds(view.to_page(np.array([mark.xy_m])))[0])
