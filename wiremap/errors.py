"""Every error and warning that wiremap raises.

::

    WiremapError
    ├── ReadError (ValueError)          a file cannot be read as what it claims to be
    │   ├── UnknownFormatError          no reader knows the file
    │   └── EmptyTableError             a table has a header and no rows
    ├── SettingsError (ValueError)      property.toml says something that cannot be used
    ├── EmptyPropertyError (ValueError) nothing usable is left to build
    ├── TableError (ValueError)         strict mode: findings of severity error
    ├── WriteError (OSError)            an output cannot be written; the former one is untouched
    ├── ClusterError (OSError)          worker processes or a cluster cannot be used
    └── MissingExtraError (ImportError) an optional package is not installed
    WiremapWarning (UserWarning)

Bad field data is a finding, not an exception (`wiremap.model.findings`).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence


class WiremapError(Exception):
    """Root of all errors that wiremap raises on purpose."""


class _LocatedError(WiremapError):
    """An error with a place in a file: one line of where, rule, value and remedy."""

    def __init__(
        self,
        rule: str = "",
        *,
        path: str = "",
        row: int | None = None,
        column: str = "",
        value: str = "",
        remedy: str = "",
    ) -> None:
        self.rule, self.path, self.row = rule, path, row
        self.column, self.value, self.remedy = column, value, remedy
        super().__init__(rule)

    def __str__(self) -> str:
        """Return the whole message on one line."""
        where = self.path
        where += f" row {self.row}" if self.row is not None else ""
        where += f", {self.column}" if self.column else ""
        parts = [f"{where}: {self.rule}" if where else self.rule]
        if self.value:
            parts.append(f"got {self.value}")
        line = ", ".join(parts) + (f"; {self.remedy}" if self.remedy else "")
        return " ".join(line.split())

    def __reduce__(self) -> tuple[object, ...]:
        """Return what pickle needs, so that worker processes can hand the error back."""
        return (type(self), (self.rule,), self.__dict__)


class ReadError(_LocatedError, ValueError):
    """A file cannot be read as what it claims to be."""


class UnknownFormatError(ReadError):
    """No reader knows this kind of file."""


class EmptyTableError(ReadError):
    """A table has a header and no rows."""


class SettingsError(_LocatedError, ValueError):
    """property.toml says something that cannot be used."""


class EmptyPropertyError(_LocatedError, ValueError):
    """Nothing usable is left to build an as-built from."""


class WriteError(_LocatedError, OSError):
    """An output cannot be written; what stood there before is untouched."""


class ClusterError(_LocatedError, OSError):
    """Worker processes or a cluster cannot be used."""


class TableError(WiremapError, ValueError):
    """Strict mode: the field data has findings of severity error.

    Parameters
    ----------
    messages : sequence of str
        One line for each finding.
    """

    def __init__(self, messages: Sequence[str] = ()) -> None:
        self.messages = tuple(messages)
        super().__init__(self.messages)

    def __str__(self) -> str:
        """Return the count and the first findings."""
        shown = "; ".join(self.messages[:5])
        more = f"; and {len(self.messages) - 5} more" if len(self.messages) > 5 else ""  # noqa: PLR2004
        return f"{len(self.messages)} findings of severity error: {shown}{more}"


class MissingExtraError(WiremapError, ImportError):
    """An optional package is not installed; the message names the install line."""

    def __init__(self, package: str = "", extra: str = "") -> None:
        self.package, self.extra = package, extra
        super().__init__(package, extra)

    def __str__(self) -> str:
        """Return the line that installs what is missing."""
        return f"{self.package} is needed for this; run: pip install 'wiremap[{self.extra}]'"


class WiremapWarning(UserWarning):
    """A warning for people who script wiremap."""
