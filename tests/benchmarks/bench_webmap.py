"""How long the owner's map takes to write, against ``json.dumps`` of the same features.

Run: ``python tests/benchmarks/bench_webmap.py [zones] [locates on each run]``
"""

from __future__ import annotations

import json
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from synthetic_layers import make_layers

from wiremap.write.webmap import write_webmap

REPEATS = 5


def best(action) -> float:
    """Return the least of several times, in seconds."""
    times = []
    for _ in range(REPEATS):
        start = time.perf_counter()
        action()
        times.append(time.perf_counter() - start)
    return min(times)


def main(zones: int = 60, points: int = 100) -> None:
    """Print size and times."""
    made = make_layers(zones, points_per_run=points)
    context = {
        "name": "Campus", "slug": "campus", "settings": made.settings, "curves": made.curves,
        "tones": made.tones, "base": made.base,
    }  # fmt: skip
    features = [
        json.loads(frame.to_crs(4326).to_json() if "geometry" in frame else frame.to_json())
        for frame in made.layers.values()
    ]
    dumped = best(lambda: json.dumps(features))
    with tempfile.TemporaryDirectory() as folder:
        written = best(lambda: write_webmap(made.layers, Path(folder), context))
        size = (Path(folder) / "campus.html").stat().st_size
    rows = len(made.layers["locates"])
    print(f"{zones} zones, {rows} locates: {size / 1e6:.2f} MB")
    print(f"json.dumps {1000 * dumped:.0f} ms, map {1000 * written:.0f} ms, "
          f"ratio {written / dumped:.2f}")  # fmt: skip


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
