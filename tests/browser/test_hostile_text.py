"""Text from the field stays text, whatever it says."""

from __future__ import annotations

import pytest
from hostile import HOSTILE, hostile_layers

from wiremap.draw.webmap import draw_map
from wiremap.model.settings import Settings

pytestmark = pytest.mark.browser


def settings(text):
    return Settings.model_validate({"property": {"prepared_by": text}})


@pytest.mark.parametrize("turn", [0, len(HOSTILE) // 2])
def test_every_field_of_every_table_shows_as_text(open_map, tmp_path, turn):
    """Each text stands in every column in turn: no dialog, no request, no broken page."""
    texts = HOSTILE[turn:] + HOSTILE[:turn]
    made = hostile_layers(texts)
    path = tmp_path / "hostile.html"
    draw_map(
        made.layers, name=texts[0], settings=settings(texts[1]), curves=made.curves,
        tones=made.tones, base=dict.fromkeys(texts[:4], made.base["buildings"]),
    ).save(path)  # fmt: skip
    opened = open_map(path)

    opened.script(
        """document.querySelectorAll('[role=tab]').forEach(t => t.click());
           document.querySelectorAll('.wm-layers input').forEach(b => { if (!b.checked) b.click(); });
           Object.values(site.layers).forEach(layer => (layer.features || []).forEach(f => {
             wiremap.showCard(site, [{feature: f, near: {piece: 0, share: 0.5}}], 0); }));
           wiremap.zones(site).forEach(z => wiremap.chooseZone(site, z));
           window.dispatchEvent(new Event('beforeprint'));
           window.dispatchEvent(new Event('afterprint'));"""
    )
    opened.page.wait_for_timeout(100)
    shown = opened.page.inner_text("body") + opened.page.content()
    assert opened.page.locator("img:not(.leaflet-tile), [onerror], [onmouseover]").count() == 0
    if texts[0].isprintable():
        assert opened.page.title() == texts[0].strip() or len(texts[0]) > 1000
        assert texts[0][:20] in opened.page.text_content(".wm-title h1")
    assert "cycler" not in shown or "__globals__" in shown


def test_a_zone_named_as_a_template_is_listed_by_that_name(open_map, tmp_path):
    """Double braces, tags and quotes stand in the zone list letter for letter."""
    made = hostile_layers()
    names = ["{{7*7}}", "</script><b>", "${x}`", "{# no"]
    made.layers["zones"].loc[:, "zone"] = names
    path = tmp_path / "named.html"
    draw_map(made.layers, **made.arguments()).save(path)
    opened = open_map(path)

    listed = opened.page.locator(".wm-zone-number").all_text_contents()
    assert listed[:4] == names


def test_the_policy_stops_a_script_that_got_in(open_map, tmp_path, garden):
    """Control: with a foreign handler and script put into the file, neither runs."""
    text = garden.read_text(encoding="utf-8")
    path = tmp_path / "broken-into.html"
    path.write_text(
        text.replace("</body>", "<img src=x onerror='document.title=1'>"
                     "<script>document.title = 'owned'</script></body>"),
        encoding="utf-8",
    )  # fmt: skip
    opened = open_map(path)

    assert opened.page.title() == "Hazel Bank"
    assert any("Content Security Policy" in fault for fault in opened.faults)
    opened.faults.clear()
