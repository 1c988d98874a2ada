"""A Dask cluster as an executor; this machine where no address is given."""

from __future__ import annotations

from contextlib import contextmanager
from typing import TYPE_CHECKING

from wiremap.errors import ClusterError, MissingExtraError

if TYPE_CHECKING:
    from collections.abc import Iterator
    from concurrent.futures import Executor

CONNECT_WITHIN_S = 15


@contextmanager
def connect_cluster(
    address: str | None, jobs: int | None = None
) -> Iterator[tuple[Executor | None, int | None]]:
    """Give the executor of a cluster, and how many properties it builds at a time.

    Parameters
    ----------
    address : str or None
        Of the scheduler, such as ``tcp://10.0.0.5:8786``. Its workers need wiremap, and must
        see the property folders and the output folder under the same paths.
    jobs : int, optional
        Properties built at a time; one a thread of the cluster where not given.

    Yields
    ------
    tuple of Executor and int
        Both as they were given, an executor of None, where there is no address.

    Raises
    ------
    MissingExtraError
        dask.distributed is not installed.
    ClusterError
        The scheduler does not answer, or has no workers.
    """
    if address is None:
        yield None, jobs
        return
    try:
        from distributed import Client
    except ImportError as error:
        raise MissingExtraError("dask.distributed", "dask") from error
    try:
        client = Client(address, timeout=CONNECT_WITHIN_S, set_as_default=False)
    except (OSError, ValueError) as error:
        rule = f"the cluster does not answer: {error}"
        raise ClusterError(rule, path=address, remedy="see that its scheduler runs") from error
    with client:
        threads = sum(client.ncores().values())
        if not threads:
            raise ClusterError("the cluster has no workers", path=address)
        yield client.get_executor(pure=False), jobs or threads
