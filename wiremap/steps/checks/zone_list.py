"""The zone list held against the rules of the contract."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import pandas as pd

from wiremap.model.findings import Finding
from wiremap.model.tables import ZONE_LIST
from wiremap.steps.checks.reports import report_rows, text_of

if TYPE_CHECKING:
    from wiremap.model.settings import Settings


class CheckedZones(NamedTuple):
    """Zones of the list, each once, and what was found."""

    zones: pd.DataFrame
    findings: list[Finding]


def check_zone_list(zones: pd.DataFrame, *, settings: Settings) -> CheckedZones:
    """Return the zone list with each zone of a controller once.

    Parameters
    ----------
    zones : DataFrame
        Table ``zone_list``.
    settings : Settings
        Not used yet by any rule; every step takes it.

    Returns
    -------
    CheckedZones
        `zones`: table ``zone_list``, index counted from 0. Of a zone listed twice the first row
        stands, its empty cells filled from the later ones; each later row is a finding. A count
        of valves that is negative or over 100 becomes 1.
    """
    del settings
    work = zones.reset_index(drop=True)
    if work.empty:
        return CheckedZones(ZONE_LIST.conform(work), [])
    valves = work["valves"].to_numpy(dtype=float, na_value=np.nan)
    absurd = ~np.isnan(valves) & ((valves < 0) | (valves > 100))  # noqa: PLR2004 - project choice
    text = "valves must be 0 to 100, got {value}; 1 was taken."
    named = work.assign(point=("zone " + work["zone"]).astype("str"))
    found = report_rows("bad-value", named, np.flatnonzero(absurd), text, column="valves")
    work["valves"] = work["valves"].mask(absurd, 1)
    keys = [work["controller"].fillna(""), work["zone"]]
    later = pd.DataFrame({"c": keys[0], "z": keys[1]}).duplicated().to_numpy()
    if later.any():
        found += _listed_twice(work, later)
        filled = work.drop(columns=["source_file", "source_row"]).groupby(keys, sort=False).first()
        first = work.loc[~later].reset_index(drop=True)
        work = first.fillna(filled.reset_index(drop=True))
    return CheckedZones(ZONE_LIST.conform(work), found)


def _listed_twice(work: pd.DataFrame, later: np.ndarray) -> list[Finding]:
    found = []
    for row in np.flatnonzero(later):
        zone, name = work["zone"].iloc[row], text_of(work["name"].iloc[row])
        same = (work["zone"] == zone) & (
            work["controller"].fillna("") == text_of(work["controller"].iloc[row])
        )
        first = work.loc[same].iloc[0]
        called = f" as {name}" if name else ""
        before = f" as {first['name']}" if text_of(first["name"]) else ""
        found.append(
            Finding(
                "zone-listed-twice",
                f"zone {zone}",
                f"Zone {zone} is listed in row {first['source_row']}{before} and again in row"
                f" {work['source_row'].iloc[row]}{called}; the first row stands.",
                advice="Correct the list; where two valves share the station, write 2 in valves.",
                source_file=text_of(work["source_file"].iloc[row]),
                source_row=int(work["source_row"].iloc[row]),
                column="zone",
                value=str(zone),
            )
        )
    return found
