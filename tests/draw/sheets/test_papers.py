"""Papers, scales, and the choice of a scale."""

from __future__ import annotations

import pytest

from wiremap.draw.sheets.papers import SCALES, choose_tiling, find_scale

WINDOW = (2000.0, 1500.0)


def test_scales_are_the_engineers():
    """1 in = 10 ft is 1:120 and 1 in = 100 ft is 1:1200 (twelve inches to the foot)."""
    ratios = [round(scale.ratio, 9) for scale in SCALES["ft"]]
    assert ratios == [120, 240, 360, 480, 600, 720, 1200]
    assert [round(scale.ratio, 9) for scale in SCALES["m"]] == [100, 200, 250, 500]


@pytest.mark.parametrize("units", ["ft", "m"])
def test_the_largest_scale_that_fits_one_sheet_is_taken(units):
    """The next larger would not fit."""
    scales = SCALES[units]
    wide = 1999.0 / scales[1].points_per_m
    tiling = choose_tiling((wide, 10.0), WINDOW, units=units)

    assert tiling.scale == scales[1]
    assert (tiling.columns, tiling.rows) == (1, 1)


def test_a_large_property_is_split_before_it_gets_too_small():
    """Two and a half sheets wide at 1 in = 40 ft is three sheets at that scale."""
    scale = find_scale("1in=40ft")
    tiling = choose_tiling((5000.0 / scale.points_per_m, 10.0), WINDOW, units="ft")

    assert (tiling.scale, tiling.columns, tiling.rows) == (scale, 3, 1)


def test_a_huge_property_takes_the_smallest_scale():
    """Nine sheets at most, as long as there is a smaller scale."""
    assert choose_tiling((5000.0, 5000.0), WINDOW, units="ft").scale.name == "1in=100ft"


def test_a_scale_that_is_asked_for_is_kept():
    """However many sheets it takes."""
    tiling = choose_tiling((600.0, 10.0), WINDOW, units="m", scale=find_scale("1:100"))

    assert tiling.scale.name == "1:100"
    assert tiling.columns == 9


def test_a_crowded_plan_is_drawn_larger():
    """If the labels need more room than one sheet gives, two sheets are taken."""
    roomy = choose_tiling((140.0, 160.0), WINDOW, units="ft")
    crowded = choose_tiling((140.0, 160.0), WINDOW, units="ft", least_pt2=2.5e6)

    assert roomy.columns * roomy.rows == 1
    assert crowded.scale.points_per_m > roomy.scale.points_per_m
    assert 1 < crowded.columns * crowded.rows <= 4
