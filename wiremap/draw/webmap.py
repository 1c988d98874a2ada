"""The owner's map: one file that opens on any phone, with no network.

Reads the layers of an as-built; returns a folium map. Field text reaches the page in data blocks
only, which no template compiles, and the page's script shows it as text.
"""

from __future__ import annotations

from typing import TYPE_CHECKING
from urllib.parse import urlsplit

from wiremap.draw import record, styles
from wiremap.draw.aerial import Aerial, embed_aerial
from wiremap.draw.features import json_value
from wiremap.draw.offline_map import Contents, FeatureLayer, OfflineMap, Site, Start
from wiremap.draw.sketch import sketch_page

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

    import folium
    import geopandas as gpd
    import pandas as pd

    from wiremap.model.frame import Frame
    from wiremap.model.settings import Settings

DRAWN = ("dig_buffer", "wires", "hand_dig", *record.POINT_LAYERS)
"""Layers of the map, from the bottom up. ``wires`` and ``hand_dig`` are drawn from the wires."""


def draw_map(  # noqa: PLR0913 - one map, its parts by keyword
    layers: Mapping[str, pd.DataFrame],
    *,
    name: str,
    settings: Settings,
    frame: Frame | None = None,
    curves: pd.DataFrame | None = None,
    tones: pd.DataFrame | None = None,
    base: Mapping[str, gpd.GeoDataFrame] | None = None,
    aerial: Path | None = None,
    only: Sequence[str] | None = None,
    tiles: str | None = None,
    renderer: str = "svg",
) -> OfflineMap:
    """Return the map of a property, which saves as one file that needs no network.

    Parameters
    ----------
    layers : mapping of str to DataFrame
        Layers of an as-built by name, each in its own CRS; any may be missing or empty.
    name : str
        Name of the property.
    settings : Settings
    frame : Frame, optional
        Tells the CRS of layers that carry none.
    curves : DataFrame, optional
        run, chainage_m, depth_m, depth_sigma_m: depth along each run, for the profiles.
    tones : DataFrame, optional
        run, chainage_m, level, current, model, low, high: tone along each run.
    base : mapping of str to GeoDataFrame, optional
        Property line, buildings, hardscape, drawn beneath.
    aerial : Path, optional
        Georeferenced image, drawn beneath all else: cut to the property and made small. Needs
        the extra ``aerial``. One that does not reach the property is left out.
    only : sequence of str, optional
        Layers to draw; all where not given.
    tiles : str, optional
        Address of online background tiles, with ``{z}``, ``{x}``, ``{y}``; none where not given.
        A background that cannot be reached leaves the map as it is.
    renderer : {"svg", "canvas"}
        What the shapes are drawn with. SVG measured faster and prints sharp; canvas follows no
        dark theme.

    Returns
    -------
    OfflineMap
        Its ``save`` writes the page under a content security policy.

    Raises
    ------
    MissingExtraError
        No package that carries Leaflet is installed; or rasterio is not, and `aerial` is given.
    ReadError
        The installed Leaflet differs from its package's record, or the image cannot be placed.
    ValueError
        A name in `only` is no layer, or `tiles` is no web address.

    Notes
    -----
    The map and its dig-by-hand band are advisory only; they are not a utility locate.

    Examples
    --------
    >>> from wiremap.model.settings import Settings
    >>> "<title>Empty Acre</title>" in draw_map({}, name="Empty Acre", settings=Settings()).page()
    True
    """
    kept = _placed(_only(layers, only), frame)
    blocks = record.map_blocks(
        kept, name=name, settings=settings, curves=curves, tones=tones, base=base
    )
    drawn = OfflineMap(
        location=_middle(kept), zoom_start=18, zoom_snap=0.25, attribution_control=False
    )
    drawn.contents = Contents(
        title=name,
        still=sketch_page(kept, name=name, settings=settings, base=base),
        image_hosts=(_origin(tiles),) if tiles else (),
    )
    image = _image(aerial, kept, frame)
    if image is not None:
        blocks["aerial"] = json_value({"uri": image.uri, "bounds": list(image.bounds)})
    blocks["options"] = json_value({"page": True, "tiles": tiles or "", "renderer": renderer})
    _add_record(drawn, blocks, with_leaflet=True)
    return drawn


def explore_layers(  # noqa: PLR0913
    layers: Mapping[str, pd.DataFrame],
    *,
    name: str,
    settings: Settings,
    frame: Frame | None = None,
    curves: pd.DataFrame | None = None,
    tones: pd.DataFrame | None = None,
    base: Mapping[str, gpd.GeoDataFrame] | None = None,
    m: folium.Map | None = None,
    only: Sequence[str] | None = None,
    tiles: str | None = None,
) -> folium.Map:
    """Return the layers on a map for a notebook, on a new map or on one that is given.

    Parameters
    ----------
    layers, name, settings, frame, curves, tones, base, only, tiles
        As for `draw_map`.
    m : folium.Map, optional
        Map to draw on; it keeps its own controls, and ``folium.LayerControl`` lists the layers.
        A new `OfflineMap` where not given. A map holds one record.

    Returns
    -------
    folium.Map

    Raises
    ------
    MissingExtraError
        No package that carries Leaflet is installed.
    ReadError
        The installed Leaflet differs from its package's record.
    ValueError
        A name in `only` is no layer, or `tiles` is no web address.

    Examples
    --------
    >>> from wiremap.model.settings import Settings
    >>> type(explore_layers({}, name="Empty Acre", settings=Settings())).__name__
    'OfflineMap'
    """
    if m is None:
        return draw_map(
            layers, name=name, settings=settings, frame=frame, curves=curves, tones=tones,
            base=base, only=only, tiles=tiles,
        )  # fmt: skip
    kept = _placed(_only(layers, only), frame)
    blocks = record.map_blocks(
        kept, name=name, settings=settings, curves=curves, tones=tones, base=base
    )
    blocks["options"] = json_value({"page": False, "tiles": tiles or ""})
    _add_record(m, blocks, with_leaflet=False)
    return m


def _add_record(drawn: folium.Map, blocks: Mapping[str, str], *, with_leaflet: bool) -> None:
    drawn.add_child(Site(blocks, with_leaflet=with_leaflet))
    for layer in DRAWN:
        source = "wires" if layer == "hand_dig" else layer
        if source in blocks:
            shown = layer == "wires" or styles.STYLES[layer].is_shown
            drawn.add_child(FeatureLayer(layer, shown=shown))
    drawn.add_child(Start())


def _only(
    layers: Mapping[str, pd.DataFrame], only: Sequence[str] | None
) -> Mapping[str, pd.DataFrame]:
    if only is None:
        return layers
    unknown = sorted(set(only) - set(layers))
    if unknown:
        raise ValueError(f"no layer named {', '.join(unknown)}; the layers are {', '.join(layers)}")
    return {name: frame for name, frame in layers.items() if name in only}


def _placed(layers: Mapping[str, pd.DataFrame], frame: Frame | None) -> Mapping[str, pd.DataFrame]:
    """Return the layers, those without a CRS in the frame's."""
    if frame is None:
        return layers
    return {
        name: layer.set_crs(frame.crs) if "geometry" in layer and layer.crs is None else layer
        for name, layer in layers.items()
    }


def _image(
    aerial: Path | None, layers: Mapping[str, pd.DataFrame], frame: Frame | None
) -> Aerial | None:
    """Return the image to draw beneath the record; one without a CRS is in the working CRS."""
    bounds = record.lonlat_bounds(layers)
    if aerial is None or not bounds:
        return None
    return embed_aerial(aerial, around=bounds, crs=frame.crs.to_wkt() if frame else None)


def _middle(layers: Mapping[str, pd.DataFrame]) -> tuple[float, float]:
    bounds = record.lonlat_bounds(layers)
    if not bounds:
        return (0.0, 0.0)
    return ((bounds[1] + bounds[3]) / 2, (bounds[0] + bounds[2]) / 2)


def _origin(tiles: str) -> str:
    """Return the origin that background tiles come from, as a policy names it."""
    parts = urlsplit(tiles)
    host = parts.netloc.replace("{s}", "*")
    if parts.scheme not in {"http", "https"} or not _is_host(host):
        raise ValueError(f"tiles must be an http or https address, got {tiles!r}")
    return f"{parts.scheme}://{host}"


def _is_host(host: str) -> bool:
    return bool(host) and all(c.isalnum() or c in "*.-:" for c in host)
