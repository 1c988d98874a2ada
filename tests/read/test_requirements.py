"""Requirement profiles as TOML."""

from __future__ import annotations

import inspect

import pytest

from wiremap.errors import SettingsError
from wiremap.read.requirements import list_profiles, read_profile
from wiremap.steps.requirements import CHECKS

GOOD = """
name = "mine"
title = "What our office asks"
[sources]
office = "Our own standard"
[[items]]
id = "ties"
says = "Ties."
source = "office"
check = "ties"
limits = { layers = ["valves"] }
advice = "Tape."
"""


@pytest.mark.parametrize("name", list_profiles())
def test_every_bundled_profile_is_whole(name):
    """Its name is its file's, every item cites a source, and its check takes its limits."""
    profile = read_profile(name)
    assert profile.name == name
    assert len({item.id for item in profile.items}) == len(profile.items)
    for item in profile.items:
        assert profile.cite(item)
        inspect.signature(CHECKS[item.check]).bind(None, **item.limits)
    assert {item.source for item in profile.items} <= set(profile.sources)


def test_the_rules_that_were_asked_for_are_there():
    """Two references, routing at most 100 ft, CAD in survey feet."""
    assert {"two-references", "routing-100ft", "cad-survey-feet"} <= set(list_profiles())
    assert read_profile("routing-100ft").items[0].limits == {"gap_ft": 100.0}


def test_an_agency_can_bring_its_own(tmp_path):
    """A path of a TOML file of the same shape is read."""
    (tmp_path / "ours.toml").write_text(GOOD)
    assert read_profile(str(tmp_path / "ours.toml")).title == "What our office asks"


def test_a_name_that_is_not_known_lists_all_and_the_nearest():
    """The message is the list."""
    with pytest.raises(
        SettingsError, match="got two-reference; choose two-references, or one of cad"
    ):
        read_profile("two-reference")


@pytest.mark.parametrize(
    ("change", "message"),
    [
        (("name =", "name"), "the profile is no TOML"),
        (('id = "ties"', ""), "items.0.id: Field required"),
        (('says = "Ties."', 'says = "Ties."\ncolour = "red"'), "Extra inputs are not permitted"),
        (('source = "office"', 'source = "elsewhere"'), "must be one of .sources., got elsewhere"),
    ],
)
def test_a_file_that_is_no_profile_is_refused(tmp_path, change, message):
    """The message names the file and the place."""
    (tmp_path / "ours.toml").write_text(GOOD.replace(*change))
    with pytest.raises(SettingsError, match=message):
        read_profile(str(tmp_path / "ours.toml"))
