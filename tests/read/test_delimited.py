"""Text tables: cells, row numbers, ragged rows, header-less lists."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from wiremap.errors import ReadError
from wiremap.plugins import FileOptions
from wiremap.read.delimited import READER, read_delimited


@pytest.fixture
def read(tmp_path):
    def read_text(text, **options):
        path = tmp_path / "locates.csv"
        path.write_bytes(text.encode() if isinstance(text, str) else text)
        (table,) = read_delimited(path, FileOptions(**options))
        return table

    return read_text


def test_the_index_is_the_line_that_a_person_sees(read):
    """The header is line 1; a blank line counts but is no row."""
    table = read("point,note\nP1,a\n\nP2,b\n,\nP3,c\n")

    assert table.frame.index.tolist() == [2, 4, 6]
    assert table.frame["point"].tolist() == ["P1", "P2", "P3"]


def test_a_line_end_inside_quotes_counts_as_a_line_but_not_as_a_row(read):
    """The row starts where its first cell stands."""
    table = read('point,note\nP1,"two\nlines"\nP2,b\n')

    assert table.frame.index.tolist() == [2, 4]
    assert table.frame.loc[2, "note"] == "two\nlines"


def test_quoted_line_ends_in_the_header_shift_the_rows(read):
    """Spreadsheets write headers over two lines."""
    table = read('"Pt\nNo",note\nP1,a\n')

    assert table.frame.columns.tolist() == ["Pt No", "note"]
    assert table.frame.index.tolist() == [3]


def test_identifiers_keep_their_zeros_and_numbers_are_numbers(read):
    """Only columns that the contract knows as numbers are parsed as such."""
    table = read("point,lat,box\n007,41.50,1.10\n008,,2\n")

    assert table.frame["point"].tolist() == ["007", "008"]
    assert table.frame["box"].tolist() == ["1.10", "2"]
    np.testing.assert_array_equal(table.frame["lat"], [41.5, np.nan])


def test_a_number_column_with_one_word_keeps_every_cell_as_written(read):
    """The word is reported later, with the cell as the file has it."""
    table = read("point,lat\nP1,41.50\nP2,soft\n")

    assert table.frame["lat"].tolist() == ["41.50", "soft"]


def test_a_row_too_long_is_set_aside_with_its_line(read):
    """Cells beyond the header may have shifted the rest; blank ones have not."""
    table = read("point,note\nP1,a\nP2,b,c\nP3,d,,\n")

    assert table.frame["point"].tolist() == ["P1", "P3"]
    (problem,) = table.problems
    assert (problem.row, problem.value) == (3, "P2 | b | c")


def test_a_row_too_short_is_kept_and_noted(read):
    """Spreadsheets leave trailing empty cells out."""
    table = read("point,lat,note\nP1,41.5\n")

    assert table.frame.iloc[0].tolist() == ["P1", "41.5", ""]
    assert "fewer cells" in table.notes[0]


def test_a_long_row_and_a_short_row_do_not_cancel_out(read):
    """The count of delimiters alone would not show it."""
    for rows, long_row in (
        ("1,2,3,4\n5,6\n", 2),
        ("7,8,9\n1,2,3,4\n5,6\n", 3),
        ("5,6\n1,2,3,4\n", 3),
    ):
        table = read("a,b,c\n" + rows)

        assert [p.row for p in table.problems] == [long_row]
        assert len(table.frame) == rows.count("\n") - 1


def test_a_column_twice_is_kept_twice_and_reported(read):
    """Nothing is lost to a name that is taken."""
    table = read("point,depth,depth\nP1,0.3,0.4\n")

    assert table.frame.columns.tolist() == ["point", "depth", "depth (2)"]
    assert table.problems[0].column == "depth"


def test_a_stray_quote_swallows_no_rows(read):
    """A quote that opens a cell and never closes would take the rows below it."""
    table = read('point,depth,note\nP1,"14 1/2,a\nP2,15,b\nP3,16,c\n')

    assert table.frame["point"].tolist() == ["P1", "P2", "P3"]
    assert "never closed" in table.notes[-1]


def test_a_survey_list_without_header_takes_its_columns_from_the_options(read):
    """Free text behind the code stays in the last column where white space parts the cells."""
    names = ("point", "northing", "easting", "elevation", "feature")
    table = read("101 5000.0 2000.0 100.0 VLV 6in box\n102 5001.0 2001.0 100.1 PATH\n",
                 header=False, columns=names)  # fmt: skip

    assert table.frame.columns.tolist() == list(names)
    assert table.frame["feature"].tolist() == ["VLV 6in box", "PATH"]
    assert table.frame.index.tolist() == [1, 2]


def test_a_list_of_numbers_without_options_is_read_without_header(read):
    """Its first row is a point, not names; that is noted."""
    table = read("101,5000.0,2000.0\n102,5001.0,2001.0\n")

    assert table.frame.columns.tolist() == ["column 1", "column 2", "column 3"]
    assert len(table.frame) == 2
    assert "no header row was found" in table.notes


def test_title_rows_above_the_header_are_left_aside(read):
    """The header is found below them and rows keep their line numbers."""
    table = read("Maple Court,,\n,,\npoint,lat,lon\nP1,41.5,-97.1\n")

    assert table.frame.columns.tolist() == ["point", "lat", "lon"]
    assert table.frame.index.tolist() == [4]


def test_semicolons_and_decimal_commas_are_announced(read):
    """Numbers stay as written; the table says how to read them."""
    table = read("point;lat\nP1;41,5\n")

    assert table.decimal_comma
    assert table.notes == ("cells parted by ;", "decimal comma")


def test_a_file_with_a_header_alone_is_refused(read):
    """There is nothing to build from."""
    with pytest.raises(ReadError, match="a header and no rows"):
        read("point,lat,lon\n")


def test_the_reader_takes_text_files():
    """It is the one that the registry finds by these endings."""
    assert {".csv", ".tsv", ".txt", ".asc", ".pnt"} <= set(READER.suffixes)


@settings(max_examples=60)
@given(
    st.lists(
        st.lists(st.text(st.characters(codec="utf-8", exclude_characters="\r\0"), max_size=12),
                 min_size=2, max_size=2),
        min_size=1, max_size=6,
    )
)  # fmt: skip
def test_cells_written_by_the_csv_module_come_back(tmp_path_factory, rows):
    """Every row that holds something is read, with its cells, whatever they contain."""
    import csv
    import io

    stream = io.StringIO()
    csv.writer(stream, quoting=csv.QUOTE_ALL).writerows([["point", "note"], *rows])
    path = tmp_path_factory.mktemp("csv") / "locates.csv"
    path.write_bytes(stream.getvalue().encode())
    held = [row for row in rows if any(c.strip() for c in row)]
    if not held:
        return
    (table,) = read_delimited(path, FileOptions(delimiter=",", header=True))

    if not table.notes:
        assert table.frame.to_numpy().tolist() == held
    assert len(table.frame) + len(table.problems) >= len(held)


LINE = st.text(st.characters(codec="utf-8", exclude_characters='"\r\n\0'), max_size=20)


@settings(deadline=None, max_examples=80)
@given(st.lists(LINE, min_size=1, max_size=8))
def test_every_line_that_holds_something_is_a_row_or_a_problem(tmp_path_factory, lines):
    """By its line number, whatever commas it has too many or too few."""
    held = {k for k, line in enumerate(lines, 2) if any(c.strip() for c in line.split(","))}
    if not held:
        return
    path = tmp_path_factory.mktemp("csv") / "locates.csv"
    path.write_bytes(("point,lat,note\n" + "\n".join(lines)).encode())
    (table,) = read_delimited(path, FileOptions(delimiter=",", header=True))

    assert set(table.frame.index) | {p.row for p in table.problems} == held
    assert table.frame.index.is_unique


def test_two_hundred_thousand_rows_are_parsed_as_a_whole(read, monkeypatch):
    """The line-by-line parser is not used for a regular file."""
    import wiremap.read.delimited as module

    monkeypatch.setattr(module, "_gather", None)
    rows = "".join(f"P{k},41.{k % 10}\n" for k in range(2000))

    assert len(read("point,lat\n" + rows).frame) == 2000


POST_PROCESSED = """\
% program   : post-processing
% (lat/lon/height=WGS84/ellipsoidal,Q=1:fix,2:float)
%  GPST                  latitude(deg) longitude(deg)  height(m)   Q  ns   sdn(m)   sde(m)
2026/05/04 18:05:30.000   40.0712001  -105.2297415  1655.3160   1   7   0.0068   0.0059
2026/05/04 18:05:31.000   40.0712101  -105.2297415  1655.3260   2   7   0.0968   0.0859
"""
"""Shape of the position files of a widely used open program for post-processing."""


def test_a_header_behind_a_percent_sign_and_times_without_a_heading_are_read(read):
    """One heading stands above the date and the time of day, two cells to white space."""
    table = read(POST_PROCESSED)

    assert table.frame.columns.tolist()[:4] == ["GPST", "time", "latitude(deg)", "longitude(deg)"]
    assert table.frame["latitude(deg)"].astype(float).tolist() == [40.0712001, 40.0712101]
    assert table.frame.index.tolist() == [4, 5]


def test_remarks_above_a_header_are_not_taken_for_it(read):
    """Lines of comments may be fuller than the header; one alone may be the header itself."""
    remarks = (
        "# made by hand, in the field, with care, twice\n# units: metres, degrees, none, none\n"
    )
    table = read(remarks + "point,lat,lon,note\nP1,41.5,-97.1,gate\n")
    alone = read("# point,lat,lon,note\nP1,41.5,-97.1,gate\n")

    assert (
        table.frame.columns.tolist()
        == alone.frame.columns.tolist()
        == ["point", "lat", "lon", "note"]
    )
    assert table.frame.index.tolist() == [4]


def test_a_quote_behind_a_space_is_a_quote(read):
    """As some programs write lists: a comma, a space, a quoted text with a comma in it."""
    table = read('point,lat,note\nP1, 41.5, "gate, north"\nP2, 41.6, "tree"\n')

    assert table.frame["note"].tolist() == ["gate, north", "tree"]
