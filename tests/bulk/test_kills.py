"""Runs over many properties that are killed at any moment: nothing is torn, nothing is lost.

The suite kills a few; ``PYTHONPATH=tests python tests/bulk/test_kills.py 70`` kills so many, each
of them the whole run or one of its workers, and prints a table.
"""

from __future__ import annotations

import json
import os
import random
import signal
import sqlite3
import subprocess
import sys
import tempfile
import time
from collections import Counter
from contextlib import closing
from pathlib import Path

import pandas as pd
from property_farm import Inline, make_farm
from pyarrow.parquet import read_table

import wiremap
from wiremap.bulk.records import BOOKS
from wiremap.model.tables import LAYERS

KILLS = 3
PROPERTIES = 6
FORMATS = ("geopackage", "geojson", "findings")
WORDS = ("--jobs", "2", *(f"--format={name}" for name in FORMATS))
STATES = {"old": "2026-03-11", "new": "2026-03-12"}
"""The day in every row, which tells the former state of a property from the next."""


def turn(root: Path, state: str) -> None:
    """Bring every property below the root into a state."""
    for locates in root.rglob("locates.csv"):
        text = locates.read_text()
        for day in STATES.values():
            text = text.replace(day, STATES[state])
        locates.write_text(text)


def start(root: Path, out: Path) -> subprocess.Popen:
    """Start a run in a process of its own."""
    words = [sys.executable, "-m", "wiremap", "bulk", str(root), "-o", str(out), *WORDS]
    return subprocess.Popen(words, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE)


def run_whole(root: Path, out: Path) -> float:
    """Run in a process of its own to the end and return the seconds it took."""
    began = time.monotonic()
    with start(root, out) as process:
        said = process.stderr.read().decode()
        assert process.wait() == 0, said
    return time.monotonic() - began


def finish(root: Path, out: Path) -> None:
    """Run to the end in this process, as the next run does."""
    result = wiremap.build_properties(root, out, executor=Inline(), formats=FORMATS)
    assert (result.count("failed"), len(result.outcomes)) == (0, PROPERTIES)


def workers_of(process: subprocess.Popen) -> list[int]:
    """Return the worker processes of a run."""
    found = []
    for entry in Path("/proc").glob("[0-9]*"):
        try:
            parent = (entry / "stat").read_text().rpartition(")")[2].split()[1]
            if int(parent) == process.pid and b"spawn_main" in (entry / "cmdline").read_bytes():
                found.append(int(entry.name))
        except OSError:
            continue
    return found


def state_of(days: set[str]) -> str:
    """Return the state that all rows are in."""
    (day,) = {str(day)[:10] for day in days}
    return next(state for state, known in STATES.items() if known == day)


def property_states(home: Path) -> set[str]:
    """Return the states of the files of a property; each must be whole."""
    (package,) = home.glob("*.gpkg")
    with closing(sqlite3.connect(f"file:{package}?mode=ro", uri=True)) as db:
        assert db.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        rows = db.execute("SELECT date FROM locates WHERE date IS NOT NULL").fetchall()
    found = {state_of({day for (day,) in rows})}
    for path in (home / "geojson").iterdir():
        features = json.loads(path.read_text(encoding="utf-8"))["features"]
        if path.stem == "locates":
            days = {f["properties"].get("date") for f in features} - {None}
            found.add(state_of(days))
    pd.read_csv(home / "findings.csv")
    return found


def check_properties(out: Path) -> None:
    """Every property's files are whole and of one state, or a complete set waits to be moved."""
    homes = [package.parent for package in out.glob("*/*/*.gpkg")]
    assert len(homes) == PROPERTIES
    for home in homes:
        waiting = [s for s in home.glob(".wiremap-staging*") if (s / "ready").exists()]
        assert len(property_states(home)) == 1 or waiting, home


def check_portfolio(out: Path) -> str:
    """The dataset is complete, and its rows are all of one state, which is returned."""
    if (out / BOOKS / "former").exists() and not (out / "portfolio").exists():
        return "between"  # the next run puts the new one in place
    counts = {}
    for table in LAYERS:
        parts = [read_table(path) for path in (out / "portfolio" / table.name).iterdir()]
        counts[table.name] = Counter(
            name for part in parts for name in part["property_folder"].to_pylist()
        )
    assert len(counts["locates"]) == PROPERTIES
    assert set(counts["provenance"]) == set(counts["locates"])
    parts = [read_table(path) for path in (out / "portfolio" / "locates").iterdir()]
    state = state_of({day for part in parts for day in part["date"].to_pylist()} - {None})
    with closing(sqlite3.connect(f"file:{out / 'portfolio.gpkg'}?mode=ro", uri=True)) as db:
        assert db.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        index = dict(db.execute("SELECT property_folder, locates FROM properties").fetchall())
    assert index == dict(counts["locates"])
    summary = pd.read_csv(out / "summary.csv")
    assert len(summary) == PROPERTIES
    assert (out / "portfolio.html").read_text().rstrip().endswith("</html>")
    return state


def leftovers(out: Path) -> list[str]:
    """Return what is temporary and still there."""
    books = out / BOOKS
    found = list(out.rglob(".wiremap-staging*"))
    found += [books / n for n in ("former", "dataset") if (books / n).exists()]
    found += [p for n in (".", "properties", "batches") for p in (books / n).glob(".*")]
    found += [p for n in ("parts", "staging", "running") for p in (books / n).glob("*")]
    return [p.relative_to(out).as_posix() for p in found]


def kill_one(root: Path, out: Path, *, what: str, after_s: float) -> str:
    """Kill a run, or one of its workers, after some time; check, finish, check again."""
    process = start(root, out)
    time.sleep(after_s)
    if what == "worker":
        workers = workers_of(process)
        for victim in workers[:1]:
            os.kill(victim, signal.SIGKILL)
        said = process.stderr.read().decode()
        assert process.wait() == 0, said
    else:
        process.send_signal(signal.SIGKILL)
        process.wait()
    process.stderr.close()
    check_properties(out)
    state = check_portfolio(out)
    finish(root, out)
    check_properties(out)
    left = leftovers(out)
    assert left == [], left
    return state


def kill_many(folder: Path, kills: int, *, seed: int = 1) -> Counter:
    """Kill as many runs, in turn as a whole and by a worker, at random moments."""
    chance = random.Random(seed)
    root, out = make_farm(folder / "root", PROPERTIES), folder / "out"
    turn(root, "old")
    full_s = run_whole(root, out)
    seen: Counter = Counter()
    for number in range(kills):
        state = ("new", "old")[number % 2]
        turn(root, state)
        what = ("run", "run", "worker")[number % 3]
        found = kill_one(root, out, what=what, after_s=full_s * chance.uniform(0.35, 1.05))
        assert check_portfolio(out) == state
        print(number + 1, what, found, flush=True)
        seen[what, "next" if found == state else "between" if found == "between" else "former"] += 1
    return seen


def test_killed_runs_leave_whole_files_and_the_next_run_finishes(tmp_path):
    """After each kill each property is whole and the portfolio is one state's; nothing is left."""
    assert sum(kill_many(tmp_path, KILLS).values()) == KILLS


def test_workers_do_not_outlive_a_killed_run(tmp_path):
    """Whoever kills the run alone leaves no process that goes on writing."""
    process = start(make_farm(tmp_path / "root", PROPERTIES), tmp_path / "out")
    until = time.monotonic() + 60
    while len(workers := workers_of(process)) < 2:
        assert time.monotonic() < until
        time.sleep(0.05)
    time.sleep(1.0)
    process.send_signal(signal.SIGKILL)
    process.wait()
    process.stderr.close()
    while any(Path(f"/proc/{worker}").exists() for worker in workers):
        assert time.monotonic() < until
        time.sleep(0.05)


if __name__ == "__main__":
    wanted = int(sys.argv[1]) if len(sys.argv) > 1 else KILLS
    with tempfile.TemporaryDirectory() as place:
        table = kill_many(Path(place), wanted, seed=int(time.time()))
    for (killed, portfolio), count in sorted(table.items()):
        print(f"{killed:7} portfolio {portfolio:8} {count}")
    print(f"{sum(table.values())} kills, every file whole, every next run finished and cleaned up")
