"""Which folders are properties, where their files go, and when they count as changed."""

from __future__ import annotations

import os
from dataclasses import replace
from pathlib import Path

from hypothesis import given
from hypothesis import strategies as st

from wiremap.bulk import jobs
from wiremap.bulk.jobs import find_properties, hash_inputs, is_property, place_outputs, plan_jobs
from wiremap.plugins import READERS, registry


def touch(path: Path) -> Path:
    """Write a file with its folders."""
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text("point,feature,lon,lat\n")
    return path


def names(root: Path, **options) -> list[str]:
    """Return the properties found, below the root."""
    return [p.relative_to(root).as_posix() for p in find_properties(root, **options)]


def test_each_mark_makes_a_property_whatever_its_case(tmp_path):
    """property.toml, locates.*, locates/ and visits/ are marks; other folders are not."""
    touch(tmp_path / "north" / "a" / "property.toml")
    touch(tmp_path / "b" / "locates.gpx")
    touch(tmp_path / "c" / "locates" / "day-1.csv")
    touch(tmp_path / "d" / "visits" / "2026-03-01" / "locates.csv")
    touch(tmp_path / "e" / "Locates" / "day-1.csv")
    touch(tmp_path / "notes" / "readme.txt")
    assert names(tmp_path) == ["b", "c", "d", "e", "north/a"]
    assert hash_inputs(tmp_path / "e") != hash_inputs(tmp_path / "notes")


def test_a_property_inside_another_is_not_lost(tmp_path):
    """Every property folder below the root: also where the root has a stray file of locates."""
    touch(tmp_path / "locates-list.csv")
    touch(tmp_path / "campus" / "property.toml")
    touch(tmp_path / "campus" / "library" / "locates.csv")
    for own in ("locates/day-1", "Visits/2026-03-01", "base"):
        touch(tmp_path / "campus" / own / "locates.csv")
    assert names(tmp_path) == [".", "campus", "campus/library"]
    assert len({job.out for job in plan_jobs(tmp_path, tmp_path / "out")}) == 3


def test_the_root_may_be_a_property_itself(tmp_path):
    """One property folder given as root is that property."""
    touch(tmp_path / "locates.csv")
    assert names(tmp_path) == ["."]
    assert is_property(tmp_path)
    assert not is_property(tmp_path / "nowhere")


def test_outputs_and_hidden_folders_and_links_are_left_out(tmp_path):
    """An as-built's own geojson/locates.geojson is no field file, and a loop of links ends."""
    touch(tmp_path / "a" / "locates.csv")
    touch(tmp_path / "done" / "findings.csv")
    touch(tmp_path / "done" / "a.gpkg")
    touch(tmp_path / "done" / "geojson" / "locates.geojson")
    touch(tmp_path / "layers" / "geojson" / "locates.geojson")
    touch(tmp_path / "layers" / "geojson" / "provenance.geojson")
    touch(tmp_path / "last-year" / ".wiremap-bulk" / "properties" / "a.json")
    touch(tmp_path / "last-year" / "portfolio" / "locates" / "part-0.parquet")
    touch(tmp_path / ".trash" / "b" / "locates.csv")
    touch(tmp_path / "out" / "c" / "geojson" / "locates.geojson")
    (tmp_path / "loop").symlink_to(tmp_path)
    assert names(tmp_path, out=tmp_path / "out") == ["a"]


HOSTILE = [
    "portfolio", "summary.csv", "Portfolio.gpkg", "-rf", " space ", "dots..", "a?b", "a\nb",
    "<script>", "con", "nul.txt", "tab\there", 'quote"', "=1+1", "ü", "u\u0308", "A", "a", "\udcff",
]  # fmt: skip


def test_hostile_names_get_plain_and_different_folders():
    """No output folder takes the portfolio's names, a reserved character, or another's place."""
    places = place_outputs(HOSTILE)
    assert len({p.casefold() for p in places}) == len(HOSTILE)
    for place in places:
        assert place.isprintable()
        assert not set(place) & set('<>:"|?*\\')
        assert place == place.strip(" .")
        assert not place.startswith("-")
        assert place.casefold() not in {"portfolio", "portfolio.gpkg", "summary.csv", "con"}
    assert place_outputs(["Quarry Pond Gardens"]) == ["Quarry Pond Gardens"]
    assert place_outputs(["."], root_name="Quarry Pond") == ["Quarry Pond"]


PART = st.text(st.characters(exclude_characters="/\0"), min_size=1, max_size=12).filter(
    lambda part: part not in {".", ".."}
)


@given(st.lists(st.lists(PART, min_size=1, max_size=3).map("/".join), unique=True, max_size=6))
def test_places_never_clash_and_never_leave_the_output_folder(paths):
    """Whatever a folder is called, its output lies inside, on systems that ignore case too."""
    places = place_outputs(paths)
    assert len({place.casefold() for place in places}) == len(paths)
    for place in places:
        assert not Path(place).is_absolute()
        assert ".." not in Path(place).parts
        place.encode()


def test_the_key_follows_the_inputs_and_nothing_else(tmp_path):
    """Content, names, and formats count; photos, hidden files and times do not."""
    folder = tmp_path / "p"
    locates = touch(folder / "locates.csv")
    key = hash_inputs(folder)
    assert len(key) == 64
    touch(folder / "photos" / "v1.jpg")
    touch(folder / ".notes")
    os.utime(locates, (0, 0))
    assert hash_inputs(folder) == key
    assert hash_inputs(folder, formats=("geojson",)) != key
    touch(folder / "base" / "site.geojson")
    longer = hash_inputs(folder)
    locates.rename(folder / "locates-2.csv")
    renamed = hash_inputs(folder)
    (folder / "locates-2.csv").write_text("changed")
    assert len({key, longer, renamed, hash_inputs(folder)}) == 4


def test_jobs_can_be_planned_over_names_that_are_not_text(tmp_path):
    """A folder name that is no UTF-8 gets a job like any other."""
    touch(Path(os.fsdecode(os.fsencode(tmp_path) + b"/caf\xe9"), "locates.csv"))
    (job,) = plan_jobs(tmp_path, tmp_path / "out")
    assert job.out.startswith("caf-")
    assert job.record.isalnum()


def test_a_property_that_holds_its_own_as_built_is_still_a_property(tmp_path):
    """``wiremap build p -o p`` is allowed, and the next bulk run must not lose it."""
    touch(tmp_path / "p" / "locates.csv")
    for name in ("findings.csv", "p.gpkg", "p.html"):
        touch(tmp_path / "p" / name)
    touch(tmp_path / "p" / "geojson" / "locates.geojson")
    touch(tmp_path / "p" / "geojson" / "provenance.geojson")
    touch(tmp_path / "q" / "visits" / "2026-03-01" / "locates.csv")
    touch(tmp_path / "q" / "findings.csv")
    touch(tmp_path / "q" / "q.gpkg")
    touch(tmp_path / "written" / "locates-lane.gpkg")
    touch(tmp_path / "written" / "findings.csv")
    assert names(tmp_path) == ["p", "q"]


def test_a_folder_that_cannot_be_listed_is_not_lost_in_silence(tmp_path, monkeypatch):
    """It becomes a row of the failures instead of nothing."""
    touch(tmp_path / "a" / "locates.csv")
    (tmp_path / "closed").mkdir()
    scan = os.scandir

    def refuse(place):
        if Path(place).name == "closed":
            raise PermissionError(13, "Permission denied", str(place))
        return scan(place)

    monkeypatch.setattr(os, "scandir", refuse)
    assert names(tmp_path) == ["a", "closed"]


def test_links_that_run_in_circles_end(tmp_path):
    """A folder and a file that are links to themselves, inside a property and beside it."""
    folder = touch(tmp_path / "p" / "locates" / "day-1.csv").parent
    (folder / "again").symlink_to(tmp_path)
    (folder / "self.csv").symlink_to(folder / "self.csv")
    (tmp_path / "self").symlink_to(tmp_path / "self")
    assert names(tmp_path) == ["p"]
    assert len(hash_inputs(tmp_path / "p")) == 64


def test_the_key_follows_the_plugins(tmp_path, monkeypatch):
    """Another version of a third party's reader may read the same file otherwise."""
    touch(tmp_path / "locates.csv")
    before = hash_inputs(tmp_path)
    readers = registry(READERS)
    other = replace(readers, origins={**readers.origins, "gpx": "other 2.0"})
    monkeypatch.setattr(jobs, "registry", lambda g: other if g == READERS else registry(g))
    assert hash_inputs(tmp_path) != before
