"""Zone lists as people keep them (layouts: common practice, no source)."""

import math

import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from wiremap.errors import ReadError
from wiremap.plugins import RawTable
from wiremap.read.conversion import Source
from wiremap.read.folders import read_property
from wiremap.read.zone_lists import read_zone_list


def read(names, *rows, part=""):
    frame = pd.DataFrame(list(rows), columns=list(names), dtype=object)
    frame.index = range(2, 2 + len(rows))
    return read_zone_list(RawTable(frame, part=part), Source("zones.csv"))


def test_a_plain_list_reads_as_it_stands():
    """One valve where the list does not say; open is infinite."""
    zones, findings = read(
        ["zone", "name", "valves", "ohms"], ["1", "lawn", "", "28.5"], ["2", "beds", "2", "OL"]
    )

    assert zones["zone"].tolist() == ["1", "2"]
    assert zones["valves"].tolist() == [1, 2]
    assert zones["ohms"].tolist() == [28.5, math.inf]
    assert zones["kind"].tolist() == ["zone", "zone"]
    assert zones["source_row"].tolist() == [2, 3]
    assert findings == []


@pytest.mark.parametrize("header", ["Sta.", "Station", "Zone #", "Zone No.", "#", "No."])
def test_the_zone_number_is_found_by_meaning_and_announced(header):
    """As people head it."""
    zones, findings = read([header, "Description"], [3.0, "slope"])

    assert zones["zone"].tolist() == ["3"]
    assert [f.code for f in findings] == ["guessed-column", "guessed-column"]


@pytest.mark.parametrize(
    ("zone", "name", "kind", "valves"),
    [
        ("MV", "", "master_valve", 1), ("", "Master valve", "master_valve", 1), ("M/V", "", "master_valve", 1),
        ("P", "Pump start relay", "pump_start", 0), ("Pump", "", "pump_start", 0), ("12", "Spare", "spare", 0),
        ("12", "not used", "spare", 0), ("12", "pump house lawn", "zone", 1), ("12", "Masters drive", "zone", 1),
    ],
)  # fmt: skip
def test_master_valves_pumps_and_spares_are_told_from_zones(zone, name, kind, valves):
    """By the words of the row, not by a place called after a pump."""
    zones, _ = read(["zone", "name"], [zone, name])

    assert zones[["kind", "valves"]].iloc[0].tolist() == [kind, valves]
    assert zones["zone"].notna().all()


def test_a_spare_is_known_by_a_word_in_any_column():
    """Also in one that has no name of the contract."""
    zones, _ = read(["zone", "name", "Soil"], ["9", "", "spare wire"])

    assert zones["kind"].tolist() == ["spare"]


def test_a_range_of_spares_is_one_row_each():
    """13-16 stands for four stations."""
    zones, _ = read(["zone", "name"], ["13-16", "spare"])

    assert zones["zone"].tolist() == ["13", "14", "15", "16"]
    assert zones["source_row"].tolist() == [2, 2, 2, 2]


def test_two_valves_named_in_words_are_counted_and_announced():
    """The column valves has the last word."""
    zones, findings = read(
        ["zone", "name", "valves"], ["1", "slope, two valves", ""], ["2", "3 valves", "1"]
    )

    assert zones["valves"].tolist() == [2, 1]
    assert [f.code for f in findings] == ["read-note"]


def test_a_line_above_its_stations_names_the_controller():
    """Several controllers on one list; blank lines and repeated headers are no zones."""
    zones, findings = read(
        ["Sta.", "Name"],
        ["Controller A", ""],
        ["1", "lawn"],
        ["", ""],
        ["Controller: B", ""],
        ["Sta.", "Name"],
        ["1", "beds"],
    )

    assert zones[["controller", "zone"]].to_numpy().tolist() == [["A", "1"], ["B", "1"]]
    assert [(f.code, f.column) for f in findings] == [("guessed-column", "Sta.")]


def test_a_sheet_named_after_its_controller_names_it():
    """One sheet a controller; 'Sheet1' is no name."""
    zones, _ = read(["zone", "name"], ["1", "lawn"], part="Controller B")
    assert zones["controller"].tolist() == ["B"]
    zones, _ = read(["zone", "name"], ["1", "lawn"], part="Sheet1")
    assert zones["controller"].isna().all()


def test_a_remark_among_the_rows_is_set_aside_with_its_words():
    """It is no zone, and it is not lost."""
    zones, findings = read(
        ["zone", "name"], ["1", "lawn"], ["call before working", ""], ["", "rain sensor bypassed"]
    )

    assert zones["zone"].tolist() == ["1"]
    assert [(f.code, f.source_row) for f in findings] == [("bad-value", 3), ("bad-value", 4)]


def test_a_list_without_zone_numbers_is_refused_with_a_line_to_paste():
    """Nothing can be reconciled with it."""
    with pytest.raises(ReadError, match=r"no column gives the zone number.*columns = \{"):
        read(["Plant", "Soil"], ["rose", "clay"])


@settings(deadline=None, max_examples=50)
@given(st.lists(st.tuples(st.text(max_size=12), st.text(max_size=12)), min_size=1, max_size=6))
def test_every_row_that_holds_something_is_a_zone_or_a_finding(rows):
    """Whatever people write; headings of controllers aside."""
    zones, findings = read(["zone", "name"], *[list(r) for r in rows])

    held = {2 + k for k, row in enumerate(rows) if any(c.strip() for c in row)}
    named = set(zones["source_row"]) | {f.source_row for f in findings}
    headings = {
        2 + k
        for k, row in enumerate(rows)
        if "".join(row)
        .strip()
        .lower()
        .startswith(("controller", "clock", "timer", "satellite", "irrigation", "zone"))
    }
    assert held - headings <= named


def test_a_title_above_the_header_names_the_controller(tmp_path):
    """A sheet of two tables: the first controller stands above the first header."""
    (tmp_path / "locates.csv").write_text("point,feature,lat,lon\nV1,valve,41,-97\n")
    (tmp_path / "zones.csv").write_text(
        "Watering 2026,,\nController A,,\nSta#,Descr.,Min\n1,lawn,20\nController B,,\n1,beds,30\n"
    )
    zones = read_property(tmp_path).zones
    assert zones[["controller", "zone", "name"]].to_numpy().tolist() == [
        ["A", "1", "lawn"],
        ["B", "1", "beds"],
    ]


def test_a_list_without_a_header_is_refused_with_the_line_that_names_its_columns(tmp_path):
    """To be pasted into property.toml."""
    (tmp_path / "locates.csv").write_text("point,feature,lat,lon\nV1,valve,41,-97\n")
    (tmp_path / "zones.csv").write_text("1,lawn,28\n2,beds,29\n")
    (finding,) = [f for f in read_property(tmp_path).findings if f.code == "unread-file"]
    assert 'files."zones.csv" = { header = false, columns = ["zone", "name", "column 3"] }' in (
        finding.advice
    )
