"""The words that stand on every sheet: caution, datum and grid, accuracy, revisions."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from wiremap.draw.sheets.contents import numbers, texts
from wiremap.draw.sheets.measures import degrees_text

if TYPE_CHECKING:
    from wiremap.draw.sheets.contents import Contents

CAUTION = (
    "Advisory only. This drawing is not a utility locate. Call the one-call service before any"
    " digging: 811 in the United States, the local service elsewhere. Local law and local codes"
    " set the tolerance zone and come first. Buried depth changes, and other utilities are not"
    " shown. Dig by hand inside the band. Electrical and irrigation work, surveying and"
    " engineering belong to those who are licensed for them."
)
"""The caution on every sheet."""

EARTH_RADIUS_M = 6_371_000.0
"""Mean radius of the earth, for the elevation factor."""

_STANDARD = ("NSSDA horizontal", "NSSDA vertical", "ASPRS 2023 RMSE_H", "check points")


class Revision(NamedTuple):
    """A line of the revision table."""

    number: str
    date: str
    text: str
    by: str


def coordinate_notes(contents: Contents) -> list[str]:
    """Return datum, grid, factors and units as the drawing states them.

    Parameters
    ----------
    contents : Contents

    Returns
    -------
    list of str
        One statement each.
    """
    frame = contents.frame
    if frame is None:
        return ["Coordinate reference system not stated.", _unit_note(contents)]
    crs = frame.crs
    authority = crs.to_authority()
    code = f" ({':'.join(authority)})" if authority else ""
    geodetic = crs.geodetic_crs
    datum = geodetic.datum.name if geodetic and geodetic.datum else "not stated"
    unit = crs.axis_info[0].unit_name if crs.axis_info else "not stated"
    notes = [
        f"Grid: {crs.name}{code}; unit {unit}.",
        f"Horizontal datum: {datum}.",
        *_height_notes(contents),
        f"Plotted and dimensioned at ellipsoid distance: grid distance / {frame.scale_factor:.7f}.",
        f"Convergence: {_convergence(frame.convergence_deg)}",
        _unit_note(contents),
    ]
    if math.isfinite(frame.accuracy_m):
        notes.insert(
            2, f"Datum transformation good to {frame.accuracy_m:g} m as stated by its publisher."
        )
    return notes


def _height_notes(contents: Contents) -> list[str]:
    """Return grid, elevation and combined factor, and what is known of heights."""
    factor = contents.frame.scale_factor if contents.frame else 1.0
    heights = numbers(contents.layer("locates"), "elevation_m")
    heights = heights[np.isfinite(heights)]
    if not len(heights):
        factors = (
            f"Grid scale factor {factor:.7f} at the middle of the property. No ground elevations"
            f" are known: combined factor taken as {factor:.7f}."
        )
        return [factors, "Vertical datum: none; depths are below the ground as it lay."]
    mean = float(heights.mean())
    elevation = EARTH_RADIUS_M / (EARTH_RADIUS_M + mean)
    factors = (
        f"Grid scale factor {factor:.7f}; elevation factor {elevation:.7f} at {mean:.0f} m;"
        f" combined factor {factor * elevation:.7f}."
    )
    datum = (
        "Vertical datum: as in the field files, not stated there; depths are below the ground as"
        " it lay."
    )
    return [factors, datum]


def _convergence(angle_deg: float) -> str:
    if abs(angle_deg) < 0.5 / 3600:
        return "none; grid north is true north."
    side = "east" if angle_deg > 0 else "west"
    return f"grid north lies {degrees_text(angle_deg)} {side} of true north."


def _unit_note(contents: Contents) -> str:
    if contents.units.is_feet:
        return (
            "Dimensions in international feet and tenths, depths in inches; ± is a 95 % interval."
        )
    return "Dimensions and depths in metres; ± is a 95 % interval."


def accuracy_notes(contents: Contents) -> list[str]:
    """Return what check points say of the accuracy, and how the points were placed.

    Parameters
    ----------
    contents : Contents

    Returns
    -------
    list of str
        In the words of the NSSDA where there are check points.
    """
    frame = contents.layer("provenance")
    stated = dict(zip(texts(frame, "item"), texts(frame, "value"), strict=True))
    notes = [f"{item}: {stated[item]}." for item in _STANDARD if item in stated]
    rms = numbers(contents.layer("locates"), "position_rms_m")
    rms = rms[np.isfinite(rms)]
    if len(rms):
        median, worst = (contents.units.length(float(v)) for v in (np.median(rms), rms.max()))
        notes.append(
            f"{len(rms)} positions located, not surveyed: horizontal RMS {median} in the middle,"
            f" {worst} at worst."
        )
    if not any(item.startswith("NSSDA") for item in stated):
        notes.append("No check points were measured: accuracy is as stated by the field crew.")
    return notes


def revisions(contents: Contents) -> list[Revision]:
    """Return the revision table: of the record, else the first issue and the settings' amendments.

    Parameters
    ----------
    contents : Contents

    Returns
    -------
    list of Revision
    """
    table = contents.layer("revisions")
    if len(table):
        columns = [texts(table, name) for name in ("number", "date", "what", "by")]
        return [
            Revision(number, date or "not dated", what, by)
            for number, date, what, by in zip(*columns, strict=True)
        ]
    made = contents.settings.property
    date = made.prepared_on.isoformat() if made.prepared_on else "not dated"
    first = Revision("0", date, "Record drawing, first issue", made.prepared_by)
    later = [
        Revision(str(n), entry.date.isoformat(), entry.text, entry.by)
        for n, entry in enumerate(contents.settings.sheets.revisions, start=1)
    ]
    return [first, *later]


def software(contents: Contents) -> str:
    """Return the program and version that made the record, as its provenance states it."""
    frame = contents.layer("provenance")
    stated = dict(zip(texts(frame, "item"), texts(frame, "value"), strict=True))
    return stated.get("software", "wiremap")
