"""``wiremap template`` as a user runs it."""

from __future__ import annotations

import sys

import pytest

from wiremap.cli.main import run


def call(*words):
    """Run the command line and return its exit code."""
    with pytest.raises(SystemExit) as left:
        run([str(w) for w in words])
    return left.value.code


def test_every_file_is_named_and_none_is_overwritten(tmp_path, capsys):
    """The second time all are left alone, and said to be."""
    assert call("template", "-o", tmp_path, "--paper", "a4") == 0
    said = capsys.readouterr()
    assert said.out.count("wrote ") == 11
    assert said.err == ""
    headings = (tmp_path / "csv" / "locates.csv").read_text(encoding="utf-8-sig")
    assert "offset_left_m," in headings
    assert call("template", "-o", tmp_path) == 0
    assert capsys.readouterr().out.count("left alone, it was there already") == 11


def test_units_may_differ_from_the_paper_s(tmp_path):
    """Letter paper, metric headings."""
    assert call("template", "-o", tmp_path, "--units", "m") == 0
    headings = (tmp_path / "csv" / "locates.csv").read_text(encoding="utf-8-sig")
    assert "tie_a_dist_m," in headings


def test_a_missing_extra_is_one_line_and_the_tables_are_there(tmp_path, monkeypatch, capsys):
    """Without reportlab: exit code 2, and what could be written is written."""
    monkeypatch.setitem(sys.modules, "reportlab.pdfgen.canvas", None)
    assert call("template", "-o", tmp_path) == 2
    said = capsys.readouterr().err
    assert said == "wiremap: reportlab is needed for this; run: pip install 'wiremap[sheets]'\n"
    assert (tmp_path / "xlsx" / "locates.xlsx").exists()


def test_a_paper_that_there_is_not_is_one_line(tmp_path, capsys):
    """The message lists the choices."""
    assert call("template", "-o", tmp_path, "--paper", "a5") == 2
    said = capsys.readouterr().err
    assert said.count("\n") == 1
    assert "a4" in said
    assert list(tmp_path.iterdir()) == []
