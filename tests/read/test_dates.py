"""Dates and times as people write them."""

import datetime as dt

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from wiremap.read.dates import read_dates


@pytest.mark.parametrize(
    ("cell", "iso"),
    [
        ("2026-05-04", "2026-05-04"), ("2026-05-04 14:30", "2026-05-04T14:30"),
        ("2026-05-04T14:30:05Z", "2026-05-04T14:30:05Z"), ("2026/5/4", "2026-05-04"), ("20260504", "2026-05-04"),
        ("25/5/2026", "2026-05-25"), ("5/25/2026", "2026-05-25"), ("4.5.2026", "2026-05-04"), ("4 May 2026", "2026-05-04"),
        ("May 4, 2026", "2026-05-04"), ("4-May-26", "2026-05-04"), ("5/25/26 2:30 PM", "2026-05-25T14:30:00"),
        (dt.date(2026, 5, 4), "2026-05-04"), (dt.datetime.fromisoformat("2026-05-04T14:30:00"), "2026-05-04T14:30:00"),
        (dt.datetime.fromisoformat("2026-05-04"), "2026-05-04"), ("05/25/2026 12:43:39.500 PDT", "2026-05-25T12:43:39-07:00"),
        ("2026/05/04 13:20:23.6999999", "2026-05-04T13:20:23"), ("5/25/2026 9:30 UTC", "2026-05-25T09:30:00Z"),
    ],
)  # fmt: skip
def test_dates_become_iso(cell, iso):
    """ISO 8601 calendar dates and times."""
    assert read_dates(pd.Series([cell], dtype=object)).data.tolist() == [iso]


@pytest.mark.parametrize(
    "cell",
    [
        "0000-01-01",
        "9999-12-31",
        "2026-02-30",
        "2026-13-01",
        "31/31/2026",
        "soon",
        "2026",
        "46146",
        "2026-05-04 25:00",
    ],
)
def test_what_is_no_date_of_our_time_is_bad(cell):
    """Year zero and year 9999 are what receivers and databases write for no date."""
    read = read_dates(pd.Series([cell]))

    assert read.bad.tolist() == [True]
    assert pd.isna(read.data[0])


def test_typed_times_become_iso_in_utc():
    """Vector files bring times with a zone; a column of midnights is a column of dates."""
    zoned = pd.Series(pd.to_datetime(["2026-05-04T10:00:00-06:00", None], utc=True))
    plain = pd.Series(pd.to_datetime(["2026-05-04", "1900-01-01"]))

    assert read_dates(zoned).data.tolist() == ["2026-05-04T16:00:00Z", np.nan]
    assert read_dates(plain).data.tolist() == ["2026-05-04", np.nan]
    assert read_dates(plain).bad.tolist() == [False, True]


def test_one_day_over_twelve_decides_for_the_whole_column():
    """3/4 is the third of April where 25/5 stands beside it; that is noted."""
    read = read_dates(pd.Series(["3/4/2026", "25/5/2026"]))

    assert read.data.tolist() == ["2026-04-03", "2026-05-25"]
    assert "day first" in read.notes[0]


def test_where_either_order_fits_it_is_said_which_was_taken():
    """Month first is this trade's home order; the setting fixes it."""
    read = read_dates(pd.Series(["3/4/2026"]))

    assert read.data.tolist() == ["2026-03-04"]
    assert "either fits" in read.notes[0]
    assert read_dates(pd.Series(["3/4/2026"]), day_first=True).data.tolist() == ["2026-04-03"]


@given(
    st.dates(dt.date(1950, 1, 1), dt.date(2100, 12, 31)), st.sampled_from(["%d/%m/%Y", "%m/%d/%Y"])
)
def test_a_date_reads_back_when_its_order_is_given(day, layout):
    """Both orders, with the setting that says which."""
    read = read_dates(pd.Series([day.strftime(layout)]), day_first=layout.startswith("%d"))

    assert read.data.tolist() == [day.isoformat()]


@given(st.text(max_size=50))
def test_any_text_is_a_date_or_bad_or_empty(text):
    """Nothing raises, and dates are ISO."""
    read = read_dates(pd.Series([text], dtype="str"))

    if text.strip() and not read.bad[0]:
        assert 1950 <= dt.date.fromisoformat(read.data[0][:10]).year <= 2100
