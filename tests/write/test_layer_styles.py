"""Styles that a desktop GIS finds in the package."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from xml.etree import ElementTree as ET

import numpy as np
import pytest
from sample_layers import make_context, make_layer, make_layers

from wiremap.draw.styles import REPAIRED, STYLES, Style, wire_ink
from wiremap.model.tables import WIRE_RUNS
from wiremap.write.geopackage import write_geopackage
from wiremap.write.sld import write_sld
from wiremap.write.style_rules import Rule


def query(path, sql):
    """Return all rows of a query."""
    with closing(sqlite3.connect(path)) as db:
        return db.execute(sql).fetchall()


def write(folder, layers):
    """Write layers and return the package's path."""
    return write_geopackage(layers, folder, make_context())[0]


def read_qml(path, layer):
    """Return a layer's QML as a tree."""
    rows = query(path, f"SELECT styleQML FROM layer_styles WHERE f_table_name = '{layer}'")
    return ET.fromstring(rows[0][0])


def filters(root):
    """Return the symbol number of each rule by its filter."""
    return {rule.get("filter", ""): rule.get("symbol") for rule in root.iter("rule")}


def properties(root, number, which=0):
    """Return the settings of one layer of a symbol."""
    layers = root.findall(f"renderer-v2/symbols/symbol[@name='{number}']/layer")
    return {p.get("k"): p.get("v") for p in layers[which].iter("prop")}


def rgba(color):
    """Return a colour as QML writes it."""
    return ",".join(str(int(color[i : i + 2], 16)) for i in (1, 3, 5)) + ",255"


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
        symbols = {symbol.get("name") for symbol in renderer.findall("symbols/symbol")}
        assert {rule.get("symbol") for rule in renderer.findall("rules/rule")} == symbols
        assert ET.fromstring(sld).tag.endswith("StyledLayerDescriptor")
    registered = query(
        package,
        "SELECT data_type, srs_id FROM gpkg_contents WHERE table_name = 'layer_styles'",
    )
    assert registered == [("attributes", 0)]


def test_styles_use_the_colours_of_the_map(package):
    """One source of colours: the valve of each status is drawn as the web map draws it."""
    root = read_qml(package, "valves")
    numbers = filters(root)
    for status, style in STYLES["valves"].kinds.items():
        symbol = properties(root, numbers[f"\"zone_status\" = '{status}'"])
        assert symbol["outline_color"] == rgba(style.ink.light)


def test_wires_are_coloured_by_their_zones_whatever_they_are_called(tmp_path):
    """A zone's name is written as data, never as markup or as an expression."""
    frame = make_layer(WIRE_RUNS, 4)
    frame["zones"] = ["3", '<b>"4" & 5</b>\' OR 1=1', np.nan, "bell\x07"]
    path = write(tmp_path, {"wire_runs": frame})
    root = read_qml(path, "wire_runs")
    quoted = "\"zones\" = '<b>\"4\" & 5</b>'' OR 1=1'"
    assert set(filters(root)) == {"\"zones\" = '3'", quoted, "ELSE"}
    line = properties(root, filters(root)["\"zones\" = '3'"])
    assert line["line_color"] == rgba(wire_ink("3").ink.light)
    ((sld,),) = query(path, "SELECT styleSLD FROM layer_styles WHERE f_table_name = 'wire_runs'")
    literals = {e.text for e in ET.fromstring(sld).iter("{http://www.opengis.net/ogc}Literal")}
    assert literals == {"3", '<b>"4" & 5</b>\' OR 1=1'}


def test_a_wire_with_a_tracer_has_its_stripe(tmp_path):
    """Zone 9 has the colour of zone 1 and a stripe of its own, as on the map."""
    frame = make_layer(WIRE_RUNS, 2)
    frame["zones"] = ["1", "9"]
    root = read_qml(write(tmp_path, {"wire_runs": frame}), "wire_runs")
    numbers = filters(root)
    one, nine = numbers["\"zones\" = '1'"], numbers["\"zones\" = '9'"]
    assert properties(root, one)["line_color"] == properties(root, nine)["line_color"]
    assert len(root.findall(f"renderer-v2/symbols/symbol[@name='{one}']/layer")) == 1
    assert properties(root, nine, 1)["line_color"] == rgba(wire_ink("9").tracer.light)


def test_shallow_stretches_and_bands_are_marked_below_the_cover_limit(package):
    """The rule holds the setting's own limit, 0.152 m by default."""
    segments = filters(read_qml(package, "wire_segments"))
    assert {'"cover_low_m" < 0.152', "\"evidence\" = 'inferred'", "ELSE"} <= set(segments)
    assert set(filters(read_qml(package, "dig_buffer"))) == {'"cover_low_m" < 0.152', "ELSE"}


def test_a_repaired_fault_is_drawn_apart_from_one_that_stands(package):
    """Fault kinds are rules of their own, for standing faults only."""
    root = read_qml(package, "faults")
    numbers = filters(root)
    repaired = properties(root, numbers["\"status\" = 'repaired'"])
    assert repaired["outline_color"] == rgba(REPAIRED.ink.light)
    for kind in ("break", "leak", "open_end", "reported"):
        assert f"\"kind\" = '{kind}' AND \"status\" <> 'repaired'" in numbers


def test_devices_runs_and_depths_are_labelled(package):
    """Labels are expressions on columns that the layers declare."""
    for layer, column in (("valves", "zone"), ("wire_runs", "run"), ("faults", "kind"),
                          ("depth_readings", "depth_m"), ("dig_buffer", "cover_low_m")):  # fmt: skip
        root = read_qml(package, layer)
        assert root.get("labelsEnabled") == "1"
        assert f'"{column}"' in root.find("labeling/settings/text-style").get("fieldName")


def test_a_symbol_that_is_left_open_has_no_fill():
    """SLD 1.1: a mark without se:Fill is not filled."""
    style = Style("Open", STYLES["splices"].ink, symbol="circle")
    root = ET.fromstring(write_sld("rings", [Rule(style)], symbol_type="marker"))
    assert root.find(".//{http://www.opengis.net/se}Stroke") is not None
    assert root.find(".//{http://www.opengis.net/se}Fill") is None


def test_columns_that_no_row_fills_are_left_out_of_table_and_form(tmp_path):
    """They stay in the package; a desktop GIS shows the others."""
    valves = make_layers()["valves"].assign(box=None, zone_status="")
    path = write(tmp_path, {"valves": valves})
    root = read_qml(path, "valves")
    stored = {row[1] for row in query(path, "PRAGMA table_info(valves)")}
    hidden = {c.get("name") for c in root.iter("column") if c.get("hidden") == "1"}
    form = {
        f.get("name") for f in root.iter("field") if f.find("editWidget").get("type") == "Hidden"
    }
    filled = {
        name for name in stored
        if query(path, f'SELECT 1 FROM valves WHERE "{name}" <> \'\' LIMIT 1')
    }  # fmt: skip

    assert {"box", "zone_status"} <= hidden == form
    assert hidden == stored - filled
    assert "valve" in filled


def test_a_layer_without_rows_hides_nothing(tmp_path):
    """What is going to be written into it is not known yet."""
    path = write(tmp_path, {"valves": make_layers()["valves"].iloc[:0]})
    assert not list(read_qml(path, "valves").iter("column"))
