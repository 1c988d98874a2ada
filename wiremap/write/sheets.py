"""Record-drawing sheets as one PDF."""

from __future__ import annotations

from importlib.util import find_spec
from typing import TYPE_CHECKING, Any

from wiremap.plugins import Writer

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    import pandas as pd


def write_sheets(
    layers: Mapping[str, pd.DataFrame], target: Path, context: Mapping[str, Any]
) -> list[Path]:
    """Write the record drawing of a property: plans to scale, schedules, profiles, charts.

    Parameters
    ----------
    layers : mapping of str to DataFrame
        Layers of an as-built by name, in the working CRS; any may be missing or empty.
    target : Path
        Folder to write into.
    context : mapping of str to object
        ``name``, ``slug`` and ``settings``; ``frame``, ``curves``, ``schedule`` and ``base``
        where they are known.

    Returns
    -------
    list of Path
        ``<slug>-sheets.pdf``: the same bytes for the same record.

    Raises
    ------
    MissingExtraError
        reportlab, or segno where the chart carries a QR code, is not installed.

    Examples
    --------
    >>> import tempfile
    >>> from pathlib import Path
    >>> from wiremap.model.settings import Settings
    >>> context = {"name": "Empty Acre", "slug": "empty-acre", "settings": Settings()}
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     [path.name for path in write_sheets({}, Path(folder), context)]
    ['empty-acre-sheets.pdf']
    """
    from wiremap.draw.sheets.document import draw_sheets

    path = target / f"{context['slug']}-sheets.pdf"
    path.write_bytes(draw_sheets(layers, context=context))
    return [path]


WRITER = Writer(
    name="sheets",
    suffixes=(".pdf",),
    write=write_sheets,
    meaning="The record drawing: PDF sheets at a true scale, and controller charts",
    default=find_spec("reportlab") is not None,
)
