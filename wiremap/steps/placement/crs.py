"""The working CRS: given or chosen, its metric twin, and the frame of the property.

The chosen CRS keeps the data's own datum, so that in the common case nothing is shifted between
datums and no transformation's accuracy has to be carried.
"""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING

import numpy as np
from pyproj import CRS, Proj, Transformer
from pyproj.crs import ProjectedCRS
from pyproj.crs.coordinate_operation import UTMConversion
from pyproj.exceptions import CRSError

from wiremap.errors import SettingsError
from wiremap.model.findings import Finding
from wiremap.model.frame import Frame

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

MAX_STRETCH = 0.002
"""Departure of a length from the ground's, or of one direction from another, beyond which the
working CRS is called distorted. Project choice: twice what a UTM zone reaches at its edge."""

NOWHERE = "EPSG:32631"
"""Working CRS where nothing has a position and none is given: any UTM zone serves."""


@cache
def parse_crs(text: str) -> CRS:
    """Return the horizontal part of a CRS, two axes; raises pyproj's CRSError."""
    crs = CRS.from_user_input(text)
    if crs.is_bound and crs.source_crs is not None:
        crs = crs.source_crs
    if crs.is_compound:
        crs = crs.sub_crs_list[0]
    if not (crs.is_geographic or crs.is_projected):
        raise CRSError(f"neither geographic nor projected: {crs.name}")
    return crs.to_2d() if len(crs.axis_info) > 2 else crs  # noqa: PLR2004 - two axes


def geodetic(crs: CRS) -> CRS:
    """Return the geographic CRS that a CRS rests on; itself where it rests on none."""
    return crs.geodetic_crs or crs


def setting_crs(key: str, text: str) -> CRS:
    """Return the CRS that a setting names."""
    try:
        return parse_crs(text)
    except CRSError as error:
        raise SettingsError(
            "must name a geographic or projected coordinate reference system",
            path="property.toml",
            column=f"coordinates.{key}",
            value=repr(text),
            remedy='write its EPSG code, such as "EPSG:26914"',
        ) from error


def working_crs(text: str) -> CRS:
    """Return the working CRS that the settings name; it must be projected."""
    crs = setting_crs("crs", text)
    if crs.is_projected and {axis.direction for axis in crs.axis_info} == {"east", "north"}:
        return crs
    raise SettingsError(
        "the working CRS must be projected and count east and north",
        path="property.toml",
        column="coordinates.crs",
        value=f"{text!r} ({crs.name}, {crs.type_name})",
        remedy="name a UTM or state plane zone, or leave crs out to have the UTM zone chosen",
    )


def utm_crs(base: CRS, lon: float, lat: float) -> CRS:
    """Return the UTM zone at a place, in the datum of a geographic CRS."""
    return _zone_crs(base, _utm_zone(lon, lat), "N" if lat >= 0 else "S")


@cache
def _zone_crs(base: CRS, zone: int, hemisphere: str) -> CRS:
    if base.name == "WGS 84":
        return CRS.from_epsg((32600 if hemisphere == "N" else 32700) + zone)
    built = ProjectedCRS(
        UTMConversion(str(zone), hemisphere),
        name=f"{base.name} / UTM zone {zone}{hemisphere}",
        geodetic_crs=base,
    )
    code = built.to_authority("EPSG", min_confidence=90)
    return built if code is None else CRS.from_authority(*code)


def _utm_zone(lon: float, lat: float) -> int:
    """Zone number, with the exceptions of south-west Norway and Svalbard."""
    if 56 <= lat < 64 and 3 <= lon < 12:  # noqa: PLR2004
        return 32
    if 72 <= lat <= 84 and 0 <= lon < 42:  # noqa: PLR2004
        return 31 + 2 * int((lon + 3) // 12)
    return int((lon + 180) // 6) % 60 + 1


@cache
def metric_twin(crs: CRS) -> CRS:
    """Return the same projection with metre axes; the CRS itself where it counts in metres."""
    if metres_per_unit(crs) == 1:
        return crs
    definition = crs.to_json_dict()
    for axis in definition["coordinate_system"]["axis"]:
        axis["unit"] = "metre"
    definition["name"] = f"{crs.name}, in metres"
    definition.pop("id", None)
    return CRS.from_json_dict(definition)


def metres_per_unit(crs: CRS) -> float:
    """Metres in one unit of a projected CRS."""
    return float(crs.axis_info[0].unit_conversion_factor)


@cache
def to_degrees(crs: CRS) -> Transformer:
    """Return the way from a CRS to longitude and latitude of its own datum."""
    return Transformer.from_crs(crs, geodetic(crs), always_xy=True)


@cache
def _projection(crs: CRS) -> Proj:
    return Proj(crs)


def make_frame(crs: CRS, centre: Floats | None) -> Frame:
    """Return the frame of a working CRS around a point of its metric plane."""
    metric = metric_twin(crs)
    if centre is None or not np.isfinite(centre).all():
        return Frame(crs, metric, metres_per_unit(crs))
    lon, lat = to_degrees(metric).transform(*centre)
    factors = _projection(metric).get_factors(lon, lat)
    return Frame(
        crs,
        metric,
        metres_per_unit(crs),
        float(np.sqrt(factors.areal_scale)),
        float(factors.meridian_convergence),
        float(lon),
        float(lat),
    )


def distortion_findings(frame: Frame) -> list[Finding]:
    """Return a finding where the working CRS stretches lengths or bends angles strongly."""
    if not np.isfinite(frame.lon_deg):
        return []
    factors = _projection(frame.metric_crs).get_factors(frame.lon_deg, frame.lat_deg)
    high, low = factors.tissot_semimajor, factors.tissot_semiminor
    if max(abs(high - 1), abs(low - 1), high / low - 1) <= MAX_STRETCH:
        return []
    message = (
        f"The working CRS {frame.crs.name} draws 100 m on the ground as {100 * low:.2f} to"
        f" {100 * high:.2f} m here; more than {MAX_STRETCH:.1%} off."
    )
    return [Finding("crs-distorted", "coordinates.crs", message, value=frame.crs.name)]
