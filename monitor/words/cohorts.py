"""Forecasts, supply and what was learned, as lines of text. Pure: no clock, no I/O.

Words for cohorts: events, stages, numbers of animals, days and windows. Pure.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import tzinfo

from monitor.development.events import Event
from monitor.development.forecast import CohortForecast, EventForecast, Heat
from monitor.development.progress import Cohort, Ending
from monitor.farm.cohorts import CohortView, DueEvent, ForecastView
from monitor.records import MS_PER_DAY, Stage, local
from monitor.words.phrases import MONTHS, WEEKDAYS, entry, plural

EVENT_WORDS: Mapping[Event, str] = {
    Event.HATCH: "hatching",
    Event.FIRST_PREPUPAE: "first dark prepupae",
    Event.HALF_PREPUPAE: "half of them dark prepupae",
    Event.FIRST_MOTIONLESS: "first motionless pupae",
    Event.HALF_MOTIONLESS: "half of them motionless",
    Event.FIRST_EMERGED: "first flies",
    Event.HALF_EMERGED: "half of the flies out",
    Event.MOST_EMERGED: "nine in ten flies out",
    Event.FIRST_EGGS: "first eggs",
}
STAGE_WORDS: Mapping[Stage, str] = {
    Stage.EGG: "eggs",
    Stage.LARVA: "larvae",
    Stage.PREPUPA: "prepupae",
    Stage.PUPA: "pupae",
    Stage.ADULT: "flies",
}
ENDING_WORDS: Mapping[Ending, str] = {
    Ending.EMERGED: "all flies out",
    Ending.HARVESTED: "harvested",
    Ending.SOLD: "sold",
    Ending.LOST: "lost",
    Ending.MERGED: "merged into another",
}
_NEVER_MS = 8e12


def day(at_ms: float, zone: tzinfo) -> str:
    """ "Thu 1 Oct"; "later than can be said" for a time that never comes."""
    if at_ms > _NEVER_MS:
        return "no day in sight"
    at = local(round(at_ms), zone)
    return f"{WEEKDAYS[at.weekday()]} {at.day} {MONTHS[at.month - 1]}"


def window(low_ms: float, high_ms: float, zone: tzinfo) -> str:
    """ "30 Sep to 3 Oct", or one day where both ends fall on it."""
    if high_ms > _NEVER_MS:
        return f"from {_short(low_ms, zone)} on" if low_ms <= _NEVER_MS else "no day in sight"
    low, high = _short(low_ms, zone), _short(high_ms, zone)
    return low if low == high else f"{low} to {high}"


def _short(at_ms: float, zone: tzinfo) -> str:
    at = local(round(at_ms), zone)
    return f"{at.day} {MONTHS[at.month - 1]}"


def number(value: float) -> str:
    """A number of animals as a person says it: two or three figures, thousands apart."""
    rounded = round(value, max(0, 2 - len(str(int(abs(value))))) if abs(value) < 100 else _places(value))
    return f"{rounded:,.0f}".replace(",", " ")


def _places(value: float) -> int:
    """Keep two figures of large numbers."""
    return -(len(str(int(abs(value)))) - 2)


def days_words(days: float) -> str:
    """ "1 day", "2.5 days"."""
    text = f"{abs(days):.1f}".removesuffix(".0")
    return f"{text} day{'' if text == '1' else 's'}"


FLIES = (Event.FIRST_EMERGED, Event.HALF_EMERGED, Event.MOST_EMERGED)
DRIFT_SHOWN_DAYS = 0.75
NONE_YET = (
    "No cohort is in the logbook. Begin one with, for example: "
    'rearing-monitor cohort start eggs-1 tray-1 --stage egg --at "yesterday 18:00" --grams 5'
)


def forecast_lines(view: ForecastView, zone: tzinfo, width: int) -> Iterator[str]:
    """The whole answer of `forecast`: what is due, each cohort, what to look for."""
    if not view.cohorts:
        yield from entry("", NONE_YET, width)
    else:
        yield from due_lines(view, zone, width)
    for cohort in view.cohorts:
        yield ""
        yield from cohort_lines(cohort, zone, width)
    if view.ask is not None:
        yield ""
        yield from entry("", ask_words(view, zone), width)
    yield from refused_lines(view, width)


def due_lines(view: ForecastView, zone: tzinfo, width: int) -> Iterator[str]:
    """What is expected today, in the next seven days, and what seems to be overdue."""
    yield from _due_block("Today", view.today, zone, width)
    yield from _due_block("Next 7 days", view.week, zone, width)
    if view.overdue:
        yield from _due_block("Overdue, or seen and not entered (`cohort saw`)", view.overdue, zone, width)


def _due_block(title: str, events: Sequence[DueEvent], zone: tzinfo, width: int) -> Iterator[str]:
    yield f"{title}:" if events else f"{title}: nothing"
    for each in events:
        yield from entry("  ", due_words(each, zone), width, 13)


def due_words(due: DueEvent, zone: tzinfo) -> str:
    """ "Thu 1 Oct  eggs-1 in Hatching tray 1: hatching (30 Sep to 2 Oct)"."""
    span = window(due.low_ms, due.high_ms, zone)
    return f"{day(due.median_ms, zone)}  {due.cohort} in {due.place}: {EVENT_WORDS[due.event]} ({span})"


def cohort_lines(view: CohortView, zone: tzinfo, width: int) -> Iterator[str]:
    """One cohort: where it stands, what comes, and what that rests on."""
    yield from entry(f"{view.cohort.name}  ", _standing(view), width)
    forecast = view.forecast
    if forecast is None:
        return
    if forecast.unknown_since_ms is not None:
        yield from entry("  ", _unknown(forecast, zone), width, 4)
        return
    yield from _coming(view, forecast, zone, width)
    for warning in warnings(view, zone):
        yield from entry("  ! ", warning, width, 4)
    yield from entry("  rests on: ", rests_on(view, forecast), width, 4)


def _coming(view: CohortView, forecast: CohortForecast, zone: tzinfo, width: int) -> Iterator[str]:
    coming = forecast.next_event()
    if coming is not None and coming.event not in FLIES:
        yield from entry("  next: ", _event_words(coming, zone), width, 4)
    leaving = forecast.event(Event.FIRST_PREPUPAE)
    if view.for_feed and leaving is not None:
        if coming is not leaving:
            yield from entry("  harvest before: ", _event_words(leaving, zone), width, 4)
        return
    flies = [each for each in forecast.events if each.event in FLIES]
    if flies:
        yield from entry("  flies: ", _flies_words(flies, zone), width, 4)
    yield from _numbers(view.cohort, forecast, zone, width)


def _standing(view: CohortView) -> str:
    forecast = view.forecast
    if forecast is None or view.stage is None:
        return f"in {view.place_title}"
    if forecast.stage is Stage.ADULT:
        return f"flies, in {view.place_title}"
    units = "degree-days" if forecast.units_needed > 20.0 else "days at the full rate"
    done = f"{forecast.units_done:.0f} of {forecast.units_needed:.0f} {units}"
    return f"{STAGE_WORDS[forecast.stage]} in {view.place_title}, {forecast.progress:.0%} through ({done})"


def _unknown(forecast: CohortForecast, zone: tzinfo) -> str:
    since = day(forecast.unknown_since_ms or forecast.made_ms, zone)
    return (
        f"how far it is is not known: no temperature of its place since {since}. Enter the next thing that "
        "you see of it with `cohort saw`, and the forecast goes on from there"
    )


def _event_words(event: EventForecast, zone: tzinfo) -> str:
    span = window(event.low_ms, event.high_ms, zone)
    return f"{EVENT_WORDS[event.event]} {day(event.median_ms, zone)} ({span})"


def _flies_words(flies: Iterable[EventForecast], zone: tzinfo) -> str:
    names = {Event.FIRST_EMERGED: "first", Event.HALF_EMERGED: "half", Event.MOST_EMERGED: "nine in ten"}
    return ", ".join(
        f"{names[each.event]} {day(each.median_ms, zone)} ({window(each.low_ms, each.high_ms, zone)})"
        for each in flies
    )


def _numbers(cohort: Cohort, forecast: CohortForecast, zone: tzinfo, width: int) -> Iterator[str]:
    days = [each for each in forecast.emergence if each.flies is not None]
    if not days:
        if cohort.track.count is None and forecast.emergence:
            yield from entry("  flies per day: ", "not known; `cohort count` gives it a number", width, 4)
        return
    best = max(days, key=lambda each: each.flies or 0.0)
    total = sum(each.flies or 0.0 for each in days)
    rough = "; the number is a rough one" if cohort.rough_count else ""
    when = day(best.day_start_ms + MS_PER_DAY // 2, zone)
    band = f"{number(best.flies_low or 0.0)} to {number(best.flies_high or 0.0)}"
    text = (
        f"about {number(best.flies or 0.0)} on the best day, {when} ({band}), {number(total)} in all{rough}"
    )
    yield from entry("  flies per day: ", text, width, 4)


def warnings(view: CohortView, zone: tzinfo) -> Iterator[str]:
    """What a person should know or do about one cohort."""
    forecast = view.forecast
    if forecast is None:
        return
    hours = f"{forecast.heat_hours:.0f} h above the heat limit"
    if forecast.heat is Heat.MAY_FAIL:
        yield f"{hours}: few or no flies may come out of it"
    elif forecast.heat is Heat.WARNING and forecast.heat_hours >= 1.0:
        yield f"{hours} since it began: fewer flies may come out"
    if view.drift_days is not None and abs(view.drift_days) >= DRIFT_SHOWN_DAYS:
        way = "behind" if view.drift_days > 0 else "ahead of"
        yield f"{days_words(view.drift_days)} {way} the forecast of a week ago"
    planned = view.cohort.unconfirmed_move(forecast.made_ms)
    if planned is not None:
        yield (
            f"was planned to move to {planned.place} on {day(planned.from_ms, zone)}; counted as done. "
            "Enter it with `cohort move`, or withdraw the plan"
        )


def rests_on(view: CohortView, forecast: CohortForecast) -> str:
    """Published numbers or the farm's own, which temperature, and how much of it is estimated."""
    numbers = (
        f"own numbers from {plural(forecast.cohorts, 'cohort')}"
        if forecast.cohorts
        else "numbers from papers, none of your own yet"
    )
    estimated = f"{forecast.estimated_hours:.0f} h of it estimated" if forecast.estimated_hours >= 1.0 else ""
    return "; ".join(part for part in (numbers, view.driven, estimated) if part)


def ask_words(view: ForecastView, zone: tzinfo) -> str:
    """The one observation that would help most."""
    ask = view.ask
    if ask is None:
        return ""
    cohort = view.of(ask.cohort)
    where = f" in {cohort.place_title}" if cohort is not None else ""
    return (
        f"Most worth looking for: {EVENT_WORDS[ask.event]} of {ask.cohort}{where}, expected about "
        f"{day(ask.expected_ms, zone)}. Entering the day makes its forecast surer by "
        f"{days_words(ask.gain_days)}: rearing-monitor cohort saw {ask.cohort} {ask.event.value} --at today"
    )


def refused_lines(view: ForecastView, width: int) -> Iterator[str]:
    """Entries of the logbook that cannot be so and do not count."""
    for refusal in view.refused:
        about = f"entry {refusal.entry.entry_id} ({refusal.entry.kind} of {refusal.entry.subject})"
        yield from entry("! ", f"{about} does not count: {refusal.reason}", width)
