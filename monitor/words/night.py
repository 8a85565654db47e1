"""A night in words: how it was, what happened at each place, and what it asks of the day.

`report_text` is the whole report as plain text, readable in a message on a phone; the page lays the same
sentences out.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from monitor.bins.outlook import MoistureOutlook
from monitor.bins.substrate import Zone
from monitor.climate.surfaces import MOULD_HOURS, MOULD_HUMIDITY_PERCENT
from monitor.farm.bins import BinView
from monitor.farm.cohorts import ForecastView
from monitor.farm.due import TODAY_H, DampSurface, DueToday, needs_water_today
from monitor.farm.records import (
    ActiveAlarm,
    AirNight,
    AlarmNight,
    DegreeDays,
    LateExcursion,
    NightReport,
    NightSummary,
    PlaceNight,
    QuantityNight,
)
from monitor.records import MS_PER_HOUR, MS_PER_MINUTE, Quantity
from monitor.words import boards
from monitor.words.alarms import SELF, condition, notes
from monitor.words.bins import hours
from monitor.words.cohorts import ask_line, due_line, warning_sentences
from monitor.words.localizer import Localizer, inside, kilograms, litres, percent

CONDENSING_NEAR_K = 1.0
PA_PER_KPA = 1000.0
MOST_DUE = 12


@dataclass(frozen=True, slots=True)
class Section:
    """A part of the report: its heading and its lines."""

    title: str
    lines: tuple[str, ...]


def report_text(report: NightReport, words: Localizer) -> str:
    """The whole report; the first line says whether anything is wrong now."""
    night = report.night
    sections = (
        Section(words.t("night.wrong_heading"), tuple(_still_active(night.still_active, words))),
        Section(words.t("night.alarms_heading"), tuple(_alarms(night.alarms, words))),
        Section(words.t("night.late_heading"), tuple(_late(night, words))),
        *due_sections(report.due, words),
        Section(words.t("night.places_heading"), tuple(_places(night.places, words))),
        Section(words.t("night.nodes_heading"), tuple(_boards(report, words))),
        Section(words.t("night.monitor_heading"), tuple(f"- {line}" for line in monitor_lines(night, words))),
        Section(words.t("night.aside_heading"), tuple(f"- {line}" for line in aside_lines(night, words))),
    )
    blocks = ["\n".join([section.title.upper(), *section.lines]) for section in sections if section.lines]
    return "\n\n".join([_head(night, words), *blocks]) + "\n"


def _head(night: NightSummary, words: Localizer) -> str:
    said = inside(verdict(night, words))
    head = words.t("night.head", title=night.title, date=night.date, verdict=said)
    span = words.t("night.span", start=words.moment(night.start_ms), end=words.moment(night.end_ms))
    length = words.length(night.end_ms - night.start_ms)
    return f"{head}\n{span} ({length})"


def verdict(night: NightSummary, words: Localizer) -> str:
    """Whether anything is wrong now, how the night was, and whether that is known at all."""
    wrong, woke, blind = len(night.still_active), len(night.alarms), night.blind_places
    # No data is not good news.
    well = words.t("night.nothing_known" if blind else "night.well_now")
    quiet = words.t("night.no_alarm" if blind or wrong else "night.quiet")
    first = words.n("night.wrong_now", wrong) if wrong else well
    second = words.n("night.alarms", woke) if woke else quiet
    said = words.listing([first, second])
    return f"{said}; {words.n('night.blind', blind)}" if blind else said


def wrong_text(alarm: ActiveAlarm, words: Localizer) -> str:
    """What is wrong now, and since when."""
    return words.listing([condition(alarm.rule, alarm.value, words), *notes(alarm.state, words)])


def _still_active(alarms: Iterable[ActiveAlarm], words: Localizer) -> Iterator[str]:
    for alarm in alarms:
        what = inside(wrong_text(alarm, words))
        yield f"- {words.headed(alarm.title, what)}"
        yield f"  {words.t('alarm.do')} {words.text(alarm.rule.response)}"
        if alarm.rule.caution:
            yield f"  {words.t('alarm.caution')} {words.text(alarm.rule.caution)}"


def alarm_text(alarm: AlarmNight, words: Localizer) -> str:
    """What came; the name of an alarm that the settings no longer have."""
    return alarm.alarm_id if alarm.rule is None else condition(alarm.rule, alarm.value, words)


def alarm_notes(alarm: AlarmNight, words: Localizer) -> Iterator[str]:
    """How far it went, why it is in doubt, who acknowledged it, and when it ended or was held back."""
    if alarm.rule is not None and alarm.extreme is not None and alarm.extreme != alarm.value:
        yield words.t("night.farthest", value=words.value(alarm.rule.quantity, alarm.extreme))
    if alarm.reason and not alarm.hidden:
        yield words.text(alarm.reason)
    if alarm.hidden and alarm.cleared_ms is not None:
        at = words.hour(alarm.cleared_ms)
        yield words.t("night.held_back", at=at, reason=words.text(alarm.reason))
        return
    cleared_ms = alarm.cleared_ms
    yield words.t("night.stands") if cleared_ms is None else words.t("night.over", at=words.hour(cleared_ms))
    if alarm.acknowledged_ms is None:
        yield words.t("night.not_acknowledged")
    elif alarm.acknowledged_by != SELF:
        at = words.hour(alarm.acknowledged_ms)
        yield words.t("night.acknowledged", who=alarm.acknowledged_by, at=at)


def _alarms(alarms: Iterable[AlarmNight], words: Localizer) -> Iterator[str]:
    for alarm in alarms:
        priority = words.t(f"priority.{alarm.priority}")
        what = inside(alarm_text(alarm, words))
        text = words.t("list.stands", priority=priority, title=alarm.title, what=what)
        yield f"- {words.hour(alarm.began_ms)} {text}"
        yield f"  {words.listing(list(alarm_notes(alarm, words)))}"


def late_began(late: LateExcursion, night: NightSummary, words: Localizer) -> str:
    """When it began, with the day where that lies outside the night."""
    within = night.start_ms <= late.began_ms < night.end_ms
    return words.hour(late.began_ms) if within else words.moment(late.began_ms)


def late_text(late: LateExcursion, words: Localizer) -> tuple[str, str]:
    """How far it went, and until when."""
    until = words.t("night.until", at=words.hour(late.ended_ms))
    return condition(late.rule, late.extreme, words), until


def _late(night: NightSummary, words: Localizer) -> Iterator[str]:
    for late in night.found_late:
        what = inside(words.listing(list(late_text(late, words))))
        text = words.headed(late.title, what)
        yield f"- {late_began(late, night, words)} {text}"


def _places(places: Iterable[PlaceNight], words: Localizer) -> Iterator[str]:
    for place in places:
        if place.empty:
            yield f"- {words.t('now.place', title=place.title, state=inside(words.t('state.empty')))}"
            continue
        yield f"- {place.title}"
        yield from (f"  {_quantity(quantity, words)}" for quantity in place.quantities)
        said = list(place_notes(place, words))
        yield from ([f"  {words.clauses(said)}"] if said else [])
        yield from (f"  {warning}" for warning in place_warnings(place, words))


def _quantity(night: QuantityNight, words: Localizer) -> str:
    name, low, high = night.quantity, night.lowest, night.highest
    span = words.t(
        "night.range",
        name=inside(words.short_quantity(name)),
        low=words.value(name, low.value),
        low_at=words.hour(low.at_ms),
        high=words.value(name, high.value),
        high_at=words.hour(high.at_ms),
    )
    return words.clauses((span, *quantity_notes(night, words)))


def quantity_notes(night: QuantityNight, words: Localizer) -> Iterator[str]:
    """For how long a quantity was out of range."""
    if night.minutes_out >= 1:
        yield words.t("night.out", length=words.length(night.minutes_out * MS_PER_MINUTE))


def place_warnings(place: PlaceNight, words: Localizer) -> Iterator[str]:
    """The longest silence of any quantity (mostly the whole board was silent), and condensation."""
    if not place.quantities and not place.empty:
        yield words.t("night.no_readings")
    longest = max((quantity.gap_minutes for quantity in place.quantities), default=0.0)
    if longest >= 1:
        yield words.t("night.gap", length=words.length(longest * MS_PER_MINUTE))
    air = place.air
    if air is not None and air.minutes_condensing >= 1:
        yield words.t("night.condensed", length=words.length(air.minutes_condensing * MS_PER_MINUTE))
    elif air is not None and air.lowest_margin_k < CONDENSING_NEAR_K:
        margin = words.value("condensation_margin", air.lowest_margin_k)
        yield words.t("night.near_condensing", margin=margin, at=words.hour(air.margin_at_ms))


def place_notes(place: PlaceNight, words: Localizer) -> Iterator[str]:
    """Degree-days earned, and the drying power of the air."""
    if place.degree_days is not None:
        yield from _degree_days(place.degree_days, words)
    if place.air is not None:
        yield from _air(place.air, words)


def _degree_days(earned: DegreeDays, words: Localizer) -> Iterator[str]:
    measured = "air" if earned.measured == Quantity.AIR_TEMPERATURE else "substrate"
    yield words.t(
        "night.degree_days",
        earned=words.number(earned.earned, 1),
        threshold=words.limit("air_temperature", earned.threshold_c),
        measured=words.t(f"night.from_{measured}"),
    )
    if earned.in_doubt:
        yield words.t("night.from_air_in_doubt")
    if earned.hours_missing:
        yield words.t("night.degree_days_missing", length=words.length(earned.hours_missing * MS_PER_HOUR))


def _air(air: AirNight, words: Localizer) -> Iterator[str]:
    deficits = (air.mean_deficit_pa, air.highest_deficit_pa)
    mean, most = (words.number(value / PA_PER_KPA, 1) for value in deficits)
    yield words.t("night.drying", mean=mean, most=most)
    yield words.t("night.dew_point", value=words.value("dew_point", air.dew_point_c))


def _boards(report: NightReport, words: Localizer) -> Iterator[str]:
    for care in report.boards:
        name = care.row.facts.node
        title = f"{name} ({care.row.place})" if care.row.placed else name
        yield f"- {words.headed(title, ' '.join(boards.reasons(care, words)))}"


def monitor_lines(night: NightSummary, words: Localizer) -> Iterator[str]:
    """When the monitor itself did not run, and what it could not send."""
    for start_ms, end_ms in night.downtime:
        times = {"start": words.hour(start_ms), "end": words.hour(end_ms)}
        yield words.t("night.not_running", **times, length=words.length(end_ms - start_ms))
    if night.unsent_messages:
        yield words.n("night.unsent", night.unsent_messages)


def aside_lines(night: NightSummary, words: Localizer) -> Iterator[str]:
    """What a person put aside stays in sight, so that it is not forgotten."""
    for alarm in night.set_aside:
        state = inside(words.t(f"status.{alarm.state.status}"))
        what = words.t("now.aside", quantity=words.quantity_name(alarm.rule.quantity), state=state)
        yield words.headed(alarm.title, what)


def due_sections(due: DueToday | None, words: Localizer) -> list[Section]:
    """What the day asks for; no section where there is nothing to say."""
    if due is None:
        return []
    sections = [
        Section(words.t("night.water_heading"), tuple(f"- {line}" for line in _watering(due, words))),
        Section(words.t("night.walls_heading"), tuple(f"- {line}" for line in _damp(due.surfaces, words))),
    ]
    if due.forecast_error is not None:
        said = words.t("night.no_forecast", why=words.error(due.forecast_error))
        sections.append(Section(words.t("part.cohorts"), (f"- {said}",)))
    if due.forecast is not None:
        today = tuple(f"- {line}" for line in _today(due.forecast, words))
        week = tuple(f"- {line}" for line in _week(due.forecast, words))
        sections.append(Section(words.t("night.cohorts_today_heading"), today))
        sections.append(Section(words.t("night.cohorts_week_heading"), week))
    return [section for section in sections if section.lines]


def _watering(due: DueToday, words: Localizer) -> Iterator[str]:
    if due.bins_error is not None:
        yield words.t("night.no_watering", why=words.error(due.bins_error))
    if due.bins is None:
        return
    needs = [need for view in due.bins.bins for need in _bin_need(view, words)]
    if due.bins.bins and not needs:
        yield words.t("night.none_needs_water")
    yield from needs


def _bin_need(view: BinView, words: Localizer) -> Iterator[str]:
    """What one bin needs today; nothing where it needs nothing."""
    moisture = view.outlook
    if moisture is None:
        yield words.headed(view.title, words.t("night.bin_unknown"))
    elif view.bands is None or moisture.finishing:
        return
    elif moisture.zone in (Zone.WET, Zone.TOO_WET):
        zone, bran = inside(words.t(f"zone.{moisture.zone}")), kilograms(words, moisture.bran_kg)
        share = percent(words, moisture.median)
        yield words.t("night.bin_wet", title=view.title, zone=zone, share=share, bran=bran)
    elif needs_water_today(view):
        yield words.t(
            "night.bin_water",
            title=view.title,
            amount=litres(words, moisture.litres),
            when=_when(moisture, view.now_ms, words),
            share=percent(words, moisture.median),
            low=percent(words, moisture.low),
            high=percent(words, moisture.high),
        )


def _when(moisture: MoistureOutlook, now_ms: int, words: Localizer) -> str:
    if moisture.to_limit is None or moisture.to_warning is None or moisture.zone is Zone.TOO_DRY:
        return words.t("night.dry_now")
    earliest_h = moisture.to_limit.earliest_h
    if earliest_h <= 0.0:
        return words.t("night.dry_perhaps_now")
    if earliest_h < TODAY_H:
        return words.t(
            "night.dry_before", at=words.at(now_ms).clock(now_ms + round(earliest_h * MS_PER_HOUR))
        )
    return words.t("night.dry_in", length=hours(words, earliest_h))


def _damp(surfaces: Iterable[DampSurface], words: Localizer) -> Iterator[str]:
    for surface in surfaces:
        state = surface.state
        if state.condenses:
            yield words.headed(surface.title, words.t("night.wall_condenses"))
        if state.mould_caution:
            caution = words.t(
                "night.wall_mould",
                humidity=words.value(Quantity.AIR_HUMIDITY, MOULD_HUMIDITY_PERCENT),
                damp=words.number(state.damp_hours),
                grows=words.number(MOULD_HOURS),
            )
            yield words.headed(surface.title, caution)


def _today(view: ForecastView, words: Localizer) -> Iterator[str]:
    yield from (due_line(due, words) for due in view.today)
    for due in view.overdue:
        yield words.t("night.not_entered", due=due_line(due, words))
    for cohort in view.cohorts:
        for warning in warning_sentences(cohort, words):
            yield words.headed(cohort.cohort.name, inside(warning))
    if view.ask is not None:
        yield ask_line(view, words)


def _week(view: ForecastView, words: Localizer) -> Iterator[str]:
    yield from (due_line(due, words) for due in view.week[:MOST_DUE])
    if len(view.week) > MOST_DUE:
        yield words.n("night.more_due", len(view.week) - MOST_DUE)
