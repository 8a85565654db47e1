"""The night report as plain text, readable in a message on a phone. Pure: no clock, no I/O."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import tzinfo

from monitor.farm.records import (
    ActiveAlarm,
    AirNight,
    AlarmNight,
    DegreeDays,
    Extreme,
    NightSummary,
    NodeCare,
    PlaceNight,
    QuantityNight,
)
from monitor.records import MS_PER_HOUR, MS_PER_MINUTE, Side, local
from monitor.words.alarms import condition
from monitor.words.localizer import Localizer, inside
from monitor.words.phrases import MONTHS, WEEKDAYS, length_of_time, limit, measured, plural, quantity_title

CONDENSING_NEAR_K = 1.0
PA_PER_KPA = 1000.0
SELF = "monitor"


def night_text(night: NightSummary, zone: tzinfo) -> str:
    """The whole report; the first line says whether anything is wrong now."""
    clock = Clock(zone)
    blocks = [
        _head(night, clock),
        _section("Wrong now", _still_active(night.still_active, clock)),
        _section("Alarms of the night", _alarms(night.alarms, clock)),
        _section("Found later, nobody was woken", _late(night, clock)),
        *(_section(section.title, section.lines) for section in night.sections),
        _section("Places", _places(night.places, clock)),
        _section("Look after these sensors", _nodes(night.nodes)),
        _section("The monitor itself", _downtime(night, clock)),
        _section("To note", night.notes),
    ]
    return "\n\n".join(block for block in blocks if block) + "\n"


class Clock:
    """Times in the words of the farm's own clock."""

    def __init__(self, zone: tzinfo) -> None:
        self._zone = zone
        self.words = Localizer.plain("en", zone, 0)

    def at(self, at_ms: int) -> str:
        """Hours and minutes, local time."""
        return f"{local(at_ms, self._zone):%H:%M}"

    def day_at(self, at_ms: int) -> str:
        """Day, hours and minutes, local time."""
        at = local(at_ms, self._zone)
        return f"{WEEKDAYS[at.weekday()]} {at.day} {MONTHS[at.month - 1]} {at:%H:%M}"


def _section(title: str, lines: Iterable[str]) -> str:
    body = list(lines)
    return "\n".join([title.upper(), *body]) if body else ""


def _head(night: NightSummary, clock: Clock) -> str:
    hours = (night.end_ms - night.start_ms) / MS_PER_HOUR
    span = f"{clock.day_at(night.start_ms)} to {clock.day_at(night.end_ms)} ({hours:.0f} h)"
    return f"{night.title}, night to {night.date}: {_verdict(night)}\n{span}"


def _verdict(night: NightSummary) -> str:
    now, woke, blind = len(night.still_active), len(night.alarms), night.blind_places
    happened = plural(woke, "alarm") + " in the night"
    unseen = f"little or nothing was measured in {plural(blind, 'place')}" if blind else ""
    if now:
        found = f"{plural(now, 'thing')} wrong now, {happened}"
    elif blind:
        # No data is not good news.
        return f"nothing wrong is known, {happened if woke else 'no alarm'}, but {unseen}"
    else:
        found = f"all well now, {happened}" if woke else "all well, a quiet night"
    return f"{found}; {unseen}" if unseen else found


def _still_active(alarms: Iterable[ActiveAlarm], clock: Clock) -> Iterator[str]:
    for alarm in alarms:
        rule, state = alarm.rule, alarm.state
        since = "" if state.since_ms is None else f", since {clock.day_at(state.since_ms)}"
        stale = " (no newer reading)" if state.stale else ""
        yield f"- {alarm.title}: {inside(condition(rule, alarm.value, clock.words))}{since}{stale}"
        yield f"  Do: {rule.response}"
        if rule.caution:
            yield f"  Beware: {rule.caution}"


def _alarms(alarms: Iterable[AlarmNight], clock: Clock) -> Iterator[str]:
    for alarm in alarms:
        yield f"- {clock.at(alarm.began_ms)} {alarm.priority.value.upper()} {alarm.title}: {_what(alarm)}"
        yield f"  {_ending(alarm, clock)}"


def _what(alarm: AlarmNight) -> str:
    if alarm.rule is None:
        return alarm.alarm_id
    rule = alarm.rule
    value = alarm.extreme if alarm.extreme is not None else alarm.value
    reached = "" if value is None else f" reached {measured(rule.quantity, value)}"
    side = "above" if rule.side is Side.HIGH else "below"
    suspect = f" ({alarm.reason})" if alarm.reason and not alarm.hidden else ""
    return f"{quantity_title(rule.quantity)}{reached}, {side} {limit(rule.quantity, rule.setpoint)}{suspect}"


def _ending(alarm: AlarmNight, clock: Clock) -> str:
    if alarm.hidden and alarm.cleared_ms is not None:
        return f"from {clock.at(alarm.cleared_ms)} {alarm.reason}"
    over = "still so" if alarm.cleared_ms is None else f"over at {clock.at(alarm.cleared_ms)}"
    if alarm.acknowledged_by == SELF:
        return over
    if alarm.acknowledged_ms is None:
        return f"{over}, acknowledged by nobody"
    return f"{over}, acknowledged by {alarm.acknowledged_by} at {clock.at(alarm.acknowledged_ms)}"


def _late(night: NightSummary, clock: Clock) -> Iterator[str]:
    for found in night.found_late:
        what = quantity_title(found.rule.quantity)
        reached = measured(found.rule.quantity, found.extreme)
        in_night = night.start_ms <= found.began_ms < night.end_ms
        began = clock.at(found.began_ms) if in_night else clock.day_at(found.began_ms)
        span = f"{began} to {clock.at(found.ended_ms)}"
        yield f"- {found.title}: {what} reached {reached} from {span}; the readings came in late"


def _places(places: Iterable[PlaceNight], clock: Clock) -> Iterator[str]:
    for place in places:
        if place.empty:
            yield f"- {place.title}: empty"
            continue
        yield f"- {place.title}" + ("" if place.quantities else ": no readings")
        yield from (f"  {_quantity(quantity, clock)}" for quantity in place.quantities)
        derived = [*_air(place.air), *_degree_days(place.degree_days)]
        yield from ([f"  {'; '.join(derived)}"] if derived else [])
        yield from (f"  {line}" for line in _condensation(place.air, clock))


def _quantity(quantity: QuantityNight, clock: Clock) -> str:
    what = quantity.quantity
    low, high = _extreme(what, quantity.lowest, clock), _extreme(what, quantity.highest, clock)
    out = f"; {quantity.minutes_out:.0f} min out of range" if quantity.minutes_out >= 1 else ""
    gap = f"; no readings for {_minutes(quantity.gap_minutes)}" if quantity.gap_minutes >= 1 else ""
    return f"{_name(what)} {low} to {high}{out}{gap}"


def _name(quantity: str) -> str:
    return quantity_title(quantity).removeprefix("air ").removesuffix(" temperature")


def _extreme(quantity: str, extreme: Extreme, clock: Clock) -> str:
    return f"{measured(quantity, extreme.value)} ({clock.at(extreme.at_ms)})"


def _air(air: AirNight | None) -> Iterator[str]:
    if air is not None:
        mean, highest = air.mean_deficit_pa / PA_PER_KPA, air.highest_deficit_pa / PA_PER_KPA
        yield f"drying power (vapour pressure deficit) {mean:.1f} kPa, at most {highest:.1f}"
        yield f"dew point at most {air.dew_point_c:.1f} °C"


def _condensation(air: AirNight | None, clock: Clock) -> Iterator[str]:
    if air is None:
        return
    if air.minutes_condensing >= 1:
        wet = _minutes(air.minutes_condensing)
        yield f"water condensed on the coldest surface for {wet}: open it, wipe it, move the air"
    elif air.lowest_margin_k < CONDENSING_NEAR_K:
        margin, when = air.lowest_margin_k, clock.at(air.margin_at_ms)
        yield f"condensation was near: coldest surface only {margin:.1f} K above the dew point at {when}"


def _degree_days(earned: DegreeDays | None) -> Iterator[str]:
    if earned is None:
        return
    missing = f", {earned.hours_missing:.1f} h without readings not counted" if earned.hours_missing else ""
    yield f"{earned.earned:.1f} degree-days above {earned.threshold_c:.0f} °C from {earned.measured}{missing}"


def _nodes(nodes: Iterable[NodeCare]) -> Iterator[str]:
    for node in nodes:
        where = f" ({node.place})" if node.place else ""
        yield f"- {node.node}{where}: {'; '.join(node.reasons)}"


def _downtime(night: NightSummary, clock: Clock) -> Iterator[str]:
    for start_ms, end_ms in night.downtime:
        lasted = length_of_time(end_ms - start_ms)
        yield f"- was not running from {clock.at(start_ms)} to {clock.at(end_ms)} ({lasted})"
    if night.unsent_messages:
        one = night.unsent_messages == 1
        yield f"- {night.unsent_messages} message{' waits' if one else 's wait'} to be sent"


def _minutes(minutes: float) -> str:
    return length_of_time(round(minutes * MS_PER_MINUTE))
