"""Where a plan is cut, and what shares its sheet."""

from __future__ import annotations

from dataclasses import replace
from io import BytesIO
from itertools import pairwise

import numpy as np
import pandas as pd
import pytest
from reportlab.pdfgen.canvas import Canvas
from sheet_layers import plan_context, plan_layers

from wiremap.draw.sheets.composition import compose_sheets, find_cuts
from wiremap.draw.sheets.contents import gather_contents
from wiremap.draw.sheets.furniture import lay_out
from wiremap.draw.sheets.measures import Units
from wiremap.draw.sheets.papers import PAPERS
from wiremap.draw.sheets.pen import Pen


def _contents(wires, **settings):
    return gather_contents(plan_layers(wires), context=plan_context(**settings), units=Units("ft"))


def test_a_plan_is_cut_where_no_wire_crosses():
    """Two groups of wires with a gap between them are parted in the gap."""
    contents = _contents({"W1": [(0, 0), (40, 10)], "W2": [(60, 0), (100, 10)]})
    cuts = find_cuts(contents, 0, extent=contents.extent, count=2, most_m=70.0)

    assert 40 < cuts[1] < 60
    assert cuts[1] == pytest.approx(50, abs=1.0)


@pytest.mark.parametrize("count", [2, 3, 5])
def test_no_tile_is_larger_than_its_sheet(count):
    """However the wires lie, the cuts ascend and stay within reach."""
    contents = _contents({f"W{n}": [(0, 0), (100, 3.0 * n)] for n in range(6)})
    cuts = find_cuts(contents, 0, extent=contents.extent, count=count, most_m=110 / count)

    assert len(cuts) == count + 1
    steps = [b - a for a, b in pairwise(cuts)]
    assert min(steps) >= 0
    assert max(steps) <= 110 / count + 1e-6


def test_what_a_small_plan_leaves_is_filled_with_tables():
    """Tables and profiles stand beside a plan that does not need the sheet."""
    sheets = compose_sheets(
        _contents({"W1": [(0, 0), (10, 14)]}), lay_out(PAPERS["arch-d"]), units="ft"
    )
    assert sheets[0].view is not None
    assert sheets[0].placed


@pytest.mark.parametrize("paper", sorted(PAPERS))
def test_nothing_leaves_the_body_of_its_sheet(paper):
    """Plan window, tables and profiles stay clear of spine, strip and border, and of each other."""
    layout = lay_out(PAPERS[paper])
    wires = {f"W{n}": [(0, 0), (40 + n, 3.0 * n), (60.0, 9.0 * n)] for n in range(9)}
    left, bottom, right, top = layout.body
    for sheet in compose_sheets(_contents(wires), layout, units="ft"):
        if sheet.view:
            window = sheet.view.window
            assert left < window[0] < window[2] < right
            assert bottom < window[1] < window[3] < top
        for piece, x, y in sheet.placed:
            assert left <= x < right
            assert bottom <= y - piece.height_pt + 1e-6
            assert y <= top
            beside = sheet.view is None or x >= sheet.view.window[2] or y <= sheet.view.window[1]
            assert beside


def test_no_run_is_left_without_its_profile_or_twice(monkeypatch):
    """Over all sheets, plans included, each run has one panel."""
    drawn = []
    monkeypatch.setattr(
        "wiremap.draw.sheets.profiles.Profiles._draw_panel",
        lambda _self, _pen, panel, *_: drawn.append(panel.run),
    )
    wires = {f"W{n}": [(0.0, 4.0 * n), (70.0 + n, 4.0 * n)] for n in range(30)}
    curves = pd.DataFrame(
        {"run": np.repeat(list(wires), 2), "chainage_m": [0.0, 60.0] * 30, "depth_m": 0.3,
         "depth_sigma_m": 0.02}
    )  # fmt: skip
    contents = gather_contents(
        plan_layers(wires), context=plan_context() | {"curves": curves}, units=Units("ft")
    )
    pen = Pen(Canvas(BytesIO()))
    for sheet in compose_sheets(contents, lay_out(PAPERS["tabloid"]), units="ft"):
        for piece, left, top in sheet.placed:
            piece.draw(pen, left, top)
    assert sorted(drawn) == sorted(wires)


@pytest.mark.parametrize(("corner_m", "reach_m"), [(80.0, 80.0), (20_000.0, 140.0)])
def test_a_plan_shows_the_property_and_not_the_town_that_its_base_holds(corner_m, reach_m):
    """A property line in reach is drawn whole; a layer of the whole town does not set the scale."""
    contents = _contents({"W1": [(0, 0), (40, 10)]})
    ring = np.array([[0.0, 0.0], [corner_m, 0.0], [corner_m, 10.0]])
    widened = replace(contents, base=[("property", "line", [ring])])

    assert widened.extent[2] == pytest.approx(max(contents.extent[2], reach_m), abs=10)
