"""Where the null of a bent wire stands, and corners that marks cut off."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from wiremap.formulas.bends import LARGEST_BULGE, bulge_near, bulge_ratio, cut_corners_m


def test_bulge_before_a_right_angle_is_the_published_one():
    """Check values, section 6, 90 degree bend of two half-infinite wires: distance from the corner
    in depths, and the bulge in depths (three digits)."""
    distance = np.array([0.0, 0.25, 0.5, 1.0, 1.5, 2.0, 3.0, 5.0, 10.0])
    bulge = [0.0, 0.164, 0.233, 0.258, 0.232, 0.200, 0.150, 0.096, 0.050]

    assert bulge_ratio(distance, np.full(9, 90.0)) == pytest.approx(bulge, abs=6e-4)


def test_greatest_bulge_is_a_quarter_of_the_depth():
    """Check values, section 6: maximum 0.2597 of the depth, 0.88 depths before the corner."""
    distance = np.linspace(0.5, 1.5, 101)
    bulge = bulge_ratio(distance, np.full(101, 90.0))

    assert bulge.max() == pytest.approx(0.2597, abs=5e-5)
    assert distance[bulge.argmax()] == pytest.approx(0.88, abs=0.02)
    assert pytest.approx(0.2597) == LARGEST_BULGE


def field_by_quadrature(x, y, turn):
    """Vertical field at depth 1 by Biot and Savart's law, summed over short pieces of wire."""
    s = np.concatenate([-np.logspace(5, -4, 60001), np.logspace(-4, 5, 60001)])
    wire = np.where(
        (s < 0)[:, None],
        np.column_stack([s, 0 * s]),
        np.column_stack([s * np.cos(turn), s * np.sin(turn)]),
    )
    piece = np.diff(wire, axis=0)
    middle = (wire[1:] + wire[:-1]) / 2
    reach = np.array([x, y]) - middle
    cross = piece[:, 0] * reach[:, 1] - piece[:, 1] * reach[:, 0]
    return (cross / ((reach**2).sum(axis=1) + 1.0) ** 1.5).sum()


@pytest.mark.parametrize(
    ("distance", "turn_deg"), [(0.5, 30.0), (1.0, 60.0), (2.0, 90.0), (1.0, 120.0)]
)
def test_the_null_is_where_the_summed_field_changes_sign(distance, turn_deg):
    """Law of Biot and Savart, summed numerically over the wire."""
    turn = np.radians(turn_deg)
    null = -float(bulge_ratio(np.array([distance]), np.array([turn_deg]))[0])

    assert field_by_quadrature(-distance, null - 0.003, turn) < 0
    assert field_by_quadrature(-distance, null + 0.003, turn) > 0


@given(st.floats(0.0, 30.0), st.sampled_from([30.0, 60.0, 90.0]))
def test_the_look_up_is_never_clearly_less_than_the_bulge(distance, turn_deg):
    """What goes into the uncertainty holds the exact bulge to a fiftieth of the depth, up to
    right angles."""
    exact = bulge_ratio(np.array([distance]), np.array([turn_deg]))[0]

    assert bulge_near(np.array([distance]), np.array([turn_deg]))[0] >= exact - 0.02


def test_a_straight_wire_has_no_bulge():
    """Nothing is added where the wire does not turn; missing input stays missing."""
    assert bulge_near(np.array([1.0]), np.array([0.0])).tolist() == [0.0]
    assert bulge_ratio(np.array([1.0]), np.array([0.0]))[0] == pytest.approx(0.0, abs=1e-9)
    assert np.isnan(bulge_ratio(np.array([np.nan]), np.array([90.0]))).all()


def test_a_square_corner_between_two_marks_is_cut_off():
    """Marks 2 m either side of a right angle: 4 m of wire, 2.83 m of chord."""
    excess = cut_corners_m([0, 4, 8, 10, 10, 10], [0, 0, 0, 2, 6, 10])
    assert excess.tolist() == pytest.approx([0, 0, 4 - np.sqrt(8), 0, 0])


def test_marked_corners_and_straight_lines_cut_nothing_off():
    """A turn at one mark only is a corner that was marked."""
    assert cut_corners_m([0, 4, 8, 8, 8], [0, 0, 0, 4, 8]).tolist() == pytest.approx([0] * 4)
    assert cut_corners_m([0, 4, 8], [0, 0, 0]).tolist() == pytest.approx([0, 0])
    assert cut_corners_m([0, 4], [0, 0]).tolist() == [0]


def test_a_jog_cuts_no_corner_off():
    """Left at one mark and right at the next: the legs do not meet between them."""
    assert cut_corners_m([0, 4, 8, 12, 16], [0, 0, 2, 2, 2]).tolist() == pytest.approx([0] * 4)
