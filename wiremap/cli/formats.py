"""``wiremap formats``: what can be read and written here."""

from __future__ import annotations


def formats() -> None:
    """List the readers and writers of this installation, plugins included."""
    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

    from wiremap.cli.terminal import printable
    from wiremap.plugins import READERS, WRITERS, registry

    table = Table("", "name", "files", "what", "from")
    for word, group in (("read", READERS), ("write", WRITERS)):
        found = registry(group)
        for name, item in found.formats.items():
            cells = (word, name, " ".join(item.suffixes), item.meaning, found.origins[name])
            table.add_row(*(Text(printable(cell)) for cell in cells))
    Console(highlight=False).print(table)
