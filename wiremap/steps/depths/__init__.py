"""Depth of the wire from depth pairs, located pairs, probes and exposed wire.

Reads placed locates and the points on runs; returns the layer ``depth_readings``.
"""

from wiremap.steps.depths.reduction import Depths, reduce_depths

__all__ = ["Depths", "reduce_depths"]
