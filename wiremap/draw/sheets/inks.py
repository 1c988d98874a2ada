"""The paler inks of the sheets: the style sheet's own colours, thinned on white paper."""

from __future__ import annotations

from wiremap.draw.styles import COPPER, GRAPHITE, SHARED_WIRE, STYLES


def thin(ink: str, share: float) -> str:
    """Return a colour thinned on white paper.

    Parameters
    ----------
    ink : str
        Colour as ``#rrggbb``.
    share : float
        1 is the ink itself, 0 the bare paper.

    Returns
    -------
    str

    Examples
    --------
    >>> thin("#2b2f33", 1.0), thin("#000000", 0.0)
    ('#2b2f33', '#ffffff')
    """
    parts = [int(ink[n : n + 2], 16) for n in (1, 3, 5)]
    return "#" + "".join(f"{round(255 - (255 - part) * share):02x}" for part in parts)


_band = STYLES["dig_buffer"]

QUIET = thin(GRAPHITE.light, 0.82)
"""Words that stand back."""

RULE = thin(GRAPHITE.light, 0.35)
"""Lines between rows, and lines of a grid."""

FAINT = thin(GRAPHITE.light, 0.2)
"""Lines behind a curve, and wires that belong elsewhere."""

BAND = thin(_band.fill.light if _band.fill else _band.ink.light, _band.fill_opacity)
"""The dig band, and the interval about a depth."""

MUTED_WIRE = thin(SHARED_WIRE.ink.light, 0.8)
"""Wires as the ground for something else."""

SPINE = thin(COPPER.light, 0.16)
"""Inside the letters of the spine."""
