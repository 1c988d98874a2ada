"""A Chromium without network, and pages that must stay silent."""

from __future__ import annotations

import os
import shutil
from dataclasses import dataclass, field
from pathlib import Path

import pytest
from playwright.sync_api import sync_playwright
from synthetic_layers import make_layers

from wiremap.draw.webmap import draw_map

FLAGS = (
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
    "--host-resolver-rules=MAP * ~NOTFOUND",
)  # fmt: skip
PHONE = {"width": 390, "height": 844}
DESK = {"width": 1440, "height": 900}


@dataclass
class Watched:
    """A page, and what it did that a page of ours must not do."""

    page: object
    faults: list[str] = field(default_factory=list)

    def script(self, text: str, *arguments: object):
        """Run a script on the page; ``site`` is the record on its map."""
        return self.page.evaluate(
            f"(a) => {{ const map = map_site, site = map._wiremap; {text} }}", list(arguments)
        )


@pytest.fixture(scope="session")
def chromium():
    """Debian's Chromium; its absence is a failure, since nothing else proves the map works."""
    path = shutil.which("chromium") or shutil.which("chromium-browser")
    assert path, "the browser tests need Chromium: apt-get install chromium"
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=path, args=list(FLAGS))
        yield browser
        browser.close()


@pytest.fixture
def open_map(chromium):
    """Open a map file; at the end, hold that it asked for nothing and complained of nothing."""
    opened = []

    def opener(path, *, viewport=DESK, wait=True, **options):
        context = chromium.new_context(viewport=viewport, **options)
        context.set_offline(offline=True)
        page = context.new_page()
        watched = Watched(page)
        page.on("console", lambda m: m.type in {"error", "warning"} and note(watched, m.text))
        page.on("pageerror", lambda error: note(watched, str(error)))
        page.on(
            "dialog", lambda dialog: (note(watched, "dialog " + dialog.message), dialog.dismiss())
        )
        page.on("request", lambda request: outside(watched, request.url, path))
        page.goto(Path(path).as_uri())
        if wait:
            page.wait_for_selector("html[data-wiremap=ready]", timeout=10_000)
        opened.append((context, watched))
        return watched

    yield opener
    for context, _ in opened:
        context.close()
    assert [w.faults for _, w in opened if w.faults] == []


def note(watched, text):
    watched.faults.append(text)


def outside(watched, url, path):
    if url != Path(path).as_uri() and not url.startswith(("data:", "blob:")):
        watched.faults.append(f"request {url}")


@pytest.fixture(scope="session")
def garden(tmp_path_factory):
    """An invented garden with eight zones, as a map file."""
    made = make_layers(8)
    path = tmp_path_factory.mktemp("map") / "hazel-bank.html"
    draw_map(made.layers, **made.arguments()).save(path)
    return path


@pytest.fixture(scope="session")
def artefacts(tmp_path_factory):
    """Folder that screenshots are kept in: ``WIREMAP_ARTEFACTS``, or a temporary one."""
    named = os.environ.get("WIREMAP_ARTEFACTS")
    folder = Path(named) if named else tmp_path_factory.mktemp("artefacts")
    folder.mkdir(parents=True, exist_ok=True)
    return folder
