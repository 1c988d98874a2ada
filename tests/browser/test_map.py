"""The owner's map, opened in Chromium without a network."""

from __future__ import annotations

import pytest
from synthetic_layers import make_layers

from wiremap.draw.sheets.measures import Units
from wiremap.draw.webmap import draw_map

pytestmark = pytest.mark.browser

DEPTH = ".wm-card dl > div:has(dt:text-is('Depth')) dd"
PHONE, SMALL, DESK = (390, 844), (360, 740), (1440, 900)


def size(pair):
    return {"width": pair[0], "height": pair[1]}


def tap(opened, layer, number, vertex=None):
    """Tap the middle of a feature on the screen, and return the card's heading."""
    x, y = opened.script(
        """const f = site.layers[a[0]].features[a[1]];
           const c = a[2] === null ? f.geometry.coordinates : f.geometry.coordinates[a[2]];
           map.setView([c[1], c[0]], a[2] === null ? 22 : 20, {animate: false});
           const px = f.geometry.type === 'Point' ? null : f;
           const p = map.latLngToContainerPoint([c[1], c[0]]);
           const box = map.getContainer().getBoundingClientRect();
           if (px && px.properties.lane) {
             const all = px.geometry.coordinates.map(q => map.latLngToContainerPoint([q[1], q[0]]));
             const s = wiremap.shift(all, px.properties.lane, wiremap.pitch(map.getZoom()))[a[2]];
             return [box.left + s[0], box.top + s[1]];
           }
           return [box.left + p.x, box.top + p.y];""",
        layer, number, vertex,
    )  # fmt: skip
    opened.page.mouse.click(x, y)
    opened.page.wait_for_selector(".wm-card:not([hidden])")
    return opened.page.inner_text(".wm-card h2")


@pytest.mark.parametrize("viewport", [PHONE, SMALL, DESK])
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_map_opens_in_silence_at_every_size(open_map, garden, artefacts, viewport, scheme):
    """No request, no console message; nothing is wider than the screen."""
    opened = open_map(garden, viewport=size(viewport), color_scheme=scheme)

    assert opened.page.title() == "Hazel Bank"
    assert opened.page.evaluate("document.documentElement.scrollWidth") <= viewport[0]
    assert opened.page.locator("path.wm-core").count() >= 8
    opened.page.screenshot(path=artefacts / f"map-{viewport[0]}-{scheme}.png")


def test_the_caution_is_in_sight_and_its_full_words_one_tap_away(open_map, garden):
    """The short caution stands on every screen; a tap opens all of it."""
    opened = open_map(garden, viewport=size(SMALL))
    caution = opened.page.locator(".wm-caution")

    assert "Not a utility locate" in caution.inner_text()
    caution.locator("summary").click()
    assert "811" in caution.locator("p").inner_text()


def test_switching_a_layer_shows_and_hides_its_features(open_map, garden):
    """Depth readings are off at first; the box draws each of them and takes them away."""
    opened = open_map(garden)
    opened.page.click("#wm-tab-layers")
    box = opened.page.get_by_label("Depth readings")
    marks = opened.page.locator("path.wm-depth-readings.wm-mark")
    count = opened.script("return site.facts.counts.depth_readings")

    assert marks.count() == 0
    box.check()
    assert marks.count() == count
    box.uncheck()
    assert marks.count() == 0


def test_each_layer_is_listed_with_its_count(open_map, garden):
    """The number beside a layer is the number of its rows."""
    opened = open_map(garden)
    opened.page.click("#wm-tab-layers")
    row = opened.page.locator(".wm-layers label", has_text="Valves")

    assert row.locator(".wm-count").inner_text() == "8"


def test_choosing_a_zone_zooms_to_it_and_dims_the_rest(open_map, garden, artefacts):
    """The whole wire path and the valve of zone 5 stay bright."""
    opened = open_map(garden)
    before = opened.script("return map.getZoom()")
    opened.page.fill("input[type=search]", "kitchen")
    opened.page.keyboard.press("Enter")

    assert opened.script("return map.getZoom()") > before
    bright = opened.script(
        """return site.layers.wires.features.filter(
             f => !f.drawn[1]._path.classList.contains('wm-dim')).map(f => f.properties.run)"""
    )
    assert bright == ["W5"]
    assert opened.script(
        """const f = site.layers.wires.features[4].geometry.coordinates;
           return f.every(c => map.getBounds().contains([c[1], c[0]]))"""
    )
    opened.page.screenshot(path=artefacts / "zone-chosen.png")
    opened.page.click("text=Show all")
    assert opened.page.locator("path.wm-dim").count() == 0


def test_a_zone_fed_through_a_trunk_lights_its_whole_path(open_map, tmp_path):
    """Where a valve names the runs on its way from the controller, all of them are chosen."""
    made = make_layers(5)
    made.layers["valves"]["path_runs"] = ["W3;W1", *made.layers["valves"]["run"][1:]]
    path = tmp_path / "trunk.html"
    draw_map(made.layers, **made.arguments()).save(path)
    opened = open_map(path)
    lit = opened.script(
        "return wiremap.zoneFeatures(site, wiremap.zones(site)[0]).wires.map(f => f.properties.run)"
    )

    assert sorted(lit) == ["W1", "W3"]


def test_a_tap_on_a_wire_in_a_shared_trench_names_that_wire(open_map, garden):
    """Eight wires leave through one trench; each answers to its own name where it is drawn."""
    opened = open_map(garden)
    named = [tap(opened, "wires", number, 3) for number in range(8)]

    assert named == [f"Wire W{n}, zone {n}" for n in range(1, 9)]
    assert "Also here" in opened.page.inner_text(".wm-card")


def test_a_tap_on_a_valve_tells_depth_ties_and_dates(open_map, garden, artefacts):
    """The card of valve 1 says in words what the layers hold."""
    opened = open_map(garden)
    assert tap(opened, "valves", 0) == "Valve of zone 1"
    text = opened.page.inner_text(".wm-card")

    assert "with 95 % confidence" in text
    assert "12.4 ft from NE corner of the garage, 8.1 ft from SE corner of the garage" in text
    assert "2026-04-02 to 2026-04-20" in text
    assert opened.page.locator(".wm-card .wm-profile").count() == 2
    opened.page.screenshot(path=artefacts / "card.png")


def test_the_other_features_under_a_tap_can_be_chosen(open_map, garden):
    """The list under the first answer opens the next one."""
    opened = open_map(garden)
    tap(opened, "valves", 0)
    opened.page.click(".wm-also >> text=Wire W1")

    assert opened.page.inner_text(".wm-card h2").startswith("Wire W1")


def test_points_come_before_wires_and_wires_before_areas(open_map, garden):
    """A tap on a fault that lies on a wire in a band answers in that order."""
    opened = open_map(garden)
    tap(opened, "faults", 1)
    layers = opened.script("return site.card.found.map(f => f.feature.layer)")

    order = ["faults", "wires", "dig_buffer"]
    assert [layers.index(name) for name in order] == sorted(layers.index(n) for n in order)


def test_the_unit_switch_changes_depths_and_distances(open_map, garden):
    """Feet and inches first; metres after the switch; the same depth."""
    opened = open_map(garden)
    tap(opened, "valves", 0)
    depth_m = opened.script("return site.layers.valves.features[0].properties.depth_m")
    in_feet = opened.page.inner_text(DEPTH)
    opened.page.click(".wm-unit")
    in_metres = opened.page.inner_text(DEPTH)

    feet, inches = divmod(round(depth_m / 0.0254), 12)
    parts = [f"{feet} ft"] * bool(feet) + [f"{inches} in"] * bool(inches)
    assert in_feet.startswith(" ".join(parts) + ", between")
    assert in_metres.startswith(f"{depth_m:.2f} m")
    assert "3.78 m from" in opened.page.inner_text(".wm-card")


def test_my_position_shows_accuracy_distance_and_warning(open_map, garden, artefacts):
    """A position 3 m north of a wire's end reads 9.8 ft, within 26.2 ft, and warns."""
    opened = open_map(
        garden,
        viewport=size(PHONE),
        permissions=["geolocation"],
        geolocation={"latitude": 37.9887, "longitude": -98.0431, "accuracy": 8.0},
    )
    metres = opened.script(
        "return wiremap.nearestWire(site, L.latLng(37.9887, -98.0431)).near.distance"
    )
    opened.page.click("[aria-label='My position']")
    opened.page.wait_for_selector(".wm-note:has-text('to wire')")
    text = opened.page.inner_text(".wm-note")

    assert f"{metres / 0.3048:.1f} ft to wire" in text
    assert "position within 26.2 ft" in text
    assert "no locate" in text
    assert opened.script("return Math.round(site.hereCircle.getRadius())") == 8
    opened.page.screenshot(path=artefacts / "position.png")
    opened.page.click("[aria-label='My position']")
    assert opened.page.locator(".wm-note").is_hidden()


def test_a_refused_position_says_what_to_do(open_map, garden):
    """Without permission the note explains, and the button is up again."""
    opened = open_map(garden)
    opened.page.click("[aria-label='My position']")
    opened.page.wait_for_selector(".wm-note:has-text('may not read the position')")

    assert opened.page.get_attribute("[aria-label='My position']", "aria-pressed") == "false"


def test_measuring_agrees_with_the_ellipsoid(open_map, garden):
    """Two taps read the geodesic distance, taken from pyproj, to a centimetre or two."""
    from pyproj import Geod

    opened = open_map(garden)
    opened.page.click("[aria-label='Measure']")
    for at in ((500, 300), (1100, 620)):
        opened.page.mouse.click(*at)
    (a, b), metres = opened.script(
        """const c = site.measuring.corners;
           return [c.map(p => [p.lng, p.lat]), wiremap.measured(site)]"""
    )
    _, _, expected = Geod(ellps="WGS84").inv(*a, *b)

    assert metres == pytest.approx(expected, rel=5e-5)
    assert f"{metres / 0.3048:.0f}" in opened.page.inner_text(".wm-note").replace(",", "")


def test_a_finding_is_shown_where_it_stands(open_map, garden):
    """The panel lists every finding; one with a place opens its card there."""
    opened = open_map(garden)
    opened.page.click("#wm-tab-findings")
    assert opened.page.locator(".wm-findings > li").count() == 3
    assert opened.page.locator(".wm-findings button").count() == 2
    opened.page.click(".wm-findings button >> nth=0")

    assert opened.page.inner_text(".wm-card h2") == "ohms open"
    assert "Station 6 reads open." in opened.page.inner_text(".wm-card")


def test_shallow_stretches_are_marked_where_cover_is_under_the_limit(open_map, garden):
    """As many pieces are ticked as have a shallow bound below the property's limit."""
    opened = open_map(garden)
    drawn, expected = opened.script(
        """let drawn = 0, expected = 0;
           site.layers.hand_dig.getLayers().forEach(line => line.getLatLngs().forEach(
             part => { drawn += part.length - 1; }));
           site.layers.wires.features.forEach(f => { expected += f.properties.cover.filter(
             c => c < site.facts.min_cover_m).length; });
           return [drawn, expected];"""
    )

    assert drawn == expected > 0


def test_evidence_shows_in_width_and_dash(open_map, garden):
    """Inferred stretches are dashed; those seen in an open hole are wider than traced ones."""
    opened = open_map(garden)
    kinds = opened.page.evaluate(
        """() => [...document.querySelectorAll('path.wm-core')].map(
             p => [p.getAttribute('stroke-width'), p.getAttribute('stroke-dasharray')].join('/'))"""
    )

    assert set(kinds) == {"6/null", "4/null", "3/7 6"} or set(kinds) == {"6/", "4/", "3/7 6"}


def test_the_scale_bar_is_as_long_as_it_says(open_map, garden):
    """Its metre bar, in pixels, spans its number of metres on the map."""
    opened = open_map(garden)
    label = opened.page.get_attribute(".wm-scale svg", "aria-label")
    metres = float(label.split(" feet, ")[1].split()[0])
    px_per_m = opened.script(
        """const y = map.getSize().y / 2;
           return 100 / wiremap.between(site, map.containerPointToLatLng([0, y]),
                                        map.containerPointToLatLng([100, y]))"""
    )
    at = float(opened.page.get_attribute(".wm-scale text >> nth=1", "x")) - 6

    assert at == pytest.approx(metres * px_per_m, abs=1.0)


def test_printing_gives_the_map_and_the_zone_table(open_map, garden, artefacts):
    """The print holds two sheets: the plan, then every zone; the view comes back afterwards."""
    opened = open_map(garden)
    before = opened.script("return [map.getCenter().lat, map.getZoom()]")
    data = opened.page.pdf(path=artefacts / "print.pdf", prefer_css_page_size=True,
                           print_background=True)  # fmt: skip

    assert data.count(b"/Type /Page\n") == 2
    assert opened.page.locator(".wm-print tbody tr").count() == 8
    assert "not a utility locate" in opened.page.text_content(".wm-print-caution")
    after = opened.script("return [map.getCenter().lat, map.getZoom()]")
    assert after == pytest.approx(before, abs=1e-6)


def test_without_scripts_a_drawing_a_table_and_the_caution_stand(open_map, garden, artefacts):
    """A viewer that runs no scripts still shows the property."""
    opened = open_map(garden, viewport=size(PHONE), java_script_enabled=False, wait=False)
    page = opened.page

    assert page.locator(".wm-still svg path").count() > 8
    assert "Open the file in a web browser" in page.inner_text(".wm-still")
    assert "811" in page.inner_text(".wm-still")
    assert page.locator(".wm-still tbody tr").count() == 8
    page.screenshot(path=artefacts / "still.png", full_page=True)


def test_the_keyboard_reaches_everything(open_map, garden):
    """Tab order, arrow keys among tabs, Enter on the map, Escape from the card."""
    opened = open_map(garden)
    page = opened.page
    page.focus("#wm-tab-zones")
    page.keyboard.press("ArrowRight")
    assert page.evaluate("document.activeElement.id") == "wm-tab-layers"
    opened.script(
        """const c = site.layers.valves.features[2].geometry.coordinates;
           map.setView([c[1], c[0]], 21, {animate: false}); map.getContainer().focus()"""
    )
    page.keyboard.press("Enter")
    assert page.evaluate("document.activeElement.textContent") == "Valve of zone 3"
    page.keyboard.press("Escape")
    assert page.locator(".wm-card").is_hidden()
    assert page.evaluate("document.activeElement.id") == "map_site"


def test_every_control_has_a_name_and_a_finger_s_width(open_map, garden):
    """Buttons, boxes and fields are named; on a phone none is less than 38 px high."""
    opened = open_map(garden, viewport=size(PHONE))
    opened.page.click("#wm-tab-layers")
    poor = opened.page.evaluate(
        """() => [...document.querySelectorAll('button, input, summary, [role=tab]')]
             .filter(e => e.offsetParent !== null).filter(e => {
               const name = e.getAttribute('aria-label') || e.textContent.trim() ||
                 (e.labels && e.labels.length && e.labels[0].textContent.trim());
               const box = (e.type === 'checkbox' ? e.closest('label') : e).getBoundingClientRect();
               return !name || box.height < 34;
             }).map(e => e.outerHTML.slice(0, 120))"""
    )
    assert poor == []
    assert opened.page.evaluate("document.documentElement.lang") == "en"


@pytest.mark.parametrize(("viewport", "scheme"), [(DESK, "light"), (PHONE, "dark")])
def test_the_packaged_accessibility_checker_finds_nothing(open_map, garden, viewport, scheme):
    """axe-core's rules (WCAG 2.0 to 2.2, A and AA, and good practice) on every part of the page."""
    from axe_playwright_python.sync_playwright import Axe

    opened = open_map(garden, viewport=size(viewport), color_scheme=scheme)
    broken = []
    for part in ("zones", "layers", "findings", "record"):
        opened.page.evaluate(
            "t => { const e = document.getElementById('wm-tab-' + t);"
            " if (e.getAttribute('aria-selected') !== 'true') e.click(); }",
            part,
        )
        results = Axe().run(opened.page).response["violations"]
        broken += [(part, rule["id"], rule["nodes"][0]["html"]) for rule in results]
    if viewport == PHONE:
        opened.page.click("#wm-tab-record")
    tap(opened, "valves", 0)
    results = Axe().run(opened.page).response["violations"]

    assert broken + [rule["id"] for rule in results] == []


def test_ink_and_ground_differ_enough_to_read(open_map, garden):
    """WCAG 2.1, 1.4.3 and 1.4.11: words 4.5 to 1 and lines 3 to 1 against their ground.

    The ratio's formula is from WCAG 2.1 (relative luminance), from memory.
    """
    for scheme in ("light", "dark"):
        opened = open_map(garden, color_scheme=scheme)
        found = opened.page.evaluate(
            """() => { const s = getComputedStyle(document.documentElement);
                 const v = n => s.getPropertyValue(n).trim();
                 return {paper: v('--wm-paper'), graphite: v('--wm-graphite'),
                         quiet: v('--wm-quiet'), sheet: v('--wm-sheet'),
                         copper: v('--wm-copper'), faults: v('--wm-faults'),
                         wires: [0,1,2,3,4,5,6,7].map(n => v('--wm-wire-' + n))}; }"""
        )
        assert contrast(found["graphite"], found["sheet"]) >= 4.5
        assert contrast(found["quiet"], found["sheet"]) >= 4.5
        assert contrast(found["faults"], found["sheet"]) >= 4.5
        assert contrast(found["copper"], found["paper"]) >= 3
        assert min(contrast(wire, found["paper"]) for wire in found["wires"]) >= 2.8


def contrast(a, b):
    def light(text):
        parts = [int(text[i : i + 2], 16) / 255 for i in (1, 3, 5)]
        linear = [c / 12.92 if c <= 0.03928 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
        return sum(w * c for w, c in zip((0.2126, 0.7152, 0.0722), linear, strict=True))

    low, high = sorted((light(a), light(b)))
    return (high + 0.05) / (low + 0.05)


def test_the_words_of_a_fault_speak_the_readers_unit(open_map, garden):
    """Sentences of the record are in metres; with feet chosen no metre is left among the feet."""
    opened = open_map(garden)
    said = opened.script(
        """return ["Open first at 20.8 m, then between 17.8 m and 23.7 m along W6.",
                   "at least 0.152 m, got 0.134 m; chainage 0.0 to 5.8, 35.6 to 57.2 m.",
                   "run W3, 12 m long; zone 3, 4 of 5", "V1.2 m"].map(wiremap.sentence)"""
    )

    assert said == [Units("ft").sentence(text) for text in (
        "Open first at 20.8 m, then between 17.8 m and 23.7 m along W6.",
        "at least 0.152 m, got 0.134 m; chainage 0.0 to 5.8, 35.6 to 57.2 m.",
        "run W3, 12 m long; zone 3, 4 of 5", "V1.2 m",
    )]  # fmt: skip
    assert opened.script("return wiremap.percent(0.9994)") == "over 99 %"


def test_findings_speak_the_readers_unit(open_map, tmp_path):
    """Found and advice, in the list and on the card; 20.8 m are 68.2 ft."""
    made = make_layers(2)
    made.layers["findings"][["message", "advice"]] = "Open first at 20.8 m."
    path = tmp_path / "found.html"
    draw_map(made.layers, **made.arguments()).save(path)
    opened = open_map(path)
    opened.page.click("#wm-tab-findings")
    listed = opened.page.locator(".wm-findings li").first.inner_text()
    opened.page.click("text=Show on map >> nth=0")

    assert listed.count("68.2 ft") == 2
    assert opened.page.inner_text(".wm-card").count("68.2 ft") == 2


def test_the_legend_names_only_what_is_drawn(open_map, garden):
    """A line for inferred wire where none is inferred sends the reader looking for it."""
    opened = open_map(garden)
    labels = opened.script("return wiremap.legendRows(site).map(row => row[1])")
    marks = opened.script(
        "return site.layers.wires.features.map(f => f.properties.evidence).join('')"
    )

    for mark, label in (
        ("e", "Seen in an open hole"),
        ("t", "Traced"),
        ("i", "Inferred between locates"),
    ):
        assert (label in labels) == (mark in marks), label


def test_a_tie_through_a_building_says_so(open_map, tmp_path):
    """Nobody is sent to stretch a tape through a house."""
    made = make_layers(2)
    made.layers["ties"]["blocked_a"] = True
    path = tmp_path / "tied.html"
    draw_map(made.layers, **made.arguments()).save(path)
    opened = open_map(path)
    tap(opened, "valves", 0)

    assert "a building stands between it and NE corner" in opened.page.inner_text(".wm-card")
