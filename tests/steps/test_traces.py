"""Located points to lines."""

import numpy as np
import pandas as pd
import pytest
import shapely
from hypothesis import given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st
from walked_wires import FRAME, ORIGIN, legs_wire, marks_on, noisy, placed, straight, winding_wire

from wiremap.model.frame import Frame
from wiremap.model.settings import Settings
from wiremap.steps.traces import trace_runs

SETTINGS = Settings()


def trace(table, frame=FRAME):
    return trace_runs(table, frame=frame, settings=SETTINGS)


def codes(traces):
    return [finding.code for finding in traces.findings]


def line_of(traces, run):
    return traces.lines.set_index("run").geometry[run]


def test_a_run_is_a_line_through_its_marks():
    """Eleven accurate marks along 40 m: chainages, headings, and the length come out."""
    traces = trace(placed({"A": straight(40.0)}))

    assert traces.lines["run"].tolist() == ["A"]
    assert traces.lines["length_m"].iloc[0] == pytest.approx(40.0)
    assert traces.vertices["chainage_m"].tolist() == pytest.approx(np.arange(0, 41, 4.0).tolist())
    assert traces.points["heading_deg"].tolist() == pytest.approx([90.0] * 11)
    assert traces.points["on_line"].all()
    assert traces.points["locate"].tolist() == list(range(11))
    assert not traces.findings


def test_lengths_are_ground_metres():
    """A plane that is 1.0004 times the ground: lengths are divided by it."""
    frame = Frame(crs=FRAME.crs, metric_crs=FRAME.crs, scale_factor=1.0004)
    traces = trace(placed({"A": straight(40.0)}), frame)

    assert traces.lines["length_m"].iloc[0] == pytest.approx(40.0 / 1.0004)
    assert traces.vertices["chainage_m"].iloc[-1] == pytest.approx(40.0 / 1.0004)


@given(st.permutations(range(11)))
@hypothesis_settings(max_examples=25)
def test_any_row_order_gives_the_same_line_when_order_is_given(rows):
    """Rows of a file may stand as they like if ``order`` says how they were walked."""
    table = placed({"A": straight(40.0)}, order=np.arange(11.0))
    shuffled = table.iloc[list(rows)].reset_index(drop=True)

    assert line_of(trace(shuffled), "A").equals(line_of(trace(table), "A"))
    assert not trace(shuffled).findings


def test_order_may_be_missing_on_some_rows():
    """A row without an order follows the row above it."""
    order = np.arange(11.0)
    order[4] = np.nan
    traces = trace(placed({"A": straight(40.0)}, order=order))

    assert traces.vertices["point"].tolist() == [f"A-{i}" for i in range(11)]


def test_mis_ordered_rows_are_put_in_order_and_reported():
    """Two rows exchanged: the finding says that one had to move."""
    table = placed({"A": straight(60.0)})
    rows = list(range(16))
    rows[6], rows[7] = 7, 6
    traces = trace(table.iloc[rows].reset_index(drop=True))

    assert traces.vertices["point"].tolist() == [f"A-{i}" for i in range(16)]
    assert codes(traces) == ["run-resequenced"]
    assert "1 of them did not" in traces.findings[0].message


def test_rows_exchanged_around_a_corner_are_out_of_order_and_no_outliers():
    """Both marks lie on the wire, though far off the line of the rows beside them."""
    marks = np.concatenate([straight(24.0), np.add([24, 0], straight(24.0)[1:, ::-1])])
    rows = list(range(13))
    rows[6], rows[7] = 7, 6
    traces = trace(placed({"A": marks}).iloc[rows].reset_index(drop=True))

    assert codes(traces) == ["run-resequenced"]
    assert traces.vertices["point"].tolist() == [f"A-{i}" for i in range(13)]


def test_a_blunder_that_lands_beside_another_part_of_its_run_is_an_outlier():
    """A fix 13 m off that comes down 2 m from the wire farther on is not a row out of order."""
    marks = np.concatenate([straight(36.0), np.add([36, 0], straight(24.0)[1:, ::-1])])
    marks[7] = [34.0, 10.0]
    traces = trace(placed({"A": marks}))

    assert codes(traces) == ["outlier-position"]
    assert traces.findings[0].subject == "A-7"
    assert traces.lines["length_m"].iloc[0] == pytest.approx(60.0, abs=0.1)


def test_rows_with_an_order_are_never_moved():
    """Who writes the order means it."""
    order = np.arange(16.0)
    order[[6, 7]] = order[[7, 6]]
    traces = trace(placed({"A": straight(60.0)}, order=order))

    assert traces.vertices["point"].tolist()[6:8] == ["A-7", "A-6"]
    assert not traces.findings


def test_a_point_of_two_runs_lies_on_both():
    """The first three marks stand over a trench with both wires."""
    names = ["A; B"] * 3 + ["A"] * 8
    table = placed({"A": straight(40.0), "B": [[8.0, 4.0], [8.0, 8.0]]}, run=[*names, "B", "B"])
    traces = trace(table)

    assert traces.lines["run"].tolist() == ["A", "B"]
    assert traces.lines["length_m"].tolist() == pytest.approx([40.0, 16.0])
    assert (traces.points["locate"] == 0).sum() == 2


def test_an_outlier_is_set_aside_with_its_row():
    """Six metres off a line of marks with 2 cm RMS."""
    marks = straight(40.0)
    marks[4, 1] = 6.0
    traces = trace(placed({"A": marks}))

    assert codes(traces) == ["outlier-position"]
    finding = traces.findings[0]
    assert (finding.subject, finding.source_row) == ("A-4", 6)
    assert "6.0 m off" in finding.message
    assert not traces.points.set_index("point").loc["A-4", "on_line"]
    assert traces.points.set_index("point").loc["A-4", "chainage_m"] == pytest.approx(16.0)
    assert len(traces.vertices) == 10


def test_a_mark_thrown_far_off_near_the_end_is_an_outlier_and_not_a_new_end():
    """Moving it behind the last mark would shorten the line too, and hide it."""
    marks = straight(40.0)
    marks[8, 1] = 12.0
    traces = trace(placed({"A": marks}))

    assert codes(traces) == ["outlier-position"]
    assert traces.vertices["point"].iloc[-1] == "A-10"


def test_a_blunder_far_ahead_of_the_last_mark_is_an_outlier_and_not_a_row_out_of_order():
    """It lies on the last leg carried on, twelve steps past the end."""
    marks = straight(40.0)
    marks[5] = [90.0, 1.0]
    traces = trace(placed({"A": marks}))

    assert codes(traces) == ["outlier-position"]
    assert traces.lines["length_m"].iloc[0] == pytest.approx(40.0, abs=0.1)


def test_a_blunder_among_few_marks_does_not_make_the_walk_look_out_of_order():
    """Two of the four inner marks double back to the blunder; without it none does."""
    turn = np.linspace(0.0, 1.5, 6)[:, None]
    marks = 20.0 * np.hstack([np.sin(turn), 1.0 - np.cos(turn)])
    marks[2] += [-30.0, 35.0]
    traces = trace(placed({"A": marks}))

    assert codes(traces) == ["outlier-position"]
    assert traces.findings[0].subject == "A-2"


def test_marks_thrown_off_invented_wires_are_found():
    """One mark in each of forty wires, 6 to 15 m square off: nine in ten are found at 0.5 m RMS, and
    no sound mark is called."""
    rng = np.random.default_rng(31)
    runs, thrown = {}, set()
    for i in range(40):
        marks = noisy(marks_on((legs_wire if i % 2 else winding_wire)(rng), rng), rng, 0.5)
        at = int(rng.integers(2, len(marks) - 2))
        along = marks[at + 1] - marks[at - 1]
        side = np.array([-along[1], along[0]]) / np.hypot(*along)
        marks[at] += rng.choice([-1, 1]) * rng.uniform(6, 15) * side
        runs[f"R{i}"] = marks
        thrown.add(f"R{i}-{at}")
    traces = trace(placed(runs, 0.5))
    found = {f.subject for f in traces.findings if f.code == "outlier-position"}

    assert len(found & thrown) >= 36
    assert not found - thrown


def test_a_located_valve_is_not_called_an_outlier():
    """A valve off the line of the marks stands on a spur."""
    marks = straight(40.0)
    marks[4, 1] = 6.0
    feature = ["path"] * 11
    feature[4] = "valve"

    assert not trace(placed({"A": marks}, feature=feature)).findings


@pytest.mark.parametrize(("off_m", "on_line"), [(0.5, True), (9.0, False)])
def test_a_fault_reported_later_far_off_its_run_does_not_bend_the_line(off_m, on_line):
    """Within its accuracy it is a vertex; beyond it keeps its chainage, is named, and the line stays
    where it was traced."""
    marks = np.concatenate([straight(40.0), [[18.0, off_m]]])
    feature, date = ["path"] * 11 + ["fault"], ["2026-05-04"] * 11 + ["2026-07-01"]
    traces = trace(placed({"A": marks}, 0.3, feature=feature, date=date))
    fault = traces.points.set_index("point").loc["A-11"]

    assert fault["on_line"] == on_line
    assert fault["chainage_m"] == pytest.approx(18.0, abs=0.5)
    assert traces.lines["length_m"].iloc[0] == pytest.approx(40.0, abs=0.5)
    assert codes(traces) == ([] if on_line else ["outlier-position"])


def test_features_off_the_wire_are_no_vertices():
    """Stakes, offset marks and references do not stand on the wire."""
    feature = ["path"] * 11
    feature[3], feature[5], feature[7] = "offset_mark", "stake", "reference"
    traces = trace(placed({"A": straight(40.0)}, feature=feature))

    assert len(traces.vertices) == len(traces.points) == 8


def test_a_walk_back_is_averaged_and_keeps_its_own_heading():
    """Out along y = 0 and back along y = 0.2, equally accurate: the line runs at 0.1, and the
    marks of the way back were walked the other way (left and right of a depth pair hang on it)."""
    out = straight(40.0)
    traces = trace(placed({"A": np.concatenate([out, np.add(out[::-1][1:], [0, 0.2])])}))
    back = traces.points["locate"] > 10

    assert traces.lines["length_m"].iloc[0] == pytest.approx(40.0, abs=0.3)
    assert traces.vertices["observations"].iloc[1:-1].tolist() == [2] * (len(traces.vertices) - 2)
    assert np.median(traces.vertices["y_m"]) - ORIGIN[1] == pytest.approx(0.1, abs=0.02)
    assert traces.points.loc[~back, "heading_deg"].iloc[2:-2].between(80, 100).all()
    assert traces.points.loc[back, "heading_deg"].iloc[2:-2].between(260, 280).all()


def test_two_visits_carry_both_dates_and_shrink_the_uncertainty():
    """Two walks with 0.4 m RMS each: a fifth of the variance is the same for both, the rest halves:
    0.31 m together (0.25 of 1 - 0.4 squared is 0.21; by hand)."""
    marks = straight(40.0)
    dates = ["2026-05-04"] * 11 + ["2027-04-19"] * 11
    traces = trace(placed({"A": np.concatenate([marks, marks])}, 0.4, date=dates))

    assert set(traces.vertices["date_first"]) == {"2026-05-04"}
    assert set(traces.vertices["date_last"]) == {"2027-04-19"}
    assert np.median(traces.vertices["position_rms_m"]) == pytest.approx(
        0.4 * np.sqrt(0.605), rel=0.02
    )


def test_two_visits_that_count_the_same_orders_are_told_apart():
    """Both files count from 1; interleaving them would make a zigzag."""
    marks = straight(40.0)
    twice = np.concatenate([marks, np.add(marks, [0.0, 0.4])])
    order = np.tile(np.arange(11.0), 2)
    files = ["spring.csv"] * 11 + ["autumn.csv"] * 11
    traces = trace(placed({"A": twice}, order=order, source_file=files))

    assert traces.lines["length_m"].iloc[0] == pytest.approx(40.0, abs=0.1)


def test_a_run_of_one_place_is_reported_and_has_no_line():
    """One point, or the same place twice, makes no line."""
    traces = trace(placed({"A": straight(40.0), "B": [[1.0, 1.0]], "C": [[2.0, 2.0]] * 2}))

    assert traces.lines["run"].tolist() == ["A"]
    assert codes(traces) == ["run-too-short", "run-too-short"]
    alone = traces.points[traces.points["run"] != "A"]
    assert len(alone) == 3
    assert alone["chainage_m"].isna().all()
    assert not alone["on_line"].any()


def test_nothing_in_gives_empty_tables():
    """No rows, and rows without a run, give tables with their columns."""
    empty = placed({"A": straight(40.0)}).iloc[:0]
    for table in (empty, placed({"A": straight(40.0)}, run=None)):
        traces = trace(table)
        assert (len(traces.points), len(traces.vertices), len(traces.lines)) == (0, 0, 0)
        assert {"run", "chainage_m", "heading_deg", "on_line", "locate"} <= set(traces.points)
        assert {"run", "sequence", "x_m", "cov_xy_m2", "is_exposed"} <= set(traces.vertices)
        assert traces.lines.crs == FRAME.metric_crs


def test_a_right_angle_widens_the_position_of_its_vertex_only():
    """Check values, section 6: the null bulges outward by up to 0.2597 of the depth (0.3 m taken)
    beside a right angle; 4 m away it is 0.04 of it."""
    marks = np.concatenate([straight(20.0), [20, 0] + straight(20.0)[1:, ::-1]])
    vertices = trace(placed({"A": marks})).vertices

    added = np.sqrt(vertices["position_rms_m"] ** 2 - 0.02**2)
    assert added.iloc[5] == pytest.approx(0.2597 * 0.3, rel=0.01)
    assert added.iloc[[4, 6]].max() < 0.015
    assert added.iloc[[0, 1, 9, 10]].max() < 1e-3


@given(st.integers(0, 10**6), st.sampled_from([0.02, 0.5]))
@hypothesis_settings(max_examples=30)
def test_a_walk_the_other_way_gives_the_same_wire(seed, rms_m):
    """Reversed rows give the reversed line; chainage counts from the other end."""
    rng = np.random.default_rng(seed)
    marks = noisy(marks_on(legs_wire(rng), rng), rng, rms_m)
    there, back = (trace(placed({"A": m}, rms_m)) for m in (marks, marks[::-1]))

    assert shapely.hausdorff_distance(line_of(there, "A"), line_of(back, "A")) < 1e-6
    total = there.lines["length_m"].iloc[0]
    assert back.vertices["chainage_m"].to_numpy()[::-1] == pytest.approx(
        total - there.vertices["chainage_m"].to_numpy(), abs=1e-6
    )


@given(st.integers(0, 10**6), st.floats(0, 6.3))
@hypothesis_settings(max_examples=30)
def test_turning_the_property_turns_its_lines(seed, angle):
    """Length and findings do not depend on where north is."""
    rng = np.random.default_rng(seed)
    marks = noisy(marks_on(winding_wire(rng), rng), rng, 0.3)
    turn = np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])
    one, other = trace(placed({"A": marks}, 0.3)), trace(placed({"A": marks @ turn + 77.0}, 0.3))

    assert other.lines["length_m"].iloc[0] == pytest.approx(one.lines["length_m"].iloc[0], abs=1e-5)
    assert codes(one) == codes(other)
    turned = np.array(line_of(one, "A").coords) - ORIGIN
    assert np.array(line_of(other, "A").coords) - ORIGIN - 77.0 == pytest.approx(
        turned @ turn, abs=1e-4
    )


@pytest.mark.parametrize(("rms_m", "largest_m"), [(0.02, 0.06), (0.3, 0.16), (0.5, 0.22)])
def test_path_error_of_invented_wires(rms_m, largest_m):
    """Forty wires, marks 4 m apart off the corners: mean distance of the true wire from its line."""
    rng = np.random.default_rng(12)
    wires = {f"R{i}": (legs_wire if i % 2 else winding_wire)(rng) for i in range(40)}
    marks = {name: noisy(marks_on(wire, rng), rng, rms_m) for name, wire in wires.items()}
    traces = trace(placed(marks, rms_m))
    errors = [
        shapely.distance(
            shapely.points(shapely.get_coordinates(shapely.segmentize(wire, 0.5)) + ORIGIN),
            line_of(traces, name),
        ).mean()
        for name, wire in wires.items()
    ]

    assert np.mean(errors) < largest_m
    assert not traces.findings


def walks_over(wire, rng, rms_m):
    """Walks over one wire on as many days, with the RMS of each, every other one walked back."""
    walks = [noisy(marks_on(wire, rng), rng, rms) for rms in rms_m]
    walks = [walk[::-1] if day % 2 else walk for day, walk in enumerate(walks)]
    counts = [len(walk) for walk in walks]
    rms = np.repeat(rms_m, counts)
    date = np.repeat([f"2026-05-{day + 1:02d}" for day in range(len(walks))], counts)
    variance = {"cov_xx_m2": rms**2 / 2, "cov_yy_m2": rms**2 / 2}
    return placed({"A": np.concatenate(walks)}, date=date, position_rms_m=rms, **variance)


def path_errors(rms_m, wires=16):
    """Mean distance of wire from line, mean and greatest relative excess of length, of the wires."""
    errors, excess = [], []
    for seed in range(wires):
        rng = np.random.default_rng(seed)
        wire = (legs_wire if seed % 2 else winding_wire)(rng)
        line = line_of(trace(walks_over(wire, rng, rms_m)), "A")
        truth = shapely.transform(wire, lambda xy: xy + ORIGIN)
        along = shapely.line_interpolate_point(truth, np.arange(0.0, truth.length, 0.5))
        errors.append(shapely.distance(along, line).mean())
        excess.append(line.length / truth.length - 1.0)
    return np.mean(errors), np.mean(excess), np.max(excess)


@pytest.mark.parametrize("rms_m", [0.3, 0.8, 1.5])
def test_each_further_pass_brings_the_line_nearer_to_the_wire(rms_m):
    """One, two and four walks on as many days: the error falls by a fifth and by a third at least
    (independent errors alone would fall by three and five tenths), and none makes it longer."""
    (one, _, _), (two, longer, most), (four, much_longer, at_worst) = (
        path_errors([rms_m] * count) for count in (1, 2, 4)
    )

    assert two < 0.8 * one
    assert four < 0.67 * one
    assert abs(longer) < 0.006
    assert abs(much_longer) < 0.006
    assert max(most, at_worst) < 0.03


def test_coarse_walks_do_not_spoil_an_accurate_one():
    """Walks of 0.1 m, 0.8 m and 2 m RMS: hardly worse than the accurate one alone, nor longer."""
    alone, _, _ = path_errors([0.1])
    together, longer, _ = path_errors([0.8, 0.1, 2.0])

    assert together < 1.3 * alone
    assert abs(longer) < 0.006


def test_dense_coarse_marks_of_three_days_are_three_walks_and_not_a_muddle():
    """Marks 1 m apart with 0.8 m RMS double back at two of five by noise alone."""
    rng = np.random.default_rng(8)
    wire = winding_wire(rng)
    walks = [noisy(marks_on(wire, rng, 1.0), rng, 0.8) for _ in range(3)]
    dates = np.repeat(["2026-05-01", "2026-05-02", "2026-05-03"], [len(walk) for walk in walks])
    traces = trace(placed({"A": np.concatenate(walks)}, 0.8, date=dates))

    assert traces.vertices["observations"].median() >= 2
    assert traces.lines["length_m"].iloc[0] == pytest.approx(wire.length, rel=0.03)
    assert not traces.findings


def test_a_line_in_the_wrong_order_shows_in_frechet_and_not_in_hausdorff():
    """Check values, section 8: zigzag (0,0) (10,0) (0,.1) (10,.1) against (0,0) (10,.1): Hausdorff
    0.1000, Frechet 5.0002. A resequenced run agrees with its wire in both."""
    wire = shapely.LineString([(0, 0), (10, 0.1)])
    zigzag = shapely.LineString([(0, 0), (10, 0), (0, 0.1), (10, 0.1)])
    assert shapely.hausdorff_distance(zigzag, wire) == pytest.approx(0.1, abs=1e-3)
    assert shapely.frechet_distance(zigzag, wire, densify=0.01) == pytest.approx(5.0002, abs=1e-3)

    shuffled = np.random.default_rng(1).permutation(straight(80.0))
    traced = line_of(trace(placed({"A": shuffled})), "A")
    truth = shapely.LineString(straight(80.0) + ORIGIN)
    truth = truth if traced.coords[0][0] < traced.coords[-1][0] else truth.reverse()
    assert shapely.hausdorff_distance(traced, truth) < 0.01
    assert shapely.frechet_distance(traced, truth, densify=0.05) < 0.01


def test_a_thousand_runs_cost_little_more_than_their_points():
    """The columns that come back are complete and in order for many runs."""
    runs = {f"R{i:04d}": np.add(straight(16.0), [0, 10.0 * i]) for i in range(1000)}
    traces = trace(placed(runs))

    assert traces.lines["length_m"].tolist() == pytest.approx([16.0] * 1000)
    assert traces.vertices["run"].is_monotonic_increasing
    assert (traces.points.groupby("run")["chainage_m"].diff().dropna() >= 0).all()
    assert pd.api.types.is_bool_dtype(traces.points["on_line"])


@pytest.mark.parametrize("backwards", [False, True])
@pytest.mark.parametrize(
    "past_m", [(0.0, 0.0), (0.6, 0.2), (0.2, -0.7)], ids=["at the valve", "past it", "beside it"]
)
def test_a_run_ends_at_its_valve_whatever_coarse_mark_stands_past_it(past_m, backwards):
    """A file of lines repeats the valve's place as its last vertex: the wire stops at the valve."""
    wire = np.array([[0.0, 0.0], [4.0, 0.5], [8.0, -0.4], [12.0, 0.3], [16.0, 0.0]])
    marks = np.vstack([wire, wire[-1] + past_m])
    feature = ["path"] * 4 + ["valve", "path"]
    step = -1 if backwards else 1
    traces = trace(placed({"A": marks[::step]}, rms_m=0.5, feature=feature[::step]))

    end = shapely.get_point(line_of(traces, "A"), 0 if backwards else -1)
    assert end.distance(shapely.Point(*(wire[-1] + ORIGIN))) < 1e-6
    assert traces.lines["length_m"].iloc[0] == pytest.approx(16.0, abs=0.1)
    assert traces.points["on_line"].all()


def test_a_run_does_not_turn_back_to_reach_its_valve():
    """The last mark stands 0.6 m past the valve, at an RMS of 0.5 m: 16 m, not 17.2."""
    marks = [[0, 0], [4, 0], [8, 0], [12, 0], [16.6, 0], [16, 0]]
    feature = ["path"] * 5 + ["valve"]
    traces = trace(placed({"A": marks}, rms_m=0.5, order=np.arange(6.0), feature=feature))

    assert traces.lines["length_m"].iloc[0] == pytest.approx(16.0)


def test_a_wire_that_goes_on_past_a_valve_is_drawn_on():
    """Marks 0.6 m past the valve and 4 m past it, and one 0.6 m past it at an RMS of 0.02 m."""
    marks = [[0, 0], [4, 0], [8, 0], [8.6, 0], [12, 0]]
    feature = ["path", "path", "valve", "path", "path"]
    coarse = trace(placed({"A": marks}, rms_m=0.5, feature=feature))
    fine = trace(placed({"A": marks[:4]}, feature=feature[:4]))

    assert coarse.lines["length_m"].iloc[0] == pytest.approx(12.0, abs=0.01)
    assert fine.lines["length_m"].iloc[0] == pytest.approx(8.6)


def test_a_run_of_marks_at_one_valve_keeps_its_line():
    """A valve between two marks 0.5 m off, at an RMS of 0.5 m: cut, nothing would be left."""
    marks = [[-0.5, 0], [0, 0], [0.5, 0]]
    traces = trace(placed({"A": marks}, rms_m=0.5, feature=["path", "valve", "path"]))

    assert traces.lines["run"].tolist() == ["A"]
