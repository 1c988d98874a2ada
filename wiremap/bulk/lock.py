"""One run at a time in an output folder."""

from __future__ import annotations

import datetime as dt
import os
import socket
import sys
import time
from contextlib import contextmanager, suppress
from typing import TYPE_CHECKING

from wiremap.bulk.records import BOOKS
from wiremap.errors import WriteError

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

_HOLDER_AT = 1
"""Byte at which the holder's name stands, behind the one that is locked."""


@contextmanager
def hold_folder(out: Path) -> Iterator[None]:
    """Keep other runs out of an output folder, as long as this process lives and no longer.

    The lock is the operating system's, so that one of a process that died is gone with it. Where
    the file system knows no locks, nothing is kept out.

    Parameters
    ----------
    out : Path
        Output folder; the folder of its records is there.

    Yields
    ------
    None

    Raises
    ------
    WriteError
        Another run is working there; the message says which.
    OSError
        The lock file cannot be opened.
    """
    descriptor = os.open(out / BOOKS / "lock", os.O_RDWR | os.O_CREAT, 0o666)
    try:
        if not _lock(descriptor):
            raise WriteError(
                "another run is working in this folder",
                path=str(out),
                value=_read_holder(descriptor),
                remedy="wait until it has ended, or choose another folder",
            )
        _write_holder(descriptor)
        try:
            yield
        finally:
            os.ftruncate(descriptor, 0)
            _unlock(descriptor)
    finally:
        os.close(descriptor)


@contextmanager
def work_in_folder(out: Path) -> Iterator[None]:
    """Show, as long as this process lives and no longer, that a worker is writing.

    Parameters
    ----------
    out : Path
        Output folder; the folder of its records is there.

    Yields
    ------
    None

    Raises
    ------
    OSError
        The file that shows it cannot be opened.
    """
    with _open_working(out) as descriptor:
        if sys.platform != "win32":
            import fcntl

            with suppress(OSError):
                fcntl.flock(descriptor, fcntl.LOCK_SH)
        try:
            yield
        finally:
            _unlock(descriptor)


def wait_for_workers(out: Path, *, most_s: float = 60.0) -> None:
    """Wait until the workers of a former run, which outlived it, have stopped.

    Parameters
    ----------
    out : Path
        Output folder; the folder of its records is there.
    most_s : float
        Longest wait: a worker that hangs holds nobody up (project choice).

    Raises
    ------
    OSError
        The file that shows them cannot be opened.
    """
    if sys.platform == "win32":
        return
    until = time.monotonic() + most_s
    with _open_working(out) as descriptor:
        while not _lock(descriptor) and time.monotonic() < until:
            time.sleep(0.02)
        _unlock(descriptor)


@contextmanager
def _open_working(out: Path) -> Iterator[int]:
    descriptor = os.open(out / BOOKS / "working", os.O_RDWR | os.O_CREAT, 0o666)
    try:
        yield descriptor
    finally:
        os.close(descriptor)


def _lock(descriptor: int) -> bool:
    """Lock the first byte; True also where the system cannot."""
    try:
        if sys.platform == "win32":
            import msvcrt

            msvcrt.locking(descriptor, msvcrt.LK_NBLCK, 1)
        else:
            import fcntl

            fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except (BlockingIOError, PermissionError):
        return False
    except OSError:
        return True
    return True


def _unlock(descriptor: int) -> None:
    """Unlock at once, for processes that share the descriptor may live on."""
    if sys.platform != "win32":
        import fcntl

        with suppress(OSError):
            fcntl.flock(descriptor, fcntl.LOCK_UN)


def _write_holder(descriptor: int) -> None:
    since = dt.datetime.now().astimezone().strftime("%Y-%m-%d %H:%M")
    os.ftruncate(descriptor, _HOLDER_AT)
    os.lseek(descriptor, _HOLDER_AT, os.SEEK_SET)
    os.write(descriptor, f"process {os.getpid()} on {socket.gethostname()} since {since}".encode())


def _read_holder(descriptor: int) -> str:
    os.lseek(descriptor, _HOLDER_AT, os.SEEK_SET)
    return os.read(descriptor, 200).decode("utf-8", "replace")
