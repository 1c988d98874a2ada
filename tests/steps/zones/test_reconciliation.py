"""The list against the ground: every planted mistake is found, and nothing else."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from strategies_zones import change, clean_world, clean_worlds, codes

from wiremap.model.tables import READINGS, VALVES, ZONE_LIST, ZONES


def without(frame: pd.DataFrame, rows: list[int]) -> pd.DataFrame:
    """Return the frame without some rows."""
    return frame.drop(index=rows).reset_index(drop=True)


@settings(max_examples=40, deadline=None)
@given(clean_worlds())
def test_a_property_without_mistakes_has_no_finding(world):
    """Any counts, several controllers, sound readings: nothing to report, all zones complete."""
    done = world.reconcile()
    assert codes(done) == []
    assert set(done.zones["status"]) == {"complete"}
    assert set(done.zones["ohms_status"]) == {"as_expected"}
    assert set(done.valves["zone_status"]) == {"listed"}
    assert done.zones["valves_found"].sum() == len(world.valves)


@settings(max_examples=30, deadline=None)
@given(clean_worlds(), st.randoms(use_true_random=False))
def test_the_order_of_rows_changes_nothing(world, random):
    """Shuffled valves and runs give the same zones."""
    order = list(range(len(world.valves)))
    random.shuffle(order)
    shuffled = world._replace(valves=world.valves.iloc[order].reset_index(drop=True))
    columns = ["zone", "controller", "valves_found", "status", "mapped_length_m"]
    pd.testing.assert_frame_equal(
        world.reconcile().zones[columns], shuffled.reconcile().zones[columns]
    )


def test_layers_carry_the_columns_of_the_contract():
    """zones and valves come out in their declared shape, zones in the list's order."""
    done = clean_world([1, 2, 1]).reconcile()
    assert list(done.zones.columns[: len(ZONES.columns)]) == ZONES.column_names
    assert list(done.valves.columns[: len(VALVES.columns)]) == VALVES.column_names
    assert done.zones["zone"].tolist() == ["1", "2", "3"]
    assert done.zones["valves_found"].tolist() == [1, 2, 1]
    assert done.zones["runs"].tolist() == ["A-R1", "A-R2", "A-R3"]
    assert done.valves["path_length_m"].tolist() == pytest.approx(
        clean_world([1, 2, 1]).paths["path_length_m"].tolist()
    )


def test_a_zone_taken_off_the_list_leaves_its_valve_without_zone():
    """The valve is named, its zone becomes a row of status unlisted."""
    world = clean_world([1, 1, 1, 1])
    done = world._replace(zone_list=without(world.zone_list, [1])).reconcile()
    assert codes(done) == [("valve-without-zone", "A-V2a")]
    assert done.zones["zone"].tolist() == ["1", "3", "4", "2"]
    assert done.zones["status"].tolist()[-1] == "unlisted"
    assert done.valves["zone_status"].tolist() == ["listed", "unlisted", "listed", "listed"]
    assert done.valves["zone"].tolist()[1] == "2"


def test_a_zone_never_walked_is_without_valve():
    """A listed zone with neither valve nor run is missing, and the finding names its row."""
    world = clean_world([1, 1, 1, 1])
    more = pd.DataFrame({"zone": ["90"], "controller": ["A"], "valves": [1], "source_row": [9]})
    listed = ZONE_LIST.conform(pd.concat([world.zone_list, more], ignore_index=True))
    done = world._replace(zone_list=listed).reconcile()
    assert codes(done) == [("zone-without-valve", "zone 90")]
    assert done.findings[0].source_row == 9
    assert "no run was traced" in done.findings[0].message
    assert done.zones["status"].tolist()[-1] == "missing"


def test_a_missing_zones_wire_is_named_where_it_was_last_heard():
    """Zone 2's valve was not found; its run was followed until the tone was lost."""
    world = clean_world([1, 1, 1])
    done = world._replace(
        valves=without(world.valves, [1]), runs=change(world.runs, 1, end_kind="lost")
    ).reconcile()
    assert codes(done) == [("zone-without-valve", "zone 2")]
    length = world.runs.loc[1, "length_m"]
    heard = f"run A-R2 for {length:.0f} m and last heard where the tone was lost"
    assert heard in done.findings[0].message


def test_two_valves_labelled_with_one_zone_claim_it_twice():
    """Valve 3 carries zone 4's label: zone 4 is claimed twice, zone 3 has no valve, and the run
    that was traced as zone 3 suggests where the valve belongs."""
    world = clean_world([1, 1, 1, 1, 1])
    done = world._replace(valves=change(world.valves, 2, zone="4")).reconcile()
    assert codes(done) == [
        ("zone-without-valve", "zone 3"),
        ("zone-claimed-twice", "zone 4"),
        ("zone-suggested", "A-V3a"),
    ]
    valve = done.valves.iloc[2]
    assert valve[["zone", "suggested_zone", "zone_status"]].tolist() == ["4", "3", "listed"]
    assert valve["suggested_margin"] > 0.9
    assert "A-V3a, which carries zone 4" in done.findings[0].message


def test_two_valves_claim_a_zone_with_nothing_to_tell_them_apart():
    """Without a run's zone nothing is suggested: both carry the same evidence."""
    world = clean_world([1, 1, 1])
    valves = change(world.valves, 1, zone="1", run_zone=None)
    valves = change(valves, 0, run_zone=None)
    done = world._replace(
        valves=valves,
        runs=world.runs.assign(zones=None),
        paths=world.paths.assign(path_length_m=np.nan),
    ).reconcile()
    assert codes(done) == [("zone-claimed-twice", "zone 1"), ("zone-without-valve", "zone 2")]
    assert done.valves["suggested_zone"].isna().all()


@pytest.mark.parametrize("run_zone", ["2", None], ids=["run traced as zone 2", "run without zone"])
def test_a_valve_without_a_label_is_found_and_its_zone_suggested(run_zone):
    """The zone comes from the run, or because no other valve and no other zone is left."""
    world = clean_world([1, 1, 1])
    valves = change(world.valves, 1, zone=None, zone_from=None, run_zone=run_zone)
    done = world._replace(valves=valves, runs=change(world.runs, 1, zones=run_zone)).reconcile()
    assert ("valve-without-zone", "A-V2a") in codes(done)
    valve = done.valves.iloc[1]
    assert valve["zone_status"] == "suggested"
    assert valve["suggested_zone"] == "2"
    assert pd.isna(valve["zone"])
    assert 0.2 <= valve["suggested_margin"] <= 1


def test_a_zone_read_from_the_run_is_reported_where_labels_are_the_habit():
    """Other valves carry labels, so a bare one is an omission; its zone is not called missing."""
    world = clean_world([1, 1, 1])
    done = world._replace(valves=change(world.valves, 1, zone_from="run")).reconcile()
    assert codes(done) == [("valve-without-zone", "A-V2a")]
    assert done.valves["zone_status"].tolist() == ["listed", "suggested", "listed"]
    assert done.zones["status"].tolist() == ["complete"] * 3


def test_zones_read_from_runs_are_no_finding_where_that_is_the_habit():
    """A crew that writes zones on the runs only has made no mistake."""
    world = clean_world([1, 1, 1])
    done = world._replace(valves=world.valves.assign(zone_from="run")).reconcile()
    assert codes(done) == []
    assert set(done.valves["zone_status"]) == {"listed"}


def test_fewer_valves_than_listed_differ_in_count():
    """Two are listed, one is there: partial, and no reading is called high for the lone coil."""
    world = clean_world([1, 1, 1])
    done = world._replace(zone_list=change(world.zone_list, 0, valves=2)).reconcile()
    assert codes(done) == [("valve-count-differs", "zone 1")]
    assert done.zones["status"].tolist() == ["partial", "complete", "complete"]


@pytest.mark.parametrize("listed", [1, 2])
def test_more_valves_than_listed_on_one_wire_differ_in_count(listed):
    """Three valves on one run are three valves of the zone: the list's count is wrong."""
    world = clean_world([1, 3, 1])
    done = world._replace(zone_list=change(world.zone_list, 1, valves=listed)).reconcile()
    assert codes(done) == [("valve-count-differs", "zone 2")]


def test_valves_of_one_zone_on_two_wires_may_be_a_wrong_label_or_a_wrong_count():
    """Zone 2 lists one valve, two runs end at one, and no other zone lacks a valve."""
    world = clean_world([1, 2, 1])
    valves = change(world.valves, 2, run="A-R9")
    done = world._replace(
        zone_list=change(world.zone_list, 1, valves=1, ohms=np.nan), valves=valves
    ).reconcile()
    assert codes(done) == [("zone-claimed-twice", "zone 2"), ("valve-count-differs", "zone 2")]


def test_two_valves_on_one_wire_while_another_zone_lacks_one_are_told_both_ways():
    """The second valve of the run may be zone 3's, or a second one of zone 2."""
    world = clean_world([1, 2, 1])
    done = world._replace(
        zone_list=change(world.zone_list, 1, valves=1, ohms=np.nan),
        valves=without(world.valves, [3]),
    ).reconcile()
    told = [code for code in codes(done) if code[1] == "zone 2"]
    assert told == [("zone-claimed-twice", "zone 2"), ("valve-count-differs", "zone 2")]
    assert ("zone-without-valve", "zone 3") in codes(done)


def test_a_valve_shared_by_two_zones_serves_both():
    """3;4 on one valve is a normal case, not a mistake."""
    world = clean_world([1, 1, 1, 1])
    valves = without(change(world.valves, 2, zone="3;4"), [3])
    done = world._replace(valves=valves).reconcile()
    assert codes(done) == []
    assert done.zones["status"].tolist() == ["complete"] * 4
    assert done.valves["zone_status"].tolist() == ["listed", "listed", "shared"]
    assert done.valves["zone"].tolist()[2] == "3;4"


def test_labels_are_compared_by_meaning_and_shown_as_listed():
    """Zone 3, 03 and 3 are one zone; the list's spelling is shown."""
    world = clean_world([1, 1, 1])
    done = world._replace(
        zone_list=world.zone_list.assign(zone=["01", "Zone 2", "3"]),
        valves=world.valves.assign(zone=["1", "2", "Sta. 3"]),
    ).reconcile()
    assert codes(done) == []
    assert done.zones["zone"].tolist() == ["01", "Zone 2", "3"]
    assert done.valves["zone"].tolist() == ["01", "Zone 2", "3"]


def test_one_zone_number_on_two_controllers_is_two_zones():
    """Zone 2 of B lost its valve; zone 2 of A is complete."""
    world = clean_world([1, 1, 1], controllers=2)
    done = world._replace(
        valves=without(world.valves, [4]), runs=without(world.runs, [4])
    ).reconcile()
    assert codes(done) == [("zone-without-valve", "zone 2 of controller B")]


@pytest.mark.parametrize("source", ["run", "path", "label"])
def test_a_valves_controller_comes_from_whatever_says_it(source):
    """The row is silent; the run, the wire path or a label such as A-3 tells."""
    world = clean_world([1, 1, 1], controllers=2)
    bare = world._replace(valves=world.valves.assign(controller=None))
    if source != "run":
        bare = bare._replace(runs=world.runs.assign(controller=None))
    if source == "label":
        named = world.valves["controller"] + "-" + world.valves["zone"]
        bare = bare._replace(
            valves=bare.valves.assign(zone=named), paths=world.paths.assign(controller=None)
        )
    done = bare.reconcile()
    assert codes(done) == []
    assert done.valves["controller"].tolist() == ["A", "A", "A", "B", "B", "B"]


def test_a_label_on_several_controllers_needs_one_said():
    """Nothing says which controller: the valve answers to no zone for certain."""
    world = clean_world([1, 1], controllers=2)
    done = world._replace(
        valves=change(world.valves, 0, controller=None, run=None, run_zone=None),
        paths=change(world.paths, 0, controller=None, runs=None),
    ).reconcile()
    found = codes(done)
    assert ("valve-without-zone", "A-V1a") in found
    assert ("zone-without-valve", "zone 1 of controller A") in found


def test_master_valves_pumps_and_spares_ask_for_nothing():
    """They are on most lists; only a master valve on the ground is matched with its row."""
    world = clean_world([1, 1])
    more = pd.DataFrame(
        {
            "zone": ["MV", "P", "11", "12"],
            "controller": "A",
            "name": [None, None, "spare", None],
            "kind": ["master_valve", "pump_start", "spare", "spare"],
            "valves": [1, 0, 0, 0],
            "ohms": [28.0, 4.0, np.inf, np.nan],
        }
    )
    listed = ZONE_LIST.conform(pd.concat([world.zone_list, more], ignore_index=True))
    done = world._replace(zone_list=listed).reconcile()
    assert codes(done) == []
    assert [(f.code, f.subject) for f in done.findings] == [("not-surveyed", "MV")]
    assert done.zones["status"].tolist() == [*["complete"] * 2, "missing", *["complete"] * 3]
    found = change(world.valves, 1, zone="Master valve", run_zone="MV")
    done = world._replace(
        zone_list=without(listed, [1]), valves=found, runs=change(world.runs, 1, zones="MV")
    ).reconcile()
    assert done.findings == []


def test_a_master_valve_that_the_list_leaves_out_is_no_finding():
    """Controllers have a terminal for it that lists seldom name."""
    world = clean_world([1, 1])
    done = world._replace(
        zone_list=without(world.zone_list, [1]),
        valves=change(world.valves, 1, zone="MV"),
        runs=change(world.runs, 1, zones=None),
    ).reconcile()
    assert codes(done) == []
    assert done.valves["zone_status"].tolist() == ["listed", "unlisted"]


def test_without_a_list_nothing_is_reconciled():
    """Zones of the ground are shown as unlisted; the only finding says that there is no list."""
    world = clean_world([1, 2], controllers=2)
    done = world._replace(zone_list=ZONE_LIST.empty()).reconcile()
    assert codes(done) == [("no-zone-list", "property")]
    assert done.zones[["controller", "zone"]].to_numpy().tolist() == [
        ["A", "1"], ["A", "2"], ["B", "1"], ["B", "2"]
    ]  # fmt: skip
    assert set(done.zones["status"]) == {"unlisted"}


def test_an_empty_ground_leaves_every_zone_missing():
    """Nothing was located: every zone is a finding, nothing falls over."""
    world = clean_world([1, 1])
    done = world._replace(
        valves=world.valves.iloc[:0], runs=world.runs.iloc[:0], paths=world.paths.iloc[:0]
    ).reconcile()
    assert [code for code, _ in codes(done)] == ["zone-without-valve"] * 2
    assert done.valves.empty


def test_the_lists_own_column_records_a_decision():
    """accepted names the valve; the suggestion becomes the zone, and the findings go."""
    world = clean_world([1, 1, 1])
    bare = world._replace(
        valves=change(world.valves, 1, zone=None, zone_from=None, run_zone=None),
        runs=change(world.runs, 1, zones=None),
    )
    decided = world.zone_list.assign(accepted=[None, "A-V2a", None])
    done = bare._replace(zone_list=decided).reconcile()
    assert codes(done) == []
    assert done.valves["zone"].tolist() == ["1", "2", "3"]
    assert set(done.valves["zone_status"]) == {"listed"}


def test_a_zone_listed_twice_is_one_zone_with_room_for_both():
    """03 and 3 are one zone; one valve or two satisfy it."""
    world = clean_world([1, 1, 2])
    again = world.zone_list.iloc[[2]].assign(zone="03", valves=1)
    listed = pd.concat([change(world.zone_list, 2, valves=1), again], ignore_index=True)
    done = world._replace(zone_list=ZONE_LIST.conform(listed)).reconcile()
    assert codes(done) == [("zone-listed-twice", "zone 03")]
    assert done.zones["status"].tolist() == ["complete"] * 3


def test_readings_go_before_the_lists_and_the_latest_holds():
    """readings.csv is dated; the list is not."""
    world = clean_world([1, 1])
    readings = READINGS.conform(
        pd.DataFrame(
            {
                "zone": "2",
                "controller": "A",
                "kind": "ohms",
                "value": ["OL", "33"],
                "date": ["2026-05-04", "2025-05-04"],
            }
        )
    )
    done = world._replace(readings=readings).reconcile()
    assert codes(done) == [("ohms-open", "zone 2")]
    assert done.zones["ohms_status"].tolist() == ["as_expected", "open"]


MISTAKES = ("unlist", "extra", "relabel", "count", "low", "high", "open")


@settings(max_examples=40, deadline=None)
@given(
    st.integers(8, 16),
    st.integers(0, 10**6),
    st.lists(st.sampled_from(MISTAKES), unique=True),
    st.data(),
)
def test_every_planted_mistake_is_found_and_nothing_else(count, seed, mistakes, data):
    """Mistakes on different zones of one property each give their finding and no other."""
    world = clean_world([1] * count, seed=seed)
    zones = data.draw(st.permutations(range(count)))
    listed, valves, expected = world.zone_list, world.valves, set()
    for mistake, i in zip(mistakes, zones[: 2 * len(mistakes) : 2], strict=False):
        name = f"zone {i + 1}"
        if mistake == "unlist":
            listed, expected = (
                listed.drop(index=i),
                expected | {("valve-without-zone", f"A-V{i + 1}a")},
            )
        elif mistake == "extra":
            extra = world.zone_list.iloc[[i]].assign(zone=f"9{i}", ohms=np.nan)
            listed = pd.concat([listed, extra.set_axis([1000 + i])])
            expected |= {("zone-without-valve", f"zone 9{i}")}
        elif mistake == "relabel" and count > 2 * len(mistakes):
            other = zones[-1]
            valves = change(valves, i, zone=str(other + 1))
            expected |= {
                ("zone-claimed-twice", f"zone {other + 1}"),
                ("zone-without-valve", name),
                ("zone-suggested", f"A-V{i + 1}a"),
            }
        elif mistake == "count":
            listed, expected = (
                change(listed, i, valves=2),
                expected | {("valve-count-differs", name)},
            )
        elif mistake in {"low", "high", "open"}:
            ohms = {"low": 6.0, "high": 180.0, "open": np.inf}[mistake]
            listed, expected = change(listed, i, ohms=ohms), expected | {(f"ohms-{mistake}", name)}
    done = world._replace(zone_list=ZONE_LIST.conform(listed), valves=valves).reconcile()
    assert set(codes(done)) == expected


def test_exchanged_labels_are_noticed_from_the_runs():
    """Valves 1 and 2 carry each other's zone: the counts agree, the runs do not."""
    world = clean_world([1, 1, 1])
    swapped = change(change(world.valves, 0, zone="2"), 1, zone="1")
    done = world._replace(valves=swapped).reconcile()
    assert codes(done) == [("zone-suggested", "A-V1a"), ("zone-suggested", "A-V2a")]
    assert {str(f.severity) for f in done.findings} == {"warning"}
    assert done.valves["suggested_zone"].tolist()[:2] == ["1", "2"]
    assert done.valves["zone"].tolist()[:2] == ["2", "1"]


def test_a_valve_on_another_zones_run_is_no_mistake():
    """The wire of zone 1 passes the box of zone 2, whose valve was marked on the way."""
    world = clean_world([1, 1, 1])
    passed = change(world.valves, 1, run="A-R1", run_zone="1")
    assert codes(world._replace(valves=passed).reconcile()) == []


@pytest.mark.parametrize("zones", ["1;2;3", "1-3", "1 - 3"])
def test_a_trunk_that_serves_several_zones_is_each_ones_run(zones):
    """A range names its zones where all of them are listed."""
    world = clean_world([1, 1, 1])
    trunk = pd.DataFrame(
        {"run": ["Trunk"], "zones": [zones], "controller": ["A"], "end_kind": ["splice"]}
    )
    runs = pd.concat([trunk, world.runs], ignore_index=True)
    done = world._replace(runs=runs).reconcile()
    assert codes(done) == []
    assert done.zones["runs"].tolist() == ["Trunk;A-R1", "Trunk;A-R2", "Trunk;A-R3"]


def test_a_run_of_a_zone_off_the_list_is_a_finding():
    """Its valve was not found, so only the run tells of the zone."""
    world = clean_world([1, 1, 1])
    done = world._replace(
        zone_list=without(world.zone_list, [1]), valves=without(world.valves, [1])
    ).reconcile()
    assert codes(done) == [("run-without-zone", "A-R2")]
    assert done.zones["status"].tolist() == ["complete", "complete", "unlisted"]


@pytest.mark.parametrize(("kind", "expected"), [("spare", 1), ("pump_start", 0)])
def test_a_valve_on_a_spare_is_a_finding_and_on_a_pump_start_none(kind, expected):
    """A spare has no valve; a pump's relay may well have been located as one."""
    world = clean_world([1, 1])
    listed = change(world.zone_list, 1, kind=kind, valves=0, ohms=np.nan)
    done = world._replace(zone_list=listed).reconcile()
    assert codes(done) == [("valve-count-differs", "zone 2")] * expected


def test_controllers_named_otherwise_on_the_ground_say_nothing_about_the_list():
    """The list calls its controllers A and B, the crew North and South: unlike zones still match,
    and a zone that both have is asked for."""
    world = clean_world([1, 1], controllers=2)
    numbered = world.zone_list.assign(zone=["1", "2", "3", "4"])
    valves = world.valves.assign(
        zone=["1", "2", "3", "4"], run_zone=["1", "2", "3", "4"],
        controller=["North", "North", "South", "South"],
    )  # fmt: skip
    silent = world._replace(
        zone_list=numbered, valves=valves,
        runs=world.runs.assign(zones=["1", "2", "3", "4"], controller=valves["controller"]),
        paths=world.paths.assign(controller=valves["controller"]),
    )  # fmt: skip
    assert codes(silent.reconcile()) == []


def serve_by_place(cabinets, at):
    """Two controllers of two zones each; only places tell which of them serves a valve."""
    import geopandas as gpd
    import shapely
    from strategies_zones import PLANE, SETTINGS

    from wiremap.steps.zones import reconcile_zones

    world = clean_world([1, 1], controllers=2)
    valves = world.valves.assign(controller=None).set_geometry(list(shapely.points(at)), crs=PLANE)
    world = world._replace(
        valves=valves,
        runs=world.runs.assign(controller=None),
        paths=world.paths.assign(controller=None),
    )
    layer = gpd.GeoDataFrame(
        {"controller": ["B", "A"]}, geometry=shapely.points(cabinets), crs=PLANE
    )
    return reconcile_zones(*world, settings=SETTINGS, controllers=layer)


def test_the_nearest_controller_serves_a_valve_that_nothing_else_places():
    """No row, run or path names a controller; the two cabinets stand 100 m apart."""
    done = serve_by_place([(99, 0), (2, 0)], [(0, 0), (1, 0), (100, 0), (101, 0)])
    assert codes(done) == []
    assert done.valves["controller"].tolist() == ["A", "A", "B", "B"]


def test_controllers_side_by_side_are_not_told_apart_by_which_is_nearer():
    """Cabinets 1 m apart, valves 20 m away: each valve is asked for, none is given to either."""
    done = serve_by_place([(0, 0), (1, 0)], [(-20, 0), (-21, 0), (20, 0), (21, 0)])
    assert done.valves["controller"].isna().all()
    asked = [f.message for f in done.findings if f.code == "valve-without-zone"]
    assert len(asked) == 4
    assert all("nothing says which of them" in message for message in asked)


def test_a_missing_zone_is_placed_where_its_run_ends():
    """The finding stands at the far end of the run's line."""
    import geopandas as gpd
    import shapely

    world = clean_world([1, 1])
    lines = shapely.linestrings([[(0, 0), (5, 5)], [(0, 0), (7, 9)]])
    runs = gpd.GeoDataFrame(change(world.runs, 1, end_kind="open"), geometry=lines)
    done = world._replace(valves=without(world.valves, [1]), runs=runs).reconcile()
    assert (done.findings[0].x_m, done.findings[0].y_m) == (7, 9)
    assert "last heard at its last mark" in done.findings[0].message
