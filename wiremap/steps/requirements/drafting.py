"""Checks of how the record is drawn: CRS, control, datum, sheets, files."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

import numpy as np

from wiremap.model.cells import numbers
from wiremap.model.units import METRES_PER_UNIT

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from wiremap.steps.requirements.record import Record

_SUFFIXES = {"US survey foot": "ftus", "foot": "ft", "metre": "m"}
_SAME_UNIT = 1e-8


def check_crs(
    record: Record, *, datum: str, unit: Literal["US survey foot", "foot", "metre"]
) -> list[str]:
    """Find whether the drawing stands in another datum, unit or kind of plane.

    Parameters
    ----------
    record : Record
    datum : str
        What the datum's or CRS's name must hold, such as ``NAD83``.
    unit : str
        Unit of the plane: ``US survey foot``, ``foot`` or ``metre``.

    Returns
    -------
    list of str
        A UTM zone is no state plane, whatever its unit.
    """
    crs = record.frame.crs
    metres = METRES_PER_UNIT[_SUFFIXES[unit]]
    right_unit = abs(record.frame.metres_per_unit / metres - 1) < _SAME_UNIT
    names = f"{crs.name} {crs.geodetic_crs.name if crs.geodetic_crs else ''}"
    right_plane = datum in names and "UTM" not in crs.name and crs.is_projected
    if right_unit and right_plane:
        return []
    got = f"{crs.name} in {crs.axis_info[0].unit_name}"
    return [f"a {datum} state plane in {unit}, got {got}"]


def check_control(record: Record, *, least: int, with_heights: bool = False) -> list[str]:
    """Find whether too few control points are in the file.

    Parameters
    ----------
    record : Record
    least : int
        How many are asked for.
    with_heights : bool, default False
        Count only those with an elevation.

    Returns
    -------
    list of str
    """
    references = record.rows("references")
    count = len(references)
    if with_heights and count:
        count = int(np.isfinite(numbers(references, "elevation_m")).sum())
    wanted = f"{least} control points{' with x, y and z' if with_heights else ''}"
    return [] if count >= least else [f"{wanted}, got {count}"]


def check_vertical_datum(record: Record) -> list[str]:
    """Find whether the vertical datum is not stated.

    Parameters
    ----------
    record : Record

    Returns
    -------
    list of str
    """
    stated = record.settings.coordinates.vertical_datum or record.frame.crs.is_compound
    return [] if stated else ["the vertical datum"]


def check_stated(record: Record, *, keys: Sequence[str]) -> list[str]:
    """Find what of the title block nobody stated.

    Parameters
    ----------
    record : Record
    keys : sequence of str
        Keys of [property] in property.toml.

    Returns
    -------
    list of str
    """
    told = record.settings.property.model_dump()
    return [f"{key} under [property]" for key in keys if not told.get(key)]


def check_sheets(
    record: Record, *, papers: Sequence[str] = (), scales: Sequence[str] = ()
) -> list[str]:
    """Find whether sheets are drawn at another size or scale.

    Parameters
    ----------
    record : Record
    papers : sequence of str, optional
        Sheet sizes that are accepted; any where not given.
    scales : sequence of str, optional
        Scales that are accepted; any where not given. ``auto`` is accepted only if listed,
        because it may choose another.

    Returns
    -------
    list of str
    """
    sheets = record.settings.sheets
    gaps = []
    if papers and sheets.paper not in papers:
        gaps.append(f"sheets of size {' or '.join(papers)}, got {sheets.paper}")
    if scales and sheets.scale not in scales:
        gaps.append(f"a scale of {', '.join(scales)}, got {sheets.scale}")
    return gaps


def check_formats(record: Record, *, formats: Sequence[str]) -> list[str]:
    """Find files that a build of the property does not write.

    Parameters
    ----------
    record : Record
    formats : sequence of str
        Names of writers.

    Returns
    -------
    list of str
    """
    from wiremap.plugins import WRITERS, registry

    default = {name for name, writer in registry(WRITERS).formats.items() if writer.default}
    written = default | set(record.settings.output.formats)
    return [f"{name} among the formats" for name in formats if name not in written]


def check_approval(record: Record) -> list[str]:
    """Find whether the record drawing is not approved yet.

    Parameters
    ----------
    record : Record

    Returns
    -------
    list of str
    """
    return [] if record.settings.chart.approved else ["the approval of the record drawing"]


DRAFTING: dict[str, Callable[..., list[str]]] = {
    "crs": check_crs,
    "control": check_control,
    "vertical-datum": check_vertical_datum,
    "stated": check_stated,
    "sheets": check_sheets,
    "formats": check_formats,
    "approval": check_approval,
}
"""Checks of the drawing, by name."""
