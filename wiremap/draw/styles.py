"""Colour, symbol, width, dash and label of every layer and kind, decided once.

The web map, the plot, the static drawing and the GeoPackage's layer styles all read this module.

Wires are drawn as wires look: a base colour with a tracer stripe, eight colours under each of
four tracers. No colour is one of the marking colours that locators paint on the ground, so that
a map cannot be read as a field mark.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from wiremap.model import kinds

if TYPE_CHECKING:
    from collections.abc import Mapping


@dataclass(frozen=True)
class Ink:
    """The two colours of one thing: on light paper, and on a dark screen."""

    light: str
    dark: str


@dataclass(frozen=True)
class Style:
    """How one layer, or one kind within a layer, is drawn.

    Attributes
    ----------
    label : str
        Name for people, as the legend and the layer list show it.
    ink : Ink
        Colour of the line, of the symbol, and of the outline of an area.
    width_px : float
        Width of the line or outline, in screen pixels.
    dash_px : tuple of float
        Lengths of dash and gap in turn, in screen pixels; empty for an unbroken line.
    fill : Ink or None
        Colour inside a symbol or area; None where it is left open.
    fill_opacity : float
        0 clear to 1 solid.
    symbol : str
        A key of `SYMBOLS` for points; empty for lines and areas.
    size_px : float
        Width of the symbol, in screen pixels.
    code : str
        One or two letters that stand in the symbol.
    is_shown : bool
        Whether the map opens with the layer switched on.
    by : str
        Column whose value chooses among `kinds`; empty where all rows are drawn alike.
    kinds : mapping of str to Style
        Style of each value of that column.
    """

    label: str
    ink: Ink
    width_px: float = 1.5
    dash_px: tuple[float, ...] = ()
    fill: Ink | None = None
    fill_opacity: float = 1.0
    symbol: str = ""
    size_px: float = 0.0
    code: str = ""
    is_shown: bool = True
    by: str = ""
    kinds: Mapping[str, Style] = field(default_factory=dict)

    def of(self, value: str) -> Style:
        """Return the style of one value of the column `by`; the layer's own where it has none.

        Parameters
        ----------
        value : str

        Returns
        -------
        Style

        Examples
        --------
        >>> STYLES["faults"].of("leak").label
        'Leak'
        >>> STYLES["faults"].of("").label
        'Faults'
        """
        return self.kinds.get(value, self)


@dataclass(frozen=True)
class WireInk:
    """Colour of one zone's wire: insulation, and the tracer stripe along it."""

    ink: Ink
    tracer: Ink | None = None
    tracer_dash_px: tuple[float, ...] = ()


PAPER = Ink("#fbf8f1", "#171b20")
"""The ground that everything is drawn on."""

GRAPHITE = Ink("#2b2f33", "#e9e4d8")
"""Outlines and letters."""

COPPER = Ink("#9a5b2e", "#dd9a66")
"""The accent: what is chosen, and bare wire."""

_ALARM = Ink("#b0173c", "#ff8096")
_CALM = Ink("#5d6b72", "#a8b4ba")
_TEAL = Ink("#0f6b66", "#6fd3c8")

WIRE_INKS: tuple[Ink, ...] = (
    Ink("#558df7", "#95cafb"),
    Ink("#5e202c", "#ed5e74"),
    Ink("#8a9c26", "#c7e8a6"),
    Ink("#3c237f", "#8e89ee"),
    Ink("#d46964", "#d98645"),
    Ink("#176272", "#54f5db"),
    Ink("#c87ac2", "#b487ad"),
    Ink("#524704", "#f6da64"),
)
"""Insulation colours, chosen so that each pair stays apart for common and for colour-blind eyes."""

_TRACERS: tuple[tuple[Ink | None, tuple[float, ...]], ...] = (
    (None, ()),
    (Ink("#ffffff", "#171b20"), ()),
    (Ink("#ffffff", "#171b20"), (2.0, 5.0)),
    (Ink("#ffffff", "#171b20"), (9.0, 5.0)),
)

SHARED_WIRE = WireInk(Ink("#6a6f73", "#b9bec2"))
"""A wire that serves several zones, or none that is known."""

SYMBOLS: dict[str, tuple[tuple[float, float], ...]] = {
    "circle": (),
    "square": ((-0.9, -0.9), (0.9, -0.9), (0.9, 0.9), (-0.9, 0.9)),
    "diamond": ((0, -1), (1, 0), (0, 1), (-1, 0)),
    "triangle": ((0, -1), (0.95, 0.75), (-0.95, 0.75)),
    "pentagon": ((0, -1), (0.95, -0.31), (0.59, 0.81), (-0.59, 0.81), (-0.95, -0.31)),
    "hexagon": ((-0.5, -0.87), (0.5, -0.87), (1, 0), (0.5, 0.87), (-0.5, 0.87), (-1, 0)),
    "octagon": (
        (-0.41, -1), (0.41, -1), (1, -0.41), (1, 0.41), (0.41, 1), (-0.41, 1), (-1, 0.41),
        (-1, -0.41),
    ),
    "cross": (
        (-0.3, -1), (0.3, -1), (0.3, -0.3), (1, -0.3), (1, 0.3), (0.3, 0.3), (0.3, 1), (-0.3, 1),
        (-0.3, 0.3), (-1, 0.3), (-1, -0.3), (-0.3, -0.3),
    ),
    "cross2": (
        (-1, -0.6), (-0.6, -1), (0, -0.4), (0.6, -1), (1, -0.6), (0.4, 0), (1, 0.6), (0.6, 1),
        (0, 0.4), (-0.6, 1), (-1, 0.6), (-0.4, 0),
    ),
    "hourglass": ((-1, -0.85), (-1, 0.85), (0, 0.15), (1, 0.85), (1, -0.85), (0, -0.15)),
    "house": (
        (0, -1), (1, -0.25), (0.8, -0.25), (0.8, 0.9), (-0.8, 0.9), (-0.8, -0.25), (-1, -0.25),
    ),
}  # fmt: skip
"""Corners of each symbol about its middle, x right and y down, from -1 to 1; a circle has none."""

_EQUIPMENT = {
    "ground": ("Grounding point", "GR"),
    "sensor": ("Sensor", "SE"),
    "pump": ("Pump", "PU"),
    "filter": ("Filter", "FI"),
    "backflow": ("Backflow preventer", "BF"),
    "water_source": ("Water source", "WS"),
    "power_source": ("Power source", "PS"),
    "shutoff": ("Shut-off", "SO"),
    "quick_coupler": ("Quick coupler", "QC"),
    "pull_box": ("Pull box", "PB"),
    "sleeve": ("Sleeve", "SL"),
    "stake": ("Ground stake", "ST"),
}


def _symbol(label: str, symbol: str, size_px: float, ink: Ink = GRAPHITE, code: str = "") -> Style:
    return Style(label, ink, symbol=symbol, size_px=size_px, fill=PAPER, code=code)


def _fault(label: str, symbol: str) -> Style:
    return Style(label, _ALARM, symbol=symbol, size_px=18, fill=_ALARM, fill_opacity=0.9)


def _finding(label: str, ink: Ink) -> Style:
    return Style(label, ink, symbol="pentagon", size_px=14, fill=PAPER, code="!", is_shown=False)


def _wire(label: str, width_px: float, dash_px: tuple[float, ...] = ()) -> Style:
    return Style(label, SHARED_WIRE.ink, width_px=width_px, dash_px=dash_px)


STYLES: dict[str, Style] = {
    "dig_buffer": Style(
        "Dig-by-hand band", _CALM, width_px=1.0, dash_px=(1.0, 4.0), fill=_CALM, fill_opacity=0.14
    ),
    "zone_buffers": Style(
        "Dig-by-hand band by zone",
        _CALM,
        width_px=1.0,
        fill=_CALM,
        fill_opacity=0.1,
        is_shown=False,
    ),
    "wire_runs": _wire("Wires", 4.0),
    "wire_segments": Style(
        "Wires by evidence",
        SHARED_WIRE.ink,
        width_px=4.0,
        by="evidence",
        kinds={
            "exposed": _wire("Seen in an open hole", 6.0),
            "traced": _wire("Traced", 4.0),
            "inferred": _wire("Inferred between locates", 3.0, (7.0, 6.0)),
        },
    ),
    "hand_dig": Style("Shallow: hand tools only", _ALARM, width_px=9.0, dash_px=(1.5, 5.0)),
    "references": _symbol("Reference points", "cross", 11),
    "locates": Style(
        "Locates", GRAPHITE, width_px=1.0, symbol="circle", size_px=5, fill=PAPER, is_shown=False
    ),
    "depth_readings": Style(
        "Depth readings", _TEAL, symbol="circle", size_px=9, fill=PAPER, is_shown=False
    ),
    "equipment": Style(
        "Equipment",
        GRAPHITE,
        symbol="octagon",
        size_px=20,
        fill=PAPER,
        by="kind",
        kinds={
            str(kind): _symbol(_EQUIPMENT[kind][0], "octagon", 20, code=_EQUIPMENT[kind][1])
            for kind in kinds.EQUIPMENT
        },
    ),
    "splices": _symbol("Splices", "hourglass", 16),
    "faults": Style(
        "Faults",
        _ALARM,
        symbol="cross2",
        size_px=18,
        fill=_ALARM,
        fill_opacity=0.9,
        by="kind",
        kinds={
            "break": _fault("Break", "cross2"),
            "leak": _fault("Leak", "triangle"),
            "open_end": _fault("Open end", "hexagon"),
            "reported": _fault("Reported", "pentagon"),
        },
    ),
    "controllers": Style("Controllers", GRAPHITE, symbol="house", size_px=22, fill=COPPER),
    "valves": Style(
        "Valves",
        GRAPHITE,
        symbol="square",
        size_px=18,
        fill=PAPER,
        by="zone_status",
        kinds={
            "listed": _symbol("On the zone list", "square", 18),
            "shared": _symbol("Shared by zones", "square", 18),
            "unlisted": _symbol("Zone not on the list", "square", 18, _ALARM),
            "suggested": _symbol("Zone suggested by the evidence", "square", 18, COPPER),
            "unassigned": _symbol("No zone known", "square", 18, _ALARM),
        },
    ),
    "findings": Style(
        "Findings",
        COPPER,
        symbol="pentagon",
        size_px=14,
        fill=PAPER,
        code="!",
        is_shown=False,
        by="severity",
        kinds={
            "error": _finding("Errors", _ALARM),
            "warning": _finding("Warnings", COPPER),
            "note": _finding("Notes", _CALM),
        },
    ),
    "history": Style(
        "What held once", GRAPHITE, symbol="circle", size_px=9, fill=PAPER, is_shown=False
    ),
}
"""Style of each layer that is drawn, from the bottom up. ``hand_dig`` is drawn from
``wire_segments``: stretches whose ``cover_low_m`` is below the cover limit."""

REPAIRED = Style("Repaired", _TEAL, symbol="cross2", size_px=16, fill=PAPER, fill_opacity=1.0)
"""A fault that stands no longer keeps its symbol and takes this ink and fill."""

BASE_STYLES: dict[str, Style] = {
    "property": Style("Property line", GRAPHITE, width_px=1.6, dash_px=(14.0, 4.0, 2.0, 4.0)),
    "building": Style(
        "Buildings", Ink("#8d8577", "#7d858d"), width_px=1.2,
        fill=Ink("#e6dfd0", "#2b3239"), fill_opacity=1.0,
    ),
    "hardscape": Style(
        "Paving and walls", Ink("#c3baa8", "#4a535b"), width_px=0.8,
        fill=Ink("#f1ece0", "#20262c"), fill_opacity=1.0,
    ),
    "other": Style("Other base lines", Ink("#b3aa98", "#5a636b"), width_px=1.0),
}  # fmt: skip
"""Style of the base, by what its layer's name says."""

_BASE_WORDS = {
    "property": ("property", "parcel", "boundary", "lot"),
    "building": ("building", "house", "garage", "structure", "footprint", "roof"),
    "hardscape": ("hard", "pav", "drive", "walk", "patio", "path", "curb", "wall", "fence", "road"),
}


def base_kind(name: str) -> str:
    """Return which base style a base layer takes, by the words in its name.

    Parameters
    ----------
    name : str
        Name of the layer.

    Returns
    -------
    str
        A key of `BASE_STYLES`.

    Examples
    --------
    >>> base_kind("Buildings 2024"), base_kind("trees")
    ('building', 'other')
    """
    lowered = name.lower()
    for kind, words in _BASE_WORDS.items():
        if any(word in lowered for word in words):
            return kind
    return "other"


def zone_number(zone: str) -> int:
    """Return the place of a zone in the palette, the same in every build of every season.

    Parameters
    ----------
    zone : str
        Zone as on the controller.

    Returns
    -------
    int
        The number in its name less one; for a name without a number, a number made from its
        letters.

    Examples
    --------
    >>> zone_number("3"), zone_number("Z12"), zone_number("B")
    (2, 11, 1)
    """
    digits = re.search(r"[0-9]+", zone)
    if digits:
        return max(int(digits[0][-6:]) - 1, 0)
    return sum(ord(letter) - ord("a") for letter in zone.strip().lower()[:40])


def wire_ink(zones: str) -> WireInk:
    """Return the colour of the wire of a zone.

    Parameters
    ----------
    zones : str
        Zone(s) that the wire serves, parted by semicolons.

    Returns
    -------
    WireInk
        `SHARED_WIRE` where the wire serves several zones or none that is known.

    Examples
    --------
    >>> wire_ink("1").ink == wire_ink("9").ink, wire_ink("1") == wire_ink("9")
    (True, False)
    >>> wire_ink("1;2") == wire_ink("") == SHARED_WIRE
    True
    """
    named = [zone for zone in zones.split(";") if zone.strip()]
    if len(named) != 1:
        return SHARED_WIRE
    turn, place = divmod(zone_number(named[0]), len(WIRE_INKS))
    tracer, dash_px = _TRACERS[turn % len(_TRACERS)]
    return WireInk(WIRE_INKS[place], tracer, dash_px)
