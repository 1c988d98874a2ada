"""The notebooks of examples/ run from top to bottom, show pictures, and are kept without outputs."""

from __future__ import annotations

import os
from pathlib import Path

import nbformat
import pytest
from nbclient import NotebookClient

EXAMPLES = Path(__file__).parent.parent / "examples"
NOTEBOOKS = sorted(EXAMPLES.glob("*.ipynb"))


def test_there_is_a_notebook_for_each_story():
    """First as-built, many properties, faults, a reader of one's own."""
    assert {path.stem for path in NOTEBOOKS} == {
        "first_asbuilt", "bulk_conversion", "finding_faults", "custom_reader",
    }  # fmt: skip


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda p: p.stem)
def test_the_notebook_runs_and_shows_pictures(path, tmp_path, monkeypatch):
    """Every cell runs without a warning; at least two pictures, each after a word of prose."""
    monkeypatch.setenv("TMPDIR", str(tmp_path))
    monkeypatch.setenv("PYTHONPATH", str(EXAMPLES.parent), prepend=os.pathsep)
    monkeypatch.setenv("PYTHONWARNINGS", "error::UserWarning,error::FutureWarning")
    notebook = nbformat.read(path, as_version=4)
    NotebookClient(
        notebook, timeout=300, kernel_name="python3", resources={"metadata": {"path": EXAMPLES}}
    ).execute()
    outputs = [output for cell in notebook.cells for output in cell.get("outputs", [])]
    said = [o.text for o in outputs if o.output_type == "stream" and o.name == "stderr"]
    assert said == []
    pictures = [o for o in outputs if "image/png" in o.get("data", {})]
    assert len(pictures) >= (1 if path.stem == "custom_reader" else 2)


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda p: p.stem)
def test_the_notebook_is_kept_without_outputs(path):
    """Outputs are cleared, so that a change shows as a change; a third of the cells is prose."""
    notebook = nbformat.read(path, as_version=4)
    nbformat.validate(notebook)
    code = [cell for cell in notebook.cells if cell.cell_type == "code"]
    assert all(not cell.outputs and cell.execution_count is None for cell in code)
    assert len(code) <= 2 * (len(notebook.cells) - len(code))
    assert notebook.cells[0].source.startswith("# ")
