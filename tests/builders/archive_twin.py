"""A scripted archive server that remembers what it took, and can be read back: a stub with a memory."""

from __future__ import annotations

import re

from archive_memory import MemoryArchive
from archive_stub import ArchiveStub

_UNESCAPED = r"(?<!\\)"


def points_of(line: str) -> tuple[str, dict[str, str], dict[str, float], int]:
    """A line of the protocol taken apart: measurement, tags, fields, time."""
    head, fields, at_ms = re.split(f"{_UNESCAPED} ", line)
    measurement, *tags = re.split(f"{_UNESCAPED},", head)
    named = dict(re.split(f"{_UNESCAPED}=", tag) for tag in tags)
    return (
        _plain(measurement),
        {_plain(name): _plain(text) for name, text in named.items()},
        {name: float(value.rstrip("i")) for name, value in (each.split("=") for each in fields.split(","))},
        int(at_ms),
    )


def _plain(text: str) -> str:
    return re.sub(r"\\([,= ])", r"\1", text)


class ArchiveTwin(ArchiveStub):
    """`lossy` are texts: a line that holds one is answered with 204 and forgotten."""

    def __init__(self) -> None:
        self.memory = MemoryArchive()
        self.lossy: set[str] = set()
        super().__init__()

    def take(self, lines: list[str]) -> tuple[int, dict[str, str], str]:
        status, headers, text = super().take(lines)
        if status == 204:
            for line in lines:
                if not any(each in line for each in self.lossy):
                    self.memory.write(*points_of(line))
        return status, headers, text
