"""XML from outside is refused before any parser sees it when it declares a document type."""

from __future__ import annotations

import re

from wiremap.errors import ReadError

MAX_XML_BYTES = 500_000_000
"""Largest XML document that is read; project choice, some 2 million track points."""

_FORBIDDEN = (b"<!doctype", b"<!entity")
_BEFORE_ROOT = rb"[\xef\xbb\xbf\xff\xfe]*+(?>\s|<\?.*?\?>|<!--.*?-->)*+<(?:[\w.-]+:)?"
_DISGUISED = (b"<ogrvrtdatasource", b"<ogrwfsdatasource")
"""What makes GDAL take a file, whatever its name, for a description of data elsewhere."""
SEEN_BYTES = 65_536
"""Bytes at the beginning of a file that GDAL may tell its format from, and more."""


def guard_xml(data: bytes, *, path: str, root: str) -> bytes:
    """Return an XML document that declares no document type and no entities.

    Entities can expand to gigabytes or read other files, and no field format needs them.

    Parameters
    ----------
    data : bytes
        The document, in any encoding that is a superset of ASCII or is UTF-16.
    path : str
        Name of the file, for the message.
    root : str
        Name of the root element that the document must have.

    Returns
    -------
    bytes
        The same document.

    Raises
    ------
    ReadError
        The document declares a type or an entity, leads to data elsewhere, is too large, or has
        another root element.

    Examples
    --------
    >>> guard_xml(b"<gpx/>", path="a.gpx", root="gpx")
    b'<gpx/>'
    >>> guard_xml(b"<!DOCTYPE gpx><gpx/>", path="a.gpx", root="gpx")
    Traceback (most recent call last):
    ...
    wiremap.errors.ReadError: a.gpx: declares a document type or an entity; remove the declaration
    """
    if len(data) > MAX_XML_BYTES:
        raise ReadError(
            f"is larger than {MAX_XML_BYTES} bytes", path=path, value=f"{len(data)} bytes"
        )
    plain = data.replace(b"\x00", b"").lower()
    if any(word in plain for word in _FORBIDDEN):
        raise ReadError(
            "declares a document type or an entity", path=path, remedy="remove the declaration"
        )
    refuse_disguise(data, path=path)
    first = re.compile(_BEFORE_ROOT + root.encode() + rb"[\s/>]", re.DOTALL)
    if not first.match(plain):
        raise ReadError(
            f"has no {root} element",
            path=path,
            value=repr(data[:24]) if data else "an empty file",
            remedy="give the file the ending of its own format",
        )
    return data


def refuse_disguise(data: bytes, *, path: str) -> None:
    """Refuse contents that GDAL would take for a description of data elsewhere.

    Parameters
    ----------
    data : bytes
        The contents, or their beginning.
    path : str
        Name of the file, for the message.

    Raises
    ------
    ReadError
        They describe a virtual layer or a web service.
    """
    plain = data[:SEEN_BYTES].replace(b"\x00", b"").lower()
    if any(word in plain for word in _DISGUISED):
        raise ReadError(
            "describes data that is kept elsewhere",
            path=path,
            remedy="put the data itself into the folder",
        )
