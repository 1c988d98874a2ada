"""Assignment by all evidence, and how clear it is."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import linear_sum_assignment
from strategies_zones import change, clean_world, codes

from wiremap.steps.zones.assignment import assign, read_coils

SCORES = st.integers(1, 4).flatmap(
    lambda n: st.lists(
        st.lists(st.floats(-3, 5).map(lambda x: round(x, 1)), min_size=n, max_size=n),
        min_size=1,
        max_size=4,
    )
)


@pytest.mark.parametrize(
    ("costs", "columns", "total"),
    [([[4, 1, 3], [2, 0, 5], [3, 2, 2]], [1, 0, 2], 5), ([[1, 2], [2, 100]], [1, 0], 4)],
)
def test_the_solver_agrees_with_its_documented_example(costs, columns, total):
    """scipy's documented example of linear_sum_assignment (from memory), and one where taking the
    nearest first costs 101. Costs become scores by taking them from a number above all of them."""
    table = np.array(costs, dtype=float)
    assert table[linear_sum_assignment(table)].sum() == total
    answers = assign(200.0 - table)
    assert [column for _, column, _ in answers] == columns


def _best(scores: np.ndarray, banned: tuple[int, int] | None = None) -> float:
    """Return the greatest total score by trying everything."""
    rows, columns = scores.shape
    options = [[None, *range(columns)] for _ in range(rows)]
    totals = []
    for choice in itertools.product(*options):
        used = [c for c in choice if c is not None]
        if len(set(used)) == len(used) and (banned is None or choice[banned[0]] != banned[1]):
            totals.append(sum(scores[r, c] for r, c in enumerate(choice) if c is not None))
    return max(totals)


@settings(max_examples=60, deadline=None)
@given(SCORES)
def test_total_and_margins_are_those_of_trying_everything(rows):
    """Against exhaustive search on small tables: the best total, and the loss when it is barred."""
    scores = np.array(rows)
    answers = assign(scores)
    total = sum(scores[r, c] for r, c, _ in answers)
    assert total == pytest.approx(_best(scores))
    for row, column, margin in answers:
        lost = total - _best(scores, (row, column))
        assert margin == pytest.approx(1 - math.exp(-lost), abs=1e-9)


def test_equal_evidence_has_no_margin():
    """Two valves and two zones that nothing tells apart are not clear at all."""
    answers = assign(np.ones((2, 2)))
    assert [margin for *_, margin in answers] == pytest.approx([0.0, 0.0])


def test_columns_of_one_station_are_one_answer():
    """A station with room for two: changing its two places is no other answer."""
    answers = assign(np.full((2, 2), 3.0), groups=[0, 0])
    assert [margin for *_, margin in answers] == pytest.approx([1 - math.exp(-3.0)] * 2)


def test_no_evidence_assigns_nothing():
    """Scores of zero and less leave the valve free."""
    assert assign(np.array([[-1.0, 0.0]])) == []


def test_the_best_margin_of_a_coil_holds():
    """A coil read twice along one run keeps its clearer reading; rows without a margin are left."""
    coils = pd.DataFrame(
        {
            "valve": ["V1", "V1", "V2", "V3"],
            "run": ["R1", "R1", "R1", "R1"],
            "margin": [0.2, 0.6, -0.6, math.nan],
        }
    )
    assert read_coils(coils) == {("V1", "R1"): 0.6, ("V2", "R1"): -0.6}


def test_the_loudest_coil_takes_the_zone_of_the_wire_under_tone():
    """Two bare valves in one box, two zones without a valve: levels along run A-R1 tell which."""
    world = clean_world([1, 1, 1])
    bare = world.valves.assign(run=None, run_zone=None)
    for row in (0, 1):
        bare = change(bare, row, zone=None, zone_from=None)
    coils = pd.DataFrame(
        {"valve": ["A-V1a", "A-V2a"], "run": "A-R1", "level": [9.0, 3.0], "margin": [0.67, -0.67]}
    )
    paths = world.paths.assign(runs=None, path_length_m=math.nan)
    done = world._replace(valves=bare, coils=coils, paths=paths).reconcile()
    assert done.valves["suggested_zone"].tolist()[:2] == ["1", "2"]
    assert set(done.valves["zone_status"][:2]) == {"suggested"}
    first = next(f for f in done.findings if f.code == "zone-suggested")
    assert "the level at its coil" in first.message


def test_colour_and_gauge_tell_valves_apart():
    """Wire colour at the valve and on the list (common practice: one colour a zone)."""
    world = clean_world([1, 1, 1])
    bare = world.valves.assign(run=None, run_zone=None, wire_color=["blue", "red", "black"])
    for row in (0, 1):
        bare = change(bare, row, zone=None, zone_from=None)
    listed = world.zone_list.assign(wire_color=["Red", "blue", "black"])
    paths = world.paths.assign(runs=None, path_length_m=math.nan)
    done = world._replace(valves=bare, zone_list=listed, paths=paths).reconcile()
    assert done.valves["suggested_zone"].tolist()[:2] == ["2", "1"]


def test_a_suggestion_never_crosses_controllers():
    """A bare valve of controller B is not suggested for a zone of controller A."""
    world = clean_world([1, 1], controllers=2)
    bare = change(world.valves, 2, zone=None, zone_from=None, run_zone=None)
    missing = bare.drop(index=0).reset_index(drop=True)
    done = world._replace(valves=missing).reconcile()
    suggested = done.valves.set_index("valve").loc["B-V1a"]
    assert suggested["suggested_zone"] == "1"
    assert suggested["controller"] == "B"
    assert ("zone-without-valve", "zone 1 of controller A") in codes(done)
