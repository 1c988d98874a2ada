"""Depth along each run, between and beside its readings.

Reads vertices, points and depth readings; returns points with the wire's depth, the layer
``wire_segments``, and curves dense enough to draw.
"""

from wiremap.steps.profiles.profile import Profiles, profile_runs

__all__ = ["Profiles", "profile_runs"]
