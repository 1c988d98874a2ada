"""Feeds mutated files to the readers, guided by which of their lines run.

Needs the extra ``fuzz``. What is answered wrongly is kept, one file for each place in the code:
move it into ``seeds/``, where ``test_seeds.py`` reads it for ever after.

Usage: python tests/fuzz/fuzz_readers.py TARGET [--seconds N] [--found FOLDER]
"""

from __future__ import annotations

import argparse
import sys
import tempfile
import traceback
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent.parent))

import atheris

with atheris.instrument_imports(include=["wiremap"]):
    from fuzz.targets import TARGETS

MOST_MEMORY_MB = 3000
LONGEST_S = 30


class Watch:
    """Runs a target and keeps the first input that went wrong at each place in the code."""

    def __init__(self, target, folder, found):
        self.target, self.folder, self.found = target, folder, found
        self.places = set()

    def __call__(self, data):
        try:
            self.target.run(data, self.folder)
        except Exception as error:  # noqa: BLE001 - this is what is looked for
            self.keep(data, error)

    def keep(self, data, error):
        frames = traceback.extract_tb(error.__traceback__)
        own = [f for f in frames if "/wiremap/" in f.filename] or frames
        place = f"{type(error).__name__}-{Path(own[-1].filename).stem}-{own[-1].lineno}"
        if place in self.places:
            return
        self.places.add(place)
        self.found.mkdir(parents=True, exist_ok=True)
        (self.found / f"{self.target.name}-{place}").write_bytes(data)
        sys.stderr.write(f"WRONG {self.target.name} {place}: {str(error)[:300]}\n")


def words_of(target):
    """Return a dictionary for the mutator: the words of the contract and of the formats."""
    from wiremap.model.tables import INPUTS
    from wiremap.read.synonyms import LOCATES

    words = {*LOCATES, "nan", "inf", "1e308", "-1", "NULL", "+1", "0x", "12 ft", "1' 2 1/2\""}
    words |= {name for table in INPUTS for name in table.column_names}
    if target.binary:
        words = {"SQLite format 3", "PK", "gpkg"}
    return "".join(
        '"{}"\n'.format("".join(f"\\x{b:02x}" for b in w.encode())) for w in sorted(words)
    )


def main():
    """Fuzz one target for some seconds and print what libFuzzer counted."""
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("target", choices=TARGETS)
    parser.add_argument("--seconds", type=int, default=60)
    parser.add_argument("--found", type=Path, default=Path("found"))
    chosen = parser.parse_args()
    target = TARGETS[chosen.target]
    with tempfile.TemporaryDirectory() as name:
        root = Path(name)
        (root / "corpus").mkdir()
        for number, seed in enumerate(target.seeds()):
            (root / "corpus" / str(number)).write_bytes(seed)
        (root / "words").write_text(words_of(target))
        watch = Watch(target, root / "folder", chosen.found.resolve())
        options = {"max_total_time": chosen.seconds, "timeout": LONGEST_S, "dict": root / "words",
                   "rss_limit_mb": MOST_MEMORY_MB, "print_final_stats": 1,
                   "artifact_prefix": f"{chosen.found.resolve()}/{target.name}-"}  # fmt: skip
        chosen.found.mkdir(parents=True, exist_ok=True)
        words = [sys.argv[0], *(f"-{key}={value}" for key, value in options.items())]
        atheris.Setup([*words, str(root / "corpus")], watch)
        atheris.Fuzz()


if __name__ == "__main__":
    main()
