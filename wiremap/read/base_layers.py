"""Base layers of a property: property line, buildings, hardscape, as GeoDataFrames."""

from __future__ import annotations

import re
import warnings
from typing import TYPE_CHECKING, NamedTuple

from wiremap.errors import ReadError
from wiremap.model.findings import Finding
from wiremap.model.property import InputFile
from wiremap.read.image_guard import guard_image
from wiremap.read.layers import list_layers, require_start, translated
from wiremap.read.listing import hash_file, list_below
from wiremap.read.package_guard import guard_package
from wiremap.read.xml_guard import MAX_XML_BYTES, guard_xml

if TYPE_CHECKING:
    from pathlib import Path

    import geopandas as gpd

_STARTS: dict[str, tuple[str, tuple[bytes, ...]]] = {
    ".gpkg": ("GeoPackage", (b"SQLite format 3\x00",)),
    ".geojson": ("GeoJSON", (b"{",)),
    ".json": ("GeoJSON", (b"{",)),
    ".shp": ("Shapefile", (b"\x00\x00\x27\x0a",)),
    ".dxf": ("DXF", (b"0", b"999", b"AutoCAD Binary DXF")),
    ".kml": ("KML", (b"<",)),
}
_IMAGES = frozenset({".tif", ".tiff", ".png", ".jpg", ".jpeg", ".jp2", ".asc"})
_TERRAIN = re.compile(
    r"(?:^|[^a-z])(?:dem|dtm|terrain|elevation|topo|ground)(?:[^a-z]|$)", re.IGNORECASE
)
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
    layers: dict[str, gpd.GeoDataFrame] = {}
    for path in _list_base(folder):
        name, suffix = path.relative_to(folder).as_posix(), path.suffix.lower()
        if suffix in _PARTS | _IMAGES or path.name.startswith("."):
            continue
        if suffix not in _STARTS:
            text = "The file is no format of base layers; it was not read."
            findings.append(Finding("read-note", name, text, source_file=name))
            continue
        _add_layers(path, name, layers, findings=findings, inputs=inputs)
    return layers


class Images(NamedTuple):
    """Images of a base: the one that the map may show, and the one that is the ground's height."""

    aerial: Path | None = None
    terrain: Path | None = None


def find_images(folder: Path, *, findings: list[Finding], inputs: list[InputFile]) -> Images:
    """Return the aerial image and the terrain of a property folder.

    Parameters
    ----------
    folder : Path
        May hold ``base.<ext>`` and ``base/``.
    findings : list of Finding
        Gets a note for each image that is not used, and why.
    inputs : list of InputFile
        Gets the terrain, which depths may rest on.

    Returns
    -------
    Images
        The first image with a position of either sort, by name; None where there is none, or
        where the extra ``aerial`` is not installed. An image of one band is terrain where it
        holds fractions, or its name says so (terrain, dem, dtm, elevation, topo, ground).
    """
    found = Images()
    for path in _list_base(folder):
        if path.suffix.lower() not in _IMAGES:
            continue
        name = path.relative_to(folder).as_posix()
        use, reason = _sort_image(path)
        if not reason and getattr(found, use) is not None:
            reason = "another image is taken for it"
        if reason:
            what = "read as the ground's height" if use == "terrain" else "drawn under the map"
            text = f"The image is not {what}: {reason}."
            findings.append(Finding("read-note", name, text, source_file=name))
            continue
        found = found._replace(**{use: path})
        if use == "terrain":
            inputs.append(InputFile(name, hash_file(path), "terrain", 1))
    return found


def _list_base(folder: Path) -> list[Path]:
    """Return the files of the base, in the order they are read."""
    top = [p for p in folder.iterdir() if p.is_file() and p.stem.lower() == "base"]
    return sorted(top) + [p for p in list_below(folder, "base") if p.is_file()]


def _sort_image(path: Path) -> tuple[str, str]:
    """Return what an image is for, and why it cannot be used; empty where it can."""
    use = "terrain" if _TERRAIN.search(path.stem) else "aerial"
    try:
        import rasterio
        from rasterio.errors import NotGeoreferencedWarning, RasterioError
    except ImportError:
        return use, "rasterio is needed for it; run: pip install 'wiremap[aerial]'"
    try:
        guard_image(path)
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", NotGeoreferencedWarning)
            with rasterio.open(path) as image:
                bands, placed = image.dtypes, not image.transform.is_identity
    except ReadError as error:
        return use, f"it {error.rule}"
    except (RasterioError, OSError) as error:
        return use, f"it cannot be read ({' '.join(str(error).split())[:120]})"
    if len(bands) > 1 or bands[0].startswith("float"):
        use = "aerial" if len(bands) > 1 else "terrain"
    return use, "" if placed else "it has no position; add its world file"


def _add_layers(
    path: Path,
    name: str,
    layers: dict[str, gpd.GeoDataFrame],
    *,
    findings: list[Finding],
    inputs: list[InputFile],
) -> None:
    try:
        found = _read_layers(path)
        digest = hash_file(path)
    except (ReadError, OSError) as error:
        rule = error.rule if isinstance(error, ReadError) else str(error)
        text = f"The base file was not read; it {' '.join(rule.split())[:200]}."
        findings.append(Finding("unread-file", name, text, source_file=name))
        return
    for layer, frame in found.items():
        key = layer if layer not in layers else f"{path.stem}_{layer}"
        layers[key] = frame
        if frame.crs is None and len(frame):
            text = f"Base layer {key} names no CRS; it can be drawn only in the working CRS."
            findings.append(Finding("read-note", name, text, source_file=name))
    inputs.append(InputFile(name, digest, "base", sum(map(len, found.values()))))


def _read_layers(path: Path) -> dict[str, gpd.GeoDataFrame]:
    """Return a file's layers, once it is known to be what its name says."""
    import pyogrio

    suffix = path.suffix.lower()
    kind, starts = _STARTS[suffix]
    require_start(path, starts, kind)
    if suffix == ".gpkg":
        guard_package(path)
    if suffix == ".kml":
        with translated(path), path.open("rb") as file:
            guard_xml(file.read(MAX_XML_BYTES + 1), path=path.name, root="kml")
    with translated(path):
        return {
            layer: pyogrio.read_dataframe(path, layer=layer, on_invalid="ignore")
            for layer, geometry in list_layers(path)
            if geometry is not None and layer not in _NOT_LAYERS
        }
