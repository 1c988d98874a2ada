"""Archives that a file is: opened in memory, every way to be damaged told as one error."""

from __future__ import annotations

import struct
import zipfile
import zlib
from contextlib import contextmanager
from typing import TYPE_CHECKING

from wiremap.errors import ReadError

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

_LONGEST_REASON = 120
_DAMAGED = (
    zipfile.BadZipFile, zlib.error, struct.error, EOFError, OSError, RuntimeError,
    UnicodeError, ValueError, OverflowError,
)  # fmt: skip


@contextmanager
def open_archive(path: Path, *, rule: str, remedy: str) -> Iterator[zipfile.ZipFile]:
    """Give the archive that a file is; nothing is unpacked to disk.

    Parameters
    ----------
    path : Path
        The file.
    rule : str
        What a damaged archive means, such as ``the workbook cannot be opened``.
    remedy : str
        What to do about it.

    Yields
    ------
    zipfile.ZipFile

    Raises
    ------
    ReadError
        The file is no archive, or what is read from it within the block is damaged, locked by a
        password or packed in a way that nobody knows.
    """
    try:
        with zipfile.ZipFile(path) as archive:
            yield archive
    except ReadError:
        raise
    except _DAMAGED as error:
        reason = " ".join(str(error).split())[:_LONGEST_REASON] or type(error).__name__
        raise ReadError(f"{rule}: {reason}", path=path.name, remedy=remedy) from error
