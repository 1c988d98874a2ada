"""Labels: none over another, none over a symbol, as few wires as can be."""

from __future__ import annotations

from io import BytesIO

import numpy as np
import pytest
import shapely
import shapely.affinity
from hypothesis import given, settings
from hypothesis import strategies as st
from reportlab.pdfgen.canvas import Canvas
from sheet_layers import plan_context, plan_layers

from wiremap.draw.sheets.composition import compose_sheets
from wiremap.draw.sheets.contents import gather_contents
from wiremap.draw.sheets.furniture import lay_out
from wiremap.draw.sheets.labels import Label
from wiremap.draw.sheets.measures import Units
from wiremap.draw.sheets.papers import PAPERS
from wiremap.draw.sheets.pen import Pen
from wiremap.draw.sheets.plans import draw_plan
from wiremap.draw.spots import place_labels

WINDOW = (0.0, 0.0, 400.0, 300.0)
NOTHING = np.empty((0, 4))


def _shapes(placement):
    """Return the outline of each placed label."""
    found = []
    for label, (x, y), angle, *_ in placement.placed:
        width, height = label.size
        box = shapely.box(x - width / 2, y - height / 2, x + width / 2, y + height / 2)
        found.append(shapely.affinity.rotate(box, angle))
    return found


def _place(labels, *, symbols=NOTHING, wires=NOTHING, runs=()):
    return place_labels(
        labels, window=WINDOW, symbols=symbols, wires=wires,
        wire_runs=np.array(runs, dtype=object),
    )  # fmt: skip


POINTS = st.lists(
    st.tuples(st.floats(0, 400), st.floats(0, 300), st.sampled_from(["V1", "Valve 17 · zone 3"])),
    min_size=1, max_size=40,
)  # fmt: skip


@settings(max_examples=40)
@given(POINTS)
def test_no_label_covers_another_or_a_symbol_or_leaves_the_window(points):
    """Whatever is crowded together, and every label is placed or left off, none twice."""
    labels = [
        Label((text, "deep 12 in"), (x, y), 8.0, rank=n % 3)
        for n, (x, y, text) in enumerate(points)
    ]
    symbols = np.array([(x - 3, y - 3, x + 3, y + 3) for x, y, _ in points])
    placement = _place(labels, symbols=symbols)
    shapes = np.array(_shapes(placement), dtype=object)
    first, second = shapely.STRtree(shapes).query(shapes, predicate="overlaps")

    assert len(placement.placed) + len(placement.left_off) == len(labels)
    assert first.size == second.size == 0
    assert all(shape.within(shapely.box(*WINDOW).buffer(1e-6)) for shape in shapes)
    for shape in shapes:
        assert shapely.area(shapely.intersection(shape, shapely.box(*symbols.T))).max() < 1e-6


def test_turned_labels_are_told_apart_by_their_outline():
    """Two labels along parallel slanting lines fit although their boxes overlap."""
    spots = [np.array([(100.0, 100.0, 45.0)]), np.array([(120.0, 96.0, 45.0)])]
    labels = [Label(("26.8 ft",), (0, 0), 8.0, spots=spot) for spot in spots]

    assert _place(labels).left_off == []


def test_the_more_important_label_is_placed_first():
    """Where only one fits, the lower rank wins whatever the order given."""
    spot = np.array([(200.0, 150.0, 0.0)])
    labels = [
        Label(("minor",), (0, 0), 8.0, rank=7, spots=spot),
        Label(("major",), (0, 0), 8.0, rank=1, spots=spot),
    ]
    placement = _place(labels)

    assert [place.label.lines for place in placement.placed] == [("major",)]
    assert [label.lines for label in placement.left_off] == [("minor",)]


def test_a_label_keeps_off_wires_where_it_can():
    """A wire to the right sends the label to the left."""
    wire = np.array([(205.0, 155.0, 390.0, 155.0), (205.0, 150.0, 390.0, 150.0)])
    (place,) = _place([Label(("V1",), (200.0, 150.0), 8.0)], wires=wire, runs=["W1", "W1"]).placed

    assert place.middle[0] < 200
    assert not place.covers_wire


def test_a_label_that_may_cover_no_wire_is_left_off_instead():
    """Dimensions in a thicket stand in the table only."""
    y = np.arange(100.0, 200.0, 2.0)
    wires = np.column_stack([np.zeros(50), y, np.full(50, 400.0), y])
    label = Label(("98.4 / 12",), (200.0, 150.0), 8.0, rings=1, most_wires=0)

    assert _place([label], wires=wires, runs=["W1"] * 50).left_off == [label]


def test_a_leader_is_drawn_only_where_the_label_is_away_from_its_point():
    """A lone label needs none; in a crowd some do."""
    lone = _place([Label(("V1",), (200.0, 150.0), 8.0)])
    crowd = _place([Label((f"V{n}",), (200.0, 150.0), 8.0) for n in range(20)])

    assert [place.has_leader for place in lone.placed] == [False]
    assert any(place.has_leader for place in crowd.placed)


def test_the_same_labels_land_in_the_same_places():
    """Placement has no chance in it."""
    labels = [Label((f"V{n}",), (10.0 * n % 90, 7.0 * n % 80), 8.0) for n in range(1, 30)]
    assert _place(labels) == _place(labels)


@pytest.mark.parametrize("paper", ["arch-d", "letter"])
def test_no_valve_of_a_crowded_plan_loses_its_label(paper):
    """Forty valves within reach of each other are all named."""
    turn = np.linspace(0, 2 * np.pi, 40, endpoint=False)
    reach = 12 + 14 * (np.arange(40) % 3)
    wires = {
        f"W{n}": [(0.0, 0.0), (float(r * np.cos(t)), float(r * np.sin(t)))]
        for n, (t, r) in enumerate(zip(turn, reach, strict=True))
    }
    contents = gather_contents(plan_layers(wires), context=plan_context(), units=Units("ft"))
    layout = lay_out(PAPERS[paper])
    pen = Pen(Canvas(BytesIO()))
    named = set()
    for sheet in compose_sheets(contents, layout, units="ft"):
        if sheet.view:
            placement = draw_plan(pen, contents, sheet.view, text_pt=layout.text_pt)
            named |= {p.label.lines[0] for p in placement.placed if p.label.rank == 2}
    assert len(named) == 40
