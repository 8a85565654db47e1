"""The language of the command line: that of the site whose settings were read, else that of the terminal.

The texts of `--help` stand beside their commands in English; here they are looked up in the catalogue.
"""

from __future__ import annotations

import os
import time
from contextvars import ContextVar
from datetime import UTC
from pathlib import Path
from typing import Any

from monitor.errors import SettingsError
from monitor.settings.loading import find
from monitor.settings.schema import Settings
from monitor.settings.slips import decoded, mended
from monitor.words.catalogue import ENGLISH, LANGUAGES
from monitor.words.localizer import Localizer, environment_language

HELP_OPTION = "Show this message and exit."
ARGUMENTS, OPTIONS = "Arguments", "Options"
EXAMPLES = ("Example: ", "Examples: ")
_of_site: ContextVar[str] = ContextVar("language of the site", default="")


def clock_ms() -> int:
    """The machine's clock; the only one that the command line reads."""
    return time.time_ns() // 1_000_000


def command_words(settings: Settings) -> Localizer:
    """The words of a command that looks at settings alone: in the language of the site."""
    return Localizer.of_site(settings, clock_ms())


def terminal_words() -> Localizer:
    """The words of `--help`, of `init` and of errors: in the language of the site as far as it is known.

    That is the site whose settings were read, else that of the file that a command would take; where there is
    none, the language of the terminal.
    """
    language = _of_site.get() or _of_default_file() or environment_language(os.environ)
    return Localizer.plain(language, UTC, clock_ms())


def _of_default_file() -> str | None:
    named = os.environ.get("REARING_CONFIG")
    try:
        return stated_language(find(Path(named) if named else None))
    except SettingsError:
        return None


def speak(language: str | None) -> None:
    """From now on errors are said in the language of the site; None: that of the terminal."""
    _of_site.set(language or "")


def stated_language(path: Path) -> str | None:
    """The language that a settings file asks for, whatever else is wrong in it."""
    try:
        text, _ = decoded(path.read_bytes())
    except OSError:
        return None
    _, tables, _ = mended(text)
    site = tables.get("site") if tables else None
    language = site.get("language", ENGLISH) if isinstance(site, dict) else None
    return language if language in LANGUAGES else None


def translate_help(command: Any, words: Localizer) -> None:
    """Put every text that `--help` shows of a command, or of a group and its commands, into the language."""
    if words.language == ENGLISH:
        return
    for name in ("help", "short_help", "epilog", "rich_help_panel"):
        text = getattr(command, name, None)
        if text:
            setattr(command, name, translated(text, words))
    for parameter in command.params:
        is_argument = parameter.param_type_name == "argument"
        parameter.help = translated(parameter.help or "", words)
        parameter.rich_help_panel = words.text(ARGUMENTS if is_argument else OPTIONS)
    _translate_help_option(command, words)
    for inner in getattr(command, "commands", {}).values():
        translate_help(inner, words)


def _translate_help_option(command: Any, words: Localizer) -> None:
    """The option --help itself is made anew for each call."""
    make = command.get_help_option

    def get_help_option(context: Any) -> Any:
        option = make(context)
        if option is not None:
            option.help, option.rich_help_panel = words.text(HELP_OPTION), words.text(OPTIONS)
        return option

    command.get_help_option = get_help_option


def translated(text: str, words: Localizer) -> str:
    """A text of help, paragraph by paragraph; an example keeps its command."""
    return "\n\n".join(_paragraph(paragraph, words) for paragraph in text.split("\n\n"))


def _paragraph(text: str, words: Localizer) -> str:
    start = next((start for start in EXAMPLES if text.startswith(start)), "")
    if start:
        return f"{words.text(start.strip())} {text.removeprefix(start)}"
    return words.text(" ".join(text.split()))
