"""Words on lists and valves."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wiremap.steps.zones.labels import (
    controller_key,
    count_conductors,
    read_gauge,
    read_ohms,
    split_zones,
    word_kind,
    zone_key,
)


@pytest.mark.parametrize(
    "label", ["3", "03", "003", "Zone 3", "zone3", "Sta. 3", "Station #3", "Z3", "No. 3", " 3 "]
)
def test_spellings_of_one_zone_have_one_key(label):
    """Zone numbers as people write them (common practice, no source)."""
    assert zone_key(label) == "3"


@pytest.mark.parametrize(("a", "b"), [("3", "13"), ("3", "30"), ("12A", "12B"), ("A3", "B3")])
def test_different_zones_keep_different_keys(a, b):
    """Only leading words and zeros are passed over."""
    assert zone_key(a) != zone_key(b)


@pytest.mark.parametrize("text", ["3;4", "3, 4", "3/4", "3 & 4", "3 and 4", "3+4"])
def test_a_cell_with_two_zones_names_both(text):
    """The contract parts zones by semicolons; people use other signs too."""
    assert split_zones(text) == ["3", "4"]


def test_a_number_that_a_workbook_made_is_read_as_written():
    """A workbook turns station 3 into 3.0; 3.5 stays what it is."""
    assert split_zones("3.0") == ["3"]
    assert split_zones("3.5") == ["3.5"]


@pytest.mark.parametrize(
    ("word", "kind"),
    [
        ("MV", "master_valve"),
        ("M.V.", "master_valve"),
        ("Master valve 2", "master_valve"),
        ("Pump", "pump_start"),
        ("pump start relay", "pump_start"),
        ("Spare", "spare"),
        ("spare wire 2", "spare"),
        ("Pump house lawn", None),
        ("Spare lot, east", None),
        ("Master bedroom beds", None),
        ("12", None),
    ],
)
def test_only_a_word_by_itself_names_a_kind_of_station(word, kind):
    """A zone that waters the pump house is no pump start."""
    assert word_kind(word) == kind


def test_master_valves_and_zones_never_share_a_key():
    """MV 2 is not zone 2."""
    assert zone_key("MV 2") == zone_key("Master valve 2") == "mv2"
    assert zone_key("MV") == zone_key("Master Valve") == zone_key("MV1") == "mv"


def test_spellings_of_one_controller_have_one_key():
    """The word controller, case and punctuation say nothing."""
    assert {controller_key(n) for n in ("A", "a", "Controller A", "Clock A", "A.")} == {"a"}
    assert controller_key("Controller") == "controller"


@pytest.mark.parametrize(
    ("text", "gauge"), [("18", 18), ("#14", 14), ("14 AWG", 14), ("18-7", 18), ("14ga", 14)]
)
def test_a_gauge_is_read_however_it_is_marked(text, gauge):
    """Gauges as written on lists (common practice, no source)."""
    assert read_gauge(text) == gauge


@pytest.mark.parametrize("text", ["", "red", "250", "99"])
def test_what_is_no_gauge_is_none(text):
    """Numbers that no valve wire has are not read as a gauge."""
    assert math.isnan(read_gauge(text))


def test_a_common_tells_gauge_and_conductors_only_where_marked():
    """White 2 is a colour and a name; 2 x #12 is two wires of 12 AWG."""
    assert math.isnan(read_gauge("white 12", marked=True))
    assert read_gauge("2 x #12 white", marked=True) == 12
    assert count_conductors("2 x #12 white") == 2
    assert count_conductors("white 2") == 1


@pytest.mark.parametrize(
    ("text", "ohms"),
    [("38", 38), ("38.5 ohm", 38.5), ("38,5", 38.5), ("1.2 M", 1.2e6), ("500k", 5e5),
     ("> 20 Mohm", 2e7), ("OL", math.inf), ("O.L.", math.inf), ("Open", math.inf)],
)  # fmt: skip
def test_a_meter_reading_is_read_as_written(text, ohms):
    """Meters show OL for an open circuit; k and M are thousands and millions."""
    assert read_ohms(text) == pytest.approx(ohms)


@pytest.mark.parametrize("text", ["", "wet", "3.4.5", "12 V", "."])
def test_what_is_no_resistance_is_none(text):
    """A remark in the ohms column is not turned into a number."""
    assert math.isnan(read_ohms(text))


@given(st.text(max_size=30))
def test_any_text_is_read_without_falling_over(text):
    """Every reader of words returns something for every text."""
    for label in split_zones(text):
        assert isinstance(zone_key(label), str)
    assert isinstance(read_ohms(text), float)
    assert isinstance(read_gauge(text), float)
    assert isinstance(controller_key(text), str)
