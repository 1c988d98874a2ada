"""Marks joined to fixes by time; means over a stay."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from wiremap.read.marks import average_stays, join_marks_by_time, place_marks, steady_stays

FIXES = pd.DataFrame(
    {
        "date": [f"2026-05-04T12:00:{s:02d}Z" for s in (0, 2, 4, 30)],
        "lon": [-99.0, -98.0, -97.0, -90.0],
        "lat": [36.0, 36.5, 37.0, 40.0],
        "elevation_m": [300.0, 302.0, np.nan, 310.0],
        "h_rms_m": [0.02, 0.5, 0.02, 0.02],
    }
)


def join(*dates, **more):
    """Join marks at times."""
    return join_marks_by_time(pd.DataFrame({"date": dates, "note": "x"}), FIXES, **more)


def test_a_mark_between_two_fixes_is_interpolated_with_the_poorer_rms():
    """Halfway in time is halfway in position."""
    row = join("2026-05-04T12:00:01Z").loc[0]
    assert row[["lon", "lat", "elevation_m", "h_rms_m"]].tolist() == [-98.5, 36.25, 301.0, 0.5]
    assert row["note"] == "x"


def test_a_mark_at_a_fix_takes_it():
    """The last fix has no later one, and needs none."""
    assert join("2026-05-04T12:00:30Z", "2026-05-04T12:00:00Z")["lon"].tolist() == [-90, -99]


@pytest.mark.parametrize(
    "date",
    [
        "2026-05-04T12:00:15Z",
        "2026-05-04T11:59:59Z",
        "2026-05-04T12:00:31Z",
        "2026-05-04",
        "soon",
        None,
    ],
)
def test_a_mark_far_from_any_fix_has_no_position(date):
    """In a gap, before, after, without a time, not a time: nothing is made up."""
    assert join(date)[["lon", "lat", "h_rms_m"]].isna().all(axis=None)


def test_the_gap_that_is_bridged_can_be_widened():
    """The limit is the time between the fixes, not to the nearer one."""
    assert join("2026-05-04T12:00:17Z", max_gap_s=26.0)["lon"].tolist() == [-93.5]


def test_local_times_and_offsets_are_told_apart():
    """An offset in the text goes before the one given."""
    dates = ["2026-05-04T07:00:02", "2026-05-04 07:00:02-05:00", "2026-05-04T12:00:02Z"]
    assert join(*dates, utc_offset_h=-5.0)["lon"].tolist() == [-98, -98, -98]


def test_a_position_that_a_mark_carries_itself_is_kept():
    """Only gaps are filled."""
    marks = pd.DataFrame({"date": ["2026-05-04T12:00:02Z"] * 2, "lon": [-1.0, np.nan]})
    assert join_marks_by_time(marks, FIXES)["lon"].tolist() == [-1.0, -98.0]


def test_a_log_without_times_gives_no_positions():
    """An empty log too; the columns are there."""
    for fixes in (FIXES.assign(date=None), FIXES.iloc[:0]):
        joined = join_marks_by_time(pd.DataFrame({"date": ["2026-05-04T12:00:02Z"]}), fixes)
        assert joined["lon"].isna().all()


@settings(deadline=None)
@given(st.permutations(range(4)))
def test_the_order_of_the_log_does_not_matter(order):
    """Logs are put together from several files."""
    marks = pd.DataFrame({"date": ["2026-05-04T12:00:03Z", "2026-05-04T12:00:01Z"]})
    expected = join_marks_by_time(marks, FIXES)
    pd.testing.assert_frame_equal(join_marks_by_time(marks, FIXES.iloc[order]), expected)


def stay(lon, count, *, scatter=0.0):
    """Return fixes around one place."""
    rng = np.random.default_rng(1)
    return pd.DataFrame(
        {
            "lon": lon + scatter * rng.standard_normal(count),
            "lat": 36.0 + scatter * rng.standard_normal(count),
            "elevation_m": 300.0,
            "h_rms_m": 0.03,
            "date": [f"{lon} {i}" for i in range(count)],
        }
    )


def test_each_stay_becomes_its_mean_and_the_walk_between_is_left_out():
    """1e-7 degrees is about 1 cm; the two stays lie 90 m apart."""
    walk = stay(-99.0005, 1)
    log = pd.concat([stay(-99.0, 400, scatter=1e-7), walk, stay(-99.001, 20, scatter=1e-7)])
    means = average_stays(log.reset_index(drop=True))
    assert means["fixes"].tolist() == [400, 20]
    assert means["lon"].tolist() == pytest.approx([-99.0, -99.001], abs=5e-8)
    assert means["date"].tolist() == ["-99.0 0", "-99.001 0"]
    assert means["date_last"].tolist() == ["-99.0 399", "-99.001 19"]


def test_averaging_is_not_taken_to_make_a_fix_better():
    """Errors of consecutive fixes are alike (common practice, no source)."""
    log = stay(-99.0, 20)
    log.loc[:9, "h_rms_m"] = 0.04
    (rms,) = average_stays(log)["h_rms_m"].tolist()
    assert rms == pytest.approx(np.sqrt((0.03**2 + 0.04**2) / 2))


def test_short_stays_and_an_empty_log_give_no_rows():
    """A point passed by is not a stay; unknown RMS stays unknown."""
    assert len(average_stays(stay(-99.0, 9))) == 0
    assert len(average_stays(stay(-99.0, 0))) == 0
    assert "h_rms_m" not in average_stays(stay(-99.0, 12).drop(columns=["h_rms_m", "date"]))


def table(*rows):
    """Return locates given as point, time, longitude, fix quality and reference of a tie."""
    frame = pd.DataFrame(rows, columns=["point", "second", "lon", "fix_quality", "tie_a"])
    frame["date"] = [
        f"2026-05-04T12:00:{s:02d}Z" if s >= 0 else "2026-05-04" for s in frame["second"]
    ]
    frame["lat"] = frame["lon"] + 135
    frame["position_crs"] = np.where(frame["lon"].notna(), "EPSG:4326", None)
    return frame


def test_marks_of_a_list_stand_where_the_log_was():
    """The log served and is left out; a mark off the log stays without a position."""
    placed = place_marks(
        table(
            ("f1", 0, -99.0, 4, None),
            ("f2", 2, -98.0, 4, None),
            ("V1", 1, None, None, None),
            ("late", 50, None, None, None),
            ("no time", -1, None, None, None),
            ("taped", 1, None, None, "BC1"),
            ("own", 1, -90.0, None, None),
        )
    )
    frame = placed.locates.set_index("point")
    assert list(frame.index) == ["V1", "late", "no time", "taped", "own"]
    assert frame["lon"].fillna(0).tolist() == [-98.5, 0, 0, 0, -90.0]
    assert frame["lat"].fillna(0).tolist() == [36.5, 0, 0, 0, 45.0]
    assert frame.loc["V1", "position_crs"] == "EPSG:4326"
    assert placed.note.startswith("1 of 2 marks without a position were placed by time")
    assert "the log runs 2026-05-04T12:00:00 to 2026-05-04T12:00:02 UTC" in placed.note


def test_a_field_clock_behind_utc_is_set_right():
    """Marks of a clock five hours behind UTC, a log in UTC."""
    rows = table(("f1", 0, -99.0, 4, None), ("f2", 2, -98.0, 4, None), ("V1", 1, None, None, None))
    rows.loc[2, "date"] = "2026-05-04T07:00:01"
    assert "utc_offset_h = 0" in place_marks(rows).note
    assert place_marks(rows, utc_offset_h=-5).locates["lon"].tolist() == [-98.5]


@pytest.mark.parametrize(
    "rows",
    [
        [("f1", 0, -99.0, 4, None), ("own", 1, -90.0, None, None)],
        [("V1", 1, None, None, None), ("own", 1, -90.0, None, None)],
        [],
    ],
)
def test_without_marks_or_without_a_log_nothing_changes(rows):
    """The fixes of a log stay locates where nothing hangs on them."""
    locates = table(*rows)
    placed = place_marks(locates)
    assert placed.note == ""
    pd.testing.assert_frame_equal(placed.locates, locates)


def test_a_track_that_serves_stays_a_track():
    """A GPX track is the walked path itself."""
    locates = table(
        ("t1", 0, -99.0, 1, None), ("t2", 2, -98.0, 1, None), ("V1", 1, None, None, None)
    )
    placed = place_marks(locates.rename(columns={"fix_quality": "track_seg_id"}))
    assert placed.locates["point"].tolist() == ["t1", "t2", "V1"]
    assert placed.locates["lon"].tolist() == [-99.0, -98.0, -98.5]


def test_a_mark_taken_while_standing_gets_the_middle_of_the_stay():
    """Thirty fixes that wander by centimetres about one place: the mark stands in their middle."""
    rng = np.random.default_rng(4)
    wander = rng.normal(0, 2e-7, (30, 2))
    log = pd.DataFrame({
        "point": "fix", "fix_quality": 4.0, "lon": -99.0 + wander[:, 0], "lat": 36.0 + wander[:, 1],
        "date": [f"2026-05-04T12:00:{s:02d}Z" for s in range(30)]})  # fmt: skip
    mark = pd.DataFrame({"point": ["V1"], "date": ["2026-05-04T12:00:07Z"]})

    placed = place_marks(pd.concat([log, mark], ignore_index=True)).locates

    assert placed["point"].tolist() == ["V1"]
    assert placed["lon"].item() == pytest.approx(-99.0 + np.median(wander[:, 0]), abs=1e-12)
    assert placed["lat"].item() == pytest.approx(36.0 + np.median(wander[:, 1]), abs=1e-12)


def walk_to_and_fro(h_rms_m):
    """Twelve seconds on each of two marks 0.35 m apart, two steps of coming and going each."""
    lat = 36.0 + np.r_[[-6e-6, -3e-6], np.zeros(12), [1e-6], np.full(12, 3.15e-6), [6e-6, 9e-6]]
    return pd.DataFrame({"lon": -99.0, "lat": lat, "h_rms_m": h_rms_m})


def test_coming_and_going_does_not_draw_a_stay_aside():
    """The fixes of the steps lie up to 0.7 m off; the mark is where the receiver stood."""
    steady = steady_stays(walk_to_and_fro(np.nan).iloc[:15])
    assert steady["lat"].iloc[7] == pytest.approx(36.0, abs=1e-9)


def test_marks_of_a_located_pair_do_not_become_one_stay():
    """At 2 cm RMS, marks 0.35 m apart keep their distance: it is the depth."""
    steady = steady_stays(walk_to_and_fro(0.02))
    apart_m = (steady["lat"].iloc[20] - steady["lat"].iloc[7]) * 111_195
    assert apart_m == pytest.approx(0.35, abs=0.002)


def test_fixes_of_a_walk_are_left_as_they_are():
    """A metre and more between fixes is no stay."""
    walk = pd.DataFrame({"lon": -99.0 + np.arange(30) * 2e-5, "lat": 36.0})
    assert steady_stays(walk)["lon"].tolist() == walk["lon"].tolist()
