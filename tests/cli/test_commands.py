"""The commands as a user runs them."""

from __future__ import annotations

import sqlite3
from pathlib import Path

import pytest

from wiremap.cli.main import run
from wiremap.cli.render import print_findings
from wiremap.model.findings import Finding, tabulate_findings

DATA = Path(__file__).parent.parent.parent / "data"


def call(*words):
    """Run the command line and return its exit code."""
    with pytest.raises(SystemExit) as left:
        run([str(w) for w in words])
    return left.value.code


def test_build_writes_every_file_and_says_so(tmp_path, capsys):
    """A clean property builds with exit code 0 and all files of the contract."""
    assert call("build", DATA / "hollow-oak-garden", "-o", tmp_path) == 0
    names = {p.relative_to(tmp_path).as_posix() for p in tmp_path.rglob("*") if p.is_file()}
    assert {"hollow-oak-garden.gpkg", "hollow-oak-garden.html", "findings.csv",
            "geojson/valves.geojson"} <= names  # fmt: skip
    assert not [n for n in names if n.startswith(".")]
    assert "hollow-oak-garden.gpkg" in capsys.readouterr().out


def test_findings_of_severity_error_give_exit_code_1(tmp_path):
    """The messy property is built, and the exit code says that something needs care."""
    assert call("build", DATA / "millrace-court", "-o", tmp_path) == 1
    assert (tmp_path / "millrace-court.gpkg").exists()


def test_check_prints_findings_and_writes_nothing(tmp_path, capsys, monkeypatch):
    """check reads only."""
    monkeypatch.chdir(tmp_path)
    assert call("check", DATA / "millrace-court") == 1
    assert "zone-claimed-twice" in capsys.readouterr().out
    assert list(tmp_path.iterdir()) == []


def test_findings_that_differ_in_their_subject_alone_share_a_line(capsys):
    """Kinds that were never located are one line; each run short of cover keeps its figures."""
    call("check", DATA / "larkmoor-campus")
    lines = capsys.readouterr().out.splitlines()
    (unseen,) = [line for line in lines if "not-surveyed" in line]
    assert "No ground was located on this property. Likewise: sensor, pump, filter" in unseen
    shallow = [line for line in lines if line.startswith("warning shallow-cover Run W")]
    assert len(shallow) == len(set(shallow)) > 1


def test_findings_of_runs_named_by_numbers_keep_their_own_figures(capsys):
    """A run's number is not taken for a digit of a depth, nor one run's depth for another's."""
    findings = [
        Finding("shallow-cover", run, f"Run {run}: cover is 0.{run}0 m at chainage {run}.5 m.")
        for run in ("1", "2", "3")
    ]
    print_findings(tabulate_findings(findings))
    assert len(capsys.readouterr().out.splitlines()) == 3


def test_strict_writes_nothing(tmp_path, capsys):
    """--strict refuses a property with findings of severity error."""
    assert call("build", DATA / "millrace-court", "-o", tmp_path / "out", "--strict") == 2
    assert not (tmp_path / "out").exists()
    assert "severity error" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["build"], "Missing argument"),
        (["build", "nowhere", "-o", "out"], "nowhere"),
        (["mend"], "No such command"),
    ],
)
def test_what_cannot_be_done_is_one_line_on_stderr(words, says, capsys):
    """Usage and unreadable input give exit code 2 and one line."""
    assert call(*words) == 2
    captured = capsys.readouterr()
    assert says in captured.err
    assert captured.err.count("\n") == 1
    assert captured.out == ""


def test_an_empty_property_is_not_built(tmp_path, capsys):
    """A header without rows leaves nothing to build."""
    folder = tmp_path / "empty"
    folder.mkdir()
    (folder / "locates.csv").write_text("point,feature,lon,lat\n")
    assert call("build", folder, "-o", tmp_path / "out") == 2
    assert "no rows" in capsys.readouterr().err


def test_demo_builds_the_bundled_property(tmp_path):
    """One command shows everything."""
    assert call("demo", "-o", tmp_path) in {0, 1}
    with sqlite3.connect(tmp_path / "tanager-court.gpkg") as package:
        assert package.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        assert package.execute("SELECT count(*) FROM valves").fetchone()[0] >= 8
    package.close()


def test_formats_lists_readers_and_writers(capsys):
    """The built-in formats are listed with their endings."""
    assert call("formats") == 0
    out = capsys.readouterr().out
    assert all(word in out for word in (".csv", ".gpx", ".gpkg", ".html"))
