"""``python -m wiremap``."""

from wiremap.cli.main import run

run()
