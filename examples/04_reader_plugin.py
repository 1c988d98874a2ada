"""A reader of one's own: register it under the entry-point group wiremap.readers.

In a package of yours, pyproject.toml would say:

    [project.entry-points."wiremap.readers"]
    fieldnotes = "my_package.fieldnotes:READER"
"""

from pathlib import Path

import pandas as pd

from wiremap.plugins import FileOptions, RawTable, Reader


def read_fieldnotes(path: Path, options: FileOptions) -> list[RawTable]:
    """Read lines such as ``A1 path W1 -97.5236 35.2920``."""
    rows = [line.split() for line in path.read_text(encoding="utf-8").splitlines() if line.strip()]
    frame = pd.DataFrame(rows, columns=["point", "feature", "run", "lon", "lat"])
    frame.index = pd.RangeIndex(1, len(frame) + 1)
    return [RawTable(frame, crs=options.crs or "EPSG:4326")]


READER = Reader("fieldnotes", (".notes",), read_fieldnotes, "one located point a line")

if __name__ == "__main__":
    print(READER)
