"""Raw tables of field locates as the contract's table."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from wiremap.errors import ReadError
from wiremap.model.settings import Settings
from wiremap.model.tables import LOCATES_IN
from wiremap.plugins import FileOptions, Problem, RawTable
from wiremap.read.conversion import Source
from wiremap.read.locates import read_locates
from wiremap.read.reports import CELLS_REPORTED


def read(columns, *, given_settings=None, options=None, **raw):
    rows = len(next(iter(columns.values())))
    frame = pd.DataFrame(columns, index=pd.RangeIndex(2, 2 + rows))
    source = Source(
        "locates.csv", Settings(**(given_settings or {})), FileOptions(**(options or {}))
    )
    return read_locates(RawTable(frame, **raw), source)


HERE = {"point": ["P1"], "feature": ["path"], "lat": ["41.5"], "lon": ["-97.1"]}


def codes(found):
    return [f.code for f in found]


def test_every_declared_column_is_there_and_the_rest_is_kept():
    """A column beyond the contract stays under its own name, with a note."""
    locates, findings = read({**HERE, "Soil": ["clay"]})

    assert set(LOCATES_IN.column_names) < set(locates.columns)
    assert locates["Soil"].tolist() == ["clay"]
    assert locates["source_row"].tolist() == [2]
    assert [(f.code, f.column) for f in findings] == [("unmapped-column", "Soil")]


def test_a_bad_cell_is_emptied_and_named_while_its_row_stays():
    """File, row, column, value and remedy."""
    locates, findings = read({**HERE, "offset_left_in": ["soft"]})

    (finding,) = findings
    assert np.isnan(locates["offset_left_m"].iloc[0])
    assert (finding.source_file, finding.source_row) == ("locates.csv", 2)
    assert (finding.column, finding.value) == ("offset_left_in", "soft")
    assert finding.line.startswith("locates.csv row 2, offset_left_in: ")


def test_ten_thousand_bad_cells_are_not_ten_thousand_findings():
    """The first ones are named, the rest counted with the rows they span."""
    many = 10_000
    _, findings = read(
        {
            "lat": ["41.5"] * many,
            "lon": ["-97.1"] * many,
            "feature": ["path"] * many,
            "depth": [f"x{k}" for k in range(many)],
            "tone": ["clock not set"] * many,
        }
    )

    bad = [f for f in findings if f.code == "bad-value"]
    assert len(bad) == CELLS_REPORTED + 2
    depth, tone = bad[CELLS_REPORTED:]
    assert f"{many - CELLS_REPORTED} such cells" in depth.message
    assert f"got clock not set; {many} such cells" in tone.message


@pytest.mark.parametrize(
    ("header", "cell", "unit", "metres"),
    [("depth_in", "14 1/2", "m", 0.3683), ("depth", "14.5", "in", 0.3683), ("Depth (cm)", "36,5", "m", 0.365),
     ("depth", "1' 2 1/2\"", "m", 0.3683), ("depth_ft", "0.36 m", "m", 0.36)],
)  # fmt: skip
def test_lengths_take_their_unit_from_cell_then_suffix_then_setting(header, cell, unit, metres):
    """The contract's order."""
    locates, _ = read(
        {**HERE, header: [cell]}, given_settings={"coordinates": {"length_unit": unit}}
    )

    assert locates["depth_m"].iloc[0] == pytest.approx(metres)


def test_a_files_own_crs_stands_before_the_option_and_the_setting():
    """Vector files carry theirs."""
    plane = {"feature": ["path"], "easting": [500000.0], "northing": [4600000.0]}
    given_crs = {"coordinates": {"input_crs": "EPSG:26915"}}

    assert read(
        plane, given_settings=given_crs, options={"crs": "EPSG:26916"}, crs="EPSG:26914"
    ).frame["position_crs"].tolist() == ["EPSG:26914"]
    assert read(plane, given_settings=given_crs, options={"crs": "EPSG:26916"}).frame[
        "position_crs"
    ].tolist() == ["EPSG:26916"]
    assert read(plane, given_settings=given_crs).frame["position_crs"].tolist() == ["EPSG:26915"]


def test_degrees_beside_a_projected_crs_stand_in_its_geographic_one():
    """EPSG:26914 lies on NAD83, EPSG:4269 (EPSG register)."""
    locates, _ = read(HERE, given_settings={"coordinates": {"input_crs": "EPSG:26914"}})

    assert locates["position_crs"].tolist() == ["EPSG:4269"]


def test_of_two_kinds_of_position_the_one_of_the_crs_is_taken():
    """The other is kept as it came, never mixed in."""
    both = {**HERE, "easting": ["500000"], "northing": ["4600000"]}

    locates, _ = read(both)
    assert locates["easting"].isna().all()
    assert locates["easting as read"].tolist() == ["500000"]
    plane, _ = read(both, given_settings={"coordinates": {"input_crs": "EPSG:26914"}})
    assert plane["lon"].isna().all()
    assert plane["easting"].tolist() == [500000.0]


@pytest.mark.parametrize(
    ("header", "crs", "expected", "is_reported"),
    [
        ("easting_ftus", "EPSG:2264", 1000000.0, False),
        ("easting_m", "EPSG:2264", 1000000 * 3937 / 1200, True),
        ("easting_ft", "EPSG:2264", 1000000.0, True),
        ("easting_ft", "EPSG:26914", 304800.0, True),
        ("easting_m", "EPSG:26914", 1000000.0, False),
    ],
)
def test_a_suffix_that_disagrees_with_the_crs_is_converted_and_reported(
    header, crs, expected, is_reported
):
    """EPSG:2264 counts US survey feet of 1200/3937 m (EPSG register); ft beside it means that foot."""
    locates, findings = read(
        {"feature": ["path"], header: ["1000000"], "northing": ["500000"]},
        given_settings={"coordinates": {"input_crs": crs}},
    )

    assert locates["easting"].iloc[0] == pytest.approx(expected, rel=1e-12)
    assert ("unit-mismatch" in codes(findings)) is is_reported


def test_plane_coordinates_without_a_projected_crs_are_refused_with_the_setting():
    """Nothing could be placed."""
    with pytest.raises(ReadError, match=r"set input_crs under \[coordinates\]"):
        read({"feature": ["path"], "easting": ["500000"], "northing": ["4600000"]})
    plane = {"feature": ["path"], "X": ["500000"], "Y": ["4600000"]}
    with pytest.raises(ReadError, match="plane coordinates, but no CRS was named"):
        read(plane)
    with pytest.raises(ReadError, match="the CRS named for them, EPSG:4326, counts degrees"):
        read(plane, given_settings={"coordinates": {"input_crs": "EPSG:4326"}})


def test_a_table_without_a_position_is_refused_with_its_columns_and_a_line_to_paste():
    """The line names each column with the best guess."""
    with pytest.raises(
        ReadError,
        match=r'columns found are Ptt, Wert.*columns = \{ "Ptt" = "point", "Wert" = "\?" \}',
    ):
        read({"Ptt": ["1"], "Wert": ["2"]})


def test_a_list_of_numbers_is_refused_with_the_section_for_its_file():
    """The columns are guessed from their content: point, northing, easting, elevation, feature."""
    columns = {
        f"column {k}": [v] for k, v in enumerate(["101", "5000.0", "2000.0", "100.0", "VLV"], 1)
    }

    with pytest.raises(
        ReadError,
        match=r'files\."locates\.csv" = \{ header = false, columns = \["point", "northing", "easting", "elevation", "feature"\]',
    ):
        read(columns)


def test_ties_alone_are_a_position():
    """Old records hang on tapes and have no coordinates."""
    locates, findings = read(
        {
            "feature": ["valve"],
            "tie_a": ["SW"],
            "tie_a_dist": ["12' 6\""],
            "tie_b": ["SE"],
            "tie_b_dist": ["4.2"],
        }
    )

    assert locates["tie_a_dist_m"].tolist() == pytest.approx([3.81])
    assert findings == []


def test_both_coordinates_in_one_cell_are_parted():
    """The header says that the cell holds both."""
    locates, _ = read({"feature": ["path"], "Lat/Long": ["N 41 30.0 W 97 15.0"]})

    assert locates[["lat", "lon"]].iloc[0].tolist() == [41.5, -97.25]


def test_free_text_behind_a_code_becomes_the_note():
    """Before the row's own note."""
    locates, _ = read({**HERE, "feature": ["VLV 6in box"], "note": ["lid cracked"]})

    assert locates["feature"].tolist() == ["valve"]
    assert locates["note"].tolist() == ["6in box; lid cracked"]


def test_a_waypoints_description_tells_its_feature_where_its_symbol_does_not():
    """Symbols of handheld receivers are flags and pins; that is announced."""
    locates, findings = read(
        {
            "name": ["W1", "W2"],
            "sym": ["Flag, Blue", "Flag, Blue"],
            "desc": ["valve box", "lunch"],
            "lat": [41.5, 41.5],
            "lon": [-97.1, -97.1],
        }
    )

    assert locates["feature"].tolist() == ["valve", "Flag, Blue"]
    assert any("1 rows took their feature" in f.message for f in findings)


def test_a_name_that_says_what_the_point_is_gives_its_feature():
    """A placemark called VLV 3 is a valve; no column is missing then."""
    locates, findings = read({"point": ["VLV 3"], "lat": [41.5], "lon": [-97.1]})

    assert locates["feature"].tolist() == ["valve"]
    assert codes(findings) == ["read-note"]


def test_a_feature_column_of_the_contract_is_never_overruled():
    """The word that nobody knows stays, to be reported."""
    locates, _ = read({**HERE, "feature": ["banana"], "type": ["valve"]})

    assert locates["feature"].tolist() == ["banana"]


def test_date_and_operator_of_the_file_fill_rows_without():
    """[files] says them once for all rows."""
    locates, _ = read(
        {"lat": [1, 2], "lon": [1, 2], "feature": ["path", "path"], "date": ["2026-05-04", ""]},
        options={"date": "2026-06-01", "operator": "K"},
    )

    assert locates["date"].tolist() == ["2026-05-04", "2026-06-01"]
    assert locates["operator"].tolist() == ["K", "K"]


def test_problems_and_notes_of_the_reader_become_findings():
    """Nothing that the reader saw is lost."""
    _, findings = read(
        HERE, notes=("encoding cp1252",), problems=(Problem("too long", row=7, value="x"),)
    )

    assert [(f.code, f.source_row) for f in findings] == [("bad-value", 7), ("read-note", None)]


def test_no_feature_column_at_all_is_a_finding_with_the_columns():
    """The rows stay; the step that checks them reports them too."""
    _, findings = read({"lat": [1.0], "lon": [1.0]})

    assert "columns found are lat, lon" in findings[-1].message


def test_a_column_that_wiremap_needs_for_itself_is_kept_under_another_name():
    """A field file may have a column called geometry."""
    locates, _ = read({**HERE, "Geometry": ["x"], "FID": ["7"]})

    assert locates["Geometry as read"].tolist() == ["x"]
    assert locates["FID as read"].tolist() == ["7"]


def test_a_guess_that_most_cells_contradict_is_dropped():
    """A column headed 'Level' may hold words; it is kept and gives no false alarm."""
    three = {"feature": ["path"] * 3, "lat": ["41"] * 3, "lon": ["-97"] * 3}
    locates, findings = read({**three, "Level": ["upper", "lower", "7"]})

    assert locates["tone"].isna().all()
    assert locates["Level"].tolist() == ["upper", "lower", "7"]
    assert codes(findings) == ["unmapped-column"]
    kept, findings = read({**three, "Level": ["80", "x", "70"]})
    assert kept["tone"].tolist()[::2] == [80.0, 70.0]
    assert codes(findings) == ["guessed-column", "bad-value"]


def test_a_column_of_places_is_no_position_beside_degrees():
    """Latitude and longitude by meaning come before both in one cell."""
    locates, _ = read(
        {"feature": ["path"], "Latitude": ["41"], "Longitude": ["-97"], "Position": ["gate"]}
    )

    assert locates[["lat", "lon"]].iloc[0].tolist() == [41.0, -97.0]
    assert locates["Position"].tolist() == ["gate"]


CELL = st.one_of(
    st.text(max_size=12),
    st.sampled_from(["41.5", "-97.1", "nan", "inf", "1e308", "", "valve", "3;4", "2026-05-04"]),
)


@settings(deadline=None, max_examples=50)
@given(st.lists(st.tuples(CELL, CELL, CELL, CELL, CELL), min_size=1, max_size=6))
def test_every_row_comes_out_whatever_its_cells_hold(rows):
    """Numbers are finite or empty; each emptied cell has a finding."""
    names = ("point", "feature", "lat", "lon", "depth_in")
    locates, findings = read(
        {
            n: pd.Series(c, dtype="str").tolist()
            for n, c in zip(names, zip(*rows, strict=True), strict=True)
        }
    )

    assert len(locates) == len(rows)
    numbers = locates[["lat", "lon", "depth_m"]].to_numpy()
    assert not np.isinf(numbers).any()
    emptied = sum(bool(c.strip()) for row in rows for c in row[2:]) - np.isfinite(numbers).sum()
    assert emptied == len([f for f in findings if f.code == "bad-value"]) + sum(
        c.strip().lower() in {"-", "--", "---", "?"} for row in rows for c in row[2:]
    )


PLACED = {"lat": ["41.5", "41.6"], "lon": ["-97.1", "-97.2"]}


def test_a_column_of_names_tells_features_however_it_is_headed():
    """A receiver's export has point names and no column for what the points are."""
    locates, _ = read({"POINT_NAME": ["VALVE 3", "WIRE 1"], **PLACED})
    assert locates["feature"].tolist() == ["valve", "path"]


def test_a_number_of_rows_is_no_run():
    """``LINE`` counts the lines of a receiver's log."""
    locates, findings = read({"LINE": ["1", "2"], **PLACED, "feature": ["path", "path"]})
    assert locates["run"].isna().all()
    assert locates["LINE"].tolist() == ["1", "2"]
    assert ("unmapped-column", "LINE") in [(f.code, f.column) for f in findings]


def test_a_column_guessed_for_a_hemisphere_is_let_go_where_it_holds_numbers():
    """``ns`` may be the number of satellites: every position would be lost to it."""
    locates, findings = read({**PLACED, "ns": ["7", "8"], "feature": ["path", "path"]})
    assert locates["lat"].tolist() == [41.5, 41.6]
    assert "bad-value" not in codes(findings)


def test_times_of_day_join_the_dates_beside_them():
    """Receivers write date and time in two columns; marks are placed by both."""
    locates, _ = read(
        {**PLACED, "feature": ["path"] * 2, "Date": ["2026/05/04", ""], "Time": ["9:30:05.5", ""]}
    )
    assert locates["date"].tolist()[0] == "2026-05-04T09:30:05"
    assert locates["Time"].tolist()[0] == "9:30:05.5"


def test_headings_in_other_languages_are_understood():
    """German and Spanish point lists, with and without accents."""
    (german, _), (spanish, _) = (
        read(
            {head: ["1", "2"] for head in heads[:1]}
            | {heads[1]: ["532456.1", "532457.1"], heads[2]: ["5342123.4", "5342124.4"]}
            | {heads[3]: ["345.6", "345.7"], heads[4]: ["VLV", "VLV"]},
            given_settings={"coordinates": {"input_crs": "EPSG:25832"}},
        )
        for heads in (("Punkt", "Rechtswert", "Hochwert", "Höhe", "Code"),
                      ("Punto", "Este", "Norte", "Elevación", "Código"))
    )  # fmt: skip
    for locates in (german, spanish):
        assert locates[["point", "easting", "northing", "elevation_m"]].iloc[0].tolist() == [
            "1", 532456.1, 5342123.4, 345.6
        ]  # fmt: skip
        assert locates["feature"].tolist() == ["valve", "valve"]


def test_heights_are_in_the_unit_that_the_files_own_system_names():
    """A rover's export in state-plane feet carries degrees too, and heights in feet."""
    locates, findings = read(
        {**PLACED, "feature": ["path"] * 2, "Elevation": ["1000", "1001"],
         "CS name": ["NAD83 / Kansas North (ftUS) + NAVD88"] * 2}
    )  # fmt: skip
    assert locates["elevation_m"].tolist() == pytest.approx([304.8006, 305.1054], abs=1e-4)
    assert any("as column 'CS name' says" in f.message for f in findings)


def test_the_tilt_of_a_rover_is_no_lean_of_the_receiver():
    """An export of a tilting rover would turn depth pairs into many times their depth."""
    locates, _ = read({**HERE, "Tilt angle": ["3.2"]})
    assert locates["lean_deg"].isna().all()


def test_thirty_columns_that_nothing_uses_are_one_finding():
    """Receivers export many; each by itself would bury what matters."""
    _, findings = read({**HERE, **{f"extra {k}": ["1"] for k in range(30)}})
    (finding,) = findings
    assert finding.code == "unmapped-column"
    assert finding.message.startswith("30 columns were not used; they are kept: 'extra 0', ")


def test_a_thousand_problems_of_one_kind_are_not_a_thousand_findings():
    """A log that stood indoors: positions of 0 for an hour."""
    problems = tuple(Problem("both are 0", row=k) for k in range(1000))
    _, findings = read(HERE, problems=problems)
    bad = [f for f in findings if f.code == "bad-value"]
    assert len(bad) == CELLS_REPORTED + 1
    assert "950 more, up to row 999" in bad[-1].message


def test_a_list_of_degrees_without_a_header_is_suggested_as_such():
    """The line to paste names longitude first where the first number can be no latitude."""
    with pytest.raises(ReadError, match=r'columns = \["lon", "lat", "feature"\]'):
        read({"column 1": ["-97.1", "-97.2"], "column 2": ["41.5", "41.6"], "column 3": ["a", "b"]})


def test_an_empty_value_of_a_database_is_no_mark_over_the_null():
    """``null`` in a column of notes says that there is none; as a feature it is a path mark."""
    locates, _ = read({**PLACED, "feature": ["null", ""], "Remarks": ["", "null"]})
    assert locates["feature"].tolist()[0] == "path"
    locates, _ = read({**PLACED, "Type": ["FH", "FH"], "Remarks": ["null", "null"]})
    assert locates["feature"].tolist() == ["FH", "FH"]
