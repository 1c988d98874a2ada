"""The map as one page: no outside file, no script but its own, something to see without scripts.

Reads a rendered folium figure; returns the text of an HTML file.
"""

from __future__ import annotations

import base64
import hashlib
import re
from html import escape
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

_SCRIPT = re.compile(r"<script(?P<attributes>[^>]*)>(?P<body>.*?)</script>", re.DOTALL)
_DATA = re.compile(r"""type=["'](?:application/json|text/plain)["']""")
_CONTROLS = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f\ud800-\udfff\ufffe\uffff]")


def html_text(text: str) -> str:
    r"""Return a text as it can stand in an element or attribute of a page.

    Parameters
    ----------
    text : str

    Returns
    -------
    str
        Escaped; control characters, which a page may not hold, as the replacement character.

    Examples
    --------
    >>> html_text('<b>"5\x00')
    '&lt;b&gt;&quot;5\ufffd'
    """
    return escape(_CONTROLS.sub("\ufffd", text), quote=True)


def assemble_page(
    *, title: str, head: str, body: str, scripts: str, image_hosts: Sequence[str] = ()
) -> str:
    """Return a whole page under a policy that allows its own scripts and nothing else.

    Parameters
    ----------
    title : str
        Title as text.
    head, body : str
        Markup.
    scripts : str
        Script that runs last.
    image_hosts : sequence of str, optional
        Origins that an online background may come from.

    Returns
    -------
    str
        The file's text. The policy names the SHA-256 of every script on the page; images come
        from the page itself and from `image_hosts`.

    Examples
    --------
    >>> "script-src 'sha256-" in assemble_page(title="A", head="", body="", scripts="1")
    True
    """
    body = f"{body}\n<script>\n{scripts}\n</script>"
    policy = _policy(head + body, image_hosts)
    return (
        '<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        f'<meta http-equiv="Content-Security-Policy" content="{policy}">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        '<meta name="referrer" content="no-referrer">\n'
        f"<title>{html_text(title)}</title>\n"
        f"{head}\n</head>\n<body>\n{body}\n</body>\n</html>\n"
    )


def _policy(markup: str, image_hosts: Sequence[str]) -> str:
    hashes = [
        base64.b64encode(hashlib.sha256(match["body"].encode()).digest()).decode()
        for match in _SCRIPT.finditer(markup)
        if not _DATA.search(match["attributes"])
    ]
    allowed = " ".join(f"'sha256-{digest}'" for digest in hashes)
    images = " ".join(("data:", "blob:", *image_hosts))
    return (
        f"default-src 'none'; script-src {allowed}; style-src 'unsafe-inline'; "
        f"img-src {images}; base-uri 'none'; form-action 'none'"
    )
