"""Every error that the product raises on purpose.

    MonitorError
    ├── SeveralProblems          what was asked for or given is wrong; holds every problem found
    │   ├── SettingsError        the settings file is wrong
    │   └── CardError            the card of a board is wrong
    ├── UsageError               the person asked for something that cannot be done; says what can
    ├── UnknownTransition        the alarm table has no row for this (state, event)
    ├── BooksDoNotClose          the water balance of a bin does not add up; a fault of the program
    ├── PartFailed               a part of a report met an error of the program; the rest goes on without it
    ├── IntakeError
    │   ├── BrokerRefused        the broker said no (password, client id, protocol)
    │   ├── BrokerUnreachable    nothing answers at the broker's address
    │   ├── PayloadError         a payload does not follow its format; becomes a Rejected record
    │   └── LoggerFileError      a CSV file cannot be read as asked
    ├── StoreError
    │   ├── StoreFull            the disk has no room
    │   ├── StoreLocked          another program holds the database
    │   ├── StoreDamaged         quick_check or a read says that the file is damaged
    │   ├── StoreTooNew          written by a newer version of the program
    │   └── StoreUnreadable      missing folder, no permission, not a database
    ├── CopyError                a place for copies refuses, or a copy is not whole
    ├── ChannelError             a message could not be handed to its channel
    │   └── ChannelBusy          not now: its service says when to come again
    └── ArchiveError             the archive server gave an answer that is not whole or not understood
        ├── ArchiveRefused       it answered with a refusal
        └── ArchiveUnreachable   it does not answer

The command line turns each into plain text and an exit code; the library never prints.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True)
class Sentence:
    """A sentence in English with its values apart, so that the catalogue (`words`) can say it in a language.

    `english` names each value in braces; a value may be a sentence itself, or a tuple of lines.
    """

    english: str
    values: Mapping[str, object] = field(default_factory=dict)

    @property
    def text(self) -> str:
        """The English sentence with its values put in."""
        values = {
            name: "\n".join(map(str, value)) if isinstance(value, tuple) else value
            for name, value in self.values.items()
        }
        return self.english.format(**values) if values else self.english

    def __str__(self) -> str:
        return self.text


class SaidText(str):
    """English text that carries its sentence, so that it can be said in another language later on."""

    said: Sentence

    def __new__(cls, said: Sentence) -> SaidText:
        text = super().__new__(cls, said.text)
        text.said = said
        return text

    def __getnewargs__(self) -> tuple[Sentence]:  # type: ignore[override]
        return (self.said,)


def said_of(text: str) -> Sentence:
    """The sentence that a text carries; one that carries none stands for itself."""
    return text.said if isinstance(text, SaidText) else Sentence(text)


def joined(texts: Sequence[str]) -> SaidText:
    """Several texts as one, a semicolon between them."""
    parts = {f"part_{number}": said_of(text) for number, text in enumerate(texts)}
    return SaidText(Sentence("; ".join(f"{{{name}}}" for name in parts), parts))


def sentence(english: str, /, **values: object) -> Sentence:
    """Write `sentence("{count} larvae", count=12)`."""
    return Sentence(english, values)


def one_a_line(sentences: Iterable[Sentence]) -> Sentence:
    """Several sentences as one, each on its own line."""
    values = {f"line_{number}": said for number, said in enumerate(sentences)}
    return Sentence("\n".join(f"{{{name}}}" for name in values), values)


class MonitorError(Exception):
    """Root of the errors above. Its text is written for the person, without a traceback.

    Values stand apart from the English, as in `UsageError("{place} is not a place", place=name)`, so that
    the catalogue (`words`) can say the same in another language.
    """

    def __init__(self, english: str | Sentence = "", /, **values: object) -> None:
        self.said = english if isinstance(english, Sentence) else Sentence(english, values)
        super().__init__(self.said.text)


Phrase = str | Sentence
"""Part of a sentence: a plain value such as a name, or words that the catalogue knows."""


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing that is wrong in a file, and how to mend it. `line` is where it stands, if that is known."""

    file: str
    key: Phrase
    found: Phrase
    allowed: Phrase
    remedy: Phrase
    line: int | None = None

    @property
    def said(self) -> Sentence:
        """The whole problem as one sentence."""
        where: Phrase = self.file
        if self.line is not None:
            where = sentence("{file}, line {line}", file=self.file, line=str(self.line))
        return sentence(
            "{where}: {key} is {found}; allowed: {allowed}. To mend: {remedy}",
            where=where,
            key=self.key,
            found=self.found,
            allowed=self.allowed,
            remedy=self.remedy,
        )

    def __str__(self) -> str:
        return self.said.text


class SeveralProblems(MonitorError):
    """What was asked for or given is wrong. `problems` holds everything found, not only the first."""

    def __init__(self, problems: Sequence[Problem | MonitorError]) -> None:
        self.problems: tuple[Problem | MonitorError, ...] = tuple(problems)
        lines = one_a_line(problem.said for problem in self.problems)
        super().__init__(lines.english, **lines.values)


class SettingsError(SeveralProblems):
    """The settings file is wrong."""

    problems: tuple[Problem, ...]

    def __init__(self, problems: Sequence[Problem]) -> None:
        super().__init__(problems)


class CardError(SeveralProblems):
    """The card of a board is wrong."""

    problems: tuple[Problem, ...]

    def __init__(self, problems: Sequence[Problem]) -> None:
        super().__init__(problems)


class UsageError(MonitorError):
    """The person asked for something that cannot be done."""


class UnknownTransition(MonitorError):
    """The alarm table has no row for this state and event; nothing was changed."""

    def __init__(self, state: str, event: str) -> None:
        self.state, self.event = state, event
        super().__init__(
            sentence(
                "an alarm that is {state} cannot take the event {event}; nothing was changed",
                state=state,
                event=event,
            )
        )


class BooksDoNotClose(MonitorError):
    """The water or dry matter of a bin differs from what came and went by more than a gram."""

    def __init__(self, water_due_kg: float, water_kg: float, dry_due_kg: float, dry_kg: float) -> None:
        self.water_due_kg, self.water_kg = water_due_kg, water_kg
        self.dry_due_kg, self.dry_kg = dry_due_kg, dry_kg
        super().__init__(
            sentence(
                "the books of the bin do not close: water {water} kg where {water_due} kg should be, "
                "dry matter {dry} kg where {dry_due} kg should be",
                water=f"{water_kg:.4f}",
                water_due=f"{water_due_kg:.4f}",
                dry=f"{dry_kg:.4f}",
                dry_due=f"{dry_due_kg:.4f}",
            )
        )


class PartFailed(MonitorError):
    """A part of a report met an error of the program; the rest goes on without it."""

    def __init__(self, error: Exception) -> None:
        said = sentence("an error of the program ({kind}); its log tells more", kind=type(error).__name__)
        super().__init__(said)


class IntakeError(MonitorError):
    """Something is wrong on the way in."""


class BrokerRefused(IntakeError):
    """The broker answered and said no."""


class BrokerUnreachable(IntakeError):
    """Nothing answers at the broker's address."""


class PayloadError(IntakeError):
    """A payload does not follow its format. Intake turns it into a `Rejected` record."""


class LoggerFileError(IntakeError):
    """A logger file cannot be read as asked."""


class StoreError(MonitorError):
    """Something is wrong with the database."""


class StoreFull(StoreError):
    """The disk that holds the database has no room."""


class StoreLocked(StoreError):
    """Another program holds the database."""


class StoreDamaged(StoreError):
    """The database file is damaged."""


class StoreTooNew(StoreError):
    """The database was written by a newer version of this program."""


class StoreUnreadable(StoreError):
    """The database cannot be opened at all."""


class CopyError(MonitorError):
    """A place for copies refuses or does not answer, or a copy is not whole."""


class ChannelError(MonitorError):
    """A message could not be handed to its channel."""


class ChannelBusy(ChannelError):
    """The channel asks to be left alone for `wait_s` seconds."""

    def __init__(self, wait_s: float, english: str | Sentence, /, **values: object) -> None:
        super().__init__(english, **values)
        self.wait_s = wait_s


class ArchiveError(MonitorError):
    """Something is wrong with the archive server."""


class ArchiveRefused(ArchiveError):
    """The archive server answered with a refusal; `needs_right` where it is about the token."""

    def __init__(self, english: str | Sentence, /, *, needs_right: bool = False, **values: object) -> None:
        super().__init__(english, **values)
        self.needs_right = needs_right


class ArchiveUnreachable(ArchiveError):
    """The archive server does not answer."""
