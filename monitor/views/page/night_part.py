"""Night: what happened while everybody slept, with its picture; earlier nights, and the week at a glance."""

from __future__ import annotations

from datetime import date, timedelta

from markupsafe import Markup
from starlette.responses import Response

from monitor.records import MS_PER_SECOND
from monitor.views.charts import Chart, ChartSpan, read_points
from monitor.views.charts.data import thinned
from monitor.views.charts.drawing import draw_strip
from monitor.views.night import Span, last_night, night_of, summarise
from monitor.views.page.curves import as_seen, described, safe_range
from monitor.views.page.night_words import alarm_lines, late_lines, place_of_night, verdict, wrong_lines
from monitor.views.page.nodes_part import Board, known_boards
from monitor.views.page.rendering import drawn
from monitor.views.page.serving import Asked, Page, Part
from monitor.views.page.week import main_sensor, week_ending
from monitor.views.queries import node_rows
from monitor.views.view_records import NightSummary

_NIGHT = ChartSpan("night", 0, 0)
EARLIEST = date(2000, 1, 1)


def show_night(asked: Asked) -> Response:
    """The report of a night: the newest one, or that of the date in the address."""
    newest = last_night(asked.plan, asked.now_ms)
    morning = _morning(asked, newest)
    span = night_of(asked.plan, morning)
    night = summarise(asked.store, asked.plan, span, asked.now_ms)
    words = asked.words
    return asked.render(
        "night.html",
        wrong=list(wrong_lines(night, words)) if span == newest else [],
        verdict=verdict(night, words),
        date=words.long_day(morning),
        start=words.moment(span.start_ms),
        end=words.moment(span.end_ms),
        morning=morning.isoformat(),
        earlier=(morning - timedelta(days=1)).isoformat(),
        later="" if span == newest else (morning + timedelta(days=1)).isoformat(),
        last=newest.date,
        places=[place_of_night(place, _strip(asked, place.id, span), words) for place in night.places],
        alarms=list(alarm_lines(night, words)),
        late=list(late_lines(night, words)),
        boards=_boards(asked) if span == newest else [],
        monitor=_monitor(night, asked),
        week=week_ending(asked, morning),
    )


def _morning(asked: Asked, newest: Span) -> date:
    last = date.fromisoformat(newest.date)
    try:
        wanted = date.fromisoformat(asked.query("date"))
    except ValueError:
        return last
    return min(max(wanted, EARLIEST), last)


def _strip(asked: Asked, place: str, span: Span) -> Markup | None:
    """One place's line of the picture."""
    sensor = main_sensor(asked, place)
    if sensor is None:
        return None
    bounds_ms = (span.start_ms, span.end_ms)
    points = read_points(asked.store, sensor, _NIGHT, bounds_ms, asked.store.calibrations.of(sensor))
    if len(points) == 0:
        return None
    points = as_seen(thinned(points, bounds_ms, 120), sensor.quantity, asked.words)
    safe = safe_range(asked.plan, place, sensor.quantity, asked.words)
    title = asked.words.quantity(sensor.quantity)
    gap_ms = round(asked.plan.longest_gap_s(place) * MS_PER_SECOND)
    chart = Chart(
        *bounds_ms,
        points,
        join_ms=max(gap_ms, 3 * points.step_ms // 2),
        words=f"{title}. {described(points, sensor.quantity, safe, asked.words)}",
        safe=safe,
    )
    return drawn(draw_strip(chart))


def _boards(asked: Asked) -> list[Board]:
    rows = node_rows(asked.store, asked.plan, asked.now_ms)
    return [board for board in known_boards(asked, rows) if board.needs_care]


def _monitor(night: NightSummary, asked: Asked) -> list[str]:
    """What the monitor itself did not see or send."""
    words = asked.words
    found = [
        words.t(
            "night.not_running",
            start=words.hour(start_ms),
            end=words.hour(end_ms),
            length=words.length(end_ms - start_ms),
        )
        for start_ms, end_ms in night.downtime
    ]
    if night.unsent_messages:
        found.append(words.n("night.unsent", night.unsent_messages))
    return [*found, *(words.text(note) for note in night.notes)]


NIGHT = Part("night", "/night", (Page("/night", get=show_night),))
