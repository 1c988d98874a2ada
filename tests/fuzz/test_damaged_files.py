"""Any damage to a sound file of any format gives tables or one clear line."""

from __future__ import annotations

import pytest
from fuzz.targets import TARGETS
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

WORDS = [b"", b"\x00", b"\xff\xfe", b"\n", b'"', b",", b";", b"\t", b"nan", b"-inf", b"1e308", b"<", b">",
         b"{", b"]", b"&", b"9" * 30, b"\xed\xa0\x80", "\N{DROPLET}".encode(), b"=1+1", b"NULL", b"-1"]  # fmt: skip
EDITS = st.lists(
    st.tuples(st.floats(0, 1), st.integers(0, 12), st.sampled_from(WORDS) | st.binary(max_size=8)),
    min_size=1,
    max_size=6,
)


def damage(data, edits):
    """Put words over parts of the data, each at a share of its length."""
    for share, removed, word in edits:
        at = int(share * len(data))
        data = data[:at] + word + data[at + removed :]
    return data


@pytest.mark.parametrize("name", sorted(TARGETS.keys() - {"build"}))  # test_invariants builds
@settings(max_examples=15, deadline=None, suppress_health_check=list(HealthCheck))
@given(data=st.data())
def test_a_damaged_file_is_read_or_refused_in_one_line(tmp_path_factory, name, data):
    """No error but wiremap's own, no warning of a library, no message of several lines."""
    target = TARGETS[name]
    sound = data.draw(st.sampled_from(target.seeds()))
    damaged = damage(sound, data.draw(EDITS))
    said = target.run(damaged, tmp_path_factory.getbasetemp() / "damaged")
    assert "\n" not in said
