"""Colours and symbols."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from wiremap.draw import styles
from wiremap.draw.theme import theme_css
from wiremap.model import kinds, tables

# Marking colours that locators paint on the ground: the APWA Uniform Color Code. The code's
# colour names are from its public chart; these sRGB values for ANSI Z535.1 are from memory.
PAINT = {
    "red": "#c8102e", "yellow": "#ffd100", "orange": "#ff6a13", "blue": "#0057b8",
    "green": "#007b49", "purple": "#72246c", "pink": "#ff85bd", "white": "#ffffff",
}  # fmt: skip

# Simulation of missing cones at full severity: Machado, Oliveira and Fernandes, 2009, table of
# matrices, from memory.
SIGHT = {
    "common": np.eye(3),
    "protan": np.array([[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216],
                        [-0.003882, -0.048116, 1.051998]]),
    "deutan": np.array([[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413],
                        [-0.011820, 0.042940, 0.968881]]),
    "tritan": np.array([[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602],
                        [0.004733, 0.691367, 0.303900]]),
}  # fmt: skip
TO_XYZ = np.array([[0.4124564, 0.3575761, 0.1804375], [0.2126729, 0.7151522, 0.0721750],
                   [0.0193339, 0.1191920, 0.9503041]])  # fmt: skip


def linear(color):
    c = np.array([int(color[i : i + 2], 16) for i in (1, 3, 5)]) / 255
    return np.where(c <= 0.04045, c / 12.92, ((c + 0.055) / 1.055) ** 2.4)


def lab(rgb):
    """CIE L*a*b* of linear sRGB under D65 (CIE 15)."""
    x = TO_XYZ @ rgb / (TO_XYZ @ np.ones(3))
    f = np.where(x > 0.008856, np.cbrt(x), 7.787 * x + 16 / 116)
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


@pytest.mark.parametrize("sight", SIGHT)
@pytest.mark.parametrize("theme", ["light", "dark"])
def test_any_two_wires_differ_for_every_kind_of_sight(sight, theme):
    """CIE76 differences stay above 20, ten times what is just noticeable (2.3, from memory)."""
    inks = [linear(getattr(ink, theme)) for ink in styles.WIRE_INKS]
    seen = [lab(np.clip(SIGHT[sight] @ ink, 0, 1)) for ink in inks]

    assert min(np.linalg.norm(a - b) for a, b in itertools.combinations(seen, 2)) > 20


def test_no_wire_is_drawn_in_a_locator_s_paint():
    """The light palette keeps its distance from each colour of the Uniform Color Code."""
    for ink in styles.WIRE_INKS:
        distances = [
            np.linalg.norm(lab(linear(ink.light)) - lab(linear(p))) for p in PAINT.values()
        ]
        assert min(distances) > 14


def test_thirty_two_zones_are_told_apart():
    """Eight colours under four tracers: no two of zones 1 to 32 are alike."""
    inks = {styles.wire_ink(str(zone)) for zone in range(1, 33)}

    assert len(inks) == 32


@pytest.mark.parametrize("zones", ["", ";", "1;2", " ; "])
def test_a_wire_of_no_or_many_zones_takes_the_shared_ink(zones):
    """Grey says that the colour tells no zone."""
    assert styles.wire_ink(zones) == styles.SHARED_WIRE


@pytest.mark.parametrize("zone", ["0", "-3", "A", "\u6e7f", "\u0663", "9" * 400, "zone x", "\x00"])
def test_any_zone_name_has_an_ink(zone):
    """Names that are no plain number take a place in the palette as well."""
    assert styles.wire_ink(zone).ink in styles.WIRE_INKS


@pytest.mark.parametrize(
    ("layer", "options"),
    [
        ("faults", kinds.FaultKind), ("valves", kinds.ValveZoneStatus),
        ("findings", kinds.Severity), ("wire_segments", kinds.Evidence),
        ("equipment", kinds.EQUIPMENT),
    ],
)  # fmt: skip
def test_every_kind_has_its_style(layer, options):
    """A kind that is added to the model must be given a symbol here."""
    assert set(styles.STYLES[layer].kinds) == {str(option) for option in options}


def test_every_layer_with_positions_has_a_style():
    """So has the one layer that is derived."""
    placed = {table.name for table in tables.LAYERS if table.geometry}

    assert set(styles.STYLES) == placed | {"hand_dig"}


def test_equipment_codes_are_unique():
    """Two letters name one kind of equipment."""
    codes = [style.code for style in styles.STYLES["equipment"].kinds.values()]

    assert len(set(codes)) == len(codes)


def test_symbols_stay_within_their_size():
    """Corners lie within the unit box and keep clear of its middle."""
    for corners in styles.SYMBOLS.values():
        assert all(abs(x) <= 1 and abs(y) <= 1 for x, y in corners)


def test_the_style_sheet_names_every_style_in_both_themes():
    """Each class of the map has a light and a dark colour."""
    css = theme_css()
    for name in ("faults-break", "equipment-pump", "base-building", "wire-7", "repaired"):
        assert css.count(f"--wm-{name}:") == 3
        assert f".wm-{name}{{" in css
