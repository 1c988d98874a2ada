"""The map for viewers that run no scripts: a still drawing, the zone table and the caution.

Reads the layers of an as-built; returns markup for the page's ``noscript`` element. Field text
is escaped here and goes through no template.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from wiremap.draw import record, styles
from wiremap.draw.backdrop import sort_base
from wiremap.draw.page import html_text
from wiremap.model.units import METRES_PER_UNIT

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    import geopandas as gpd
    import pandas as pd
    from numpy.typing import NDArray

    from wiremap.model.settings import Settings

WIDTH = 620.0
MARGIN = 30.0
HOW_TO_OPEN = (
    "This viewer runs no scripts, so it shows a still drawing. Open the file in a web browser for"
    " the map with zones to pick, depths, and your own position."
)
_LABEL_LENGTH = 24


def sketch_page(
    layers: Mapping[str, pd.DataFrame],
    *,
    name: str,
    settings: Settings,
    base: Mapping[str, gpd.GeoDataFrame] | None = None,
) -> str:
    """Return the still drawing, the zone table and the caution as a ``noscript`` element.

    Parameters
    ----------
    layers : mapping of str to DataFrame
        Layers of an as-built by name.
    name : str
        Name of the property.
    settings : Settings
    base : mapping of str to GeoDataFrame, optional
        Base layers.

    Returns
    -------
    str

    Examples
    --------
    >>> from wiremap.model.settings import Settings
    >>> "<h1>A &amp; B</h1>" in sketch_page({}, name="A & B", settings=Settings())
    True
    """
    stated = settings.property
    by = f"Prepared by {stated.prepared_by}. " if stated.prepared_by else ""
    on = f"{stated.prepared_on.isoformat()}. " if stated.prepared_on else ""
    return (
        "<noscript><style>.folium-map{display:none}</style>"
        '<div class="wm-still">'
        f"<h1>{html_text(name)}</h1><p>{html_text(by + on)}{html_text(HOW_TO_OPEN)}</p>"
        f'<p class="wm-still-caution"><strong>{html_text(record.CAUTION)}</strong></p>'
        f"{sketch_svg(layers, name=name, base=base)}"
        f"{_zone_table(layers.get('zones'), unit=record.reader_unit(settings))}</div></noscript>"
    )


def sketch_svg(
    layers: Mapping[str, pd.DataFrame],
    *,
    name: str,
    base: Mapping[str, gpd.GeoDataFrame] | None = None,
) -> str:
    """Return a still drawing of the property as an SVG element.

    Parameters
    ----------
    layers : mapping of str to DataFrame
        Layers of an as-built by name, in one CRS.
    name : str
        Name of the property.
    base : mapping of str to GeoDataFrame, optional
        Base layers in the same CRS.

    Returns
    -------
    str
        North up; empty where nothing is placed.

    Examples
    --------
    >>> sketch_svg({}, name="Empty Acre")
    ''
    """
    sheet = _Sheet.around(layers)
    if sheet is None:
        return ""
    parts = [
        *(part for kind, rows in sort_base(base or {}) for part in _base(sheet, kind, rows)),
        _areas(sheet, layers.get("dig_buffer"), styles.STYLES["dig_buffer"]),
        *_wires(sheet, layers.get("wire_runs")),
        *_points(sheet, layers.get("splices"), "splices", by="", label=""),
        *_points(sheet, layers.get("controllers"), "controllers", by="", label="controller"),
        *_points(sheet, layers.get("valves"), "valves", by="zone_status", label="zone"),
        *_points(sheet, layers.get("faults"), "faults", by="kind", label=""),
        _scale_bar(sheet),
    ]
    title = html_text(f"{name}: wires, valves and faults")
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" role="img" aria-label="{title}"'
        f' viewBox="0 0 {WIDTH:g} {sheet.height:.0f}" font-family="sans-serif">'
        f'<rect width="100%" height="100%" fill="{styles.PAPER.light}"/>{"".join(parts)}</svg>'
    )


class _Sheet:
    """Where the plane lies on the drawing."""

    def __init__(self, bounds: NDArray[np.float64], metres_per_unit: float, crs: Any) -> None:
        west, south, east, north = bounds
        span = max(east - west, (north - south) / 2.0, 1.0 / metres_per_unit)
        self.scale = (WIDTH - 2 * MARGIN) / span
        self.west, self.north = (west + east - span) / 2.0, north
        self.height = (north - south) * self.scale + 3 * MARGIN
        self.crs = crs
        self.px_per_m = self.scale / metres_per_unit

    @classmethod
    def around(cls, layers: Mapping[str, pd.DataFrame]) -> _Sheet | None:
        """Return the sheet that holds the record; None where nothing is placed."""
        frames = [
            layers[n] for n in ("wire_runs", "valves", "controllers", "locates") if n in layers
        ]
        placed = [f for f in frames if len(f) and not f.geometry.isna().all()]
        if not placed:
            return None
        corners = np.array([frame.total_bounds for frame in placed])
        bounds = np.r_[np.nanmin(corners[:, :2], axis=0), np.nanmax(corners[:, 2:], axis=0)]
        crs = placed[0].crs
        unit = 1.0 if crs is None else float(crs.axis_info[0].unit_conversion_factor)
        if crs is not None and not crs.is_projected:
            unit = record.metres_per_degree(float(bounds[1] + bounds[3]) / 2.0)[1]
        return cls(bounds, unit, crs)

    def xy(self, coordinates: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return positions on the drawing."""
        x = (coordinates[:, 0] - self.west) * self.scale + MARGIN
        y = (self.north - coordinates[:, 1]) * self.scale + MARGIN
        return np.round(np.column_stack([x, y]), 1)

    def path(self, geometry: object, *, close: bool) -> str:
        """Return the path of the rings or lines of a geometry."""
        import shapely

        parts = shapely.get_parts(geometry)
        lines = shapely.get_rings(parts) if close else parts
        thin = shapely.simplify(lines, 0.4 / self.scale, preserve_topology=False)
        ends = "Z" if close else ""
        texts = (
            "M" + "L".join(f"{x:g} {y:g}" for x, y in self.xy(shapely.get_coordinates(line))) + ends
            for line in thin
            if not line.is_empty
        )
        return "".join(texts)


def _paint(style: styles.Style) -> str:
    dash = " ".join(f"{length:g}" for length in style.dash_px)
    fill = "none" if style.fill is None else style.fill.light
    return (
        f'stroke="{style.ink.light}" stroke-width="{style.width_px:g}" fill="{fill}"'
        f' fill-opacity="{style.fill_opacity:g}"' + (f' stroke-dasharray="{dash}"' if dash else "")
    )


def _placed(frame: pd.DataFrame | None) -> Iterator[tuple[int, object]]:
    if frame is None or len(frame) == 0:
        return
    for place, geometry in enumerate(frame.geometry.array):
        if geometry is not None and not geometry.is_empty:
            yield place, geometry


def _areas(sheet: _Sheet, frame: pd.DataFrame | None, style: styles.Style) -> str:
    """Return areas as one wash, so that those that overlap do not add up."""
    fill = style.fill.light if style.fill else "none"
    paths = (f'<path d="{sheet.path(shape, close=True)}"/>' for _, shape in _placed(frame))
    return f'<g fill="{fill}" opacity="{style.fill_opacity:g}">{"".join(paths)}</g>'


def _base(sheet: _Sheet, kind: str, rows: gpd.GeoDataFrame) -> Iterator[str]:
    style = styles.BASE_STYLES[kind]
    if rows.crs is not None and sheet.crs is not None and rows.crs != sheet.crs:
        rows = rows.to_crs(sheet.crs)
    for geometry in rows.geometry.array:
        if geometry.geom_type.endswith("Polygon"):
            yield f'<path d="{sheet.path(geometry, close=True)}" {_paint(style)}/>'
        elif geometry.geom_type.endswith("String"):
            line = replace(style, fill=None)
            yield f'<path d="{sheet.path(geometry, close=False)}" {_paint(line)}/>'


def _wires(sheet: _Sheet, runs: pd.DataFrame | None) -> Iterator[str]:
    for place, geometry in _placed(runs):
        zones = runs["zones"].iloc[place] if runs is not None else ""
        ink = styles.wire_ink(zones if isinstance(zones, str) else "")
        path = sheet.path(geometry, close=False)
        yield f'<path d="{path}" fill="none" stroke="{ink.ink.light}" stroke-width="4"/>'
        if ink.tracer is not None:
            dash = " ".join(f"{length:g}" for length in ink.tracer_dash_px)
            dashed = f' stroke-dasharray="{dash}"' if dash else ""
            yield f'<path d="{path}" fill="none" stroke="{ink.tracer.light}"{dashed}/>'


def _points(
    sheet: _Sheet, frame: pd.DataFrame | None, layer: str, *, by: str, label: str
) -> Iterator[str]:
    for place, geometry in _placed(frame):
        row: Any = frame.iloc[place] if frame is not None else {}
        style = styles.STYLES[layer].of(str(row.get(by, "")))
        if str(row.get("status", "")) == "repaired":
            style = styles.REPAIRED
        (x, y), *_ = sheet.xy(np.array([[geometry.x, geometry.y]]))  # type: ignore[attr-defined]
        yield _symbol(style, x, y)
        text = row.get(label) if label else None
        if isinstance(text, str) and text:
            short = text if len(text) <= _LABEL_LENGTH else text[: _LABEL_LENGTH - 1] + "…"
            yield (
                f'<text x="{x + 9:g}" y="{y - 8:g}" font-size="15" font-weight="bold"'
                f' stroke="{styles.PAPER.light}" stroke-width="4" paint-order="stroke"'
                f' fill="{styles.GRAPHITE.light}">{html_text(short)}</text>'
            )


def _symbol(style: styles.Style, x: float, y: float) -> str:
    half = style.size_px / 2.0
    corners = styles.SYMBOLS[style.symbol]
    if not corners:
        return f'<circle cx="{x:g}" cy="{y:g}" r="{half:g}" {_paint(style)}/>'
    points = " ".join(f"{x + half * dx:.1f},{y + half * dy:.1f}" for dx, dy in corners)
    return f'<polygon points="{points}" {_paint(style)}/>'


def _scale_bar(sheet: _Sheet) -> str:
    """Return a bar in feet and metres, about a fifth of the sheet long."""
    bars = []
    for row, (unit, metres) in enumerate((("ft", 0.3048), ("m", 1.0))):
        target = WIDTH / 5.0 / sheet.px_per_m / metres
        decade = 10.0 ** np.floor(np.log10(target))
        length = decade * max(s for s in (1, 2, 5) if s * decade <= target)
        width = length * metres * sheet.px_per_m
        y = sheet.height - MARGIN + 18.0 * row
        bars.append(
            f'<path d="M{MARGIN:g} {y:.0f}h{width:.1f}" stroke="{styles.GRAPHITE.light}"'
            f' stroke-width="3"/><text x="{MARGIN + width + 8:.1f}" y="{y + 5:.0f}"'
            f' font-size="14" fill="{styles.GRAPHITE.light}">{length:g} {unit}</text>'
        )
    return "".join(bars)


def _zone_table(zones: pd.DataFrame | None, *, unit: str) -> str:
    if zones is None or len(zones) == 0:
        return ""
    heads = "".join(f"<th>{head}</th>" for head in ("Zone", "Name", "Valves", "Wire", "Status"))
    rows = "".join(
        "<tr>" + "".join(f"<td>{html_text(cell)}</td>" for cell in cells) + "</tr>"
        for cells in zip(
            _texts(zones, "zone"),
            _texts(zones, "name"),
            _counts(zones),
            _lengths(zones, unit=unit),
            _texts(zones, "status"),
            strict=True,
        )
    )
    return (
        "<table><caption>Zones: valves found of those listed, wire from the controller</caption>"
        f"<thead><tr>{heads}</tr></thead><tbody>{rows}</tbody></table>"
    )


def _texts(frame: pd.DataFrame, name: str) -> list[str]:
    if name not in frame:
        return [""] * len(frame)
    return [value if isinstance(value, str) else "" for value in frame[name]]


def _numbers(frame: pd.DataFrame, name: str) -> NDArray[np.float64]:
    if name not in frame:
        return np.full(len(frame), np.nan)
    return frame[name].to_numpy(dtype=float, na_value=np.nan)


def _counts(zones: pd.DataFrame) -> list[str]:
    found, listed = _numbers(zones, "valves_found"), _numbers(zones, "valves_listed")
    return [
        "" if np.isnan(f) else f"{f:.0f}" if np.isnan(a) else f"{f:.0f} of {a:.0f}"
        for f, a in zip(found, listed, strict=True)
    ]


def _lengths(zones: pd.DataFrame, *, unit: str) -> list[str]:
    lengths = _numbers(zones, "mapped_length_m") / METRES_PER_UNIT[unit]
    return ["" if np.isnan(length) else f"{length:.0f} {unit}" for length in lengths]
