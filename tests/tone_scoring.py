"""Scores computed faults against the simulator's truth."""

from __future__ import annotations

import pandas as pd
from tone_field import FRAME, no_connections, survey

from wiremap.model.settings import Settings
from wiremap.steps.faults import find_faults


def find(points, lines, *, connections=None, settings=None, placed=None):
    """Run the step on simulated tables."""
    return find_faults(
        points,
        points if placed is None else placed,
        lines,
        no_connections() if connections is None else connections,
        frame=FRAME,
        settings=settings or Settings(),
        readings=_readings(points),
    )


def _readings(points):
    """Return the depths read on the points as a table of readings; None where none were."""
    if "read_m" not in points:
        return None
    names = {"read_m": "depth_m", "read_sigma_m": "depth_sigma_m"}
    return points.loc[points["read_m"].notna(), ["locate", *names]].rename(columns=names)


def score(seed, kinds, world, **options):
    """Return one row a run: truth, what was found, and for the right kind how well."""
    points, lines, truths = survey(seed, kinds, world, **options)
    faults = find(points, lines).faults
    by_run = dict(list(faults.groupby("run")))
    rows = []
    for run, kind, truth in zip(lines["run"], kinds, truths, strict=True):
        got = by_run.get(run, faults.iloc[:0]).sort_values("chainage_m")
        rows.append(_compare(run, kind, truth, got))
    return pd.DataFrame(rows)


def _compare(run, kind, truth, got):
    wanted = [truth.kind] * len(truth.place_m)
    found = got["kind"].tolist()
    row = {"run": run, "kind": kind, "found": "+".join(found) or "sound", "right": found == wanted}
    if row["right"] and wanted:
        places = pd.Series(truth.place_m, index=got.index)
        row["error_m"] = (got["chainage_m"] - places).abs().mean()
        low, high = got["chainage_low_m"], got["chainage_high_m"]
        row["covered"] = places.between(low, high).mean()
        if truth.kind == "leak":
            losses = pd.Series(truth.loss, index=got.index)
            between = losses.between(got["loss_fraction_low"], got["loss_fraction_high"])
            row["loss_covered"] = between.mean()
    return row
