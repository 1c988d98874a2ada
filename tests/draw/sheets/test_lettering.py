"""Letters: what is set, how wide, and what becomes of characters without a glyph."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wiremap.draw.sheets import lettering
from wiremap.draw.sheets.lettering import cut, spell, text_width, wrap

TEXTS = st.text(max_size=80)


@given(TEXTS)
def test_every_character_is_set_or_named(text):
    """Nothing is dropped: each character is there, a space, or its number."""
    set_text = "".join(part for _, part in spell(text))
    for character in text:
        assert character in set_text or " " in set_text or f"U+{ord(character):04X}" in set_text


@given(TEXTS, st.floats(20, 300))
def test_a_cut_text_fits(text, width):
    """However narrow, the result is not wider than asked, but for the ellipsis itself."""
    found = cut(text, width, 8.0)
    assert text_width(found, 8.0) <= max(width, text_width("…", 8.0)) + 1e-9


@given(TEXTS, st.floats(20, 300))
def test_wrapped_lines_fit_and_keep_every_word(text, width):
    """Lines joined again give the words back, broken ones included."""
    lines = wrap(text, width, 8.0)

    assert all(text_width(line, 8.0) <= width + 1e-6 or len(line) == 1 for line in lines)
    assert "".join("".join(lines).split()) == "".join(text.split())


def test_a_text_without_end_is_cut_visibly():
    """Three thousand characters are enough for a drawing."""
    lines = wrap("word " * 5000, 200.0, 8.0, most=4)

    assert len(lines) == 4
    assert lines[-1].endswith("…")


def test_letters_outside_the_fonts_are_written_as_their_number():
    """A Chinese character has no glyph in either font."""
    assert spell("中")[0][1] == "[U+4E2D]"


def test_direction_marks_cannot_turn_a_text_around():
    """U+202E reverses what follows in some programs; on the drawing it is a number."""
    assert spell("a\u202eb") == (("WiremapSans", "a[U+202E]b"),)


def test_without_the_spare_font_its_characters_are_numbers_too(monkeypatch):
    """matplotlib is not needed."""
    monkeypatch.setattr(lettering, "_spare_path", lambda: None)
    lettering._font.cache_clear()
    lettering._widths.cache_clear()
    spell.cache_clear()
    try:
        assert spell("Ž") == (("WiremapSans", "Ž"),)
        assert spell("Ω≤→") == (("WiremapSans", "Ω≤[U+2192]"),)
    finally:
        lettering._font.cache_clear()
        lettering._widths.cache_clear()
        spell.cache_clear()


@pytest.mark.parametrize("text", ["°±²·≤≥Ωµ½…", "ÄÖÜäöüßéèñçå"])
def test_drawing_symbols_and_latin_letters_are_in_the_main_font(text):
    """Latin-1 and the signs that a drawing writes."""
    assert spell(text) == (("WiremapSans", text),)
