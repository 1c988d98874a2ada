"""findings.csv, safe to open in a spreadsheet."""

from __future__ import annotations

import csv

import numpy as np
import pandas as pd
from hypothesis import given
from hypothesis import strategies as st

from wiremap.model.findings import Finding, tabulate_findings
from wiremap.model.tables import FINDINGS
from wiremap.write.findings import guard_formula, write_findings


def read(path):
    """Return the rows as a spreadsheet would see their text."""
    with path.open(encoding="utf-8-sig", newline="") as file:
        return list(csv.reader(file))


def test_the_file_starts_with_a_byte_order_mark_and_the_declared_columns(tmp_path):
    """Spreadsheets take a CSV without the mark for the local code page."""
    (path,) = write_findings({}, tmp_path, {})
    assert path.name == "findings.csv"
    assert path.read_bytes().startswith(b"\xef\xbb\xbf")
    assert read(path) == [FINDINGS.column_names]


def test_a_finding_is_one_row_with_its_cells(tmp_path):
    """Line breaks, quotes and accents come back; missing cells are empty."""
    found = Finding(
        "bad-value", "Küche", 'A "bad" value,\nsays the rule.', source_file="a.csv", source_row=3,
        value="=1+1",
    )  # fmt: skip
    (path,) = write_findings({"findings": tabulate_findings([found])}, tmp_path, {})
    row = dict(zip(*read(path), strict=True))
    assert row["subject"] == "Küche"
    assert row["message"] == 'A "bad" value,\nsays the rule.'
    assert row["source_row"] == "3"
    assert row["value"] == "'=1+1"
    assert row["column"] == ""


def test_a_missing_cell_is_empty(tmp_path):
    """NaN never shows as text."""
    table = tabulate_findings([Finding("no-zone-list", "x", "y")])
    table.loc[0, "subject"] = np.nan
    (path,) = write_findings({"findings": pd.DataFrame(table)}, tmp_path, {})
    assert dict(zip(*read(path), strict=True))["subject"] == ""


@given(st.text(max_size=12) | st.sampled_from(["-5", "+1.5e3", "-0,35", "-", "@x", "=1", " =1"]))
def test_no_cell_can_be_taken_for_a_formula(text):
    """A guarded cell starts harmlessly or is a plain number, and the text can be had back."""
    guarded = guard_formula(text)
    assert guarded.removeprefix("'") == text.removeprefix("'")
    first = guarded.lstrip(" ")[:1]
    if first in {"=", "+", "-", "@", "\t", "\r", "\n"} and first:
        float(guarded.strip().replace(",", "."))
