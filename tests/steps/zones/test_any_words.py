"""Whatever people write, the zones come out and every listed zone keeps its row."""

from __future__ import annotations

import pandas as pd
from hypothesis import given, settings
from hypothesis import strategies as st
from strategies_zones import clean_world

from wiremap.model.kinds import OhmsStatus, ValveZoneStatus, ZoneStatus
from wiremap.model.tables import READINGS, ZONE_LIST
from wiremap.steps.zones import summarise_reconciliation

WORDS = st.one_of(
    st.none(),
    st.sampled_from(
        ["1", "02", "Zone 2", "1;2", "2-4", "9-1", "A-1", "MV", "P", "spare", ";", "all", "12 b"]
    ),
    st.text(max_size=8),
)
CONTROLLERS = st.sampled_from([None, "A", "Controller B", "C", "?"])
ROW = st.fixed_dictionaries({"zone": WORDS, "controller": CONTROLLERS})
KINDS = st.sampled_from(
    ["ohms", "ohms_to_ground", "loop_ohms", "murray", "varley", "capacitance", "other"]
)
VALUES = st.one_of(st.sampled_from(["OL", "0", "12", "3:1", "1:1:2", "1e400"]), st.text(max_size=8))
NUMBERS = st.one_of(st.none(), st.floats(allow_nan=False, width=32), st.just(float("inf")))


@settings(max_examples=80, deadline=None)
@given(
    st.lists(ROW | st.fixed_dictionaries({"zone": WORDS, "ohms": NUMBERS}), max_size=8),
    st.lists(ROW, min_size=6, max_size=6),
    st.lists(ROW, min_size=3, max_size=3),
    st.lists(st.fixed_dictionaries({"zone": WORDS, "kind": KINDS, "value": VALUES}), max_size=5),
)
def test_any_words_are_reconciled_without_falling_over(listed, valves, runs, readings):
    """Lists, labels, runs and readings of any text: statuses are of the closed sets, one row a
    listed zone at most, and the summary can be written."""
    world = clean_world([2, 2, 2])
    zone_list = ZONE_LIST.conform(pd.DataFrame(listed, index=range(len(listed))))
    ground, traced = pd.DataFrame(valves), pd.DataFrame(runs)
    world = world._replace(
        zone_list=zone_list,
        valves=world.valves.assign(zone=ground["zone"], controller=ground["controller"]),
        runs=world.runs.assign(zones=traced["zone"], controller=traced["controller"]),
        readings=READINGS.conform(pd.DataFrame(readings, index=range(len(readings)))),
    )
    done = world.reconcile()
    assert set(done.zones["status"]) <= set(ZoneStatus)
    assert set(done.zones["ohms_status"]) <= set(OhmsStatus)
    assert set(done.valves["zone_status"]) <= set(ValveZoneStatus)
    assert (done.zones["status"] != "unlisted").sum() <= len(listed)
    assert len(done.schedule) == len(done.zones)
    assert len(done.valves) == 6
    assert summarise_reconciliation(done.zones, done.valves, world.runs)
