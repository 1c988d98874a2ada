"""Workers as lanes: each takes one batch at a time, so that a death names its batch.

A process pool that loses one process is broken as a whole and cannot tell what killed it. Here
each process is a pool of its own, and only its own batch is in doubt.
"""

from __future__ import annotations

import os
import warnings
from concurrent.futures import BrokenExecutor, Executor, Future, ProcessPoolExecutor
from multiprocessing import get_context
from typing import TYPE_CHECKING, Any

from wiremap.bulk.batches import prepare_worker, warm_up
from wiremap.errors import ClusterError, WiremapWarning

if TYPE_CHECKING:
    from collections.abc import Callable


class Lanes:
    """A fixed number of lanes over one executor, or over processes of its own.

    Parameters
    ----------
    executor : Executor, optional
        Shared by all lanes; left open at the end. One process a lane where not given.
    width : int, optional
        Number of lanes; the number of processors where not given.

    Raises
    ------
    ClusterError
        Worker processes cannot be started.
    """

    def __init__(self, executor: Executor | None = None, width: int | None = None) -> None:
        self.width = width or os.cpu_count() or 1
        self._owned: list[ProcessPoolExecutor] = []
        self._lanes: list[Executor]
        if executor is not None:
            self._lanes = [executor] * self.width
            return
        self._lanes = [self._start() for _ in range(self.width)]
        self._warm_up()

    def _warm_up(self) -> None:
        """Wait until every process is ready; one that dies meanwhile is started once more."""
        try:
            for lane, started in enumerate([lane.submit(warm_up) for lane in self._lanes]):
                if isinstance(started.exception(), BrokenExecutor):
                    self.renew(lane)
                    self._lanes[lane].submit(warm_up).result()
        except BrokenExecutor as error:
            self.close()
            raise ClusterError(
                "worker processes cannot be started",
                remedy="in a script, call it below: if __name__ == '__main__':",
            ) from error

    def _start(self) -> ProcessPoolExecutor:
        pool = ProcessPoolExecutor(1, mp_context=get_context("spawn"), initializer=prepare_worker)
        self._owned.append(pool)
        return pool

    def submit(self, lane: int, task: Callable[..., Any], *arguments: Any) -> Future[Any]:
        """Hand a task to a lane; one whose worker has died gets a new worker first.

        Parameters
        ----------
        lane : int
        task : callable
        *arguments
            Of the task.

        Returns
        -------
        Future
        """
        try:
            return self._lanes[lane].submit(task, *arguments)
        except BrokenExecutor:
            self.renew(lane)
            return self._lanes[lane].submit(task, *arguments)

    def renew(self, lane: int) -> None:
        """Give a lane a process of its own in place of an executor that broke.

        Parameters
        ----------
        lane : int

        Warns
        -----
        WiremapWarning
            Where the executor was the caller's.
        """
        broken = self._lanes[lane]
        if broken in self._owned:
            broken.shutdown(wait=False)
        else:
            text = "the executor broke; the rest is built by processes of wiremap's own"
            warnings.warn(text, WiremapWarning, stacklevel=2)
        self._lanes[lane] = self._start()

    def close(self) -> None:
        """End the processes of its own."""
        for pool in self._owned:
            pool.shutdown(cancel_futures=True)
