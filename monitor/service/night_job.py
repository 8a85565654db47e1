"""The night report: written once per date at its local time, late rather than never."""

from __future__ import annotations

import logging
import threading
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, date, time
from zoneinfo import ZoneInfo

from apscheduler.schedulers.background import BackgroundScheduler
from apscheduler.triggers.base import BaseTrigger
from apscheduler.triggers.calendarinterval import CalendarIntervalTrigger
from apscheduler.triggers.cron import CronTrigger
from apscheduler.triggers.interval import IntervalTrigger

from monitor.errors import MonitorError, StoreError
from monitor.farm.forecast_cache import give_back_memory
from monitor.farm.night import HEARTBEAT_LOST, NightReader, last_night
from monitor.farm.today import keep_tasks, keep_todays_forecasts
from monitor.notify.policy import RecipientPolicy, night_report_messages
from monitor.notify.signals import Heartbeat
from monitor.settings.plan import Plan
from monitor.settings.schema import MessageSettings
from monitor.store import Store
from monitor.words.localizer import Localizer
from monitor.words.night import report_text

log = logging.getLogger(__name__)

SECOND_LOOK_MINUTES = 15
REPORT_JOB, SECOND_LOOK = "night report", "second look"
HEARTBEAT_JOB = "heartbeat"
FIRST_STARTED = "first_started_ms"


def send_if_due(store: Store, plan: Plan, policy: RecipientPolicy, now_ms: int) -> str | None:
    """Write the report of the newest night that is over, each recipient's in their language.

    Gives its text in the language of the site; None where it was written before, or is not wanted.
    """
    try:
        keep_todays_forecasts(store, plan, now_ms)
    except StoreError:
        raise
    except Exception:
        # The report says itself what cannot be worked out; it must go out all the same.
        log.exception("the day's forecasts could not be kept")
    span = last_night(plan, now_ms)
    store.reports.forget_ahead(span.date, now_ms)
    if (
        _first_started_ms(store, now_ms) >= span.end_ms
        or not plan.settings.report.enabled
        or store.reports.claimed(span.date)
    ):
        return None
    report = NightReader(store, plan, span, now_ms).report()
    if report.due is not None:
        keep_tasks(store, report.due.today, now_ms)
    night, title = date.fromisoformat(span.date), plan.settings.site.title
    messages = night_report_messages(policy, title, night, lambda words: report_text(report, words), now_ms)
    if not store.reports.claim(span.date, now_ms, messages):
        return None
    return report_text(report, Localizer.of_site(plan.settings, now_ms))


def _first_started_ms(store: Store, now_ms: int) -> int:
    """When the monitor began; a time in the future is from a clock that was ahead, and becomes now."""
    first = store.meta.get(FIRST_STARTED)
    if first is not None and int(first) <= now_ms:
        return int(first)
    if first is not None:
        store.meta.put(FIRST_STARTED, str(now_ms))
    return now_ms


def trigger_at(at: time, zone: ZoneInfo, first: date | None = None) -> BaseTrigger:
    """A trigger for one local time a day, from the first date on (today without one).

    The cron trigger skips the day after the spring change for times before 01:00, so these use the calendar
    trigger; the second look every quarter of an hour catches a time that a change of the clocks leaves out.
    """
    if at.hour == 0:
        return CalendarIntervalTrigger(
            days=1, hour=at.hour, minute=at.minute, start_date=first, timezone=zone
        )
    return CronTrigger(hour=at.hour, minute=at.minute, timezone=zone)


def note_heartbeat(store: Store, lost: bool, now_ms: int) -> None:
    """Keep since when the heartbeat is not taken, so that the night report can tell it."""
    before = store.meta.get(HEARTBEAT_LOST)
    if lost and not before:
        store.meta.put(HEARTBEAT_LOST, str(now_ms))
    elif before and not lost:
        store.meta.put(HEARTBEAT_LOST, "")


@dataclass(frozen=True, slots=True)
class NightReportWritten:
    """A night report went into the outbox."""

    text: str


class NightJob:
    """Runs `send` at the report's local time, then `tend`; nothing is missed while the machine slept."""

    def __init__(self, at: time, zone: ZoneInfo, send: Callable[[], None], tend: Callable[[], None]) -> None:
        self._send, self._tend = send, tend
        self._tending = threading.Lock()
        self._scheduler = BackgroundScheduler(timezone=zone, job_defaults={"misfire_grace_time": None})
        self._at, self._zone = at, zone
        self._scheduler.add_job(self._run, trigger_at(at, zone), id=REPORT_JOB)
        self._scheduler.add_job(self._run, self._again(), id=SECOND_LOOK)

    def start(self) -> None:
        """Start, and look at once whether something is due from before, without making the caller wait."""
        self._scheduler.add_job(self._run, id="first look")
        self._scheduler.start()

    def _again(self) -> IntervalTrigger:
        return IntervalTrigger(minutes=SECOND_LOOK_MINUTES, timezone=self._zone)

    def clock_was_set(self) -> None:
        """Reckon anew when the next looks are due, which else would wait for a time far ahead."""
        self.move_to(self._at, self._zone)
        self._scheduler.reschedule_job(SECOND_LOOK, trigger=self._again())

    def move_to(self, at: time, zone: ZoneInfo) -> None:
        self._at, self._zone = at, zone
        self._scheduler.reschedule_job(REPORT_JOB, trigger=trigger_at(at, zone))

    def stop(self) -> None:
        """Stop; a report that is being written is finished first."""
        self._scheduler.shutdown(wait=True)

    def _run(self) -> None:
        _guarded(self._send)
        # Two looks may meet, and copying a large database takes minutes: once at a time is enough.
        if self._tending.acquire(blocking=False):
            try:
                _guarded(self._tend)
            finally:
                self._tending.release()
        give_back_memory()


def _guarded(job: Callable[[], None]) -> None:
    try:
        job()
    except MonitorError as error:
        log.error("the night report or the housekeeping failed, it is tried again: %s", error)
    except Exception:
        log.exception("the night report or the housekeeping met an error of the program")


class Beats:
    """Calls the heartbeat address every few minutes while the service is healthy.

    `note` is told after each look whether the last call was lost.
    """

    def __init__(
        self,
        settings: MessageSettings,
        healthy: Callable[[], bool],
        note: Callable[[bool], None] = lambda lost: None,  # noqa: ARG005
    ) -> None:
        if settings.heartbeat_url is None:
            raise ValueError("a heartbeat needs an address")
        self.heartbeat = Heartbeat(settings.heartbeat_url, healthy)
        self._scheduler = BackgroundScheduler(timezone=UTC, job_defaults={"misfire_grace_time": None})
        self._minutes = settings.heartbeat_minutes
        self._note = note
        self._scheduler.add_job(self.beat, self._every(), id=HEARTBEAT_JOB)

    def _every(self) -> IntervalTrigger:
        return IntervalTrigger(minutes=self._minutes, timezone=UTC)

    def beat(self) -> None:
        """One call, and note what came of it."""
        self.heartbeat.beat()
        _guarded(lambda: self._note(self.heartbeat.lost))

    def clock_was_set(self) -> None:
        """Reckon anew when the next beat is due."""
        self._scheduler.reschedule_job(HEARTBEAT_JOB, trigger=self._every())

    def start(self) -> None:
        """Start; the first beat comes after one interval."""
        self._scheduler.start()

    def stop(self) -> None:
        """Stop without waiting for a beat that is under way."""
        self._scheduler.shutdown(wait=False)
