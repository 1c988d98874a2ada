"""A record over the seasons: amended by a visit, compared with another, held against new ground.

Each takes written records and composes readers and steps; nothing is written here.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiremap.errors import ReadError
from wiremap.workflow import build_asbuilt

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from wiremap.asbuilt import AsBuilt
    from wiremap.steps.comparison import Comparison
    from wiremap.steps.recovery import Recovered


def amend_asbuilt(
    record: str | Path,
    visit: str | Path,
    *,
    date: str = "",
    by: str = "",
    progress: Callable[[str], None] | None = None,
) -> AsBuilt:
    """Build a record anew with what a further visit brought, without its old field files.

    Parameters
    ----------
    record : path
        GeoPackage of the record; it is read only.
    visit : path
        A file of field locates, or a folder of them.
    date : str
        Day of rows that carry none, ISO 8601.
    by : str
        Who amends; the visit's operators where empty.
    progress : callable, optional
        Called with the name of each step of `STEPS` as it starts.

    Returns
    -------
    AsBuilt
        What `build_asbuilt` makes of all visits together, with one revision more.

    Raises
    ------
    ReadError
        The record or the visit cannot be read, `date` is no date, or rows of the visit have none.
    MissingExtraError
        The visit's file needs a package that is not installed.
    """
    import datetime as dt

    from wiremap.read.amendments import add_visit
    from wiremap.read.asbuilts import read_kept
    from wiremap.read.folders import read_visit

    try:
        day = dt.date.fromisoformat(date).isoformat() if date else ""
    except ValueError as error:
        remedy = "write the day as year-month-day, such as 2026-06-12"
        raise ReadError("this is no date", path=str(visit), value=date, remedy=remedy) from error
    kept = read_kept(record)
    brought = read_visit(visit, settings=kept.settings, date=day)
    return build_asbuilt(add_visit(kept, brought, by=by), progress=progress)


def compare_asbuilts(old: str | Path, new: str | Path, *, confidence: float = 0.95) -> Comparison:
    """Compare two written records of one property.

    Parameters
    ----------
    old, new : path
        Their GeoPackages.
    confidence : float
        Of the uncertainty that differences are held against.

    Returns
    -------
    Comparison
        Table ``changes``, and all of it in one sentence.

    Raises
    ------
    ReadError
        A file is no package of an as-built.
    """
    from wiremap.read.asbuilts import read_asbuilt
    from wiremap.steps.comparison import compare_layers

    former, latter = read_asbuilt(old), read_asbuilt(new)
    return compare_layers(former.layers, latter.layers, confidence=confidence)


def recover_asbuilt(
    record: str | Path, surface: str | Path, *, surface_sigma_m: float = 0.03
) -> Recovered:
    """Find where a new ground surface leaves less cover over the wires of a record.

    Parameters
    ----------
    record : path
        GeoPackage of the record.
    surface : path
        Points of the new ground with elevations: any file that field locates are read from.
    surface_sigma_m : float
        One standard deviation of their elevations, metres; 0.03 m is a project choice, for a
        surface taken with a level or a network rover.

    Returns
    -------
    Recovered
        Table ``lost_cover``, and what could not be told.

    Raises
    ------
    ReadError
        A file cannot be read, or the points make no surface.
    """
    import numpy as np

    from wiremap.read.asbuilts import read_asbuilt, read_kept
    from wiremap.read.folders import read_visit
    from wiremap.steps.placement import place_locates
    from wiremap.steps.recovery import recover_cover

    layers, source = read_asbuilt(record).layers, read_kept(record)
    crs = layers["wire_runs"].crs
    authority = crs.to_authority()
    name = ":".join(authority) if authority else crs.to_wkt()
    coordinates = source.settings.coordinates.model_copy(update={"crs": name})
    settings = source.settings.model_copy(update={"coordinates": coordinates})
    ground = read_visit(surface, settings=settings)
    placed = place_locates(ground.locates, source.references, settings=settings)
    xyz = placed.locates.geometry.get_coordinates().to_numpy()
    xyz = np.column_stack([xyz, placed.locates["elevation_m"].to_numpy(dtype=float)])
    try:
        return recover_cover(
            layers, xyz, metres_per_unit=placed.frame.metres_per_unit,
            surface_sigma_m=surface_sigma_m, settings=settings,
        )  # fmt: skip
    except ValueError as error:
        remedy = "give points with positions and elevations"
        raise ReadError(str(error), path=str(surface), remedy=remedy) from error
