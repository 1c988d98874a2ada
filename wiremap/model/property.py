"""A property as read from its folder: tables, settings, and what was found on the way."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    import geopandas as gpd
    import pandas as pd

    from wiremap.model.findings import Finding
    from wiremap.model.settings import Settings


@dataclass(frozen=True)
class InputFile:
    """One file that the property was read from."""

    path: str
    sha256: str
    format: str
    rows: int


@dataclass(frozen=True)
class Property:
    """What `wiremap.read_property` returns.

    Attributes
    ----------
    folder : Path
        Where it was read from.
    settings : Settings
        From property.toml, with defaults.
    locates : DataFrame
        Table ``locates_in``; further columns of the field files are kept.
    zones : DataFrame
        Table ``zone_list``; empty where there is no list.
    references : DataFrame
        Table ``references_in``.
    readings : DataFrame
        Table ``readings``.
    base : mapping of str to GeoDataFrame
        Base layers by name, each in its own CRS.
    findings : tuple of Finding
        What reading found.
    inputs : tuple of InputFile
        The files, with their SHA-256.
    decisions : DataFrame or None
        Table ``decisions``: what the technician decided on suggested zones.
    aerial : Path or None
        Aerial image that the map may show.
    terrain : Path or None
        Image of the ground's elevation.
    ground : GeoDataFrame or None
        What a build took from it: cells near the located points, as points with their elevation.
    revisions : tuple of dict
        Rows of table ``revisions`` of a record that is amended; empty at the first issue.
    """

    folder: Path
    settings: Settings
    locates: pd.DataFrame
    zones: pd.DataFrame
    references: pd.DataFrame
    readings: pd.DataFrame
    base: Mapping[str, gpd.GeoDataFrame] = field(default_factory=dict)
    findings: tuple[Finding, ...] = ()
    inputs: tuple[InputFile, ...] = ()
    decisions: pd.DataFrame | None = None
    aerial: Path | None = None
    terrain: Path | None = None
    ground: gpd.GeoDataFrame | None = None
    revisions: tuple[Mapping[str, Any], ...] = ()

    @property
    def name(self) -> str:
        """Name of the property: as set, else the folder's."""
        name = self.settings.property.name or self.folder.resolve().name
        return name.encode("utf-8", "replace").decode()

    @property
    def slug(self) -> str:
        """Name of the output files: lower case, hyphens."""
        return slugify(self.name)


def slugify(name: str) -> str:
    """Return a name as a file name: lower case, letters and digits, hyphens between.

    Parameters
    ----------
    name : str

    Returns
    -------
    str
        At most 80 characters; ``property`` where nothing is left.

    Examples
    --------
    >>> slugify("Quarry Pond Gardens, No. 7")
    'quarry-pond-gardens-no-7'
    >>> slugify("../..")
    'property'
    """
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode().lower()
    slug = re.sub(r"[^a-z0-9]+", "-", plain).strip("-")[:80].rstrip("-")
    reserved = {"con", "prn", "aux", "nul", *(f"{d}{n}" for d in ("com", "lpt") for n in range(10))}
    return f"{slug}-property" if slug in reserved else slug or "property"
