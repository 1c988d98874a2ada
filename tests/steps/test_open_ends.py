"""Valves and lost marks whose rows name no run."""

import geopandas as gpd
import numpy as np
import pytest
import shapely
from pyproj import CRS

from wiremap.model.frame import Frame
from wiremap.model.settings import Settings
from wiremap.steps.traces import trace_runs

SPACING_M = 4.0
FRAME = Frame(CRS("EPSG:26914"), CRS("EPSG:26914"))


def walk(run, y, *, zone="", count=6, backward=False):
    """Marks along x, the last one mark spacing short of x = 24."""
    rows = [{"feature": "path", "run": run, "zone": zone, "x": SPACING_M * i, "y": y}
            for i in range(count)]  # fmt: skip
    return rows[::-1] if backward else rows


def mark(feature, x, y, **more):
    return {"feature": feature, "run": "", "zone": "", "x": x, "y": y, **more}


def trace(rows, *, rms=0.02):
    table = gpd.GeoDataFrame(
        {
            "point": [f"P{i}" for i in range(len(rows))],
            "feature": [row["feature"] for row in rows],
            "run": [row["run"] or None for row in rows],
            "zone": [row["zone"] or None for row in rows],
            "controller": [row.get("controller") for row in rows],
            "order": [row.get("order", np.nan) for row in rows],
            "position_rms_m": rms,
            "cov_xx_m2": rms**2 / 2,
            "cov_xy_m2": 0.0,
            "cov_yy_m2": rms**2 / 2,
        },
        geometry=gpd.points_from_xy([r["x"] for r in rows], [r["y"] for r in rows]),
        crs=FRAME.metric_crs,
    ).astype({"run": "str", "zone": "str", "controller": "str"})
    return trace_runs(table, frame=FRAME, settings=Settings())


def ends(traces):
    """The last vertex of each run: feature and x."""
    last = traces.vertices.groupby("run").last()
    return dict(zip(last.index, zip(last["feature"], last["x_m"], strict=True), strict=True))


def test_a_valve_one_mark_spacing_beyond_the_last_mark_ends_its_run():
    """The row names no run and no zone; the wire is drawn on to it."""
    traces = trace([mark("controller", 0, 0), *walk("A", 0), mark("valve", 24, 0)])
    assert ends(traces) == {"A": ("valve", pytest.approx(24.0))}
    assert traces.lines["length_m"].tolist() == pytest.approx([24.0])
    assert traces.points.query("feature == 'valve'")["run"].tolist() == ["A"]


def test_a_valve_beyond_reach_stays_alone():
    """One and a half steps, 2 m and the positions' own radius: 9 m is beyond that."""
    traces = trace([mark("controller", 0, 0), *walk("A", 0), mark("valve", 29.5, 0)])
    assert ends(traces) == {"A": ("path", pytest.approx(20.0))}


def test_zones_that_agree_come_before_distance():
    """Two wires side by side: each valve stands nearer to the other's end."""
    rows = [mark("controller", 0, 0), *walk("A", 0, zone="1"), *walk("B", 3, zone="2"),
            mark("valve", 24, 3, zone="1"), mark("valve", 24, 0, zone="2")]  # fmt: skip
    traces = trace(rows)
    zone = traces.points.query("feature == 'valve'").set_index("run")["zone"].to_dict()
    assert zone == {"A": "1", "B": "2"}


def test_a_valve_labelled_with_another_zone_stays_off_a_run_it_was_not_noted_with():
    """Zone 7's valve is not what zone 1's wire goes to merely because it is near."""
    rows = [*walk("A", 0, zone="1"), *walk("B", 40, zone="2"), mark("valve", 24, 0, zone="7")]
    assert ends(trace(rows))["A"] == ("path", pytest.approx(20.0))


def test_a_wrong_label_does_not_part_a_valve_from_the_run_it_was_noted_with():
    """Where the label is wrong the place still holds: the list's reconciliation reports it."""
    rows = [*walk("A", 0, zone="1"), mark("valve", 24, 0, zone="7"), *walk("B", 40, zone="2")]
    assert ends(trace(rows))["A"] == ("valve", pytest.approx(24.0))


def test_a_valve_beside_the_controller_ends_no_run_that_starts_there():
    """Wires start at the controller; an open start is no far end."""
    rows = [mark("controller", 0, 0), *walk("A", 0), mark("valve", 0, 2)]
    assert ends(trace(rows)) == {"A": ("path", pytest.approx(20.0))}


@pytest.mark.parametrize("known", [True, False])
def test_a_walk_toward_the_controller_takes_its_valve_at_its_start(known):
    """Walked backward, with the controller located or not."""
    source = [mark("controller", 0, 0)] if known else []
    traces = trace([*source, mark("valve", 24, 0), *walk("A", 0, backward=True)])
    assert traces.vertices["feature"].tolist() == ["valve", *["path"] * 6]
    assert not [f for f in traces.findings if f.code == "run-resequenced"]


def starts(traces):
    """The first vertex of each run: feature and x."""
    first = traces.vertices.groupby("run").first()
    return dict(zip(first.index, zip(first["feature"], first["x_m"], strict=True), strict=True))


@pytest.mark.parametrize("backward", [False, True])
def test_walks_that_begin_one_mark_spacing_from_the_controller_begin_at_it(backward):
    """One controller row serves both runs; the other end is no nearer to it."""
    rows = [mark("controller", -4, 0), *walk("A", 0, backward=backward), *walk("B", 1)]
    traces = trace(rows)
    assert starts(traces)["B"] == ("controller", -4.0)
    assert (ends(traces) if backward else starts(traces))["A"] == ("controller", -4.0)
    assert traces.lines["length_m"].tolist() == pytest.approx([24.0, 24.0], rel=0.01)


def test_a_walk_that_begins_between_two_controllers_begins_at_the_one_that_it_names():
    """Without a name none is taken: the end may belong to either."""
    two = [mark("controller", -4, y, controller=f"C{y}") for y in (0, 2)]
    assert starts(trace([*two, *walk("A", 1)])) == {"A": ("path", 0.0)}
    named = trace([*two, *({**row, "controller": "C2"} for row in walk("A", 1))])
    assert named.vertices["y_m"].iloc[0] == 2.0


def test_a_branch_that_leaves_a_wire_near_the_controller_does_not_begin_at_it():
    """The trunk begins at the controller and passes by the branch's first mark."""
    trunk, controller = walk("A", 0), mark("controller", 0, 0)
    branch = [{**row, "x": 6.0, "y": row["x"] + 1.0} for row in walk("B", 0)]
    begun = starts(trace([controller, *trunk, *branch]))
    assert begun == {"A": ("path", 0.0), "B": ("path", 6.0)}


def test_a_lost_mark_without_a_run_ends_the_run_it_stands_beyond():
    """It stands where the tone was lost, a step on."""
    traces = trace([mark("controller", 0, 0), *walk("A", 0), mark("lost", 24, 0)])
    assert ends(traces) == {"A": ("lost", pytest.approx(24.0))}


def test_where_the_tone_was_lost_comes_before_the_valve_beyond():
    """The lost mark names no zone, the valve does; the wire was followed to the lost mark."""
    rows = [mark("controller", 0, 0), *walk("A", 0, zone="1"), mark("lost", 23, 0),
            mark("valve", 25, 0, zone="1")]  # fmt: skip
    assert ends(trace(rows)) == {"A": ("lost", pytest.approx(23.0))}


def test_order_numbers_do_not_move_an_adopted_valve():
    """The valve's row has no order of its own and stands first in the file."""
    rows = walk("A", 0)
    numbered = [{**row, "order": i} for i, row in enumerate(rows)]
    traces = trace([mark("controller", 0, 0), mark("valve", 24, 0), *numbered[::-1]])
    assert ends(traces) == {"A": ("valve", pytest.approx(24.0))}


def test_valves_of_two_controllers_are_not_exchanged():
    """Both lists have a zone 1."""
    rows = [*({**r, "controller": "A"} for r in walk("A 1", 0, zone="1")),
            *({**r, "controller": "B"} for r in walk("B 1", 3, zone="1")),
            mark("valve", 24, 3, zone="1", controller="A"),
            mark("valve", 24, 0, zone="1", controller="B")]  # fmt: skip
    points = trace(rows).points.query("feature == 'valve'")
    assert dict(zip(points["run"], points["controller"], strict=True)) == {"A 1": "A", "B 1": "B"}


def test_marks_between_unmarked_corners_are_no_outliers():
    """Marks 10 m apart by tape along a wire that turns square twice within one spacing."""
    wire = [(0, 0), (0, 24), (9, 24), (9, 44)]
    line = shapely.LineString(wire)
    places = [line.interpolate(d) for d in np.arange(0, line.length + 0.1, 10.0)]
    rows = [{"feature": "path", "run": "A", "zone": "", "x": p.x, "y": p.y} for p in places]
    traces = trace(rows)
    assert traces.points["on_line"].all()


def test_a_mark_far_off_its_neighbours_is_still_an_outlier():
    """Nine metres beside a straight walk of marks 4 m apart."""
    rows = walk("A", 0, count=9)
    rows[4] = {**rows[4], "y": 9.0}
    traces = trace(rows)
    assert [f.code for f in traces.findings] == ["outlier-position"]
