"""Read `farm.toml`: find it, fetch its secrets, check it, and report every problem at once."""

from __future__ import annotations

import os
import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from monitor.errors import Problem, SettingsError
from monitor.settings.consistency import findings
from monitor.settings.own_numbers import own_number_findings
from monitor.settings.problems import Source, line_index, syntax_problem, validation_problems
from monitor.settings.schema import Settings
from monitor.settings.secrets import resolve
from monitor.settings.setpoints import rule_problems
from monitor.settings.standins import validate

FILE_NAME = "farm.toml"
_SECRET_WAY = re.compile(r"_(env|file)\b")


@dataclass(frozen=True, slots=True)
class FarmFile:
    """A settings file without a problem; `warnings` are about how its secrets are kept."""

    path: Path
    settings: Settings
    warnings: tuple[str, ...] = ()


def user_folder(environ: Mapping[str, str] = os.environ) -> Path:
    """The user's own folder for settings, as the system names it."""
    home = Path(environ.get("HOME") or Path.home())
    base = environ.get("XDG_CONFIG_HOME") or environ.get("APPDATA")
    return (Path(base) if base else home / ".config") / "rearing-monitor"


def find(given: Path | None = None, environ: Mapping[str, str] = os.environ) -> Path:
    """The settings file: the given one, else ./farm.toml, else the one in the user's folder."""
    candidates = [given] if given else [Path(FILE_NAME), user_folder(environ) / FILE_NAME]
    for path in candidates:
        if path.is_file():
            return path
    raise SettingsError([_missing(candidates)])


def _missing(candidates: list[Path]) -> Problem:
    looked = " and ".join(str(path) for path in candidates)
    return Problem(
        looked,
        "the settings file",
        "not there",
        f"a file such as {FILE_NAME} here, one in the user's folder, or one named with --config",
        "run `rearing-monitor init` to write one by answering a few questions, "
        "or `rearing-monitor demo` to see the program at work without any",
    )


def load(path: Path, environ: Mapping[str, str] = os.environ) -> Settings:
    """The settings of the file; raises SettingsError with every problem found."""
    return read(path, environ).settings


def read(path: Path, environ: Mapping[str, str] = os.environ) -> FarmFile:
    """As `load`, with the path and with warnings about secrets."""
    return check_text(_text(path), path, environ)


def check_text(text: str, path: Path, environ: Mapping[str, str] = os.environ) -> FarmFile:
    """Check a text as if it stood in the file at `path`, which must exist for its rights and its folder."""
    source = _parsed(text, path)
    secrets = resolve(source, path, environ)
    settings, errors = validate(secrets.raw)
    problems = [*secrets.problems, *validation_problems(source, errors)]
    places_known = not any(error["loc"][0] == "places" for error in errors)
    if settings is not None:
        settings = _rooted(settings, path.absolute().parent)
        problems += _further(settings, source, problems, places_known)
    if problems or settings is None:
        raise SettingsError(sorted(problems, key=lambda problem: problem.line or 0))
    return FarmFile(path, settings, tuple(secrets.warnings))


def _text(path: Path) -> str:
    if not path.is_file():
        raise SettingsError([_missing([path])])
    try:
        return path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        why = error.strerror if isinstance(error, OSError) else "not UTF-8 text"
        remedy = "correct the rights of the file, or save it as UTF-8 text"
        raise SettingsError(
            [Problem(path.name, "the file", f"not readable ({why})", "UTF-8 text", remedy)]
        ) from None


def _parsed(text: str, path: Path) -> Source:
    try:
        return Source(path.name, tomllib.loads(text), line_index(text))
    except tomllib.TOMLDecodeError as error:
        raise SettingsError([syntax_problem(path.name, text, error)]) from None


def _further(settings: Settings, source: Source, known: list[Problem], places_known: bool) -> list[Problem]:
    """Contradictions between tables, but none that may only follow from a problem reported already."""
    found = [
        source.problem(finding.location, finding.found, finding.allowed, finding.remedy)
        for finding in (*findings(settings), *own_number_findings(settings))
        if places_known or not finding.names_place
    ]
    found += rule_problems(settings, source) if places_known else ()
    reported = {_SECRET_WAY.sub("", problem.key) for problem in known}
    return [problem for problem in found if problem.key not in reported]


def _rooted(settings: Settings, folder: Path) -> Settings:
    """Relative paths of the file start at the folder of the file, wherever the program is started."""
    store, broker = settings.store, settings.broker
    store_paths = {name: _under(folder, getattr(store, name)) for name in ("path", "backup_folder")}
    names = ("ca_file", "client_certificate", "client_key")
    broker_paths = {name: _under(folder, getattr(broker, name)) for name in names}
    return settings.model_copy(
        update={
            "store": store.model_copy(update=store_paths),
            "broker": broker.model_copy(update=broker_paths),
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
