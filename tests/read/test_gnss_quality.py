"""RMS from fix quality and HDOP."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from wiremap.model.settings import Coordinates
from wiremap.read.gnss_quality import estimate_rms, fill_rms

FIGURES = Coordinates().rms_at_hdop_1_m


def fixes(**columns):
    """Two positions of one receiver."""
    return pd.DataFrame({"lon": [-99.0, -99.1], "easting": np.nan, "h_rms_m": np.nan} | columns)


def test_the_rms_grows_with_hdop_and_falls_with_better_fixes():
    """Horizontal accuracy is range accuracy times HDOP (common practice, no source)."""
    differential, autonomous = estimate_rms([2, 1], [1.0] * 2, at_hdop_1_m=FIGURES)
    assert differential < autonomous
    assert estimate_rms([1], [2.0], at_hdop_1_m=FIGURES) == pytest.approx(2 * autonomous)


@pytest.mark.parametrize(
    ("quality", "hdop"), [(0, 1), (4, 1), (5, 1), (7, 1), (8, 1), (1, np.nan), (1, 0), (np.nan, 1)]
)
def test_nothing_is_made_up(quality, hdop):
    """No fix, real-time kinematic without a figure set, typed in, simulated, or without HDOP."""
    assert np.isnan(estimate_rms([quality], [hdop], at_hdop_1_m=FIGURES)).all()


@given(st.sampled_from(sorted(FIGURES)), st.floats(0.4, 50))
def test_every_set_quality_gives_a_positive_figure(quality, hdop):
    """In proportion to HDOP."""
    rms = estimate_rms([quality], [hdop], at_hdop_1_m=FIGURES)[0]
    assert rms == pytest.approx(FIGURES[quality] * hdop)


def test_a_stated_rms_goes_before_what_hdop_lets_expect():
    """GST, or a column of the file; the row without one is filled and told."""
    table = fixes(fix_quality=[1, 1], hdop=[0.9, 0.9], h_rms_m=[0.3, np.nan])
    (note,) = fill_rms(table, coordinates=Coordinates())
    assert table["h_rms_m"].tolist() == pytest.approx([0.3, 3.6])
    assert "1 positions state no accuracy" in note
    assert "4 m for quality 1" in note


def test_a_lone_hdop_is_no_accuracy_and_that_is_said():
    """Without a fix quality nothing is known of the ranges that HDOP multiplies."""
    table = fixes(hdop=[0.9, 1.1])
    (note,) = fill_rms(table, coordinates=Coordinates(default_rms_m=0.7))
    assert table["h_rms_m"].isna().all()
    assert "default_rms_m, 0.7 m" in note


def test_the_words_of_gpx_for_a_fix_are_understood():
    """GPX 1.1, fixType: 3d is autonomous, dgps differential (from memory)."""
    table = fixes(fix=["3d", "dgps"], hdop=["1.0", "1.0"])
    fill_rms(table, coordinates=Coordinates())
    assert table["h_rms_m"].tolist() == [FIGURES[1], FIGURES[2]]


def test_figures_of_ones_own_are_used():
    """A receiver of which more is known: real-time kinematic fixes of 3 cm."""
    table = fixes(fix_quality=[4, 5], hdop=[1.0, 1.0])
    fill_rms(table, coordinates=Coordinates.model_validate({"rms_at_hdop_1_m": {"4": 0.03}}))
    assert table["h_rms_m"].tolist() == pytest.approx([0.03, np.nan], nan_ok=True)


def test_a_fix_without_hdop_is_as_good_as_at_hdop_1_at_most():
    """RMC alone, or a GPX with fix and no DOP: half a metre would be claimed for a coarse fix."""
    table = fixes(fix_quality=[1, 4])
    notes = fill_rms(table, coordinates=Coordinates())
    assert table["h_rms_m"].tolist() == pytest.approx([FIGURES[1], np.nan], nan_ok=True)
    assert "state no HDOP either" in notes[1]
