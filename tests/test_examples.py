"""Every numbered example runs and stays short."""

import subprocess
import sys
from pathlib import Path

import pytest

EXAMPLES = sorted((Path(__file__).parent.parent / "examples").glob("[0-9]*.py"))


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda p: p.stem)
def test_example_runs(path):
    """The example runs to its end, prints something, and is at most 40 lines long."""
    assert len(path.read_text(encoding="utf-8").splitlines()) <= 40
    done = subprocess.run([sys.executable, path], capture_output=True, check=False)
    assert done.returncode == 0, done.stderr.decode()
    assert done.stdout
