"""Every file of the corpus, built as a user builds it: the folder and nothing else.

Marks must land within a centimetre of where they are, know what they are and on which wire, or
the file must be refused in words that name the remedy.
"""

from __future__ import annotations

import re
from collections import defaultdict

import pytest
from corpus import map_layers, receiver_logs, survey_files, workbooks
from corpus.property_truth import MARKS, offset_m
from corpus.samples import SAMPLES

from wiremap.errors import WiremapError
from wiremap.model.kinds import Severity
from wiremap.read.folders import read_property
from wiremap.workflow import build_asbuilt

RUNS_M = {
    "1": 18.1,
    "2": 23.1,
}  # by zone: sums of the distances between marks; coarse marks are straightened
MODULES = (map_layers, receiver_logs, survey_files, workbooks)


def named(sample):
    return sample.write.__name__


def find_marks(asbuilt, sample):
    """Return the features located at each mark; a point away from all marks fails."""
    found = defaultdict(set)
    located = asbuilt.layers["locates"].to_crs("EPSG:4326")
    for point, feature, place in zip(
        located["point"], located["feature"], located.geometry, strict=True
    ):
        off, mark = min((offset_m(m.name, place.x, place.y), m.name) for m in MARKS)
        assert off <= sample.tolerance_m, f"{point} stands {off:.3f} m from {mark}"
        found[mark].add(feature)
    return found


def assert_told(findings, sample):
    """Every expected finding is there, with the words expected of it."""
    for code, words in sample.told:
        said = [f"{f.message} {f.advice}" for f in findings if f.code == code]
        assert any(re.search(words, text) for text in said), (code, words, said)


@pytest.mark.parametrize("sample", [s for s in SAMPLES if not s.refused], ids=named)
def test_what_the_file_says_is_on_the_map(tmp_path, sample):
    """Positions, features, runs and findings against the property that the file was made from."""
    sample.write(tmp_path)

    asbuilt = build_asbuilt(read_property(tmp_path))

    found = find_marks(asbuilt, sample)
    assert {m.name for m in MARKS} - set(found) <= set(sample.lost)
    if sample.features:
        assert [m.name for m in MARKS if m.feature not in found[m.name]] == []
    findings = list(asbuilt.layers["findings"].itertuples())
    assert_told(findings, sample)
    has_errors = any(f.severity == Severity.ERROR for f in findings)
    assert has_errors == sample.errors, [f.message for f in findings if f.severity == "error"]
    runs = asbuilt.layers["wire_runs"]
    if sample.runs:
        lengths = dict(zip(runs["zones"], runs["length_m"], strict=True))
        assert lengths == pytest.approx(RUNS_M, abs=0.2)


@pytest.mark.parametrize("sample", [s for s in SAMPLES if s.refused], ids=named)
def test_a_file_that_cannot_be_placed_is_refused_with_its_remedy(tmp_path, sample):
    """Nothing is guessed where a guess would be as likely wrong as right."""
    sample.write(tmp_path)
    with pytest.raises(WiremapError, match=re.escape(sample.refused)):
        build_asbuilt(read_property(tmp_path))
    if sample.told:
        assert_told(read_property(tmp_path).findings, sample)


@pytest.mark.parametrize("module", MODULES, ids=lambda m: m.__name__)
def test_every_kind_of_file_is_in_the_corpus(module):
    """A module that fails to register its samples would pass by being empty."""
    assert sum(s.write.__module__ == module.__name__ for s in SAMPLES) >= 8
