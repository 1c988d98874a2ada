"""Valves, lost-tone marks and controllers that no run names: the run whose open end they stand at.

A walk often stops one mark spacing short of the valve, and the valve's row, noted with its zone
alone, names no run. The wire goes on to the valve all the same. So it does to the controller that
a walk began one spacing away from.
"""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from wiremap.formulas.accuracy import RADIAL_95
from wiremap.formulas.polylines import distances_to_segments
from wiremap.model.kinds import Feature

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]
    Flags = NDArray[np.bool_]
    Texts = NDArray[np.object_]

REACH_STEPS = 1.5
"""How many steps between its marks a walk may stop short of its end (project choice)."""
_CLOSED = (Feature.VALVE, Feature.LOST)
_SOURCES = (Feature.CONTROLLER, Feature.STAKE)


NEARER = 0.5
"""Share of an end's distance to the controller from which on a wire beside it that begins nearer
feeds it (project choice)."""


class Located(NamedTuple):
    """All located rows: what they are and where."""

    feature: Texts
    run: Texts
    zone: Texts
    controller: Texts
    xy: Floats
    rms_m: Floats


class Adopted(NamedTuple):
    """Rows put on runs: the row, the run's number, and whether at the start of its walk."""

    row: Ints
    run: Ints
    at_start: Flags

    def join(self, other: Adopted) -> Adopted:
        """Return the rows of both."""
        return Adopted(*(np.concatenate(pair) for pair in zip(self, other, strict=True)))


class _Ends(NamedTuple):
    """Open ends: run number, row of the end, whether the walk began there, longest step, labels."""

    run: list[int]
    row: list[int]
    at_start: list[bool]
    step_m: Floats
    zones: list[set[str]]
    controller: list[str]


def adopt_ends(located: Located, locate: Ints, code: Ints, *, join_m: float) -> Adopted:
    """Return the valves and lost marks without a run that stand at a run's open far end.

    The end lies within ``join_m``, one and a half of the longest step between the run's marks,
    and the 95 % radius of both positions. Where both name a controller, it is the same; where
    both name zones that differ, the row was noted next to the end's own row. An end takes one
    row, and a row one end: first those whose zones agree, then those noted next to the end's own
    row, then the nearest.

    Parameters
    ----------
    located : Located
    locate, code : array of int, shape (n,)
        Rows on runs, run after run in the order walked, and the number of their run.
    join_m : float
        Setting ``thresholds.join_m``.

    Returns
    -------
    Adopted
    """
    free = np.flatnonzero(np.isin(located.feature, _CLOSED) & (located.run == ""))
    if not len(free) or not len(locate):
        return _match([], free)
    ends = _open_ends(located, locate, code)
    away = _distances(located.xy[free], located.xy[ends.row])
    rms = np.hypot(located.rms_m[free][:, None], located.rms_m[ends.row][None, :])
    near = away <= join_m + REACH_STEPS * ends.step_m + RADIAL_95 * rms
    apart = ~_noted_together(free, locate, ends)
    is_lost = located.feature[free] == Feature.LOST
    ranked = []
    for i, j in np.argwhere(near).tolist():
        zones, controller = _words(located.zone[free[i]]), located.controller[free[i]]
        # where the tone was lost no zone is noted, and no valve was reached
        agree = bool(zones & ends.zones[j]) or bool(is_lost[i] and not zones)
        strange = bool(zones and ends.zones[j]) and not agree
        if controller and ends.controller[j] not in (controller, ""):
            continue
        # a label that contradicts the run is a matter of the zone list; the place speaks first
        if not strange or not apart[i, j]:
            doubt = 2 * strange + (not agree)
            ranked.append((doubt, bool(apart[i, j]), float(away[i, j]), i, j))
    return _match([(i, ends.run[j], ends.at_start[j]) for *_, i, j in sorted(ranked)], free)


def _match(ranked: list[tuple[int, int, bool]], free: Ints) -> Adopted:
    """Return the pairs of row and run, surest first, each row and each run once."""
    taken: dict[int, tuple[int, bool]] = {}
    runs: set[int] = set()
    for i, run, at_start in ranked:
        if i not in taken and run not in runs:
            taken[i] = run, at_start
            runs.add(run)
    found = list(taken.values())
    return Adopted(
        free[np.array(list(taken), dtype=np.int64)],
        np.array([run for run, _ in found], dtype=np.int64),
        np.array([at_start for _, at_start in found], dtype=bool),
    )


def _noted_together(free: Ints, locate: Ints, ends: _Ends) -> Flags:
    """Return whether no other row of a run stands between each free row and each end's row."""
    rows = np.unique(locate)
    after = np.searchsorted(rows, free)
    before_row = np.append(-1, rows)[after]
    after_row = np.append(rows, -1)[after]
    beside = np.where(np.array(ends.at_start), after_row[:, None], before_row[:, None])
    together: Flags = beside == np.array(ends.row)
    return together


def _open_ends(located: Located, locate: Ints, code: Ints) -> _Ends:
    """Return the far end, or both where that is not known, of each run without valve or loss."""
    closed = np.unique(code[np.isin(located.feature[locate], _CLOSED)])
    runs = np.setdiff1d(code, closed)
    first = np.searchsorted(code, runs)
    stop = np.searchsorted(code, runs, side="right")
    begin, end = locate[first], locate[stop - 1]
    nearer = _from_source(located, begin) - _from_source(located, end)
    steps = np.hypot(*np.diff(located.xy[locate], axis=0).T)
    parts = [slice(a, b) for a, b in zip(first.tolist(), stop.tolist(), strict=True)]
    longest = np.array([steps[p.start : p.stop - 1].max(initial=0.0) for p in parts])
    zones = [set[str]().union(*map(_words, dict.fromkeys(located.zone[locate[p]]))) for p in parts]
    controller = [max(located.controller[locate[p]].tolist()) for p in parts]
    at_start = [False] * int((nearer <= 0).sum()) + [True] * int((nearer >= 0).sum())
    number = np.append(np.flatnonzero(nearer <= 0), np.flatnonzero(nearer >= 0))
    return _Ends(
        runs[number].tolist(),
        np.where(at_start, begin[number], end[number]).tolist(),
        at_start,
        longest[number],
        [zones[k] for k in number],
        [controller[k] for k in number],
    )


def adopt_sources(located: Located, locate: Ints, code: Ints, *, join_m: float) -> Adopted:
    """Return the controllers that runs without one began a step away from.

    The end is a mark within one and a half usual steps of the run's marks from the only controller
    so near, beyond what joins places anyway. It is no branch: no splice stands there, and no wire
    passes that begins nearer to the controller.

    Parameters
    ----------
    located : Located
    locate, code : array of int, shape (n,)
        Rows on runs, run after run in the order walked, and the number of their run.
    join_m : float
        Setting ``thresholds.join_m``.

    Returns
    -------
    Adopted
        One row may stand at many runs.
    """
    source = np.flatnonzero(located.feature == Feature.CONTROLLER)
    splices = located.xy[located.feature == Feature.SPLICE][:, None, :]
    bounds = np.flatnonzero(np.diff(code, prepend=-1, append=-1))
    parts = [locate[a:b] for a, b in pairwise(bounds.tolist())] if len(source) else []
    away = [_distances(located.xy[rows[[0, -1]]], located.xy[source]) for rows in parts]
    begins = np.array([gaps.min(axis=0) for gaps in away])
    found: list[tuple[int, int, bool]] = []
    for number, rows in enumerate(parts):
        steps = np.hypot(*np.diff(located.xy[rows], axis=0).T)
        if len(rows) < 3 or np.isin(source, rows).any():  # noqa: PLR2004 - a usual step
            continue
        name = max(located.controller[rows].tolist())
        other_name = (located.controller[source] != name) & (name != "")
        gaps_m = np.where(other_name, np.inf, away[number])
        end, which = np.unravel_index(gaps_m.argmin(), gaps_m.shape)
        row, controller, gap_m = rows[0 if end == 0 else -1], source[which], gaps_m[end, which]
        same_m = join_m + RADIAL_95 * float(np.hypot(*located.rms_m[[row, controller]]))
        near = gaps_m[end] <= same_m + REACH_STEPS * float(np.median(steps))
        if located.feature[row] != Feature.PATH or near.sum() != 1 or gap_m <= same_m:
            continue
        beside = [_distance_from_line(located.xy[row], splice[[0, 0]]) for splice in splices]
        beside += [
            _distance_from_line(located.xy[row], located.xy[parts[other]])
            for other in np.flatnonzero(begins[:, which] < NEARER * gap_m)
            if len(parts[other]) > 1
        ]
        if min(beside, default=np.inf) > same_m:
            found.append((int(controller), int(code[bounds[number]]), bool(end == 0)))
    return Adopted(*(np.array([f[k] for f in found], dtype=t) for k, t in enumerate(_TYPES)))


_TYPES = (np.int64, np.int64, bool)


def _distance_from_line(place: Floats, line: Floats) -> float:
    starts, stops = line[:-1], line[1:]
    return float(distances_to_segments(np.tile(place, (len(starts), 1)), starts, stops).min())


def _distances(one: Floats, other: Floats) -> Floats:
    """Return the distance of each of some places from each of others."""
    gap = one[:, None, :] - other[None, :, :]
    away: Floats = np.hypot(gap[..., 0], gap[..., 1])
    return away


def _from_source(located: Located, rows: Ints) -> Floats:
    """Return the distance of rows from the nearest controller, else stake; zero without any."""
    for kind in _SOURCES:
        source = located.xy[located.feature == kind]
        if len(source):
            nearest: Floats = _distances(located.xy[rows], source).min(axis=1)
            return nearest
    return np.zeros(len(rows))


def _words(text: str) -> set[str]:
    return {word.strip() for word in text.split(";") if word.strip()}
