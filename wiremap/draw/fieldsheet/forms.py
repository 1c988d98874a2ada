"""Forms: tables of declared columns with an example row and empty rows to write in."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from wiremap.draw.sheets.inks import QUIET, RULE, thin
from wiremap.draw.sheets.lettering import cut, text_width, wrap
from wiremap.draw.sheets.pen import LINE_SPACING
from wiremap.draw.styles import COPPER, GRAPHITE
from wiremap.model.field_columns import field_columns

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from wiremap.draw.sheets.pen import Pen
    from wiremap.draw.sheets.views import Box
    from wiremap.model.columns import Table
    from wiremap.model.field_columns import Units

ROW_PT = 19.0
"""Least height of a row to write in (project choice: 6.7 mm, as ruled paper)."""

_HEAD_PT, _EXAMPLE_PT = 6.8, 7.4
_HEAD_FILL = thin(COPPER.light, 0.12)


@dataclass(frozen=True)
class Form:
    """A table to fill in by hand.

    Attributes
    ----------
    title : str
    table : Table
        Declared table that it is copied into.
    shares : mapping of str to float
        Columns on paper, by their declared name without a unit, and their widths in shares of
        the form's.
    example : mapping of str to str
        Cells of the worked example.
    note : str
        A line under the title.
    """

    title: str
    table: Table
    shares: Mapping[str, float]
    example: Mapping[str, str] = field(default_factory=dict)
    note: str = ""

    def headings(self, units: Units) -> dict[str, str]:
        """Return the heading of each column on paper, as the tables to fill in have it.

        Parameters
        ----------
        units : str

        Returns
        -------
        dict of str to str

        Raises
        ------
        KeyError
            A column is not declared.
        """
        declared = {
            c.column.name.removesuffix("_m").removesuffix("_deg"): c.heading
            for c in field_columns(self.table, units=units)
        }
        return {name: declared[name] for name in self.shares}


def draw_form(pen: Pen, form: Form, box: Box, *, units: Units) -> None:
    """Draw a form that fills a box with as many rows as there is room for.

    Parameters
    ----------
    pen : Pen
    form : Form
    box : (left, bottom, right, top)
        Points.
    units : str
        Of the headings.
    """
    left, bottom, right, top = box
    top = _draw_title(pen, form, box)
    widths = [share * (right - left) / sum(form.shares.values()) for share in form.shares.values()]
    headings = form.headings(units)
    titles = [
        break_heading(text, width - 4)
        for text, width in zip(headings.values(), widths, strict=True)
    ]
    head = max(map(len, titles)) * LINE_SPACING * _HEAD_PT + 5
    rows = int((top - head - bottom) // ROW_PT)
    step = (top - head - bottom) / rows
    pen.box((left, top - head, right, top), fill=_HEAD_FILL, ink=None)
    _draw_titles(pen, titles, widths, left, top)
    if form.example:
        cells = [form.example.get(name, "") for name in form.shares]
        _draw_example(pen, cells, widths, left, top - head - (step + 0.7 * _EXAMPLE_PT) / 2)
    for number in range(rows + 1):
        at = top - head - number * step
        pen.line((left, at), (right, at), ink=GRAPHITE.light if number == 0 else RULE)
    edge = left
    for width in [0.0, *widths]:
        edge += width
        pen.line((edge, bottom), (edge, top), ink=RULE)
    pen.box((left, bottom, right, top), ink=GRAPHITE.light, width_pt=0.9)


def _draw_title(pen: Pen, form: Form, box: Box) -> float:
    """Write title and note; return the upper edge of the table."""
    left, _, right, top = box
    size = 7.0
    if form.title:
        pen.text(form.title, (left, top - 9), 9.0, bold=True, ink=GRAPHITE.light)
        top -= 12
    for line in wrap(form.note, right - left, size) if form.note else ():
        pen.text(line, (left, top - size), size, ink=QUIET)
        top -= LINE_SPACING * size
    return top - 4


def _draw_titles(
    pen: Pen, titles: Sequence[Sequence[str]], widths: Sequence[float], left: float, top: float
) -> None:
    for lines, width in zip(titles, widths, strict=True):
        for number, line in enumerate(lines):
            at = (left + 2.5, top - 2 - _HEAD_PT - number * LINE_SPACING * _HEAD_PT)
            pen.text(cut(line, width - 3, _HEAD_PT, bold=True), at, _HEAD_PT, bold=True)
        left += width


def _draw_example(
    pen: Pen, cells: Sequence[str], widths: Sequence[float], left: float, base: float
) -> None:
    """Write the worked example in another ink, on a base line."""
    for cell, width in zip(cells, widths, strict=True):
        text = cut(cell, width - 4, _EXAMPLE_PT)
        pen.text(text, (left + 2.5, base), _EXAMPLE_PT, ink=COPPER.light)
        left += width


def break_heading(text: str, width_pt: float) -> list[str]:
    """Return a heading on one line where it fits, else on two, broken behind an underscore.

    Parameters
    ----------
    text : str
    width_pt : float

    Returns
    -------
    list of str

    Examples
    --------
    >>> break_heading("tie_a_dist_ft", 30.0)
    ['tie_a_', 'dist_ft']
    """
    if text_width(text, _HEAD_PT, bold=True) <= width_pt or "_" not in text:
        return [text]
    places = [place + 1 for place, letter in enumerate(text) if letter == "_"]
    breaks = [[text[:place], text[place:]] for place in places]
    return min(breaks, key=lambda lines: max(text_width(n, _HEAD_PT, bold=True) for n in lines))
