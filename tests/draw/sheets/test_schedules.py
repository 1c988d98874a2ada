"""The tables of the record drawing."""

from __future__ import annotations

import pandas as pd
import pytest
from sheet_layers import plan_context, plan_layers

from wiremap.draw.sheets.contents import gather_contents
from wiremap.draw.sheets.measures import Units
from wiremap.draw.sheets.schedules import list_tables

REFERENCES = {"NE corner": (5.0, 12.0), "NW corner": (-12.0, 12.0), "SW corner": (-12.0, -5.0)}
LINE = {"W1": [(0.0, 0.0), (30.0, 0.0), (30.0, 40.0)]}


def _tables(layers=None, schedule=None, units="ft"):
    made = plan_layers(LINE, references=REFERENCES) | (layers or {})
    context = plan_context() | {"schedule": schedule}
    contents = gather_contents(made, context=context, units=Units(units))
    return {table.title: table for table in list_tables(contents, text_pt=8.0)}


def test_the_routing_is_dimensioned_from_two_references_where_they_reach():
    """From (0, 0): NE corner 13.00 m (5-12-13 triangle), NW corner 12 x sqrt 2 = 16.97 m.

    They cut at 68 degrees; the SW corner is as near but cuts at 45 only.
    """
    table = _tables(units="m")["Routing of the wires"]
    start = table.rows[0]

    assert start[:3] == ("W1", "0.00", "start")
    assert sorted([(start[3], start[4]), (start[5], start[6])]) == [
        ("NE corner", "13.00"), ("NW corner", "16.97"),
    ]  # fmt: skip
    assert [row[2] for row in table.rows] == ["start", "turn", "through", "end"]
    assert start[-2:] == ("634000.00", "3906000.00")


def test_runs_are_listed_as_people_count():
    """W2 stands before W10."""
    wires = {f"W{n}": [(0.0, 0.0), (10.0, n)] for n in (10, 2, 1)}
    contents = gather_contents(plan_layers(wires), context=plan_context(), units=Units("ft"))
    routing = next(t for t in list_tables(contents, text_pt=8.0) if t.title.startswith("Routing"))

    assert list(dict.fromkeys(row[0] for row in routing.rows)) == ["W1", "W2", "W10"]


def test_ties_show_both_distances_in_the_drawing_unit():
    """9.144 m are 30 ft."""
    ties = pd.DataFrame(
        {"layer": ["valves"], "feature_id": ["V1"], "reference_a": ["NE corner"],
         "distance_a_m": [9.144], "reference_b": ["NW corner"], "distance_b_m": [15.24],
         "source": ["computed"], "cut_angle_deg": [88.0]}
    )  # fmt: skip
    (row,) = _tables({"ties": ties})["Ties to permanent references"].rows
    assert row == ("valve", "V1", "NE corner", "30.0", "NW corner", "50.0", "computed", "88°")


def test_kinds_that_were_never_located_are_named():
    """Never left out in silence."""
    rows = _tables()["Equipment"].rows
    assert ("Grounding point", "not surveyed") in rows
    assert len(rows) == 12


@pytest.mark.parametrize(
    ("ohms", "status", "shown"),
    [(31.4, "as_expected", "31.4"), (12.0, "low", "12.0 low"), (float("inf"), "open", "open"),
     (float("nan"), "not_read", "")],
)  # fmt: skip
def test_readings_are_judged_only_where_something_is_wrong(ohms, status, shown):
    """A good reading needs no word."""
    schedule = pd.DataFrame(
        {"zone": ["1"], "ohms": [ohms], "ohms_status": [status], "depth_min_m": [0.3048],
         "depth_max_m": [0.4572], "path_length_m": [30.48]}
    )  # fmt: skip
    table = _tables(schedule=schedule)["Zone and wire schedule"]
    row = dict(zip([c.title for c in table.columns], table.rows[0], strict=True))

    assert row.get("Ohms", "") == shown
    assert row["Depth, in"] == "12.0 to 18.0"
    assert row["Path, ft"] == "100.0"


def test_a_finding_that_has_a_table_of_its_own_is_not_repeated():
    """Faults and equipment not surveyed stand once."""
    findings = pd.DataFrame(
        {"severity": ["warning", "note", "error"], "code": ["fault-found", "not-surveyed", "bad-value"],
         "subject": "x", "message": "y", "advice": "z"}
    )  # fmt: skip
    rows = _tables({"findings": findings})["Findings"].rows
    assert [row[1] for row in rows] == ["bad-value"]
