"""Readers of GeoJSON, GeoPackage and Shapefile."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiremap.errors import ReadError
from wiremap.plugins import FileOptions, RawTable, Reader
from wiremap.read.layers import list_layers, read_layer, require_start
from wiremap.read.package_guard import guard_package
from wiremap.read.vertices import tabulate_layer

if TYPE_CHECKING:
    from pathlib import Path

_STARTS = {
    "GeoJSON": (b"{",),
    "GeoPackage": (b"SQLite format 3\x00",),
    "Shapefile": (b"\x00\x00\x27\x0a",),
}
_LOCATE_COLUMNS = ("point", "feature")


def _read(path: Path, options: FileOptions, *, kind: str) -> list[RawTable]:
    require_start(path, _STARTS[kind], kind)
    if kind == "GeoPackage":
        guard_package(path)
    tables = []
    for name, geometry_type in list_layers(path):
        if name == "layer_styles":
            continue
        layer = read_layer(path, name, encoding=options.encoding)
        named = {str(column).strip().lower() for column in layer.frame.columns}
        if geometry_type is None and not named.intersection(_LOCATE_COLUMNS):
            continue
        tables.append(tabulate_layer(layer, crs=options.crs))
    if not tables:
        raise ReadError("holds no layer with positions", path=path.name)
    return tables


def read_geojson(path: Path, options: FileOptions) -> list[RawTable]:
    """Read a GeoJSON file.

    Parameters
    ----------
    path : Path
        The file.
    options : FileOptions
        ``crs`` stands in place of the file's own.

    Returns
    -------
    list of RawTable
        One table.

    Raises
    ------
    ReadError
        The file is not GeoJSON, is nested too deep, or holds nothing.
    """
    return _read(path, options, kind="GeoJSON")


def read_geopackage(path: Path, options: FileOptions) -> list[RawTable]:
    """Read every feature layer of a GeoPackage, and tables that look like locates.

    Parameters
    ----------
    path : Path
        The file; it is opened read-only.
    options : FileOptions
        ``crs`` stands in place of the layers' own.

    Returns
    -------
    list of RawTable
        One a layer; styles are left out.

    Raises
    ------
    ReadError
        The file is not a GeoPackage, is damaged, or holds no such layer.
    """
    return _read(path, options, kind="GeoPackage")


def read_shapefile(path: Path, options: FileOptions) -> list[RawTable]:
    """Read a Shapefile with the files that belong to it.

    Parameters
    ----------
    path : Path
        The ``.shp`` file.
    options : FileOptions
        ``crs`` stands in place of the ``.prj`` file's, ``encoding`` of the ``.cpg`` file's.

    Returns
    -------
    list of RawTable
        One table.

    Raises
    ------
    ReadError
        The file is not a Shapefile, or one that belongs to it is missing or damaged.
    """
    return _read(path, options, kind="Shapefile")


GEOJSON = Reader("geojson", (".geojson", ".json"), read_geojson, "GeoJSON, any geometry")
GEOPACKAGE = Reader("geopackage", (".gpkg",), read_geopackage, "GeoPackage, every feature layer")
SHAPEFILE = Reader("shapefile", (".shp",), read_shapefile, "Shapefile with its .dbf, .shx and .prj")
