"""The ties of a plan: lines from permanent references to the features they fix."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from wiremap.draw.sheets.contents import numbers, texts
from wiremap.draw.sheets.labels import Label
from wiremap.draw.styles import COPPER
from wiremap.model.cells import flags

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from wiremap.draw.sheets.contents import Contents
    from wiremap.draw.sheets.pen import Pen
    from wiremap.draw.sheets.views import View

    Floats = NDArray[np.float64]

TIE_DASH, BLOCKED_DASH = (6.0, 1.5), (1.0, 3.0)
"""How a tie is broken on paper, in sight and with a building before it."""

_NAME_COLUMNS = {
    "controllers": "controller",
    "valves": "valve",
    "splices": "splice",
    "faults": "fault",
}


class Tie(NamedTuple):
    """A line on the ground from a reference to a feature, and its length in words.

    Where a building stands in its way it is drawn in dots, and its length carries a star.
    """

    start_m: Floats
    end_m: Floats
    text: str
    is_blocked: bool


def find_ties(contents: Contents) -> list[Tie]:
    """Return each tie as a line from its reference to its feature.

    Parameters
    ----------
    contents : Contents

    Returns
    -------
    list of Tie
        Two for each row of the layer ``ties``; fewer where a reference or feature is not placed.
    """
    places = {
        (layer, name): xy
        for layer, column in {**_NAME_COLUMNS, "references": "reference"}.items()
        for name, xy in zip(
            contents.texts(layer, column), contents.points.get(layer, ()), strict=False
        )
    }
    frame = contents.layer("ties")
    features = list(zip(texts(frame, "layer"), texts(frame, "feature_id"), strict=True))
    ties = []
    for end in ("a", "b"):
        rows = zip(
            features, texts(frame, f"reference_{end}"), numbers(frame, f"distance_{end}_m"),
            flags(frame, f"blocked_{end}"), strict=True,
        )  # fmt: skip
        for feature, reference, distance, is_blocked in rows:
            start, stop = places.get(("references", reference)), places.get(feature)
            if start is not None and stop is not None and np.isfinite([*start, *stop]).all():
                text = contents.units.length(distance) + (" *" if is_blocked else "")
                ties.append(Tie(start, stop, text, is_blocked))
    return ties


def draw_ties(pen: Pen, ties: list[Tie], view: View) -> None:
    """Draw ties as thin broken lines.

    Parameters
    ----------
    pen : Pen
    ties : list of Tie
    view : View
    """
    for tie in ties:
        start, end = view.to_page(np.array([tie.start_m, tie.end_m]))
        dash = BLOCKED_DASH if tie.is_blocked else TIE_DASH
        pen.line(start, end, ink=COPPER.light, width_pt=0.45, dash_pt=dash)


def tie_labels(ties: list[Tie], view: View, *, text_pt: float) -> list[Label]:
    """Return the distances, to stand on their lines and turned along them.

    Parameters
    ----------
    ties : list of Tie
    view : View
    text_pt : float

    Returns
    -------
    list of Label
        None for a tie too short on paper to carry one.
    """
    labels = []
    for tie in ties:
        ends = view.to_page(np.array([tie.start_m, tie.end_m]))
        along = ends[1] - ends[0]
        if not tie.text or np.hypot(*along) < 4 * text_pt:
            continue
        angle = math.degrees(math.atan2(along[1], along[0]))
        angle = (angle + 90.0) % 180.0 - 90.0
        shares = np.array([0.72, 0.66, 0.78, 0.6, 0.84, 0.54, 0.48, 0.42, 0.36, 0.3, 0.24, 0.18])
        xy = ends[0] + shares[:, None] * along
        spots = np.column_stack([xy, np.full(len(xy), angle)])
        spots = spots[view.holds(xy)]
        if len(spots):
            labels.append(
                Label((tie.text,), (0.0, 0.0), 0.72 * text_pt, rank=3, spots=spots,
                      ink=COPPER.light)
            )  # fmt: skip
    return labels
