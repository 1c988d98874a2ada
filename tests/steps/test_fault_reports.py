"""Reported faults against the tone, and levels read at coils."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely
from tone_field import METRIC, lay_out
from tone_scoring import find

X = 5.0 * np.arange(24)
TONE = 100 * (1 + 0.02 * np.random.default_rng(2).standard_normal(24))


def surveyed(tone, *, faults=(), date="2026-03-01"):
    """Return points, lines and all located rows of one run with reported faults.

    Each fault is a mapping: chainage_m, run (or none), and cells of its row.
    """
    rows = pd.DataFrame({
        "run": "R", "feature": "path", "tone": tone, "chainage_m": X, "gain": np.nan,
        "wire_depth_m": 0.3, "wire_depth_sigma_m": 0.01, "date": date,
    })  # fmt: skip
    points, lines = lay_out([rows])
    reports = gpd.GeoDataFrame(
        [{"feature": "fault", "point": f"F{i}", "run": "R", "position_rms_m": 0.1,
          "source_file": "locates.csv", "source_row": 40 + i} | dict(fault)
         for i, fault in enumerate(faults)],
        geometry=[shapely.Point(fault["chainage_m"], 0.3) for fault in faults],
        crs=METRIC,
    )  # fmt: skip
    placed = pd.concat([points, reports], ignore_index=True) if len(reports) else points
    placed["locate"] = np.arange(len(placed))
    on_run = placed[placed["run"].notna() & (placed["run"] != "")]
    return on_run.sort_values("chainage_m", kind="stable"), lines, placed


LEAKING = np.where(X > 57, 0.6, 1.0) * TONE


def test_a_report_that_agrees_makes_one_surer_row():
    """Tone and technician name one leak: one row of the computed kind, under the reported name."""
    alone, lines, placed = surveyed(LEAKING)
    computed = find(alone, lines, placed=placed).faults.iloc[0]
    points, lines, placed = surveyed(LEAKING, faults=[{"chainage_m": 58.0, "date": "2026-03-04"}])
    (row,) = find(points, lines, placed=placed).faults.to_dict("records")
    assert (row["kind"], row["fault"]) == ("leak", "F0")
    assert row["confidence"] >= computed["confidence"]
    assert "tone:" in row["evidence"]
    assert "reported: F0" in row["evidence"]
    assert (row["first_date"], row["last_date"]) == ("2026-03-01", "2026-03-04")


def test_a_report_that_nothing_matches_stays_reported_where_it_is():
    """No levels: the report is kept at its own position."""
    points, lines, placed = surveyed(np.full(24, np.nan), faults=[{"chainage_m": 31.0}])
    result = find(points, lines, placed=placed)
    row = result.faults.iloc[0]
    assert (row["kind"], row["status"], row["run"]) == ("reported", "standing", "R")
    assert (row.geometry.x, row.geometry.y) == (31.0, 0.3)
    assert row["chainage_m"] == 31.0
    assert row["chainage_low_m"] == pytest.approx(31 - 1.96 * np.sqrt(0.005 + 0.04 + 0.155**2))
    assert result.findings == []


def test_a_report_that_the_tone_passes_soundly_is_contradicted():
    """Sound levels to both sides of a fault that is said to stand."""
    points, lines, placed = surveyed(TONE, faults=[{"chainage_m": 58.0}])
    result = find(points, lines, placed=placed)
    (finding,) = result.findings
    assert (finding.code, finding.subject) == ("fault-contradicted", "F0")
    assert (finding.source_file, finding.source_row) == ("locates.csv", 40)
    assert result.faults["kind"].tolist() == ["reported"]


def test_a_report_beyond_the_last_level_is_not_contradicted():
    """Nothing was heard past it."""
    points, lines, placed = surveyed(TONE, faults=[{"chainage_m": 118.0}])
    assert find(points, lines, placed=placed).findings == []


@pytest.mark.parametrize(
    ("cells", "status"),
    [
        ({"status": "repaired"}, "repaired"),
        ({"status": "standing", "note": "repaired last year?"}, "standing"),
        ({"note": "Respliced and REPAIRED 4 May"}, "repaired"),
        ({"note": "not yet repaired"}, "standing"),
        ({"note": "needs to be fixed"}, "standing"),
        ({}, "standing"),
    ],
)
def test_the_state_of_a_fault_comes_from_its_status_or_its_note(cells, status):
    """The status column first, else the note's own words; a repaired one is not contradicted."""
    points, lines, placed = surveyed(TONE, faults=[{"chainage_m": 58.0} | cells])
    result = find(points, lines, placed=placed)
    assert result.faults["status"].tolist() == [status]
    assert len(result.findings) == (status == "standing")


def test_a_repair_after_the_tone_settles_the_computed_fault():
    """Levels of March show the leak that was repaired in April: one row, repaired, no finding."""
    fault = {"chainage_m": 58.0, "status": "repaired", "date": "2026-04-02"}
    points, lines, placed = surveyed(LEAKING, faults=[fault])
    result = find(points, lines, placed=placed)
    (row,) = result.faults.to_dict("records")
    assert (row["kind"], row["status"]) == ("leak", "repaired")
    assert row["dig"] == "Repaired; nothing to open."
    assert result.findings == []


def test_tone_after_a_repair_that_still_drops_contradicts_it():
    """Repaired in February, the levels of March still step down there."""
    fault = {"chainage_m": 58.0, "status": "repaired", "date": "2026-02-02"}
    points, lines, placed = surveyed(LEAKING, faults=[fault])
    result = find(points, lines, placed=placed)
    assert sorted(result.faults["status"]) == ["repaired", "standing"]
    assert sorted(f.code for f in result.findings) == ["fault-contradicted", "fault-found"]


def test_a_fault_without_a_run_is_put_on_the_line_beside_it():
    """Located a hand's breadth off the wire, no run written down."""
    fault = {"chainage_m": 58.0, "run": np.nan}
    points, lines, placed = surveyed(LEAKING, faults=[fault])
    (row,) = find(points, lines, placed=placed).faults.to_dict("records")
    assert (row["fault"], row["kind"], row["run"]) == ("F0", "leak", "R")


def test_a_fault_far_from_every_line_belongs_to_no_run():
    """Thirty metres off: reported, without run or chainage."""
    points, lines, placed = surveyed(TONE, faults=[{"chainage_m": 58.0, "run": np.nan}])
    placed = placed.set_geometry(placed.geometry.where(placed["run"] == "R", shapely.Point(58, 30)))
    row = find(points, lines, placed=placed).faults.iloc[0]
    assert row["kind"] == "reported"
    assert np.isnan(row["chainage_m"])


def coil_rows(**columns):
    """Return located valves two to a box."""
    count = len(columns["tone"])
    rows = {"feature": "valve", "point": [f"V{i}" for i in range(count)], "run": "R", "gain": 1.0}
    places = [shapely.Point(0.4 * i, 0) for i in range(count)]
    return gpd.GeoDataFrame(rows | columns, geometry=places, crs=METRIC)


def margins(placed):
    """Return margin by valve."""
    points, lines, _ = surveyed(TONE)
    coils = find(points, lines, placed=placed).coils
    return dict(zip(coils["valve"], coils["margin"].round(6), strict=True))


def test_the_loudest_coil_of_a_box_is_the_connected_one():
    """Common practice, no source: the coil that reads highest is the one connected."""
    assert margins(coil_rows(tone=[200.0, 50.0])) == {"V0": 0.75, "V1": -0.75}


def test_a_coil_alone_has_no_rival():
    """One valve with a level: margin 1; one without a level is not listed."""
    assert margins(coil_rows(tone=[200.0, np.nan])) == {"V0": 1.0}


@pytest.mark.parametrize("column", ["run", "gain", "box"])
def test_coils_are_compared_on_one_run_at_one_gain_in_one_box(column):
    """Another run traced, another gain or another box: no rivals."""
    other = {"run": ["R", "S"], "gain": [1.0, 2.0], "box": ["A", "B"]}[column]
    assert margins(coil_rows(tone=[200.0, 50.0], **{column: other})) == {"V0": 1.0, "V1": 1.0}


def test_equal_and_silent_coils_have_no_margin():
    """Two equals: 0; two silent: 0, and nothing is divided by nothing."""
    assert margins(coil_rows(tone=[80.0, 80.0])) == {"V0": 0.0, "V1": 0.0}
    assert margins(coil_rows(tone=[0.0, 0.0])) == {"V0": 0.0, "V1": 0.0}
