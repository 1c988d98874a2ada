"""The symbols of a plan, and the labels that stand beside them."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from wiremap.draw.sheets.labels import Label
from wiremap.draw.sheets.lettering import cut
from wiremap.draw.sheets.pen import WHITE
from wiremap.draw.styles import GRAPHITE

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from wiremap.draw.sheets.marks import Mark
    from wiremap.draw.sheets.pen import Pen
    from wiremap.draw.sheets.views import View

    Floats = NDArray[np.float64]

_PIXEL = 1 / 21
"""Size of a style's pixel in text sizes: a valve of 18 pixels is not quite a letter high."""

_LONGEST_LABEL = 14.0
_SMALL, _ORDINARY = ("references", "equipment"), 5
"""Layers with small labels; the last rank that may stand away from its symbol."""


def symbol_size(size_px: float, text_pt: float) -> float:
    """Return the size of a symbol on paper.

    Parameters
    ----------
    size_px : float
        Size in the style sheet.
    text_pt : float
        Size of ordinary letters.

    Returns
    -------
    float
        Points.
    """
    return size_px * text_pt * _PIXEL


def draw_mark(pen: Pen, mark: Mark, at: Floats, *, text_pt: float) -> None:
    """Draw the symbol of a mark.

    Parameters
    ----------
    pen : Pen
    mark : Mark
    at : array of shape (2,)
        Where, on the page.
    text_pt : float
        Size of ordinary letters.
    """
    style = mark.style
    size = symbol_size(style.size_px, text_pt)
    fill = style.fill.light if style.fill and style.fill_opacity else WHITE
    ink = style.ink.light
    if pen.is_monochrome and mark.layer in {"faults", "controllers"}:
        pen.symbol(style.symbol, at, size, ink=ink, fill=WHITE, width_pt=1.6)
    else:
        pen.symbol(style.symbol, at, size, ink=ink, fill=fill, width_pt=0.09 * text_pt)
    if style.code:
        pen.centred(style.code, (at[0], at[1]), size * (0.44 if len(style.code) > 1 else 0.7),
                    ink=ink, bold=True)  # fmt: skip


def symbol_boxes(marks: list[Mark], view: View, text_pt: float) -> Floats:
    """Return the boxes of the symbols on the page.

    Parameters
    ----------
    marks : list of Mark
    view : View
    text_pt : float

    Returns
    -------
    array of shape (n, 4)
        Left, bottom, right, top.
    """
    if not marks:
        return np.empty((0, 4))
    xy = view.to_page(np.array([mark.xy_m for mark in marks]))
    half = np.array([symbol_size(mark.style.size_px, text_pt) / 2 for mark in marks])[:, None]
    return np.hstack([xy - half, xy + half])


def mark_labels(marks: list[Mark], view: View, *, text_pt: float, has_ties: bool) -> list[Label]:
    """Return the labels of the symbols that are this sheet's own.

    Parameters
    ----------
    marks : list of Mark
    view : View
    text_pt : float
    has_ties : bool
        On a tie plan the first line only, and none for equipment.

    Returns
    -------
    list of Label
    """
    labels = []
    for mark in marks:
        if has_ties and mark.layer in {"equipment", "lost"}:
            continue
        at = view.to_page(np.array([mark.xy_m]))[0]
        if not view.owns(at[None, :])[0]:
            continue
        size = text_pt * (0.72 if mark.layer in _SMALL else 0.8)
        lines = mark.lines[:1] if has_ties else mark.lines
        short = tuple(cut(line, _LONGEST_LABEL * text_pt, size) for line in lines)
        if short:
            rank = 0 if has_ties and mark.layer == "references" else mark.rank
            labels.append(
                Label(short, (float(at[0]), float(at[1])), size, rank=rank,
                      clear_pt=symbol_size(mark.style.size_px, text_pt) / 2 + 0.12 * text_pt,
                      rings=6 if rank <= _ORDINARY else 2, bold=mark.rank < _ORDINARY - 1,
                      ink=_label_ink(mark))
            )  # fmt: skip
    return labels


def _label_ink(mark: Mark) -> str:
    return mark.style.ink.light if mark.layer in {"faults", "lost"} else GRAPHITE.light
