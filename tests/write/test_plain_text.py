"""Field text as one plain line."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from hostile import HOSTILE

from wiremap.write.plain_text import plain_text


@pytest.mark.parametrize("missing", [None, float("nan"), np.nan, pd.NA, pd.NaT])
def test_what_is_missing_is_no_text(missing):
    """Missing values of every kind give an empty text, and the word NA stays a word."""
    assert plain_text(missing) == ""
    assert plain_text("<NA>") == "<NA>"


@pytest.mark.parametrize("text", HOSTILE)
def test_no_control_character_line_end_or_half_surrogate_is_left(text):
    """What is left can stand on one line of a UTF-8 file, and in XML 1.0."""
    plain = plain_text(text)
    assert plain.isprintable()
    plain.encode()
    assert len(plain) <= 250


def test_letters_of_any_script_stay():
    """Only what cannot be seen is lost."""
    assert plain_text(" M\u00e4rz\t\u6e7f\u5730 ") == "M\u00e4rz \u6e7f\u5730"
