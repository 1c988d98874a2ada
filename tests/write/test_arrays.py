"""Columns of any kind as arrays for pyogrio."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pandas as pd
from hypothesis import given
from hypothesis import strategies as st

from wiremap.write.arrays import RESERVED_NAMES, flatten_fields, unique_names


def flat(values, **more):
    """Return the values and nulls of a frame with one column."""
    _, values, nulls = flatten_fields(pd.DataFrame({"a": values}), **more)
    return values[0].tolist(), nulls[0]


def test_numbers_and_flags_keep_their_type_and_say_where_they_are_missing():
    """A whole number with a gap stays whole."""
    values, nulls = flat(pd.array([1, None, 3], dtype="Int64"))
    assert (values, nulls.tolist()) == ([1, 0, 3], [False, True, False])
    values, nulls = flat(pd.array([True, None], dtype="boolean"))
    assert (values, nulls.tolist()) == ([True, False], [False, True])
    assert flat(np.array([1, 2], dtype="int32")) == ([1, 2], None)
    assert flat(np.array([1.5, 2.5], dtype="float32")) == ([1.5, 2.5], None)
    assert flat(np.array([True, False])) == ([True, False], None)


def test_infinity_is_kept_or_made_null():
    """Formats without infinity ask for finite numbers."""
    assert flat([np.inf, 1.0])[0] == [np.inf, 1.0]
    assert np.isnan(flat([np.inf, 1.0], finite=True)[0][0])


def test_everything_else_is_text_and_dates_are_iso_8601():
    """Objects, categories, dates, times with a zone, and whole numbers too large for a file."""
    assert flat(pd.Series(["x", None], dtype="str"))[0] == ["x", None]
    assert flat([dt.date(2026, 5, 4), None])[0] == ["2026-05-04", None]
    moments = pd.to_datetime(["2026-05-04T12:00:00+02:00", None])
    assert flat(moments)[0] == ["2026-05-04T12:00:00+02:00", None]
    assert flat(pd.Categorical(["p", None]))[0] == ["p", None]
    assert flat(np.array([2**64 - 1], dtype="uint64"))[0] == [str(2**64 - 1)]
    assert flat(np.array([None, 2.5], dtype=object))[0] == [None, "2.5"]


def test_text_that_utf_8_cannot_hold_is_cleaned():
    """Names of files may hold bytes of no encoding, which Python shows as surrogates."""
    assert flat(pd.Series(["a\udcff.csv", "K\u00fcche", None], dtype=object))[0] == [
        "a?.csv",
        "K\u00fcche",
        None,
    ]


def test_columns_of_one_name_are_all_kept():
    """pandas allows a name twice."""
    frame = pd.DataFrame([[1, 2]], columns=["a", "a"])
    assert flatten_fields(frame).names == ["a", "a_2"]


@given(st.lists(st.text(max_size=6) | st.sampled_from(["fid", "GEOM", "Fid_2", "a", "A"])))
def test_names_are_unique_whatever_their_case(names):
    """SQLite does not tell upper from lower case."""
    unique = [name.lower() for name in unique_names(names)]
    assert len(set(unique)) == len(names)
    assert not set(unique) & set(RESERVED_NAMES)
    assert all(name.isprintable() and name for name in unique)
