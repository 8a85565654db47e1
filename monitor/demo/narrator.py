"""What the person who watches the demo reads: farm news, alarms and messages, with the farm's own time."""

from __future__ import annotations

import datetime
from collections.abc import Iterable
from zoneinfo import ZoneInfo

from rich.console import Console
from rich.text import Text

from monitor.demo.events import News
from monitor.demo.layout import TIME_ZONE
from monitor.records import OutboxMessage, Priority, Transition

PRIORITY_STYLES = {Priority.HIGH: "bold red", Priority.MEDIUM: "yellow", Priority.LOW: "cyan"}


class Narrator:
    """Writes one line for each thing that happens, or that the monitor notices or sends."""

    def __init__(self, console: Console) -> None:
        self._console = console
        self._zone = ZoneInfo(TIME_ZONE)

    def opening(self, start_ms: int, days: float, inbox: str) -> None:
        """Say that all of this is invented, and where messages will lie."""
        self._console.print(Text("Saltbush Yard is an invented farm; every reading below is simulated."))
        start = self._local(start_ms).strftime("%A %d %B %Y, %H:%M")
        self._console.print(Text(f"{days:g} days from {start} go by quickly. Messages go into {inbox}"))

    def news(self, news: Iterable[News]) -> None:
        """What truly happens on the farm; the monitor does not know it, it only sees readings."""
        for item in news:
            self._line(item.at_ms, "farm", item.text, "dim")

    def event(self, event: object) -> None:
        """What the monitor noticed (a transition), sent (a message) or has to say (a text)."""
        match event:
            case Transition():
                self._transition(event)
            case OutboxMessage():
                self._line(event.created_ms, "message", f"to {event.recipient}: {event.title}", "green")
            case _:
                self._console.print(Text(f"{'':12}{'monitor':9}{event}"))

    def closing(self, night_text: str, messages: int, inbox: str) -> None:
        """The night report, and where to look next."""
        self._console.print(Text(f"\n{night_text}\n"))
        self._console.print(
            Text(f"{messages} MQTT messages were published; what was sent to people lies in {inbox}")
        )

    def _transition(self, change: Transition) -> None:
        value = "" if change.value is None else f" at {change.value:.1f}"
        what = f"{change.place} {change.quantity.replace('_', ' ')}{value}"
        words = f"{what}: {change.after.replace('_', ' ')} ({change.priority})"
        style = PRIORITY_STYLES[change.priority] if change.announces else ""
        self._line(change.at_ms, "alarm", words, style)

    def _line(self, at_ms: int, who: str, text: str, style: str) -> None:
        when = self._local(at_ms).strftime("%a %H:%M")
        line = Text(f"{when:12}{who:9}")
        line.append(text, style=style)
        self._console.print(line)

    def _local(self, at_ms: int) -> datetime.datetime:
        return datetime.datetime.fromtimestamp(at_ms / 1000, self._zone)
