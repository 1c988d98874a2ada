"""Whether coordinates can be where they say: area of use, exchanged axes, units, far points."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from wiremap.model.findings import Finding
from wiremap.model.kinds import Severity
from wiremap.steps.placement.crs import to_degrees
from wiremap.steps.placement.rows import row_finding

if TYPE_CHECKING:
    from collections.abc import Sequence

    import pandas as pd
    from numpy.typing import NDArray
    from pyproj import CRS

    from wiremap.model.frame import Frame
    from wiremap.steps.placement.direct import Batch, Landed

    Floats = NDArray[np.float64]

AREA_MARGIN_DEG = 1.0
"""How far outside its area of use a CRS may be used without a finding. Project choice: zones
overlap in practice, and a UTM zone still keeps lengths within 0.2 % there."""

FAR_M, FAR_TIMES, FAR_SHARE = 2000.0, 20.0, 0.1
"""A lone point is farther from the middle than the first, and than the second times the median
distance, and such points are no more than the third of all. Project choice: a property is
seldom wider than 2 km, and a second cluster is not a blunder."""

WIDEST_M = 50_000.0
"""No point of a property is farther from its middle. Project choice: beyond it no one plane keeps
lengths, and the points are those of several properties."""

SOUTHERNMOST_DEG = -60.0
"""Nothing is irrigated south of it (the area of the Antarctic Treaty, article VI), but the
longitudes of eastern North America, read as latitudes, fall there."""

FOOT_M, SURVEY_FOOT_M = 0.3048, 1200 / 3937


class Mistake(NamedTuple):
    """What would bring a place into its area: in words, and the finding's code."""

    words: str
    code: str = "outside-area-of-use"
    aside: bool = True


def area_findings(
    batch: Batch, table: pd.DataFrame, working: CRS | None
) -> tuple[list[Finding], bool]:
    """Return a finding where a batch lies outside its CRS's area of use; True: it was set aside.

    Degrees are also held against the area of the working CRS that was given: the area of most
    geographic CRSs is the world. What only a wrong zone explains is kept: its lengths are sound.
    """
    place = _degrees(batch.crs, *batch.middle)
    limit = batch.crs
    if _inside_area(limit, *place):
        if working is None or _inside_area(working, *place):
            return [], False
        limit = working
    mistake = _likely_mistake(batch.crs, limit, *batch.middle)
    if mistake is None and limit is working:
        return [], False  # said once of the whole frame
    mistake = mistake or Mistake("the zone may be wrong", aside=False)
    x, y = batch.middle
    first, second = ("lon", "lat") if batch.crs.is_geographic else ("easting", "northing")
    message = (
        f"{len(batch.rows)} rows from here on lie outside the area of use of {limit.name}"
        f" ({_area_name(limit)}): their middle is {first} {x:.9g}, {second} {y:.9g};"
        f" {mistake.words}{'; they were set aside' if mistake.aside else ''}."
    )
    row, value = int(batch.rows[0]), f"{x:.9g}, {y:.9g}"
    finding = row_finding(mistake.code, table, row, message, column=first, value=value)
    return [finding], mistake.aside


def _likely_mistake(crs: CRS, limit: CRS, x: float, y: float) -> Mistake | None:
    """Return the first mistake that explains why a place lies outside an area."""
    if _inside_area(limit, *_degrees(crs, y, x)):
        return Mistake("exchanged, they lie inside", "swapped-axes")
    if crs.is_geographic:
        if _inside_area(limit, *_degrees(crs, -x, y)):
            return Mistake("with the sign of the longitude changed they lie inside")
        return None
    unit = crs.axis_info[0].unit_conversion_factor
    if abs(x) <= 180 and abs(y) <= 90:  # noqa: PLR2004 - degrees
        return Mistake("they look like degrees")
    if unit == 1 and _inside_area(limit, *_degrees(crs, x * FOOT_M, y * FOOT_M)):
        return Mistake("read as feet, they lie inside")
    if unit != 1 and _inside_area(limit, *_degrees(crs, x / unit, y / unit)):
        return Mistake("read as metres, they lie inside")
    return None


def _degrees(crs: CRS, x: float, y: float) -> tuple[float, float]:
    """Longitude and latitude of a place."""
    lon, lat = to_degrees(crs).transform(x, y)
    return float(lon), float(lat)


def _inside_area(crs: CRS, lon: float, lat: float) -> bool:
    area = crs.area_of_use
    if area is None:
        return True
    if lat < SOUTHERNMOST_DEG < area.north:
        return False
    if not area.south - AREA_MARGIN_DEG <= lat <= area.north + AREA_MARGIN_DEG:
        return False
    width = (area.east - area.west) % 360 or 360
    return (lon - area.west + AREA_MARGIN_DEG) % 360 <= width + 2 * AREA_MARGIN_DEG or width == 360  # noqa: PLR2004


def _area_name(crs: CRS) -> str:
    return crs.area_of_use.name.rstrip(".") if crs.area_of_use is not None else "not stated"


def frame_findings(frame: Frame) -> list[Finding]:
    """Return a finding where the property lies outside the area of use of the working CRS."""
    if not np.isfinite(frame.lon_deg) or _inside_area(frame.crs, frame.lon_deg, frame.lat_deg):
        return []
    message = (
        f"The property, at lon {frame.lon_deg:.4f}, lat {frame.lat_deg:.4f}, lies outside the area"
        f" of use of the working CRS {frame.crs.name} ({_area_name(frame.crs)})."
    )
    advice = "Name the CRS of the property's own zone, or leave crs out to have it chosen."
    return [
        Finding("outside-area-of-use", "coordinates.crs", message, advice, Severity.WARNING,
                value=frame.crs.name)
    ]  # fmt: skip


def far_rows(xy: Floats) -> NDArray[np.bool_]:
    """Which positions lie far from all others: a tenth at most, unless beyond all measure."""
    known = np.isfinite(xy).all(axis=1)
    far = np.zeros(len(xy), bool)
    if known.sum() < 3:  # noqa: PLR2004 - of two points neither is the stray one
        return far
    if np.ptp(xy[known], axis=0).max() < FAR_M:
        return far
    distance = _distances(xy[known], np.median(xy[known], axis=0))
    limit = max(FAR_M, FAR_TIMES * float(np.median(distance)))
    far[known] = distance > limit
    if far.sum() > max(1, FAR_SHARE * known.sum()):
        far[:] = False
    far[known] |= distance > WIDEST_M
    return far


def _distances(xy: Floats, centre: Floats) -> Floats:
    distances: Floats = np.hypot(xy[:, 0] - centre[0], xy[:, 1] - centre[1])
    return distances


def set_far_aside(landed: Sequence[tuple[Landed, pd.DataFrame]]) -> list[Finding]:
    """Blank positions that lie far from all others, and report each with the likely mistake.

    Each batch comes with the table that its rows are of.
    """
    if not landed:
        return []
    everything = np.concatenate([item.plane for item, _ in landed])
    far = far_rows(everything)
    if not far.any():
        return []
    near = everything[np.isfinite(everything).all(axis=1) & ~far]
    centre = np.median(near if len(near) else everything[far], axis=0)
    findings: list[Finding] = []
    start = 0
    for item, table in landed:
        here = np.flatnonzero(far[start : start + len(item.plane)])
        start += len(item.plane)
        findings += [_far_finding(item, int(i), centre, table) for i in here]
        item.plane[here] = np.nan
    return findings


def _far_finding(item: Landed, i: int, centre: Floats, table: pd.DataFrame) -> Finding:
    row = int(item.batch.rows[i])
    x, y = item.batch.xy[i]
    distance = float(_distances(item.plane[i : i + 1], centre)[0])
    exchanged = np.array(item.operation.transformer.transform(y, x), dtype=float)
    near = bool(np.isfinite(exchanged).all()) and np.hypot(*(exchanged - centre)) < FAR_M
    geographic = item.batch.crs.is_geographic
    first, second = ("lon", "lat") if geographic else ("easting", "northing")
    message = (
        f"{first} {x:.9g}, {second} {y:.9g} lies {distance / 1000:.3g} km from the middle of all"
        f" other points{'; exchanged, it lies among them' if near else ''}."
    )
    code = "swapped-axes" if near else "distant-point"
    value = f"{x:.9g}, {y:.9g}"
    return row_finding(code, table, row, message, column=first, value=value, xy=item.plane[i])
