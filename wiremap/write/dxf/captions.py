"""Texts that stand beside symbols and wires, put where they do not cover each other."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from wiremap.draw.spots import PlacedLabel, place_labels

if TYPE_CHECKING:
    from collections.abc import Sequence

    import pandas as pd
    from numpy.typing import NDArray

    from wiremap.write.dxf.sheet import Sheet

    Floats = NDArray[np.float64]

LEADING = 1.4
"""From one line of text to the next, in text heights."""

_LETTER = 0.85
"""Width of a letter in text heights. Project choice: a little more than common CAD fonts take, as
which of them will draw the text is not known."""

_EVERYWHERE = (-np.inf, -np.inf, np.inf, np.inf)


@dataclass(frozen=True)
class Caption:
    """Lines of text beside a point or along a wire; what `place_labels` asks of a label.

    Attributes
    ----------
    entities : tuple
        TEXT or ATTRIB entities, topmost first; each stands where it is drawn already. None for
        a symbol that is only to be kept clear of.
    at : tuple of float
        The point they belong to, drawing units.
    height : float
        Height of the text.
    clear : float
        Half the size of the symbol there.
    rank : int
        Lower is placed first.
    spots : array of shape (n, 3), optional
        Middles and angles to choose from instead, for the name of a wire.
    owner : str
        Run whose own wire it may cover.
    """

    entities: tuple[Any, ...]
    at: tuple[float, float]
    height: float
    clear: float
    rank: int
    spots: Floats | None = None
    owner: str = ""
    rings: int = 4
    most_wires: int = 99

    @property
    def size(self) -> tuple[float, float]:
        """Width and height, with a little clear space around."""
        letters = max(len(entity.dxf.text) for entity in self.entities)
        lines = 1 + LEADING * (len(self.entities) - 1)
        return (_LETTER * letters + 0.3) * self.height, (lines + 0.3) * self.height

    @property
    def step(self) -> float:
        """How far out the second ring of spots lies."""
        return 1.2 * self.height


def settle_captions(sheet: Sheet, captions: Sequence[Caption], runs: pd.DataFrame) -> None:
    """Move captions off each other, off symbols, and off wires as far as can be.

    A caption that finds no free place stays where it is, so that nothing is lost.

    Parameters
    ----------
    sheet : Sheet
    captions : sequence of Caption
    runs : GeoDataFrame, layer ``wire_runs``
    """
    pieces, owners = _wire_pieces(runs)
    symbols = [(*np.subtract(c.at, c.clear), *np.add(c.at, c.clear)) for c in captions if c.clear]
    placement = place_labels(
        [caption for caption in captions if caption.entities],
        window=_EVERYWHERE,
        symbols=np.array(symbols).reshape(-1, 4),
        wires=pieces,
        wire_runs=owners,
    )
    for placed in placement.placed:
        if placed.label.spots is None:
            _move_beside(sheet, placed)
        else:
            _move_along(placed)


def _wire_pieces(runs: pd.DataFrame) -> tuple[Floats, NDArray[np.object_]]:
    """Return the straight pieces of all runs, and the run of each."""
    import shapely

    shapes = np.asarray(runs["geometry"].array, dtype=object)
    parts, row = shapely.get_parts(shapely.force_2d(shapes), return_index=True)
    xy, part = shapely.get_coordinates(parts, return_index=True)
    joined = np.diff(part) == 0
    names = runs["run"].astype(object).to_numpy()[row]
    return np.hstack([xy[:-1], xy[1:]])[joined], names[part[:-1]][joined]


def _move_beside(sheet: Sheet, placed: PlacedLabel[Caption]) -> None:
    """Set the lines of a caption one below the other, flush with the side its point is on."""
    from ezdxf.enums import TextEntityAlignment

    caption, (x, y) = placed.label, placed.middle
    half = caption.size[0] / 2 - 0.15 * caption.height
    away = x - caption.at[0]  # noqa: PD008 - a point, no frame
    align = TextEntityAlignment.MIDDLE_CENTER
    if abs(away) > half:
        is_right = away > 0
        align = TextEntityAlignment.MIDDLE_LEFT if is_right else TextEntityAlignment.MIDDLE_RIGHT
        x += -half if is_right else half
    top = y + LEADING * caption.height * (len(caption.entities) - 1) / 2
    for number, entity in enumerate(caption.entities):
        entity.set_placement((x, top - number * LEADING * caption.height), align=align)
    if placed.has_leader:
        _draw_leader(sheet, placed, layer=caption.entities[0].dxf.layer)


def _draw_leader(sheet: Sheet, placed: PlacedLabel[Caption], *, layer: str) -> None:
    """Draw a plain line from the symbol to the nearest edge of its caption."""
    caption = placed.label
    at, middle = np.array(caption.at), np.array(placed.middle)
    half = np.array(caption.size) / 2
    edge = np.clip(at, middle - half, middle + half)
    away = edge - at
    start = at + away * min(caption.clear / max(np.hypot(*away), 1e-9), 1.0)
    sheet.space.add_line(start, edge, dxfattribs={"layer": layer})


def _move_along(placed: PlacedLabel[Caption]) -> None:
    """Set a name along its wire."""
    from ezdxf.enums import TextEntityAlignment

    for entity in placed.label.entities:
        entity.dxf.rotation = placed.angle_deg
        entity.set_placement(placed.middle, align=TextEntityAlignment.MIDDLE_CENTER)
