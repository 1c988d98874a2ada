"""Print how well depths are read in simulated fields: error, stated sigma, coverage.

Run it from the project's root::

    python tests/accuracy_table.py

Offsets are taken by a simulated receiver in the field of simulated conductors (`field`), with
lean and marks held as the settings say by default: lean 2 degrees, half of its variance common to
both sides of a pair, marks 15 mm. "Half-sum" is the depth as half the sum of the two offsets, the
rule of thumb that the closed form replaces.
"""

from __future__ import annotations

import numpy as np
from field import Hand, Section, take_pairs
from field_property import FRAME, Scene, changed, terrain, true_depth, walk

from wiremap.formulas.depth_pairs import reduce_pairs
from wiremap.model.settings import Settings
from wiremap.steps.depths import reduce_depths
from wiremap.steps.profiles import profile_runs

SETTINGS = Settings()
PAIRS, PROPERTIES = 1500, 12


def heading(title, *columns):
    print(f"\n## {title}\n\n| {' | '.join(columns)} |\n|{'---|' * len(columns)}")


def line(*cells):
    print("| " + " | ".join(str(c) for c in cells) + " |")


def percent(share):
    return f"{100 * share:.1f} %"


def held(error, sigma):
    return percent(np.mean(np.abs(error) < 1.96 * sigma))


def offsets(depth_m, slope_deg, hand, seed=5):
    rng = np.random.default_rng(seed)
    section = Section(np.full(PAIRS, depth_m), np.full(PAIRS, np.tan(np.radians(slope_deg))))
    return (np.maximum(u, 0.01) for u in take_pairs(section, hand, rng))


def by_slope_and_depth():
    heading("Two-sided pairs by cross slope and depth", "slope", "depth", "half-sum: rms error",
            "rms error", "stated sigma", "within 1.96 sigma")  # fmt: skip
    hand = Hand(systematic_share=0.0)
    for slope in (0, 5, 10, 15, 20):
        for depth in (0.1, 0.2, 0.3, 0.6):
            left, right = offsets(depth, slope, hand)
            pair = reduce_pairs(left, right)
            error = pair.depth_m - depth
            line(f"{slope}°", f"{depth:.2f} m",
                 percent(np.sqrt(np.mean(((left + right) / 2 - depth) ** 2)) / depth),
                 percent(np.sqrt(np.mean(error**2)) / depth),
                 percent(pair.depth_sigma_m.mean() / depth), held(error, pair.depth_sigma_m))  # fmt: skip


def by_lean_error():
    heading("Two-sided pairs at 0.30 m on 10° by how the lean is held", "lean error",
            "mean error", "rms error", "stated sigma", "within 1.96 sigma")  # fmt: skip
    for name, hand in (
        ("1°, as settings say 2°", Hand(1.0, systematic_share=0.0)),
        ("2°, half common", Hand(2.0, systematic_share=0.0)),
        ("2°, nothing common", Hand(2.0, 0.0, 0.0)),
        ("2°, all common", Hand(2.0, 1.0, 0.0)),
        ("3°, as settings say 2°", Hand(3.0, systematic_share=0.0)),
        ("2°, upright held to 2° as well", Hand(2.0, systematic_share=0.0, upright_sigma_deg=2.0)),
    ):
        left, right = offsets(0.3, 10, hand)
        pair = reduce_pairs(left, right)
        error = pair.depth_m - 0.3
        line(name, percent(error.mean() / 0.3), percent(np.sqrt(np.mean(error**2)) / 0.3),
             percent(pair.depth_sigma_m.mean() / 0.3), held(error, pair.depth_sigma_m))  # fmt: skip


def walks(scene, *, seed=1):
    """Errors and sigmas of readings and of curves, and what was called uneven."""
    rng = np.random.default_rng(seed)
    readings, curves, called = [], [], []
    for _ in range(PROPERTIES):
        placed, points, vertices, truth = walk(scene, rng)
        done = reduce_depths(
            placed, points, frame=FRAME, settings=SETTINGS, surface=terrain(scene, placed, rng)
        )
        at = done.readings["locate"].to_numpy()
        beside = truth["beside"].to_numpy()[at]
        error = done.readings["depth_m"].to_numpy() - truth["depth_m"].to_numpy()[at]
        readings.append(np.column_stack((error, done.readings["depth_sigma_m"], beside)))
        rows = [int(f.subject[1:]) for f in done.findings if f.code == "depth-pair-uneven"]
        runs = set(truth["run"].iloc[rows])
        called.append((0 in runs, len(runs - {0}) / (scene.runs - 1)))
        along = profile_runs(
            vertices, points, done.readings, frame=FRAME, settings=SETTINGS
        ).curves.dropna()
        run = along["run"].str[1:].astype(int).to_numpy()
        phase = truth["phase"].to_numpy()[:: scene.marks][run]
        true = true_depth(scene, run, along["chainage_m"].to_numpy(), phase)
        curves.append(np.column_stack((along["depth_m"] - true, along["depth_sigma_m"])))
    return np.concatenate(readings), np.concatenate(curves), np.mean(called, axis=0)


def by_knowledge_of_slope():
    heading("Properties by slope and by what is known of it (mean depth 0.30 m)", "slope", "pairs",
            "rms error", "stated sigma", "within 1.96 sigma", "curve: rms error", "curve: within 1.96 sigma")  # fmt: skip
    for slope in (0, 5, 10, 20):
        for name, parts in (
            ("two-sided", {}),
            ("half one-sided, slope from neighbours", {"one_sided": 0.5}),
            ("one-sided, slope noted", {"one_sided": 1.0, "noted_slope": 1.0}),
            ("one-sided, slope from elevations", {"one_sided": 1.0, "elevation_sigma_m": 0.03}),
            ("one-sided, slope from a terrain", {"one_sided": 1.0, "terrain_sigma_m": 0.03}),
            ("one-sided, left or right by chance", {"one_sided": 1.0}),
            ("one-sided, always left", {"one_sided": 1.0, "lone_left": 1.0}),
        ):
            read, curve, _ = walks(changed(Scene(slope_deg=slope, read=0.7), **parts))
            line(f"{slope}°", name, f"{1e3 * np.sqrt(np.mean(read[:, 0] ** 2)):.0f} mm",
                 f"{1e3 * np.sqrt(np.mean(read[:, 1] ** 2)):.0f} mm", held(read[:, 0], read[:, 1]),
                 f"{1e3 * np.sqrt(np.mean(curve[:, 0] ** 2)):.0f} mm", held(curve[:, 0], curve[:, 1]))  # fmt: skip


def by_sparseness():
    heading("Depth between readings: marks every 4 m, one in so many with a pair, level ground", "one in",
            "depth strays by", "curve: rms error", "curve: stated sigma", "curve: within 1.96 sigma")  # fmt: skip
    for every in (1, 2, 4, 8):
        for spread in (0.04, 0.08):
            _, curve, _ = walks(Scene(read=1 / every, depth_spread_m=spread))
            line(every, f"{1e3 * spread:.0f} mm", f"{1e3 * np.sqrt(np.mean(curve[:, 0] ** 2)):.0f} mm",
                 f"{1e3 * np.sqrt(np.mean(curve[:, 1] ** 2)):.0f} mm", held(curve[:, 0], curve[:, 1]))  # fmt: skip


def by_neighbour():
    heading("A second conductor beside one run (wire at 0.30 m, ground on 4°)", "spacing", "share of current",
            "ground", "mean error beside", "within 1.96 sigma beside", "run called uneven", "other runs called uneven")  # fmt: skip
    for spacing, share in ((0.3, 0.2), (0.3, -0.2), (0.6, 0.2), (0.6, -0.3), (0.4, -0.5)):
        for name, parts in (
            ("not known, 6 runs", {}),
            ("not known, 12 runs", {"runs": 12}),
            ("noted", {"noted_slope": 1.0}),
        ):
            scene = changed(
                Scene(slope_deg=4, read=0.7, spacing_m=spacing, share=share, depth_spread_m=0.0),
                **parts,
            )
            read, _, called = walks(scene)
            beside = read[read[:, 2] > 0]
            line(f"{spacing:.1f} m", f"{share:+.1f}", name, f"{1e3 * beside[:, 0].mean():+.0f} mm",
                 held(beside[:, 0], beside[:, 1]), percent(called[0]), percent(called[1]))  # fmt: skip


if __name__ == "__main__":
    by_slope_and_depth()
    by_lean_error()
    by_knowledge_of_slope()
    by_sparseness()
    by_neighbour()
