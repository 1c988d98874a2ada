"""The two writers: a bare KML file, and a KMZ archive that brings its symbols along."""

from __future__ import annotations

import zipfile
from typing import TYPE_CHECKING, Any

from wiremap.plugins import Writer
from wiremap.write.kml.document import build_document
from wiremap.write.kml.symbols import draw_symbol

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    import pandas as pd

ZIP_EPOCH = (1980, 1, 1, 0, 0, 0)
"""Time of every entry, the earliest that a zip archive can say: equal records, equal bytes."""


def write_kml(
    layers: Mapping[str, pd.DataFrame], target: Path, context: Mapping[str, Any]
) -> list[Path]:
    """Write the as-built as one KML file.

    Points take the viewer's own pin in the colour of their kind, because a bare KML file cannot
    carry pictures; `write_kmz` brings the symbols along.

    Parameters
    ----------
    layers : mapping of str to DataFrame
        Layers by name, in the working CRS; any may be missing or empty. The layer ``locates`` is
        left out: phones choke on it, and the wires are made of it.
    target : Path
        Folder to write into.
    context : mapping
        ``name``, ``slug``, ``settings`` and ``frame``.

    Returns
    -------
    list of Path
        ``<slug>.kml``: longitude and latitude on WGS 84, clamped to the ground; depths are data.

    Raises
    ------
    OSError
        The file cannot be written.
    """
    path = target / f"{context['slug']}.kml"
    path.write_bytes(build_document(layers, context=context).text)
    return [path]


def write_kmz(
    layers: Mapping[str, pd.DataFrame], target: Path, context: Mapping[str, Any]
) -> list[Path]:
    """Write the as-built as one KMZ archive that needs no network.

    Parameters
    ----------
    layers, target, context
        As in `write_kml`.

    Returns
    -------
    list of Path
        ``<slug>.kmz``: ``doc.kml`` and its symbols.

    Raises
    ------
    OSError
        The file cannot be written.
    """
    document = build_document(layers, context=context, with_symbols=True)
    files = {"doc.kml": document.text}
    files |= {name: draw_symbol(style) for name, style in sorted(document.symbols.items())}
    path = target / f"{context['slug']}.kmz"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in files.items():
            archive.writestr(zipfile.ZipInfo(name, ZIP_EPOCH), content, zipfile.ZIP_DEFLATED)
    return [path]


KML = Writer(
    name="kml",
    suffixes=(".kml",),
    write=write_kml,
    meaning="KML 2.2 in longitude and latitude, one folder a layer",
    default=False,
)

KMZ = Writer(
    name="kmz",
    suffixes=(".kmz",),
    write=write_kmz,
    meaning="KML zipped with its symbols, for phones and globes without a network",
    default=False,
)
