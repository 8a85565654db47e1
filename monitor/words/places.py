"""What is so now, as text: one entry for each place, the worst first. Pure.

A state is told by a word and by a shape, never by colour alone. `Line.style` only adds to that.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import tzinfo

from monitor.farm.records import ActiveAlarm, Current, PlaceNow, SiteNow
from monitor.records import AlarmStatus, Flag, Priority, Quantity
from monitor.words.alarms import SIGNS, condition, tells_how_long
from monitor.words.localizer import Localizer, inside
from monitor.words.phrases import ago, clock_time, entry, measured, moment, plural, quantity_title, unit_of

_RANKS = {state: rank for rank, state in enumerate(SIGNS)}
_STYLES = {"high": "problem", "medium": "warning", "low": "warning", "unknown": "warning", "fine": "good"}
_URGENT = ("high", "medium", "low")
_INDENT = 11
# What matters most comes first; light matters to adults alone, the battery to its board.
_ORDER = (
    Quantity.SUBSTRATE_TEMPERATURE,
    Quantity.SUBSTRATE_MOISTURE,
    Quantity.AIR_TEMPERATURE,
    Quantity.AIR_HUMIDITY,
    Quantity.CARBON_DIOXIDE,
    Quantity.AMMONIA,
    Quantity.SURFACE_TEMPERATURE,
    Quantity.LIGHT,
)


@dataclass(frozen=True, slots=True)
class Line:
    """One line of text with the style in which a terminal may show it."""

    text: str
    style: str = ""


def now_lines(site: SiteNow, zone: tzinfo, width: int = 80) -> list[Line]:
    """The whole answer: what needs a person, then every place, and the boards and the monitor itself."""
    words = _Words(site, zone, width)
    lines = [Line(f"{site.title}, {moment(site.now_ms, zone)}: {verdict(site)}", _verdict_style(site))]
    lines += words.service(site)
    entries = [(state_of(place), words.place(place)) for place in site.places]
    entries += [(str(alarm.rule.priority), words.site_alarm(alarm)) for alarm in _standing(site.site_alarms)]
    for _, block in sorted(entries, key=lambda each: _RANKS[each[0]]):
        lines += block
    if not entries:
        lines.append(Line("There is no [[places]] table in the settings, so nothing is guarded."))
    return lines


def state_of(place: PlaceNow) -> str:
    """high, medium or low where an alarm stands; else empty, unknown or fine."""
    if place.worst is not None:
        return str(place.worst)
    if place.empty:
        return "empty"
    return "fine" if place.known else "unknown"


def verdict(site: SiteNow) -> str:
    """In a few words whether anything is wrong."""
    states = [state_of(place) for place in site.places]
    alarms = len(_standing(site.site_alarms))
    wrong, unknown = sum(state in _URGENT for state in states), states.count("unknown")
    parts = [
        "" if site.service_alive else "the monitor does not run",
        f"{plural(wrong, 'place needs', 'places need')} you" if wrong else "",
        f"nothing is known of {plural(unknown, 'place')}" if unknown else "",
        f"{plural(alarms, 'alarm')} of boards or of the monitor" if alarms else "",
    ]
    return "; ".join(part for part in parts if part) or "all is fine"


def _verdict_style(site: SiteNow) -> str:
    return "problem" if site.wrong else "good"


def _standing(alarms: Iterable[ActiveAlarm]) -> list[ActiveAlarm]:
    return [alarm for alarm in alarms if alarm.stands]


def _gravest(alarms: Iterable[ActiveAlarm]) -> list[ActiveAlarm]:
    """Of alarms about the same side of the same quantity only the gravest: it says all that the others do."""
    found: dict[tuple[str, str], ActiveAlarm] = {}
    for alarm in sorted(alarms, key=lambda each: _RANKS[each.rule.priority]):
        found.setdefault((alarm.rule.quantity, alarm.rule.side), alarm)
    return list(found.values())


class _Words:
    """Entries of one answer: its time, zone and width."""

    def __init__(self, site: SiteNow, zone: tzinfo, width: int) -> None:
        self._now_ms, self._zone, self._width = site.now_ms, zone, width
        self._alive = site.service_alive

    def service(self, site: SiteNow) -> list[Line]:
        """That the service is dead, where it is."""
        if site.service_alive:
            return []
        last = site.last_alive_ms
        since = "It has never run" if last is None else f"Its last sign of life was at {self._ago(last)}"
        text = f"{since}. Nobody is warned of anything, and what stands below is old."
        lines = self._entry("high", "STOPPED", text)
        return lines + self._more("Do: start it with `rearing-monitor run`, or by your service manager.")

    def place(self, place: PlaceNow) -> list[Line]:
        """One place: its state, its values, since when, and what to do first."""
        state = state_of(place)
        if state == "empty":
            return self._entry(state, "empty", f"{place.title}: no animals in it")
        if state == "unknown":
            return self._unknown(place)
        standing = _gravest(_standing(place.alarms))
        told = {alarm.rule.quantity for alarm in standing}
        parts = [self._alarm(alarm) for alarm in standing]
        parts += self._values(place, told)
        parts += [self._overlaid(alarm) for alarm in place.alarms if not alarm.stands]
        lines = self._entry(state, _word(state), f"{place.title}: {'; '.join(parts)}")
        return lines + (self._do(standing) if standing else [])

    def site_alarm(self, alarm: ActiveAlarm) -> list[Line]:
        """An alarm of a board or of the monitor itself."""
        state = str(alarm.rule.priority)
        return self._entry(state, _word(state), f"{alarm.title}: {self._alarm(alarm)}") + self._do([alarm])

    def _unknown(self, place: PlaceNow) -> list[Line]:
        newest = max((value.at_ms for value in place.current), default=None)
        nodes = sorted({value.node for value in place.current})
        if newest is None:
            text = f"{place.title}: no sensor of it was ever heard"
            do = "Do: look at the board that should be there; `rearing-monitor nodes` lists what was heard."
        else:
            text = f"{place.title}: no usable reading, the last one was at {self._ago(newest)}"
            do = f"Do: go and look at the place, then at {', '.join(nodes)}: supply, cable, network."
        lines = self._entry("unknown", "UNKNOWN", text)
        # While the monitor is dead every place is unknown, and the one thing to do stands at the top.
        return lines + self._more(do) if self._alive else lines

    def _alarm(self, alarm: ActiveAlarm) -> str:
        state = alarm.state
        text = inside(condition(alarm.rule, alarm.value, Localizer.plain("en", self._zone, self._now_ms)))
        if state.since_ms is not None and not tells_how_long(alarm.rule, alarm.value):
            text += f" since {self._clock(state.since_ms)}"
        notes = [
            "acknowledged" if state.status is AlarmStatus.ACKNOWLEDGED else "",
            "no newer reading" if state.stale else "",
        ]
        said = ", ".join(note for note in notes if note)
        return f"{text} ({said})" if said else text

    def _overlaid(self, alarm: ActiveAlarm) -> str:
        title, state = quantity_title(alarm.rule.quantity), alarm.state
        if state.status is AlarmStatus.SHELVED and state.shelved_until_ms is not None:
            return f"alarm on {title} shelved until {self._clock(state.shelved_until_ms)}"
        if state.status is AlarmStatus.OUT_OF_SERVICE:
            return f"alarm on {title} out of service"
        return f"{title} was out of range and is back, nobody has acknowledged it"

    def _values(self, place: PlaceNow, told: set[str]) -> Iterator[str]:
        by_quantity: dict[str, list[Current]] = {}
        for value in place.current:
            by_quantity.setdefault(value.quantity, []).append(value)
        for quantity in _ORDER:
            if quantity in by_quantity and quantity not in told:
                yield f"{quantity_title(quantity)} {self._current(by_quantity[quantity])}"

    def _current(self, values: list[Current]) -> str:
        """Lowest to highest of the sensors that can be trusted, or why there is no value."""
        good = [value for value in values if value.usable]
        if not good:
            newest = max(values, key=lambda value: value.at_ms)
            if newest.stale:
                return f"not heard since {self._clock(newest.at_ms)}"
            return "not usable, its sensor says what cannot be"
        low, high = min(good, key=lambda one: one.value), max(good, key=lambda one: one.value)
        doubt = " (doubtful)" if any(value.flag == Flag.SUSPECT for value in good) else ""
        return f"{_span(low, high)}{doubt}"

    def _do(self, alarms: list[ActiveAlarm]) -> list[Line]:
        first = min(alarms, key=lambda alarm: _RANKS[alarm.rule.priority])
        lines = self._more(f"Do: {first.rule.response}")
        return lines + (self._more(f"Beware: {first.rule.caution}") if first.rule.caution else [])

    def _entry(self, state: str, word: str, text: str) -> list[Line]:
        head = f"{SIGNS[state]} {word:<{_INDENT - 2}}"
        found = entry(head, text, self._width, _INDENT)
        return [Line(found[0], _STYLES.get(state, "quiet")), *(Line(more) for more in found[1:])]

    def _more(self, text: str) -> list[Line]:
        return [Line(line) for line in entry(" " * _INDENT, text, self._width, _INDENT)]

    def _clock(self, at_ms: int) -> str:
        return clock_time(at_ms, self._now_ms, self._zone)

    def _ago(self, at_ms: int) -> str:
        return ago(at_ms, self._now_ms, self._zone)


def _word(state: str) -> str:
    return state.upper() if state in set(Priority) else state


def _span(low: Current, high: Current) -> str:
    shown = [measured(value.quantity, value.value) for value in (low, high)]
    if shown[0] == shown[1]:
        return shown[0]
    unit = unit_of(low.quantity)
    return f"{shown[0].removesuffix(f' {unit}')} to {shown[1]}" if unit else " to ".join(shown)
