"""Hold the tables as read against the rules of the contract."""

from wiremap.steps.checks.locates import Checked, check_locates
from wiremap.steps.checks.zone_list import CheckedZones, check_zone_list

__all__ = ["Checked", "CheckedZones", "check_locates", "check_zone_list"]
