"""``wiremap bulk`` as a user runs it."""

from __future__ import annotations

import io
import shutil
from pathlib import Path

import pandas as pd
import pytest
from property_farm import make_farm
from rich.console import Console

from wiremap.cli import render
from wiremap.cli.main import run

DATA = Path(__file__).parent.parent.parent / "data"


def call(*words):
    """Run the command line and return its exit code."""
    with pytest.raises(SystemExit) as left:
        run([str(w) for w in words])
    return left.value.code


def test_a_good_root_is_exit_code_0_and_a_bad_property_1(tmp_path, capsys):
    """The run goes on past a bad property, says so on stderr, and is taken up without work."""
    root, out = make_farm(tmp_path / "root", 3), tmp_path / "out"
    assert call("bulk", root, "-o", out, "--jobs", 2) == 0
    said = capsys.readouterr()
    assert "3 properties: 3 built, 0 kept, 0 failed" in said.out
    assert said.err == ""
    bad = root / "bad\nname"
    bad.mkdir()
    (bad / "locates.csv").write_text("point,feature,lon,lat\n")
    assert call("bulk", root, "-o", out, "--jobs", 1) == 1
    said = capsys.readouterr()
    assert "4 properties: 0 built, 3 kept, 1 failed" in said.out
    assert said.err.count("\n") == 1
    assert "EmptyTableError" in said.err
    assert pd.read_csv(out / "failures.csv")["folder"].tolist() == ["bad\nname"]


def test_findings_of_severity_error_give_exit_code_1(tmp_path):
    """As for a single build."""
    shutil.copytree(DATA / "millrace-court", tmp_path / "root" / "messy")
    assert call("bulk", tmp_path / "root", "-o", tmp_path / "out", "--jobs", 1) == 1


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["bulk"], "Missing argument"),
        (["bulk", "empty", "-o", "out"], "no property folder was found"),
        (["bulk", "nowhere", "-o", "out"], "no such folder"),
        (["bulk", "empty", "-o", "out", "--jobs", "0"], "--jobs"),
    ],
)
def test_what_cannot_be_done_is_one_line_and_exit_code_2(
    tmp_path, monkeypatch, capsys, words, says
):
    """Usage, a missing root, nothing found."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "empty").mkdir()
    assert call(*words) == 2
    said = capsys.readouterr()
    assert says in said.err
    assert said.err.count("\n") == 1


def test_where_no_property_can_be_built_the_exit_code_is_2(tmp_path, capsys):
    """Nothing could be built; the failures are written all the same."""
    bad = tmp_path / "root" / "bad"
    bad.mkdir(parents=True)
    (bad / "locates.csv").write_text("point,feature,lon,lat\n")
    assert call("bulk", tmp_path / "root", "-o", tmp_path / "out", "--jobs", 1) == 2
    assert "no rows" in capsys.readouterr().err
    assert len(pd.read_csv(tmp_path / "out" / "failures.csv")) == 1


def test_a_terminal_sees_rate_and_time_left(monkeypatch):
    """Progress shows how many of how many, properties a second, and the time left."""
    text = io.StringIO()
    monkeypatch.setattr(
        render, "Console", lambda **_: Console(file=text, force_terminal=True, width=100)
    )
    with render.show_count("[red]root") as say:
        for done in range(1, 4):
            say(done, 3, None)
    shown = text.getvalue()
    assert "3/3" in shown
    assert "/s" in shown
    assert "[red]root" in shown


def test_nothing_is_shown_where_there_is_no_terminal(capsys):
    """Logs stay free of bars."""
    with render.show_count("root") as say:
        say(1, 2, None)
    assert capsys.readouterr() == ("", "")
