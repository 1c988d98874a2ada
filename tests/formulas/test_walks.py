"""Rows out of order, passes over one wire."""

import numpy as np
import pytest
from walked_wires import marks_on, noisy, straight, winding_wire

from wiremap.formulas.walks import is_disordered, split_passes, turn_back


def passes_of(xy, *, visits=None, sigma_m=0.02):
    sigma = np.full(len(xy), sigma_m)
    line = np.zeros(len(xy), dtype=np.int64)
    visits = np.zeros(len(xy), dtype=np.int64) if visits is None else visits
    return split_passes(xy, turn_back(xy, line, sigma), visits, sigma).tolist()


def test_walking_back_is_another_pass():
    """Out over eleven marks and back over ten."""
    out = straight(40.0)

    assert passes_of(np.concatenate([out, out[::-1][1:] + 0.05])) == [0] * 11 + [1] * 10


def test_a_walk_on_another_day_over_the_same_wire_is_another_pass():
    """Two visits in the same sense."""
    out = straight(40.0)
    visits = np.repeat([0, 1], 11)

    assert passes_of(np.concatenate([out, out + 0.05]), visits=visits) == [0] * 11 + [1] * 11


def test_a_walk_on_another_day_that_goes_on_is_no_other_pass():
    """The second half of the wire, walked the next day."""
    visits = np.repeat([0, 1], 11)

    assert (
        passes_of(np.concatenate([straight(40), np.add(straight(40), [44, 0])]), visits=visits)
        == [0] * 22
    )


@pytest.mark.parametrize("backward", [False, True])
def test_a_walk_on_another_day_that_starts_along_the_wire_and_goes_on_is_another_pass(backward):
    """The last 12 m again, for the sake of certainty, and 28 m more; either way round."""
    second = np.add(straight(40.0)[:: -1 if backward else 1], [28.5, 0.0])
    visits = np.repeat([0, 1], 11)

    assert passes_of(np.concatenate([straight(40.0), second]), visits=visits) == list(visits)


def test_a_branch_traced_on_another_day_is_no_other_pass():
    """It shares 12 m in the middle of the wire and leaves it sideways."""
    branch = [[12.0, 0], [16, 0], [20, 0], [24, 0], [24, 4], [24, 8], [24, 12], [24, 16], [24, 20]]
    visits = np.repeat([0, 1], [11, 9])

    assert set(passes_of(np.concatenate([straight(40.0), branch]), visits=visits)) == {0}


def test_a_wire_that_turns_back_beside_itself_is_one_pass():
    """A hairpin whose legs lie three metres apart is a wire, not a second walk."""
    out = straight(40.0)

    assert passes_of(np.concatenate([out, np.add(out[::-1], [0, 3.0])])) == [0] * 22


def test_shuffled_rows_are_no_passes():
    """Rows in no order at all double back at most marks."""
    xy = np.random.default_rng(5).permutation(straight(120.0))

    assert set(passes_of(xy)) == {0}


@pytest.mark.parametrize("rms_m", [0.02, 0.5, 1.0])
def test_walking_back_is_seen_through_coarse_positions(rms_m):
    """Twenty winding wires walked out and back: two passes each, cut within three marks."""
    rng = np.random.default_rng(8)
    for _ in range(20):
        wire = winding_wire(rng, 120.0)
        out, back = marks_on(wire, rng), marks_on(wire, rng)[::-1]
        xy = noisy(np.concatenate([out, back]), rng, rms_m)
        found = np.array(passes_of(xy, sigma_m=rms_m / np.sqrt(2)))

        assert found.max() == 1
        assert abs(int((found == 0).sum()) - len(out)) <= 3


def test_a_later_visit_that_walks_past_a_lost_end_is_another_pass():
    """The first visit lost the tone half way; the second walked the whole wire."""
    first, second = np.arange(0, 22, 4.0), np.arange(0, 62, 4.0)
    xy = np.column_stack([np.append(first, second), np.zeros(len(first) + len(second))])
    visits = np.repeat([0, 1], [len(first), len(second)])
    passes = split_passes(xy, np.zeros(len(xy), bool), visits, np.full(len(xy), 0.05))
    assert passes.tolist() == visits.tolist()


def test_coarse_marks_that_double_back_by_noise_are_in_order():
    """Marks 0.5 m apart with a standard deviation of 0.6 m, and the same marks shuffled."""
    rng = np.random.default_rng(5)
    along = np.column_stack([np.arange(0.0, 60.0, 0.5), np.zeros(120)])
    noisy = along + rng.normal(0, 0.6, along.shape)
    one, sigma_m = np.zeros(120, dtype=int), np.full(120, 0.6)

    assert not is_disordered(noisy, one, sigma_m).any()
    assert is_disordered(noisy[rng.permutation(120)], one, sigma_m).all()
