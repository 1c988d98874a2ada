"""Placement: every located point gets a position in one metric plane, and its uncertainty.

Reads tables ``locates_in`` and ``references_in``; returns points, references and the frame.
"""

from wiremap.steps.placement.placing import Placed, place_locates

__all__ = ["Placed", "place_locates"]
