"""Where depth is read along runs, and where it is asked for."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from wiremap.model.kinds import DepthMethod

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Array = NDArray[np.float64]
    Index = NDArray[np.intp]

_CURVE_STEP_M = 2.0
_MOST_STEPS = 16
_LEAST_SIGMA_M = 1e-3
_SHARED = ("systematic_sigma_m", "slope_part_m")
_DIRECT = (DepthMethod.EXPOSED, DepthMethod.PROBED)


@dataclass(frozen=True)
class RunCodes:
    """Runs counted in the order of the vertices."""

    names: pd.Index
    of_vertices: Index

    @classmethod
    def of(cls, vertices: pd.DataFrame) -> RunCodes:
        """Count the runs of the vertices."""
        codes, names = pd.factorize(vertices["run"])
        return cls(pd.Index(names), codes)

    def of_points(self, points: pd.DataFrame) -> Index:
        """Return the code of each point's run; -1 where the run has no vertices."""
        codes: Index = self.names.get_indexer(pd.Index(points["run"]))
        return codes


@dataclass(frozen=True)
class Observed:
    """Readings on runs, one entry a reading and run."""

    reading: pd.DataFrame
    run: Index
    chainage: Array
    depth: Array
    sigma: Array
    shared: Array  # two rows: by the lean held wrong throughout, by a common cross slope
    direct: NDArray[np.bool_]

    @property
    def shared_sigma(self) -> Array:
        """Standard deviation that each reading has in common with others."""
        total: Array = np.sqrt((self.shared**2).sum(axis=0))
        return total

    @classmethod
    def gather(cls, points: pd.DataFrame, readings: pd.DataFrame, runs: RunCodes) -> Observed:
        """Join readings to every run that their locate stands on."""
        row = pd.Index(readings["locate"]).get_indexer(points["locate"])
        code = runs.of_points(points)
        at = np.flatnonzero((row >= 0) & (code >= 0))
        row = row[at]
        total = readings["depth_sigma_m"].to_numpy(dtype=float)[row]
        shared = np.zeros((len(_SHARED), len(at)))
        for i, name in enumerate(_SHARED):
            if name in readings:
                shared[i] = readings[name].to_numpy(dtype=float)[row]
        own = np.sqrt(np.maximum(total**2 - (shared**2).sum(axis=0), _LEAST_SIGMA_M**2))
        depth = readings["depth_m"].to_numpy(dtype=float)[row]
        chainage = points["chainage_m"].to_numpy(dtype=float)[at]
        direct = np.zeros(len(at), dtype=bool)
        if "method" in readings:
            direct = readings["method"].isin(_DIRECT).to_numpy()[row]
        return cls(readings.iloc[row], code[at], chainage, depth, own, shared, direct)


@dataclass(frozen=True)
class Shape:
    """Segments between consecutive vertices: rows of their ends, and lengths."""

    start: Index
    end: Index
    run: Index
    begin_m: Array
    finish_m: Array

    @classmethod
    def of(cls, vertices: pd.DataFrame, runs: RunCodes) -> Shape:
        """Take each two consecutive vertices of one run as a segment."""
        code = runs.of_vertices
        start = np.flatnonzero(code[1:] == code[:-1])
        chainage = vertices["chainage_m"].to_numpy(dtype=float)
        return cls(start, start + 1, code[start], chainage[start], chainage[start + 1])


@dataclass(frozen=True)
class Nodes:
    """All places where the depth is asked for: along segments, at readings, at points."""

    run: Index
    chainage: Array
    curve: slice
    per_segment: Index
    first_of_segment: Index
    reading: slice
    point: slice

    @classmethod
    def lay(cls, shape: Shape, observed: Observed, point_run: Index, points: pd.DataFrame) -> Nodes:
        """Lay nodes at most 2 m apart along each segment, then readings and points."""
        length = shape.finish_m - shape.begin_m
        steps = np.clip(np.ceil(length / _CURVE_STEP_M), 1, _MOST_STEPS).astype(np.intp)
        per_segment = steps + 1
        first = np.cumsum(per_segment) - per_segment
        segment = np.repeat(np.arange(len(steps)), per_segment)
        rank = np.arange(len(segment)) - first[segment]
        along = shape.begin_m[segment] + rank / steps[segment] * length[segment]
        on_run = point_run >= 0
        chainage = points["chainage_m"].to_numpy(dtype=float)
        run = np.concatenate((shape.run[segment], observed.run, point_run))
        count, seen = len(segment), len(observed.run)
        return cls(
            run,
            np.concatenate((along, observed.chainage, np.where(on_run, chainage, 0.0))),
            slice(0, count), per_segment, first,
            slice(count, count + seen), slice(count + seen, len(run)),
        )  # fmt: skip
