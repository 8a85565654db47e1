"""Night: what happened while everybody slept, with its picture; earlier nights, and the week at a glance."""

from __future__ import annotations

from datetime import date, timedelta
from functools import partial

from markupsafe import Markup
from starlette.responses import Response

from monitor.charts.curve import STRIP_VALUES, Chart, draw_strip, time_ticks, values_to_show
from monitor.farm.night import NightReader, newest_night, night_of, running_day
from monitor.farm.night_alarms import week_of
from monitor.farm.night_records import PlaceNight, Span
from monitor.farm.place_reader import Points, thinned
from monitor.page.bins import bins_now
from monitor.page.curves import as_seen, described, safe_range
from monitor.page.now import cohorts_at_hand
from monitor.page.serving import Page, Part, RequestContext, drawn
from monitor.records import MS_PER_SECOND
from monitor.words import boards
from monitor.words import night as sentences
from monitor.words.today import task_line

EARLIEST = date(2000, 1, 1)
NIGHTS = 7
STRIP_POINTS = 120


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
    bins = partial(bins_now, request)
    cohorts = partial(cohorts_at_hand, request)
    reader = NightReader(request.store, plan, span, request.now_ms, bins, cohorts, brief=not full)
    night = reader.summary()
    asked = reader.part("today", reader.now.today) if night.of_now else None
    loud = [place for place in night.worst_first if full or not night.is_quiet(place)]
    boards_now = (reader.part("boards", reader.now.boards) or ()) if night.of_now else ()
    week = reader.part("week", lambda: week_of(request.store, plan, reader.sensors, nights, request.now_ms))
    return request.render(
        "night.html",
        sentences=sentences,
        board_words=boards,
        night=night,
        date=words.long_day(morning),
        morning=morning.isoformat(),
        links=_links(request, morning, newest, has_day=day is not None, by_day=wants_day),
        last=newest.date,
        tasks=[(task_line(task, words), task.leads_to) for task in asked.left] if asked is not None else (),
        loud=loud,
        quiet=[place for place in night.worst_first if place not in loud],
        full=full,
        strips={
            place.id: reader.part("strip", partial(_strip, request, reader, place, span)) for place in loud
        },
        care=[row for row in boards_now if row.known and row.needs_care],
        mornings={each.isoformat(): f"{words.weekday(each)} {each.day}" for each in mornings},
        week=week or (),
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
    points = thinned(
        Points(series.at_ms, series.value, series.value, series.value, 0), bounds_ms, STRIP_POINTS
    )
    points = as_seen(points, sensor.quantity, words)
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
