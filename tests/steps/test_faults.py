"""Faults from the tone along simulated runs."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
import shapely
from tone_field import FRAME, World, lay_out, survey, variant, walk_run
from tone_scoring import find, score

from wiremap.formulas.tone import end_factor
from wiremap.model.settings import Locating, Settings
from wiremap.model.tables import FAULTS

SHORT = World(noise=0.03, depth_sigma=0.03, points=(14, 40))


def run_of(x, tone, **columns):
    """Return the rows of one run with levels as given."""
    rows = {
        "run": "R", "feature": "path", "tone": tone, "chainage_m": x, "gain": np.nan,
        "wire_depth_m": 0.3, "wire_depth_sigma_m": 0.01,
    }  # fmt: skip
    return pd.DataFrame(rows | columns)


def standing(count=20, noise=0.02, seed=1):
    """Return chainages and levels of a sound run at one depth."""
    rng = np.random.default_rng(seed)
    x = 5.0 * np.arange(count)
    return x, 100 * np.exp(-0.001 * x) * (1 + noise * rng.standard_normal(count))


def lost_after(rows, x):
    """Add a lost row."""
    lost = rows.iloc[-1:].assign(feature="lost", tone=np.nan, chainage_m=x)
    return pd.concat([rows, lost], ignore_index=True)


@pytest.mark.parametrize("noise", [0.03, 0.06, 0.1])
def test_sound_runs_raise_no_false_alarm(noise):
    """At most one sound run in fifty may raise a fault; 20 to 60 points, depth errors of 6 %."""
    scored = score(11, ["sound"] * 100, World(noise=noise))
    assert (~scored["right"]).mean() <= 0.02


ADVERSE = (
    World(noise=0.03, points=(8, 40), depth_every=4, depth_swing=0.25),
    World(noise=0.03, points=(8, 40), depth_every=None),
    World(noise=0.03, points=(8, 40), depth_every=None, depth_length_m=30, depth_swing=0.25),
    World(noise=0.03, points=(8, 40), depth_every=4, depth_roughness=0.1),
    World(noise=0.0, additive=0.05, points=(8, 40)),
    World(noise=0.03, points=(8, 40), decay_per_m=0.003),
    World(noise=0.03, points=(8, 40), decay_per_m=0.0),
    World(noise=0.03, points=(8, 40), decay_per_m=0.008),
    World(noise=0.03, points=(8, 40), depth_every=2, depth_steps=0.2),
    World(noise=0.03, points=(8, 40), depth_every=6, depth_steps=0.2),
)


def test_sound_runs_stay_sound_whatever_the_ground_and_receiver():
    """Assumptions of the model broken one at a time: at most one false alarm in fifty of all."""
    right = pd.concat([score(12, ["sound"] * 60, world)["right"] for world in ADVERSE])
    assert (~right).mean() <= 0.02


@pytest.mark.parametrize("kind", ["leak", "leaks", "break", "open_end"])
def test_real_faults_get_their_kind(kind):
    """Loss 25 %, noise 3 %: at least 95 in 100 of the right kind and number, intervals hold."""
    scored = score(13, [kind] * 80, World(noise=0.03, depth_sigma=0.03), loss=0.25)
    assert scored["right"].mean() >= 0.95
    assert scored["covered"].mean() >= 0.93


CARELESS = (
    World(noise=0.03, depth_every=2),
    World(noise=0.03, decay_per_m=0.006),
    World(noise=0.03, depth_steps=0.2, depth_every=2),
)


def test_a_leak_of_a_quarter_is_told_with_depth_errors_of_six_per_cent():
    """Readings two marks apart, current that decays fast, a trench in steps: 95 in 100 of each."""
    scored = [score(17, ["leak", "sound"] * 60, world, loss=0.25) for world in CARELESS]
    leaks = [each.loc[each["kind"] == "leak", "right"].mean() for each in scored]
    assert min(leaks) >= 0.95
    every = pd.concat(scored)
    assert (~every.loc[every["kind"] == "sound", "right"]).mean() <= 0.02


@pytest.mark.parametrize("taper", ["linear", "late", "exp"])
def test_an_open_end_is_told_by_any_taper(taper):
    """Straight from the start, straight from half way, or by a curve: 95 in 100."""
    scored = score(14, ["open_end"] * 60, variant(SHORT, taper=taper))
    assert scored["right"].mean() >= 0.95


def test_a_break_without_depth_readings_is_still_a_break():
    """Depth is stood in for; the silence tells."""
    scored = score(15, ["break"] * 60, variant(SHORT, depth_every=None))
    assert scored["right"].mean() >= 0.95


def test_decibels_give_what_linear_levels_give():
    """The same levels on either scale end in the same faults."""
    kinds = ["leak", "break", "open_end", "sound"]
    points, lines, _ = survey(16, kinds, SHORT, loss=0.4)
    decibel, _, _ = survey(16, kinds, variant(SHORT, scale="decibel"), loss=0.4)
    settings = Settings(locating=Locating(tone_scale="decibel"))
    linear = find(points, lines).faults
    scaled = find(decibel, lines, settings=settings).faults
    assert linear["kind"].tolist() == scaled["kind"].tolist()
    assert scaled["chainage_m"].to_numpy() == pytest.approx(linear["chainage_m"].to_numpy())


def test_a_gain_change_is_no_fault():
    """A jump by an unknown factor at a change of gain raises nothing."""
    x, tone = standing()
    gain = np.where(x > 52, 5.0, 4.0)
    points, lines = lay_out([run_of(x, np.where(x > 52, tone / 3, tone), gain=gain)])
    assert find(points, lines).faults.empty


def test_a_leak_shows_across_gain_changes_that_alternate():
    """Each gain at its own height: the step is seen within both."""
    x, tone = standing(30)
    gain = np.where(np.arange(30) % 3 == 0, 2.0, 1.0)
    tone = np.where(gain == 2, 2.7, 1.0) * np.where(x > 72, 0.65, 1.0) * tone
    points, lines = lay_out([run_of(x, tone, gain=gain)])
    (kind,) = find(points, lines).faults["kind"]
    assert kind == "leak"


@pytest.mark.parametrize(
    ("scale", "table"), [("linear", {"1": 1.0, "2": 4.0}), ("decibel", {"1": 0.0, "2": 12.0412})]
)
def test_a_gain_table_lets_a_drop_at_the_change_be_seen(scale, table):
    """With the factors known, half the current lost just where the gain changes is a leak."""
    x, tone = standing()
    gain = np.where(x > 52, 2.0, 1.0)
    tone = np.where(x > 52, 0.5 * 4.0, 1.0) * tone
    tone = 20 * np.log10(tone) if scale == "decibel" else tone
    points, lines = lay_out([run_of(x, tone, gain=gain)])
    settings = Settings(locating=Locating(tone_scale=scale, gain_table=table))
    found = find(points, lines, settings=settings).faults
    assert found["kind"].tolist() == ["leak"]
    assert found["loss_fraction"].iloc[0] == pytest.approx(0.5, abs=0.05)


def test_a_gain_table_word_that_is_no_number_changes_nothing():
    """Settings are numbers in the files; a word in the table fits no row."""
    x, tone = standing()
    points, lines = lay_out([run_of(x, tone, gain=1.0)])
    settings = Settings(locating=Locating(gain_table={"high": 4.0}))
    assert find(points, lines, settings=settings).faults.empty


def test_a_drop_that_depth_explains_is_no_leak():
    """Half the level over wire twice as deep is the same current."""
    x, tone = standing()
    depth = np.where(x > 52, 0.6, 0.3)
    points, lines = lay_out([run_of(x, tone * 0.3 / depth, wire_depth_m=depth)])
    assert find(points, lines).faults.empty


def test_a_step_that_depth_readings_explain_is_no_leak():
    """The trench steps by a quarter, read five marks apart: the curve between smooths it away."""
    x, tone = standing(24, noise=0.02)
    true = np.where(x > 57, 0.4, 0.3)
    read = np.where(np.arange(24) % 5 == 0, true, np.nan)
    smooth = 0.35 + 0.03 * np.tanh((x - 57) / 30)
    rows = run_of(x, tone * 0.3 / true, wire_depth_m=smooth, wire_depth_sigma_m=0.02)
    points, lines = lay_out([rows])
    assert find(points, lines).faults["kind"].tolist() == ["leak"]
    points, lines = lay_out([rows.assign(read_m=read, read_sigma_m=0.06 * read)])
    assert find(points, lines).faults.empty


def test_a_leak_stays_a_leak_where_the_depth_readings_stand():
    """The level steps, the readings do not: surer than without them."""
    x, tone = standing(24)
    rows = run_of(x, np.where(x > 57, 0.65, 1.0) * tone)
    unread = find(*lay_out([rows])).faults.iloc[0]
    read = find(*lay_out([rows.assign(read_m=0.3, read_sigma_m=0.018)])).faults.iloc[0]
    assert (unread["kind"], read["kind"]) == ("leak", "leak")
    assert unread["confidence"] < 0.9 < read["confidence"]


def test_a_splice_beside_the_line_is_a_branch_though_no_row_names_the_run():
    """A branch traced alone starts at a splice half a metre beside the trunk."""
    x, tone = standing()
    points, lines = lay_out([run_of(x, np.where(x > 52, 0.6, 1.0) * tone)])
    splice = points.iloc[:1].assign(feature="splice", point="S", run=None, tone=np.nan, locate=99)
    for beside, kinds in ((0.5, []), (9.0, ["leak"])):
        splice = splice.set_geometry([shapely.Point(52.0, beside)], crs=points.crs)
        placed = pd.concat([points, splice], ignore_index=True)
        assert find(points, lines, placed=placed).faults["kind"].tolist() == kinds


def test_an_end_beyond_the_line_says_how_far_short_its_point_stands():
    """The line ends at 97 m; the point stands there and its radius holds the true end."""
    x, tone = standing(17)
    points, lines = lay_out([run_of(x, tone * (96 - x) / 96)])
    fault = find(points, lines).faults.iloc[0]
    assert fault["kind"] == "open_end"
    assert fault.geometry.x == pytest.approx(80.0)
    short = fault["chainage_m"] - 80.0
    assert f"{short:.1f} m short" in fault["evidence"]
    assert fault["position_rms_m"] >= short


@pytest.mark.parametrize("kind", ["splice", "valve", "run"])
def test_current_that_divides_at_a_known_branch_is_no_leak(kind):
    """Forty per cent leave at 52 m, where a splice, a valve or another run is connected."""
    x, tone = standing()
    points, lines = lay_out([run_of(x, np.where(x > 52, 0.6, 1.0) * tone)])
    row = {
        "run": "R",
        "chainage_m": 52.0,
        "other_kind": kind,
        "other": "S",
        "other_chainage_m": 0.0,
    }
    assert find(points, lines).faults["kind"].tolist() == ["leak"]
    assert find(points, lines, connections=pd.DataFrame([row])).faults.empty


@pytest.mark.parametrize(("left", "noted"), [(0.6, False), (0.3, True)])
def test_a_drop_at_a_branch_beyond_an_even_division_is_noted(left, noted):
    """Forty per cent may leave into a branch; of seventy a leak cannot be excluded."""
    x, tone = standing()
    points, lines = lay_out([run_of(x, np.where(x > 52, left, 1.0) * tone)])
    splice = {"run": "R", "chainage_m": 52.5, "other_kind": "splice", "other": "S",
              "other_chainage_m": np.nan}  # fmt: skip
    result = find(points, lines, connections=pd.DataFrame([splice]))
    assert result.faults.empty
    assert [f.code for f in result.findings] == ["tone-undecided"] * noted
    assert all("cannot be told" in f.message for f in result.findings)


def test_a_branch_is_known_from_the_other_runs_connection():
    """The branch's row names the trunk and the trunk's chainage: the trunk's step is free too."""
    x, tone = standing()
    points, lines = lay_out([run_of(x, np.where(x > 52, 0.6, 1.0) * tone)])
    row = {
        "run": "B",
        "chainage_m": 0.0,
        "other_kind": "run",
        "other": "R",
        "other_chainage_m": 52.0,
    }
    assert find(points, lines, connections=pd.DataFrame([row])).faults.empty


def test_the_level_over_a_valve_counts_as_no_level():
    """A coil lifts the level fourfold at the valve and beside it; the run is sound."""
    x, tone = standing()
    rows = run_of(x, tone)
    beside = rows.iloc[[10]].assign(chainage_m=50.3, tone=400.0)
    valve = rows.iloc[[10]].assign(chainage_m=50.5, tone=900.0, feature="valve")
    points, lines = lay_out([pd.concat([rows, beside, valve]).sort_values("chainage_m")])
    result = find(points, lines)
    assert result.faults.empty
    assert result.tones["level"].max() < 200


def test_levels_over_a_wire_that_crosses_are_set_aside():
    """Another run crosses at 50 m and doubles the level at the crossing."""
    import shapely

    x, tone = standing()
    points, lines = lay_out([run_of(x, np.where(np.abs(x - 50) < 0.1, 2.2, 1.0) * tone)])
    other = lines.assign(run="X", geometry=[shapely.LineString([(50, -20), (50, 20)])])
    both = pd.concat([lines, other], ignore_index=True)
    result = find(points, both)
    assert result.faults.empty
    assert 50.0 not in result.tones["chainage_m"].tolist()


def test_a_run_in_a_shared_trench_keeps_its_levels():
    """Two lines that cross again and again share a trench; no level is set aside for it."""
    import shapely

    x, tone = standing()
    points, lines = lay_out([run_of(x, tone)])
    zigzag = shapely.LineString([(s, 0.2 * (-1) ** i) for i, s in enumerate(np.arange(1, 95, 3.0))])
    both = pd.concat([lines, lines.assign(run="X", geometry=[zigzag])], ignore_index=True)
    assert len(find(points, both).tones) == len(x)


def test_half_the_field_over_the_wires_end_is_no_fault():
    """Closed form of a half-infinite wire: the last level, over the end, reads half."""
    x, tone = standing()
    tone = tone * end_factor(x[-1] - x, 0.3)
    points, lines = lay_out([run_of(x, tone)])
    assert tone[-1] == pytest.approx(0.5 * tone[-2], rel=0.1)
    assert find(points, lines).faults.empty


def test_a_lone_bump_is_no_fault():
    """Two levels halved by something local: the rest of the run says nothing happened."""
    x, tone = standing()
    points, lines = lay_out([run_of(x, np.where((x > 41) & (x < 52), 0.5, 1.0) * tone)])
    assert find(points, lines).faults.empty


def test_tone_lost_after_a_standing_level_is_a_break_between_the_two_points():
    """Common practice, no source: a complete break silences the tone past it."""
    x, tone = standing()
    points, lines = lay_out([lost_after(run_of(x, tone), 103.0)])
    fault = find(points, lines).faults.iloc[0]
    assert fault["kind"] == "break"
    assert fault["chainage_m"] == pytest.approx((95 + 103) / 2)
    assert 95 < fault["chainage_low_m"] < 96
    assert 103 < fault["chainage_high_m"] < 104.5
    assert fault["loss_fraction"] == 1
    assert fault["confidence"] > 0.9


@pytest.mark.parametrize("floor", [0.0, 0.4])
def test_levels_of_nothing_past_a_point_are_silence(floor):
    """Path rows walked on past a break read 0, or the receiver's own floor."""
    x, tone = standing()
    tone = np.where(x > 72, floor * np.abs(np.sin(x)), tone)
    points, lines = lay_out([run_of(x, tone)])
    fault = find(points, lines).faults.iloc[0]
    assert (fault["kind"], fault["chainage_m"]) == ("break", pytest.approx(72.5))


def test_a_single_silent_reading_between_sound_ones_is_no_break():
    """The tone goes on past it."""
    x, tone = standing()
    points, lines = lay_out([run_of(x, np.where(x == 50, 0.0, tone))])
    assert find(points, lines).faults.empty


def test_a_taper_of_few_levels_is_no_noise():
    """Five levels that fade straight to an end at 23 m, among runs that say how noisy levels are."""
    x, right = 5.0 * np.arange(5), 0
    for seed in range(40):
        fading = 100 * (23 - x) / 23 * (1 + 0.06 * np.random.default_rng(seed).standard_normal(5))
        others = [run_of(*standing(12, 0.06, 10 * seed + k), run=f"S{k}") for k in range(3)]
        points, lines = lay_out([lost_after(run_of(x, fading), 25.0), *others])
        faults = find(points, lines).faults
        right += faults[["run", "kind"]].to_numpy().tolist() == [["R", "open_end"]]
    assert right >= 39


def test_a_corner_cut_off_between_marks_widens_the_interval():
    """A right angle halfway between marks 5 m apart: 1.46 m more wire than chord."""
    x, tone = standing()
    points, lines = lay_out([lost_after(run_of(x, tone), 103.0)])
    straight = find(points, lines).faults.iloc[0]
    north = np.arange(2.5, 50, 5.0)
    bent = [(east, 0.0) for east in np.arange(0.0, 51, 5.0)] + [(52.5, y) for y in north]
    marked = [(east, 0.0) for east in np.arange(0.0, 51, 5.0)] + [(50.0, 2.5 + y) for y in north]
    high = {}
    for name, line in (("bent", bent), ("marked", marked)):
        turned = lines.set_geometry([shapely.LineString(line)], crs=lines.crs)
        high[name] = find(points, turned).faults.iloc[0]["chainage_high_m"]
    assert high["bent"] - straight["chainage_high_m"] == pytest.approx(5 - np.sqrt(12.5), abs=1e-6)
    assert high["marked"] == pytest.approx(straight["chainage_high_m"])


def test_a_taper_before_silence_is_an_open_end_beyond():
    """Common practice, no source: a fading tone means that the box lies some metres on."""
    x, tone = standing(19)
    points, lines = lay_out([lost_after(run_of(x, tone * (96 - x) / 96), 97.0)])
    fault = find(points, lines).faults.iloc[0]
    assert fault["kind"] == "open_end"
    assert fault["chainage_low_m"] < 96 < fault["chainage_high_m"]
    assert np.isnan(fault["loss_fraction"])
    assert "last heard at 90.0 m" in fault["dig"]


def test_a_lost_row_without_any_level_is_a_break_of_little_confidence():
    """Path marks alone: the wire was heard to the last of them."""
    x = 5.0 * np.arange(5)
    points, lines = lay_out([lost_after(run_of(x, np.nan), 25.0)])
    fault = find(points, lines).faults.iloc[0]
    assert fault["kind"] == "break"
    assert fault["chainage_m"] == pytest.approx(22.5)
    assert fault["confidence"] == 0.5
    assert "no levels" in fault["evidence"]


def test_a_lost_row_alone_still_gives_a_fault():
    """Nothing else is known of the run."""
    points, lines = lay_out([run_of(np.array([7.0]), np.nan, feature="lost")])
    fault = find(points, lines).faults.iloc[0]
    assert fault["chainage_m"] == 7.0
    assert fault["chainage_low_m"] < 7 < fault["chainage_high_m"]


def test_a_run_traced_from_its_far_end_is_read_backwards():
    """Tone fed at the far end: lost at the start, and the leak loses current toward the start."""
    x, tone = standing(30)
    rows = run_of(x, np.where(x < 72, 0.6, 1.0) * tone[::-1])
    row = {"run": "R", "chainage_m": 145.0, "other_kind": "controller", "other": "A",
           "other_chainage_m": np.nan}  # fmt: skip
    points, lines = lay_out([rows])
    found = find(points, lines, connections=pd.DataFrame([row]))
    assert found.faults["kind"].tolist() == ["leak"]
    assert 70 <= found.faults["chainage_m"].iloc[0] <= 75
    assert found.tones["chainage_m"].is_monotonic_increasing


def test_silence_before_the_first_level_turns_the_run():
    """Lost at the start of the list: the break lies between it and the first heard point."""
    x, tone = standing()
    rows = run_of(x, tone)
    rows.loc[0, ["feature", "tone"]] = ["lost", np.nan]
    points, lines = lay_out([rows])
    fault = find(points, lines).faults.iloc[0]
    assert (fault["kind"], fault["chainage_m"]) == ("break", pytest.approx(2.5))


def test_the_last_visit_supersedes_the_others():
    """Lost in March, sound in May after the repair: no fault stands."""
    x, tone = standing()
    march = lost_after(run_of(x[:10], tone[:10]), 50.0).assign(date="2026-03-01")
    may = run_of(x, 0.4 * tone, date="2026-05-01")
    points, lines = lay_out([pd.concat([march, may]).sort_values("chainage_m", kind="stable")])
    assert find(points, lines).faults.empty


def test_two_visits_that_share_a_run_are_each_at_their_own_height():
    """Half the run each on two days with another transmitter output: no step between them."""
    x, tone = standing()
    rows = run_of(x, np.where(x > 52, 0.5, 1.0) * tone)
    rows["date"] = np.where(x > 52, "2026-03-02T08:00", "2026-03-01T17:00")
    points, lines = lay_out([rows])
    assert find(points, lines).faults.empty


def test_points_set_aside_as_off_the_line_do_not_count():
    """An outlier's level is not used."""
    x, tone = standing()
    rows = run_of(x, tone, on_line=x != 50)
    points, lines = lay_out([rows])
    assert 50.0 not in find(points, lines).tones["chainage_m"].tolist()


def test_a_run_too_short_to_tell_says_so():
    """Three levels are no profile; a run without any level is not worth a note."""
    points, lines = lay_out([run_of(5.0 * np.arange(3), 100.0),
                             run_of(5.0 * np.arange(3), np.nan, run="S")])  # fmt: skip
    (note,) = find(points, lines).findings
    assert (note.code, note.subject) == ("tone-undecided", "R")
    assert "only 3 levels" in note.message


def test_a_run_too_noisy_to_tell_says_the_smallest_leak():
    """Levels that scatter by a quarter hide a leak of half the current."""
    x, _ = standing(10)
    rng = np.random.default_rng(3)
    points, lines = lay_out([run_of(x, 100 * np.exp(0.3 * rng.standard_normal(10)))])
    (note,) = find(points, lines).findings
    assert note.code == "tone-undecided"
    assert "of the current" in note.message


def test_a_fault_is_a_finding_with_a_place_and_a_way_to_dig():
    """One finding a fault, on the line at its chainage, with the usual cautions."""
    x, tone = standing()
    points, lines = lay_out([run_of(x, np.where(x > 52, 0.6, 1.0) * tone)])
    result = find(points, lines)
    (finding,) = result.findings
    fault = result.faults.iloc[0]
    assert (finding.code, finding.subject) == ("fault-found", fault["fault"])
    assert (finding.x_m, finding.y_m) == (pytest.approx(fault["chainage_m"]), 0.0)
    assert fault.geometry.x == pytest.approx(fault["chainage_m"])
    for caution in ("transmitter off", "disconnect", "one-call", "by hand", "local code"):
        assert caution in fault["dig"]
    assert result.faults.columns[: len(FAULTS.column_names)].tolist() == FAULTS.column_names


def test_the_plane_is_scaled_to_the_ground():
    """Chainages are ground metres: on a plane of scale 1.25 the point lies 1.25 times as far."""
    from dataclasses import replace

    from wiremap.steps.faults import find_faults

    x, tone = standing()
    points, lines = lay_out([run_of(x, np.where(x > 42, 0.5, 1.0) * tone)])
    connections = pd.DataFrame(
        {"run": [], "chainage_m": [], "other_kind": [], "other": [], "other_chainage_m": []}
    )
    result = find_faults(
        points, points, lines, connections,
        frame=replace(FRAME, scale_factor=1.25), settings=Settings(),
    )  # fmt: skip
    fault = result.faults.iloc[0]
    assert fault.geometry.x == pytest.approx(1.25 * fault["chainage_m"])


def test_nothing_in_gives_empty_tables():
    """No point, no line, no fault."""
    points, lines = lay_out([run_of(np.array([0.0, 5.0]), np.nan)])
    result = find(points.iloc[:0], lines.iloc[:0])
    assert result.faults.empty
    assert result.coils.empty
    assert result.tones.empty
    assert result.findings == []


def test_the_tone_profile_starts_near_one():
    """Current is relative to the run's start; the model lies inside its band."""
    rng = np.random.default_rng(5)
    rows, _ = walk_run(rng, "R", "sound", SHORT)
    points, lines = lay_out([rows])
    tones = find(points, lines).tones
    assert tones["model"].iloc[0] == pytest.approx(1.0, abs=0.1)
    assert ((tones["low"] < tones["model"]) & (tones["model"] < tones["high"])).all()


@pytest.mark.parametrize("place", [2.0, 92.0])
def test_a_leak_beside_either_end_is_found_though_one_level_stands_beyond_it(place):
    """The run goes on to its valve: what lowers one level is not the end of the wire."""
    x, tone = standing()
    valve = run_of(x[-1:] + 5, 300.0)
    path = run_of(x, np.where(x > place, 0.5, 1.0) * tone)
    points, lines = lay_out([pd.concat([path, valve.assign(feature="valve")])])
    fault = find(points, lines).faults
    assert fault["kind"].tolist() == ["leak"]
    assert fault["chainage_low_m"][0] < place < fault["chainage_high_m"][0]


def test_a_short_run_may_lose_a_third_of_its_current_evenly():
    """Steep decay over 22 m is no step: at most one of forty runs raises a leak."""
    alarms = 0
    for seed in range(40):
        _, tone = standing(count=12, noise=0.03, seed=seed)
        x = 2.0 * np.arange(12)
        points, lines = lay_out([run_of(x, np.exp(-0.018 * x) * tone)])
        alarms += len(find(points, lines).faults)
    assert alarms <= 1
