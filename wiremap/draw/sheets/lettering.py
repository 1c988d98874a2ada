"""Letters: the fonts, how wide a text is, how it is broken and cut.

The letters are Bitstream Vera, which comes with reportlab. A character outside it is set in
DejaVu Sans where matplotlib is installed, and else written as its number, never dropped.
"""

from __future__ import annotations

import unicodedata
from functools import cache, lru_cache
from pathlib import Path
from typing import Any

from wiremap.errors import MissingExtraError

REGULAR, BOLD, SPARE = "WiremapSans", "WiremapSansBold", "WiremapSpare"

CAP_HEIGHT = 0.729
"""Height of a capital letter, in font sizes."""

LONGEST = 3000
"""Characters of one text that are ever set; the rest is cut off visibly."""


@cache
def _font(name: str) -> Any:
    """Return a registered font; None where the spare one is not installed."""
    try:
        import reportlab
        from reportlab.pdfbase import pdfmetrics
        from reportlab.pdfbase.ttfonts import TTFont
    except ImportError as error:
        raise MissingExtraError("reportlab", "sheets") from error
    folder = Path(reportlab.__file__).parent / "fonts"
    paths = {REGULAR: folder / "Vera.ttf", BOLD: folder / "VeraBd.ttf", SPARE: _spare_path()}
    path = paths[name]
    if path is None:
        return None
    font = TTFont(name, str(path))
    pdfmetrics.registerFont(font)
    return font


def _spare_path() -> Path | None:
    from importlib.util import find_spec

    found = find_spec("matplotlib")
    if found is None or not found.submodule_search_locations:
        return None
    path = Path(found.submodule_search_locations[0]) / "mpl-data/fonts/ttf/DejaVuSans.ttf"
    return path if path.is_file() else None


@cache
def _widths(name: str) -> dict[int, float]:
    font = _font(name)
    return {} if font is None else font.face.charWidths


def embedded_font() -> str:
    """Return the name of the ordinary font, ready to be used and to be embedded.

    Returns
    -------
    str

    Raises
    ------
    MissingExtraError
        reportlab is not installed.
    """
    _font(REGULAR)
    return REGULAR


@lru_cache(maxsize=20_000)
def spell(text: str, *, bold: bool = False) -> tuple[tuple[str, str], ...]:
    """Return a text as stretches of one font each.

    Parameters
    ----------
    text : str
        Any text; line breaks and other control characters become spaces.
    bold : bool, default False

    Returns
    -------
    tuple of (str, str)
        Font name and text. A character that no font has is written as ``[U+4E2D]``.

    Raises
    ------
    MissingExtraError
        reportlab is not installed.

    Examples
    --------
    >>> spell("Zone 3")
    (('WiremapSans', 'Zone 3'),)
    """
    main = BOLD if bold else REGULAR
    known = _widths(main)
    text = text if len(text) <= LONGEST else f"{text[: LONGEST - 1]}…"
    if all(ord(c) in known for c in text) and text.isprintable():
        return ((main, text),) if text else ()
    stretches: list[tuple[str, str]] = []
    for character in text:
        font, written = _set_character(character, main)
        if stretches and stretches[-1][0] == font:
            stretches[-1] = (font, stretches[-1][1] + written)
        else:
            stretches.append((font, written))
    return tuple(stretches)


def _set_character(character: str, main: str) -> tuple[str, str]:
    """Return font and spelling of one character."""
    kind = unicodedata.category(character)
    if kind in {"Cc", "Zl", "Zp", "Zs"}:
        return main, " "
    for font in (main, SPARE):
        if kind[0] != "C" and ord(character) in _widths(font):
            return font, character
    return main, f"[U+{ord(character):04X}]"


@lru_cache(maxsize=50_000)
def text_width(text: str, size_pt: float, *, bold: bool = False) -> float:
    """Return how wide a text is, in points.

    Parameters
    ----------
    text : str
    size_pt : float
    bold : bool, default False

    Returns
    -------
    float

    Examples
    --------
    >>> text_width("", 10.0), text_width("MM", 10.0) > text_width("il", 10.0)
    (0.0, True)
    """
    total = 0.0
    for font, stretch in spell(text, bold=bold):
        widths = _widths(font)
        total += sum(widths[ord(character)] for character in stretch)
    return total * size_pt / 1000.0


def cut(text: str, width_pt: float, size_pt: float, *, bold: bool = False) -> str:
    """Return a text cut to a width, with an ellipsis where something is lost.

    Parameters
    ----------
    text : str
    width_pt : float
    size_pt : float
    bold : bool, default False

    Returns
    -------
    str

    Examples
    --------
    >>> cut("Front lawn, west", 40.0, 8.0)
    'Front la…'
    """
    if text_width(text, size_pt, bold=bold) <= width_pt:
        return text
    low, high = 0, len(text)
    while low < high:
        middle = (low + high + 1) // 2
        if text_width(f"{text[:middle].rstrip()}…", size_pt, bold=bold) <= width_pt:
            low = middle
        else:
            high = middle - 1
    return f"{text[:low].rstrip()}…"


@lru_cache(maxsize=20_000)
def wrap(
    text: str, width_pt: float, size_pt: float, *, bold: bool = False, most: int = 60
) -> tuple[str, ...]:
    """Return a text broken into lines of a width; words too long are broken too.

    Parameters
    ----------
    text : str
        Line breaks in it are kept as spaces.
    width_pt : float
    size_pt : float
    bold : bool, default False
    most : int, default 60
        Lines at most; the last is cut with an ellipsis.

    Returns
    -------
    tuple of str

    Examples
    --------
    >>> wrap("Open first at 20.8 m", 60.0, 8.0)
    ('Open first at', '20.8 m')
    """
    lines: list[str] = []
    line = ""
    for word in text[:LONGEST].split():
        longer = f"{line} {word}".strip()
        if text_width(longer, size_pt, bold=bold) <= width_pt:
            line = longer
            continue
        if line:
            lines.append(line)
        *full, line = _break_word(word, width_pt, size_pt, bold=bold)
        lines += full
    lines = [*lines, line] if line else lines
    if len(lines) > most or len(text) > LONGEST:
        kept = lines[:most]
        lines = [*kept[:-1], cut(f"{kept[-1]} …………", width_pt, size_pt, bold=bold)]
    return tuple(lines)


def _break_word(word: str, width_pt: float, size_pt: float, *, bold: bool) -> list[str]:
    """Return a word in parts that fit; each holds a character at least."""
    parts = []
    while word and text_width(word, size_pt, bold=bold) > width_pt:
        kept = len(cut(word, width_pt, size_pt, bold=bold)) - 1
        kept = min(max(kept, 1), len(word) - 1) if len(word) > 1 else 1
        parts.append(word[:kept])
        word = word[kept:]
    return [*parts, word] if word or not parts else parts
