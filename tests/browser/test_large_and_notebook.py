"""Large properties, and the map as a notebook shows it."""

from __future__ import annotations

import folium
import pytest
from synthetic_layers import make_layers

from wiremap.draw.webmap import draw_map, explore_layers

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def campus(tmp_path_factory):
    """Sixty zones and 6,000 locates."""
    made = make_layers(60, points_per_run=100)
    assert len(made.layers["locates"]) >= 6000 - 60
    path = tmp_path_factory.mktemp("campus") / "campus.html"
    draw_map(made.layers, **made.arguments("Campus")).save(path)
    return path


def test_sixty_zones_and_six_thousand_locates_stay_small_and_quick(open_map, campus):
    """Under 3 MB, and every zone is drawn; benchmarks/bench_webmap.py says how quickly."""
    assert campus.stat().st_size < 3_000_000
    opened = open_map(campus)
    assert opened.page.locator("path.wm-core").count() >= 60


def test_a_crowd_of_points_is_thinned_by_zoom_and_says_so(open_map, campus):
    """At the whole property some locates are drawn and the list says how many; close in, all."""
    opened = open_map(campus)
    opened.page.click("#wm-tab-layers")
    opened.page.get_by_label("Locates").check()
    marks = opened.page.locator("path.wm-locates.wm-mark")
    few = marks.count()
    note = opened.page.inner_text(".wm-thin[data-layer=locates]")

    assert 0 < few < 6000
    assert note == f"{few} drawn at this zoom; zoom in for all"
    inside = opened.script(
        """map.setZoom(24, {animate: false});
           const b = map.getBounds();
           return site.layers.locates.features.filter(
             f => b.contains([f.geometry.coordinates[1], f.geometry.coordinates[0]])).length"""
    )
    drawn = opened.script(
        """const b = map.getBounds();
           return site.layers.locates.getLayers().filter(m => b.contains(m.getLatLng())).length"""
    )
    assert inside == drawn > 0


def test_canvas_draws_the_same_wires_on_request(open_map, tmp_path):
    """The other renderer opens in silence too, and answers a tap."""
    made = make_layers(6)
    path = tmp_path / "canvas.html"
    draw_map(made.layers, **made.arguments(), renderer="canvas").save(path)
    opened = open_map(path)

    assert opened.page.locator("path.wm-core").count() == 0
    assert opened.page.locator("canvas").count() > 3
    opened.script("wiremap.chooseZone(site, wiremap.zones(site)[1])")


def test_an_empty_record_opens_too(open_map, tmp_path):
    """Nothing is placed; the page still says what it is."""
    made = make_layers(1)
    path = tmp_path / "empty.html"
    empty = {name: frame.iloc[:0] for name, frame in made.layers.items()}
    draw_map(empty, name="Bare Acre", settings=made.settings).save(path)
    opened = open_map(path)

    assert "No zone is known" in opened.page.inner_text("#wm-panel-zones")


def test_a_notebook_shows_the_map_in_its_frame(chromium, tmp_path):
    """The HTML repr is a frame that draws the wires without a network."""
    made = make_layers(3)
    shown = explore_layers(made.layers, **made.arguments())
    page = chromium.new_page()
    page.set_content(shown._repr_html_())
    frame = page.frame_locator("iframe")
    frame.locator("html[data-wiremap=ready]").wait_for(timeout=10_000)

    assert frame.locator("path.wm-core").count() >= 3
    page.close()


def test_layers_go_on_a_map_that_is_given(chromium, tmp_path):
    """A plain folium map takes the layers, and its layer control lists them by name."""
    from wiremap.draw.leaflet import read_leaflet

    made = make_layers(3)
    given = folium.Map(location=[37.9887, -98.0431], zoom_start=19, tiles=None)
    same = explore_layers(made.layers, **made.arguments(), m=given, only=["wire_runs", "valves"])
    folium.LayerControl().add_to(given)
    page = chromium.new_page()
    page.route("**/*", lambda route: route.fulfill(
        content_type="text/javascript",
        body=read_leaflet().script if "leaflet.js" in route.request.url else "",
    ))  # fmt: skip
    page.set_content(same.get_root().render())
    page.wait_for_selector("html[data-wiremap=ready]", timeout=10_000)

    assert same is given
    assert page.locator(".leaflet-control-layers label").all_text_contents() == [
        " Wires", " Shallow: hand tools only", " Valves",
    ]  # fmt: skip
    page.close()


def test_a_background_that_cannot_be_reached_leaves_the_map_as_it_is(open_map, tmp_path):
    """Without a network the tiles stay away; wires are drawn and the credit names the host."""
    made = make_layers(3)
    path = tmp_path / "tiles.html"
    draw_map(
        made.layers, **made.arguments(), tiles="https://{s}.tiles.example/{z}/{x}/{y}.png"
    ).save(path)
    opened = open_map(path)
    opened.page.wait_for_timeout(200)

    assert opened.page.locator("path.wm-core").count() >= 3
    assert opened.page.inner_text(".wm-credit") == "Background from tiles.example"
    assert opened.faults
    assert all("tiles.example" in f or "ERR_" in f for f in opened.faults)
    opened.faults.clear()
