"""The page of sources: what each function's docstring refers to."""

from __future__ import annotations

import importlib
import inspect
import re
from pathlib import Path
from typing import TYPE_CHECKING

import wiremap

if TYPE_CHECKING:
    from collections.abc import Iterator

PARTS = {
    "Formulas": "formulas",
    "Steps": "steps",
    "Reading": "read",
    "Writing": "write",
}
_REFERENCES = re.compile(
    r"^References\n-+\n(.*?)(?=^\w[\w ]*\n-{3,}$|\Z)", re.MULTILINE | re.DOTALL
)
_NUMBER = re.compile(r"\.\. \[\d+\] ")


def list_sources(part: str) -> Iterator[tuple[str, str, str]]:
    """Yield module, function and the source that its docstring gives, for a part of the package.

    Parameters
    ----------
    part : str
        A folder of the package.

    Yields
    ------
    tuple of str
    """
    root = Path(wiremap.__file__).parent
    for path in sorted((root / part).rglob("*.py")):
        names = path.relative_to(root).with_suffix("").parts
        module = importlib.import_module(".".join(("wiremap", *names)).removesuffix(".__init__"))
        for name, found in vars(module).items():
            if getattr(found, "__module__", "") != module.__name__ or name.startswith("_"):
                continue
            text = _REFERENCES.search(inspect.getdoc(found) or "")
            if text:
                yield module.__name__, name, " ".join(_NUMBER.sub("", text[1]).split())


def describe_sources() -> str:
    """Return the page of all sources, by part of the package and module."""
    text = (
        "# Sources\n\nWhere each formula, limit and format comes from, as the docstrings say it."
        " *From memory*, *common practice* and *project choice* mean what they say: there is no"
        " source, or it was not at hand.\n"
    )
    for title, part in PARTS.items():
        rows = [
            f"| `{module.removeprefix(f'wiremap.{part}.')}` | `{name}` | {source} |\n"
            for module, name, source in list_sources(part)
        ]
        head = "| module | function | source |\n| --- | --- | --- |\n"
        text += f"\n## {title}\n\n{head}" + "".join(rows)
    return text
