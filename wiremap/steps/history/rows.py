"""Rows of the ``history`` layer, and the columns that deciding on them needs."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from wiremap.model.kinds import EQUIPMENT, Feature
from wiremap.model.season_tables import HISTORY

if TYPE_CHECKING:
    from collections.abc import Sequence

    import geopandas as gpd
    from numpy.typing import NDArray
    from pyproj import CRS

    from wiremap.model.kinds import HistoryReason

    Ints = NDArray[np.int64]
    Texts = NDArray[np.object_]

BETTER = 2.0
"""A newer value replaces an older one that it contradicts where its standard deviation is at most
this many times the older one's. Project choice: a coarser instrument does not overrule a better
one, and a slightly coarser fix of today beats a good one of something that is no longer there."""

LAYER_OF = {
    str(Feature.VALVE): "valves",
    str(Feature.SPLICE): "splices",
    str(Feature.CONTROLLER): "controllers",
    **{str(kind): "equipment" for kind in EQUIPMENT if kind != Feature.STAKE},
}
"""Layer of each feature that stays in the ground; a stake is pulled after each visit."""


def split_by(names: Texts) -> list[tuple[str, Ints]]:
    """Return each name with the places where it stands, in order."""
    code, known = pd.factorize(names)
    order = np.argsort(code, kind="stable")
    bounds = np.searchsorted(code[order], np.arange(1, len(known)))
    groups = np.split(order, bounds) if len(known) else []
    return [(str(name), group) for name, group in zip(known, groups, strict=True)]


def tabulate_history(rows: Sequence[dict[str, Any]], *, crs: CRS) -> gpd.GeoDataFrame:
    """Return rows as the ``history`` layer.

    Parameters
    ----------
    rows : sequence of dict
        From `state`.
    crs : CRS
        The metric plane.

    Returns
    -------
    GeoDataFrame
        Empty where there is no row.
    """
    import geopandas as gpd

    if not rows:
        return HISTORY.empty(crs=crs)
    names = dict.fromkeys(name for row in rows for name in row)
    columns = {name: [row.get(name) for row in rows] for name in names}
    return HISTORY.conform(gpd.GeoDataFrame(columns, geometry="geometry", crs=crs), crs=crs)


def state(
    layer: str, feature: str, reason: HistoryReason, valid: tuple[str, str], geometry: Any,
    **more: Any,
) -> dict[str, Any]:  # fmt: skip
    """Return one row: what it was, why and between which days it held."""
    return {
        "layer": layer,
        "feature_id": feature,
        "reason": str(reason),
        "valid_from": valid[0] or None,
        "valid_to": valid[1] or None,
        "geometry": geometry,
        **more,
    }


def said(day: str) -> str:
    """Return a day in a sentence."""
    return f"on {day}" if day else "on an earlier visit without a date"
