"""What the person who watches the demo reads: farm news, alarms and messages, with the farm's own time.

The folder that stands for people's phones in the demo: what has come in since the last look.
"""

from __future__ import annotations

import datetime
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from zoneinfo import ZoneInfo

from rich.console import Console
from rich.text import Text

from monitor.demo.script import TIME_ZONE, News
from monitor.records import QUANTITIES, AlarmEvent, AlarmStatus, Computed, Priority, Transition
from monitor.service.night_job import NightReportWritten


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


PRIORITY_STYLES = {Priority.HIGH: "bold red", Priority.MEDIUM: "yellow", Priority.LOW: "cyan"}
QUIET_EVENTS = frozenset({AlarmEvent.SUPPRESS, AlarmEvent.UNSUPPRESS, AlarmEvent.ACKNOWLEDGE})


@dataclass(frozen=True, slots=True)
class PageOpened:
    """The page is served here; the password is the first one, for the owner."""

    address: str
    password: str


class Narrator:
    """Writes one line for each thing that happens, or that the monitor notices or sends."""

    def __init__(self, console: Console, clock: Callable[[], int]) -> None:
        self._console, self._clock = console, clock
        self._zone = ZoneInfo(TIME_ZONE)

    def opening(self, days: float, inbox: str) -> None:
        """Say that all of this is invented, and where messages will lie."""
        self._print(
            "Saltbush Yard is an invented farm: its places, its people and every reading are simulated."
        )
        start = self._local(self._clock()).strftime("%A %d %B %Y, %H:%M")
        self._print(f"{days:g} days from {start} go by quickly. Messages to people go into {inbox}")

    def news(self, news: Iterable[News]) -> None:
        """What truly happens on the farm; the monitor does not know it, it only sees readings."""
        for item in news:
            self._line(item.at_ms, "farm", item.text, "dim")

    def messages(self, messages: Iterable[InboxMessage]) -> None:
        """What has arrived on people's phones."""
        for message in messages:
            self._line(self._clock(), "message", f"to {message.recipient}: {message.title}", "green")

    def event(self, event: object) -> None:
        """What the monitor noticed (a transition), wrote (a report) or has to say (a text)."""
        match event:
            case Transition():
                self._transition(event)
            case PageOpened():
                self._print(f"The page: {event.address}  (first password: {event.password})")
            case NightReportWritten():
                self._print(f"\n{event.text}\n")
            case _:
                self._line(self._clock(), "monitor", str(event), "")

    def staying(self) -> None:
        """The two days are over, and the farm goes on."""
        self._print("\nThe farm goes on in real time, for the page. Ctrl-C ends it.\n")

    def closing(self, published: int, messages: int, inbox: str) -> None:
        """Where to look next."""
        self._print(f"{published} MQTT messages were published. {messages} messages went to people: {inbox}")

    def _transition(self, change: Transition) -> None:
        announces = change.announces and change.event is AlarmEvent.ACTIVATE
        if change.event in QUIET_EVENTS or not (announces or _is_over(change)):
            return
        what = f"{change.place}: {_title(change.quantity)}"
        if announces:
            words = f"{what}{_value(change)} ({change.priority})"
            self._line(change.at_ms, "alarm", words, PRIORITY_STYLES[change.priority])
        else:
            # A silence or a time left says nothing any more once the alarm is over.
            last = "" if change.quantity in set(Computed) else _value(change)
            self._line(change.at_ms, "over", what + last, "")

    def _line(self, at_ms: int, who: str, text: str, style: str) -> None:
        when = self._local(at_ms).strftime("%a %H:%M")
        line = Text(f"{when:12}{who:9}")
        line.append(text, style=style)
        self._console.print(line)

    def _print(self, text: str) -> None:
        self._console.print(Text(text))

    def _local(self, at_ms: int) -> datetime.datetime:
        return datetime.datetime.fromtimestamp(at_ms / 1000, self._zone)


def _is_over(change: Transition) -> bool:
    overlays = (AlarmStatus.SHELVED, AlarmStatus.SUPPRESSED_BY_DESIGN, AlarmStatus.OUT_OF_SERVICE)
    return change.event is AlarmEvent.CLEAR and change.after not in overlays


def _title(quantity: str) -> str:
    return QUANTITIES[quantity].title if quantity in QUANTITIES else quantity.replace("_", " ")


def _value(change: Transition) -> str:
    if change.value is None:
        return ""
    unit = QUANTITIES[change.quantity].shown_unit if change.quantity in QUANTITIES else ""
    digits = 2 if unit == "" else 1
    return f" {change.value:.{digits}f} {unit}".rstrip()
