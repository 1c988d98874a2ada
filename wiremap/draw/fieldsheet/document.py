"""The PDF of the field sheet: locates, fixed points and stations, and how to fill them in."""

from __future__ import annotations

from io import BytesIO
from typing import TYPE_CHECKING

import numpy as np

from wiremap.draw.fieldsheet.forms import Form, draw_form
from wiremap.draw.fieldsheet.guide import draw_guide
from wiremap.draw.fieldsheet.papers import FIELD_PAPERS, draw_frame
from wiremap.draw.sheets.inks import FAINT, QUIET
from wiremap.draw.sheets.lettering import embedded_font
from wiremap.draw.sheets.pen import Pen
from wiremap.draw.styles import GRAPHITE
from wiremap.errors import MissingExtraError
from wiremap.model.tables import LOCATES_IN, REFERENCES_IN, ZONE_LIST

if TYPE_CHECKING:
    from wiremap.draw.fieldsheet.papers import PaperName
    from wiremap.draw.sheets.papers import Paper
    from wiremap.draw.sheets.views import Box
    from wiremap.model.field_columns import Units

_LOCATES = Form(
    "",
    LOCATES_IN,
    {
        "point": 42, "feature": 56, "run": 32, "zone": 32, "tie_a": 68, "tie_a_dist": 42,
        "tie_b": 68, "tie_b_dist": 42, "tie_side": 32, "offset_left": 42, "offset_right": 42,
        "depth": 38, "tone": 38, "gain": 30, "note": 136,
    },
    note="The first row is an example. One row a point, in the order walked; empty where not"
    " measured. How each column is meant stands on the last page.",
)  # fmt: skip
_LOCATE_EXAMPLES: dict[str, dict[str, str]] = {
    "ft": {"tie_a_dist": "24.2", "tie_b_dist": "31.7", "offset_left": "11 1/2",
           "offset_right": "12"},
    "m": {"tie_a_dist": "7.38", "tie_b_dist": "9.66", "offset_left": "0.29",
          "offset_right": "0.305"},
}  # fmt: skip
_LOCATE_EXAMPLE = {
    "point": "P12", "feature": "path", "run": "W1", "zone": "3", "tie_a": "House NE",
    "tie_b": "House SE", "tie_side": "right", "tone": "340", "gain": "3", "note": "edge of the bed",
}  # fmt: skip
_STATIONS = Form(
    "CONTROLLER STATIONS",
    ZONE_LIST,
    {"zone": 32, "controller": 54, "name": 96, "valves": 38, "awg": 30, "wire_color": 44,
     "common": 46, "ohms": 36, "ohms_to_ground": 50, "note": 82},
    {"zone": "3", "controller": "A", "name": "Front lawn, west", "valves": "1", "awg": "14",
     "wire_color": "red", "common": "white", "ohms": "31.4", "ohms_to_ground": "open"},
    note="Every station of the controller, spares too. Goes into zones; ohms from station to"
    " common at the controller, wires off.",
)  # fmt: skip
_POINTS = Form(
    "FIXED POINTS",
    REFERENCES_IN,
    {"reference": 84, "kind": 76, "easting": 62, "northing": 62, "rms": 40},
    {"reference": "House NE", "kind": "building corner"},
    note="What the tapes start from; goes into references. Position: easting and northing, or lon"
    " and lat in their place.",
)
_SKETCH_STEP_PT = 14.4


def draw_field_sheet(paper: PaperName, *, units: Units) -> bytes:
    """Return the field sheet as a PDF of three pages.

    Parameters
    ----------
    paper : str
        ``letter`` or ``a4``.
    units : str
        ``ft`` (feet, and inches for depths and offsets) or ``m``.

    Returns
    -------
    bytes
        The same each time.

    Raises
    ------
    MissingExtraError
        reportlab is not installed.
    """
    try:
        from reportlab.pdfgen.canvas import Canvas
    except ImportError as error:
        raise MissingExtraError("reportlab", "sheets") from error
    size = FIELD_PAPERS[paper]
    out = BytesIO()
    canvas = Canvas(
        out, pagesize=(size.width_pt, size.height_pt), invariant=1,
        initialFontName=embedded_font(),
    )  # fmt: skip
    canvas.setTitle("Field sheet for wire locates")
    canvas.setSubject("Form for field notes. Advisory; not a utility locate.")
    canvas.setCreator("wiremap")
    pen = Pen(canvas)
    for draw in (_draw_locates, _draw_site, _draw_guide):
        draw(pen, size, units)
        canvas.showPage()
    canvas.save()
    return out.getvalue()


def _draw_locates(pen: Pen, paper: Paper, units: Units) -> None:
    facts = (("property", 3.4), ("date", 1.5), ("operator", 1.7), ("controller", 1.4),
             ("lean °", 0.9), ("sheet", 0.8), ("of", 0.6))  # fmt: skip
    box = draw_frame(pen, paper, "FIELD SHEET: LOCATES", facts=facts)
    example = {**_LOCATE_EXAMPLE, **_LOCATE_EXAMPLES[units]}
    form = Form(_LOCATES.title, _LOCATES.table, _LOCATES.shares, example, _LOCATES.note)
    draw_form(pen, form, box, units=units)


def _draw_site(pen: Pen, paper: Paper, units: Units) -> None:
    facts = (("property", 3.4), ("date", 1.5), ("operator", 1.7))
    left, bottom, right, top = draw_frame(pen, paper, "FIELD SHEET: SITE", facts=facts)
    split = left + 0.58 * (right - left)
    draw_form(pen, _STATIONS, (left, bottom, split - 8, top), units=units)
    middle = bottom + 0.5 * (top - bottom)
    draw_form(pen, _POINTS, (split + 8, middle + 6, right, top), units=units)
    _draw_grid(pen, (split + 8, bottom, right, middle - 4))


def _draw_grid(pen: Pen, box: Box) -> None:
    """Draw squared paper for a sketch of the site."""
    left, bottom, right, top = box
    pen.text("SKETCH", (left, top - 9), 9.0, bold=True, ink=GRAPHITE.light)
    pen.text("north up; one square is ______", (right, top - 8), 7.0, ink=QUIET, align="right")
    top -= 14
    for x in np.arange(left, right, _SKETCH_STEP_PT).tolist():
        pen.line((x, bottom), (x, top), ink=FAINT, width_pt=0.3)
    for y in np.arange(top, bottom, -_SKETCH_STEP_PT).tolist():
        pen.line((left, y), (right, y), ink=FAINT, width_pt=0.3)
    pen.box((left, bottom, right, top), ink=GRAPHITE.light, width_pt=0.9)


def _draw_guide(pen: Pen, paper: Paper, units: Units) -> None:
    box = draw_frame(pen, paper, "HOW TO WRITE IT DOWN", facts=())
    draw_guide(pen, box, units=units)
