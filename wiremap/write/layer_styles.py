"""Styles inside a GeoPackage, so that a desktop GIS opens it drawn as the web map is.

The table ``layer_styles`` is a convention of desktop GIS, not of the GeoPackage standard: one
row a layer with the style as QML, and as SLD for other programs. Colours and symbols are those
of `wiremap.draw.styles`.
"""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING
from xml.etree import ElementTree as ET

from wiremap.draw.styles import STYLES, Style, wire_ink

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Mapping

_TABLE = """CREATE TABLE layer_styles (
    id INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL, f_table_catalog TEXT(256),
    f_table_schema TEXT(256), f_table_name TEXT(256), f_geometry_column TEXT(256),
    styleName TEXT(30), styleQML TEXT, styleSLD TEXT, useAsDefault BOOLEAN, description TEXT,
    owner TEXT(30), ui TEXT(30),
    update_time DATETIME DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ','now')))"""
_QML_SHAPES = {"cross": "cross_fill", "hourglass": "diamond", "house": "pentagon"}
_SLD_SHAPES = {"circle": "circle", "square": "square", "triangle": "triangle", "cross": "cross"}
_GEOMETRY_NUMBERS = {"marker": "0", "line": "1", "fill": "2"}
_STYLE_NAME_LENGTH = 30
_SE = "http://www.opengis.net/se"
_OGC = "http://www.opengis.net/ogc"
_SLD = "http://www.opengis.net/sld"


def add_layer_styles(db: sqlite3.Connection, *, timestamp: str | None = None) -> None:
    """Add a default style for every layer of the package that has one.

    Parameters
    ----------
    db : sqlite3.Connection
        A GeoPackage without the table ``layer_styles``; the caller commits.
    timestamp : str, optional
        ISO 8601; the time of writing where None.
    """
    layers = db.execute(
        "SELECT table_name, column_name, geometry_type_name FROM gpkg_geometry_columns"
    ).fetchall()
    db.execute(_TABLE)
    db.execute(
        "INSERT INTO gpkg_contents (table_name, data_type, identifier, description, last_change,"
        " srs_id) VALUES ('layer_styles', 'attributes', 'layer_styles', 'Styles of the layers.',"
        " coalesce(?, strftime('%Y-%m-%dT%H:%M:%fZ','now')), 0)",
        (timestamp,),
    )
    db.executemany(
        "INSERT INTO layer_styles (f_table_catalog, f_table_schema, f_table_name,"
        " f_geometry_column, styleName, styleQML, styleSLD, useAsDefault, description, owner, ui,"
        " update_time) VALUES ('', '', ?, ?, ?, ?, ?, 1, ?, '', '',"
        " coalesce(?, strftime('%Y-%m-%dT%H:%M:%fZ','now')))",
        [
            (*_style_row(table, column, geometry, _zones(db, table)), timestamp)
            for table, column, geometry in layers
            if table in STYLES
        ],
    )


def _zones(db: sqlite3.Connection, layer: str) -> tuple[str, ...]:
    """Return the zones by which wires are coloured; none for other layers."""
    if layer != "wire_runs":
        return ()
    rows = db.execute("SELECT DISTINCT zones FROM wire_runs WHERE zones <> '' ORDER BY zones")
    return tuple(row[0] for row in rows)


@lru_cache(maxsize=64)
def _style_row(layer: str, column: str, geometry: str, zones: tuple[str, ...]) -> tuple[str, ...]:
    """Return a layer's row; most layers have the same one in every package."""
    style = STYLES[layer]
    symbol_type = _symbol_type(geometry)
    by, kinds = style.by, style.kinds
    if zones:
        by = "zones"
        kinds = {
            zone: Style(f"Zone {zone}", wire_ink(zone).ink, width_px=style.width_px)
            for zone in zones
        }
    name = style.label[:_STYLE_NAME_LENGTH]
    qml = write_qml(style, symbol_type=symbol_type, by=by, kinds=kinds)
    sld = write_sld(layer, style, symbol_type=symbol_type, by=by, kinds=kinds)
    return (layer, column, name, qml, sld, style.label)


def _symbol_type(geometry: str) -> str:
    plain = geometry.upper().removeprefix("MULTI")
    return {"LINESTRING": "line", "POLYGON": "fill"}.get(plain, "marker")


def write_qml(style: Style, *, symbol_type: str, by: str, kinds: Mapping[str, Style]) -> str:
    """Return a layer's style as QML.

    Parameters
    ----------
    style : Style
        Of the layer, and of values that `kinds` does not name.
    symbol_type : str
        ``marker``, ``line`` or ``fill``.
    by : str
        Column whose value chooses among `kinds`; empty for one symbol.
    kinds : mapping of str to Style
        Style of each value.

    Returns
    -------
    str
        Well-formed XML.
    """
    root = ET.Element("qgis", version="3.22.0", styleCategories="Symbology")
    shown = [*kinds.items(), ("", style)] if by else [("", style)]
    kind = "categorizedSymbol" if by else "singleSymbol"
    renderer = ET.SubElement(root, "renderer-v2", type=kind, symbollevels="0", enableorderby="0")
    if by:
        renderer.set("attr", by)
        categories = ET.SubElement(renderer, "categories")
        for number, (value, one) in enumerate(shown):
            ET.SubElement(
                categories, "category", symbol=str(number), value=value, label=one.label,
                render="true",
            )  # fmt: skip
    symbols = ET.SubElement(renderer, "symbols")
    for number, (_, one) in enumerate(shown):
        symbol = ET.SubElement(
            symbols, "symbol", type=symbol_type, name=str(number), alpha="1", clip_to_extent="1"
        )
        layer = ET.SubElement(
            symbol, "layer", attrib={"class": f"Simple{symbol_type.title()}"}, enabled="1",
            locked="0", **{"pass": "0"},
        )  # fmt: skip
        for key, text in _qml_properties(one, symbol_type).items():
            ET.SubElement(layer, "prop", k=key, v=text)
    ET.SubElement(root, "layerGeometryType").text = _GEOMETRY_NUMBERS[symbol_type]
    return "<!DOCTYPE qgis PUBLIC 'http://mrcc.com/qgis.dtd' 'SYSTEM'>\n" + ET.tostring(
        root, encoding="unicode"
    )


def _rgba(color: str, opacity: float = 1.0) -> str:
    red, green, blue = (int(color[i : i + 2], 16) for i in (1, 3, 5))
    return f"{red},{green},{blue},{round(255 * opacity)}"


def _qml_properties(style: Style, symbol_type: str) -> dict[str, str]:
    """Return the settings of one simple symbol layer."""
    fill = _rgba((style.fill or style.ink).light, style.fill_opacity if style.fill else 0.0)
    pen = "dash" if style.dash_px else "solid"
    outline = {
        "outline_color": _rgba(style.ink.light),
        "outline_style": pen,
        "outline_width": f"{style.width_px:g}",
        "outline_width_unit": "Pixel",
    }
    if symbol_type == "line":
        return {
            "line_color": _rgba(style.ink.light),
            "line_width": f"{style.width_px:g}",
            "line_width_unit": "Pixel",
            "line_style": "solid",
            "capstyle": "round",
            "joinstyle": "round",
            "use_custom_dash": "1" if style.dash_px else "0",
            "customdash": ";".join(f"{part:g}" for part in style.dash_px or (5.0, 2.0)),
            "customdash_unit": "Pixel",
        }
    if symbol_type == "fill":
        return {"color": fill, "style": "solid", **outline}
    return {
        "name": _QML_SHAPES.get(style.symbol, style.symbol or "circle"),
        "color": fill,
        "size": f"{style.size_px or 8:g}",
        "size_unit": "Pixel",
        **outline,
        "outline_style": "solid",
    }


def write_sld(
    layer: str, style: Style, *, symbol_type: str, by: str, kinds: Mapping[str, Style]
) -> str:
    """Return a layer's style as SLD 1.1, for programs that do not read QML.

    Parameters
    ----------
    layer : str
        Name of the layer.
    style, symbol_type, by, kinds
        As in `write_qml`.

    Returns
    -------
    str
        Well-formed XML.
    """
    root = ET.Element(
        "StyledLayerDescriptor",
        attrib={"xmlns": _SLD, "xmlns:se": _SE, "xmlns:ogc": _OGC, "version": "1.1.0"},
    )
    named = ET.SubElement(root, "NamedLayer")
    ET.SubElement(named, "se:Name").text = layer
    user = ET.SubElement(named, "UserStyle")
    rules = ET.SubElement(user, "se:FeatureTypeStyle")
    for value, one in kinds.items() if by else ():
        rule = _sld_rule(rules, one, symbol_type)
        condition = ET.Element("ogc:Filter")
        equal = ET.SubElement(condition, "ogc:PropertyIsEqualTo")
        ET.SubElement(equal, "ogc:PropertyName").text = by
        ET.SubElement(equal, "ogc:Literal").text = value
        rule.insert(1, condition)
    other = _sld_rule(rules, style, symbol_type)
    if by and kinds:
        other.insert(1, ET.Element("se:ElseFilter"))
    return ET.tostring(root, encoding="unicode")


def _sld_rule(rules: ET.Element, style: Style, symbol_type: str) -> ET.Element:
    """Add one rule with its symbolizer."""
    rule = ET.SubElement(rules, "se:Rule")
    ET.SubElement(rule, "se:Name").text = style.label
    if symbol_type == "line":
        _sld_stroke(ET.SubElement(rule, "se:LineSymbolizer"), style)
    elif symbol_type == "fill":
        polygon = ET.SubElement(rule, "se:PolygonSymbolizer")
        _sld_fill(polygon, style)
        _sld_stroke(polygon, style)
    else:
        graphic = ET.SubElement(ET.SubElement(rule, "se:PointSymbolizer"), "se:Graphic")
        mark = ET.SubElement(graphic, "se:Mark")
        ET.SubElement(mark, "se:WellKnownName").text = _SLD_SHAPES.get(style.symbol, "square")
        _sld_fill(mark, style)
        _sld_stroke(mark, style)
        ET.SubElement(graphic, "se:Size").text = f"{style.size_px or 8:g}"
    return rule


def _sld_fill(parent: ET.Element, style: Style) -> None:
    if style.fill is None:
        return
    fill = ET.SubElement(parent, "se:Fill")
    ET.SubElement(fill, "se:SvgParameter", name="fill").text = style.fill.light
    ET.SubElement(fill, "se:SvgParameter", name="fill-opacity").text = f"{style.fill_opacity:g}"


def _sld_stroke(parent: ET.Element, style: Style) -> None:
    stroke = ET.SubElement(parent, "se:Stroke")
    parts = {"stroke": style.ink.light, "stroke-width": f"{style.width_px:g}"}
    if style.dash_px:
        parts["stroke-dasharray"] = " ".join(f"{part:g}" for part in style.dash_px)
    for name, text in parts.items():
        ET.SubElement(stroke, "se:SvgParameter", name=name).text = text
