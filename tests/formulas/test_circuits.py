"""The arithmetic of valve circuits, held against published tables and worked answers."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from wiremap.formulas.circuits import (
    implied_length_m,
    parallel_ohm,
    reach_m,
    station_ohm,
    thinnest_awg,
    valve_volts,
    wire_diameter_m,
    wire_ohm_per_m,
)

KFT_M = 304.8
GAUGES = (10, 12, 14, 16, 18)
METRES = st.floats(1.0, 2000.0)
OHMS = st.floats(5.0, 100.0)
PER_M = st.floats(0.001, 0.1)


@pytest.mark.parametrize(
    ("awg", "mil", "ohm_per_kft"),
    [
        (10, 101.9, 0.999),
        (12, 80.8, 1.588),
        (14, 64.1, 2.525),
        (16, 50.8, 4.016),
        (18, 40.3, 6.385),
    ],
)
def test_wire_of_a_gauge_has_the_tabled_diameter_and_resistance(awg, mil, ohm_per_kft):
    """ASTM B258 diameters (rounded to 0.1 mil) and the 20 °C copper wire table of NBS Circular 31's
    kind (2.525, 4.016, 6.385 read in public copies; 0.999 from memory)."""
    assert round(float(wire_diameter_m(awg)) / 0.0254 * 1000, 1) == mil
    assert float(wire_ohm_per_m(awg)) * KFT_M == pytest.approx(ohm_per_kft, rel=5e-4)


@pytest.mark.parametrize(
    ("awg", "ohm_per_kft"), [(10, 1.21), (12, 1.93), (14, 3.07), (16, 4.89), (18, 7.77)]
)
def test_warm_wire_agrees_with_the_code_table(awg, ohm_per_kft):
    """NEC Chapter 9 Table 8, solid uncoated copper at 75 °C, which rounds the diameter first."""
    computed = float(wire_ohm_per_m(awg, temperature_c=75.0)) * KFT_M
    assert computed == pytest.approx(ohm_per_kft, rel=4.5e-3)


def test_three_gauges_halve_the_area():
    """ASTM B258: area grows by 92 to the power 6/39 over three sizes, 2.00503 (from memory)."""
    ratio = (wire_diameter_m(11) / wire_diameter_m(14)) ** 2
    assert float(ratio) == pytest.approx(2.00503, abs=1e-5)


def test_resistance_grows_with_warmth_as_the_code_gives_it():
    """NEC Chapter 9 Table 8 note: R2 = R1 [1 + 0.00323 (T2 - 75)], from 75 °C to 40 °C."""
    at_75, at_40 = (float(wire_ohm_per_m(14, temperature_c=t)) for t in (75.0, 40.0))
    assert at_40 == pytest.approx(at_75 * (1 + 0.00323 * (40 - 75)), rel=1e-4)


def test_two_coils_in_parallel_read_like_a_short():
    """A trade text: 52 and 24 ohm on one station, printed as about 17 ohm, computes 16.421."""
    assert parallel_ohm([52.0, 24.0]) == pytest.approx(16.421, abs=5e-4)


def test_an_open_branch_leaves_the_other_and_none_leaves_nothing():
    """Kirchhoff: an infinite branch carries nothing; with no branch the station is open."""
    assert parallel_ohm([math.inf, 40.0]) == pytest.approx(40.0)
    assert math.isinf(parallel_ohm([]))


COURSE_18 = 6.78 / KFT_M
COURSE_14 = 2.68 / KFT_M


def test_course_answer_1_how_far_a_valve_may_stand():
    """New Mexico State University, Soils 456, chapter 11 answer 1: 26 V supply, 21 V needed, 0.6 A,
    18 AWG at 6.78 ohm/kft both ways: 8.33 ohm. The text prints 612 ft after rounding; 614.55 ft."""
    reach = float(reach_m(5.0, 0.6, hot_ohm_per_m=COURSE_18, common_ohm_per_m=COURSE_18))
    assert reach / 0.3048 == pytest.approx(614.55, abs=0.01)
    assert reach * 2 * COURSE_18 == pytest.approx(8.3333, abs=1e-4)


def test_course_answer_2_voltage_at_the_valve():
    """The same course, answer 2: 0.5 A, 1000 ft, 18 and 14 AWG, 24 V: 19.27 V at the valve."""
    volts = valve_volts(24.0, 0.5, KFT_M, hot_ohm_per_m=COURSE_18, common_ohm_per_m=COURSE_14)
    assert float(volts) == pytest.approx(19.27, abs=1e-9)


def test_course_answer_2_at_20_degrees():
    """The same case with wire at 20 °C instead of the course's warm wire: 19.5448 V, computed."""
    hot, common = (float(wire_ohm_per_m(awg)) for awg in (18, 14))
    volts = valve_volts(24.0, 0.5, KFT_M, hot_ohm_per_m=hot, common_ohm_per_m=common)
    assert float(volts) == pytest.approx(19.5448, abs=1e-4)


@pytest.mark.parametrize(("current_a", "drop_v"), [(0.4, 2.0), (0.2 + 0.3, 3.0)])
def test_course_answers_3_and_4_gauge_for_a_valve(current_a, drop_v):
    """The same course, answers 3 and 4: 2000 ft, 0.4 A and 2 V, or two valves and 3 V: 10 AWG."""
    assert thinnest_awg(2000 * 0.3048, drop_v=drop_v, current_a=current_a) == 10


def test_no_gauge_serves_a_valve_too_far_away():
    """Even the thickest gauge loses more than the allowed voltage over 20 km."""
    assert thinnest_awg(20_000.0, drop_v=2.0, current_a=0.4) is None


def test_reach_by_gauge_at_20_degrees():
    """Derived from the formulas above at 4 V and 0.5 A: 626, 996, 1584, 2518, 4005 ft."""
    per_m = wire_ohm_per_m(np.array(GAUGES[::-1]))
    feet = reach_m(4.0, 0.5, hot_ohm_per_m=per_m, common_ohm_per_m=per_m) / 0.3048
    assert feet.round().tolist() == [626, 996, 1584, 2518, 4005]


@given(coil=OHMS, length=METRES, hot=PER_M, common=PER_M, coils=st.integers(1, 4))
def test_reading_gives_the_path_back(coil, length, hot, common, coils):
    """A station's reading without its coils is its wire path."""
    wires = {"hot_ohm_per_m": hot, "common_ohm_per_m": common, "coils": coils}
    reading = station_ohm(coil, length, **wires)
    assert float(implied_length_m(reading, coil, **wires)) == pytest.approx(length, rel=1e-9)


@given(length=METRES, current=st.floats(0.05, 2.0), hot=PER_M, common=PER_M)
def test_reach_is_where_the_drop_is_used_up(length, current, hot, common):
    """At the reach of a drop, the valve is left with supply less that drop."""
    wires = {"hot_ohm_per_m": hot, "common_ohm_per_m": common}
    drop = 24.0 - float(valve_volts(24.0, current, length, **wires))
    assert float(reach_m(drop, current, **wires)) == pytest.approx(length, rel=1e-9)


def test_missing_values_stay_missing():
    """NaN in, NaN out, element by element."""
    assert np.isnan(wire_ohm_per_m([np.nan, 18.0])).tolist() == [True, False]
    ohms = station_ohm([np.nan, 30.0], 10.0, hot_ohm_per_m=0.02, common_ohm_per_m=0.02)
    assert np.isnan(ohms).tolist() == [True, False]
