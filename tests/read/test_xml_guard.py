"""XML that declares a document type is refused unread."""

from __future__ import annotations

import pytest

from wiremap.errors import ReadError
from wiremap.read import xml_guard
from wiremap.read.xml_guard import guard_xml

BOMB = (
    '<?xml version="1.0"?><!DOCTYPE gpx [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;">]>'
    "<gpx>&b;</gpx>"
)
OUTSIDE = '<!DOCTYPE gpx [<!ENTITY x SYSTEM "file:///etc/hostname">]><gpx>&x;</gpx>'


@pytest.mark.parametrize("text", [BOMB, OUTSIDE, OUTSIDE.replace("DOCTYPE", "doctype")])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-be"])
def test_entities_are_refused_in_any_encoding(text, encoding):
    """An entity can grow to gigabytes or read another file."""
    with pytest.raises(ReadError, match=r"a\.gpx: declares a document type or an entity; remove"):
        guard_xml(text.encode(encoding), path="a.gpx", root="gpx")


@pytest.mark.parametrize("text", ["<gpx/>", "<g:gpx xmlns:g='x'/>", "\ufeff<GPX version='1.0'/>"])
def test_a_plain_document_passes_unchanged(text):
    """With or without a namespace prefix or a byte order mark."""
    data = text.encode()
    assert guard_xml(data, path="a.gpx", root="gpx") == data


def test_another_document_and_an_empty_file_are_refused():
    """The message shows how the file starts."""
    with pytest.raises(ReadError, match="has no gpx element, got b'<kml/>'"):
        guard_xml(b"<kml/>", path="a.gpx", root="gpx")
    with pytest.raises(ReadError, match="has no gpx element, got an empty file"):
        guard_xml(b"", path="a.gpx", root="gpx")


def test_a_flood_is_refused(monkeypatch):
    """A limit on size holds before parsing."""
    monkeypatch.setattr(xml_guard, "MAX_XML_BYTES", 10)
    with pytest.raises(ReadError, match="is larger than 10 bytes, got 11 bytes"):
        guard_xml(b"<gpx></gpx>", path="a.gpx", root="gpx")
