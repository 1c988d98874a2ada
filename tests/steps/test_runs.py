"""The layer of runs."""

import numpy as np
import pandas as pd
import pytest
from walked_wires import CRS_METRIC, FRAME, device_layers, placed, straight

from wiremap.model.settings import Settings
from wiremap.model.tables import DEPTH_READINGS, WIRE_RUNS
from wiremap.steps.network import join_runs
from wiremap.steps.runs import summarise_runs
from wiremap.steps.traces import trace_runs

SETTINGS = Settings()
NO_CURVES = pd.DataFrame(
    {
        "run": pd.Series(dtype="str"),
        "chainage_m": pd.Series(dtype="float64"),
        "depth_m": pd.Series(dtype="float64"),
    }
)


def summarise(table, layers=None, readings=None, curves=NO_CURVES, wire_depth_m=None):
    layers = layers or device_layers()
    traces = trace_runs(table, frame=FRAME, settings=SETTINGS)
    network = join_runs(traces.lines, traces.vertices, *layers, frame=FRAME, settings=SETTINGS)
    points = (
        traces.points if wire_depth_m is None else traces.points.assign(wire_depth_m=wire_depth_m)
    )
    found = summarise_runs(
        traces.lines,
        traces.vertices,
        points,
        DEPTH_READINGS.empty(crs=CRS_METRIC).assign(locate=0) if readings is None else readings,
        curves,
        network.connections,
        layers[0],
        frame=FRAME,
        settings=SETTINGS,
    )
    return found.wire_runs.set_index("run"), found.findings


def last(feature, count=11):
    return ["path"] * (count - 1) + [feature]


@pytest.mark.parametrize(
    ("feature", "kind"),
    [
        ("valve", "valve"),
        ("splice", "splice"),
        ("fault", "fault"),
        ("lost", "lost"),
        ("path", "open"),
        ("exposed", "open"),
    ],
)
def test_the_end_kind_is_what_stands_at_the_last_vertex(feature, kind):
    """The feature of the last located point."""
    runs, _ = summarise(placed({"A": straight(40.0)}, feature=last(feature)))

    assert runs.loc["A", "end_kind"] == kind
    assert runs.loc["A", ["start_point", "end_point"]].tolist() == ["A-0", "A-10"]


def test_a_valve_located_for_itself_ends_the_run_that_stops_there():
    """The run's last mark stands a metre short of a valve that names no run."""
    layers = device_layers([("V1", (41, 0), {"zone": "7"})])
    runs, findings = summarise(placed({"A": straight(40.0)}), layers)

    assert runs.loc["A", "end_kind"] == "valve"
    assert runs.loc["A", "zones"] == "7"
    assert not [f for f in findings if f.code == "run-without-valve"]


def test_a_valve_far_along_is_not_the_end():
    """A valve of the run ten metres before its end; the run itself goes on."""
    layers = device_layers([("V1", (30, 0), {"run": "A"})])
    runs, findings = summarise(placed({"A": straight(40.0)}), layers)

    assert runs.loc["A", "end_kind"] == "open"
    assert not findings


def test_a_wire_walked_toward_the_controller_ends_at_its_valve():
    """The far end is the one away from the controller, whichever way it was walked."""
    feature = ["valve"] + ["path"] * 9 + ["controller"]
    layers = device_layers([("V1", (0, 0), {"run": "A"})], [], [("C1", (40, 0), {})])
    runs, findings = summarise(placed({"A": straight(40.0)}, feature=feature), layers)

    assert runs.loc["A", "end_kind"] == "valve"
    assert not findings


def test_zones_come_from_rows_and_from_the_end_valve():
    """Each named once, in the order met."""
    zone = ["3;4"] * 11
    layers = device_layers([("V1", (40, 0), {"run": "A", "zone": "4;5"})])
    runs, _ = summarise(placed({"A": straight(40.0)}, zone=zone, feature=last("valve")), layers)

    assert runs.loc["A", "zones"] == "3;4;5"


def test_the_controller_comes_from_rows_else_over_the_wires():
    """Run A meets C1; B joins A; D names its own; E meets nothing."""
    runs = {
        "A": straight(40.0),
        "B": straight(40.0)[:, ::-1] + [40, 1],
        "D": np.add(straight(40.0), [0, 200]),
        "E": np.add(straight(40.0), [0, 300]),
    }
    controller = [None] * 22 + ["C7"] * 11 + [None] * 11
    layers = device_layers([], [], [("C1", (0, 0), {})])
    table, _ = summarise(placed(runs, controller=controller), layers)

    assert table["controller"].tolist()[:3] == ["C1", "C1", "C7"]
    assert pd.isna(table.loc["E", "controller"])


def test_depth_statistics_come_from_readings_and_the_curve():
    """Least, greatest and count from the readings; the mean along the run from the curve."""
    readings = DEPTH_READINGS.conform(
        pd.DataFrame({"run": ["A", "A", "B", ""], "depth_m": [0.3, 0.5, np.nan, 0.9]}),
        crs=CRS_METRIC,
    ).assign(locate=[2, 7, 14, 30])
    curve = pd.DataFrame(
        {"run": ["A"] * 3, "chainage_m": [0.0, 20.0, 40.0], "depth_m": [0.3, 0.45, 0.45]}
    )
    runs, _ = summarise(
        placed({"A": straight(40.0), "B": np.add(straight(40.0), [0, 50])}),
        readings=readings,
        curves=curve,
    )

    depths = ["depth_min_m", "depth_mean_m", "depth_max_m", "depth_count"]
    assert runs.loc["A", depths].tolist() == pytest.approx([0.3, 0.4, 0.5, 2])
    assert runs.loc["B", depths[:3]].isna().all()
    assert runs.loc["B", "depth_count"] == 0


def test_a_reading_over_a_shared_trench_counts_on_both_wires():
    """The mark names both runs; the reading itself carries the first one's name."""
    names = ["A", "A", "A;B", *["A"] * 8, *["B"] * 11]
    table = placed({"A": straight(40.0), "B": np.add(straight(40.0), [8, 4])}, run=names)
    readings = DEPTH_READINGS.conform(
        pd.DataFrame({"run": ["A", "A"], "depth_m": [0.3, 0.5]}), crs=CRS_METRIC
    ).assign(locate=[2, 7])
    runs, _ = summarise(table, readings=readings)

    assert runs["depth_count"].to_dict() == {"A": 2, "B": 1}
    assert runs.loc["B", "depth_max_m"] == 0.3


def test_position_rms_is_the_root_mean_square_of_the_vertices():
    """Half at 0.1 m and half at 0.7 m: 0.5 m (50 = (1 + 49) / 2 hundredths)."""
    rms = np.array([0.1] * 5 + [0.7] * 5)
    table = placed(
        {"A": straight(36.0)}, position_rms_m=rms, cov_xx_m2=rms**2 / 2, cov_yy_m2=rms**2 / 2
    )
    runs, _ = summarise(table)

    assert runs.loc["A", "position_rms_m"] == pytest.approx(0.5, abs=1e-3)
    assert runs.loc["A", "observations"] == 10


def test_dates_are_the_first_and_the_last_seen():
    """A run walked over two days."""
    date = ["2026-05-06"] * 5 + ["2026-05-04"] * 6
    runs, _ = summarise(placed({"A": straight(40.0)}, date=date))

    assert runs.loc["A", ["first_date", "last_date"]].tolist() == ["2026-05-04", "2026-05-06"]


def test_wire_elevation_is_ground_less_depth():
    """Ground at 100 m rising a centimetre a metre, wire 0.4 m below."""
    ground = 100.0 + straight(40.0)[:, 0] / 100
    runs, _ = summarise(placed({"A": straight(40.0)}, elevation_m=ground), wire_depth_m=0.4)

    heights = [z for _, _, z in runs.geometry["A"].coords]
    assert heights == pytest.approx((ground - 0.4).tolist())


def test_one_unknown_ground_elevation_keeps_the_layer_flat():
    """A layer has one dimension: no elevation is made up for the others' sake."""
    table = placed({"A": straight(40.0), "B": np.add(straight(40.0), [0, 50])})
    table["elevation_m"] = 100.0
    table.loc[15, "elevation_m"] = np.nan
    runs, _ = summarise(table, wire_depth_m=0.4)

    assert not runs.geometry.has_z.any()


def test_a_run_that_ends_at_no_valve_is_reported_where_it_ends():
    """The finding names run, end point and what stands there."""
    _, findings = summarise(placed({"A": straight(40.0)}, feature=last("lost")))

    assert [f.code for f in findings] == ["run-without-valve"]
    assert "A-10 (lost)" in findings[0].message
    assert findings[0].x_m == pytest.approx(500040.0)


def test_a_trunk_that_feeds_branches_needs_no_valve_of_its_own():
    """Over a splice, or where a branch starts beside it."""
    branch = straight(40.0)[:, ::-1]
    spliced = device_layers(
        [("V1", (40, 40), {"run": "B"})], [("S1", (40, 0), {"run": "A;B"})], [("C1", (0, 0), {})]
    )
    _, over_splice = summarise(placed({"A": straight(40.0), "B": np.add(branch, [40, 0])}), spliced)
    beside = device_layers([("V1", (20, 41), {"run": "B"})], [], [("C1", (0, 0), {})])
    _, at_trunk = summarise(placed({"A": straight(40.0), "B": np.add(branch, [20, 1])}), beside)

    assert not over_splice
    assert not at_trunk


def test_a_run_that_ends_at_a_splice_nobody_else_meets_is_reported():
    """The wire must go on from there."""
    layers = device_layers([], [("S1", (40, 0), {"run": "A"})])
    _, findings = summarise(placed({"A": straight(40.0)}, feature=last("splice")), layers)

    assert [f.code for f in findings] == ["run-without-valve"]


def test_the_layer_is_as_declared():
    """Columns and types of the table, also when there is nothing in it."""
    empty = placed({"A": straight(8.0)}).iloc[:0]
    for table, rows in ((empty, 0), (placed({"A": straight(8.0)}), 1)):
        runs, _ = summarise(table)
        assert len(runs) == rows
        assert ["run", *runs.columns][: len(WIRE_RUNS.column_names)] == WIRE_RUNS.column_names
        assert runs.crs == CRS_METRIC
