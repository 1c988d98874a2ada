"""Faults: breaks, leaks and open ends from the tone along each run, held against reported ones.

Reads points on runs with tone and depth; returns the ``faults`` layer, levels at coils, and the
tone profiles to draw.
"""

from wiremap.steps.faults.find import Faults, find_faults

__all__ = ["Faults", "find_faults"]
