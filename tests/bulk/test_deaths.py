"""Workers that die and runs that are stopped: nothing finished is lost, the culprit is named."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from concurrent.futures import BrokenExecutor, ProcessPoolExecutor
from multiprocessing import get_context
from pathlib import Path

import geopandas as gpd
import pandas as pd
import pytest
from property_farm import make_deadly_property, make_deadly_reader, make_farm

import wiremap
from wiremap.bulk.batches import Batch
from wiremap.bulk.jobs import plan_jobs
from wiremap.bulk.run import _retry
from wiremap.errors import WiremapWarning
from wiremap.plugins import registry


@pytest.fixture
def deadly(tmp_path, monkeypatch):
    """Let workers, which take over this process's path, find a reader that kills its process."""
    monkeypatch.syspath_prepend(make_deadly_reader(tmp_path / "site"))
    yield
    registry.cache_clear()


def test_a_property_that_kills_its_worker_is_one_failure(tmp_path, deadly):
    """Its batch is run again without it; it gets a second chance alone; the rest is built."""
    root = make_farm(tmp_path / "root", 6)
    make_deadly_property(root / "area-1" / "p000-deadly")
    seen = []
    result = wiremap.build_properties(
        root,
        tmp_path / "out",
        jobs=1,
        formats=["geopackage"],
        progress=lambda done, total, o: seen.append((done, o.path)),
    )
    assert (result.count("built"), result.count("failed")) == (6, 1)
    failures = pd.read_csv(tmp_path / "out" / "failures.csv")
    assert failures.loc[0, ["folder", "error"]].tolist() == [
        "area-1/p000-deadly",
        "BrokenProcessPool",
    ]
    assert "out of memory" in failures.loc[0, "message"]
    assert [done for done, _ in seen] == list(range(1, 8))
    assert len({path for _, path in seen}) == 7
    assert len(gpd.read_parquet(tmp_path / "out" / "portfolio" / "valves")) == 6


def test_an_executor_that_broke_is_replaced(tmp_path, deadly):
    """A process pool of the caller that a property broke: the rest goes on without it."""
    root = make_farm(tmp_path / "root", 2)
    make_deadly_property(root / "a-deadly")
    with (
        ProcessPoolExecutor(1, mp_context=get_context("spawn")) as pool,
        pytest.warns(WiremapWarning, match="the executor broke"),
    ):
        result = wiremap.build_properties(
            root, tmp_path / "out", executor=pool, jobs=1, formats=["geopackage"]
        )
    assert (result.count("failed"), len(result.properties)) == (1, 2)


def test_a_batch_that_is_lost_is_run_again_without_the_property_in_doubt(tmp_path):
    """The mark of the property being built tells which one; without a mark all are tried again."""
    jobs = tuple(plan_jobs(make_farm(tmp_path / "root", 3), tmp_path / "out"))
    batch = Batch(str(tmp_path / "out"), jobs)
    (batch.books / "running").mkdir(parents=True)
    (batch.books / "running" / batch.name).write_text(jobs[1].record)
    given_up, again = _retry(batch, BrokenExecutor())
    assert given_up == []
    assert [b.jobs for b in again] == [(jobs[1],), (jobs[0], jobs[2])]
    (batch.books / "running" / batch.name).unlink()
    assert [b.jobs for b in _retry(batch, BrokenExecutor())[1]] == [jobs]


def start(root: Path, out: Path) -> subprocess.Popen:
    """Start the command with one worker, in a process group of its own.

    Tests that run in a shell's background inherit that interrupts are ignored; a user's do not.
    """
    words = [sys.executable, "-m", "wiremap", "bulk", str(root), "-o", str(out), "--jobs", "1"]
    words += ["--format", "geopackage"]
    return subprocess.Popen(
        words,
        stderr=subprocess.PIPE,
        start_new_session=True,
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),  # noqa: PLW1509
    )


def wait_for_first(out: Path) -> None:
    """Wait until a property is finished."""
    until = time.monotonic() + 60
    while not list(out.glob(".wiremap-bulk/properties/*.json")):
        assert time.monotonic() < until
        time.sleep(0.02)


@pytest.mark.parametrize("blow", [signal.SIGKILL, signal.SIGINT])
def test_a_run_that_is_stopped_goes_on_where_it_was(tmp_path, blow):
    """Killed or interrupted on the way: what was finished is kept, the rest is built."""
    root, out = make_farm(tmp_path / "root", 10), tmp_path / "out"
    with start(root, out) as running:
        wait_for_first(out)
        os.killpg(running.pid, blow)
        said = running.stderr.read().decode()
        running.wait(60)
    if blow == signal.SIGINT:
        assert running.returncode == 2
        assert said.count("\n") == 1
        assert "run the same command again" in said
    done = {p.name for p in out.glob(".wiremap-bulk/properties/*.json")}
    assert 0 < len(done) < 10
    pages = {p: p.stat().st_mtime_ns for p in out.glob("*/*/property-*.gpkg")}
    assert len(pages) >= len(done)
    result = wiremap.build_properties(root, out, jobs=1, formats=["geopackage"])
    assert result.count("failed") == 0
    assert result.count("kept") >= len(done)
    kept = {out / o.out / f"{o.slug}.gpkg" for o in result.outcomes if o.status == "kept"}
    assert all(page.stat().st_mtime_ns == pages[page] for page in kept)
    valves = gpd.read_parquet(out / "portfolio" / "valves")
    assert sorted(valves["property"]) == sorted(f"Property {seed}" for seed in range(1, 11))
    assert not list(out.rglob(".wiremap-staging*"))
