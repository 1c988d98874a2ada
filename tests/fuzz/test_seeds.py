"""What the fuzzer starts from, and what it once found, is answered as promised."""

from __future__ import annotations

import pytest
from fuzz.targets import SEEDS, TARGETS, package, workbook

CASES = [(name, path.name) for name in TARGETS for path in sorted((SEEDS / name).iterdir())]


@pytest.mark.parametrize(("name", "seed"), CASES, ids=["/".join(case) for case in CASES])
def test_a_seed_gives_tables_or_one_clear_line(name, seed, tmp_path):
    """No error but wiremap's own, no warning, one line; what is sound gives tables."""
    target = TARGETS[name]
    said = target.run((SEEDS / name / seed).read_bytes(), tmp_path / "folder")
    assert seed not in {"sound", "one-layer", "point", "track"} or said == ""


@pytest.mark.parametrize("name", TARGETS)
@pytest.mark.parametrize("data", [b"", b"\x00", b"\xff\xfe", b"\n\n", b'"', b"{", b"<"])
def test_next_to_nothing_is_refused_in_one_line(name, data, tmp_path):
    """A file of one or two bytes holds no table; what may be empty or damaged is told."""
    said = TARGETS[name].run(data, tmp_path / "folder")
    assert said or name in {"toml", "base", "base-kml", "base-dxf", "geometry", "dbf"}


def test_the_seeds_of_binary_formats_are_what_their_makers_make():
    """The package holds one layer; the workbook's sheet is the seed of the target `sheet`."""
    assert package().startswith(b"SQLite format 3\x00")
    assert (SEEDS / "sheet" / "sound").read_bytes() == workbook()["xl/worksheets/sheet1.xml"]
