"""Rules of a layer as SLD 1.1 (OGC 05-078r4), for programs that do not read QML."""

from __future__ import annotations

from typing import TYPE_CHECKING
from xml.etree import ElementTree as ET

if TYPE_CHECKING:
    from collections.abc import Sequence

    from wiremap.draw.styles import Style
    from wiremap.write.style_rules import Condition, Rule

_SHAPES = {"circle": "circle", "square": "square", "triangle": "triangle", "cross": "cross"}
_SE = "http://www.opengis.net/se"
_OGC = "http://www.opengis.net/ogc"
_SLD = "http://www.opengis.net/sld"
_COMPARISONS = {
    "=": "ogc:PropertyIsEqualTo",
    "<>": "ogc:PropertyIsNotEqualTo",
    "<": "ogc:PropertyIsLessThan",
}


def write_sld(layer: str, rules: Sequence[Rule], *, symbol_type: str) -> str:
    """Return a layer's style as SLD 1.1.

    Parameters
    ----------
    layer : str
        Name of the layer.
    rules : sequence of Rule
        From the bottom up.
    symbol_type : str
        ``marker``, ``line`` or ``fill``.

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
    body = ET.SubElement(user, "se:FeatureTypeStyle")
    for rule in rules:
        element = ET.SubElement(body, "se:Rule")
        ET.SubElement(element, "se:Name").text = rule.style.label
        if rule.is_else:
            ET.SubElement(element, "se:ElseFilter")
        elif rule.conditions:
            _add_filter(element, rule.conditions)
        _add_symbolizer(element, rule.style, symbol_type)
    return ET.tostring(root, encoding="unicode")


def _add_filter(rule: ET.Element, conditions: Sequence[Condition]) -> None:
    parent = ET.SubElement(rule, "ogc:Filter")
    if len(conditions) > 1:
        parent = ET.SubElement(parent, "ogc:And")
    for condition in conditions:
        compared = ET.SubElement(parent, _COMPARISONS[condition.sign])
        ET.SubElement(compared, "ogc:PropertyName").text = condition.column
        ET.SubElement(compared, "ogc:Literal").text = str(condition.value)


def _add_symbolizer(rule: ET.Element, style: Style, symbol_type: str) -> None:
    if symbol_type == "line":
        _add_stroke(ET.SubElement(rule, "se:LineSymbolizer"), style)
    elif symbol_type == "fill":
        polygon = ET.SubElement(rule, "se:PolygonSymbolizer")
        _add_fill(polygon, style)
        _add_stroke(polygon, style)
    else:
        graphic = ET.SubElement(ET.SubElement(rule, "se:PointSymbolizer"), "se:Graphic")
        mark = ET.SubElement(graphic, "se:Mark")
        ET.SubElement(mark, "se:WellKnownName").text = _SHAPES.get(style.symbol, "square")
        _add_fill(mark, style)
        _add_stroke(mark, style)
        ET.SubElement(graphic, "se:Size").text = f"{style.size_px or 8:g}"


def _add_fill(parent: ET.Element, style: Style) -> None:
    if style.fill is None:
        return
    fill = ET.SubElement(parent, "se:Fill")
    ET.SubElement(fill, "se:SvgParameter", name="fill").text = style.fill.light
    ET.SubElement(fill, "se:SvgParameter", name="fill-opacity").text = f"{style.fill_opacity:g}"


def _add_stroke(parent: ET.Element, style: Style) -> None:
    stroke = ET.SubElement(parent, "se:Stroke")
    parts = {"stroke": style.ink.light, "stroke-width": f"{style.width_px:g}"}
    if style.dash_px:
        parts["stroke-dasharray"] = " ".join(f"{part:g}" for part in style.dash_px)
    for name, text in parts.items():
        ET.SubElement(stroke, "se:SvgParameter", name=name).text = text
