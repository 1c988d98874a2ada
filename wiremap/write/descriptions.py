"""What each column of a GeoPackage means, in the package itself (schema extension)."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Mapping

    from wiremap.model.columns import Table

# GeoPackage 1.3 (OGC 12-128r17), annex F.9: gpkg_schema.
_TABLES = (
    """CREATE TABLE IF NOT EXISTS gpkg_extensions (
        table_name TEXT, column_name TEXT, extension_name TEXT NOT NULL,
        definition TEXT NOT NULL, scope TEXT NOT NULL,
        CONSTRAINT ge_tce UNIQUE (table_name, column_name, extension_name))""",
    """CREATE TABLE gpkg_data_columns (
        table_name TEXT NOT NULL, column_name TEXT NOT NULL, name TEXT, title TEXT,
        description TEXT, mime_type TEXT, constraint_name TEXT,
        CONSTRAINT pk_gdc PRIMARY KEY (table_name, column_name),
        CONSTRAINT gdc_tn UNIQUE (table_name, name))""",
    """CREATE TABLE gpkg_data_column_constraints (
        constraint_name TEXT NOT NULL, constraint_type TEXT NOT NULL, value TEXT, min NUMERIC,
        min_is_inclusive BOOLEAN, max NUMERIC, max_is_inclusive BOOLEAN, description TEXT,
        CONSTRAINT gdcc_ntv UNIQUE (constraint_name, constraint_type, value))""",
)
_DEFINITION = "http://www.geopackage.org/spec130/#extension_schema"


def describe_columns(db: sqlite3.Connection, tables: Mapping[str, Table]) -> None:
    """Write the meaning of every declared column into the package.

    Parameters
    ----------
    db : sqlite3.Connection
        A GeoPackage that holds the tables and no schema extension yet; the caller commits.
    tables : mapping of str to Table
        Declared tables by layer name. Columns drawn from a closed set get that set as an
        enumeration, which a desktop GIS offers as a list.
    """
    for statement in _TABLES:
        db.execute(statement)
    db.executemany(
        "INSERT INTO gpkg_extensions VALUES (?, NULL, 'gpkg_schema', ?, 'read-write')",
        [(t, _DEFINITION) for t in ("gpkg_data_columns", "gpkg_data_column_constraints")],
    )
    columns = [(name, column) for name, table in tables.items() for column in table.columns]
    kinds: list[Any] = [column.options for _, column in columns]
    enums = {kind.__name__.lower(): kind for kind in kinds if kind is not None}
    db.executemany(
        "INSERT INTO gpkg_data_column_constraints (constraint_name, constraint_type, value)"
        " VALUES (?, 'enum', ?)",
        [(name, str(option)) for name, options in enums.items() for option in options],
    )
    db.executemany(
        "INSERT INTO gpkg_data_columns (table_name, column_name, title, description,"
        " constraint_name) VALUES (?, ?, ?, ?, ?)",
        [
            (name, c.name, c.name.replace("_", " "), c.meaning, kind and kind.__name__.lower())
            for (name, c), kind in zip(columns, kinds, strict=True)
        ],
    )
