"""The placed locates as arrays, and where each row stands on its run."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
import shapely

from wiremap.model.cells import source_of
from wiremap.model.findings import Finding

if TYPE_CHECKING:
    import geopandas as gpd
    from numpy.typing import NDArray

    Array = NDArray[np.float64]


class Rows:
    """Columns of the placed locates as arrays, and where each row stands on its run."""

    def __init__(self, placed: gpd.GeoDataFrame, points: gpd.GeoDataFrame) -> None:
        self.frame = placed
        self.count = len(placed)
        self.x, self.y = shapely.get_coordinates(placed.geometry.values).reshape(-1, 2).T
        self.run_code = np.full(self.count, -1, dtype=np.intp)
        self.chainage = np.full(self.count, np.nan)
        self.heading = np.full(self.count, np.nan)
        codes, names = pd.factorize(points["run"])
        self.run_names = np.asarray(names, dtype=object)
        # the first run of a locate that stands on several
        locate = points["locate"].to_numpy(dtype=np.intp)[::-1]
        self.run_code[locate] = codes[::-1]
        self.chainage[locate] = points["chainage_m"].to_numpy(dtype=float)[::-1]
        self.heading[locate] = points["heading_deg"].to_numpy(dtype=float)[::-1]

    def number(self, name: str) -> Array:
        """Return a column of numbers; NaN where the table has none."""
        if name not in self.frame:
            return np.full(self.count, np.nan)
        values: Array = self.frame[name].to_numpy(dtype=float, na_value=np.nan)
        return values

    def text(self, name: str) -> NDArray[np.object_]:
        """Return a column of texts; empty where missing."""
        if name not in self.frame:
            return np.full(self.count, "", dtype=object)
        values: NDArray[np.object_] = self.frame[name].fillna("").to_numpy(dtype=object)
        return values

    def finding(self, code: str, row: int, message: str, **more: Any) -> Finding:
        """Return a finding that stands at a row."""
        cells = self.frame.iloc[row]  # a row, not whole columns: there may be many findings
        return Finding(
            code,
            subject=str(cells["point"]),
            message=message,
            **source_of(cells),
            x_m=float(self.x[row]),
            y_m=float(self.y[row]),
            **more,
        )
