"""A written as-built back from its GeoPackage: its layers, and the property it was built from."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

from wiremap.errors import ReadError
from wiremap.model.keeping import restore_property
from wiremap.model.season_tables import KEPT, REVISIONS
from wiremap.model.tables import LAYERS

if TYPE_CHECKING:
    import geopandas as gpd
    import pandas as pd

    from wiremap.model.property import Property

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
    import pyogrio
    from pyogrio.errors import DataSourceError

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
    try:
        names = {str(name) for name, _ in pyogrio.list_layers(path)}
    except (DataSourceError, ValueError) as error:
        raise ReadError(rule, path=str(path), remedy=_REMEDY) from error
    if not {"locates", "wire_runs", "provenance"} <= names:
        raise ReadError("the file holds no as-built", path=str(path), remedy=_REMEDY)
    return names


def _read(path: Path, layer: str) -> pd.DataFrame:
    import pyogrio
    from pyogrio.errors import DataLayerError, DataSourceError, FieldError, GeometryError

    try:
        frame: pd.DataFrame = pyogrio.read_dataframe(path, layer=layer)
    except (DataLayerError, DataSourceError, FieldError, GeometryError) as error:
        rule = f"layer {layer} cannot be read: {' '.join(str(error).split())[:200]}"
        raise ReadError(rule, path=str(path), remedy=_REMEDY) from error
    return frame
