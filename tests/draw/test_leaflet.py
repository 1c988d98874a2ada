"""Leaflet from its package."""

from __future__ import annotations

from importlib.metadata import FileHash, PackageNotFoundError, distribution

import pytest

from wiremap.draw import leaflet
from wiremap.errors import MissingExtraError, ReadError


@pytest.fixture(autouse=True)
def fresh():
    leaflet.read_leaflet.cache_clear()
    yield
    leaflet.read_leaflet.cache_clear()


def test_leaflet_stands_alone():
    """No source map, no file beside it, nothing that would end its element; the licence is whole."""
    read = leaflet.read_leaflet()

    assert "Leaflet 1.9" in read.script
    assert "sourceMappingURL" not in read.script
    assert "</" not in read.script + read.style
    assert "url(images" not in read.style
    assert read.style.count("url(data:image/png;base64,") == 3
    assert "Redistributions of source code must retain" in read.licence


def test_the_package_is_read_without_being_imported(monkeypatch):
    """Its code never runs."""
    import sys

    monkeypatch.delitem(sys.modules, "js_lib_leaflet", raising=False)
    leaflet.read_leaflet()

    assert "js_lib_leaflet" not in sys.modules


def test_a_missing_package_names_the_install_line(monkeypatch):
    """The error says what to install."""

    def missing(name):
        raise PackageNotFoundError(name)

    monkeypatch.setattr(leaflet, "distribution", missing)
    with pytest.raises(MissingExtraError, match="pip install"):
        leaflet.read_leaflet()


class Altered:
    """A distribution whose record says another hash."""

    def __init__(self, real, spec):
        self.files = list(real.files)
        for path in self.files:
            if path.name == "leaflet.js":
                path.hash = FileHash(spec)


def test_a_file_that_differs_from_its_record_is_refused(monkeypatch):
    """A changed script does not get into an owner's map."""
    real = distribution(leaflet.PACKAGES[0])
    monkeypatch.setattr(leaflet, "_package", lambda: Altered(real, "sha256=AAAA"))
    with pytest.raises(ReadError, match="differs from its package's record"):
        leaflet.read_leaflet()


def test_a_script_that_is_no_published_version_is_refused(monkeypatch):
    """Record and script may have been changed together."""
    monkeypatch.setattr(leaflet, "KNOWN_SHA256", set())
    with pytest.raises(ReadError, match="not a published version"):
        leaflet.read_leaflet()


def test_a_package_without_the_file_is_refused(monkeypatch):
    """An empty package is no source of a script."""

    class Empty:
        files = None

    monkeypatch.setattr(leaflet, "_package", Empty)
    with pytest.raises(ReadError, match="no such file"):
        leaflet.read_leaflet()
