"""Tables of several files, one below the other."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pandas as pd

from wiremap.read.values import as_text

if TYPE_CHECKING:
    from collections.abc import Sequence

    from wiremap.model.columns import Table


def align_columns(frames: Sequence[pd.DataFrame]) -> list[pd.DataFrame]:
    """Give columns beyond the contract one spelling and one type over all tables.

    Parameters
    ----------
    frames : sequence of DataFrame

    Returns
    -------
    list of DataFrame
        A column that is of several types becomes text in all of them.
    """
    spelled: dict[str, str] = {}
    for frame in frames:
        for name in frame.columns:
            spelled.setdefault(name.lower(), name)
    aligned = [frame.rename(columns=lambda name: spelled[name.lower()]) for frame in frames]
    for name in spelled.values():
        holders = [frame for frame in aligned if name in frame]
        if len({frame[name].dtype for frame in holders}) > 1:
            for frame in holders:
                frame[name] = as_text(frame[name])
    return aligned


def stack_tables(frames: Sequence[pd.DataFrame], table: Table) -> pd.DataFrame:
    """Return tables of one kind, one below the other.

    Parameters
    ----------
    frames : sequence of DataFrame
        May be empty.
    table : Table
        What they are.

    Returns
    -------
    DataFrame
        The declared columns, further ones behind them; index counted from 0.

    Examples
    --------
    >>> from wiremap.model.tables import READINGS
    >>> stack_tables([READINGS.empty(), READINGS.empty()], READINGS).shape
    (0, 8)
    """
    if not frames:
        return pd.DataFrame(table.empty())
    whole = frames[0] if len(frames) == 1 else pd.concat(align_columns(frames))
    return pd.DataFrame(table.conform(whole))
