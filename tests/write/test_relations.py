"""Valves and zones, related inside the package."""

from __future__ import annotations

import sqlite3
from contextlib import closing

import numpy as np
from osgeo_utils.samples.validate_gpkg import check
from sample_layers import make_context, make_layer

from wiremap.model.tables import VALVES, ZONES
from wiremap.write.geopackage import write_geopackage


def relate(folder, valves, zones):
    """Return the pairs (valve, zone and its controller) of a package with these rows."""
    layers = {"valves": make_layer(VALVES, len(valves)), "zones": make_layer(ZONES, len(zones))}
    layers["valves"]["valve"] = [row[0] for row in valves]
    for name, rows in (("valves", [row[1:] for row in valves]), ("zones", zones)):
        layers[name]["zone"] = [row[0] for row in rows]
        layers[name]["controller"] = [row[1] for row in rows]
    path = write_geopackage(layers, folder, make_context())[0]
    assert check(str(path), abort_at_first_error=False, verbose=False) == []
    with closing(sqlite3.connect(path)) as db:
        return set(
            db.execute(
                "SELECT v.valve, z.zone, z.controller FROM valves_zones"
                " JOIN valves v ON v.fid = base_id JOIN zones z ON z.fid = related_id"
            )
        )


def test_a_valve_of_two_zones_and_a_zone_of_two_valves_are_both_said(tmp_path):
    """Many to many (OGC 18-000, user-defined mapping table)."""
    valves = [("V1", "1;2", "A"), ("V2", "2", "A"), ("V3", np.nan, "A")]
    zones = [("1", "A"), ("2", "A"), ("3", "A")]
    assert relate(tmp_path, valves, zones) == {("V1", "1", "A"), ("V1", "2", "A"), ("V2", "2", "A")}


def test_zones_of_another_controller_are_not_meant(tmp_path):
    """Zone 1 of controller B is another zone; without a controller any is meant."""
    valves = [("V1", " 1", "a"), ("V2", "1", np.nan)]
    zones = [("1", "A"), ("1", "B")]
    assert relate(tmp_path, valves, zones) == {("V1", "1", "A"), ("V2", "1", "A"), ("V2", "1", "B")}


def test_the_relation_is_registered(tmp_path):
    """OGC 18-000, requirements 1 to 4: the extension names the relation and its mapping table."""
    path = write_geopackage({}, tmp_path, make_context())[0]
    with closing(sqlite3.connect(path)) as db:
        relations = db.execute(
            "SELECT base_table_name, related_table_name, relation_name, mapping_table_name"
            " FROM gpkgext_relations"
        ).fetchall()
        extensions = db.execute(
            "SELECT table_name FROM gpkg_extensions WHERE extension_name = 'gpkg_related_tables'"
        ).fetchall()
    assert relations == [("valves", "zones", "attributes", "valves_zones")]
    assert extensions == [("gpkgext_relations",), ("valves_zones",)]
