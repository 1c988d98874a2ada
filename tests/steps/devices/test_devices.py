"""Devices: each once, with the position and depth that its rows support."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from strategies_zones import PLANE, codes, find, place, trace

from wiremap.model.kinds import EQUIPMENT, Feature
from wiremap.model.tables import DEPTH_READINGS


def valve(point: str, xy: tuple[float, float], **cells: object) -> dict[str, object]:
    """Return a valve's row."""
    return {"point": point, "feature": "valve", "xy": xy} | cells


def test_a_valve_located_once_keeps_what_its_row_says():
    """Name, zone, box, run and dates come from the row, depth from the run's profile."""
    found = find(
        [
            {"point": "P1", "feature": "path", "run": "R1", "xy": (0, 0)},
            valve("V1", (10, 0), run="R1", zone="1", box="B1", date="2026-05-04"),
        ]
    )
    row = found.valves.iloc[0]
    assert row[["valve", "zone", "box", "run", "zone_from"]].tolist() == [
        "V1",
        "1",
        "B1",
        "R1",
        "valve",
    ]
    assert row["depth_m"] == pytest.approx(0.3)
    assert row["depth_sigma_m"] == pytest.approx(0.03)
    assert row["observations"] == 1
    assert row["first_date"] == row["last_date"] == "2026-05-04"
    assert row["chainage_m"] == pytest.approx(10.0)
    assert codes(found) == []


def test_two_visits_of_a_valve_become_one_nearer_the_better():
    """Inverse covariance: a locate twice as good weighs four times as much (check by hand)."""
    found = find(
        [
            valve("V1", (0.0, 0.0), zone="1", date="2025-05-04", rms=0.1),
            valve("V1-2", (0.1, 0.0), zone="1", date="2026-05-04", rms=0.2),
        ]
    )
    row = found.valves.iloc[0]
    assert len(found.valves) == 1
    assert row["valve"] == "V1"
    assert row.geometry.x == pytest.approx(0.02)
    assert row["position_rms_m"] == pytest.approx(0.1 * np.sqrt(0.8))
    assert row["observations"] == 2
    assert (row["first_date"], row["last_date"]) == ("2025-05-04", "2026-05-04")


def test_repeats_of_one_visit_do_not_shrink_the_uncertainty():
    """Positions of one visit share the receiver's error, so two are no better than one."""
    found = find(
        [
            valve("V1", (0.0, 0.0), zone="1", date="2026-05-04", rms=0.1),
            valve("V1-2", (0.04, 0.0), zone="1", date="2026-05-04", rms=0.1),
        ]
    )
    assert len(found.valves) == 1
    assert found.valves["position_rms_m"].iloc[0] == pytest.approx(0.1)


@pytest.mark.parametrize(
    "other",
    [
        {"zone": "2", "box": "B1"},
        {"zone": "1", "box": "B1"},
        {"zone": "2"},
        {},
    ],
    ids=["another zone", "same zone and box", "another zone, no box", "no zone"],
)
def test_two_valves_of_one_visit_stay_two(other):
    """Two names on one visit are two valves, however near and whatever their zone."""
    first = valve("V1", (0.0, 0.0), zone="1", box="B1", date="2026-05-04", rms=0.5)
    found = find([first, valve("V2", (0.2, 0.0), date="2026-05-04", rms=0.5, **other)])
    assert found.valves["valve"].tolist() == ["V1", "V2"]
    assert codes(found) == []


def test_two_valves_of_a_box_stay_two_over_two_visits():
    """Each visit's valves are matched one to one, though all four stand within the uncertainty."""
    rows = [
        valve(f"{name}{suffix}", (x, 0.0), zone=zone, box="B1", date=date, rms=0.5)
        for date, suffix in (("2025-05-04", ""), ("2026-05-04", "-2"))
        for name, zone, x in (("V1", "1", 0.0), ("V2", "2", 0.2))
    ]
    found = find(rows)
    assert found.valves["valve"].tolist() == ["V1", "V2"]
    assert found.valves["observations"].tolist() == [2, 2]


def test_numbered_names_are_no_repeats():
    """V-1 and V-2 have a stem in common, but no valve has the stem for its name."""
    found = find([valve("V-1", (0, 0), zone="1"), valve("V-2", (0.1, 0), zone="2")])
    assert len(found.valves) == 2


def test_far_repeats_are_reported_and_their_uncertainty_widened():
    """Repeats beyond chi-square 0.99 are a finding; the combined position covers both."""
    found = find(
        [
            valve("V1", (0.0, 0.0), zone="1", date="2025-05-04", rms=0.05),
            valve("V1-2", (1.0, 0.0), zone="1", date="2026-05-04", rms=0.05),
        ]
    )
    assert codes(found) == [("repeat-disagrees", "V1")]
    assert "1.00 m apart" in found.findings[0].message
    assert found.valves["position_rms_m"].iloc[0] > 0.4


def test_a_relabelled_valve_carries_the_latest_label():
    """A later visit supersedes the zone that an earlier one wrote."""
    found = find(
        [
            valve("V1", (0, 0), zone="1", date="2025-05-04"),
            valve("V1", (0, 0), zone="4", date="2026-05-04"),
        ]
    )
    assert found.valves["zone"].tolist() == ["4"]


def test_two_zones_written_on_one_visit_are_both_kept():
    """One valve that two stations open carries both."""
    found = find([valve("V1", (0, 0), zone="3", date="d"), valve("V1", (0, 0), zone="4", date="d")])
    assert found.valves["zone"].tolist() == ["3;4"]


def path(point: str, x: float, zone: str | None = "5") -> dict[str, object]:
    """Return a mark on run R5."""
    return {"point": point, "feature": "path", "run": "R5", "zone": zone, "xy": (x, 0)}


def test_a_bare_valve_at_the_end_of_a_zones_run_takes_its_zone():
    """The zone is marked as read from the run."""
    found = find([path("P1", 0), path("P2", 10), valve("V9", (20, 0), run="R5")])
    assert found.valves[["zone", "zone_from"]].iloc[0].tolist() == ["5", "run"]


@pytest.mark.parametrize(
    "rows",
    [
        [path("P1", 0), valve("V9", (10, 0), run="R5"), path("P2", 20)],
        [path("P1", 0, "5"), path("P2", 10, "6"), valve("V9", (20, 0), run="R5")],
        [path("P1", 0), valve("V9", (20, 0), run="R5"), valve("V5", (20.2, 0), run="R5", zone="5")],
        [path("P1", 0, None), valve("V9", (20, 0), run="R5")],
    ],
    ids=["in the middle", "run of two zones", "another valve has it", "run without a zone"],
)
def test_a_bare_valve_takes_no_zone_that_its_run_does_not_settle(rows):
    """Only a valve that ends a run of one zone, alone, is given that zone."""
    bare = find(rows).valves.set_index("valve").loc["V9"]
    assert pd.isna(bare["zone"])
    assert pd.isna(bare["zone_from"])


def test_a_device_takes_the_depth_read_at_it_before_the_profile():
    """Two readings at the valve combine by their variance (0.4 and 0.2, equal sigma: 0.3)."""
    rows = [path("P1", 0), valve("V5", (20, 0), run="R5", zone="5")]
    readings = DEPTH_READINGS.conform(
        pd.DataFrame({"point": "V5", "depth_m": [0.5, 0.3], "depth_sigma_m": [0.02, 0.02]})
    ).assign(locate=[1, 1])
    row = find(rows, readings).valves.iloc[0]
    assert row["depth_m"] == pytest.approx(0.4)
    assert row["depth_sigma_m"] == pytest.approx(0.02 / np.sqrt(2))


def test_a_label_column_names_a_valve():
    """Where the files carry a label, it is the valve's name; elsewhere its point is."""
    placed = place([valve("17", (0, 0)), valve("18", (5, 0))]).assign(label=["Rose bed", None])
    readings = DEPTH_READINGS.empty(crs=PLANE).assign(locate=pd.Series(dtype="int64"))
    from strategies_zones import FRAME, SETTINGS

    from wiremap.steps.devices import find_devices

    found = find_devices(placed, trace(placed), readings, frame=FRAME, settings=SETTINGS)
    assert found.valves["valve"].tolist() == ["Rose bed", "18"]


def test_one_splice_met_from_two_runs_is_one():
    """A splice stands on every run that meets there; two splices of one run stay two."""
    rows = [
        {"point": "S1", "feature": "splice", "run": "R1", "xy": (0, 0), "date": "d"},
        {"point": "S7", "feature": "splice", "run": "R2", "xy": (0.03, 0), "date": "d"},
        {"point": "S2", "feature": "splice", "run": "R1", "xy": (0.06, 0), "date": "d"},
    ]
    found = find(rows)
    assert found.splices["splice"].tolist() == ["S1", "S2"]
    assert found.splices["observations"].tolist() == [2, 1]


def test_a_controller_marked_at_the_start_of_every_run_is_one():
    """Unnamed marks within reach of one cabinet are one controller, two names are two."""
    marks = [
        {"point": f"C{i}", "feature": "controller", "run": f"R{i}", "xy": (0.1 * i, 0)}
        for i in range(8)
    ]
    assert find(marks).controllers["controller"].tolist() == ["C0"]
    named = [m | {"controller": "AB"[i % 2]} for i, m in enumerate(marks)]
    assert find(named).controllers["controller"].tolist() == ["A", "B"]


def test_controllers_that_may_be_two_are_told_and_their_place_is_less_sure():
    """Rows 2.9 m apart at 0.1 m RMS name no controller: one is made of them, and that is said."""
    rows = [
        {"point": name, "feature": "controller", "xy": (x_m, 0)}
        for name, x_m in (("north", 0.0), ("south", 2.9))
    ]
    found = find(rows)
    assert found.controllers["observations"].tolist() == [2]
    assert found.controllers["position_rms_m"][0] > 1.0
    (told,) = [f for f in found.findings if f.code == "controller-uncertain"]
    assert "north, south stand up to 2.9 m apart" in told.message
    near = find([rows[0], rows[1] | {"xy": (0.8, 0)}])
    assert "controller-uncertain" not in {f.code for f in near.findings}


def test_a_property_without_a_controller_gets_a_note_and_no_controller():
    """Nothing is invented where the runs start."""
    found = find([valve("V1", (0, 0), zone="1")])
    assert found.controllers.empty
    assert ("not-surveyed", "controller") in [(f.code, f.subject) for f in found.findings]


def test_every_kind_never_located_is_listed_as_not_surveyed():
    """Equipment of the contract is in the layer or in the findings, never silent."""
    found = find([{"point": "Q1", "feature": "quick_coupler", "xy": (0, 0)}])
    missing = {f.subject for f in found.findings if f.code == "not-surveyed"}
    assert found.equipment[["kind", "label"]].to_numpy().tolist() == [["quick_coupler", "Q1"]]
    wanted = {str(k) for k in EQUIPMENT} - {"stake", "quick_coupler"} | {str(Feature.CONTROLLER)}
    assert missing == wanted


def test_equipment_of_two_kinds_at_one_place_stays_two():
    """A pump and a filter under one name are two items; a pump seen twice is one."""
    rows = [
        {"point": "X", "feature": "pump", "xy": (0, 0), "date": "2025"},
        {"point": "X", "feature": "filter", "xy": (0, 0), "date": "2025"},
        {"point": "Y", "feature": "pump", "xy": (0.02, 0), "date": "2026"},
    ]
    assert find(rows).equipment["kind"].tolist() == ["pump", "filter"]


def test_nothing_located_gives_empty_layers():
    """No row, no device; the layers still have their columns."""
    rows = [{"point": "P", "feature": "path", "run": "R1", "xy": (0, 0)}]
    found = find(rows)
    assert [len(layer) for layer in found[:4]] == [0, 0, 0, 0]
    assert {"valve", "zone", "chainage_m", "run_zone"} <= set(found.valves.columns)


@settings(max_examples=40, deadline=None)
@given(
    st.lists(
        st.tuples(st.integers(0, 40), st.integers(0, 40)), min_size=1, max_size=12, unique=True
    ),
    st.integers(0, 10**6),
    st.randoms(use_true_random=False),
)
def test_valves_visited_twice_come_out_once_whatever_the_order(places, seed, random):
    """Distinct zones two metres apart, located on two visits within their accuracy, any row order."""
    noise = np.random.default_rng(seed).normal(0, 0.02, (len(places), 2, 2))
    rows = [
        valve(f"{visit}-{i}", (2 * x + noise[i, v, 0], 2 * y + noise[i, v, 1]), zone=str(i),
              date=visit, rms=0.05)
        for i, (x, y) in enumerate(places)
        for v, visit in enumerate(("2025-05-04", "2026-05-04"))
    ]  # fmt: skip
    random.shuffle(rows)
    found = find(rows)
    assert sorted(found.valves["zone"]) == sorted(str(i) for i in range(len(places)))
    assert set(found.valves["observations"]) == {2}


def test_a_bad_repeat_of_a_zones_valve_is_one_valve_that_disagrees():
    """Beyond chi-square 0.99 but within 0.9999 two visits of one zone's valve are still one."""
    found = find(
        [
            valve("V1", (0.0, 0.0), zone="1", date="2025-05-04", rms=0.5),
            valve("K7", (1.9, 0.0), zone="1", date="2026-05-04", rms=0.5),
        ]
    )
    assert len(found.valves) == 1
    assert codes(found) == [("repeat-disagrees", "V1")]


def test_a_valve_marked_again_without_its_label_keeps_it():
    """Same run and place on another visit, one row without a zone."""
    found = find(
        [
            valve("V1", (0.0, 0.0), run="R1", zone="1", date="2025-05-04"),
            valve("P88", (0.02, 0.0), run="R1", date="2026-05-04"),
        ]
    )
    assert found.valves[["valve", "zone", "observations"]].to_numpy().tolist() == [["V1", "1", 2]]


def test_a_box_and_zone_met_again_are_one_valve_however_far_it_seems_to_have_moved():
    """The label is surer than the position; the disagreement is reported."""
    found = find(
        [
            valve("V1", (0.0, 0.0), zone="1", box="B1", date="2025-05-04"),
            valve("P88", (4.0, 0.0), zone="1", box="B1", date="2026-05-04"),
        ]
    )
    assert len(found.valves) == 1
    assert codes(found) == [("repeat-disagrees", "V1")]


def test_two_zones_in_one_place_on_two_visits_stay_two():
    """Another zone is another valve, however near."""
    found = find(
        [
            valve("V1", (0.0, 0.0), zone="1", date="2025-05-04"),
            valve("V2", (0.0, 0.0), zone="2", date="2026-05-04"),
        ]
    )
    assert found.valves["zone"].tolist() == ["1", "2"]


def test_a_splice_repeated_under_its_own_name_is_one():
    """S1 and S1-2 of one run and one visit are one splice."""
    rows = [
        {"point": name, "feature": "splice", "run": "R1", "xy": (x, 0), "date": "d"}
        for name, x in (("S1", 0.0), ("S1-2", 0.03), ("S9", 30.0))
    ]
    assert find(rows).splices["splice"].tolist() == ["S1", "S9"]
