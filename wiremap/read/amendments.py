"""A visit added to the property that a record was built from."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import pandas as pd

from wiremap.errors import ReadError
from wiremap.model.tables import DECISIONS, LOCATES_IN, READINGS, REFERENCES_IN
from wiremap.read.stacking import stack_tables

if TYPE_CHECKING:
    from wiremap.model.property import Property

_FOLDER = "visits/"


def add_visit(kept: Property, visit: Property, *, by: str = "") -> Property:
    """Return a recorded property with what a further visit brought.

    Locates, references, readings and decisions are added; a zone list takes the place of the
    former one. A decision that is made anew counts (the last row of a valve).

    Parameters
    ----------
    kept : Property
        From `wiremap.read.asbuilts.read_kept`.
    visit : Property
        From `wiremap.read.folders.read_visit`.
    by : str
        Who amends; the operators of the visit's rows where empty.

    Returns
    -------
    Property
        With one revision more, of the latest day of the visit's rows.

    Raises
    ------
    ReadError
        A row of the visit has no date: without one it cannot be told from the earlier ones.
    """
    undated = visit.locates["date"].isna()
    if undated.any():
        row = visit.locates[undated].iloc[0]
        raise ReadError(
            f"{int(undated.sum())} rows have no date",
            path=str(row["source_file"]),
            row=None if pd.isna(row["source_row"]) else int(row["source_row"]),
            column="date",
            remedy="give the day of the visit with --date, or in the file's name",
        )
    visit = _name_files(visit, taken={file.path for file in kept.inputs})
    zones = visit.zones if len(visit.zones) else kept.zones
    return replace(
        kept,
        locates=stack_tables([kept.locates, visit.locates], LOCATES_IN),
        references=_stack_filled([kept.references, visit.references], REFERENCES_IN),
        readings=_stack_filled([kept.readings, visit.readings], READINGS),
        decisions=_stack_filled([kept.decisions, visit.decisions], DECISIONS),
        zones=zones,
        findings=(*kept.findings, *visit.findings),
        inputs=(*kept.inputs, *visit.inputs),
        revisions=(*kept.revisions, _revision(kept, visit, by)),
    )


def _stack_filled(frames: list[pd.DataFrame | None], table: Any) -> pd.DataFrame:
    filled = [frame for frame in frames if frame is not None and len(frame)]
    return stack_tables(filled, table)


def _name_files(visit: Property, *, taken: set[str]) -> Property:
    """Return the visit with its files named below ``visits/``, unlike any that the record has."""
    names: dict[str, str] = {}
    for file in visit.inputs:
        stem = file.path if file.path.startswith(_FOLDER) else _FOLDER + file.path
        name, number = stem, 2
        while name in taken:
            name, number = f"{stem} ({number})", number + 1
        names[file.path] = name
    tables = {
        name: frame.assign(source_file=frame["source_file"].replace(names).astype("str"))
        for name in ("locates", "zones", "references", "readings", "decisions")
        if (frame := getattr(visit, name)) is not None and len(frame)
    }
    findings = [
        replace(finding, source_file=names.get(finding.source_file, finding.source_file))
        for finding in visit.findings
    ]
    inputs = [replace(file, path=names[file.path]) for file in visit.inputs]
    return replace(visit, findings=tuple(findings), inputs=tuple(inputs), **tables)


def _revision(kept: Property, visit: Property, by: str) -> dict[str, Any]:
    days = visit.locates["date"].str[:10]
    operators = dict.fromkeys(visit.locates["operator"].dropna())
    number = max((int(row["number"]) for row in kept.revisions), default=0) + 1
    first, last = days.min(), days.max()
    when = first if first == last else f"{first} to {last}"
    count = len(visit.locates)
    return {
        "number": number,
        "date": last,
        "what": f"{count} locate{'' if count == 1 else 's'} of {when} added"
        + ("; new zone list" if len(visit.zones) else ""),
        "by": by or ", ".join(operators) or None,
        "inputs": ";".join(file.path for file in visit.inputs),
    }
