"""Which files of a folder are data, in the order they are read."""

from __future__ import annotations

import hashlib
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path

_SIDECARS = frozenset({".dbf", ".shx", ".prj", ".cpg", ".qpj", ".sbn", ".sbx", ".qmd", ".qml"})
_OTHER_TABLES = ("zones", "references", "readings", "base", "property", "readme", "decisions")


def find_locates(folder: Path) -> list[Path]:
    """Return the files of field locates in a property folder, in the order they are read.

    Parameters
    ----------
    folder : Path

    Returns
    -------
    list of Path
        ``locates*.<ext>``, then what is below ``locates/``, then below ``visits/``; each sorted.
        Hidden files, lock files, shapefile parts and read-me files are left out.
    """
    top = [p for p in folder.iterdir() if p.is_file() and p.stem.lower().startswith("locates")]
    nested = [p for p in list_below(folder, "locates") if p.is_file()]
    visits = [p for p in list_below(folder, "visits") if p.is_file()]
    visits = [p for p in visits if not p.stem.lower().startswith(_OTHER_TABLES)]
    return [p for group in (top, nested, visits) for p in sorted(group) if is_data(p)]


def list_below(folder: Path, name: str) -> list[Path]:
    """Return everything below the subfolder of a name, whether written ``base`` or ``Base``.

    Parameters
    ----------
    folder : Path
        The property folder.
    name : str
        In lower case.

    Returns
    -------
    list of Path
        Sorted; empty where there is no such subfolder.
    """
    return sorted(p for sub in folder.iterdir() if sub.name.lower() == name for p in sub.rglob("*"))


def list_data(folder: Path) -> list[Path]:
    """Return the files of a visit's folder that can hold field locates, whatever their names.

    Parameters
    ----------
    folder : Path

    Returns
    -------
    list of Path
        Sorted; zone lists and other tables are left out by their names.
    """
    files = sorted(p for p in folder.rglob("*") if p.is_file() and is_data(p))
    return [p for p in files if not p.stem.lower().startswith(_OTHER_TABLES)]


def is_data(path: Path) -> bool:
    """Return whether a file may hold data: not hidden, no lock, shapefile part or read-me.

    Parameters
    ----------
    path : Path

    Returns
    -------
    bool
    """
    name = path.name.lower()
    hidden = name.startswith((".", "~$", "readme")) or name.endswith((".aux.xml", "-wal", "-shm"))
    return not hidden and path.suffix.lower() not in _SIDECARS


def hash_file(path: Path) -> str:
    """Return the SHA-256 of a file.

    Parameters
    ----------
    path : Path

    Returns
    -------
    str
        Hexadecimal.
    """
    with path.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()
