"""Reader of KML and KMZ."""

from __future__ import annotations

import html
import re
from dataclasses import replace
from pathlib import PurePosixPath
from typing import TYPE_CHECKING

from wiremap.errors import ReadError
from wiremap.plugins import FileOptions, RawTable, Reader
from wiremap.read.archives import open_archive
from wiremap.read.layers import Layer, read_layer, require_few, translated
from wiremap.read.vertices import tabulate_layer
from wiremap.read.xml_guard import MAX_XML_BYTES, guard_xml

if TYPE_CHECKING:
    import zipfile
    from pathlib import Path

    import pandas as pd

MAX_MEMBERS = 10_000
"""Most files that a KMZ archive may hold; project choice."""

MAX_RATIO = 1000
"""Most times that a member of a KMZ may unpack to its packed size; deflate's own limit is 1032."""

_RENAMED = {"Name": "point", "timestamp": "date"}
_UNNAMED = "pyogrio_"  # the name in memory, which placemarks outside of any folder go by
_TRACKS = re.compile(rb"<(/?)(?:gx:)?MultiTrack\b[^>]*>")
_COORD = re.compile(rb"<(?:gx:)?coord>([^<]*)</")
_MODE = re.compile(rb"<altitudeMode>[^<]*</altitudeMode>")
_WHEN = re.compile(rb"<when>[^<]*</when>")
_MARKUP = re.compile(r"<(?:html|table|b|br|div|p|td)\b", re.IGNORECASE)
_TAG = re.compile(r"<style\b[^<]*</style>|<[^>]{1,500}>", re.IGNORECASE)
_LONGEST_BALLOON = 20_000
_HEADING = re.compile(r"<tr[^>]*>\s*<t[dh][^>]*>([^<]{1,60})</t[dh]>\s*<td", re.IGNORECASE)
_LOOKED_AT = 50  # placemarks whose balloons tell which rows there are, and most such rows
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
    data = _draw_tracks(data)
    with translated(path):
        names = [str(name) for name, _ in pyogrio.list_layers(data)]
    require_few(len(names), path=path.name)
    layers = [
        read_layer(path, path.stem if name.startswith(_UNNAMED) else name, data=data, number=number)
        for number, name in enumerate(names)
    ]
    tables = [_tabulate(layer) for layer in layers if len(layer.frame)]
    if not tables and b"<NetworkLink" in data:
        remedy = "open it where it was made, and save the places themselves"
        rule = "holds no placemark, only links to other files"
        raise ReadError(rule, path=path.name, remedy=remedy)
    if not tables:
        raise ReadError("holds no placemark", path=path.name)
    return tables


def _tabulate(layer: Layer) -> RawTable:
    """Return a folder's placemarks; a height that is not absolute is none."""
    frame = layer.frame
    frame = _read_balloons(frame)
    taken = {name.lower() for name in frame.columns}
    renamed = {old: new for old, new in _RENAMED.items() if new not in taken}
    frame = frame.drop(columns=[name for name in _DROPPED if name in frame]).rename(columns=renamed)
    is_kept = frame.notna().any() | (frame.columns == "altitudeMode")
    frame = frame.loc[:, is_kept]
    if "point" in frame:
        frame = frame.assign(point=frame["point"].str.split().str.join(" "))
    table = tabulate_layer(layer._replace(frame=frame))
    rows = table.frame
    if "altitudeMode" not in rows:
        return table
    if "elevation_m" in rows:
        rows["elevation_m"] = rows["elevation_m"].where(rows["altitudeMode"] == "absolute")
        rows = rows.dropna(axis="columns", how="all")
    return replace(table, frame=rows.drop(columns="altitudeMode", errors="ignore"))


def _draw_tracks(data: bytes) -> bytes:
    """Return a document with its tracks as lines: GDAL passes over tracks.

    Of their times the first of each placemark is kept.
    """
    for prefix in (b"gx:", b""):
        close = b"</" + prefix + b"Track>"
        *pieces, rest = data.split(close)
        for place, piece in enumerate(pieces):
            head, track, inside = piece.rpartition(b"<" + prefix + b"Track")
            coords = b" ".join(b",".join(c.split()) for c in _COORD.findall(inside))
            line = b"<LineString>%s<coordinates>%s</coordinates></LineString>"
            line %= (b"".join(_MODE.findall(inside)[:1]), coords)
            head = _stamp(head, inside) if track else head
            pieces[place] = head + line if track else piece + close
        data = b"".join([*pieces, rest])
    return _TRACKS.sub(rb"<\1MultiGeometry>", data)


def _stamp(head: bytes, track: bytes) -> bytes:
    """Return what stands before a track, its placemark with the time that the track starts."""
    before, opened, inside = head.rpartition(b"<Placemark")
    started = _WHEN.search(track)
    if not started or not opened or b"<TimeStamp" in inside or b"</Placemark" in inside:
        return head
    rest = inside.partition(b">")
    return before + opened + rest[0] + b"><TimeStamp>" + started[0] + b"</TimeStamp>" + rest[2]


def _read_balloons(frame: pd.DataFrame) -> pd.DataFrame:
    """Return placemarks whose descriptions are text: rows of an HTML table become columns."""
    column = next((name for name in frame.columns if name.lower() == "description"), None)
    if column is None:
        return frame
    cells = frame[column].astype("str").str.slice(0, _LONGEST_BALLOON)
    is_markup = cells.str.contains(_MARKUP, na=False)
    if not is_markup.any():
        return frame
    first = "".join(cells[is_markup].iloc[:_LOOKED_AT])
    found: dict[str, pd.Series] = {}
    for name in dict.fromkeys(html.unescape(w).strip() for w in _HEADING.findall(first)):
        if name and name not in frame and len(found) < _LOOKED_AT:
            row = (
                rf"<t[dh][^>]*>\s*{re.escape(html.escape(name))}\s*</t[dh]>\s*<td[^>]*>([^<]*)</td>"
            )
            found[name] = cells.str.extract(row, expand=False, flags=re.IGNORECASE)
    plain = cells.str.replace(_TAG, " ", regex=True).str.replace(r"\s+", " ", regex=True)
    texts = {name: t.map(html.unescape, na_action="ignore") for name, t in found.items()}
    text = plain.str.strip().map(html.unescape, na_action="ignore")
    return frame.assign(**{column: cells.mask(is_markup, text)}, **texts)


def _unpack(path: Path) -> bytes:
    """Return the main document of a KMZ archive, with limits on what it may unpack to."""
    rule, remedy = "is not a KMZ archive that can be unpacked", "save it again as KML"
    with open_archive(path, rule=rule, remedy=remedy) as archive:
        members = archive.infolist()
        _refuse_hostile(path, members)
        documents = [m for m in members if m.filename.lower().endswith(".kml")]
        if not documents:
            raise ReadError("is an archive without a KML document", path=path.name)
        with archive.open(documents[0]) as file:
            return file.read(MAX_XML_BYTES + 1)


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
