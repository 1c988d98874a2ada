"""Styles that a desktop GIS finds in the package."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from xml.etree import ElementTree as ET

import numpy as np
import pytest
from sample_layers import make_context, make_layer, make_layers

from wiremap.draw.styles import STYLES, wire_ink
from wiremap.model.tables import WIRE_RUNS
from wiremap.write.geopackage import write_geopackage


def query(path, sql):
    """Return all rows of a query."""
    with closing(sqlite3.connect(path)) as db:
        return db.execute(sql).fetchall()


def write(folder, layers):
    """Write layers and return the package's path."""
    return write_geopackage(layers, folder, make_context())[0]


@pytest.fixture(scope="module")
def package(tmp_path_factory):
    """A package of all layers with rows."""
    return write(tmp_path_factory.mktemp("p"), make_layers())


def test_every_drawn_layer_has_a_default_style_that_a_desktop_gis_finds(package):
    """A style counts only where table and geometry column match and the QML is well-formed."""
    columns = dict(query(package, "SELECT table_name, column_name FROM gpkg_geometry_columns"))
    rows = query(
        package,
        "SELECT f_table_name, f_geometry_column, styleName, styleQML, styleSLD, useAsDefault"
        " FROM layer_styles",
    )
    assert {row[0] for row in rows} == set(columns)
    for table, column, name, qml, sld, default in rows:
        assert column == columns[table] == "geom"
        assert default == 1
        assert 0 < len(name) <= 30
        renderer = ET.fromstring(qml).find("renderer-v2")
        symbols = renderer.findall("symbols/symbol")
        named = {category.get("symbol") for category in renderer.findall("categories/category")}
        assert named in (set(), {symbol.get("name") for symbol in symbols})
        assert ET.fromstring(sld).tag.endswith("StyledLayerDescriptor")
    registered = query(
        package,
        "SELECT data_type, srs_id FROM gpkg_contents WHERE table_name = 'layer_styles'",
    )
    assert registered == [("attributes", 0)]


def test_styles_use_the_colours_of_the_map(package):
    """One source of colours: the valve of each status is drawn as the web map draws it."""
    ((qml,),) = query(package, "SELECT styleQML FROM layer_styles WHERE f_table_name = 'valves'")
    root = ET.fromstring(qml)
    assert root.find("renderer-v2").get("attr") == "zone_status"
    numbers = {c.get("value"): c.get("symbol") for c in root.iter("category")}
    for status, style in STYLES["valves"].kinds.items():
        symbol = root.find(f"renderer-v2/symbols/symbol[@name='{numbers[status]}']")
        properties = {p.get("k"): p.get("v") for p in symbol.iter("prop")}
        red, green, blue = (int(style.ink.light[i : i + 2], 16) for i in (1, 3, 5))
        assert properties["outline_color"] == f"{red},{green},{blue},255"


def test_wires_are_coloured_by_their_zones_whatever_they_are_called(tmp_path):
    """A zone's name is written as data, never as markup."""
    frame = make_layer(WIRE_RUNS, 3)
    frame["zones"] = ["3", '<b>"4" & 5</b>', np.nan]
    path = write(tmp_path, {"wire_runs": frame})
    ((qml, sld),) = query(
        path, "SELECT styleQML, styleSLD FROM layer_styles WHERE f_table_name = 'wire_runs'"
    )
    root = ET.fromstring(qml)
    assert {c.get("value") for c in root.iter("category")} == {"3", '<b>"4" & 5</b>', ""}
    numbers = {c.get("value"): c.get("symbol") for c in root.iter("category")}
    symbol = root.find(f"renderer-v2/symbols/symbol[@name='{numbers['3']}']")
    color = next(p.get("v") for p in symbol.iter("prop") if p.get("k") == "line_color")
    ink = wire_ink("3").ink.light
    assert color == ",".join(str(int(ink[i : i + 2], 16)) for i in (1, 3, 5)) + ",255"
    assert wire_ink("3").ink.light in sld
