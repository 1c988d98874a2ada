"""The base under the map, sorted into property line, paving, buildings and the rest.

Reads base layers as they came; returns their rows by the style they are drawn in.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiremap.draw.styles import base_kind

if TYPE_CHECKING:
    from collections.abc import Mapping

    import geopandas as gpd

ORDER = ("hardscape", "building", "other", "property")
"""Kinds from the bottom up."""

_KIND_COLUMNS = ("kind", "type", "class", "layer", "Layer", "feature", "name")


def sort_base(base: Mapping[str, gpd.GeoDataFrame]) -> list[tuple[str, gpd.GeoDataFrame]]:
    """Return the rows of all base layers by kind, from the bottom up.

    Parameters
    ----------
    base : mapping of str to GeoDataFrame
        Base layers by name. A row's kind comes from its column ``kind``, ``type``, ``class``,
        ``layer``, ``feature`` or ``name``, else from the name of its layer.

    Returns
    -------
    list of tuple
        Kind, a key of `wiremap.draw.styles.BASE_STYLES`, and its rows; only kinds that occur.
        Rows without geometry are left out.

    Examples
    --------
    >>> import geopandas as gpd
    >>> from shapely import Point
    >>> trees = gpd.GeoDataFrame({"kind": ["house", "oak"]}, geometry=[Point(0, 0), Point(1, 1)])
    >>> [(kind, len(rows)) for kind, rows in sort_base({"survey": trees})]
    [('building', 1), ('other', 1)]
    """
    found: list[tuple[str, gpd.GeoDataFrame]] = []
    for name, frame in base.items():
        placed = frame.loc[~(frame.geometry.isna() | frame.geometry.is_empty)]
        kinds = _row_kinds(placed, otherwise=base_kind(name))
        found += [(k, placed.loc[[kind == k for kind in kinds]]) for k in sorted(set(kinds))]
    return sorted(found, key=lambda part: ORDER.index(part[0]))


def _row_kinds(frame: gpd.GeoDataFrame, *, otherwise: str) -> list[str]:
    """Return the kind of each row: the first column that tells, else the layer's own."""
    kinds = [otherwise] * len(frame)
    for column in reversed([c for c in _KIND_COLUMNS if c in frame]):
        told = [base_kind(value) if isinstance(value, str) else "other" for value in frame[column]]
        kinds = [new if new != "other" else old for new, old in zip(told, kinds, strict=True)]
    return kinds
