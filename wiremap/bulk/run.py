"""Many properties in one go: `build_properties`.

1. Every property folder below the root is found, and its input files are hashed.
2. What an earlier run finished, and whose inputs, version and formats are the same, is kept.
3. The rest is dealt to the workers in batches; each property is remembered as it is done.
4. A batch whose worker died is run again without the property it died at, and that one alone.
5. The portfolio is written: index, map, summary, failures.
"""

from __future__ import annotations

import json
import os
import shutil
from collections import deque
from concurrent.futures import FIRST_COMPLETED, BrokenExecutor, CancelledError, wait
from contextlib import closing, suppress
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from wiremap.bulk.batches import Batch, build_batch, start_run, stop_run
from wiremap.bulk.dataset import has_pyarrow
from wiremap.bulk.jobs import Job, is_property, plan_jobs
from wiremap.bulk.lanes import Lanes
from wiremap.bulk.lock import hold_folder, wait_for_workers
from wiremap.bulk.portfolio import refuse_open_index, write_portfolio
from wiremap.bulk.records import BOOKS, Outcome, failed, read_outcome
from wiremap.bulk.results import BulkResult
from wiremap.bulk.shelf import clear_waiting, find_part, recover_dataset
from wiremap.errors import ClusterError, ReadError, WriteError
from wiremap.model.tables import LAYERS
from wiremap.plugins import WRITERS, registry

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence
    from collections.abc import Set as AbstractSet
    from concurrent.futures import Executor, Future

    Progress = Callable[[int, int, Outcome], None]

BATCH_AT_MOST = 50
"""Properties in a batch (project choice: some seconds of work, so that little waits at the end)."""
BATCHES_A_LANE = 4
"""Batches that each lane gets where there are few properties, so that the load evens out."""
ATTEMPTS = 2
"""How often a property may lose its worker: once can be bad luck."""


def build_properties(
    root: str | Path,
    out: str | Path,
    *,
    executor: Executor | None = None,
    jobs: int | None = None,
    formats: Sequence[str] | None = None,
    progress: Progress | None = None,
) -> BulkResult:
    """Build every property below a folder, and the portfolio of them all.

    A property that cannot be built is a row of ``failures.csv``; the rest goes on. What an
    earlier run finished is not built again, so that a run that was stopped is taken up by
    calling it again.

    Parameters
    ----------
    root : path
        Folder with the property folders, at any depth. One with ``property.toml``, a file
        ``locates.<ext>`` or a folder ``locates`` is a property.
    out : path
        Folder to write into: each property's files in the folder that it has below the root,
        beside them ``portfolio.gpkg``, ``portfolio.html``, ``summary.csv`` and ``failures.csv``,
        and, where pyarrow is installed, ``portfolio/<layer>/part-*.parquet``.
    executor : Executor, optional
        Any `concurrent.futures.Executor`, such as that of a cluster's client; it stays open.
        New processes of this machine where not given.
    jobs : int, optional
        Properties built at a time; the number of processors where not given.
    formats : sequence of str, optional
        Names of writers (``wiremap formats`` lists them); the default ones where not given.
    progress : callable, optional
        Called as ``progress(done, total, outcome)`` for each property.

    Returns
    -------
    BulkResult

    Raises
    ------
    ReadError
        There is no such folder, or no property below it.
    WriteError
        The output folder lies in a property, is the root, cannot be written to, another run works
        in it, or its index is open elsewhere; or there is no such format.
    ClusterError
        Worker processes cannot be started, or there are to be none.

    Notes
    -----
    Worker processes are started anew, so a script must call this below
    ``if __name__ == "__main__":``.
    """
    source, target = Path(root), Path(out).resolve()
    if not source.is_dir():
        raise ReadError("there is no such folder", path=str(root))
    if jobs is not None and jobs < 1:
        remedy = "leave it out for one a processor"
        raise ClusterError("jobs must be 1 or more", value=str(jobs), remedy=remedy)
    _refuse_unknown(formats or ())
    _refuse_inside(source, target)
    refuse_open_index(target)
    planned = plan_jobs(source, target, formats=formats)
    if not planned:
        raise ReadError(
            "no property folder was found",
            path=str(root),
            remedy="a property folder holds property.toml, locates.<ext> or locates/",
        )
    _open_books(target)
    with hold_folder(target):
        outcomes, parts = _build(planned, target, executor=executor, width=jobs, progress=progress)
        write_portfolio(target, outcomes, parts)
        clear_waiting(target)
    return BulkResult(source, target, tuple(outcomes))


def _refuse_unknown(formats: Sequence[str]) -> None:
    known = registry(WRITERS).formats if formats else {}
    unknown = [name for name in formats if name not in known]
    if unknown:
        remedy = f"choose among {', '.join(sorted(known))}"
        raise WriteError("there is no such format", value=", ".join(unknown), remedy=remedy)


def _open_books(out: Path) -> None:
    try:
        (out / BOOKS).mkdir(parents=True, exist_ok=True)
    except OSError as error:
        rule = f"the output folder cannot be written to: {error.strerror}"
        raise WriteError(rule, path=str(out), remedy="choose another folder") from error


def _refuse_inside(root: Path, out: Path) -> None:
    """Refuse an output folder whose files would be taken for field files."""
    top = root.resolve()
    if out == top:
        rule = "the output folder is the root itself"
        raise WriteError(rule, path=str(out), remedy="choose another folder")
    for folder in (out, *out.parents):
        if folder.is_relative_to(top) and is_property(folder):
            rule = "the output folder lies in a property folder"
            raise WriteError(rule, path=str(out), remedy="choose a folder outside of it")


def _build(
    jobs: Sequence[Job],
    out: Path,
    *,
    executor: Executor | None,
    width: int | None,
    progress: Progress | None,
) -> tuple[list[Outcome], AbstractSet[str]]:
    """Return the outcomes of all jobs, in their order, and the parts of the dataset."""
    run, with_dataset = start_run(out), has_pyarrow()
    wait_for_workers(out)
    recover_dataset(out)
    done = {job.path: known for job in jobs if (known := read_outcome(out, job))}
    parts = _whole_parts(jobs, done, out) if with_dataset else {}
    kept = {path for members in parts.values() for path in members} if with_dataset else set(done)
    tally = _Tally(len(jobs), frozenset(done), progress)
    for path in kept:
        tally.add(replace(done[path], status="kept"))
    _clear(out, keep=parts.keys())
    rest = [job for job in jobs if job.path not in kept]
    if rest:
        lanes_wanted = min(width or os.cpu_count() or 1, len(rest))
        with closing(Lanes(executor, lanes_wanted)) as lanes:
            one = Batch(str(out), (), with_dataset=with_dataset, run=run)
            _run(_deal(rest, one, lanes.width), lanes, tally, out)
    if len(tally.outcomes) < len(jobs):
        rule = "another run has begun in this folder, or the records of this one were removed"
        raise WriteError(rule, path=str(out), remedy="run again once no other run is at work")
    good = {path: o for path, o in tally.outcomes.items() if o.status != "failed"}
    whole = _whole_parts(jobs, good, out).keys() if with_dataset else frozenset()
    return [tally.outcomes[job.path] for job in jobs], whole


class _Tally:
    """Outcomes so far, told to whoever watches."""

    def __init__(self, total: int, known: frozenset[str], progress: Progress | None) -> None:
        self.total = total
        self._known = known
        self.outcomes: dict[str, Outcome] = {}
        self._progress = progress

    def add(self, outcome: Outcome) -> None:
        """Add an outcome; what a lost batch had finished was built by this run all the same."""
        if outcome.status == "kept" and outcome.path not in self._known:
            outcome = replace(outcome, status="built")
        self.outcomes[outcome.path] = outcome
        if self._progress is not None:
            self._progress(len(self.outcomes), self.total, outcome)


def _whole_parts(
    jobs: Sequence[Job], done: dict[str, Outcome], out: Path
) -> dict[str, tuple[str, ...]]:
    """Return the parts of the dataset that still hold, with the properties in each.

    A part holds where every property in it is as it was when the part was written.
    """
    current = {job.path: job.key for job in jobs if job.path in done}
    parts: dict[str, tuple[str, ...]] = {}
    taken: set[str] = set()
    for record in sorted((out / BOOKS / "batches").glob("*.json")):
        members = _read_members(record)
        fresh = all(current.get(path) == key for path, key in members.items())
        there = all(find_part(out, table.name, record.stem) for table in LAYERS)
        if members and fresh and there and taken.isdisjoint(members):
            parts[record.stem] = tuple(members)
            taken |= members.keys()
    return parts


def _read_members(record: Path) -> dict[str, str]:
    try:
        return dict(json.loads(record.read_text("utf-8")))
    except (OSError, ValueError, TypeError):
        return {}


def _clear(out: Path, *, keep: AbstractSet[str]) -> None:
    """Remove what a run that was stopped left, and what no longer holds of its parts."""
    books = out / BOOKS
    for name in ("running", "staging"):
        shutil.rmtree(books / name, ignore_errors=True)
    clear_waiting(out, keep=keep)
    for record in (books / "batches").glob("*.json"):
        if record.stem not in keep:
            record.unlink(missing_ok=True)
    for folder in (books, books / "batches", books / "properties"):
        for draft in folder.glob(".*"):
            draft.unlink(missing_ok=True)


def _deal(jobs: Sequence[Job], one: Batch, width: int) -> list[Batch]:
    """Return the jobs in batches that are otherwise like `one`."""
    size = min(max(len(jobs) // (width * BATCHES_A_LANE), 1), BATCH_AT_MOST)
    return [replace(one, jobs=tuple(jobs[i : i + size])) for i in range(0, len(jobs), size)]


def _run(batches: Iterable[Batch], lanes: Lanes, tally: _Tally, out: Path) -> None:
    """Run every batch, one a lane at a time; a batch that is lost is run again in parts."""
    waiting = deque(batches)
    free = list(range(lanes.width))
    running: dict[Future[list[Outcome]], tuple[int, Batch]] = {}
    try:
        while waiting or running:
            while waiting and free:
                lane, batch = free.pop(), waiting.popleft()
                running[lanes.submit(lane, build_batch, batch)] = (lane, batch)
            for future in wait(running, return_when=FIRST_COMPLETED).done:
                lane, batch = running.pop(future)
                free.append(lane)
                error = _error_of(future)
                if error is not None:
                    outcomes, again = _retry(batch, error)
                    waiting.extend(again)
                else:
                    outcomes = future.result()
                for outcome in outcomes:
                    tally.add(outcome)
    except BaseException:
        _stop(out)
        raise


def _error_of(future: Future[list[Outcome]]) -> BaseException | None:
    try:
        return future.exception()
    except CancelledError as error:
        return error


def _retry(batch: Batch, error: BaseException) -> tuple[list[Outcome], list[Batch]]:
    """Return what is given up, and the batches to run again, of a batch that was lost.

    The property that was being built is in doubt: it is run alone, the others without it.
    """
    doubtful = _find_doubtful(batch)
    if doubtful is not None and len(batch.jobs) > 1:
        rest = tuple(job for job in batch.jobs if job != doubtful)
        alone = replace(batch, jobs=(doubtful,), attempt=ATTEMPTS)
        return [], [alone, replace(batch, jobs=rest, attempt=1)]
    if batch.attempt < ATTEMPTS:
        return [], [replace(batch, attempt=batch.attempt + 1)]
    return [_give_up(job, error) for job in batch.jobs], []


def _find_doubtful(batch: Batch) -> Job | None:
    """Return the property that the batch's worker was at."""
    try:
        record = (batch.books / "running" / batch.name).read_text("utf-8")
    except OSError:
        return None
    return next((job for job in batch.jobs if job.record == record), None)


def _give_up(job: Job, error: BaseException) -> Outcome:
    outcome = failed(job, error)
    if isinstance(error, BrokenExecutor) or outcome.error == "KilledWorker":
        message = (
            "the worker process died while it built this property: out of memory, or a crash in a"
            " library; build it alone to see more"
        )
        return replace(outcome, message=message)
    return outcome


def _stop(out: Path) -> None:
    with suppress(OSError):
        stop_run(out)
