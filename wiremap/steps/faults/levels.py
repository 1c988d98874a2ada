"""The levels of each run: which rows count, what may change them, and where silence begins."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from wiremap.formulas.tone import (
    NOISE_FLOOR,
    USUAL_DECAY_PER_M,
    level_noise,
    log_current,
    lone_points,
    neighbour_residuals,
    usual_decay,
)
from wiremap.formulas.tone_evidence import Levels
from wiremap.model.kinds import Feature

if TYPE_CHECKING:
    import numpy.typing as npt

    from wiremap.steps.faults.rows import Flags, Floats, Rows

_FEW_LEVELS = 3
_USUAL_NOISE = 0.05
_USUAL_WEIGHT = 8
_FEW_TO_JUDGE = 8
_NOISIER = 1.5
_ENOUGH_RESIDUALS = 20
_LEAST_BUMP = 0.02
_FAINT_SHARE = 0.03
_PLAIN_DROP = 0.2
_END_EFFECT = 0.35
_ADDED_SHARE = 0.1
_END_REACH_M = 2.0
_BRANCH_REACH_M = 1.0
_DEPTHS_BESIDE = 2.0
_FULL_VISIT = 0.7


class Places(NamedTuple):
    """Chainages by run: where current may divide, where a wire crosses; runs fed at the far end."""

    branches: dict[str, Floats]
    crossings: dict[str, Floats]
    fed_far: set[str]


class RunTone(NamedTuple):
    """One run's tone: heard levels, where silence begins, and how the run ends.

    Attributes
    ----------
    run : str
        Its name.
    levels : Levels
        Heard levels in order from the transmitter, those that stand alone set aside.
    level : ndarray
        The same levels on a linear scale, the gain table applied.
    silent_m : float
        First silent row beyond the last heard one; NaN where there is none.
    ending : str
        ``silent`` where there is one; else ``joined`` where the run ends at a device or another
        wire, or ``loose``.
    previous_m : float
        Last path mark before the silent row, with or without a level; NaN where there is none.
    sigma_m : float
        Standard deviation of a chainage from the position of the points.
    reverse_m : float
        Where the tone was fed at the far end: the chainage that counts as 0; NaN otherwise.
    visit : str
        Day of the last level, ISO 8601; empty where not said.
    """

    run: str
    levels: Levels
    level: Floats
    silent_m: float
    ending: str
    previous_m: float
    sigma_m: float
    reverse_m: float
    visit: str

    def along(self, distance_m: float) -> float:
        """Return the run's own chainage of a distance from the transmitter's end."""
        return distance_m if np.isnan(self.reverse_m) else self.reverse_m - distance_m


class _Heard(NamedTuple):
    """One run before its noise is known."""

    run: str
    part: Rows
    at: npt.NDArray[np.intp]
    log_current: Floats
    even: Floats
    groups: Floats
    residuals: Floats
    branches: Floats
    silent_m: float
    previous_m: float
    ending: str
    reverse_m: float


def listen_along(rows: Rows, places: Places, *, depth_length_m: float) -> list[RunTone]:
    """Return the tone of each run that has a level or a silent row.

    Parameters
    ----------
    rows : Rows
        All points on runs, ordered by run and chainage.
    places : Places
        Where levels may change without a fault.
    depth_length_m : float
        Length over which the depth's error stays alike.

    Returns
    -------
    list of RunTone
        In the order of the rows. The noise of each is its own, averaged with the property's: a
        short run alone cannot tell its noise.
    """
    if not len(rows.run):
        return []
    starts = np.flatnonzero(np.concatenate([[True], rows.run[1:] != rows.run[:-1], [True]]))
    heard = [_hear(rows.take(slice(first, last)), places) for first, last in pairwise(starts)]
    known = [run for run in heard if run is not None]
    residuals = np.concatenate([np.empty(0), *(run.residuals for run in known)])
    usual = level_noise(residuals) if len(residuals) >= _ENOUGH_RESIDUALS else _USUAL_NOISE
    decay = _property_decay(known)
    return [_settle(run, usual, decay, depth_length_m) for run in known]


def _property_decay(known: list[_Heard]) -> float:
    """Return the decay along the runs, each taken apart where current may divide."""
    if not known:
        return USUAL_DECAY_PER_M
    x = [run.part.chainage_m[run.at] for run in known]
    parts = [np.searchsorted(np.sort(run.branches), at) for run, at in zip(known, x, strict=True)]
    count = np.cumsum([0, *(len(run.branches) + 1 for run in known)])
    number = np.concatenate([first + part for first, part in zip(count, parts, strict=False)])
    return usual_decay(number, np.concatenate(x), np.concatenate([run.even for run in known]))


def _hear(part: Rows, places: Places) -> _Heard | None:
    """Return the levels of one run from the transmitter on; None without tone."""
    part = _latest_visit(part)
    heard, silent = _heard_and_silent(part)
    if not (heard.any() or silent.any()):
        return None
    run, reverse_m, none = str(part.run[0]), float("nan"), np.empty(0)
    branches, crossings = places.branches.get(run, none), places.crossings.get(run, none)
    if run in places.fed_far or _is_silent_first(heard, silent):
        reverse_m = float(np.nanmax(part.chainage_m))
        part = _turn(part, reverse_m)
        branches, crossings = reverse_m - branches, reverse_m - crossings
        heard, silent = _heard_and_silent(part)
    heard = heard & ~_beside_valve(part) & ~_beside_crossing(part, crossings)
    heard, silent = _faint_is_silent(part, heard, silent)
    silent_m, previous_m = _silence(part, heard, silent)
    at = np.flatnonzero(heard)
    values, groups = log_current(part.level[at], part.depth_m[at]), _free_groups(part, at)
    even = _even_out(part.chainage_m[at], values, groups)
    return _Heard(
        run=run, part=part, at=at, log_current=values, even=even, groups=groups,
        residuals=neighbour_residuals(part.chainage_m[at], even),
        branches=branches, silent_m=silent_m, previous_m=previous_m,
        ending=_ending(part, silent_m, branches), reverse_m=reverse_m,
    )  # fmt: skip


def _settle(run: _Heard, usual_noise: float, decay_per_m: float, depth_length_m: float) -> RunTone:
    """Return the run with its noise, lone levels set aside."""
    count, own = len(run.residuals), level_noise(run.residuals) if len(run.residuals) else 0.0
    # few levels that bend, as toward an open end, are not noisier than the receiver elsewhere
    own = min(own, _NOISIER * usual_noise) if count < _FEW_TO_JUDGE else own
    variance = (count * own**2 + _USUAL_WEIGHT * usual_noise**2) / (count + _USUAL_WEIGHT)
    sigma = max(float(np.sqrt(variance)), NOISE_FLOOR)
    kept = ~lone_points(run.even, sigma=max(sigma, _LEAST_BUMP))
    at = run.at[kept]
    x = run.part.chainage_m[at]
    levels = Levels(
        chainage_m=x,
        log_current=run.log_current[kept],
        noise=_noises(run.part, at, run.even[kept], sigma, run.ending),
        depth_noise=run.part.depth_share[at],
        depth_length_m=depth_length_m,
        free_steps=np.column_stack([run.groups[kept], _free_branches(x, run.branches)]),
        read_shift=run.part.read_shift[at],
        read_noise=run.part.read_share[at],
        decay_per_m=decay_per_m,
        fewest_behind=1 if run.ending == "joined" else 2,
    )
    rms = run.part.rms_m[np.isfinite(run.part.rms_m)]
    return RunTone(
        run=run.run,
        levels=levels,
        level=run.part.level[at],
        silent_m=run.silent_m,
        ending=run.ending,
        previous_m=run.previous_m,
        sigma_m=float(np.median(rms) / np.sqrt(2.0)) if len(rms) else 0.0,
        reverse_m=run.reverse_m,
        visit=max(run.part.visit[_tells(run.part)].tolist(), default=""),
    )


def _heard_and_silent(part: Rows) -> tuple[Flags, Flags]:
    path = part.feature == Feature.PATH
    silent = (part.feature == Feature.LOST) | (path & (part.level == 0))
    return path & (part.level > 0) & part.usable, silent & np.isfinite(part.chainage_m)


def _tells(part: Rows) -> Flags:
    """Return the rows that say whether there is tone."""
    lost: Flags = part.feature == Feature.LOST
    return np.isfinite(part.level) | lost


def _latest_visit(part: Rows) -> Rows:
    """Keep the last visit alone where it covers most of the run: it supersedes the others."""
    visits = np.unique(part.visit[_tells(part) & (part.visit != "")].astype(str))
    if len(visits) <= 1:
        return part
    last = (part.visit == visits[-1]) | (part.visit == "")
    told = np.isfinite(part.level) & last
    if not told.any() or np.ptp(part.chainage_m[told]) < _FULL_VISIT * np.ptp(part.chainage_m):
        return part
    return part.take(last)


def _is_silent_first(heard: Flags, silent: Flags) -> bool:
    """Whether silence stands before the first heard level and none behind it."""
    at, gone = np.flatnonzero(heard), np.flatnonzero(silent)
    return bool(len(at) and len(gone) and gone.max() < at.min())


def _turn(part: Rows, reverse_m: float) -> Rows:
    turned = part.take(slice(None, None, -1))
    fields = {name: getattr(turned, name) for name in turned.__dataclass_fields__}
    return type(part)(**fields | {"chainage_m": reverse_m - turned.chainage_m})


def _silence(part: Rows, heard: Flags, silent: Flags) -> tuple[float, float]:
    """Return the first silent chainage beyond the last heard one, and the path mark before it."""
    x = part.chainage_m
    end = x[heard].max() if heard.any() else -np.inf
    beyond = x[silent & (x >= end)]
    if not len(beyond):
        return float("nan"), float("nan")
    silent_m = float(beyond.min())
    before = x[part.usable & (part.feature == Feature.PATH) & (x < silent_m)]
    return silent_m, float(before.max()) if len(before) else float("nan")


def _ending(part: Rows, silent_m: float, branches: Floats) -> str:
    if np.isfinite(silent_m):
        return "silent"
    end = float(np.nanmax(part.chainage_m))
    sounds = (part.feature != Feature.PATH) & (part.level > 0) & (part.chainage_m == end)
    joined = sounds.any() or (branches > end - _END_REACH_M).any()
    return "joined" if joined else "loose"


def _beside_valve(part: Rows) -> Flags:
    """Return rows within two depths of a valve: its coil lifts the level."""
    return _near(part, part.chainage_m[part.feature == Feature.VALVE])


def _beside_crossing(part: Rows, crossings: Floats) -> Flags:
    """Return rows within two depths of a wire that crosses; none where wires share a trench."""
    crossed = _near(part, crossings)
    return crossed if crossed.sum() <= len(crossed) / 4 else np.zeros_like(crossed)


def _near(part: Rows, places: Floats) -> Flags:
    distance = np.abs(part.chainage_m[:, None] - places[None, :])
    near: Flags = np.any(distance <= _DEPTHS_BESIDE * part.depth_m[:, None], axis=1)
    return near


def _faint_is_silent(part: Rows, heard: Flags, silent: Flags) -> tuple[Flags, Flags]:
    """Count the last levels as silence where they are next to nothing after a plain drop."""
    at = np.flatnonzero(heard)
    if len(at) < _FEW_LEVELS:
        return heard, silent
    current = part.level[at] * part.depth_m[at]
    loud = np.flatnonzero(current > _FAINT_SHARE * np.median(current[: max(len(at) // 3, 2)]))
    first = int(loud[-1]) + 1 if len(loud) else len(at)
    if first >= len(at) or current[first] > _PLAIN_DROP * current[first - 1]:
        return heard, silent
    heard, silent = heard.copy(), silent.copy()
    heard[at[first:]], silent[at[first:]] = False, True
    return heard, silent


def _free_groups(part: Rows, at: npt.NDArray[np.intp]) -> Floats:
    """Return a column for each gain and visit but the first: its levels stand at any height."""
    names = list(zip(part.gain[at].tolist(), part.visit[at].tolist(), strict=True))
    groups = list(dict.fromkeys(names))
    columns = [[float(name == group) for name in names] for group in groups[1:]]
    return np.array(columns, dtype=np.float64).reshape(len(columns), len(at)).T


def _even_out(x: Floats, values: Floats, groups: Floats) -> Floats:
    """Return the values with each further group moved to the height of those before it."""
    even = values.copy()
    done = groups.sum(axis=1) == 0
    for column in groups.T > 0:
        even[column] -= np.median(values[column] - np.interp(x[column], x[done], even[done]))
        done |= column
    return even


def _free_branches(x: Floats, branches: Floats) -> Floats:
    """Return a step column at each gap that holds a branch, and at its neighbour if near a point.

    What stands at the ends of the levels divides nothing.
    """
    if len(x):
        inner = (branches > x[0] + _BRANCH_REACH_M) & (branches < x[-1] - _BRANCH_REACH_M)
        branches = branches[inner]
    near = branches[:, None] + _BRANCH_REACH_M * np.array([-1.0, 0.0, 1.0])
    firsts = np.unique(np.searchsorted(x, near))
    firsts = firsts[(firsts > 0) & (firsts < len(x))]
    return (np.arange(len(x))[:, None] >= firsts[None, :]).astype(np.float64)


def _noises(
    part: Rows, at: npt.NDArray[np.intp], values: Floats, sigma: float, ending: str
) -> Floats:
    """Return each level's noise: shared relative noise, a part of which does not shrink with it.

    A last level that is itself the run's end may read half (field over an open end).
    """
    if not len(at):
        return np.empty(0)
    padded = np.concatenate([values[:1], values, values[-1:]])
    smooth = np.median(np.lib.stride_tricks.sliding_window_view(padded, 3), axis=1)
    small = np.minimum(np.exp(np.median(values) - smooth), 50.0)
    noise: Floats = sigma * np.sqrt(1.0 - _ADDED_SHARE + _ADDED_SHARE * small**2)
    if ending != "silent":
        end = np.nanmax(part.chainage_m)
        at_end = end - part.chainage_m[at] < _DEPTHS_BESIDE * part.depth_m[at]
        noise = np.where(at_end, np.hypot(noise, _END_EFFECT), noise)
    return noise
