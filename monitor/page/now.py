"""Now: is anything wrong, what to do, the day's tasks; one place, and what a person says of it."""

from __future__ import annotations

import secrets
import time
from collections.abc import Iterable, Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass
from datetime import date, timedelta
from functools import partial
from operator import attrgetter
from urllib.parse import quote

from starlette.responses import RedirectResponse, Response

from monitor.development.events import Event
from monitor.errors import StoreError, UsageError
from monitor.farm.cohorts import CohortView, ForecastView
from monitor.farm.curves import SPANS, ChartSpan, span_ending
from monitor.farm.places import SiteReader
from monitor.farm.records import ActiveAlarm, PlaceNow, PlaceState
from monitor.farm.today import TICKED, Task, TaskEntry, Today, day_of, earlier_day, keep_tasks, new_tasks
from monitor.logbook.cohort_entries import CohortEntryKind
from monitor.logbook.entry import in_force
from monitor.logbook.place_entries import PlaceEntryKind
from monitor.page.alarms import ASIDE_MINUTES, AlarmCard, alarm_card, journal
from monitor.page.bins import bin_buttons, bins_now
from monitor.page.curves import Curve, curve
from monitor.page.entries import LONGEST_NOTE, Field, FieldType, entry_writer, text_of
from monitor.page.logbook import just_written
from monitor.page.photos import photo_field, receive
from monitor.page.serving import Access, Page, RequestContext, local_path, outcome_words, problem
from monitor.records import MS_PER_HOUR, MS_PER_MINUTE, Quantity, SensorKey, Stage, SubjectKind
from monitor.words import guard as guard_words
from monitor.words import places as place_words
from monitor.words import today as today_words
from monitor.words.alarms import JournalRow
from monitor.words.localizer import Localizer, day

JOURNAL_ROWS = 12
MOST_CURVES = 12
FOLLOWED_S, POLL_S = 1.0, 0.05
"""For how long the page waits until the service follows an entry."""
_QUANTITIES = [quantity.value for quantity in Quantity]


@dataclass(frozen=True, slots=True)
class Choice:
    """One length of time to choose."""

    name: str
    words: str
    chosen: bool


_AMOUNTS: Mapping[tuple[str, str], tuple[FieldType, str]] = {
    ("water", "kg"): (FieldType.LITRES, "task_do.litres"),
    ("bran", "kg"): (FieldType.KILOGRAMS, "task_do.kilograms"),
    ("bran", "moisture"): (FieldType.SHARE, ""),
    ("harvest", "grams"): (FieldType.GRAMS, "task_do.grams"),
}
_BUTTONS: Mapping[str, str] = {"in-use": "guard.still_do", "empty": "guard.empty_do"}


@dataclass(frozen=True, slots=True)
class TaskForm:
    """An entry that does a task as a form of one button; `amount` is its field to change: key, text, unit."""

    path: str
    button: str
    fields: tuple[tuple[str, str], ...]
    amount: tuple[str, str, str] | None


@dataclass(frozen=True, slots=True)
class TaskRow:
    """A task that is left: what it is, whereto it leads, why, and the forms that do it."""

    name: str
    title: str
    link: str
    why: str
    forms: tuple[TaskForm, ...]


def task_row(task: Task, request: RequestContext) -> TaskRow:
    """A task as the page shows it; what only the owner may say is left out for others."""
    words = request.words
    asked = (each for each in task.entries if each.name != "empty" or request.session.owner)
    return TaskRow(
        today_words.task_name(task, words),
        today_words.subject_text(task, words),
        task.leads_to,
        today_words.why(task, words),
        tuple(_task_form(each, words) for each in asked),
    )


def _task_form(entry: TaskEntry, words: Localizer) -> TaskForm:
    shown = {key: _shown(entry.name, key, value, words) for key, value in entry.fields.items()}
    amount = None
    if entry.changeable is not None:
        unit = words.t(_AMOUNTS[entry.name, entry.changeable][1])
        amount = entry.changeable, shown.pop(entry.changeable), unit
    button = words.t(_BUTTONS.get(entry.name, f"task_do.{entry.name}"))
    return TaskForm(entry.path, button, tuple(shown.items()), amount)


def _shown(name: str, key: str, value: object, words: Localizer) -> str:
    field_type = _AMOUNTS.get((name, key), (FieldType.TEXT, ""))[0]
    return text_of(Field(key, field_type), value, words)


def _reader(request: RequestContext) -> SiteReader:
    return SiteReader(
        *(request.store, request.plan, request.now_ms),
        partial(bins_now, request),
        partial(cohorts_at_hand, request),
    )


def cohorts_at_hand(request: RequestContext) -> ForecastView:
    """The cohorts as far as they are at hand: nobody waits here for what the newest entry changes."""
    context = request.app.context
    ahead = context.forecasts.cohorts_at_hand(request.store, request.plan, request.now_ms, context.reading)
    return ahead.forecast


def _keep(request: RequestContext, today: Today) -> None:
    """Keep what the day asks for; while the disk is full it is shown all the same."""
    if new_tasks(request.store, today):
        with suppress(StoreError), request.app.context.writing() as store:
            keep_tasks(store, today, request.now_ms)


def quick_links(request: RequestContext) -> list[tuple[str, str]]:
    """What is written down most often beside the tasks: words and address, of the likeliest cohort."""
    views = (
        sorted(cohorts_at_hand(request).cohorts, key=_until_flies)
        if request.store.logbook.newest_id()
        else []
    )
    kind = CohortEntryKind
    coming = next((view for view in views if not _flies(view)), None)
    found = (
        (
            ("task_do.first_flies", coming, f"{kind.SAW}&event={Event.FIRST_EMERGED}"),
            *(("task_do.flies", views[0], kind.FLIES), ("task_do.eggs", views[0], kind.EGGS)),
            ("task_do.move", _next_moved(views), kind.MOVE),
        )
        if views
        else ()
    )
    links = [
        (request.words.t(key), f"/cohorts/{quote(view.cohort.name)}/write?what={what}")
        for key, view, what in found
        if view is not None
    ]
    t = request.words.t
    return [*links, (t("task_do.start"), "/cohorts/start"), (t("task_do.correct"), "/logbook")]


def _flies(view: CohortView) -> bool:
    began = view.cohort.track.start_stage
    return Stage.ADULT in (view.stage, began) or any(event is Event.FIRST_EMERGED for event, _ in view.seen)


def _until_flies(view: CohortView) -> tuple[bool, bool, float]:
    """Those that are wanted for their flies first, those that fly before the others, then by the day."""
    first = None if view.forecast is None else view.forecast.event(Event.FIRST_EMERGED)
    never_ms = float("-inf") if _flies(view) else float("inf")
    return view.for_feed, not _flies(view), never_ms if first is None else first.median_ms


def _next_moved(views: list[CohortView]) -> CohortView | None:
    """The cohort that is likeliest to be moved: one whose planned move is not confirmed, else the first."""
    late = (view for view in views if view.forecast and view.cohort.unconfirmed_move(view.forecast.made_ms))
    return next(late, views[0])


def show_now(request: RequestContext) -> Response:
    """The page."""
    reader = _reader(request)
    site, today = reader.site(), reader.today()
    _keep(request, today)
    by_state = {state: [place for place in site.places if place.state is state] for state in PlaceState}
    fine, empty = by_state.pop(PlaceState.FINE), by_state.pop(PlaceState.EMPTY)
    need = [place for places in by_state.values() for place in places]
    return request.render(
        "now.html",
        site=site,
        place_words=place_words,
        guard_words=guard_words,
        need=[place for place in need if _is_open(place, need)],
        folded=[place for place in need if not _is_open(place, need)],
        fine=fine,
        empty=empty,
        cards={place.id: _cards(place.alarms, request) for place in site.places},
        site_cards=_cards(site.own_alarms, request),
        tasks=[task_row(task, request) for task in today.left if task.kind not in TICKED],
        hands=[task_row(task, request) for task in today.left if task.kind in TICKED],
        done=_done_rows(today, request),
        quick=quick_links(request),
        said=outcome_words(request) or just_written(request),
        mark=secrets.token_urlsafe(9),
    )


def _is_open(place: PlaceNow, need: list[PlaceNow]) -> bool:
    """Whether its card is shown whole: the worst one, and what kills within hours; the day's work is near."""
    return place is need[0] or place.state is PlaceState.HIGH


def _done_rows(today: Today, request: RequestContext) -> list[tuple[str, str, int | None]]:
    """What was done: in words, whereto it leads, and the entry that can be corrected."""
    return [
        (
            today_words.done_text(task, request.words),
            task.leads_to,
            None if task.done is None or task.done.entry is None else task.done.entry.entry_id,
        )
        for task in today.done
    ]


def show_day(request: RequestContext) -> Response:
    """A day: who did what, and what was not done. Without a day in the address yesterday."""
    now = day_of(request.now_ms, request.plan)
    try:
        chosen = date.fromisoformat(request.query("day"))
    except ValueError:
        chosen = now - timedelta(days=1)
    if chosen > now:
        return problem(request, 404, "problem.not_here")
    past = earlier_day(request.store, request.plan, chosen, request.now_ms)
    before, after = chosen - timedelta(days=1), chosen + timedelta(days=1)
    return request.render(
        "day.html",
        day=day(request.words, _noon_ms(chosen, request)),
        done=_done_rows(past, request),
        left=[(today_words.task_text(task, request.words), task.leads_to) for task in past.left],
        before=before.isoformat(),
        after=after.isoformat() if after < now else "",
    )


def _noon_ms(chosen: date, request: RequestContext) -> int:
    days = (day_of(request.now_ms, request.plan) - chosen).days
    return request.now_ms - days * 24 * MS_PER_HOUR


def tick(request: RequestContext) -> Response:
    """A copy or a board was looked after: no entry of the logbook tells of it.

    It counts for the day on which that was said, however late a phone hands it in; the first one stays.
    """
    wanted, day = request.field("task", 120), day_of(request.made_ms, request.plan)
    if wanted not in _can_be_ticked(request, day):
        return problem(request, 409, "today.no_such")
    who = request.session.name or request.words.t(f"role.{request.session.role}")
    with request.app.context.writing() as store:
        store.day_tasks.tick(day.isoformat(), wanted, who, request.made_ms)
    request.app.context.feed.note()
    return RedirectResponse("/", 303)


def _can_be_ticked(request: RequestContext, day: date) -> set[str]:
    """What that day asked for and no entry tells of."""
    rows = request.store.day_tasks.of(day.isoformat()) if request.waited else ()
    # A copy that worked again meanwhile is no task any more; on the phone it was one.
    asked = {row.task for row in rows if row.task.partition(":")[0] in TICKED}
    if day != day_of(request.now_ms, request.plan):
        return asked
    today = _reader(request).today()
    return asked | {task.key for task in (*today.left, *today.done) if task.kind in TICKED}


def _cards(alarms: Iterable[ActiveAlarm], request: RequestContext) -> list[AlarmCard]:
    return [alarm_card(alarm, request.plan, request.words) for alarm in alarms]


def show_place(request: RequestContext) -> Response:
    """The page of a place."""
    place_id = request.http.path_params["place"]
    if place_id not in request.plan.places:
        return problem(request, 404, "problem.not_here")
    span = SPANS.get(request.query("span"), SPANS["24h"])
    place = _reader(request).place(place_id)
    return request.render(
        "place.html",
        place=place,
        buttons=bin_buttons(place.bin, request.words) if place.bin is not None else (),
        cohorts=[view.cohort.name for view in place.cohorts],
        place_words=place_words,
        guard_words=guard_words,
        cards=_cards(place.alarms, request),
        choices=[Choice(name, request.words.t(f"span.{name}"), name == span.name) for name in SPANS],
        curves=list(_curves(request, place, span)),
        journal=_journal(request, place_id),
        aside_minutes=ASIDE_MINUTES,
        said=outcome_words(request) or just_written(request),
        mark=secrets.token_urlsafe(9),
        photo=photo_field(request),
    )


def _curves(request: RequestContext, place: PlaceNow, span: ChartSpan) -> Iterator[Curve]:
    bounds_ms = span_ending(span, request.now_ms, request.plan.zone)
    sensors = sorted((current.sensor for current in place.current), key=_rank)
    for sensor in sensors[:MOST_CURVES]:
        yield curve(request, place.id, sensor, span, bounds_ms)


def _rank(sensor: SensorKey) -> tuple[int, SensorKey]:
    known = sensor.quantity in _QUANTITIES
    return _QUANTITIES.index(sensor.quantity) if known else len(_QUANTITIES), sensor


def _journal(request: RequestContext, place_id: str) -> list[JournalRow]:
    rules = [rule.alarm_id for rule in request.plan.rules.values() if rule.place == place_id]
    rows = [row for name in rules for row in request.store.journal.last(JOURNAL_ROWS, name)]
    newest = sorted(rows, key=lambda row: row.at_ms, reverse=True)[:JOURNAL_ROWS]
    return journal(request, newest)


# What a person says of a place: empty, in use, put aside for a while. A doubt is asked once.


def say_empty(request: RequestContext) -> Response:
    """No animals are in it; where something speaks against that, a second step asks."""
    place = _place_of(request)
    if place is None:
        return problem(request, 404, "problem.not_here")
    reader = SiteReader(request.store, request.plan, request.now_ms, partial(bins_now, request))
    odd = guard_words.doubts(reader.place(place), request.words)
    if odd and request.field("confirmed") != "yes":
        return request.render(
            "guard.html",
            place=place,
            title=request.plan.title(place),
            odd=odd,
            note=request.field("note", LONGEST_NOTE),
            leave=local_path(request.field("back")) or f"/places/{place}",
            mark=request.mark or secrets.token_urlsafe(9),
        )
    return _say(request, place, PlaceEntryKind.EMPTY)


def say_in_use(request: RequestContext) -> Response:
    """Animals are in it, whatever was said before."""
    place = _place_of(request)
    if place is None:
        return problem(request, 404, "problem.not_here")
    return _say(request, place, PlaceEntryKind.IN_USE)


def say_aside(request: RequestContext) -> Response:
    """Put aside for a stated time; the guard comes back by itself."""
    place, minutes = _place_of(request), request.field("minutes")
    if place is None:
        return problem(request, 404, "problem.not_here")
    if minutes not in {str(choice) for choice in ASIDE_MINUTES}:
        raise UsageError(request.words.t("guard.minutes_wrong"))
    until_ms = request.made_ms + int(minutes) * MS_PER_MINUTE
    if until_ms <= request.now_ms:
        raise UsageError(request.words.t("guard.aside_over", at=request.words.moment(until_ms)))
    _refuse_in_use_since(request, place)
    receive(request)
    return _say(request, place, PlaceEntryKind.ASIDE, until_ms)


def _refuse_in_use_since(request: RequestContext, place: str) -> None:
    """Others said meanwhile that animals are in it: a form that waited on a phone does not undo that."""
    said = in_force(request.store.logbook.every(SubjectKind.PLACE, place)) if request.waited else ()
    after = (entry for entry in said if entry.kind == PlaceEntryKind.IN_USE and entry.at_ms > request.made_ms)
    newest = max(after, key=attrgetter("at_ms"), default=None)
    if newest is not None:
        at = request.words.moment(newest.at_ms)
        raise UsageError(request.words.t("guard.in_use_since", who=newest.author, at=at))


def _place_of(request: RequestContext) -> str | None:
    place = str(request.http.path_params["place"])
    return place if place in request.plan.places else None


def _say(request: RequestContext, place: str, kind: PlaceEntryKind, until_ms: int | None = None) -> Response:
    """Write it once, wait until the service follows it, and go back to where the form came from."""
    back = local_path(request.field("back")) or f"/places/{place}"

    body = {"note": request.field("note", LONGEST_NOTE), "until_ms": until_ms}
    with entry_writer(request) as writer:
        written = writer.write(place, kind, request.made_ms, body).entry_id or 0
    until = time.monotonic() + FOLLOWED_S
    while request.app.context.plan().words_of(place).newest_entry < written and time.monotonic() < until:
        time.sleep(POLL_S)
    request.app.context.feed.note()
    return RedirectResponse(f"{back}?wrote={written}", 303)


NOW_PAGE = Page("/", get=show_now)
DAY_PAGES = (Page("/today", get=show_day), Page("/today/tick", post=tick))
PLACE_PAGE = Page("/places/{place}", get=show_place)
GUARD_PAGES = (
    Page("/places/{place}/empty", post=say_empty, post_access=Access.OWNER),
    Page("/places/{place}/aside", post=say_aside, post_access=Access.OWNER, photo=True),
    Page("/places/{place}/in-use", post=say_in_use),
)
