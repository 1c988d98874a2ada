"""Property folders that try to harm: each attack is a function that makes one.

`ATTACKS` holds them by name. An attack adds to a folder that already holds a small sound property
(`write_sound`), so that what must survive is there to survive.
"""

from __future__ import annotations

import importlib
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

LAT, LON = 41.5, -96.5
SOUND = (
    "point,feature,run,zone,lat,lon,h_rms_m,offset_left_m,offset_right_m,tone,note\n"
    "C1,controller,,,41.5000000,-96.5000000,0.03,,,,\n"
    "P1,path,A,1,41.5000100,-96.5000000,0.03,0.42,0.43,80,\n"
    "P2,path,A,1,41.5000600,-96.5000000,0.03,0.41,0.41,78,\n"
    "P3,path,A,1,41.5001200,-96.5000000,0.03,0.40,0.41,77,soft ground\n"
    "P4,path,A,1,41.5001800,-96.5000100,0.03,0.42,0.43,77,\n"
    "V1,valve,A,1,41.5002200,-96.5000100,0.03,,,,box 12\n"
)
ZONES = "zone,controller,name,valves,ohms\n1,C1,front lawn,1,32\n"


_SHOWN = frozenset(
    {"text-templates", "toml-name-template", "toml-unknown-format", "base-names", "json-names"}
)


@dataclass(frozen=True)
class Attack:
    """One hostile folder: how it is made, and what the answer must say (a pattern)."""

    name: str
    what: str
    make: Callable[[Path, float], None]
    says: str
    codes: tuple[int, ...]

    @property
    def options(self) -> tuple[str, ...]:
        """Options of the build: to save time the map is written where it is what is attacked."""
        return () if self.name in _SHOWN else ("--format=geopackage", "--format=findings")


ATTACKS: dict[str, Attack] = {}


def attack(what: str, says: str, *, codes: tuple[int, ...] = (0, 1)):
    """Register the decorated function as an attack; `codes` are the exit codes it may end in."""

    def register(make):
        name = make.__name__.replace("_", "-")
        ATTACKS[name] = Attack(name, what, make, says, codes)
        return make

    return register


def write_sound(folder: Path) -> Path:
    """Write the small sound property that an attack is added to."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "locates.csv").write_text(SOUND)
    (folder / "zones.csv").write_text(ZONES)
    return folder


def poison(folder: Path, **cells: object) -> None:
    """Put a cell into the third path row of the sound property, by column name."""
    lines = SOUND.splitlines()
    names, row = lines[0].split(","), lines[4].split(",")
    for name, value in cells.items():
        row[names.index(name)] = '"' + str(value).replace('"', '""') + '"'
    lines[4] = ",".join(row)
    (folder / "locates.csv").write_bytes(("\n".join(lines) + "\n").encode("utf-8", "surrogatepass"))


def load_all() -> dict[str, Attack]:
    """Return every attack, those of the other modules too."""
    for module in ("attacks_settings", "attacks_text", "attacks_xml", "attacks_archives",
                   "attacks_vectors", "attacks_folders", "attacks_images", "attacks_tables"):  # fmt: skip
        importlib.import_module(module)
    return ATTACKS
