"""Buffers: the advisory band around each wire, to be dug by hand, and the bands together.

Reads vertices, segments, lines and zones; returns the layers ``dig_buffer`` and ``zone_buffers``.
Advisory only: never a utility locate.
"""

from wiremap.steps.buffers.areas import buffer_zones, dissolve_buffers
from wiremap.steps.buffers.bands import ADVISORY, Buffers, buffer_runs, radial_quantile

__all__ = [
    "ADVISORY",
    "Buffers",
    "buffer_runs",
    "buffer_zones",
    "dissolve_buffers",
    "radial_quantile",
]
