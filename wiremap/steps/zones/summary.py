"""How much of the controller is accounted for, and what to walk next, in a few lines."""

from __future__ import annotations

import pandas as pd

from wiremap.model.kinds import ZoneStatus
from wiremap.steps.zones.differences import Tally, last_heard
from wiremap.steps.zones.ground import Ground, read_ground
from wiremap.steps.zones.stations import name_zone, read_numbers, read_texts

_NO_PATHS = pd.DataFrame()


def summarise_reconciliation(
    zones: pd.DataFrame, valves: pd.DataFrame, runs: pd.DataFrame
) -> list[str]:
    """Return the reconciliation in a few lines of text.

    Parameters
    ----------
    zones : DataFrame
        Layer ``zones``.
    valves : DataFrame
        Layer ``valves``, reconciled.
    runs : DataFrame
        Layer ``wire_runs`` or the columns run, end_kind, length_m.

    Returns
    -------
    list of str
        How many listed zones are complete, then one line for each zone to walk next with where
        its wire was last heard, for zones only on the ground, and for valves that wait for a
        decision.

    Examples
    --------
    >>> zones = pd.DataFrame({"zone": ["1", "2"], "status": ["complete", "missing"]})
    >>> valves = pd.DataFrame({"valve": ["V1"], "zone": ["1"]})
    >>> for line in summarise_reconciliation(zones, valves, pd.DataFrame()):
    ...     print(line)
    1 of 2 listed zones are accounted for; 1 valve located.
    Walk next: zone 2: no run was traced for it; start at the controller.
    """
    status = read_texts(zones, "status")
    shown = [
        name_zone(zone, controller)
        for zone, controller in zip(
            read_texts(zones, "zone"), _controllers_where_several(zones), strict=True
        )
    ]
    listed = sum(s != ZoneStatus.UNLISTED for s in status)
    if not listed:
        return [f"No zone list; valves on the ground: {len(valves)}, zones: {len(zones)}."]
    complete = status.count(ZoneStatus.COMPLETE)
    located = "1 valve" if len(valves) == 1 else f"{len(valves)} valves"
    lines = [f"{complete} of {listed} listed zones are accounted for; {located} located."]
    lines += _to_walk(zones, status, shown, read_ground(valves, runs, _NO_PATHS))
    unlisted = [name for name, s in zip(shown, status, strict=True) if s == ZoneStatus.UNLISTED]
    if unlisted:
        lines.append(f"On the ground but not on the list: {', '.join(unlisted)}.")
    return lines + _to_decide(valves)


def _controllers_where_several(zones: pd.DataFrame) -> list[str]:
    names = read_texts(zones, "controller")
    return names if len(set(names)) > 1 else [""] * len(names)


def _to_walk(zones: pd.DataFrame, status: list[str], shown: list[str], ground: Ground) -> list[str]:
    number = {run.name: i for i, run in enumerate(ground.runs)}
    traced = [
        [number[name] for name in text.split(";") if name in number]
        for text in read_texts(zones, "runs")
    ]
    counts = [read_numbers(zones, name) for name in ("valves_found", "valves_listed")]
    lines = []
    for name, s, at, found, listed in zip(shown, status, traced, *counts, strict=True):
        if s not in {ZoneStatus.MISSING, ZoneStatus.PARTIAL}:
            continue
        tally = Tally(("", name), None, name, "", [], at, ZoneStatus(s))
        heard = last_heard(tally, ground)[0] or "no run was traced for it; start at the controller"
        have = f" ({found:.0f} of {listed:.0f} valves found)" if found > 0 else ""
        lines.append(f"Walk next: {name}{have}: {heard}.")
    return lines


def _to_decide(valves: pd.DataFrame) -> list[str]:
    names, suggested, labels = (read_texts(valves, n) for n in ("valve", "suggested_zone", "zone"))
    margins = read_numbers(valves, "suggested_margin")
    return [
        f"Decide: valve {name}"
        + (f" (labelled {label})" if label else "")
        + f" is suggested for {name_zone(zone)} (margin {margin:.2f})."
        for name, zone, label, margin in zip(names, suggested, labels, margins, strict=True)
        if zone
    ]
