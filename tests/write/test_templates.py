"""Empty tables to fill in: of the declared columns, and what is filled in builds as it should."""

from __future__ import annotations

import csv
import shutil
import sys
import tomllib
from importlib.resources import files
from string import ascii_letters

import openpyxl
import pandas as pd
import pytest

import wiremap
from wiremap.errors import ReadError, WriteError
from wiremap.model.field_columns import FIELD_TABLES, field_columns
from wiremap.model.kinds import MEANINGS, Feature
from wiremap.model.settings import Settings
from wiremap.read.columns import find_target
from wiremap.read.settings_file import read_settings
from wiremap.write.settings_template import write_settings_template

DEMO = files("wiremap") / "demo"
PER_METRE = {"ft": 1 / 0.3048, "in": 1 / 0.0254, "m": 1.0}
"""The international foot is 0.3048 m, the inch 0.0254 m (from memory: NIST SP 811)."""


@pytest.fixture(scope="module")
def kit(tmp_path_factory):
    """Templates in feet and in metres."""
    folder = tmp_path_factory.mktemp("kit")
    for units, paper in (("ft", "letter"), ("m", "a4")):
        wiremap.write_templates(folder / units, paper=paper)
    return folder


def demo_rows(stem, headings):
    """Return the bundled property's rows under a template's headings, in the template's units."""
    if not (DEMO / f"{stem}.csv").is_file():
        return []
    table = pd.read_csv(DEMO / f"{stem}.csv", dtype=str, keep_default_na=False)
    rows = []
    for written in table.to_dict("records"):
        row = dict.fromkeys(headings, "")
        for name, cell in written.items():
            target, unit = find_target(name, table=FIELD_TABLES[stem])
            heading = next(
                h for h in headings if find_target(h, table=FIELD_TABLES[stem])[0] == target
            )
            suffix = heading.rpartition("_")[2]
            row[heading] = cell
            if cell and target.endswith("_m"):
                length = float(cell) / PER_METRE[unit or "m"] * PER_METRE[suffix]
                row[heading] = f"{length:.4f}"
        rows.append([row[heading] for heading in headings])
    return rows


def fill_csv(path, stem):
    with path.open(encoding="utf-8-sig", newline="") as file:
        headings = next(csv.reader(file))
    with path.open("a", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows(demo_rows(stem, headings))


def fill_xlsx(path, stem):
    book = openpyxl.load_workbook(path)
    sheet = book.active
    for row in demo_rows(stem, [cell.value for cell in sheet[1]]):
        sheet.append([cell or None for cell in row])
    book.save(path)


def build(folder):
    return wiremap.build_asbuilt(wiremap.read_property(folder))


@pytest.mark.parametrize("units", ["ft", "m"])
@pytest.mark.parametrize("kind", ["csv", "xlsx"])
def test_a_filled_template_builds_as_its_rows_say(kit, tmp_path, units, kind):
    """The bundled property, typed into a template: the same findings, wires and depths."""
    folder = tmp_path / "Tanager Court"
    shutil.copytree(kit / units / kind, folder)
    for stem in FIELD_TABLES:
        {"csv": fill_csv, "xlsx": fill_xlsx}[kind](folder / f"{stem}.{kind}", stem)
    text = (folder / "property.toml").read_text()
    text = text.replace('# input_crs = "EPSG:4326"', 'input_crs = "EPSG:4269"')
    (folder / "property.toml").write_text(
        text.replace('# crs = "EPSG:26914"', 'crs = "EPSG:26914"', 1)
    )
    (folder / "base.geojson").write_bytes((DEMO / "base.geojson").read_bytes())

    ours, original = build(folder), build(DEMO)

    codes = [
        sorted(a.findings.loc[a.findings["code"] != "read-note", "code"]) for a in (ours, original)
    ]
    assert codes[0] == codes[1]
    assert ours.name == "Tanager Court"
    depths = [a.layers["depth_readings"]["depth_m"] for a in (ours, original)]
    assert depths[0].to_numpy() == pytest.approx(depths[1].to_numpy(), abs=1e-4)
    apart = ours.layers["wire_runs"].hausdorff_distance(original.layers["wire_runs"], align=False)
    assert apart.max() < 1e-3
    assert ours.layers["zones"]["status"].tolist() == original.layers["zones"]["status"].tolist()
    notes = ours.findings.loc[ours.findings["code"] == "read-note", "message"]
    assert [m for m in notes if "no rows" in m or "no sheet" in m.lower()] != []  # readings


@pytest.mark.parametrize("kind", ["csv", "xlsx"])
def test_an_unfilled_template_says_that_it_has_no_rows(kit, kind):
    """Whoever builds too early is told which file to fill in."""
    with pytest.raises(
        ReadError, match=rf"locates\.{kind}: .*(no rows|no sheet holds rows).*; fill"
    ):
        wiremap.read_property(kit / "ft" / kind)


@pytest.mark.parametrize("stem", FIELD_TABLES)
def test_each_heading_is_read_as_its_declared_column(stem):
    """In both systems of units; nothing that reading makes itself is asked for."""
    for units in ("ft", "m"):
        for field in field_columns(FIELD_TABLES[stem], units=units):
            target, unit = find_target(field.heading, table=FIELD_TABLES[stem])
            assert target == field.column.name
            assert unit in {field.unit, ""} | ({""} if field.unit == "deg" else set())
            assert (unit != "") == field.column.name.endswith("_m")


def test_workbooks_offer_the_declared_words_and_explain_each_heading(kit):
    """Read back with openpyxl: lists where a set is closed, a note on every heading."""
    for stem, table in FIELD_TABLES.items():
        book = openpyxl.load_workbook(kit / "ft" / "xlsx" / f"{stem}.xlsx")
        (sheet,) = book.worksheets
        fields = field_columns(table, units="ft")
        assert [cell.value for cell in sheet[1]] == [field.heading for field in fields]
        lists = {
            str(v.sqref).split(":")[0]: v.formula1.strip('"').split(",")
            for v in sheet.data_validations.dataValidation
        }
        for cell, field in zip(sheet[1], fields, strict=True):
            assert field.column.meaning in cell.comment.text
            words = [str(word) for word in field.column.options or ()]
            assert lists.get(f"{cell.column_letter}2", []) == words
    locates = openpyxl.load_workbook(kit / "ft" / "xlsx" / "locates.xlsx").active
    assert locates["B1"].comment.text.endswith("check_point.")


def test_cells_of_a_workbook_stay_as_they_are_typed(kit):
    """Text cells: a spreadsheet makes dates of 3-4 and 3/8 otherwise."""
    sheet = openpyxl.load_workbook(kit / "m" / "xlsx" / "locates.xlsx").active
    formats = {d.number_format for d in sheet.column_dimensions.values() if d.has_style}
    assert formats == {"@"}


def test_every_feature_word_is_explained():
    """The field sheet lists each of them."""
    assert list(MEANINGS) == list(Feature)


def test_the_settings_template_changes_nothing_until_it_is_uncommented(tmp_path):
    """As handed out it is all defaults; with every line taken in it is valid, without findings."""
    path = tmp_path / "property.toml"
    path.write_text(write_settings_template())
    assert read_settings(tmp_path) == (Settings(), [])

    shown = write_settings_template().splitlines()[2:]
    lines = [line[2:] if line.startswith("# ") and line[2] in ascii_letters + '["' else line for line in shown
             if not line.startswith("# One") and not line.startswith("# A file")]  # fmt: skip
    path.write_text("\n".join(lines))
    settings, findings = read_settings(tmp_path)
    assert findings == []
    assert len(tomllib.loads(path.read_text())["coordinates"]) == 6
    assert settings.locating.lean_deg == Settings().locating.lean_deg
    assert settings.features == {"SOL": "valve"}


def test_nothing_is_overwritten(tmp_path):
    """A table that somebody filled in is left alone, and said to be; what is missing comes back."""
    first = wiremap.write_templates(tmp_path)
    assert (len(first.written), first.kept) == (11, ())
    filled = tmp_path / "csv" / "locates.csv"
    filled.write_text("mine")
    (tmp_path / "csv" / "zones.csv").unlink()

    again = wiremap.write_templates(tmp_path)

    assert again.written == (tmp_path / "csv" / "zones.csv",)
    assert filled in again.kept
    assert len(again.kept) == 10
    assert filled.read_text() == "mine"


def test_templates_are_the_same_bytes_each_time(tmp_path):
    """So that two offices can compare what they hand out."""
    for name in ("a", "b"):
        wiremap.write_templates(tmp_path / name)
    pairs = [
        (p, tmp_path / "b" / p.relative_to(tmp_path / "a")) for p in (tmp_path / "a").rglob("*.*")
    ]
    assert len(pairs) == 11
    assert [a.name for a, b in pairs if a.read_bytes() != b.read_bytes()] == []


@pytest.mark.parametrize(
    ("module", "extra", "left"), [("reportlab.pdfgen.canvas", "sheets", 10), ("xlsxwriter", "xlsx", 7)]
)  # fmt: skip
def test_what_is_not_installed_is_named_and_the_rest_is_written(
    tmp_path, monkeypatch, module, extra, left
):
    """Without reportlab no field sheet, without XlsxWriter no workbooks."""
    monkeypatch.setitem(sys.modules, module, None)
    done = wiremap.write_templates(tmp_path)
    assert [str(error) for error in done.missing] == [
        f"{done.missing[0].package} is needed for this; run: pip install 'wiremap[{extra}]'"
    ]
    assert len(done.written) == left
    assert (tmp_path / "csv" / "locates.csv").exists()


def test_a_folder_that_cannot_be_written_is_one_error(tmp_path):
    """A file stands where the folder goes."""
    (tmp_path / "out").touch()
    with pytest.raises(WriteError, match="the output must be a folder"):
        wiremap.write_templates(tmp_path / "out")
