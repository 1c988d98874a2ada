"""What a PDF draws, read back from its content streams."""

from __future__ import annotations

from io import BytesIO
from typing import NamedTuple

import numpy as np
from pypdf import PdfReader
from pypdf.generic import ContentStream

POINT_MM = 25.4 / 72


class Stroke(NamedTuple):
    """A path that was stroked or filled, in points on the page."""

    colour: tuple[float, ...]
    width: float
    is_filled: bool
    points: np.ndarray


def read_pdf(data: bytes) -> PdfReader:
    """Return a reader that refuses a file with faults."""
    return PdfReader(BytesIO(data), strict=True)


def page_words(page) -> str:
    """Return the text of a page with single spaces."""
    return " ".join(page.extract_text().split())


def page_operations(page):
    """Return the operations of a page's content stream."""
    return ContentStream(page.get_contents(), None).operations


def page_colours(page) -> set[tuple[float, ...]]:
    """Return every colour that a page sets."""
    return {
        tuple(float(v) for v in operands)
        for operands, operator in page_operations(page)
        if operator in {b"rg", b"RG"}
    }


def font_sizes(page) -> set[float]:
    """Return the size of all letters that a page writes."""
    size, found = 0.0, set()
    for operands, operator in page_operations(page):
        if operator == b"Tf":
            size = float(operands[1])
        elif operator in {b"Tj", b"TJ"}:
            found.add(size)
    return found


def page_strokes(page) -> list[Stroke]:  # noqa: C901 - one branch an operator
    """Return every path that is stroked or filled, with the transformation applied."""
    state = [(np.eye(3), (0.0, 0.0, 0.0), (0.0, 0.0, 0.0), 1.0)]
    path: list[tuple[float, float]] = []
    found = []
    for operands, operator in page_operations(page):
        matrix, line, fill, width = state[-1]
        if operator == b"q":
            state.append(state[-1])
        elif operator == b"Q":
            state.pop()
        elif operator == b"cm":
            a, b, c, d, e, f = (float(v) for v in operands)
            state[-1] = (np.array([[a, b, 0], [c, d, 0], [e, f, 1]]) @ matrix, line, fill, width)
        elif operator == b"RG":
            state[-1] = (matrix, tuple(float(v) for v in operands), fill, width)
        elif operator == b"rg":
            state[-1] = (matrix, line, tuple(float(v) for v in operands), width)
        elif operator == b"w":
            state[-1] = (matrix, line, fill, float(operands[0]))
        elif operator in {b"m", b"l"}:
            path.append((float(operands[0]), float(operands[1])))
        elif operator == b"re":
            x, y, w, h = (float(v) for v in operands)
            path += [(x, y), (x + w, y), (x + w, y + h), (x, y + h)]
        elif operator in {b"S", b"s", b"f", b"f*", b"B", b"B*", b"b", b"n"}:
            if path and operator != b"n":
                xy = np.column_stack([np.array(path), np.ones(len(path))]) @ matrix
                is_filled = operator in {b"f", b"f*"}
                found.append(Stroke(fill if is_filled else line, width, is_filled, xy[:, :2]))
            path = []
    return found


def colour_of(ink: str) -> tuple[float, ...]:
    """Return a colour of the style sheet as a PDF writes it."""
    return tuple(int(ink[n : n + 2], 16) / 255 for n in (1, 3, 5))


def is_colour(colour: tuple[float, ...], ink: str) -> bool:
    """Return whether a colour that was read is an ink of the style sheet."""
    return bool(np.allclose(colour, colour_of(ink), atol=0.002))
