"""A record over the seasons: amended, built in any order, compared, held against new ground."""

from __future__ import annotations

import random
import shutil
import sqlite3
import tempfile
from contextlib import closing
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st
from seasons import again, build, first_visit, write_rows
from shapely.geometry import Point

import wiremap
from wiremap.errors import ReadError
from wiremap.read.asbuilts import read_asbuilt, read_kept

STORY = ("provenance", "revisions", "inputs")  # they tell how the record came about
FIXED = "1770000000"
UNSHRUNK = (Phase.explicit, Phase.generate)  # a build is too slow to be repeated hundreds of times


def assert_same_record(one, other):
    """Hold every layer but those that tell the story of the record equal, to 1e-9."""
    for name, layer in one.layers.items():
        if name not in STORY:
            texts = {c: object for c in layer.columns if str(layer[c].dtype) == "str"}
            pd.testing.assert_frame_equal(
                pd.DataFrame(layer).astype(texts), pd.DataFrame(other.layers[name]).astype(texts),
                check_exact=False, rtol=1e-9, atol=1e-9, obj=name, check_column_type=False,
            )  # fmt: skip


@settings(max_examples=4, deadline=None, phases=UNSHRUNK)
@given(
    picked=st.sets(st.integers(0, 20), min_size=1, max_size=15),
    seed=st.integers(0, 1000),
    east_m=st.sampled_from([0.0, 0.0, 6.0]),
)
def test_amending_a_record_gives_what_building_all_visits_together_gives(picked, seed, east_m):
    """amend(build(A), B) equals build(A + B): every cell, numbers within 1e-9."""
    with tempfile.TemporaryDirectory() as folder:
        root = Path(folder)
        made = first_visit(root / "a", seed=7, zones=1, with_tone=seed % 2 == 0)
        rows = [row for k, row in enumerate(made.locates) if k in picked] or made.locates[:3]
        seen = again(rows, "2026-06-12", seed=seed, east_m=east_m, operator="June crew")
        package = build(root / "a").write(root / "out", formats=["geopackage"])[0]
        amended = wiremap.amend_asbuilt(package, write_rows(root / "june.csv", seen))
        write_rows(root / "a" / "visits" / "june.csv", seen)
        assert_same_record(build(root / "a"), amended)
        assert amended.layers["revisions"]["number"].tolist() == [0, 1]
        assert amended.layers["revisions"]["by"].iloc[1] == "June crew"


@settings(max_examples=2, deadline=None, phases=UNSHRUNK)
@given(seed=st.integers(0, 1000))
def test_visits_in_any_order_give_the_same_record(seed):
    """Files of three visits under shuffled names: every cell is equal but the file's name."""
    with tempfile.TemporaryDirectory() as folder:
        root, rng = Path(folder), random.Random(seed)
        made = first_visit(root / "a", seed=8, zones=1)
        visits = [made.locates] + [
            again([r for r in made.locates if rng.random() < 0.6], day, seed=seed, east_m=shift)
            for day, shift in (("2026-05-02", 0.0), ("2026-06-12", 5.0))
        ]
        records = []
        for turn in range(2):
            names = ["x.csv", "y.csv", "z.csv"]
            rng.shuffle(names)
            shutil.rmtree(root / "a" / "locates", ignore_errors=True)
            (root / "a" / "locates.csv").unlink(missing_ok=True)
            for name, rows in zip(names, visits, strict=True):
                write_rows(root / "a" / "locates" / name, rows)
            records.append(build(root / "a"))
            assert turn == 0 or len(records[0].layers["locates"]) > len(made.locates)
        for record in records:
            for name, layer in record.layers.items():
                record.layers[name] = layer.drop(columns="source_file", errors="ignore")
        assert_same_record(*records)


@pytest.fixture(scope="module")
def season(tmp_path_factory):
    """A record of March, and one amended in June: V1 moved, V3 relabelled, V2 seen again."""
    root = tmp_path_factory.mktemp("season")
    made = first_visit(root / "a", seed=3, zones=4, faults=((4, "break", 1.0),))
    march = build(root / "a").write(root / "march", formats=["geopackage"])[0]
    valves = {row["point"]: row for row in made.locates if row["feature"] == "valve"}
    june = [
        *again([valves["V1"]], "2026-06-12", north_m=5.0),
        *again([valves["V2"]], "2026-06-12"),
        *again([valves["V3"]], "2026-06-12", zone=7),
    ]
    path = write_rows(root / "2026-06-12-june.csv", june)
    amended = wiremap.amend_asbuilt(march, path, by="Office")
    return root, march, amended.write(root / "june", formats=["geopackage"])[0], amended


def test_an_amended_record_keeps_what_was_and_says_who_changed_it(season):
    """The old place is in history; the revision names its author and file."""
    *_, amended = season
    held = amended.layers["history"][["feature_id", "reason", "valid_from", "valid_to"]]
    assert held.to_numpy().tolist() == [
        ["V1", "moved", "2026-03-11", "2026-06-12"],
        ["V3", "rezoned", "2026-03-11", "2026-06-12"],
    ]
    valves = amended.layers["valves"].set_index("valve")
    assert valves.loc["V1", ["first_date", "last_date"]].tolist() == ["2026-06-12"] * 2
    assert valves.loc["V2", ["first_date", "last_date"]].tolist() == ["2026-03-11", "2026-06-12"]
    assert valves["observations"].to_dict() == {"V1": 1, "V2": 2, "V3": 2, "V4": 1}
    assert valves["age_days"].to_dict() == {"V1": 0, "V2": 0, "V3": 0, "V4": 93}
    last = amended.layers["revisions"].iloc[-1]
    assert last[["number", "date", "by", "inputs"]].tolist() == [
        1, "2026-06-12", "Office", "visits/2026-06-12-june.csv",
    ]  # fmt: skip


def test_a_record_can_be_amended_again_and_again(season):
    """The second amendment stands on the first; its file may bear the same name."""
    root, _, june, _ = season
    source = read_kept(june)
    assert [row["number"] for row in source.revisions] == [0, 1]
    row = {"point": "X9", "feature": "splice", "lon": -97.5236, "lat": 35.2917, "h_rms": 0.05,
           "date": "2026-07-01"}  # fmt: skip
    path = write_rows(root / "again" / "2026-06-12-june.csv", [row])
    twice = wiremap.amend_asbuilt(june, path)
    assert twice.layers["revisions"]["number"].tolist() == [0, 1, 2]
    assert twice.layers["revisions"]["inputs"].iloc[-1] == "visits/2026-06-12-june.csv (2)"
    assert "X9" in set(twice.layers["splices"]["splice"])


def test_a_visit_without_dates_is_refused_and_says_how_to_give_one(season):
    """Without a day it cannot be told from the earlier ones."""
    root, march, *_ = season
    row = {"point": "X1", "feature": "splice", "lon": -97.52, "lat": 35.29}
    path = write_rows(root / "undated.csv", [row])
    with pytest.raises(ReadError, match=r"undated\.csv row 2, date: 1 rows have no date.*--date"):
        wiremap.amend_asbuilt(march, path)
    amended = wiremap.amend_asbuilt(march, path, date="2026-06-01")
    assert amended.layers["revisions"]["date"].iloc[-1] == "2026-06-01"
    with pytest.raises(ReadError, match="this is no date, got June"):
        wiremap.amend_asbuilt(march, path, date="June")


def test_a_folder_may_bring_a_new_zone_list(season):
    """Its zones take the place of the former list; its property.toml is not read."""
    root, march, *_ = season
    row = {
        "point": "X1",
        "feature": "splice",
        "lon": -97.5236,
        "lat": 35.2917,
        "date": "2026-06-01",
    }
    write_rows(root / "visit" / "points.csv", [row])
    write_rows(root / "visit" / "zones.csv", [{"zone": 5, "controller": "A", "name": "Only one"}])
    (root / "visit" / "property.toml").write_text("[advisory]\ntolerance_m = 9\n")
    amended = wiremap.amend_asbuilt(march, root / "visit")
    assert "Only one" in set(amended.layers["zones"]["name"].dropna())
    assert amended.settings.advisory.tolerance_m == 0.61
    assert "property.toml" in set(amended.findings["source_file"].dropna())


@pytest.mark.parametrize("content", [b"", b"not a database", b"SQLite format 3\0" + b"\0" * 100])
def test_what_is_no_record_is_refused(tmp_path, content):
    """A file of another kind is one error, never a traceback."""
    path = tmp_path / "x.gpkg"
    path.write_bytes(content)
    with pytest.raises(ReadError, match=r"x\.gpkg: the file"):
        read_asbuilt(path)


def test_a_package_whose_inputs_are_gone_can_be_read_but_not_amended(season, tmp_path):
    """Someone emptied the table in a GIS."""
    package = Path(shutil.copy(season[1], tmp_path))
    with closing(sqlite3.connect(package)) as db, db:
        db.execute("DELETE FROM inputs")
    assert len(read_asbuilt(package).layers["valves"]) == 4
    with pytest.raises(ReadError, match="does not hold what it was built from"):
        read_kept(package)


def test_a_failed_amendment_leaves_the_record_as_it_was(season, tmp_path):
    """The package is only read until the new one is whole."""
    package = Path(shutil.copy(season[1], tmp_path))
    before = package.read_bytes()
    with pytest.raises(ReadError, match="no such file"):
        wiremap.amend_asbuilt(package, tmp_path / "missing.csv")
    assert package.read_bytes() == before


def test_comparing_two_builds_of_one_input_finds_nothing(season):
    """Not even in words."""
    _, march, *_ = season
    found = wiremap.compare_asbuilts(march, march)
    assert found.changes.empty
    assert found.summary == "The records do not differ beyond their uncertainty."


def test_comparing_finds_what_june_changed_and_nothing_else(season):
    """V1 moved, V3 has another zone; V2, seen again within its uncertainty, is not mentioned."""
    _, march, june, _ = season
    changes = wiremap.compare_asbuilts(march, june).changes
    of = changes[changes["layer"] == "valves"]
    assert of[["feature_id", "change"]].to_numpy().tolist() == [
        ["V3", "zone_changed"], ["V1", "moved"],
    ]  # fmt: skip
    moved = of.iloc[1]
    assert moved["difference_m"] == pytest.approx(5.0, abs=0.3)
    assert moved["limit_m"] < 0.3
    assert not changes["message"].str.contains("V2").any()


def test_builds_are_equal_byte_for_byte_where_the_time_is_fixed(tmp_path, monkeypatch):
    """SOURCE_DATE_EPOCH stands for the time of writing, in every default file."""
    monkeypatch.setenv("SOURCE_DATE_EPOCH", FIXED)
    first_visit(tmp_path / "a", seed=2, zones=2, faults=((2, "leak", 0.5),))
    written = [build(tmp_path / "a").write(tmp_path / out) for out in ("one", "two")]
    names = [path.relative_to(tmp_path / "one") for path in written[0]]
    assert len(names) > 10
    unlike = [
        str(name) for name in names
        if (tmp_path / "one" / name).read_bytes() != (tmp_path / "two" / name).read_bytes()
    ]  # fmt: skip
    assert unlike == []


@pytest.mark.parametrize("suffix", ["csv", "gpkg"])
def test_lost_cover_is_found_where_ground_was_taken(tmp_path, suffix):
    """0.15 m taken from the half of the property east of the controller, none from the rest."""
    made = first_visit(tmp_path / "a", seed=6, zones=4, with_elevation=True, slope_deg=3.0)
    package = build(tmp_path / "a").write(tmp_path / "out", formats=["geopackage"])[0]
    middle = float(made.locates[0]["lon"])
    points = [row for row in made.locates if "elevation" in row]
    rows = [
        {"lon": row["lon"], "lat": row["lat"],
         "elevation": row["elevation"] - (0.15 if float(row["lon"]) > middle else 0.0)}
        for row in points
    ]  # fmt: skip
    surface = tmp_path / f"surface.{suffix}"
    if suffix == "csv":
        write_rows(surface, rows)
    else:
        places = [Point(float(r["lon"]), float(r["lat"]), r["elevation"]) for r in rows]
        gpd.GeoDataFrame(geometry=places, crs="EPSG:4269").to_file(surface)
    found = wiremap.recover_asbuilt(package, surface).lost_cover
    assert len(found) > 0
    assert found["cover_low_m"].is_monotonic_increasing
    line = found.geometry.to_crs("EPSG:4269")
    assert (line.bounds["maxx"] > middle).all()
    assert found["lost_m"].max() == pytest.approx(0.15, abs=0.03)
    now = found["cover_before_m"] - found["cover_now_m"]
    assert (now <= found["lost_m"] + 1e-9).all()


def test_a_surface_of_two_points_is_no_surface(season, tmp_path):
    """The error names the file and what it needs."""
    rows = [
        {"lon": -97.52, "lat": 35.29, "elevation": 1.0},
        {"lon": -97.53, "lat": 35.29, "elevation": 1.0},
    ]
    path = write_rows(tmp_path / "two.csv", rows)
    with pytest.raises(ReadError, match=r"two\.csv: a surface needs three points"):
        wiremap.recover_asbuilt(season[1], path)


def test_a_record_without_ground_elevations_says_so(season, tmp_path):
    """Nothing is made up: each run is named."""
    layer = read_asbuilt(season[1]).layers["locates"].to_crs("EPSG:4269")
    rows = [{"lon": p.x, "lat": p.y, "elevation": 100.0} for p in layer.geometry]
    found = wiremap.recover_asbuilt(season[1], write_rows(tmp_path / "flat.csv", rows))
    assert found.lost_cover.empty
    assert len(found.unknown) == 4
    assert all("no ground elevations" in sentence for sentence in found.unknown)


def test_old_observations_widen_the_band_where_that_is_set(tmp_path):
    """0.2 m a year; the record is prepared a year after the walk: half widths grow by 0.2 m."""
    first_visit(tmp_path / "a", seed=2, zones=2)
    plain = build(tmp_path / "a").layers["dig_buffer"]["half_width_m"].to_numpy()
    text = (tmp_path / "a" / "property.toml").read_text()
    aged = text.replace("[property]\n", "[property]\nprepared_on = 2027-03-11\n")
    (tmp_path / "a" / "property.toml").write_text(aged + "[advisory]\nwiden_m_per_year = 0.2\n")
    record = build(tmp_path / "a")
    wide = record.layers["dig_buffer"]["half_width_m"].to_numpy()
    assert wide == pytest.approx(plain + 0.2 * 365 / 365.25)
    assert set(record.layers["wire_runs"]["age_days"]) == {365}
    assert np.isfinite(wide).all()
