"""Checks of what the record holds: features, ties, routing, accuracy."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from wiremap.draw.styles import STYLES, base_kind
from wiremap.model.cells import numbers
from wiremap.model.units import METRES_PER_UNIT

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    import pandas as pd

    from wiremap.steps.requirements.record import Record

FOOT_M = METRES_PER_UNIT["ft"]

_NAMED_BY = {
    "controllers": "controller",
    "valves": "valve",
    "splices": "splice",
    "faults": "fault",
    "equipment": "label",
}


def check_ties(record: Record, *, layers: Sequence[str]) -> list[str]:
    """Find features that are not dimensioned from two permanent references.

    Parameters
    ----------
    record : Record
    layers : sequence of str
        Layers whose features are dimensioned.

    Returns
    -------
    list of str
        One text a feature without a tie row to two different permanent references.
    """
    ties, references = record.rows("ties"), record.rows("references")
    fixed = set(_permanent(references)["reference"]) if len(references) else set()
    good: set[tuple[str, str]] = set()
    if len(ties):
        a, b = ties["reference_a"], ties["reference_b"]
        sound = a.isin(fixed) & b.isin(fixed) & (a != b)
        sound &= ties[["distance_a_m", "distance_b_m"]].notna().all(axis=1)
        kept = ties[sound]
        good = set(zip(kept["layer"].astype(str), kept["feature_id"].astype(str), strict=True))
    gaps = []
    for layer in layers:
        rows = record.rows(layer)
        names = rows[_NAMED_BY[layer]].astype(str).tolist() if len(rows) else []
        gaps += [f"{layer} {name}" for name in names if (layer, name) not in good]
    return gaps


def _permanent(references: pd.DataFrame) -> pd.DataFrame:
    return references[references["is_permanent"].fillna(value=False).to_numpy(dtype=bool)]


def check_permanent(record: Record, *, least: int) -> list[str]:
    """Find whether there are too few permanent reference points.

    Parameters
    ----------
    record : Record
    least : int
        How many are asked for.

    Returns
    -------
    list of str
    """
    references = record.rows("references")
    fixed = len(_permanent(references)) if len(references) else 0
    return [] if fixed >= least else [f"{least} permanent reference points, got {fixed}"]


def check_routing(record: Record, *, gap_ft: float) -> list[str]:
    """Find stretches of wire on which no point was located within the distance.

    Parameters
    ----------
    record : Record
    gap_ft : float
        Greatest distance between located points along a wire, international feet.

    Returns
    -------
    list of str
        One text a stretch that is longer; the mark at each turn is a vertex already.
    """
    segments = record.rows("wire_segments")
    if not len(segments):
        return ["a traced wire"]
    length_m = numbers(segments, "chainage_to_m") - numbers(segments, "chainage_from_m")
    long = segments[length_m > gap_ft * FOOT_M]
    lengths = length_m[length_m > gap_ft * FOOT_M]
    rows = zip(long["run"], long["from_point"], long["to_point"], lengths, strict=True)
    return [
        f"a point on run {run} between {start} and {end}, {value / FOOT_M:.0f} ft apart"
        for run, start, end, value in rows
    ]


def check_located(record: Record, *, kinds: Sequence[str]) -> list[str]:
    """Find kinds of feature of which none was located.

    Parameters
    ----------
    record : Record
    kinds : sequence of str
        Kinds of equipment, or layers such as ``controllers``. Kinds that ``none_here`` under
        [property] confirms to be absent are not asked for.

    Returns
    -------
    list of str
    """
    equipment = record.rows("equipment")
    found = set(equipment["kind"].dropna()) if len(equipment) else set()
    absent = {str(kind) for kind in record.settings.property.none_here}
    absent |= {layer for layer, kind in _NAMED_BY.items() if kind in absent}
    gaps = []
    for kind in kinds:
        there = len(record.rows(kind)) > 0 if kind in STYLES else kind in found
        if not there and kind not in absent:
            gaps.append(STYLES["equipment"].of(kind).label.lower() if kind not in STYLES else kind)
    return gaps


def check_zones(record: Record) -> list[str]:
    """Find zones of the list whose wire is not traced from the controller to all its valves.

    Parameters
    ----------
    record : Record

    Returns
    -------
    list of str
    """
    zones = record.rows("zones")
    if not len(zones):
        return ["a zone list, without which nobody can say that every wire is shown"]
    short = zones[zones["status"].isin(["partial", "missing"])]
    return [
        f"the wire of zone {zone} ({status})"
        for zone, status in zip(short["zone"], short["status"], strict=True)
    ]


def check_filled(
    record: Record, *, layer: str, columns: Sequence[str], feature: str = ""
) -> list[str]:
    """Find rows of a layer that state none of the columns.

    Parameters
    ----------
    record : Record
    layer : str
    columns : sequence of str
        Any of them will do.
    feature : str, optional
        Hold only rows of this feature, in the layer ``locates``.

    Returns
    -------
    list of str
        One text that counts the rows.
    """
    rows = record.rows(layer)
    if feature and len(rows):
        rows = rows[(rows["feature"] == feature).to_numpy(dtype=bool)]
    stated = np.zeros(len(rows), dtype=bool)
    for name in (name for name in columns if name in rows):
        stated |= (rows[name].notna() & (rows[name].astype(str).str.strip() != "")).to_numpy()
    lacking = int((~stated).sum())
    what = f"{feature} {layer}".strip()
    return [f"{' or '.join(columns)} of {lacking} of {len(rows)} {what}"] if lacking else []


def check_accuracy(record: Record, *, limit_ft: float, share: float) -> list[str]:
    """Find whether too little of the wire is placed within the limit.

    Parameters
    ----------
    record : Record
    limit_ft : float
        Horizontal radial RMS, international feet.
    share : float
        Share of the wire's length that must be within it, 0 to 1.

    Returns
    -------
    list of str
    """
    segments = record.rows("wire_segments")
    if not len(segments):
        return ["a traced wire"]
    length = numbers(segments, "chainage_to_m") - numbers(segments, "chainage_from_m")
    within = numbers(segments, "position_rms_m") <= limit_ft * FOOT_M
    got = float(length[within].sum() / max(length.sum(), 1e-9))
    if got >= share:
        return []
    limit = f"{limit_ft:g} ft ({limit_ft * FOOT_M:.3f} m)"
    return [f"{share:.0%} of the wire's length within {limit}, got {got:.0%}"]


def check_base(record: Record, *, kinds: Sequence[str]) -> list[str]:
    """Find what of the surroundings is not drawn.

    Parameters
    ----------
    record : Record
    kinds : sequence of str
        Of ``property``, ``building``, ``hardscape``.

    Returns
    -------
    list of str
    """
    found = {base_kind(name) for name, rows in record.base.items() if len(rows)}
    for rows in record.base.values():
        for column in {"kind", "type", "layer"} & set(rows.columns):
            found |= {base_kind(str(value)) for value in rows[column].dropna().unique()}
    return [f"base layer {kind}" for kind in kinds if kind not in found]


CONTENTS: dict[str, Callable[..., list[str]]] = {
    "ties": check_ties,
    "permanent": check_permanent,
    "routing": check_routing,
    "located": check_located,
    "zones": check_zones,
    "filled": check_filled,
    "accuracy": check_accuracy,
    "base": check_base,
}
"""Checks of the record's contents, by name."""
