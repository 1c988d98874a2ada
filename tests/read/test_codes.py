"""Runs and zones from the words behind field codes and from the names of runs."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from wiremap.read.codes import read_codes, read_run_zones


def locates(*rows):
    """Locates given as feature and the words behind the code."""
    frame = pd.DataFrame(rows, columns=["feature", "behind"])
    frame["run"] = pd.Series(np.nan, index=frame.index, dtype="str")
    frame["zone"] = pd.Series(np.nan, index=frame.index, dtype="str")
    return frame.drop(columns="behind"), frame["behind"].astype("str")


def runs_of(*rows):
    frame, behind = locates(*rows)
    read_codes(frame, behind, matched=())
    return frame["run"].fillna("").tolist()


def test_a_name_that_stands_behind_several_path_codes_is_their_run():
    """WIRE Z1, WIRE Z1: and a device that carries the name is of the run."""
    rows = [("path", "Z1"), ("path", "Z1"), ("path", "Z2"), ("path", "Z2 soft"),
            ("valve", "3 Z2"), ("splice", "")]  # fmt: skip
    assert runs_of(*rows) == ["Z1", "Z1", "Z2", "Z2", "Z2", ""]


@pytest.mark.parametrize("words", [("1", "2", "3", "4"), ("Z1", "Z2", "Z3", "Z3")])
def test_numbers_of_marks_are_no_runs(words):
    """WP1, WP2, WP3: each name on one mark, so no line could be drawn."""
    assert runs_of(*[("path", word) for word in words]) == [""] * len(words)


@pytest.mark.parametrize("words", ["near the oak", "0.3 deep", '12" deep', "soft ground"])
def test_words_and_measures_are_no_runs(words):
    """Free text behind the code stays a note."""
    assert runs_of(("path", words), ("path", words)) == ["", ""]


def test_a_device_is_not_of_the_run_whose_bare_number_it_has():
    """WIRE1 and VLV 1: the valve's number is its own."""
    assert runs_of(("path", "1"), ("path", "1"), ("valve", "1")) == ["1", "1", ""]


def test_a_file_that_has_a_column_of_runs_keeps_it():
    """Only what no column says is filled."""
    frame, behind = locates(("path", "Z1"), ("path", "Z1"), ("valve", "Z1"))
    assert read_codes(frame, behind, matched=("run", "zone")) == []
    assert frame[["run", "zone"]].isna().all(axis=None)


@pytest.mark.parametrize(
    ("words", "zone"),
    [("3 Z4", "4"), ("zone 12, 6in box", "12"), ("STA #7", "7"), ("z-2", "2"), ("4", ""),
     ("oz 4", ""), ("Z4in", ""), ("zone lawn", "")],
)  # fmt: skip
def test_a_valve_whose_words_name_a_zone_is_labelled_with_it(words, zone):
    """VLV 3 Z4 is valve 3 of zone 4 (common practice, no source)."""
    frame, behind = locates(("valve", words), ("path", words))
    notes = read_codes(frame, behind, matched=())
    assert frame["zone"].fillna("").tolist() == [zone, ""]
    assert len(notes) == bool(zone)


def named(run, zones=(None, None, None)):
    frame = pd.DataFrame({"run": [run] * 3, "feature": ["path", "path", "valve"]}, dtype="str")
    frame["zone"] = pd.Series(zones, dtype="str")
    return frame


@pytest.mark.parametrize(
    ("run", "zone"), [("Zone 4", "4"), ("Z4", "4"), ("z-04", "4"), ("Station 3/4", "3;4"), ("STA 7", "7")]
)  # fmt: skip
def test_a_run_named_after_a_zone_serves_it(run, zone):
    """On the marks of the wire alone: the valve's own label stays what was written there."""
    frame = named(run)
    (note,) = read_run_zones(frame)
    assert frame["zone"].tolist()[:2] == [zone, zone]
    assert frame["zone"].isna().tolist() == [False, False, True]
    assert run in note
    assert "read from its name" in note


@pytest.mark.parametrize("run", ["4", "R4", "W1", "Zone", "Z4 north", "Zoned 4", "West 4"])
def test_other_names_of_runs_say_nothing_of_zones(run):
    """A number alone may be of anything."""
    frame = named(run)
    assert read_run_zones(frame) == []
    assert frame["zone"].isna().all()


def test_a_zone_that_any_row_of_the_run_names_stands():
    """The valve says 5, so the run's name is not asked."""
    frame = named("Zone 4", (None, None, "5"))
    assert read_run_zones(frame) == []
    assert frame["zone"].tolist()[2] == "5"
