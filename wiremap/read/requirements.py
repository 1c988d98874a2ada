"""Requirement profiles as TOML: those that come with wiremap, and a receiving agency's own."""

from __future__ import annotations

import difflib
import tomllib
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING

from pydantic import ValidationError

from wiremap.errors import SettingsError
from wiremap.model.requirements import RequirementProfile

if TYPE_CHECKING:
    from importlib.resources.abc import Traversable


def list_profiles() -> list[str]:
    """Return the names of the requirement profiles that come with wiremap.

    Returns
    -------
    list of str

    Examples
    --------
    >>> "two-references" in list_profiles()
    True
    """
    found = files("wiremap").joinpath("requirements").iterdir()
    return sorted(entry.name[:-5] for entry in found if entry.name.endswith(".toml"))


def read_profile(name: str) -> RequirementProfile:
    """Return a requirement profile.

    Parameters
    ----------
    name : str
        Name of one that comes with wiremap, or path of a TOML file of the same shape.

    Returns
    -------
    RequirementProfile

    Raises
    ------
    SettingsError
        There is no such profile, or the file is not one.

    Examples
    --------
    >>> read_profile("routing-100ft").items[0].check
    'routing'
    """
    if name in list_profiles():
        return _parse(files("wiremap").joinpath("requirements", f"{name}.toml"), name)
    path = Path(name)
    if path.suffix.lower() == ".toml" and path.is_file():
        return _parse(path, path.name)
    near = difflib.get_close_matches(name, list_profiles(), n=1)
    choice = f"{near[0]}, or one of " if near else ""
    raise SettingsError(
        "there is no such requirement profile",
        value=name,
        remedy=f"choose {choice}{', '.join(list_profiles())}, or give the path of a TOML file",
    )


def _parse(file: Traversable, name: str) -> RequirementProfile:
    try:
        profile = RequirementProfile.model_validate(tomllib.loads(file.read_text(encoding="utf-8")))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError, OSError, RecursionError) as error:
        raise SettingsError(f"the profile is no TOML: {error}", path=name) from error
    except ValidationError as error:
        first = error.errors()[0]
        place = ".".join(str(part) for part in first["loc"])
        raise SettingsError(first["msg"], path=name, column=place) from error
    for item in profile.items:
        if item.source not in profile.sources:
            raise SettingsError(
                "an item's source must be one of [sources]",
                path=name,
                column=item.id,
                value=item.source,
                remedy=f"name one of {', '.join(sorted(profile.sources))}",
            )
    return profile
