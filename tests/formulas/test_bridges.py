"""Distances from bridge, loop and capacitance readings, held against worked examples."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from wiremap.formulas.bridges import (
    capacitance_m,
    murray_m,
    murray_ohm,
    short_m,
    varley_loop_ohm,
    varley_ohm,
)
from wiremap.formulas.circuits import wire_ohm_per_m

LOOP_OHM = 4.971260  # 300 m out and back of 14 AWG, as the worked case prints it
SHARE = st.floats(0.01, 0.99)


@pytest.mark.parametrize(
    ("p", "q", "length", "distance"),
    [(3.0, 1.0, 600.0, 300.0), (3.0, 1.0, 1000.0, 500.0), (100.0, 41.2, 5200.0, 3034.56)],
)
def test_murray_loop_of_one_wire_size(p, q, length, distance):
    """Published worked examples: 600 m and 1000 m at 3:1, 5.2 km with arms of 100 and 41.2 ohm."""
    assert float(murray_m(p, q, length)) == pytest.approx(distance, abs=0.01)


def test_murray_loop_of_unequal_wires():
    """Published worked example: 530 m, faulty wire 1.1 and sound 2.29 ohm/km, 2.7:1: 441.45 m."""
    found = murray_m(2.7, 1.0, 530.0, sound_ohm_per_m=2.29, faulty_ohm_per_m=1.1)
    assert float(found) == pytest.approx(441.45, abs=0.005)


def test_murray_loop_on_a_slide_dial():
    """Hawkins Electrical Guide vol. 3 (1917), Fig. 597 case II: dial 332 of 1000, loop 54.07 ohm,
    16.46 ohm a mile: 1.09 miles."""
    miles = float(murray_ohm(1000 - 332, 332, 54.07)) / 16.46
    assert miles == pytest.approx(1.0906, abs=5e-5)


def _balance_varley(p: float, q: float, x: float, rest: float, fault_ohm: float) -> float:
    """Return the arm that balances an earthed Varley bridge, by solving the nodes.

    Battery from the junction of P and Q to earth; the galvanometer joins the far ends of P and Q;
    Q's end meets the sound wire (rest of the loop), P's end the arm S and then the faulty wire.
    """

    def unbalance(s: float) -> float:
        # unknowns: node a (end of P), node b (end of Q), node f (fault); battery node at 1 V
        g = np.zeros((3, 3))
        i = np.zeros(3)
        for node, ohm in ((0, p), (1, q)):
            g[node, node] += 1 / ohm
            i[node] += 1 / ohm
        for a, b, ohm in ((0, 2, s + x), (1, 2, rest)):
            g[a, a] += 1 / ohm
            g[b, b] += 1 / ohm
            g[a, b] -= 1 / ohm
            g[b, a] -= 1 / ohm
        g[2, 2] += 1 / fault_ohm
        volts = np.linalg.solve(g, i)
        return float(volts[0] - volts[1])

    low, high = 0.0, 1e4
    for _ in range(200):
        middle = (low + high) / 2
        low, high = (middle, high) if unbalance(middle) < 0 else (low, middle)
    return (low + high) / 2


@pytest.mark.parametrize("fault_ohm", [1.0, 1e3, 1e5])
def test_varley_finds_the_fault_whatever_its_resistance(fault_ohm):
    """Nodal solution, 300 m pair of 14 AWG, fault at 100 m: found alike for 1 ohm to 100 kohm.
    No published Varley numbers were found."""
    per_m = LOOP_OHM / 600.0
    s = _balance_varley(1000.0, 1000.0, 100.0 * per_m, 500.0 * per_m, fault_ohm)
    assert s == pytest.approx(3.314173, abs=1e-6)
    found = float(varley_ohm(1000.0, 1000.0, s, LOOP_OHM)) / per_m
    assert found == pytest.approx(100.0, abs=1e-4)


def test_varley_with_unequal_arms():
    """The same fault with arms of 100 and 1000 ohm balances at 40.598622 ohm, computed."""
    found = float(varley_ohm(100.0, 1000.0, 40.598622, LOOP_OHM)) / LOOP_OHM * 600.0
    assert found == pytest.approx(100.0, abs=1e-4)


@given(s1=st.floats(1.0, 100.0), share=SHARE)
def test_varley_with_equal_arms_is_half_the_difference(s1, share):
    """Where P equals Q the distance is (S1 - S2)/2, S1 being the loop reading."""
    s2 = s1 * share
    loop = float(varley_loop_ohm(1000.0, 1000.0, s1))
    assert float(varley_ohm(1000.0, 1000.0, s2, loop)) == pytest.approx((s1 - s2) / 2, rel=1e-9)


@given(share=SHARE, length=st.floats(10.0, 3000.0), sound=st.floats(0.005, 0.05))
def test_murray_gives_a_known_fault_back(share, length, sound):
    """Arms at balance stand as the two parts of the loop, so the distance comes back."""
    faulty = 0.02
    x = share * length
    rest = length * sound + (length - x) * faulty
    found = murray_m(rest, x * faulty, length, sound_ohm_per_m=sound, faulty_ohm_per_m=faulty)
    assert float(found) == pytest.approx(x, rel=1e-9)


def test_capacitance_from_both_ends():
    """Published examples: 100 and 400 pF over 10 m: 2 m; 240 and 110 over 290 ft: 91.14 ft from the
    end that reads 110."""
    assert float(capacitance_m(100.0, 400.0, 10.0)) == pytest.approx(2.0)
    assert float(capacitance_m(110.0, 240.0, 290.0)) == pytest.approx(91.1429, abs=1e-4)


def test_short_is_no_farther_than_the_loop_says():
    """Two wires touching at 80 m through 0.5 ohm read farther away, never nearer."""
    per_m = float(wire_ohm_per_m(18))
    wires = {"hot_ohm_per_m": per_m, "common_ohm_per_m": per_m}
    assert float(short_m(160 * per_m, **wires)) == pytest.approx(80.0)
    assert float(short_m(160 * per_m + 0.5, **wires)) > 80.0
