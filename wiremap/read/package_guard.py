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
    WHERE type = 'view' AND lower(name) IN (SELECT lower(table_name) FROM gpkg_contents)
       OR sql LIKE 'CREATE VIRTUAL TABLE%' AND sql NOT LIKE '%USING rtree%'
"""


def guard_package(path: Path) -> None:
    """Refuse a GeoPackage that has views or virtual tables among its layers.

    Parameters
    ----------
    path : Path
        The file; it is opened read-only and closed again.

    Raises
    ------
    ReadError
        A layer is a view or a virtual table, or the file is no GeoPackage, locked or damaged.
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
            "a layer is a query, not a table",
            path=path.name,
            value=str(found[0])[:60],
            remedy="save the layer as a table of a new GeoPackage",
        )
