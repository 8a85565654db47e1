"""Which files belong to a site beside its database and photos, and which of them are secret.

Open are certificates and the broker's rules; whatever else lies in the folders for boards and broker is taken
for a secret (keys, cards, users), as are the files that the settings name for passwords.
"""

from __future__ import annotations

import tomllib
from collections.abc import Collection, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from monitor.boards.broker_files import BrokerFiles
from monitor.copies.sealed import SecretFile
from monitor.errors import UsageError
from monitor.settings.loading import SECRETS, secret_tables
from monitor.settings.schema import BrokerSettings, Settings
from monitor.settings.writing import without_secrets

_PRIVATE = b"PRIVATE KEY"
_OPEN_NAMES = frozenset({"access"})
_CERTIFICATE_NAMES = frozenset({".pem", ".crt"})
_LARGEST_BYTES = 1_000_000
"""No file of boards or broker comes near it; what is larger does not belong there."""


@dataclass(frozen=True, slots=True)
class OpenFile:
    """A file that may lie in a copy as it is: its name there, what is in it, and where it belongs."""

    path: str
    content: bytes
    place: str


@dataclass(frozen=True, slots=True)
class SiteFiles:
    """What belongs to a site. `unreadable` are secret files that this user may not read.

    `environment` are the variables in which further secrets stand, which no file holds.
    """

    open: tuple[OpenFile, ...] = ()
    secret: tuple[SecretFile, ...] = ()
    unreadable: tuple[str, ...] = ()
    environment: tuple[str, ...] = ()


def place_of(path: Path, settings_file: Path | None) -> str:
    """Where a file belongs: from the folder of the settings file, or the whole path where it lies
    elsewhere."""
    if settings_file is not None and path.absolute().is_relative_to(settings_file.absolute().parent):
        return path.absolute().relative_to(settings_file.absolute().parent).as_posix()
    return str(path.absolute())


def files_of(settings: Settings, settings_file: Path | None) -> SiteFiles:
    """All files of a site but its database, its photos and the settings without their secrets."""
    opened, secret, unreadable = [], [], []
    raw = _raw(settings_file)
    for name, path in _candidates(settings.broker, raw, settings_file):
        place = place_of(path, settings_file)
        try:
            content, mode = path.read_bytes(), path.stat().st_mode & 0o777
        except OSError:
            unreadable.append(place)
            continue
        if _is_open(path, content, name):
            opened.append(OpenFile(name, content, place))
        else:
            secret.append(SecretFile(place, mode, content))
    if settings_file is not None and without_secrets(settings_file) != _text(settings_file):
        secret.append(SecretFile(settings_file.name, 0o600, settings_file.read_bytes()))
    return SiteFiles(tuple(opened), tuple(secret), tuple(unreadable), tuple(_ways(raw, "env")))


def _candidates(
    broker: BrokerSettings, raw: dict[str, Any], settings_file: Path | None
) -> Iterator[tuple[str, Path]]:
    """The files with the name that each would have in a copy, none twice."""
    given: set[Path] = set()
    for name, path in (*_of_folders(broker), *_named(raw, settings_file)):
        if path not in given:
            given.add(path)
            yield name, path


def _of_folders(broker: BrokerSettings) -> Iterator[tuple[str, Path]]:
    yield from _below("boards", broker.boards_folder)
    if broker.files is not None:
        yield from _below("broker", broker.files)
        conf = BrokerFiles.of(broker.files).conf
        if conf.is_file():
            yield "broker.conf", conf
    for key in ("ca_file", "client_certificate", "client_key"):
        path = getattr(broker, key)
        if path is not None:
            yield f"{key}{path.suffix}", path


def _below(name: str, folder: Path) -> Iterator[tuple[str, Path]]:
    for path in sorted(folder.rglob("*")):
        if path.is_file() and not path.is_symlink() and path.stat().st_size <= _LARGEST_BYTES:
            yield f"{name}/{path.relative_to(folder).as_posix()}", path


def _named(raw: dict[str, Any], settings_file: Path | None) -> Iterator[tuple[str, Path]]:
    """The files that the settings name for secrets."""
    for named in _ways(raw, "file"):
        if settings_file is not None:
            yield "", settings_file.absolute().parent / Path(named).expanduser()


def _ways(raw: dict[str, Any], way: str) -> Iterator[str]:
    """What the settings name for secrets: files, or variables of the environment (`env`)."""
    for location, table in secret_tables(raw):
        for name in SECRETS[str(location[0])]:
            named = table.get(f"{name}_{way}")
            if isinstance(named, str):
                yield named


def variables_of(settings_file: Path, tables: Collection[str]) -> tuple[str, ...]:
    """The variables of the environment in which secrets of some tables of the settings stand."""
    raw = _raw(settings_file)
    return tuple(_ways({name: raw[name] for name in tables if name in raw}, "env"))


def _is_open(path: Path, content: bytes, name: str) -> bool:
    if not name or _PRIVATE in content:
        return False
    return path.suffix in _CERTIFICATE_NAMES or path.name in _OPEN_NAMES or name == "broker.conf"


def _raw(settings_file: Path | None) -> dict[str, Any]:
    if settings_file is None:
        return {}
    try:
        return tomllib.loads(_text(settings_file))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise UsageError(
            "{path} cannot be copied: {why}. To mend: run `rearing-monitor check`.",
            path=settings_file,
            why=error,
        ) from None


def _text(settings_file: Path) -> str:
    return settings_file.read_text(encoding="utf-8-sig")


def site_table(settings: bytes) -> dict[str, Any]:
    """The table [site] of a settings file; empty where it cannot be read."""
    try:
        site = tomllib.loads(settings.decode("utf-8-sig")).get("site")
    except (UnicodeDecodeError, tomllib.TOMLDecodeError):
        return {}
    return site if isinstance(site, dict) else {}
