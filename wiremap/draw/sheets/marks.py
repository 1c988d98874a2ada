"""Marks: the symbols of a plan and the words beside them.

Reads `Contents`; returns one mark a feature, with its style and its label.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from wiremap.draw.sheets.contents import numbers, texts
from wiremap.draw.styles import REPAIRED, STYLES, Style

if TYPE_CHECKING:
    from wiremap.draw.sheets.contents import Contents

LOST = Style("Tone lost: wire goes on, position unknown", STYLES["faults"].ink, symbol="circle",
             size_px=13, fill=STYLES["faults"].fill, fill_opacity=0.0, code="?")  # fmt: skip
"""Style of the end of a run where the wire could be followed no further."""

_DOUBTFUL = {
    "unlisted": "zone not on list",
    "suggested": "zone suggested",
    "unassigned": "no zone known",
}


class Mark(NamedTuple):
    """A symbol on the plan.

    Attributes
    ----------
    layer : str
    style : Style
    xy_m : tuple of float
        Metres on the ground.
    lines : tuple of str
        Its label, the first line the most important.
    rank : int
        Lower is labelled first.
    """

    layer: str
    style: Style
    xy_m: tuple[float, float]
    lines: tuple[str, ...]
    rank: int


def find_marks(contents: Contents) -> list[Mark]:
    """Return the marks of all layers, from the bottom up.

    Parameters
    ----------
    contents : Contents

    Returns
    -------
    list of Mark
        Rows without a position give none.
    """
    makers = {
        "references": _references,
        "equipment": _equipment,
        "splices": _splices,
        "faults": _faults,
        "controllers": _controllers,
        "valves": _valves,
    }
    marks = _lost_ends(contents)
    for layer, make in makers.items():
        xy = contents.points.get(layer)
        if xy is None:
            continue
        for at, (style, lines, rank) in zip(xy, make(contents), strict=True):
            if np.isfinite(at).all():
                shown = tuple(line for line in lines if line)
                marks.append(Mark(layer, style, (float(at[0]), float(at[1])), shown, rank))
    return marks


_Rows = list[tuple[Style, tuple[str, ...], int]]


def _references(contents: Contents) -> _Rows:
    return [
        (STYLES["references"], (name,), 6) for name in contents.texts("references", "reference")
    ]


def _equipment(contents: Contents) -> _Rows:
    kinds, labels = contents.texts("equipment", "kind"), contents.texts("equipment", "label")
    styles = [STYLES["equipment"].of(kind) for kind in kinds]
    return [
        (style, (label or style.label,), 5) for style, label in zip(styles, labels, strict=True)
    ]


def _depth_lines(contents: Contents, layer: str) -> list[str]:
    frame = contents.layer(layer)
    pairs = zip(numbers(frame, "depth_m"), numbers(frame, "depth_sigma_m"), strict=True)
    written = [contents.units.depth(depth, sigma) for depth, sigma in pairs]
    return [f"deep {text}" if text else "" for text in written]


def _splices(contents: Contents) -> _Rows:
    names = contents.texts("splices", "splice")
    return [
        (STYLES["splices"], (f"Splice {name}".strip(), depth), 3)
        for name, depth in zip(names, _depth_lines(contents, "splices"), strict=True)
    ]


def _controllers(contents: Contents) -> _Rows:
    names = contents.texts("controllers", "controller")
    return [(STYLES["controllers"], (f"Controller {name}".strip(),), 0) for name in names]


def _valves(contents: Contents) -> _Rows:
    columns = [contents.texts("valves", c) for c in ("valve", "zone", "zone_status", "box")]
    rows: _Rows = []
    for name, zone, status, box, depth in zip(
        *columns, _depth_lines(contents, "valves"), strict=True
    ):
        first = f"{name} · zone {zone}" if zone else name
        style = STYLES["valves"].of(status)
        rows.append((style, (first, _DOUBTFUL.get(status, ""), box, depth), 2))
    return rows


def _faults(contents: Contents) -> _Rows:
    frame, units = contents.layer("faults"), contents.units
    low, high = numbers(frame, "chainage_low_m"), numbers(frame, "chainage_high_m")
    rows: _Rows = []
    for row, (kind, run, status) in enumerate(
        zip(*(texts(frame, c) for c in ("kind", "run", "status")), strict=True)
    ):
        style = STYLES["faults"].of(kind)
        is_repaired = status == "repaired"
        name = f"{style.label}{', repaired' if is_repaired else ''} · {run}".rstrip(" ·")
        span = (
            f"at {units.length(low[row], has_unit=False)} to {units.length(high[row])}"
            if np.isfinite(low[row] + high[row])
            else ""
        )
        drawn = Style(
            style.label, REPAIRED.ink, symbol=style.symbol, size_px=16, fill=REPAIRED.fill
        )
        rows.append((drawn if is_repaired else style, (name, span), 1))
    return rows


def _lost_ends(contents: Contents) -> list[Mark]:
    """Return the ends where the tone was lost."""
    import shapely

    frame = contents.layer("wire_runs")
    marks = []
    for run, end in zip(texts(frame, "run"), texts(frame, "end_kind"), strict=True):
        line = contents.lines.get(run)
        if end != "lost" or line is None or line.is_empty:
            continue
        x, y = shapely.get_coordinates(line)[-1]
        marks.append(Mark("lost", LOST, (float(x), float(y)), (f"{run}: tone lost",), 1))
    return marks
