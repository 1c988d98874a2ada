"""Readers and writers of other people come in by the same door as the built-in ones."""

from __future__ import annotations

import importlib.util
import sys
import types
from importlib.metadata import EntryPoint
from pathlib import Path

import pandas as pd
import pytest
from attacks import write_sound

import wiremap
from wiremap import plugins
from wiremap.cli.main import run
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


def leave(code):
    """Return a function of a plugin that ends the process."""

    def end(*_):
        sys.exit(code)

    return end


def table(**cells):
    """Return a reader's function that gives one row."""
    row = {"point": "X1", "feature": "valve", "lat": 41.5001, "lon": -96.5} | cells
    return lambda *_: [plugins.RawTable(pd.DataFrame({k: [v] for k, v in row.items()}))]


READERS = {
    "raises": lambda *_: 1 / 0, "ends the process": leave(0), "gives nothing": lambda *_: None,
    "gives words": lambda *_: ["x"], "gives lists in cells": table(feature=["valve"]),
    "gives problems of no kind": lambda *_: [plugins.RawTable(pd.DataFrame({"lat": [1]}),
                                                             problems=("x",))],
}  # fmt: skip


def call(*words):
    with pytest.raises(SystemExit) as left:
        run([str(word) for word in words])
    return left.value.code or 0


@pytest.fixture
def plugin(installed, monkeypatch):
    """Return what offers one object as a plugin of a distribution."""

    def offer(found, group):
        module = types.ModuleType("odd_plugin")
        module.OBJECT = found
        monkeypatch.setitem(sys.modules, "odd_plugin", module)
        installed(EntryPoint("odd", "odd_plugin:OBJECT", group))

    return offer


@pytest.mark.parametrize("what", READERS)
def test_a_reader_that_fails_is_a_finding_and_the_rest_is_built(plugin, tmp_path, capsys, what):
    """Whatever it does: the file is named, and the other files stand."""
    plugin(plugins.Reader("odd", (".odd",), READERS[what]), plugins.READERS)
    folder = write_sound(tmp_path / "garden")
    (folder / "locates.odd").write_text("x")

    assert call("build", folder, "-o", tmp_path / "out", "--format=findings") == 1
    assert capsys.readouterr().err == ""
    found = (tmp_path / "out" / "findings.csv").read_text("utf-8-sig")
    assert "The reader 'odd' failed" in found


@pytest.mark.parametrize(
    "write",
    [lambda *_: 1 / 0, leave(0), lambda *_: None, lambda *_: [3],
     lambda _, out, __: [out / "never written"], lambda _, out, __: [out.parent]],
)  # fmt: skip
def test_a_writer_that_fails_is_one_line_and_nothing_is_replaced(plugin, tmp_path, capsys, write):
    """Also one that would end the process as if all were well."""
    plugin(plugins.Writer("odd", (".odd",), write), plugins.WRITERS)
    folder = write_sound(tmp_path / "garden")

    assert call("build", folder, "-o", tmp_path / "out", "--format=odd", "--format=findings") == 2
    said = capsys.readouterr().err
    assert said.count("\n") == 1
    assert "the writer odd" in said
    assert not list((tmp_path / "out").iterdir())


@pytest.mark.parametrize(
    "found", ["a word", 3, plugins.Reader, plugins.Reader("odd", ".odd", print)]
)
def test_what_is_no_reader_is_skipped_with_a_warning(plugin, found):
    """A word in place of a tuple would claim endings that it only contains."""
    plugin(found, plugins.READERS)
    with pytest.warns(WiremapWarning, match="odd .* it is no Reader"):
        assert "odd" not in plugins.registry(plugins.READERS).formats


def test_a_plugin_that_ends_the_process_as_it_is_loaded_is_skipped(installed, monkeypatch):
    """As a script does that was taken for a module."""
    module = types.ModuleType("ending_plugin")
    module.__getattr__ = leave(0)
    monkeypatch.setitem(sys.modules, "ending_plugin", module)
    installed(EntryPoint("odd", "ending_plugin:READER", plugins.READERS))
    with pytest.warns(WiremapWarning, match="odd .* skipped: SystemExit"):
        assert "delimited" in plugins.registry(plugins.READERS).formats
