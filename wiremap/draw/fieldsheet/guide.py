"""The page that says how the forms are filled in, so that what was measured can be imported."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiremap.draw.fieldsheet.sketches import draw_plan, draw_section, draw_tie
from wiremap.draw.sheets.flow import Piece, stack
from wiremap.draw.sheets.inks import QUIET, RULE
from wiremap.draw.sheets.lettering import text_width, wrap
from wiremap.draw.sheets.pen import LINE_SPACING
from wiremap.draw.styles import GRAPHITE
from wiremap.model.kinds import MEANINGS
from wiremap.model.settings import Settings

if TYPE_CHECKING:
    from collections.abc import Callable

    from wiremap.draw.sheets.pen import Pen
    from wiremap.draw.sheets.views import Box
    from wiremap.model.field_columns import Units

_GAP_PT, _PARAGRAPH_PT = 16.0, 9.0
_SIZE = 7.7


_ROWS = """
Rows of one run stand in the order walked. Each point gets a name of its own, each run one name.

Write what was measured, in the unit of the heading: {short}. A unit written behind the number holds
for that cell.

Leave empty what was not measured. Zero is a value: tone 0 is silence.

Dates as 2026-05-04. Zones as on the controller: 3, or 3;4 where a point serves two.

Type the sheet into locates.csv or locates.xlsx, whose headings are the same; what stands at its
head (date, operator, controller, lean) goes into each row. Then run wiremap check on the folder.
"""

_MARKS = """
1. Receiver upright: where the tone falls silent is the path mark.

2. Lean the receiver to {lean:g}° by its own indicator and go square off the path to the left, its
foot toward the wire, until it falls silent again: the left null mark. Then the same to the right.

3. Tape along the ground from the path mark to each null mark: offset_left and offset_right. Left
and right are those of the direction walked.
"""

_DEPTHS = """
On level ground at {lean:g}° each offset is the depth. On a slope the uphill offset is the longer;
both together give depth and slope.

Only one side measured: write that one and leave the other empty. Another lean: write it into the
column lean_deg, or for all points into property.toml.

depth itself is for a wire that was seen (feature exposed) or probed, never a guess.
"""

_TAPES = """
Tape level from two fixed points that are in references: corners of buildings, not plants. tie_side
is the side of the line from tie_a to tie_b on which the point lies, seen from tie_a.

Best where the tapes cross square; below {weak:g}° the tie is weak. A third tape (tie_c) checks the
other two.
"""

_POSITIONS = """
Leave the ties empty, write the same point name here and there, and put lon and lat, or easting and
northing, into the row when the sheet is typed in. h_rms is the accuracy that the receiver states.
"""

_TONE = """
tone: level beside the null, at its peak, in the receiver's own units; always at the same distance
and height.

gain: setting of the sensitivity. Levels are compared within one setting only: keep it along a run,
and write it into each row.

The tone ends: feature lost at the first point where nothing is heard.
"""

_READINGS = """
ohms and ohms_to_ground: a number, or open. murray: P:Q at balance, 100:41.2. varley: P:Q:S,
1000:1000:3.31. capacitance: near:far, 100:400.

Meter only with the transmitter and the controller off.
"""


def draw_guide(pen: Pen, box: Box, *, units: Units) -> None:
    """Draw the page in three columns: rows and words, depths, positions and tone.

    Parameters
    ----------
    pen : Pen
    box : (left, bottom, right, top)
    units : str
        Of the examples.
    """
    left, _, right, top = box
    width = (right - left - 2 * _GAP_PT) / 3
    for number, pieces in enumerate((_rows(width, units), _depths(width), _places(width))):
        stack(pieces, _PARAGRAPH_PT).draw(pen, left + number * (width + _GAP_PT), top)


def _rows(width: float, units: Units) -> list[Piece]:
    short = "14 1/2 or 1' 2 1/2\"" if units == "ft" else "0.36 or 36 cm"
    return [_paragraph("ONE ROW A POINT", width, _ROWS.format(short=short)), _words(width)]


def _depths(width: float) -> list[Piece]:
    lean = Settings().locating.lean_deg
    return [
        _paragraph("DEPTH BY A PAIR OF MARKS", width, _MARKS.format(lean=lean)),
        _sketch("Seen in the direction walked", width, 150.0, draw_section),
        _sketch("Seen from above", width, 84.0, draw_plan),
        _paragraph("", width, _DEPTHS.format(lean=lean)),
    ]


def _places(width: float) -> list[Piece]:
    weak = Settings().thresholds.min_cut_angle_deg
    return [
        _paragraph("POSITION BY TWO TAPES", width, _TAPES.format(weak=weak)),
        _sketch("Seen from above", width, 122.0, draw_tie),
        _paragraph("POSITION BY A RECEIVER OR TOTAL STATION", width, _POSITIONS),
        _paragraph("TONE AND GAIN", width, _TONE),
        _paragraph("VALUES OF READINGS", width, _READINGS),
    ]


def _paragraph(title: str, width: float, text: str) -> Piece:
    """Return a title and statements, parted by empty lines, below it."""
    lines = [wrap(statement, width, _SIZE) for statement in text.strip().split("\n\n")]
    step = LINE_SPACING * _SIZE
    head = 13.0 if title else 0.0
    height = head + sum(len(part) * step + 2.5 for part in lines)

    def draw(pen: Pen, left: float, top: float) -> None:
        if title:
            _title(pen, title, left, top)
        at = top - head
        for part in lines:
            for line in part:
                pen.text(line, (left, at - _SIZE), _SIZE)
                at -= step
            at -= 2.5

    return Piece(height, draw)


def _title(pen: Pen, title: str, left: float, top: float) -> None:
    pen.text(title, (left, top - 8.5), 8.2, bold=True, ink=GRAPHITE.light)


def _sketch(
    caption: str, width: float, height: float, draw_inside: Callable[[Pen, Box], None]
) -> Piece:
    """Return a sketch in a frame with its caption inside the upper edge."""

    def draw(pen: Pen, left: float, top: float) -> None:
        box = (left, top - height, left + width, top)
        with pen.clipped(box):
            draw_inside(pen, box)
        pen.box(box, ink=RULE, width_pt=0.5)
        pen.text(caption, (left + 4, top - height - 8), 6.4, ink=QUIET)

    return Piece(height + 8, draw)


def _words(width: float) -> Piece:
    """Return the feature words with what each means."""
    size = 7.4
    step = 1.36 * size
    room = max(text_width(str(word), size, bold=True) for word in MEANINGS) + 8
    lines = [(str(word), wrap(text, width - room, size)) for word, text in MEANINGS.items()]
    height = 13.0 + sum(step * len(part) for _, part in lines)

    def draw(pen: Pen, left: float, top: float) -> None:
        _title(pen, "WORDS FOR FEATURE", left, top)
        at = top - 13.0
        for word, part in lines:
            pen.text(word, (left, at - size), size, bold=True)
            for line in part:
                pen.text(line, (left + room, at - size), size)
                at -= step

    return Piece(height, draw)
