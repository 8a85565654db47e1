"""The JSON of the commands. Keys stay as they are written here; new ones may be added.

Times are ISO 8601 with the offset of the farm. Values are in the canonical unit that stands beside them, or
that their key names. What is not known, or never comes, is null.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict
from datetime import tzinfo
from typing import Any

from monitor.alarms.health import AlarmHealth
from monitor.bins.harvest import HarvestOutlook
from monitor.bins.outlook import SOON_H, HoursTo, MoistureOutlook
from monitor.development.courses import EmergenceDay
from monitor.development.forecast import CohortForecast, HeatHarm
from monitor.development.progress import Cohort
from monitor.development.published import ComparedTime
from monitor.development.scoring import ForecastScore
from monitor.farm.bins import BinsView, BinView, HeatView
from monitor.farm.cohorts import FARTHEST_MS, CohortView, ForecastView
from monitor.farm.night_records import NightReport
from monitor.farm.records import (
    ActiveAlarm,
    Current,
    NodeRow,
    PlaceNow,
    QuantityNow,
    ReportNow,
    SiteNow,
)
from monitor.farm.supply import CageView, LearnView, SupplyView
from monitor.farm.today import Task, Today
from monitor.logbook.place_entries import Unguarded
from monitor.logbook.times import iso
from monitor.records import QUANTITIES, Calibration, LogbookEntry, SensorKey, Transition
from monitor.settings.plan import Plan
from monitor.terminal.output import plain
from monitor.words import boards
from monitor.words.boards import ArchiveNow
from monitor.words.localizer import Localizer
from monitor.words.night import aside_lines, report_text
from monitor.words.today import due_sections, task_text, why

Json = dict[str, Any]
NO_AIR = "no reading of air temperature and humidity, neither of the place nor of its room"
NO_CAGE_NAMED = "no cage named"
WINDOW = "event median_ms low_ms high_ms"
DUE = f"cohort place {WINDOW}"


def _fields(record: object, names: str, zone: tzinfo) -> Json:
    """Fields of a record under their own names, but `..._ms` as a time under the name without that ending."""
    return {name.removesuffix("_ms"): _field(name, getattr(record, name), zone) for name in names.split()}


def _field(name: str, value: Any, zone: tzinfo) -> Any:
    if name.endswith("_ms"):
        return time_json(value, zone)
    # JSON knows no NaN.
    return None if value != value else plain(value)


def _rounded(record: object, names: str, decimals: int) -> Json:
    """Numbers of a record under their own names, with so many decimals."""
    values = {name: getattr(record, name) for name in names.split()}
    return {name: None if value is None else round(value, decimals) for name, value in values.items()}


def time_json(at_ms: float | None, zone: tzinfo) -> str | None:
    """A time, or null for none and for one that never comes."""
    return None if at_ms is None or not at_ms < FARTHEST_MS else iso(round(at_ms), zone)


def now_json(site: SiteNow, numbers: Mapping[str, int], zone: tzinfo) -> Json:
    """`now --json`: site, at, wrong, service {alive, last_alive}, places [...], site_alarms [...];
    the command adds today [{task, text, why, due, entry {path, fields}, done {by, at}}].

    A place: id, title, kind, state (high, medium, low, beyond, unknown, unguarded, fine, empty), stage,
    unguarded (why, said_by, said, until, note, undo; or null), asks (whether it is empty), values, alarms,
    beyond (alarms whose value is beyond its limit although they do not stand).
    """
    return {
        "site": site.title,
        "at": iso(site.now_ms, zone),
        "wrong": site.wrong,
        "service": {"alive": site.service_alive, "last_alive": iso(site.last_alive_ms, zone)},
        "places": [_place(place, numbers, zone) for place in site.places],
        "site_alarms": [alarm_json(alarm, numbers, zone) for alarm in site.site_alarms],
    }


def _place(place: PlaceNow, numbers: Mapping[str, int], zone: tzinfo) -> Json:
    return {
        **_fields(place, "id title kind state stage", zone),
        "unguarded": _unguarded(place.unguarded, zone),
        "asks": place.asks,
        "values": [
            _value(current, quantity, zone) for quantity in place.quantities for current in quantity.sensors
        ],
        "alarms": [alarm_json(alarm, numbers, zone) for alarm in place.alarms],
        "beyond": [alarm_json(alarm, numbers, zone) for alarm in place.beyond],
    }


def _unguarded(why: Unguarded | None, zone: tzinfo) -> Json | None:
    return None if why is None else _fields(why, "why said_by said_ms until_ms note undo", zone)


def _value(current: Current, quantity: QuantityNow, zone: tzinfo) -> Json:
    return {
        **_fields(current, "quantity node probe at_ms value", zone),
        "unit": unit(current.quantity),
        **_fields(current, "flag stale", zone),
        **_fields(quantity, "low_limit high_limit", zone),
        "change_per_hour": quantity.per_hour,
    }


def alarm_json(alarm: ActiveAlarm, numbers: Mapping[str, int], zone: tzinfo) -> Json:
    """One alarm: what it is about, its state, and what to do.

    `phase`: inside, coming (its on-delay runs), beyond, between (within the deadband), back (its off-delay
    runs). `over`: from when to when it stood and how far, of one nobody saw since; `seen`: by whom, when.
    """
    rule, state = alarm.rule, alarm.state
    return {
        "alarm": rule.alarm_id,
        "number": numbers.get(rule.alarm_id),  # of an earlier night it may be no longer in the settings
        "place": rule.place,
        "title": alarm.title,
        "quantity": rule.quantity,
        "unit": unit(rule.quantity),
        **_fields(rule, "side setpoint priority", zone),
        **_fields(state, "status active stale", zone),
        **_fields(alarm, "value phase limit_passed", zone),
        "over": alarm.over and _fields(alarm.over, "began_ms ended_ms extreme_value", zone),
        **_fields(state, "since_ms last_true_ms shelved_until_ms", zone),
        "seen": None if alarm.seen is None else {"by": alarm.seen[0], "at": time_json(alarm.seen[1], zone)},
        **_fields(rule, "consequence response caution", zone),
    }


def transition_json(row: Transition, zone: tzinfo) -> Json:
    """`alarms --journal --json`: one change of one alarm."""
    return {
        "alarm": row.alarm_id,
        **_fields(row, "place quantity", zone),
        "unit": unit(row.quantity),
        **_fields(row, "priority event before after at_ms processed_ms value setpoint actor reason", zone),
    }


def health_json(found: AlarmHealth) -> Json:
    """`alarms --health --json`: the measures under their own names."""
    plain = asdict(found)
    plain["most_frequent"] = [{"alarm": name, "count": count} for name, count in found.most_frequent]
    plain["stale"] = [{"alarm": name, "hours": hours} for name, hours in found.stale]
    plain["priority_shares"] = {str(name): share for name, share in found.priority_shares.items()}
    return plain


def nodes_json(
    rows: Iterable[NodeRow], toml: Mapping[str, str], archive: ArchiveNow | None, words: Localizer
) -> Json:
    """`nodes --json`: nodes [...], archive {waiting, oldest_waiting, refused, last_error, ...} or null.

    A node that the settings do not name has `known` false and the lines to add in `toml`.
    """
    queue = "waiting oldest_waiting_ms refused last_error compared_ms begins_ms filled missing"
    return {
        "nodes": [_node(row, toml, words) for row in rows],
        "archive": None if archive is None else _fields(archive, queue, words.zone),
    }


def _node(row: NodeRow, toml: Mapping[str, str], words: Localizer) -> Json:
    facts, zone = row.facts, words.zone
    counted = "messages missing duplicates conflicts rejected last_reject_ms last_reject_reason"
    return {
        "node": facts.node,
        **_fields(row, "known place placed silent", zone),
        "online": facts.online,
        "first_heard": iso(facts.first_heard_ms, zone) if row.heard else None,
        "last_heard": iso(facts.last_heard_ms, zone) if row.heard else None,
        **_fields(row, "battery_v", zone),
        **_fields(facts, counted, zone),
        "last_reject_sample": facts.last_reject_sample.decode("utf-8", "backslashreplace"),
        "clock_fault": facts.clock_fault,
        "calibrated": iso(row.calibrated_ms, zone),
        "faults": list(boards.faults(row, words)),
        "boot_stands": row.boot_stands,
        "boots_are_wakes": facts.boots_are_wakes,
        "report": _report(row.report, zone),
        "toml": toml.get(facts.node),
    }


def _report(now: ReportNow | None, zone: tzinfo) -> Json | None:
    """The last report of a board as it came, when, and what it means now; null where it sends none."""
    if now is None:
        return None
    plain: Json = dict(_timed(asdict(now.report), zone))
    del plain["node"]
    return {**plain, **_fields(now, "is_current signal newer_program settings_in_force", zone)}


def unknown_toml(
    rows: Iterable[NodeRow], sensors: Sequence[SensorKey], plan: Plan, words: Localizer
) -> dict[str, str]:
    """The lines for farm.toml of each board that the settings do not name."""
    return {
        row.facts.node: "\n".join(boards.toml_lines(row.facts.node, sensors, plan, words)) + "\n"
        for row in rows
        if not row.known
    }


def today_json(today: Today | None, words: Localizer) -> Json:
    """The tasks of the day: what is left in order, and what was done by whom."""
    if today is None:
        return {}
    tasks = [*today.left, *today.done]
    return {"today": [_task_json(task, words) for task in tasks]}


def _task_json(task: Task, words: Localizer) -> Json:
    plain: Json = {"task": task.key, "text": task_text(task, words), "why": why(task, words)}
    if task.due_ms is not None:
        plain["due"] = iso(task.due_ms, words.zone)
    if task.entries:
        plain["entry"] = {"path": task.entries[0].path, "fields": dict(task.entries[0].fields)}
    if task.done is not None:
        plain["done"] = {"by": task.done.who, "at": iso(task.done.at_ms, words.zone)}
    return plain


def night_json(report: NightReport, numbers: Mapping[str, int], words: Localizer) -> Json:
    """`night --json`: the fields of the report, each `..._ms` as a time without that ending; and its text."""
    night, zone = report.night, words.zone
    plain: Json = dict(_timed(asdict(night), zone))
    del plain["set_aside"]
    plain["still_active"] = [alarm_json(alarm, numbers, zone) for alarm in night.still_active]
    plain["downtime"] = [{"start": iso(start, zone), "end": iso(end, zone)} for start, end in night.downtime]
    plain["notes"] = list(aside_lines(night, words))
    plain["nodes"] = [
        {
            "node": care.row.facts.node,
            "place": care.row.place,
            "reasons": list(boards.reasons(care, words)),
        }
        for care in report.boards
    ]
    if report.due is not None:
        plain.update(today_json(report.due.today, words))
    plain["sections"] = [asdict(section) for section in due_sections(report.due, words)]
    plain["text"] = report_text(report, words)
    return plain


def _timed(value: Any, zone: tzinfo) -> Any:
    """The same with ISO times: a key that ends in _ms loses that ending."""
    if isinstance(value, Mapping):
        return {
            key.removesuffix("_ms"): iso(each, zone) if key.endswith("_ms") else _timed(each, zone)
            for key, each in value.items()
        }
    if isinstance(value, list | tuple):
        return [_timed(each, zone) for each in value]
    return value


def unit(quantity: str) -> str:
    """The canonical unit of a quantity, as SenML writes it."""
    return QUANTITIES[quantity].unit if quantity in QUANTITIES else ""


def bins_json(view: BinsView, zone: tzinfo) -> Json:
    """Every filled bin."""
    return {"now": iso(view.now_ms, zone), "bins": [bin_json(each, zone) for each in view.bins]}


def bin_json(view: BinView, zone: tzinfo) -> Json:
    """One filled bin."""
    facts = view.fill.facts
    return {
        "place": view.place,
        "title": view.title,
        "filled": iso(facts.filled_ms, zone),
        "filled_kg": facts.wet_kg,
        "filled_moisture": facts.moisture,
        "surface_m2": facts.surface_m2,
        "cohorts": list(view.fill.living),
        "animals": view.fill.animals,
        "moisture": None if view.outlook is None else _outlook(view.outlook),
        "heat": None if view.heat is None else _heat(view.heat),
        "harvest": None if view.harvest is None else _harvest(view.harvest, zone),
        "why_not": NO_AIR if view.outlook is None else None,
    }


def _outlook(outlook: MoistureOutlook) -> Json:
    loss = outlook.loss
    return {
        **_rounded(outlook, "median low high", 4),
        "zone": outlook.zone.value,
        "finishing": outlook.finishing,
        "loss_g_h": round(loss.median_g_h, 1) if loss.resolvable else None,
        "loss_low_g_h": round(loss.low_g_h, 1),
        "loss_high_g_h": round(loss.high_g_h, 1),
        "to_dry_warning": _hours(outlook.to_warning),
        "to_dry_limit": _hours(outlook.to_limit),
        "litres_to_add": round(outlook.litres, 2),
        "dry_bran_to_add_kg": round(outlook.bran_kg, 2),
    }


def _harvest(harvest: HarvestOutlook, zone: tzinfo) -> Json:
    """Larvae now and at their heaviest; `ripe_at` is null where that is beyond the days looked ahead to."""
    return {
        "now_kg": _rounded(harvest.now, "low median high", 3),
        "ripe_kg": _rounded(harvest.ripe, "low median high", 3),
        "ripe_at": None if harvest.ripe_ms is None else iso(harvest.ripe_ms, zone),
        "past_its_peak": harvest.is_past,
        "larva_mg": round(harvest.now.each_mg),
        "missing_dry_feed_kg": round(harvest.missing_feed_kg, 2),
    }


def _hours(ahead: HoursTo | None) -> Json | None:
    """Hours; 240 stands for ten days or more."""
    if ahead is None:
        return None
    return {
        **_rounded(ahead, "median_h earliest_h likely_h", 1),
        "chance_within_12_h": round(ahead.chance_within(SOON_H), 2),
    }


def _heat(heat: HeatView) -> Json:
    return {
        **_rounded(heat, "substrate_c excess_k slope_c_per_h", 2),
        "limit_c": heat.limit_c,
        "minutes_to_limit": None if heat.median_min is None else round(heat.median_min),
        "earliest_minutes_to_limit": None if heat.earliest_min is None else round(heat.earliest_min),
        "heat_made_w_m2": None if heat.made_w_m2 is None else round(heat.made_w_m2),
    }


def forecast_json(view: ForecastView, plan: Plan, zone: tzinfo) -> Json:
    """`forecast --json`: at, cohorts [...], today, week, overdue, ask, refused."""
    ask = view.ask
    return {
        "at": iso(view.now_ms, zone),
        "cohorts": [cohort_json(each.cohort, plan, zone, each) for each in view.cohorts],
        "today": [_fields(due, DUE, zone) for due in view.today],
        "week": [_fields(due, DUE, zone) for due in view.week],
        "overdue": [_fields(due, DUE, zone) for due in view.overdue],
        "ask": None
        if ask is None
        else _fields(ask, "cohort event expected_ms", zone) | _rounded(ask, "gain_days", 2),
        "refused": [{"entry": each.entry.entry_id, "reason": str(each.reason)} for each in view.refused],
    }


def cohort_json(cohort: Cohort, plan: Plan, zone: tzinfo, view: CohortView | None) -> Json:
    """One cohort as the book tells it, with its forecast (null for one that has ended)."""
    ended, track = cohort.ended, cohort.track
    forecast = view.forecast if view is not None else None
    return {
        "name": cohort.name,
        **_fields(track, "start_ms start_stage", zone),
        **_rounded(track, "start_sd_days", 3),
        **_fields(cohort, "origin feed purpose cage parent merged", zone),
        "animals": track.count,
        "animals_stage": track.count_stage,
        "animals_rough": cohort.rough_count,
        "stays": [
            {"place": stay.place, "title": plan.title(stay.place), "from": iso(stay.from_ms, zone)}
            for stay in track.residences
        ],
        "seen": [_fields(seen, "event at_ms sd_days", zone) for seen in cohort.seen],
        "flies": [_fields(count, "at_ms flies", zone) for count in cohort.flies],
        "eggs": [{"at": iso(at_ms, zone), "grams": grams} for at_ms, grams in cohort.eggs_grams],
        "ended": None if ended is None else _fields(ended, "at_ms how grams animals", zone),
        "place": view.place if view is not None else None,
        "drift_days": None if view is None or view.drift_days is None else round(view.drift_days, 2),
        "forecast": None if forecast is None else one_forecast_json(forecast, zone),
    }


def one_forecast_json(forecast: CohortForecast, zone: tzinfo) -> Json:
    """One forecast: stage, events with 80 % windows, emergence day by day, what it rests on."""
    known, stands = forecast.unknown_since_ms is None, forecast.standstill
    return {
        "made": iso(forecast.made_ms, zone),
        "stage": forecast.stage.value if known else None,
        "progress": round(forecast.progress, 4) if known else None,
        "degree_days_done": round(forecast.units_done, 2) if known else None,
        "degree_days_needed": round(forecast.units_needed, 2),
        "unknown_since": time_json(forecast.unknown_since_ms, zone),
        "events": [_fields(event, WINDOW, zone) for event in forecast.events],
        "emergence": [_emergence(each, zone) for each in forecast.emergence],
        "rests_on": {
            "own_cohorts": forecast.cohorts,
            "temperature": None if forecast.used is None else forecast.used.value,
            "without_probe": forecast.without_probe,
            "estimated_hours": round(forecast.estimated_hours, 1),
        },
        "heat_hours": round(forecast.heat_hours, 1),
        "heat": forecast.heat.value,
        "heat_harm": None if forecast.harm is None else _harm(forecast.harm),
        "standstill": None if stands is None else {"stage": stands.stage.value, "cause": stands.cause.value},
    }


def _harm(harm: HeatHarm) -> Json:
    hours = harm.half_in_hours
    shares = _rounded(harm, "lives low high", 4)
    return {**shares, "half_in_hours": round(hours, 2) if hours < float("inf") else None}


def _emergence(day: EmergenceDay, zone: tzinfo) -> Json:
    share, flies = "share share_low share_high", "flies flies_low flies_high"
    return {"day": iso(day.day_start_ms, zone), **_rounded(day, share, 5), **_rounded(day, flies, 1)}


def entry_json(entry: LogbookEntry, zone: tzinfo) -> Json:
    """One entry of the logbook as it was written, with what it is about: a cohort, bin, place or node."""
    return {
        "entry": entry.entry_id,
        entry.subject_kind.value: entry.subject,
        **_fields(entry, "kind at_ms entered_ms", zone),
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
        "title": cage.title or NO_CAGE_NAMED,
        "cohorts": list(cage.cohorts),
        "uncounted": list(supply.uncounted),
        "least_flies": supply.least_flies,
        "gap_from": None if supply.gap is None else iso(supply.gap.day_start_ms, zone),
        "days": [
            {
                "day": iso(each.day_start_ms, zone),
                **_rounded(each, "living low high", 1),
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
            {"decide_by": time_json(each.latest_ms, zone), **_fields(each, "cohort half_emerged_ms", zone)}
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


def published_json(species: str, times: Sequence[ComparedTime]) -> Json:
    """`learn --published --json`: species, times [{stages, temperature, published, in_use, reason}]."""
    return {"species": species, "times": [_compared(each) for each in times]}


def _compared(time: ComparedTime) -> Json:
    published = time.published
    return {
        "stages": [stage.value for stage in published.stages],
        **_rounded(published, "from_days temperature_c low_days high_days", 3),
        "feed": published.feed,
        "temperature_stated": published.is_stated,
        "said": published.said,
        "condition": published.condition,
        "mark": published.mark,
        "source": published.source,
        "in_use": _rounded(time, "median_days low_days high_days", 2),
        "inside": time.is_inside,
        "window_holds": time.is_held,
        "reason": published.reason or None,
    }


def _score(score: ForecastScore) -> Json:
    return {
        "events": score.forecasts,
        **_rounded(score, "bias_days mean_absolute_error_days", 3),
        "windows_held": round(score.held_share, 3),
    }


def calibration_json(calibration: Calibration, zone: tzinfo) -> Json:
    """`calibrate --json`: one line of a sensor with the time from which it holds."""
    return {
        "sensor": str(calibration.sensor),
        "quantity": calibration.sensor.quantity,
        "unit": unit(calibration.sensor.quantity),
        **_fields(calibration, "valid_from_ms entered_ms slope offset note", zone),
    }
