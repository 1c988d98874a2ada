"""The CAD drawing, read back strictly."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import ezdxf
import geopandas as gpd
import matplotlib as mpl
import numpy as np
import pytest
import shapely
from ezdxf.addons.drawing import Frontend, RenderContext
from ezdxf.addons.drawing.config import BackgroundPolicy, Configuration
from ezdxf.addons.drawing.matplotlib import MatplotlibBackend
from ezdxf.colors import RGB
from hostile import hostile_layers
from pyproj import CRS
from sample_layers import make_context, make_layers

import wiremap
from wiremap.draw.record import CAUTION
from wiremap.draw.styles import STYLES, wire_ink
from wiremap.errors import MissingExtraError, WriteError
from wiremap.model.frame import Frame
from wiremap.model.settings import Settings
from wiremap.write.dxf import WRITER, unit_code, write_dxf
from wiremap.write.dxf import drawing as module
from wiremap.write.outputs import write_layers

DATA = Path(__file__).parent.parent.parent / "data"
DEMO = Path(wiremap.__file__).parent / "demo"


def draw(folder, layers, **more):
    """Write layers and return the drawing, read back by the strict loader."""
    path, _ = write_dxf(layers, folder, make_context(**more))
    drawing = ezdxf.readfile(path)
    audit = drawing.audit()
    assert [entry.message for entry in (*audit.errors, *audit.fixes)] == []
    return drawing


def on(drawing, layer, kind="*"):
    """Return the entities of a drawing layer."""
    return drawing.modelspace().query(f'{kind}[layer=="{layer}"]')


def length(polyline):
    """Return the length of a polyline from its vertices."""
    points = np.array(polyline.get_points("xy"))
    return np.hypot(*np.diff(points, axis=0).T).sum()


def attributes(insert):
    """Return the attributes of a block by tag."""
    return {a.dxf.tag: a.dxf.text for a in insert.attribs}


@pytest.fixture(scope="module")
def demo():
    """The bundled property, built."""
    return wiremap.build_asbuilt(wiremap.read_property(DEMO))


@pytest.fixture(scope="module")
def drawing(demo, tmp_path_factory):
    """Its drawing."""
    folder = tmp_path_factory.mktemp("dxf")
    return ezdxf.readfile(demo.write(folder, formats=["dxf"])[0])


@pytest.mark.parametrize(
    ("code", "unit"), [("EPSG:26914", 6), ("EPSG:2222", 2), ("EPSG:2267", 21), ("EPSG:2157", 6)]
)
def test_the_drawing_unit_is_that_of_the_working_crs(tmp_path, code, unit):
    """DXF reference, $INSUNITS: 6 metres, 2 feet, 21 US survey feet; the two feet stay apart."""
    crs = CRS(code)
    metres = crs.axis_info[0].unit_conversion_factor
    frame = Frame(crs, crs, metres_per_unit=metres)
    drawing = draw(tmp_path, {}, frame=frame)
    assert drawing.header["$INSUNITS"] == unit
    assert unit_code(20.1168) == 0
    projection = (tmp_path / "quarry-pond.prj").read_text(encoding="utf-8")
    assert CRS.from_wkt(projection).equals(crs, ignore_axis_order=True) or (
        CRS.from_wkt(projection).to_epsg(min_confidence=20) == int(code[5:])
    )


def test_each_run_is_one_polyline_of_the_same_length(demo, drawing):
    """Lengths measured in the drawing are the plane lengths of the record, to the micrometre."""
    runs = demo.layers["wire_runs"]
    drawn = sorted(length(line) for line in on(drawing, "IRR-WIRE", "LWPOLYLINE"))
    planned = shapely.length(shapely.force_2d(np.asarray(runs.geometry.array, dtype=object)))
    assert drawn == pytest.approx(sorted(planned), abs=1e-6)
    ground = runs["length_m"].sum()
    assert sum(drawn) == pytest.approx(ground * demo.frame.scale_factor, rel=1e-9)


def test_a_drawing_in_survey_feet_has_lengths_in_survey_feet(tmp_path):
    """1200/3937 m: 1 km of wire is 3280.833 ft, not 3280.840 ft."""
    built = wiremap.build_asbuilt(wiremap.read_property(DATA / "ridge-terrace"))
    drawing = ezdxf.readfile(built.write(tmp_path, formats=["dxf"])[0])
    drawn_ft = sum(length(line) for line in on(drawing, "IRR-WIRE", "LWPOLYLINE"))
    plane_m = built.layers["wire_runs"]["length_m"].sum() * built.frame.scale_factor
    assert drawn_ft * 1200 / 3937 == pytest.approx(plane_m, rel=1e-9)
    assert drawing.header["$INSUNITS"] == 21
    spatial = on(drawing, "IRR-WIRE-3D", "POLYLINE")
    heights = np.array([vertex.dxf.location.z for line in spatial for vertex in line.vertices])
    elevation_m = shapely.get_coordinates(
        np.asarray(built.layers["wire_runs"].geometry.array, dtype=object), include_z=True
    )[:, 2]
    assert heights * 1200 / 3937 == pytest.approx(elevation_m, rel=1e-9)


def test_every_valve_is_a_block_with_its_number_zone_and_depth(demo, drawing):
    """Blocks stand where the layer says, and carry what an extraction needs."""
    valves = demo.layers["valves"]
    blocks = {attributes(b)["VALVE"]: b for b in on(drawing, "IRR-VALVE", "INSERT")}
    assert set(blocks) == set(valves["valve"])
    for row in valves.itertuples():
        block = blocks[row.valve]
        told = attributes(block)
        assert tuple(block.dxf.insert)[:2] == pytest.approx((row.geometry.x, row.geometry.y))
        assert told["ZONE"] == f"zone {row.zone}"
        assert told["DEPTH"].startswith(f"{row.depth_m:.2f}" if row.depth_m == row.depth_m else "")
        assert " from " in told["TIE_A"]
    hidden = {a.dxf.tag for a in block.attribs if a.is_invisible}
    assert {"CONTROLLER", "RUN", "TIE_A"} <= hidden
    assert not {"VALVE", "ZONE", "DEPTH"} & hidden


def test_control_points_and_bands_are_on_layers_of_their_own(demo, drawing):
    """Every reference is a block with its coordinates; every ring of a band is closed."""
    points = on(drawing, "IRR-CONTROL", "INSERT")
    assert {attributes(p)["REFERENCE"] for p in points} == set(
        demo.layers["references"]["reference"]
    )
    first = demo.layers["references"].geometry[0]
    assert attributes(points[0])["X"] == f"{first.x:.3f}"
    bands = on(drawing, "IRR-DIG-BAND", "LWPOLYLINE")
    assert len(bands) >= len(demo.layers["dig_buffer"])
    assert all(band.closed for band in bands)


def test_a_block_shows_what_kind_of_thing_it_is(demo, drawing):
    """Pump and filter have letters, leak and break have symbols of their own, as on the map."""
    for layer, drawn in (("equipment", "IRR-EQUIPMENT"), ("faults", "IRR-FAULT")):
        names = sorted(block.dxf.name for block in on(drawing, drawn, "INSERT"))
        assert names == sorted(f"WIREMAP_{kind.upper()}" for kind in demo.layers[layer]["kind"])


def test_every_depth_reading_is_written_beside_its_ring(demo, drawing):
    """Depth and the half width of its 95 % interval: 1.96 standard deviations."""
    readings = demo.layers["depth_readings"]
    texts = sorted(text.dxf.text for text in on(drawing, "IRR-DEPTH", "TEXT"))
    pairs = zip(readings["depth_m"], readings["depth_sigma_m"], strict=True)
    assert texts == sorted(f"{depth:.2f}\u00b1{1.96 * sigma:.2f}" for depth, sigma in pairs)
    assert len(on(drawing, "IRR-DEPTH", "INSERT")) == len(readings)


def test_only_plain_entities_are_used_and_the_caution_is_written(demo, drawing):
    """Lines, polylines, text and blocks, no leaders: what public CAD standards take."""
    kinds = {entity.dxftype() for entity in drawing.modelspace()}
    assert kinds <= {"LWPOLYLINE", "POLYLINE", "LINE", "POINT", "TEXT", "INSERT"}
    words = " ".join(text.dxf.text for text in on(drawing, "IRR-NOTE", "TEXT"))
    assert CAUTION in words
    assert "RECORD DRAWING" in words
    assert "EPSG:26914" in words
    assert demo.name in words


def test_surroundings_are_drawn_by_kind(demo, drawing):
    """Buildings of the base are closed polylines."""
    assert demo.base
    buildings = on(drawing, "BASE-BUILDING", "LWPOLYLINE")
    assert len(buildings)
    assert all(building.closed for building in buildings)


def test_layers_take_the_names_of_the_receiver(tmp_path):
    """[cad.layers] renames layers; two kinds may share one."""
    settings = Settings.model_validate(
        {"cad": {"layers": {"wires": "L-BEW\u00c4SSERUNG", "valves": "DEV", "splices": "DEV"}}}
    )
    drawing = draw(tmp_path, make_layers(), settings=settings)
    assert len(on(drawing, "L-BEW\u00c4SSERUNG", "LWPOLYLINE")) == 3
    assert len(on(drawing, "DEV", "INSERT")) == 6
    assert "IRR-WIRE" not in {layer.dxf.name for layer in drawing.layers}


@pytest.mark.parametrize("name", ["", "a/b", "a|b", "a*", 'a"', "a\nb", "x" * 121])
def test_layer_names_that_cad_refuses_are_refused(name):
    """Characters < > / \\ \" : ; ? * | = ` and control characters are forbidden (DXF reference)."""
    with pytest.raises(ValueError, match=r"cad\.layers\.wires"):
        Settings.model_validate({"cad": {"layers": {"wires": name}}})


def test_hostile_text_stays_text(tmp_path):
    """Control codes, carets, line ends and half surrogates neither break nor command anything."""
    made = hostile_layers(
        ("50%%d %%u", "^J^M", "\\U+0041 \\M+1", "a\r\n0\nEOF", "\x00\ud800", "%%")
    )
    drawing = draw(tmp_path, made.layers, name="%%uUnder\n^J")
    texts = [text.dxf.text for text in drawing.modelspace().query("TEXT")]
    texts += [a.dxf.text for b in drawing.modelspace().query("INSERT") for a in b.attribs]
    joined = "\n".join(texts)
    assert "%%" not in joined
    assert "A" not in {text.strip() for text in texts}
    assert not any("\r" in text or "\x00" in text for text in texts)


def test_an_empty_record_is_a_drawing_too(tmp_path):
    """No layer at all gives the notes alone."""
    drawing = draw(tmp_path, {})
    assert {e.dxf.layer for e in drawing.modelspace()} == {"IRR-NOTE"}


def test_rows_without_a_place_are_left_out(tmp_path):
    """A device whose geometry is missing has no block; the others have theirs."""
    layers = make_layers()
    valves = layers["valves"].copy()
    valves.loc[0, "geometry"] = None
    placeless = {"valves": valves}
    for name in ("wire_runs", "depth_readings"):
        placeless[name] = layers[name].copy()
        placeless[name].loc[0, "geometry"] = None
    drawing = draw(tmp_path, {**layers, **placeless})
    for name in ("IRR-VALVE", "IRR-DEPTH"):
        assert len(on(drawing, name, "INSERT")) == len(valves) - 1
    assert len(on(drawing, "IRR-WIRE", "LWPOLYLINE")) == len(valves) - 1


def test_points_of_the_base_are_drawn_as_points(tmp_path):
    """A tree is a tree, whatever layer it comes in."""
    trees = gpd.GeoDataFrame(geometry=[shapely.Point(3, 4)], crs="EPSG:26914")
    drawing = draw(tmp_path, {}, base={"trees": trees})
    (tree,) = on(drawing, "BASE-OTHER", "POINT")
    assert tuple(tree.dxf.location)[:2] == (3, 4)


def test_round_symbols_are_circles(tmp_path, monkeypatch):
    """A style may choose any symbol of the map."""
    monkeypatch.setitem(STYLES, "splices", replace(STYLES["splices"], symbol="circle"))
    block = draw(tmp_path, {}).blocks.get("WIREMAP_SPLICES")
    assert [e.dxftype() for e in block if e.dxftype() != "ATTDEF"] == ["CIRCLE"]


def test_without_ezdxf_the_install_line_is_named(tmp_path, monkeypatch):
    """The drawing is an extra."""
    monkeypatch.setattr(module, "find_spec", lambda _: None)
    with pytest.raises(MissingExtraError, match=r"pip install 'wiremap\[dxf\]'"):
        draw(tmp_path, {})


def test_a_drawing_that_fails_the_auditor_is_refused(tmp_path, monkeypatch):
    """No file is left that a CAD program would have to repair."""
    real = module._set_view

    def spoil(drawing, extent):
        real(drawing, extent)
        drawing.modelspace().add_blockref("NOWHERE", (0, 0))

    monkeypatch.setattr(module, "_set_view", spoil)
    with pytest.raises(WriteError, match="failed its audit"):
        draw(tmp_path, {})
    assert not list(tmp_path.iterdir())


def test_a_line_of_several_parts_is_drawn_whole(tmp_path):
    """Each part is a polyline; parts are not joined across the gap."""
    layers = make_layers(1)
    runs = layers["wire_runs"].copy()
    parts = shapely.MultiLineString([[(0, 0), (3, 4)], [(10, 0), (10, 7)]])
    runs = gpd.GeoDataFrame(runs.drop(columns="geometry"), geometry=[parts], crs=runs.crs)
    drawing = draw(tmp_path, {**layers, "wire_runs": runs})
    assert sorted(length(x) for x in on(drawing, "IRR-WIRE", "LWPOLYLINE")) == [5.0, 7.0]


def test_the_drawing_is_written_on_request_only(tmp_path):
    """The contract's four outputs stay what a build writes; settings can add more."""
    assert WRITER.default is False
    context = make_context()
    plain = write_layers({}, tmp_path / "plain", context=context)
    assert not [path for path in plain if path.suffix == ".dxf"]
    settings = Settings.model_validate({"output": {"formats": ["dxf"]}})
    more = write_layers({}, tmp_path / "more", context=make_context(settings=settings))
    assert [path.name for path in more[len(plain) :]] == ["quarry-pond.dxf", "quarry-pond.prj"]


def test_the_drawing_shows_when_it_is_rendered(demo, drawing, tmp_path):
    """Drawn by ezdxf's own renderer, wires appear in the colour of their zone."""
    mpl.use("Agg")
    import matplotlib.pyplot as plt

    figure = plt.figure()
    axes = figure.add_axes((0, 0, 1, 1))
    white = Configuration(background_policy=BackgroundPolicy.WHITE)
    frontend = Frontend(RenderContext(drawing), MatplotlibBackend(axes), config=white)
    frontend.draw_layout(drawing.modelspace(), finalize=True)
    figure.set_size_inches(8, 7)
    figure.savefig(tmp_path / "drawing.png", dpi=200)
    plt.close(figure)
    pixels = np.round(plt.imread(tmp_path / "drawing.png")[..., :3] * 255).astype(int)
    ink = RGB.from_hex(wire_ink("1").ink.light)
    assert np.abs(pixels - [ink.r, ink.g, ink.b]).sum(axis=2).min() == 0


def text_box(entity):
    """Where an unturned text stands, with letters 0.6 of their height wide."""
    h, words = entity.dxf.height, entity.dxf.text
    align, (x, y, _), _ = entity.get_placement()
    width = 0.6 * h * len(words)
    left = {"LEFT": x, "RIGHT": x - width}.get(align.name.rpartition("_")[2], x - width / 2)
    low = y - h / 2 if align.name.startswith("MIDDLE") else y
    return shapely.box(left, low, left + width, low + h)


def overlaps(boxes):
    """How many pairs of boxes share ground."""
    first, second = shapely.STRtree(boxes).query(boxes, predicate="intersects")
    return int((first < second).sum())


def test_texts_do_not_cover_each_other(drawing):
    """Twelve symbols stand within reach of each other's texts, and eight wires leave one box."""
    seen = [
        attribute
        for block in drawing.modelspace().query("INSERT")
        for attribute in block.attribs
        if attribute.dxf.text and not attribute.is_invisible
    ]
    readings = list(on(drawing, "IRR-DEPTH", "TEXT"))

    assert len(seen) > 40
    assert len(readings) > 50
    assert overlaps(np.array([text_box(entity) for entity in [*seen, *readings]])) == 0


def test_a_text_without_a_free_place_is_kept(tmp_path):
    """A hundred valves at one spot: each keeps its number, wherever it stands."""
    layers = make_layers()
    crowd = layers["valves"].iloc[[0] * 100].reset_index(drop=True)
    crowd["valve"] = [f"V{n}" for n in range(100)]
    blocks = on(draw(tmp_path, {"valves": crowd}), "IRR-VALVE", "INSERT")

    assert {attributes(block)["VALVE"] for block in blocks} == set(crowd["valve"])


def test_a_fault_is_named_in_words(demo, drawing):
    """The plan says open end, not open_end."""
    told = {attributes(block)["KIND"] for block in on(drawing, "IRR-FAULT", "INSERT")}
    assert told == {"break", "leak", "open end"}
