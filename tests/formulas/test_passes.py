"""Several passes averaged into one line."""

import numpy as np
import pytest
from walked_wires import noisy, straight

from wiremap.formulas.passes import merge_passes


def merge(passes, variances, keep=None, reach_m=3.0):
    xy = np.concatenate(passes)
    number = np.repeat(np.arange(len(passes)), [len(p) for p in passes])
    variance = np.repeat(np.array(variances, dtype=float), [len(p) for p in passes])
    kept = np.zeros(len(xy), dtype=bool)
    kept[list(keep or ())] = True
    return merge_passes(xy, variance, number, kept, reach_m=reach_m)


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

    assert np.abs(merged.xy - [8, 0]).sum(axis=1).min() == pytest.approx(0.0, abs=1e-9)


def test_the_line_goes_on_where_only_one_pass_went():
    """The second pass walks back and 12 m beyond the start of the first one."""
    first, second = straight(40.0), straight(52.0)[::-1] - [12, 0]
    merged = merge([first, second], [0.01, 0.01])

    assert merged.xy[0] == pytest.approx([-12, 0])
    assert merged.xy[-1] == pytest.approx([40, 0])
    assert merged.passes[0] == 1
    assert merged.passes[-1] == 2


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
