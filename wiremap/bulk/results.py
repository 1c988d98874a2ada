"""What a run over many properties returns: one row a property."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from wiremap.bulk.records import SEVERITIES, plain_text

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    import geopandas as gpd
    import pandas as pd

    from wiremap.bulk.records import Outcome

COUNTED = ("locates", "depth_readings", "wire_runs", "valves", "splices", "faults", "zones")
"""Layers whose rows are counted in the index."""


@dataclass(frozen=True, repr=False)
class BulkResult:
    """What `wiremap.build_properties` returns.

    Attributes
    ----------
    root, out : Path
        Where the properties lie, and where everything was written.
    outcomes : tuple of Outcome
        One a property, in the order of their folders.
    """

    root: Path
    out: Path
    outcomes: tuple[Outcome, ...]

    @property
    def properties(self) -> gpd.GeoDataFrame:
        """The index of the portfolio: a row for each property that is built, with its outline."""
        return tabulate_index(self.outcomes)

    @property
    def summary(self) -> pd.DataFrame:
        """One row a property, those that failed included."""
        return tabulate_summary(self.outcomes)

    @property
    def failures(self) -> pd.DataFrame:
        """One row a property that could not be built: folder, error, message."""
        return tabulate_failures(self.outcomes)

    @property
    def has_errors(self) -> bool:
        """Whether a property failed, or has a finding of severity error."""
        return any(o.status == "failed" or o.severities.get("error") for o in self.outcomes)

    @property
    def exit_code(self) -> int:
        """0: all done, no finding of severity error; 1: some; 2: nothing could be built."""
        if self.count("failed") == len(self.outcomes):
            return 2
        return 1 if self.has_errors else 0

    def count(self, status: str) -> int:
        """Return how many properties came out as ``built``, ``kept`` or ``failed``."""
        return sum(outcome.status == status for outcome in self.outcomes)

    def __repr__(self) -> str:
        """Return the counts on one line."""
        counts = ", ".join(f"{self.count(s)} {s}" for s in ("built", "kept", "failed"))
        return f"BulkResult({counts}; {str(self.out)!r})"


def tabulate_summary(outcomes: Sequence[Outcome]) -> pd.DataFrame:
    """Return one row a property.

    Parameters
    ----------
    outcomes : sequence of Outcome

    Returns
    -------
    DataFrame
        property_folder, property, status, out, worst, errors, warnings, notes, the rows of the
        layers `COUNTED`, zones_complete, wire_length_m, seconds, error, message.
    """
    import pandas as pd

    columns: dict[str, list[object]] = {
        "property_folder": [plain_text(o.path) for o in outcomes],
        "property": [plain_text(o.name) for o in outcomes],
        "status": [o.status for o in outcomes],
        "out": [o.out for o in outcomes],
        "worst": [o.worst for o in outcomes],
    }
    columns |= {f"{s}s": [o.severities.get(s, 0) for o in outcomes] for s in SEVERITIES}
    columns |= {name: [o.counts.get(name, 0) for o in outcomes] for name in COUNTED}
    columns |= {
        "zones_complete": [o.zones_complete for o in outcomes],
        "wire_length_m": [o.wire_length_m for o in outcomes],
        "seconds": [o.seconds for o in outcomes],
        "error": [o.error for o in outcomes],
        "message": [plain_text(o.message) for o in outcomes],
    }
    return pd.DataFrame(columns)


def tabulate_index(outcomes: Sequence[Outcome]) -> gpd.GeoDataFrame:
    """Return the index of the portfolio.

    Parameters
    ----------
    outcomes : sequence of Outcome

    Returns
    -------
    GeoDataFrame
        Those that did not fail, with their outline in EPSG:4326; columns of the summary but
        what belongs to the run alone, and ``advisory``, the caution in words.
    """
    import geopandas as gpd

    from wiremap.steps.buffers import ADVISORY

    good = [o for o in outcomes if o.status != "failed"]
    table = tabulate_summary(good).drop(columns=["status", "seconds", "error", "message"])
    table["advisory"] = ADVISORY
    shapes = gpd.GeoSeries.from_wkt([o.footprint for o in good], crs="EPSG:4326")
    return gpd.GeoDataFrame(table, geometry=shapes.array, crs="EPSG:4326")


def tabulate_failures(outcomes: Sequence[Outcome]) -> pd.DataFrame:
    """Return one row a property that could not be built.

    Parameters
    ----------
    outcomes : sequence of Outcome

    Returns
    -------
    DataFrame
        folder, error, message.
    """
    import pandas as pd

    bad = [o for o in outcomes if o.status == "failed"]
    rows = [(plain_text(o.path), o.error, plain_text(o.message)) for o in bad]
    return pd.DataFrame(rows, columns=["folder", "error", "message"])
