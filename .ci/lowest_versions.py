"""The lowest version of each dependency that pyproject.toml allows, as constraints for pip.

Usage: python .ci/lowest_versions.py EXTRA...          prints name==version, one a line
       python .ci/lowest_versions.py --check EXTRA...  fails unless these are what is installed
"""

from __future__ import annotations

import re
import sys
import tomllib
from importlib.metadata import version
from pathlib import Path

PROJECT = tomllib.loads((Path(__file__).parent.parent / "pyproject.toml").read_text())["project"]
REQUIREMENT = re.compile(r"([A-Za-z0-9._-]+)(?:\[[^]]*\])?\s*(?:>=|==)\s*([0-9][0-9a-z.]*)")


def find_floors(extras: list[str]) -> dict[str, str]:
    """Return name and lowest version of what the package and its extras ask for."""
    wanted = list(PROJECT["dependencies"])
    for extra in extras:
        wanted += PROJECT["optional-dependencies"][extra]
    return {m[1]: m[2] for line in wanted if (m := REQUIREMENT.match(line))}


def is_release(installed: str, floor: str) -> bool:
    """Return whether an installed version is a floor, written 1.1 or 1.1.0."""
    return re.fullmatch(re.escape(floor) + r"(?:\.0)*(?:\.post\d+)?", installed) is not None


if __name__ == "__main__":
    checks = sys.argv[1:2] == ["--check"]
    floors = find_floors(sys.argv[2:] if checks else sys.argv[1:])
    if not checks:
        print("\n".join(f"{name}=={floor}" for name, floor in floors.items()))
        sys.exit()
    wrong = {n: version(n) for n, floor in floors.items() if not is_release(version(n), floor)}
    sys.exit(f"not the lowest versions: {wrong}" if wrong else 0)
