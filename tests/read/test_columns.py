"""Which column of a file is which column of the contract."""

import re
import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wiremap.model.tables import INPUTS, LOCATES_IN, REFERENCES_IN, ZONE_LIST
from wiremap.model.units import METRES_PER_UNIT
from wiremap.read.columns import (
    find_target,
    has_unit,
    is_number_name,
    match_columns,
    nearest_target,
    suggest_mapping,
)
from wiremap.read.synonyms import LOCATES, POSITIONS, READINGS, REFERENCES
from wiremap.read.synonyms import ZONE_LIST as ZONE_WORDS


def match(names, table=LOCATES_IN, own=None, *, is_geographic=True):
    found = match_columns(names, table=table, own=own or {}, is_geographic=is_geographic)
    return {m.source: (m.target, m.unit, m.how) for m in found}


@pytest.mark.parametrize("table", INPUTS, ids=lambda t: t.name)
def test_every_declared_column_is_found_by_its_own_name(table):
    """With the unit in its name and, as the contract writes it, without."""
    for column in table.columns:
        if column.name in {"source_file", "source_row", "position_crs"}:
            continue
        assert find_target(column.name, table=table)[0] == column.name
        bare = re.sub(r"_(m|deg)$", "", column.name)
        assert find_target(bare.replace("_", " ").title(), table=table)[0] == column.name


@pytest.mark.parametrize("unit", sorted(METRES_PER_UNIT))
@pytest.mark.parametrize("pattern", ["{}_{}", "{} ({})", "{} [{}]", "{}, {}", "{} {}"])
def test_every_unit_is_read_from_every_way_of_writing_it(unit, pattern):
    """Suffix, brackets, comma or space."""
    assert match([pattern.format("offset_left", unit)]) == {
        pattern.format("offset_left", unit): ("offset_left_m", unit, "exact")
    }


@pytest.mark.parametrize(
    ("written", "target"),
    [
        ("latitude", "lat"), ("Long", "lon"), ("X", "lon"), ("Y", "lat"), ("Northing", "northing"), ("Pt No", "point"),
        ("descr", "feature"), ("Sta.", "zone"), ("Zone #", "zone"), ("Elev", "elevation_m"), ("HRMS", "h_rms_m"),
        ("Lat/Long", "lat_lon"), ("Tech", "operator"), ("Wire Size (AWG)", "awg"), ("Latitude (deg)", "lat"),
    ],
)  # fmt: skip
def test_locates_are_recognised_by_meaning(written, target):
    """Headers as instruments and people write them (common practice, no source)."""
    assert match([written])[written][0] == target


@pytest.mark.parametrize(
    ("written", "target"),
    [("Sta.", "zone"), ("Station", "zone"), ("Zone #", "zone"), ("#", "zone"), ("Description", "name"),
     ("Resistance (ohms)", "ohms"), ("# of valves", "valves"), ("Clock", "controller"), ("Wire Color", "wire_color")],
)  # fmt: skip
def test_zone_lists_are_recognised_by_meaning(written, target):
    """Headers as people keep zone lists (common practice, no source)."""
    assert match([written], ZONE_LIST)[written][0] == target


def test_x_and_y_follow_the_crs_of_the_file():
    """They are degrees beside a geographic CRS, plane coordinates beside a projected one."""
    assert match(["X", "Y"], is_geographic=False)["X"][0] == "easting"


def test_the_owners_names_come_first():
    """[columns] wins over the contract's own name and over meaning; a unit may be given there."""
    found = match(["Mark", "point", "Off L"], own={"Mark": "point", "Off L": "offset_left_in"})

    assert found == {"Mark": ("point", "", "set"), "Off L": ("offset_left_m", "in", "set")}


def test_a_target_is_filled_once_and_the_exact_name_wins():
    """The column that only means the same is left to be kept as it is."""
    assert match(["Depth (in)", "ptno", "point", "depth"])  == {
        "Depth (in)": ("depth_m", "in", "exact"), "point": ("point", "", "exact"),
    }  # fmt: skip


def test_a_word_for_a_length_is_no_word_for_a_date():
    """'logged in' and 'date in' end in a unit but are no lengths."""
    assert match(["logged in"]) == {}
    assert "date_m" not in {c.name for c in LOCATES_IN.columns}


@pytest.mark.parametrize(
    ("words", "table"),
    [({**POSITIONS, **LOCATES}, LOCATES_IN), (ZONE_WORDS, ZONE_LIST), (REFERENCES, REFERENCES_IN), (READINGS, INPUTS[3])],
    ids=lambda v: getattr(v, "name", ""),
)  # fmt: skip
def test_every_synonym_stands_for_a_column_and_is_written_as_it_is_compared(words, table):
    """A word with a space or a capital would never match; a key without a column would get lost."""
    for contract, synonyms in words.items():
        assert find_target(contract, table=table)[0]
        assert len(set(synonyms)) == len(synonyms)
        assert all(re.fullmatch(r"[a-z0-9]+", word) for word in synonyms)


def test_the_suggested_line_is_toml_that_maps_the_columns():
    """It is valid at the top of property.toml and read back gives the same matches."""
    names = ["Pt No", 'Depth "taped"', "Elevaton", "zzqq"]
    line = suggest_mapping(names, table=LOCATES_IN, matches=[])

    written = tomllib.loads(line)["columns"]
    assert written["Pt No"] == "point"
    assert written["Elevaton"] == "elevation"
    assert written["zzqq"] == "?"
    assert list(written) == names


def test_only_names_that_always_hold_numbers_are_parsed_as_numbers():
    """A box called 1.10 is no number."""
    assert is_number_name("lat")
    assert is_number_name("Elev")
    assert not is_number_name("box")
    assert not is_number_name("value")
    assert not is_number_name("zzqq")


def test_lengths_and_only_lengths_have_units():
    """A unit behind another word belongs to the word."""
    assert has_unit("depth_m")
    assert has_unit("easting")
    assert not has_unit("lat")
    assert nearest_target("Northin", table=LOCATES_IN) == "northing"


@given(st.lists(st.text(max_size=30), max_size=8, unique=True))
def test_any_names_match_each_source_and_each_target_once(names):
    """Nothing raises, whatever a header says."""
    found = match_columns(names, table=LOCATES_IN, own={}, is_geographic=True)

    assert len({m.source for m in found}) == len(found)
    assert len({m.target for m in found}) == len(found)
    assert {m.source for m in found} <= set(names)
    tomllib.loads(
        suggest_mapping([n for n in names if n.isprintable()], table=LOCATES_IN, matches=found)
    )
