"""Datum transformations: which operation was used, how good it is, and whose error it is.

A transformation's stated accuracy is one shift that all its positions share. It is handled by what
the operation does:

* Input and map in one datum: no transformation, nothing to carry. The working CRS that wiremap
  chooses keeps the data's datum, so this is the common case.
* The operation moves points by more than its own accuracy (ED50 to ETRS89, NAD27 to NAD83): the
  positions now claim to stand in another datum, and may be wrong by that accuracy. It goes into
  every covariance, in quadrature.
* The operation moves nothing, or less than its own accuracy, between datums known to differ (NAD83
  and WGS 84): the numbers are in effect still those that the receiver gave, and whether a small
  grid shift is installed or not should not decide how wide a buffer is. Against the receiver's
  own frame they are as good as before, whatever the label; lengths, offsets and what the same
  receiver finds again are untouched, and a buffer widened by metres would hide the good
  measurements in it. What may be wrong is the whole map against other maps. So it stays out of
  `position_rms_m`, and is stated with its figure in the column `datum_accuracy_m`, in the frame,
  in provenance and as a finding; a warning where positions from different datums are mixed, since
  those may be shifted against each other, and where the accuracy is unknown.
"""

from __future__ import annotations

import warnings
from functools import cache, lru_cache
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from pyproj import Transformer
from pyproj.transformer import AreaOfInterest, TransformerGroup

from wiremap.steps.placement.crs import geodetic, parse_crs, to_degrees

if TYPE_CHECKING:
    from pyproj import CRS

NULL_M, NULL_DEG = 0.01, 1e-7
"""A shift below this counts as none. Project choice: below what any locate resolves."""

NEAR_DEG = 0.01
"""Half width of the area that an operation is chosen for: a property."""

EPOCH = 2025.0
"""Epoch at which NAD83(2011) and WGS 84 are compared; they drift apart by about 2 cm a year."""


class Operation(NamedTuple):
    """A coordinate operation between two CRSs.

    `accuracy_m` is NaN where none is needed or none is stated; `moved_m` is how far it shifts the
    place between the datums; `better` names a better operation whose grid is not installed.
    """

    transformer: Transformer
    name: str
    accuracy_m: float
    moved_m: float
    better: str
    same_datum: bool

    @property
    def is_carried(self) -> bool:
        """Whether it shifts points by more than its own accuracy."""
        return bool(self.moved_m > np.fmax(self.accuracy_m, NULL_M)) and self.accuracy_m >= 0

    @property
    def carried_m(self) -> float:
        """What goes into every position's RMS."""
        return self.accuracy_m if self.is_carried else 0.0


@cache
def same_datum(source: CRS, target: CRS) -> bool:
    """Whether two CRSs rest on one datum, so that only a projection lies between."""
    return geodetic(source).equals(geodetic(target), ignore_axis_order=True)


@lru_cache(maxsize=256)
def find_operation(
    source: CRS, target: CRS, *, ballpark: bool, place: tuple[float, float]
) -> Operation | None:
    """Return the best operation at a place (source coordinates), None where none is allowed."""
    if same_datum(source, target):
        plain = Transformer.from_crs(source, target, always_xy=True)
        return Operation(plain, f"{source.name} to {target.name}", np.nan, 0.0, "", same_datum=True)
    lon, lat = _degrees(source, place)
    group = _group(source, target, ballpark=ballpark, lon=lon, lat=lat)
    better = "" if group.best_available else group.unavailable_operations[0].name
    if not group.transformers:
        return _through_wgs84(source, target, lon, lat)
    best = group.transformers[0]
    accuracy = best.accuracy if best.accuracy is not None and best.accuracy >= 0 else np.nan
    moved = _shift(best, target, place, (lon, lat))
    return Operation(best, best.description, accuracy, moved, better, same_datum=False)


def _through_wgs84(source: CRS, target: CRS, lon: float, lat: float) -> Operation | None:
    """Return the operation by way of WGS 84, where both of its legs are known to move nothing.

    Realisations of one datum (NAD83 and NAD83(2011)) have no direct operation without its grids,
    but each has a null one of stated accuracy to WGS 84: reading the degrees in the other
    realisation is as good as both together.
    """
    hub = parse_crs("EPSG:4326")
    there = _null_accuracy(geodetic(source), hub, lon, lat)
    back = _null_accuracy(hub, geodetic(target), lon, lat)
    accuracy = float(np.hypot(there, back))
    if not np.isfinite(accuracy):
        return None
    plain = _group(source, target, ballpark=True, lon=lon, lat=lat).transformers[0]
    name = f"{geodetic(source).name} to {geodetic(target).name} through WGS 84, a null shift"
    better = missing_operation(source, target, (lon, lat), degrees=True)
    return Operation(plain, name, accuracy, 0.0, better, same_datum=False)


def _null_accuracy(source: CRS, target: CRS, lon: float, lat: float) -> float:
    """Return the accuracy of the best operation between two geographic CRSs that moves nothing."""
    if source.equals(target, ignore_axis_order=True):
        return 0.0
    for one in _group(source, target, ballpark=False, lon=lon, lat=lat).transformers:
        moved_lon, moved_lat = one.transform(lon, lat)
        moved = max(abs(moved_lon - lon), abs(moved_lat - lat))
        if one.accuracy is not None and one.accuracy >= 0 and moved < NULL_DEG:
            return float(one.accuracy)
    return float("nan")


def missing_operation(
    source: CRS, target: CRS, place: tuple[float, float], *, degrees: bool = False
) -> str:
    """Name of the operation that would be used if its grid were installed, if there is one."""
    lon, lat = place if degrees else _degrees(source, place)
    group = _group(source, target, ballpark=False, lon=lon, lat=lat)
    return group.unavailable_operations[0].name if group.unavailable_operations else ""


def _group(source: CRS, target: CRS, *, ballpark: bool, lon: float, lat: float) -> TransformerGroup:
    """All operations around a place, the best first."""
    around = AreaOfInterest(lon - NEAR_DEG, lat - NEAR_DEG, lon + NEAR_DEG, lat + NEAR_DEG)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", UserWarning)  # a missing grid is stated by `better`
        return TransformerGroup(
            source, target, always_xy=True, allow_ballpark=ballpark, area_of_interest=around
        )


def _degrees(source: CRS, place: tuple[float, float]) -> tuple[float, float]:
    """Longitude and latitude of a place in its own datum."""
    lon, lat = to_degrees(source).transform(*place)
    return float(lon), float(lat)


def _shift(
    best: Transformer, target: CRS, place: tuple[float, float], degrees: tuple[float, float]
) -> float:
    """How far an operation moves a place beside reading its degrees in the target's datum."""
    plain = Transformer.from_crs(geodetic(target), target, always_xy=True)
    moved, still = np.array(best.transform(*place)), np.array(plain.transform(*degrees))
    return float(np.hypot(*(moved - still)) * target.axis_info[0].unit_conversion_factor)


def nad83_offset_m(lon: float, lat: float) -> float:
    """How far NAD83(2011) and WGS 84 lie apart at a place, in plan, metres."""
    shift = _nad83_to_itrf().transform(lon, lat, 0.0, EPOCH)
    radius = 6378137.0
    east = np.radians(shift[0] - lon) * radius * np.cos(np.radians(lat))
    return float(np.hypot(east, np.radians(shift[1] - lat) * radius))


@cache
def _nad83_to_itrf() -> Transformer:
    # WGS 84 (G2139 and later) and ITRF2014 agree within centimetres
    return Transformer.from_crs("EPSG:6319", "EPSG:7912", always_xy=True)


def is_nad83_and_wgs84(source: CRS, target: CRS) -> bool:
    """Whether one CRS is of the NAD83 family and the other of the WGS 84 one."""
    names = sorted(_family(crs) for crs in (source, target))
    return names == ["NAD83", "WGS 84"]


def _family(crs: CRS) -> str:
    name = geodetic(crs).name
    if name.startswith("NAD83"):
        return "NAD83"
    return "WGS 84" if name.startswith(("WGS 84", "ITRF", "IGS")) else name
