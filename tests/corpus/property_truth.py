"""The invented property that every file of the corpus speaks of, and where its marks really are.

Two wires leave a controller. Longitudes and latitudes are in WGS 84, which stands within its own
realisations of NAD 83 here: samples in a plane CRS are projected from the same angles.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from pyproj import CRS, Transformer

GEOGRAPHIC = "EPSG:4326"
STATE_PLANE = "EPSG:2264"  # NAD83 / North Carolina (ftUS)
UTM = "EPSG:26917"  # NAD83 / UTM zone 17N
LON, LAT = -80.843_21, 35.227_14
METRES_PER_DEGREE = 111_195.0


class Mark(NamedTuple):
    """One mark on the ground."""

    name: str
    number: int
    feature: str
    code: str
    run: str
    zone: str
    lon: float
    lat: float
    elevation_m: float
    time: str


_PLAN = (  # name, feature, field code, run, zone, metres east, metres north
    ("C1", "controller", "CTRL", "", "", 0.0, 0.0),
    ("P1", "path", "WIRE", "Z1", "1", 0.6, 0.8),
    ("P2", "path", "WIRE", "Z1", "1", 4.1, 2.9),
    ("P3", "path", "WIRE", "Z1", "1", 8.2, 5.7),
    ("P4", "path", "WIRE", "Z1", "1", 12.9, 7.4),
    ("V1", "valve", "VLV", "Z1", "1", 16.3, 9.8),
    ("P6", "path", "WIRE", "Z2", "2", 0.7, -0.9),
    ("P7", "path", "WIRE", "Z2", "2", 3.8, -4.2),
    ("P8", "path", "WIRE", "Z2", "2", 7.9, -7.7),
    ("S1", "splice", "SPL", "Z2", "2", 11.2, -10.6),
    ("P9", "path", "WIRE", "Z2", "2", 14.8, -12.1),
    ("V2", "valve", "VLV", "Z2", "2", 19.4, -13.8),
    ("G1", "ground", "GND", "", "", -1.9, 1.2),
    ("B1", "backflow", "BFP", "", "", -4.4, 6.3),
)


def _lay_out() -> tuple[Mark, ...]:
    east = METRES_PER_DEGREE * np.cos(np.radians(LAT))
    return tuple(
        Mark(
            name, 101 + k, feature, code, run, zone,
            float(round(LON + x / east, 9)), round(LAT + y / METRES_PER_DEGREE, 9),
            round(212.4 + 0.05 * x - 0.03 * y, 3), f"2026-05-04T14:{k:02d}:30Z",
        )
        for k, (name, feature, code, run, zone, x, y) in enumerate(_PLAN)
    )  # fmt: skip


MARKS = _lay_out()


def plane(crs: str = STATE_PLANE) -> list[tuple[float, float]]:
    """Easting and northing of each mark, in the unit of a projected CRS."""
    project = Transformer.from_crs(CRS(crs).geodetic_crs, CRS(crs), always_xy=True)
    east, north = project.transform([m.lon for m in MARKS], [m.lat for m in MARKS])
    return list(zip(east, north, strict=True))


def offset_m(name: str, lon: float, lat: float) -> float:
    """How far a position lies from the mark of a name or number, in metres."""
    mark = next(m for m in MARKS if name in {m.name, str(m.number)})
    x = (lon - mark.lon) * METRES_PER_DEGREE * np.cos(np.radians(LAT))
    return float(np.hypot(x, (lat - mark.lat) * METRES_PER_DEGREE))
