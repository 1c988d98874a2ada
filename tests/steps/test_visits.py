"""Rows of a season in one order, and identifiers that later visits use again."""

from __future__ import annotations

import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from wiremap.model.tables import LOCATES_IN
from wiremap.steps.visits import arrange_visits


def table(*rows):
    """Locates of (point, date, file) or (point, date, file, pair)."""
    columns = ["point", "date", "source_file", "pair"]
    return LOCATES_IN.conform(pd.DataFrame([dict(zip(columns, r, strict=False)) for r in rows]))


def test_one_visit_is_returned_as_it_is():
    """A property walked on one day keeps its table and gets no column."""
    rows = table(("B", "2026-03-11", "x.csv"), ("A", "2026-03-11T09:00:00", "x.csv"))
    arranged = arrange_visits(rows)
    assert arranged.locates is rows
    assert arranged.findings == []


def test_undated_rows_belong_to_the_visit_before_them_in_their_file():
    """A crew writes the date once; a file without any date comes first."""
    rows = table(
        ("A", "2026-06-12", "b.csv"), ("B", None, "b.csv"), ("C", None, "a.csv"),
        ("D", "2026-03-11", "c.csv"),
    )  # fmt: skip
    arranged = arrange_visits(rows).locates
    assert arranged[["point", "visit"]].to_numpy().tolist() == [
        ["C", ""], ["D", "2026-03-11"], ["A", "2026-06-12"], ["B", "2026-06-12"],
    ]  # fmt: skip
    assert arranged["date"].isna().tolist() == [True, False, False, True]


def test_an_identifier_seen_again_keeps_its_label_and_takes_its_offset_mark_along():
    """The pair of a renamed point follows it; the first visit keeps its identifiers."""
    rows = table(
        ("P1", "2026-03-11", "a.csv"), ("M1", "2026-03-11", "a.csv", "P1"),
        ("P1", "2026-06-12", "b.csv"), ("M2", "2026-06-12", "b.csv", "P1"),
    )  # fmt: skip
    arranged = arrange_visits(rows)
    assert arranged.locates["point"].tolist() == ["P1", "M1", "P1@2026-06-12", "M2"]
    assert arranged.locates["pair"].tolist()[1::2] == ["P1", "P1@2026-06-12"]
    assert arranged.locates["label"].tolist()[::2] == ["P1", "P1"]
    (finding,) = arranged.findings
    assert (finding.code, str(finding.severity)) == ("duplicate-point", "note")


def test_a_repeat_within_one_visit_is_left_to_the_checks():
    """Two rows of one day and name are no new sight of a feature."""
    rows = table(
        ("P1", "2026-03-11", "a.csv"), ("P1", "2026-03-11", "a.csv"), ("Q", "2026-06-12", "b.csv")
    )
    arranged = arrange_visits(rows)
    assert arranged.locates["point"].tolist() == ["P1", "P1", "Q"]
    assert arranged.findings == []


@pytest.mark.parametrize("rows", [[], [("A", None, "a.csv")]])
def test_nothing_dated_is_nothing_to_arrange(rows):
    """Empty and undated tables pass."""
    given_rows = table(*rows) if rows else LOCATES_IN.empty()
    assert arrange_visits(given_rows).locates is given_rows


days = st.sampled_from(["2026-03-11", "2026-05-02T08:15:00", "2026-06-12"])


@settings(max_examples=50, deadline=None)
@given(
    st.lists(st.lists(st.tuples(st.sampled_from("ABCD"), days), min_size=1, max_size=4), min_size=2,
             max_size=4),
    st.randoms(use_true_random=False),
)  # fmt: skip
def test_files_in_any_order_give_one_table(files, random):
    """Shuffling the files changes nothing: identifiers, labels, visits and order are the same."""
    named = [[(p, d, f"f{k}.csv") for p, d in rows] for k, rows in enumerate(files)]
    shuffled = random.sample(named, len(named))
    one = arrange_visits(table(*(r for rows in named for r in rows))).locates
    other = arrange_visits(table(*(r for rows in shuffled for r in rows))).locates
    if "visit" in one:
        pd.testing.assert_frame_equal(one, other)
    else:
        assert "visit" not in other
