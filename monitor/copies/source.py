"""Where a copy comes from: what a person names is a place for copies, one copy in it, or a single file."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from monitor.copies import targets
from monitor.copies.targets import CopyName, Target
from monitor.errors import CopyError, UsageError


@dataclass(frozen=True, slots=True)
class Source:
    """Where a copy comes from: one of a place for copies, or a single database file."""

    target: Target | None = None
    name: CopyName | None = None
    file: Path | None = None

    @property
    def label(self) -> str:
        """How a person knows it."""
        if self.target is None or self.name is None:
            return str(self.file)
        return f"{self.target.label.rstrip('/')}/{self.name}"


def source_in(target: Target, wanted: str = "") -> Source:
    """The newest copy of a place, or the one of a name; UsageError with those that are there."""
    names = target.list_copies()
    if not names:
        raise CopyError(
            "{place} holds no copy. To mend: name the folder or address into which the copies were made.",
            place=target.label,
        )
    chosen = next((name for name in names if name.text == wanted), None) if wanted else names[-1]
    if chosen is None:
        raise UsageError(
            'there is no copy "{name}" at {place}; there are: {names}',
            name=wanted,
            place=target.label,
            names=", ".join(name.text for name in reversed(names)),
        )
    return Source(target, chosen)


def source_at(text: str, wanted: str = "") -> Source:
    """What a person names: a place for copies, one copy in it, or a single database file."""
    path = Path(text).expanduser()
    if "://" not in text and path.is_file():
        return Source(file=path.absolute())
    head, _, last = text.rstrip("/").rpartition("/")
    if not wanted and CopyName.parsed(last) is not None and ("://" in text or path.is_dir()):
        return source_in(targets.target_at(head or "/"), last)
    if (
        not wanted
        and "://" not in text
        and CopyName.parsed(path.absolute().name) is not None
        and path.is_dir()
    ):
        return source_in(targets.target_at(str(path.absolute().parent)), path.absolute().name)
    return source_in(targets.target_at(text), wanted)
