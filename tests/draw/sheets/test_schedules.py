"""The tables of the record drawing."""

from __future__ import annotations

import geopandas as gpd
import pandas as pd
import pytest
from shapely import Point
from sheet_layers import UTM, plan_context, plan_layers

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


def _fault(confidence=0.999, dig="Open first at 20.8 m, then between 17.8 m and 23.7 m."):
    row = {"fault": ["W1-fault-1"], "run": ["W1"], "kind": ["leak"], "confidence": [confidence]}
    return gpd.GeoDataFrame(
        {**row, "status": "standing", "evidence": "near", "dig": dig},
        geometry=[Point(634_020, 3_906_000)], crs=UTM,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("units", "said"),
    [("ft", "Open first at 68.2 ft, then between 58.4 ft and 77.8 ft."),
     ("m", "Open first at 20.8 m, then between 17.8 m and 23.7 m.")],
)  # fmt: skip
def test_the_words_of_a_fault_speak_the_unit_of_the_drawing(units, said):
    """20.8, 17.8 and 23.7 m are 68.24, 58.40 and 77.76 ft (1 ft = 0.3048 m)."""
    assert said in _tables({"faults": _fault()}, units=units)["Faults"].rows[0]


def test_no_fault_is_certain():
    """Rounding does not make 99.9 % into 100 %."""
    (row,) = _tables({"faults": _fault()})["Faults"].rows
    assert "over 99 %" in row


@pytest.mark.parametrize(
    ("metres", "feet"),
    [
        ("at least 0.152 m, got 0.134 m", "at least 6.0 in, got 5.3 in"),
        ("0.0 to 5.8, 35.6 to 57.2 m along", "0.0 to 19.0, 116.8 to 187.7 ft along"),
        ("run W3, 12 m long; zone 3, 4 of 5", "run W3, 39 ft long; zone 3, 4 of 5"),
        ("V1.2 m", "V1.2 m"),
        ("95% of 30 minutes", "95% of 30 minutes"),
    ],
)
def test_only_lengths_are_turned_into_feet(metres, feet):
    """Inches where a hand would say inches, and never more places than were given."""
    assert Units("ft").sentence(metres) == feet


def test_how_files_were_read_is_left_to_the_list_of_findings():
    """An agency reads of the wires, not of delimiters; that there is more is said."""
    found = pd.DataFrame(
        {"severity": ["warning", "note"], "code": ["shallow-cover", "read-note"],
         "subject": ["W1", "locates.csv"], "message": ["cover", "Decimal comma."], "advice": ""}
    )  # fmt: skip
    found["advice"] = "Dig at 0.3 m."
    table = _tables({"findings": found})["Findings"]

    assert [row[-1] for row in table.rows] == ["Dig at 12 in."]
    assert [row[1] for row in table.rows] == ["shallow-cover"]
    assert table.note.startswith("1 more")


def test_grid_positions_name_their_unit():
    """Beside feet and inches a bare easting would be read as feet."""
    titles = [column.title for column in _tables()["Routing of the wires"].columns]
    assert titles[-2:] == ["Easting, m", "Northing, m"]


@pytest.mark.parametrize(("severity", "rows"), [("warning", 7), ("error", 40)])
def test_many_findings_of_one_kind_are_named_in_one_row(severity, rows):
    """Forty weak ties are no forty lines of a drawing; every error is."""
    found = pd.DataFrame(
        {"severity": severity, "code": "weak-tie", "subject": [f"P{n}" for n in range(40)],
         "message": [f"tape {n}" for n in range(40)], "advice": ""}
    )  # fmt: skip
    table = _tables({"findings": found})["Findings"]
    words = " ".join(" ".join(row) for row in table.rows)

    assert len(table.rows) == rows
    assert all(f"P{n}" in words for n in range(40))
    assert ("34 more" in words) is (severity == "warning")
