"""The whole way on invented properties with a known truth."""

from __future__ import annotations

import shutil
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
import scoring
from simulator import Scenario, simulate, write_folder

import wiremap
from wiremap.model.tables import LAYERS
from wiremap.workflow import STEPS

DATA = Path(__file__).parent.parent / "data"
DEMO = Path(wiremap.__file__).parent / "demo"


def build(tmp_path, **changes):
    """Simulate, write, read and build; return the as-built and the truth."""
    made = simulate(Scenario(**changes))
    folder = write_folder(made, tmp_path / f"p{changes.get('seed', 1)}")
    return wiremap.build_asbuilt(wiremap.read_property(folder)), made.truth


@pytest.mark.parametrize("name", ["hollow-oak-garden", "ridge-terrace", "larkmoor-campus"])
def test_sound_properties_build_without_findings_of_severity_error(name):
    """Nothing is wrong with three of the four bundled properties."""
    asbuilt = wiremap.build_asbuilt(wiremap.read_property(DATA / name))
    errors = asbuilt.findings[asbuilt.findings["severity"] == "error"]
    assert errors.empty, errors[["code", "message"]].to_string()
    assert set(asbuilt.layers) == {table.name for table in LAYERS}


def test_the_clean_garden_raises_no_warning():
    """On a clean property every warning would be a false alarm."""
    asbuilt = wiremap.build_asbuilt(wiremap.read_property(DATA / "hollow-oak-garden"))
    loud = asbuilt.findings[asbuilt.findings["severity"] != "note"]
    assert loud.empty, loud[["code", "message"]].to_string()
    assert (asbuilt.layers["zones"]["status"] == "complete").all()


def test_every_planted_mistake_of_the_messy_property_is_found():
    """What data/millrace-court/README.md says is wrong is what the findings say."""
    source = wiremap.read_property(DATA / "millrace-court")
    asbuilt = wiremap.build_asbuilt(source)
    codes = set(asbuilt.findings["code"])
    assert {
        "bad-value", "unknown-feature", "depth-pair-uneven", "duplicate-point",
        "zone-without-valve", "valve-without-zone", "zone-claimed-twice", "valve-count-differs",
        "ohms-low",
    } <= codes  # fmt: skip
    notes = asbuilt.findings["message"].str.cat(sep=" ")
    assert "cp1252" in notes


def test_every_row_is_in_the_locates_or_in_the_findings():
    """Nothing is lost: a row is placed, or a finding names it."""
    source = wiremap.read_property(DATA / "millrace-court")
    asbuilt = wiremap.build_asbuilt(source)
    with (DATA / "millrace-court" / "locates.csv").open(encoding="cp1252") as file:
        rows = set(range(2, 1 + sum(1 for _ in file)))
    kept = set(asbuilt.layers["locates"]["source_row"])
    named = set(asbuilt.findings["source_row"].dropna())
    assert rows <= kept | named


def test_stated_depth_intervals_hold_the_truth(tmp_path):
    """Over sloping properties 93 to 98 % of stated 95 % intervals hold the true depth."""
    scores = [
        scoring.score_depths(*build(tmp_path, seed=seed, zones=8, slope_deg=slope))
        for seed, slope in enumerate((0, 5, 10, 15), 100)
    ]
    score = pd.concat(scores)
    assert len(score) > 200
    assert 0.92 <= score["inside"].mean() <= 0.99
    assert score["relative"].abs().median() < 0.06


def test_the_dig_buffer_holds_the_wire(tmp_path):
    """With coarse GNSS the band widens and still holds nearly all of the wire."""
    for seed, rms_m in ((7, 0.05), (8, 0.6)):
        paths = scoring.score_paths(*build(tmp_path, seed=seed, rms_m=rms_m))
        assert len(paths) == 6
        assert paths["inside_share"].mean() > 0.95


def test_faults_get_the_right_kind(tmp_path):
    """A break, a leak of 40 % and an open end are told apart, and sound runs stay sound."""
    faults = ((2, "break", 1.0), (3, "leak", 0.4), (4, "open_end", 1.0))
    tables = [
        scoring.score_faults(*build(tmp_path, seed=seed, faults=faults)) for seed in range(20, 26)
    ]
    table = pd.concat(tables)
    assert (table["true"] == table["found"]).mean() > 0.93, table.to_string()
    assert table.loc[table["true"] == "leak", "inside"].mean() > 0.8


def test_taped_valves_stand_where_they_are(tmp_path):
    """Valves placed by two tapes lie within their stated accuracy."""
    asbuilt, truth = build(tmp_path, seed=40, zones=6, tied_valves=True)
    assert (asbuilt.layers["valves"]["position_rms_m"] > 0).all()
    assert scoring.valve_errors(asbuilt, truth).max() < 3.5
    assert set(asbuilt.layers["locates"]["placed_by"]) >= {"ties", "gnss"}


@pytest.mark.parametrize(
    "mistake",
    ["zone-without-valve", "valve-without-zone", "zone-claimed-twice", "valve-count-differs",
     "ohms-open", "ohms-low", "ohms-high"],
)  # fmt: skip
def test_each_list_mistake_raises_its_code_and_a_clean_list_none(tmp_path, mistake):
    """A planted mistake is found by its code; without it the code is absent."""
    planted, _ = build(tmp_path, seed=50, list_mistakes=(mistake,))
    assert mistake in set(planted.findings["code"])
    clean, _ = build(tmp_path, seed=51)
    assert mistake not in set(clean.findings["code"])


def test_row_order_does_not_matter_where_an_order_column_says_it(tmp_path):
    """Shuffled rows give the same runs when `order` is written down."""
    made = simulate(Scenario(seed=60, zones=3))
    for i, row in enumerate(made.locates):
        row["order"] = i
    one = write_folder(made, tmp_path / "one")
    np.random.default_rng(0).shuffle(made.locates)
    other = write_folder(made, tmp_path / "other")
    a, b = (
        wiremap.build_asbuilt(wiremap.read_property(f)).layers["wire_runs"] for f in (one, other)
    )
    a, b = a.set_index("run").sort_index(), b.set_index("run").sort_index()
    assert a.geometry.geom_equals_exact(b.geometry, 1e-6).all()
    pd.testing.assert_series_equal(a["depth_mean_m"], b["depth_mean_m"])


def test_a_property_placed_in_feet_agrees_with_the_same_in_metres(tmp_path):
    """The same walk in survey feet and in metres lands on the same places."""
    source = wiremap.read_property(DATA / "ridge-terrace")
    feet = wiremap.build_asbuilt(source).layers["wire_runs"]
    copy = tmp_path / "metres"
    shutil.copytree(DATA / "ridge-terrace", copy)
    text = (
        (copy / "property.toml").read_text().replace('\ncrs = "EPSG:2267"', '\ncrs = "EPSG:26914"')
    )
    (copy / "property.toml").write_text(text)
    metres = wiremap.build_asbuilt(wiremap.read_property(copy)).layers["wire_runs"]
    assert feet.crs.axis_info[0].unit_name == "US survey foot"
    moved = feet.to_crs(metres.crs)
    assert moved.geometry.geom_equals_exact(metres.geometry, 0.005).all()
    assert np.allclose(feet["length_m"], metres["length_m"], rtol=2e-5)


def test_the_demo_shows_a_break_a_leak_and_an_open_end():
    """The bundled demo has one fault of each kind, and a zone that was never walked."""
    asbuilt = wiremap.build_asbuilt(wiremap.read_property(DEMO))
    assert {"break", "leak", "open_end"} <= set(asbuilt.layers["faults"]["kind"])
    assert "zone-without-valve" in set(asbuilt.findings["code"])


def test_progress_names_the_steps_in_their_order():
    """A bar that counts `STEPS` never goes back. The garden has one visit: each step runs once."""
    said = []
    wiremap.build_asbuilt(wiremap.read_property(DATA / "hollow-oak-garden"), progress=said.append)
    assert said == list(STEPS)
