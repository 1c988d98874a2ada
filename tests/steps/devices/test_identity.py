"""Which rows are one device: by every pair where few stand together, bounded where a flood does."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import chi2

from wiremap.steps.devices import identity
from wiremap.steps.devices.identity import Rows, match_rows

SIZE_M = 0.1
RANKS = [
    identity.valve_rank, identity.splice_rank, identity.equipment_rank, identity.controller_rank,
]  # fmt: skip


def make_rows(cells, xy):
    """Return rows from (name, zone, box, run, visit) and positions of 0.1 m accuracy."""
    columns = [list(column) for column in zip(*cells, strict=True)]
    name, zone, box, run, visit = columns
    cov = np.tile(np.eye(2) * 0.005, (len(name), 1, 1))
    return Rows(
        name=name, zone=zone, box=box, run=run, controller=[""] * len(name), visit=visit,
        date=visit, turn=visit, xy=np.array(xy, dtype=float), cov=cov,
        locate=np.arange(len(name)),
    )  # fmt: skip


def match_every_pair(rows, rank):
    """Return the groups as `match_rows` describes them, looking at every pair of rows."""
    limit = chi2.ppf(0.9999, 2)
    ranked = []
    for i, j in combinations(range(len(rows.name)), 2):
        apart = rows.xy[i] - rows.xy[j]
        both = rows.cov[i] + rows.cov[j] + 2 * SIZE_M**2 * np.eye(2)
        sureness = rank(rows, i, j, float(apart @ np.linalg.solve(both, apart)) <= limit)
        if sureness is not None:
            ranked.append((sureness, float(np.hypot(*apart)), i, j))
    groups = [{i} for i in range(len(rows.name))]
    for sureness, _, i, j in sorted(ranked):
        a, b = (next(g for g in groups if k in g) for k in (i, j))
        zones = [{rows.zone[k] for k in g} - {""} for g in (a, b)]
        turns = [{rows.turn[k] for k in g} for g in (a, b)]
        torn = all(zones) and not zones[0] & zones[1]
        met_twice = sureness > 1 and turns[0] & turns[1]
        if a is not b and (sureness == 0 or not (torn or met_twice)):
            a |= b
            groups.remove(b)
    ordered = sorted(groups, key=min)
    return [next(n for n, g in enumerate(ordered) if k in g) for k in range(len(rows.name))]


CELLS = st.tuples(
    st.sampled_from(["V1", "V2", "V3", "V1-2", "V2 rep", "V4 (2)"]), st.sampled_from(["", "1", "2"]),
    st.sampled_from(["", "B1"]), st.sampled_from(["", "A", "B"]), st.sampled_from(["a", "b", "c"]),
)  # fmt: skip
PLACES = st.tuples(st.integers(0, 30), st.integers(0, 30)).map(lambda p: (p[0] / 10, p[1] / 7))


@pytest.mark.parametrize("rank", RANKS)
@settings(max_examples=60, deadline=None)
@given(rows=st.lists(st.tuples(CELLS, PLACES), min_size=1, max_size=14))
def test_rows_are_matched_as_by_looking_at_every_pair(rank, rows):
    """The rule of `match_rows`, written out over all pairs (scipy's chi-square)."""
    made = make_rows(*zip(*rows, strict=True))
    assert match_rows(made, rank=rank, size_m=SIZE_M) == match_every_pair(made, rank)


@pytest.mark.parametrize("box", ["", "B1"])
def test_a_flood_of_rows_at_one_place_is_held_against_the_nearest_alone(monkeypatch, box):
    """600 rows, 20 neighbours each: at most 12,600 comparisons, where all pairs are 179,700."""
    monkeypatch.setattr(identity, "MOST_NEIGHBOURS", 20)
    count, asked = 600, []
    cells = [(f"V{n}x", "1", box, "A", f"visit {n % 2}") for n in range(count)]
    rows = make_rows(cells, np.random.default_rng(1).uniform(0, 0.05, (count, 2)))

    def rank(*arguments):
        asked.append(arguments)
        return identity.valve_rank(*arguments)

    groups = match_rows(rows, rank=rank, size_m=SIZE_M)

    assert 0 < len(asked) <= 21 * count
    assert max(np.bincount(groups)) == 2
