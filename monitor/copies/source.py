"""Where a copy comes from: what a person names is a place for copies, one copy in it, or a single file."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from monitor.copies import targets
from monitor.copies.targets import CopyName, Target
from monitor.errors import CopyError, UsageError
from monitor.records import MS_PER_DAY


@dataclass(frozen=True, slots=True)
class Source:
    """Where a copy comes from: one of a place for copies, or a single database file.

    `passed_over` are copies dated ahead of now, from a clock that was wrong.
    """

    target: Target | None = None
    name: CopyName | None = None
    file: Path | None = None
    passed_over: tuple[CopyName, ...] = ()

    @property
    def label(self) -> str:
        """How a person knows it."""
        if self.target is None or self.name is None:
            return str(self.file)
        return f"{self.target.label.rstrip('/')}/{self.name}"


def source_in(target: Target, wanted: str, now_ms: int) -> Source:
    """The newest copy of a place, or the one of a name; UsageError with those that are there.

    One dated ahead is taken only where all are: then it is this computer's clock that is wrong.
    """
    names = target.list_copies()
    if not names:
        raise CopyError(
            "{place} holds no copy. To mend: name the folder or address into which the copies were made.",
            place=target.label,
        )
    if not wanted:
        past = [name for name in names if name.made_at_ms <= now_ms + MS_PER_DAY]
        ahead = tuple(name for name in names if past and name not in past)
        return Source(target, (past or names)[-1], passed_over=ahead)
    chosen = next((name for name in names if name.text == wanted), None)
    if chosen is None:
        raise UsageError(
            'there is no copy "{name}" at {place}; there are: {names}',
            name=wanted,
            place=target.label,
            names=", ".join(name.text for name in reversed(names)),
        )
    return Source(target, chosen)


def source_at(text: str, wanted: str, now_ms: int) -> Source:
    """What a person names: a place for copies, one copy in it, or a single database file."""
    path = Path(text).expanduser()
    if "://" not in text and path.is_file():
        return Source(file=path.absolute())
    if "://" not in text and not wanted and path.is_dir():
        text = str(path.absolute())
    head, _, last = text.rstrip("/").rpartition("/")
    if not wanted and CopyName.parsed(last) is not None:
        text, wanted = head or "/", last
    return source_in(targets.target_at(text), wanted, now_ms)
