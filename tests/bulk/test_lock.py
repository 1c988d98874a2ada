"""One run at a time in an output folder; the lock of a process that died holds nobody up."""

from __future__ import annotations

import fcntl
import os
import signal
import subprocess
import sys
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context

import pytest
from property_farm import Inline, make_farm

import wiremap
from wiremap.bulk.lock import hold_folder
from wiremap.bulk.records import BOOKS
from wiremap.cli.main import run
from wiremap.errors import WriteError

HOLD = (
    "import sys, time; from pathlib import Path; from wiremap.bulk.lock import hold_folder\n"
    "with hold_folder(Path(sys.argv[1])):\n    print('held', flush=True)\n    time.sleep(600)\n"
)


@pytest.fixture
def out(tmp_path):
    """An output folder with its records."""
    (tmp_path / "out" / BOOKS).mkdir(parents=True)
    return tmp_path / "out"


def hold_elsewhere(out):
    """Hold the folder in a process of its own."""
    process = subprocess.Popen([sys.executable, "-c", HOLD, str(out)], stdout=subprocess.PIPE)
    assert process.stdout.readline() == b"held\n"
    return process


def test_a_second_run_is_one_line_and_writes_nothing(tmp_path, out, capsys):
    """It says who works there, since when, and what to do."""
    root = make_farm(tmp_path / "root", 1)
    with hold_elsewhere(out) as other:
        with pytest.raises(SystemExit, match="2"):
            run(["bulk", str(root), "-o", str(out), "--jobs", "1"])
        other.kill()
    said = capsys.readouterr().err
    assert said.count("\n") == 1
    assert f"another run is working in this folder, got process {other.pid} on" in said
    assert "wait until it has ended" in said
    assert {p.name for p in out.rglob("*")} == {BOOKS, "lock"}


def test_the_lock_of_a_process_that_was_killed_is_taken_over(tmp_path, out):
    """Nothing has to be deleted by hand."""
    with hold_elsewhere(out) as other:
        os.kill(other.pid, signal.SIGKILL)
        other.wait()
        assert (out / BOOKS / "lock").read_bytes() != b""
        root = make_farm(tmp_path / "root", 1)
        result = wiremap.build_properties(root, out, executor=Inline(), formats=["findings"])
    assert result.count("built") == 1
    assert (out / BOOKS / "lock").read_bytes() == b""


def test_a_run_inside_this_process_is_kept_out_too(out):
    """Two threads or two notebooks' cells; and the folder is free again afterwards."""
    with hold_folder(out), pytest.raises(WriteError, match=f"process {os.getpid()}"), \
            hold_folder(out):  # fmt: skip
        raise AssertionError("the folder was held twice")
    with hold_folder(out):
        pass


def test_processes_started_meanwhile_do_not_keep_the_lock(out):
    """A pool of the caller that forks while a run is on lives longer than the run."""
    with ProcessPoolExecutor(1, mp_context=get_context("fork")) as pool:
        with hold_folder(out):
            pool.submit(os.getpid).result()
        with hold_folder(out):
            pass


def test_a_file_system_without_locks_keeps_nobody_out(out, monkeypatch):
    """Better to work without the guard than not at all."""

    def refuse(*_):
        raise OSError("no locks available")

    monkeypatch.setattr(fcntl, "flock", refuse)
    with hold_folder(out), hold_folder(out):
        pass
