"""Comparison: how two records of one property differ beyond their uncertainty.

Reads the layers of both; returns table ``changes`` and what it says in words.
"""

from wiremap.steps.comparison.compare import Comparison, compare_layers

__all__ = ["Comparison", "compare_layers"]
