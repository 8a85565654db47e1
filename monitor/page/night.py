"""Night: what happened while everybody slept, with its picture; earlier nights, and the week at a glance."""

from __future__ import annotations

from datetime import date, timedelta
from functools import partial

from markupsafe import Markup
from starlette.responses import Response

from monitor.charts.curve import Chart, draw_strip
from monitor.farm.curves import Points, thinned
from monitor.farm.night import NightReader, Span, last_night, night_of, week_of
from monitor.page.curves import as_seen, described, safe_range
from monitor.page.serving import Page, Part, RequestContext, drawn
from monitor.records import MS_PER_SECOND
from monitor.words import boards
from monitor.words import night as sentences

EARLIEST = date(2000, 1, 1)
NIGHTS = 7
STRIP_POINTS = 120


def show_night(request: RequestContext) -> Response:
    """The report of a night: the newest one, or that of the date in the address."""
    plan, words = request.plan, request.words
    newest = last_night(plan, request.now_ms)
    morning = _morning(request, newest)
    mornings = [morning - timedelta(days=back) for back in range(NIGHTS)]
    nights = [night_of(plan, each) for each in mornings]
    span = nights[0]
    reader = NightReader(request.store, plan, span, request.now_ms)
    night, is_newest = reader.summary(), span == newest
    boards_now = (reader.part("boards", reader.now.boards) or ()) if is_newest else ()
    care = [row for row in boards_now if row.known and row.needs_care]
    strips = {
        place.id: reader.part("strip", partial(_strip, request, reader, place.id, span))
        for place in night.places
    }
    week = reader.part("week", lambda: week_of(request.store, plan, reader.sensors, nights)) or ()
    return request.render(
        "night.html",
        sentences=sentences,
        board_words=boards,
        night=night,
        is_newest=is_newest,
        date=words.long_day(morning),
        morning=morning.isoformat(),
        earlier=(morning - timedelta(days=1)).isoformat(),
        later="" if is_newest else (morning + timedelta(days=1)).isoformat(),
        last=newest.date,
        strips=strips,
        care=care,
        mornings=[(each.isoformat(), words.weekday(each)) for each in mornings],
        week=week,
        failed=reader.failed,
    )


def _morning(request: RequestContext, newest: Span) -> date:
    last = date.fromisoformat(newest.date)
    try:
        wanted = date.fromisoformat(request.query("date"))
    except ValueError:
        return last
    return min(max(wanted, EARLIEST), last)


def _strip(request: RequestContext, reader: NightReader, place: str, span: Span) -> Markup | None:
    """One place's line of the picture."""
    sensor = reader.sensors.main(place)
    series = None if sensor is None else reader.series(sensor)
    if sensor is None or series is None or len(series) == 0:
        return None
    bounds_ms = (span.start_ms, span.end_ms)
    points = thinned(
        Points(series.at_ms, series.value, series.value, series.value, 0), bounds_ms, STRIP_POINTS
    )
    points = as_seen(points, sensor.quantity, request.words)
    safe = safe_range(request.plan, place, sensor.quantity, request.words)
    title = request.words.quantity(sensor.quantity)
    gap_ms = round(request.plan.longest_gap_s(place) * MS_PER_SECOND)
    chart = Chart(
        *bounds_ms,
        points,
        join_ms=max(gap_ms, 3 * points.step_ms // 2),
        words=f"{title}. {described(points, sensor.quantity, safe, request.words)}",
        safe=safe,
    )
    return drawn(draw_strip(chart))


NIGHT = Part("night", "/night", (Page("/night", get=show_night),))
