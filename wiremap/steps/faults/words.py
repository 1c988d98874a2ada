"""Faults in words: evidence, and what to open first."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiremap.model.kinds import FaultKind

if TYPE_CHECKING:
    from wiremap.steps.faults.judge import Found

CAUTION = (
    "Before touching any conductor switch the transmitter off and disconnect the wire at the"
    " controller. Call the one-call service before digging, dig by hand, and follow the local code;"
    " repairs belong to whoever is licensed for them."
)
"""Said with every recommendation to dig."""

REPAIRED = "Repaired; nothing to open."
"""Said of a fault that is repaired."""

_OTHER = {
    FaultKind.BREAK: "A splice that has parted, wire that dives deeper, or a second wire that"
    " carries the tone away could also silence it.",
    FaultKind.LEAK: "A branch or splice not on the map, a deeper stretch, or a reading at another"
    " gain could also lower the level.",
    FaultKind.OPEN_END: "A spare wire that simply ends, or a valve whose common is not connected,"
    " also fades like this.",
}


def describe_evidence(found: Found) -> str:
    """Return what a computed fault rests on, in one sentence.

    Parameters
    ----------
    found : Found

    Returns
    -------
    str
    """
    where = f"{found.low_m:.1f} to {found.high_m:.1f} m"
    between = f"{found.low_m:.1f} m and {found.high_m:.1f} m"
    if found.kind == FaultKind.BREAK and found.levels == 0:
        return f"tone lost between {between}; no levels were read before it"
    if found.kind == FaultKind.BREAK:
        return f"level stands over {found.levels} readings, then tone lost between {between}"
    if found.kind == FaultKind.LEAK:
        loss = f"{found.loss:.0%} ({found.loss_low:.0%} to {found.loss_high:.0%})"
        return f"level steps down by {loss} at {where} and goes on"
    return f"level tapers over {found.levels} readings and would reach nothing at {where}"


def recommend_dig(found: Found) -> str:
    """Return where to open first, how far the interval reaches, what else it could be.

    Parameters
    ----------
    found : Found

    Returns
    -------
    str
    """
    span = f"between {found.low_m:.1f} m and {found.high_m:.1f} m along {found.run}"
    if found.kind == FaultKind.OPEN_END:
        first = (
            f"Probe for a box or a wire end {span}, first near {found.chainage_m:.1f} m;"
            f" the tone was last heard at {found.heard_m:.1f} m and the end lies beyond it."
        )
    else:
        first = f"Open first at {found.chainage_m:.1f} m, then {span}."
    return f"{first} {_OTHER[found.kind]} {CAUTION}"
