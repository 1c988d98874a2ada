"""The pen: lines, areas, symbols and letters on a page, in colour or in black only."""

from __future__ import annotations

from contextlib import contextmanager
from functools import cache
from typing import TYPE_CHECKING, Any

from wiremap.draw.sheets.lettering import CAP_HEIGHT, spell, text_width
from wiremap.draw.styles import PAPER, SYMBOLS

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Point = Sequence[float] | Floats

WHITE, BLACK = "#ffffff", "#000000"


@cache
def _colour(ink: str) -> Any:
    from reportlab.lib.colors import HexColor

    return HexColor(ink)


LINE_SPACING = 1.28
"""Distance between lines of text, in font sizes."""


class Pen:
    """Draws on one PDF; points from the lower left corner of the page.

    Parameters
    ----------
    canvas : reportlab Canvas
    is_monochrome : bool, default False
        Every line and letter is black, every area white.
    """

    def __init__(self, canvas: Any, *, is_monochrome: bool = False) -> None:
        self.canvas = canvas
        self.is_monochrome = is_monochrome

    def ink(self, colour: str) -> str:
        """Return the colour that is put on paper for an ink."""
        if colour in {WHITE, PAPER.light}:
            return WHITE
        return BLACK if self.is_monochrome else colour

    def tint(self, colour: str) -> str:
        """Return the colour that is put on paper for an area."""
        return WHITE if self.is_monochrome else self.ink(colour)

    def _stroke(self, ink: str, width_pt: float, dash_pt: Sequence[float]) -> None:
        self.canvas.setStrokeColor(_colour(self.ink(ink)))
        self.canvas.setLineWidth(width_pt)
        self.canvas.setDash(list(dash_pt) or [], 0)

    def line(
        self,
        start: Point,
        end: Point,
        *,
        ink: str = BLACK,
        width_pt: float = 0.5,
        dash_pt: Sequence[float] = (),
    ) -> None:
        """Draw a straight line."""
        self._stroke(ink, width_pt, dash_pt)
        self.canvas.line(float(start[0]), float(start[1]), float(end[0]), float(end[1]))

    def lines(
        self,
        parts: Iterable[Floats],
        *,
        ink: str = BLACK,
        width_pt: float = 0.5,
        dash_pt: Sequence[float] = (),
        is_round: bool = False,
    ) -> None:
        """Draw broken lines, each an array of corners, in one stroke."""
        path, found = self._path(parts, is_closed=False)
        if not found:
            return
        self._stroke(ink, width_pt, dash_pt)
        self.canvas.setLineJoin(1 if is_round else 0)
        self.canvas.setLineCap(1 if is_round and not dash_pt else 0)
        self.canvas.drawPath(path, stroke=1, fill=0)
        self.canvas.setLineCap(0)
        self.canvas.setLineJoin(0)

    def area(
        self,
        rings: Iterable[Floats],
        *,
        fill: str | None = None,
        ink: str | None = None,
        width_pt: float = 0.5,
        dash_pt: Sequence[float] = (),
    ) -> None:
        """Draw an area; inner rings are holes."""
        path, found = self._path(rings, is_closed=True)
        if not found:
            return
        if ink:
            self._stroke(ink, width_pt, dash_pt)
        if fill:
            self.canvas.setFillColor(_colour(self.tint(fill)))
        self.canvas.drawPath(path, stroke=int(bool(ink)), fill=int(bool(fill)), fillMode=0)

    def _path(self, parts: Iterable[Floats], *, is_closed: bool) -> tuple[Any, bool]:
        """Return a path and whether it draws anything; a point draws nothing."""
        from reportlab.pdfgen.pathobject import PDFPathObject

        code = []
        for part in parts:
            if len(part) > 1:
                (x, y), *others = part.tolist()
                code.append(f"{x:.3f} {y:.3f} m")
                code += [f"{x:.3f} {y:.3f} l" for x, y in others]
                code += ["h"] if is_closed else []
        return PDFPathObject(code), bool(code)

    def box(
        self,
        box: Sequence[float],
        *,
        fill: str | None = None,
        ink: str | None = BLACK,
        width_pt: float = 0.5,
        dash_pt: Sequence[float] = (),
        round_pt: float = 0.0,
    ) -> None:
        """Draw a rectangle given by left, bottom, right and top."""
        left, bottom, right, top = (float(edge) for edge in box)
        if ink:
            self._stroke(ink, width_pt, dash_pt)
        if fill:
            self.canvas.setFillColor(_colour(self.tint(fill)))
        how = {"stroke": int(bool(ink)), "fill": int(bool(fill))}
        if round_pt:
            self.canvas.roundRect(left, bottom, right - left, top - bottom, round_pt, **how)
        else:
            self.canvas.rect(left, bottom, right - left, top - bottom, **how)

    def blot(self, box: Sequence[float]) -> None:
        """Fill a rectangle with ink, in black where there is no colour."""
        left, bottom, right, top = (float(edge) for edge in box)
        self.canvas.setFillColor(_colour(BLACK))
        self.canvas.rect(left, bottom, right - left, top - bottom, stroke=0, fill=1)

    def circle(
        self, at: Point, radius_pt: float, *, ink: str | None, fill: str | None = None,
        width_pt: float = 0.5,
    ) -> None:  # fmt: skip
        """Draw a circle."""
        if ink:
            self._stroke(ink, width_pt, ())
        if fill:
            self.canvas.setFillColor(_colour(self.tint(fill)))
        self.canvas.circle(
            float(at[0]), float(at[1]), radius_pt, stroke=int(bool(ink)), fill=int(bool(fill))
        )

    def symbol(
        self, name: str, at: Point, size_pt: float, *, ink: str, fill: str | None,
        width_pt: float = 0.8,
    ) -> None:  # fmt: skip
        """Draw a symbol of the style sheet, `size_pt` wide."""
        import numpy as np

        corners = SYMBOLS[name]
        if not corners:
            self.circle(at, size_pt / 2, ink=ink, fill=fill, width_pt=width_pt)
            return
        shape = np.asarray(corners, dtype=float) * (size_pt / 2, -size_pt / 2) + np.asarray(at)
        self.area([shape], ink=ink, fill=fill, width_pt=width_pt)

    def text(
        self,
        text: str,
        at: Point,
        size_pt: float,
        *,
        ink: str = BLACK,
        bold: bool = False,
        align: str = "left",
        angle_deg: float = 0.0,
    ) -> None:
        """Write one line, its base line at `at`; `align` is left, middle or right."""
        width = text_width(text, size_pt, bold=bold) if align != "left" else 0.0
        shift = {"left": 0.0, "middle": -width / 2, "right": -width}[align]
        self.canvas.setFillColor(_colour(self.ink(ink)))
        if angle_deg:
            self.canvas.saveState()
            self.canvas.translate(float(at[0]), float(at[1]))
            self.canvas.rotate(angle_deg)
            self._write(text, shift, 0.0, size_pt, bold=bold)
            self.canvas.restoreState()
        else:
            self._write(text, float(at[0]) + shift, float(at[1]), size_pt, bold=bold)

    def _write(self, text: str, x: float, y: float, size_pt: float, *, bold: bool) -> None:
        written = self.canvas.beginText(x, y)
        for font, stretch in spell(text, bold=bold):
            written.setFont(font, size_pt)
            written.textOut(stretch)
        self.canvas.drawText(written)

    def outline_text(
        self, text: str, at: Point, size_pt: float, *, ink: str, fill: str,
        angle_deg: float = 0.0, width_pt: float = 0.8,
    ) -> None:  # fmt: skip
        """Write bold letters as outlines."""
        self.canvas.saveState()
        self.canvas.translate(float(at[0]), float(at[1]))
        self.canvas.rotate(angle_deg)
        self._stroke(ink, width_pt, ())
        self.canvas.setFillColor(_colour(self.tint(fill)))
        written = self.canvas.beginText(0, 0)
        written.setTextRenderMode(2)
        for font, stretch in spell(text, bold=True):
            written.setFont(font, size_pt)
            written.textOut(stretch)
        self.canvas.drawText(written)
        self.canvas.restoreState()

    def centred(
        self, text: str, at: Point, size_pt: float, *, ink: str = BLACK,
        bold: bool = False,
    ) -> None:  # fmt: skip
        """Write one line of capitals or figures about a middle."""
        low = (at[0], at[1] - CAP_HEIGHT * size_pt / 2)
        self.text(text, low, size_pt, ink=ink, bold=bold, align="middle")

    @contextmanager
    def clipped(self, box: Sequence[float]) -> Iterator[None]:
        """Keep what is drawn inside a rectangle."""
        left, bottom, right, top = (float(edge) for edge in box)
        self.canvas.saveState()
        path = self.canvas.beginPath()
        path.rect(left, bottom, right - left, top - bottom)
        self.canvas.clipPath(path, stroke=0, fill=0)
        try:
            yield
        finally:
            self.canvas.restoreState()
