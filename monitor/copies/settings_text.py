"""The settings of a copy on another computer: paths into the old folder, secrets that are not here yet."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path, PurePosixPath
from typing import Any

import tomlkit

from monitor.settings.loading import SECRETS, secret_tables
from monitor.settings.problems import Location
from monitor.settings.writing import LEFT_OUT

STAND_IN: Mapping[str, str] = {"REARING_RESTORED": "not-given-yet-here"}
"""The variable in which secrets seem to stand that cannot be had yet."""
_PATHS: Mapping[str, tuple[str, ...]] = {
    "store": ("path",),
    "broker": ("boards_folder", "files", "ca_file", "client_certificate", "client_key"),
}


def at_home(text: str, places: Iterable[PurePosixPath], folder: Path) -> tuple[str, tuple[str, ...]]:
    """The settings for another folder than the one in which they lay, and the keys that changed.

    Whole paths into the old folder start at that of the file; `places` say what lay in it.
    """
    document, inside, moved = tomlkit.parse(text), tuple(places), []
    for location, table, key in _path_keys(document):
        inner = _inner(PurePosixPath(str(table[key])), inside)
        if inner is not None and folder / inner != Path(str(table[key])):
            table[key] = str(inner)
            moved.append(_key(location, table, key))
    return (tomlkit.dumps(document) if moved else text), tuple(moved)


def without_missing_secrets(text: str, folder: Path, environ: Mapping[str, str]) -> str:
    """The settings in which each secret that cannot be had here yet seems to stand in `STAND_IN`."""
    document = tomlkit.parse(text)
    for _, table, name in _secrets(document):
        ways = (f"{name}_file", f"{name}_env", name)
        lacking = [key for key in ways if _lacks(table, key, folder, environ)]
        for key in lacking:
            del table[key]
        if lacking:
            table[f"{name}_env"] = next(iter(STAND_IN))
    return tomlkit.dumps(document)


def left_out(text: str) -> tuple[str, ...]:
    """The keys whose secret was left out of the copy."""
    found = _secrets(tomlkit.parse(text))
    return tuple(
        _key(location, table, name) for location, table, name in found if table.get(name) == LEFT_OUT
    )


def missing_files(text: str, folder: Path) -> tuple[str, ...]:
    """The files in which secrets should stand, and that are not there."""
    named = (table.get(f"{name}_file") for _, table, name in _secrets(tomlkit.parse(text)))
    places = dict.fromkeys(str(name) for name in named if isinstance(name, str))
    return tuple(place for place in places if not (folder / Path(place).expanduser()).is_file())


def missing_variables(text: str, environ: Mapping[str, str]) -> tuple[str, ...]:
    """The variables in which secrets should stand, and do not."""
    named = (table.get(f"{name}_env") for _, table, name in _secrets(tomlkit.parse(text)))
    return tuple(
        dict.fromkeys(str(name) for name in named if isinstance(name, str) and not environ.get(name))
    )


def _secrets(document: Mapping[str, Any]) -> Iterator[tuple[Location, Any, str]]:
    for location, table in secret_tables(document):
        yield from ((location, table, name) for name in SECRETS[str(location[0])])


def _lacks(table: Mapping[str, object], key: str, folder: Path, environ: Mapping[str, str]) -> bool:
    """Whether a secret stands in the settings in a way by which it cannot be had yet."""
    named = table.get(key)
    if not isinstance(named, str):
        return False
    if key.endswith("_file"):
        return not (folder / Path(named).expanduser()).is_file()
    return not environ.get(named) if key.endswith("_env") else named == LEFT_OUT


def _path_keys(document: Mapping[str, Any]) -> Iterator[tuple[Location, Any, str]]:
    """The keys of the settings that name a file or folder of the site by its whole path."""
    for section, keys in _PATHS.items():
        table = document.get(section, {})
        yield from (((section,), table, key) for key in keys if _is_whole_path(table.get(key)))
    for location, table in secret_tables(document):
        names = (f"{name}_file" for name in SECRETS[str(location[0])])
        yield from ((location, table, key) for key in names if _is_whole_path(table.get(key)))


def _is_whole_path(value: object) -> bool:
    return isinstance(value, str) and PurePosixPath(value).is_absolute()


def _inner(path: PurePosixPath, places: Iterable[PurePosixPath]) -> PurePosixPath | None:
    """The end of a path that is a place in the copy, or a folder of one."""
    ends = [PurePosixPath(*path.parts[-count:]) for count in range(1, len(path.parts))]
    return next((end for end in ends if any(place.is_relative_to(end) for place in places)), None)


def _key(location: Location, table: Mapping[str, object], name: str) -> str:
    who = table.get("id")
    return f"[{location[0]}] {name}" + (f" ({who})" if who else "")
