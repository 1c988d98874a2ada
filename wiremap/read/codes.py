"""What crews write behind a field code or into a run's name: the wire's name, the zone.

``WIRE Z1`` is a mark of wire Z1, ``VLV 3 Z4`` a valve of zone 4. Such words only fill what no
column says, and a note tells what was read from them.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from wiremap.model.kinds import Feature
from wiremap.read.values import read_zones

if TYPE_CHECKING:
    from collections.abc import Collection

    import pandas as pd

_ALONG = (str(Feature.PATH), str(Feature.OFFSET_MARK), str(Feature.EXPOSED), str(Feature.LOST))
"""Features that are marks of one wire."""
_NAME = r"^[\s#-]*([A-Za-z]{0,4}[-_]?\d{1,4}[A-Za-z]?)(?![\w.'\"])"
_ZONE_WORD = r"(?:zones?|zn|z|stations?|sta|stn)"
_ZONE_IN_TEXT = rf"(?i)(?<![A-Za-z]){_ZONE_WORD}\s*[#-]?\s*(\d{{1,3}})(?![\w.])"
_ZONE_NAME = re.compile(
    rf"{_ZONE_WORD}[\s_#.:-]*(\d{{1,3}}(?:\s*[;,&+/]\s*\d{{1,3}})*)", re.IGNORECASE
)


def read_codes(locates: pd.DataFrame, behind: pd.Series, *, matched: Collection[str]) -> list[str]:
    """Fill runs and zones from the words behind field codes, where no column gives them.

    A number or short name behind the codes of path marks is their run where each such name stands
    on two marks or more on average: ``WP1``, ``WP2``, ``WP3`` are numbers of marks, not of wires.
    A device is of the run whose name, with a letter in it, stands behind its code.

    Parameters
    ----------
    locates : DataFrame, table ``locates_in``
        Its columns run and zone are filled in place.
    behind : Series of str
        What stands behind the code of each row, NaN where nothing does.
    matched : collection of str
        Columns that the file has.

    Returns
    -------
    list of str
        Notes on what was read.
    """
    notes = []
    if "run" not in matched and behind.notna().any():
        notes += _fill_runs(locates, behind)
    if "zone" not in matched and behind.notna().any():
        zone = behind.str.extract(_ZONE_IN_TEXT, expand=False)
        is_told = (zone.notna() & (locates["feature"] == str(Feature.VALVE))).to_numpy(dtype=bool)
        if is_told.any():
            locates["zone"] = locates["zone"].mask(is_told, read_zones(zone))
            first = behind[is_told].iloc[0]
            notes.append(f"{int(is_told.sum())} valves took their zone from the words behind their"
                         f" code, such as {first!r}")  # fmt: skip
    return notes


def _fill_runs(locates: pd.DataFrame, behind: pd.Series) -> list[str]:
    names = behind.str.extract(_NAME, expand=False)
    is_path = (locates["feature"].isin(_ALONG) & names.notna()).to_numpy(dtype=bool)
    runs = names[is_path].unique()
    if not len(runs) or 2 * len(runs) > is_path.sum():
        return []
    lettered = [re.escape(name) for name in runs if re.search("[A-Za-z]", name)]
    named = names.where(is_path)
    if lettered:
        pattern = rf"(?<![\w])({'|'.join(sorted(lettered, key=len, reverse=True))})(?![\w])"
        named = named.fillna(behind.str.extract(pattern, expand=False))
    locates["run"] = named.astype("str")
    count, shown = int(named.notna().sum()), ", ".join(sorted(runs)[:6])
    return [f"{count} rows took their run from the words behind their code: {shown}"]


def read_run_zones(locates: pd.DataFrame) -> list[str]:
    """Fill the zone of runs that are named after one, such as ``Zone 4`` or ``Z4``.

    Parameters
    ----------
    locates : DataFrame, table ``locates_in``
        All locates of a property; the column zone is filled in place, on marks along the wire
        alone: a valve's own label stays what was written at the valve.

    Returns
    -------
    list of str
        Notes on what was read. A run of which any row names a zone is left as it is.
    """
    runs = locates["run"]
    told = set(runs[locates["zone"].notna()].dropna())
    found = {
        str(run): match[1]
        for run in runs.dropna().unique()
        if run not in told and (match := _ZONE_NAME.fullmatch(str(run).strip()))
    }
    if not found:
        return []
    zones = read_zones(runs.map(found))
    rows = (zones.notna() & locates["feature"].isin(_ALONG)).to_numpy(dtype=bool)
    locates["zone"] = locates["zone"].mask(rows, zones)
    return [
        f"the zone of run {run!r}, {zone}, was read from its name, for no row names it"
        for run, zone in found.items()
    ]
