"""The working frame: the plane that all steps compute in.

Steps compute in metres. Where the working CRS counts in feet, they compute in its metric twin:
the same projection with metre axes. The layers are scaled back into the working CRS at the end.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import geopandas as gpd
    from pyproj import CRS


@dataclass(frozen=True)
class Frame:
    """Working CRS, its metric twin, and how the plane differs from the ground.

    Attributes
    ----------
    crs : CRS
        The working CRS, which the layers are written in.
    metric_crs : CRS
        The same projection with metre axes; the working CRS itself where that is metric.
    metres_per_unit : float
        Metres in one unit of the working CRS.
    scale_factor : float
        Plane metres in one metre along the ellipsoid, at the middle of the property.
    convergence_deg : float
        Grid north minus true north at the middle of the property, clockwise positive.
    lon_deg, lat_deg : float
        The middle of the property.
    transformation : str
        The coordinate operation used, by name.
    accuracy_m : float
        The worst stated accuracy of the operations between datums; NaN where none was needed.
    """

    crs: CRS
    metric_crs: CRS
    metres_per_unit: float = 1.0
    scale_factor: float = 1.0
    convergence_deg: float = 0.0
    lon_deg: float = float("nan")
    lat_deg: float = float("nan")
    transformation: str = ""
    accuracy_m: float = float("nan")

    def to_working_crs(self, layer: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
        """Return a layer of the metric plane in the working CRS.

        Parameters
        ----------
        layer : GeoDataFrame
            Positions in metres, in `metric_crs`.

        Returns
        -------
        GeoDataFrame
            The same rows, positions in the unit of `crs`; heights stay in metres.
        """
        if self.metres_per_unit == 1:
            return layer.set_crs(self.crs, allow_override=True)
        factor = 1 / self.metres_per_unit
        matrix = [factor, 0, 0, 0, factor, 0, 0, 0, 1, 0, 0, 0]
        scaled = layer.geometry.affine_transform(matrix)
        return layer.set_geometry(scaled.set_crs(self.crs, allow_override=True))
