"""The wire schedule, the summary, and the technician's decisions."""

from __future__ import annotations

import math

import pandas as pd
import pytest
from strategies_zones import change, clean_world

from wiremap.model.tables import ZONE_LIST
from wiremap.steps.zones import accept_suggestions, complete_schedule, summarise_reconciliation


def test_the_schedule_has_one_row_a_zone_with_its_wire():
    """Valves and runs of a zone are joined; gauge and colour come from the list."""
    world = clean_world([1, 2])
    done = world._replace(zone_list=world.zone_list.assign(wire_color=["red", "blue"])).reconcile()
    row = done.schedule.iloc[1]
    assert row[["zone", "valve", "run", "wire_color", "awg", "status"]].tolist() == [
        "2", "A-V2a; A-V2b", "A-R2", "blue", "14", "complete"
    ]  # fmt: skip
    assert row["path_length_m"] == pytest.approx(world.paths["path_length_m"][1])
    assert row["ohms"] == pytest.approx(world.zone_list["ohms"][1])


def test_the_schedule_takes_gauge_and_colour_from_the_ground_where_the_list_is_silent():
    """What was written at the valve stands in."""
    world = clean_world([1])
    done = world._replace(
        zone_list=world.zone_list.assign(awg=None, wire_color=None),
        valves=world.valves.assign(awg="16", wire_color="yellow"),
    ).reconcile()
    assert done.schedule[["awg", "wire_color"]].iloc[0].tolist() == ["16", "yellow"]


def test_later_layers_complete_the_schedule():
    """Depth range and splices over the runs on the way, faults, and ties of the valve."""
    world = clean_world([1, 1])
    paths = change(world.paths, 0, runs="Trunk;A-R1")
    layers = {
        "wire_runs": pd.DataFrame(
            {"run": ["Trunk", "A-R1"], "depth_min_m": [0.4, 0.2], "depth_max_m": [0.6, 0.3]}
        ),
        "splices": pd.DataFrame({"splice": ["S1", "S2"], "run": ["Trunk", "Other"]}),
        "faults": pd.DataFrame({"run": ["A-R1"], "kind": ["leak"]}),
        "ties": pd.DataFrame(
            {
                "layer": ["valves"],
                "feature_id": ["A-V1a"],
                "reference_a": ["House SW"],
                "distance_a_m": [4.2],
                "reference_b": ["House SE"],
                "distance_b_m": [7.05],
            }
        ),
    }
    full = complete_schedule(world.reconcile().schedule, layers, paths)
    row = full.iloc[0]
    assert (row["depth_min_m"], row["depth_max_m"]) == (0.2, 0.6)
    assert row[["splices", "fault", "ties"]].tolist() == [
        "S1", "leak", "House SW 4.20 m, House SE 7.05 m"
    ]  # fmt: skip
    assert math.isnan(full.iloc[1]["depth_min_m"])
    assert full.iloc[1]["splices"] == ""


def test_the_schedule_is_complete_without_later_layers():
    """Missing layers leave their columns empty."""
    world = clean_world([1])
    full = complete_schedule(world.reconcile().schedule, {}, world.paths)
    assert full[["splices", "fault", "ties"]].iloc[0].tolist() == ["", "", ""]


def test_the_summary_says_what_to_walk_next():
    """Counts, the missing zone's last sound, zones off the list, and what waits for a decision."""
    world = clean_world([1, 1, 1, 1])
    valves = change(world.valves, 2, zone="4")
    valves = change(valves, 0, zone="9").drop(index=[1]).reset_index(drop=True)
    runs = change(world.runs, 1, end_kind="lost")
    done = world._replace(valves=valves, runs=runs).reconcile()
    text = "\n".join(summarise_reconciliation(done.zones, done.valves, runs))
    assert text.startswith("1 of 4 listed zones are accounted for; 3 valves located.")
    length = world.runs.loc[1, "length_m"]
    heard = f"along run A-R2 for {length:.0f} m and last heard where the tone was lost."
    assert f"Walk next: zone 2: its wire was traced {heard}" in text
    assert "On the ground but not on the list: zone 9." in text
    assert "Decide: valve A-V3a (labelled 4) is suggested for zone 3" in text


def test_the_summary_of_a_complete_property_is_one_line():
    """Nothing to walk, nothing to decide."""
    world = clean_world([1, 2])
    done = world.reconcile()
    assert summarise_reconciliation(done.zones, done.valves, world.runs) == [
        "2 of 2 listed zones are accounted for; 3 valves located."
    ]


def test_the_summary_without_a_list_says_so():
    """Zones of the ground are counted."""
    world = clean_world([1, 2])
    done = world._replace(zone_list=ZONE_LIST.empty()).reconcile()
    assert summarise_reconciliation(done.zones, done.valves, world.runs) == [
        "No zone list; valves on the ground: 3, zones: 2."
    ]


@pytest.mark.parametrize(("said", "zone"), [("yes", "2"), ("", "2"), ("no", None)])
def test_a_decision_is_adopted_unless_it_says_no(said, zone):
    """accept.csv records the technician's decision by valve and zone."""
    world = clean_world([1, 1, 1])
    bare = change(world.valves, 1, zone=None, zone_from=None, run_zone=None)
    decisions = pd.DataFrame(
        {"valve": ["A-V2a", "no such valve"], "zone": ["2", "3"], "accepted": [said, "yes"]}
    )
    decided = accept_suggestions(bare, decisions)
    assert decided["zone"].tolist()[1:2] == [zone] or decided["zone"].isna()[1]
    done = world._replace(valves=decided, runs=change(world.runs, 1, zones=None)).reconcile()
    expected = "listed" if zone else "suggested"
    assert done.valves["zone_status"].tolist() == ["listed", expected, "listed"]
