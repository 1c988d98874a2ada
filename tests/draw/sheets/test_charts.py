"""The controller chart, read back from the PDF."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
import segno
from pdf_pages import POINT_MM, font_sizes, page_strokes, page_words, read_pdf
from sheet_layers import plan_context, plan_layers

from wiremap.draw.sheets.codes import LONGEST_LINK
from wiremap.draw.sheets.document import draw_sheets

CAPITAL = 0.729
"""Height of the font's capitals in font sizes, from its own OS/2 table."""


def _schedule(count, controller="A"):
    return pd.DataFrame(
        {
            "zone": [str(n) for n in range(1, count + 1)],
            "controller": controller,
            "name": [f"Bed {n}" for n in range(1, count + 1)],
            "valve": [f"V{n}" for n in range(1, count + 1)],
        }
    )


def _charts(schedule=None, **chart):
    layers = plan_layers({"W1": [(0.0, 0.0), (18.0, 24.0)], "W2": [(0.0, 0.0), (-30.0, 5.0)]})
    context = plan_context(chart=chart) | {"schedule": schedule}
    pages = read_pdf(draw_sheets(layers, context=context)).pages
    return [page for page in pages if "CONTROLLER CHART" in page_words(page)]


def test_the_chart_has_the_size_of_the_door():
    """8 x 10 in where the settings say nothing."""
    (page,) = _charts()
    size_mm = (float(page.mediabox.width) * POINT_MM, float(page.mediabox.height) * POINT_MM)

    assert size_mm == pytest.approx((203.2, 254.0), abs=0.01)


@pytest.mark.parametrize("zones", [2, 24, 60, 200])
@pytest.mark.parametrize("height_mm", [1.5, 2.5])
def test_no_letter_is_lower_than_the_settings_allow(zones, height_mm):
    """The chart is drawn at its own size, so what is measured here is what hangs in the door."""
    for page in _charts(_schedule(zones), min_text_m=height_mm / 1000):
        lowest_mm = min(font_sizes(page)) * CAPITAL * POINT_MM
        assert lowest_mm >= height_mm - 0.005


@pytest.mark.parametrize("zones", [1, 9, 60, 200])
def test_every_zone_is_listed(zones):
    """On as many pages as it takes."""
    words = " ".join(page_words(page) for page in _charts(_schedule(zones)))
    assert all(f" Bed {n} " in words for n in range(1, zones + 1))


def test_the_chart_is_a_draft_until_the_drawing_is_approved():
    """A public works specification: approved before the chart is made."""
    (draft,) = _charts()
    (final,) = _charts(approved=True, approved_on="2026-04-02")

    assert "DRAFT" in page_words(draft)
    assert "DRAFT" not in page_words(final)
    assert "Record drawing approved 2026-04-02" in page_words(final)


def test_the_number_of_copies_is_stated():
    """A county development standard: three for each controller."""
    (page,) = _charts()
    assert "Make 3 copies; keep one in the controller" in page_words(page)


def test_each_controller_has_a_chart_of_its_own_zones():
    """Zones of another controller are on the other chart."""
    schedule = pd.concat([_schedule(3), _schedule(2, "B").assign(name="Meadow")])
    layers = plan_layers({"W1": [(0.0, 0.0), (18.0, 24.0)]})
    layers["zones"] = pd.DataFrame({"zone": ["1", "1"], "controller": ["A", "B"]})
    pages = read_pdf(draw_sheets(layers, context=plan_context() | {"schedule": schedule})).pages
    first, second = (page_words(p) for p in pages if "CONTROLLER CHART" in page_words(p))

    assert "Controller A" in first
    assert "Meadow" not in first
    assert second.startswith("Controller B")
    assert "Meadow" in second
    assert "Bed 1" not in second


@pytest.mark.parametrize("link", ["maps/quarry-pond.html", "https://example.org/" + "a" * 900])
def test_the_code_on_the_chart_is_the_code_of_the_link(link):
    """Each module of the printed code is dark or light as ISO/IEC 18004 codes the text."""
    (page,) = _charts(link=link)
    matrix = (
        np.array([list(row) for row in segno.make_qr(link[:LONGEST_LINK], error="m").matrix]) & 1
    )
    dark = [s.points for s in page_strokes(page) if s.is_filled and s.colour == (0.0, 0.0, 0.0)]
    module = min(float(np.ptp(box[:, 1])) for box in dark)
    left, top = (min(box[:, 0].min() for box in dark), max(box[:, 1].max() for box in dark))
    read = np.zeros_like(matrix)
    for box in dark:
        row = round((top - box[:, 1].max()) / module)
        start, end = (round((edge - left) / module) for edge in (box[:, 0].min(), box[:, 0].max()))
        read[row, start:end] = 1

    assert (read == matrix).all()
    assert module * POINT_MM > 0.25


def test_a_zone_without_wire_has_no_colour_and_says_so():
    """Zone 3 was never found: a line of its colour beside it would claim wire."""
    listed = _schedule(3)
    listed["valve"] = ["V1", "V2", ""]
    (page,) = _charts(listed)
    swatches = {
        round(float(stroke.points[0, 1]), 1)
        for stroke in page_strokes(page)
        if len(stroke.points) == 2 and np.ptp(stroke.points[:, 0]) < 40 and stroke.width > 2
    }

    assert "not located" in page_words(page)
    assert len(swatches) == 2


def test_who_prepared_the_chart_is_stated_only_where_it_is_known():
    """An unnamed and undated record says nothing rather than 'not dated by not stated'."""
    layers = plan_layers({"W1": [(0.0, 0.0), (18.0, 24.0)]})
    blank = plan_context(property={})
    words = " ".join(map(page_words, read_pdf(draw_sheets(layers, context=blank)).pages))

    assert "Prepared not" not in words
    assert "Prepared 2026-03-14 by Field crew 2." in " ".join(map(page_words, _charts()))
