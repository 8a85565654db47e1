"""Now: is anything wrong, what to do, the day's tasks; one place, and what is said of it; and the night."""

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

from markupsafe import Markup
from starlette.responses import RedirectResponse, Response

from monitor.charts.curve import STRIP_VALUES, Chart, draw_strip, time_ticks, values_to_show
from monitor.development.events import Event
from monitor.errors import StoreError, UsageError
from monitor.farm.book import cages_of
from monitor.farm.cohorts import CohortView, ForecastView
from monitor.farm.night import NightReader, newest_night, night_of, running_day
from monitor.farm.night_alarms import week_of
from monitor.farm.night_records import PlaceNight, Span
from monitor.farm.place_reader import SPANS, ChartSpan, Points, span_ending, thinned
from monitor.farm.places import SiteReader
from monitor.farm.records import ActiveAlarm, PlaceNow, PlaceState
from monitor.farm.today import TICKED, Task, TaskEntry, Today, day_of, earlier_day, keep_tasks, new_tasks
from monitor.logbook.cohort_entries import CohortEntryKind
from monitor.logbook.entry import in_force
from monitor.logbook.place_entries import PlaceEntryKind
from monitor.logbook.yield_entries import YieldEntryKind
from monitor.page.alarms import ASIDE_MINUTES, AlarmCard, alarm_card, journal
from monitor.page.bins import bin_buttons, bins_now
from monitor.page.curves import Curve, as_seen, curve, described, safe_range
from monitor.page.entries import LONGEST_NOTE, Field, FieldType, entry_writer, text_of
from monitor.page.logbook import just_written
from monitor.page.photos import photo_field, receive
from monitor.page.serving import Access, Page, Part, RequestContext, drawn, local_path, outcome_words, problem
from monitor.page.yields import cage_links, place_lines, yields_ahead_of
from monitor.records import (
    MS_PER_HOUR,
    MS_PER_MINUTE,
    MS_PER_SECOND,
    PlaceKind,
    Quantity,
    SensorKey,
    Stage,
    SubjectKind,
)
from monitor.words import boards as board_words
from monitor.words import guard as guard_words
from monitor.words import night as night_words
from monitor.words import places as place_words
from monitor.words import today as today_words
from monitor.words.alarms import JournalRow
from monitor.words.localizer import Localizer, day
from monitor.words.yields import turned_lines

JOURNAL_ROWS, MOST_CURVES = 12, 12
FOLLOWED_S, POLL_S = 1.0, 0.05
"""For how long the page waits until the service follows an entry."""
EARLIEST = date(2000, 1, 1)
NIGHTS, STRIP_POINTS = 7, 120
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
            ("task_do.flies", views[0], kind.FLIES),
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
    collected = [
        (t("task_do.eggs"), cage_links(cage, request.words)[0][1]) for cage in _cage_of(request, views)
    ]
    return [*links, *collected, (t("task_do.start"), "/cohorts/start"), (t("task_do.correct"), "/logbook")]


def _cage_of(request: RequestContext, views: list[CohortView]) -> list[str]:
    """The cage from which eggs are likeliest collected, none where the farm has none."""
    cages = cages_of(request.plan)
    known = [view.cohort.cage for view in views if view.cohort.cage in cages]
    return [str(each) for each in (*known, *cages)][:1]


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
    by_state = {state: list[PlaceNow]() for state in PlaceState}
    for place in site.places:
        by_state[place.state].append(place)
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
        cage=cage_links(place_id, request.words) if place.kind is PlaceKind.LOVE_CAGE else [],
        note=f"/places/{place_id}/write?what={YieldEntryKind.NOTE}",
        yields=place_lines(request, place_id) if place.kind is PlaceKind.LOVE_CAGE else [],
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


# What happened while everybody slept, with its picture; earlier nights, and the week at a glance.


def show_night(request: RequestContext) -> Response:
    """The night that runs, the last one, that of the date in the address, or the day that runs."""
    plan, words = request.plan, request.words
    newest, day = newest_night(plan, request.now_ms), running_day(plan, request.now_ms)
    wants_day = day is not None and request.query("part") == "day"
    morning = _morning(request, newest)
    mornings = [morning - timedelta(days=back) for back in range(NIGHTS)]
    nights = [night_of(plan, each) for each in mornings]
    span = day if day is not None and wants_day else nights[0]
    full = request.query("places") == "full"
    bins, cohorts = partial(bins_now, request), partial(cohorts_at_hand, request)
    kept = request.app.context.forecasts.nights
    reader = NightReader(request.store, plan, span, request.now_ms, bins, cohorts, brief=not full, kept=kept)
    night = reader.summary()
    asked = reader.part("today", reader.now.today) if night.of_now else None
    places, brief = night.worst_first, frozenset[str]() if full else night.quiet_places
    boards_now = (reader.part("boards", reader.now.boards) or ()) if night.of_now else ()
    turned = reader.part("yields", partial(reader.yields, partial(yields_ahead_of, request)))
    of_week = request.store, plan, reader.sensors, nights, request.now_ms, kept
    week = reader.part("week", partial(week_of, *of_week))
    return request.render(
        "night.html",
        sentences=night_words,
        board_words=board_words,
        night=night,
        date=words.long_day(morning),
        morning=morning.isoformat(),
        links=_links(request, morning, newest, has_day=day is not None, by_day=wants_day),
        last=newest.date,
        tasks=[(today_words.task_line(task, words), task.leads_to) for task in asked.left]
        if asked is not None
        else (),
        loud=(loud := [place for place in places if place.id not in brief]),
        quiet=[place for place in places if place.id in brief],
        full=full,
        strips={
            place.id: reader.part("strip", partial(_strip, request, reader, place, span)) for place in loud
        },
        care=[row for row in boards_now if row.known and row.needs_care],
        mornings={each.isoformat(): f"{words.weekday(each)} {each.day}" for each in mornings},
        week=week or (),
        yields=[] if turned is None else turned_lines(turned, words),
        failed=reader.failed,
    )


def _links(
    request: RequestContext, morning: date, newest: Span, *, has_day: bool, by_day: bool
) -> list[tuple[str, str, str]]:
    """Where else to go, each with its words and its direction: nights before and after, the day that runs."""
    t = request.words.t
    if by_day:
        return [("/night", f"← {t('night.to_last')}", "prev")]
    earlier, later = ((morning + timedelta(days=days)).isoformat() for days in (-1, 1))
    links = [(f"/night?date={earlier}", f"← {t('night.earlier')}", "prev")]
    if morning.isoformat() < newest.date:
        links.append((f"/night?date={later}", f"{t('night.later')} →", "next"))
    elif has_day:
        links.append(("/night?part=day", f"{t('night.to_day')} →", "next"))
    return links


def _morning(request: RequestContext, newest: Span) -> date:
    last = date.fromisoformat(newest.date)
    try:
        wanted = date.fromisoformat(request.query("date"))
    except ValueError:
        return last
    return min(max(wanted, EARLIEST), last)


def _strip(request: RequestContext, reader: NightReader, night: PlaceNight, span: Span) -> Markup | None:
    """One place's line of the picture: what was out of range longest, else what matters most."""
    told = night.told
    if told is None:
        return None
    place = night.id
    sensor = max(reader.sensors.of(place, told.quantity), key=lambda each: len(reader.series(each)))
    series = reader.series(sensor)
    words, bounds_ms = request.words, (span.start_ms, span.end_ms)
    raw = Points(series.at_ms, series.value, series.value, series.value, 0)
    points = as_seen(thinned(raw, bounds_ms, STRIP_POINTS), sensor.quantity, words)
    safe = safe_range(reader.then, place, sensor.quantity, words)
    title = words.quantity(sensor.quantity)
    gap_ms = round(request.plan.longest_gap_s(place) * MS_PER_SECOND)
    values = values_to_show(points, safe, STRIP_VALUES)
    chart = Chart(
        *bounds_ms,
        points,
        join_ms=max(gap_ms, 3 * points.step_ms // 2),
        words=f"{title}. {described(points, sensor.quantity, safe, words)}",
        ticks=[(at_ms, words.hour(at_ms)) for at_ms in time_ticks(*bounds_ms, request.plan.zone)],
        value_words=[(value, words.tick(sensor.quantity, value)) for value in values],
        safe=safe,
        most_values=STRIP_VALUES,
    )
    return drawn(draw_strip(chart))


NIGHT = Part("night", "/night", (Page("/night", get=show_night),))
