"""The rows on wires, run after run, in the order they were walked."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
import pandas as pd

from wiremap.model.kinds import ON_WIRE, Feature
from wiremap.steps.traces.ends import Located, adopt_ends, adopt_sources

if TYPE_CHECKING:
    import geopandas as gpd
    from numpy.typing import NDArray

    from wiremap.steps.traces.ends import Adopted

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]
    Flags = NDArray[np.bool_]

HEARD_ONLY = (Feature.PATH, Feature.LOST)
"""Features located by tone alone: only they can be called outliers."""


class Walks(NamedTuple):
    """Located rows on runs, run after run, each run in the order walked."""

    locate: Ints
    run: Ints
    names: list[str]
    xy: Floats
    sigma_m: Floats
    keep: Flags
    fault: Flags
    visit: Ints
    ordered: Flags

    def take(self, places: Ints) -> Walks:
        """Return the rows at given places."""
        columns: dict[str, Any] = {name: getattr(self, name)[places] for name in _COLUMNS}
        return self._replace(**columns)

    def join(self, other: Walks) -> Walks:
        """Return the rows of both."""
        columns: dict[str, Any] = {
            name: np.concatenate([getattr(self, name), getattr(other, name)]) for name in _COLUMNS
        }
        return self._replace(**columns)


_COLUMNS = ("locate", "run", "xy", "sigma_m", "keep", "fault", "visit", "ordered")


def texts(frame: pd.DataFrame, name: str) -> NDArray[np.object_]:
    """Return a text column as an array, with empty text where a value is missing."""
    if name not in frame:
        return np.full(len(frame), "", dtype=object)
    return frame[name].astype("object").where(frame[name].notna(), "").to_numpy()


def gather_walks(placed: gpd.GeoDataFrame, *, join_m: float) -> Walks:
    """Return the rows on wires in the order walked, with the rows that stand at open ends."""
    run = texts(placed, "run")
    feature, features = pd.factorize(texts(placed, "feature"))
    on_wire = np.append(np.isin(features, [str(f) for f in ON_WIRE]), False)[feature]
    rows = np.flatnonzero(on_wire & (run != ""))
    locate, code, names = _split_names(rows, run[rows])
    visit = _visits(placed)[locate]
    given = placed["order"].to_numpy(dtype=float, na_value=np.nan) if "order" in placed else None
    order = np.full(len(placed), np.nan) if given is None else given
    order, ordered = _fill_order(order[locate], code)
    places = np.lexsort((locate, order, _colliding(visit, order, ordered, code), code))
    locate, code = locate[places], code[places]
    visit, ordered = visit[places], ordered[places]
    xy = placed.geometry.get_coordinates().to_numpy()
    rms = placed["position_rms_m"].to_numpy(dtype=float)
    located = Located(
        feature=texts(placed, "feature"), run=run, zone=texts(placed, "zone"),
        controller=texts(placed, "controller"), xy=xy, rms_m=rms,
    )  # fmt: skip
    adopted = adopt_ends(located, locate, code, join_m=join_m).join(
        adopt_sources(located, locate, code, join_m=join_m)
    )
    at = _place_of(code, adopted)
    ahead = np.where(adopted.at_start, at, at + 1)
    locate = np.insert(locate, ahead, adopted.row)
    # of the same visit as the end that it stands at
    visit = np.insert(visit, ahead, visit[at])
    ordered = np.insert(ordered, ahead, ordered[at])
    code = np.insert(code, ahead, adopted.run)
    heard = np.append(np.isin(features, [str(f) for f in HEARD_ONLY]), False)[feature[locate]]
    sigma_m = np.maximum(rms[locate] / np.sqrt(2.0), 1e-4)
    fault = located.feature[locate] == str(Feature.FAULT)
    return Walks(locate, code, names, xy[locate], sigma_m, ~heard, fault, visit, ordered)


def _place_of(code: Ints, adopted: Adopted) -> Ints:
    """Return the place among the walks of the end that each adopted row stands beside."""
    at: Ints = np.where(
        adopted.at_start,
        np.searchsorted(code, adopted.run),
        np.searchsorted(code, adopted.run, side="right") - 1,
    )
    return at


def _split_names(rows: Ints, run: NDArray[np.object_]) -> tuple[Ints, Ints, list[str]]:
    """Return row, run number and run names, with a row for each run that a row names."""
    code, written = pd.factorize(run)
    parts = [list(dict.fromkeys(p.strip() for p in w.split(";") if p.strip())) for w in written]
    names = sorted({name for part in parts for name in part})
    number = {name: i for i, name in enumerate(names)}
    counts = np.array([len(part) for part in parts], dtype=np.int64)
    flat = np.array([number[name] for part in parts for name in part], dtype=np.int64)
    starts = np.cumsum(counts) - counts
    repeat = counts[code] if len(code) else counts[:0]
    source = np.repeat(np.arange(len(rows)), repeat)
    within = np.arange(len(source)) - np.repeat(np.cumsum(repeat) - repeat, repeat)
    return rows[source], flat[starts[code[source]] + within], names


def _visits(placed: gpd.GeoDataFrame) -> Ints:
    """Return the visit of each row: one file on one day."""
    day_code, days = pd.factorize(texts(placed, "date"))
    day = pd.factorize(np.array([str(d)[:10] for d in days], dtype=object))[0][day_code]
    file = pd.factorize(texts(placed, "source_file"))[0]
    visit: Ints = pd.factorize(file.astype(np.int64) * (len(days) + 1) + day)[0].astype(np.int64)
    return visit


def _fill_order(order: Floats, code: Ints) -> tuple[Floats, Flags]:
    """Return ``order`` without gaps, and which rows belong to a run that gives it."""
    ordered = np.zeros(len(order), dtype=bool)
    known = np.isfinite(order)
    if not known.any():
        return np.zeros(len(order)), ordered
    ordered = np.isin(code, np.unique(code[known]))
    filled = pd.Series(order).groupby(code).ffill().fillna(-np.inf).to_numpy(dtype=float)
    return np.where(ordered, filled, 0.0), ordered


def _colliding(visit: Ints, order: Floats, ordered: Flags, code: Ints) -> Ints:
    """Return the visit where a run's visits count the same orders anew, else 0."""
    if not ordered.any() or (visit == visit[0]).all():
        return np.zeros(len(visit), dtype=np.int64)
    table = pd.DataFrame({"code": code, "order": order, "visit": visit})[ordered]
    seen = table.drop_duplicates()
    twice = seen[seen.duplicated(["code", "order"])]["code"].unique()
    return np.where(np.isin(code, twice), visit, 0)
