"""Read `farm.toml`: find it, fetch its secrets, check it, report every problem at once, compare with another.

Secrets come from the environment or from a file that its owner alone may read: beside every secret key of
the schema stand `KEY_env` and `KEY_file`. What differs between two settings is said without showing a secret.
"""

from __future__ import annotations

import copy
import datetime
import os
import re
import stat
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from enum import Enum
from pathlib import Path
from typing import Any

from pydantic import SecretStr

from monitor.errors import Phrase, Problem, Sentence, SettingsError, sentence
from monitor.settings.consistency import findings, rule_problems
from monitor.settings.problems import (
    File,
    Location,
    Source,
    allowed_words,
    line_index,
    validate,
    validate_as,
    validation_problems,
)
from monitor.settings.schema import WEB_PUSH, QuietHours, Settings, Table
from monitor.settings.slips import Slip, decoded, mended

FILE_NAME = "farm.toml"
AT_START_ONLY = ("site.id", "store.path", "broker", "intake", "page", "archive")
"""What a running service does not take over from a changed file."""
SECRETS: Mapping[str, tuple[str, ...]] = {
    "broker": ("password",),
    "recipients": ("address",),
    "messages": ("heartbeat_url",),
    "page": ("password",),
    "archive": ("token", "read_token"),
    "store": ("backup_passphrase",),
    "copies": ("password",),
}
"""The keys of each table that hold a secret."""
NEVER_INSIDE = frozenset({"backup_passphrase"})
"""Secrets that may not stand in the file itself."""
UNITS = tuple(
    Path(folder) / "rearing-monitor.service"
    for folder in ("/etc/systemd/system", "/usr/local/lib/systemd/system", "/usr/lib/systemd/system")
)
SYSTEM_FILE = Path("/etc/rearing-monitor") / FILE_NAME
SERVICE_USER = "rearing"
RESTORE_BEGUN = ".rearing-restore"
"""Beside a settings file while `restore` is under way, or where it was cut."""
_CONFIG_OF_UNIT = re.compile(r"^ExecStart=.*?\s(?:--config|-c)[\s=]+(\S+)", re.MULTILINE)
_STAND_IN = "not-given"
_OTHERS_MAY_READ = stat.S_IRGRP | stat.S_IROTH
_SECRET_WAY = re.compile(r"_(env|file)\b")


@dataclass(slots=True)
class Resolved:
    """The plain tables of a file with secrets in place, and what was wrong on the way."""

    source: Source
    folder: Path
    environ: Mapping[str, str]
    raw: dict[str, Any]
    problems: list[Problem] = field(default_factory=list)
    warnings: list[Sentence] = field(default_factory=list)

    def refuse(self, location: Location, found: Phrase, allowed: Phrase, remedy: Phrase) -> None:
        """Add a problem at a location of the file."""
        self.problems.append(self.source.problem(location, found, allowed, remedy))


def others_may_read(path: Path) -> bool:
    """True when people other than the owner may read the file (never on systems without such rights)."""
    return os.name == "posix" and bool(path.stat().st_mode & _OTHERS_MAY_READ)


def resolve(
    source: Source,
    path: Path,
    environ: Mapping[str, str],
    secrets: Mapping[str, tuple[str, ...]] = SECRETS,
) -> Resolved:
    """Fetch every secret that the file names; a secret that cannot be had is a problem, with a stand-in."""
    resolved = Resolved(source, path.parent, environ, copy.deepcopy(dict(source.raw)))
    exposed = others_may_read(path)
    for location, table in secret_tables(resolved.raw, secrets):
        for name in secrets[str(location[0])]:
            _refuse_two_ways(resolved, location, table, name)
            if name in table and name in NEVER_INSIDE:
                _refuse_inside(resolved, location, name)
            elif name in table and exposed and table[name] != WEB_PUSH:
                resolved.warnings.append(_exposed(source.key_of((*location, name)), path))
            _fetch(resolved, location, table, name)
    return resolved


def _refuse_inside(resolved: Resolved, location: Location, name: str) -> None:
    resolved.refuse(
        (*location, name),
        sentence("in the file itself"),
        sentence("{name}_file or {name}_env", name=name),
        sentence("write it into a file of its own (chmod 600), and name that file here"),
    )


def _refuse_two_ways(resolved: Resolved, location: Location, table: Mapping[str, Any], name: str) -> None:
    ways = [key for key in (name, f"{name}_env", f"{name}_file") if key in table]
    if len(ways) > 1:
        found, allowed = (
            sentence("given besides {key}", key=ways[0]),
            sentence("only one of {keys}", keys=", ".join(ways)),
        )
        resolved.refuse((*location, ways[1]), found, allowed, sentence("remove the others"))


def secret_tables(
    raw: Mapping[str, Any], secrets: Iterable[str] = SECRETS
) -> Iterator[tuple[Location, dict[str, Any]]]:
    """The tables of a file in which a secret may stand, each with its location."""
    for section in secrets:
        content = raw.get(section)
        entries = enumerate(content) if isinstance(content, list) else [(None, content)]
        for index, table in entries:
            if isinstance(table, dict):
                yield (section,) if index is None else (section, index), table


def _fetch(resolved: Resolved, location: Location, table: dict[str, Any], name: str) -> None:
    for suffix, reader in (("_env", _from_environment), ("_file", _from_file)):
        key = name + suffix
        if key not in table:
            continue
        named = table.pop(key)
        if isinstance(named, str) and named:
            table[name] = reader(resolved, (*location, key), named) or _STAND_IN
        else:
            table[name] = _STAND_IN
            allowed, remedy = allowed_words({"type": "string"}), sentence("name it in quotes")
            resolved.refuse((*location, key), repr(named), allowed, remedy)


def _from_environment(resolved: Resolved, location: Location, variable: str) -> str | None:
    value = resolved.environ.get(variable, "").strip()
    if value:
        return value
    resolved.refuse(
        location,
        sentence('"{name}", and there is no such environment variable, or it is empty', name=variable),
        sentence("the name of an environment variable that holds the secret"),
        sentence(
            "set it before the start (export {name}=...), or in the file that the service unit names as "
            "EnvironmentFile; or use {key}",
            name=variable,
            key=f"{str(location[-1]).removesuffix('_env')}_file",
        ),
    )
    return None


def _from_file(resolved: Resolved, location: Location, name: str) -> str | None:
    path = resolved.folder / Path(name).expanduser()
    allowed = sentence("the path of a file that holds the secret and that its owner alone may read")
    try:
        exposed, value = others_may_read(path), path.read_text(encoding="utf-8").strip()
    except (OSError, UnicodeDecodeError) as error:
        found = sentence('"{path}", which cannot be read ({why})', path=str(path), why=_why(error))
        resolved.refuse(location, found, allowed, sentence("correct the path or the rights"))
        return None
    if exposed:
        found = sentence('"{path}", which others may read', path=str(path))
        resolved.refuse(location, found, allowed, sentence("run: chmod 600 {path}", path=str(path)))
    elif not value:
        found = sentence('"{path}", which is empty', path=str(path))
        resolved.refuse(location, found, allowed, sentence("write the secret into it"))
    return value


def _why(error: OSError | UnicodeDecodeError) -> Phrase:
    """Why a file cannot be read."""
    if isinstance(error, OSError):
        return error.strerror or str(error)
    return sentence("not UTF-8 text")


def _exposed(key: Phrase, path: Path) -> Sentence:
    name = str(key).split(" ")[0].rpartition(".")[2]
    return sentence(
        "{file}: {key} stands in the file itself, and others may read the file. "
        "Use {name}_env or {name}_file, or run: chmod 600 {path}",
        file=path.name,
        key=key,
        name=name,
        path=str(path),
    )


@dataclass(frozen=True, slots=True)
class FarmFile:
    """A settings file without a problem; `warnings` are about how its secrets are kept."""

    path: Path
    settings: Settings
    warnings: tuple[Sentence, ...] = ()


def user_folder(environ: Mapping[str, str] = os.environ) -> Path:
    """The user's own folder for settings, as the system names it."""
    home = Path(environ.get("HOME") or Path.home())
    base = environ.get("XDG_CONFIG_HOME") or environ.get("APPDATA")
    return (Path(base) if base else home / ".config") / "rearing-monitor"


def unit_settings(units: Sequence[Path] = UNITS) -> Path:
    """The settings of the installed service: as its unit names them, else where the unit of ours has them."""
    for unit in units:
        with suppress(OSError, UnicodeDecodeError):
            named = _CONFIG_OF_UNIT.search(unit.read_text(encoding="utf-8"))
            if named:
                return Path(named[1].strip("\"'"))
    return SYSTEM_FILE


def find(given: Path | None = None, environ: Mapping[str, str] = os.environ) -> Path:
    """The settings file: the given one, else ./farm.toml, the user's own, else that of the service."""
    places = candidates(given, environ)
    for path in places:
        try:
            if path.is_file():
                return path
        except PermissionError:
            raise SettingsError([_not_ours(path)]) from None
    raise SettingsError([_missing(places)])


def candidates(given: Path | None = None, environ: Mapping[str, str] = os.environ) -> list[Path]:
    """Where `find` looks, in this order."""
    return [given] if given else [Path(FILE_NAME), user_folder(environ) / FILE_NAME, unit_settings()]


def _not_ours(path: Path) -> Problem:
    return Problem(
        str(path),
        sentence("the settings file"),
        sentence("not readable for you"),
        sentence("a command given as the user of the service, or by one of its group"),
        sentence(
            "run it as that user, such as: sudo -u {user} rearing-monitor now", user=_owner(path.parent)
        ),
    )


def _owner(path: Path) -> str:
    """The user to whom a folder belongs; the one of our unit where that is not known."""
    try:
        return path.owner()
    except (OSError, KeyError, NotImplementedError):
        return SERVICE_USER


def _missing(candidates: list[Path]) -> Problem:
    return Problem(
        ", ".join(str(path) for path in candidates),
        sentence("the settings file"),
        sentence("not there"),
        sentence(
            "a file such as {name} here, one in the user's folder, or one named with --config", name=FILE_NAME
        ),
        sentence(
            "run `rearing-monitor init` to write one by answering a few questions, "
            "or `rearing-monitor demo` to see the program at work without any"
        ),
    )


def load(path: Path, environ: Mapping[str, str] = os.environ) -> Settings:
    """The settings of the file; raises SettingsError with every problem found."""
    return read(path, environ).settings


def read(path: Path, environ: Mapping[str, str] = os.environ) -> FarmFile:
    """As `load`, with the path and with warnings about secrets."""
    return check_text(*_text(path), path=path, environ=environ)


def check_text(
    text: str, known: Sequence[Problem] = (), *, path: Path, environ: Mapping[str, str] = os.environ
) -> FarmFile:
    """Check a text as if it stood in the file at `path`, which must exist for its rights and its folder.

    `known` are problems that were found before.
    """
    source, slips = _parsed(text, path)
    secrets = resolve(source, path, environ)
    settings, errors = validate(secrets.raw)
    problems = [*secrets.problems, *validation_problems(source, errors)]
    places_known = not any(error["loc"][0] == "places" for error in errors)
    if settings is not None:
        settings = _rooted(settings, path.absolute().parent)
        problems += _further(settings, source, problems, places_known)
    problems = [*known, *(slip.problem(path.name) for slip in slips), *_without_echoes(problems, slips)]
    if problems or settings is None:
        raise SettingsError(sorted(problems, key=lambda problem: problem.line or 0))
    return FarmFile(path, settings, tuple(secrets.warnings))


def check_as(
    file: type[File],
    path: Path,
    secrets: Mapping[str, tuple[str, ...]],
    environ: Mapping[str, str] = os.environ,
) -> tuple[Source, File | None, list[Problem], list[Sentence]]:
    """A settings file of another kind: its tables, its content with stand-ins for what is wrong, problems,
    and warnings about how its secrets are kept.

    `secrets` names the secret keys of each table that has some. Contradictions are for the caller to find.
    """
    text, known = _text(path)
    source, slips = _parsed(text, path, file)
    resolved = resolve(source, path, environ, secrets)
    content, errors = validate_as(file, resolved.raw)
    problems = [*resolved.problems, *validation_problems(source, errors)]
    slipped = [slip.problem(path.name) for slip in slips]
    found = [*known, *slipped, *_without_echoes(problems, slips)]
    return source, content, found, resolved.warnings


def _without_echoes(problems: list[Problem], slips: Sequence[Slip]) -> Iterator[Problem]:
    """Problems that do not only follow from a line with a slip."""
    lines, left_out = {slip.line for slip in slips}, {slip.key for slip in slips if not slip.right}
    for problem in problems:
        key = str(problem.key).partition(" ")[0].rpartition(".")[2]
        follows = key in left_out if str(problem.found) == "missing" else problem.line in lines
        if not follows:
            yield problem


def _text(path: Path) -> tuple[str, list[Problem]]:
    """The text of the file, and what is wrong with the way in which it was saved."""
    if not path.is_file():
        raise SettingsError([_missing([path])])
    try:
        text, fault = decoded(path.read_bytes())
    except PermissionError:
        raise SettingsError([_not_ours(path)]) from None
    except OSError as error:
        remedy = sentence("correct the rights of the file, or run the command as the user of the service")
        found = sentence("not readable ({why})", why=_why(error))
        raise SettingsError([_unreadable(path, found, remedy)]) from None
    remedy = sentence("save it again as UTF-8 text")
    return text, [] if fault is None else [_unreadable(path, fault, remedy)]


def _unreadable(path: Path, found: Phrase, remedy: Phrase) -> Problem:
    return Problem(path.name, sentence("the file"), found, sentence("UTF-8 text"), remedy)


def _parsed(text: str, path: Path, file: type[Table] = Settings) -> tuple[Source, tuple[Slip, ...]]:
    """The tables of the text, after its slips were mended for reading."""
    plain, tables, slips = mended(text)
    if tables is None:
        raise SettingsError([slip.problem(path.name) for slip in slips])
    return Source(path.name, tables, line_index(plain), file), slips


def _further(settings: Settings, source: Source, known: list[Problem], places_known: bool) -> list[Problem]:
    """Contradictions between tables, but none that may only follow from a problem reported already."""
    problems = [
        source.problem(finding.location, finding.found, finding.allowed, finding.remedy)
        for finding in findings(settings)
        if places_known or not finding.names_place
    ]
    problems += rule_problems(settings, source) if places_known else ()
    reported = {_SECRET_WAY.sub("", str(problem.key)) for problem in known}
    return [problem for problem in problems if str(problem.key) not in reported]


def _rooted(settings: Settings, folder: Path) -> Settings:
    """Relative paths of the file start at the folder of the file, wherever the program is started."""
    store, broker = settings.store, settings.broker
    store_paths = {name: _under(folder, getattr(store, name)) for name in ("path", "backup_folder")}
    names = ("ca_file", "client_certificate", "client_key", "boards_folder", "files")
    broker_paths = {name: _under(folder, getattr(broker, name)) for name in names}
    return settings.model_copy(
        update={
            "store": store.model_copy(update=store_paths),
            "broker": broker.model_copy(update=broker_paths),
            "copies": tuple(
                each.model_copy(update={"folder": _under(folder, each.folder)}) for each in settings.copies
            ),
        }
    )


def _under(folder: Path, path: Path | None) -> Path | None:
    return None if path is None else folder / path.expanduser()


def reload(
    path: Path, old: Settings, environ: Mapping[str, str] = os.environ
) -> tuple[Settings, tuple[Problem, ...]]:
    """The settings of the changed file; the old ones, with the reasons, if the new ones are wrong."""
    try:
        return load(path, environ), ()
    except SettingsError as error:
        return old, error.problems


def waits_for_restart(old: Settings, new: Settings) -> list[str]:
    """Keys that differ and take effect only when the service is started again."""
    waiting = []
    for name in AT_START_ONLY:
        before, after = (_at(settings, name) for settings in (old, new))
        if before != after:
            waiting.append(f"[{name}]" if isinstance(before or after, Table) else name)
    return waiting


def _at(settings: Settings, name: str) -> Any:
    value: Any = settings
    for key in name.split("."):
        value = getattr(value, key)
    return value


def changes(old: Settings, new: Settings) -> list[str]:
    """One sentence for each key that differs, in the order of the file."""
    return [
        line
        for name in Settings.model_fields
        for line in _compare(name, getattr(old, name), getattr(new, name))
    ]


def _compare(name: str, old: Any, new: Any) -> Iterator[str]:
    if old == new:
        return
    if isinstance(old, Table) and isinstance(new, Table) and not isinstance(old, QuietHours):
        for key in type(old).model_fields:
            yield from _compare(f"{name}.{key}", getattr(old, key), getattr(new, key))
    elif _are_tables(old) and _are_tables(new):
        yield from _compare_lists(name, old, new)
    else:
        yield _sentence(name, old, new)


def _are_tables(value: Any) -> bool:
    return isinstance(value, tuple) and all(isinstance(entry, Table) for entry in value)


def _compare_lists(name: str, old: Sequence[Table], new: Sequence[Table]) -> Iterator[str]:
    before, after = _by_name(old), _by_name(new)
    yield from (f"{name}: {key} removed" for key in before if key not in after)
    yield from (f"{name}: {key} added" for key in after if key not in before)
    for key in before:
        if key in after:
            yield from _compare(f"{name}: {key}", before[key], after[key])


def _by_name(tables: Sequence[Table]) -> dict[str, Table]:
    return {_name(table, number): table for number, table in enumerate(tables, start=1)}


def _name(table: Table, number: int) -> str:
    known = getattr(table, "id", None)
    if known is not None:
        return str(known)
    place = getattr(table, "place", None) or getattr(table, "place_kind", None)
    parts = [
        place,
        getattr(table, "quantity", None),
        getattr(table, "side", None),
        getattr(table, "priority", None),
    ]
    return " ".join(str(part) for part in parts if part) + ("" if place else f" (number {number})")


def _sentence(name: str, old: Any, new: Any) -> str:
    if isinstance(old or new, SecretStr):
        verb = "removed" if new is None else "set" if old is None else "changed"
        return f"{name} {verb}"
    if isinstance(old or new, Table) and not isinstance(old or new, QuietHours):
        return f"[{name}] {'removed' if new is None else 'added'}"
    return f"{name} is now {_shown(new)} (was {_shown(old)})"


def _shown(value: Any) -> str:
    match value:
        case None | () | "":
            return "not set"
        case bool():
            return "true" if value else "false"
        case QuietHours():
            return f"{value.start:%H:%M} to {value.end:%H:%M}"
        case datetime.time():
            return f"{value:%H:%M}"
        case float():
            return f"{value:g}"
        case Enum() | Path() | int() | str():
            return str(value)
        case tuple():
            return ", ".join(_shown(entry) for entry in value)
        case dict():
            return ", ".join(f"{key} in {entry}" for key, entry in value.items()) or "not set"
        case _:
            return "something else"
