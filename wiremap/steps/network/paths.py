"""The wire path from each valve back to its controller."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from wiremap.formulas.polylines import length_moments

if TYPE_CHECKING:
    import networkx as nx

    from wiremap.steps.network.joins import Connection, Devices, Runs

    Node = tuple[str, str] | tuple[str, str, float]

CHANGE_COST_M = 1.0
"""What changing from one wire to another weighs in the search for a path (project choice: less
than any detour that matters, more than the noise of positions in one trench)."""


def find_paths(
    runs: Runs, devices: Devices, joined: list[Connection], vertices: pd.DataFrame
) -> pd.DataFrame:
    """Return one row a valve: its controller, the runs between, their length and its sigma."""
    import networkx as nx

    graph = _build_graph(runs, joined, vertices)
    nodes = list(zip(devices.kind, devices.name, devices.controller, strict=True))
    rms = dict(zip(zip(devices.kind, devices.name, strict=True), devices.rms_m, strict=True))
    reached = {
        name: nx.single_source_dijkstra(graph, ("controller", name))
        for kind, name, _ in nodes
        if kind == "controller" and ("controller", name) in graph
    }
    rows = []
    for name, owner in ((name, owner) for kind, name, owner in nodes if kind == "valve"):
        valve = ("valve", name)
        able = {c: away[valve] for c, (away, _) in reached.items() if valve in away}
        nearest = min(able, key=lambda c: able[c]) if able else None
        controller = owner if owner in able else nearest
        path = reached[controller][1][valve] if controller is not None else []
        ends = [rms[valve], rms["controller", controller]] if controller is not None else []
        rows.append((name, controller, *_measure(graph, path, sum(r**2 / 2 for r in ends))))
    columns = zip(*rows, strict=True) if rows else [()] * 5
    names = ("valve", "controller", "runs", "path_length_m", "path_length_sigma_m")
    return pd.DataFrame(
        {
            name: pd.Series(list(values), dtype="float64" if name.endswith("_m") else "str")
            for name, values in zip(names, columns, strict=True)
        }
    )


def _build_graph(runs: Runs, joined: list[Connection], vertices: pd.DataFrame) -> nx.Graph:
    """Return the wires as a graph of places on runs and devices."""
    import networkx as nx

    graph: nx.Graph = nx.Graph()
    marks = {name: {0.0, end} for name, end in zip(runs.names, runs.length_m, strict=True)}
    for c in joined:
        on_run = c.other_kind == "run"
        there = ("run", c.other, c.other_chainage_m) if on_run else (c.other_kind, c.other)
        marks[c.run].add(c.chainage_m)
        if on_run:
            marks[c.other].add(c.other_chainage_m)
        # the gap may be wire or error: all of it is taken as one standard deviation
        _add_edge(graph, ("run", c.run, c.chainage_m), there, c.gap_m, c.gap_m**2)
    places = [(name, mark) for name in runs.names for mark in sorted(marks[name])]
    variance, excess = _moments_at(runs, places, vertices)
    for k, (one, other) in enumerate(pairwise(places)):
        if one[0] == other[0]:
            graph.add_edge(
                ("run", *one), ("run", *other),
                length=other[1] - one[1], weight=other[1] - one[1],
                variance=variance[k + 1] - variance[k], excess=excess[k + 1] - excess[k],
            )  # fmt: skip
    return graph


def _add_edge(graph: nx.Graph, here: Node, there: Node, gap_m: float, variance: float) -> None:
    """Add a joint; of two between the same places the narrower one stays."""
    if not graph.has_edge(here, there) or graph.edges[here, there]["length"] > gap_m:
        graph.add_edge(
            here, there, length=gap_m, weight=gap_m + CHANGE_COST_M, variance=variance, excess=0.0
        )


def _moments_at(
    runs: Runs, places: list[tuple[str, float]], vertices: pd.DataFrame
) -> tuple[list[float], list[float]]:
    """Return variance and zigzag excess of each run's length up to given places on it."""
    if not places:
        return [], []
    number = pd.Index(runs.names).get_indexer(pd.Index(vertices["run"])).astype(np.int64)
    xy = vertices[["x_m", "y_m"]].to_numpy(dtype=float)
    covariance = vertices[["cov_xx_m2", "cov_xy_m2", "cov_yy_m2"]].to_numpy(dtype=float)
    variance, excess = length_moments(xy, number, covariance)
    # runs stand one behind the other on one axis, so that one look-up serves all
    stride = max(runs.length_m) + 1.0
    axis = number * stride + vertices["chainage_m"].to_numpy(dtype=float)
    at = np.array([runs.number[name] * stride + mark for name, mark in places])
    return np.interp(at, axis, variance).tolist(), np.interp(at, axis, excess).tolist()


def _measure(
    graph: nx.Graph, path: list[Node], ends_variance: float
) -> tuple[str | None, float, float]:
    """Return the runs of a path, its length, and the standard deviation of that."""
    if not path:
        return None, np.nan, np.nan
    edges = [graph.edges[one, other] for one, other in pairwise(path)]
    walked = [
        str(one[1]) for one, other in pairwise(path)
        if one[0] == other[0] == "run" and one[1] == other[1]
    ]  # fmt: skip
    variance = ends_variance + sum(edge["variance"] for edge in edges)
    excess = sum(edge["excess"] for edge in edges)
    length = sum(edge["length"] for edge in edges)
    return ";".join(dict.fromkeys(walked)), float(length), float(np.sqrt(variance + excess**2))
