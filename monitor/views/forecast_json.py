"""The JSON of cohorts, forecasts, supply and learning. Keys stay as they are; new ones may be added. Pure.

Times are ISO 8601 with the farm's offset; what is not known, or never comes, is null.
"""

from __future__ import annotations

import math
from datetime import tzinfo
from typing import Any

from monitor.model.cohort_records import Cohort
from monitor.model.emergence import EmergenceDay
from monitor.model.forecast import CohortForecast, EventForecast
from monitor.model.scoring import ForecastScore
from monitor.records import LogbookEntry
from monitor.settings.plan import Plan
from monitor.views.cohort_queries import FARTHEST_MS, CohortView, DueEvent, ForecastView
from monitor.views.learning_queries import LearnView
from monitor.views.spoken_time import iso
from monitor.views.supply_queries import CageView, SupplyView

Json = dict[str, Any]


def time_json(at_ms: float | None, zone: tzinfo) -> str | None:
    """A time, or null for none and for one that never comes."""
    return None if at_ms is None or not at_ms < FARTHEST_MS else iso(round(at_ms), zone)


def forecast_json(view: ForecastView, plan: Plan, zone: tzinfo) -> Json:
    """`forecast --json`: at, cohorts [...], today, week, overdue, ask, refused."""
    ask = view.ask
    return {
        "at": iso(view.now_ms, zone),
        "cohorts": [cohort_json(each.cohort, plan, zone, each) for each in view.cohorts],
        "today": [_due(each, zone) for each in view.today],
        "week": [_due(each, zone) for each in view.week],
        "overdue": [_due(each, zone) for each in view.overdue],
        "ask": None
        if ask is None
        else {
            "cohort": ask.cohort,
            "event": ask.event.value,
            "expected": time_json(ask.expected_ms, zone),
            "gain_days": round(ask.gain_days, 2),
        },
        "refused": [{"entry": each.entry.entry_id, "reason": each.reason} for each in view.refused],
    }


def _due(each: DueEvent, zone: tzinfo) -> Json:
    return {
        "cohort": each.cohort,
        "place": each.place,
        "event": each.event.value,
        "median": time_json(each.median_ms, zone),
        "low": time_json(each.low_ms, zone),
        "high": time_json(each.high_ms, zone),
    }


def cohort_json(cohort: Cohort, plan: Plan, zone: tzinfo, view: CohortView | None) -> Json:
    """One cohort as the book tells it, with its forecast (null for one that has ended)."""
    ended, track = cohort.ended, cohort.track
    forecast = view.forecast if view is not None else None
    return {
        "name": cohort.name,
        "start": iso(track.start_ms, zone),
        "start_stage": track.start_stage.value,
        "start_sd_days": round(track.start_sd_days, 3),
        "origin": cohort.origin.value,
        "feed": cohort.feed,
        "purpose": None if cohort.purpose is None else cohort.purpose.value,
        "cage": cohort.cage,
        "parent": cohort.parent,
        "merged": list(cohort.merged),
        "animals": track.count,
        "animals_stage": None if track.count_stage is None else track.count_stage.value,
        "animals_rough": cohort.rough_count,
        "stays": [
            {"place": stay.place, "title": plan.title(stay.place), "from": iso(stay.from_ms, zone)}
            for stay in track.residences
        ],
        "seen": [
            {"event": each.event.value, "at": iso(each.at_ms, zone), "sd_days": each.sd_days}
            for each in cohort.seen
        ],
        "flies": [{"at": iso(each.at_ms, zone), "flies": each.flies} for each in cohort.flies],
        "eggs": [{"at": iso(at_ms, zone), "grams": grams} for at_ms, grams in cohort.eggs_grams],
        "ended": None
        if ended is None
        else {
            "at": iso(ended.at_ms, zone),
            "how": ended.how.value,
            "grams": ended.grams,
            "animals": ended.animals,
        },
        "place": view.place if view is not None else None,
        "drift_days": None if view is None or view.drift_days is None else round(view.drift_days, 2),
        "forecast": None if forecast is None else one_forecast_json(forecast, zone),
    }


def one_forecast_json(forecast: CohortForecast, zone: tzinfo) -> Json:
    """One forecast: stage, events with 80 % windows, emergence day by day, what it rests on."""
    known = forecast.unknown_since_ms is None
    return {
        "made": iso(forecast.made_ms, zone),
        "stage": forecast.stage.value if known else None,
        "progress": round(forecast.progress, 4) if known else None,
        "degree_days_done": round(forecast.units_done, 2) if known else None,
        "degree_days_needed": round(forecast.units_needed, 2),
        "unknown_since": time_json(forecast.unknown_since_ms, zone),
        "events": [_event(each, zone) for each in forecast.events],
        "emergence": [_emergence(each, zone) for each in forecast.emergence],
        "rests_on": {
            "own_cohorts": forecast.cohorts,
            "temperature": None if forecast.used is None else forecast.used.value,
            "without_probe": forecast.without_probe,
            "estimated_hours": round(forecast.estimated_hours, 1),
        },
        "heat_hours": round(forecast.heat_hours, 1),
        "heat": forecast.heat.value,
    }


def _event(each: EventForecast, zone: tzinfo) -> Json:
    return {
        "event": each.event.value,
        "median": time_json(each.median_ms, zone),
        "low": time_json(each.low_ms, zone),
        "high": time_json(each.high_ms, zone),
    }


def _emergence(each: EmergenceDay, zone: tzinfo) -> Json:
    share = [round(value, 5) for value in (each.share, each.share_low, each.share_high)]
    flies = [
        None if value is None else round(value, 1) for value in (each.flies, each.flies_low, each.flies_high)
    ]
    names = ("share", "share_low", "share_high", "flies", "flies_low", "flies_high")
    return {"day": iso(each.day_start_ms, zone), **dict(zip(names, (*share, *flies), strict=True))}


def entry_json(entry: LogbookEntry, zone: tzinfo) -> Json:
    """One entry of the logbook as it was written."""
    return {
        "entry": entry.entry_id,
        "cohort": entry.subject,
        "kind": entry.kind,
        "at": iso(entry.at_ms, zone),
        "entered": iso(entry.entered_ms, zone),
        "by": entry.author,
        "corrects": entry.corrects,
        "values": dict(entry.body),
    }


def supply_json(view: SupplyView, zone: tzinfo) -> Json:
    """`supply --json`: cages [...], undecided."""
    return {
        "at": iso(view.now_ms, zone),
        "cages": [_cage(each, zone) for each in view.cages],
        "undecided": list(view.undecided),
    }


def _cage(cage: CageView, zone: tzinfo) -> Json:
    supply = cage.supply
    return {
        "cage": supply.cage or None,
        "title": cage.title,
        "cohorts": list(cage.cohorts),
        "uncounted": list(supply.uncounted),
        "least_flies": supply.least_flies,
        "gap_from": None if supply.gap is None else iso(supply.gap.day_start_ms, zone),
        "days": [
            {
                "day": iso(each.day_start_ms, zone),
                "living": round(each.living, 1),
                "low": round(each.low, 1),
                "high": round(each.high, 1),
                "eggs_rough": round(each.eggs),
            }
            for each in supply.days
        ],
        "set_aside": [
            {
                "stage": each.stage.value,
                "safe_until": time_json(each.safe_ms, zone),
                "even_odds_until": time_json(each.even_ms, zone),
                "animals": None if math.isnan(each.animals) else round(each.animals),
            }
            for each in cage.starts
        ],
        "keep_for_breeding": [
            {
                "cohort": each.cohort,
                "decide_by": time_json(each.latest_ms, zone),
                "half_emerged": time_json(each.half_emerged_ms, zone),
            }
            for each in cage.hold_backs
        ],
    }


def learn_json(view: LearnView) -> Json:
    """`learn --json`: feeds [{feed, stages}], spread, cohorts, past_forecasts by days ahead and by event."""
    return {
        "feeds": [
            {
                "feed": feed.feed,
                "stages": [
                    {
                        "stage": each.stage.value,
                        "prior": {"median": each.prior, "low": each.prior_low, "high": each.prior_high},
                        "own": {"median": each.own, "low": each.own_low, "high": each.own_high},
                        "cohorts": each.cohorts,
                    }
                    for each in feed.constants
                ],
            }
            for feed in view.feeds
        ],
        "spread": {"prior": view.spread_prior, "own": view.spread_own, "cohorts": view.spread_cohorts},
        "cohorts": list(view.taught),
        "past_forecasts": {
            "by_days_ahead": {str(lead): _score(found) for lead, found in view.scores.items()},
            "by_event": {event.value: _score(found) for event, found in view.by_event.items()},
        },
    }


def _score(found: ForecastScore) -> Json:
    return {
        "events": found.forecasts,
        "bias_days": round(found.bias_days, 3),
        "mean_absolute_error_days": round(found.mean_absolute_error_days, 3),
        "windows_held": round(found.held_share, 3),
    }
