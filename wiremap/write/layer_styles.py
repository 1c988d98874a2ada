"""Styles inside a GeoPackage, so that a desktop GIS opens it drawn as the web map is.

The table ``layer_styles`` is a convention of desktop GIS, not of the GeoPackage standard: one
row a layer with the style as QML, and as SLD for other programs.
"""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

from wiremap.write.qml import write_qml
from wiremap.write.sld import write_sld
from wiremap.write.style_rules import GIS_STYLES, LABELS, layer_rules

if TYPE_CHECKING:
    import sqlite3

_TABLE = """CREATE TABLE layer_styles (
    id INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL, f_table_catalog TEXT(256),
    f_table_schema TEXT(256), f_table_name TEXT(256), f_geometry_column TEXT(256),
    styleName TEXT(30), styleQML TEXT, styleSLD TEXT, useAsDefault BOOLEAN, description TEXT,
    owner TEXT(30), ui TEXT(30),
    update_time DATETIME DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ','now')))"""
_STYLE_NAME_LENGTH = 30


def add_layer_styles(
    db: sqlite3.Connection, *, min_cover_m: float, timestamp: str | None = None
) -> None:
    """Add a default style for every layer of the package that has one.

    Parameters
    ----------
    db : sqlite3.Connection
        A GeoPackage without the table ``layer_styles``; the caller commits.
    min_cover_m : float
        Cover limit, below which stretches and bands are marked.
    timestamp : str, optional
        ISO 8601; the time of writing where None.
    """
    layers = db.execute(
        "SELECT table_name, column_name, geometry_type_name FROM gpkg_geometry_columns"
    ).fetchall()
    db.execute(_TABLE)
    db.execute(
        "INSERT INTO gpkg_contents (table_name, data_type, identifier, description, last_change,"
        " srs_id) VALUES ('layer_styles', 'attributes', 'layer_styles', 'Styles of the layers.',"
        " coalesce(?, strftime('%Y-%m-%dT%H:%M:%fZ','now')), 0)",
        (timestamp,),
    )
    db.executemany(
        "INSERT INTO layer_styles (f_table_catalog, f_table_schema, f_table_name,"
        " f_geometry_column, styleName, styleQML, styleSLD, useAsDefault, description, owner, ui,"
        " update_time) VALUES ('', '', ?, ?, ?, ?, ?, 1, ?, '', '',"
        " coalesce(?, strftime('%Y-%m-%dT%H:%M:%fZ','now')))",
        [
            (
                *_style_row(*layer, _zones(db, layer[0]), _unused(db, *layer[:2]), min_cover_m),
                timestamp,
            )
            for layer in layers
            if layer[0] in GIS_STYLES
        ],
    )


def _unused(db: sqlite3.Connection, layer: str, geometry_column: str) -> tuple[str, ...]:
    """Return the columns that no row of a layer fills; none for a layer without rows.

    They stay in the package, since every package has the same columns; only table and form of a
    desktop GIS leave them out until they are asked for.
    """
    columns = [row[1] for row in db.execute(f"PRAGMA table_info({_quoted(layer)})")]
    columns = [name for name in columns if name != geometry_column]
    counts = ", ".join(f"count(nullif({_quoted(name)}, ''))" for name in columns)
    rows, *filled = db.execute(f"SELECT count(*), {counts} FROM {_quoted(layer)}").fetchone()  # noqa: S608
    return tuple(n for n, count in zip(columns, filled, strict=True) if rows and not count)


def _quoted(name: str) -> str:
    return '"' + name.replace('"', '""') + '"'


def _zones(db: sqlite3.Connection, layer: str) -> tuple[str, ...]:
    """Return the zones by which wires are coloured; none for other layers."""
    if layer != "wire_runs":
        return ()
    rows = db.execute("SELECT DISTINCT zones FROM wire_runs WHERE zones <> '' ORDER BY zones")
    return tuple(row[0] for row in rows)


@lru_cache(maxsize=64)
def _style_row(
    layer: str,
    column: str,
    geometry: str,
    zones: tuple[str, ...],
    unused: tuple[str, ...],
    min_cover_m: float,
) -> tuple[str, ...]:
    """Return a layer's row; many layers have the same one in one package after the other."""
    rules = layer_rules(layer, zones=zones, min_cover_m=min_cover_m)
    symbol_type = _symbol_type(geometry)
    qml = write_qml(rules, symbol_type=symbol_type, label=LABELS.get(layer), hidden=unused)
    sld = write_sld(layer, rules, symbol_type=symbol_type)
    label = GIS_STYLES[layer].label
    return (layer, column, label[:_STYLE_NAME_LENGTH], qml, sld, label)


def _symbol_type(geometry: str) -> str:
    plain = geometry.upper().removeprefix("MULTI")
    return {"LINESTRING": "line", "POLYGON": "fill"}.get(plain, "marker")
