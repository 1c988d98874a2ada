"""Positions given as coordinates: longitude and latitude (gnss), easting and northing (survey)."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import pandas as pd
from pyproj.exceptions import CRSError

from wiremap.formulas.repeats import isotropic
from wiremap.model.kinds import PlacedBy
from wiremap.steps.placement.crs import (
    geodetic,
    parse_crs,
    setting_crs,
    to_degrees,
    utm_crs,
    working_crs,
)
from wiremap.steps.placement.datum import Operation, find_operation, missing_operation
from wiremap.steps.placement.rows import Fixes, no_fixes, numbers, row_finding

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray
    from pyproj import CRS

    from wiremap.model.findings import Finding
    from wiremap.model.frame import Frame
    from wiremap.model.settings import Settings

    Floats = NDArray[np.float64]
    Rows = NDArray[np.intp]

MAX_LAT, MAX_LON = 90.0, 180.0

WORST_RMS_M = 1e5
LEAST_RMS_M = 1e-6
"""A stated RMS is cut at these two, so that its square stays a number above 0."""


class Batch(NamedTuple):
    """Rows whose coordinates stand in one CRS: pairs of x (or longitude) and y (or latitude).

    `middle` is their median place.
    """

    rows: Rows
    xy: Floats
    crs: CRS
    kind: PlacedBy
    middle: tuple[float, float]


class Landed(NamedTuple):
    """A batch in the metric plane, with the operation that took it there."""

    batch: Batch
    plane: Floats
    operation: Operation


def _batch(rows: Rows, xy: Floats, crs: CRS, kind: PlacedBy) -> Batch:
    x, y = np.median(xy, axis=0)
    return Batch(rows, xy, crs, kind, (float(x), float(y)))


def read_batches(frame: pd.DataFrame, *, settings: Settings) -> tuple[list[Batch], list[Finding]]:
    """Return the coordinates of a table, grouped by CRS and kind."""
    findings: list[Finding] = []
    batches: list[Batch] = []
    lonlat = np.stack([numbers(frame, "lon"), numbers(frame, "lat")], axis=1)
    plane = np.stack([numbers(frame, "easting"), numbers(frame, "northing")], axis=1)
    has_lonlat = _sound_degrees(frame, lonlat, findings)
    has_plane = np.isfinite(plane[:, 0]) & np.isfinite(plane[:, 1])
    default = settings.coordinates.input_crs
    for name, rows in _by_crs(frame, default, has_lonlat | has_plane).items():
        crs = _row_crs(frame, name, rows, default, findings)
        if crs is None:
            continue
        spherical = rows[has_lonlat[rows]]
        flat = rows[has_plane[rows]]
        if len(spherical):
            batches.append(_batch(spherical, lonlat[spherical], geodetic(crs), PlacedBy.GNSS))
        if len(flat):
            projected = _plane_crs(frame, crs, flat, settings, findings)
            if projected is not None:
                batches.append(_batch(flat, plane[flat], projected, PlacedBy.SURVEY))
    return batches, findings


def _sound_degrees(
    frame: pd.DataFrame, lonlat: Floats, findings: list[Finding]
) -> NDArray[np.bool_]:
    """Which rows hold a longitude and latitude; those out of range are reported."""
    given = np.isfinite(lonlat).all(axis=1)
    sound = given & (np.abs(lonlat[:, 0]) <= 2 * MAX_LON) & (np.abs(lonlat[:, 1]) <= MAX_LAT)
    for row in np.flatnonzero(given & ~sound):
        lon, lat = lonlat[row]
        swapped = abs(lon) <= MAX_LAT and abs(lat) <= 2 * MAX_LON
        message = (
            f"Latitude must be within 90 degrees of the equator, got lat {lat:g}, lon {lon:g}."
        )
        code = "swapped-axes" if swapped else "no-position"
        column = "lat" if abs(lat) > MAX_LAT else "lon"
        findings.append(
            row_finding(code, frame, int(row), message, column=column, value=f"{lat:g}")
        )
    return sound


def _by_crs(frame: pd.DataFrame, default: str, given: NDArray[np.bool_]) -> Mapping[str, Rows]:
    """Rows with coordinates, by the CRS that they name."""
    rows = np.flatnonzero(given)
    if "position_crs" not in frame or frame["position_crs"].isna().all():
        return {default: rows} if len(rows) else {}
    codes, names = pd.factorize(frame["position_crs"].fillna("").astype(str).str.strip())
    chosen = codes[rows]
    return {(names[c] or default): rows[chosen == c] for c in np.unique(chosen)}


def _row_crs(
    frame: pd.DataFrame, name: str, rows: Rows, default: str, findings: list[Finding]
) -> CRS | None:
    """Return the CRS that rows name, or None and a finding where it is none."""
    if name == default:
        return setting_crs("input_crs", name)
    try:
        return parse_crs(name)
    except CRSError:
        message = (
            f"position_crs must name a geographic or projected CRS, got {name!r};"
            f" {len(rows)} rows from here on that name it have no position."
        )
        advice = 'Name the file\'s CRS under [files] in property.toml by its code, as "EPSG:26914".'
        findings.append(
            row_finding("bad-value", frame, int(rows[0]), message, column="position_crs",
                        value=name, advice=advice)
        )  # fmt: skip
        return None


def _plane_crs(
    frame: pd.DataFrame, crs: CRS, rows: Rows, settings: Settings, findings: list[Finding]
) -> CRS | None:
    """Return the CRS of eastings and northings: the rows' own, else the working CRS."""
    if crs.is_projected:
        return crs
    if settings.coordinates.crs is not None:
        return working_crs(settings.coordinates.crs)
    message = (
        f"easting and northing need a projected CRS, but the rows' CRS is {crs.name}, in degrees;"
        f" {len(rows)} rows from here on are not placed by them."
    )
    findings.append(
        row_finding("bad-value", frame, int(rows[0]), message, column="easting", value=crs.name,
                    advice='Name it as input_crs in property.toml, such as "EPSG:26914".')
    )  # fmt: skip
    return None


def choose_crs(batches: Sequence[Batch]) -> CRS | None:
    """Return the UTM zone of the largest batch, in its own datum; None where there is no batch."""
    if not batches:
        return None
    main = max(batches, key=lambda batch: len(batch.rows))
    lon, lat = to_degrees(main.crs).transform(*main.middle)
    if not np.isfinite([lon, lat]).all():
        return None  # the projection has no such place; `land` reports its rows
    return utm_crs(geodetic(main.crs), float(lon), float(lat))


def land(
    batches: Sequence[Batch], frame: Frame, table: pd.DataFrame, *, settings: Settings
) -> tuple[list[Landed], list[Finding]]:
    """Return the batches in the metric plane; a batch without an allowed operation is reported."""
    landed: list[Landed] = []
    findings: list[Finding] = []
    for batch in batches:
        operation = find_operation(
            batch.crs,
            frame.metric_crs,
            ballpark=settings.coordinates.allow_ballpark,
            place=batch.middle,
        )
        if operation is None:
            findings.append(_refused(table, batch, frame))
            continue
        x, y = operation.transformer.transform(batch.xy[:, 0], batch.xy[:, 1])
        plane = np.stack([x, y], axis=1)
        findings += _unreachable(table, batch, np.isfinite(plane).all(axis=1), frame)
        landed.append(Landed(batch, np.where(np.isfinite(plane), plane, np.nan), operation))
    return landed, findings


def _unreachable(
    table: pd.DataFrame, batch: Batch, reached: NDArray[np.bool_], frame: Frame
) -> list[Finding]:
    """Report positions that the projection of the working CRS cannot reach."""
    message = f"The position cannot be drawn in {frame.crs.name}; it is too far from its zone."
    return [
        row_finding(
            "no-position",
            table,
            int(batch.rows[i]),
            message,
            value="{:.9g}, {:.9g}".format(*batch.xy[i]),
        )
        for i in np.flatnonzero(~reached)
    ]


def _refused(table: pd.DataFrame, batch: Batch, frame: Frame) -> Finding:
    """Say that only an operation of unknown accuracy leads to the working CRS."""
    missing = missing_operation(batch.crs, frame.metric_crs, batch.middle)
    grid = f"; '{missing}' needs a grid that is not installed" if missing else ""
    message = (
        f"No transformation of known accuracy leads from {batch.crs.name} to {frame.crs.name}"
        f"{grid}: {len(batch.rows)} rows from here on have no position by it."
    )
    advice = (
        "Install the grid for PROJ, choose a working CRS in the same datum, or set"
        " allow_ballpark = true under [coordinates] and accept metres of error."
    )
    return row_finding(
        "no-position", table, int(batch.rows[0]), message, column="position_crs",
        value=batch.crs.name, advice=advice,
    )  # fmt: skip


def fixes_of(landed: Sequence[Landed], kind: PlacedBy, rms_m: Floats) -> Fixes | None:
    """Return the positions of one kind for every row; None where no row has one."""
    chosen = [item for item in landed if item.batch.kind is kind]
    if not chosen:
        return None
    fixes = no_fixes(len(rms_m))
    for item in chosen:
        rows = item.batch.rows
        fixes.xy[rows] = item.plane
        fixes.cov[rows] = isotropic(np.hypot(rms_m[rows], item.operation.carried_m))
    return fixes


def stated_rms(frame: pd.DataFrame, column: str, default_m: float) -> Floats:
    """Return each row's stated RMS, the default where it states none that is positive."""
    rms = numbers(frame, column)
    return np.where(rms > 0, np.clip(rms, LEAST_RMS_M, WORST_RMS_M), default_m)
