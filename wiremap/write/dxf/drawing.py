"""The DXF writer: opens the drawing, has every part drawn, audits and saves it."""

from __future__ import annotations

from importlib.util import find_spec
from typing import TYPE_CHECKING, Any

import numpy as np

from wiremap.draw.backdrop import sort_base
from wiremap.draw.styles import BASE_STYLES, STYLES, wire_ink
from wiremap.errors import MissingExtraError, WriteError
from wiremap.model.settings import CadLayers
from wiremap.model.tables import LAYERS
from wiremap.model.units import METRES_PER_UNIT
from wiremap.plugins import Writer
from wiremap.write.dxf.blocks import THROUGH, add_blocks, insert_devices, insert_readings
from wiremap.write.dxf.captions import Caption, settle_captions
from wiremap.write.dxf.notes import add_notes
from wiremap.write.dxf.saving import save_drawing
from wiremap.write.dxf.sheet import Sheet, draw_shapes, draw_text
from wiremap.write.plain_text import plain_text
from wiremap.write.stretches import inferred_stretches, shallow_stretches

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping
    from pathlib import Path

    import pandas as pd
    from numpy.typing import NDArray

    from wiremap.model.frame import Frame
    from wiremap.model.settings import Settings

UNIT_CODES = {METRES_PER_UNIT[unit]: code for unit, code in (("m", 6), ("ft", 2), ("ftus", 21))}
"""$INSUNITS by metres in one unit: metre, international foot, US survey foot (DXF reference,
header variables). Any other unit is written as 0, unitless, and its size stands in the notes."""

UNIT_NAMES = {6: "m", 2: "ft", 21: "ft", 0: "units"}
"""Unit of the lengths in labels; which foot it is stands in the notes."""

_SAME_UNIT = 1e-8  # the two feet differ by 2e-6
_DASH = "WIREMAP_DASH"
_DASHED = ("dig_buffer", "shallow", "base_property")
_OFF = ("ties", "wires_3d")
_COLORS = {
    "wires": STYLES["wire_runs"].ink.light,
    "wires_3d": STYLES["wire_runs"].ink.light,
    "inferred": "#c8c2b4",
    "shallow": STYLES["hand_dig"].ink.light,
    "faults": STYLES["faults"].ink.light,
    "depths": STYLES["depth_readings"].ink.light,
    "dig_buffer": STYLES["dig_buffer"].ink.light,
    **{f"base_{kind}": style.ink.light for kind, style in BASE_STYLES.items()},
}  # the rest is black on paper and white on a dark screen, as CAD draws colour 7


def write_dxf(
    layers: Mapping[str, pd.DataFrame], target: Path, context: Mapping[str, Any]
) -> list[Path]:
    """Write the as-built as one DXF drawing (R2010), and its CRS as a ``.prj`` file beside it.

    Parameters
    ----------
    layers : mapping of str to DataFrame
        Layers by name, in the working CRS; any may be missing or empty.
    target : Path
        Folder to write into.
    context : mapping
        ``name``, ``slug``, ``settings`` and ``frame``; ``base`` where it is known; ``timestamp``
        where the time of writing is fixed.

    Returns
    -------
    list of Path
        ``<slug>.dxf`` and ``<slug>.prj``. Coordinates are those of the working CRS, heights are
        in the same unit.

    Raises
    ------
    MissingExtraError
        ezdxf is not installed.
    WriteError
        The drawing failed the auditor.
    RuntimeError
        From PROJ, where the CRS cannot be said in a ``.prj`` file.
    OSError
        A file cannot be written.
    """
    if find_spec("ezdxf") is None:
        raise MissingExtraError("ezdxf", "dxf")
    settings, frame = context["settings"], context["frame"]
    known = {t.name: layers[t.name] if t.name in layers else t.empty() for t in LAYERS}
    drawing = _open_drawing(settings, frame)
    sheet = _sheet(drawing, settings, frame)
    base = sort_base(context.get("base") or {})
    for kind, rows in base:
        draw_shapes(sheet, _shapes(rows), layer=getattr(sheet.names, f"base_{kind}"))
    draw_shapes(sheet, _shapes(known["dig_buffer"]), layer=sheet.names.dig_buffer)
    captions = _draw_wires(sheet, known, settings)
    add_blocks(drawing, height=sheet.height)
    captions += insert_readings(sheet, known["depth_readings"])
    captions += insert_devices(sheet, known)
    settle_captions(sheet, captions, known["wire_runs"])
    _draw_ties(sheet, known)
    extent = _extent([*known.values(), *(rows for _, rows in base)])
    add_notes(sheet, known, context=context, corner=(extent[0], extent[1]))
    _set_view(drawing, extent)
    path = target / f"{context['slug']}.dxf"
    _hold_audit(drawing, path.name)
    save_drawing(drawing, path, timestamp=context.get("timestamp"))
    projection = path.with_suffix(".prj")
    projection.write_text(str(frame.crs.to_wkt("WKT1_ESRI")), encoding="utf-8")
    return [path, projection]


def unit_code(metres_per_unit: float) -> int:
    """Return the drawing unit's code for $INSUNITS.

    Parameters
    ----------
    metres_per_unit : float
        Metres in one unit of the working CRS.

    Returns
    -------
    int
        6 metre, 2 international foot, 21 US survey foot, 0 any other.

    Examples
    --------
    >>> unit_code(1.0), unit_code(0.3048), unit_code(0.304800609601219)
    (6, 2, 21)
    """
    for metres, code in UNIT_CODES.items():
        if abs(metres_per_unit / metres - 1) < _SAME_UNIT:
            return code
    return 0


def _shapes(frame: pd.DataFrame) -> NDArray[np.object_]:
    return np.asarray(frame["geometry"].array, dtype=object)


def _open_drawing(settings: Settings, frame: Frame) -> Any:
    """Return an empty drawing with its unit and layers."""
    import ezdxf

    code = unit_code(frame.metres_per_unit)
    drawing = ezdxf.new("R2010", units=code)  # type: ignore[attr-defined]
    drawing.header["$MEASUREMENT"] = 0 if UNIT_NAMES[code].startswith("ft") else 1
    drawing.header["$LUNITS"], drawing.header["$LUPREC"] = 2, 3  # decimal, thousandths
    drawing.styles.get("Standard").dxf.font = "arial.ttf"  # the stroke font has few letters
    height = settings.cad.text_height_m / frame.metres_per_unit
    drawing.linetypes.add(_DASH, pattern=[1.5 * height, height, -0.5 * height])
    for key, name in settings.cad.layers.model_dump().items():
        _add_layer(drawing, key, name)
    return drawing


def _add_layer(drawing: Any, key: str, name: str) -> None:
    """Add the drawing layer of a kind; kinds of one name share the first one's looks."""
    from ezdxf.colors import RGB

    if drawing.layers.has_entry(name):
        return
    layer = drawing.layers.add(name)
    layer.description = CadLayers.model_fields[key].description
    layer.dxf.linetype = _DASH if key in _DASHED else "Continuous"
    layer.dxf.lineweight = 50 if key == "wires" else 18
    if key in _COLORS:
        layer.rgb = RGB.from_hex(_COLORS[key])
    if key in _OFF:
        layer.off()


def _sheet(drawing: Any, settings: Settings, frame: Frame) -> Sheet:
    return Sheet(
        space=drawing.modelspace(),
        names=settings.cad.layers,
        height=settings.cad.text_height_m / frame.metres_per_unit,
        metres=frame.metres_per_unit,
        unit=UNIT_NAMES[unit_code(frame.metres_per_unit)],
    )


def _draw_wires(
    sheet: Sheet, layers: Mapping[str, pd.DataFrame], settings: Settings
) -> list[Caption]:
    """Draw each run as one polyline in plan, over the marks of its doubtful stretches.

    Returns their names, each on its wire.
    """
    segments, names = layers["wire_segments"], sheet.names
    shallow = shallow_stretches(segments, min_cover_m=settings.advisory.min_cover_m)
    inferred = inferred_stretches(segments)
    draw_shapes(sheet, shallow.lines, layer=names.shallow, width=0.8 * sheet.height)
    draw_shapes(sheet, inferred.lines, layer=names.inferred, width=0.5 * sheet.height)
    runs = layers["wire_runs"]
    columns = (runs[name].tolist() for name in ("run", "zones"))
    captions = []
    for run, zones, line in zip(*columns, _shapes(runs), strict=True):
        if line is None or line.is_empty:
            continue
        color = wire_ink(plain_text(zones)).ink.light
        draw_shapes(sheet, np.array([line]), layer=names.wires, color=color)
        _draw_in_space(sheet, line)
        text = f"{plain_text(run)}  zone {plain_text(zones) or 'not known'}"
        captions.append(_name_run(sheet, line, text, run=run))
    return captions


def _draw_in_space(sheet: Sheet, line: Any) -> None:
    """Draw a run at its own elevation, where that is known."""
    import shapely

    for part in shapely.get_parts(line):
        points = shapely.get_coordinates(part, include_z=True) / [1, 1, sheet.metres]
        if np.isfinite(points).all():
            sheet.space.add_polyline3d(points, dxfattribs={"layer": sheet.names.wires_3d})


_NAME_AT = (0.75, 0.68, 0.82, 0.6, 0.9, 0.52, 0.44, 0.36, 0.28, 0.2)
"""Where a run's name may stand, shares of its length, the best first: runs of a shared trench have
parted by then."""


def _name_run(sheet: Sheet, line: Any, text: str, *, run: str) -> Caption:
    """Write a run's name along its wire, and return it with the other places it may have."""
    import shapely

    plan = shapely.get_parts(shapely.force_2d(line))[-1]
    shares = np.array(_NAME_AT)
    before, after = (
        shapely.get_coordinates(shapely.line_interpolate_point(plan, shares + by, normalized=True))
        for by in (-0.02, 0.02)
    )
    along = after - before
    angle = np.degrees(np.arctan2(along[:, 1], along[:, 0]))
    angle = (angle + 90) % 180 - 90  # reads from below
    upright = np.radians(angle + 90)
    above = 0.8 * sheet.height * np.column_stack([np.cos(upright), np.sin(upright)])
    middle = (before + after) / 2
    spots = np.column_stack([np.vstack([middle + above, middle - above]), np.tile(angle, 2)])
    spots = spots.reshape(2, -1, 3).swapaxes(0, 1).reshape(-1, 3)  # above, then below
    entity = draw_text(
        sheet, text, at=(float(middle[0, 0]), float(middle[0, 1])), layer=sheet.names.wires,
        angle_deg=float(angle[0]),
    )  # fmt: skip
    return Caption((entity,), (0.0, 0.0), sheet.height, 0.0, rank=4, spots=spots, owner=run)


def _draw_ties(sheet: Sheet, layers: Mapping[str, pd.DataFrame]) -> None:
    """Draw each tie as two lines with their distances, on a layer that is switched off."""
    places = _places(layers)
    ties = layers["ties"]
    columns = ("layer", "feature_id", "reference_a", "distance_a_m", "blocked_a", "reference_b",
               "distance_b_m", "blocked_b")  # fmt: skip
    rows = zip(*(ties[name].astype(object).tolist() for name in columns), strict=True)
    for layer, name, *both in rows:
        end = places.get((str(layer), str(name)))
        for reference, distance_m, blocked in (both[:3], both[3:]):
            start = places.get(("references", str(reference)))
            if start is None or end is None:
                continue
            attributes = {"layer": sheet.names.ties}
            sheet.space.add_line(start, end, dxfattribs=attributes)
            middle = ((start[0] + end[0]) / 2, (start[1] + end[1]) / 2)
            text = sheet.length(distance_m) + (THROUGH if blocked is True else "")
            draw_text(sheet, text, at=middle, layer=sheet.names.ties, size=0.6)


_NAMED_BY = {
    "references": "reference",
    "controllers": "controller",
    "valves": "valve",
    "splices": "splice",
    "faults": "fault",
}


def _places(layers: Mapping[str, pd.DataFrame]) -> dict[tuple[str, str], tuple[float, float]]:
    """Return where each feature that ties join stands, by layer and name."""
    import shapely

    places = {}
    for layer, column in _NAMED_BY.items():
        points = _shapes(layers[layer])
        xy = np.stack([shapely.get_x(points), shapely.get_y(points)], axis=1).tolist()
        names = layers[layer][column].astype(object).tolist()
        for name, (x, y) in zip(names, xy, strict=True):
            if np.isfinite(x):
                places[layer, str(name)] = (x, y)
    return places


def _extent(frames: Iterable[pd.DataFrame]) -> tuple[float, float, float, float]:
    """Return the bounds of what is drawn, in drawing units; a unit square where nothing is."""
    import shapely

    shapes = np.concatenate([_shapes(frame) for frame in frames if "geometry" in frame])
    there = shapes[~(shapely.is_missing(shapes) | shapely.is_empty(shapes))]
    if not len(there):
        return (0.0, 0.0, 1.0, 1.0)
    x0, y0, x1, y1 = shapely.total_bounds(there).tolist()
    return (x0, y0, x1, y1)


def _set_view(drawing: Any, extent: tuple[float, float, float, float]) -> None:
    """Let the drawing open on what is drawn."""
    x0, y0, x1, y1 = extent
    drawing.header["$EXTMIN"], drawing.header["$EXTMAX"] = (x0, y0, 0.0), (x1, y1, 0.0)
    height = 1.4 * max(y1 - y0, 0.6 * (x1 - x0), 1.0)
    drawing.set_modelspace_vport(height, center=((x0 + x1) / 2, (y0 + y1) / 2))


def _hold_audit(drawing: Any, name: str) -> None:
    """Hold the drawing against the auditor of ezdxf."""
    audit = drawing.audit()
    found = [entry.message for entry in (*audit.errors, *audit.fixes)]
    if found:
        raise WriteError("the drawing failed its audit", path=name, value="; ".join(found[:3]))


WRITER = Writer(
    name="dxf",
    suffixes=(".dxf", ".prj"),
    write=write_dxf,
    meaning="DXF drawing in the working CRS: one layer a kind, blocks with attributes",
    default=False,
)
