"""Readers and writers of other people come in by the same door as the built-in ones."""

from __future__ import annotations

import importlib.util
from importlib.metadata import EntryPoint
from pathlib import Path

import pytest

import wiremap
from wiremap import plugins
from wiremap.errors import WiremapWarning

EXAMPLE = Path(__file__).parent.parent / "examples" / "04_reader_plugin.py"


@pytest.fixture
def installed(monkeypatch):
    """Pretend that a distribution offers the given entry points."""

    def offer(*entries):
        monkeypatch.setattr(
            plugins, "entry_points", lambda group: [e for e in entries if e.group == group]
        )
        plugins.registry.cache_clear()

    yield offer
    monkeypatch.undo()
    plugins.registry.cache_clear()


def test_a_third_party_reader_reads_a_property(installed, tmp_path, monkeypatch):
    """A registered reader's file is a field file like any other."""
    spec = importlib.util.spec_from_file_location("fieldnotes_plugin", EXAMPLE)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    monkeypatch.setitem(__import__("sys").modules, "fieldnotes_plugin", module)
    installed(EntryPoint("fieldnotes", "fieldnotes_plugin:READER", plugins.READERS))
    (tmp_path / "locates.notes").write_text(
        "A1 path W1 -97.523672 35.292066\nA2 path W1 -97.523640 35.292010\n"
        "V1 valve W1 -97.523611 35.291984\n"
    )
    asbuilt = wiremap.build_asbuilt(wiremap.read_property(tmp_path))
    assert asbuilt.layers["wire_runs"]["run"].tolist() == ["W1"]


def test_a_broken_plugin_is_skipped_with_a_warning(installed):
    """A plugin that cannot be loaded does not stop the rest."""
    installed(EntryPoint("broken", "no_such_module:READER", plugins.READERS))
    with pytest.warns(WiremapWarning, match="broken .* skipped"):
        found = plugins.registry(plugins.READERS)
    assert "delimited" in found.formats


def test_a_name_that_is_taken_is_skipped_with_a_warning(installed):
    """The built-in formats cannot be replaced in silence."""
    installed(EntryPoint("delimited", "elsewhere:READER", plugins.READERS))
    with pytest.warns(WiremapWarning, match="the name is taken"):
        found = plugins.registry(plugins.READERS)
    assert found.formats["delimited"].meaning
