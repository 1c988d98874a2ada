"""The as-built: layers in memory, and what can be done with them.

Made by `wiremap.workflow.build_asbuilt`.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from wiremap.model.kinds import Severity

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

    import folium
    import geopandas as gpd
    import pandas as pd
    from matplotlib.axes import Axes

    from wiremap.model.frame import Frame
    from wiremap.model.settings import Settings


@dataclass(frozen=True, repr=False)
class AsBuilt:
    """The permanent record of one property.

    Attributes
    ----------
    name, slug : str
        Name of the property, and of the files it is written to.
    settings : Settings
    frame : Frame
        Working CRS and how its plane differs from the ground.
    layers : dict of str to GeoDataFrame
        Every layer by name, in the order they are written; positions in the working CRS, lengths
        in metres. Tables without positions are DataFrames.
    curves : DataFrame
        Depth along each run, to draw: run, chainage_m, depth_m, depth_sigma_m.
    tones : DataFrame
        Relative current along each run, to draw.
    schedule : DataFrame
        Wire schedule: one row a zone and valve.
    connections : DataFrame
        How runs and devices join.
    base : dict of str to GeoDataFrame
        Base layers in the working CRS.
    aerial : Path or None
        Aerial image that is drawn under the map.

    Examples
    --------
    >>> from wiremap import build_asbuilt, read_property
    >>> asbuilt = build_asbuilt(read_property("data/hollow-oak-garden"))
    >>> len(asbuilt.layers["controllers"])
    1
    """

    name: str
    slug: str
    settings: Settings
    frame: Frame
    layers: dict[str, gpd.GeoDataFrame]
    curves: pd.DataFrame
    tones: pd.DataFrame
    schedule: pd.DataFrame
    connections: pd.DataFrame
    base: Mapping[str, gpd.GeoDataFrame] = field(default_factory=dict)
    aerial: Path | None = None

    @property
    def findings(self) -> gpd.GeoDataFrame:
        """The ``findings`` layer, most severe first."""
        return self.layers["findings"]

    @property
    def has_errors(self) -> bool:
        """Whether any finding is of severity error."""
        return bool((self.findings["severity"] == Severity.ERROR).any())

    @property
    def reconciliation(self) -> list[str]:
        """How much of the controller is accounted for, and what to walk next, in lines of text."""
        from wiremap.steps.zones import summarise_reconciliation

        tables = (self.layers[name] for name in ("zones", "valves", "wire_runs"))
        return summarise_reconciliation(*tables)

    def write(self, out: str | Path, *, formats: Sequence[str] | None = None) -> list[Path]:
        """Write the as-built's files; each appears whole or not at all.

        Parameters
        ----------
        out : str or Path
            Folder; made where it is missing.
        formats : sequence of str, optional
            Names of writers (``wiremap formats`` lists them); the default ones where not given.

        Returns
        -------
        list of Path
            The files written.

        Raises
        ------
        WriteError
            A target is locked or cannot be written. What stood there before is untouched.
        MissingExtraError
            A format needs a package that is not installed.
        """
        from pathlib import Path

        from wiremap.write.outputs import write_layers

        return write_layers(self.layers, Path(out), context=self._context(), formats=formats)

    def _context(self) -> dict[str, Any]:
        return {
            "name": self.name,
            "slug": self.slug,
            "settings": self.settings,
            "frame": self.frame,
            "curves": self.curves,
            "tones": self.tones,
            "schedule": self.schedule,
            "base": self.base,
            "aerial": self.aerial,
            "timestamp": _fixed_time(),
        }

    def explore(
        self,
        m: folium.Map | None = None,
        *,
        layers: Sequence[str] | None = None,
        tiles: str | None = None,
    ) -> folium.Map:
        """Return the as-built as a folium map.

        Parameters
        ----------
        m : folium.Map, optional
            Map to draw on; a new one where not given.
        layers : sequence of str, optional
            Layers to draw; all that have positions where not given.
        tiles : str, optional
            Online background; none where not given.

        Returns
        -------
        folium.Map
        """
        from wiremap.draw.webmap import explore_layers

        return explore_layers(
            self.layers,
            name=self.name,
            settings=self.settings,
            frame=self.frame,
            curves=self.curves,
            tones=self.tones,
            base=self.base,
            m=m,
            only=layers,
            tiles=tiles,
        )

    def plot(self, ax: Axes | None = None) -> Axes:
        """Draw runs, devices, faults and the dig buffer.

        Parameters
        ----------
        ax : Axes, optional
            Axes to draw on; new ones where not given.

        Returns
        -------
        Axes

        Raises
        ------
        MissingExtraError
            matplotlib is not installed.
        """
        from wiremap.draw.plot import plot_asbuilt

        return plot_asbuilt(self.layers, ax=ax)

    def plot_profile(self, run: str, ax: Axes | None = None) -> Axes:
        """Draw depth along a run: readings with intervals, the curve, the cover limit.

        Parameters
        ----------
        run : str
            Name of the run.
        ax : Axes, optional
            Axes to draw on; new ones where not given.

        Returns
        -------
        Axes

        Raises
        ------
        KeyError
            There is no such run.
        MissingExtraError
            matplotlib is not installed.
        """
        from wiremap.draw.depth_profile import plot_depth_profile

        self._hold_run(run)
        curve = self.curves[self.curves["run"] == run]
        readings = self.layers["depth_readings"]
        return plot_depth_profile(
            curve,
            readings[readings["run"] == run],
            min_cover_m=self.settings.advisory.min_cover_m,
            ax=ax,
        )

    def plot_tone(self, run: str, ax: Axes | None = None) -> Axes:
        """Draw relative current along a run, the model that explains it, and its faults.

        Parameters
        ----------
        run : str
            Name of the run.
        ax : Axes, optional
            Axes to draw on; new ones where not given.

        Returns
        -------
        Axes

        Raises
        ------
        KeyError
            There is no such run.
        MissingExtraError
            matplotlib is not installed.
        """
        from wiremap.draw.tone_profile import plot_tone_profile

        self._hold_run(run)
        faults = self.layers["faults"]
        return plot_tone_profile(
            self.tones[self.tones["run"] == run], faults[faults["run"] == run], ax=ax
        )

    def _hold_run(self, run: str) -> None:
        runs = self.layers["wire_runs"]["run"]
        if run not in set(runs):
            raise KeyError(f"no run named {run!r}; the runs are {', '.join(sorted(runs))}")

    def __repr__(self) -> str:
        """Return name and counts on one line."""
        counts = ", ".join(f"{len(frame)} {name}" for name, frame in self.layers.items())
        return f"AsBuilt({self.name!r}: {counts})"

    def _repr_html_(self) -> str:
        """Return a light table for notebooks."""
        from wiremap.draw.summary import describe_layers

        return describe_layers(self.name, self.layers, lines=self.reconciliation)


def _fixed_time() -> str | None:
    """Return the time that stands for the time of writing, where SOURCE_DATE_EPOCH fixes it.

    References
    ----------
    https://reproducible-builds.org/specs/source-date-epoch/: seconds since 1970-01-01 UTC.
    """
    import datetime as dt
    import os
    import re

    seconds = os.environ.get("SOURCE_DATE_EPOCH", "")
    if not re.fullmatch(r"[0-9]{1,11}", seconds):
        return None
    return dt.datetime.fromtimestamp(int(seconds), dt.UTC).strftime("%Y-%m-%dT%H:%M:%S.000Z")
