"""Writes the tables of docs/explanation/faults.md from the simulator: run it as a script.

Usage: python tests/detection_table.py [runs a cell]
"""

from __future__ import annotations

import sys
from pathlib import Path

import pandas as pd
from tone_field import World
from tone_scoring import score

PAGE = Path(__file__).parent.parent / "docs" / "explanation" / "faults.md"
MARK = "<!-- tables: tests/detection_table.py -->"
KINDS = ("sound", "leak", "break", "open_end")


def detect(runs):
    """Return the share of leaks found, by loss, noise and spacing, as a Markdown table."""
    losses = (0.1, 0.15, 0.25, 0.4)
    lines = ["| noise | spacing | " + " | ".join(f"loss {loss:.0%}" for loss in losses) + " |"]
    lines.append("|---" * (2 + len(losses)) + "|")
    for noise in (0.03, 0.05, 0.1):
        for spacing in (3.0, 8.0):
            world = World(noise=noise, depth_sigma=0.03, spacing_m=(spacing, spacing),
                          points=(int(120 / spacing), int(120 / spacing)))  # fmt: skip
            scored = [score(21, ("leak", "sound") * runs, world, loss=loss) for loss in losses]
            found = [each.loc[each["kind"] == "leak", "right"].mean() for each in scored]
            cells = " | ".join(f"{share:.0%}" for share in found)
            lines.append(f"| {noise:.0%} | {spacing:.0f} m | {cells} |")
    return "\n".join(lines)


def confuse(runs, world):
    """Return the confusion table, coverage and median error over runs of each kind."""
    scored = score(22, KINDS * runs, world, loss=0.25)
    table = pd.crosstab(scored["kind"], scored["found"]).reindex(KINDS)
    head = ["kind", *table.columns, "interval holds", "median error (m)"]
    lines = ["| " + " | ".join(head) + " |", "|---" * len(head) + "|"]
    for kind in KINDS:
        own = scored[scored["kind"] == kind]
        held = "" if kind == "sound" else f"{own['covered'].mean():.1%}"
        error = "" if kind == "sound" else f"{own['error_m'].median():.2f}"
        cells = [kind, *(str(n) for n in table.loc[kind]), held, error]
        lines.append("| " + " | ".join(cells) + " |")
    return "\n".join(lines)


def main(runs):
    """Write both tables below the page's mark."""
    text = PAGE.read_text(encoding="utf-8").split(MARK)[0]
    head = "Runs of 8 to 40 points 3 to 8 m apart, noise 3 %, leaks of 25 %"
    even = World(noise=0.03, depth_sigma=0.03, points=(8, 40))
    usual = World(noise=0.03, depth_sigma=0.06, depth_every=2, points=(8, 40))
    stepped = World(noise=0.03, depth_every=4, depth_steps=0.2, points=(8, 40))
    tables = (
        f"{head}, depth error 3 % at every point; {runs} runs of each kind.\n\n"
        f"{confuse(runs, even)}\n\n"
        f"The same with a depth error of 6 % a pair, a pair at every other point.\n\n"
        f"{confuse(runs, usual)}\n\n"
        f"The same with a trench that steps by up to 20 % either way, a pair at every fourth point."
        f"\n\n{confuse(runs, stepped)}\n\n"
        f"Share of leaks found on runs of 120 m, depth error 3 %; {runs} leaks a cell, as many sound runs.\n\n"
        f"{detect(runs)}\n"
    )
    PAGE.write_text(f"{text}{MARK}\n\n{tables}", encoding="utf-8")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 100)
