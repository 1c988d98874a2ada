"""Writes the table of docs/explanation/security.md: tries every attack, each in its own process.

Usage: python tests/hostile_table.py [scale of the large attacks, 1 for the sizes stated]
"""

from __future__ import annotations

import os
import re
import sys
import tempfile
import time
from pathlib import Path

from attacks import load_all, write_sound

import wiremap.workflow
from wiremap.cli.main import run

PAGE = Path(__file__).parent.parent / "docs" / "explanation" / "security.md"
MARK = "<!-- table: tests/hostile_table.py -->"
LONGEST_S = 300


def build(folder, out, log, options):
    """Build in a child process; return exit code, seconds and peak memory in MB."""
    began = time.monotonic()
    child = os.fork()
    if not child:
        code = 98
        try:
            sink = os.open(log, os.O_CREAT | os.O_WRONLY)
            os.dup2(sink, 1)
            os.dup2(sink, 2)
            run(["build", str(folder), "-o", str(out), *options])
        except SystemExit as left:
            code = left.code or 0
        finally:
            sys.stderr.flush()
            sys.stdout.flush()
            os._exit(code)
    while time.monotonic() - began < LONGEST_S:
        ended, status, used = os.wait4(child, os.WNOHANG)
        if ended:
            seconds = time.monotonic() - began
            return os.waitstatus_to_exitcode(status), seconds, used.ru_maxrss / 1024
        time.sleep(0.01)
    os.kill(child, 9)
    os.waitpid(child, 0)
    return "none", LONGEST_S, float("nan")


def answer(attack, scale):
    """Return one row of the table: what was tried, how it ended, time and memory."""
    with tempfile.TemporaryDirectory() as name:
        folder, out, log = (
            write_sound(Path(name) / "garden"),
            Path(name) / "out",
            Path(name) / "log",
        )
        attack.make(folder, scale)
        code, seconds, peak_mb = build(folder, out, log, attack.options)
        said = log.read_text(encoding="utf-8", errors="replace")
        if (out / "findings.csv").exists():
            said += (out / "findings.csv").read_text(encoding="utf-8-sig")
    held = code in attack.codes and "unexpected" not in said and re.search(attack.says, said)
    ends = {0: "built", 1: "built, with findings", 2: "refused in one line"}.get(
        code, f"exit {code}"
    )
    return f"| {attack.what} | {ends} | {'yes' if held else '**no**'} | {seconds:.1f} | {peak_mb:.0f} |"


def main(scale):
    """Try every attack and write the table below the page's mark."""
    rows = [answer(attack, scale) for attack in load_all().values()]
    held = sum("| yes |" in row for row in rows)
    head = (
        f"{len(rows)} attacks, large ones at {scale:g} of the size stated; {held} answered as"
        " promised.\n\n| attack | how it ended | as promised | seconds | MB |\n|---|---|---|---|---|\n"
    )
    text = PAGE.read_text(encoding="utf-8").split(MARK)[0]
    PAGE.write_text(f"{text}{MARK}\n\n{head}" + "\n".join(rows) + "\n", encoding="utf-8")


if __name__ == "__main__":
    assert wiremap.workflow.__file__
    main(float([*sys.argv, "1"][1]))
