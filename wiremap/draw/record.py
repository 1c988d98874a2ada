"""What the map's page carries: every layer, table and fact, as texts for its data blocks.

Reads the layers of an as-built; returns JSON texts by name. Nothing here knows HTML.
"""

from __future__ import annotations

import math
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np

from wiremap.draw import styles
from wiremap.draw.backdrop import sort_base
from wiremap.draw.features import (
    feature_collection,
    grouped_collection,
    json_text,
    json_value,
    lonlat_corners,
    number_list,
    records,
)
from wiremap.draw.wires import wire_features

if TYPE_CHECKING:
    from collections.abc import Mapping

    import geopandas as gpd
    import pandas as pd

    from wiremap.model.settings import Settings

CAUTION = (
    "Advisory only. This map is not a utility locate. Call the local one-call service before"
    " digging (811 in the United States). Local law sets the tolerance zone. Buried depth"
    " changes, and other utilities are not shown."
)
"""The caution that every map carries."""

POSITION_CAUTION = (
    "A phone's position is no locate: it can be many feet off. Find the wire with a receiver"
    " before you dig."
)
"""The caution beside a position and its distance to a wire."""

POINT_LAYERS = (
    "references", "locates", "depth_readings", "equipment", "splices", "faults", "controllers",
    "valves", "findings",
)  # fmt: skip
"""Layers of points, from the bottom up."""

_FRAMED = ("wire_runs", "dig_buffer", "valves", "controllers", "splices", "faults", "equipment")

_LOCATE_COLUMNS = (
    "point", "feature", "run", "zone", "controller", "position_rms_m", "placed_by", "depth_m",
    "tone", "elevation_m", "date", "operator", "box", "photo", "note", "source_file", "source_row",
)  # fmt: skip


def map_blocks(
    layers: Mapping[str, pd.DataFrame],
    *,
    name: str,
    settings: Settings,
    curves: pd.DataFrame | None = None,
    tones: pd.DataFrame | None = None,
    base: Mapping[str, gpd.GeoDataFrame] | None = None,
) -> dict[str, str]:
    """Return the texts of the page's data blocks, by name.

    Parameters
    ----------
    layers : mapping of str to DataFrame
        Layers of an as-built by name, in any CRS; any may be missing or empty.
    name : str
        Name of the property.
    settings : Settings
    curves : DataFrame, optional
        run, chainage_m, depth_m, depth_sigma_m: depth along each run.
    tones : DataFrame, optional
        run, chainage_m, level, current, model, low, high: tone along each run.
    base : mapping of str to GeoDataFrame, optional
        Base layers.

    Returns
    -------
    dict of str to str
        JSON: ``site``, ``wires``, each layer that is drawn, ``tables``, ``profiles``, ``base``.

    Examples
    --------
    >>> from wiremap.model.settings import Settings
    >>> sorted(map_blocks({}, name="Empty Acre", settings=Settings()))
    ['base', 'profiles', 'site', 'tables', 'wires']
    """
    blocks = {"wires": wire_features(layers)}
    for layer in ("dig_buffer", *POINT_LAYERS):
        frame = layers.get(layer)
        if frame is not None and len(frame):
            blocks[layer] = _layer_block(layer, frame)
    blocks["base"] = _base_block(base or {})
    blocks["tables"] = _tables_block(layers)
    blocks["profiles"] = _profiles_block(curves, tones)
    blocks["site"] = json_value(_site(layers, name=name, settings=settings))
    return blocks


def _layer_block(layer: str, frame: gpd.GeoDataFrame) -> str:
    if layer == "locates":
        return grouped_collection(frame, by="run", columns=_LOCATE_COLUMNS)
    if layer == "depth_readings":
        return grouped_collection(frame, by="run")
    return feature_collection(frame)


def _base_block(base: Mapping[str, gpd.GeoDataFrame]) -> str:
    items = (
        f'{{"kind":{json_text(kind)},"features":{feature_collection(rows, columns=())}}}'
        for kind, rows in sort_base(base)
    )
    return "[" + ",".join(items) + "]"


def _tables_block(layers: Mapping[str, pd.DataFrame]) -> str:
    tables = (
        f"{json_text(name)}:{records(layers[name])}"
        for name in ("zones", "ties", "provenance")
        if name in layers
    )
    return "{" + ",".join(tables) + "}"


def _profiles_block(curves: pd.DataFrame | None, tones: pd.DataFrame | None) -> str:
    depth = _by_run(curves, ("chainage_m", "depth_m", "depth_sigma_m"))
    tone = _by_run(tones, ("chainage_m", "current", "model"))
    return f'{{"depth":{depth},"tone":{tone}}}'


def _by_run(frame: pd.DataFrame | None, columns: tuple[str, ...]) -> str:
    """Return the columns of each run as lists."""
    if frame is None or len(frame) == 0:
        return "{}"
    runs = frame["run"].astype(str).to_numpy(dtype=object)
    order = np.argsort(runs, kind="stable")
    values = [
        frame[c].to_numpy(dtype=float)[order] if c in frame else np.full(len(frame), np.nan)
        for c in columns
    ]
    edges = np.r_[0, np.flatnonzero(runs[order][1:] != runs[order][:-1]) + 1, len(runs)]
    members = (
        f"{json_text(runs[order[start]])}:["
        + ",".join(number_list(column[start:end]) for column in values)
        + "]"
        for start, end in pairwise(edges)
    )
    return "{" + ",".join(members) + "}"


def _site(layers: Mapping[str, pd.DataFrame], *, name: str, settings: Settings) -> dict[str, Any]:
    """Return what the page says of the property, and what it needs to draw and measure."""
    bounds = lonlat_bounds(layers)
    middle = (bounds[1] + bounds[3]) / 2 if bounds else 0.0
    prepared = settings.property
    return {
        "name": name,
        "prepared_by": prepared.prepared_by,
        "prepared_on": prepared.prepared_on.isoformat() if prepared.prepared_on else "",
        "caution": CAUTION,
        "position_caution": POSITION_CAUTION,
        "bounds": bounds,
        "metres_per_degree": metres_per_degree(middle),
        "unit": reader_unit(settings),
        "min_cover_m": settings.advisory.min_cover_m,
        "confidence": settings.advisory.confidence,
        "tolerance_m": settings.advisory.tolerance_m,
        "counts": {layer: len(frame) for layer, frame in layers.items()},
        "styles": _style_table(),
        "base_styles": {k: _style(f"base-{k}", v) for k, v in styles.BASE_STYLES.items()},
        "repaired": _style("repaired", styles.REPAIRED),
        "inks": _inks(layers),
        "symbols": styles.SYMBOLS,
    }


def reader_unit(settings: Settings) -> str:
    """Return the unit that the reader sees first.

    Parameters
    ----------
    settings : Settings

    Returns
    -------
    str
        ``m`` where the property states a metric unit, else ``ft``.

    Examples
    --------
    >>> from wiremap.model.settings import Settings
    >>> reader_unit(Settings())
    'ft'
    """
    stated = "length_unit" in settings.coordinates.model_fields_set
    return "m" if stated and settings.coordinates.length_unit in {"m", "cm", "mm"} else "ft"


def lonlat_bounds(layers: Mapping[str, pd.DataFrame]) -> list[float]:
    """Return west, south, east and north of the record in degrees; empty where nothing is placed.

    Parameters
    ----------
    layers : mapping of str to DataFrame

    Returns
    -------
    list of float

    Examples
    --------
    >>> lonlat_bounds({})
    []
    """
    drawn = [layers[name] for name in _FRAMED if name in layers]
    if not any(len(frame) for frame in drawn):
        drawn = [layers[name] for name in ("locates", "references") if name in layers]
    corners = np.array([lonlat_corners(frame) for frame in drawn if len(frame)]).reshape(-1, 4)
    corners = corners[np.isfinite(corners).all(axis=1)]
    if len(corners) == 0:
        return []
    return [*corners[:, :2].min(axis=0).tolist(), *corners[:, 2:].max(axis=0).tolist()]


def metres_per_degree(lat_deg: float) -> tuple[float, float]:
    """Return the length of a degree of longitude and of latitude on the WGS 84 ellipsoid.

    Parameters
    ----------
    lat_deg : float
        Latitude, degrees.

    Returns
    -------
    tuple of float
        Metres in a degree east and in a degree north.

    Examples
    --------
    >>> [round(v) for v in metres_per_degree(0.0)]
    [111319, 110574]
    """
    a_m, e2 = 6378137.0, 0.00669437999014
    latitude = math.radians(lat_deg)
    w2 = 1 - e2 * math.sin(latitude) ** 2
    east_m = math.cos(latitude) * a_m / math.sqrt(w2)
    north_m = a_m * (1 - e2) / w2**1.5
    return math.radians(east_m), math.radians(north_m)


def _style_table() -> dict[str, Any]:
    """Return each layer's style with colours as style classes, as the page's script reads it."""
    return {name: _style(name, style) for name, style in styles.STYLES.items()}


def _style(name: str, style: styles.Style) -> dict[str, Any]:
    return {
        "label": style.label,
        "class": name.replace("_", "-"),
        "color": style.ink.light,
        "fill": style.fill.light if style.fill else "",
        "fill_opacity": style.fill_opacity,
        "width": style.width_px,
        "dash": " ".join(f"{length:g}" for length in style.dash_px),
        "symbol": style.symbol,
        "size": style.size_px,
        "code": style.code,
        "shown": style.is_shown,
        "by": style.by,
        "kinds": {kind: _style(f"{name}-{kind}", under) for kind, under in style.kinds.items()},
    }


def _inks(layers: Mapping[str, pd.DataFrame]) -> dict[str, list[Any]]:
    """Return the ink of each zone that is named anywhere: place in the palette, tracer, dash."""
    named: set[str] = set()
    for layer, column in (("wire_runs", "zones"), ("valves", "zone"), ("zones", "zone")):
        frame = layers.get(layer)
        if frame is not None and column in frame:
            named.update(frame[column].dropna().astype(str).unique())
    inks = {}
    for zones in sorted({part.strip() for text in named for part in text.split(";")} - {""}):
        ink = styles.wire_ink(zones)
        place = styles.WIRE_INKS.index(ink.ink)
        tracer = "" if ink.tracer is None else " ".join(f"{d:g}" for d in ink.tracer_dash_px) or "0"
        inks[zones] = [place, tracer, ink.ink.light]
    return inks
