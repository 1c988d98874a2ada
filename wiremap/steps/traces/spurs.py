"""Marks past the device that a wire ends at: the line ends at the device, without a spur."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from wiremap.formulas.polylines import neighbours, step_lengths
from wiremap.model.kinds import Feature

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from wiremap.steps.traces.tables import Vertices

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]
    Flags = NDArray[np.bool_]
    Texts = NDArray[np.object_]

SAME_SIGMAS = 2.0
"""A mark and a device this many standard deviations apart, or less, may stand at one place
(project choice: what a mark may be moved by when its line is straightened)."""
_CLOSING = (Feature.VALVE, Feature.SPLICE, Feature.CONTROLLER)


def cut_spurs(found: Vertices, run: Ints, feature: Texts, sigma_m: Floats) -> Vertices:
    """Return the vertices without the path marks that stand past the device a run ends at.

    The outermost mark of a run goes where the valve, splice or controller next to it stands at
    the same place as far as both positions tell; so does the last mark before such a device where
    the line would turn back to reach it. A mark left out stays a point on its run.

    Parameters
    ----------
    found : Vertices
    run : array of int, shape (n,)
        Run of each vertex, never decreasing.
    feature : array of str, shape (n,)
    sigma_m : array, shape (n,)
        One standard deviation of each position along one axis, metres.

    Returns
    -------
    Vertices
        A run of which nothing would be left keeps all.
    """
    is_device = np.isin(feature, [str(kind) for kind in _CLOSING])
    is_mark = feature == str(Feature.PATH)
    cut = np.zeros(len(run), dtype=bool)
    for inward in (1, -1):
        outer, has_outer = neighbours(run, -inward)
        inner, has_inner = neighbours(run, inward)
        past = is_mark & ~has_outer & has_inner & is_device[inner]
        cut |= past & _together(found.xy, sigma_m, inner)
        ahead = ((found.xy[outer] - found.xy) * (found.xy - found.xy[inner])).sum(axis=1)
        hook = is_mark & has_outer & ~has_outer[outer] & is_device[outer] & has_inner & (ahead < 0)
        cut |= hook & _together(found.xy, sigma_m, outer)
    length = np.zeros(int(run.max(initial=0)) + 1)
    np.add.at(length, run[~cut], step_lengths(found.xy[~cut], run[~cut]))
    return found.take(~cut | (length[run] <= 0))


def _together(xy: Floats, sigma_m: Floats, other: Ints) -> Flags:
    """Whether each vertex may stand at the place of another."""
    apart: Floats = np.hypot(*(xy - xy[other]).T)
    same: Flags = apart <= SAME_SIGMAS * np.hypot(sigma_m, sigma_m[other])
    return same
