"""Field of buried conductors, and a receiver that looks for nulls in it.

The field is summed over straight conductors by Biot and Savart; nulls are found by scanning and
bisection, so that nothing here knows the closed forms that the library uses. Lengths are metres.
A cross-section has x to the right of the direction walked and z up; the traced wire crosses it at
x = 0, a depth below the ground there.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

MU0_OVER_2PI = 2e-7


def segment_field(start, end, current, at):
    """Flux density (n, 3) of a straight finite conductor at points (n, 3): closed form."""
    start, end, at = (np.asarray(a, dtype=float) for a in (start, end, at))
    axis = (end - start) / np.linalg.norm(end - start)
    from_start, from_end = at - start, at - end
    radial = from_start - (from_start @ axis)[:, None] * axis
    distance = np.linalg.norm(radial, axis=1)
    ahead = (from_start @ axis) / np.linalg.norm(from_start, axis=1)
    behind = (from_end @ axis) / np.linalg.norm(from_end, axis=1)
    around = np.cross(axis, radial / distance[:, None])
    return MU0_OVER_2PI / 2 * current * ((ahead - behind) / distance)[:, None] * around


def quadrature_field(start, end, current, at, *, pieces=200_000):
    """Flux density (3,) at one point: midpoint rule of the Biot-Savart integral."""
    start, end, at = (np.asarray(a, dtype=float) for a in (start, end, at))
    middle = start + (np.arange(pieces)[:, None] + 0.5) / pieces * (end - start)
    toward = at - middle
    piece = np.broadcast_to((end - start) / pieces, toward.shape)
    cube = np.linalg.norm(toward, axis=1)[:, None] ** 3
    return MU0_OVER_2PI / 2 * current * (np.cross(piece, toward) / cube).sum(axis=0)


@dataclass
class Section:
    """Cross-sections of ground and conductors, one entry a place."""

    depth_m: np.ndarray
    slope_tan: np.ndarray  # rising to the left positive
    spacing_m: np.ndarray = field(default_factory=lambda: np.zeros((1, 0)))  # right positive
    share: np.ndarray = field(default_factory=lambda: np.zeros((1, 0)))
    spacing_depth_m: np.ndarray | None = None  # plumb under the traced wire's ground mark

    def across(self, along_m, height_m=0.0):
        """Flux density right and up, in units of mu0 I / 2 pi, at places along the ground."""
        cos = 1 / np.sqrt(1 + self.slope_tan**2)
        x = along_m * cos
        z = -x * self.slope_tan + height_m
        count = self.spacing_m.shape[1]
        deep = self.depth_m if self.spacing_depth_m is None else self.spacing_depth_m
        right, up = 0.0, 0.0
        for at, down, share in (
            (0.0, self.depth_m, 1.0),
            *((self.spacing_m[:, k], deep, self.share[:, k]) for k in range(count)),
        ):
            away, above = x - at, z + down
            square = away**2 + above**2
            right, up = right + share * above / square, up + share * away / square
        return right, up

    def silence(self, along_m, lean_rad, height_m=0.0):
        """What the leaning antenna hears: zero at a null, rising through it over one wire."""
        right, up = self.across(along_m, height_m)
        return np.cos(lean_rad) * up - np.sin(lean_rad) * right

    def null(self, lean_rad, *, beyond=None, height_m=0.0, reach=6.0, grid=481):
        """Distance along the ground of a null, right positive.

        Upright (`beyond` None): the null nearest the wire. Leaning: the first null that is met
        walking from `beyond` to the side the receiver leans to. NaN where there is none.
        """
        n = len(self.depth_m)
        lean = np.broadcast_to(np.asarray(lean_rad, dtype=float), (n,))
        side = np.where(lean < 0, -1.0, 1.0)
        if beyond is None:
            fraction = np.linspace(-1.5, 1.5, grid)
            start, sense = np.zeros(n), np.ones(n)
        else:
            fraction = np.linspace(1e-4, reach, grid)
            start, sense = beyond, side
        steps = fraction[:, None] * self.depth_m
        heard = np.array([self.silence(start + sense * s, lean, height_m) for s in steps])
        turned = np.sign(heard[1:]) != np.sign(heard[:-1])
        rank = np.argsort(np.abs(fraction[:-1] + np.diff(fraction) / 2), kind="stable")
        first = rank[np.argmax(turned[rank], axis=0)]
        low, high = steps[first, np.arange(n)], steps[first + 1, np.arange(n)]
        sign = np.sign(heard[first, np.arange(n)])
        for _ in range(48):
            middle = (low + high) / 2
            same = np.sign(self.silence(start + sense * middle, lean, height_m)) == sign
            low, high = np.where(same, middle, low), np.where(same, high, middle)
        return np.where(turned.any(axis=0), start + sense * (low + high) / 2, np.nan)


@dataclass(frozen=True)
class Hand:
    """How a technician errs: lean and marks, one standard deviation each."""

    lean_sigma_deg: float = 2.0
    common_share: float = 0.5  # of the lean's variance, the same on both sides of a pair
    systematic_share: float = 0.3  # of it, the same on every pair
    mark_sigma_m: float = 0.015
    path_sigma_m: float = 0.015
    upright_sigma_deg: float = 0.0


def take_pairs(section, hand, rng, *, lean_deg=45.0, height_m=0.0):
    """Offsets left and right, along the ground, as a technician would tape them."""
    n = len(section.depth_m)
    sigma = np.radians(hand.lean_sigma_deg)
    shared = sigma * (
        np.sqrt(hand.systematic_share) * rng.normal()
        + np.sqrt(max(hand.common_share - hand.systematic_share, 0)) * rng.normal(size=n)
    )
    own = sigma * np.sqrt(1 - hand.common_share) * rng.normal(size=(2, n))
    lean = np.radians(lean_deg)
    upright = np.radians(hand.upright_sigma_deg) * rng.normal(size=n)
    path = section.null(upright, height_m=height_m)
    right = section.null(lean + shared + own[0], beyond=path, height_m=height_m)
    left = section.null(-(lean + shared + own[1]), beyond=path, height_m=height_m)
    mark = hand.mark_sigma_m * rng.normal(size=(2, n))
    off = hand.path_sigma_m * rng.normal(size=n)
    return path + off - left + mark[0], right - path - off + mark[1]
