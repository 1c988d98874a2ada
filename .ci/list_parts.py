"""The parts of a bill of materials, a line each, and whether their licences are known.

Usage: python .ci/list_parts.py BILL.json    fails where a part states no licence or a strong one
"""

from __future__ import annotations

import json
import re
import sys
from pathlib import Path

KNOWN = {"cligj": "BSD-3-Clause"}
"""Licences of parts whose packages state none in their metadata: from their own licence files."""
STRONG = re.compile(r"(?<!L)GPL|SSPL|proprietary", re.IGNORECASE)


def read_parts(bill: dict[str, object]) -> list[tuple[str, str, str]]:
    """Return name, version and licence of each part of a CycloneDX bill."""
    parts = []
    for part in bill["components"]:
        stated = [entry.get("expression") or entry["license"].get("id") or entry["license"]["name"]
                  for entry in part.get("licenses", [])]  # fmt: skip
        parts.append((part["name"], part["version"], (stated or [KNOWN.get(part["name"], "")])[0]))
    return sorted(parts, key=lambda part: part[0].lower())


if __name__ == "__main__":
    found = read_parts(json.loads(Path(sys.argv[1]).read_text(encoding="utf-8")))
    for name, number, licence in found:
        print(f"{name:24}{number:18}{licence}")
    doubtful = [name for name, _, licence in found if not licence or STRONG.search(licence)]
    sys.exit(f"licences to look at: {', '.join(doubtful)}" if doubtful else 0)
