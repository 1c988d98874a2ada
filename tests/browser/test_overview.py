"""The portfolio's page in Chromium, without network."""

from __future__ import annotations

from urllib.parse import unquote

import pytest
from property_farm import Inline, make_property

import wiremap

pytestmark = pytest.mark.browser
HOSTILE = "<img src=x onerror=alert(1)>"


@pytest.fixture(scope="module")
def page_file(tmp_path_factory):
    """A portfolio of two properties, one with a hostile name, and one that failed."""
    folder = tmp_path_factory.mktemp("portfolio")
    make_property(folder / "root" / "a", seed=1, name=HOSTILE)
    make_property(folder / "root" / "b#?", seed=2, name="Quarry Pond")
    (folder / "root" / "bad").mkdir()
    (folder / "root" / "bad" / "locates.csv").write_text("point,feature,lon,lat\n")
    wiremap.build_properties(folder / "root", folder / "out", executor=Inline(), jobs=1)
    return folder / "out" / "portfolio.html"


@pytest.fixture
def page(chromium, page_file):
    """The page, open; whatever it asks for or complains of is a failure."""
    context = chromium.new_context(viewport={"width": 900, "height": 800})
    context.set_offline(offline=True)
    opened = context.new_page()
    heard, asked = [], []
    opened.on("console", lambda message: heard.append(message.text))
    opened.on("pageerror", lambda error: heard.append(str(error)))
    opened.on("dialog", lambda dialog: heard.append(dialog.message))
    opened.on("request", lambda request: asked.append(request.url))
    opened.goto(page_file.as_uri())
    opened.wait_for_selector("#map canvas")
    yield opened
    assert heard == []
    assert asked == [page_file.as_uri()]
    context.close()


def test_the_table_lists_every_property_the_failed_one_first(page):
    """Names are text, whatever they hold; those that need care stand on top."""
    rows = page.locator("tbody tr")
    assert rows.count() == 3
    assert "failed" in rows.nth(0).inner_text()
    assert HOSTILE in page.locator("tbody").inner_text()
    assert page.locator("tbody img").count() == 0


def test_a_click_on_the_map_leads_to_the_propertys_own_map(page, page_file):
    """Links of table and card lead to a file that is there, odd folder names included."""
    links = page.locator("tbody a")
    targets = [
        page.evaluate("a => new URL(a).pathname", a.evaluate("a => a.href")) for a in links.all()
    ]
    assert len(targets) == 2
    assert all((page_file.parent / unquote(target)).exists() for target in targets)
    page.evaluate("""() => document.querySelector("#map").scrollIntoView()""")
    box = page.locator("#map").bounding_box()
    for x in range(20, int(box["width"]), 12):
        for y in range(20, int(box["height"]), 12):
            page.mouse.click(box["x"] + x, box["y"] + y)
            if page.locator(".leaflet-popup a").count():
                card = page.locator(".leaflet-popup").inner_text()
                assert "1 runs" in card
                return
    pytest.fail("no property can be clicked on the map")
