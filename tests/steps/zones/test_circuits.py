"""Stations' readings against what coils and mapped wire let expect."""

from __future__ import annotations

import math

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from strategies_zones import SETTINGS, change, clean_world, codes

from wiremap.formulas.circuits import station_ohm, wire_ohm_per_m
from wiremap.model.settings import Settings
from wiremap.model.tables import READINGS
from wiremap.steps.zones.circuits import list_reach


@settings(max_examples=60, deadline=None)
@given(
    coil=st.floats(20, 60),
    length=st.floats(5, 900),
    awg=st.sampled_from([12, 14, 16, 18]),
    common=st.sampled_from([12, 14, 18]),
    warmth=st.floats(0, 40),
    coils=st.integers(1, 4),
    gauge_listed=st.booleans(),
)  # fmt: skip
def test_a_sound_station_is_never_called_odd(
    coil, length, awg, common, warmth, coils, gauge_listed
):
    """Coils of 20 to 60 ohm (trade and handbook texts) through mapped wire of 12 to 18 AWG between
    0 and 40 °C read as expected, whether the list gives the gauge or not."""
    world = clean_world([coils, 1, 1])
    hot, back = (float(wire_ohm_per_m(a, temperature_c=warmth)) for a in (awg, common))
    ohms = station_ohm(coil, length, hot_ohm_per_m=hot, common_ohm_per_m=back, coils=coils)
    listed = change(world.zone_list, 0, ohms=float(ohms), awg=str(awg) if gauge_listed else None)
    done = world._replace(
        zone_list=listed, paths=world.paths.assign(path_length_m=length)
    ).reconcile()
    assert codes(done) == []
    assert done.zones["ohms_status"][0] == "as_expected"
    assert done.zones["ohms_expected_low"][0] <= ohms <= done.zones["ohms_expected_high"][0]


@pytest.mark.parametrize(
    ("ohms", "status"),
    [
        (math.inf, "open"),
        (4000.0, "open"),
        (0.4, "low"),
        (7.0, "low"),
        (19.0, "low"),
        (35.0, "as_expected"),
        (110.0, "high"),
        (math.nan, "not_read"),
    ],
)
def test_a_reading_stands_where_the_trades_limits_put_it(ohms, status):
    """Below 20 ohm a short is suspected, far above 60 a splice, OL is open (handbook texts)."""
    world = clean_world([1, 1, 1])
    done = world._replace(zone_list=change(world.zone_list, 1, ohms=ohms)).reconcile()
    assert done.zones["ohms_status"].tolist() == ["as_expected", status, "as_expected"]
    odd = status in {"open", "low", "high"}
    assert codes(done) == ([(f"ohms-{status}", "zone 2")] if odd else [])


def test_a_healthy_pair_is_no_short():
    """A trade text: 52 and 24 ohm in parallel, 16.4, reads like a short; with two valves listed it
    is as expected."""
    world = clean_world([2, 1])
    done = world._replace(zone_list=change(world.zone_list, 0, ohms=16.421)).reconcile()
    assert codes(done) == []


def test_a_low_reading_names_a_second_coil_where_that_explains_it():
    """16.4 ohm on a station of one valve fits two coils; 2 ohm fits nothing but touching wires."""
    world = clean_world([1, 1])
    messages = [
        world._replace(zone_list=change(world.zone_list, 0, ohms=ohms))
        .reconcile()
        .findings[0]
        .message
        for ohms in (16.4, 2.0)
    ]
    assert "2 coils in parallel would explain it" in messages[0]
    assert "two conductors may touch" in messages[1]


def test_a_high_reading_says_how_long_the_wire_would_have_to_be():
    """180 ohm less a 60 ohm coil over 14 AWG at 40 °C: by hand 120/(2 x 2.7239/304.8) = 6714 m;
    the common's gauge is unknown and taken as 18 AWG: 120/((2.7239 + 6.8869)/304.8) = 3806 m."""
    world = clean_world([1, 1])
    done = world._replace(zone_list=change(world.zone_list, 0, ohms=180.0)).reconcile()
    assert "at least 3806 m" in done.findings[0].message
    known = change(change(world.zone_list, 0, ohms=180.0), 0, common="white #14")
    message = world._replace(zone_list=known).reconcile().findings[0].message
    assert "at least 6714 m" in message


def test_an_unmapped_path_widens_the_expectation():
    """With no wire path a longer one must be reckoned with, so less is called high."""
    world = clean_world([1, 1])
    listed = world.zone_list.assign(ohms=[66.0, 40.0])
    short = world.paths.assign(path_length_m=10.0)
    mapped = world._replace(zone_list=listed, paths=short).reconcile()
    unmapped = world._replace(zone_list=listed, paths=short.iloc[1:]).reconcile()
    assert codes(mapped) == [("ohms-high", "zone 1")]
    assert codes(unmapped) == []


def test_parallel_commons_lower_the_expected_wire():
    """Two commons side by side have half the resistance."""
    world = clean_world([1, 1])
    one, two = (
        world._replace(zone_list=world.zone_list.assign(common=common))
        .reconcile()
        .zones["ohms_expected_high"][0]
        for common in ("#14 white", "2 x #14 white")
    )
    wire = float(wire_ohm_per_m(14, temperature_c=40.0)) * 1.2
    path = world.paths["path_length_m"][0] + 2 * 0.5
    assert one - two == pytest.approx(path * wire / 2)


def test_low_insulation_is_a_finding_of_a_limit_that_can_be_set():
    """No public limit for irrigation wire was found: the limit is a setting, 500 kohm here."""
    world = clean_world([1, 1])
    listed = world.zone_list.assign(ohms_to_ground=[200_000.0, math.inf])
    done = world._replace(zone_list=listed).reconcile()
    assert codes(done) == [("insulation-low", "zone 1")]
    assert "min_ohms_to_ground" in done.findings[0].message
    looser = Settings(thresholds=SETTINGS.thresholds.model_copy(update={"min_ohms_to_ground": 1e5}))
    assert codes(world._replace(zone_list=listed).reconcile(looser)) == []


def test_voltage_at_the_valve_falls_with_the_coils():
    """Two coils draw twice the current: twice the drop under inrush and holding."""
    world = clean_world([1, 2])
    even = world._replace(paths=world.paths.assign(path_length_m=100.0)).reconcile().schedule
    drops = 24.0 - even[["volts_holding", "volts_inrush"]].to_numpy()
    assert drops[1] == pytest.approx(2 * drops[0])
    assert drops[:, 1] == pytest.approx(2 * drops[:, 0])


def test_reach_doubles_where_current_halves():
    """Reach is drop over current times resistance."""
    half = SETTINGS.thresholds.model_copy(update={"inrush_a": 0.2})
    ratio = [list_reach(half)[a] / list_reach(SETTINGS.thresholds)[a] for a in (18, 12)]
    assert ratio == pytest.approx([2.0, 2.0])


def readings(*rows: tuple[str, str, str]) -> pd.DataFrame:
    """Return readings of zone, kind and value."""
    table = pd.DataFrame(rows, columns=["zone", "kind", "value"])
    return READINGS.conform(
        table.assign(controller="A", date="2026-05-04", source_row=range(2, len(rows) + 2))
    )


def bridge_world():
    """Return a world whose zone 1 has 300 m of 14 AWG both ways."""
    world = clean_world([1, 1])
    return world._replace(
        zone_list=world.zone_list.assign(common="#14"),
        paths=world.paths.assign(path_length_m=300.0),
    )


@pytest.mark.parametrize(
    ("kind", "value", "distance"),
    [("murray", "3:1", 150.0), ("capacitance", "100 : 400", 60.0)],
)
def test_bridge_readings_give_a_distance_along_the_mapped_wire(kind, value, distance):
    """Murray at 3:1 lies at half the length of equal wires (600 m to 300 m in the published
    example); capacitance 100 and 400 at a fifth (2 m of 10 m)."""
    done = bridge_world()._replace(readings=readings(("1", kind, value))).reconcile()
    assert done.distances["distance_m"].tolist() == pytest.approx([distance])
    assert codes(done) == [("fault-distance", "zone 1")]
    assert f"{distance:.1f} m of 300 m mapped" in done.findings[0].message


def test_varley_uses_the_measured_loop():
    """300 m pair of 14 AWG, fault at 100 m: loop 4.971260, arm 3.314173 ohm (nodal solution). The
    wire's temperature is not known, so the distance holds to the middle of its range."""
    rows = readings(("1", "loop_ohms", "4.971260"), ("1", "varley", "1000:1000:3.314173"))
    done = bridge_world()._replace(readings=rows).reconcile()
    varley = done.distances.set_index("method").loc["varley"]
    assert varley["distance_m"] == pytest.approx(100.0, rel=0.01)
    assert "measured loop" in varley["note"]


@pytest.mark.parametrize("value", ["", "seven", "3", "0:0"])
def test_a_bridge_reading_that_cannot_be_read_is_a_finding(value):
    """The row is named, and what the kind needs."""
    done = bridge_world()._replace(readings=readings(("1", "murray", value))).reconcile()
    assert [code for code, _ in codes(done)] == ["bad-value"]
    assert "100:41.2" in done.findings[0].message
    assert done.findings[0].source_row == 2
    assert done.distances.empty


def test_a_distance_without_a_mapped_path_is_not_made_up():
    """Murray needs a length or a measured loop."""
    world = bridge_world()
    bare = world._replace(
        paths=world.paths.assign(path_length_m=np.nan), readings=readings(("1", "murray", "3:1"))
    )
    assert bare.reconcile().distances.empty


@settings(max_examples=30, deadline=None)
@given(coil=st.floats(20, 60), length=st.floats(5, 900), warmth=st.floats(0, 40))
def test_the_implied_wire_holds_the_true_one(coil, length, warmth):
    """Whatever the coil and the warmth, the true path lies between the implied lengths, and the
    coil's own resistance comes out within what 20 degrees and the common's gauge allow."""
    world = clean_world([1, 1])
    hot = float(wire_ohm_per_m(14, temperature_c=warmth))
    ohms = float(station_ohm(coil, length, hot_ohm_per_m=hot, common_ohm_per_m=hot))
    listed = change(world.zone_list, 0, ohms=ohms, common="#14")
    paths = world.paths.assign(path_length_m=length)
    row = world._replace(zone_list=listed, paths=paths).reconcile().schedule.iloc[0]
    assert row["implied_length_low_m"] - 1e-6 <= length <= row["implied_length_high_m"] + 1e-6
    assert row["coil_ohms"] == pytest.approx(coil, abs=0.086 * 2 * length * hot)


def test_an_open_station_implies_no_length():
    """Nothing can be computed from an open reading."""
    world = clean_world([1, 1])
    done = world._replace(zone_list=change(world.zone_list, 0, ohms=math.inf)).reconcile()
    columns = ["coil_ohms", "implied_length_low_m", "implied_length_high_m"]
    assert done.schedule.loc[0, columns].isna().all()
    assert done.schedule.loc[1, columns].notna().all()


def test_a_loop_reading_alone_says_how_far_the_wires_may_touch():
    """A loop of 300 m of 14 AWG both ways reads about 5 ohm; with a bridge it is only an input."""
    alone = bridge_world()._replace(readings=readings(("1", "loop_ohms", "4.97"))).reconcile()
    assert alone.distances["method"].tolist() == ["loop_ohms"]
    assert alone.distances["distance_m"][0] == pytest.approx(300.0, rel=0.01)
    assert "at most" in alone.findings[0].message
    both = readings(("1", "loop_ohms", "4.97"), ("1", "murray", "3:1"))
    bridged = bridge_world()._replace(readings=both).reconcile()
    assert bridged.distances["method"].tolist() == ["murray"]
