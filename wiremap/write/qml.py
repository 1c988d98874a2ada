"""Rules and labels of a layer as QML, the style language of a desktop GIS."""

from __future__ import annotations

from typing import TYPE_CHECKING
from xml.etree import ElementTree as ET

from wiremap.draw.styles import GRAPHITE, PAPER

if TYPE_CHECKING:
    from collections.abc import Sequence

    from wiremap.draw.styles import Style
    from wiremap.write.style_rules import Condition, Label, Rule

_SHAPES = {"cross": "cross_fill", "hourglass": "diamond", "house": "pentagon", "cross2": "cross2"}
_GEOMETRY_NUMBERS = {"marker": "0", "line": "1", "fill": "2"}
_PLACEMENTS = {"marker": "6", "line": "2", "fill": "7"}  # round a point, along, along the outline
_DOCTYPE = "<!DOCTYPE qgis PUBLIC 'http://mrcc.com/qgis.dtd' 'SYSTEM'>\n"


def write_qml(
    rules: Sequence[Rule],
    *,
    symbol_type: str,
    label: Label | None = None,
    hidden: Sequence[str] = (),
) -> str:
    """Return a layer's style as QML.

    Parameters
    ----------
    rules : sequence of Rule
        From the bottom up.
    symbol_type : str
        ``marker``, ``line`` or ``fill``.
    label : Label, optional
        No labels where not given.
    hidden : sequence of str
        Columns that table and form leave out until they are asked for.

    Returns
    -------
    str
        Well-formed XML.
    """
    root = ET.Element(
        "qgis", version="3.22.0", styleCategories="Symbology|Labeling|AttributeTable|Forms",
        labelsEnabled="1" if label else "0",
    )  # fmt: skip
    renderer = ET.SubElement(
        root, "renderer-v2", type="RuleRenderer", symbollevels="0", enableorderby="0"
    )
    branches = ET.SubElement(renderer, "rules", key="wiremap")
    symbols = ET.SubElement(renderer, "symbols")
    for number, rule in enumerate(rules):
        branch = ET.SubElement(
            branches, "rule", key=f"wiremap-{number}", symbol=str(number), label=rule.style.label
        )
        if rule.is_else or rule.conditions:
            branch.set("filter", "ELSE" if rule.is_else else expression(rule.conditions))
        _add_symbol(symbols, rule, number, symbol_type)
    if label:
        _add_labels(root, label, symbol_type)
    _hide_columns(root, hidden)
    ET.SubElement(root, "layerGeometryType").text = _GEOMETRY_NUMBERS[symbol_type]
    return _DOCTYPE + ET.tostring(root, encoding="unicode")


def expression(conditions: Sequence[Condition]) -> str:
    r"""Return conditions as an expression, values quoted so that they stay values.

    Parameters
    ----------
    conditions : sequence of Condition
        All must hold.

    Returns
    -------
    str

    Examples
    --------
    >>> from wiremap.write.style_rules import Condition
    >>> expression([Condition("zones", "=", "kid's"), Condition("cover_low_m", "<", 0.15)])
    '"zones" = \'kid\'\'s\' AND "cover_low_m" < 0.15'
    """
    return " AND ".join(f'"{c.column}" {c.sign} {_literal(c.value)}' for c in conditions)


def _literal(value: str | float) -> str:
    if isinstance(value, str):
        escaped = value.replace("\\", "\\\\").replace("'", "''")
        return f"'{escaped}'"
    return f"{value:g}"


def _hide_columns(root: ET.Element, names: Sequence[str]) -> None:
    """Leave columns out of the attribute table and of the form."""
    fields = ET.SubElement(root, "fieldConfiguration")
    columns = ET.SubElement(ET.SubElement(root, "attributetableconfig"), "columns")
    for name in names:
        field = ET.SubElement(fields, "field", name=name)
        widget = ET.SubElement(field, "editWidget", type="Hidden")
        ET.SubElement(ET.SubElement(widget, "config"), "Option")
        ET.SubElement(columns, "column", type="field", name=name, hidden="1", width="-1")


def _add_symbol(symbols: ET.Element, rule: Rule, number: int, symbol_type: str) -> None:
    symbol = ET.SubElement(
        symbols, "symbol", type=symbol_type, name=str(number), alpha="1", clip_to_extent="1"
    )
    _add_symbol_layer(symbol, symbol_type, _properties(rule.style, symbol_type))
    if rule.wire is not None and rule.wire.tracer is not None:
        width = f"{rule.style.width_px / 3:g}"
        stripe = _line(rule.wire.tracer.light, width, rule.wire.tracer_dash_px)
        _add_symbol_layer(symbol, symbol_type, stripe)


def _add_symbol_layer(symbol: ET.Element, symbol_type: str, properties: dict[str, str]) -> None:
    layer = ET.SubElement(
        symbol, "layer", attrib={"class": f"Simple{symbol_type.title()}"}, enabled="1",
        locked="0", **{"pass": "0"},
    )  # fmt: skip
    for key, text in properties.items():
        ET.SubElement(layer, "prop", k=key, v=text)


def _rgba(color: str, opacity: float = 1.0) -> str:
    red, green, blue = (int(color[i : i + 2], 16) for i in (1, 3, 5))
    return f"{red},{green},{blue},{round(255 * opacity)}"


def _line(color: str, width_px: str, dash_px: tuple[float, ...]) -> dict[str, str]:
    return {
        "line_color": _rgba(color),
        "line_width": width_px,
        "line_width_unit": "Pixel",
        "line_style": "solid",
        "capstyle": "flat" if dash_px else "round",
        "joinstyle": "round",
        "use_custom_dash": "1" if dash_px else "0",
        "customdash": ";".join(f"{part:g}" for part in dash_px or (5.0, 2.0)),
        "customdash_unit": "Pixel",
    }


def _properties(style: Style, symbol_type: str) -> dict[str, str]:
    """Return the settings of one simple symbol layer."""
    if symbol_type == "line":
        return _line(style.ink.light, f"{style.width_px:g}", style.dash_px)
    outline = {
        "outline_color": _rgba(style.ink.light),
        "outline_style": "dash" if style.dash_px and symbol_type == "fill" else "solid",
        "outline_width": f"{style.width_px:g}",
        "outline_width_unit": "Pixel",
    }
    fill = _rgba((style.fill or style.ink).light, style.fill_opacity if style.fill else 0.0)
    if symbol_type == "fill":
        return {"color": fill, "style": "solid", **outline}
    return {
        "name": _SHAPES.get(style.symbol, style.symbol or "circle"),
        "color": fill,
        "size": f"{style.size_px or 8:g}",
        "size_unit": "Pixel",
        **outline,
    }


def _add_labels(root: ET.Element, label: Label, symbol_type: str) -> None:
    """Add labels with a halo in the colour of paper."""
    labeling = ET.SubElement(root, "labeling", type="simple")
    settings = ET.SubElement(labeling, "settings", calloutType="simple")
    style = ET.SubElement(
        settings, "text-style", fieldName=label.expression, isExpression="1",
        fontFamily="Sans Serif", fontWeight="75" if label.is_bold else "50", fontSize="8",
        fontSizeUnit="Point", textColor=_rgba(GRAPHITE.light), textOpacity="1", blendMode="0",
    )  # fmt: skip
    ET.SubElement(
        style, "text-buffer", bufferDraw="1", bufferSize="0.8", bufferSizeUnits="MM",
        bufferColor=_rgba(PAPER.light), bufferOpacity="1", bufferJoinStyle="128",
    )  # fmt: skip
    ET.SubElement(settings, "text-format", multilineAlign="0", addDirectionSymbol="0")
    ET.SubElement(
        settings, "placement", placement=_PLACEMENTS[symbol_type], placementFlags="10",
        predefinedPositionOrder="TR,R,BR,TL,L,BL", dist="1.5", distUnits="MM", offsetType="1",
        priority=str(label.priority),
    )  # fmt: skip
    obstacle = "1" if symbol_type == "marker" else "0"
    ET.SubElement(settings, "rendering", obstacle=obstacle, displayAll="0", drawLabels="1")
