"""Reader of KML and KMZ."""

from __future__ import annotations

import zipfile
from dataclasses import replace
from pathlib import PurePosixPath
from typing import TYPE_CHECKING

from wiremap.errors import ReadError
from wiremap.plugins import FileOptions, RawTable, Reader
from wiremap.read.layers import Layer, read_layer, require_few, translated
from wiremap.read.vertices import tabulate_layer
from wiremap.read.xml_guard import MAX_XML_BYTES, guard_xml

if TYPE_CHECKING:
    from pathlib import Path

MAX_MEMBERS = 10_000
"""Most files that a KMZ archive may hold; project choice."""

MAX_RATIO = 1000
"""Most times that a member of a KMZ may unpack to its packed size; deflate's own limit is 1032."""

_RENAMED = {"Name": "point", "timestamp": "date"}
_UNNAMED = "pyogrio_"  # the name in memory, which placemarks outside of any folder go by
_DROPPED = (
    "id", "begin", "end", "tessellate", "extrude", "visibility", "drawOrder", "icon",
)  # fmt: skip


def read_kml(path: Path, options: FileOptions) -> list[RawTable]:
    """Read the placemarks of a KML or KMZ file.

    Parameters
    ----------
    path : Path
        The file. Of a KMZ the main document is read, in memory.
    options : FileOptions
        Not used: KML is always in WGS 84.

    Returns
    -------
    list of RawTable
        One a folder. ``point`` is the placemark's name; description and extended data keep their
        names; a line is the path of the run it names. A folder named after a kind of feature
        gives that kind. Heights count only where they are absolute.

    Raises
    ------
    ReadError
        The file is not KML, declares entities, is a damaged or hostile archive, or holds nothing.
    """
    import pyogrio

    del options
    with translated(path), path.open("rb") as file:
        data = file.read(MAX_XML_BYTES + 1)
    if data.startswith(b"PK"):
        data = _unpack(path)
    guard_xml(data, path=path.name, root="kml")
    with translated(path):
        names = [str(name) for name, _ in pyogrio.list_layers(data)]
    require_few(len(names), path=path.name)
    layers = [
        read_layer(path, path.stem if name.startswith(_UNNAMED) else name, data=data, number=number)
        for number, name in enumerate(names)
    ]
    tables = [_tabulate(layer) for layer in layers if len(layer.frame)]
    if not tables:
        raise ReadError("holds no placemark", path=path.name)
    return tables


def _tabulate(layer: Layer) -> RawTable:
    """Return a folder's placemarks; a height that is not absolute is none."""
    frame = layer.frame
    taken = {name.lower() for name in frame.columns}
    renamed = {old: new for old, new in _RENAMED.items() if new not in taken}
    frame = frame.drop(columns=[name for name in _DROPPED if name in frame]).rename(columns=renamed)
    is_kept = frame.notna().any() | (frame.columns == "altitudeMode")
    table = tabulate_layer(layer._replace(frame=frame.loc[:, is_kept]))
    rows = table.frame
    if "altitudeMode" not in rows:
        return table
    if "elevation_m" in rows:
        rows["elevation_m"] = rows["elevation_m"].where(rows["altitudeMode"] == "absolute")
        rows = rows.dropna(axis="columns", how="all")
    return replace(table, frame=rows.drop(columns="altitudeMode", errors="ignore"))


def _unpack(path: Path) -> bytes:
    """Return the main document of a KMZ archive, with limits on what it may unpack to."""
    try:
        with zipfile.ZipFile(path) as archive:
            members = archive.infolist()
            _refuse_hostile(path, members)
            documents = [m for m in members if m.filename.lower().endswith(".kml")]
            if not documents:
                raise ReadError("is an archive without a KML document", path=path.name)
            with archive.open(documents[0]) as file:
                return file.read(MAX_XML_BYTES + 1)
    except (zipfile.BadZipFile, NotImplementedError, RuntimeError, EOFError, OSError) as error:
        raise ReadError(
            f"is not a KMZ archive that can be unpacked: {error}",
            path=path.name,
            remedy="save it again as KML",
        ) from error


def _refuse_hostile(path: Path, members: list[zipfile.ZipInfo]) -> None:
    """Refuse archives that lead out of themselves or unpack to a flood."""
    if len(members) > MAX_MEMBERS:
        raise ReadError(f"holds more than {MAX_MEMBERS} files", path=path.name)
    for member in members:
        name = PurePosixPath(member.filename.replace("\\", "/"))
        if name.is_absolute() or ".." in name.parts or ":" in member.filename:
            raise ReadError(
                "a file in the archive leads out of it", path=path.name, value=member.filename[:80]
            )
        packed = max(member.compress_size, 1)
        if member.file_size > MAX_XML_BYTES or member.file_size / packed > MAX_RATIO:
            raise ReadError(
                "a file in the archive unpacks to far more than it should",
                path=path.name,
                value=f"{member.file_size} bytes from {member.compress_size}",
            )


READER = Reader("kml", (".kml", ".kmz"), read_kml, "KML and KMZ placemarks")
