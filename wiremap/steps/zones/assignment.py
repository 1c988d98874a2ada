"""Which zone a doubtful valve most likely belongs to, from all evidence, and how clear that is.

The weights are log-likelihood ratios: project choices that rank the kinds of evidence as people
in the field trust them. Nothing is adopted; a suggestion waits for a decision.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from wiremap.steps.zones.ground import same_controller
from wiremap.steps.zones.labels import read_gauge
from wiremap.steps.zones.stations import read_numbers, read_texts

if TYPE_CHECKING:
    from collections.abc import Sequence

    import pandas as pd
    from numpy.typing import NDArray

    from wiremap.steps.zones.ground import Claims, Ground, Valve
    from wiremap.steps.zones.stations import Book, Key, Station

OWN_LABEL = 2.0
"""The valve is labelled with the zone."""
RUN_TRACED, RUN_OTHER = 4.0, -3.0
"""Its run was traced as the zone's wire; as another's."""
COIL_LOUDEST, COIL_QUIETER = 3.0, -2.0
"""With the zone's wire under tone, its coil was the loudest; another's was."""
COLOUR_SAME, COLOUR_OTHER = 1.5, -1.5
"""Wire at the valve and on the list have one colour; two."""
GAUGE_SAME, GAUGE_OTHER = 0.5, -0.5
"""Likewise the gauge."""
OHMS_FIT, OHMS_MISFIT = 0.3, -1.0
"""The station's reading less the mapped wire leaves a sound coil; does not."""
LEFT_OVER = 0.5
"""The valve has no zone and the zone lacks a valve."""
FORBIDDEN = 1e6
CLEAR_MARGIN = 0.2
"""Margin below which nothing is suggested."""


class Suggestion(NamedTuple):
    """A zone that the evidence suggests for a valve."""

    valve: int
    key: Key
    margin: float
    evidence: str


class Doubt(NamedTuple):
    """What is in doubt: valves by number in `Ground`, and stations with room for a valve.

    Attributes
    ----------
    valves : list of int
    slots : list of Key
        A key stands as often as its station has room.
    """

    valves: list[int]
    slots: list[Key]


class Evidence(NamedTuple):
    """All that is known of who belongs to whom.

    Attributes
    ----------
    ground : Ground
    claims : Claims
    book : Book
    loudest : dict of (valve, run) to float
        From `read_coils`.
    ohms, ohm_per_m : dict of Key to float
        Readings of stations with one coil; wire both ways, per metre.
    coil_ohm : (float, float)
        Range of a sound coil.
    """

    ground: Ground
    claims: Claims
    book: Book
    loudest: dict[tuple[str, str], float]
    ohms: dict[Key, float]
    ohm_per_m: dict[Key, float]
    coil_ohm: tuple[float, float]


def suggest_zones(doubt: Doubt, evidence: Evidence) -> list[Suggestion]:
    """Return the zones that the evidence suggests for doubtful valves.

    All doubtful valves and free stations are weighed together: the assignment of greatest total
    evidence, in which a valve may also stay without a zone.

    Parameters
    ----------
    doubt : Doubt
    evidence : Evidence

    Returns
    -------
    list of Suggestion
        Without those that only confirm a valve's label, and those whose margin is under 0.2.
    """
    if not doubt.valves or not doubt.slots:
        return []
    keys = list(dict.fromkeys(doubt.slots))
    weighed = [[_weigh(i, key, evidence) for key in keys] for i in doubt.valves]
    column = [keys.index(key) for key in doubt.slots]
    scores = np.array([[weight for weight, _ in row] for row in weighed])[:, column]
    suggestions = []
    for row, slot, margin in assign(scores, groups=column):
        valve, key = doubt.valves[row], doubt.slots[slot]
        if margin >= CLEAR_MARGIN and key not in evidence.claims.by_valve[valve]:
            suggestions.append(Suggestion(valve, key, margin, weighed[row][column[slot]][1]))
    return suggestions


def assign(
    scores: NDArray[np.float64], *, groups: Sequence[int] | None = None
) -> list[tuple[int, int, float]]:
    """Return the assignment of greatest total score, with the margin to the next best.

    Parameters
    ----------
    scores : array, shape (n, m)
        Evidence that row belongs to column; a row may also stay free at a score of 0.
    groups : sequence of int, optional
        Columns of one number are alike, so that changing between them is no other answer.

    Returns
    -------
    list of (row, column, margin)
        Margin 1 - exp(-d), where d is how much the total falls when that answer is forbidden: 0
        not clear at all, 1 certain.

    References
    ----------
    The assignment problem, solved by `scipy.optimize.linear_sum_assignment`.

    Examples
    --------
    >>> [(row, column, round(margin, 2)) for row, column, margin in
    ...  assign(np.array([[4.0, 1.0], [1.0, 0.5]]))]
    [(0, 0, 0.92), (1, 1, 0.39)]
    """
    from scipy.optimize import linear_sum_assignment

    group = np.arange(scores.shape[1]) if groups is None else np.asarray(groups)
    costs = -np.maximum(scores, 0.0)  # a row that stays free costs nothing
    chosen_rows, chosen = linear_sum_assignment(costs)
    best = costs[chosen_rows, chosen].sum()
    answers = []
    for row, column in zip(chosen_rows.tolist(), chosen.tolist(), strict=True):
        if scores[row, column] <= 0:
            continue
        alike = group == group[column]
        lost = float(scores[row, column])  # where nobody else wants the one or the other
        if (scores[row, ~alike] > 0).any() or (scores[:, alike] > 0).any(axis=1).sum() > 1:
            other = costs.copy()
            other[row, alike] = 0.0
            lost = float(other[linear_sum_assignment(other)].sum() - best)
        answers.append((row, column, 1.0 - math.exp(-lost)))
    return answers


def read_coils(coils: pd.DataFrame) -> dict[tuple[str, str], float]:
    """Return by how much a valve's coil leads those heard beside it along one run.

    Parameters
    ----------
    coils : DataFrame
        Columns valve, run, margin, as `find_faults` gives them.

    Returns
    -------
    dict of (valve, run) to float
        The best margin: 1 with no rival heard, 0 for equals, negative for a coil that is
        exceeded. Rows without a margin are passed over.
    """
    names = [read_texts(coils, name) for name in ("valve", "run")]
    standing: dict[tuple[str, str], float] = {}
    for valve, run, margin in zip(*names, read_numbers(coils, "margin"), strict=True):
        if not math.isnan(margin):
            standing[valve, run] = max(margin, standing.get((valve, run), -1.0))
    return standing


def _weigh(i: int, key: Key, evidence: Evidence) -> tuple[float, str]:
    """Return the weight of all evidence that a valve belongs to a station, and its words."""
    valve, book, claims = evidence.ground.valves[i], evidence.book, evidence.claims
    station = book.stations[key]
    apart = book.by_controller and book.is_comparable
    if apart and not same_controller(valve.controller, station.controller):
        return -FORBIDDEN, ""
    parts = [
        (OWN_LABEL if key in claims.by_valve[i] else 0.0, "its label"),
        (_run_weight(claims.run_keys[i], key), f"its run {valve.run}"),
        (_coil_weight(valve, key, evidence), "the level at its coil"),
        *_list_weights(valve, station),
        (_ohms_weight(valve, key, evidence), "the station's resistance"),
        (0.0 if claims.by_valve[i] else LEFT_OVER, "no other valve left"),
    ]
    words = [word for weight, word in parts if weight > 0]
    return sum(weight for weight, _ in parts), ", ".join(words)


def _run_weight(traced: list[Key], key: Key) -> float:
    if not traced:
        return 0.0
    return RUN_TRACED / len(traced) if key in traced else RUN_OTHER


def _coil_weight(valve: Valve, key: Key, evidence: Evidence) -> float:
    """Weigh levels read at coils along the runs that were traced as this zone's wire."""
    runs = [evidence.ground.runs[r].name for r in evidence.claims.runs.get(key, [])]
    standings = [
        evidence.loudest[valve.name, run] for run in runs if (valve.name, run) in evidence.loudest
    ]
    if not standings:
        return 0.0
    best = max(standings)
    return COIL_LOUDEST * best if best >= 0 else COIL_QUIETER


def _list_weights(valve: Valve, station: Station) -> list[tuple[float, str]]:
    colours = valve.wire_color.casefold(), station.wire_color.casefold()
    gauges = read_gauge(valve.awg), read_gauge(station.awg)
    colour = (COLOUR_SAME if colours[0] == colours[1] else COLOUR_OTHER) if all(colours) else 0.0
    gauge = GAUGE_SAME if gauges[0] == gauges[1] else GAUGE_OTHER
    gauge = 0.0 if math.isnan(sum(gauges)) else gauge
    return [(colour, "the wire's colour"), (gauge, "the wire's gauge")]


def _ohms_weight(valve: Valve, key: Key, evidence: Evidence) -> float:
    wire = valve.path_m * evidence.ohm_per_m.get(key, math.nan)
    coil = evidence.ohms.get(key, math.nan) - wire
    if not math.isfinite(coil):
        return 0.0
    low, high = evidence.coil_ohm
    return OHMS_FIT if low <= coil <= high else OHMS_MISFIT
