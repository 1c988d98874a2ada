"""What became of each property, and how a later run knows it: one small file a property."""

from __future__ import annotations

import json
import os
from dataclasses import asdict, dataclass, field
from typing import TYPE_CHECKING, Any

from wiremap.write.outputs import was_interrupted

if TYPE_CHECKING:
    from pathlib import Path

    from wiremap.bulk.jobs import Job

BOOKS = ".wiremap-bulk"
"""Folder in the output folder where a run keeps its records."""

SEVERITIES = ("error", "warning", "note")


@dataclass(frozen=True)
class Outcome:
    """What became of one property.

    Attributes
    ----------
    path : str
        Property folder below the root.
    out : str
        Its output folder below the output folder.
    status : str
        ``built``, ``kept`` (as an earlier run left it) or ``failed``.
    name, slug : str
        Of the property; empty where it failed.
    error, message : str
        Class of the error and what it said; empty where it did not fail.
    counts : dict of str to int
        Rows of each layer.
    severities : dict of str to int
        Findings of each severity.
    zones_complete : int
        Zones with every valve found.
    wire_length_m : float
        Length of all runs.
    footprint : str
        Outline in longitude and latitude, as well-known text.
    seconds : float
        Time that it took.
    key : str
        Hash of what it was built of.
    files : dict of str to int
        Files written, below its output folder, and their sizes in bytes.
    """

    path: str
    out: str
    status: str
    name: str = ""
    slug: str = ""
    error: str = ""
    message: str = ""
    counts: dict[str, int] = field(default_factory=dict)
    severities: dict[str, int] = field(default_factory=dict)
    zones_complete: int = 0
    wire_length_m: float = 0.0
    footprint: str = ""
    seconds: float = 0.0
    key: str = ""
    files: dict[str, int] = field(default_factory=dict)

    @property
    def worst(self) -> str:
        """The severest finding: error, warning, note, or empty."""
        return next((s for s in SEVERITIES if self.severities.get(s)), "")


def plain_text(text: str) -> str:
    r"""Return a text that can be stored as UTF-8: the name of a folder need not be.

    Parameters
    ----------
    text : str

    Returns
    -------
    str
        What is no text as an escape.

    Examples
    --------
    >>> plain_text("caf\udce9")
    'caf\\udce9'
    """
    return text.encode("utf-8", "backslashreplace").decode()


def failed(job: Job, error: BaseException) -> Outcome:
    """Return the outcome of a property that could not be built.

    Parameters
    ----------
    job : Job
    error : BaseException
        Why.

    Returns
    -------
    Outcome
        With the error's class, and its message on one line.
    """
    message = " ".join(str(error).split())
    return Outcome(job.path, job.out, "failed", error=type(error).__name__, message=message)


def read_outcome(out: Path, job: Job) -> Outcome | None:
    """Return what an earlier run made of a property, if that still holds.

    Parameters
    ----------
    out : Path
        Output folder.
    job : Job

    Returns
    -------
    Outcome or None
        None where the property was never finished, its inputs, the version or the formats
        changed, a file that was written is gone or has another size, or a later writing of it
        was stopped.
    """
    outcome = _read_record(out, job)
    if outcome is None or not job.key or outcome.key != job.key or outcome.out != job.out:
        return None
    home = out / job.out
    return outcome if _are_there(home, outcome.files) and not was_interrupted(home) else None


def _read_record(out: Path, job: Job) -> Outcome | None:
    try:
        written: dict[str, Any] = json.loads(_record_of(out, job).read_text("utf-8"))
        return Outcome(**written)
    except (OSError, ValueError, TypeError):
        return None


def _are_there(folder: Path, files: dict[str, int]) -> bool:
    try:
        return all((folder / name).stat().st_size == size for name, size in files.items())
    except OSError:
        return False


def write_outcome(out: Path, job: Job, outcome: Outcome) -> None:
    """Remember a finished property; files of an earlier build that it no longer has are removed.

    Parameters
    ----------
    out : Path
        Output folder.
    job : Job
    outcome : Outcome

    Raises
    ------
    OSError
        The record cannot be written.
    """
    former = _read_record(out, job)
    if former is not None and former.out == job.out:
        home = (out / job.out).resolve()
        for name in former.files.keys() - outcome.files.keys():
            path = home / name
            if path.resolve().is_relative_to(home):
                path.unlink(missing_ok=True)
    write_whole(_record_of(out, job), json.dumps(asdict(outcome)))


def _record_of(out: Path, job: Job) -> Path:
    return out / BOOKS / "properties" / f"{job.record}.json"


def write_whole(path: Path, text: str) -> None:
    """Write a text file whole or not at all.

    Parameters
    ----------
    path : Path
        Its folder is made where it is missing.
    text : str

    Raises
    ------
    OSError
        It cannot be written; what stood there is untouched.
    """
    path.parent.mkdir(parents=True, exist_ok=True)
    draft = path.with_name(f".{path.name}.{os.getpid()}")
    try:
        draft.write_text(text, encoding="utf-8", newline="")
        draft.replace(path)
    except BaseException:
        draft.unlink(missing_ok=True)
        raise
