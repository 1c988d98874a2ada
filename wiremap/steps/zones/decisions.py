"""The technician's decisions on suggested zones."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiremap.steps.zones.stations import read_texts

if TYPE_CHECKING:
    import geopandas as gpd
    import pandas as pd

_REFUSED = {"no", "n", "false", "0", "refused", "rejected"}


def accept_suggestions(valves: gpd.GeoDataFrame, decisions: pd.DataFrame) -> gpd.GeoDataFrame:
    """Return the valves with the zones that the technician decided, before reconciling.

    Parameters
    ----------
    valves : GeoDataFrame
        Layer ``valves``, as `find_devices` gives it.
    decisions : DataFrame
        Columns valve and zone; a row whose column accepted says no is passed over; controller
        where there are several. Valves that do not exist are passed over.

    Returns
    -------
    GeoDataFrame
        A copy: zone and controller as decided, and zone_from `accepted`.

    Examples
    --------
    >>> import pandas as pd
    >>> valves = pd.DataFrame({"valve": ["V1", "V2"], "zone": ["1", None]})
    >>> decisions = pd.DataFrame({"valve": ["V2"], "zone": ["2"], "accepted": ["yes"]})
    >>> accept_suggestions(valves, decisions)["zone"].tolist()
    ['1', '2']
    """
    names = ("valve", "zone", "controller", "accepted")
    columns = [read_texts(decisions, name) for name in names]
    decided = {
        valve: (zone, controller)
        for valve, zone, controller, accepted in zip(*columns, strict=True)
        if valve and zone and accepted.casefold() not in _REFUSED
    }
    accepted = valves.copy()
    place = [decided.get(name) for name in read_texts(valves, "valve")]
    old = {name: read_texts(valves, name) for name in ("zone", "controller", "zone_from")}
    new = {
        "zone": [p[0] if p else was for p, was in zip(place, old["zone"], strict=True)],
        "controller": [
            p[1] or was if p else was for p, was in zip(place, old["controller"], strict=True)
        ],
        "zone_from": [
            "accepted" if p else was for p, was in zip(place, old["zone_from"], strict=True)
        ],
    }
    for name, values in new.items():
        accepted[name] = [value or None for value in values]
    return accepted
