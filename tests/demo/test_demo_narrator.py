"""What the person who watches the demo reads."""

import datetime
import io
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from rich.console import Console

from monitor.demo.narrator import Inbox, InboxMessage, Narrator
from monitor.demo.runner import SimulatedClock
from monitor.demo.script import TIME_ZONE, News
from monitor.records import AlarmEvent, AlarmStatus, Priority, Transition
from monitor.service.night_job import NightReportWritten
from monitor.words.localizer import Localizer

START_MS = round(datetime.datetime(2026, 9, 22, 5, 0, tzinfo=datetime.UTC).timestamp() * 1000)
MINUTE_MS = 60_000


@pytest.fixture
def screen() -> io.StringIO:
    return io.StringIO()


@pytest.fixture
def narrator(screen: io.StringIO) -> Narrator:
    words = Localizer.plain("en", ZoneInfo(TIME_ZONE), START_MS)
    return Narrator(Console(file=screen, width=160), words, SimulatedClock(START_MS))


def _change(
    event: AlarmEvent, before: AlarmStatus, after: AlarmStatus, quantity: str, value: float
) -> Transition:
    return Transition(
        alarm_id=f"bin-4/{quantity}/high/high",
        place="bin-4",
        quantity=quantity,
        priority=Priority.HIGH,
        event=event,
        before=before,
        after=after,
        at_ms=START_MS + MINUTE_MS,
        processed_ms=START_MS + MINUTE_MS,
        value=value,
    )


ALARM = (AlarmEvent.ACTIVATE, AlarmStatus.NORMAL, AlarmStatus.UNACKNOWLEDGED)
OVER = (AlarmEvent.CLEAR, AlarmStatus.UNACKNOWLEDGED, AlarmStatus.RETURNED_UNACKNOWLEDGED)


def test_a_line_has_farm_time_who_and_plain_words(narrator: Narrator, screen: io.StringIO) -> None:
    narrator.news([News(START_MS, "demo.covered.bin-4.ends")])
    narrator.event(_change(*ALARM, "substrate_temperature", 42.13))
    narrator.event(_change(*OVER, "substrate_temperature", 36.9))
    narrator.messages([InboxMessage("keeper", "HIGH Grow-out bin 4")])
    lines = [" ".join(line.split()) for line in screen.getvalue().splitlines()]
    assert lines == [
        "Tue 07:00 farm The keeper takes the upper bin off and stirs bin 4.",
        "Tue 07:01 alarm bin-4: substrate temperature 42.1 °C (high)",
        "Tue 07:01 over bin-4: substrate temperature 36.9 °C",
        "Tue 07:00 message to keeper: HIGH Grow-out bin 4",
    ]


def test_a_time_that_was_left_is_not_told_when_the_alarm_is_over(
    narrator: Narrator, screen: io.StringIO
) -> None:
    narrator.event(_change(*OVER, "minutes_to_overheating", 1440.0))
    assert screen.getvalue().split() == ["Tue", "07:01", "over", "bin-4:", "time", "to", "overheating"]


@pytest.mark.parametrize(
    ("event", "before", "after"),
    [
        (AlarmEvent.SUPPRESS, AlarmStatus.NORMAL, AlarmStatus.SUPPRESSED_BY_DESIGN),
        (AlarmEvent.ACTIVATE, AlarmStatus.SUPPRESSED_BY_DESIGN, AlarmStatus.SUPPRESSED_BY_DESIGN),
        (AlarmEvent.CLEAR, AlarmStatus.SUPPRESSED_BY_DESIGN, AlarmStatus.SUPPRESSED_BY_DESIGN),
        (AlarmEvent.ACKNOWLEDGE, AlarmStatus.RETURNED_UNACKNOWLEDGED, AlarmStatus.NORMAL),
    ],
)
def test_what_happens_beneath_an_overlay_is_not_told(
    narrator: Narrator, screen: io.StringIO, event: AlarmEvent, before: AlarmStatus, after: AlarmStatus
) -> None:
    narrator.event(_change(event, before, after, "substrate_temperature", 40.0))
    assert screen.getvalue() == ""


def test_a_line_is_said_in_the_language_of_the_person(screen: io.StringIO) -> None:
    words = Localizer.plain("fr", ZoneInfo(TIME_ZONE), START_MS)
    narrator = Narrator(Console(file=screen, width=160), words, SimulatedClock(START_MS))
    narrator.event(_change(*ALARM, "substrate_temperature", 42.13))
    assert (
        " ".join(screen.getvalue().split())
        == "mar. 07:01 alarme bin-4 : température du substrat 42,1 °C (haute)"
    )


def test_a_report_and_a_text_are_told(narrator: Narrator, screen: io.StringIO) -> None:
    narrator.event(NightReportWritten("Night to 23 September\nall well"))
    narrator.event("settings read again [no markup]")
    assert "Night to 23 September\nall well" in screen.getvalue()
    assert "settings read again [no markup]" in screen.getvalue()


def test_the_inbox_tells_each_message_once_in_the_order_of_time(tmp_path: Path) -> None:
    inbox = Inbox(tmp_path)
    assert inbox.fresh() == []
    for person, name, title in (
        ("neighbour", "20260922T060000Z-0001-b.txt", "second"),
        ("keeper", "20260922T050000Z-0001-a.txt", "first"),
    ):
        (tmp_path / person).mkdir(exist_ok=True)
        (tmp_path / person / name).write_text(f"{title}\n\nbody\n", encoding="utf-8")
    assert [(each.recipient, each.title) for each in inbox.fresh()] == [
        ("keeper", "first"),
        ("neighbour", "second"),
    ]
    assert inbox.fresh() == []
    assert inbox.count == 2
