"""The ``.wiremap`` accessor on tables of locates: each step alone, the as-built, its pictures.

Registered when the first public name of wiremap is used. A table of locates has columns ``point``
and ``feature``, and positions in columns or as geometry.
"""

from __future__ import annotations

from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pandas as pd

from wiremap.model.settings import Settings

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    import folium
    from matplotlib.axes import Axes

    from wiremap.asbuilt import AsBuilt
    from wiremap.model.columns import Table
    from wiremap.model.property import Property
    from wiremap.plugins import RawTable
    from wiremap.read.conversion import Source
    from wiremap.steps.checks import Checked
    from wiremap.steps.depths import Depths
    from wiremap.steps.devices import Devices
    from wiremap.steps.faults import Faults
    from wiremap.steps.network import Network
    from wiremap.steps.placement import Placed
    from wiremap.steps.profiles import Profiles
    from wiremap.steps.traces import Traces


@pd.api.extensions.register_dataframe_accessor("wiremap")
class LocatesAccessor:
    """What can be done with a table of locates, as ``frame.wiremap``.

    Every method takes ``settings`` and, where positions hang on fixed points, ``references`` (a
    table with the contract's columns). Nothing is kept between calls; a step runs those before
    it.

    Parameters
    ----------
    frame : DataFrame or GeoDataFrame
        Columns of the contract; the geometry of a GeoDataFrame is the position.

    Raises
    ------
    AttributeError
        The frame has no ``point`` or no ``feature`` column, so it is no table of locates.

    Examples
    --------
    >>> import wiremap
    >>> locates = wiremap.read_property("data/hollow-oak-garden").locates
    >>> readings = locates.wiremap.depths().readings
    >>> bool((readings["depth_sigma_m"] > 0).all())
    True
    >>> hasattr(readings[["depth_m"]], "wiremap")
    False
    """

    def __init__(self, frame: pd.DataFrame) -> None:
        missing = {"point", "feature"} - set(frame.columns)
        if missing:
            columns = " and ".join(sorted(missing))
            raise AttributeError(f"a table of locates has {columns}; this frame does not")
        self._frame = frame

    def property(
        self,
        *,
        zones: pd.DataFrame | None = None,
        references: pd.DataFrame | None = None,
        settings: Settings | None = None,
    ) -> Property:
        """Return the frame as a property.

        Parameters
        ----------
        zones : DataFrame, optional
            The controller's zone list.
        references : DataFrame, optional
            Fixed points.
        settings : Settings, optional
            The defaults where not given.

        Returns
        -------
        Property
            Rows are counted from 0, as ``iloc`` does.

        Raises
        ------
        ReadError
            A table has no position, or no zone.
        """
        from wiremap.model.property import Property
        from wiremap.model.tables import LOCATES_IN, READINGS, REFERENCES_IN, ZONE_LIST
        from wiremap.read.locates import read_locates
        from wiremap.read.references import read_references
        from wiremap.read.zone_lists import read_zone_list

        chosen = settings or Settings()
        findings: list[Any] = []

        def read(frame: pd.DataFrame | None, table: Table, convert: Callable[..., Any]) -> Any:
            rows, found = _read_frame(frame, table, convert, chosen)
            findings.extend(found)
            return rows

        return Property(
            folder=Path("locates"),
            settings=chosen,
            locates=read(self._frame, LOCATES_IN, read_locates),
            zones=read(zones, ZONE_LIST, read_zone_list),
            references=read(references, REFERENCES_IN, read_references),
            readings=READINGS.empty(),
            findings=tuple(findings),
        )

    def check(self, *, settings: Settings | None = None) -> Checked:
        """Return `wiremap.check_locates` of the frame."""
        from wiremap.steps.checks import check_locates

        source = self.property(settings=settings)
        return check_locates(source.locates, settings=source.settings)

    def place(
        self, *, references: pd.DataFrame | None = None, settings: Settings | None = None
    ) -> Placed:
        """Return `wiremap.place_locates` of the checked frame."""
        from wiremap.steps.checks import check_locates
        from wiremap.steps.placement import place_locates

        source = self.property(references=references, settings=settings)
        checked = check_locates(source.locates, settings=source.settings)
        return place_locates(checked.locates, source.references, settings=source.settings)

    def trace(self, **given: Any) -> Traces:
        """Return `wiremap.trace_runs` of the placed frame."""
        return _Steps(self.place(**given), given).traces

    def depths(self, **given: Any) -> Depths:
        """Return `wiremap.reduce_depths` of the traced frame."""
        return _Steps(self.place(**given), given).depths

    def profiles(self, **given: Any) -> Profiles:
        """Return `wiremap.profile_runs` of the frame with its depths."""
        return _Steps(self.place(**given), given).profiles

    def devices(self, **given: Any) -> Devices:
        """Return `wiremap.find_devices` of the frame with its depths."""
        return _Steps(self.place(**given), given).devices

    def network(self, **given: Any) -> Network:
        """Return `wiremap.join_runs` of the frame's runs and devices."""
        return _Steps(self.place(**given), given).network

    def faults(self, **given: Any) -> Faults:
        """Return `wiremap.find_faults` of the frame's runs."""
        return _Steps(self.place(**given), given).faults

    def build(
        self,
        *,
        zones: pd.DataFrame | None = None,
        references: pd.DataFrame | None = None,
        settings: Settings | None = None,
    ) -> AsBuilt:
        """Return `wiremap.build_asbuilt` of the frame."""
        from wiremap.workflow import build_asbuilt

        return build_asbuilt(self.property(zones=zones, references=references, settings=settings))

    def explore(
        self,
        m: folium.Map | None = None,
        *,
        layers: Sequence[str] | None = None,
        tiles: str | None = None,
        **given: Any,
    ) -> folium.Map:
        """Return `AsBuilt.explore` of the frame: a folium map, or `m` with it drawn on."""
        return self.build(**given).explore(m, layers=layers, tiles=tiles)

    def plot(self, ax: Axes | None = None, **given: Any) -> Axes:
        """Draw the as-built, on `ax` where it is given."""
        return self.build(**given).plot(ax)

    def plot_profile(self, run: str, ax: Axes | None = None, **given: Any) -> Axes:
        """Draw depth along a run, on `ax` where it is given."""
        return self.build(**given).plot_profile(run, ax)

    def plot_tone(self, run: str, ax: Axes | None = None, **given: Any) -> Axes:
        """Draw relative current along a run, on `ax` where it is given."""
        return self.build(**given).plot_tone(run, ax)


class _Steps:
    """The steps after placement; each runs those that it needs, once."""

    def __init__(self, placed: Placed, given: dict[str, Any]) -> None:
        self.locates = placed.locates
        settings = given.get("settings") or Settings()
        self.shared: dict[str, Any] = {"frame": placed.frame, "settings": settings}

    @cached_property
    def traces(self) -> Traces:
        from wiremap.steps.traces import trace_runs

        return trace_runs(self.locates, **self.shared)

    @cached_property
    def depths(self) -> Depths:
        from wiremap.steps.depths import reduce_depths

        return reduce_depths(self.locates, self.traces.points, **self.shared)

    @cached_property
    def profiles(self) -> Profiles:
        from wiremap.steps.profiles import profile_runs

        traces, readings = self.traces, self.depths.readings
        return profile_runs(traces.vertices, traces.points, readings, **self.shared)

    @cached_property
    def devices(self) -> Devices:
        from wiremap.steps.devices import find_devices

        points, readings = self.profiles.points, self.depths.readings
        return find_devices(self.locates, points, readings, **self.shared)

    @cached_property
    def network(self) -> Network:
        from wiremap.steps.network import join_runs

        traces, found = self.traces, self.devices
        devices = (found.valves, found.splices, found.controllers)
        return join_runs(traces.lines, traces.vertices, *devices, **self.shared)

    @cached_property
    def faults(self) -> Faults:
        from wiremap.steps.faults import find_faults

        lines, points = self.traces.lines, self.profiles.points
        connections, readings = self.network.connections, self.depths.readings
        return find_faults(
            points, self.locates, lines, connections, readings=readings, **self.shared
        )


def _read_frame(
    frame: pd.DataFrame | None,
    table: Table,
    convert: Callable[[RawTable, Source], tuple[pd.DataFrame, list[Any]]],
    settings: Settings,
) -> tuple[pd.DataFrame, list[Any]]:
    """Return a frame as a table of the contract; one that is in its shape stays as it is."""
    from wiremap.read.conversion import Source

    if frame is None:
        return table.empty(), []
    has_geometry = "geometry" in frame.columns
    if not has_geometry and set(table.column_names) <= set(frame.columns):
        return table.conform(frame), []
    rows, findings = convert(_as_raw(frame), Source(table.name, settings))
    return table.conform(rows), findings


def _as_raw(frame: pd.DataFrame) -> RawTable:
    """Return a frame as a reader would; geometry stands in for columns of positions."""
    from wiremap.plugins import RawTable

    plain = pd.DataFrame(frame.reset_index(drop=True))
    if "geometry" not in plain:
        return RawTable(plain)
    plain = plain.drop(columns=[name for name in plain if name in _NOT_FIELD])
    crs = frame.crs
    names = ("easting", "northing") if crs is not None and crs.is_projected else ("lon", "lat")
    for name, values in zip(names, (frame.geometry.x, frame.geometry.y), strict=True):
        plain[name] = values.to_numpy()
    return RawTable(plain, crs=crs.to_wkt() if crs is not None else None)


_NOT_FIELD = frozenset(
    ("geometry", "lon", "lat", "easting", "northing", "position_crs", "source_file", "source_row",
     "position_rms_m", "placed_by", "datum_accuracy_m", "superseded_on")
)  # fmt: skip
"""Columns that the geometry stands in for, and those that placement computed."""
