"""Many small invented properties, an executor without processes, and a reader that kills."""

from __future__ import annotations

from concurrent.futures import Executor, Future
from typing import TYPE_CHECKING

from simulator import Scenario, simulate, write_folder

if TYPE_CHECKING:
    from pathlib import Path


class Inline(Executor):
    """Runs each task at once, in the process that hands it in."""

    def submit(self, task, /, *arguments, **keywords):
        """Return a future that is done."""
        future = Future()
        try:
            future.set_result(task(*arguments, **keywords))
        except Exception as error:  # noqa: BLE001 - as an executor does
            future.set_exception(error)
        return future


def make_property(folder: Path, *, seed: int = 1, name: str | None = None, zones: int = 1) -> Path:
    """Write one small property."""
    scenario = Scenario(seed=seed, zones=zones, name=name or f"Property {seed}", spacing_m=8)
    return write_folder(simulate(scenario), folder)


def make_farm(root: Path, count: int) -> Path:
    """Write properties in two areas below a root."""
    for seed in range(1, count + 1):
        make_property(root / f"area-{seed % 2}" / f"p{seed:03d}", seed=seed)
    return root


def make_deadly_reader(folder: Path) -> Path:
    """Write an installed package whose reader of ``.deadly`` files ends its process at once."""
    info = folder / "deadly-1.0.dist-info"
    info.mkdir(parents=True)
    (info / "METADATA").write_text("Metadata-Version: 2.1\nName: deadly\nVersion: 1.0\n")
    (info / "entry_points.txt").write_text("[wiremap.readers]\ndeadly = deadly:READER\n")
    (folder / "deadly.py").write_text(
        "import os, signal\n"
        "from wiremap.plugins import Reader\n"
        "def read(path, options):\n"
        "    os.kill(os.getpid(), signal.SIGKILL)\n"
        'READER = Reader("deadly", (".deadly",), read)\n'
    )
    return folder


def make_deadly_property(folder: Path) -> Path:
    """Write a property that kills whoever reads it, where that reader is installed."""
    folder.mkdir(parents=True)
    (folder / "locates.deadly").write_text("x")
    return folder
