"""The documentation site: sphinx-build -W --keep-going docs docs/_build/site, no network needed."""

from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import nbformat
from nbclient import NotebookClient
from pydantic import BaseModel

from wiremap import __version__

NOTEBOOKS = Path(__file__).parent / "notebooks"
EXAMPLES = Path(__file__).parent.parent / "examples"

project = "wiremap"
author = "the wiremap contributors"
project_copyright = "the wiremap contributors, BSD-3-Clause"
version = release = __version__

extensions = ["myst_nb", "sphinx.ext.autodoc", "numpydoc", "sphinx_copybutton"]
exclude_patterns = ["_build"]
default_role = "py:obj"
suppress_warnings = ["myst.strikethrough"]

# pages are Markdown that also reads well in a plain repository browser
myst_heading_anchors = 4
myst_enable_extensions = ["colon_fence", "deflist"]

nb_execution_mode = "off"  # they are run below, in the folder that they stand in
nb_merge_streams = True
nb_ipywidgets_js = {}  # no notebook has widgets; nothing is fetched from elsewhere

autodoc_typehints = "none"  # the docstrings say types with units and shapes
autodoc_member_order = "bysource"
numpydoc_show_class_members = False
numpydoc_class_members_toctree = False
toc_object_entries_show_parents = "hide"

copybutton_prompt_text = r">>> |\.\.\. |\$ "
copybutton_prompt_is_regexp = True

html_theme = "furo"
html_title = f"wiremap {release}"
html_static_path = ["_static"]
html_css_files = ["site.css"]
html_js_files = ["access.js"]
html_show_sourcelink = False
html_show_sphinx = False
html_copy_source = False


def run_notebook(path: Path) -> None:
    """Run a notebook of examples/, which are kept without outputs, into the site's sources."""
    target = NOTEBOOKS / path.name
    if target.exists() and target.stat().st_mtime > path.stat().st_mtime:
        return
    notebook = nbformat.read(path, as_version=4)
    resources = {"metadata": {"path": path.parent}}
    NotebookClient(notebook, timeout=300, kernel_name="python3", resources=resources).execute()
    NOTEBOOKS.mkdir(exist_ok=True)
    nbformat.write(notebook, target)


def run_notebooks(_app: Any) -> None:
    """Run all notebooks that are newer than what the last build made of them."""
    with ThreadPoolExecutor(max_workers=2) as pool:
        list(pool.map(run_notebook, EXAMPLES.glob("*.ipynb")))


def skip_fields(*event: Any) -> bool:
    """Leave out the fields of named tuples: the class says what they are."""
    _app, _what, _name, found, skip, _options = event
    return skip or type(found).__name__ == "_tuplegetter"


def shorten_signature(*event: Any) -> tuple[str, str] | None:
    """Leave out the defaults of settings, which have a page of their own."""
    found = event[3]
    is_model = isinstance(found, type) and issubclass(found, BaseModel)
    return ("(**sections)", "") if is_model else None


def setup(app: Any) -> None:
    """Register what the site adds to Sphinx."""
    app.connect("builder-inited", run_notebooks)
    app.connect("autodoc-skip-member", skip_fields)
    app.connect("autodoc-process-signature", shorten_signature)
