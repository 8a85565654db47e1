"""The words of the page by language: one folder each, all its TOML files together make the catalogue."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Any

ENGLISH = "en"
LANGUAGES: Mapping[str, str] = {"en": "English", "fr": "Français"}
_TEXTS = "texts"


@dataclass(frozen=True, slots=True)
class Catalogue:
    """`messages` by dotted key; `texts` from an English sentence of the rules to one in this language."""

    language: str
    messages: Mapping[str, str]
    texts: Mapping[str, str]


@cache
def catalogue(language: str) -> Catalogue:
    """The words of one language, read once."""
    messages: dict[str, str] = {}
    texts: dict[str, str] = {}
    for tables in _files(language):
        texts |= {entry["en"]: entry[language] for entry in tables.pop(_TEXTS, ())}
        messages |= dict(_flat("", tables))
    return Catalogue(language, messages, texts)


def _files(language: str) -> Iterator[dict[str, Any]]:
    folder = resources.files("monitor.words").joinpath(language)
    for file in sorted(folder.iterdir(), key=lambda each: each.name):
        if file.name.endswith(".toml"):
            yield tomllib.loads(file.read_text(encoding="utf-8"))


def _flat(prefix: str, table: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    for key, value in table.items():
        if isinstance(value, Mapping):
            yield from _flat(f"{prefix}{key}.", value)
        else:
            yield f"{prefix}{key}", str(value)
