"""Findings: their severity, and what they say on one line."""

from wiremap.model.findings import Finding
from wiremap.model.kinds import Severity


def test_a_finding_has_its_own_severity_or_that_of_its_code():
    """bad-value is an error by the register of codes."""
    assert Finding("bad-value", "P1", "x").gravity is Severity.ERROR
    assert Finding("bad-value", "P1", "x", severity=Severity.NOTE).gravity is Severity.NOTE


def test_row_0_is_a_row():
    """Rows of a frame are counted from 0."""
    found = Finding("bad-value", "P1", "x.", source_file="locates", source_row=0, column="lat")
    assert found.line.startswith("locates row 0, lat: x.")
