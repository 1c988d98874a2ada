"""Field text that tries to be more than text, and layers full of it."""

from __future__ import annotations

import pandas as pd
from synthetic_layers import Synthetic, make_layers

HOSTILE = (
    "<img src=x onerror=alert(1)>",
    "</script><script>alert(1)</script>",
    "${alert(1)}",
    "`+alert(1)+`",
    "{{7*7}}",
    "{{ cycler.__init__.__globals__.os.listdir() }}",
    "box {#4}",
    "{% raw %}",
    "C:\\20190221",
    "<!-- <script>",
    "\"' onmouseover=alert(1) x='",
    "javascript:alert(1)",
    "\u202egnp.exe",
    "\x00\x07bell\x1b[31m",
    "\u2028line\u2029end",
    "__proto__",
    "constructor",
    "]]>&amp;&lt;",
    "m\u00e4rz \u6e7f\u5730 \u05e2\u05d1\u05e8\u05d9\u05ea",
    "long " * 2000,
)
"""Texts that a page, a template or a script could take for its own."""

HALF = "\ud800 half"
"""Half of a character: no column of text can hold it where Arrow keeps the text."""


def hostile_layers(texts: tuple[str, ...] = HOSTILE) -> Synthetic:
    """Return a small property whose every text cell holds one of the texts."""
    plain = make_layers(4, points_per_run=8)
    layers = {
        name: _poison(frame, texts, n) for n, (name, frame) in enumerate(plain.layers.items())
    }
    layers["zones"].loc[:, "zone"] = [texts[k % len(texts)] for k in range(len(layers["zones"]))]
    return plain._replace(layers=layers)


def _poison(frame: pd.DataFrame, texts: tuple[str, ...], offset: int) -> pd.DataFrame:
    poisoned = frame.copy()
    for k, name in enumerate(frame.columns):
        if name == "geometry" or frame[name].dtype.kind in "fiub":
            continue
        cells = [texts[(offset + k + row) % len(texts)] for row in range(len(frame))]
        poisoned[name] = pd.Series(cells, index=frame.index, dtype="object")
    return poisoned
