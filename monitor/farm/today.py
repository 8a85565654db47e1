"""What a day asks for: its tasks in order, each with the one entry that does it, and who did what.

Bins, walls and cohorts are worked out of the store when they are first looked at. That a task was done is
read from the logbook; only what leaves no entry there, a board or a copy looked after, has a tick of its own.
"""

from __future__ import annotations

import logging
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from datetime import date, datetime, time, timedelta
from enum import StrEnum
from functools import cached_property
from typing import TYPE_CHECKING, TypeVar
from urllib.parse import quote

from monitor.development.progress import Ending
from monitor.errors import MonitorError, PartFailed
from monitor.logbook.bin_entries import BinEntryKind
from monitor.logbook.cohort_entries import CohortEntryKind
from monitor.logbook.entry import in_force
from monitor.logbook.place_entries import PlaceEntryKind
from monitor.records import MS_PER_HOUR, Computed, LogbookEntry, SubjectKind, local
from monitor.settings.plan import Plan
from monitor.store import Store
from monitor.store.meta import DayTask

if TYPE_CHECKING:
    from monitor.climate.surfaces import SurfaceState
    from monitor.development.events import Event
    from monitor.farm.bins import BinsView, BinView, MoistureReader
    from monitor.farm.cohorts import DueEvent, ForecastView
    from monitor.farm.records import ActiveAlarm, BinMoisture, NodeRow

log = logging.getLogger(__name__)
Result = TypeVar("Result")

TODAY_H = 24.0
NIGHT_DRAWS = 500
LEAST_LITRES = 0.1
"""A bin that has room for less water is not asked to be watered."""

COPIES = frozenset({Computed.COPY_AGE_HOURS, Computed.COPY_BEHIND_HOURS, Computed.ARCHIVE_LAG_HOURS})
"""The alarms of the monitor that ask for a hand with a copy."""
BRAN = "bran"
"""Dry bran mixed in: an entry of the kind feed."""
WATER, STIR, WEIGH = BinEntryKind.WATER, BinEntryKind.STIR, BinEntryKind.WEIGH
SPREAD = "spread"
"""Stirred and spread thinner: an entry of the kind stir that says so."""
HELPS: Mapping[str, tuple[str, ...]] = {
    **dict.fromkeys(("too_hot", "hot_soon"), (STIR, SPREAD, WEIGH)),
    **dict.fromkeys(("too_dry", "dry", "dry_soon"), (WATER, WEIGH, STIR)),
    **dict.fromkeys(("wet", "too_wet"), (BinEntryKind.FEED, STIR, WEIGH)),
    "finishing": (WEIGH, STIR, BinEntryKind.EMPTY),
    "unknown": (BinEntryKind.TEST, WEIGH, STIR),
    **dict.fromkeys(("right", "no_limits"), (WEIGH, STIR, WATER)),
}
"""Which entries help in a state of a bin (`BinState`), the most helpful first: a hot bin is never watered
first, and a wet one never; dry bran against wetness is feed."""
CALLING = frozenset({"too_hot", "hot_soon", "too_dry", "dry", "dry_soon", "wet", "too_wet"})
"""The states in which the first of these entries is asked for; in the others all are equal."""

COOLS_MS = MS_PER_HOUR
"""For how long a hot bin that was stirred is not asked for again. Own choice."""


class TaskKind(StrEnum):
    """What a task asks for, in the order in which a day is worked through: heat kills within hours."""

    COOL = "cool"
    WATER = "water"
    DRY = "dry"
    ANSWER = "answer"
    SEE = "see"
    HARVEST = "harvest"
    COPY = "copy"
    BOARD = "board"


TICKED = frozenset({TaskKind.COPY, TaskKind.BOARD})
"""Tasks of which no entry of the logbook tells."""
LASTING = frozenset({TaskKind.SEE}) | TICKED
"""Tasks that are done for the day; the others are worked out anew with what was entered."""


@dataclass(frozen=True, slots=True)
class TaskEntry:
    """An entry that does a task: where its form is sent, and what its fields are filled with.

    `name` is the word of its button; `changeable` is the one field that a person may change, None for none.
    A value of None has to be typed.
    """

    name: str
    path: str
    fields: Mapping[str, str | float | None]
    changeable: str | None = None


@dataclass(frozen=True, slots=True)
class Done:
    """Who did a task and when; `entry` is what the logbook says of it, None for a tick of its own."""

    who: str
    at_ms: int
    entry: LogbookEntry | None = None


@dataclass(frozen=True, slots=True)
class Task:
    """One thing that a day asks for.

    `subject` is a place, a cohort, a board or an alarm of the monitor; `title` is its name for people, ""
    for an alarm, which the words name; `detail` is the event of a cohort.
    `about` is what it rests on: the bin, the event that is due, the board, the alarm; None once it is done,
    and for a question. `due_ms` is when it is due at the earliest, None for now. `entries` do it, the first
    one best; `leads_to` is the page of its subject.
    """

    kind: TaskKind
    subject: str
    leads_to: str
    title: str = ""
    detail: str = ""
    about: BinView | DueEvent | NodeRow | ActiveAlarm | None = field(default=None, compare=False)
    due_ms: int | None = None
    entries: tuple[TaskEntry, ...] = ()
    done: Done | None = None

    @property
    def key(self) -> str:
        """What names it on its day."""
        return ":".join((self.kind, self.subject, self.detail)).rstrip(":")


@dataclass(frozen=True, slots=True)
class Today:
    """The tasks of a local day: what is left, in order, and what was done, the newest first.

    Of a day that is over `left` is what was asked for and was not done.
    """

    day: str
    left: tuple[Task, ...]
    done: tuple[Task, ...]


@dataclass(frozen=True, slots=True)
class DampSurface:
    """The coldest surface of one place, now."""

    title: str
    state: SurfaceState


@dataclass(frozen=True, slots=True)
class DueToday:
    """What a day asks for. Bins and forecast are None where the logbook has none, or an error says why."""

    bins: BinsView | None = None
    bins_error: MonitorError | None = None
    surfaces: tuple[DampSurface, ...] = ()
    forecast: ForecastView | None = None
    forecast_error: MonitorError | None = None
    surfaces_error: MonitorError | None = None
    today: Today = field(default_factory=lambda: Today("", (), ()))


class Outlook:
    """Bins, walls and cohorts of a site at a moment; each is read when it is first looked at.

    `bins` and `forecast` give bins and cohorts where they are kept already; with `known_ms` it is as far as
    was known then.
    """

    def __init__(
        self,
        store: Store,
        plan: Plan,
        at_ms: int,
        bins: Callable[[], BinsView] | None = None,
        known_ms: int | None = None,
        forecast: Callable[[], ForecastView] | None = None,
    ) -> None:
        self._store, self._plan, self._at_ms, self._bins = store, plan, at_ms, bins
        self._known_ms, self._forecast = known_ms, forecast
        self._moistures: dict[str, BinMoisture | None] = {}

    @cached_property
    def bins(self) -> BinsView | None:
        """The filled bins in the order in which they need water; None where no bin was ever entered."""
        from monitor.farm.bins import bins_view

        if not self._has_bins:
            return None
        return (
            bins_view(self._store, self._plan, self._at_ms, self._known_ms)
            if self._bins is None
            else self._bins()
        )

    @cached_property
    def _has_bins(self) -> bool:
        return bool(self._store.logbook.in_force(SubjectKind.BIN))

    def moisture_of(self, place: str) -> BinMoisture | None:
        """The moisture of a filled bin; None where it is not filled, or cannot be worked out."""
        if place not in self._moistures:
            self._moistures[place], _ = _attempt(lambda: self._moisture_of(place))
        return self._moistures[place]

    def _moisture_of(self, place: str) -> BinMoisture | None:
        """From the bins where they are kept; else alone, since looking ahead takes most of their time."""
        if self._bins is None and self._known_ms is None:
            return self._moisture_reader.of(place) if self._has_bins else None
        view = None if self.bins is None else self.bins.of(place)
        return None if view is None else view.moisture

    @cached_property
    def _moisture_reader(self) -> MoistureReader:
        from monitor.farm.bins import MoistureReader

        return MoistureReader(self._store, self._plan, self._at_ms)

    @cached_property
    def forecast(self) -> ForecastView | None:
        """The living cohorts with what is due; None where no cohort was ever entered."""
        from monitor.farm.cohorts import forecast_view

        entered = self._store.logbook.newest_id()
        if not entered:
            return None
        if self._forecast is not None:
            return self._forecast()
        return forecast_view(self._store, self._plan, self._at_ms, NIGHT_DRAWS, self._known_ms)

    @cached_property
    def surfaces(self) -> tuple[DampSurface, ...]:
        """The surfaces of all places of which a surface is measured, or said to be so much colder."""
        from monitor.farm.place_reader import PlaceReader

        reader = PlaceReader(self._store, self._plan, self._at_ms)
        states = (
            (self._plan.title(place.id), reader.surface(place.id))
            for place in self._plan.settings.places
            if not place.empty
        )
        return tuple(DampSurface(title, state) for title, state in states if state is not None)

    def today(self, boards: Iterable[NodeRow] = (), alarms: Iterable[ActiveAlarm] = ()) -> DueToday:
        """All of it, with the error in place of what cannot be worked out."""
        bins, bins_error = _attempt(lambda: self.bins)
        forecast, forecast_error = _attempt(lambda: self.forecast)
        surfaces, surfaces_error = _attempt(lambda: self.surfaces)
        tasks = self.tasks(boards, alarms)
        return DueToday(
            bins, bins_error, surfaces or (), forecast, forecast_error, surfaces_error, today=tasks
        )

    def tasks(self, boards: Iterable[NodeRow] = (), alarms: Iterable[ActiveAlarm] = ()) -> Today:
        """The day's tasks, of bins and cohorts as far as these can be worked out."""
        day = day_of(self._at_ms, self._plan)
        end_ms = self._at_ms if self._known_ms is None else self._known_ms
        done = _done(self._store, self._plan, day, end_ms)
        bins, forecast = _attempt(lambda: self.bins)[0], _attempt(lambda: self.forecast)[0]
        open_tasks = (
            *([] if bins is None else (task for view in bins.bins for task in _bin_tasks(view, self._at_ms))),
            *_questions(self._plan),
            *([] if forecast is None else _due_tasks(forecast)),
            *_hands(boards, alarms),
        )
        left = [task for task in open_tasks if not any(_does(each, task, self._at_ms) for each in done)]
        return Today(day.isoformat(), tuple(sorted(left, key=_rank)), tuple(done))


def _rank(task: Task) -> int:
    return list(TaskKind).index(task.kind)


def day_of(at_ms: int, plan: Plan) -> date:
    """The local day of a moment."""
    return local(at_ms, plan.zone).date()


def earlier_day(store: Store, plan: Plan, day: date, now_ms: int) -> Today:
    """A day that is over: who did what, and what was asked for and not done."""
    done = tuple(_done(store, plan, day, now_ms))
    keys = {task.key for task in done}
    kept = store.day_tasks.of(day.isoformat())
    left = (_kept_task(row, plan) for row in kept if row.done_ms is None and row.task not in keys)
    return Today(day.isoformat(), tuple(left), done)


def _kept_task(row: DayTask, plan: Plan) -> Task:
    name, subject, detail = (*row.task.split(":"), "")[:3]
    kind = TaskKind(name)
    return Task(kind, subject, _page_of(kind, subject), _title(kind, subject, plan), detail)


def _title(kind: TaskKind, subject: str, plan: Plan) -> str:
    if kind is TaskKind.COPY:
        return ""
    return plan.title(subject) if subject in plan.places else subject


def _page_of(kind: TaskKind, subject: str) -> str:
    match kind:
        case TaskKind.SEE:
            return f"/cohorts/{quote(subject)}"
        case TaskKind.ANSWER:
            return f"/places/{subject}"
        case TaskKind.COPY:
            return "/alarms"
        case TaskKind.BOARD:
            return "/nodes"
    return f"/bins/{subject}"


def _midnight_ms(day: date, plan: Plan) -> int:
    return round(datetime.combine(day, time(), plan.zone).timestamp() * 1000)


DOES: Mapping[tuple[SubjectKind, str], TaskKind] = {
    (SubjectKind.BIN, BinEntryKind.STIR): TaskKind.COOL,
    (SubjectKind.BIN, BinEntryKind.WATER): TaskKind.WATER,
    (SubjectKind.BIN, BinEntryKind.FEED): TaskKind.DRY,
    (SubjectKind.BIN, BinEntryKind.EMPTY): TaskKind.HARVEST,
    (SubjectKind.COHORT, CohortEntryKind.SAW): TaskKind.SEE,
    (SubjectKind.COHORT, CohortEntryKind.FLIES): TaskKind.SEE,
    (SubjectKind.COHORT, CohortEntryKind.END): TaskKind.HARVEST,
    (SubjectKind.PLACE, PlaceEntryKind.EMPTY): TaskKind.ANSWER,
    (SubjectKind.PLACE, PlaceEntryKind.IN_USE): TaskKind.ANSWER,
}
"""Which task an entry of the logbook does."""


def _done(store: Store, plan: Plan, day: date, until_ms: int) -> list[Task]:
    """What was done on a day, by its entries and its ticks, the newest first."""
    start_ms, end_ms = _midnight_ms(day, plan), _midnight_ms(day + timedelta(days=1), plan)
    known = (entry for entry in store.logbook.entered_since(start_ms) if entry.entered_ms <= until_ms)
    by_entry = [
        _done_task(DOES[entry.subject_kind, entry.kind], entry, plan)
        for entry in in_force(known)
        if (entry.subject_kind, entry.kind) in DOES and start_ms <= entry.at_ms < end_ms
    ]
    by_tick = [
        _ticked(_kept_task(row, plan), Done(row.who, row.done_ms))
        for row in store.day_tasks.of(day.isoformat())
        if row.done_ms is not None and row.done_ms <= until_ms
    ]
    return sorted((*by_entry, *by_tick), key=lambda task: -(task.done.at_ms if task.done else 0))


def _done_task(kind: TaskKind, entry: LogbookEntry, plan: Plan) -> Task:
    event = str(entry.body.get("event") or "") if kind is TaskKind.SEE else ""
    page = f"/cohorts/{quote(entry.subject)}" if entry.subject_kind is SubjectKind.COHORT else ""
    done = Done(entry.author, entry.at_ms, entry)
    title = _title(kind, entry.subject, plan)
    return Task(kind, entry.subject, page or _page_of(kind, entry.subject), title, event, done=done)


def _ticked(task: Task, done: Done) -> Task:
    return replace(task, done=done)


def _bin_tasks(view: BinView, now_ms: int) -> Iterator[Task]:
    """What one bin asks for: first what its state asks for, then its harvest."""
    outlook, kind, due_ms = view.outlook, None, None
    if view.heat is not None and view.heat.is_hot:
        kind = TaskKind.COOL
    elif outlook is not None and view.bands is not None and not outlook.finishing:
        if outlook.zone.value in ("wet", "too_wet"):
            kind = TaskKind.DRY
        elif needs_water_today(view) and outlook.to_warning is not None:
            kind = TaskKind.WATER
            due_ms = now_ms + round(max(outlook.to_warning.earliest_h, 0.0) * MS_PER_HOUR)
    if kind is not None:
        helping = {TaskKind.COOL: (STIR, SPREAD), TaskKind.DRY: (BinEntryKind.FEED,)}.get(kind, (WATER,))
        entries = tuple(bin_entry(view, name) for name in helping)
        yield _about_bin(kind, view, due_ms, entries)
    harvest = view.harvest
    if harvest is not None and (harvest.is_past or _within_a_day(harvest.ripe_ms, now_ms)):
        fields = {"kind": BinEntryKind.EMPTY, "how": Ending.HARVESTED, "grams": None}
        emptied = (TaskEntry("harvest", f"/bins/{view.place}/write", fields, "grams"),)
        yield _about_bin(TaskKind.HARVEST, view, harvest.ripe_ms, emptied)


def _does(done: Task, task: Task, now_ms: int) -> bool:
    """Whether what was done does a task that is worked out still: a stirred bin stays hot for a while."""
    if done.subject != task.subject or done.done is None:
        return False
    if done.kind is TaskKind.COOL:
        return task.kind is TaskKind.COOL and now_ms - done.done.at_ms < COOLS_MS
    return done.kind is TaskKind.HARVEST or (done.kind in LASTING and done.detail == task.detail)


def _about_bin(kind: TaskKind, view: BinView, due_ms: int | None, entries: tuple[TaskEntry, ...]) -> Task:
    page = f"/bins/{view.place}"
    return Task(kind, view.place, page, title=view.title, about=view, due_ms=due_ms, entries=entries)


def _within_a_day(at_ms: int | None, now_ms: int) -> bool:
    return at_ms is not None and at_ms - now_ms < TODAY_H * MS_PER_HOUR


def bin_entry(view: BinView, name: str) -> TaskEntry:
    """One entry about a bin as its form is filled: litres and bran as they are proposed."""
    path, outlook = f"/bins/{view.place}/write", view.outlook
    if name == SPREAD:
        return TaskEntry(name, path, {"kind": STIR, SPREAD: "on"})
    fields: dict[str, str | float | None] = {"kind": name}
    if name == WATER:
        wanted = outlook is not None and outlook.litres >= LEAST_LITRES
        fields["kg"] = round(outlook.litres, 1) if wanted and outlook is not None else None
        return TaskEntry(name, path, fields, "kg")
    if name == BinEntryKind.FEED and outlook is not None and outlook.bran_kg > 0.0:
        bran = view.fill.facts.substrate.bran_moisture
        return TaskEntry(BRAN, path, {**fields, "kg": round(outlook.bran_kg, 1), "moisture": bran}, "kg")
    return TaskEntry(name, path, fields)


def helping(view: BinView) -> tuple[str, ...]:
    """The names of the entries that help in the state of a bin, the most helpful first."""
    return HELPS[view.state]


def _questions(plan: Plan) -> Iterator[Task]:
    """Places of which a person should say whether they are empty."""
    for place in plan.settings.places:
        if plan.words_of(place.id).asks:
            page = f"/places/{place.id}"
            answers = (TaskEntry(name, f"{page}/{name}", {}) for name in ("in-use", "empty"))
            yield Task(TaskKind.ANSWER, place.id, page, plan.title(place.id), entries=tuple(answers))


def _due_tasks(forecast: ForecastView) -> Iterator[Task]:
    """The event of each cohort that should be looked for: what is due today, or overdue."""
    for due in (*forecast.overdue, *forecast.today):
        yield Task(
            TaskKind.SEE,
            due.cohort,
            f"/cohorts/{quote(due.cohort)}",
            due.cohort,
            due.event.value,
            about=due,
            due_ms=due.median_ms,
            entries=(saw_entry(due.cohort, due.event),),
        )


def saw_entry(cohort: str, event: Event) -> TaskEntry:
    """That an event of a cohort was seen now."""
    fields = {"kind": CohortEntryKind.SAW, "event": event.value}
    return TaskEntry("saw", f"/cohorts/{quote(cohort)}/write", fields)


def _hands(boards: Iterable[NodeRow], alarms: Iterable[ActiveAlarm]) -> Iterator[Task]:
    """Copies and boards that need a hand, those never heard as one; a strange board has no own page."""
    for alarm in alarms:
        if alarm.stands and alarm.rule.quantity in COPIES:
            yield _hand(TaskKind.COPY, alarm.rule.quantity, alarm)
    care = [board for board in boards if board.needs_care and board.aside is None]
    unheard = [board for board in care if board.known and not board.heard]
    if unheard:
        yield _hand(TaskKind.BOARD, ", ".join(board.facts.node for board in unheard), unheard[0])
    for board in (each for each in care if each not in unheard):
        page = f"/boards/{quote(board.facts.node)}" if board.known else ""
        yield _hand(TaskKind.BOARD, board.facts.node, board, page)


def _hand(kind: TaskKind, subject: str, about: ActiveAlarm | NodeRow, page: str = "") -> Task:
    tick = TaskEntry("tick", "/today/tick", {"task": f"{kind}:{subject}"})
    title = "" if kind is TaskKind.COPY else subject
    return Task(kind, subject, page or _page_of(kind, subject), title, about=about, entries=(tick,))


def keep_tasks(store: Store, today: Today, now_ms: int) -> None:
    """Keep what a day asked for, so that it can be seen later what was not done."""
    store.day_tasks.keep(today.day, [task.key for task in today.left], now_ms)


def new_tasks(store: Store, today: Today) -> bool:
    """Whether a day asks for something that is not kept yet."""
    kept = {row.task for row in store.day_tasks.of(today.day)}
    return any(task.key not in kept for task in today.left)


def _attempt(work: Callable[[], Result]) -> tuple[Result | None, MonitorError | None]:
    """What a part gives, or why it gives nothing: one that fails must not end the others."""
    try:
        return work(), None
    except MonitorError as error:
        return None, error
    except Exception as error:
        log.exception("a part of what a day asks for could not be worked out")
        return None, PartFailed(error)


def needs_water_today(view: BinView) -> bool:
    """Whether it may fall below the dry warning within a day, and has room for water."""
    moisture = view.outlook
    if moisture is None or moisture.to_warning is None or view.bands is None:
        return False
    return moisture.litres >= LEAST_LITRES and moisture.to_warning.earliest_h < TODAY_H


NOTHING_TO_KEEP = "no_forecasts"


def keep_todays_forecasts(store: Store, plan: Plan, now_ms: int) -> int:
    """Keep the day's forecasts unless that was done; gives how many. Call it as often as you like.

    Where there is nothing to keep that is remembered until the day or the logbook changes, since finding it
    out takes a forecast.
    """
    from monitor.farm.cohorts import keep_forecasts
    from monitor.farm.development import develop, local_day

    day, newest = local_day(now_ms, plan), store.logbook.newest_id()
    mark = f"{day} {newest}"
    if store.forecasts.has(day) or not newest or store.meta.get(NOTHING_TO_KEEP) == mark:
        return 0
    kept = keep_forecasts(store, develop(store, plan, now_ms))
    if not kept:
        store.meta.put(NOTHING_TO_KEEP, mark)
    return kept
