"""A real Dask cluster of two worker processes."""

from __future__ import annotations

import os
import signal
import sys

import dask
import geopandas as gpd
import pytest
from distributed import LocalCluster
from property_farm import make_deadly_property, make_deadly_reader, make_farm

import wiremap
from wiremap.bulk.cluster import connect_cluster
from wiremap.bulk.dataset import open_part
from wiremap.cli.main import run
from wiremap.errors import ClusterError, MissingExtraError

FORMATS = ["geopackage"]


@pytest.fixture
def cluster(tmp_path, monkeypatch):
    """Two workers of one thread each, that know a reader which kills its process."""
    monkeypatch.syspath_prepend(make_deadly_reader(tmp_path / "site"))
    with (
        dask.config.set({"distributed.scheduler.allowed-failures": 1}),
        LocalCluster(
            n_workers=2, threads_per_worker=1, processes=True, dashboard_address=":0",
            local_directory=str(tmp_path / "scratch"),
        ) as started,
    ):  # fmt: skip
        yield started


def test_a_worker_that_is_killed_on_the_way_loses_nothing(tmp_path, cluster):
    """One of two workers is killed after the first property; every property is built once."""
    root, out = make_farm(tmp_path / "root", 10), tmp_path / "out"
    killed = []

    def kill_one(done, _total, _outcome):
        if not killed:
            killed.append(cluster.workers[0].pid)
            os.kill(killed[0], signal.SIGKILL)

    with connect_cluster(cluster.scheduler_address) as (executor, width):
        assert width == 2
        result = wiremap.build_properties(
            root, out, executor=executor, jobs=width, formats=FORMATS, progress=kill_one
        )
    assert killed
    assert result.count("failed") == 0, result.failures.to_string()
    assert len(result.properties) == 10
    valves = gpd.read_parquet(out / "portfolio" / "valves")
    assert sorted(valves["property"]) == sorted(f"Property {seed}" for seed in range(1, 11))


def test_a_property_that_kills_every_worker_is_one_failure(tmp_path, cluster):
    """The scheduler gives a task up after two workers; only that property is given up."""
    root = make_farm(tmp_path / "root", 4)
    make_deadly_property(root / "area-0" / "a-deadly")
    with connect_cluster(cluster.scheduler_address) as (executor, width):
        result = wiremap.build_properties(
            root, tmp_path / "out", executor=executor, jobs=width, formats=FORMATS
        )
    assert result.failures[["folder", "error"]].to_numpy().tolist() == [
        ["area-0/a-deadly", "KilledWorker"]
    ]
    assert len(result.properties) == 4


def test_a_cluster_that_does_not_answer_is_said_so(monkeypatch):
    """Nothing listens there: one line, no traceback."""
    monkeypatch.setattr("wiremap.bulk.cluster.CONNECT_WITHIN_S", 0.5)
    with (
        pytest.raises(ClusterError, match="does not answer"),
        connect_cluster("tcp://127.0.0.1:9"),
    ):
        pass


def test_the_command_works_on_a_cluster(tmp_path, cluster, capsys):
    """--cluster ADDRESS: the same files, built elsewhere."""
    root = make_farm(tmp_path / "root", 2)
    words = ["bulk", root, "-o", tmp_path / "out", "--cluster", cluster.scheduler_address]
    with pytest.raises(SystemExit, match="0"):
        run([str(word) for word in words])
    assert "2 built, 0 kept, 0 failed" in capsys.readouterr().out


def test_what_is_not_installed_is_named_with_its_extra(tmp_path, monkeypatch):
    """Without the client or pyarrow: the line that installs it."""
    monkeypatch.setitem(sys.modules, "distributed", None)
    with (
        pytest.raises(MissingExtraError, match=r"pip install 'wiremap\[dask\]'"),
        connect_cluster("tcp://127.0.0.1:9"),
    ):
        pass
    monkeypatch.setitem(sys.modules, "pyarrow.parquet", None)
    with (
        pytest.raises(MissingExtraError, match=r"pip install 'wiremap\[parquet\]'"),
        open_part(tmp_path, "part"),
    ):
        pass


def test_no_address_means_this_machine():
    """Without --cluster nothing of dask is needed."""
    with connect_cluster(None, 3) as given:
        assert given == (None, 3)
