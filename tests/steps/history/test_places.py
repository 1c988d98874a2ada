"""Devices and routes over several visits: what holds, and what is kept of the rest."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest

from wiremap.model.season_tables import HISTORY
from wiremap.model.settings import Settings
from wiremap.model.tables import LOCATES_IN
from wiremap.steps.history import settle_places

CRS = "EPSG:26914"
SETTINGS = Settings()


def placed(rows):
    """Placed rows of dicts with point, feature, visit, x, y, rms and more."""
    table = pd.DataFrame(rows)
    columns = {"label": table.get("label", table["point"]), "visit": table["visit"]}
    rms = table.get("rms", pd.Series(0.05, index=table.index)).to_numpy(dtype=float)
    frame = LOCATES_IN.conform(table.drop(columns=["x", "y", "visit", "rms"], errors="ignore"))
    frame = frame.assign(
        **columns, position_rms_m=rms, cov_xx_m2=rms**2 / 2, cov_xy_m2=0.0, cov_yy_m2=rms**2 / 2
    )
    return gpd.GeoDataFrame(frame, geometry=gpd.points_from_xy(table["x"], table["y"]), crs=CRS)


def valve(visit, x, *, rms=0.05, **more):
    """One row of valve V1."""
    row = {"point": f"V1@{visit}", "label": "V1", "feature": "valve", "run": "W1", "y": 0.0}
    return row | {"visit": visit, "x": x, "rms": rms} | more


def settle(*rows):
    """Settle rows and return the result."""
    return settle_places(placed(rows), settings=SETTINGS)


def test_places_within_their_uncertainty_all_hold():
    """A valve seen again 8 cm away is the same place seen twice."""
    found = settle(valve("2026-03-11", 0.0), valve("2026-06-12", 0.08))
    assert len(found.current) == 2
    assert found.history.empty
    assert found.superseded_on.isna().all()
    assert found.findings == []


def test_a_valve_that_moved_closes_its_old_place():
    """The newer place holds; the older one is kept between its dates."""
    found = settle(valve("2026-03-11", 0.0), valve("2026-05-02", 0.05), valve("2026-06-12", 4.0))
    assert found.current["visit"].tolist() == ["2026-06-12"]
    assert found.superseded_on.tolist()[:2] == ["2026-06-12"] * 2
    row = found.history.iloc[0]
    assert (row["layer"], row["feature_id"], row["reason"]) == ("valves", "V1", "moved")
    assert (row["valid_from"], row["valid_to"], row["observations"]) == (
        "2026-03-11",
        "2026-06-12",
        2,
    )
    assert [f.code for f in found.findings] == ["superseded"]


def test_a_coarse_sight_does_not_overrule_a_good_one():
    """A phone fix 15 m off contradicts a survey; the survey holds, and the finding says so."""
    found = settle(valve("2026-03-11", 0.0, rms=0.03), valve("2026-06-12", 15.0, rms=3.0))
    assert found.current["visit"].tolist() == ["2026-03-11"]
    assert found.history["reason"].tolist() == ["contradicted"]
    assert [f.code for f in found.findings] == ["visit-contradicts"]


def test_a_coarse_sight_that_says_moved_is_believed():
    """Who moved it knows that it moved."""
    found = settle(
        valve("2026-03-11", 0.0, rms=0.03), valve("2026-06-12", 15.0, rms=3.0, status="Moved")
    )
    assert found.current["visit"].tolist() == ["2026-06-12"]
    assert found.history["reason"].tolist() == ["moved"]


def test_a_removed_valve_is_closed_and_one_that_comes_back_is_new():
    """Removal closes all places so far; a later sight opens a new one."""
    found = settle(
        valve("2026-03-11", 0.0),
        valve("2026-05-02", 0.0, status="removed"),
        valve("2026-06-12", 9.0),
    )
    assert found.current["visit"].tolist() == ["2026-06-12"]
    assert found.history[["reason", "valid_to"]].to_numpy().tolist() == [["removed", "2026-05-02"]]


def test_a_new_label_keeps_the_old_zone_in_history():
    """The zone written before its last label is kept with the dates it held."""
    found = settle(valve("2026-03-11", 0.0, zone="3"), valve("2026-06-12", 0.0, zone="7"))
    assert len(found.current) == 2
    row = found.history.iloc[0]
    assert (row["reason"], row["value"], row["valid_to"]) == ("rezoned", "zone 3", "2026-06-12")


def test_one_name_for_two_kinds_is_a_contradiction_and_both_are_kept():
    """A valve on one visit, a splice on the next."""
    found = settle(valve("2026-03-11", 0.0), valve("2026-06-12", 0.0, feature="splice"))
    assert [f.code for f in found.findings] == ["visit-contradicts"]
    assert len(found.current) == 2


def test_a_stake_moves_without_a_word():
    """The transmitter's ground stake is pulled after each visit."""
    found = settle(
        valve("2026-03-11", 0.0, feature="stake"), valve("2026-06-12", 30.0, feature="stake")
    )
    assert len(found.current) == 2
    assert found.history.empty


def walk(visit, xs, ys, *, rms=0.05, feature="path", run="W1"):
    """Path rows of one visit."""
    return [
        {"point": f"{visit}-{k}", "feature": feature, "run": run, "visit": visit, "x": float(x),
         "y": float(y), "rms": rms}
        for k, (x, y) in enumerate(zip(xs, ys, strict=True))
    ]  # fmt: skip


def test_an_end_where_the_tone_was_lost_is_closed_by_tracing_past_it():
    """Lost at 20 m in March, walked to 40 m in June."""
    x = np.arange(0, 20, 4.0)
    lost = walk("2026-03-11", [20], [0], feature="lost")
    found = settle(
        *walk("2026-03-11", x, 0 * x), *lost, *walk("2026-06-12", [8, 24, 40], [0, 0, 0])
    )
    assert found.history["reason"].tolist() == ["traced_on"]
    assert "lost" not in set(found.current["feature"])


def test_an_end_that_no_later_visit_passes_stays():
    """Walking up to the same end again closes nothing."""
    lost = walk("2026-03-11", [20], [0], feature="lost")
    found = settle(
        *walk("2026-03-11", [0, 10], [0, 0]), *lost, *walk("2026-06-12", [0, 10, 18], [0] * 3)
    )
    assert found.history.empty


DETOUR = ([0, 4, 8, 14, 20, 26, 32, 36, 40], [0, 0, 4, 6, 6, 6, 4, 0, 0])


@pytest.mark.parametrize("backward", [False, True])
def test_a_wire_laid_anew_replaces_the_stretch_between_where_they_part_and_meet(backward):
    """The older points of the stretch are closed; the newer ones stand in their place."""
    x = np.arange(0, 64, 4.0)
    xs, ys = (values[::-1] for values in DETOUR) if backward else DETOUR
    found = settle(*walk("2026-03-11", x, 0 * x), *walk("2026-06-12", xs, ys))
    assert found.history[["layer", "feature_id", "reason"]].to_numpy().tolist() == [
        ["wire_runs", "W1", "rerouted"]
    ]
    line = found.current.geometry.get_coordinates().to_numpy()
    middle = line[2:8]
    assert (np.diff(middle[:, 0]) > 0).all()
    assert set(middle[1:5, 1]) <= {4.0, 6.0}


def test_a_leg_that_runs_beside_another_leg_replaces_nothing():
    """A wire goes out and comes back 5 m beside itself; only the first leg is walked again."""
    out, back = np.arange(0, 44, 4.0), np.arange(40, -4, -4.0)
    first = walk("2026-03-11", np.append(out, back), np.append(0 * out, 0 * back + 5))
    found = settle(*first, *walk("2026-06-12", out, 0 * out))
    assert found.history.empty


def test_a_branch_that_goes_off_replaces_nothing():
    """The later visit leaves the older line and does not meet it again."""
    x = np.arange(0, 44, 4.0)
    found = settle(
        *walk("2026-03-11", x, 0 * x), *walk("2026-06-12", [0, 8, 12, 16, 20], [0, 0, 5, 9, 14])
    )
    assert found.history.empty


@pytest.mark.parametrize("backward", [False, True])
def test_a_visit_that_walks_the_rest_of_a_loop_replaces_nothing(backward):
    """It starts along the end of the older walk and meets that one's beginning again."""
    turn = np.radians(np.arange(0.0, 361.0, 10.0))
    x, y = 20 * np.cos(turn), 20 * np.sin(turn)
    rest = np.append(np.arange(17, 37), [1, 2])[:: -1 if backward else 1]
    found = settle(*walk("2026-03-11", x[:22], y[:22]), *walk("2026-06-12", x[rest], y[rest]))
    assert found.history.empty


def test_a_coarse_walk_elsewhere_is_set_aside():
    """Newer points of 4 m RMS do not overrule a surveyed line 30 m away."""
    x = np.arange(0, 164, 4.0)
    xs = [0, 10, 20, 40, 60, 80, 100, 110, 120]
    ys = [0, 0, 5, 30, 34, 30, 5, 0, 0]
    found = settle(*walk("2026-03-11", x, 0 * x), *walk("2026-06-12", xs, ys, rms=4.0))
    assert found.history["reason"].tolist() == ["contradicted"]
    assert (found.current["visit"] == "2026-03-11").sum() == len(x)


def test_without_visits_all_rows_hold():
    """A property of one visit is not touched."""
    rows = placed([valve("2026-03-11", 0.0)]).drop(columns="visit")
    found = settle_places(rows, settings=SETTINGS)
    assert found.current is rows
    assert list(found.history.columns[:-1]) == HISTORY.column_names
