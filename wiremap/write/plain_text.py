"""Field text as one plain line, for formats in which some characters are commands."""

from __future__ import annotations

from typing import Any

LONGEST = 250
"""Characters kept of a text: a drawing's text entity holds 256."""


def plain_text(value: Any, *, longest: int = LONGEST) -> str:
    r"""Return a cell as one line of printable characters.

    Parameters
    ----------
    value : any
        Cell of a layer; None, NaN and NA give an empty text.
    longest : int
        Characters kept; what is longer ends in an ellipsis.

    Returns
    -------
    str
        Control characters, line ends, half surrogates and characters that turn the direction of
        writing become spaces.

    Examples
    --------
    >>> plain_text("box\r\n4"), plain_text(float("nan"))
    ('box 4', '')
    """
    import pandas as pd

    if pd.isna(value):
        return ""
    line = " ".join("".join(c if c.isprintable() else " " for c in str(value)).split())
    return line if len(line) <= longest else line[: longest - 1] + "\u2026"
