"""What the fuzzer feeds: each target makes files of any bytes and reads them as wiremap would.

Whatever the bytes are, a target gives tables or one error of wiremap's own with a clear message.
`Unexpected` is raised where a library's error or a reader's failure gets through.
"""

from __future__ import annotations

import io
import shutil
import sqlite3
import warnings
import zipfile
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import pandas as pd

import wiremap
from wiremap.errors import WiremapError
from wiremap.model.keeping import restore_property
from wiremap.model.season_tables import KEPT
from wiremap.plugins import READERS, FileOptions, registry
from wiremap.read.base_layers import read_base
from wiremap.read.conversion import Source
from wiremap.read.files import _tell_columns_apart
from wiremap.read.locates import read_locates
from wiremap.read.nmea import checksum
from wiremap.read.references import read_decisions, read_readings, read_references
from wiremap.read.settings_file import read_settings
from wiremap.read.zone_lists import read_zone_list

if TYPE_CHECKING:
    from collections.abc import Callable

LONGEST_MESSAGE = 3000
SEEDS = Path(__file__).parent / "seeds"
_TABLES = {
    "locates": read_locates,
    "zones": read_zone_list,
    "references": read_references,
    "readings": read_readings,
    "decisions": read_decisions,
}


class Unexpected(Exception):  # noqa: N818 - what was not promised
    """Something other than tables or one clear line came out."""


@dataclass(frozen=True)
class Target:
    """One kind of file: the seed its name stands for, how bytes become files, how they are read."""

    name: str
    wrap: Callable[[bytes, Path], Path]
    read: Callable[[Path], object]
    binary: bool = False

    def run(self, data: bytes, folder: Path) -> str:
        """Read the bytes in an empty folder; return the refusal, or an empty text."""
        shutil.rmtree(folder, ignore_errors=True)
        folder.mkdir(parents=True)
        path = self.wrap(data, folder)
        said = ""
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            try:
                self.read(path)
            except WiremapError as refusal:
                said = str(refusal)
        if "\n" in said or len(said) > LONGEST_MESSAGE:
            raise Unexpected(said)
        return said

    def seeds(self) -> list[bytes]:
        """Return what the fuzzer starts from, and what was once answered wrongly."""
        return [path.read_bytes() for path in sorted((SEEDS / self.name).iterdir())]


def _as(name: str) -> Callable[[bytes, Path], Path]:
    """Return a function that makes the bytes the file of a name."""

    def wrap(data: bytes, folder: Path) -> Path:
        path = folder / name
        path.write_bytes(data)
        return path

    return wrap


def _read_table(path: Path) -> None:
    """Read with whichever reader knows the file, and understand its columns."""
    reader = registry(READERS).for_suffix(path.suffix)
    convert = _TABLES[path.stem]
    refusals, understood = [], 0
    for raw in reader.read(path, FileOptions()):
        try:
            convert(_tell_columns_apart(raw), Source(path.name))
            understood += 1
        except WiremapError as refusal:
            refusals.append(refusal)
    if refusals and not understood:
        raise refusals[0]


def _read_base(path: Path) -> None:
    findings = []
    read_base(path.parent, findings=findings, inputs=[])
    for finding in findings:
        if "\n" in finding.message:
            raise Unexpected(finding.message)


def _read_kept(path: Path) -> None:
    """Restore the inputs of a record: lines of a name, a tab and the content kept under it."""
    lines = path.read_bytes().decode(errors="replace").split("\n")
    rows = [(name, 0, 1, content) for name, _, content in (line.partition("\t") for line in lines)]
    restore_property(KEPT.conform(pd.DataFrame(rows, columns=KEPT.column_names)), path="x.gpkg")


def _build(path: Path) -> None:
    wiremap.build_asbuilt(wiremap.read_property(path.parent))


def _log(data: bytes, folder: Path) -> Path:
    """Make a log whose every sentence has its checksum, as no mutated one would."""
    lines = [line.split("*")[0].strip("$\r") for line in data.decode("latin-1").split("\n")]
    text = "".join(f"${line}*{checksum(line)}\r\n" for line in lines)
    return _as("locates.nmea")(text.encode("latin-1"), folder)


def _archive(member: str, rest: Callable[[], dict[str, bytes]], name: str):
    """Return a function that puts the bytes into a sound archive as one of its members."""

    def wrap(data: bytes, folder: Path) -> Path:
        with zipfile.ZipFile(folder / name, "w") as archive:
            for other, content in rest().items():
                archive.writestr(other, data if other == member else content)
            if member not in rest():
                archive.writestr(member, data)
        return folder / name

    return wrap


def workbook() -> dict[str, bytes]:
    """Return the members of a small workbook of locates."""
    from openpyxl import Workbook

    book, file = Workbook(), io.BytesIO()
    book.active.append(["point", "feature", "run", "lat", "lon", "offset_left_m", "date"])
    book.active.append(["P1", "path", "A", 41.5, -96.5, 0.42, "2026-05-04"])
    book.active.append(["V1", "valve", "A", 41.5001, -96.5, None, None])
    book.save(file)
    with zipfile.ZipFile(file) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


_CACHE: dict[str, dict[str, bytes]] = {}


def _workbook_members() -> dict[str, bytes]:
    return _CACHE.setdefault("workbook", workbook())


def package() -> bytes:
    """Return a small GeoPackage of one layer, laid out in small pages."""
    import tempfile

    import geopandas as gpd
    import pyogrio

    frame = gpd.GeoDataFrame(
        {"point": ["P1", "V1"], "feature": ["path", "valve"], "run": ["A", "A"]},
        geometry=gpd.points_from_xy([-96.5, -96.5], [41.5, 41.5001]),
        crs="EPSG:4326",
    )
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "a.gpkg"
        pyogrio.write_dataframe(frame, path, layer="locates", SPATIAL_INDEX="NO")
        with closing(sqlite3.connect(path)) as db:
            db.execute("PRAGMA page_size = 512")
            db.execute("DELETE FROM gpkg_spatial_ref_sys WHERE srs_id NOT IN (4326, 0, -1)")
            db.commit()
            db.execute("VACUUM")
        return path.read_bytes()


def _geometry(data: bytes, folder: Path) -> Path:
    """Make a package one geometry and one cell of which are the bytes."""
    path = _as("locates.gpkg")((SEEDS / "gpkg" / "one-layer").read_bytes(), folder)
    with closing(sqlite3.connect(path)) as db:
        db.execute("UPDATE locates SET geom = ? WHERE fid = 1", (data,))
        db.execute("UPDATE locates SET run = CAST(? AS TEXT) WHERE fid = 2", (data,))
        db.commit()
    return path


def _shapefile(part: str) -> Callable[[bytes, Path], Path]:
    """Return a function that makes the bytes one file of a shapefile whose others are sound."""

    def wrap(data: bytes, folder: Path) -> Path:
        for other in ("shp", "shx", "dbf"):
            sound = (SEEDS / other / "sound").read_bytes()
            (folder / f"locates.{other}").write_bytes(data if other == part else sound)
        return folder / "locates.shp"

    return wrap


TARGETS = {
    target.name: target
    for target in (
        Target("csv", _as("locates.csv"), _read_table),
        Target("txt", _as("locates.txt"), _read_table),
        Target("zones", _as("zones.csv"), _read_table),
        Target("references", _as("references.csv"), _read_table),
        Target("readings", _as("readings.csv"), _read_table),
        Target("decisions", _as("decisions.csv"), _read_table),
        Target("toml", _as("property.toml"), lambda path: read_settings(path.parent)),
        Target("gpx", _as("locates.gpx"), _read_table),
        Target("nmea", _log, _read_table),
        Target("nmea-raw", _as("locates.nmea"), _read_table),
        Target("kml", _as("locates.kml"), _read_table),
        Target("kmz", _as("locates.kmz"), _read_table, binary=True),
        Target("xlsx", _as("locates.xlsx"), _read_table, binary=True),
        Target("sheet", _archive("xl/worksheets/sheet1.xml", _workbook_members, "locates.xlsx"), _read_table),
        Target("geojson", _as("locates.geojson"), _read_table),
        Target("gpkg", _as("locates.gpkg"), _read_table, binary=True),
        Target("geometry", _geometry, _read_table, binary=True),
        Target("shp", _shapefile("shp"), _read_table, binary=True),
        Target("shx", _shapefile("shx"), _read_table, binary=True),
        Target("dbf", _shapefile("dbf"), _read_table, binary=True),
        Target("dxf", _as("references.dxf"), _read_table),
        Target("base", _as("base.geojson"), _read_base),
        Target("base-kml", _as("base.kml"), _read_base),
        Target("base-dxf", _as("base.dxf"), _read_base),
        Target("kept", _as("kept.txt"), _read_kept),
        Target("build", _as("locates.csv"), _build),
    )
}  # fmt: skip
