"""Refuse GeoPackages whose layers are queries: a query may never end, or fill the memory."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from typing import TYPE_CHECKING
from urllib.parse import quote

from wiremap.errors import ReadError

if TYPE_CHECKING:
    from pathlib import Path

_QUERIES = """
    SELECT name FROM sqlite_master
    WHERE type = 'view' AND (
          lower(name) NOT IN ('spatial_ref_sys', 'st_spatial_ref_sys',
                              'geometry_columns', 'st_geometry_columns')
          OR lower(name) IN (SELECT lower(table_name) FROM gpkg_contents))
       OR sql LIKE 'CREATE VIRTUAL TABLE%' AND sql NOT LIKE '%USING rtree%'
    UNION ALL
    SELECT made.name FROM sqlite_master AS made, pragma_table_xinfo(made.name) AS of
    WHERE made.sql LIKE 'CREATE TABLE%' AND of.hidden IN (2, 3)
"""
"""Views, though no layer is registered of them: GDAL runs them to list them; and columns that are
computed. The standard's own views of its tables, which some programs write, GDAL leaves alone."""


def guard_package(path: Path) -> None:
    """Refuse a GeoPackage that has views, virtual tables or computed columns.

    Parameters
    ----------
    path : Path
        The file; it is opened read-only and closed again.

    Raises
    ------
    ReadError
        A layer is a query or computes a column, or the file is no SQLite, locked or damaged.
    """
    address = f"file:{quote(str(path.resolve()))}?mode=ro"
    try:
        with closing(sqlite3.connect(address, uri=True, timeout=2)) as db:
            found = db.execute(_QUERIES).fetchone()
    except (sqlite3.Error, UnicodeError) as error:
        raise ReadError(
            f"cannot be read: {error}",
            path=path.name,
            remedy="close it in other programs, or save it again from a desktop GIS",
        ) from error
    if found:
        raise ReadError(
            "a layer is a query, or computes a column",
            path=path.name,
            value=str(found[0])[:60],
            remedy="save the layer as a table of a new GeoPackage",
        )
