"""Rows put back into the order walked."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from walked_wires import legs_wire, marks_on, noisy, straight, winding_wire

from wiremap.formulas.sequences import resequence


def in_order(xy, sigma_m=0.02):
    return resequence(xy, np.full(len(xy), sigma_m))


def test_two_swapped_rows_are_put_back():
    """A swap costs two steps of walking."""
    xy = straight(60.0)
    given_order = np.arange(16)
    given_order[[6, 7]] = given_order[[7, 6]]

    assert given_order[in_order(xy[given_order])].tolist() == list(range(16))


def test_a_row_at_the_end_of_the_file_goes_back_to_its_place():
    """A mark written last, though it stands in the middle."""
    xy = straight(60.0)
    given_order = np.append(np.delete(np.arange(16), 5), 5)

    assert given_order[in_order(xy[given_order])].tolist() == list(range(16))


@given(st.integers(0, 10**6))
def test_shuffled_rows_of_a_winding_wire_come_back_in_order(seed):
    """The shortest way through all marks is the wire, walked either way."""
    rng = np.random.default_rng(seed)
    xy = marks_on(winding_wire(rng, 80.0), rng)
    ends_apart = np.hypot(*(xy[0] - xy[-1])) > 30.0
    shuffled = rng.permutation(len(xy))

    order = shuffled[in_order(xy[shuffled])]

    walked = np.hypot(*np.diff(xy[order], axis=0).T).sum()
    assert walked <= np.hypot(*np.diff(xy, axis=0).T).sum() * (1.0 if ends_apart else 1.2) + 1e-9


@given(st.integers(0, 10**6))
def test_rows_in_order_stay_in_order(seed):
    """A walk over legs with marks as accurate as they should be is left alone."""
    rng = np.random.default_rng(seed)
    rms_m = rng.choice([0.02, 0.3, 1.0])
    xy = noisy(marks_on(legs_wire(rng), rng), rng, rms_m)

    assert in_order(xy, rms_m / np.sqrt(2)).tolist() == list(range(len(xy)))


def test_few_or_very_many_rows_are_left_alone():
    """Two points have one line only; above the limit the work would grow too far."""
    assert in_order(np.array([[0.0, 0], [1, 1]])).tolist() == [0, 1]
    zigzag = np.column_stack([np.arange(1501) % 2 * 50.0, np.arange(1501.0)])
    assert in_order(zigzag).tolist() == list(range(1501))
