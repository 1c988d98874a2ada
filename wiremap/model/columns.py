"""What a declared table is: its columns, their types, and how a frame is brought into its shape."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, TypeAlias

import numpy as np

if TYPE_CHECKING:
    from enum import StrEnum

    import geopandas as gpd
    import pandas as pd
    from pyproj import CRS

Geometry = Literal["Point", "LineString", "Polygon"]
Type = Literal["text", "number", "integer", "flag"]
Options: TypeAlias = "type[StrEnum]"


@dataclass(frozen=True)
class Column:
    """One column: its name, type, meaning, and the closed set its values come from, if any."""

    name: str
    type: Type
    meaning: str
    options: Options | None = None

    @property
    def dtype(self) -> str:
        """The pandas dtype that holds the column, missing values included."""
        return {"text": "str", "number": "float64", "integer": "Int64", "flag": "boolean"}[
            self.type
        ]


@dataclass(frozen=True)
class Table:
    """One table: its name, geometry type and columns.

    Attributes
    ----------
    name : str
        Layer name.
    geometry : str or None
        Geometry type; None for a table without positions.
    meaning : str
        One line for people.
    columns : tuple of Column
        Declared columns; a table may carry more.
    """

    name: str
    geometry: Geometry | None
    meaning: str
    columns: tuple[Column, ...]

    @property
    def column_names(self) -> list[str]:
        """Names of the declared columns, in order."""
        return [c.name for c in self.columns]

    def conform(self, frame: pd.DataFrame, *, crs: CRS | None = None) -> gpd.GeoDataFrame:
        """Return the frame with every declared column, in order and of its declared type.

        Parameters
        ----------
        frame : DataFrame or GeoDataFrame
            Missing columns are added empty; further columns are kept behind the declared ones.
        crs : CRS, optional
            CRS of the geometry, where the frame has none.

        Returns
        -------
        GeoDataFrame or DataFrame
            With geometry where the table has one; index counted from 0.

        Examples
        --------
        >>> sheds = Table("sheds", None, "Sheds.", (Column("shed", "text", "Name."),))
        >>> sheds.conform(sheds.empty()).columns.tolist()
        ['shed']
        """
        import geopandas as gpd
        import pandas as pd

        index = pd.RangeIndex(len(frame))
        columns: dict[str, object] = {}
        for column in self.columns:
            if column.name in frame:
                columns[column.name] = _cast(frame[column.name], column).array
            else:
                columns[column.name] = pd.Series(index=index, dtype=column.dtype).array
        for name in frame.columns:
            if name not in columns and name != "geometry":
                columns[name] = frame[name].array
        if self.geometry is None:
            return pd.DataFrame(columns, index=index)
        shapes = frame["geometry"].array if "geometry" in frame else [None] * len(index)
        known = getattr(frame, "crs", None) if "geometry" in frame else None
        geometry = gpd.array.from_shapely(np.asarray(shapes, dtype=object), known or crs)
        return gpd.GeoDataFrame(pd.DataFrame(columns, index=index), geometry=geometry)

    def empty(self, *, crs: CRS | None = None) -> gpd.GeoDataFrame:
        """Return the table without rows.

        Parameters
        ----------
        crs : CRS, optional
            CRS of the geometry.

        Returns
        -------
        GeoDataFrame or DataFrame
            Declared columns with their types.
        """
        import pandas as pd

        return self.conform(pd.DataFrame(index=pd.RangeIndex(0)), crs=crs)


def _cast(values: pd.Series, column: Column) -> pd.Series:
    import pandas as pd

    if values.dtype == column.dtype:
        return values
    if column.type == "number":
        return pd.to_numeric(values, errors="coerce").astype("float64")
    if column.type == "integer":
        return pd.to_numeric(values, errors="coerce").round().astype("Int64")
    return values.astype(pd.api.types.pandas_dtype(column.dtype))
