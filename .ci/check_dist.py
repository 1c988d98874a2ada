"""Whether a wheel and a source archive hold what they should, and nothing else.

Usage: python .ci/check_dist.py FOLDER    the folder that they were built into
"""

from __future__ import annotations

import sys
import tarfile
import zipfile
from pathlib import Path

ROOT = Path(__file__).parent.parent
SOURCES = {".ci", "data", "docs", "examples", "tests", "wiremap", "DEVELOPERS.md", "LICENSE",
           "README.md", "pyproject.toml"}  # fmt: skip
STRAY = ("__pycache__", ".pyc", "egg-info", ".venv", ".gpkg-wal")


def find_faults(wheel: set[str], source: set[str], package: set[str]) -> list[str]:
    """Return what is wrong with the members of both archives, the package's files known."""
    faults = [f"the wheel lacks {name}" for name in sorted(package - wheel)]
    beside = {n for n in wheel - package if not n.split("/")[0].endswith(".dist-info")}
    faults += [
        f"the wheel holds {name}, which is no part of the package" for name in sorted(beside)
    ]
    faults += [f"the source archive lacks {name}" for name in sorted(package - source)]
    tops = {name.split("/")[0] for name in source}
    faults += [f"the source archive lacks {name}" for name in sorted(SOURCES - tops)]
    stray = {n for n in wheel | source if any(word in n for word in STRAY)}
    return faults + [f"{name} does not belong into an archive" for name in sorted(stray)]


def list_package() -> set[str]:
    """Return the files of the package as they stand in the tree."""
    files = (p for p in (ROOT / "wiremap").rglob("*") if p.is_file())
    names = (p.relative_to(ROOT).as_posix() for p in files)
    return {name for name in names if not any(word in name for word in STRAY)}


def list_archives(folder: Path) -> tuple[set[str], set[str]]:
    """Return the members of the one wheel and the one source archive of a folder."""
    (wheel,), (source,) = folder.glob("*.whl"), folder.glob("*.tar.gz")
    with zipfile.ZipFile(wheel) as archive, tarfile.open(source) as tar:
        members = {name.partition("/")[2] for name in tar.getnames()}
        return set(archive.namelist()), members


if __name__ == "__main__":
    found = find_faults(*list_archives(Path(sys.argv[1])), list_package())
    sys.exit("\n".join(found) or 0)
