"""Records that were tampered with, for amend, compare, recover and bundle: one clear line."""

from __future__ import annotations

import os
import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from attacks import SOUND, write_sound

from wiremap.cli.main import run

ENDLESS = "WITH RECURSIVE c(n) AS (SELECT 1 UNION ALL SELECT n + 1 FROM c)"
MARKS = "point,lat,lon,elevation\n" + "".join(
    f"S{k},{41.5 + k % 5 * 1e-4},{-96.5 + k // 5 * 1e-4},{300 + k * 0.01}\n" for k in range(25)
)


@pytest.fixture(scope="module")
def record(tmp_path_factory):
    """Return a sound record."""
    root = tmp_path_factory.mktemp("record")
    words = ["build", write_sound(root / "garden"), "-o", root / "out", "--format=geopackage"]
    assert call(*words) == 0
    return root / "out" / "garden.gpkg"


def call(*words):
    with pytest.raises(SystemExit) as left:
        run([str(word) for word in words])
    return left.value.code or 0


def view(table):
    """Return what puts an endless query in a table's place."""
    columns = "n AS fid, NULL AS geom, n AS item, n AS value, n AS input, n AS part, n AS content"
    return (f"ALTER TABLE {table} RENAME TO former",
            f"CREATE VIEW {table} AS {ENDLESS} SELECT {columns} FROM c")  # fmt: skip


TAMPERED = {
    **{f"{name} is an endless query": view(name)
       for name in ("locates", "wire_runs", "provenance", "inputs")},
    "a view that is no layer": (f"CREATE VIEW v AS {ENDLESS} SELECT n AS point, n AS feature FROM c",),
    "a column that is computed": (
        "ALTER TABLE valves ADD COLUMN big TEXT GENERATED ALWAYS AS (hex(zeroblob(400000000)))",
    ),
    "depths that are words": ("UPDATE valves SET depth_m = 'deep'",),
    "lengths without end": ("UPDATE wire_runs SET length_m = 9e999",),
    "names that are empty": ("UPDATE wire_runs SET run = NULL", "UPDATE valves SET valve = NULL"),
    "runs without a line": ("UPDATE wire_runs SET geom = NULL",),
    "runs whose line is rubbish": ("UPDATE wire_runs SET geom = x'4750'",),
    "valves without a place": ("UPDATE valves SET geom = NULL",),
    "valves whose place is a line": ("UPDATE valves SET geom = (SELECT geom FROM wire_runs)",),
    "rows of files that are no numbers": ("UPDATE locates SET source_row = 1e300",),
    "inputs that nest 50,000 deep": (f"UPDATE inputs SET content = '{'[' * 50_000}'",),
    "inputs of another shape": ("UPDATE inputs SET content = '[]'",),
    "revisions without a number": ("UPDATE revisions SET number = 'x'",),
    "layers that are gone": ("DROP TABLE valves", "DROP TABLE wire_segments", "DROP TABLE revisions"),
    "no rows": ("DELETE FROM wire_runs", "DELETE FROM valves", "DELETE FROM locates"),
    "a CRS of degrees": ("UPDATE gpkg_geometry_columns SET srs_id = 4326",),
    "no CRS": ("UPDATE gpkg_geometry_columns SET srs_id = -1",),
    "a CRS that is rubbish": ("UPDATE gpkg_spatial_ref_sys SET definition = 'x', organization = 'x'",),
}  # fmt: skip


def tamper(record, path, statements):
    """Copy a record and change it as anyone with a database program may."""
    shutil.copy(record, path)
    with closing(sqlite3.connect(path, isolation_level=None)) as db:
        for name in ("ST_IsEmpty", "ST_MinX", "ST_MaxX", "ST_MinY", "ST_MaxY"):
            db.create_function(name, 1, lambda _: 0)
        for statement in statements:
            db.execute(statement)


@pytest.mark.parametrize("what", TAMPERED)
def test_a_record_that_was_tampered_with_ends_in_an_answer_or_in_one_clear_line(
    record, tmp_path, capsys, what
):
    """Whatever reads it: no query of it is run, no traceback, nothing unexpected."""
    path = tmp_path / "box" / "bad.gpkg"
    path.parent.mkdir()
    tamper(record, path, TAMPERED[what])
    (tmp_path / "marks.csv").write_text(MARKS)
    (tmp_path / "visit.csv").write_text(SOUND.replace("\nP", "\nQ"))

    for words in (
        ("amend", path, tmp_path / "visit.csv", "--date", "2026-06-12", "-o", tmp_path / "out"),
        ("compare", record, path, "-o", tmp_path / "out"),
        ("compare", path, record),
        ("recover", path, tmp_path / "marks.csv"),
        ("bundle", path.parent),
    ):
        code = call(*words)
        said = capsys.readouterr().err
        assert "unexpected" not in said, words
        assert said.count("\n") == (1 if code == 2 else 0), (words, said)


def test_a_pipe_or_a_folder_in_place_of_a_record_is_one_line(tmp_path, capsys):
    """Nobody writes to the pipe."""
    os.mkfifo(tmp_path / "pipe.gpkg")
    (tmp_path / "folder.gpkg").mkdir()
    for name in ("pipe.gpkg", "folder.gpkg"):
        assert call("compare", tmp_path / name, tmp_path / name) == 2
        assert capsys.readouterr().err.count("\n") == 1


@pytest.mark.parametrize(
    "text", ["[" * 100_000, "x = " + "[" * 100_000, "\0", "id = 3", "items = 7", "a.b.c.d = 1"]
)
def test_a_profile_of_requirements_that_is_none_is_one_line(tmp_path, capsys, text):
    """One that nests without end too."""
    (tmp_path / "own.toml").write_text(text)
    garden = write_sound(tmp_path / "garden")
    assert call("check", garden, "--profile", tmp_path / "own.toml") == 2
    said = capsys.readouterr().err
    assert said.count("\n") == 1
    assert "unexpected" not in said


def test_what_stands_in_the_output_folder_leads_no_file_out_of_it(tmp_path, capsys):
    """Links, and a staging folder that says to move files elsewhere."""
    garden, elsewhere = write_sound(tmp_path / "garden"), tmp_path / "elsewhere"
    elsewhere.mkdir()
    for plant in (
        lambda out: (out / "findings.csv").symlink_to(elsewhere / "x.csv"),
        lambda out: (out / "geojson").symlink_to(elsewhere, target_is_directory=True),
        lambda out: _plant_staging(out, "../../elsewhere/x"),
        lambda out: _plant_staging(out, b"\xff\xfe"),
    ):
        out = tmp_path / "out"
        shutil.rmtree(out, ignore_errors=True)
        out.mkdir()
        plant(out)
        code = call("build", garden, "-o", out, "--format=findings", "--format=geojson")
        said = capsys.readouterr().err
        assert "unexpected" not in said
        assert said.count("\n") == (1 if code == 2 else 0)
        assert not list(elsewhere.iterdir())


def _plant_staging(out: Path, name: str | bytes) -> None:
    """Leave a staging folder as of a process that is gone."""
    staging = out / ".wiremap-staging-nowhere-1-x"
    staging.mkdir()
    (staging / "x").write_text("planted")
    (staging / "ready").write_bytes(os.fsencode(name))
    os.utime(staging, (0, 0))
