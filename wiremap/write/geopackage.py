"""The as-built as one GeoPackage 1.3: every layer, its descriptions and its styles."""

from __future__ import annotations

import sqlite3
from contextlib import closing, contextmanager
from threading import Lock
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from wiremap.errors import WriteError
from wiremap.model.columns import Table
from wiremap.model.tables import LAYERS
from wiremap.plugins import Writer
from wiremap.write.arrays import flatten_fields
from wiremap.write.descriptions import describe_columns
from wiremap.write.layer_styles import add_layer_styles
from wiremap.write.metadata import add_metadata
from wiremap.write.relations import relate_valves

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping
    from pathlib import Path

    import pandas as pd
    from numpy.typing import NDArray
    from pyproj import CRS

_STAGING_CONFIG = {"OGR_SQLITE_SYNCHRONOUS": "OFF", "OGR_SQLITE_JOURNAL": "MEMORY"}
_CONFIG_LOCK = Lock()  # the options hold for the whole process
_MULTI = {"Point": "MultiPoint", "LineString": "MultiLineString", "Polygon": "MultiPolygon"}


def write_geopackage(
    layers: Mapping[str, pd.DataFrame], target: Path, context: Mapping[str, Any]
) -> list[Path]:
    """Write one GeoPackage with every layer of an as-built.

    Parameters
    ----------
    layers : mapping of str to DataFrame
        Layers by name, in the working CRS. A declared layer that is missing is written empty;
        further layers are written behind the declared ones.
    target : Path
        Folder to write into, new and on a local disk: nothing is flushed here.
    context : mapping
        ``slug`` names the file and ``frame`` gives the CRS of empty layers. ``timestamp``
        (ISO 8601), where given, stands for the time of writing, so that equal layers give
        equal bytes.

    Returns
    -------
    list of Path
        The one file.

    Raises
    ------
    WriteError
        The package failed its verification.
    RuntimeError, OSError, sqlite3.Error
        From GDAL, the file system or SQLite.
    """
    path = target / f"{context['slug']}.gpkg"
    timestamp = context.get("timestamp")
    config = _STAGING_CONFIG | ({"OGR_CURRENT_DATE": timestamp} if timestamp else {})
    crs = _crs_text(context["frame"].crs)
    tables = {t.name: t for t in LAYERS}
    extra = {name: _undeclared(name, frame) for name, frame in layers.items() if name not in tables}
    with _gdal_config(config):
        for number, table in enumerate((tables | extra).values()):
            frame = layers[table.name] if table.name in layers else table.empty()
            _write_layer(path, table, frame, crs=crs, is_first=number == 0)
    with closing(sqlite3.connect(path, isolation_level=None)) as db:
        db.execute("PRAGMA synchronous = OFF")
        db.execute("PRAGMA journal_mode = MEMORY")
        db.execute("BEGIN")
        describe_columns(db, tables)
        add_metadata(db, context, timestamp=timestamp)
        relate_valves(db)
        add_layer_styles(
            db, min_cover_m=context["settings"].advisory.min_cover_m, timestamp=timestamp
        )
        db.execute("COMMIT")
        _verify(db, path.name, {t: len(layers.get(t, ())) for t in (*tables, *extra)})
    return [path]


def _verify(db: sqlite3.Connection, name: str, counts: Mapping[str, int]) -> None:
    """Hold the package against SQLite's own checks and the number of rows of each layer."""
    faults = [str(row[0]) for row in db.execute("PRAGMA integrity_check(5)") if row[0] != "ok"]
    faults += [f"foreign key of {row[0]}" for row in db.execute("PRAGMA foreign_key_check")]
    for layer, expected in counts.items():
        quoted = layer.replace('"', '""')
        (count,) = db.execute(f'SELECT count(*) FROM "{quoted}"').fetchone()  # noqa: S608 - quoted
        if count != expected:
            faults.append(f"{layer} holds {count} rows of {expected}")
    if faults:
        raise WriteError(
            "the written package failed its verification",
            path=name,
            value="; ".join(faults),
            remedy="see that the disk has room; nothing was replaced",
        )


class Shapes(NamedTuple):
    """Geometries of a layer as WKB of one dimension, and their type's name."""

    wkb: NDArray[np.object_]
    type_name: str


def encode_geometries(geometries: NDArray[np.object_], declared: str) -> Shapes:
    """Return geometries as WKB of one type and one dimension, as a GeoPackage layer needs.

    Parameters
    ----------
    geometries : array of object
        Shapely geometries; None or empty gives None.
    declared : str
        Geometry type of the layer: ``Point``, ``LineString`` or ``Polygon``.

    Returns
    -------
    Shapes
        With Z only where every geometry carries one: no height is made up. M is dropped. The
        type is the multi form where a geometry has several parts.
    """
    import shapely

    shaped = ~(shapely.is_missing(geometries) | shapely.is_empty(geometries))
    has_z = bool(shaped.any() and shapely.has_z(geometries[shaped]).all())
    wkb = np.full(len(geometries), None, dtype=object)
    is_multi = bool((shapely.get_type_id(geometries[shaped]) >= _FIRST_MULTI_TYPE).any())
    if is_multi:
        geometries = _as_multi(geometries, shaped)
    wkb[shaped] = shapely.to_wkb(geometries[shaped], output_dimension=3 if has_z else 2)
    name = _MULTI[declared] if is_multi else declared
    return Shapes(wkb, f"{name} Z" if has_z else name)


_FIRST_MULTI_TYPE = 4  # shapely's number for MultiPoint; the single types come before it


def _as_multi(geometries: NDArray[np.object_], shaped: NDArray[np.bool_]) -> NDArray[np.object_]:
    """Return the geometries with single ones wrapped into their multi type."""
    import shapely

    makers = {0: shapely.multipoints, 1: shapely.multilinestrings, 3: shapely.multipolygons}
    multi = geometries.copy()
    types = shapely.get_type_id(geometries)
    for number, make in makers.items():
        single = np.flatnonzero(shaped & (types == number))
        multi[single] = make(geometries[single], indices=np.arange(len(single)))
    return multi


def _undeclared(name: str, frame: pd.DataFrame) -> Table:
    """Return a table for a layer that the model does not declare."""
    if "geometry" not in frame:
        return Table(name, None, "", ())
    types = set(frame.geometry.dropna().geom_type.str.removeprefix("Multi"))
    geometry: Any = types.pop() if len(types) == 1 else "Unknown"
    return Table(name, geometry, "", ())


def _crs_text(crs: CRS) -> str:
    """Return a CRS as GDAL takes it: its authority code where it has one."""
    code = crs.to_epsg()
    return f"EPSG:{code}" if code else str(crs.to_wkt("WKT1_GDAL"))


@contextmanager
def _gdal_config(options: Mapping[str, str]) -> Iterator[None]:
    """Set GDAL options for a while and put the former ones back; one thread at a time."""
    import pyogrio

    with _CONFIG_LOCK:
        former = {name: pyogrio.get_gdal_config_option(name) for name in options}
        pyogrio.set_gdal_config_options(dict(options))
        try:
            yield
        finally:
            pyogrio.set_gdal_config_options(former)


def _write_layer(
    path: Path, table: Table, frame: pd.DataFrame, *, crs: str, is_first: bool
) -> None:
    """Write one layer behind those already in the package."""
    from pyogrio.raw import write

    fields = flatten_fields(frame)
    shapes = None
    if table.geometry is not None:
        geometries = np.asarray(frame["geometry"].array, dtype=object)
        shapes = encode_geometries(geometries, table.geometry)
    write(
        str(path),
        shapes.wkb if shapes else None,
        fields.values,
        fields.names,
        field_mask=fields.nulls,
        layer=table.name,
        driver="GPKG",
        geometry_type=shapes.type_name if shapes else None,
        crs=crs if shapes else None,
        dataset_options={"VERSION": "1.3"} if is_first else None,
        layer_options={"DESCRIPTION": table.meaning, "IDENTIFIER": table.name},
    )


WRITER = Writer(
    name="geopackage",
    suffixes=(".gpkg",),
    write=write_geopackage,
    meaning="GeoPackage 1.3 with every layer, styled for a desktop GIS",
)
