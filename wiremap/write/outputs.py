"""Write all files of an as-built, whole or not at all.

1. Targets that are locked or cannot be replaced are refused before anything is written.
2. Every format is written into a staging folder beside its target and flushed; each writer
   verifies what it wrote.
3. The files are moved into place one by one; if one cannot be, those before it are put back. A
   process that dies among the moves leaves word, and the next one into the folder finishes them.
"""

from __future__ import annotations

import os
import shutil
import socket
import sqlite3
import tempfile
import time
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing, contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import quote

from wiremap.errors import WiremapError, WriteError
from wiremap.plugins import WRITERS, Writer, registry

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping, Sequence

    import pandas as pd

_STAGING = ".wiremap-staging"
_BACKUP = "former"
_READY = "ready"
_SIDE_FILES = ("-wal", "-journal", "-shm")
_STALE_AFTER_S = 86_400.0


def write_layers(
    layers: Mapping[str, pd.DataFrame],
    out: Path | str,
    *,
    context: Mapping[str, Any],
    formats: Sequence[str] | None = None,
) -> list[Path]:
    """Write the layers of an as-built in every format asked for; whole or not at all.

    Parameters
    ----------
    layers : mapping of str to DataFrame
        Layers by name, in the working CRS.
    out : Path or str
        Folder to write into; made where it does not exist.
    context : mapping
        What writers need beside the layers: ``name``, ``slug``, ``settings``, ``frame``.
    formats : sequence of str, optional
        Names of writers; where None, those that are written by default and those that
        ``formats`` under [output] in property.toml adds.

    Returns
    -------
    list of Path
        The files now in place, in the order of the formats.

    Raises
    ------
    WriteError
        The folder cannot be written to, a target is locked or in use, a format is unknown, or a
        written file failed its verification. What stood in the folder before is untouched.
    MissingExtraError
        A format needs a package that is not installed.
    """
    writers = _choose(formats, more=context["settings"].output.formats)
    targets = [f"{context['slug']}{suffix}" for w in writers for suffix in w.suffixes]
    return write_files(
        out,
        targets,
        lambda staging: [
            staging / name for w in writers for name in _stage(w, layers, staging, context)
        ],
    )


def write_files(
    out: Path | str, targets: Sequence[str], write: Callable[[Path], list[Path]]
) -> list[Path]:
    """Write files into a folder; whole or not at all.

    Parameters
    ----------
    out : Path or str
        Folder to write into; made where it does not exist.
    targets : sequence of str
        Names of files that must not be locked.
    write : callable
        Takes a new folder, writes the files into it and returns their paths.

    Returns
    -------
    list of Path
        The files now in place, in the order returned.

    Raises
    ------
    WriteError
        The folder cannot be written to, or a target is locked or in use. What stood in the folder
        before is untouched.
    """
    folder = Path(out)
    _open_folder(folder)
    for target in targets:
        _refuse_target(folder / target, folder)
    _clear_abandoned(folder)
    with _staging(folder) as staging:
        with _translated(folder):
            written = write(staging)
        names = [path.relative_to(staging) for path in written]
        for name in names:
            _refuse_target(folder / name, folder)
        with _translated(folder):
            _flush_all([staging / name for name in names])
        with _alone(folder):
            _move_all(names, staging, folder)
    return [folder / name for name in names]


def was_interrupted(folder: Path) -> bool:
    """Return whether writing into a folder was stopped, or is going on.

    Parameters
    ----------
    folder : Path

    Returns
    -------
    bool
        The next `write_files` clears away what was left.
    """
    return any(folder.glob(f"{_STAGING}-*"))


def _choose(formats: Sequence[str] | None, *, more: Sequence[str] = ()) -> list[Writer]:
    """Return the writers asked for; where none is, the default ones and those of the settings."""
    known: Mapping[str, Writer] = registry(WRITERS).formats
    if formats is None:
        formats = [*(name for name, writer in known.items() if writer.default), *more]
    unknown = [name for name in formats if name not in known]
    if unknown:
        raise WriteError(
            "there is no such format",
            value=", ".join(unknown),
            remedy=f"choose among {', '.join(sorted(known))}",
        )
    return [known[name] for name in dict.fromkeys(formats)]


def _open_folder(folder: Path) -> None:
    if folder.exists() and not folder.is_dir():
        raise WriteError("the output must be a folder", path=str(folder), value="a file")
    with _translated(folder):
        folder.mkdir(parents=True, exist_ok=True)


@contextmanager
def _translated(path: Path) -> Iterator[None]:
    """Turn what the file system, SQLite and GDAL raise into one WriteError."""
    try:
        yield
    except WriteError:
        raise
    except (OSError, RuntimeError, sqlite3.Error) as error:
        raise WriteError(
            f"cannot be written: {error}",
            path=str(path),
            remedy="see that the folder is writable and the disk has room; nothing was replaced",
        ) from error


def _refuse_target(target: Path, folder: Path) -> None:
    """Refuse a target that may not be replaced: outside, a folder, locked or in use."""
    if not target.resolve().is_relative_to(folder.resolve()):
        raise WriteError(
            "leads out of the output folder",
            path=str(target),
            remedy="remove the link or choose another folder",
        )
    if target.is_dir():
        raise WriteError("a folder stands where the file goes", path=str(target))
    if target.suffix.lower() != ".gpkg":
        return
    for side in _SIDE_FILES:
        if Path(f"{target}{side}").exists():
            raise WriteError(
                f"a {side} file stands beside it, so the package is open or was left unfinished",
                path=str(target),
                remedy="close the package in every program, then write again",
            )
    if target.exists() and target.stat().st_size:
        _refuse_locked(target)


def _refuse_locked(target: Path) -> None:
    """Refuse a package that another program holds; the probe is closed before GDAL opens it."""
    address = f"file:{quote(str(target.resolve()))}?mode=rw"
    try:
        with closing(sqlite3.connect(address, uri=True, timeout=0, isolation_level=None)) as db:
            db.execute("BEGIN IMMEDIATE")
            db.execute("ROLLBACK")
    except sqlite3.Error as error:
        raise WriteError(
            f"the package that stands there cannot be replaced: {error}",
            path=str(target),
            remedy="close it in every program, or move it away",
        ) from error


def _clear_abandoned(folder: Path) -> None:
    """Remove staging folders that a dead process left behind; finish moves it had begun."""
    for staging in folder.glob(f"{_STAGING}-*"):
        if staging.is_dir() and not staging.is_symlink() and _is_abandoned(staging):
            with _alone(folder), _translated(folder):
                _finish_moves(staging, folder)
            shutil.rmtree(staging, ignore_errors=True)


def _finish_moves(staging: Path, folder: Path) -> None:
    """Move what is left of a complete set of files, all of them written and flushed."""
    ready = staging / _READY
    told = ready.read_text(encoding="utf-8", errors="replace") if ready.is_file() else ""
    for name in told.splitlines():
        _refuse_target(folder / name, folder)
        if (staging / name).is_file():
            (folder / name).parent.mkdir(parents=True, exist_ok=True)
            (staging / name).replace(folder / name)


@contextmanager
def _alone(folder: Path) -> Iterator[None]:
    """Keep other processes from moving files into the folder, where the system can."""
    try:
        import fcntl

        descriptor = os.open(folder, os.O_RDONLY)
    except (ImportError, OSError):
        yield
        return
    try:
        with suppress(OSError):  # a file system without locks
            fcntl.flock(descriptor, fcntl.LOCK_EX)
        yield
    finally:
        os.close(descriptor)


def _is_abandoned(staging: Path) -> bool:
    """Tell whether the process that a staging folder names is gone, or the folder a day old."""
    if time.time() - staging.stat().st_mtime > _STALE_AFTER_S:
        return True
    host, _, process = staging.name.removeprefix(f"{_STAGING}-").rpartition("-")[0].rpartition("-")
    if os.name == "nt" or host != _host() or not process.isdigit():
        return False
    return _is_gone(int(process))


def _is_gone(process: int) -> bool:
    """Tell whether a process has ended, though its parent may not have asked how."""
    try:
        os.kill(process, 0)
        state = Path(f"/proc/{process}/stat").read_text("ascii", "replace")
    except ProcessLookupError:
        return True
    except OSError:  # another user's, or a system without /proc
        return False
    return state.rpartition(")")[2].split()[:1] == ["Z"]


def _host() -> str:
    return "".join(c for c in socket.gethostname() if c.isalnum())


@contextmanager
def _staging(folder: Path) -> Iterator[Path]:
    """Give a new folder on the same file system, removed at the end whatever happens."""
    with _translated(folder):
        prefix = f"{_STAGING}-{_host()}-{os.getpid()}-"
        staging = Path(tempfile.mkdtemp(prefix=prefix, dir=folder))
    try:
        yield staging
    finally:
        shutil.rmtree(staging, ignore_errors=True)


def _stage(
    writer: Writer, layers: Mapping[str, pd.DataFrame], staging: Path, context: Mapping[str, Any]
) -> list[Path]:
    """Run one writer and return its files' names relative to the staging folder."""
    try:
        with _translated(Path(f"{writer.name} output")):
            written = [Path(path) for path in writer.write(layers, staging, context)]
    except WiremapError:
        raise
    except (Exception, SystemExit) as error:
        raise WriteError(
            f"the writer {writer.name} failed: {type(error).__name__}: {error}",
            remedy="nothing was replaced; leave this format out, or report it",
        ) from error
    for path in written:
        if not path.resolve().is_relative_to(staging.resolve()) or not path.is_file():
            raise WriteError(
                f"the writer {writer.name} named a file it did not write", value=str(path)
            )
        if not path.stat().st_size:
            raise WriteError(f"the writer {writer.name} wrote an empty file", path=path.name)
    return [path.relative_to(staging) for path in written]


def _flush_all(paths: Sequence[Path]) -> None:
    """Flush files to the disk, together: one wait for the disk serves several of them."""
    with ThreadPoolExecutor(max_workers=8) as pool:
        list(pool.map(_flush, paths))


def _flush(path: Path) -> None:
    """Flush a file, or the entries of a folder where the system can, to the disk."""
    if path.is_dir() and os.name == "nt":
        return
    descriptor = os.open(path, os.O_RDONLY if path.is_dir() else os.O_RDWR)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)


def _move_all(names: Sequence[Path], staging: Path, folder: Path) -> None:
    """Move staged files into place; on failure put back what stood there."""
    moved: list[Path] = []
    ready = staging / _READY
    with _translated(folder):
        ready.write_text("\n".join(name.as_posix() for name in names), encoding="utf-8")
        _flush(ready)
        try:
            for name in names:
                (folder / name).parent.mkdir(parents=True, exist_ok=True)
                _keep_former(folder / name, staging / _BACKUP / name)
                moved.append(name)
                (staging / name).replace(folder / name)
            for parent in dict.fromkeys((folder / name).parent for name in names):
                _flush(parent)
        except BaseException:
            ready.unlink()
            for name in reversed(moved):
                _put_back(folder / name, staging / _BACKUP / name, staged=staging / name)
            raise


def _keep_former(target: Path, backup: Path) -> None:
    """Keep a second name for the file that is about to be replaced."""
    if not target.exists():
        return
    backup.parent.mkdir(parents=True, exist_ok=True)
    try:
        os.link(target, backup)
    except OSError:
        shutil.copy2(target, backup)


def _put_back(target: Path, backup: Path, *, staged: Path) -> None:
    """Undo one move: the former file comes back, a file that is new goes."""
    if staged.exists():
        return
    if backup.exists():
        backup.replace(target)
    else:
        target.unlink(missing_ok=True)
