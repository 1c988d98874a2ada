"""Which feature a field word or code means."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from wiremap.model.kinds import Feature
from wiremap.read.features import KNOWN, parse_feature, read_features


@pytest.mark.parametrize("feature", list(Feature))
def test_every_word_of_the_contract_is_itself(feature):
    """Case, hyphens and spaces do not matter."""
    for word in (
        feature,
        feature.upper(),
        feature.replace("_", " ").title(),
        feature.replace("_", "-"),
    ):
        assert parse_feature(word) == (feature, "")


@pytest.mark.parametrize(
    ("word", "feature", "note"),
    [
        ("VLV", "valve", ""), ("valve box", "valve", ""), ("VLV 6in box", "valve", "6in box"), ("ctrl", "controller", ""),
        ("Valve-12", "valve", "12"), ("VLV12", "valve", "12"), ("Splice box by oak", "splice", "by oak"),
        ("SHUT OFF VALVE #2", "shutoff", "#2"), ("wire path", "path", ""), ("ground rod near clock", "ground", "near clock"),
    ],
)  # fmt: skip
def test_common_words_and_codes(word, feature, note):
    """Longer phrases come before shorter ones (common practice, no source)."""
    assert parse_feature(word) == (feature, note)


def test_the_owners_codes_come_first():
    """[features] may give a known word another meaning."""
    named = read_features(pd.Series(["TP", "tp 4", "vlv"]), own={"TP": "path", "VLV": "Shutoff"})

    assert named.features.tolist() == ["path", "path", "shutoff"]
    assert named.notes.tolist() == [np.nan, "4", np.nan]


def test_a_word_that_means_nothing_stays():
    """It is reported later and never guessed."""
    named = read_features(pd.Series(["banana", np.nan], dtype="str"))

    assert named.features.tolist() == ["banana", np.nan]
    assert not named.is_known.any()


def test_every_known_word_is_written_as_it_is_compared():
    """Lower case, single spaces."""
    assert all(word == " ".join(word.lower().split()) for word in KNOWN)


@given(st.text(max_size=300))
def test_any_word_is_a_feature_or_nothing(word):
    """Nothing raises."""
    assert parse_feature(word)[0] in {"", *Feature}
