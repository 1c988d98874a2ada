"""Which property folders lie below a folder, where each one's files go, and what it was built of.

Reads the file system; returns `Job` records, small enough to hand to any worker.
"""

from __future__ import annotations

import hashlib
import os
import re
import unicodedata
from collections import Counter
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from wiremap import __version__
from wiremap.bulk.records import BOOKS
from wiremap.model.property import slugify
from wiremap.plugins import READERS, WRITERS, registry

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

_MARKS = ("locates", "visits")
"""Folders inside a property that hold its field files."""
_READ_BELOW = (*_MARKS, "base")
_OWN_NAMES = frozenset(
    {"portfolio", "portfolio.gpkg", "portfolio.html", "summary.csv", "failures.csv"}
)
_UNSAFE = re.compile(r'[<>:"|?*\\]|^[\s.-]|[\s.]$')
_BLOCK = 1 << 20


@dataclass(frozen=True)
class Job:
    """One property to build.

    Attributes
    ----------
    folder : str
        Property folder, absolute.
    path : str
        The same below the root, with forward slashes; ``.`` is the root itself.
    out : str
        Folder its files go to, below the output folder, with forward slashes.
    key : str
        SHA-256 of its input files, the software and the formats; empty where a file cannot be
        read.
    formats : tuple of str or None
        Names of writers; the default ones where None.
    """

    folder: str
    path: str
    out: str
    key: str
    formats: tuple[str, ...] | None = None

    @property
    def record(self) -> str:
        """Name of the file that remembers how the property was built."""
        return hashlib.sha256(os.fsencode(self.path)).hexdigest()[:20]


def find_properties(root: Path, *, out: Path | None = None) -> list[Path]:
    """Return the property folders below a folder, sorted.

    Parameters
    ----------
    root : Path
        Searched with everything below; may be a property folder itself. Hidden folders, links
        to folders, folders that an as-built was written to, and a property's own folders of
        field files are not entered; a property that lies in another one is found.
    out : Path, optional
        Output folder, not entered.

    Returns
    -------
    list of Path
        Folders with ``property.toml``, a file ``locates*.<ext>``, or a folder ``locates`` or
        ``visits``; and those that cannot be listed, so that they are not lost in silence.
    """
    left_out = out.resolve() if out else None
    found: list[Path] = []
    for here, folders, files in os.walk(
        root, onerror=lambda error: found.append(Path(error.filename))
    ):
        folder = Path(here)
        if folder.resolve() == left_out or _is_output(folders, files):
            folders.clear()
        elif _shows_property(folders, files):
            found.append(folder)
            folders[:] = [name for name in folders if name.lower() not in _READ_BELOW]
        folders[:] = [name for name in folders if not name.startswith(".")]
    return sorted(found)


def is_property(folder: Path) -> bool:
    """Tell whether a folder is a property folder.

    Parameters
    ----------
    folder : Path

    Returns
    -------
    bool
        False where there is no such folder.
    """
    if not folder.is_dir():
        return False
    inside = list(folder.iterdir())
    files = [p.name for p in inside if p.is_file()]
    return _shows_property([p.name for p in inside if p.is_dir()], files)


def _shows_property(folders: Sequence[str], files: Sequence[str]) -> bool:
    if any(name.lower() == "property.toml" or _is_locates(name) for name in files):
        return True
    return _holds_marks(folders)


def _holds_marks(folders: Sequence[str]) -> bool:
    return any(name.lower() in _MARKS for name in folders)


def _is_locates(name: str) -> bool:
    stem, _, suffix = name.lower().partition(".")
    return stem.startswith("locates") and bool(suffix)


def _is_output(folders: Sequence[str], files: Sequence[str]) -> bool:
    """Tell whether wiremap wrote this folder: its layer ``locates`` is no field file."""
    if any(name.lower() == "property.toml" for name in files) or _holds_marks(folders):
        return False  # a property may hold its own as-built
    is_asbuilt = "findings.csv" in files and any(name.endswith(".gpkg") for name in files)
    is_asbuilt &= not any(name.partition(".")[0].lower() == "locates" for name in files)
    return is_asbuilt or "provenance.geojson" in files or BOOKS in folders


def plan_jobs(root: Path, out: Path, *, formats: Sequence[str] | None = None) -> list[Job]:
    """Return one job a property folder below the root.

    Parameters
    ----------
    root : Path
        Folder to search.
    out : Path
        Output folder.
    formats : sequence of str, optional
        Names of writers; the default ones where not given.

    Returns
    -------
    list of Job
        In the order of their folders; no two share an output folder.
    """
    chosen = tuple(formats) if formats else None
    folders = find_properties(root, out=out)
    paths = [folder.relative_to(root).as_posix() for folder in folders]
    places = place_outputs(paths, root_name=root.resolve().name)
    return [
        Job(str(folder.resolve()), path, place, hash_inputs(folder, formats=chosen), chosen)
        for folder, path, place in zip(folders, paths, places, strict=True)
    ]


def place_outputs(paths: Sequence[str], *, root_name: str = "property") -> list[str]:
    """Return an output folder for each property folder, all different on every file system.

    Parameters
    ----------
    paths : sequence of str
        Property folders below the root, with forward slashes.
    root_name : str
        Stands for ``.``, the root itself.

    Returns
    -------
    list of str
        The same path where it can stand on any system; a part that cannot (reserved characters,
        spaces at its ends, the names of the portfolio's own files) becomes a slug with a hash,
        as do paths that differ in nothing but case or in the way an accent is written.

    Examples
    --------
    >>> place_outputs(["north/Oak Court", "north/oak-court"])
    ['north/Oak Court', 'north/oak-court']
    >>> [place != path for path, place in [("a?", place_outputs(["a?"])[0])]]
    [True]
    """
    named = [root_name if path == "." else path for path in paths]
    seen = Counter(_fold(path) for path in named)
    return [_place(path, clashes=seen[_fold(path)] > 1) for path in named]


def _fold(path: str) -> str:
    return unicodedata.normalize("NFKC", path).casefold()


def _place(path: str, *, clashes: bool) -> str:
    parts = path.split("/")
    plain = [part if _is_plain(part) else _slug_of(part) for part in parts]
    if parts[0].casefold() in _OWN_NAMES:
        plain[0] = _slug_of(parts[0])
    if clashes:
        plain[-1] = _slug_of(path)
    return "/".join(plain)


def _is_plain(part: str) -> bool:
    reserved = slugify(part.partition(".")[0]).endswith("-property")
    return part.isprintable() and not _UNSAFE.search(part) and not reserved


def _slug_of(text: str) -> str:
    digest = hashlib.sha256(os.fsencode(text)).hexdigest()[:8]
    return f"{slugify(text.rpartition('/')[2])}-{digest}"


def hash_inputs(folder: Path, *, formats: tuple[str, ...] | None = None) -> str:
    """Return a hash of all that decides what a property's as-built looks like.

    Parameters
    ----------
    folder : Path
        Property folder.
    formats : tuple of str, optional
        Names of writers.

    Returns
    -------
    str
        SHA-256, hexadecimal, of the version, the plugins with theirs, the formats, and the names
        and contents of the input files; empty where one cannot be read.
    """
    total = hashlib.sha256(f"{_software()}\0{formats}\0".encode())
    try:
        for path in sorted(_inputs_of(folder)):
            name = os.fsencode(path.relative_to(folder))
            total.update(b"%d\0%s\0%d\0" % (len(name), name, path.stat().st_size))
            with path.open("rb") as stream:
                while block := stream.read(_BLOCK):
                    total.update(block)
    except OSError:
        return ""
    return total.hexdigest()


def _software() -> str:
    """Return what builds: the version, readers and writers with theirs, and the usual formats."""
    origins = [sorted(registry(group).origins.items()) for group in (READERS, WRITERS)]
    usual = sorted(name for name, writer in registry(WRITERS).formats.items() if writer.default)
    return f"{__version__} {origins} {usual}"


def _inputs_of(folder: Path) -> Iterator[Path]:
    for path in folder.iterdir():
        if path.name.startswith((".", "~$")):
            continue
        if path.is_file():
            yield path
        elif path.name.lower() in _READ_BELOW:
            yield from (p for p in path.rglob("*") if p.is_file())
