"""Corners that no mark stands at: where they may hide between two marks of a line."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from wiremap.formulas.polylines import leg_directions, neighbours, turns_deg

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]
    Flags = NDArray[np.bool_]

SHARPEST_RAD = float(np.radians(150.0))
"""Turning at both ends of a stretch, together, beyond which no one corner makes it."""


def hidden_corners(xy: Floats, line: Ints, start: Ints, least_m: Floats) -> tuple[Ints, Floats]:
    """Return the stretches that may hide a corner between their marks, and where it would be.

    Where both ends turn the same way, the legs before and after meet in the corner. Where one end
    turns, and the marks around it do not show that the corner is at that mark itself, a right
    angle fits between the leg that is known, carried on, and the other mark.

    Parameters
    ----------
    xy : array, shape (n, 2)
        Vertices in metres.
    line : array of int, shape (n,)
        Line of each vertex, never decreasing.
    start : array of int, shape (m,)
        First vertex of each stretch.
    least_m : array, shape (m,)
        How far off its stretch a corner must lie to count, metres.

    Returns
    -------
    stretch : array of int, shape (k,)
        Place in ``start``; a stretch may hide a corner near either end.
    apex : array, shape (k, 2)
        The corners.
    """
    turn = np.radians(turns_deg(xy, line))
    before, after = leg_directions(xy, line)
    leg_in, leg_out = before[start], after[start + 1]
    here, there = turn[start], turn[start + 1]
    chord = xy[start + 1] - xy[start]
    length = np.hypot(*chord.T)
    reach = _meeting(leg_in, leg_out, chord)
    met = (here * there > 0) & (np.abs(here) + np.abs(there) < SHARPEST_RAD) & (reach > 0)
    met &= np.abs(reach * np.sin(here)) > least_m
    at_start, at_end = _unexplained(turn, line, start, met, length, least_m)
    foot = (length * np.cos(here))[:, None] * leg_in, (length * np.cos(there))[:, None] * leg_out
    apex = (
        (xy[start] + reach[:, None] * leg_in)[met],
        (xy[start] + foot[0])[at_start],
        (xy[start + 1] - foot[1])[at_end],
    )
    stretch = [np.flatnonzero(flag) for flag in (met, at_start, at_end)]
    return np.concatenate(stretch), np.concatenate(apex)


def _meeting(leg_in: Floats, leg_out: Floats, chord: Floats) -> Floats:
    """Return how far along the first leg, carried on, the second one meets it; 0 if hardly."""
    cross = leg_in[:, 0] * leg_out[:, 1] - leg_in[:, 1] * leg_out[:, 0]
    across = chord[:, 0] * leg_out[:, 1] - chord[:, 1] * leg_out[:, 0]
    reach: Floats = across / np.where(np.abs(cross) > 0.1, cross, np.inf)  # noqa: PLR2004
    return reach


def _unexplained(
    turn: Floats, line: Ints, start: Ints, met: Flags, length: Floats, least_m: Floats
) -> tuple[Flags, Flags]:
    """Return the stretches at whose first, and at whose last mark a turn is of unknown place.

    A turn is explained by a corner in the stretch before or after its mark, or, where the wire
    goes on straight at the marks on both sides, by a corner at the mark.
    """
    ends = start, start + 1
    size = [np.abs(turn[end]) for end in ends]
    clear = [
        (length * np.sin(one) * np.cos(one) > least_m) & (one < np.pi / 2) for one in size
    ]  # a right angle or more leaves no room for another one
    turns, explained = np.zeros(len(turn), dtype=bool), np.zeros(len(turn), dtype=bool)
    for end, is_clear in zip(ends, clear, strict=True):
        turns[end[is_clear]] = True
        explained[end[met]] = True
    (back, _), (on, _) = neighbours(line, -1), neighbours(line, 1)
    inner = neighbours(line, -2)[1] & neighbours(line, 2)[1]
    unknown = ~explained & ~(inner & ~turns[back] & ~turns[on])
    return clear[0] & unknown[ends[0]] & ~met, clear[1] & unknown[ends[1]] & ~met
