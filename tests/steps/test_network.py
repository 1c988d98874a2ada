"""Which wires meet where, and the wire path back to the controller."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st
from walked_wires import FRAME, device_layers, noisy, placed, straight

from wiremap.model.frame import Frame
from wiremap.model.settings import Settings
from wiremap.steps.network import join_runs
from wiremap.steps.traces import trace_runs

SETTINGS = Settings()
NORTH = straight(40.0)[:, ::-1]


def join(runs, layers, rms_m=0.02, frame=FRAME, **columns):
    traces = trace_runs(placed(runs, rms_m, **columns), frame=frame, settings=SETTINGS)
    return join_runs(traces.lines, traces.vertices, *layers, frame=frame, settings=SETTINGS)


def path_of(network, valve):
    return network.paths.set_index("valve").loc[valve]


def codes(network):
    return sorted(finding.code for finding in network.findings)


def test_a_valve_at_the_end_of_a_run_from_the_controller():
    """Eighty metres of wire from the controller to the valve."""
    layers = device_layers([("V1", (80, 0), {"run": "A"})], [], [("C1", (0, 0), {})])
    network = join({"A": straight(80.0)}, layers)

    path = path_of(network, "V1")
    assert (path["controller"], path["runs"]) == ("C1", "A")
    assert path["path_length_m"] == pytest.approx(80.0)
    assert path["path_length_sigma_m"] == pytest.approx(0.02, rel=0.2)
    assert codes(network) == []


SIDE_BY_SIDE = [("A", (0, 0.2), {"controller": "A"}), ("B", (0, -0.3), {"controller": "B"})]


def test_a_run_that_begins_at_either_of_two_controllers_is_not_given_to_one_in_silence():
    """Cabinets 0.5 m apart and marks of RMS 0.5 m: A was nearer by 0.1 m, which tells nothing."""
    layers = device_layers([("V1", (80, 0), {"run": "R"})], [], SIDE_BY_SIDE, rms_m=0.5)
    network = join({"R": straight(80.0)}, layers, rms_m=0.5)

    (finding,) = network.findings
    assert (finding.code, finding.subject) == ("controller-uncertain", "A")
    assert "Run R begins as near controller B as controller A" in finding.message
    assert path_of(network, "V1")["controller"] == "A"


def test_the_trace_back_tells_controllers_apart_where_positions_do():
    """The same cabinets and marks at an RMS of 0.02 m: the run begins at A."""
    layers = device_layers([("V1", (80, 0), {"run": "R"})], [], SIDE_BY_SIDE)
    network = join({"R": straight(80.0)}, layers)

    assert codes(network) == []
    assert path_of(network, "V1")["controller"] == "A"


@pytest.mark.parametrize("row", ["valve", "mark"])
def test_a_row_that_names_the_controller_leaves_no_doubt(row):
    """The valve's row, or one mark of the run."""
    named = {"run": "R", "controller": "A"} if row == "valve" else {"run": "R"}
    marks = straight(80.0)
    columns = {"controller": ["A"] + [None] * (len(marks) - 1)} if row == "mark" else {}
    layers = device_layers([("V1", (80, 0), named)], [], SIDE_BY_SIDE, rms_m=0.5)

    assert codes(join({"R": marks}, layers, rms_m=0.5, **columns)) == []


def test_a_branch_traced_alone_is_joined_to_its_trunk():
    """It starts 1 m beside chainage 40 m of the trunk: 40 m, the gap, and its own 40 m."""
    layers = device_layers(
        [("V1", (80, 0), {"run": "A"}), ("V2", (40, 41), {"run": "B"})], [], [("C1", (0, 0), {})]
    )
    network = join({"A": straight(80.0), "B": np.add(NORTH, [40, 1])}, layers)

    path = path_of(network, "V2")
    assert path["runs"] == "A;B"
    assert path["path_length_m"] == pytest.approx(81.0, abs=0.01)
    assert codes(network) == ["branch-joined"]
    joined = network.connections[network.connections["other_kind"] == "run"].iloc[0]
    assert (joined["run"], joined["other"]) == ("B", "A")
    assert joined["other_chainage_m"] == pytest.approx(40.0, abs=0.01)
    assert joined["gap_m"] == pytest.approx(1.0, abs=0.01)


def test_a_branch_walked_from_its_valve_is_joined_all_the_same():
    """The walk begins at the valve and ends at the trunk."""
    layers = device_layers([("V2", (40, 41), {"run": "B"})], [], [("C1", (0, 0), {})])
    network = join({"A": straight(80.0), "B": (np.add(NORTH, [40, 1]))[::-1]}, layers)

    assert path_of(network, "V2")["runs"] == "A;B"


def test_a_branch_out_of_reach_is_not_joined():
    """Six metres off, with 2 cm positions: beyond 2 m and the positions' radius."""
    layers = device_layers([("V2", (40, 46), {"run": "B"})], [], [("C1", (0, 0), {})])
    network = join({"A": straight(80.0), "B": np.add(NORTH, [40, 6])}, layers)

    assert np.isnan(path_of(network, "V2")["path_length_m"])
    assert path_of(network, "V2")[["controller", "runs"]].isna().all()
    assert codes(network) == ["run-not-connected"]


def test_coarse_positions_reach_farther():
    """Three and a half metres off, with 1 m RMS: the radius of both is 1.7308 sqrt(2) m (NSSDA)."""
    layers = device_layers([("V2", (40, 43.5), {"run": "B"})], [], [("C1", (0, 0), {})], rms_m=1.0)
    coarse = join({"A": straight(80.0), "B": np.add(NORTH, [40, 3.5])}, layers, rms_m=1.0)

    assert path_of(coarse, "V2")["runs"] == "A;B"


def test_crossing_wires_are_not_joined():
    """Two wires that cross in their middles have nothing to do with each other."""
    layers = device_layers([("V2", (40, 20), {"run": "B"})], [], [("C1", (0, 0), {})])
    network = join({"A": straight(80.0), "B": np.add(NORTH, [40, -20])}, layers)

    assert np.isnan(path_of(network, "V2")["path_length_m"])


def test_runs_meet_at_a_splice():
    """Trunk to the splice, two branches from it; each valve's path goes over the splice."""
    layers = device_layers(
        [("V1", (40, 40), {"run": "B"}), ("V2", (80, 0), {"run": "D"})],
        [("S1", (40, 0), {})],
        [("C1", (0, 0), {})],
    )
    runs = {
        "A": straight(40.0),
        "B": np.add(NORTH, [40, 0.5]),
        "D": np.add(straight(40.0), [40.5, 0]),
    }
    network = join(runs, layers)

    at_splice = network.connections[network.connections["other"] == "S1"]
    assert sorted(at_splice["run"]) == ["A", "B", "D"]
    assert path_of(network, "V1")["runs"] == "A;B"
    assert path_of(network, "V2")["runs"] == "A;D"
    assert codes(network) == []


def test_wires_of_one_valve_box_are_kept_apart():
    """Three runs end at three valves half a metre apart: each valve keeps its own wire."""
    ends = [(80.0, 0.0), (80.0, 0.5), (80.0, 1.0)]
    runs = {f"R{i}": np.add(straight(80.0), [0, y]) for i, (_, y) in enumerate(ends)}
    feature = (["path"] * 20 + ["valve"]) * 3
    valves = [(f"V{i}", end, {"run": f"R{i}"}) for i, end in enumerate(ends)]
    network = join(runs, device_layers(valves, [], [("C1", (0, 0.5), {})]), feature=feature)

    for i in range(3):
        assert path_of(network, f"V{i}")["runs"] == f"R{i}"
        assert path_of(network, f"V{i}")["path_length_m"] == pytest.approx(80.0, abs=0.6)
    assert codes(network) == []


def test_a_wire_beside_the_trunk_is_called_a_shared_trench():
    """A wire that lies along the trunk and ends beside it; the path does not hop to and fro."""
    layers = device_layers([("V2", (60, 8), {"run": "B"})], [], [("C1", (0, 0), {})])
    beside = np.concatenate([np.add(straight(40.0), [20, 0.4]), [[60, 4], [60, 8]]])
    network = join({"A": straight(80.0), "B": beside}, layers)

    joined = network.connections[network.connections["other_kind"] == "run"]
    assert joined["evidence"].tolist() == ["shared trench"]
    assert path_of(network, "V2")["runs"] == "A;B"


def test_each_valve_goes_to_its_own_controller():
    """Two controllers on one wire: the valve's own column decides, else the nearer one."""
    controllers = [("C1", (0, 0), {}), ("C2", (80, 0), {})]
    valves = [
        ("V1", (20, 0), {"run": "A"}),
        ("V2", (20, 0), {"run": "A", "controller": "C2"}),
        ("V3", (70, 0), {"run": "A", "controller": "C9"}),
    ]
    network = join({"A": straight(80.0)}, device_layers(valves, [], controllers))

    assert network.paths["controller"].tolist() == ["C1", "C2", "C2"]
    assert network.paths["path_length_m"].tolist() == pytest.approx([20.0, 60.0, 10.0], abs=0.01)


def test_a_valve_without_a_run_joins_the_wire_that_passes():
    """A valve that was located for itself, half a metre from the wire."""
    layers = device_layers([("V1", (50, 0.5), {})], [], [("C1", (0, 0), {})])
    network = join({"A": straight(80.0)}, layers)

    assert path_of(network, "V1")["path_length_m"] == pytest.approx(50.5, abs=0.01)
    assert "nearest run" in network.connections["evidence"].tolist()


def test_lengths_are_ground_metres():
    """Chainages, gaps and paths are divided by the scale factor."""
    frame = Frame(crs=FRAME.crs, metric_crs=FRAME.crs, scale_factor=1.0004)
    layers = device_layers([("V1", (80, 0), {"run": "A"})], [], [("C1", (0, 0), {})])
    network = join({"A": straight(80.0)}, layers, frame=frame)

    assert path_of(network, "V1")["path_length_m"] == pytest.approx(80.0 / 1.0004, abs=1e-4)


@pytest.mark.parametrize("device_rms_m", [0.02, 0.3])
def test_length_sigma_agrees_with_a_simulation(device_rms_m):
    """Sixty walks of 80 m with 0.3 m RMS: the stated sigma is no less than what is seen, and
    no more than three times that (straightening takes the zigzag that sigma allows for)."""
    ends = [("V1", (80, 0), {"run": "A"})], [], [("C1", (0, 0), {})]
    layers = device_layers(*ends, rms_m=device_rms_m)
    rng = np.random.default_rng(6)
    networks = [join({"A": noisy(straight(80.0), rng, 0.3)}, layers, 0.3) for _ in range(60)]
    paths = [path_of(network, "V1") for network in networks]
    error = np.array([path["path_length_m"] for path in paths]) - 80.0
    stated = np.median([path["path_length_sigma_m"] for path in paths])

    seen = np.sqrt(np.mean(error**2))
    assert seen < 1.1 * stated
    assert stated < 3 * seen


@given(st.permutations(range(3)))
@hypothesis_settings(max_examples=6)
def test_the_order_of_runs_and_valves_does_not_matter(order):
    """Tables in any order give the same paths."""
    runs = {"A": straight(80.0), "B": np.add(NORTH, [40, 1]), "D": np.add(NORTH, [60, 1])}
    valves = [
        ("V1", (80, 0), {"run": "A"}),
        ("V2", (40, 41), {"run": "B"}),
        ("V3", (60, 41), {"run": "D"}),
    ]
    traces = trace_runs(placed(runs), frame=FRAME, settings=SETTINGS)
    layers = device_layers([valves[i] for i in order], [], [("C1", (0, 0), {})])
    network = join_runs(traces.lines, traces.vertices, *layers, frame=FRAME, settings=SETTINGS)

    lengths = network.paths.set_index("valve")["path_length_m"]
    assert lengths[["V1", "V2", "V3"]].tolist() == pytest.approx([80.0, 81.0, 101.0], abs=0.01)


def test_nothing_in_gives_empty_tables():
    """No lines; and devices without lines."""
    empty = trace_runs(placed({"A": straight(8.0)}).iloc[:0], frame=FRAME, settings=SETTINGS)
    none = device_layers()
    some = device_layers([("V1", (0, 0), {})], [], [("C1", (0, 0), {})])
    for layers, valves in ((none, 0), (some, 1)):
        network = join_runs(empty.lines, empty.vertices, *layers, frame=FRAME, settings=SETTINGS)
        assert len(network.connections) == 0
        assert len(network.paths) == valves
        assert network.paths["path_length_m"].isna().all()
        assert not network.findings


def test_a_run_that_meets_nothing_is_noted():
    """Without a controller, splice or other run near it."""
    network = join({"A": straight(80.0)}, device_layers([("V1", (80, 0), {"run": "A"})]))

    assert codes(network) == ["run-not-connected"]
