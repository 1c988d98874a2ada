"""Flow: blocks that fill the frames of a sheet one after another, and go on on the next."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple, Protocol

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from wiremap.draw.sheets.pen import Pen
    from wiremap.draw.sheets.views import Box


class Piece(NamedTuple):
    """Something of a known height; `draw` takes the pen, its left and its upper edge."""

    height_pt: float
    draw: Callable[[Pen, float, float], None]


class Block(Protocol):
    """Something that fills space downward and can be broken off."""

    def take(self, width_pt: float, height_pt: float) -> tuple[Piece | None, Block | None]:
        """Return what fits into the space, if anything, and what is left, if anything."""


class Placed(NamedTuple):
    """A piece and where it goes."""

    piece: Piece
    left: float
    top: float


GAP_PT = 14.0
"""Space between two blocks."""


def fill_frames(blocks: Sequence[Block], frames: Sequence[Box]) -> tuple[list[Placed], list[Block]]:
    """Return what goes into the frames of one sheet, and the blocks that are left.

    Parameters
    ----------
    blocks : sequence of Block
        In the order in which they are read.
    frames : sequence of (left, bottom, right, top)
        Filled one after another.

    Returns
    -------
    placed : list of Placed
    left : list of Block
        To go on with on the next sheet; the first may be the rest of one begun.
    """
    placed: list[Placed] = []
    waiting = list(blocks)
    for left, bottom, right, top in frames:
        at = top
        while waiting:
            piece, rest = waiting[0].take(right - left, at - bottom)
            if piece is None:
                break
            placed.append(Placed(piece, left, at))
            at -= piece.height_pt + GAP_PT
            if rest is not None:
                waiting[0] = rest
                break
            waiting.pop(0)
    return placed, waiting


def stack(pieces: Sequence[Piece], gap_pt: float) -> Piece:
    """Return pieces one below the other as one.

    Parameters
    ----------
    pieces : sequence of Piece
    gap_pt : float
        Space between them.

    Returns
    -------
    Piece
    """
    height = sum(piece.height_pt for piece in pieces) + gap_pt * max(len(pieces) - 1, 0)

    def draw(pen: Pen, left: float, top: float) -> None:
        at = top
        for piece in pieces:
            piece.draw(pen, left, at)
            at -= piece.height_pt + gap_pt

    return Piece(height, draw)
