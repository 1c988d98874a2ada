"""Whether a file would be taken for an input of a property, so that outputs keep away from it."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path

_FOLDERS = frozenset({"locates", "visits", "base"})
_TABLES = frozenset({"zones", "references", "readings", "decisions", "base", "property"})


def is_input_name(folder: Path, path: Path) -> bool:
    """Return whether a file of this name is read when the property is.

    Parameters
    ----------
    folder : Path
        The property folder.
    path : Path
        A file, which need not exist.

    Returns
    -------
    bool
        Always False outside of the folder.

    Examples
    --------
    >>> from pathlib import Path
    >>> is_input_name(Path("garden"), Path("garden/locates/garden.gpkg"))
    True
    >>> is_input_name(Path("garden"), Path("garden/out/garden.gpkg"))
    False
    """
    root, target = folder.resolve(), path.resolve()
    if not target.is_relative_to(root):
        return False
    first, *others = target.relative_to(root).parts
    if others:
        return first.lower() in _FOLDERS
    stem = target.stem.lower()
    return stem.startswith("locates") or stem in _TABLES
