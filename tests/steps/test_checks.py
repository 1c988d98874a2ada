"""Field locates and zone lists held against the contract."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from wiremap.model.findings import CODES
from wiremap.model.kinds import Feature
from wiremap.model.settings import Settings
from wiremap.model.tables import LOCATES_IN, ZONE_LIST
from wiremap.steps.checks import check_locates, check_zone_list
from wiremap.steps.checks.reports import ROWS_REPORTED


def table(rows):
    filled = [
        {"source_file": "locates.csv", "source_row": k + 2, **row} for k, row in enumerate(rows)
    ]
    return LOCATES_IN.conform(pd.DataFrame(filled))


def check(*rows, **locating):
    checked = check_locates(table(rows), settings=Settings(locating=locating))
    return checked.locates, checked.findings


def path(point, **more):
    return {"point": point, "feature": "path", "run": "A", "lat": 41.0, "lon": -97.0, **more}


def codes(findings):
    return [f.code for f in findings]


def test_good_rows_pass_unchanged_and_without_findings():
    """What can be true is left alone."""
    rows = table(
        [
            path("P1", offset_left_m=0.4, offset_right_m=0.4, tone=80.0),
            path("P2", depth_m=0.3, lean_deg=40.0),
        ]
    )

    checked = check_locates(rows, settings=Settings())
    pd.testing.assert_frame_equal(checked.locates, rows)
    assert checked.findings == []


def test_an_exact_repeat_is_set_aside():
    """All columns but file and row are the same."""
    locates, (finding,) = check(path("P1"), path("P2"), path("P1"))

    assert locates["point"].tolist() == ["P1", "P2"]
    assert (finding.code, finding.source_row, finding.subject) == ("duplicate-point", 4, "P1")


def test_an_identifier_used_twice_is_kept_under_its_own_name():
    """The second point is another point until someone says otherwise; a name that exists is not taken."""
    locates, findings = check(path("P1"), path("P1", lat=42.0), path("P1~2"), path("P1", lat=43.0))

    assert locates["point"].tolist() == ["P1", "P1~3", "P1~2", "P1~4"] or locates["point"].is_unique
    assert codes(findings) == ["duplicate-point", "duplicate-point"]


def test_an_offset_mark_follows_the_renamed_path_mark_of_its_own_file():
    """Two crews that both count from 1 do not pair with each other's marks."""
    other = {"source_file": "second.csv"}
    locates, _ = check(
        path("1"), path("1", lat=42.0, **other), {"point": "2", "feature": "offset_mark", "pair": "1"},
        {"point": "3", "feature": "offset_mark", "pair": "1", **other},
    )  # fmt: skip

    assert locates["point"].tolist() == ["1", "1~2", "2", "3"]
    assert locates["pair"].tolist()[2:] == ["1", "1~2"]


def test_a_point_without_identifier_is_called_after_its_file_and_row():
    """Rows of one file counted anew in each layer get different names; one note says so."""
    locates, findings = check(path(None), {**path(""), "source_row": 2, "lat": 42.0})

    assert locates["point"].tolist() == ["locates.csv:2", "locates.csv:2~2"]
    assert codes(findings) == ["read-note"]


def test_an_unknown_feature_stays_with_its_word_and_the_nearest_known_one():
    """The row is in the table and in the findings."""
    locates, (finding,) = check(path("P1", feature="valv"))

    assert locates["feature"].tolist() == ["valv"]
    assert (finding.code, finding.value, finding.source_row) == ("unknown-feature", "valv", 2)
    assert "Write valve" in finding.advice


def test_a_row_without_feature_is_a_path_mark_only_if_it_was_traced():
    """A run or a depth pair says so; otherwise the row is kept and reported."""
    locates, findings = check(
        path("P1", feature=None),
        {"point": "P2", "lat": 41.0},
        {"point": "P3", "offset_left_m": 0.4, "zone": "1"},
    )

    assert locates["feature"].tolist() == ["path", np.nan, "path"]
    assert codes(findings) == ["unknown-feature", "unknown-feature", "run-without-name"]
    assert [f.severity for f in findings[:2]] == [None, "note"]


@pytest.mark.parametrize(
    ("column", "value"),
    [
        ("offset_left_m", -0.3), ("offset_left_m", 0.0), ("offset_right_m", 14.5), ("depth_m", 0.0), ("depth_m", -0.3),
        ("depth_m", 10.5), ("lean_deg", 0.0), ("lean_deg", 91.0), ("cross_slope_deg", 61.0), ("cross_slope_deg", -75.0),
        ("tone", -1.0), ("h_rms_m", 0.0), ("elevation_m", 20000.0), ("tie_a_dist_m", -2.0), ("receiver_height_m", -0.1),
    ],
)  # fmt: skip
def test_a_number_beyond_its_limit_is_emptied_and_named(column, value):
    """Limits are project choices; the finding has file, row, column, value and remedy."""
    locates, (finding,) = check(path("P1", **{column: value}))

    assert np.isnan(locates[column].iloc[0])
    assert (finding.code, finding.column, finding.source_row) == ("bad-value", column, 2)
    assert float(finding.value) == value
    assert finding.advice


def test_a_negative_level_is_right_on_a_decibel_scale():
    """Decibels go below zero."""
    locates, findings = check(path("P1", tone=-12.0), tone_scale="decibel")

    assert locates["tone"].tolist() == [-12.0]
    assert findings == []


def test_a_depth_pair_belongs_to_a_mark_over_the_wire():
    """On a ground stake it means nothing."""
    locates, (finding,) = check(path("P1", feature="stake", offset_left_m=0.4))

    assert np.isnan(locates["offset_left_m"].iloc[0])
    assert finding.code == "bad-value"


@pytest.mark.parametrize("pair", ["P9", "P2", None])
def test_a_pair_must_name_another_point(pair):
    """No point of that name, the mark itself, or none at all."""
    locates, (finding,) = check(path("P1"), {"point": "P2", "feature": "offset_mark", "pair": pair})

    assert locates["pair"].isna().all()
    assert (finding.code, finding.source_row) == ("bad-value", 3)


def test_path_marks_without_a_run_are_joined_by_zone_else_by_file():
    """One finding for each group, a warning where marks were joined: they may be of two wires."""
    locates, findings = check(
        path("P1", run=None, zone="3"), path("P2", run=None, zone="3"), path("P3", run=None),
        path("P4", run="zone 4"), path("P5", run=None, zone="4"),
    )  # fmt: skip

    assert locates["run"].tolist() == ["zone 3", "zone 3", "locates", "zone 4", "zone 4~2"]
    assert codes(findings) == ["run-without-name"] * 3
    assert [f.severity for f in findings] == [None, "note", "note"]
    assert CODES["run-without-name"].severity == "warning"


def test_many_rows_that_break_one_rule_share_a_finding():
    """The first are named, the rest counted with where they stand."""
    _, findings = check(*(path(f"P{k}", lean_deg=95.0) for k in range(ROWS_REPORTED + 30)))

    assert len(findings) == ROWS_REPORTED + 1
    assert "30 further rows" in findings[-1].message


def test_the_input_is_not_changed():
    """Steps return new tables."""
    rows = table(
        [path("P1", lean_deg=95.0), path("P1", lat=2.0), {"point": None, "feature": "banana"}]
    )
    before = rows.copy(deep=True)
    check_locates(rows, settings=Settings())

    pd.testing.assert_frame_equal(rows, before)


WORDS = st.sampled_from([*map(str, Feature), "banana", "", None])
NUMBERS = st.one_of(st.none(), st.floats(-20, 20))
ROW = st.fixed_dictionaries(
    {"point": st.sampled_from(["P1", "P2", "P3", "", None]), "feature": WORDS, "run": st.sampled_from(["A", "", None]),
     "zone": st.sampled_from(["1", None]), "pair": st.sampled_from(["P1", "P9", None]), "offset_left_m": NUMBERS,
     "depth_m": NUMBERS, "tone": NUMBERS}
)  # fmt: skip


@settings(deadline=None, max_examples=60)
@given(st.lists(ROW, min_size=1, max_size=8))
def test_every_row_that_comes_in_is_in_the_table_or_in_a_finding(rows):
    """And every point that goes out is unique, named, and within its limits."""
    checked = check_locates(table(rows), settings=Settings())

    kept = set(checked.locates["source_row"])
    assert kept | {f.source_row for f in checked.findings} >= {k + 2 for k in range(len(rows))}
    assert checked.locates["point"].is_unique
    assert checked.locates["point"].notna().all()
    depth = checked.locates["depth_m"].dropna()
    assert ((depth > 0) & (depth <= 10)).all()
    again = check_locates(checked.locates, settings=Settings())
    assert again.locates["point"].tolist() == checked.locates["point"].tolist()


def zones(*rows):
    filled = [
        {"source_file": "zones.csv", "source_row": k + 2, "valves": 1, **row}
        for k, row in enumerate(rows)
    ]
    return check_zone_list(ZONE_LIST.conform(pd.DataFrame(filled)), settings=Settings())


def test_a_zone_listed_twice_keeps_its_first_row():
    """Empty cells are filled from the later one; both rows are named."""
    checked = zones(
        {"zone": "1", "name": "lawn"}, {"zone": "2"}, {"zone": "1", "name": "beds", "ohms": 28.0}
    )

    assert checked.zones["zone"].tolist() == ["1", "2"]
    assert checked.zones[["name", "ohms"]].iloc[0].tolist() == ["lawn", 28.0]
    (finding,) = checked.findings
    assert (finding.code, finding.source_row) == ("zone-listed-twice", 4)
    assert "row 2 as lawn" in finding.message


def test_a_zone_listed_twice_in_a_frame_without_rows_of_a_file_is_told():
    """A table made in a notebook comes from no file; that stopped the check."""
    zones = ZONE_LIST.conform(pd.DataFrame({"zone": ["3", "3"], "name": ["Beds", None]}))

    (finding,) = check_zone_list(zones, settings=Settings()).findings

    assert finding.source_row is None
    assert finding.message.startswith("Zone 3 is listed in a row as Beds and again in a row;")


def test_the_same_number_on_two_controllers_is_two_zones():
    """Each controller counts from one."""
    checked = zones({"zone": "1", "controller": "A"}, {"zone": "1", "controller": "B"})

    assert len(checked.zones) == 2
    assert checked.findings == []


def test_an_absurd_count_of_valves_becomes_one():
    """It is a slip of the pen or of the column."""
    checked = zones({"zone": "1", "valves": -2}, {"zone": "2", "valves": 600})

    assert checked.zones["valves"].tolist() == [1, 1]
    assert codes(checked.findings) == ["bad-value", "bad-value"]


def test_an_empty_list_stays_empty():
    """Without a zone list nothing is held against it."""
    assert check_zone_list(ZONE_LIST.empty(), settings=Settings()).zones.empty
