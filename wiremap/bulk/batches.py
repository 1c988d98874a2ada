"""What one worker does: builds the properties of a batch, one after the other.

Every property that is done is remembered at once, so that a worker that dies, or a run that is
stopped, loses the property it was at and no other.
"""

from __future__ import annotations

import hashlib
import json
import os
import secrets
import signal
import time
from dataclasses import dataclass, replace
from multiprocessing import parent_process
from pathlib import Path
from threading import Thread
from typing import TYPE_CHECKING

from wiremap.bulk.lock import work_in_folder
from wiremap.bulk.outlines import outline_property
from wiremap.bulk.records import (
    BOOKS,
    SEVERITIES,
    Outcome,
    failed,
    read_outcome,
    write_outcome,
    write_whole,
)

if TYPE_CHECKING:
    from wiremap.asbuilt import AsBuilt
    from wiremap.bulk.dataset import Part
    from wiremap.bulk.jobs import Job


@dataclass(frozen=True)
class Batch:
    """Properties that one worker builds in one go; they share one part of the portfolio.

    Attributes
    ----------
    out : str
        Output folder, absolute.
    jobs : tuple of Job
    with_dataset : bool
        Whether the portfolio's dataset is written.
    run : str
        Name of the run; a worker stops once the records speak of another.
    attempt : int
        Counted from 1.
    """

    out: str
    jobs: tuple[Job, ...]
    with_dataset: bool = False
    run: str = ""
    attempt: int = 1

    @property
    def name(self) -> str:
        """Name of the batch's part of the portfolio."""
        members = repr([(job.path, job.key) for job in self.jobs]).encode()
        return hashlib.sha256(members).hexdigest()[:12]

    @property
    def books(self) -> Path:
        """Folder of the run's records."""
        return Path(self.out) / BOOKS

    @property
    def is_wanted(self) -> bool:
        """Whether the run that dealt the batch still waits for it."""
        return read_run(Path(self.out)) == self.run


def start_run(out: Path) -> str:
    """Write down that a new run begins; workers of a former one stop where they are.

    Parameters
    ----------
    out : Path
        Output folder.

    Returns
    -------
    str
        Name of the run.

    Raises
    ------
    OSError
        The records cannot be written.
    """
    run = secrets.token_hex(8)
    write_whole(out / BOOKS / "run", run)
    return run


def stop_run(out: Path) -> None:
    """Let workers stop after the property that they are at.

    Parameters
    ----------
    out : Path
        Output folder.

    Raises
    ------
    OSError
        The records cannot be written.
    """
    write_whole(out / BOOKS / "run", "stopped")


def read_run(out: Path) -> str:
    """Return the name of the run that is under way; empty where there is none.

    Parameters
    ----------
    out : Path
        Output folder.

    Returns
    -------
    str
    """
    try:
        return (out / BOOKS / "run").read_text("utf-8")
    except OSError:
        return ""


def prepare_worker() -> None:
    """Make a process ready to build: it leaves Ctrl-C to the main process, and ends with it.

    Workers share the machine's cores, so each keeps its linear algebra to one thread.
    """
    Thread(target=_end_with_parent, daemon=True).start()
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
        os.environ.setdefault(name, "1")


def _end_with_parent() -> None:
    """End this process once the one that started it is gone: nobody waits for its work."""
    parent = parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)


def warm_up() -> None:
    """Import what every property needs."""
    import wiremap.read.folders
    import wiremap.workflow
    import wiremap.write.outputs  # noqa: F401 - loaded once a worker


def build_batch(batch: Batch) -> list[Outcome]:
    """Build the properties of a batch and write their part of the portfolio.

    Parameters
    ----------
    batch : Batch

    Returns
    -------
    list of Outcome
        One a property, in order; fewer where the run was stopped. A property that cannot be
        built is an outcome, not an error.

    Raises
    ------
    OSError
        Records or the portfolio cannot be written.
    """
    import pandas as pd

    batch.books.mkdir(parents=True, exist_ok=True)
    quick = pd.option_context("mode.string_storage", "python")  # on tables of this size
    with quick, work_in_folder(Path(batch.out)):
        return _build_with_part(batch) if batch.with_dataset else _build_all(batch, None)


def _build_with_part(batch: Batch) -> list[Outcome]:
    from wiremap.bulk.dataset import open_part

    with open_part(Path(batch.out), batch.name) as part:
        outcomes = _build_all(batch, part)
        keys = {job.path: job.key for job in batch.jobs}
        members = [[o.path, keys[o.path]] for o in outcomes if o.status != "failed"]
        if members and len(outcomes) == len(batch.jobs):
            part.finish()
    if part.is_whole:
        write_whole(batch.books / "batches" / f"{batch.name}.json", json.dumps(members))
    return outcomes


def _build_all(batch: Batch, part: Part | None) -> list[Outcome]:
    outcomes = []
    for job in batch.jobs:
        if not batch.is_wanted:
            break
        write_whole(batch.books / "running" / batch.name, job.record)
        outcomes.append(_build_one(Path(batch.out), job, part))
    (batch.books / "running" / batch.name).unlink(missing_ok=True)
    return outcomes


def _build_one(out: Path, job: Job, part: Part | None) -> Outcome:
    """Build one property, or take it as an earlier run left it."""
    start = time.perf_counter()
    known = read_outcome(out, job)
    if known is not None and part is None:
        return replace(known, status="kept")
    try:
        asbuilt = _build(job)
        if known is None:
            home = out / job.out
            paths = asbuilt.write(home, formats=job.formats)
            files = {p.relative_to(home).as_posix(): p.stat().st_size for p in paths}
            known = _describe(job, asbuilt, files, time.perf_counter() - start)
            write_outcome(out, job, known)
        else:
            known = replace(known, status="kept")
        if part is not None:
            part.add(asbuilt, job)
    except (Exception, SystemExit) as error:  # noqa: BLE001 - a plugin may raise anything
        return failed(job, error)
    return known


def _build(job: Job) -> AsBuilt:
    from wiremap.read.folders import read_property
    from wiremap.workflow import build_asbuilt

    return build_asbuilt(read_property(job.folder))


def _describe(job: Job, asbuilt: AsBuilt, files: dict[str, int], seconds: float) -> Outcome:
    layers = asbuilt.layers
    found = asbuilt.findings["severity"].value_counts()
    return Outcome(
        path=job.path,
        out=job.out,
        status="built",
        name=asbuilt.name,
        slug=asbuilt.slug,
        counts={name: len(layer) for name, layer in layers.items()},
        severities={severity: int(found.get(severity, 0)) for severity in SEVERITIES},
        zones_complete=int((layers["zones"]["status"] == "complete").sum()),
        wire_length_m=round(float(layers["wire_runs"]["length_m"].sum()), 2),
        footprint=outline_property(asbuilt),
        seconds=round(seconds, 3),
        key=job.key,
        files=files,
    )
