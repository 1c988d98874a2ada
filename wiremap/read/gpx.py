"""Reader of GPX: waypoints, route points and track points."""

from __future__ import annotations

import html
import re
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from wiremap.errors import ReadError
from wiremap.model.kinds import Feature
from wiremap.model.tables import LOCATES_IN
from wiremap.plugins import FileOptions, Problem, RawTable, Reader
from wiremap.read import synonyms
from wiremap.read.columns import find_target, squeeze
from wiremap.read.layers import Layer, read_layer, translated
from wiremap.read.xml_guard import MAX_XML_BYTES, guard_xml

if TYPE_CHECKING:
    from pathlib import Path

    import pandas as pd
    from numpy.typing import NDArray

_CRS = "EPSG:4326"
_LAYERS = {"waypoints": "", "route_points": "routes", "track_points": "tracks"}
_RENAMED = {"ele": "elevation_m", "time": "date"}
_EXTENSIONS = re.compile(rb"<(/?)(?:[\w.-]+:)?extensions(?:\s[^<>]*)?(?<!/)>")
_LEAF = re.compile(rb"<([\w.:-]+)(?:\s[^<>]*)?>[^<>]*</\1\s*>")
_PATH = re.compile(rb"<(?:[\w.-]+:)?(?:trk|rte)(?:\s[^<>]*)?(?<!/)>")
_POINT = re.compile(rb"</(?:wpt|rtept|trkpt)>|<(?:wpt|rtept|trkpt)\b[^<>]*/>")
_END = re.compile(rb"</(?:[\w.-]+:)?gpx\s*>")
_DROPPED = ("name", "track_fid", "track_seg_point_id", "route_fid", "route_point_id")
_OWN = (
    "elevation_m",
    "track_fid",
    "track_seg_id",
    "track_seg_point_id",
    "route_fid",
    "route_point_id",
)


def read_gpx(path: Path, options: FileOptions) -> list[RawTable]:
    """Read the points of a GPX file.

    Parameters
    ----------
    path : Path
        The file.
    options : FileOptions
        Not used: GPX is always UTF-8 or says otherwise, in WGS 84.

    Returns
    -------
    list of RawTable
        Waypoints, route points and track points, as far as there are any. Track and route points
        are rows of ``feature`` path in walking order, their ``run`` the name of the track or
        route. A waypoint's name is ``point``; ``sym``, ``type``, ``desc`` and ``cmt`` keep their
        names. ``ele`` is ``elevation_m``, ``time`` is ``date``; ``fix``, ``sat`` and ``hdop``
        keep their names. Extensions, nested or not, are columns; those named as the contract
        names a column lose the prefix of their namespace.

    Raises
    ------
    ReadError
        The file is not GPX, declares entities, or holds no point. One that breaks off is read up
        to its last whole point.
    """
    del options
    with translated(path), path.open("rb") as file:
        data = file.read(MAX_XML_BYTES + 1)
    guard_xml(data, path=path.name, root="gpx")
    data, problems = _close_off(data)
    data = _open_extensions(data)
    tables = []
    for name, parents in _LAYERS.items():
        layer = read_layer(path, name, data=data)
        if len(layer.frame):
            names = read_layer(path, parents, data=data).frame if parents else None
            tables.append(_tabulate(layer, names))
    if not tables:
        raise ReadError("holds no waypoint, route point or track point", path=path.name)
    tables[-1] = replace(tables[-1], problems=(*tables[-1].problems, *problems))
    return tables


def _tabulate(layer: Layer, parents: pd.DataFrame | None) -> RawTable:
    """Return one layer's points as rows."""
    import shapely

    frame = layer.frame.dropna(axis="columns", how="all").rename(columns=_RENAMED)
    frame = frame.rename(columns=_without_prefix(list(frame.columns)))
    if layer.geometries is None:
        raise ReadError("its points have no positions")
    frame["lon"], frame["lat"] = shapely.get_coordinates(layer.geometries).T
    if parents is None:
        frame = frame if "point" in frame else frame.rename(columns={"name": "point"})
    else:
        frame = _name_vertices(frame, layer.name.removesuffix("_points"), parents)
    lat, lon = frame["lat"], frame["lon"]
    within = (lat.abs() <= 90) & (lon.abs() <= 180) & ((lat != 0) | (lon != 0))  # noqa: PLR2004
    problems = [
        Problem(
            "latitude or longitude is out of range, or both are 0",
            row=int(row),
            value=f"{bad_lat}, {bad_lon}",
            remedy="give the point a position",
        )
        for row, bad_lat, bad_lon in frame.loc[~within, ["lat", "lon"]].itertuples()
    ]
    return RawTable(
        frame=frame[within],
        crs=_CRS,
        part=layer.name.replace("_", " "),
        notes=(f"{len(frame)} {layer.name.replace('_', ' ')}", *layer.notes),
        problems=tuple(problems),
    )


def _open_extensions(data: bytes) -> bytes:
    """Return a document whose extensions GDAL reads, however deep they stand.

    GDAL looks for those of track and route points only where a waypoint, track or route has some.
    """
    parts, begin, done, depth = [], 0, 0, 0
    for tag in _EXTENSIONS.finditer(data):
        if not tag[1]:
            begin = begin if depth else tag.end()
            depth += 1
        elif depth:
            depth -= 1
            if not depth:
                parts += [data[done:begin], _lift_out(data[begin : tag.start()])]
                done = tag.start()
    lifted = b"".join([*parts, data[done:]])
    return _PATH.sub(rb"\g<0><extensions/>", lifted, count=1)


def _close_off(data: bytes) -> tuple[bytes, list[Problem]]:
    """Return a document that breaks off, up to its last whole point, and say where that is."""
    ends = [] if _END.search(data) else [found.end() for found in _POINT.finditer(data)]
    if not ends:
        return data, []
    kept = data[: ends[-1]]
    for name in (b"trkseg", b"trk", b"rte"):
        if len(re.findall(b"<" + name + rb"[\s>]", kept)) > kept.count(b"</" + name + b">"):
            kept += b"</" + name + b">"
    line = data.count(b"\n", 0, ends[-1]) + 1
    rule = f"the file breaks off behind line {line}; what stands before was read"
    return kept + b"</gpx>", [Problem(rule, remedy="export it again if more was recorded")]


def _lift_out(extensions: bytes) -> bytes:
    """Return what stands in extensions, without the elements that enclose others."""
    first, *quoted = extensions.split(b"<![CDATA[")
    parts = [first]
    for text, _, rest in (piece.partition(b"]]>") for piece in quoted):
        parts += [html.escape(text.decode("latin-1")).encode("latin-1"), rest]
    return b"".join(leaf[0] for leaf in _LEAF.finditer(b"".join(parts)))


def _without_prefix(names: list[str]) -> dict[str, str]:
    """Return the extensions that name a column or an accuracy, without their namespace."""
    plain = {name: name.partition("_")[2] for name in names if name not in _OWN}
    return {
        name: word for name, word in plain.items() if word and word not in names and _is_known(word)
    }


def _is_known(word: str) -> bool:
    target = find_target(word, table=LOCATES_IN)[0]
    return bool(target) or squeeze(word) in synonyms.LOCATES["h_rms"]


def _text(frame: pd.DataFrame, name: str) -> NDArray[np.object_]:
    """Return a column as text, empty where it is missing."""
    if name not in frame:
        return np.full(len(frame), "", dtype=object)
    return frame[name].astype("object").fillna("").astype(str).str.strip().to_numpy(dtype=object)


def _name_vertices(frame: pd.DataFrame, kind: str, parents: pd.DataFrame) -> pd.DataFrame:
    """Give each point of a track or route its run, its place in it, and an identifier."""
    number = frame[f"{kind}_fid"].to_numpy(dtype=int)
    names = _text(parents, "name")
    unnamed = np.array([f"{kind} {i + 1}" for i in range(len(names))], dtype=object)
    run = np.where(names == "", unnamed, names)[number]
    place = frame.groupby(number).cumcount().to_numpy() + 1
    made = np.array([f"{r}-{k}" for r, k in zip(run, place, strict=True)], dtype=object)
    own = _text(frame, "name")
    feature = _text(frame, "feature")
    columns = {"feature": np.where(feature == "", str(Feature.PATH), feature)}
    if "run" not in frame:
        columns["run"] = run
    if "point" not in frame:
        columns["point"] = np.where(own == "", made, own)
    return frame.assign(**columns).drop(columns=[name for name in _DROPPED if name in frame])


READER = Reader("gpx", (".gpx",), read_gpx, "GPX waypoints, routes and tracks, with extensions")
