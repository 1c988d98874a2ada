"""History: what later visits replaced, kept with the dates between which it held.

Reads placed locates, depth readings and faults; returns what holds now, and rows of the
``history`` layer for what does not.
"""

from wiremap.steps.history.ages import count_days, date_record, widen_with_age
from wiremap.steps.history.depths import SettledDepths, settle_depths
from wiremap.steps.history.faults import (
    Earlier,
    Latest,
    SettledFaults,
    list_earlier_tones,
    settle_faults,
)
from wiremap.steps.history.places import SettledPlaces, settle_places

__all__ = [
    "Earlier",
    "Latest",
    "SettledDepths",
    "SettledFaults",
    "SettledPlaces",
    "count_days",
    "date_record",
    "list_earlier_tones",
    "settle_depths",
    "settle_faults",
    "settle_places",
    "widen_with_age",
]
