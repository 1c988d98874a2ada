"""Findings: what is wrong, doubtful or worth knowing, as a table with stable codes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from wiremap.model.kinds import Severity

if TYPE_CHECKING:
    from collections.abc import Iterable

    import geopandas as gpd
    from pyproj import CRS


@dataclass(frozen=True)
class Code:
    """A kind of finding: its default severity, what it means, and what to do about it."""

    code: str
    severity: Severity
    meaning: str
    advice: str


_ERROR, _WARNING, _NOTE = Severity.ERROR, Severity.WARNING, Severity.NOTE

CODES: dict[str, Code] = {
    c.code: c
    for c in (
        # reading and checking
        Code("bad-value", _ERROR, "A cell or row cannot be used as it is written.",
             "Correct the cell in the field file and build again."),
        Code("duplicate-point", _WARNING, "Two rows carry the same point identifier.",
             "Give each point of the property its own identifier."),
        Code("unknown-feature", _WARNING, "The feature is none that wiremap knows.",
             "Use a feature of the contract, or map the word under [features] in property.toml."),
        Code("unread-file", _ERROR, "A file could not be read.",
             "Correct or remove the file; the rest of the property is built without it."),
        Code("unmapped-column", _NOTE, "A column matched no column of the contract and was kept as it is.",
             "Name it under [columns] in property.toml if it should be used."),
        Code("guessed-column", _NOTE, "A column was recognised by meaning rather than by its exact name.",
             "Name it under [columns] in property.toml to fix the match."),
        Code("read-note", _NOTE, "How a file was read: what was detected.",
             "Fix the reading under [files] in property.toml if it is wrong."),
        Code("unknown-setting", _WARNING, "property.toml has a key that wiremap does not know.",
             "Correct the key; it was ignored."),
        Code("run-without-name", _WARNING, "Path rows name no run; they were joined under a name of wiremap's own.",
             "Write the traced wire's name into the run column."),
        # placement
        Code("no-position", _ERROR, "A row has no position that can be used.",
             "Add a position, ties, a baseline or a grid position."),
        Code("crs-chosen", _NOTE, "The working CRS was chosen from the data.",
             "Set crs under [coordinates] in property.toml to fix it."),
        Code("crs-distorted", _WARNING, "The working CRS draws lengths or angles much out of true here.",
             "Leave crs out of property.toml, or name a UTM or state plane zone."),
        Code("datum-shift", _NOTE, "How far the datum of the input and of the map may differ.",
             "Name the datum of the receiver's corrections as input_crs."),
        Code("outside-area-of-use", _ERROR, "Positions lie outside the area where their CRS is valid.",
             "Look for swapped axes, feet read as metres, or the wrong zone."),
        Code("swapped-axes", _ERROR, "Longitude and latitude look exchanged.",
             "Exchange the columns; the rows were set aside."),
        Code("unit-mismatch", _WARNING, "A column's unit and the unit of its CRS disagree.",
             "Make the column's suffix agree with the CRS axis unit."),
        Code("distant-point", _WARNING, "A point lies far from all others of the property.",
             "Check its coordinates; it was set aside."),
        Code("outlier-position", _WARNING, "A point stands off the line that its neighbours make.",
             "Locate the point again; it was set aside from the line."),
        Code("tie-circles-miss", _ERROR, "The two taped circles do not meet.",
             "Tape both distances again; no position was made up."),
        Code("weak-tie", _WARNING, "The taped lines cross at a flat angle, so the position is poor.",
             "Tape from references that meet nearer a right angle."),
        Code("bad-tie", _ERROR, "A tie, baseline or grid position cannot be computed.",
             "Correct the row's references or distances."),
        Code("unknown-reference", _ERROR, "A tie or baseline names a reference that is not listed.",
             "Add the reference to references.csv or correct the name."),
        Code("tie-residual", _WARNING, "Ties over-determine a position and disagree.",
             "Tape the distances again."),
        Code("grid-residual", _WARNING, "A reference does not fit the site grid.",
             "Check the reference's grid and map coordinates."),
        Code("repeat-disagrees", _WARNING, "Repeated locates of one feature disagree beyond their accuracy.",
             "Locate the feature again."),
        Code("positions-disagree", _WARNING, "A row's own positions disagree beyond their accuracy.",
             "Find out which of the row's positions is wrong; the one with the smaller RMS was used."),
        Code("accuracy-statement", _NOTE, "Positional accuracy from check points.",
             "Quote it with the map."),
        # depth and runs
        Code("depth-pair-uneven", _WARNING, "A depth pair is more uneven than the ground or its neighbours explain.",
             "Look for another conductor or a leaning receiver; measure again a step along."),
        Code("position-too-coarse-for-depth", _WARNING,
             "The positions of a located pair are too coarse to give a depth.",
             "Tape the offset instead; no depth was made up."),
        Code("depth-disagrees", _WARNING, "Two depths at one place disagree beyond their uncertainty.",
             "Measure again, or open the ground by hand."),
        Code("shallow-cover", _WARNING, "Cover may be less than the limit along a stretch.",
             "Dig by hand here; keep aerators and edgers off the stretch."),
        Code("run-resequenced", _NOTE, "Rows of a run were put in another order.",
             "Write the walking order into the order column."),
        Code("run-too-short", _WARNING, "A run has fewer than two usable points, so no line was drawn.",
             "Locate more points of the run."),
        Code("run-not-connected", _NOTE, "A run joins no controller, splice or other run.",
             "Trace the wire back to where it is fed."),
        Code("controller-uncertain", _WARNING, "Which controller a run begins at, or whether rows are one controller, is not certain.",
             "Write the controller into the rows of the runs, or of their valves."),
        Code("branch-joined", _NOTE, "A branch traced alone was joined to its trunk.",
             "Confirm the splice on site."),
        # faults
        Code("fault-found", _WARNING, "The tone along a run shows a fault.",
             "Follow the dig recommendation of the fault."),
        Code("fault-contradicted", _WARNING, "A reported fault and the tone disagree.",
             "Listen again past the reported point."),
        Code("tone-undecided", _NOTE, "The tone of a run is too short or too noisy to tell.",
             "Read the level at more points, at one gain."),
        # zones and circuits
        Code("zone-without-valve", _WARNING, "A listed zone has no valve on the ground.",
             "Trace the zone's wire from the controller."),
        Code("valve-without-zone", _WARNING, "A located valve answers to no listed zone.",
             "Run the controller's stations and listen at the valve."),
        Code("zone-claimed-twice", _WARNING, "More valves claim a zone than the list expects.",
             "Run the station and see which valve opens."),
        Code("valve-count-differs", _WARNING, "The list and the ground disagree on how many valves a zone has.",
             "Look for the missing valve, or correct the list."),
        Code("run-without-valve", _WARNING, "A traced run ends at no valve.",
             "Trace on from the run's end."),
        Code("run-without-zone", _WARNING, "A run was traced as a zone that the list does not have.",
             "Correct the run's zone, or the list."),
        Code("zone-suggested", _NOTE, "A zone is suggested for a valve from the evidence.",
             "Run the station; record the decision."),
        Code("zone-listed-twice", _WARNING, "The zone list names a zone twice.",
             "Correct the zone list."),
        Code("no-zone-list", _NOTE, "There is no zone list, so nothing was reconciled.",
             "Add zones.csv."),
        Code("ohms-open", _WARNING, "A station reads open.",
             "Check splices along the path and the coil."),
        Code("ohms-low", _WARNING, "A station reads lower than its coil and wire explain.",
             "Look for damaged insulation or a second coil on the station."),
        Code("ohms-high", _WARNING, "A station reads higher than its coil and wire explain.",
             "Look for a corroded splice or a longer path."),
        Code("insulation-low", _WARNING, "A station's resistance to ground is low.",
             "Look for damaged insulation along the run."),
        Code("fault-distance", _NOTE, "A reading at the wire's end says how far away a fault lies.",
             "Open there first, by hand; the distance is evidence, not a verdict."),
        # seasons
        Code("superseded", _NOTE, "A later visit replaced what an earlier one had found.",
             "Confirm on site where it matters; what held before is kept in the history layer."),
        Code("visit-contradicts", _WARNING, "Two visits contradict each other and neither plainly wins.",
             "Locate the feature again with the better instrument."),
        # the rest of the record
        Code("not-surveyed", _NOTE, "A kind of equipment was never located on this property.",
             "Locate it, or confirm that there is none."),
        Code("few-references", _NOTE, "A feature has fewer than two permanent references in tape reach.",
             "Add permanent references near it."),
        Code("requirement-missing", _ERROR, "The record lacks what a requirement profile asks for.",
             "Supply it, or agree with the receiving agency that it is left out."),
    )
}  # fmt: skip
"""All finding codes, in the order of the work."""


@dataclass(frozen=True)
class Finding:
    """One finding.

    Attributes
    ----------
    code : str
        A key of `CODES`.
    subject : str
        What it is about: a point, run, zone, file or setting.
    message : str
        What rule was held, and what was found, with units.
    advice : str
        What to do; the code's own advice where empty.
    severity : Severity or None
        The code's default where None.
    source_file, source_row, column, value
        Where the datum came from.
    x_m, y_m : float
        Position in the working CRS in metres, where there is one.
    """

    code: str
    subject: str
    message: str
    advice: str = ""
    severity: Severity | None = None
    source_file: str = ""
    source_row: int | None = None
    column: str = ""
    value: str = ""
    x_m: float = float("nan")
    y_m: float = float("nan")

    def __post_init__(self) -> None:
        """Hold the code against the register."""
        if self.code not in CODES:
            raise KeyError(self.code)

    @property
    def gravity(self) -> Severity:
        """The finding's own severity, else its code's."""
        return self.severity or CODES[self.code].severity

    @property
    def line(self) -> str:
        """The finding on one line: where, what, what to do."""
        where = self.source_file
        where += f" row {self.source_row}" if self.source_row is not None else ""
        where += f", {self.column}" if where and self.column else ""
        advice = self.advice or CODES[self.code].advice
        return f"{where}: {self.message} {advice}" if where else f"{self.message} {advice}"


def tabulate_findings(findings: Iterable[Finding], *, crs: CRS | None = None) -> gpd.GeoDataFrame:
    """Return findings as the ``findings`` table.

    Parameters
    ----------
    findings : iterable of Finding
    crs : CRS, optional
        CRS of the positions.

    Returns
    -------
    GeoDataFrame
        Table ``findings``, most severe first, otherwise in the order given. Geometry is a point,
        or None where a finding has no place. Empty input gives an empty table.

    Examples
    --------
    >>> table = tabulate_findings([Finding("no-zone-list", "property", "There is no zone list.")])
    >>> table.loc[0, ["code", "severity"]].tolist()
    ['no-zone-list', 'note']
    """
    import geopandas as gpd
    import numpy as np
    import shapely

    from wiremap.model.tables import FINDINGS

    ranks = {Severity.ERROR: 0, Severity.WARNING: 1, Severity.NOTE: 2}
    rows = sorted(findings, key=lambda f: ranks[f.gravity])
    xy = np.array([(f.x_m, f.y_m) for f in rows], dtype=float).reshape(-1, 2)
    geometry = np.full(len(rows), None, dtype=object)
    placed = np.isfinite(xy).all(axis=1)
    geometry[placed] = shapely.points(xy[placed])
    columns = {
        "code": [f.code for f in rows],
        "severity": [str(f.gravity) for f in rows],
        "subject": [f.subject for f in rows],
        "message": [f.message for f in rows],
        "advice": [f.advice or CODES[f.code].advice for f in rows],
        "source_file": [f.source_file for f in rows],
        "source_row": [f.source_row for f in rows],
        "column": [f.column for f in rows],
        "value": [f.value for f in rows],
    }
    return FINDINGS.conform(gpd.GeoDataFrame(columns, geometry=geometry, crs=crs))
