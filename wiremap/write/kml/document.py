"""The KML document: styles, one folder a layer, one placemark a row.

Element order follows OGC 07-147r2 (KML 2.2), whose schema is strict about it.
"""

from __future__ import annotations

import html
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any
from xml.etree import ElementTree as ET

import numpy as np

from wiremap.draw.record import CAUTION
from wiremap.draw.styles import REPAIRED, STYLES, Ink, Style, wire_ink
from wiremap.model.tables import LAYERS
from wiremap.model.units import METRES_PER_UNIT
from wiremap.write.arrays import flatten_fields
from wiremap.write.geojson import find_operation, to_degrees
from wiremap.write.plain_text import plain_text
from wiremap.write.stretches import inferred_stretches, shallow_stretches

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    import pandas as pd
    from numpy.typing import NDArray

NAMESPACE = "http://www.opengis.net/kml/2.2"
_NAMED_BY = {
    "dig_buffer": "run",
    "wire_runs": "run",
    "depth_readings": "depth_m",
    "references": "reference",
    "equipment": "label",
    "splices": "splice",
    "faults": "fault",
    "controllers": "controller",
    "valves": "valve",
    "findings": "code",
}
"""Layers in the order of their folders, with the column that names a row."""

_UNLABELLED = ("references", "findings", "depth_readings")
_MARKS = {
    "inferred": Style("Inferred between locates", Ink("#ffffff", "#ffffff"), width_px=9.0),
    "hand_dig": STYLES["hand_dig"],
}
_MARK_OPACITY = 0.55
_REPAIRED = "-repaired"
_LONGEST_CELL = 2000


@dataclass
class Document:
    """A KML document as it grows.

    Attributes
    ----------
    body : Element
        The ``Document`` element.
    with_symbols : bool
        Whether points show pictures, which must be packed beside the document.
    styles : dict of str to Element
        Shared styles by id.
    symbols : dict of str to Style
        Pictures to pack, by file name.
    """

    body: ET.Element
    with_symbols: bool
    styles: dict[str, ET.Element] = field(default_factory=dict)
    symbols: dict[str, Style] = field(default_factory=dict)

    @property
    def text(self) -> bytes:
        """The document as UTF-8 XML."""
        root = ET.Element("kml", xmlns=NAMESPACE)
        root.append(self.body)
        return bytes(ET.tostring(root, encoding="UTF-8", xml_declaration=True))


def build_document(
    layers: Mapping[str, pd.DataFrame], *, context: Mapping[str, Any], with_symbols: bool = False
) -> Document:
    """Return the as-built as a KML document.

    Parameters
    ----------
    layers : mapping of str to DataFrame
        Layers by name, in the working CRS; any may be missing or empty.
    context : mapping
        ``name``, ``settings`` and ``frame``.
    with_symbols : bool, default False
        Let points show pictures of their symbols.

    Returns
    -------
    Document
    """
    known = {t.name: layers[t.name] if t.name in layers else t.empty() for t in LAYERS}
    document = Document(ET.Element("Document"), with_symbols)
    operation = find_operation(context["frame"])
    folders = [_layer_folder(document, name, known[name], operation) for name in _NAMED_BY]
    segments, limit_m = known["wire_segments"], context["settings"].advisory.min_cover_m
    marks = {
        "inferred": inferred_stretches(segments),
        "hand_dig": shallow_stretches(segments, min_cover_m=limit_m),
    }
    for name, stretches in marks.items():
        shapes = to_degrees(stretches.lines, operation)
        folders.insert(1, _mark_folder(document, name, stretches.runs, shapes))
    _add(document.body, "name", plain_text(context["name"]))
    _add(document.body, "open", "1")
    _add(document.body, "description", html.escape(CAUTION))
    document.body.extend(document.styles.values())
    document.body.extend(folder for folder in folders if folder is not None)
    return document


def _add(parent: ET.Element, tag: str, text: str = "", /, **attributes: str) -> ET.Element:
    element = ET.SubElement(parent, tag, attributes)
    if text:
        element.text = text
    return element


def _layer_folder(
    document: Document, name: str, frame: pd.DataFrame, operation: Any
) -> ET.Element | None:
    """Return the folder of a layer; None where it has no row with a place."""
    shapes = to_degrees(np.asarray(frame["geometry"].array, dtype=object), operation)
    rows = np.flatnonzero([shape is not None for shape in shapes])
    if not len(rows):
        return None
    style = STYLES[name]
    folder = _open_folder(style.label, is_shown=style.is_shown)
    kept = frame.iloc[rows]
    kinds = _kinds(kept, name)
    names = [
        text or style.of(kind).label for text, kind in zip(_names(kept, name), kinds, strict=True)
    ]
    styles = [_style_of(document, name, kind) for kind in kinds]
    cells = list(_cells(kept))
    for place, (row, label, style_id) in enumerate(zip(rows, names, styles, strict=True)):
        values = [(column, texts[place]) for column, texts in cells if texts[place]]
        _add_placemark(folder, label, style_id, shapes[row], values=values, is_shown=style.is_shown)
    return folder


def _open_folder(label: str, *, is_shown: bool) -> ET.Element:
    folder = ET.Element("Folder")
    _add(folder, "name", label)
    _add(folder, "visibility", "1" if is_shown else "0")
    return folder


def _mark_folder(
    document: Document, name: str, runs: NDArray[np.object_], shapes: NDArray[np.object_]
) -> ET.Element | None:
    """Return the folder of stretches that are marked under the wires; None where there is none."""
    if not len(shapes):
        return None
    style = _MARKS[name]
    folder = _open_folder(style.label, is_shown=True)
    style_id = _share_line(document, name, style, opacity=_MARK_OPACITY)
    for run, shape in zip(runs.tolist(), shapes, strict=True):
        _add_placemark(folder, plain_text(run), style_id, shape, values=[("run", plain_text(run))])
    return folder


def _names(frame: pd.DataFrame, layer: str) -> list[str]:
    """Return the name of each placemark; empty where the row has none."""
    column = _NAMED_BY[layer]
    if column == "depth_m":
        return [_length_text(value) for value in frame[column].to_numpy(dtype=float).tolist()]
    return [plain_text(value, longest=100) for value in frame[column].tolist()]


def _kinds(frame: pd.DataFrame, name: str) -> list[str]:
    """Return what chooses the style of each row."""
    column = {"wire_runs": "zones"}.get(name, STYLES[name].by)
    if not column:
        return [""] * len(frame)
    kinds = [plain_text(value) for value in frame[column].tolist()]
    if name != "faults":
        return kinds
    return [
        f"{kind}{_REPAIRED}" if is_repaired else kind
        for kind, is_repaired in zip(kinds, frame["status"] == "repaired", strict=True)
    ]


def _style_of(document: Document, layer: str, kind: str) -> str:
    """Return the id of the style of a row, which is added where it is new."""
    if layer == "wire_runs":
        ink = wire_ink(kind).ink
        return _share_line(
            document, f"wire-{ink.light[1:]}", replace(STYLES[layer], ink=ink), opacity=1.0
        )
    plain = kind.removesuffix(_REPAIRED)
    style = STYLES[layer].of(plain)
    if layer == "dig_buffer":
        return _share_area(document, layer, style)
    style_id = f"{layer}-{plain}" if plain in STYLES[layer].kinds else layer
    if plain != kind:
        style_id += _REPAIRED
        style = replace(style, ink=REPAIRED.ink, fill=REPAIRED.fill)
    return _share_point(document, style_id, style, is_labelled=layer not in _UNLABELLED)


def _share_line(document: Document, style_id: str, style: Style, *, opacity: float) -> str:
    if style_id not in document.styles:
        element = document.styles[style_id] = ET.Element("Style", id=style_id)
        _add_line_style(element, style, opacity=opacity)
    return style_id


def _share_area(document: Document, style_id: str, style: Style) -> str:
    if style_id not in document.styles:
        element = document.styles[style_id] = ET.Element("Style", id=style_id)
        _add_line_style(element, style, opacity=1.0)
        fill = style.fill or style.ink
        _add(_add(element, "PolyStyle"), "color", kml_color(fill.light, style.fill_opacity))
    return style_id


def _add_line_style(element: ET.Element, style: Style, *, opacity: float) -> None:
    line = _add(element, "LineStyle")
    _add(line, "color", kml_color(style.ink.light, opacity))
    _add(line, "width", f"{style.width_px:g}")


def _share_point(document: Document, style_id: str, style: Style, *, is_labelled: bool) -> str:
    if style_id in document.styles:
        return style_id
    element = document.styles[style_id] = ET.Element("Style", id=style_id)
    icon = _add(element, "IconStyle")
    if document.with_symbols:
        fill = (style.fill or style.ink).light
        file = f"symbols/{style.symbol}-{style.ink.light[1:]}-{fill[1:]}.png"
        document.symbols[file] = style
        _add(icon, "scale", f"{style.size_px / 22:.2f}")
        _add(_add(icon, "Icon"), "href", file)
        _add(icon, "hotSpot", x="0.5", y="0.5", xunits="fraction", yunits="fraction")
    else:
        _add(icon, "color", kml_color(style.ink.light))
        _add(icon, "scale", "0.8")
    _add(_add(element, "LabelStyle"), "scale", "0.8" if is_labelled else "0")
    return style_id


def kml_color(color: str, opacity: float = 1.0) -> str:
    """Return a colour as KML writes it: opacity, blue, green, red.

    Parameters
    ----------
    color : str
        ``#rrggbb``.
    opacity : float, default 1
        0 clear to 1 solid.

    Returns
    -------
    str

    Examples
    --------
    >>> kml_color("#102030", 0.5)
    '80302010'
    """
    return f"{round(255 * opacity):02x}{color[5:7]}{color[3:5]}{color[1:3]}"


def _cells(frame: pd.DataFrame) -> Iterator[tuple[str, list[str]]]:
    """Return the columns of a layer as plain texts; empty where a cell is."""
    fields = flatten_fields(frame, finite=True)
    for name, values, nulls in zip(*fields, strict=True):
        cells = values.tolist()
        if values.dtype.kind == "f":
            yield name, ["" if value != value else f"{value:.6g}" for value in cells]  # noqa: PLR0124
            continue
        gone = np.zeros(len(cells), dtype=bool) if nulls is None else nulls
        yield (
            plain_text(name),
            [
                "" if null else plain_text(value, longest=_LONGEST_CELL)
                for value, null in zip(cells, gone.tolist(), strict=True)
            ],
        )


def _add_placemark(
    folder: ET.Element,
    name: str,
    style_id: str,
    shape: Any,
    *,
    values: Sequence[tuple[str, str]],
    is_shown: bool = True,
) -> None:
    placemark = _add(folder, "Placemark")
    _add(placemark, "name", name)
    _add(placemark, "visibility", "1" if is_shown else "0")
    _add(placemark, "Snippet", maxLines="0")
    _add(placemark, "description", describe_row(values))
    _add(placemark, "styleUrl", f"#{style_id}")
    data = _add(placemark, "ExtendedData")
    for column, text in values:
        _add(_add(data, "Data", name=column), "value", text)
    _add_geometry(placemark, shape)


def describe_row(values: Sequence[tuple[str, str]]) -> str:
    """Return the balloon of a placemark as HTML; field text stays text.

    Parameters
    ----------
    values : sequence of (str, str)
        Columns and their cells. Lengths are given in metres and feet.

    Returns
    -------
    str
        A table, and the caution.

    Examples
    --------
    >>> describe_row([("depth_m", "0.3")]).split("</table>")[0]
    '<table><tr><td>depth</td><td>0.30 m (0.98 ft)</td></tr>'
    """
    rows = "".join(
        f"<tr><td>{_escape(_title(column))}</td><td>{_escape(_value(column, text))}</td></tr>"
        for column, text in values
        if column not in {"advisory", "advisory_only"}
    )
    return f"<table>{rows}</table><p>{_escape(CAUTION)}</p>"


def _escape(text: str) -> str:
    """Return a text as HTML in which a globe finds neither markup nor a field to fill in."""
    return html.escape(text).replace("$[", "&#36;[")


def _title(column: str) -> str:
    return column.removesuffix("_m").replace("_", " ")


def _value(column: str, text: str) -> str:
    if not column.endswith("_m"):
        return text
    try:
        return _length_text(float(text))
    except ValueError:
        return text


def _length_text(length_m: float) -> str:
    return f"{length_m:.2f} m ({length_m / METRES_PER_UNIT['ft']:.2f} ft)"


def _add_geometry(parent: ET.Element, shape: Any) -> None:
    """Add a geometry in plan, clamped to the ground; several parts as one multi-geometry."""
    import shapely

    parts = shapely.get_parts(shape)
    if len(parts) > 1:
        parent = _add(parent, "MultiGeometry")
    for part in parts:
        if part.geom_type == "Point":
            _add(_add(parent, "Point"), "coordinates", _tuples(part))
        elif part.geom_type == "LineString":
            line = _add(parent, "LineString")
            _add(line, "tessellate", "1")
            _add(line, "coordinates", _tuples(part))
        else:
            polygon = _add(parent, "Polygon")
            _add(polygon, "tessellate", "1")
            rings = (("outerBoundaryIs", part.exterior),
                     *(("innerBoundaryIs", ring) for ring in part.interiors))  # fmt: skip
            for name, ring in rings:
                element = _add(_add(polygon, name), "LinearRing")
                _add(element, "coordinates", _tuples(ring))


def _tuples(part: Any) -> str:
    import shapely

    return " ".join(f"{lon:.7f},{lat:.7f}" for lon, lat in shapely.get_coordinates(part).tolist())
