"""The writer of the owner's map."""

from __future__ import annotations

from synthetic_layers import make_layers

from wiremap.plugins import WRITERS, registry
from wiremap.write.webmap import WRITER


def test_the_writer_is_built_in_and_writes_one_page(tmp_path):
    """``<slug>.html``, from layers and context alone."""
    made = make_layers(3)
    context = {"name": "Hazel Bank", "slug": "hazel-bank", "settings": made.settings}
    paths = WRITER.write(made.layers, tmp_path, context)

    assert registry(WRITERS).formats["webmap"] is WRITER
    assert paths == [tmp_path / "hazel-bank.html"]
    assert paths[0].read_text(encoding="utf-8").startswith("<!doctype html>")
    assert list(tmp_path.iterdir()) == paths


def test_half_a_record_can_be_written_too(tmp_path):
    """Locates alone make a map."""
    made = make_layers(2)
    context = {"name": "Half", "slug": "half", "settings": made.settings, "curves": None}
    (path,) = WRITER.write({"locates": made.layers["locates"]}, tmp_path, context)

    assert "wiremap-data-locates" in path.read_text(encoding="utf-8")
