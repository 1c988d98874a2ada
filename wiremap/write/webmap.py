"""The owner's map as one HTML file."""

from __future__ import annotations

import warnings
from functools import partial
from typing import TYPE_CHECKING, Any

from wiremap.errors import ReadError, WiremapWarning
from wiremap.plugins import Writer

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    import pandas as pd


def write_webmap(
    layers: Mapping[str, pd.DataFrame], target: Path, context: Mapping[str, Any]
) -> list[Path]:
    """Write the map of a property as one file that needs no network.

    Parameters
    ----------
    layers : mapping of str to DataFrame
        Layers of an as-built by name.
    target : Path
        Folder to write into.
    context : mapping of str to object
        ``name``, ``slug`` and ``settings``; ``frame``, ``curves``, ``tones``, ``base`` and
        ``aerial`` (path of an image) where they are known.

    Returns
    -------
    list of Path
        ``<slug>.html``.

    Raises
    ------
    MissingExtraError
        No package that carries Leaflet is installed.
    ReadError
        The installed Leaflet differs from its package's record.

    Warns
    -----
    WiremapWarning
        The image cannot be read: the map is drawn without it.

    Examples
    --------
    >>> import tempfile
    >>> from pathlib import Path
    >>> from wiremap.model.settings import Settings
    >>> context = {"name": "Empty Acre", "slug": "empty-acre", "settings": Settings()}
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     [path.name for path in write_webmap({}, Path(folder), context)]
    ['empty-acre.html']
    """
    from wiremap.draw.webmap import draw_map

    draw = partial(
        draw_map,
        layers,
        name=context["name"],
        settings=context["settings"],
        frame=context.get("frame"),
        curves=context.get("curves"),
        tones=context.get("tones"),
        base=context.get("base"),
    )
    try:
        drawn = draw(aerial=context.get("aerial"))
    except ReadError as error:
        drawn = draw()
        warnings.warn(f"the map shows no image: {error}", WiremapWarning, stacklevel=2)
    path = target / f"{context['slug']}.html"
    drawn.save(path)
    return [path]


WRITER = Writer(
    name="webmap",
    suffixes=(".html",),
    write=write_webmap,
    meaning="The owner's map: one page, any phone, no network",
)
