"""A build that is killed, starved of disk or run twice leaves the former output or the new one.

Run as a script for many kills: python tests/test_outputs_survive.py [kills]
"""

from __future__ import annotations

import json
import random
import resource
import signal
import sqlite3
import subprocess
import sys
import tempfile
import time
from contextlib import closing
from pathlib import Path

import pytest
from attacks import SOUND, write_sound

from wiremap.cli.main import run

KILLS = 4
FORMATS = ("--format=geopackage", "--format=geojson", "--format=findings")
ROWS = {7: "old", 11: "new"}


def make(folder, *, name):
    """Write a property whose number of rows tells the old record from the new one."""
    write_sound(folder)
    count = next(rows for rows, kind in ROWS.items() if kind == name) - 6
    more = "".join(
        f"X{k},path,A,1,{41.50023 + k * 1e-5:.7f},-96.5,0.03,,,50,\n" for k in range(count)
    )
    (folder / "locates.csv").write_text(SOUND + more)
    (folder / "property.toml").write_text(
        '[property]\nname = "same"\n[output]\nformats = ["geojson"]\n'
    )
    return folder


@pytest.fixture
def garden(tmp_path):
    """Return the old property, the new one, and an output folder that holds the old record."""
    old, new, out = (
        make(tmp_path / "a", name="old"),
        make(tmp_path / "b", name="new"),
        tmp_path / "out",
    )
    assert build(old, out) == 0
    return old, new, out


def build(folder, out):
    """Build in this process and return the exit code."""
    try:
        run(["build", str(folder), "-o", str(out), *FORMATS])
    except SystemExit as left:
        return left.code or 0
    raise AssertionError("the command line always exits")


def start(folder, out, **more):
    """Start a build in a process of its own."""
    words = [sys.executable, "-m", "wiremap", "build", str(folder), "-o", str(out), *FORMATS]
    return subprocess.Popen(words, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, **more)


def records(out):
    """Return which records the output holds; every file must be whole."""
    with closing(sqlite3.connect(f"file:{out / 'same.gpkg'}?mode=ro", uri=True)) as db:
        assert db.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        found = {ROWS[db.execute("SELECT count(*) FROM locates").fetchone()[0]]}
    for path in (out / "geojson").iterdir():
        features = json.loads(path.read_text(encoding="utf-8"))["features"]
        if path.stem == "locates":
            found.add(ROWS[len(features)])
    return found


def staging(out):
    return [path.name for path in out.iterdir() if path.name.startswith(".wiremap")]


def start_amend(package, visit, out, **more):
    """Start an amendment in a process of its own."""
    words = [sys.executable, "-m", "wiremap", "amend", str(package), str(visit), "-o", str(out)]
    return subprocess.Popen(words, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, **more)


def kill(begin, out, *, kills, seed=1):
    """Kill processes at random moments; after each every file is whole. Return how many died."""
    chance, died, full_s = random.Random(seed), 0, []
    for start_one in begin:
        began = time.monotonic()
        with start_one() as process:
            assert process.wait() == 0, process.stderr.read()
        full_s.append(time.monotonic() - began)
    for number in range(3 * kills):  # one that is done before it is killed does not count
        if died == kills:
            break
        turn = number % len(begin)
        process = begin[turn]()
        time.sleep(full_s[turn] * chance.uniform(0.3, 0.95))
        process.send_signal(signal.SIGKILL)
        died += process.wait() == -signal.SIGKILL
        process.stderr.close()
        assert len(records(out)) == 1 or staging(out)
    return died


def kill_builds(old, new, out, *, kills):
    """Kill builds of two records into one folder, in turn."""
    return kill([lambda: start(old, out), lambda: start(new, out)], out, kills=kills)


def kill_amendments(old, new, out, *, kills):
    """Kill builds of a record, and amendments that add four marks to it, in turn."""
    visit, package = old.parent / "visit.csv", old.parent / "former" / "same.gpkg"
    rows = [f"Y{k},path,A,1,{41.50023 + k * 1e-5:.7f},-96.5,0.03,,,50," for k in range(4)]
    visit.write_text("\n".join([SOUND.splitlines()[0], *rows]) + "\n")
    assert build(old, package.parent) == 0
    words = [sys.executable, "-m", "wiremap", "amend", package, visit, "-o", out]
    words += ["--date", "2026-06-12"]
    begin = [
        lambda: start(old, out),
        lambda: subprocess.Popen(words, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE),
    ]
    return kill(begin, out, kills=kills)


@pytest.mark.parametrize("kill_all", [kill_builds, kill_amendments])
def test_killed_builds_and_amendments_leave_whole_files_of_one_record(garden, kill_all):
    """After each kill every file is whole; the next run finishes what was begun, and cleans up."""
    old, new, out = garden
    kill_all(old, new, out, kills=KILLS)
    assert build(new, out) == 0
    assert records(out) == {"new"}
    assert staging(out) == []


@pytest.mark.parametrize("moves", [1, 5])
def test_a_build_that_dies_among_the_moves_is_finished_by_the_next_one(garden, moves):
    """The set was complete and flushed, so that the next run moves what is left of it."""
    old, new, out = garden
    code = (
        "import os, sys\nfrom pathlib import Path\nfrom wiremap.cli.main import run\n"
        "left, real = [int(sys.argv[1])], Path.replace\n"
        "def replace(self, target):\n"
        "    if not left[0]:\n        os._exit(9)\n"
        "    left[0] -= 1\n    return real(self, target)\n"
        "Path.replace = replace\nrun(sys.argv[2:])\n"
    )
    words = [sys.executable, "-c", code, str(moves), "build", str(new), "-o", str(out), *FORMATS]
    assert subprocess.run(words, check=False, capture_output=True).returncode == 9
    assert staging(out)
    (old / "locates.csv").write_text("nothing")

    assert build(old, out) == 2  # refused before it writes: nothing is touched
    code = (
        "import sys; from wiremap.write.outputs import write_files;"
        "write_files(sys.argv[1], [], lambda _: [])"
    )
    words = [sys.executable, "-c", code, str(out)]
    finished = subprocess.run(words, check=False, capture_output=True)

    assert finished.returncode == 0, finished.stderr
    assert records(out) == {"new"}
    assert staging(out) == []


@pytest.mark.parametrize("most_bytes", [2_000, 200_000])
def test_a_full_disk_leaves_the_former_record(garden, most_bytes):
    """No file may grow beyond a limit, as on a full disk: one line, nothing replaced."""
    _, new, out = garden
    before = {path: path.read_bytes() for path in out.rglob("*") if path.is_file()}

    process = start(new, out, preexec_fn=lambda: resource.setrlimit(
        resource.RLIMIT_FSIZE, (most_bytes, most_bytes)))  # fmt: skip
    said = process.communicate()[1].decode()

    assert process.returncode == 2, said
    assert said.count("\n") == 1
    assert "nothing was replaced" in said
    assert {path: path.read_bytes() for path in out.rglob("*") if path.is_file()} == before


LOCKS = {"exclusive": "BEGIN EXCLUSIVE", "immediate": "BEGIN IMMEDIATE"}


@pytest.mark.parametrize("lock", LOCKS)
def test_a_package_that_another_program_writes_to_is_left_alone(garden, lock, capsys):
    """One line that names the package; nothing of the set is replaced."""
    _, new, out = garden
    before = {path: path.read_bytes() for path in out.rglob("*") if path.is_file()}
    with closing(sqlite3.connect(out / "same.gpkg", isolation_level=None)) as db:
        db.execute(LOCKS[lock])
        assert build(new, out) == 2
    assert "database is locked" in capsys.readouterr().err
    assert {path: path.read_bytes() for path in out.rglob("*") if path.is_file()} == before


def test_a_package_that_another_program_reads_is_replaced_and_the_reader_keeps_the_former(garden):
    """A reader goes on with the file it opened: no half of each."""
    _, new, out = garden
    with closing(sqlite3.connect(out / "same.gpkg", isolation_level=None)) as db:
        db.execute("BEGIN")
        assert ROWS[db.execute("SELECT count(*) FROM locates").fetchone()[0]] == "old"
        assert build(new, out) == 0
        assert ROWS[db.execute("SELECT count(*) FROM locates").fetchone()[0]] == "old"
    assert records(out) == {"new"}


@pytest.mark.parametrize("out", ["/proc/wiremap", "/proc/1", "/dev/full/out"])
def test_a_place_that_takes_no_files_is_one_line(garden, out, capsys):
    """Linux: the kernel's own folders take no files, from nobody."""
    old, _, _ = garden
    capsys.readouterr()
    assert build(old, out) == 2
    said = capsys.readouterr().err
    assert said.count("\n") == 1
    assert out in said


def test_two_builds_into_one_folder_leave_one_record(garden):
    """Moves of two processes do not mix."""
    old, new, out = garden
    processes = [start(folder, out) for folder in (old, new)]
    for process in processes:
        assert process.wait() == 0, process.stderr.read()
        process.stderr.close()
    assert len(records(out)) == 1
    assert staging(out) == []


@pytest.mark.parametrize("place", ["locates", "visits/2026-05-04", "base"])
def test_an_output_that_would_become_an_input_is_refused(garden, place, capsys):
    """A record written into locates/ would be read as field locates the next time."""
    old, _, _ = garden

    assert build(old, old / place) == 2
    assert "would be read" in capsys.readouterr().err


def test_the_property_folder_itself_may_hold_the_output(garden):
    """What is written there is not read again."""
    old, _, _ = garden
    assert [build(old, old), build(old, old)] == [0, 0]
    assert records(old) == {"old"}


def test_a_property_named_as_an_input_file_is_not_written_beside_it(garden, capsys):
    """`locates.gpkg` in the property folder would be an input."""
    old, _, _ = garden
    (old / "property.toml").write_text('[property]\nname = "Locates"\n')
    before = sorted(old.iterdir())

    assert build(old, old) == 2
    assert "would be read" in capsys.readouterr().err
    assert sorted(old.iterdir()) == before


def main(kills):
    """Kill builds and amendments half and half, and hold the output whole after each."""
    with tempfile.TemporaryDirectory() as name:
        root = Path(name)
        old, new = make(root / "a", name="old"), make(root / "b", name="new")
        out, died = root / "out", 0
        for kill_all in (kill_builds, kill_amendments):
            died += kill_all(old, new, out, kills=kills // 2)
        with start(new, out) as process:
            assert process.wait() == 0
        assert records(out) == {"new"}
        assert staging(out) == []
    sys.stdout.write(f"{died} builds and amendments killed: every file whole after each\n")


if __name__ == "__main__":
    main(int([*sys.argv, "200"][1]))
