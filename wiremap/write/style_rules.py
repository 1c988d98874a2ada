"""Which style each row of a layer takes in a desktop GIS: rules on its columns, and its label.

Colours and symbols are those of `wiremap.draw.styles`; here they are only sorted into rules.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from wiremap.draw.styles import REPAIRED, STYLES, Style, WireInk, wire_ink

if TYPE_CHECKING:
    from collections.abc import Sequence


GIS_STYLES: dict[str, Style] = {
    **STYLES,
    "history": replace(REPAIRED, label="Held once, holds no longer", symbol="diamond", size_px=11),
}
"""Style of every layer with positions, those that the map does not draw included."""


@dataclass(frozen=True)
class Condition:
    """A comparison of one column with one value; `sign` is ``=``, ``<>`` or ``<``."""

    column: str
    sign: str
    value: str | float


@dataclass(frozen=True)
class Rule:
    """How rows that meet every condition are drawn.

    Attributes
    ----------
    style : Style
    conditions : tuple of Condition
        None: all rows, or those that no other rule takes where `is_else`.
    is_else : bool
        Whether the rule takes the rows that no other takes.
    wire : WireInk or None
        Tracer stripe along a line.
    """

    style: Style
    conditions: tuple[Condition, ...] = ()
    is_else: bool = False
    wire: WireInk | None = None


@dataclass(frozen=True)
class Label:
    """The label of a layer.

    Attributes
    ----------
    expression : str
        In the expression language of desktop GIS.
    priority : int
        0 to 10: which labels stand where there is no room for all.
    is_bold : bool
    """

    expression: str
    priority: int = 5
    is_bold: bool = False


LABELS = {
    "wire_runs": Label("\"run\" || coalesce('  zone ' || \"zones\", '')", priority=6),
    "depth_readings": Label(
        "format_number(\"depth_m\", 2) || coalesce(' \u00b1 ' ||"
        " format_number(1.96 * \"depth_sigma_m\", 2), '') || ' m'",
        priority=4,
    ),
    "references": Label('"reference"', priority=3),
    "equipment": Label("coalesce(\"label\", replace(\"kind\", '_', ' '))", priority=4),
    "splices": Label('"splice"', priority=7),
    "faults": Label(
        "\"fault\" || '\\n' || replace(\"kind\", '_', ' ') || coalesce(', ' || \"status\", '')",
        priority=9,
        is_bold=True,
    ),
    "controllers": Label('"controller"', priority=8, is_bold=True),
    "valves": Label("\"valve\" || coalesce('\\nzone ' || \"zone\", '')", priority=8, is_bold=True),
    "history": Label('"feature_id"', priority=1),
    "dig_buffer": Label(
        "'dig by hand: cover from ' || format_number(\"cover_low_m\", 2) || ' m'", priority=1
    ),
}
"""Label of each labelled layer. Depths carry the half width of their 95 % interval."""


def layer_rules(layer: str, *, zones: Sequence[str], min_cover_m: float) -> list[Rule]:
    """Return the rules by which a layer is drawn, from the bottom up.

    Parameters
    ----------
    layer : str
        A key of `GIS_STYLES`.
    zones : sequence of str
        Values of the column ``zones`` of the layer ``wire_runs``.
    min_cover_m : float
        Cover limit: stretches below it are marked.

    Returns
    -------
    list of Rule

    Examples
    --------
    >>> [rule.style.label for rule in layer_rules("faults", zones=(), min_cover_m=0.15)]
    ['Repaired', 'Break', 'Leak', 'Open end', 'Reported', 'Faults']
    """
    style = GIS_STYLES[layer]
    if layer == "wire_runs":
        named = [zone for zone in zones if zone.isprintable()]  # XML holds no control characters
        return [*(_zone_rule(zone) for zone in named), Rule(style, is_else=bool(named))]
    if layer == "wire_segments":
        shallow = Rule(STYLES["hand_dig"], (Condition("cover_low_m", "<", min_cover_m),))
        return [shallow, *_kind_rules(style)]
    if layer == "faults":
        repaired = Rule(REPAIRED, (Condition("status", "=", "repaired"),))
        standing = Condition("status", "<>", "repaired")
        return [repaired, *_kind_rules(style, standing)]
    if layer == "dig_buffer":
        low = Condition("cover_low_m", "<", min_cover_m)
        ink = STYLES["hand_dig"].ink
        shallow_band = replace(style, label="Dig-by-hand band, little cover", ink=ink)
        return [Rule(shallow_band, (low,)), Rule(style, is_else=True)]
    return _kind_rules(style) if style.by else [Rule(style)]


def _kind_rules(style: Style, *more: Condition) -> list[Rule]:
    rules = [
        Rule(one, (Condition(style.by, "=", kind), *more)) for kind, one in style.kinds.items()
    ]
    return [*rules, Rule(style, is_else=True)]


def _zone_rule(zone: str) -> Rule:
    wire = wire_ink(zone)
    style = replace(STYLES["wire_runs"], label=f"Zone {zone}", ink=wire.ink)
    return Rule(style, (Condition("zones", "=", zone),), wire=wire)
