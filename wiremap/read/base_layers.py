"""Base layers of a property: property line, buildings, hardscape, as GeoDataFrames."""

from __future__ import annotations

import hashlib
from typing import TYPE_CHECKING

from wiremap.model.findings import Finding
from wiremap.model.property import InputFile

if TYPE_CHECKING:
    from pathlib import Path

    import geopandas as gpd

_SUFFIXES = frozenset({".gpkg", ".geojson", ".json", ".shp", ".dxf", ".kml"})
_IMAGES = frozenset({".tif", ".tiff", ".png", ".jpg", ".jpeg", ".jp2"})
_PARTS = frozenset({".dbf", ".shx", ".prj", ".cpg", ".qpj", ".tfw", ".pgw", ".jgw", ".qml", ".md"})
_NOT_LAYERS = frozenset({"layer_styles"})


def read_base(
    folder: Path, *, findings: list[Finding], inputs: list[InputFile]
) -> dict[str, gpd.GeoDataFrame]:
    """Return the base layers of a property folder.

    Parameters
    ----------
    folder : Path
        May hold ``base.<ext>`` and ``base/``.
    findings : list of Finding
        Gets a finding for each file that cannot be read.
    inputs : list of InputFile
        Gets the files read.

    Returns
    -------
    dict of str to GeoDataFrame
        By layer name; a name that is taken gets its file's name before it. Empty where the folder
        has no base.
    """
    top = [p for p in folder.iterdir() if p.is_file() and p.stem.lower() == "base"]
    nested = [p for p in (folder / "base").rglob("*") if p.is_file()]
    layers: dict[str, gpd.GeoDataFrame] = {}
    for path in sorted(top) + sorted(nested):
        name, suffix = path.relative_to(folder).as_posix(), path.suffix.lower()
        if suffix in _PARTS or path.name.startswith("."):
            continue
        if suffix not in _SUFFIXES:
            what = "an image" if suffix in _IMAGES else "no format of base layers"
            text = f"The file is {what}; it was not read."
            findings.append(Finding("read-note", name, text, source_file=name))
            continue
        _add_layers(path, name, layers, findings=findings, inputs=inputs)
    return layers


def _add_layers(
    path: Path,
    name: str,
    layers: dict[str, gpd.GeoDataFrame],
    *,
    findings: list[Finding],
    inputs: list[InputFile],
) -> None:
    import pyogrio
    from pyogrio.errors import DataLayerError, DataSourceError, FieldError, GeometryError

    try:
        found = {
            str(layer): pyogrio.read_dataframe(path, layer=layer)
            for layer, geometry in pyogrio.list_layers(path)
            if geometry is not None and layer not in _NOT_LAYERS
        }
        digest = hashlib.sha256(path.read_bytes()).hexdigest()
    except (DataLayerError, DataSourceError, FieldError, GeometryError, OSError) as error:
        text = f"The base file cannot be read: {' '.join(str(error).split())[:200]}."
        findings.append(Finding("unread-file", name, text, source_file=name))
        return
    for layer, frame in found.items():
        key = layer if layer not in layers else f"{path.stem}_{layer}"
        layers[key] = frame
        if frame.crs is None and len(frame):
            text = f"Base layer {key} names no CRS; it can be drawn only in the working CRS."
            findings.append(Finding("read-note", name, text, source_file=name))
    inputs.append(InputFile(name, digest, "base", sum(map(len, found.values()))))
