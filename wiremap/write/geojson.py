"""The as-built as GeoJSON (RFC 7946): one file a layer, in longitude and latitude.

Cells become JSON a column at a time and rows are put together from a template, which takes a
fraction of the time that a general driver takes for each cell.
"""

from __future__ import annotations

import json
import warnings
from itertools import islice, repeat
from typing import TYPE_CHECKING, Any

import numpy as np

from wiremap.model.season_tables import KEPT
from wiremap.model.tables import LAYERS
from wiremap.plugins import Writer
from wiremap.write.arrays import flatten_fields

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping
    from pathlib import Path

    import pandas as pd
    from numpy.typing import NDArray
    from pyproj import Transformer

    from wiremap.model.frame import Frame

DEGREE_DECIMALS = 7
"""Decimals of longitude and latitude: 1e-7 degrees is 11 mm of latitude (RFC 7946, 11.2)."""

HEIGHT_DECIMALS = 3
"""Decimals of a height: millimetres."""

_LINES_AND_AREAS = (1, 3, 5, 6)  # shapely's numbers of the types
_AREAS = (3, 6)
_ROWS_AT_ONCE = 10_000
_encode = json.JSONEncoder(ensure_ascii=False).encode
_encode_lines = json.JSONEncoder(ensure_ascii=False, separators=("\n", ": ")).encode


def write_geojson(
    layers: Mapping[str, pd.DataFrame], target: Path, context: Mapping[str, Any]
) -> list[Path]:
    """Write a folder ``geojson`` with one file a layer.

    Parameters
    ----------
    layers : mapping of str to DataFrame
        Layers by name, in the working CRS. A declared layer that is missing is written empty.
        Tables without positions are features with a null geometry; missing and infinite numbers
        are null. Table ``inputs`` is left to the package, which alone is amended.
    target : Path
        Folder to write into.
    context : mapping
        ``frame`` gives the working CRS.

    Returns
    -------
    list of Path
        One file a layer.

    Raises
    ------
    OSError
        A file cannot be written.
    RuntimeError
        From PROJ, where no operation leads from the working CRS to WGS 84.

    References
    ----------
    RFC 7946, The GeoJSON Format, sections 3.1.6 (rings), 3.1.9 (antimeridian), 4 (CRS) and 11.2
    (precision).
    """
    folder = target / "geojson"
    folder.mkdir()
    frames = {t.name: layers[t.name] if t.name in layers else t.empty() for t in LAYERS}
    frames |= {name: frame for name, frame in layers.items() if name not in frames}
    del frames[KEPT.name]
    shapes = _geographic(frames, context["frame"])
    return [_write_file(folder, name, frames[name], shapes.get(name)) for name in frames]


def _geographic(frames: Mapping[str, pd.DataFrame], frame: Frame) -> dict[str, NDArray[np.object_]]:
    """Return the geometries of all layers in longitude and latitude, transformed at one go."""
    arrays = {
        name: np.asarray(layer["geometry"].array, dtype=object)
        for name, layer in frames.items()
        if "geometry" in layer
    }
    stacked = np.concatenate([np.empty(0, dtype=object), *arrays.values()])
    moved = to_degrees(stacked, find_operation(frame))
    ends = np.cumsum([len(a) for a in arrays.values()])
    return dict(zip(arrays, np.split(moved, ends[:-1]), strict=True))


def to_degrees(geometries: NDArray[np.object_], operation: Transformer) -> NDArray[np.object_]:
    """Return geometries in longitude and latitude as RFC 7946 wants them.

    Parameters
    ----------
    geometries : array of object
        Shapely geometries; None and empty ones become None. Heights stay as they are, M is
        dropped.
    operation : Transformer
        From their CRS to longitude and latitude.

    Returns
    -------
    array of object
        Rounded, outer rings counter-clockwise, cut where they cross the antimeridian.
    """
    import shapely

    moved = geometries.copy()
    moved[shapely.is_missing(moved) | shapely.is_empty(moved)] = None
    has_m = shapely.has_m(moved)
    moved[has_m] = shapely.from_wkb(shapely.to_wkb(moved[has_m], output_dimension=3))
    has_z = shapely.has_z(moved)
    for chosen, include_z in ((has_z, True), (~has_z, False)):
        moved[chosen] = shapely.transform(
            moved[chosen],
            lambda x, y, *z: (
                *np.round(operation.transform(x, y), DEGREE_DECIMALS),
                *(np.round(part, HEIGHT_DECIMALS) for part in z),
            ),
            include_z=include_z,
            interleaved=False,
        )
    bounds = shapely.bounds(moved)
    is_wide = bounds[:, 2] - bounds[:, 0] > 180  # noqa: PLR2004 - degrees
    for i in np.flatnonzero(is_wide & np.isin(shapely.get_type_id(moved), _LINES_AND_AREAS)):
        moved[i] = _cut(moved[i])
    is_area = np.isin(shapely.get_type_id(moved), _AREAS)
    distinct = shapely.remove_repeated_points(moved[is_area])  # rounding may make two alike
    moved[is_area] = shapely.orient_polygons(distinct)
    return moved


def _cut(geometry: Any) -> Any:
    """Return a line or area cut at the antimeridian into flat parts on either side."""
    import shapely

    eastward = shapely.transform(
        geometry, lambda x, y: (np.where(x < 0, x + 360, x), y), interleaved=False
    )
    eastward = shapely.make_valid(eastward)
    west = shapely.intersection(eastward, shapely.box(0, -90, 180, 90))
    east = shapely.intersection(eastward, shapely.box(180, -90, 360, 90))
    back = shapely.transform(east, lambda x, y: (x - 360, y), interleaved=False)
    parts = shapely.get_parts([west, back])
    areas = parts[shapely.get_dimensions(parts) == 2]  # noqa: PLR2004 - areas have two
    if len(areas):
        return shapely.multipolygons(areas)
    return shapely.multilinestrings(parts[shapely.get_dimensions(parts) == 1])


def find_operation(frame: Frame) -> Transformer:
    """Return the operation from the working CRS to WGS 84 longitude and latitude.

    Parameters
    ----------
    frame : Frame
        Working frame; where it names the operation that placed the data, its inverse is taken,
        so that a position given in longitude and latitude comes out as it went in.

    Returns
    -------
    Transformer
        In longitude, latitude order; the best at the middle of the property where the frame
        names none.
    """
    from pyproj.transformer import AreaOfInterest, TransformerGroup

    lon, lat = frame.lon_deg, frame.lat_deg
    area = None
    if np.isfinite(lon) and np.isfinite(lat):
        area = AreaOfInterest(lon - 0.01, lat - 0.01, lon + 0.01, lat + 0.01)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", UserWarning)  # grids that are missing offline
        group = TransformerGroup(frame.crs, "EPSG:4326", always_xy=True, area_of_interest=area)
    wanted = _steps(frame.transformation)
    named = (t for t in group.transformers if _steps(t.description) == wanted)
    return next(named, group.transformers[0])


def _steps(operation: str) -> frozenset[str]:
    """Return the steps that an operation and its inverse have in common, by name."""
    return frozenset(part.strip().removeprefix("Inverse of ") for part in operation.split(" + "))


def _write_file(
    folder: Path, name: str, frame: pd.DataFrame, shapes: NDArray[np.object_] | None
) -> Path:
    """Write one layer as a feature collection, one feature a line."""
    path = folder / f"{name}.geojson"
    template, columns = _lay_out(frame, shapes)
    rows: Iterator[str] = repeat(template, len(frame))
    if columns:
        rows = map(template.__mod__, zip(*columns, strict=True))
    with path.open("w", encoding="utf-8", newline="\n") as file:
        file.write(f'{{"type": "FeatureCollection", "name": {_encode(name)}, "features": [\n')
        between = ""
        while block := list(islice(rows, _ROWS_AT_ONCE)):
            file.write(between + ",\n".join(block))
            between = ",\n"
        file.write("\n]}\n")
    return path


def _lay_out(
    frame: pd.DataFrame, shapes: NDArray[np.object_] | None
) -> tuple[str, list[list[str]]]:
    """Return the text of a feature with gaps, and for each gap the texts of all rows.

    A column whose cells are all null leaves no gap: it stands in the template.
    """
    import shapely

    fields = flatten_fields(frame, finite=True)
    members, columns = [], []
    for name, value, null in zip(*fields, strict=True):
        cells = encode_cells(value, null)
        members.append(f"{_encode(name).replace('%', '%%')}: {'null' if cells is None else '%s'}")
        columns += [] if cells is None else [cells]
    geometry = "null"
    if shapes is not None and not shapely.is_missing(shapes).all():
        geometry = "%s"
        columns.append([text or "null" for text in shapely.to_geojson(shapes).tolist()])
    properties = ", ".join(members)
    template = f'{{"type": "Feature", "properties": {{{properties}}}, "geometry": {geometry}}}'
    return (template if columns else template.replace("%%", "%")), columns


def encode_cells(value: NDArray[np.generic], null: NDArray[np.bool_] | None) -> list[str] | None:
    """Return the cells of a column as JSON; None where all are null.

    Parameters
    ----------
    value : array
        Numbers (NaN is null, none is infinite), flags, or objects that are text or None.
    null : array of bool, optional
        Which cells are null.

    Returns
    -------
    list of str or None

    Examples
    --------
    >>> encode_cells(np.array([0.1, np.nan]), None)
    ['0.1', 'null']
    """
    if value.dtype == object:
        return _encode_text(value)
    if value.dtype.kind == "f":
        null = np.isnan(value)
    if not len(value) or (null is not None and null.all()):
        return None
    texts = _split_cells(value.tolist())
    if null is not None:
        for i in np.flatnonzero(null):
            texts[i] = "null"
    return texts


def _split_cells(values: list[Any]) -> list[str]:
    """Return each value as JSON, all encoded at one go: JSON never holds a bare line break."""
    return _encode_lines(values)[1:-1].split("\n")


def _encode_text(value: NDArray[np.generic]) -> list[str] | None:
    """Return text cells as JSON; each distinct text is encoded once."""
    import pandas as pd

    codes, distinct = pd.factorize(value)
    if not len(distinct):
        return None
    texts = np.array([*_split_cells(distinct.tolist()), "null"], dtype=object)
    cells: list[str] = texts[codes].tolist()
    return cells


WRITER = Writer(
    name="geojson",
    suffixes=(".geojson",),
    write=write_geojson,
    meaning="GeoJSON (RFC 7946), one file a layer, in a folder geojson",
)
