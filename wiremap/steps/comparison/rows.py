"""Two records as plain arrays in one metric plane, and rows of table ``changes``."""

from __future__ import annotations

from dataclasses import dataclass
from statistics import NormalDist
from typing import TYPE_CHECKING, Any

import numpy as np

from wiremap.model.cells import numbers

if TYPE_CHECKING:
    from collections.abc import Mapping

    import geopandas as gpd
    import pandas as pd
    from numpy.typing import NDArray
    from pyproj import CRS

    from wiremap.model.kinds import Change

    Floats = NDArray[np.float64]

_UNKNOWN_RMS_M = 0.5  # the default of coordinates.default_rms_m


@dataclass(frozen=True)
class Pair:
    """Two records to compare.

    Attributes
    ----------
    old, new : mapping of str to DataFrame
        Layers by name, positions in one metric plane.
    confidence : float
        Of the uncertainty that differences are held against.
    """

    old: Mapping[str, Any]
    new: Mapping[str, Any]
    confidence: float

    @property
    def radius(self) -> float:
        """Radius that holds a position, in standard deviations along one axis."""
        return float(np.sqrt(-2.0 * np.log1p(-self.confidence)))

    @property
    def deviation(self) -> float:
        """Half width that holds a number, in standard deviations."""
        return NormalDist().inv_cdf((1.0 + self.confidence) / 2.0)

    def reach_m(self, one_rms_m: Floats, other_rms_m: Floats) -> Floats:
        """Return how far apart two positions of one thing may lie."""
        variance = (np.asarray(one_rms_m) ** 2 + np.asarray(other_rms_m) ** 2) / 2.0
        return np.asarray(self.radius * np.sqrt(variance), dtype=np.float64)


def rms_of(frame: pd.DataFrame, name: str = "position_rms_m") -> Floats:
    """Return the radial RMS of each row; 0.5 m where it is not known."""
    rms = numbers(frame, name)
    return np.where(np.isnan(rms), _UNKNOWN_RMS_M, rms)


def change(
    kind: Change, layer: str, feature: str, message: str, geometry: Any = None, **more: Any
) -> dict[str, Any]:
    """Return one row of table ``changes``."""
    return {
        "change": str(kind),
        "layer": layer,
        "feature_id": feature,
        "message": message,
        "geometry": geometry,
        **more,
    }


def in_metres(
    layers: Mapping[str, gpd.GeoDataFrame], crs: CRS | None, metres: float
) -> dict[str, Any]:
    """Return the layers of a record in a CRS, scaled to metres."""
    placed = {}
    for name, frame in layers.items():
        moved = frame
        if getattr(frame, "crs", None) is not None and len(frame):
            moved = frame if frame.crs == crs else frame.to_crs(crs)
            moved = moved if metres == 1 else scale_layer(moved, metres)
        placed[name] = moved
    return placed


def scale_layer(layer: gpd.GeoDataFrame, factor: float) -> gpd.GeoDataFrame:
    """Return a layer with its plane coordinates scaled; it keeps its CRS."""
    shapes = layer.geometry.affine_transform([factor, 0, 0, factor, 0, 0])
    return layer.set_geometry(shapes.set_crs(layer.crs, allow_override=True))
