"""Which valves belong to which zones, as a relation that a desktop GIS follows.

OGC 18-000 (Related Tables): a mapping table of row numbers, so that a valve of several zones and a
zone of several valves are both said.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import sqlite3

MAPPING = "valves_zones"
"""Table of pairs: ``base_id`` is the row of ``valves``, ``related_id`` that of ``zones``."""

_DEFINITION = "http://www.opengis.net/doc/IS/gpkg-rte/1.0"
_TABLES = (
    """CREATE TABLE gpkgext_relations (
        id INTEGER PRIMARY KEY AUTOINCREMENT, base_table_name TEXT NOT NULL,
        base_primary_column TEXT NOT NULL DEFAULT 'id', related_table_name TEXT NOT NULL,
        related_primary_column TEXT NOT NULL DEFAULT 'id', relation_name TEXT NOT NULL,
        mapping_table_name TEXT NOT NULL UNIQUE)""",
    """CREATE TABLE valves_zones (
        id INTEGER PRIMARY KEY AUTOINCREMENT, base_id INTEGER NOT NULL,
        related_id INTEGER NOT NULL)""",
)


def relate_valves(db: sqlite3.Connection) -> None:
    """Relate each valve to the zones that it names, on its own controller.

    Parameters
    ----------
    db : sqlite3.Connection
        A GeoPackage with the tables ``valves``, ``zones`` and ``gpkg_extensions``; the caller
        commits. A valve or zone without a controller belongs to any.
    """
    for statement in _TABLES:
        db.execute(statement)
    db.execute(
        "INSERT INTO gpkgext_relations (base_table_name, base_primary_column, related_table_name,"
        " related_primary_column, relation_name, mapping_table_name)"
        " VALUES ('valves', 'fid', 'zones', 'fid', 'attributes', ?)",
        (MAPPING,),
    )
    db.executemany(
        "INSERT INTO gpkg_extensions VALUES (?, NULL, 'gpkg_related_tables', ?, 'read-write')",
        [(table, _DEFINITION) for table in ("gpkgext_relations", MAPPING)],
    )
    zones: dict[str, list[tuple[int, str]]] = {}
    for row, zone, controller in db.execute("SELECT fid, zone, controller FROM zones"):
        zones.setdefault(_key(zone), []).append((row, _key(controller)))
    valves = db.execute("SELECT fid, zone, controller FROM valves WHERE zone <> ''").fetchall()
    pairs = [
        (row, zone_row)
        for row, named, controller in valves
        for zone in dict.fromkeys(_key(part) for part in named.split(";"))
        for zone_row, its in zones.get(zone, ())
        if not its or not controller or its == _key(controller)
    ]
    db.executemany("INSERT INTO valves_zones (base_id, related_id) VALUES (?, ?)", pairs)


def _key(name: str | None) -> str:
    return (name or "").strip().casefold()
