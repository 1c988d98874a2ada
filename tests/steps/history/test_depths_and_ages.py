"""Depths read again, and the age of observations."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest

from wiremap.model.settings import Settings
from wiremap.model.tables import DEPTH_READINGS
from wiremap.steps.history import count_days, date_record, settle_depths, widen_with_age

CRS = "EPSG:26914"


def readings(*rows):
    """Readings and rows of (visit, chainage, depth, sigma)."""
    visit, chainage, depth, sigma = zip(*rows, strict=True)
    table = pd.DataFrame(
        {"point": [f"P{k}" for k in range(len(rows))], "run": "W1", "chainage_m": chainage,
         "depth_m": depth, "depth_sigma_m": sigma, "locate": np.arange(len(rows))}
    )  # fmt: skip
    geometry = gpd.points_from_xy(chainage, np.zeros(len(rows)))
    frame = DEPTH_READINGS.conform(gpd.GeoDataFrame(table, geometry=geometry, crs=CRS))
    return frame, gpd.GeoDataFrame({"visit": list(visit)}, geometry=geometry, crs=CRS)


def test_depths_that_agree_all_stay():
    """0.30 and 0.32 m with 2 cm sigmas are one depth read twice."""
    frame, rows = readings(("2026-03-11", 10, 0.30, 0.02), ("2026-06-12", 11, 0.32, 0.02))
    settled = settle_depths(frame, rows)
    assert settled.readings is frame
    assert settled.history.empty


def test_a_newer_depth_replaces_the_older_one_it_contradicts():
    """Ground was taken: 0.30 m became 0.15 m; the older reading is kept in history."""
    frame, rows = readings(
        ("2026-03-11", 10, 0.30, 0.02),
        ("2026-03-11", 30, 0.30, 0.02),
        ("2026-06-12", 11, 0.15, 0.02),
    )
    settled = settle_depths(frame, rows)
    assert settled.readings["depth_m"].tolist() == [0.30, 0.15]
    row = settled.history.iloc[0]
    assert (row["reason"], row["depth_m"], row["valid_to"]) == ("remeasured", 0.30, "2026-06-12")
    assert [f.code for f in settled.findings] == ["superseded"]


def test_a_coarse_newer_depth_is_reported_and_nothing_is_dropped():
    """A newer reading of five times the sigma does not overrule."""
    frame, rows = readings(("2026-03-11", 10, 0.50, 0.01), ("2026-06-12", 11, 0.25, 0.05))
    settled = settle_depths(frame, rows)
    assert len(settled.readings) == 2
    assert [f.code for f in settled.findings] == ["visit-contradicts"]


def test_readings_far_apart_along_the_run_are_not_compared():
    """Depth changes along a wire; 10 m on it says nothing of the place."""
    frame, rows = readings(("2026-03-11", 10, 0.30, 0.01), ("2026-06-12", 20, 0.15, 0.01))
    assert settle_depths(frame, rows).history.empty


def test_two_readings_of_one_visit_are_left_to_the_profile():
    """What differs within a day is scatter or ground, not history."""
    frame, rows = readings(
        ("2026-06-12", 10, 0.30, 0.01),
        ("2026-06-12", 11, 0.15, 0.01),
        ("2026-03-11", 90, 0.3, 0.01),
    )
    assert settle_depths(frame, rows).history.empty


def test_ages_count_to_the_day_of_the_record():
    """A year and a day after 2025-03-10, by hand: 366 days."""
    assert count_days(pd.Series(["2025-03-10", "2026-03-11", None, "soon"]), until="2026-03-11")[
        :2
    ].tolist() == [366.0, 0.0]
    locates = pd.DataFrame({"date": ["2026-03-11T08:00:00", None]})
    assert date_record(locates, settings=Settings()) == "2026-03-11"
    stated = Settings.model_validate({"property": {"prepared_on": "2026-05-04"}})
    assert date_record(locates, settings=stated) == "2026-05-04"
    assert date_record(locates.iloc[1:], settings=Settings()) == ""


def test_the_band_widens_with_age_only_where_that_is_set():
    """0.1 m a year over 730.5 days is 0.2 m."""
    vertices = pd.DataFrame({"run": ["W1", "W2"]})
    runs = pd.DataFrame({"run": ["W1", "W2"], "last_date": ["2024-01-01", None]})
    assert widen_with_age(vertices, runs, until="2026-01-01", settings=Settings()) is vertices
    wide = Settings.model_validate({"advisory": {"widen_m_per_year": 0.1}})
    found = widen_with_age(vertices, runs, until="2026-01-01", settings=wide)["widen_m"]
    assert found.tolist() == [pytest.approx(0.1 * 731 / 365.25), 0.0]
