"""The drawing's own words: what it is, how it is placed, and the caution."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING, Any

import numpy as np

from wiremap.draw.record import CAUTION
from wiremap.write.dxf.sheet import Sheet, draw_text

if TYPE_CHECKING:
    from collections.abc import Mapping

    import pandas as pd

_LINE_LENGTH = 90
_LEADING = 1.7


def add_notes(
    sheet: Sheet,
    layers: Mapping[str, pd.DataFrame],
    *,
    context: Mapping[str, Any],
    corner: tuple[float, float],
) -> None:
    """Write title, notes and caution below the drawing.

    Parameters
    ----------
    sheet : Sheet
    layers : mapping of str to DataFrame
    context : mapping
        ``name``, ``settings`` and ``frame``.
    corner : tuple of float
        Lower left corner of what is drawn, drawing units.
    """
    x, y = corner[0], corner[1] - 6 * sheet.height
    layer = sheet.names.notes
    draw_text(sheet, "RECORD DRAWING", at=(x, y), layer=layer, size=2.0)
    y -= 2 * _LEADING * sheet.height
    draw_text(sheet, context["name"], at=(x, y), layer=layer, size=1.5)
    for line in note_lines(sheet, layers, context=context):
        y -= _LEADING * sheet.height
        draw_text(sheet, line, at=(x, y), layer=layer)


def note_lines(
    sheet: Sheet, layers: Mapping[str, pd.DataFrame], *, context: Mapping[str, Any]
) -> list[str]:
    """Return the notes, line by line.

    Parameters
    ----------
    sheet, layers, context
        As in `add_notes`.

    Returns
    -------
    list of str
    """
    frame, stated = context["frame"], context["settings"].property
    authority = frame.crs.to_authority()
    code = f" ({':'.join(authority)})" if authority else ""
    unit = frame.crs.axis_info[0].unit_name
    size = "" if sheet.metres == 1 else f" ({sheet.metres:.10f} m)"
    control = len(layers["references"])
    maker = f"Prepared by {stated.prepared_by or 'not stated'}"
    if stated.prepared_on:
        maker += f" on {stated.prepared_on.isoformat()}"
    scale = f"{frame.scale_factor:.7f}" if np.isfinite(frame.scale_factor) else "not known"
    placed = (
        f"Coordinates: {frame.crs.name}{code}; one drawing unit is one {unit}{size}. Up is grid"
        f" north, {frame.convergence_deg:+.4f} degrees from true north (clockwise is positive)."
        f" Plane length is ellipsoid length times {scale}. Vertical datum of heights:"
        f" {context['settings'].coordinates.vertical_datum or 'not stated'}."
    )
    depths = (
        f"Figures beside rings and in labels: depth of the wire below ground ({sheet.unit}), with"
        " the half width of its 95 % interval. Positions are located with a receiver, not surveyed"
        " on the open wire, except where the wire was exposed."
    )
    marks = (
        f"Broad marks on {sheet.names.inferred}: inferred between distant locates; on"
        f" {sheet.names.shallow}: little cover, hand tools only. Layers {sheet.names.ties} and"
        f" {sheet.names.wires_3d} are switched off."
    )
    points = f"{control} control and reference points are on layer {sheet.names.control}."
    notes = (f"{maker}.", placed, points, depths, marks, CAUTION)
    return [line for note in notes for line in textwrap.wrap(note, _LINE_LENGTH)]
