"""Time many properties in one go: cost of each, against the floor, and over 1 and 2 workers.

Run it with ``python tests/benchmarks/bench_bulk.py``; ``--properties 1000`` is the full case,
``--profile`` shows where one worker's time goes.

The floor of a property is that of `bench_build`: reading the same rows with pandas and writing the
same layers with pyogrio, as GeoPackage and as GeoJSON. A run includes starting the workers,
hashing the inputs and writing the portfolio, GeoParquet included; the line fitted over several
sizes parts what a run costs from what a property costs. Costs are held against the floor in
processor time, which other work on the machine disturbs least; the gain of a second worker is
clock time and needs two free processors.
"""

from __future__ import annotations

import argparse
import cProfile
import os
import pstats
import resource
import shutil
import sys
import tempfile
import time
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pandas as pd
from bench_build import LAYER_FORMATS, make_property, write_bare

import wiremap
from wiremap.bulk.batches import Batch, build_batch
from wiremap.bulk.jobs import plan_jobs

LOCATES = 150


def make_root(root: Path, count: int, *, locates: int = LOCATES) -> Path:
    """Write properties below a root."""
    for seed in range(count):
        make_property(root / f"p{seed:05d}", locates=locates, seed=seed)
    return root


class Cost(NamedTuple):
    """Seconds on the clock, and of the processors in all processes."""

    clock_s: float
    processor_s: float


def run(root: Path, out: Path, *, jobs: int) -> Cost:
    """Return what a whole run costs."""
    start, used = time.perf_counter(), processor_seconds()
    result = wiremap.build_properties(root, out, jobs=jobs, formats=LAYER_FORMATS)
    if result.count("failed"):
        raise SystemExit(result.failures.to_string())
    return Cost(time.perf_counter() - start, processor_seconds() - used)


def processor_seconds() -> float:
    """Return the processor time of this process and of those that ended below it."""
    usages = (resource.getrusage(w) for w in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))
    return sum(usage.ru_utime + usage.ru_stime for usage in usages)


def peak_mb() -> tuple[float, float]:
    """Return the most memory that this process, and the largest that ended below it, held."""
    unit = 1e6 if sys.platform == "darwin" else 1e3
    usages = (resource.getrusage(w) for w in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))
    own, below = (usage.ru_maxrss / unit for usage in usages)
    return own, below


def fit(sizes: list[int], seconds: list[float]) -> tuple[float, str]:
    """Return the slope of the straight line through run times, and the line in words."""
    slope, start = np.polyfit(sizes, seconds, 1)
    rest = np.array(seconds) - np.polyval((slope, start), sizes)
    share = 1 - rest.var() / np.var(seconds)
    words = f"{start:.2f} s to start + {slope * 1000:.1f} ms each, R2 {share:.4f}"
    return slope, words


def time_properties(work: Path, count: int) -> None:
    """Time runs of several sizes with 1 worker, the largest with 2, and the floor."""
    sizes = sorted({max(count * share // 4, 2) for share in (1, 2, 3, 4)})
    roots = {size: make_root(work / f"root-{size}", size) for size in sizes}
    costs, peaks = [], []
    for size in sizes:
        costs.append(run(roots[size], work / f"out-{size}", jobs=1))
        peaks.append(peak_mb())
    for place, who in enumerate(("main process", "worker")):
        listed = ", ".join(f"{n}: {p[place]:.0f} MB" for n, p in zip(sizes, peaks, strict=True))
        say(f"largest memory of the {who} so far   {listed}")
    for name, seconds in (
        ("clock", [c.clock_s for c in costs]), ("processor", [c.processor_s for c in costs])
    ):  # fmt: skip
        listed = ", ".join(f"{n}: {s:.1f} s" for n, s in zip(sizes, seconds, strict=True))
        each_s, words = fit(sizes, seconds)
        say(f"properties, {name} time, 1 worker   {listed}; {words}")
    two = run(roots[sizes[-1]], work / "out-two", jobs=2)
    say(f"1 to 2 workers at {sizes[-1]}: {costs[-1].clock_s / two.clock_s:.2f} times")
    again = run(roots[sizes[-1]], work / f"out-{sizes[-1]}", jobs=1)
    say(f"again, nothing changed: {again.clock_s:.2f} s")
    floor_s = floor(sorted(roots[sizes[0]].iterdir()), work / "floor")
    say(
        f"a property, processor time: {each_s * 1000:.1f} ms, floor {floor_s * 1000:.1f} ms, "
        f"ratio {each_s / floor_s:.2f}"
    )


def floor(folders: list[Path], out: Path) -> float:
    """Return the processor seconds that reading and writing a property cost at the least.

    The first property is done once more beforehand, so that no import is counted.
    """
    out.mkdir()
    seconds = 0.0
    for place, folder in enumerate([folders[0], *folders]):
        layers = wiremap.build_asbuilt(wiremap.read_property(folder)).layers
        start = time.process_time()
        for name in ("locates.csv", "zones.csv"):
            pd.read_csv(folder / name)
        write_bare(layers, out / str(place))
        seconds += time.process_time() - start if place else 0.0
    return seconds / len(folders)


def say(line: str) -> None:
    """Print a line at once."""
    sys.stdout.write(f"{line}\n")
    sys.stdout.flush()


def time_locates(work: Path) -> None:
    """Time one property of growing size."""
    sizes = [150, 1_500, 5_000, 15_000]
    seconds = []
    for size in sizes:
        root = make_root(work / f"one-{size}", 1, locates=size)
        jobs = tuple(plan_jobs(root, work, formats=LAYER_FORMATS))
        start = time.process_time()
        build_batch(Batch(str(work / f"one-out-{size}"), jobs, with_dataset=True))
        seconds.append(time.process_time() - start)
    listed = ", ".join(f"{n:,}: {s:.2f} s" for n, s in zip(sizes, seconds, strict=True))
    say(f"locates in one property, processor time   {listed}; {fit(sizes, seconds)[1]}")


def show_profile(work: Path) -> None:
    """Print where one worker's time goes."""
    jobs = tuple(plan_jobs(make_root(work / "profiled", 20), work, formats=LAYER_FORMATS))
    build_batch(Batch(str(work / "warm-out"), jobs[:1], with_dataset=True))
    profile = cProfile.Profile()
    profile.runcall(build_batch, Batch(str(work / "profiled-out"), jobs, with_dataset=True))
    pstats.Stats(profile).sort_stats("cumulative").print_stats("wiremap", 45)


def main() -> None:
    """Run every case in a folder of its own, removed at the end."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--properties", type=int, default=40, help="size of the largest run")
    parser.add_argument("--profile", action="store_true", help="profile one worker instead")
    given = parser.parse_args()
    work = Path(tempfile.mkdtemp(prefix="wiremap-bench-"))
    load = os.getloadavg()[0] if hasattr(os, "getloadavg") else float("nan")
    say(f"{os.cpu_count()} processors, load {load:.1f} before the run")
    try:
        if given.profile:
            show_profile(work)
        else:
            time_properties(work, given.properties)
            time_locates(work)
    finally:
        shutil.rmtree(work, ignore_errors=True)


if __name__ == "__main__":
    main()
