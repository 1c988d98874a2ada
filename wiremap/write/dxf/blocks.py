"""Devices, control points and depth readings as blocks with attributes."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from wiremap.draw.styles import STYLES, SYMBOLS
from wiremap.write.dxf.captions import LEADING, Caption
from wiremap.write.dxf.sheet import Sheet, escape_text

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    import pandas as pd

NORMAL_95 = 1.96
"""Standard deviations on each side that hold 95 % of a normal distribution."""

SYMBOL_SIZE = 0.9
"""Half width of a symbol, in text heights. Project choice: as high as two lines of text."""


class Device(NamedTuple):
    """How one layer of points becomes blocks.

    Attributes
    ----------
    layer : str
        Layer of the as-built.
    drawn_on : str
        Field of `CadLayers` that names the drawing layer.
    shown : tuple of str
        Attributes that are seen, from the top down.
    hidden : tuple of str
        Attributes that only a data extraction finds.
    rank : int
        Whose attributes are given a clear place first: the lower ones.
    """

    layer: str
    drawn_on: str
    shown: tuple[str, ...]
    hidden: tuple[str, ...] = ()
    rank: int = 5


DEVICES = (
    Device("references", "control", ("reference",), ("kind", "rms", "x", "y", "elevation_m")),
    Device("equipment", "equipment", ("label",), ("kind", "position_rms_m", "last_date")),
    Device(
        "splices", "splices", ("splice", "depth"),
        ("run", "box", "position_rms_m", "last_date"), 3,
    ),
    Device(
        "faults", "faults", ("fault", "kind", "status"),
        ("run", "chainage_m", "chainage_low_m", "chainage_high_m", "confidence",
         "position_rms_m", "last_date"),
        rank=0,
    ),
    Device("controllers", "controllers", ("controller",), ("position_rms_m", "last_date"), 1),
    Device(
        "valves", "valves", ("valve", "zone", "depth"),
        ("controller", "run", "box", "zone_status", "position_rms_m", "last_date"), 2,
    ),
)  # fmt: skip
"""Layers drawn as blocks, from the bottom up."""

_READING, _RING = "WIREMAP_DEPTH", 0.15

THROUGH = ", computed through a building"
"""What is said of a tie that no tape reaches along."""

_TIED = {"splices": "splice", "faults": "fault", "controllers": "controller", "valves": "valve"}
_TIE_TAGS = ("tie_a", "tie_b", "tie_side", "tie_source")


def add_blocks(drawing: Any, *, height: float) -> None:
    """Define every block of the drawing.

    Parameters
    ----------
    drawing : Drawing
    height : float
        Text height in drawing units.
    """
    for device in DEVICES:
        for kind in ("", *_kinds(device)):
            _add_block(drawing, device, height, kind=kind)
    ring = drawing.blocks.new(_READING)
    ring.add_circle((0, 0), radius=_RING * height, dxfattribs={"layer": "0"})


def _kinds(device: Device) -> tuple[str, ...]:
    """Return the kinds of a layer that have symbols of their own."""
    return tuple(STYLES[device.layer].kinds) if device.layer in {"equipment", "faults"} else ()


def _block_name(layer: str, kind: str = "") -> str:
    return f"WIREMAP_{kind or layer}".upper()


def _add_block(drawing: Any, device: Device, height: float, *, kind: str = "") -> None:
    """Define one block: the symbol of its style, its letters, and its attributes."""
    style = STYLES[device.layer].of(kind)
    block = drawing.blocks.new(_block_name(device.layer, kind))
    radius = SYMBOL_SIZE * height
    corners = SYMBOLS[style.symbol]
    if corners:
        points = np.array(corners) * [radius, -radius]
        block.add_lwpolyline(points, close=True, dxfattribs={"layer": "0"})
    else:
        block.add_circle((0, 0), radius=radius, dxfattribs={"layer": "0"})
    if style.code:
        from ezdxf.enums import TextEntityAlignment

        letters = block.add_text(style.code, height=0.6 * height, dxfattribs={"layer": "0"})
        letters.set_placement((0, 0), align=TextEntityAlignment.MIDDLE_CENTER)
    _add_tags(block, device, height)


def _add_tags(block: Any, device: Device, height: float) -> None:
    """Define the attributes of a block: those seen stand beside it, one below the other."""
    from ezdxf.enums import TextEntityAlignment

    step = LEADING * height
    x = 1.5 * SYMBOL_SIZE * height
    top = step * (len(device.shown) - 1) / 2 - height / 2
    for number, tag in enumerate(_tags(device)):
        is_shown = number < len(device.shown)
        looks = {
            "layer": "0",
            "flags": 0 if is_shown else _INVISIBLE,
            "prompt": tag.replace("_", " "),
        }
        at = (x, top - number * step if is_shown else top)
        attribute = block.add_attdef(tag.upper(), height=height, dxfattribs=looks)
        attribute.set_placement(at, align=TextEntityAlignment.LEFT)


_INVISIBLE = 1  # bit of the attribute's flags (DXF reference, ATTRIB group 70)


def _tags(device: Device) -> tuple[str, ...]:
    return device.shown + device.hidden + (_TIE_TAGS if device.layer in _TIED else ())


def insert_devices(sheet: Sheet, layers: Mapping[str, pd.DataFrame]) -> list[Caption]:
    """Insert a block for each device and control point.

    Parameters
    ----------
    sheet : Sheet
    layers : mapping of str to DataFrame

    Returns
    -------
    list of Caption
        What is seen beside each.
    """
    captions = []
    ties = _tie_texts(sheet, layers["ties"])
    for device in DEVICES:
        frame = layers[device.layer]
        names = _blocks_of(frame, device)
        cells = _cells(sheet, frame, device)
        if device.layer in _TIED:
            column = frame[_TIED[device.layer]].astype(object).tolist()
            found = [ties.get((device.layer, str(name)), ("",) * len(_TIE_TAGS)) for name in column]
            cells |= dict(zip(_TIE_TAGS, zip(*found, strict=True), strict=True)) if found else {}
        captions += _insert(sheet, frame, names, cells, device)
    return captions


def insert_readings(sheet: Sheet, readings: pd.DataFrame) -> list[Caption]:
    """Draw a small ring for each depth reading, with the depth as text to its left.

    Text, not attributes: a property may have tens of thousands of readings.

    Parameters
    ----------
    sheet : Sheet
    readings : GeoDataFrame, layer ``depth_readings``

    Returns
    -------
    list of Caption
        The depths.
    """
    from ezdxf.enums import TextEntityAlignment

    attributes = {"layer": sheet.names.depths}
    runs = readings["run"].astype(object).tolist()
    captions = []
    rows = zip(*_places(readings), _depth_texts(readings, sheet), runs, strict=True)
    for x, y, text, run in rows:
        if not text or x != x:  # noqa: PLR0124 - NaN: no position
            continue
        sheet.space.add_blockref(_READING, (x, y), dxfattribs=attributes)
        words = sheet.space.add_text(text, height=0.5 * sheet.height, dxfattribs=attributes)
        at = (x - 0.4 * sheet.height, y - 0.25 * sheet.height)
        words.set_placement(at, align=TextEntityAlignment.RIGHT)
        ring, half = _RING * sheet.height, 0.5 * sheet.height
        captions.append(Caption((words,), (x, y), half, ring, rank=9, owner=str(run), rings=7))
    return captions


def _places(frame: pd.DataFrame) -> tuple[list[float], list[float]]:
    """Return x and y of each row; NaN where it has no place."""
    import shapely

    points = np.asarray(frame["geometry"].array, dtype=object)
    return shapely.get_x(points).tolist(), shapely.get_y(points).tolist()


def _blocks_of(frame: pd.DataFrame, device: Device) -> list[str]:
    """Return the block of each row: its kind's, else its layer's."""
    known = set(_kinds(device))
    if not known:
        return [_block_name(device.layer)] * len(frame)
    return [
        _block_name(device.layer, kind if kind in known else "")
        for kind in frame["kind"].astype(object).tolist()
    ]


def _insert(
    sheet: Sheet,
    frame: pd.DataFrame,
    names: Sequence[str],
    cells: Mapping[str, Sequence[str]],
    device: Device,
) -> list[Caption]:
    """Insert the blocks of one layer and return the captions beside them."""
    layer = getattr(sheet.names, device.drawn_on)
    captions = []
    tags = [tag.upper() for tag in cells]
    rows = zip(*cells.values(), strict=True)
    for name, x, y, row in zip(names, *_places(frame), rows, strict=True):
        if x != x:  # noqa: PLR0124 - NaN: no position
            continue
        block = sheet.space.add_blockref(name, (x, y), dxfattribs={"layer": layer})
        block.add_auto_attribs(dict(zip(tags, row, strict=True)))
        for attribute in block.attribs:
            attribute.dxf.layer = layer
        seen = tuple(a for a in block.attribs if a.dxf.text and not a.is_invisible)
        half = SYMBOL_SIZE * sheet.height
        captions.append(Caption(seen, (x, y), sheet.height, half, device.rank))
    return captions


def _cells(sheet: Sheet, frame: pd.DataFrame, device: Device) -> dict[str, Sequence[str]]:
    """Return the texts of a layer's attributes, by tag."""
    return {tag: _texts(sheet, frame, tag) for tag in device.shown + device.hidden}


def _texts(sheet: Sheet, frame: pd.DataFrame, tag: str) -> list[str]:
    if tag == "depth":
        return _depth_texts(frame, sheet, unit=f" {sheet.unit}")
    if tag in {"x", "y"}:
        values = getattr(frame.geometry, tag) if len(frame) else []
        return [f"{value:.3f}" for value in values]
    if tag not in frame:
        return [""] * len(frame)
    values = frame[tag].tolist()
    if tag == "rms" or tag.endswith("_m"):
        numbers = frame[tag].to_numpy(dtype=float, na_value=np.nan)
        return [sheet.length(value) for value in numbers.tolist()]
    if tag == "zone":
        return [f"zone {text}" if (text := escape_text(value)) else "" for value in values]
    if tag == "kind":
        return [escape_text(value).replace("_", " ") for value in values]
    return [escape_text(value) for value in values]


def _depth_texts(frame: pd.DataFrame, sheet: Sheet, *, unit: str = "") -> list[str]:
    """Return depths with the half widths of their 95 % intervals; empty where not known."""
    depth = frame["depth_m"].to_numpy(dtype=float, na_value=np.nan) / sheet.metres
    sigma = frame["depth_sigma_m"].to_numpy(dtype=float, na_value=np.nan) / sheet.metres
    texts = []
    for value, half in zip(depth.tolist(), (NORMAL_95 * sigma).tolist(), strict=True):
        known = f"{value:.2f}\u00b1{half:.2f}" if np.isfinite(half) else f"{value:.2f}"
        texts.append(f"{known}{unit}" if np.isfinite(value) else "")
    return texts


def _tie_texts(sheet: Sheet, ties: pd.DataFrame) -> dict[tuple[str, str], tuple[str, ...]]:
    """Return the texts of the tie attributes by layer and name of the feature."""
    texts: dict[tuple[str, str], tuple[str, ...]] = {}
    columns = ("layer", "feature_id", "reference_a", "distance_a_m", "blocked_a", "reference_b",
               "distance_b_m", "blocked_b", "side", "source")  # fmt: skip
    rows = zip(*(ties[name].astype(object).tolist() for name in columns), strict=True)
    for layer, name, a, a_m, a_hidden, b, b_m, b_hidden, side, source in rows:
        texts[str(layer), str(name)] = (
            escape_text(f"{sheet.length(a_m)} from {a}{THROUGH if a_hidden is True else ''}"),
            escape_text(f"{sheet.length(b_m)} from {b}{THROUGH if b_hidden is True else ''}"),
            escape_text(side),
            escape_text(source),
        )
    return texts
