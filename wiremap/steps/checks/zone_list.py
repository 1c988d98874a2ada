"""The zone list held against the rules of the contract."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import pandas as pd

from wiremap.model.cells import source_of
from wiremap.model.findings import Finding
from wiremap.model.tables import ZONE_LIST
from wiremap.steps.checks.reports import report_rows, text_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

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
        found += _listed_twice(work, keys, np.flatnonzero(later))
        filled = work.drop(columns=["source_file", "source_row"])
        filled = filled.groupby(keys, sort=False, dropna=False).first()
        first = work.loc[~later].reset_index(drop=True)
        work = first.fillna(filled.reset_index(drop=True))
    return CheckedZones(ZONE_LIST.conform(work), found)


def _listed_twice(
    work: pd.DataFrame, keys: list[pd.Series], later: NDArray[np.intp]
) -> list[Finding]:
    """Return a finding for each row of a zone that an earlier row lists."""
    place = pd.Series(np.arange(len(work)))
    first = place.groupby(keys, dropna=False).transform("first").to_numpy()
    advice = "Correct the list; where two valves share the station, write 2 in valves."
    found = []
    for row in later:
        zone, again = work["zone"].iloc[row], work.iloc[row]
        text = (
            f"Zone {zone} is listed in {_spell(work.iloc[first[row]])} and again in"
            f" {_spell(again)}; the first row stands."
        )
        found.append(
            Finding(
                "zone-listed-twice", f"zone {zone}", text, advice,
                **source_of(again), column="zone", value=str(zone),
            )
        )  # fmt: skip
    return found


def _spell(row: pd.Series) -> str:
    number, name = source_of(row)["source_row"], text_of(row["name"])
    return ("a row" if number is None else f"row {number}") + (f" as {name}" if name else "")
