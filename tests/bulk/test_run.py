"""Many properties in one go: what is written, what is kept, what fails."""

from __future__ import annotations

import json
import os
import shutil
import sqlite3
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from pathlib import Path

import duckdb
import geopandas as gpd
import pandas as pd
import pytest
from property_farm import Inline, make_farm, make_property
from pyarrow.parquet import ParquetFile

import wiremap
from wiremap.bulk import batches
from wiremap.errors import ClusterError, ReadError, WriteError
from wiremap.model.tables import LAYERS


def build(root, out, **options):
    """Build without processes, the package and the map."""
    options = {"formats": ["geopackage", "webmap", "findings"], **options}
    return wiremap.build_properties(root, out, executor=Inline(), **options)


def times(out: Path) -> dict[str, int]:
    """Return when each property's file was written."""
    return {p.relative_to(out).as_posix(): p.stat().st_mtime_ns for p in out.rglob("*.html")
            if p.name != "portfolio.html"}  # fmt: skip


@pytest.fixture(scope="module")
def farm(tmp_path_factory):
    """Five properties, one of them bad, built once."""
    folder = tmp_path_factory.mktemp("farm")
    root = make_farm(folder / "root", 4)
    bad = root / "area-0" / "bad"
    bad.mkdir()
    (bad / "locates.csv").write_text("point,feature,lon,lat\n")
    return root, folder / "out", build(root, folder / "out", jobs=2)


def test_each_property_is_written_and_the_bad_one_is_a_row(farm):
    """Four as-builts stand where their folders do; the fifth is one row that says why."""
    _, out, result = farm
    assert (result.count("built"), result.count("failed")) == (4, 1), result.failures.to_string()
    for seed in range(1, 5):
        home = out / f"area-{seed % 2}" / f"p{seed:03d}"
        assert (home / f"property-{seed}.gpkg").exists()
        assert (home / f"property-{seed}.html").exists()
        assert (home / "findings.csv").exists()
    failures = pd.read_csv(out / "failures.csv")
    assert failures["folder"].tolist() == ["area-0/bad"]
    assert failures["error"].tolist() == ["EmptyTableError"]
    assert "no rows" in failures["message"][0]
    assert result.has_errors
    assert result.exit_code == 1
    assert "4 built, 0 kept, 1 failed" in repr(result)


def test_the_index_has_a_footprint_for_each_property(farm):
    """portfolio.gpkg: one valid polygon a property around its points, with counts."""
    _, out, result = farm
    index = gpd.read_file(out / "portfolio.gpkg")
    assert index.crs.to_epsg() == 4326
    assert len(index) == 4
    assert set(index.geom_type) == {"Polygon"}
    assert index.is_valid.all()
    assert (index["wire_runs"] == 1).all()
    assert index["advisory"].str.contains("not a utility locate").all()
    for row in index.itertuples():
        (package,) = (out / row.out).glob("*.gpkg")
        points = gpd.read_file(package, layer="locates")
        assert points.to_crs(4326).within(row.geometry).all()
        assert row.locates == len(points)
    assert result.properties["property_folder"].tolist() == index["property_folder"].tolist()
    with closing(sqlite3.connect(out / "portfolio.gpkg")) as package:
        assert package.execute("PRAGMA integrity_check").fetchone() == ("ok",)


def test_the_summary_has_a_row_for_each_property(farm):
    """summary.csv holds the failed one too."""
    _, out, result = farm
    summary = pd.read_csv(out / "summary.csv")
    assert len(summary) == 5
    assert summary["status"].value_counts().to_dict() == {"built": 4, "failed": 1}
    assert summary["wire_length_m"].sum() == pytest.approx(result.summary["wire_length_m"].sum())


def test_geopandas_reads_every_layer_of_the_dataset(farm):
    """Rows of the dataset are the rows of the packages, in place to 2 cm."""
    _, out, result = farm
    for table in LAYERS:
        folder = out / "portfolio" / table.name
        read = gpd.read_parquet(folder) if table.geometry else pd.read_parquet(folder)
        assert len(read) == sum(o.counts.get(table.name, 0) for o in result.outcomes), table.name
        assert list(read)[:2] == ["property", "property_folder"]
    valves = gpd.read_parquet(out / "portfolio" / "valves").set_index("property_folder")
    for folder, valve in valves.iterrows():
        (package,) = (out / folder).glob("*.gpkg")
        original = gpd.read_file(package, layer="valves")
        moved = gpd.GeoSeries([valve.geometry], crs=valves.crs).to_crs(original.crs)
        assert moved.distance(original.geometry[0]).max() < 0.02
        assert valve["depth_m"] == pytest.approx(original["depth_m"][0])


def test_duckdb_reads_the_dataset(farm):
    """Another engine counts the same rows and finds the same mean."""
    _, out, _ = farm
    pattern = (out / "portfolio" / "depth_readings" / "*.parquet").as_posix()
    with duckdb.connect() as engine:
        query = f"select count(*), avg(depth_m), count(distinct property) from '{pattern}'"
        rows, depth, properties = engine.execute(query).fetchone()
    read = gpd.read_parquet(out / "portfolio" / "depth_readings")
    assert (rows, properties) == (len(read), 4)
    assert depth == pytest.approx(read["depth_m"].mean())


def test_columns_beyond_the_contract_are_kept_as_json(tmp_path):
    """Each crew may have columns of its own; the dataset keeps them without a new column."""
    folder = make_property(tmp_path / "root" / "p")
    rows = (folder / "locates.csv").read_text().splitlines()
    text = "\n".join([f"{rows[0]},Truck", *(f'{row},"7 ""b"""' for row in rows[1:])])
    (folder / "locates.csv").write_text(text)
    build(tmp_path / "root", tmp_path / "out")
    locates = gpd.read_parquet(tmp_path / "out" / "portfolio" / "locates")
    kept = [json.loads(cell) for cell in locates["further"]]
    assert {row.get("Truck", row.get("truck")) for row in kept} == {'7 "b"'}
    assert "Truck" not in locates


def test_the_dataset_is_written_in_bounded_pieces(tmp_path, monkeypatch):
    """Rows do not pile up over a batch: each time enough wait, they are written."""
    monkeypatch.setattr("wiremap.bulk.dataset.ROWS_A_GROUP", 5)
    monkeypatch.setattr("wiremap.bulk.run.BATCHES_A_LANE", 1)
    root = make_farm(tmp_path / "root", 3)
    result = build(root, tmp_path / "out", jobs=1)
    (part,) = (tmp_path / "out" / "portfolio" / "locates").iterdir()
    written = ParquetFile(part)
    assert written.num_row_groups == 3
    assert written.metadata.num_rows == sum(o.counts["locates"] for o in result.outcomes)


def test_a_second_run_touches_nothing(farm, monkeypatch):
    """What is finished is kept: no property is read again, no file is written again."""
    root, out, first = farm
    before = times(out)
    parts = {p: p.stat().st_mtime_ns for p in (out / "portfolio").rglob("*.parquet")}
    read = []
    build_one = batches._build
    monkeypatch.setattr(batches, "_build", lambda job: (read.append(job.path), build_one(job))[1])
    again = build(root, out)
    assert read == ["area-0/bad"]
    assert (again.count("kept"), again.count("failed")) == (4, 1)
    assert times(out) == before
    assert {p: p.stat().st_mtime_ns for p in (out / "portfolio").rglob("*.parquet")} == parts
    pd.testing.assert_frame_equal(
        again.summary.drop(columns="status"), first.summary.drop(columns="status")
    )


def test_only_what_changed_is_built_again(tmp_path):
    """A changed input, a file that was deleted, other formats: those are built, no others."""
    root, out = make_farm(tmp_path / "root", 3), tmp_path / "out"
    build(root, out)
    before = times(out)
    locates = root / "area-1" / "p001" / "locates.csv"
    locates.write_text(locates.read_text().replace("2026-03-11", "2026-03-12"))
    (out / "area-0" / "p002" / "findings.csv").unlink()
    result = build(root, out)
    assert [o.status for o in result.outcomes] == ["built", "built", "kept"]
    after = times(out)
    assert [name for name in after if after[name] == before[name]] == [
        "area-1/p003/property-3.html"
    ]
    assert (out / "area-0" / "p002" / "findings.csv").exists()
    points = gpd.read_parquet(out / "portfolio" / "locates")
    assert len(points) == sum(o.counts["locates"] for o in result.outcomes)
    assert set(points.loc[points["property"] == "Property 1", "date"].dropna()) == {"2026-03-12"}
    assert build(root, out, formats=["geojson"]).count("built") == 3


def test_a_property_whose_writing_was_stopped_is_built_again(tmp_path):
    """Files that are there may be of two builds, and what was left is cleared away."""
    root, out = make_farm(tmp_path / "root", 2), tmp_path / "out"
    (first, *_) = build(root, out).outcomes
    left = out / first.out / ".wiremap-staging-elsewhere-1-abc"
    left.mkdir()
    os.utime(left, (0, 0))
    again = build(root, out)
    assert (again.count("built"), again.count("kept")) == (1, 1)
    assert not left.exists()


def test_a_property_that_is_gone_leaves_the_portfolio(tmp_path):
    """The index and the dataset hold what lies below the root now; new ones are added."""
    root, out = make_farm(tmp_path / "root", 3), tmp_path / "out"
    build(root, out, jobs=1)
    shutil.rmtree(root / "area-1" / "p001")
    make_property(root / "new", seed=9)
    result = build(root, out, jobs=1)
    assert result.count("failed") == 0
    expected = {"Property 2", "Property 3", "Property 9"}
    assert set(gpd.read_file(out / "portfolio.gpkg")["property"]) == expected
    valves = gpd.read_parquet(out / "portfolio" / "valves")
    assert sorted(valves["property"]) == sorted(expected)


def test_a_new_name_replaces_the_files_of_the_old_one(tmp_path):
    """A property that is renamed does not leave its old package behind."""
    folder, out = make_property(tmp_path / "root" / "p", name="Old Name"), tmp_path / "out"
    build(tmp_path / "root", out)
    toml = folder / "property.toml"
    toml.write_text(toml.read_text().replace("Old Name", "New Name"))
    build(tmp_path / "root", out)
    names = {p.name for p in (out / "p").iterdir() if p.is_file()}
    assert "new-name.gpkg" in names
    assert not [name for name in names if name.startswith("old-name")]


def test_two_properties_of_one_name_do_not_meet(tmp_path):
    """One slug in two folders, and folders that differ in case alone, are four as-builts."""
    root = tmp_path / "root"
    for seed, place in enumerate(["a/gate", "b/gate", "Gate", "gate"], 1):
        make_property(root / place, seed=seed, name="Gate House")
    result = build(root, tmp_path / "out")
    assert result.count("built") == 4
    assert len({o.out.casefold() for o in result.outcomes}) == 4
    packages = sorted((tmp_path / "out").rglob("gate-house.gpkg"))
    assert len(packages) == 4
    assert len({gpd.read_file(p, layer="valves").geometry[0].wkt for p in packages}) == 4


def test_hostile_folder_names_and_texts_are_only_text(tmp_path):
    """Markup, formulas and line breaks in names reach no page as markup and no cell as formula."""
    root = tmp_path / "root"
    for seed, name in enumerate(["<script>alert(1)", "=cmd", "a\nb", "portfolio", "-o"], 1):
        make_property(root / name, seed=seed, name=name.replace("\n", " "))
    result = build(root, tmp_path / "out")
    assert result.count("built") == 5
    page = (tmp_path / "out" / "portfolio.html").read_text()
    assert "<script>alert(1)" not in page
    assert "&lt;script&gt;alert(1)" in page
    summary = pd.read_csv(tmp_path / "out" / "summary.csv", encoding="utf-8-sig", dtype=str)
    assert "'=cmd" in set(summary["property"])
    assert gpd.read_parquet(tmp_path / "out" / "portfolio" / "valves")["property"].nunique() == 5


def test_names_that_are_no_text_are_written_out(tmp_path):
    """A folder named by an old system in bytes that are no UTF-8 is a property like any other."""
    for name in (b"caf\xe9", b"caf\xe9-empty"):
        folder = Path(os.fsdecode(os.fsencode(tmp_path) + b"/root/" + name))
        make_property(folder)
    (folder / "locates.csv").write_text("point\n")
    result = build(tmp_path / "root", tmp_path / "out")
    assert (result.count("built"), result.count("failed")) == (1, 1)
    assert result.summary["property_folder"].tolist() == ["caf\\udce9", "caf\\udce9-empty"]
    assert result.failures["folder"].tolist() == ["caf\\udce9-empty"]
    valves = gpd.read_parquet(tmp_path / "out" / "portfolio" / "valves")
    assert valves["property_folder"].tolist() == ["caf\\udce9"]
    page = (tmp_path / "out" / "portfolio.html").read_text(encoding="utf-8")
    assert page.count("<tr class") == 2


def test_any_executor_will_do(tmp_path):
    """A thread pool of the caller is used, and left open."""
    root = make_farm(tmp_path / "root", 3)
    seen = []
    with ThreadPoolExecutor(1) as pool:
        result = wiremap.build_properties(
            root, tmp_path / "out", executor=pool, jobs=1,
            progress=lambda done, total, outcome: seen.append((done, total, outcome.status)),
        )  # fmt: skip
        assert pool.submit(int, "7").result() == 7
    assert result.count("built") == 3
    assert seen == [(1, 3, "built"), (2, 3, "built"), (3, 3, "built")]


@pytest.mark.parametrize(
    ("out", "says"), [("root", "root itself"), ("root/p", "in a property"), ("root/p/out", "in a property")]
)  # fmt: skip
def test_outputs_never_go_among_the_inputs(tmp_path, out, says):
    """An output folder inside a property would be read as field files the next time."""
    make_property(tmp_path / "root" / "p")
    before = sorted(tmp_path.rglob("*"))
    with pytest.raises(WriteError, match=says):
        build(tmp_path / "root", tmp_path / out)
    assert sorted(tmp_path.rglob("*")) == before


def test_what_cannot_be_written_is_said_once_and_at_the_start(tmp_path):
    """A file where the output folder goes, and a format that nobody knows."""
    root = make_farm(tmp_path / "root", 2)
    (tmp_path / "out").touch()
    with pytest.raises(WriteError, match="cannot be written to"):
        build(root, tmp_path / "out")
    with pytest.raises(WriteError, match=r"no such format, got stone; choose among .*geopackage"):
        build(root, tmp_path / "other", formats=["stone"])
    assert not (tmp_path / "other").exists()


def test_an_output_folder_below_the_root_is_not_searched(tmp_path):
    """ROOT/out beside the properties is fine, also the second time."""
    root = make_farm(tmp_path / "root", 2)
    build(root, root / "out")
    assert build(root, root / "out").count("kept") == 2


def test_an_open_index_is_refused_before_any_work(tmp_path):
    """A -wal file beside portfolio.gpkg: somebody has it open."""
    make_property(tmp_path / "root" / "p")
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "portfolio.gpkg-wal").touch()
    with pytest.raises(WriteError, match="close the package"):
        build(tmp_path / "root", tmp_path / "out")
    assert not (tmp_path / "out" / "p").exists()


@pytest.mark.parametrize("jobs", [0, -1])
def test_some_worker_is_needed(tmp_path, jobs):
    """A run without workers would never end."""
    make_property(tmp_path / "root" / "p")
    with pytest.raises(ClusterError, match=f"1 or more, got {jobs}"):
        build(tmp_path / "root", tmp_path / "out", jobs=jobs)


def test_a_run_that_another_one_displaced_says_so(tmp_path):
    """Where the file system knows no locks a second run can begin; the first one stops."""
    root, out = make_farm(tmp_path / "root", 3), tmp_path / "out"
    with pytest.raises(WriteError, match="another run has begun"):
        build(root, out, jobs=1, progress=lambda *_: batches.start_run(out))
    assert build(root, out).count("kept") == 1


@pytest.mark.parametrize("name", ["nowhere", "empty"])
def test_nothing_found_is_an_error(tmp_path, name):
    """A root that is missing, and one without properties."""
    (tmp_path / "empty").mkdir()
    with pytest.raises(ReadError, match=r"no such folder|no property folder"):
        build(tmp_path / name, tmp_path / "out")


def test_without_pyarrow_everything_but_the_dataset_is_written(tmp_path, monkeypatch):
    """GeoParquet needs an extra; the rest does not."""
    monkeypatch.setattr("wiremap.bulk.run.has_pyarrow", lambda: False)
    root = make_farm(tmp_path / "root", 2)
    assert build(root, tmp_path / "out").count("built") == 2
    assert build(root, tmp_path / "out").count("kept") == 2
    assert (tmp_path / "out" / "portfolio.gpkg").exists()
    assert not (tmp_path / "out" / "portfolio").exists()


def test_a_disk_that_fails_gives_rows_not_an_endless_run(tmp_path, monkeypatch):
    """A part that cannot be written is tried twice, then its properties are failures."""
    calls = []

    def refuse(*_):
        calls.append(1)
        raise OSError("no space left on device")

    monkeypatch.setattr("wiremap.bulk.dataset.Part.finish", refuse)
    result = build(make_farm(tmp_path / "root", 2), tmp_path / "out", jobs=1)
    assert result.count("failed") == 2
    assert result.exit_code == 2
    assert set(result.failures["message"]) == {"no space left on device"}
    assert len(calls) <= 4
