"""Secrets come from the environment or from a file that its owner alone may read.

Beside every secret key of the schema stand `KEY_env` and `KEY_file`; `resolve` replaces them.
"""

from __future__ import annotations

import copy
import os
import stat
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from monitor.errors import Problem
from monitor.settings.describing import Location, allowed_words
from monitor.settings.problems import Source

SECRETS: Mapping[str, str] = {
    "broker": "password",
    "recipients": "address",
    "messages": "heartbeat_url",
    "page": "password",
    "archive": "token",
}
_STAND_IN = "not-given"
_OTHERS_MAY_READ = stat.S_IRGRP | stat.S_IROTH


@dataclass(slots=True)
class Resolved:
    """The plain tables with secrets in place, and what was wrong on the way."""

    raw: dict[str, Any]
    problems: list[Problem] = field(default_factory=list)
    warnings: list[str] = field(default_factory=list)


def others_may_read(path: Path) -> bool:
    """True when people other than the owner may read the file (never on systems without such rights)."""
    return os.name == "posix" and bool(path.stat().st_mode & _OTHERS_MAY_READ)


def resolve(source: Source, path: Path, environ: Mapping[str, str]) -> Resolved:
    """Fetch every secret that the file names; a secret that cannot be had is a problem, with a stand-in."""
    resolved = Resolved(copy.deepcopy(dict(source.raw)))
    exposed = others_may_read(path)
    for location, table in _secret_tables(resolved.raw):
        name = SECRETS[str(location[0])]
        ways = [key for key in (name, f"{name}_env", f"{name}_file") if key in table]
        if len(ways) > 1:
            resolved.problems.append(_given_twice(source, location, ways))
        if name in table and exposed:
            resolved.warnings.append(_exposed(source.key_of((*location, name)), path))
        _fetch(_Fetch(source, path.parent, environ, resolved), location, table, name)
    return resolved


def _secret_tables(raw: Mapping[str, Any]) -> Iterator[tuple[Location, dict[str, Any]]]:
    for section in SECRETS:
        content = raw.get(section)
        entries = enumerate(content) if isinstance(content, list) else [(None, content)]
        for index, table in entries:
            if isinstance(table, dict):
                yield (section,) if index is None else (section, index), table


@dataclass(frozen=True, slots=True)
class _Fetch:
    source: Source
    folder: Path
    environ: Mapping[str, str]
    resolved: Resolved

    def refuse(self, location: Location, found: str, allowed: str, remedy: str) -> None:
        self.resolved.problems.append(self.source.problem(location, found, allowed, remedy))


def _fetch(fetch: _Fetch, location: Location, table: dict[str, Any], name: str) -> None:
    for suffix, reader in (("_env", _from_environment), ("_file", _from_file)):
        key = name + suffix
        if key not in table:
            continue
        named = table.pop(key)
        if isinstance(named, str) and named:
            table[name] = reader(fetch, (*location, key), named) or _STAND_IN
        else:
            table[name] = _STAND_IN
            fetch.refuse(
                (*location, key), repr(named), allowed_words({"type": "string"}), "name it in quotes"
            )


def _from_environment(fetch: _Fetch, location: Location, variable: str) -> str | None:
    value = fetch.environ.get(variable, "").strip()
    if value:
        return value
    fetch.refuse(
        location,
        f'"{variable}", and there is no such environment variable, or it is empty',
        "the name of an environment variable that holds the secret",
        f"set it before the start (export {variable}=...), or in the file that the service unit names as "
        f"EnvironmentFile; or use {str(location[-1]).removesuffix('_env')}_file",
    )
    return None


def _from_file(fetch: _Fetch, location: Location, name: str) -> str | None:
    path = fetch.folder / Path(name).expanduser()
    allowed = "the path of a file that holds the secret and that its owner alone may read"
    try:
        exposed, value = others_may_read(path), path.read_text(encoding="utf-8").strip()
    except (OSError, UnicodeDecodeError) as error:
        why = error.strerror if isinstance(error, OSError) else "not a text file"
        fetch.refuse(
            location, f'"{path}", which cannot be read ({why})', allowed, "correct the path or the rights"
        )
        return None
    if exposed:
        fetch.refuse(location, f'"{path}", which others may read', allowed, f"run: chmod 600 {path}")
    elif not value:
        fetch.refuse(location, f'"{path}", which is empty', allowed, "write the secret into it")
    return value


def _given_twice(source: Source, location: Location, ways: list[str]) -> Problem:
    return source.problem(
        (*location, ways[1]),
        "given besides " + ways[0],
        "only one of " + ", ".join(ways),
        "remove the others",
    )


def _exposed(key: str, path: Path) -> str:
    name = key.split(" ")[0].rpartition(".")[2]
    return (
        f"{path.name}: {key} stands in the file itself, and others may read the file. "
        f"Use {name}_env or {name}_file, or run: chmod 600 {path}"
    )
