"""Depth along runs: curves, segments, evidence, shallow cover."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
from field import Hand
from field_property import FRAME, PLANE, Scene, changed, true_depth, walk

from wiremap.model.settings import Settings
from wiremap.model.tables import WIRE_SEGMENTS
from wiremap.steps.depths import reduce_depths
from wiremap.steps.profiles import profile_runs

SETTINGS = Settings()


def profile(
    depths,
    *,
    step_m=4.0,
    sigma=0.02,
    systematic=0.0,
    feature="path",
    exposed=False,
    runs="A",
    method="two_sided",
):
    """Profile one line of vertices; NaN where a vertex carries no reading."""
    depth = np.asarray(depths, dtype=float)
    n = len(depth)
    vertices = pd.DataFrame({
        "run": runs, "sequence": np.arange(n), "point": [f"P{i}" for i in range(n)], "feature": feature,
        "chainage_m": np.arange(n) * step_m, "x_m": np.arange(n) * step_m, "y_m": 0.0,
        "position_rms_m": np.linspace(0.1, 0.2, n), "is_exposed": exposed,
    })  # fmt: skip
    points = gpd.GeoDataFrame(
        {"locate": np.arange(n), "run": runs, "chainage_m": vertices["chainage_m"]},
        geometry=gpd.points_from_xy(vertices["x_m"], vertices["y_m"]), crs=PLANE,
    )  # fmt: skip
    seen = np.flatnonzero(np.isfinite(depth))
    readings = pd.DataFrame({
        "point": vertices["point"].iloc[seen], "run": points["run"].iloc[seen], "locate": seen, "depth_m": depth[seen],
        "depth_sigma_m": np.broadcast_to(sigma, n)[seen],
        "method": np.broadcast_to(np.asarray(method, dtype=object), n)[seen],
        "systematic_sigma_m": np.broadcast_to(systematic, n)[seen],
    })  # fmt: skip
    return profile_runs(vertices, points, readings, frame=FRAME, settings=SETTINGS)


def test_depth_follows_the_readings():
    """A run that deepens from 0.25 to 0.45 m deepens on the map."""
    segments = profile(np.linspace(0.25, 0.45, 9)).segments
    assert segments["depth_from_m"].is_monotonic_increasing
    assert segments["depth_to_m"].iloc[-1] == pytest.approx(0.45, abs=0.03)
    assert segments.columns[: len(WIRE_SEGMENTS.columns)].tolist() == WIRE_SEGMENTS.column_names


def test_sigma_grows_between_and_beyond_readings():
    """Least at the readings, more between, most past the last."""
    curve = profile([0.3, np.nan, np.nan, 0.3, np.nan, np.nan, np.nan]).curves.set_index(
        "chainage_m"
    )
    sigma = curve["depth_sigma_m"]
    assert sigma[0] < sigma[6] > sigma[12] < sigma[18] < sigma[24]


def test_nothing_is_said_far_from_any_reading():
    """Beyond three length scales (15 m) depth, sigma and cover are unknown, not zero."""
    done = profile([0.3] + [np.nan] * 30)
    curve = done.curves
    known = curve["depth_m"].notna()
    assert curve.loc[known, "chainage_m"].max() == pytest.approx(44, abs=2)
    assert done.segments["cover_low_m"].iloc[-1:].isna().all()
    assert done.points["wire_depth_m"].isna().sum() > 10


def test_a_run_without_readings_has_no_depth():
    """Another run's readings say nothing of this one."""
    done = profile([0.3, 0.3, 0.3, np.nan, np.nan, np.nan], runs=["A"] * 3 + ["B"] * 3)
    assert done.segments.loc[done.segments["run"] == "B", "depth_from_m"].isna().all()
    assert done.points["wire_depth_sigma_m"].notna().tolist() == [True] * 3 + [False] * 3


def test_an_exposed_reading_is_respected():
    """A depth seen to 15 mm holds the curve against pairs good to 40 mm."""
    sigma = np.array([0.04, 0.04, 0.005, 0.04, 0.04])
    points = profile([0.30, 0.30, 0.22, 0.30, 0.30], sigma=sigma).points
    assert points["wire_depth_m"].iloc[2] == pytest.approx(0.22, abs=0.005)
    assert points["wire_depth_m"].iloc[0] > 0.25


def test_a_lean_held_wrong_everywhere_does_not_average_out():
    """Forty readings with 15 mm in common leave at least 14 mm, without 15 mm in common less than 10."""
    shared = profile([0.3] * 40, sigma=0.025, systematic=0.015).curves["depth_sigma_m"]
    alone = profile([0.3] * 40, sigma=0.025).curves["depth_sigma_m"]
    assert shared.min() > 0.014
    assert alone.min() < 0.010


def test_cover_low_is_the_one_sided_bound():
    """Below depth less 1.645 sigma at 95 % by less than a sigma, and not below zero."""
    done = profile([0.3, 0.3])
    row, curve = done.segments.iloc[0], done.curves
    bound = (curve["depth_m"] - 1.6449 * curve["depth_sigma_m"]).min()
    assert bound - curve["depth_sigma_m"].min() < row["cover_low_m"] < bound
    assert row["depth_sigma_m"] == pytest.approx(curve["depth_sigma_m"].max())
    assert profile([0.02, 0.02], sigma=0.1).segments["cover_low_m"].iloc[0] == 0


def test_cover_low_holds_the_least_cover_between_the_marks():
    """Of wires that wander between the marks, one segment in twenty goes shallower, about."""
    rng = np.random.default_rng(8)
    runs, marks, fine = 40, 12, 16  # a node each quarter of a metre
    keep = np.exp(-0.25 / 15.0)
    true = rng.normal(0.3, 0.04, (runs, fine * (marks - 1) + 1))
    for i in range(1, true.shape[1]):
        true[:, i] = 0.3 + keep * (true[:, i - 1] - 0.3) + np.sqrt(1 - keep**2) * (true[:, i] - 0.3)
    read = true[:, ::fine] + rng.normal(0, 0.02, (runs, marks))
    names = np.repeat([f"R{i}" for i in range(runs)], marks)
    low = profile(read.ravel(), runs=names).segments["cover_low_m"].to_numpy()
    least = [true[:, k : k + fine + 1].min(axis=1) for k in range(0, true.shape[1] - 1, fine)]
    assert 0.01 < np.mean(np.transpose(least).ravel() < low) < 0.08


def test_a_segment_is_as_poorly_placed_as_its_poorer_end():
    """position_rms_m of the segment is the greater of its vertices'."""
    assert profile([0.3, 0.3, 0.3]).segments["position_rms_m"].tolist() == pytest.approx(
        [0.15, 0.2]
    )


def test_evidence_tells_exposed_traced_and_inferred():
    """Both ends seen; both ends heard; the last stretch to where the tone was lost, and long gaps."""
    feature = ["exposed", "exposed", "path", "lost"]
    done = profile([0.3] * 4, feature=feature, exposed=[True, True, False, False])
    assert done.segments["evidence"].tolist() == ["exposed", "traced", "inferred"]
    assert profile([0.3, 0.3], step_m=26).segments["evidence"].tolist() == ["inferred"]


def test_shallow_stretches_of_a_run_make_one_finding():
    """Chainages from and to, the bound, and the work that reaches the wire."""
    depth = np.full(30, 0.35)
    depth[[5, 6, 7, 20, 21]] = 0.08
    (finding,) = [f for f in profile(depth, sigma=0.01).findings if f.code == "shallow-cover"]
    assert (finding.code, finding.subject) == ("shallow-cover", "A")
    assert finding.message.count(" to ") == 2
    assert "core aeration" in finding.advice
    assert finding.x_m == pytest.approx(20, abs=4)


def test_deep_runs_are_not_called_shallow():
    """0.30 m with 20 mm: nothing to say."""
    assert profile([0.30] * 10).findings == []


def test_a_reading_that_all_others_contradict_is_reported_and_weighs_little():
    """0.75 m among readings of 0.30 m: the curve stays with the others."""
    depth = [0.3] * 12
    depth[6] = 0.75
    done = profile(depth)
    assert [(f.code, f.subject) for f in done.findings] == [("depth-disagrees", "P6")]
    assert "got 0.75 m" in done.findings[0].message
    assert done.points["wire_depth_m"].iloc[6] < 0.36


def test_a_depth_seen_in_a_hole_is_reported_but_keeps_its_weight():
    """0.75 m seen among pairs of 0.30 m: the curve goes through it."""
    depth = [0.3] * 12
    depth[6] = 0.75
    method = ["two_sided"] * 12
    method[6] = "exposed"
    done = profile(depth, method=method)
    assert ("depth-disagrees", "P6") in [(f.code, f.subject) for f in done.findings]
    assert done.points["wire_depth_m"].iloc[6] > 0.65


def test_the_curve_covers_every_run_from_end_to_end_once():
    """Chainages ascend strictly, steps at most 2 m."""
    curve = profile([0.3] * 5).curves
    assert curve["chainage_m"].iloc[[0, -1]].tolist() == [0.0, 16.0]
    assert curve["chainage_m"].diff().dropna().between(1e-9, 2.0).all()


@pytest.mark.parametrize(
    ("parts", "least"),
    [({}, 0.93), ({"slope_deg": 10.0, "one_sided": 0.5}, 0.93), ({"read": 0.4}, 0.93), ({"exposed": 0.15}, 0.93),
     ({"slope_deg": 5.0, "one_sided": 1.0, "lone_left": 1.0}, 0.93),
     ({"hand": Hand(common_share=1.0, systematic_share=1.0)}, 0.85)],
)  # fmt: skip
def test_the_curves_interval_holds_the_wire(parts, least):
    """Share of curve nodes within 1.96 sigma on simulated properties; at least as stated."""
    rng = np.random.default_rng(21)
    held = []
    for _ in range(24):
        scene = changed(Scene(read=0.7), **parts)
        placed, points, vertices, truth = walk(scene, rng)
        readings = reduce_depths(placed, points, frame=FRAME, settings=SETTINGS).readings
        curve = profile_runs(
            vertices, points, readings, frame=FRAME, settings=SETTINGS
        ).curves.dropna()
        run = curve["run"].str[1:].astype(int).to_numpy()
        phase = truth["phase"].to_numpy()[:: scene.marks][run]
        error = curve["depth_m"] - true_depth(scene, run, curve["chainage_m"].to_numpy(), phase)
        held.append(np.abs(error) < 1.96 * curve["depth_sigma_m"])
    assert np.concatenate(held).mean() >= least


def test_empty_tables_give_empty_answers():
    """No vertices, no points, no readings."""
    done = profile([0.3, 0.3])
    vertices = pd.DataFrame({c: pd.Series(dtype=t) for c, t in {
        "run": "str", "sequence": float, "point": "str", "feature": "str", "chainage_m": float, "x_m": float,
        "y_m": float, "position_rms_m": float, "is_exposed": bool}.items()})  # fmt: skip
    readings = pd.DataFrame(
        {c: pd.Series(dtype=float) for c in ("locate", "depth_m", "depth_sigma_m")}
    )
    empty = profile_runs(vertices, done.points.iloc[:0], readings, frame=FRAME, settings=SETTINGS)
    assert [len(empty.points), len(empty.segments), len(empty.curves), empty.findings] == [
        0,
        0,
        0,
        [],
    ]
    none = profile_runs(vertices, done.points, readings, frame=FRAME, settings=SETTINGS)
    assert none.points["wire_depth_m"].isna().all()


def test_many_runs_are_all_profiled():
    """40,000 readings in 1,000 runs: every located point gets a depth near the readings."""
    n, runs = 40, 1000
    run = np.repeat([f"R{i}" for i in range(runs)], n)
    chainage = np.tile(np.arange(n) * 3.0, runs)
    vertices = pd.DataFrame({
        "run": run, "sequence": 0, "point": "P", "feature": "path", "chainage_m": chainage, "x_m": chainage,
        "y_m": 0.0, "position_rms_m": 0.1, "is_exposed": False})  # fmt: skip
    points = gpd.GeoDataFrame({"locate": np.arange(n * runs), "run": run, "chainage_m": chainage},
                              geometry=gpd.points_from_xy(chainage, 0 * chainage), crs=PLANE)  # fmt: skip
    rng = np.random.default_rng(1)
    readings = pd.DataFrame(
        {
            "locate": points["locate"],
            "depth_m": rng.normal(0.3, 0.02, n * runs),
            "depth_sigma_m": 0.02,
        }
    )
    profiled = profile_runs(vertices, points, readings, frame=FRAME, settings=SETTINGS)
    assert profiled.points["wire_depth_m"].sub(0.3).abs().max() < 0.05
