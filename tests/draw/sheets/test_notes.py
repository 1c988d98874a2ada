"""The words of datum, factors, convergence and accuracy."""

from __future__ import annotations

import pandas as pd
import pytest
from pyproj import CRS
from sheet_layers import UTM, plan_context, plan_layers

from wiremap.draw.sheets.contents import gather_contents
from wiremap.draw.sheets.measures import Units
from wiremap.draw.sheets.notes import accuracy_notes, coordinate_notes, revisions
from wiremap.model.frame import Frame

LINE = {"W1": [(0.0, 0.0), (18.0, 24.0)]}


def _contents(frame=None, layers=None):
    context = plan_context() | ({"frame": frame} if frame else {})
    return gather_contents(plan_layers(LINE) | (layers or {}), context=context, units=Units("ft"))


def test_the_combined_factor_is_grid_times_elevation():
    """R / (R + h) with R = 6 371 km: at 1000 m 0.9998431 (textbook formula, from memory)."""
    locates = pd.DataFrame({"elevation_m": [990.0, 1010.0]})
    said = " ".join(
        coordinate_notes(_contents(Frame(UTM, UTM, scale_factor=0.9996), {"locates": locates}))
    )

    assert "Grid scale factor 0.9996000; elevation factor 0.9998431 at 1000 m" in said
    assert "combined factor 0.9994431" in said


def test_without_elevations_that_is_said():
    """Nothing is made up where heights are not known."""
    said = " ".join(coordinate_notes(_contents()))
    assert "No ground elevations are known" in said
    assert "Vertical datum: none" in said


@pytest.mark.parametrize(
    ("angle", "words"),
    [(0.85300891, "0°51'11\" east"), (-1.5, "1°30'00\" west"), (0.0, "grid north is true north")],
)
def test_convergence_is_stated_with_its_side(angle, words):
    """Clockwise of true north is east."""
    said = " ".join(coordinate_notes(_contents(Frame(UTM, UTM, convergence_deg=angle))))
    assert words in said


def test_a_crs_without_a_code_is_named_all_the_same():
    """A local projection has no authority code."""
    crs = CRS("+proj=tmerc +lat_0=35 +lon_0=-97 +datum=NAD83 +units=us-ft")
    said = " ".join(coordinate_notes(_contents(Frame(crs, crs))))
    assert "unit US survey foot" in said


def test_the_statement_of_the_standard_is_repeated_word_for_word():
    """FGDC-STD-007.3 gives the words; the provenance carries them."""
    text = "Tested 0.412 meters horizontal accuracy at 95% confidence level"
    provenance = pd.DataFrame({"item": ["NSSDA horizontal"], "value": [text]})

    assert f"NSSDA horizontal: {text}." in accuracy_notes(
        _contents(layers={"provenance": provenance})
    )


def test_without_check_points_no_accuracy_is_claimed():
    """The field crew's own figures are named as such."""
    assert any("No check points" in note for note in accuracy_notes(_contents()))


def test_the_first_revision_is_the_issue_itself():
    """An unamended record has one line."""
    (first,) = revisions(_contents())
    assert first == ("0", "2026-03-14", "Record drawing, first issue", "Field crew 2")
