"""The folder that stands for people's phones in the demo: what has come in since the last look."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True, slots=True)
class InboxMessage:
    """One message as its file holds it: the first line is the title."""

    recipient: str
    title: str
    path: Path


class Inbox:
    """Looks into the folder of each person and remembers what it has seen."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._seen: set[Path] = set()

    def fresh(self) -> list[InboxMessage]:
        """Messages that have come since the last call; their file names begin with the time."""
        paths = sorted(set(self._folder.glob("*/*.txt")) - self._seen, key=lambda path: path.name)
        self._seen.update(paths)
        return list(self._read(paths))

    @property
    def count(self) -> int:
        """How many messages have been seen."""
        return len(self._seen)

    def _read(self, paths: list[Path]) -> Iterator[InboxMessage]:
        for path in paths:
            title, _, _ = path.read_text(encoding="utf-8").partition("\n")
            yield InboxMessage(path.parent.name, title, path)
