"""Raw tables of a controller's zone list, as table ``zone_list``.

Takes lists as people keep them: title rows, a header repeated, a line that names the controller
above its stations, gaps, master valves, pump starts and spare wires.
"""

from __future__ import annotations

import re
from dataclasses import replace
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import pandas as pd

from wiremap.errors import ReadError
from wiremap.model.findings import Finding
from wiremap.model.tables import ZONE_LIST
from wiremap.read.columns import suggest_mapping
from wiremap.read.conversion import Source, convert_table
from wiremap.read.reports import shorten
from wiremap.read.values import as_text

if TYPE_CHECKING:
    from wiremap.plugins import RawTable

_HEADING = re.compile(
    r"^(?:(?:irrigation\s+)?(?:controller|clock|timer|satellite))\b[\s:#-]*(.*)$", re.IGNORECASE
)
_KINDS = {
    "spare": re.compile(
        r"\bspare\b|\bunused\b|\bnot (?:used|connected|in use)\b|^no valve$|^empty$", re.IGNORECASE
    ),
    "master_valve": re.compile(r"^m\.?/?v\.?\b|\bmaster(?: valve)?\b", re.IGNORECASE),
    "pump_start": re.compile(
        r"^p\.?s\.?$|^pump$|\bpump (?:start|relay)\b|\bstart relay\b", re.IGNORECASE
    ),
}
_SHORT_LABELS = {"master_valve": "MV", "pump_start": "P"}
_SEVERAL = re.compile(r"\b(\d{1,2}|two|three|four)\s*(?:x\s*)?(?:valves|vlvs)\b", re.IGNORECASE)
_COUNTS = {"two": 2, "three": 3, "four": 4}
_RANGE = re.compile(  # the dash itself: not every engine of patterns knows its escape
    "(\\d{1,3})\\s*(?:-|\N{EN DASH}|to)\\s*(\\d{1,3})", re.IGNORECASE
)
_LONGEST_RANGE = 100


class ReadZones(NamedTuple):
    """A zone list as read, and what was found."""

    frame: pd.DataFrame
    findings: list[Finding]


def read_zone_list(raw: RawTable, source: Source) -> ReadZones:
    """Return a raw table as a zone list.

    Parameters
    ----------
    raw : RawTable
    source : Source

    Returns
    -------
    ReadZones
        Table ``zone_list``. `valves` is 1 where the list does not say, 0 for spare wires and pump
        starts. `kind` is zone, master_valve, pump_start or spare. Rows without a zone are left
        out, each with a finding.

    Raises
    ------
    ReadError
        No column can be the zone number; the message holds the columns found and a line to paste
        into property.toml.
    """
    headings, kept = _part_headings(raw.frame, (raw.part, *raw.titles))
    frame_of = raw.frame.loc[kept]
    converted = convert_table(replace(raw, frame=frame_of), table=ZONE_LIST, source=source)
    if not any(m.target == "zone" for m in converted.matches):
        names = [str(name) for name in raw.frame.columns]
        line = suggest_mapping(names, table=ZONE_LIST, matches=converted.matches)
        if all(name.startswith("column ") for name in names):
            named = ", ".join(f'"{name}"' for name in ["zone", "name", *names[2:]][: len(names)])
            line = f'files."{source.file}" = {{ header = false, columns = [{named}] }}'
        found = ", ".join(name[:40] for name in names[:40])
        raise ReadError(
            f"no column gives the zone number; the columns found are {found}",
            path=source.file,
            remedy="name them at the top of property.toml: " + line,
        )
    zones, findings = converted.frame, converted.findings
    zones["controller"] = zones["controller"].fillna(headings.loc[kept])
    zones["kind"] = _find_kinds(zones)
    zones["zone"] = zones["zone"].fillna(zones["kind"].map(_SHORT_LABELS).astype("str"))
    zones = _spread_spares(zones)
    without = zones["zone"].isna().to_numpy() | _is_remark(zones)
    findings += _count_valves(zones, source)
    findings += _no_zone(frame_of, zones.index[without], source)
    return ReadZones(zones.loc[~without], findings)


def _part_headings(frame: pd.DataFrame, titles: tuple[str, ...]) -> tuple[pd.Series, np.ndarray]:
    """Return the controller named by a line above each row, and which rows are zones.

    Blank rows, controller headings and repeats of the header are no zones. A sheet, or a title
    above the header, may name the controller.
    """
    names = [str(name).strip() for name in frame.columns]
    columns = [as_text(frame.iloc[:, place]).fillna("").tolist() for place in range(len(names))]
    named = [match[1] or title for title in titles if (match := _HEADING.match(title))]
    controller: str | float = named[-1] if named else np.nan
    controllers, kept = [], []
    for row in zip(*columns, strict=True):
        filled = [cell for cell in row if cell]
        heading = _HEADING.match(filled[0]) if len(filled) == 1 else None
        if heading:
            controller = heading[1] or filled[0]
        same = sum(cell == name for cell, name in zip(row, names, strict=True) if cell)
        kept.append(bool(filled) and not heading and same < max(2, len(names) - 1))
        controllers.append(controller)
    return pd.Series(controllers, index=frame.index, dtype="str"), np.array(kept, dtype=bool)


def _find_kinds(zones: pd.DataFrame) -> pd.Series:
    """Tell master valves, pump starts and spare wires from the words of their rows."""
    extras = [name for name in zones.columns if name not in ZONE_LIST.column_names]
    texts = [as_text(zones[name]) for name in ("zone", "name", "note", *extras)]
    rows = zip(*(text.fillna("").tolist() for text in texts), strict=True)
    kinds = [
        next((kind for kind, words in _KINDS.items() if any(map(words.search, row))), "zone")
        for row in rows
    ]
    return pd.Series(kinds, index=zones.index, dtype="str")


def _is_remark(zones: pd.DataFrame) -> np.ndarray:
    """Return which rows are words in the zone column and nothing else."""
    beside = ["name", "ohms", "ohms_to_ground", "awg", "wire_color", "common", "note", "valves"]
    alone = zones[beside].isna().all(axis=1) & (zones["kind"] == "zone")
    words = zones["zone"].str.contains(r"[A-Za-z]{3}.*\s|^[^\d]{12}", regex=True)
    return (alone & words.fillna(value=False)).to_numpy(dtype=bool)


def _spread_spares(zones: pd.DataFrame) -> pd.DataFrame:
    """Give each station of a range of spares, such as 13-16, its own row."""
    ranges = zones["zone"].where(zones["kind"] == "spare").str.fullmatch(_RANGE)
    is_range = ranges.to_numpy(dtype=bool, na_value=False)
    if not is_range.any():
        return zones
    labels = zones["zone"].astype(object)
    spread = [
        _station_range(label) if hit else [label]
        for label, hit in zip(labels, is_range, strict=True)
    ]
    spread_zones = zones.assign(zone=pd.Series(spread, index=zones.index, dtype=object))
    exploded = spread_zones.explode("zone")
    return exploded.assign(zone=exploded["zone"].astype("str"))


def _station_range(label: str) -> list[str]:
    found = _RANGE.fullmatch(label)
    assert found is not None
    first, last = int(found[1]), int(found[2])
    if not first < last <= first + _LONGEST_RANGE:
        return [label]
    return [str(station) for station in range(first, last + 1)]


def _count_valves(zones: pd.DataFrame, source: Source) -> list[Finding]:
    """Fill in how many valves each station has."""
    said = zones["name"].fillna("") + " " + zones["note"].fillna("")
    found = said.str.extract(_SEVERAL, expand=False)
    counted = found.str.lower().map(lambda w: _COUNTS.get(w) or int(w), na_action="ignore")
    counted = pd.to_numeric(counted, errors="coerce")
    from_words = zones["valves"].isna() & counted.notna()
    default = np.where(zones["kind"].isin(["spare", "pump_start"]), 0, 1)
    valves = zones["valves"].fillna(counted).fillna(pd.Series(default, index=zones.index))
    zones["valves"] = valves
    return [
        Finding(
            "read-note",
            f"zone {zone}",
            f"{int(count)} valves were read from the words of the row.",
            source_file=source.file,
            source_row=int(row),
        )
        for row, zone, count in zip(
            zones.index[from_words], zones["zone"][from_words], counted[from_words], strict=True
        )
    ]


def _no_zone(frame: pd.DataFrame, rows: pd.Index, source: Source) -> list[Finding]:
    found = []
    for row in rows:
        words = shorten(" ".join(str(c) for c in frame.loc[row] if str(c).strip()))
        found.append(
            Finding(
                "bad-value",
                f"{source.file} row {row}",
                f"The row has no zone number, got {words}; it was set aside.",
                advice="Write the station's number, or move the remark out of the list.",
                source_file=source.file,
                source_row=int(row),
                column="zone",
                value=words,
            )
        )
    return found
