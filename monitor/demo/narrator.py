"""What a person reads while the demo plays: incidents on the farm, alarms and messages, with the farm's time.

Messages are read from the inbox, the folder that stands for people's phones in the demo.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path

from rich.console import Console
from rich.text import Text

from monitor.demo.script import News
from monitor.errors import Sentence
from monitor.records import OVERLAYS, AlarmEvent, Computed, Priority, Transition, local
from monitor.service.night_job import NightReportWritten
from monitor.words.localizer import Localizer, plain

PRIORITY_STYLES = {Priority.HIGH: "bold red", Priority.MEDIUM: "yellow", Priority.LOW: "cyan"}
QUIET_EVENTS = frozenset({AlarmEvent.SUPPRESS, AlarmEvent.UNSUPPRESS, AlarmEvent.ACKNOWLEDGE})


@dataclass(frozen=True, slots=True)
class InboxMessage:
    """One message; its title is the first line of its file."""

    recipient: str
    title: str


class Inbox:
    """Reads the folder of each person and remembers which messages it has read."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._read: set[Path] = set()

    def fresh(self) -> list[InboxMessage]:
        """Messages that have come since the last call; their file names begin with the time."""
        paths = sorted(set(self.folder.glob("*/*.txt")) - self._read, key=lambda path: path.name)
        self._read.update(paths)
        return [InboxMessage(path.parent.name, path.read_text("utf-8").partition("\n")[0]) for path in paths]

    @property
    def count(self) -> int:
        return len(self._read)


@dataclass(frozen=True, slots=True)
class PageOpened:
    """The page is served here; the password is the first one, for the owner."""

    address: str
    password: str


class Narrator:
    """Writes one line for each thing that happens, or that the monitor notices or sends."""

    def __init__(self, console: Console, words: Localizer, clock: Callable[[], int]) -> None:
        self._console, self._words, self._clock = console, words, clock

    def opening(self, days: float, inbox: Path) -> None:
        """Say that the farm is invented, and where messages are stored."""
        now_ms = self._clock()
        day = self._words.long_day(local(now_ms, self._words.zone))
        self._say("opening")
        self._say(
            "plan",
            days=days,
            shown=plain(self._words, days),
            day=day,
            at=self._words.hour(now_ms),
            inbox=str(inbox),
        )

    def news(self, news: Iterable[News]) -> None:
        """What truly happens on the farm; the monitor does not know it, it only sees readings."""
        for item in news:
            self._line(item.at_ms, "farm", self._words.t(item.key), "dim")

    def messages(self, messages: Iterable[InboxMessage]) -> None:
        for message in messages:
            text = self._words.t("demo.to", recipient=message.recipient, title=message.title)
            self._line(self._clock(), "message", text, "green")

    def event(self, event: object) -> None:
        """What the monitor noticed (a transition), wrote (a report) or has to say (a text)."""
        match event:
            case Transition():
                self._transition(event)
            case PageOpened():
                self._say("page", address=event.address, password=event.password)
            case NightReportWritten():
                self._print(f"\n{event.text}\n")
            case Sentence():
                self._line(self._clock(), "monitor", self._words.sentence(event), "")
            case _:
                self._line(self._clock(), "monitor", str(event), "")

    def staying(self) -> None:
        self._print(f"\n{self._words.t('demo.staying')}\n")

    def closing(self, published: int, inbox: Inbox) -> None:
        self._say("closing", published=str(published), messages=str(inbox.count), inbox=str(inbox.folder))

    def _transition(self, change: Transition) -> None:
        announces = change.announces and change.event is AlarmEvent.ACTIVATE
        is_over = change.event is AlarmEvent.CLEAR and change.after not in OVERLAYS
        if change.event in QUIET_EVENTS or not (announces or is_over):
            return
        what = self._words.headed(change.place, self._words.quantity_name(change.quantity))
        if announces:
            text = f"{what}{self._value(change)} ({self._words.t(f'priority.{change.priority}').lower()})"
            self._line(change.at_ms, "alarm", text, PRIORITY_STYLES[change.priority])
        else:
            # A silence or a time left says nothing any more once the alarm is over.
            last = "" if change.quantity in set(Computed) else self._value(change)
            self._line(change.at_ms, "over", what + last, "")

    def _value(self, change: Transition) -> str:
        return "" if change.value is None else f" {self._words.value(change.quantity, change.value)}"

    def _line(self, at_ms: int, who: str, text: str, style: str) -> None:
        when = f"{self._words.weekday(local(at_ms, self._words.zone))} {self._words.hour(at_ms)}"
        line = Text(f"{when:12}{self._words.t(f'demo.{who}'):9}")
        line.append(text, style=style)
        self._console.print(line)

    def _say(self, key: str, **values: object) -> None:
        self._print(self._words.t(f"demo.{key}", **values))

    def _print(self, text: str) -> None:
        self._console.print(Text(text))
