"""Tables on paper: columns as wide as their words ask, long words broken, rows kept whole."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from itertools import pairwise
from typing import TYPE_CHECKING

from wiremap.draw.sheets.flow import Piece
from wiremap.draw.sheets.inks import QUIET, RULE
from wiremap.draw.sheets.lettering import CAP_HEIGHT, text_width, wrap
from wiremap.draw.sheets.pen import LINE_SPACING
from wiremap.draw.styles import COPPER, GRAPHITE

if TYPE_CHECKING:
    from collections.abc import Sequence

    from wiremap.draw.sheets.pen import Pen

_MOST_LINES = 14
_LEAST_ROWS = 2
_LEAST_FOLDED = 10


@dataclass(frozen=True)
class Column:
    """A column: its heading, whether figures stand right in it, whether its words may be broken."""

    title: str
    is_number: bool = False
    is_prose: bool = False


@dataclass(frozen=True)
class Table:
    """A table that is set row by row and goes on where there is no more room.

    Attributes
    ----------
    title : str
    columns : tuple of Column
    rows : tuple of tuple of str
    text_pt : float
        Size of its letters.
    note : str
        A line under the title.
    is_continued : bool
        Whether this is the rest of a table.
    """

    title: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[str, ...], ...]
    text_pt: float
    note: str = ""
    is_continued: bool = False

    @property
    def _pad(self) -> float:
        return 0.55 * self.text_pt

    @property
    def _line(self) -> float:
        return LINE_SPACING * self.text_pt

    @cached_property
    def _natural(self) -> tuple[list[float], list[float]]:
        """Return the width that each column asks for, and the least it can do with."""
        wanted, least = [], []
        for number, column in enumerate(self.columns):
            cells = {row[number] for row in self.rows}
            words = {word for cell in cells for word in cell.split()} | set(column.title.split())
            size = self.text_pt
            longest_word = max((text_width(w, size, bold=True) for w in words), default=0.0)
            longest = max((text_width(cell[:400], size) for cell in cells), default=0.0)
            title = max(text_width(w, size, bold=True) for w in column.title.split() or [""])
            longest = min(longest, 14 * size) if column.is_number else longest
            wanted.append(max(longest, title) + 2 * self._pad + 0.5)
            least.append(min(longest_word, 12 * size) + 2 * self._pad + 0.5)
        return wanted, least

    def widths(self, width_pt: float) -> list[float]:
        """Return the width of each column in a table of a given width.

        Parameters
        ----------
        width_pt : float

        Returns
        -------
        list of float
            Prose shares what the other columns leave, by the root of its length; where even its
            longest words find no room, every column gives way.
        """
        wanted, least = self._natural
        prose = [column.is_prose for column in self.columns]
        room = width_pt - sum(w for w, p in zip(wanted, prose, strict=True) if not p)
        shares = [w**0.5 if p else 0.0 for w, p in zip(wanted, prose, strict=True)]
        found = [
            max(m, min(w, room * share / sum(shares))) if p else w
            for w, m, p, share in zip(wanted, least, prose, shares, strict=True)
        ]
        spare = width_pt - sum(found)
        if spare >= 0:
            return _stretch(found, spare, self.columns)
        least = [
            w if c.is_number else m for w, m, c in zip(found, least, self.columns, strict=True)
        ]
        found = _shrink(found, least, width_pt)
        fixed = sum(w for w, c in zip(found, self.columns, strict=True) if c.is_number)
        scale = min(1.0, max(width_pt - fixed, 1.0) / max(sum(found) - fixed, 1.0))
        return [w if c.is_number else w * scale for w, c in zip(found, self.columns, strict=True)]

    def take(self, width_pt: float, height_pt: float) -> tuple[Piece | None, Table | None]:
        """Return the rows that fit, and the rest of the table.

        Parameters
        ----------
        width_pt, height_pt : float
            Room that there is.

        Returns
        -------
        piece : Piece or None
            None where not even two rows fit.
        rest : Table or None
        """
        folds = self._folds(width_pt)
        gap = 2.2 * self.text_pt
        width = (width_pt - gap * (folds - 1)) / folds
        widths = self.widths(width)
        title, head = self._title_height(width_pt), self._row_height(self._titles(widths))
        most = folds * int(max(height_pt, 0.0) // self._row_height(())) + 1
        cells = [self._cells(row, widths) for row in self.rows[:most]]
        heights = [self._row_height(row) for row in cells]
        starts = _break_rows(heights, folds, height_pt - title - head)
        count = starts[-1]
        whole = count == len(self.rows)
        if count == 0 or (not whole and count < _LEAST_ROWS):
            return None, self
        parts = [slice(a, b) for a, b in pairwise(starts) if b > a]
        body = max(sum(heights[part]) for part in parts)

        def draw(pen: Pen, left: float, top: float) -> None:
            self._draw_title(pen, left, top, width_pt)
            for number, part in enumerate(parts):
                x = left + number * (width + gap)
                self._draw_rows(pen, x, top - title, widths, cells[part])

        rest = None if whole else replace(self, rows=self.rows[count:], is_continued=True, note="")
        return Piece(title + head + body, draw), rest

    def _folds(self, width_pt: float) -> int:
        """Return how many times the table stands side by side in a width."""
        if len(self.rows) < _LEAST_FOLDED:
            return 1
        gap = 2.2 * self.text_pt
        asked = sum(self._natural[0]) + 1.5 * self.text_pt * len(self.columns)
        return max(1, min(int((width_pt + gap) // (asked + gap)), 4))

    def _cells(self, row: Sequence[str], widths: Sequence[float]) -> list[tuple[str, ...]]:
        return [
            wrap(cell, max(width - 2 * self._pad, self.text_pt), self.text_pt, most=_MOST_LINES)
            for cell, width in zip(row, widths, strict=True)
        ]

    def _row_height(self, cells: Sequence[tuple[str, ...]]) -> float:
        lines = max((len(cell) for cell in cells), default=1)
        return max(lines, 1) * self._line + 0.45 * self.text_pt

    def _titles(self, widths: Sequence[float]) -> list[tuple[str, ...]]:
        return [
            wrap(c.title, max(w - 2 * self._pad, self.text_pt), self.text_pt, bold=True, most=4)
            for c, w in zip(self.columns, widths, strict=True)
        ]

    def _title_height(self, width_pt: float) -> float:
        note = len(self._note_lines(width_pt)) * self._line
        return 1.35 * self.text_pt * LINE_SPACING + note + 0.5 * self.text_pt

    def _note_lines(self, width_pt: float) -> tuple[str, ...]:
        return wrap(self.note, width_pt, self.text_pt, most=8)

    def _draw_title(self, pen: Pen, left: float, top: float, width: float) -> None:
        size = self.text_pt
        title = self.title + (", continued" if self.is_continued else "")
        pen.text(title, (left, top - 1.35 * size), 1.35 * size, bold=True, ink=GRAPHITE.light)
        at = top - 1.35 * size * LINE_SPACING
        for line in self._note_lines(width):
            pen.text(line, (left, at - size), size, ink=QUIET)
            at -= self._line
        at = top - self._title_height(width)
        pen.line((left, at), (left + width, at), ink=COPPER.light, width_pt=1.2)

    def _draw_rows(
        self, pen: Pen, left: float, top: float, widths: Sequence[float],
        cells: Sequence[Sequence[tuple[str, ...]]],
    ) -> None:  # fmt: skip
        width = sum(widths)
        at = self._draw_row(pen, left, top, widths, self._titles(widths), bold=True)
        pen.line((left, at), (left + width, at), ink=GRAPHITE.light, width_pt=0.7)
        for row in cells:
            at = self._draw_row(pen, left, at, widths, row)
            pen.line((left, at), (left + width, at), ink=RULE, width_pt=0.3)

    def _draw_row(
        self, pen: Pen, left: float, top: float, widths: Sequence[float],
        cells: Sequence[tuple[str, ...]], *, bold: bool = False,
    ) -> float:  # fmt: skip
        """Draw one row and return its lower edge."""
        base = top - 0.22 * self.text_pt - (LINE_SPACING + CAP_HEIGHT) / 2 * self.text_pt
        for column, width, lines in zip(self.columns, widths, cells, strict=True):
            x = left + width - self._pad if column.is_number else left + self._pad
            for number, line in enumerate(lines):
                pen.text(line, (x, base - number * self._line), self.text_pt, bold=bold,
                         align="right" if column.is_number else "left")  # fmt: skip
            left += width
        return top - self._row_height(cells)


def _stretch(widths: list[float], spare: float, columns: tuple[Column, ...]) -> list[float]:
    """Give what is spare to every column alike, three shares to prose."""
    shares = [3.0 if column.is_prose else 1.0 for column in columns]
    return [w + spare * share / sum(shares) for w, share in zip(widths, shares, strict=True)]


def _shrink(widths: list[float], least: list[float], target: float) -> list[float]:
    """Take what is over a target off the columns in proportion, none below its least."""
    for _ in range(8):
        over = sum(widths) - target
        total = sum(w for w, m in zip(widths, least, strict=True) if w > m)
        if over <= 0.01 or total <= 0:  # noqa: PLR2004 - a hundredth of a point
            break
        widths = [
            w - min(over * w / total, w - m) if w > m else w
            for w, m in zip(widths, least, strict=True)
        ]
    return widths


def _break_rows(heights: Sequence[float], folds: int, room_pt: float) -> list[int]:
    """Return where each fold starts and the last ends; folds are alike where all rows fit."""
    share = -(-len(heights) // folds)
    even = [min(n * share, len(heights)) for n in range(folds + 1)]
    if all(sum(heights[a:b]) <= room_pt for a, b in pairwise(even)):
        return even
    starts = [0]
    for _ in range(folds):
        end, used = starts[-1], 0.0
        while end < len(heights) and used + heights[end] <= room_pt:
            used += heights[end]
            end += 1
        starts.append(end)
    return starts
