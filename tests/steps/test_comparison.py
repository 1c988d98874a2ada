"""How two records differ: each kind of change, and silence where nothing did."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely

from wiremap.model.tables import LAYERS
from wiremap.steps.comparison import compare_layers

CRS = "EPSG:26914"


def record(*, x=40.0, valve="V1", zone="3", depth=0.30, line=None, rms=0.05, run="W1", faults=(),
           crs=CRS, factor=1.0):  # fmt: skip
    """Layers of a record of one run, one valve, and faults of (name, from, to, status)."""
    line = line if line is not None else [(0, 0), (20, 0), (x, 0)]
    xy = np.array(line, dtype=float) + np.array([634_000.0, 3_906_000.0])
    length = float(np.hypot(*np.diff(xy, axis=0).T).sum())
    xy = xy / factor
    frames = {
        "valves": gpd.GeoDataFrame(
            {"valve": [valve], "zone": [zone], "run": [run], "depth_m": [depth],
             "depth_sigma_m": [0.02], "position_rms_m": [rms]},
            geometry=[shapely.Point(xy[-1])], crs=crs,
        ),
        "wire_runs": gpd.GeoDataFrame(
            {"run": [run], "zones": [zone], "length_m": [length], "position_rms_m": [rms]},
            geometry=[shapely.LineString(xy)], crs=crs,
        ),
        "wire_segments": gpd.GeoDataFrame(
            {"run": [run], "chainage_from_m": [0.0], "chainage_to_m": [length],
             "depth_from_m": [depth], "depth_to_m": [depth], "depth_sigma_m": [0.02]},
            geometry=[shapely.LineString(xy)], crs=crs,
        ),
        "faults": gpd.GeoDataFrame(
            [{"fault": name, "run": run, "kind": "leak", "chainage_m": (low + high) / 2,
              "chainage_low_m": low, "chainage_high_m": high, "status": status,
              "geometry": shapely.Point(xy[0])} for name, low, high, status in faults]
            or {"geometry": []}, geometry="geometry", crs=crs,
        ),
        "zones": pd.DataFrame({"zone": [zone], "controller": ["A"], "status": ["complete"]}),
    }  # fmt: skip
    return {t.name: t.conform(frames[t.name]) if t.name in frames else t.empty() for t in LAYERS}


def kinds(old, new):
    """Layer and kind of each change."""
    changes = compare_layers(old, new).changes
    return changes[["layer", "change"]].to_numpy().tolist()


def test_equal_records_have_no_changes():
    """Nothing to say, and it says so."""
    found = compare_layers(record(), record())
    assert found.changes.empty
    assert found.summary == "The records do not differ beyond their uncertainty."


@pytest.mark.parametrize(("apart", "moved"), [(0.11, False), (0.14, True)])
def test_a_valve_moved_only_where_its_uncertainty_is_passed(apart, moved):
    """Two RMS of 0.05 m at 95 %: 2.4477 * 0.05 = 0.122 m (FGDC-STD-007.3, appendix 3-A)."""
    found = kinds(record(), record(x=40 + apart))
    assert (["valves", "moved"] in found) is moved


def test_a_coarse_record_moves_nothing():
    """5 m of RMS hides 3 m of difference."""
    assert kinds(record(), record(x=43, rms=5.0)) == []


def test_a_valve_under_another_name_at_its_place_is_renamed():
    """Same kind, same run, within the combined uncertainty."""
    assert kinds(record(), record(valve="Valve 1")) == [["valves", "renamed"]]


def test_another_valve_elsewhere_is_one_gone_and_one_added():
    """10 m on, under another name."""
    found = kinds(record(), record(x=50, valve="V9"))
    assert found[:2] == [["valves", "added"], ["valves", "gone"]]


def test_depth_and_zone_changes_are_found_on_valve_and_run():
    """0.30 m became 0.20 m, zone 3 became 4: twice each, and the zone list's own rows."""
    found = kinds(record(), record(depth=0.20, zone="4"))
    assert found == [
        ["valves", "depth_changed"], ["valves", "zone_changed"], ["wire_runs", "zone_changed"],
        ["wire_segments", "depth_changed"], ["zones", "added"], ["zones", "gone"],
    ]  # fmt: skip


def test_a_depth_within_its_uncertainty_is_no_change():
    """Two sigmas of 2 cm at 95 %: 1.96 * 2.83 cm = 5.5 cm."""
    assert kinds(record(), record(depth=0.25)) == []
    assert ["valves", "depth_changed"] in kinds(record(), record(depth=0.24))


def test_a_run_laid_elsewhere_says_from_where_to_where():
    """A detour of 4 m between 10 and 30 m."""
    detour = [(0, 0), (10, 0), (14, 4), (26, 4), (30, 0), (40, 0)]
    changes = compare_layers(record(), record(line=detour)).changes
    row = changes[changes["change"] == "rerouted"].iloc[0]
    assert row["difference_m"] == pytest.approx(4.0)
    assert row["chainage_from_m"] == pytest.approx(10 + 4 * np.sqrt(2))


def test_a_run_of_another_name_along_the_same_line_is_renamed():
    """The wire is the same; so is its valve."""
    found = kinds(record(), record(run="W9"))
    assert ["wire_runs", "renamed"] in found
    assert ["wire_runs", "gone"] not in found


def test_a_longer_run_is_reported():
    """Traced on by 15 m."""
    assert ["wire_runs", "length_changed"] in kinds(record(), record(x=55))


@pytest.mark.parametrize(
    ("old", "new", "change"),
    [
        ((), (("F1", 10, 12, "standing"),), "fault_opened"),
        ((("F1", 10, 12, "standing"),), (("F1", 10, 12, "repaired"),), "fault_closed"),
        ((("F1", 10, 12, "standing"),), (), "fault_closed"),
        ((("F1", 10, 12, "standing"),), (("F2", 11, 14, "standing"),), None),
        ((("F1", 10, 12, "repaired"),), (("F1", 10, 12, "standing"),), "fault_opened"),
    ],
)
def test_faults_open_and_close(old, new, change):
    """One fault under two names at one place is one; a repaired one that stands again opens."""
    found = kinds(record(faults=old), record(faults=new))
    assert found == ([["faults", change]] if change else [])


def test_records_in_feet_and_metres_are_compared_in_metres():
    """The same plane in US survey feet: a move of 1 m is 1 m, and nothing else differs."""
    feet = "+proj=utm +zone=14 +ellps=GRS80 +units=us-ft +no_defs"
    metres = "+proj=utm +zone=14 +ellps=GRS80 +units=m +no_defs"
    old = record(crs=metres)
    new = record(x=41, crs=feet, factor=1200 / 3937)
    changes = compare_layers(old, new).changes
    assert set(changes["change"]) == {"moved", "length_changed"}
    moved = changes[changes["change"] == "moved"].iloc[0]
    assert moved["difference_m"] == pytest.approx(1.0, abs=1e-3)
    assert moved.geometry.x == pytest.approx(new["valves"].geometry.x.iloc[0])
