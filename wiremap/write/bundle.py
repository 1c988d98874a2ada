"""The hand-over bundle: what was built, in one archive with a manifest and a plain README."""

from __future__ import annotations

import hashlib
import os
import shutil
import sqlite3
import tempfile
import textwrap
import zipfile
from contextlib import closing
from pathlib import Path
from typing import NamedTuple
from urllib.parse import quote

from wiremap.draw.record import CAUTION
from wiremap.errors import WriteError
from wiremap.write.plain_text import plain_text

MANIFEST = "MANIFEST.sha256"
README = "README.txt"

_EPOCH = (1980, 1, 1, 0, 0, 0)  # the earliest time that a zip archive can say
_LINE_LENGTH = 78
_KINDS = (
    (".html", "The map. Open it in any browser, on a phone too; it needs no network."),
    (
        "-sheets.pdf",
        "The record drawing on sheets, to scale, with schedules and controller charts.",
    ),
    (
        "-schedule.xlsx",
        "The wire schedule: each zone's wire, valves and readings, to print or sort.",
    ),
    ("-schedule.csv", "The same schedule as plain text."),
    (".gpkg", "Every layer, styled, for a desktop GIS. This file is the record."),
    (".dxf", "The drawing for CAD programs, in the coordinates that its notes name."),
    (".prj", "The coordinate system of the CAD drawing, for programs that ask for it."),
    (".kmz", "The map for phones and globes, with its symbols."),
    (".kml", "The same for programs that take no kmz."),
    (
        "findings.csv",
        "What is wrong, doubtful or worth knowing: read it before you rely on a line.",
    ),
    (".geojson", "One layer each, for any other program, in longitude and latitude."),
)
"""File endings and what to tell the owner, in the order of the README."""

_KEEPING = (
    "A repair or a new wire changes the ground. Have the place located again and the record built"
    " anew; throw older copies away."
)
_WANTED = {"-sheets.pdf": "sheets", ".dxf": "dxf", ".kmz": "kmz"}


class Bundle(NamedTuple):
    """What `write_bundle` returns.

    Attributes
    ----------
    path : Path
        The archive.
    names : list of str
        Files in it, README and manifest left out.
    missing : list of str
        Formats that a receiver usually asks for and that were not built.
    """

    path: Path
    names: list[str]
    missing: list[str]


def write_bundle(out: Path | str) -> Bundle:
    """Zip what ``wiremap build`` wrote for hand-over, with a manifest of SHA-256 and a README.

    Parameters
    ----------
    out : Path or str
        Folder that a property was built into. Only files of the build are taken.

    Returns
    -------
    Bundle
        ``<slug>-handover.zip`` in that folder: the same bytes for the same files.

    Raises
    ------
    WriteError
        The folder holds no as-built or several, the package is open in another program, or the
        archive cannot be written. A former archive is untouched then.

    Examples
    --------
    >>> write_bundle("data")
    Traceback (most recent call last):
        ...
    wiremap.errors.WriteError: data: holds no as-built; build into it first: wiremap build ...
    """
    folder = Path(out)
    package = _find_package(folder)
    slug = package.stem
    files = _collect(folder, slug)
    names = [file.relative_to(folder).as_posix() for file in files]
    missing = [name for end, name in _WANTED.items() if f"{slug}{end}" not in names]
    try:
        sums = {name: _sha256(file) for name, file in zip(names, files, strict=True)}
        readme = write_readme(package, names, missing=missing)
        sums[README] = hashlib.sha256(readme).hexdigest()
        manifest = "".join(f"{value}  {name}\n" for name, value in sums.items()).encode()
        path = folder / f"{slug}-handover.zip"
        _write_archive(path, files, names, {README: readme, MANIFEST: manifest}, top=slug)
    except (OSError, sqlite3.Error) as error:
        raise WriteError(
            f"the bundle cannot be written: {error}",
            path=str(folder),
            remedy="see that the folder is writable and the disk has room; nothing was replaced",
        ) from error
    return Bundle(path, names, missing)


def _find_package(folder: Path) -> Path:
    """Return the one package of a folder that is closed in every program."""
    packages = sorted(folder.glob("*.gpkg")) if folder.is_dir() else []
    if not packages:
        raise WriteError(
            "holds no as-built",
            path=str(folder),
            remedy="build into it first: wiremap build FOLDER -o OUT",
        )
    if len(packages) > 1:
        raise WriteError(
            "holds several as-builts",
            path=str(folder),
            value=", ".join(p.name for p in packages),
            remedy="build each property into a folder of its own",
        )
    for side in ("-wal", "-journal"):
        if Path(f"{packages[0]}{side}").exists():
            raise WriteError(
                f"a {side} file stands beside the package, so it is open or was left unfinished",
                path=str(packages[0]),
                remedy="close the package in every program, then bundle again",
            )
    return packages[0]


def _collect(folder: Path, slug: str) -> list[Path]:
    """Return the files of the build, in the order of the README."""
    own = [folder / f"{slug}{end}" for end, _ in _KINDS if end.startswith((".", "-"))]
    found = [*own, folder / "findings.csv", *sorted((folder / "geojson").glob("*.geojson"))]
    return [file for file in found if file.is_file() and not file.is_symlink()]


def _sha256(file: Path) -> str:
    with file.open("rb") as content:
        return hashlib.file_digest(content, "sha256").hexdigest()


def _write_archive(
    path: Path, files: list[Path], names: list[str], texts: dict[str, bytes], *, top: str
) -> None:
    """Write the archive beside its place, flush it, and move it there."""
    descriptor, temporary = tempfile.mkstemp(prefix=".wiremap-bundle-", dir=path.parent)
    try:
        with os.fdopen(descriptor, "wb") as target:
            with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as archive:
                for name, text in texts.items():
                    archive.writestr(_entry(f"{top}/{name}"), text)
                for file, name in zip(files, names, strict=True):
                    with (
                        file.open("rb") as source,
                        archive.open(_entry(f"{top}/{name}"), "w", force_zip64=True) as entry,
                    ):
                        shutil.copyfileobj(source, entry, 1 << 20)
            target.flush()
            os.fsync(target.fileno())
        Path(temporary).chmod(0o644)
        Path(temporary).replace(path)
    finally:
        Path(temporary).unlink(missing_ok=True)


def _entry(name: str) -> zipfile.ZipInfo:
    entry = zipfile.ZipInfo(name, _EPOCH)
    entry.compress_type = zipfile.ZIP_DEFLATED
    entry.create_system = 3
    entry.external_attr = 0o644 << 16
    return entry


def write_readme(package: Path, names: list[str], *, missing: list[str]) -> bytes:
    """Return the README of a bundle, for the owner of the property.

    Parameters
    ----------
    package : Path
        The GeoPackage of the as-built.
    names : list of str
        Files of the bundle.
    missing : list of str
        Formats that were not built.

    Returns
    -------
    bytes
        UTF-8 with a byte order mark and line ends that every editor shows.

    Raises
    ------
    sqlite3.Error
        The package cannot be read.
    """
    facts, counts = _read_facts(package)
    title = f"Irrigation wires of {facts.get('property', package.stem)}"
    maker = f"Prepared by {facts.get('prepared by', 'not stated')}"
    day = facts.get("prepared on", "not stated")
    made = f"{maker}, {'date not stated' if day == 'not stated' else day}."
    counted = ", ".join(f"{layer.replace('_', ' ')} {count}" for layer, count in counts.items())
    parts = [
        title,
        "=" * len(title),
        "",
        f"{made} Rows of the record: {counted}.",
        f"Coordinates: {facts.get('working CRS', 'not stated')}.",
        "",
        "READ THIS FIRST",
        CAUTION,
        "",
        "WHAT IS IN HERE",
        *_describe(names),
        "",
        *_missing_lines(missing),
        "KEEPING IT TRUE",
        _KEEPING,
        "",
        "CHECKING THE FILES",
        f"{MANIFEST} holds the SHA-256 of every file. In this folder, run: sha256sum -c {MANIFEST}",
    ]
    lines = [line for part in parts for line in _wrap(part)]
    return ("\ufeff" + "\r\n".join(lines) + "\r\n").encode()


def _wrap(text: str) -> list[str]:
    """Return a paragraph as lines; the lines of a list item stand under its first word."""
    indent = "  " if text.startswith("- ") else ""
    return textwrap.wrap(text, _LINE_LENGTH, subsequent_indent=indent) or [""]


def _describe(names: list[str]) -> list[str]:
    """Return one line a kind of file that is there."""
    lines = []
    for end, meaning in _KINDS:
        own = [name for name in names if name.endswith(end)]
        if own:
            shown = "geojson/" if end == ".geojson" else own[0]
            lines.append(f"- {shown}: {meaning}")
    return lines


def _missing_lines(missing: list[str]) -> list[str]:
    if not missing:
        return []
    asked = " ".join(f"--format {name}" for name in missing)
    return [f"Not built, and so not in here: {', '.join(missing)} (wiremap build {asked}).", ""]


def _read_facts(package: Path) -> tuple[dict[str, str], dict[str, int]]:
    """Return what the package states of itself, and how many rows its main layers hold."""
    address = f"file:{quote(str(package.resolve()))}?mode=ro&immutable=1"
    with closing(sqlite3.connect(address, uri=True)) as db:
        if db.execute("SELECT 1 FROM sqlite_master WHERE type = 'view'").fetchone():
            raise sqlite3.DatabaseError("a table of the package is a query")
        rows = db.execute("SELECT item, value FROM provenance").fetchall()
        counts = {
            layer: int(db.execute(f"SELECT count(*) FROM {layer}").fetchone()[0])  # noqa: S608
            for layer in ("wire_runs", "valves", "splices", "faults", "findings")
        }
    return {str(item): plain_text(value) for item, value in rows}, counts
