"""Leaflet's script, style and licence, read from an installed package.

Reads the files of ``django-js-lib-leaflet`` or ``XStatic-Leaflet`` without importing them, and
returns text that can stand inside a page.
"""

from __future__ import annotations

import base64
import hashlib
import re
from dataclasses import dataclass
from functools import cache
from importlib.metadata import Distribution, PackageNotFoundError, distribution
from pathlib import PurePosixPath
from typing import TYPE_CHECKING

from wiremap.errors import MissingExtraError, ReadError

if TYPE_CHECKING:
    from importlib.metadata import PackagePath

PACKAGES = ("django-js-lib-leaflet", "XStatic-Leaflet")
"""Packages that carry Leaflet, in the order they are tried."""

KNOWN_SHA256 = {
    "db49d009c841f5ca34a888c96511ae936fd9f5533e90d8b2c4d57596f4e5641a",
    "5819285cec137b229c94e1ee5ad73e8b6b84345a4367d60f75fe477fe0fb7b03",
}
"""SHA-256 of ``leaflet.js`` 1.9.4 and 1.9.3."""

LICENCE = """BSD 2-Clause License

Copyright (c) 2010-2023, Volodymyr Agafonkin
Copyright (c) 2010-2011, CloudMade
All rights reserved.

Redistribution and use in source and binary forms, with or without modification, are permitted
provided that the following conditions are met:

1. Redistributions of source code must retain the above copyright notice, this list of
   conditions and the following disclaimer.

2. Redistributions in binary form must reproduce the above copyright notice, this list of
   conditions and the following disclaimer in the documentation and/or other materials provided
   with the distribution.

THIS SOFTWARE IS PROVIDED BY THE COPYRIGHT HOLDERS AND CONTRIBUTORS "AS IS" AND ANY EXPRESS OR
IMPLIED WARRANTIES, INCLUDING, BUT NOT LIMITED TO, THE IMPLIED WARRANTIES OF MERCHANTABILITY AND
FITNESS FOR A PARTICULAR PURPOSE ARE DISCLAIMED. IN NO EVENT SHALL THE COPYRIGHT HOLDER OR
CONTRIBUTORS BE LIABLE FOR ANY DIRECT, INDIRECT, INCIDENTAL, SPECIAL, EXEMPLARY, OR CONSEQUENTIAL
DAMAGES (INCLUDING, BUT NOT LIMITED TO, PROCUREMENT OF SUBSTITUTE GOODS OR SERVICES; LOSS OF USE,
DATA, OR PROFITS; OR BUSINESS INTERRUPTION) HOWEVER CAUSED AND ON ANY THEORY OF LIABILITY,
WHETHER IN CONTRACT, STRICT LIABILITY, OR TORT (INCLUDING NEGLIGENCE OR OTHERWISE) ARISING IN ANY
WAY OUT OF THE USE OF THIS SOFTWARE, EVEN IF ADVISED OF THE POSSIBILITY OF SUCH DAMAGE.
"""
"""Leaflet's licence, which each copy of it must carry."""


@dataclass(frozen=True)
class Leaflet:
    """Leaflet, ready to stand inside a page."""

    script: str
    style: str
    licence: str


@cache
def read_leaflet() -> Leaflet:
    """Return Leaflet from the installed package, held against the package's own record.

    Returns
    -------
    Leaflet
        Script without its source map; style with its images as data URIs; the licence text.

    Raises
    ------
    MissingExtraError
        No package that carries Leaflet is installed.
    ReadError
        A file differs from the hash in the package's record, or from the published script.

    Examples
    --------
    >>> "sourceMappingURL" in read_leaflet().script
    False
    """
    files = {path.name: path for path in _package().files or () if "leaflet" in str(path).lower()}
    script = _checked(files.get("leaflet.js"), "leaflet.js")
    if hashlib.sha256(script).hexdigest() not in KNOWN_SHA256:
        raise ReadError(
            "leaflet.js is not a published version",
            path="leaflet.js",
            remedy=f"install {PACKAGES[0]}==1.9.4.1",
        )
    style = _checked(files.get("leaflet.css"), "leaflet.css").decode()
    return Leaflet(_inert(script.decode()), _inert(_with_images(style, files)), LICENCE)


def _package() -> Distribution:
    for name in PACKAGES:
        try:
            return distribution(name)
        except PackageNotFoundError:
            continue
    raise MissingExtraError(PACKAGES[0], "all")


def _checked(path: PackagePath | None, name: str) -> bytes:
    """Return a file's bytes, held against the package's record."""
    if path is None or path.hash is None:
        raise ReadError("the installed package carries no such file", path=name)
    data = bytes(path.locate().read_bytes())  # type: ignore[attr-defined]
    digest = base64.urlsafe_b64encode(hashlib.new(path.hash.mode, data).digest()).rstrip(b"=")
    if digest.decode() != path.hash.value:
        raise ReadError(
            "the file differs from its package's record",
            path=str(path),
            remedy=f"reinstall {PACKAGES[0]}",
        )
    return data


def _with_images(style: str, files: dict[str, PackagePath]) -> str:
    """Return the style with each image file that it names as a data URI."""

    def embedded(match: re.Match[str]) -> str:
        name = PurePosixPath(match[1]).name
        encoded = base64.b64encode(_checked(files.get(name), name)).decode()
        return f"url(data:image/png;base64,{encoded})"

    return re.sub(r"url\((images/[^)#]+)\)", embedded, style)


def _inert(text: str) -> str:
    """Return script or style text that cannot end its element and asks for no further file."""
    text = re.sub(r"(?m)^//[#@] sourceMappingURL=.*$", "", text)
    return text.replace("</", "<\\/").replace("<!--", "<\\!--")
