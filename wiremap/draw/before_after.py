"""Two records beside each other: a page with a plan before, a plan after, and each change.

Reads the layers of both and table ``changes``; returns one HTML page without scripts.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
import shapely

from wiremap.draw.page import html_text

if TYPE_CHECKING:
    from collections.abc import Mapping

    import geopandas as gpd

_POINTS = ("controllers", "splices", "valves", "faults")
_WIDTH = 1000.0  # units of the drawing's longer side
_MARGIN = 45.0
_STYLE = """
:root{color-scheme:light dark;--ink:#24292e;--paper:#fff;--wire:#9a5a1f;--mark:#b00020}
@media (prefers-color-scheme:dark){
:root{--ink:#e6e6e6;--paper:#16191c;--wire:#e0a060;--mark:#ff8095}}
body{font:1rem/1.45 system-ui,sans-serif;color:var(--ink);background:var(--paper);margin:1rem}
main{max-width:90rem;margin:auto}
.plans{display:grid;grid-template-columns:repeat(auto-fit,minmax(20rem,1fr));gap:1rem}
figure{margin:0}svg{width:100%;height:auto;border:1px solid currentColor}
.wire{fill:none;stroke:var(--wire);stroke-width:2.5;vector-effect:non-scaling-stroke}
.controllers,.valves,.splices{fill:var(--paper);stroke:var(--ink);stroke-width:2}
.controllers{fill:var(--ink)}.faults{fill:none;stroke:var(--mark);stroke-width:3}
.mark circle{fill:var(--mark)}.mark text{fill:var(--paper);font-weight:700;text-anchor:middle}
table{border-collapse:collapse;width:100%}
th,td{border-bottom:1px solid currentColor;padding:.3rem .5rem;text-align:left;vertical-align:top}
"""


class _View(NamedTuple):
    """How map coordinates become drawing units."""

    left: float
    top: float
    scale: float
    width: float
    height: float

    def place(self, xy: Any) -> Any:
        """Return drawing units, y downward."""
        return np.column_stack(
            [(xy[:, 0] - self.left) * self.scale, (self.top - xy[:, 1]) * self.scale]
        )


def draw_changes(
    old: Mapping[str, gpd.GeoDataFrame],
    new: Mapping[str, gpd.GeoDataFrame],
    changes: gpd.GeoDataFrame,
    *,
    title: str,
    summary: str,
) -> str:
    """Return a page that shows two records beside each other.

    Parameters
    ----------
    old, new : mapping of str to GeoDataFrame
        Layers of both records.
    changes : GeoDataFrame
        Table ``changes``, in the newer record's CRS.
    title : str
        Name of the property.
    summary : str
        All changes in one sentence.

    Returns
    -------
    str
        HTML with both plans at one scale, north up, and a row for each change; its number stands
        at its place in both plans. Works without a network and without scripts.
    """
    crs = changes.crs
    former = {name: _to(frame, crs) for name, frame in old.items() if name in _DRAWN}
    latter = {name: _to(frame, crs) for name, frame in new.items() if name in _DRAWN}
    view = _frame([*former.values(), *latter.values(), changes])
    marks = _draw_marks(changes, view)
    plans = "".join(
        f"<figure><figcaption>{caption}</figcaption>{_plan(layers, view, marks, caption)}</figure>"
        for caption, layers in (("Before", former), ("After", latter))
    )
    rows = "".join(
        f"<tr><td>{number}</td><td>{html_text(str(kind).replace('_', ' '))}</td>"
        f"<td>{html_text(str(text))}</td></tr>"
        for number, kind, text in zip(
            range(1, len(changes) + 1), changes["change"], changes["message"], strict=True
        )
    )
    head = "<thead><tr><th>No.</th><th>Change</th><th>What</th></tr></thead>"
    table = f"<table>{head}<tbody>{rows}</tbody></table>"
    name = html_text(title)
    return (
        '<!doctype html><html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width,initial-scale=1">'
        '<meta http-equiv="Content-Security-Policy" content="default-src \'none\';'
        " style-src 'unsafe-inline'\">"
        f"<title>{name}: changes</title><style>{_STYLE}</style></head><body><main>"
        f"<h1>{name}: what changed</h1><p>{html_text(summary)}</p>"
        f'<div class="plans">{plans}</div>{table if rows else ""}</main></body></html>\n'
    )


_DRAWN = ("wire_runs", *_POINTS)


def _to(frame: gpd.GeoDataFrame, crs: Any) -> gpd.GeoDataFrame:
    return frame if not len(frame) or frame.crs == crs else frame.to_crs(crs)


def _frame(frames: list[gpd.GeoDataFrame]) -> _View:
    """Return a view that holds everything."""
    bounds = np.array([f.total_bounds for f in frames if len(f)], dtype=float).reshape(-1, 4)
    bounds = bounds[np.isfinite(bounds).all(axis=1)]
    if not len(bounds):
        return _View(0.0, 0.0, 1.0, _WIDTH, _WIDTH)
    left, bottom = bounds[:, :2].min(axis=0)
    right, top = bounds[:, 2:].max(axis=0)
    scale = (_WIDTH - 2 * _MARGIN) / max(right - left, top - bottom, 1e-9)
    pad = _MARGIN / scale
    width, height = (right - left) * scale + 2 * _MARGIN, (top - bottom) * scale + 2 * _MARGIN
    return _View(left - pad, top + pad, scale, width, height)


def _plan(layers: Mapping[str, gpd.GeoDataFrame], view: _View, marks: str, caption: str) -> str:
    """Return one plan as SVG."""
    parts = []
    for line in layers["wire_runs"].geometry.to_numpy() if "wire_runs" in layers else ():
        xy = view.place(shapely.get_coordinates(line))
        points = " ".join(f"{x:.1f},{y:.1f}" for x, y in xy)
        parts.append(f'<polyline class="wire" points="{points}"/>')
    for name in _POINTS:
        for x, y in _points(layers.get(name), view):
            parts.append(f'<circle class="{name}" cx="{x:.1f}" cy="{y:.1f}" r="7"/>')
    return (
        f'<svg role="img" aria-label="Plan {caption.lower()}"'
        f' viewBox="0 0 {view.width:.0f} {view.height:.0f}">{"".join(parts)}{marks}</svg>'
    )


def _points(frame: gpd.GeoDataFrame | None, view: _View) -> Any:
    if frame is None or not len(frame):
        return []
    shapes = frame.geometry.to_numpy()
    there = ~(shapely.is_missing(shapes) | shapely.is_empty(shapes))
    return view.place(shapely.get_coordinates(shapes[there])).tolist()


def _draw_marks(changes: gpd.GeoDataFrame, view: _View) -> str:
    """Return the numbers of the changes at their places."""
    parts = []
    for number, place in enumerate(changes.geometry.to_numpy(), start=1):
        if place is None or shapely.is_empty(place):
            continue
        ((x, y),) = view.place(shapely.get_coordinates(place)).tolist()
        parts.append(
            f'<g class="mark"><circle cx="{x + 18:.1f}" cy="{y - 18:.1f}" r="15"/>'
            f'<text x="{x + 18:.1f}" y="{y - 12:.1f}" font-size="18">{number}</text></g>'
        )
    return "".join(parts)
