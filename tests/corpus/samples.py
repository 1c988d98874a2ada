"""The corpus: a list of files as people send them, each with what must become of it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path


@dataclass(frozen=True)
class Sample:
    """One property folder: how it is written, and what is expected of it.

    `told` are pairs of finding code and a pattern that its message and advice hold. `lost` names
    marks that cannot be placed from what the file says. `features` says whether every mark's
    feature is told by the file; `runs` whether both wires are.
    """

    sentence: str
    write: Callable[[Path], None]
    told: tuple[tuple[str, str], ...] = ()
    lost: tuple[str, ...] = ()
    features: bool = True
    runs: bool = True
    errors: bool = False
    refused: str = ""
    tolerance_m: float = 0.01


SAMPLES: list[Sample] = []


def sample(
    sentence: str, **expected: object
) -> Callable[[Callable[[Path], None]], Callable[[Path], None]]:
    """Enter a function that writes a folder into the corpus."""

    def enter(write: Callable[[Path], None]) -> Callable[[Path], None]:
        SAMPLES.append(Sample(sentence, write, **expected))
        return write

    return enter
