"""Sentences about cohorts: where each stands, what comes when, what that rests on. Pure."""

from __future__ import annotations

from collections.abc import Iterator

from monitor.development.events import Event
from monitor.development.forecast import CohortForecast, EventForecast, Heat
from monitor.development.progress import Cohort
from monitor.farm.cohorts import FLY_EVENTS, CohortView, DueEvent, ForecastView
from monitor.records import MS_PER_DAY, MS_PER_HOUR, Stage
from monitor.words.localizer import (
    NEVER_MS,
    Localizer,
    animals,
    capitalised,
    day,
    days_long,
    grams,
    window,
)

FLIES = (Event.FIRST_EMERGED, Event.HALF_EMERGED, Event.MOST_EMERGED)
DRIFT_SHOWN_DAYS = 0.75
LEAST_LOSS = 0.01
"""A smaller loss by heat is not worth a sentence [1]."""
KILLS_SOON_HOURS = 48.0
"""Heat that kills more slowly is not called deadly now [h]."""
LEAST_DEGREE_DAYS = 20.0
"""A stage that needs less is counted in days at its full rate, not in degree-days."""


def cohort_sentences(view: CohortView, words: Localizer) -> Iterator[str]:
    """Everything about one living cohort beyond where it stands, sentence by sentence."""
    forecast = view.forecast
    if forecast is None:
        return
    if forecast.unknown_since_ms is not None:
        yield unknown_sentence(forecast, words)
        return
    coming = coming_events(view)
    if coming:
        yield f"{words.t('cohorts.next')} {event_words(coming[0], words)}"
    for name, when in later_events(view, words):
        yield words.headed(capitalised(name), when)
    if not view.for_feed and view.cohort.track.count is None and forecast.emergence:
        yield words.t("cohorts.not_counted")
    flies = flies_sentence(view, words)
    if flies:
        yield flies
    yield from warning_sentences(view, words)
    yield words.t("cohorts.rests", what=rests_on(view, words))


def standing_words(view: CohortView, words: Localizer) -> str:
    """Such as "eggs in Hatching tray 1, 58 % through, 30 of 52 degree-days"."""
    stage = words.t("list.stage_unknown" if view.stage is None else f"stage.{view.stage}")
    home = words.t("list.lives", stage=stage, place=view.place_title)
    progress = progress_words(view.forecast, words) if view.forecast is not None and view.stage else ""
    return words.listing([home, progress] if progress else [home])


def progress_words(forecast: CohortForecast, words: Localizer) -> str:
    """How far the middle animal is through its stage, "" for flies."""
    if forecast.stage is Stage.ADULT:
        return ""
    done, needed = words.number(forecast.units_done), words.number(forecast.units_needed)
    key = "cohorts.degree_days" if forecast.units_needed > LEAST_DEGREE_DAYS else "cohorts.full_days"
    return words.t(key, percent=words.number(100.0 * forecast.progress), done=done, needed=needed)


def unknown_sentence(forecast: CohortForecast | None, words: Localizer) -> str:
    """Since when its progress is not known, "" where it is."""
    if forecast is None or forecast.unknown_since_ms is None:
        return ""
    return words.t("cohorts.unknown", since=day(words, forecast.unknown_since_ms))


def coming_events(view: CohortView) -> list[EventForecast]:
    """The events to come in the order of time, without those of flies that are not wanted.

    What lies behind a standstill is left out: a warning says it.
    """
    if view.forecast is None or view.forecast.unknown_since_ms is not None:
        return []
    coming = [
        each
        for each in view.forecast.events
        if each.median_ms > view.forecast.made_ms and _has_a_day(each, view.forecast)
    ]
    wanted = [each for each in coming if not (view.for_feed and each.event in FLY_EVENTS)]
    return sorted(wanted, key=lambda each: each.median_ms)


def _has_a_day(event: EventForecast, forecast: CohortForecast | None) -> bool:
    """Not behind a standstill, which is said once for all that it holds up."""
    return event.median_ms < NEVER_MS or forecast is None or forecast.standstill is None


def event_words(forecast: EventForecast, words: Localizer) -> str:
    """An event with its likeliest day and its window."""
    return words.t(
        "cohorts.event",
        event=words.t(f"seen.{forecast.event}"),
        day=day(words, forecast.median_ms),
        window=window(words, forecast.low_ms, forecast.high_ms),
    )


def later_events(view: CohortView, words: Localizer) -> Iterator[tuple[str, str]]:
    """What matters beyond the next event: the flies, or the day before which to harvest; name and days."""
    coming = coming_events(view)
    if view.for_feed:
        known = view.forecast is not None and view.forecast.unknown_since_ms is None
        leaving = view.forecast.event(Event.FIRST_PREPUPAE) if known and view.forecast is not None else None
        if leaving is not None and leaving not in coming[:1] and _has_a_day(leaving, view.forecast):
            yield words.t("cohorts.harvest_before"), _day_and_window(leaving, words)
        return
    for event in coming[1:]:
        if event.event in FLIES:
            yield words.t(f"seen.{event.event}"), _day_and_window(event, words)


def _day_and_window(forecast: EventForecast, words: Localizer) -> str:
    span = window(words, forecast.low_ms, forecast.high_ms)
    return words.t("cohorts.day", day=day(words, forecast.median_ms), window=span)


def flies_sentence(view: CohortView, words: Localizer) -> str:
    """How many flies come out on the best day and in all, "" where they are not wanted or not counted."""
    days = [each for each in view.forecast.emergence if each.flies] if view.forecast is not None else []
    if not days or view.for_feed:
        return ""
    best = max(days, key=lambda each: each.flies or 0.0)
    return words.t(
        "cohorts.flies_rough" if view.cohort.rough_count else "cohorts.flies",
        best=animals(words, best.flies or 0.0),
        day=day(words, best.day_start_ms + MS_PER_DAY // 2),
        low=animals(words, best.flies_low or 0.0),
        high=animals(words, best.flies_high or 0.0),
        all=animals(words, sum(each.flies or 0.0 for each in days)),
    )


def warning_sentences(view: CohortView, words: Localizer) -> Iterator[str]:
    """What a person should know or do about one cohort."""
    forecast = view.forecast
    if forecast is None:
        return
    yield from _heat_sentences(forecast, words)
    stands = forecast.standstill
    if stands is not None:
        stage, days = words.t(f"stage.{stands.stage}"), words.number(stands.longest_days)
        yield words.t(f"cohorts.stands_{stands.cause}", stage=stage, days=days)
    if view.drift_days is not None and abs(view.drift_days) >= DRIFT_SHOWN_DAYS:
        key = "cohorts.behind" if view.drift_days > 0 else "cohorts.ahead"
        yield words.t(key, days=days_long(words, view.drift_days))
    planned = view.cohort.unconfirmed_move(forecast.made_ms)
    if planned is not None:
        yield words.t("cohorts.unconfirmed", place=planned.place, day=day(words, planned.from_ms))


def _heat_sentences(forecast: CohortForecast, words: Localizer) -> Iterator[str]:
    """What heat, had and expected, does to a cohort, and how fast it kills now."""
    harm, hours = forecast.harm, words.number(forecast.heat_hours)
    if harm is None:
        if forecast.heat is Heat.MAY_FAIL:
            yield words.t("cohorts.heat_fail", hours=hours)
        elif forecast.heat is Heat.WARNING and forecast.heat_hours >= 1.0:
            yield words.t("cohorts.heat_warning", hours=hours)
        return
    if forecast.heat is Heat.NONE_LIVE:
        yield words.t("cohorts.heat_none", hours=hours)
    elif harm.lives < 1.0 - LEAST_LOSS:
        lives, low, high = (_percent(share, words) for share in (harm.lives, harm.low, harm.high))
        key = "cohorts.heat_few" if forecast.heat is Heat.MAY_FAIL else "cohorts.heat_some"
        yield words.t(key, hours=hours, lives=lives, low=low, high=high)
    if harm.half_in_hours < KILLS_SOON_HOURS:
        yield words.t("cohorts.heat_now", length=words.length(harm.half_in_hours * MS_PER_HOUR))


def _percent(share: float, words: Localizer) -> str:
    """A share in percent, with a decimal where it is below one."""
    percent = 100.0 * share
    return words.number(percent, 1 if 0.05 <= percent < 0.95 else 0)


def rests_on(view: CohortView, words: Localizer) -> str:
    """Numbers from papers or the farm's own, which temperature, and how much of it is estimated."""
    forecast = view.forecast
    if forecast is None:
        return ""
    own = words.n("cohorts.own", forecast.cohorts) if forecast.cohorts else words.t("cohorts.papers")
    estimated = ""
    if forecast.estimated_hours >= 1.0:
        estimated = words.t("cohorts.estimated", hours=words.number(forecast.estimated_hours))
    assumed = words.t("cohorts.assumed", place=view.assumed_place) if view.assumed_place else ""
    return words.clauses(part for part in (own, words.t(f"driven.{view.driven}"), estimated, assumed) if part)


def due_words(due: DueEvent, words: Localizer) -> str:
    """Such as "in Hatching tray 1: hatching (30 Sep to 2 Oct)"."""
    return words.t(
        "cohorts.due",
        place=due.place,
        event=words.t(f"seen.{due.event}"),
        window=window(words, due.low_ms, due.high_ms),
    )


def due_line(due: DueEvent, words: Localizer) -> str:
    """Such as "Thu 1 Oct  eggs-1 in Hatching tray 1: hatching (30 Sep to 2 Oct)"."""
    return f"{day(words, due.median_ms)}  {due.cohort} {due_words(due, words)}"


def ask_sentence(view: ForecastView, words: Localizer) -> str:
    """The one observation that would help most, without its cohort; "" for none."""
    ask = view.ask
    if ask is None:
        return ""
    return words.t(
        "cohorts.ask",
        event=words.t(f"seen.{ask.event}"),
        day=day(words, ask.expected_ms),
        gain=days_long(words, ask.gain_days),
    )


def ask_line(view: ForecastView, words: Localizer) -> str:
    """The same with its cohort, and with the command that enters it."""
    ask = view.ask
    if ask is None:
        return ""
    command = f"rearing-monitor cohort saw {ask.cohort} {ask.event.value} --at today"
    enter = words.t("cohorts.ask_command", command=command)
    asked = words.headed(ask.cohort, ask_sentence(view, words))
    return f"{words.t('cohorts.look')} {asked} {enter}"


def ended_sentence(cohort: Cohort, words: Localizer) -> str:
    """When and how it ended, with what was weighed and counted; "" for one that lives."""
    ended = cohort.ended
    if ended is None:
        return ""
    parts = [words.t(f"ending.{ended.how}")]
    if ended.grams is not None:
        parts.append(grams(words, ended.grams))
    if ended.animals is not None:
        parts.append(words.t("told.with_animals", animals=animals(words, ended.animals)))
    return words.t("cohorts.ended", day=day(words, ended.at_ms), how=words.listing(parts))
