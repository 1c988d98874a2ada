"""Depth profiles read back from the PDF."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from pdf_pages import is_colour, page_strokes, page_words, read_pdf
from sheet_layers import plan_context, plan_layers

from wiremap.draw.sheets.contents import gather_contents
from wiremap.draw.sheets.document import draw_sheets
from wiremap.draw.sheets.measures import Units
from wiremap.draw.sheets.profiles import make_profiles
from wiremap.draw.styles import wire_ink

FRAME = (0.0, 0.0, 900.0, 700.0)


def _contents(count=1, depth=(0.3, 0.45)):
    wires = {f"W{n}": [(0.0, 3.0 * n), (30.0, 3.0 * n)] for n in range(1, count + 1)}
    curves = pd.concat(
        pd.DataFrame(
            {"run": run, "chainage_m": [0.0, 30.0], "depth_m": depth, "depth_sigma_m": 0.02}
        )
        for run in wires
    )
    context = plan_context() | {"curves": curves}
    return plan_layers(wires), context


def test_the_curve_is_drawn_at_the_stated_scales():
    """30 m along at the stated scale; 0.15 m down between its ends at the stated exaggeration."""
    layers, context = _contents()
    (page, *_) = [
        p for p in read_pdf(draw_sheets(layers, context=context)).pages
        if "Depth profiles" in page_words(p)
    ]  # fmt: skip
    words = page_words(page)
    feet = float(words.split("Along the wire 1 in = ")[1].split(" ft")[0])
    times = float(words.split("depth drawn ")[1].split(" times")[0])
    ink = wire_ink("1").ink.light
    lengths = [
        s.points for s in page_strokes(page)
        if is_colour(s.colour, ink) and 0 < abs(np.ptp(s.points[:, 1])) < np.ptp(s.points[:, 0])
    ]  # fmt: skip
    curve = lengths[-1]
    along = np.ptp(curve[:, 0])

    assert along == pytest.approx(30 / 0.3048 / feet * 72, abs=0.05)
    assert np.ptp(curve[:, 1]) == pytest.approx(along * 0.15 / 30 * times, rel=0.05)
    assert curve[0, 1] > curve[-1, 1]


@pytest.mark.parametrize("count", [1, 7, 40])
def test_every_run_with_a_depth_has_a_panel(count):
    """In as many frames as it takes."""
    layers, context = _contents(count)
    contents = gather_contents(layers, context=context, units=Units("ft"))
    rest, seen = make_profiles(contents, frames=[FRAME], text_pt=8.0), 0
    while rest is not None:
        before = len(rest.panels)
        piece, rest = rest.take(900.0, 300.0)
        assert piece.height_pt <= 300.0 + 1e-6
        seen += before - (len(rest.panels) if rest else 0)
    assert seen == count


def test_a_run_longer_than_the_sheet_is_fitted_in():
    """Five kilometres of wire are drawn at a scale of their own."""
    layers = plan_layers({"W1": [(0.0, 0.0), (5000.0, 0.0)]})
    curves = pd.DataFrame(
        {"run": "W1", "chainage_m": [0.0, 5000.0], "depth_m": 0.3, "depth_sigma_m": np.nan}
    )
    contents = gather_contents(
        layers, context=plan_context() | {"curves": curves}, units=Units("ft")
    )
    profiles = make_profiles(contents, frames=[FRAME], text_pt=8.0)
    piece, rest = profiles.take(900.0, 700.0)

    assert piece is not None
    assert rest is None


def test_without_depths_there_are_no_profiles():
    """Nothing is drawn for a run that nobody measured."""
    layers, context = _contents(depth=(np.nan, np.nan))
    contents = gather_contents(layers, context=context, units=Units("ft"))
    assert make_profiles(contents, frames=[FRAME], text_pt=8.0) is None
