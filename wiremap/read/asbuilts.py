"""A written as-built back from its GeoPackage: its layers, and the property it was built from."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from wiremap.errors import ReadError
from wiremap.model.keeping import restore_property
from wiremap.model.season_tables import KEPT, REVISIONS
from wiremap.model.tables import LAYERS
from wiremap.read.layers import list_layers, translated
from wiremap.read.package_guard import guard_package

if TYPE_CHECKING:
    import geopandas as gpd
    import pandas as pd

    from wiremap.model.columns import Table
    from wiremap.model.property import Property

_PLACED = ("wire_runs", "wire_segments", "depth_readings", "valves", "splices", "controllers")
_HEAD = 100  # bytes of a SQLite header; a GeoPackage names itself at byte 68
_REMEDY = "name a GeoPackage that wiremap build wrote"


class WrittenAsBuilt(NamedTuple):
    """What `read_asbuilt` returns.

    Attributes
    ----------
    name : str
        Name of the property.
    path : Path
        The package.
    layers : dict of str to GeoDataFrame
        Every declared layer, in its declared shape and the record's working CRS; a layer that the
        package lacks is empty.
    """

    name: str
    path: Path
    layers: dict[str, gpd.GeoDataFrame]


def read_asbuilt(path: str | Path) -> WrittenAsBuilt:
    """Return the layers of a written as-built.

    Parameters
    ----------
    path : path
        ``<slug>.gpkg``.

    Returns
    -------
    WrittenAsBuilt
        Without the table ``inputs``: see `read_kept`.

    Raises
    ------
    ReadError
        There is no such file, it is no GeoPackage, or not one of an as-built.
    """
    path = Path(path)
    names = _list_layers(path)
    layers: dict[str, Any] = {}
    for table in LAYERS:
        if table is KEPT:
            continue
        is_there = table.name in names
        layers[table.name] = table.conform(_read(path, table.name)) if is_there else table.empty()
        if table.name in _PLACED:
            _require_places(layers[table.name], table, path)
    stated = layers["provenance"]
    titles = stated["value"][(stated["item"] == "property").to_numpy()]
    return WrittenAsBuilt(str(titles.iloc[0]) if len(titles) else path.stem, path, layers)


def read_kept(path: str | Path) -> Property:
    """Return the property that a written as-built was built from, as far as it was amended.

    Parameters
    ----------
    path : path
        ``<slug>.gpkg``.

    Returns
    -------
    Property
        With the record's revisions.

    Raises
    ------
    ReadError
        There is no such file, it is no package of an as-built, or its inputs are damaged.
    """
    from dataclasses import replace

    path = Path(path)
    names = _list_layers(path)
    kept = _read(path, KEPT.name) if KEPT.name in names else KEPT.empty()
    source = restore_property(KEPT.conform(kept), path=str(path))
    if REVISIONS.name not in names:
        return source
    table = REVISIONS.conform(_read(path, REVISIONS.name)).astype(object)
    return replace(source, revisions=tuple(table.where(table.notna(), None).to_dict("records")))


def _list_layers(path: Path) -> set[str]:
    if not path.is_file():
        raise ReadError("there is no such file", path=str(path), remedy=_REMEDY)
    rule = "the file is no GeoPackage that can be read"
    try:
        with path.open("rb") as stream:
            head = stream.read(_HEAD)
    except OSError as error:
        raise ReadError(f"the file cannot be read: {error}", path=str(path)) from error
    if not head.startswith(b"SQLite format 3\0") or head[68:70] != b"GP":
        raise ReadError(rule, path=str(path), remedy=_REMEDY)
    guard_package(path)
    names = {name for name, _ in list_layers(path)}
    if not {"locates", "wire_runs", "provenance"} <= names:
        raise ReadError("the file holds no as-built", path=str(path), remedy=_REMEDY)
    return names


def _read(path: Path, layer: str) -> pd.DataFrame:
    import pyogrio

    with translated(path):
        frame: pd.DataFrame = pyogrio.read_dataframe(path, layer=layer)
    figures = frame.select_dtypes("float").columns
    frame[figures] = frame[figures].where(np.isfinite(frame[figures]))  # an endless one is none
    return frame


def _require_places(layer: gpd.GeoDataFrame, table: Table, path: Path) -> None:
    """Refuse a layer that somebody changed so that nothing can be measured in it."""
    is_plane = layer.crs is not None and layer.crs.is_projected
    is_sound = layer.geom_type.isin([table.geometry, f"Multi{table.geometry}"]).all()
    if len(layer) and not (is_plane and is_sound and np.isfinite(layer.total_bounds).all()):
        raise ReadError(
            f"layer {table.name} has rows without a place of its kind, or no CRS to measure in",
            path=str(path),
            remedy=_REMEDY,
        )
