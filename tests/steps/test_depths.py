"""Depths of placed locates: pairs, located pairs, direct depths, slopes and uneven pairs.

Offsets on slopes are from the project's table of check values, section on locating physics.
"""

from __future__ import annotations

from dataclasses import replace

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
from field import Hand
from field_property import FRAME, PLANE, Scene, changed, walk

from wiremap.model.settings import Settings, Thresholds
from wiremap.model.tables import DEPTH_READINGS
from wiremap.steps.depths import reduce_depths

SETTINGS = Settings()
FLAT, UP, DOWN = 0.30, 0.36984, 0.25897  # level, and ten degrees of cross slope


def locate(rows, *, step_m=4.0, heading_deg=0.0):
    """Rows placed along one run heading north, unless they say where they stand."""
    table = pd.DataFrame(rows)
    n = len(table)
    table["point"] = table.get("point", pd.Series([f"P{i}" for i in range(n)]))
    table["feature"] = table.get("feature", pd.Series(["path"] * n)).fillna("path")
    table["source_file"], table["source_row"] = "a.csv", np.arange(n) + 2
    x = table.pop("x") if "x" in table else np.zeros(n)
    y = table.pop("y") if "y" in table else np.arange(n) * step_m
    placed = gpd.GeoDataFrame(table, geometry=gpd.points_from_xy(x, y), crs=PLANE)
    on_run = placed[placed["feature"] != "offset_mark"]
    points = on_run.assign(
        locate=on_run.index,
        run="A",
        chainage_m=on_run.geometry.y,
        heading_deg=heading_deg,
        on_line=True,
    ).reset_index(drop=True)
    return placed, points


def reduce(rows, *, settings=SETTINGS, frame=FRAME, surface=None, **more):
    placed, points = locate(rows, **more)
    return reduce_depths(placed, points, frame=frame, settings=settings, surface=surface)


def codes(depths):
    return [f.code for f in depths.findings]


def test_both_sides_give_depth_and_slope():
    """Check values, 10 degrees: uphill 0.36984, downhill 0.25897, depth 0.30; left uphill."""
    depths = reduce([{"offset_left_m": UP, "offset_right_m": DOWN}])
    row = depths.readings.iloc[0]
    assert (row["method"], row["slope_source"], row["run"]) == ("two_sided", "pair", "A")
    assert row["depth_m"] == pytest.approx(0.30, abs=1e-5)
    assert row["cross_slope_deg"] == pytest.approx(10, abs=1e-3)
    assert 0.02 < row["depth_sigma_m"] < 0.03


def test_one_side_takes_the_slope_from_the_row():
    """Check values, 10 degrees noted: either side alone gives 0.30 m."""
    depths = reduce(
        [
            {"offset_left_m": UP, "cross_slope_deg": 10.0},
            {"offset_right_m": DOWN, "cross_slope_deg": 10.0},
        ]
    )
    assert depths.readings["depth_m"].tolist() == pytest.approx([0.30, 0.30], abs=1e-5)
    assert depths.readings["method"].tolist() == ["one_sided"] * 2
    assert depths.readings["slope_source"].tolist() == ["noted"] * 2


def test_one_side_takes_the_slope_from_elevations_around():
    """Ground rising 10 degrees to the west, the run heading north: left is uphill."""
    rng = np.random.default_rng(1)
    around = [{"feature": "sensor", "x": x, "y": y, "elevation_m": 50 - np.tan(np.radians(10)) * x}
              for x, y in rng.uniform(-8, 8, (14, 2))]  # fmt: skip
    depths = reduce([{"offset_left_m": UP, "x": 0.0, "y": 0.0, "elevation_m": 50.0}, *around])
    row = depths.readings.iloc[0]
    assert row["slope_source"] == "ground"
    assert row["cross_slope_deg"] == pytest.approx(10, abs=1)
    assert row["depth_m"] == pytest.approx(0.30, abs=0.01)


def test_one_side_takes_the_slope_from_a_surface():
    """A base surface rising 10 degrees to the west."""
    depths = reduce(
        [{"offset_left_m": UP}], surface=lambda x, y: 50 - np.tan(np.radians(10)) * x + 0 * y
    )
    assert depths.readings["depth_m"].tolist() == pytest.approx([0.30], abs=0.015)
    assert depths.readings["slope_source"].tolist() == ["ground"]


def test_one_side_takes_the_slope_from_neighbouring_pairs():
    """Six two-sided pairs on 10 degrees around a lone right offset."""
    pair = {"offset_left_m": UP, "offset_right_m": DOWN}
    depths = reduce([pair, pair, pair, {"offset_right_m": DOWN}, pair, pair, pair])
    row = depths.readings.iloc[3]
    assert (row["method"], row["slope_source"]) == ("one_sided", "neighbours")
    assert row["depth_m"] == pytest.approx(0.30, abs=0.015)


def test_an_unknown_slope_stays_in_the_sigma():
    """A lone right offset of which nothing is known: wider than with the slope noted."""
    lone = reduce([{"offset_right_m": FLAT}]).readings.iloc[0]
    noted = reduce([{"offset_right_m": FLAT, "cross_slope_deg": 0.0}]).readings.iloc[0]
    assert lone["slope_source"] == "assumed"
    assert lone["depth_sigma_m"] > 1.3 * noted["depth_sigma_m"]


def test_another_lean_and_a_raised_receiver_are_taken_into_account():
    """Check values: 30 degrees 0.17321 m, 60 degrees 0.51962 m; 0.1 m above ground 0.40 m."""
    depths = reduce([
        {"offset_left_m": 0.17321, "offset_right_m": 0.17321, "lean_deg": 30.0},
        {"offset_left_m": 0.51962, "offset_right_m": 0.51962, "lean_deg": 60.0},
        {"offset_left_m": 0.40, "offset_right_m": 0.40, "receiver_height_m": 0.1},
    ])  # fmt: skip
    assert depths.readings["depth_m"].tolist() == pytest.approx([0.30] * 3, abs=2e-5)
    assert depths.findings == []


def test_the_propertys_own_lean_is_the_default():
    """settings.locating.lean_deg 30: 0.17321 m reads as 0.30 m."""
    settings = Settings(locating=SETTINGS.locating.model_copy(update={"lean_deg": 30.0}))
    depths = reduce([{"offset_left_m": 0.17321, "offset_right_m": 0.17321}], settings=settings)
    assert depths.readings["depth_m"].tolist() == pytest.approx([0.30], abs=0.01)


def located(offset_m, *, rms=0.02, placed_by="gnss", right=False, ahead_m=0.0):
    marks = [{"point": "P", "x": 0.0, "y": 0.0},
             {"point": "L", "feature": "offset_mark", "pair": "P", "x": -offset_m, "y": ahead_m}]  # fmt: skip
    if right:
        marks.append(
            {"point": "R", "feature": "offset_mark", "pair": "P", "x": offset_m, "y": ahead_m}
        )
    return [{**mark, "position_rms_m": rms, "placed_by": placed_by} for mark in marks]


def test_a_located_pair_gives_its_depth_by_the_distance_of_its_positions():
    """Positions good to 2 cm of each other, 0.30 m apart: depth 0.30 m at the path mark."""
    depths = reduce([*located(0.30)])
    row = depths.readings.iloc[0]
    assert (row["point"], row["method"], row["chainage_m"]) == ("P", "located_pair", 0.0)
    assert row["depth_m"] == pytest.approx(0.30, abs=0.01)


def test_two_located_marks_make_a_two_sided_pair():
    """Left and right by the heading: the slope is the pair's own."""
    depths = reduce(located(0.30, right=True))
    assert len(depths.readings) == 1
    assert depths.readings.loc[0, "slope_source"] == "pair"
    assert depths.readings.loc[0, "depth_m"] == pytest.approx(0.30, abs=0.01)


def test_plane_distances_are_taken_to_the_ground():
    """Where a plane metre is 1.02 ground metres the depth is that much smaller."""
    frame = replace(FRAME, scale_factor=1.02)
    depths = reduce(located(0.306, right=True), frame=frame)
    assert depths.readings.loc[0, "depth_m"] == pytest.approx(0.30, abs=0.01)


@pytest.mark.parametrize(("rms", "placed_by"), [(0.6, "gnss"), (0.15, "ties"), (np.nan, "grid")])
def test_positions_too_coarse_for_a_pair_give_no_depth(rms, placed_by):
    """Beyond a third of the distance nothing is made up; the finding names file and row."""
    depths = reduce(located(0.30, rms=rms, placed_by=placed_by))
    assert len(depths.readings) == 0
    (finding,) = depths.findings
    assert (finding.code, finding.source_file, finding.source_row) == (
        "position-too-coarse-for-depth", "a.csv", 3)  # fmt: skip


def test_marks_that_do_not_stand_square_betray_poor_positions():
    """Marks half a metre ahead of their path mark are no offset known to a centimetre."""
    depths = reduce(located(0.30, ahead_m=0.5))
    assert codes(depths) == ["position-too-coarse-for-depth"]
    assert len(depths.readings) == 0


def test_independent_coarse_positions_make_up_no_depths():
    """Each position 0.3 m off on its own, although such positions should share their error."""
    rng = np.random.default_rng(2)
    rows = []
    for i in range(12):
        x, y = rng.normal(0, 0.3 / np.sqrt(2), (2, 2))
        rows += [{"point": f"P{i}", "x": x[0], "y": 5 * i + y[0]},
                 {"point": f"L{i}", "feature": "offset_mark", "pair": f"P{i}", "x": x[1] - 0.3, "y": 5 * i + y[1]}]  # fmt: skip
    depths = reduce([{**r, "position_rms_m": 0.3, "placed_by": "gnss"} for r in rows])
    assert set(codes(depths)) == {"position-too-coarse-for-depth"}
    assert len(depths.readings) <= 3
    assert (depths.readings["depth_sigma_m"] > 0.15).all()


def test_distances_are_not_chosen_by_their_own_noise():
    """120 pairs on a wire at 0.35 m, each distance 8 cm off: the mean depth is 0.35 m still."""
    rng = np.random.default_rng(5)
    rows = []
    for i in range(120):
        (x, y), (dx, dy) = rng.normal(0, 0.08 / np.sqrt(2), (2, 2))
        rows += [{"point": f"P{i}", "x": x, "y": 5 * i + y},
                 {"point": f"L{i}", "feature": "offset_mark", "pair": f"P{i}", "x": dx - 0.35, "y": 5 * i + dy},
                 {"point": f"R{i}", "feature": "offset_mark", "pair": f"P{i}", "x": dx + 0.35, "y": 5 * i - dy}]  # fmt: skip
    depths = reduce([{**r, "position_rms_m": 0.08, "placed_by": "survey"} for r in rows])
    assert len(depths.readings) > 110
    assert depths.readings["depth_m"].mean() == pytest.approx(0.35, abs=0.02)
    off = (depths.readings["depth_m"] - 0.35).abs()
    assert (off <= 1.96 * depths.readings["depth_sigma_m"]).mean() > 0.9


def test_a_phone_grade_pair_makes_up_no_depth():
    """Half a metre of RMS says nothing of a null mark 0.35 m away."""
    depths = reduce(located(0.35, rms=0.5))
    assert codes(depths) == ["position-too-coarse-for-depth"]


def test_an_offset_mark_that_names_no_point_is_a_finding():
    """The rule, the value and what to do."""
    depths = reduce([{"point": "P"}, {"point": "L", "feature": "offset_mark", "pair": "Q"}])
    (finding,) = depths.findings
    assert finding.code == "bad-value"
    assert "got 'Q'" in finding.line


def test_a_taped_pair_beats_a_located_one():
    """The tape is the better measure of two marks a foot apart."""
    rows = located(0.50)
    rows[0] |= {"offset_left_m": 0.30, "offset_right_m": 0.30}
    assert reduce(rows).readings["method"].tolist() == ["two_sided"]


def test_exposed_and_probed_depths_beat_pairs():
    """The direct depth stays; the pair is held against it."""
    depths = reduce([
        {"feature": "exposed", "depth_m": 0.28, "offset_left_m": 0.30, "offset_right_m": 0.30},
        {"depth_m": 0.33},
        {"feature": "exposed", "depth_m": 0.20, "offset_left_m": 0.45, "offset_right_m": 0.45},
    ])  # fmt: skip
    assert depths.readings["method"].tolist() == ["exposed", "probed", "exposed"]
    assert depths.readings["depth_m"].tolist() == [0.28, 0.33, 0.20]
    assert depths.readings["depth_sigma_m"].tolist() == pytest.approx([0.015, 0.030, 0.015])
    assert codes(depths) == ["depth-disagrees"]
    assert depths.findings[0].subject == "P2"


def test_a_plain_slope_is_not_called_uneven():
    """Check values: ten degrees make every pair uneven by 0.176; a consistent one is slope."""
    depths = reduce([{"offset_left_m": UP, "offset_right_m": DOWN}] * 10)
    assert depths.findings == []


def test_the_same_unevenness_on_noted_level_ground_is_called():
    """Check values, a 0.6 m, q 0.2: offsets 0.57523 and 0.30233, where the notes say level."""
    pair = {"offset_left_m": 0.30233, "offset_right_m": 0.57523, "cross_slope_deg": 0.0}
    depths = reduce([pair] * 6)
    assert codes(depths) == ["depth-pair-uneven"] * 6
    # true depth 0.30 m: the reading is left as it is, its sigma holds the truth
    row = depths.readings.iloc[0]
    assert row["depth_m"] > 0.35
    assert abs(row["depth_m"] - 0.30) < 1.96 * row["depth_sigma_m"]


def test_one_uneven_pair_among_even_ones_is_called_with_its_size():
    """Code, row, likely error in metres; only the pair itself."""
    rows = [{"offset_left_m": 0.3, "offset_right_m": 0.3} for _ in range(11)]
    rows[5] = {"offset_left_m": 0.18, "offset_right_m": 0.62}
    depths = reduce(rows)
    (finding,) = depths.findings
    assert (finding.code, finding.subject, finding.source_row) == ("depth-pair-uneven", "P5", 7)
    assert "may be wrong by" in finding.message
    sigma = depths.readings["depth_sigma_m"]
    assert sigma[5] > 3 * sigma[0]


def test_ground_too_steep_to_stand_on_is_uneven():
    """Offsets of twenty to one would be a slope of 42 degrees."""
    depths = reduce([{"offset_left_m": 2.5, "offset_right_m": 0.12}])
    assert codes(depths) == ["depth-pair-uneven"]


def test_a_run_beside_a_second_conductor_is_called_by_what_the_other_runs_lie_on():
    """All pairs of one run agree, and no other wire of the property lies on such a slope.

    A conductor 0.6 m away with a fifth of the current makes the pairs of the whole run read as
    sixteen degrees of slope and a quarter too deep (field of two long conductors, Biot-Savart).
    """
    held, called = [], []
    for seed in range(6):
        scene = Scene(slope_deg=4, runs=12, read=0.7, spacing_m=0.6, share=0.2)
        placed, points, _, truth = walk(scene, np.random.default_rng(seed))
        depths = reduce_depths(placed, points, frame=FRAME, settings=Settings())
        at = depths.readings["locate"].to_numpy()
        beside = truth["beside"].to_numpy()[at]
        error = (depths.readings["depth_m"].to_numpy() - truth["depth_m"].to_numpy()[at])[beside]
        held.append(np.abs(error) < 1.96 * depths.readings["depth_sigma_m"].to_numpy()[beside])
        rows = [int(f.subject[1:]) for f in depths.findings if f.code == "depth-pair-uneven"]
        called.append(set(truth["run"].iloc[rows]))
    assert np.concatenate(held).mean() > 0.93
    assert called == [{0}] * 6


def test_clean_runs_are_seldom_called_uneven():
    """Simulated walks on rolling slopes: at most 2 % of runs, 0.3 % of pairs."""
    rng = np.random.default_rng(7)
    runs, pairs, called_runs, called = 0, 0, 0, 0
    for slope in (0.0, 8.0, 16.0) * 6:
        scene = Scene(slope_deg=slope, read=0.8)
        placed, points, _, truth = walk(scene, rng)
        depths = reduce_depths(placed, points, frame=FRAME, settings=SETTINGS)
        rows = [int(f.subject[1:]) for f in depths.findings if f.code == "depth-pair-uneven"]
        runs, pairs = runs + scene.runs, pairs + len(depths.readings)
        called_runs, called = called_runs + len(set(truth["run"].iloc[rows])), called + len(rows)
    assert called_runs <= 0.02 * runs + 1
    assert called <= 0.003 * pairs + 1


@pytest.mark.parametrize(
    "parts",
    [{}, {"slope_deg": 10.0}, {"slope_deg": 20.0}, {"slope_deg": 10.0, "one_sided": 0.5},
     {"slope_deg": 10.0, "one_sided": 1.0, "elevation_sigma_m": 0.03},
     {"slope_deg": 10.0, "one_sided": 1.0, "noted_slope": 1.0}, {"slope_deg": 20.0, "one_sided": 1.0},
     {"lean_deg": 35.0, "height_m": 0.1, "slope_deg": 5.0}, {"depth_m": 0.15, "depth_spread_m": 0.02},
     {"depth_m": 0.55}, {"hand": Hand(common_share=0.0, systematic_share=0.0, path_sigma_m=0.0)}],
)  # fmt: skip
def test_stated_intervals_hold_the_depth_on_simulated_properties(parts):
    """Share of depths within 1.96 sigma, 12 properties of 6 runs: 93 to 98.5 %."""
    rng = np.random.default_rng(12)
    held = []
    for _ in range(12):
        placed, points, _, truth = walk(changed(Scene(), **parts), rng)
        readings = reduce_depths(placed, points, frame=FRAME, settings=SETTINGS).readings
        error = readings["depth_m"] - truth["depth_m"].to_numpy()[readings["locate"]]
        held.append(np.abs(error) < 1.96 * readings["depth_sigma_m"])
    assert 0.93 <= np.concatenate(held).mean() <= 0.985


def test_lean_errors_that_scatter_are_not_taken_for_shared_ones():
    """The shared part of the sigma is less where each side errs anew than where all err alike."""

    def shared_m(hand):
        placed, points, _, _ = walk(Scene(runs=10, hand=hand), np.random.default_rng(2))
        done = reduce_depths(placed, points, frame=FRAME, settings=SETTINGS)
        return done.readings["systematic_sigma_m"].mean()

    anew = shared_m(Hand(common_share=0.0, systematic_share=0.0))
    alike = shared_m(Hand(common_share=1.0, systematic_share=1.0))
    assert anew < 0.8 * alike
    assert alike > 0.010  # of 21 mm, of which nothing shows in the readings


def test_scatter_beyond_what_is_stated_widens_the_sigmas():
    """Pairs leant with 3 degrees of error where 2 are stated: sigmas follow by a fifth or more."""

    def sigma_m(lean_deg):
        hand = Hand(lean_deg, common_share=1.0, systematic_share=0.0)
        placed, points, _, _ = walk(Scene(runs=10, hand=hand), np.random.default_rng(4))
        done = reduce_depths(placed, points, frame=FRAME, settings=SETTINGS)
        return done.readings["depth_sigma_m"].mean()

    assert sigma_m(3.0) > 1.2 * sigma_m(1.0)


def test_rolling_ground_is_not_called_uneven():
    """Slopes that change by nine degrees along all runs are the ground, six properties out of six."""
    rng = np.random.default_rng(6)
    called = []
    for _ in range(6):
        placed, points, _, _ = walk(Scene(runs=10, slope_deg=5, rolling_deg=9), rng)
        called += codes(reduce_depths(placed, points, frame=FRAME, settings=SETTINGS))
    assert called.count("depth-pair-uneven") == 0


def test_readings_off_every_run_have_no_run():
    """An offset pair at a valve that no run passes still gives its depth."""
    placed, points = locate([{"offset_left_m": 0.3, "offset_right_m": 0.3}])
    depths = reduce_depths(placed, points.iloc[:0], frame=FRAME, settings=SETTINGS)
    row = depths.readings.iloc[0]
    assert row["run"] == ""
    assert np.isnan(row["chainage_m"])
    assert row["depth_m"] == pytest.approx(0.3, abs=0.01)


def test_no_locates_give_an_empty_layer():
    """Declared columns, no rows, no findings."""
    placed, points = locate([{"offset_left_m": 0.3}])
    depths = reduce_depths(placed.iloc[:0], points.iloc[:0], frame=FRAME, settings=SETTINGS)
    assert len(depths.readings) == 0
    assert (
        depths.readings.columns[: len(DEPTH_READINGS.columns)].tolist()
        == DEPTH_READINGS.column_names
    )
    assert depths.findings == []


def test_a_near_run_widens_the_sigma():
    """A point of another run within a metre: the other wire may carry part of the current."""
    placed, points = locate([{"offset_left_m": 0.3, "offset_right_m": 0.3, "x": 0.0, "y": 0.0},
                             {"x": 0.4, "y": 0.0}])  # fmt: skip
    alone = reduce_depths(placed, points, frame=FRAME, settings=SETTINGS)
    beside = reduce_depths(placed, points.assign(run=["A", "B"]), frame=FRAME, settings=SETTINGS)
    assert beside.readings.loc[0, "depth_sigma_m"] > alone.readings.loc[0, "depth_sigma_m"]


def test_a_stricter_limit_is_taken_from_the_settings():
    """thresholds.uneven_z lower: a mildly uneven pair is called."""
    rows = [{"offset_left_m": 0.3, "offset_right_m": 0.3} for _ in range(11)]
    rows[5] = {"offset_left_m": 0.25, "offset_right_m": 0.35}
    assert reduce(rows).findings == []
    strict = Settings(thresholds=Thresholds(uneven_z=1.0))
    assert "depth-pair-uneven" in codes(reduce(rows, settings=strict))
