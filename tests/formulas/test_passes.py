"""Several passes averaged into one line."""

import numpy as np
import pytest
from walked_wires import noisy, straight

from wiremap.formulas.passes import Common, Marks, merge_passes

NOTHING = Common(0.0, 0.0)


def merge(passes, variances, keep=None, reach_m=3.0, *, visit=None, common=NOTHING):
    xy = np.concatenate(passes)
    number = np.repeat(np.arange(len(passes)), [len(p) for p in passes])
    variance = np.repeat(np.array(variances, dtype=float), [len(p) for p in passes])
    kept = np.zeros(len(xy), dtype=bool)
    kept[list(keep or ())] = True
    visits = number if visit is None else np.array(visit)[number]
    marks = Marks(xy, variance, number, visits, kept)
    return merge_passes(marks, reach_m=reach_m, common=common)


def test_passes_are_weighted_by_one_over_their_variance():
    """Offsets 0 and 1 m with variances 0.01 and 0.04: mean 0.2 m, variance 0.008 (weights 4 to 1)."""
    line = straight(40.0)
    merged = merge([line, np.add(line, [0, 1.0])], [0.01, 0.04])

    assert merged.xy[:, 1] == pytest.approx(np.full(11, 0.2))
    assert merged.shrink == pytest.approx(np.full(11, 0.8))
    assert merged.passes.tolist() == [2] * 11


def test_averaging_does_not_cut_a_corner():
    """The second pass has no mark at the corner; the corner stays where the first pass has it."""
    corner = np.array([[0.0, 0], [4, 0], [8, 0], [8, 4], [8, 8]])
    other = np.array([[0.0, 0], [3, 0], [6, 0], [8, 2], [8, 5], [8, 8]])

    merged = merge([corner, other], [0.01, 0.01])

    assert np.abs(merged.xy - [8, 0]).sum(axis=1).min() == pytest.approx(0.0, abs=1e-6)


def test_the_line_goes_on_where_only_one_pass_went():
    """The second pass walks back and 12 m beyond the start of the first one."""
    first, second = straight(40.0), straight(52.0)[::-1] - [12, 0]
    merged = merge([first, second], [0.01, 0.01])

    assert merged.xy[0] == pytest.approx([-12, 0])
    assert merged.xy[-1] == pytest.approx([40, 0])
    assert merged.passes[0] == 1
    assert merged.passes[-1] == 2


@pytest.mark.parametrize("later_first", [False, True])
def test_a_loop_walked_by_halves_is_the_whole_loop(later_first):
    """Round a circle of 20 m radius by two walks that overlap where they part and where they meet."""
    angle = np.radians(np.arange(0.0, 361.0, 10.0))
    circle = 20.0 * np.column_stack([np.cos(angle), np.sin(angle)])
    halves = [circle[:22], np.concatenate([circle[17:], circle[1:3]])]
    merged = merge(halves[::-1] if later_first else halves, [0.01, 0.01])
    length = np.hypot(*np.diff(merged.xy, axis=0).T).sum()

    assert length == pytest.approx(2 * np.pi * 20.0, rel=0.1)
    assert np.hypot(*merged.xy.T) == pytest.approx(np.full(len(merged.xy), 20.0), abs=0.3)


def test_the_line_keeps_the_sense_of_the_first_pass():
    """A longer second pass is the base, but the first one says where the line begins."""
    first, second = straight(40.0)[::-1], straight(60.0) - [10, 0]
    merged = merge([first, second], [0.01, 0.01])

    assert merged.xy[0, 0] > merged.xy[-1, 0]


def test_a_device_on_the_second_pass_becomes_a_vertex_once():
    """A valve seen on both passes is one vertex; a splice seen on the second one is added."""
    line = straight(40.0)
    both = np.concatenate([line, [[42.0, 0.0]]])
    merged = merge(
        [both, np.insert(both, 5, [[17.0, 0.3]], axis=0)], [0.01, 0.01], keep=[11, 17, 24]
    )

    assert 17 in merged.row
    assert sum(row in (11, 24) for row in merged.row) == 1


def test_a_stray_mark_between_the_ends_moves_nothing():
    """Farther off than the reach: left out of the average."""
    line, stray = straight(80.0), straight(40.0)
    stray[5, 1] = 9.0
    merged = merge([line, stray], [0.01, 0.01])

    assert merged.xy == pytest.approx(line)


def test_ten_passes_are_more_accurate_than_one():
    """Mean error falls about as one over the square root of the passes."""
    rng = np.random.default_rng(2)
    passes = [noisy(straight(200.0), rng, 0.5) for _ in range(10)]

    merged = merge(passes, [0.125] * 10)

    assert merged.xy[:, 1].std() < 0.6 * passes[0][:, 1].std()
    assert (np.diff(merged.xy[:, 0]) > 0).all()


@pytest.mark.parametrize(
    ("visit", "common", "shrink"),
    [((0, 1), (0.84, 0.2), 0.6), ((0, 0), (0.84, 0.2), 0.92), ((0, 1), (1.0, 1.0), 1.0)],
)
def test_what_passes_have_in_common_does_not_average_out(visit, common, shrink):
    """Two equal errors with correlation r have a mean of variance (1 + r) / 2."""
    line = straight(40.0)
    merged = merge([line, line], [0.04, 0.04], visit=visit, common=Common(*common))

    assert merged.shrink == pytest.approx(np.full(11, shrink))


def test_passes_of_one_visit_count_as_one_where_all_their_error_is_common():
    """Three walks of one day at 0 m, one of another day at 1 m, all as accurate: 0.5 m."""
    line = straight(40.0)
    passes = [line, line, line, np.add(line, [0.0, 1.0])]
    merged = merge(passes, [0.25] * 4, visit=(0, 0, 0, 1), common=Common(1.0, 0.0))

    assert merged.xy[:, 1] == pytest.approx(np.full(11, 0.5))
    assert merged.shrink == pytest.approx(np.full(11, 0.5))


def test_passes_that_end_together_end_at_their_mean():
    """Ends 0.6 m apart with 0.3 m standard deviation are one end; ends 8 m apart are not."""
    line = straight(40.0)
    near = merge([line, np.add(line, [0.6, 0.0])], [0.09, 0.09])
    far = merge([line, np.add(line, [8.0, 0.0])], [0.09, 0.09])

    assert near.xy[[0, -1], 0] == pytest.approx([0.3, 40.3])
    assert far.xy[[0, -1], 0] == pytest.approx([0.0, 48.0])


def test_a_mark_at_a_corner_that_the_other_pass_went_past_is_kept():
    """Marks of 2 cm at (6, 0) and (8, 2) leave the corner between them to the second pass."""
    first = np.array([[0.0, 0], [3, 0], [6, 0], [8, 2], [8, 5], [8, 8]])
    second = np.array([[1.0, 0], [4.5, 0], [8, 0], [8, 3.5], [8, 7]])
    merged = merge([first, second], [0.0002, 0.0002])

    assert np.abs(merged.xy - [8, 0]).sum(axis=1).min() < 0.05
