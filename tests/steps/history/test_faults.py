"""Faults over several visits, from simulated breaks, leaks and open ends that were mended."""

from __future__ import annotations

import pytest
from seasons import build, first_visit, write_rows
from simulator import Scenario, simulate

DAY = "2026-06-12"


def mended(tmp_path, kind, loss, seed, *, rows=slice(None)):
    """Build a property with one fault, then again with its run walked sound in June."""
    scenario = {"seed": seed, "zones": 2, "faults": ((2, kind, loss),)}
    made = first_visit(tmp_path, **scenario)
    before = build(tmp_path)
    wires = {int(name[1:]): line for name, line in made.truth.wires.items()}
    sound = simulate(Scenario(**scenario | {"faults": (), "seed": seed + 50}), wires=wires)
    walked = [row | {"date": DAY} for row in sound.locates if row.get("run") == "W2"][rows]
    for row in walked:  # the simulator lays the wire anew at another depth
        row.pop("offset_left", None)
        row.pop("offset_right", None)
    write_rows(tmp_path / "visits" / DAY / "w2.csv", walked)
    return before, build(tmp_path), made.truth


@pytest.mark.parametrize(("kind", "loss"), [("break", 1.0), ("leak", 0.5), ("open_end", 1.0)])
@pytest.mark.parametrize("seed", [1, 2])
def test_a_fault_is_repaired_once_the_tone_past_it_is_sound(tmp_path, kind, loss, seed):
    """It stays in the layer with its first date, and history says how long it stood."""
    before, after, truth = mended(tmp_path, kind, loss, seed)
    assert before.layers["faults"]["status"].tolist() == ["standing"]
    fault = after.layers["faults"].iloc[0]
    assert (fault["kind"], fault["status"]) == (kind, "repaired")
    assert (fault["first_date"], fault["last_date"]) == ("2026-03-11", DAY)
    assert fault["chainage_low_m"] < truth.faults["W2"][1] < fault["chainage_high_m"]
    held = after.layers["history"].query("layer == 'faults'")
    assert held[["reason", "valid_to"]].to_numpy().tolist() == [["repaired", DAY]]
    runs = after.layers["wire_runs"].set_index("run")
    assert runs.loc["W2", "length_m"] == pytest.approx(truth.wires["W2"].length, rel=0.03)


def test_a_fault_that_the_later_visit_did_not_reach_still_stands(tmp_path):
    """Walking the first few marks again says nothing of a break farther on."""
    before, after, _ = mended(tmp_path, "break", 1.0, 3, rows=slice(4))
    assert after.layers["faults"]["status"].tolist() == ["standing"]
    near = after.layers["faults"]["chainage_m"].iloc[0]
    assert near == pytest.approx(before.layers["faults"]["chainage_m"].iloc[0], abs=0.5)


@pytest.mark.parametrize("label", ["F1", "mend 7"])
def test_a_repair_reported_in_the_field_closes_the_fault(tmp_path, label):
    """Under its own label, or another one at the same place of the same run; one row remains."""
    made = first_visit(tmp_path, seed=4, zones=1, with_tone=False)
    (place,) = [row for row in made.locates if row["point"] == "W1-004"]
    report = {**place, "feature": "fault", "point": "F1", "note": "cut"}
    write_rows(tmp_path / "locates" / "fault.csv", [report])
    assert build(tmp_path).layers["faults"]["status"].tolist() == ["standing"]
    repair = report | {"point": label, "date": DAY, "note": "respliced"}
    splice = place | {"feature": "splice", "point": "S1", "date": DAY}
    write_rows(tmp_path / "visits" / DAY / "repair.csv", [repair, splice])
    after = build(tmp_path)
    faults = after.layers["faults"]
    assert faults[["fault", "status", "first_date", "last_date"]].to_numpy().tolist() == [
        ["F1", "repaired", "2026-03-11", DAY]
    ]
    assert after.layers["splices"][["splice", "first_date"]].to_numpy().tolist() == [["S1", DAY]]
