"""What the checks look at."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Mapping

    import geopandas as gpd
    import pandas as pd

    from wiremap.model.frame import Frame
    from wiremap.model.settings import Settings


class Record(NamedTuple):
    """An as-built, as the checks see it."""

    layers: Mapping[str, pd.DataFrame]
    frame: Frame
    settings: Settings
    base: Mapping[str, gpd.GeoDataFrame]

    def rows(self, layer: str) -> pd.DataFrame:
        """Return a layer; an empty frame where the as-built has none of the name."""
        import pandas as pd

        return self.layers.get(layer, pd.DataFrame())
