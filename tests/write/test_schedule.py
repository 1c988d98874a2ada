"""The wire schedule as CSV and workbook."""

from __future__ import annotations

import csv

import pandas as pd
from openpyxl import load_workbook

from wiremap.write.schedule import write_schedule


def write(tmp_path, frame):
    """Write a schedule and return the two files."""
    return write_schedule({}, tmp_path, {"slug": "acre", "schedule": frame})


def test_formulas_stay_text_and_numbers_stay_numbers(tmp_path):
    """A zone named as a formula is text in both files; ohms are a number; open is said."""
    frame = pd.DataFrame(
        {"zone": ["1", "2"], "name": ["=HYPERLINK(A1)", "Beds"], "ohms": [31.5, float("inf")]}
    )
    table, workbook = write(tmp_path, frame)
    assert [p.name for p in (table, workbook)] == ["acre-schedule.csv", "acre-schedule.xlsx"]

    with table.open(encoding="utf-8-sig", newline="") as file:
        rows = list(csv.reader(file))
    sheet = load_workbook(workbook).active

    assert rows[1] == ["1", "'=HYPERLINK(A1)", "31.5"]
    assert (sheet["B2"].value, sheet["B2"].data_type) == ("=HYPERLINK(A1)", "s")
    assert (sheet["C2"].value, sheet["C3"].value) == (31.5, "open")


def test_equal_schedules_make_equal_files(tmp_path):
    """Two writes of one schedule are the same to the byte."""
    frame = pd.DataFrame({"zone": ["1"], "valve": [None]})
    once = [p.read_bytes() for p in write(tmp_path, frame)]
    assert once == [p.read_bytes() for p in write(tmp_path, frame)]


def test_without_a_schedule_nothing_is_written(tmp_path):
    """Layers alone have no schedule."""
    assert write_schedule({}, tmp_path, {"slug": "acre"}) == []
