"""Saves a drawing; where the time of writing is fixed, with the same bytes for the same drawing."""

from __future__ import annotations

import datetime as dt
import hashlib
import io
import uuid
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from pathlib import Path


def save_drawing(drawing: Any, path: Path, *, timestamp: str | None = None) -> None:
    """Save a drawing as DXF text.

    Parameters
    ----------
    drawing : ezdxf.document.Drawing
        Drawn and audited.
    path : Path
        The file.
    timestamp : str, optional
        Time that stands for the time of writing, ISO 8601. Where given, the identifiers of the
        drawing are made of its contents, so that the same record gives the same bytes.

    Raises
    ------
    OSError
        The file cannot be written.
    """
    if timestamp is None:
        drawing.saveas(path)
        return
    for kind in sorted(drawing.entitydb.dxf_types_in_use()):  # written as a set is, else
        drawing.classes.add_class(kind)
    stream = io.StringIO()
    drawing.write(stream)
    path.write_bytes(drawing.encode(_fix(drawing, stream.getvalue(), timestamp)))


def _fix(drawing: Any, text: str, timestamp: str) -> str:
    """Return the text with what changes from one saving to the next made to depend on nothing."""
    from importlib.metadata import version

    from ezdxf.document import CREATED_BY_EZDXF, WRITTEN_BY_EZDXF
    from ezdxf.tools.juliandate import juliandate

    moment = dt.datetime.fromisoformat(timestamp)
    header, made = drawing.header, drawing.ezdxf_metadata()
    for name in ("$TDCREATE", "$TDUPDATE"):
        text = text.replace(f"\n{header[name]}\n", f"\n{juliandate(moment)}\n")
    for name in (CREATED_BY_EZDXF, WRITTEN_BY_EZDXF):
        text = text.replace(made[name], f"{version('ezdxf')} @ {timestamp}")
    changing = {header[name]: name for name in ("$FINGERPRINTGUID", "$VERSIONGUID")}
    for told, name in changing.items():
        text = text.replace(told, f"{{{name}}}")
    contents = uuid.UUID(bytes=hashlib.sha256(text.encode("utf-8", "replace")).digest()[:16])
    for name in changing.values():
        text = text.replace(f"{{{name}}}", f"{{{uuid.uuid5(contents, name)}}}".upper())
    return text
