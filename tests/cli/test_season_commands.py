"""amend, compare and recover as a user runs them."""

from __future__ import annotations

import csv

import pyogrio
import pytest
from seasons import again, build, first_visit, write_rows

from wiremap.cli.main import run


def call(*words):
    """Run the command line and return its exit code."""
    with pytest.raises(SystemExit) as left:
        run([str(word) for word in words])
    return left.value.code


@pytest.fixture(scope="module")
def march(tmp_path_factory):
    """A folder with a record, and the rows it was built from."""
    root = tmp_path_factory.mktemp("commands")
    made = first_visit(root / "a", seed=3, zones=1, with_elevation=True)
    (package,) = build(root / "a").write(root / "march", formats=["geopackage"])
    return package, made.locates


def test_a_season_on_the_command_line(march, tmp_path, capsys):
    """A visit is added, and what it changed is printed, tabulated, mapped and drawn."""
    package, rows = march
    valve = [row for row in rows if row["feature"] == "valve"]
    visit = write_rows(tmp_path / "june.csv", again(valve, "2026-06-12", east_m=4.0))
    assert call("amend", package, visit, "-o", tmp_path / "june") == 0
    assert "revision 1: 1 locate of 2026-06-12 added" in capsys.readouterr().out
    newer = tmp_path / "june" / package.name
    assert call("compare", package, newer, "-o", tmp_path / "changes") == 0
    out = capsys.readouterr().out
    assert "moved W1 Valve V1 stands" in out
    stem = tmp_path / "changes" / "simulated-property-changes"
    with stem.with_suffix(".csv").open(encoding="utf-8-sig") as file:
        table = list(csv.DictReader(file))
    assert "moved" in {row["change"] for row in table}
    assert len(pyogrio.read_dataframe(stem.with_suffix(".gpkg"), layer="changes")) == len(table)
    page = stem.with_suffix(".html").read_text(encoding="utf-8")
    assert page.count("<svg") == 2
    assert page.count('<g class="mark">') >= 2 * sum(row["layer"] == "valves" for row in table)
    assert "<script" not in page


def test_comparing_a_record_with_itself_says_that_nothing_changed(march, tmp_path, capsys):
    """The files are written all the same, with no rows."""
    package, _ = march
    assert call("compare", package, package, "-o", tmp_path) == 0
    assert "do not differ beyond their uncertainty" in capsys.readouterr().out
    path = tmp_path / "simulated-property-changes.gpkg"
    assert len(pyogrio.read_dataframe(path, layer="changes")) == 0


def test_recover_lists_lost_cover_and_writes_it(march, tmp_path, capsys):
    """0.2 m taken everywhere: the whole run is listed, the wire's cover 0.2 m less."""
    package, rows = march
    points = [row for row in rows if "elevation" in row]
    lower = [
        {"lon": float(r["lon"]) + dx, "lat": float(r["lat"]) + dy, "elevation": r["elevation"] - 0.2}
        for r in points for dx in (-2e-5, 2e-5) for dy in (-2e-5, 2e-5)
    ]  # fmt: skip
    assert call("recover", package, write_rows(tmp_path / "new.csv", lower), "-o", tmp_path) == 0
    assert "stretches lost cover beyond doubt" in capsys.readouterr().out
    found = pyogrio.read_dataframe(tmp_path / "simulated-property-lost-cover.gpkg")
    # at the worst place of each stretch, with 2 cm of noise in both elevations
    assert (found["cover_before_m"] - found["cover_now_m"]).mean() == pytest.approx(0.2, abs=0.06)


@pytest.mark.parametrize(
    "words",
    [
        ("amend", "none.gpkg", "none.csv", "-o", "out"),
        ("compare", "none.gpkg", "none.gpkg"),
        ("recover", "none.gpkg", "none.csv"),
    ],
)
def test_a_record_that_is_not_there_is_one_line(words, capsys):
    """Exit code 2, nothing on stdout."""
    assert call(*words) == 2
    captured = capsys.readouterr()
    assert captured.err.startswith("wiremap: none.gpkg: there is no such file")
    assert captured.err.count("\n") == 1
    assert captured.out == ""
