"""What each column means, inside the package."""

from __future__ import annotations

import sqlite3
from contextlib import closing

import pytest
from sample_layers import make_context, make_layers

from wiremap.model.tables import LAYERS
from wiremap.write.geopackage import write_geopackage


def query(path, sql):
    """Return all rows of a query."""
    with closing(sqlite3.connect(path)) as db:
        return db.execute(sql).fetchall()


@pytest.fixture(scope="module")
def package(tmp_path_factory):
    """A package of all layers with rows."""
    return write_geopackage(make_layers(), tmp_path_factory.mktemp("p"), make_context())[0]


def test_every_declared_column_carries_its_meaning(package):
    """The schema extension holds the sentence of the declaration, and closed sets as lists."""
    told = {
        (table, column): (meaning, kind)
        for table, column, meaning, kind in query(
            package,
            "SELECT table_name, column_name, description, constraint_name FROM gpkg_data_columns",
        )
    }
    for table in LAYERS:
        for column in table.columns:
            kind = column.options.__name__.lower() if column.options else None
            assert told[table.name, column.name] == (column.meaning, kind)
    enums = query(
        package,
        "SELECT value FROM gpkg_data_column_constraints WHERE constraint_name = 'severity'",
    )
    assert {value for (value,) in enums} == {"error", "warning", "note"}


def test_the_extension_is_registered(package):
    """OGC 12-128r17, annex F.9: both tables are named in gpkg_extensions, read-write."""
    rows = query(
        package,
        "SELECT table_name, scope FROM gpkg_extensions WHERE extension_name = 'gpkg_schema'",
    )
    assert sorted(rows) == [
        ("gpkg_data_column_constraints", "read-write"),
        ("gpkg_data_columns", "read-write"),
    ]
