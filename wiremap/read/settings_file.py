"""property.toml as `Settings`."""

from __future__ import annotations

import difflib
import tomllib
from typing import TYPE_CHECKING, Any, NamedTuple

from pydantic import BaseModel, ValidationError

from wiremap.errors import SettingsError
from wiremap.model.findings import Finding
from wiremap.model.kinds import Feature
from wiremap.model.settings import FileSection, Settings
from wiremap.model.tables import INPUTS
from wiremap.read.axes import describe_axes
from wiremap.read.columns import find_target, nearest_target

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping
    from pathlib import Path

NAME = "property.toml"
MAX_TOML_BYTES = 1_000_000
"""Largest property.toml that is read; project choice, some ten thousand settings."""


class ReadSettings(NamedTuple):
    """Settings as read, and what was found."""

    settings: Settings
    findings: list[Finding]


def read_settings(folder: Path) -> ReadSettings:
    """Return the settings of a property folder.

    Parameters
    ----------
    folder : Path

    Returns
    -------
    ReadSettings
        Defaults where there is no property.toml. A key that wiremap does not know is a finding
        that names the nearest one.

    Raises
    ------
    SettingsError
        The file is no TOML, or a value cannot be used.
    """
    named = [path for path in folder.iterdir() if path.name.lower() == NAME]
    if not named:
        return ReadSettings(Settings(), [])
    path = min(named, key=lambda path: path.name != NAME)
    written = _parse_toml(path)
    try:
        settings = Settings.model_validate(written)
    except ValidationError as error:
        raise _value_error(error) from error
    _check_crs(settings)
    _check_features(settings.features)
    findings = [*_unknown_keys(written, Settings, ""), *_unknown_columns(settings.columns)]
    return ReadSettings(settings, findings)


def _parse_toml(path: Path) -> dict[str, Any]:
    if not path.is_file():
        remedy = "put a text file there, or remove what stands there"
        raise SettingsError("is not a file", path=NAME, remedy=remedy)
    size = path.stat().st_size
    if size > MAX_TOML_BYTES:
        rule = f"is larger than {MAX_TOML_BYTES} bytes"
        remedy = "keep settings in it alone"
        raise SettingsError(rule, path=NAME, value=f"{size} bytes", remedy=remedy)
    try:
        return tomllib.loads(path.read_text(encoding="utf-8-sig"))
    except RecursionError as error:
        raise SettingsError("is nested too deep", path=NAME, remedy="write flat tables") from error
    except (ValueError, OSError) as error:  # TOML, encoding, or a number of thousands of digits
        remedy = "correct the line; text values stand in quotes"
        raise SettingsError(f"the file is no TOML: {error}", path=NAME, remedy=remedy) from error


def _value_error(error: ValidationError) -> SettingsError:
    first, *others = error.errors()
    key = ".".join(str(part) for part in first["loc"])
    more = f" ({len(others)} more values are wrong too)" if others else ""
    default = _default_of(first["loc"])
    rule = first["msg"].removeprefix("Value error, ")
    return SettingsError(
        f"{rule[:1].lower()}{rule[1:]}{more}",
        path=NAME,
        column=key,
        value=repr(first["input"])[:80],
        remedy=f"correct the value; the default is {default}" if default else "correct the value",
    )


def _default_of(place: tuple[int | str, ...]) -> str:
    """Return the default of a setting as it would be written, or an empty text."""
    value: Any = Settings()
    for part in place:
        value = getattr(value, str(part), None)
    return "" if value is None or isinstance(value, BaseModel | dict) else repr(value)


def _check_crs(settings: Settings) -> None:
    """Refuse a CRS that nobody knows, and a working CRS that counts degrees."""
    named = {
        "coordinates.input_crs": settings.coordinates.input_crs,
        "coordinates.crs": settings.coordinates.crs,
        **{f'files."{name}".crs': file.crs for name, file in settings.files.items()},
    }
    for key, crs in named.items():
        if crs is None:
            continue
        try:
            axes = describe_axes(crs)
        except ValueError as error:
            remedy = 'name it by its code, such as "EPSG:26914"'
            raise SettingsError(
                "must be a CRS that PROJ knows",
                path=NAME,
                column=key,
                value=repr(crs),
                remedy=remedy,
            ) from error
        if key == "coordinates.crs" and not axes.is_projected:
            remedy = "name a projected one, such as the UTM zone, or leave the key out"
            raise SettingsError(
                "must be a projected CRS", path=NAME, column=key, value=repr(crs), remedy=remedy
            )


def _check_features(features: Mapping[str, str]) -> None:
    known = sorted(Feature)
    for word, feature in features.items():
        if feature.lower() not in known:
            near = _nearest(feature.lower(), known)
            remedy = f"write {near}" if near else "use one of " + ", ".join(known)
            raise SettingsError(
                "must be a feature of the contract",
                path=NAME,
                column=f'features."{word}"',
                value=repr(feature),
                remedy=remedy,
            )


def _nearest(word: str, known: Iterable[str]) -> str:
    return next(iter(difflib.get_close_matches(word, list(known), n=1, cutoff=0.6)), "")


def _unknown_keys(written: Mapping[str, Any], model: type[BaseModel], above: str) -> list[Finding]:
    """Find keys that no setting has, section by section."""
    found = []
    for key, value in written.items():
        field = model.model_fields.get(key)
        if field is None:
            found.append(_unknown(f"{above}{key}", _nearest(key, model.model_fields)))
        elif isinstance(value, dict) and key == "files":
            for name, section in value.items():
                found += _unknown_keys(section, FileSection, f'files."{name}".')
        elif (
            isinstance(value, dict)
            and isinstance(field.annotation, type)
            and issubclass(field.annotation, BaseModel)
        ):
            found += _unknown_keys(value, field.annotation, f"{above}{key}.")
    return found


def _unknown(key: str, near: str) -> Finding:
    advice = f"Write {near} if that was meant; the key was ignored." if near else ""
    text = f"property.toml has a key that wiremap does not know: {key}."
    return Finding("unknown-setting", key, text, advice=advice, source_file=NAME, column=key)


def _unknown_columns(columns: Mapping[str, str]) -> list[Finding]:
    """Find names under [columns] that are none of the contract's."""
    found = []
    for name, contract in columns.items():
        if any(find_target(contract, table=table)[0] for table in INPUTS):
            continue
        near = next((n for t in INPUTS if (n := nearest_target(contract, table=t))), "")
        finding = _unknown(f'columns."{name}" = "{contract}"', near)
        found.append(finding)
    return found
