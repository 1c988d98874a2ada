"""The record drawing as a whole, read back from the PDF."""

from __future__ import annotations

import sys

import numpy as np
import pytest
from pdf_pages import (
    POINT_MM,
    is_colour,
    page_colours,
    page_strokes,
    page_words,
    read_pdf,
)
from pyproj import CRS
from sample_layers import make_context, make_layers
from sheet_layers import plan_context, plan_layers

from wiremap.draw.sheets.document import draw_sheets
from wiremap.draw.sheets.notes import CAUTION
from wiremap.draw.sheets.papers import PAPERS, SCALES
from wiremap.draw.styles import wire_ink
from wiremap.errors import MissingExtraError
from wiremap.model.settings import Settings

ALL_SCALES = [scale for scales in SCALES.values() for scale in scales]
LINE = {"W1": [(0.0, 0.0), (18.0, 24.0)]}


def _wire_length_pt(page, zone):
    """Return the length of the thickest line in the colour of a zone."""
    ink = wire_ink(zone).ink.light
    strokes = [s for s in page_strokes(page) if is_colour(s.colour, ink) and not s.is_filled]
    longest = max(np.hypot(*np.diff(s.points, axis=0).T).sum() for s in strokes if s.width > 1.5)
    return float(longest)


@pytest.mark.parametrize("scale", ALL_SCALES, ids=[scale.name for scale in ALL_SCALES])
def test_the_plan_is_true_to_scale_to_a_tenth_of_a_millimetre(scale):
    """30 m on the ground, measured on paper; one foot is 0.3048 m exactly (check-values: exact)."""
    context = plan_context(sheets={"scale": scale.name}, scale_factor=0.9996)
    pages = read_pdf(draw_sheets(plan_layers(LINE), context=context)).pages
    ground_m = 30.0 / 0.9996
    if scale.name.startswith("1:"):
        expected_mm = ground_m * 1000 / float(scale.name[2:])
    else:
        expected_mm = ground_m / 0.3048 / float(scale.name[4:-2]) * 25.4

    assert f"Scale {scale.label}" in page_words(pages[0])
    assert _wire_length_pt(pages[0], "1") * POINT_MM == pytest.approx(expected_mm, abs=0.1)


def test_a_survey_foot_grid_is_plotted_at_ground_feet():
    """300 survey feet are 1200/3937 x 300 m (US survey foot, exact by definition)."""
    crs = CRS("EPSG:2267")
    layers = plan_layers({"W1": [(0, 0), (300, 0)]}, crs=crs, origin=np.array([2.11e6, 106_000.0]))
    context = plan_context(crs=crs, sheets={"scale": "1in=20ft"})
    page = read_pdf(draw_sheets(layers, context=context)).pages[0]
    international_ft = 300 * 1200 / 3937 / 0.3048

    assert _wire_length_pt(page, "1") == pytest.approx(international_ft / 20 * 72, abs=0.28)


def test_the_scale_bar_measures_what_it_says():
    """Four blocks of 5 ft at 1 in = 10 ft take two inches."""
    context = plan_context(sheets={"scale": "1in=10ft"})
    page = read_pdf(draw_sheets(plan_layers(LINE), context=context)).pages[0]
    boxes = [s.points for s in page_strokes(page) if len(s.points) == 4 and not s.is_filled]
    blocks = {round(float(np.ptp(b[:, 0])), 2) for b in boxes if 3 < np.ptp(b[:, 1]) < 8}

    assert blocks == {36.0, round(2 / 0.3048 * 7.2, 2)}


@pytest.mark.parametrize("paper", sorted(PAPERS))
def test_sheets_have_the_size_of_their_paper(paper):
    """ARCH D 36 x 24 in, A1 841 x 594 mm, A3 420 x 297 mm (ISO 216), tabloid 17 x 11, letter."""
    sizes_mm = {
        "arch-d": (914.4, 609.6), "a1": (841, 594), "a3": (420, 297),
        "tabloid": (431.8, 279.4), "letter": (279.4, 215.9),
    }  # fmt: skip
    context = plan_context(sheets={"paper": paper})
    page = read_pdf(draw_sheets(plan_layers(LINE), context=context)).pages[0]
    size_mm = (float(page.mediabox.width) * POINT_MM, float(page.mediabox.height) * POINT_MM)

    assert size_mm == pytest.approx(sizes_mm[paper], abs=0.01)


@pytest.mark.parametrize("paper", sorted(PAPERS))
def test_every_sheet_carries_title_caution_grid_and_maker(paper):
    """What record drawings must say stands on each sheet, however small the paper."""
    references = {"NE corner": (5.0, 30.0), "NW corner": (-20.0, 30.0), "SW corner": (-20.0, 0.0)}
    layers = plan_layers(LINE, references=references)
    context = plan_context(sheets={"paper": paper})
    *sheets, chart = read_pdf(draw_sheets(layers, context=context)).pages
    said = [page_words(page) for page in sheets]

    assert sheets
    for number, words in enumerate(said, start=1):
        for part in (
            "RECORD DRAWING", "Quarry Pond Gardens", "CAUTION", CAUTION, "Field crew 2",
            "2026-03-14", "Grid scale factor 1.0000000", "NAD83 / UTM zone 14N (EPSG:26914)",
            "Convergence: grid north lies 0°51'11\" east of true north.", "No. Date Revision By",
            f"{number} of {len(sheets) + 1}", "North American Datum 1983",
        ):  # fmt: skip
            assert part in words, part
    assert "LEGEND" in said[0]
    assert "GRID N" in said[0]
    assert "TRUE N" in said[0]
    assert CAUTION in page_words(chart)


def test_the_same_record_gives_the_same_bytes():
    """A file that changes without cause cannot be compared."""
    layers, context = plan_layers(LINE), plan_context()
    assert draw_sheets(layers, context=context) == draw_sheets(layers, context=context)


def _long_property():
    return {
        f"W{n}": [(0.0, 0.0), (150.0, 40.0 * n - 100.0), (280.0, 55.0 * n - 150.0)]
        for n in range(1, 6)
    }


def test_a_plan_that_does_not_fit_is_split_over_match_lines():
    """Each sheet names the next at the cut, and each valve is labelled on one sheet only."""
    context = plan_context(sheets={"scale": "1in=20ft"})
    pages = read_pdf(draw_sheets(plan_layers(_long_property()), context=context)).pages
    words = [page_words(page) for page in pages]
    plans = [text for text in words if "MATCH LINE" in text]

    assert len(plans) > 1
    assert "KEY PLAN" in plans[0]
    for number, text in enumerate(plans, start=1):
        for other in range(1, len(plans) + 1):
            if f"MATCH LINE · SEE SHEET {other}" in text:
                assert f"MATCH LINE · SEE SHEET {number}" in plans[other - 1]
    for valve in range(1, 6):
        assert sum(f"V{valve} · zone {valve}" in text for text in plans) == 1


def test_every_wire_reaches_paper_on_a_split_plan():
    """Each wire is drawn whole under the window of a sheet; the window cuts what is seen."""
    context = plan_context(sheets={"scale": "1in=20ft"})
    wires = _long_property()
    pages = read_pdf(draw_sheets(plan_layers(wires), context=context)).pages
    plans = [page_strokes(page) for page in pages if "MATCH LINE" in page_words(page)]
    for zone, corners in enumerate(wires.values(), start=1):
        length_ft = np.hypot(*np.diff(np.array(corners), axis=0).T).sum() / 0.3048
        drawn = []
        for strokes in plans:
            ink = wire_ink(str(zone)).ink.light
            drawn += [
                float(np.hypot(*np.diff(s.points, axis=0).T).sum())
                for s in strokes
                if is_colour(s.colour, ink) and s.width > 1.5
            ]
        assert max(drawn) == pytest.approx(length_ft / 20 * 72, abs=0.3)


def test_black_only_means_black_and_white():
    """No colour and no grey is left that a plotter could not put down."""
    layers = make_layers(4)
    context = make_context() | {"settings": Settings(sheets={"monochrome": True})}
    for page in read_pdf(draw_sheets(layers, context=context)).pages:
        assert page_colours(page) <= {(0.0, 0.0, 0.0), (1.0, 1.0, 1.0)}


def test_metric_paper_speaks_metres_and_us_paper_feet():
    """The unit follows the paper unless the settings say otherwise."""
    layers = plan_layers(LINE)
    said = {}
    for paper, units in (("a1", "auto"), ("arch-d", "auto"), ("a1", "ft")):
        context = plan_context(sheets={"paper": paper, "units": units})
        said[paper, units] = page_words(read_pdf(draw_sheets(layers, context=context)).pages[0])

    assert "deep 0.30 ± 0.04 m" in said["a1", "auto"]
    assert "deep 11.8 ± 1.5 in" in said["arch-d", "auto"]
    assert "deep 11.8 ± 1.5 in" in said["a1", "ft"]
    assert "Scale 1:100" in said["a1", "auto"]


@pytest.mark.parametrize("name", sorted(make_layers(2)))
def test_any_layer_may_be_missing_or_alone(name):
    """Half a record is drawn too."""
    layers = make_layers(2)
    alone, without = {name: layers[name]}, {k: v for k, v in layers.items() if k != name}

    assert read_pdf(draw_sheets(alone, context=make_context())).pages
    assert read_pdf(draw_sheets(without, context=make_context())).pages


def test_an_empty_record_is_one_sheet_that_says_so():
    """Nothing located is not an error."""
    context = {"name": "Empty Acre", "slug": "empty-acre", "settings": Settings()}
    (page, *_) = read_pdf(draw_sheets({}, context=context)).pages

    assert "Empty Acre" in page_words(page)
    assert "not surveyed" in page_words(page)


def test_rows_without_geometry_are_passed_over():
    """A valve that was never placed has a row in the tables and no symbol."""
    layers = make_layers(3)
    for name in ("valves", "wire_runs", "wire_segments", "dig_buffer", "faults"):
        layers[name].loc[0, "geometry"] = None
    assert read_pdf(draw_sheets(layers, context=make_context())).pages


HOSTILE = (
    "<b>A&B</b> \x00\u202e ' \" \\ ) ( % 中文 Ünï 😀 " + "W" * 400 + " " + "long word " * 300,
    "",
    " ",
    ")Tj ET /F1 1 Tf BT (",
)


@pytest.mark.parametrize("text", HOSTILE, ids=["long", "empty", "blank", "operators"])
@pytest.mark.parametrize("paper", ["arch-d", "letter"])
def test_text_from_the_field_is_only_ever_text(text, paper):
    """Names that are long, strange or meant as PDF operators do no harm."""
    layers = make_layers(3)
    for frame in layers.values():
        for column in frame.columns:
            if column != "geometry" and frame[column].dtype == "str":
                frame[column] = text
    context = make_context() | {
        "name": text,
        "settings": Settings(sheets={"paper": paper}, chart={"link": "map.html"}),
    }
    reader = read_pdf(draw_sheets(layers, context=context))

    assert "CAUTION" in page_words(reader.pages[0])
    assert len(reader.pages) < 30


def test_every_font_is_embedded():
    """A drawing that is archived must not depend on what is installed where it is read."""
    for page in read_pdf(draw_sheets(plan_layers(LINE), context=plan_context())).pages:
        for font in page["/Resources"]["/Font"].values():
            assert "/FontFile2" in font.get_object()["/FontDescriptor"].get_object()


def test_revisions_and_approval_are_stated():
    """An amendment of property.toml stands in the revision table of each sheet."""
    revision = {"date": "2026-09-01", "text": "Valve V4 moved", "by": "J"}
    context = plan_context(
        sheets={"revisions": [revision]},
        chart={"approved": True, "approved_by": "Engineer 4", "approved_on": "2026-04-02"},
    )
    pages = read_pdf(draw_sheets(plan_layers(LINE), context=context)).pages

    assert "1 2026-09-01 Valve V4 moved J" in page_words(pages[0])
    assert "Engineer 4, 2026-04-02" in page_words(pages[0])
    assert "DRAFT" not in page_words(pages[-1])


def test_what_is_missing_to_draw_is_named(monkeypatch):
    """Without reportlab the error names the line that installs it."""
    monkeypatch.setitem(sys.modules, "reportlab.pdfgen.canvas", None)
    with pytest.raises(MissingExtraError, match=r"pip install 'wiremap\[sheets\]'"):
        draw_sheets({}, context=plan_context())
