"""The catalogue: every sentence that a person reads, by language, in Project Fluent files.

There are two kinds. A *message* has a key in the code, such as `now.fine`; its entry is `now-fine`.
English has every one; where another language lacks one, the English stands (`STAYS_ENGLISH` says which
files may lack some). A *sentence* arises below this room (the text of an error, the response
of an alarm in a species file) and carries its own English; the other languages know it by an id made from
that English (`sentence_id`).

Fluent was chosen over gettext: a translator reads plain `name = text` lines, one file for each subject, and
decides on plural forms and word order without the programmer.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from functools import cache
from importlib import resources

from fluent.runtime import FluentBundle, FluentResource
from fluent.runtime.types import fluent_number

ENGLISH = "en"
LANGUAGES: Mapping[str, str] = {"en": "English", "fr": "Français", "sw": "Kiswahili"}
UNREAD = frozenset({"sw"})
"""Languages that no native speaker has read yet; the choice of language says so."""
_TERMINAL = frozenset(
    (
        "battery_sentences",
        "broker",
        "broker_sentences",
        "cli_sentences",
        "commands",
        "demo",
        "demo_sentences",
        "help",
        "restore",
        "restore_sentences",
        "science",
        "settings_keys",
        "settings_sentences",
        "terminal_sentences",
    )
)
STAYS_ENGLISH: Mapping[str, frozenset[str]] = {"sw": _TERMINAL}
"""The files of the catalogue, by language, whose entries may be missing and are then said in English.

For Kiswahili: what only the command line says, wherever its help stands, the notes of science, and the
meanings of settings keys.
What a person meets on the page, in messages and in the night report is demanded by the tests.
"""
_ENTRY = re.compile(r"^([a-zA-Z][\w-]*) *=", re.MULTILINE)
_VARIABLE = re.compile(r"\$(\w+)")
_WORD = re.compile(r"[a-z0-9]+")


class Catalogue:
    """The words of one language. An entry is parsed when it is asked for: most readers need few of them."""

    def __init__(self, language: str, files: Mapping[str, str]) -> None:
        self.language = language
        self._sources = {name: source for text in files.values() for name, source in _entries(text)}
        self._bundle = FluentBundle([language], use_isolating=False)
        self._fixed: dict[str, str] = {}

    def has(self, entry: str) -> bool:
        """Whether there is an entry of this id."""
        return entry in self._sources

    def format(self, entry: str, values: Mapping[str, object]) -> str:
        """The text of an entry with its values put in, in English where this language lacks it.

        KeyError where there is none or a value is missing.
        """
        if not values and entry in self._fixed:
            return self._fixed[entry]
        if entry not in self._sources and self.language != ENGLISH:
            return catalogue(ENGLISH).format(entry, values)
        if not self._bundle.has_message(entry):
            self._bundle.add_resource(FluentResource(self._sources[entry]))
        pattern = self._bundle.get_message(entry).value
        if pattern is None:
            raise KeyError(entry)
        text, problems = self._bundle.format_pattern(
            pattern, {name: _plain(each) for name, each in values.items()}
        )
        if problems:
            raise KeyError(f"{entry} ({self.language}): {problems[0]}")
        if not values:
            self._fixed[entry] = str(text)
        return str(text)

    def variables(self) -> Mapping[str, frozenset[str]]:
        """The names of the values that each entry takes, for the tests."""
        return {
            name: frozenset(_VARIABLE.findall(source.partition("=")[2]))
            for name, source in self._sources.items()
        }


def _plain(value: object) -> object:
    """A number without signs between its thousands, since it may be one that a person types again."""
    return fluent_number(value, useGrouping=False) if isinstance(value, int | float) else value


def _entries(text: str) -> Iterator[tuple[str, str]]:
    """The id and the whole source of each entry of a file; comments between entries do no harm."""
    starts = [*_ENTRY.finditer(text)]
    ends = [start.start() for start in starts[1:]] + [len(text)]
    return ((start[1], text[start.start() : end]) for start, end in zip(starts, ends, strict=True))


@cache
def catalogue(language: str) -> Catalogue:
    """The catalogue of one language, read once."""
    folder = resources.files("monitor.words").joinpath(language)
    files = [file for file in folder.iterdir() if file.name.endswith(".ftl")]
    return Catalogue(language, {file.name: file.read_text(encoding="utf-8") for file in files})


def entry_id(key: str) -> str:
    """The id in the files of a message's key: `now.fine` is `now-fine`."""
    return key.replace(".", "-")


@cache
def sentence_id(english: str) -> str:
    """The id of a sentence that carries its own English: its words in lower case, joined by hyphens."""
    words = _WORD.findall(english.lower())
    name = "-".join(words)
    return name if name[:1].isalpha() else f"s-{name}"
