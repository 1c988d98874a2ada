"""Which feature of the contract a field word or code means."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import pandas as pd

from wiremap.model.kinds import Feature
from wiremap.read.values import spread_text

if TYPE_CHECKING:
    from collections.abc import Mapping

_WORDS: dict[Feature, tuple[str, ...]] = {
    Feature.PATH: ("path", "wire", "wire path", "wire mark", "trace", "track", "line", "null",
                   "path mark", "pth", "wp", "locate"),
    Feature.OFFSET_MARK: ("offset mark", "offset", "off mark", "depth mark", "second mark", "om",
                          "null mark"),
    Feature.VALVE: ("valve", "vlv", "vlve", "valve box", "vbox", "vb", "solenoid", "rcv", "icv",
                    "remote control valve", "control valve", "zone valve", "irrigation valve"),
    Feature.SPLICE: ("splice", "spl", "splice box", "splc", "wire splice", "spb"),
    Feature.FAULT: ("fault", "flt", "break", "wire break", "damage", "nick", "cut"),
    Feature.CONTROLLER: ("controller", "ctrl", "cont", "ctl", "ctrlr", "clock", "timer",
                         "irrigation controller", "satellite", "control panel"),
    Feature.STAKE: ("stake", "ground stake", "transmitter stake", "transmitter", "stk"),
    Feature.LOST: ("lost", "tone lost", "lost tone", "signal lost", "lost signal", "end of tone"),
    Feature.EXPOSED: ("exposed", "exposed wire", "wire exposed", "pothole", "open hole", "hole",
                      "exp", "daylighted", "test pit"),
    Feature.REFERENCE: ("reference", "ref", "ref point", "monument", "building corner", "bldg cor",
                        "bldg corner", "benchmark", "bm", "control point", "cp"),
    Feature.GROUND: ("ground", "gnd", "ground rod", "grounding rod", "ground plate",
                     "grounding point", "earth rod"),
    Feature.SENSOR: ("sensor", "rain sensor", "soil sensor", "moisture sensor", "flow sensor",
                     "flow meter", "weather station"),
    Feature.PUMP: ("pump", "pump station", "booster pump", "pump start"),
    Feature.FILTER: ("filter", "filt", "strainer", "y filter"),
    Feature.BACKFLOW: ("backflow", "backflow preventer", "bfp", "rpz", "rp", "pvb", "dcva"),
    Feature.WATER_SOURCE: ("water source", "water meter", "meter", "wm", "poc",
                           "point of connection", "well", "well head"),
    Feature.POWER_SOURCE: ("power source", "power", "electric meter", "outlet", "breaker panel"),
    Feature.SHUTOFF: ("shutoff", "shut off", "shut off valve", "shutoff valve", "gate valve", "gv",
                      "isolation valve", "iso valve", "ball valve", "curb stop"),
    Feature.QUICK_COUPLER: ("quick coupler", "qc", "qcv", "quick coupling", "quick coupling valve",
                            "quick coupler valve"),
    Feature.PULL_BOX: ("pull box", "pb", "pullbox", "junction box", "jb"),
    Feature.SLEEVE: ("sleeve", "slv", "conduit", "sleeve end"),
    Feature.CHECK_POINT: ("check point", "checkpoint", "check shot", "check", "chk"),
}  # fmt: skip
KNOWN: dict[str, Feature] = {word: feature for feature, words in _WORDS.items() for word in words}
"""Common field words and codes, in lower case with single spaces."""
_PART = re.compile(r"[^a-z0-9]+")
_NUMBERED = re.compile(r"([a-z]{2,})[-_]?(\d+[a-z]?)")
_LONGEST = 200


class Named(NamedTuple):
    """Features of a column of words, the rest of each word, and which were understood."""

    features: pd.Series
    notes: pd.Series
    is_known: np.ndarray


def read_features(words: pd.Series, *, own: Mapping[str, str] | None = None) -> Named:
    """Return the features that field words and codes mean.

    Parameters
    ----------
    words : Series of str
        Such as ``valve``, ``VLV``, ``valve box``, ``VLV 6in box``; NaN where empty.
    own : mapping of str to str, optional
        The owner's words: a word or code to a feature of the contract.

    Returns
    -------
    Named
        A word that means nothing stays as it is written, with `is_known` False. The text behind
        a code goes to `notes`.

    Examples
    --------
    >>> named = read_features(pd.Series(["VLV 6in box", "banana"]))
    >>> named.features.tolist(), named.notes.tolist()
    (['valve', 'banana'], ['6in box', nan])
    """
    known = {**KNOWN, **{_fold(word): Feature(f.lower()) for word, f in (own or {}).items()}}
    codes, distinct = pd.factorize(words)
    parsed = [parse_feature(str(word), known=known) for word in distinct]
    found = [f or str(word) for (f, _), word in zip(parsed, distinct, strict=True)]
    notes = [note or np.nan for _, note in parsed]
    is_known = np.array([*(bool(f) for f, _ in parsed), False], dtype=bool)
    return Named(
        spread_text(found, codes, words.index),
        spread_text(notes, codes, words.index),
        is_known[codes],
    )


def parse_feature(word: str, *, known: Mapping[str, Feature] = KNOWN) -> tuple[str, str]:
    """Return the feature of one word or code, and the free text behind it.

    Parameters
    ----------
    word : str
    known : mapping of str to Feature
        Words in lower case with single spaces.

    Returns
    -------
    feature, note : str
        The feature is empty where the word means nothing.

    Examples
    --------
    >>> parse_feature("Valve Box")
    ('valve', '')
    >>> parse_feature("VLV12 by the oak")
    ('valve', '12 by the oak')
    """
    written = word.strip()[:_LONGEST]
    folded = _fold(written)
    if folded in known:
        return str(known[folded]), ""
    parts = folded.split(" ")
    for count in range(min(3, len(parts) - 1), 0, -1):
        head = " ".join(parts[:count])
        if head in known:
            return str(known[head]), _behind(written, count)
    numbered = _NUMBERED.fullmatch(parts[0])
    if numbered and numbered[1] in known:
        return str(known[numbered[1]]), f"{numbered[2]} {_behind(written, 1)}".strip()
    return "", ""


def _fold(word: str) -> str:
    return _PART.sub(" ", word.lower()).strip()


def _behind(written: str, count: int) -> str:
    """Return what stands behind the first words of a text, as written."""
    rest = written
    for _ in range(count):
        rest = re.sub(r"^[^A-Za-z0-9]*[A-Za-z0-9]+", "", rest)
    return rest.lstrip(" -_:;,/.")
