"""The field sheet: what stands on its pages."""

from __future__ import annotations

import pytest
from pdf_pages import page_words, read_pdf

from wiremap.draw.fieldsheet.document import draw_field_sheet
from wiremap.draw.fieldsheet.forms import Form
from wiremap.model.kinds import Feature
from wiremap.model.tables import LOCATES_IN

PAPERS = [("letter", "ft", (792.0, 612.0)), ("a4", "m", (841.89, 595.28))]
"""US letter is 11 x 8.5 in (ANSI/ASME Y14.1); A4 is 297 x 210 mm (ISO 216), both from memory."""


@pytest.mark.parametrize(("paper", "units", "size"), PAPERS)
def test_three_pages_of_the_paper_s_size_each_with_the_caution(paper, units, size):
    """Advisory, one-call, transmitter off, hand dig: on every page that is carried outside."""
    pages = read_pdf(draw_field_sheet(paper, units=units)).pages
    assert len(pages) == 3
    for page in pages:
        assert (float(page.mediabox.width), float(page.mediabox.height)) == pytest.approx(
            size, abs=0.01
        )
        words = page_words(page)
        for caution in (
            "not a utility locate",
            "one-call",
            "Switch the transmitter off",
            "by hand",
        ):
            assert caution in words


@pytest.mark.parametrize(("unit", "left", "right"), [("ft", "in", "11 1/2"), ("m", "m", "0.305")])
def test_headings_carry_their_unit_and_the_example_is_in_it(unit, left, right):
    """A heading on paper is the heading of the table that it is typed into."""
    words = page_words(read_pdf(draw_field_sheet("letter", units=unit)).pages[0])
    assert f"left_{left}" in words.replace(" ", "")
    assert right in words


def test_every_feature_word_stands_on_the_sheet():
    """Whoever is in the field finds the word."""
    words = page_words(read_pdf(draw_field_sheet("letter", units="ft")).pages[2]).split()
    assert [str(f) for f in Feature if str(f) not in words] == []


def test_a_form_cannot_ask_for_what_is_not_declared():
    """The columns on paper come from the declared table."""
    with pytest.raises(KeyError, match="colour_of_the_sky"):
        Form("", LOCATES_IN, {"colour_of_the_sky": 1.0}).headings("m")
