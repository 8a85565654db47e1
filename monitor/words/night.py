"""A night in words: how it was, what happened at each place, and what it asks of the day.

`report_text` is the whole report as plain text, readable in a message on a phone; the page lays the same
sentences out.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator

from monitor.farm.night_records import (
    CONDENSING_NEAR_K,
    AirNight,
    AlarmNight,
    DegreeDays,
    LateExcursion,
    MarkedPlaces,
    NightReport,
    NightSummary,
    PlaceNight,
    QuantityNight,
    WeekNight,
)
from monitor.farm.records import ActiveAlarm
from monitor.logbook.place_entries import Why
from monitor.records import MS_PER_HOUR, MS_PER_MINUTE, Quantity
from monitor.store.copies import CopyState
from monitor.words import boards
from monitor.words.alarms import SELF, condition, notes
from monitor.words.bins import heat_past_text
from monitor.words.guard import unguarded_texts
from monitor.words.localizer import Localizer, decimals_of, inside
from monitor.words.today import Section, due_sections

PA_PER_KPA = 1000.0
_RANGE = ("low", "low_at", "high", "high_at")
MOST_MARKED = 4
"""So many places of a night are named beside a mark of the week. Own choice, for a narrow screen."""


def report_text(report: NightReport, words: Localizer) -> str:
    """The whole report; the first line says whether anything is wrong. A part that fails says so."""
    night = report.night
    sections = (
        _section(
            "night.wrong_heading" if night.of_now else "night.wrong_then_heading", _standing, report, words
        ),
        _section("night.alarms_heading", _alarms, report, words),
        _section("night.late_heading", _late, report, words),
        *_due_or_failure(report, words),
        _section("night.yields_heading", _yields, report, words),
        _section("night.heat_heading", _heat, report, words),
        _section("night.places_heading", _places, report, words),
        _section("night.nodes_heading", _boards, report, words),
        _section("night.monitor_heading", _monitor, report, words),
        _section("night.aside_heading", _aside, report, words),
    )
    blocks = ["\n".join([section.title.upper(), *section.lines]) for section in sections if section.lines]
    return "\n\n".join([_head(night, words), *blocks]) + "\n"


def _section(
    key: str, lines: Callable[[NightReport, Localizer], Iterable[str]], report: NightReport, words: Localizer
) -> Section:
    """One part of the report; what cannot be said must not keep the rest from going out."""
    try:
        return Section(words.t(key), tuple(lines(report, words)))
    except Exception as error:
        return Section(words.t(key), (f"- {failed_text(type(error).__name__, words)}",))


def _yields(report: NightReport, words: Localizer) -> Iterator[str]:
    if "yields" in report.night.failed:
        yield f"- {failed_text(report.night.failed['yields'], words)}"
    if report.yields is not None:
        from monitor.words.yields import turned_lines

        yield from (f"- {line}" for line in turned_lines(report.yields, words))


def _due_or_failure(report: NightReport, words: Localizer) -> list[Section]:
    try:
        return due_sections(report.due, words.at(report.night.told_to_ms))
    except Exception as error:
        return [Section(words.t("night.water_heading"), (f"- {failed_text(type(error).__name__, words)}",))]


def failed_text(kind: str, words: Localizer) -> str:
    """That a part could not be worked out, and the name of the error."""
    return words.t("night.part_failed", kind=kind)


def _head(night: NightSummary, words: Localizer) -> str:
    said = inside(verdict(night, words))
    head = words.t("night.head", title=night.title, date=night.date, verdict=said)
    span = words.t("night.span", start=words.moment(night.start_ms), end=words.moment(night.end_ms))
    length = words.length(night.end_ms - night.start_ms)
    lines = [head, f"{span} ({length})"]
    return "\n".join(lines if night.of_now else [*lines, words.t("night.as_known")])


def verdict(night: NightSummary, words: Localizer) -> str:
    """Whether anything is wrong now, or was at the end of an earlier night; how it was; what is not known."""
    return words.clauses([headline(night, words), *happened(night, words)])


def headline(night: NightSummary, words: Localizer) -> str:
    """The verdict without what it rests on: what is wrong, and how many alarms came."""
    woke, when = len(night.alarms), "_day" if night.by_day else ""
    quiet = "quiet" if night.over and not night.by_day else "quiet_so_far"
    calm = words.t(f"night.{quiet}" if night.quiet else f"night.no_alarm{when}")
    return words.listing([_state(night, words), words.n(f"night.alarms{when}", woke) if woke else calm])


def which(night: NightSummary, words: Localizer) -> str:
    """Which night it is: tonight so far, the day so far, the last one, or that to a date."""
    if night.by_day:
        return words.t("night.day_so_far")
    if not night.over:
        return words.t("night.so_far")
    return words.t("night.last" if night.of_now else "night.earlier_one")


def _state(night: NightSummary, words: Localizer) -> str:
    """What is wrong now, or was when an earlier night ended. No data is not good news."""
    wrong, when = len(night.still_active), "now" if night.of_now else "then"
    if wrong:
        return words.n(f"night.wrong_{when}", wrong)
    if not night.running:
        return words.t("night.stopped")
    return words.t(f"night.well_{when}" if night.known else f"night.nothing_known_{when}")


def happened(night: NightSummary, words: Localizer) -> Iterator[str]:
    """What keeps a night without an alarm from being quiet, the places counted."""
    if night.began_ms is not None and night.began_ms >= night.end_ms:
        yield words.t("night.before_first")
        return
    if night.blind_places:
        yield words.n("night.blind", night.blind_places)
    if night.unknown:
        yield words.n("night.unknown_now" if night.of_now else "night.unknown_then", night.unknown)
    if night.out_places:
        most = max(place.out_minutes for place in night.out_places)
        yield words.n("night.out_places", len(night.out_places), length=words.length(most * MS_PER_MINUTE))
    if night.found_late:
        yield words.n("night.late", len(night.found_late))
    if night.downtime:
        down_ms = sum(end_ms - start_ms for start_ms, end_ms in night.downtime)
        yield words.t("night.down", length=words.length(down_ms))
    if night.gap_places and not night.blind_places:
        yield words.n("night.gap_places", len(night.gap_places))
    failed = len(night.failed) + sum(bool(place.failed) for place in night.places)
    if failed:
        yield words.n("night.parts_failed", failed)


def wrong_text(alarm: ActiveAlarm, night: NightSummary, words: Localizer) -> str:
    """What is wrong now, or was when an earlier night ended, and since when."""
    then = words if night.of_now else words.at(night.told_to_ms)
    return words.listing([condition(alarm.rule, alarm.value, words), *notes(alarm, then)])


def _standing(report: NightReport, words: Localizer) -> Iterator[str]:
    if "standing" in report.night.failed:
        yield f"- {failed_text(report.night.failed['standing'], words)}"
    for alarm in report.night.still_active:
        what = inside(wrong_text(alarm, report.night, words))
        yield f"- {words.headed(alarm.title, what)}"
        if not report.night.of_now:
            continue
        yield f"  {words.t('alarm.do')} {words.text(alarm.rule.response)}"
        if alarm.rule.caution:
            yield f"  {words.t('alarm.caution')} {words.text(alarm.rule.caution)}"


def alarm_text(alarm: AlarmNight, words: Localizer) -> str:
    """What came; the name of an alarm that the settings no longer have."""
    return alarm.alarm_id if alarm.rule is None else condition(alarm.rule, alarm.value, words)


def at_hour(at_ms: int, night: NightSummary, words: Localizer) -> str:
    """A time of the night by its hour, any other with its day."""
    return words.hour(at_ms) if night.start_ms <= at_ms < night.end_ms else words.moment(at_ms)


def alarm_notes(alarm: AlarmNight, night: NightSummary, words: Localizer) -> Iterator[str]:
    """How far it went, why it is in doubt, who acknowledged it, and when it ended or was held back."""
    if alarm.rule is not None and alarm.extreme is not None and alarm.extreme != alarm.value:
        yield words.t("night.farthest", value=words.value(alarm.rule.quantity, alarm.extreme))
    if alarm.reason and not alarm.hidden:
        yield words.text(alarm.reason)
    if alarm.aside_ms is not None:
        yield words.t("night.put_aside", who=alarm.aside_by, at=at_hour(alarm.aside_ms, night, words))
    if alarm.hidden and alarm.cleared_ms is not None:
        at = at_hour(alarm.cleared_ms, night, words)
        yield words.t("night.held_back", at=at, reason=words.text(alarm.reason))
        return
    yield _ending(alarm, night, words)
    if alarm.acknowledged_ms is None:
        yield words.t("night.not_acknowledged")
    elif alarm.acknowledged_by != SELF:
        at = at_hour(alarm.acknowledged_ms, night, words)
        yield words.t("night.acknowledged", who=alarm.acknowledged_by, at=at)


def _ending(alarm: AlarmNight, night: NightSummary, words: Localizer) -> str:
    """When it was over or came anew; that it goes on only where an alarm that still exists does so."""
    if alarm.cleared_ms is not None:
        return words.t("night.over", at=at_hour(alarm.cleared_ms, night, words))
    if alarm.again_ms is not None:
        return words.t("night.again", at=at_hour(alarm.again_ms, night, words))
    return words.t("night.stands" if alarm.rule is not None else "night.end_unknown")


def _alarms(report: NightReport, words: Localizer) -> Iterator[str]:
    if "alarms" in report.night.failed:
        yield f"- {failed_text(report.night.failed['alarms'], words)}"
    for alarm in report.night.alarms:
        priority = words.t(f"priority.{alarm.priority}")
        what = inside(alarm_text(alarm, words))
        text = words.t("list.stands", priority=priority, title=alarm.title, what=what)
        yield f"- {at_hour(alarm.began_ms, report.night, words)} {text}"
        yield f"  {words.listing(list(alarm_notes(alarm, report.night, words)))}"


def late_text(late: LateExcursion, night: NightSummary, words: Localizer) -> tuple[str, str]:
    """How far it went, and until when."""
    until = words.t("night.until", at=at_hour(late.ended_ms, night, words))
    return condition(late.rule, late.extreme, words), until


def _late(report: NightReport, words: Localizer) -> Iterator[str]:
    if "late" in report.night.failed:
        yield f"- {failed_text(report.night.failed['late'], words)}"
    for late in report.night.found_late:
        what = inside(words.listing(list(late_text(late, report.night, words))))
        text = words.headed(late.title, what)
        yield f"- {at_hour(late.began_ms, report.night, words)} {text}"


def _places(report: NightReport, words: Localizer) -> Iterator[str]:
    quiet_places = report.night.quiet_places
    for place in report.night.worst_first:
        if place.empty:
            yield f"- {words.t('now.place', title=place.title, state=inside(words.t('state.empty')))}"
            yield from (f"  {line}" for line in unguarded_lines(place, report.night, words))
            continue
        quiet = quiet_range(place, words) if place.id in quiet_places else None
        if quiet is not None:
            span = words.t("night.quiet_range", **dict(zip(_RANGE, quiet, strict=True)))
            yield f"- {words.clauses([words.headed(place.title, span), *place_notes(place, words)])}"
            continue
        yield f"- {place.title}"
        yield from (f"  {line}" for line in unguarded_lines(place, report.night, words))
        yield from (f"  {_quantity(quantity, words)}" for quantity in place.quantities)
        said = list(place_notes(place, words))
        yield from ([f"  {words.clauses(said)}"] if said else [])
        yield from (f"  {warning}" for warning in place_warnings(place, words))


def quiet_range(place: PlaceNight, words: Localizer) -> tuple[str, str, str, str] | None:
    """Lowest and highest value of what matters most in a quiet place, each with its time; the unit once."""
    night = place.main
    if night is None:
        return None
    name, low, high = night.quantity, night.lowest, night.highest
    lowest = words.number(words.shown(name, low.value), decimals_of(name))
    return lowest, words.hour(low.at_ms), words.value(name, high.value), words.hour(high.at_ms)


def marked_text(marked: MarkedPlaces, places: int, words: Localizer) -> str:
    """The places that share a mark in a night; where these are many, the rest as a number."""
    named = list(marked.places[:MOST_MARKED])
    if len(marked.places) == places and places > 1:
        return words.t("night.everywhere")
    more = len(marked.places) - len(named)
    return words.listing([*named, words.n("night.more_places", more)] if more else named)


def week_text(night: WeekNight, words: Localizer) -> str:
    """What a night without a mark was."""
    if not night.known:
        return words.t("night.not_measured")
    return words.t("night.within")


def _heat(report: NightReport, words: Localizer) -> Iterator[str]:
    """What is worth knowing of the heat of feeding bins, and is no alarm; the longest hot first."""
    hot = [(place, heat_notes(place, words)) for place in report.night.places]
    hot.sort(key=lambda each: each[0].heat.heat_rank if each[0].heat else (), reverse=True)
    return (f"- {words.headed(place.title, ' '.join(said))}" for place, said in hot if said)


def heat_notes(place: PlaceNight, words: Localizer) -> tuple[str, ...]:
    """How hot a bin has been beside what is usual; nothing where that is not worth a word."""
    said = "" if place.heat is None or place.empty else heat_past_text(place.heat, words)
    return (said,) if said else ()


def _quantity(night: QuantityNight, words: Localizer) -> str:
    name, low, high = night.quantity, night.lowest, night.highest
    span = words.t(
        "night.range",
        name=inside(quantity_title(night, words)),
        low=words.value(name, low.value),
        low_at=words.hour(low.at_ms),
        high=words.value(name, high.value),
        high_at=words.hour(high.at_ms),
    )
    return words.clauses((span, *quantity_notes(night, words)))


def unguarded_lines(place: PlaceNight, night: NightSummary, words: Localizer) -> Iterator[str]:
    """Why a place was not guarded in the night, who said so and when; how to undo it while it may hold."""
    then = words if night.of_now else words.at(night.told_to_ms)
    for why in place.unguarded:
        said = unguarded_texts(why, then)
        yield " ".join(said if night.of_now and why.why is not Why.ASIDE else said[:-1])


def quantity_title(night: QuantityNight, words: Localizer) -> str:
    """The short name of a quantity; of moisture that this is what the probe alone said."""
    if night.is_index:
        return words.t("value.index")
    is_probe = night.quantity == Quantity.SUBSTRATE_MOISTURE
    return words.t("night.probe") if is_probe else words.short_quantity(night.quantity)


def quantity_notes(night: QuantityNight, words: Localizer) -> Iterator[str]:
    """For how long a quantity was out of range, and that an index is no moisture."""
    if night.is_index:
        yield words.t("value.no_moisture")
    if night.minutes_out >= 1:
        yield words.t("night.out", length=words.length(night.minutes_out * MS_PER_MINUTE))


def place_warnings(place: PlaceNight, words: Localizer) -> Iterator[str]:
    """The longest silence of any quantity (mostly the whole board was silent), and condensation."""
    if place.failed:
        yield failed_text(place.failed, words)
        return
    if not place.quantities and not place.empty:
        yield words.t("night.no_readings")
    for quantity in place.missing:
        yield words.t("night.none_of", quantity=words.quantity_name(quantity))
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
    if report.boards_failed:
        yield f"- {failed_text(report.boards_failed, words)}"
    for care in report.boards:
        name = care.row.facts.node
        title = f"{name} ({care.row.place})" if care.row.placed else name
        yield f"- {words.headed(title, ' '.join(boards.reasons(care, words)))}"


def monitor_lines(night: NightSummary, words: Localizer) -> Iterator[str]:
    """When the monitor itself did not run, what it could not send, and a heartbeat that nobody takes."""
    for start_ms, end_ms in night.downtime:
        times = {"start": words.hour(start_ms), "end": words.hour(end_ms)}
        yield words.t("night.not_running", **times, length=words.length(end_ms - start_ms))
    if night.unsent_messages:
        yield words.n("night.unsent" if night.of_now else "night.unsent_then", night.unsent_messages)
    if night.heartbeat_lost_ms is not None:
        yield words.t("night.heartbeat", since=words.moment(night.heartbeat_lost_ms))
    for state in night.copies_failed:
        yield copy_fault_line(state, words)


def copy_fault_line(state: CopyState, words: Localizer) -> str:
    """Since when a place has had no good copy, and why."""
    why = "" if state.fault is None else words.sentence(state.fault)
    if state.good_ms is None:
        return words.t("night.copy_never", place=state.label, why=why)
    return words.t("night.copy_fault", place=state.label, since=words.moment(state.good_ms), why=why)


def _monitor(report: NightReport, words: Localizer) -> Iterator[str]:
    return (f"- {line}" for line in monitor_lines(report.night, words))


def _aside(report: NightReport, words: Localizer) -> Iterator[str]:
    return (f"- {line}" for line in aside_lines(report.night, words))


def aside_lines(night: NightSummary, words: Localizer) -> Iterator[str]:
    """What a person put aside stays in sight, so that it is not forgotten."""
    for alarm in night.set_aside:
        state = inside(words.t(f"status.{alarm.state.status}"))
        what = words.t("now.aside", quantity=words.quantity_name(alarm.rule.quantity), state=state)
        yield words.headed(alarm.title, what)
