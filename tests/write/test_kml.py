"""KML and KMZ, held against the schema of the Open Geospatial Consortium."""

from __future__ import annotations

import io
import zipfile
from pathlib import Path

import fastkml
import matplotlib.pyplot as plt
import numpy as np
import pytest
import shapely
from hostile import HOSTILE, hostile_layers
from lxml import etree
from sample_layers import make_context, make_layers

import wiremap
from wiremap.draw.record import CAUTION
from wiremap.draw.styles import STYLES, wire_ink
from wiremap.plugins import FileOptions
from wiremap.read.kml import READER
from wiremap.write.kml import KML, KMZ, write_kml, write_kmz
from wiremap.write.kml.document import describe_row
from wiremap.write.kml.symbols import SIZE_PX, draw_symbol

DEMO = Path(wiremap.__file__).parent / "demo"
SCHEMA = Path(fastkml.__file__).parent / "schema" / "ogckml22.xsd"
NS = {"k": "http://www.opengis.net/kml/2.2"}


@pytest.fixture(scope="module")
def schema():
    """The schema of OGC 07-147r2, as the fastkml wheel ships it."""
    return etree.XMLSchema(etree.parse(SCHEMA))


@pytest.fixture(scope="module")
def demo():
    """The bundled property, built."""
    return wiremap.build_asbuilt(wiremap.read_property(DEMO))


def parse(content, schema):
    """Return a document that the schema takes."""
    root = etree.fromstring(content, etree.XMLParser(resolve_entities=False, no_network=True))
    assert schema.validate(root), schema.error_log
    return root


def write(folder, schema, layers, **more):
    """Write KML and return its tree."""
    (path,) = write_kml(layers, folder, make_context(**more))
    return parse(path.read_bytes(), schema)


def folders(root):
    """Return the folders of a document by name."""
    return {f.findtext("k:name", namespaces=NS): f for f in root.iterfind(".//k:Folder", NS)}


def places(element):
    """Return all coordinates below an element."""
    texts = [c.text for c in element.iterfind(".//k:coordinates", NS)]
    return np.array([[float(v) for v in t.split(",")] for text in texts for t in text.split()])


def test_a_record_is_valid_kml_with_a_folder_a_layer(demo, schema, tmp_path):
    """Element order, colours and names as OGC 07-147r2 wants them."""
    (path,) = demo.write(tmp_path, formats=["kml"])
    root = parse(path.read_bytes(), schema)
    found = folders(root)
    for layer in ("dig_buffer", "wire_runs", "valves", "faults", "controllers", "references"):
        marks = found[STYLES[layer].label].findall("k:Placemark", NS)
        assert len(marks) == len(demo.layers[layer])
    assert STYLES["locates"].label not in found
    assert root.findtext("k:Document/k:description", namespaces=NS) == CAUTION


def test_positions_are_those_of_the_record_on_wgs_84(demo, schema, tmp_path):
    """Longitude first, two numbers a place, no altitude: depth is data, and nothing is extruded."""
    (path,) = demo.write(tmp_path, formats=["kml"])
    root = parse(path.read_bytes(), schema)
    valves = demo.layers["valves"].to_crs("EPSG:4326").geometry
    found = places(folders(root)["Valves"])
    assert found == pytest.approx(np.column_stack([valves.x, valves.y]), abs=2e-7)
    assert not root.findall(".//k:extrude", NS)
    assert not root.findall(".//k:altitudeMode", NS)


def test_wires_have_the_colour_of_their_zone(demo, schema, tmp_path):
    """KML writes colours backwards: opacity, blue, green, red."""
    (path,) = demo.write(tmp_path, formats=["kml"])
    root = parse(path.read_bytes(), schema)
    for mark in folders(root)["Wires"].findall("k:Placemark", NS):
        data = {
            d.get("name"): d.findtext("k:value", namespaces=NS)
            for d in mark.iterfind(".//k:Data", NS)
        }
        style = mark.findtext("k:styleUrl", namespaces=NS)
        color = root.findtext(f".//k:Style[@id='{style[1:]}']/k:LineStyle/k:color", namespaces=NS)
        ink = wire_ink(data["zones"]).ink.light
        assert color == "ff" + ink[5:7] + ink[3:5] + ink[1:3]


def test_every_style_that_is_named_is_there(demo, schema, tmp_path):
    """No placemark points at a style that the document lacks."""
    (path,) = demo.write(tmp_path, formats=["kml"])
    root = parse(path.read_bytes(), schema)
    named = {url.text[1:] for url in root.iterfind(".//k:styleUrl", NS)}
    assert named == {style.get("id") for style in root.iterfind(".//k:Style", NS)}


def test_the_archive_brings_every_symbol_along(demo, schema, tmp_path):
    """A KMZ needs no network: each picture that it names is in it and is a PNG."""
    (path,) = demo.write(tmp_path, formats=["kmz"])
    with zipfile.ZipFile(path) as archive:
        assert archive.namelist()[0] == "doc.kml"
        root = parse(archive.read("doc.kml"), schema)
        wanted = {href.text for href in root.iterfind(".//k:href", NS)}
        assert wanted == set(archive.namelist()[1:])
        for name in wanted:
            picture = plt.imread(io.BytesIO(archive.read(name)))
            assert picture.shape == (SIZE_PX, SIZE_PX, 4)
    assert "http" not in "".join(wanted)


def test_equal_records_give_equal_archives(tmp_path):
    """No time of writing gets into the bytes."""
    made = []
    for folder in ("one", "two"):
        (tmp_path / folder).mkdir()
        (path,) = write_kmz(make_layers(), tmp_path / folder, make_context())
        made.append(path.read_bytes())
    assert made[0] == made[1]


@pytest.mark.parametrize("layer", ["splices", "controllers", "depth_readings"])
def test_symbols_are_drawn_in_their_colours_on_clear_ground(layer):
    """The outline's own colour is there as an exact pixel, and the corners are clear."""
    style = STYLES[layer]
    picture = np.round(plt.imread(io.BytesIO(draw_symbol(style))) * 255).astype(int)
    ink = [int(style.ink.light[i : i + 2], 16) for i in (1, 3, 5)]
    assert (picture == [*ink, 255]).all(axis=2).any()
    assert picture[0, 0, 3] == 0


def test_hostile_text_stays_text_in_xml_and_in_the_balloon(schema, tmp_path):
    """Markup in a cell is shown, not run: no element of the balloon comes from field text."""
    root = write(tmp_path, schema, hostile_layers().layers, name=HOSTILE[0])
    for description in root.iterfind(".//k:Placemark/k:description", NS):
        balloon = etree.HTML(description.text)
        assert {e.tag for e in balloon.iter()} <= {"html", "body", "table", "tr", "td", "p"}
        assert "$[" not in description.text
    assert root.findtext("k:Document/k:name", namespaces=NS) == HOSTILE[0]


def test_lengths_are_told_in_metres_and_feet(demo, schema, tmp_path):
    """0.3048 m is one international foot (NIST SP 811)."""
    layers = make_layers(1)
    layers["valves"]["depth_m"] = 0.3048
    root = write(tmp_path, schema, layers)
    balloon = folders(root)["Valves"].findtext(".//k:description", namespaces=NS)
    assert "<td>depth</td><td>0.30 m (1.00 ft)</td>" in balloon


def test_areas_with_holes_and_lines_of_several_parts_are_whole(schema, tmp_path):
    """Inner rings are boundaries of their own; parts stand in one multi-geometry."""
    layers = make_layers(1)
    x, y = 500_000, 4_000_000
    around = shapely.box(x, y, x + 20, y + 20).difference(shapely.box(x + 5, y + 5, x + 9, y + 9))
    layers["dig_buffer"].loc[0, "geometry"] = around
    lines = shapely.MultiLineString([[(x, y), (x + 9, y)], [(x + 20, y), (x + 30, y)]])
    layers["wire_runs"].loc[0, "geometry"] = lines
    found = folders(write(tmp_path, schema, layers))
    band = found[STYLES["dig_buffer"].label]
    assert len(band.findall(".//k:innerBoundaryIs", NS)) == 1
    wire = found["Wires"]
    assert len(wire.findall(".//k:MultiGeometry/k:LineString", NS)) == 2
    assert len(places(wire)) == 4


def test_text_in_a_length_column_of_the_users_own_stays_text():
    """A column that ends in _m may hold anything."""
    assert "<td>shade</td><td>half &lt;b&gt;</td>" in describe_row([("shade_m", "half <b>")])


def test_a_repaired_fault_looks_repaired(schema, tmp_path):
    """It keeps its symbol and takes another colour."""
    layers = make_layers(2)
    layers["faults"]["status"] = ["standing", "repaired"]
    root = write(tmp_path, schema, layers)
    urls = [u.text for u in folders(root)["Faults"].iterfind(".//k:styleUrl", NS)]
    assert urls == ["#faults-break", "#faults-break-repaired"]


def test_doubtful_stretches_are_marked_under_the_wires(schema, tmp_path):
    """Inferred and shallow stretches have folders of their own, below the wires."""
    layers = make_layers(2)
    layers["wire_segments"]["evidence"] = "inferred"
    layers["wire_segments"]["cover_low_m"] = 0.05
    names = list(folders(write(tmp_path, schema, layers)))
    marks = {"Inferred between locates", STYLES["hand_dig"].label}
    assert marks <= set(names)
    assert max(names.index(mark) for mark in marks) < names.index("Wires")


def test_an_empty_record_is_a_document_too(schema, tmp_path):
    """No row, no folder; the caution stays."""
    root = write(tmp_path, schema, {})
    assert folders(root) == {}
    assert root.findtext("k:Document/k:description", namespaces=NS) == CAUTION


def test_what_is_written_can_be_read(demo, tmp_path):
    """The reader of field files takes the archive."""
    (path,) = demo.write(tmp_path, formats=["kmz"])
    tables = {table.part: table.frame for table in READER.read(path, FileOptions())}
    assert set(tables["Valves"]["point"]) == set(demo.layers["valves"]["valve"])
    depths = tables["Valves"]["depth_m"].dropna().astype(float)
    assert sorted(depths) == pytest.approx(
        sorted(demo.layers["valves"]["depth_m"].dropna()), rel=1e-5
    )


def test_both_are_written_on_request_only():
    """The contract's four outputs stay what a build writes."""
    assert not KML.default
    assert not KMZ.default
