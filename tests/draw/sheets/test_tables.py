"""Tables that go on: no row is lost, no column leaves its place."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wiremap.draw.sheets.flow import fill_frames
from wiremap.draw.sheets.tables import Column, Table

COLUMNS = (Column("Zone"), Column("Path, ft", is_number=True), Column("What to do", is_prose=True))
ROWS = st.lists(
    st.tuples(
        st.text("abc ", max_size=9), st.integers(0, 99_999).map(str),
        st.text("dig by hand ", max_size=160),
    ),
    min_size=1, max_size=60,
)  # fmt: skip


def _table(rows):
    return Table("Schedule", COLUMNS, tuple(rows), 8.0, "A note.")


@given(ROWS, st.floats(180, 900), st.floats(130, 500))
def test_every_row_lands_in_some_frame_once(rows, width, height):
    """Whatever the size of the frames, the rests start where the parts ended."""
    rest, seen = _table(rows), 0
    while rest is not None:
        before = len(rest.rows)
        piece, rest = rest.take(width, height)
        assert piece is not None
        assert piece.height_pt <= height + 1e-6
        seen += before - (len(rest.rows) if rest else 0)
    assert seen == len(rows)


@given(ROWS, st.floats(180, 900))
def test_columns_fill_the_width_and_figures_are_never_broken(rows, width):
    """A broken figure is a wrong figure."""
    table = _table(rows)
    widths = table.widths(width)

    assert sum(widths) == pytest.approx(width, abs=0.1)
    assert all(len(table._cells(row, widths)[1]) == 1 for row in rows)


def test_a_table_waits_for_a_frame_that_holds_its_head_and_two_rows():
    """A heading alone at the foot of a column helps nobody."""
    table = _table([("1", "2", "three")] * 9)
    piece, rest = table.take(300.0, 40.0)

    assert piece is None
    assert rest is table


def test_a_long_narrow_table_stands_side_by_side():
    """Four folds of a two-column table are a quarter as high."""
    narrow = Table("Equipment", (Column("A"), Column("B")), tuple([("x", "y")] * 40), 8.0)
    tall, _ = narrow.take(60.0, 2000.0)
    folded, _ = narrow.take(600.0, 2000.0)

    assert folded.height_pt < 0.4 * tall.height_pt


def test_blocks_fill_the_frames_in_order():
    """What does not fit waits for the next sheet."""
    blocks = [_table([("1", "2", "three")] * 90), _table([("4", "5", "six")] * 3)]
    placed, left = fill_frames(blocks, [(0, 0, 300, 200), (320, 0, 620, 120)])

    assert [place.left for place in placed] == [0, 320]
    assert len(left) == 2
    assert left[0].is_continued
