"""The map's page, its data blocks and its still drawing."""

from __future__ import annotations

import io
import itertools
import json
import re
import xml.etree.ElementTree as ET

import pytest
from hostile import HOSTILE, hostile_layers
from pyproj import Geod
from synthetic_layers import make_layers

from wiremap.draw import page, record
from wiremap.draw.sketch import sketch_page, sketch_svg
from wiremap.draw.webmap import draw_map, explore_layers
from wiremap.model.settings import Settings


@pytest.fixture(scope="module")
def garden():
    return make_layers(8)


@pytest.fixture(scope="module")
def text(garden):
    return draw_map(garden.layers, **garden.arguments()).page()


def blocks(text):
    found = re.findall(
        r'<script type="application/json" id="wiremap-data-([a-z_]+)">(.*?)</script>',
        text,
        re.DOTALL,
    )
    return {name: json.loads(body) for name, body in found}


def test_the_page_names_no_outside_file(text):
    """No source, link or style import; the only addresses are namespaces and Leaflet's own words."""
    assert not re.findall(r"<(?:link|iframe|img|script)[^>]*(?:src|href)=", text)
    assert "@import" not in text
    assert "//cdn" not in text


def test_the_policy_allows_its_own_scripts_only(text):
    """As many hashes as scripts, nothing else; no handler in the markup."""
    policy = re.search(r'Content-Security-Policy" content="([^"]+)"', text)[1]
    scripts = [a for a in re.findall(r"<script([^>]*)>", text) if "type=" not in a]

    assert policy.startswith("default-src 'none'; script-src 'sha256-")
    assert policy.count("'sha256-") == len(scripts)
    assert "unsafe-eval" not in policy
    assert not re.findall(r"<[a-z]+[^>]* on[a-z]+=", text)


def test_the_licence_of_leaflet_travels_along(text):
    """BSD-2 asks for it in each copy."""
    assert "Redistributions in binary form must reproduce" in text
    assert "Volodymyr Agafonkin" in text


def test_every_layer_is_in_the_page_row_for_row(garden, text):
    """Each row with a position is in its block; the tables are in theirs."""
    found = blocks(text)
    for name in ("valves", "faults", "splices", "controllers", "equipment", "references",
                 "dig_buffer", "findings"):  # fmt: skip
        assert len(found[name]["features"]) == len(garden.layers[name]), name
    for name in ("locates", "depth_readings"):
        points = sum(len(f["geometry"]["coordinates"]) for f in found[name]["features"])
        assert points == len(garden.layers[name])
    assert len(found["tables"]["zones"]) == 8
    assert len(found["tables"]["ties"]) == 3
    assert set(found["profiles"]["depth"]) == {f"W{n}" for n in range(1, 9)}
    assert found["site"]["counts"]["locates"] == len(garden.layers["locates"])
    assert "811" in found["site"]["caution"]


def test_two_pages_of_one_record_are_alike(garden, text):
    """Nothing random or of today gets into the file."""
    assert draw_map(garden.layers, **garden.arguments()).page() == text


def test_rendering_twice_changes_nothing(garden):
    """A notebook shows the map, then saves it."""
    drawn = draw_map(garden.layers, **garden.arguments())
    first = drawn.page()
    drawn._repr_html_()

    assert drawn.page() == first


@pytest.mark.parametrize("turn", range(len(HOSTILE)))
def test_hostile_text_runs_in_no_template_and_breaks_no_page(turn):
    """Each text in every column of every table, as name, and as base layer.

    folium compiles what it is given as a template, so a zone named with double braces would run
    as code on the machine that builds the map.
    """
    texts = HOSTILE[turn:] + HOSTILE[:turn]
    made = hostile_layers(texts)
    settings = Settings.model_validate({"property": {"prepared_by": texts[0]}})
    drawn = draw_map(
        made.layers, name=texts[0], settings=settings, base={texts[0]: made.base["buildings"]}
    )
    text = drawn.page()
    plain = draw_map(make_layers(4, points_per_run=8).layers, name="x", settings=Settings()).page()

    assert text.encode()
    assert text.count("<script") == plain.count("<script")
    assert blocks(text)["site"]["name"] == texts[0]
    assert blocks(text)["splices"]["features"][0]["properties"]
    assert drawn._repr_html_()


def test_control_a_template_would_run_the_text():
    """Control: folium's own popup evaluates the braces that the map shows as text."""
    import folium

    stock = folium.Map(tiles=None)
    folium.Marker([0, 0], popup="{{7*7}}").add_to(stock)

    assert "49" in stock.get_root().render()


def test_the_still_drawing_is_well_formed_and_shows_the_record(garden):
    """It parses as XML with its wires, valve numbers and scale."""
    root = ET.fromstring(sketch_svg(garden.layers, name='<b> & "x"', base=garden.base))
    space = "{http://www.w3.org/2000/svg}"
    words = [node.text for node in root.iter(f"{space}text")]

    assert root.get("aria-label") == '<b> & "x": wires, valves and faults'
    assert {"1", "2", "A"} <= set(words)
    assert any(word.endswith(" ft") for word in words)
    assert any(word.endswith(" m") for word in words)
    assert len(list(root.iter(f"{space}path"))) > 16


def test_the_still_drawing_s_scale_is_true(garden):
    """Its metre bar is as long as that many metres of the wires that it draws."""
    svg = sketch_svg(garden.layers, name="x")
    bar = re.search(r'd="M[\d.]+ \d+h([\d.]+)"[^>]*/><text[^>]*>(\d+) m<', svg)
    paths = re.findall(r'<path d="(M[^"]*)" fill="none" stroke=', svg)
    run = garden.layers["wire_runs"].geometry[0]
    points = [tuple(map(float, p.split())) for p in re.split("[ML]", paths[0]) if p]
    drawn = sum(
        ((a[0] - b[0]) ** 2 + (a[1] - b[1]) ** 2) ** 0.5 for a, b in itertools.pairwise(points)
    )

    assert drawn / run.length == pytest.approx(float(bar[1]) / float(bar[2]), rel=0.01)


def test_nothing_placed_gives_a_page_without_a_drawing():
    """Name and caution still stand."""
    shown = sketch_page({}, name="Bare", settings=Settings())

    assert "<svg" not in shown
    assert "811" in shown


def test_the_reader_s_unit_follows_a_stated_metric_unit():
    """Feet and inches unless the property says metres."""
    metric = Settings.model_validate({"coordinates": {"length_unit": "cm"}})

    assert record.reader_unit(metric) == "m"
    assert record.reader_unit(Settings()) == "ft"


@pytest.mark.parametrize("lat", [0.0, 39.0, -54.0, 70.0])
def test_metres_in_a_degree_agree_with_pyproj(lat):
    """WGS 84 by pyproj.Geod over a hundredth of a degree."""
    geod = Geod(ellps="WGS84")
    east, north = record.metres_per_degree(lat)

    assert geod.inv(0, lat, 0.01, lat)[2] == pytest.approx(east / 100, rel=1e-5)
    assert geod.inv(0, lat - 0.005, 0, lat + 0.005)[2] == pytest.approx(north / 100, rel=1e-7)


def test_only_some_layers_can_be_drawn(garden):
    """What is not asked for is not in the page; an unknown name is an error."""
    found = blocks(draw_map(garden.layers, **garden.arguments(), only=["valves"]).page())

    assert "valves" in found
    assert found["wires"]["features"] == []
    with pytest.raises(ValueError, match="no layer named pipes; the layers are locates"):
        draw_map(garden.layers, **garden.arguments(), only=["pipes"])


def test_online_tiles_are_allowed_only_from_where_they_were_asked(garden):
    """The policy names that host for images and still nothing for scripts or connections."""
    text = draw_map(
        garden.layers, **garden.arguments(), tiles="https://{s}.tiles.example/{z}/{x}/{y}.png"
    ).page()
    policy = re.search(r'Content-Security-Policy" content="([^"]+)"', text)[1]

    assert "img-src data: blob: https://*.tiles.example;" in policy
    for bad in ("javascript:alert(1)", "https://a b/{z}", "ftp://x/y", "https://x'; script-src *"):
        with pytest.raises(ValueError, match="http or https address"):
            draw_map(garden.layers, **garden.arguments(), tiles=bad)


def test_saving_takes_a_path_or_an_open_file(garden, tmp_path):
    """As folium's own save does."""
    drawn = draw_map(garden.layers, **garden.arguments())
    drawn.save(str(tmp_path / "a.html"))
    kept = io.BytesIO()
    drawn.save(kept, close_file=False)

    assert (tmp_path / "a.html").read_bytes() == kept.getvalue()
    drawn.save(kept)
    assert kept.closed


def test_exploring_leaves_other_maps_alone(garden):
    """folium's own list of scripts is as it was; a new map of its own still has it."""
    import folium

    before = list(folium.Map.default_js)
    explore_layers(garden.layers, **garden.arguments())._repr_html_()

    assert before == folium.Map.default_js
    assert len(before) > 0


def test_control_characters_cannot_stand_in_a_page():
    """They are shown as the replacement character; half a surrogate too."""
    assert page.html_text("a\x00\ud800b") == "a\ufffd\ufffdb"
