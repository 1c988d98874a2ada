"""The QR code of a chart: squares on paper that lead to a file or a link."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiremap.draw.sheets.pen import WHITE
from wiremap.errors import MissingExtraError

if TYPE_CHECKING:
    from wiremap.draw.sheets.pen import Pen

LONGEST_LINK = 600
"""Characters of a link that still make a code that a phone reads from a door."""


def draw_code(pen: Pen, text: str, at: tuple[float, float], size_pt: float) -> None:
    """Draw the QR code of a text.

    Parameters
    ----------
    pen : Pen
    text : str
        File name or link; more than 600 characters are cut off.
    at : tuple of float
        Lower left corner.
    size_pt : float
        Width and height with the quiet zone.

    Raises
    ------
    MissingExtraError
        segno is not installed.

    References
    ----------
    ISO/IEC 18004, QR code: a quiet zone of four modules on every side.
    """
    try:
        import segno
    except ImportError as error:
        raise MissingExtraError("segno", "sheets") from error
    rows = [bytes(row) for row in segno.make_qr(text[:LONGEST_LINK], error="m").matrix]
    module = size_pt / (len(rows) + 8)
    pen.box((*at, at[0] + size_pt, at[1] + size_pt), fill=WHITE, ink=None)
    for number, row in enumerate(rows):
        top = at[1] + size_pt - (4 + number) * module
        for start, end in _dark_stretches(row):
            left = at[0] + (4 + start) * module
            pen.blot((left, top - module, left + (end - start) * module, top))


def _dark_stretches(row: bytes) -> list[tuple[int, int]]:
    """Return start and end of each dark stretch in a row of modules."""
    padded = [0, *(value & 1 for value in row), 0]
    edges = [n for n in range(1, len(padded)) if padded[n] != padded[n - 1]]
    return [(a - 1, b - 1) for a, b in zip(edges[::2], edges[1::2], strict=True)]
