"""The night in the words of the person who looks."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from markupsafe import Markup

from monitor.records import MS_PER_HOUR, MS_PER_MINUTE
from monitor.views.page.alarm_view import condition, what
from monitor.views.page.words import Words
from monitor.views.view_records import (
    AirNight,
    AlarmNight,
    DegreeDays,
    NightSummary,
    PlaceNight,
    QuantityNight,
)

CONDENSING_NEAR_K = 1.0
PA_PER_KPA = 1000.0


@dataclass(frozen=True, slots=True)
class QuantityLine:
    """One quantity over the night."""

    name: str
    low: str
    low_at: str
    high: str
    high_at: str
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class NightPlace:
    """One place over the night, with its line of the picture."""

    id: str
    title: str
    empty: bool
    quantities: tuple[QuantityLine, ...]
    warnings: tuple[str, ...]
    notes: tuple[str, ...]
    strip: Markup | None


@dataclass(frozen=True, slots=True)
class AlarmLine:
    """One alarm of the night."""

    at: str
    title: str
    what: str
    shape: str
    word: str
    notes: tuple[str, ...]


def verdict(night: NightSummary, words: Words) -> str:
    """The first line: whether anything is wrong now, and how the night was."""
    now, woke = len(night.still_active), len(night.alarms)
    first = words.n("night.wrong_now", now) if now else words.t("night.well_now")
    second = words.n("night.alarms", woke) if woke else words.t("night.quiet")
    return f"{first}{words.t('format.list')}{second}"


def place_of_night(place: PlaceNight, strip: Markup | None, words: Words) -> NightPlace:
    """One place."""
    return NightPlace(
        id=place.id,
        title=place.title,
        empty=place.empty,
        quantities=tuple(_quantity(quantity, words) for quantity in place.quantities),
        warnings=(*_gap(place, words), *_condensation(place.air, words)),
        notes=(*_degree_days(place.degree_days, words), *_drying(place.air, words)),
        strip=strip,
    )


def _quantity(found: QuantityNight, words: Words) -> QuantityLine:
    notes = []
    if found.minutes_out >= 1:
        length = words.length(found.minutes_out * MS_PER_MINUTE)
        notes.append(words.t("night.out", length=length))
    return QuantityLine(
        words.short_quantity(found.quantity),
        words.value(found.quantity, found.lowest.value),
        words.hour(found.lowest.at_ms),
        words.value(found.quantity, found.highest.value),
        words.hour(found.highest.at_ms),
        tuple(notes),
    )


def _gap(place: PlaceNight, words: Words) -> Iterator[str]:
    """The longest silence of any quantity; mostly the board as a whole was silent."""
    longest = max((quantity.gap_minutes for quantity in place.quantities), default=0.0)
    if longest >= 1:
        yield words.t("night.gap", length=words.length(longest * MS_PER_MINUTE))


def _drying(air: AirNight | None, words: Words) -> Iterator[str]:
    if air is not None:
        deficits = (air.mean_deficit_pa, air.highest_deficit_pa)
        mean, most = (words.number(value / PA_PER_KPA, 1) for value in deficits)
        yield words.t("night.drying", mean=mean, most=most)


def _condensation(air: AirNight | None, words: Words) -> Iterator[str]:
    if air is None:
        return
    if air.minutes_condensing >= 1:
        yield words.t("night.condensed", length=words.length(air.minutes_condensing * MS_PER_MINUTE))
    elif air.lowest_margin_k < CONDENSING_NEAR_K:
        margin = words.value("condensation_margin", air.lowest_margin_k)
        yield words.t("night.near_condensing", margin=margin, at=words.hour(air.margin_at_ms))


def _degree_days(earned: DegreeDays | None, words: Words) -> Iterator[str]:
    if earned is None:
        return
    yield words.t(
        "night.degree_days",
        earned=words.number(earned.earned, 1),
        threshold=words.value("air_temperature", earned.threshold_c),
    )
    if earned.hours_missing:
        yield words.t("night.degree_days_missing", length=words.length(earned.hours_missing * MS_PER_HOUR))


def alarm_lines(night: NightSummary, words: Words) -> Iterator[AlarmLine]:
    """The alarms that came in the night."""
    for alarm in night.alarms:
        text = alarm.alarm_id if alarm.rule is None else condition(alarm.rule, alarm.value, words)
        shape = str(alarm.priority)
        yield AlarmLine(
            words.hour(alarm.began_ms),
            alarm.title,
            text,
            shape,
            words.t(f"state.{shape}"),
            tuple(_alarm_notes(alarm, words)),
        )


def _alarm_notes(alarm: AlarmNight, words: Words) -> Iterator[str]:
    if alarm.acknowledged_ms is None:
        yield words.t("night.not_acknowledged")
    else:
        at = words.hour(alarm.acknowledged_ms)
        yield words.t("night.acknowledged", who=alarm.acknowledged_by, at=at)
    if alarm.rule is not None and alarm.extreme is not None and alarm.extreme != alarm.value:
        yield words.t("night.farthest", value=words.value(alarm.rule.quantity, alarm.extreme))
    cleared_ms = alarm.cleared_ms
    yield words.t("night.stands") if cleared_ms is None else words.t("night.over", at=words.hour(cleared_ms))


def wrong_lines(night: NightSummary, words: Words) -> Iterator[AlarmLine]:
    """What is wrong now."""
    for alarm in night.still_active:
        shape, text = str(alarm.rule.priority), what(alarm.rule, alarm.state, words)
        yield AlarmLine("", alarm.title, text, shape, words.t(f"state.{shape}"), ())


def late_lines(night: NightSummary, words: Words) -> Iterator[AlarmLine]:
    """What was found out only when late readings came; nobody was woken."""
    for found in night.found_late:
        until = words.t("night.until", at=words.hour(found.ended_ms))
        shape = str(found.rule.priority)
        yield AlarmLine(
            words.hour(found.began_ms),
            found.title,
            condition(found.rule, found.extreme, words),
            shape,
            words.t(f"state.{shape}"),
            (until,),
        )
