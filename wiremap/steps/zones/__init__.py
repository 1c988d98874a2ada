"""Zones: the controller's list against the ground, station by station.

Reads the zone list, valves, runs, wire paths and electrical readings; returns the layer
``zones``, the valves with their standing, the wire schedule, and a finding for every difference.
"""

from __future__ import annotations

from wiremap.steps.zones.decisions import accept_suggestions
from wiremap.steps.zones.reconciliation import Reconciled, reconcile_zones
from wiremap.steps.zones.schedule import complete_schedule
from wiremap.steps.zones.summary import summarise_reconciliation

__all__ = [
    "Reconciled",
    "accept_suggestions",
    "complete_schedule",
    "reconcile_zones",
    "summarise_reconciliation",
]
