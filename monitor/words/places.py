"""What is so now, in words: the verdict, each place, and the one thing to do first.

The page lays these words out, the command line prints them as lines. A state is told by a word and a shape,
never by colour alone.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from monitor.farm.records import ActiveAlarm, PlaceNow, PlaceState, QuantityNow, SiteNow
from monitor.records import AlarmStatus
from monitor.words.alarms import SIGNS, condition, direction, notes, outlook, turning, what_is_so
from monitor.words.guard import question_lines, unguarded
from monitor.words.localizer import Localizer, entry, inside

_STYLES = {
    "high": "problem",
    "medium": "warning",
    "low": "warning",
    "beyond": "warning",
    "unknown": "warning",
    "unguarded": "warning",
    "fine": "good",
}
_INDENT = 4
OVERLAID = {
    AlarmStatus.SHELVED: "shelved",
    AlarmStatus.OUT_OF_SERVICE: "out_of_service",
    AlarmStatus.RETURNED_UNACKNOWLEDGED: "over",
}
"""The words for an alarm that does not stand, by its status (`state.<word>`)."""


@dataclass(frozen=True, slots=True)
class ShownValue:
    """One value: a short name, the value in words, which way it goes ("" where unknown), a doubt."""

    name: str
    value: str
    way: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True)
class Advice:
    """What is wrong and what to do about it."""

    what: str
    do: str


@dataclass(frozen=True, slots=True)
class Line:
    """One line of text with the style in which a terminal may show it."""

    text: str
    style: str = ""


def verdict(site: SiteNow, words: Localizer) -> list[str]:
    """In a few words whether anything is wrong, what matters most first."""
    alarms = len(site.own_alarms)
    parts = [
        "" if site.service_alive else words.t("now.stopped"),
        words.n("now.need", site.alarmed) if site.alarmed else "",
        words.n("now.beyond", site.beyond) if site.beyond else "",
        words.n("now.unknown", site.unknown) if site.unknown else "",
        words.n("now.boards", alarms) if alarms else "",
        words.n("now.unguarded", site.unguarded) if site.unguarded else "",
    ]
    return [part for part in parts if part] or [words.t("now.fine")]


def stopped(site: SiteNow, words: Localizer) -> Advice | None:
    """That the monitor is dead, where it is."""
    if site.service_alive:
        return None
    last_ms = site.last_alive_ms
    if last_ms is None:
        return Advice(words.t("now.stopped_never"), words.t("now.stopped_do"))
    return Advice(words.t("now.stopped_since", at=words.ago(last_ms)), words.t("now.stopped_do"))


def unknown(place: PlaceNow, words: Localizer) -> Advice:
    """Since when nothing is known of a place, and where to look."""
    if not place.current and place.boards_aside:
        return Advice(words.t("now.board_aside"), words.t("now.board_aside_do"))
    if not place.current and place.unheard:
        boards = words.listing(list(place.unheard))
        return Advice(words.t("now.unheard", boards=boards), words.t("now.unheard_do"))
    if not place.current:
        return Advice(words.t("now.never_heard"), words.t("now.never_heard_do"))
    if place.measured:
        names = words.listing([words.quantity_name(each.quantity) for each in place.quantities])
        return Advice(words.t("now.unwatched", quantities=names), words.t("now.unwatched_do"))
    newest_ms = max(current.at_ms for current in place.current)
    nodes = words.listing(sorted({current.node for current in place.current}))
    return Advice(
        words.t("now.last_heard", at=words.ago(newest_ms)), words.t("now.last_heard_do", nodes=nodes)
    )


def shown(quantity: QuantityNow, words: Localizer) -> ShownValue:
    """Lowest to highest of the sensors that can be trusted, or why there is no value."""
    name = words.short_quantity(quantity.quantity)
    moisture = quantity.bin_moisture
    if moisture is not None:
        share = words.value(quantity.quantity, moisture.share)
        return ShownValue(name, share, note=words.t(f"moisture.{moisture.basis}"))
    if quantity.is_index:
        name = words.t("value.index")
    if not quantity.usable:
        newest = quantity.newest
        key = "value.not_since" if newest.stale else "value.broken"
        return ShownValue(name, words.t(key, at=words.clock(newest.at_ms)))
    if quantity.is_index:
        figures = dict.fromkeys(words.number(each, 2) for each in (quantity.lowest, quantity.highest))
        return ShownValue(name, " – ".join(figures), note=words.t("value.no_moisture"))
    per_hour = quantity.per_hour
    return ShownValue(
        name,
        span(quantity.quantity, quantity.lowest, quantity.highest, words),
        "" if per_hour is None else direction(quantity.quantity, per_hour, words),
        words.t("value.doubtful") if quantity.doubtful else "",
    )


def all_shown(place: PlaceNow, words: Localizer) -> list[ShownValue]:
    """The values of a place that matter to what lives there and of which no alarm tells."""
    return [shown(quantity, words) for quantity in place.mattering]


def span(quantity: str, low: float, high: float, words: Localizer) -> str:
    """One value, or from the lowest to the highest where they differ as shown."""
    first, last = words.value(quantity, low), words.value(quantity, high)
    if first == last:
        return first
    unit = words.unit(quantity)
    return words.t("value.span", low=first.removesuffix(unit).strip() if unit else first, high=last)


def now_lines(site: SiteNow, words: Localizer, width: int = 80) -> list[Line]:
    """The whole answer: what needs a person, then every place, and the boards and the monitor itself."""
    said = inside(words.clauses(verdict(site, words)))
    head = words.t("now.line", title=site.title, at=words.moment(site.now_ms), verdict=said)
    lines = [Line(head, "problem" if site.wrong else "good")]
    dead = stopped(site, words)
    if dead is not None:
        lines += _entry(PlaceState.HIGH, f"{words.t('now.stopped')}. {dead.what}", width)
        lines += _do(dead.do, "", words, width)
    blocks = [(place.state, place_lines(place, words, width, dead is not None)) for place in site.places]
    blocks += [
        (PlaceState(alarm.rule.priority), _alarm_lines(alarm.title, [alarm], (), words, width))
        for alarm in site.own_alarms
    ]
    for _, block in sorted(blocks, key=lambda block: block[0].rank):
        lines += block
    for said in carried(site, words):
        lines += [Line(line) for line in entry("  ", said, width)]
    return lines if blocks else [*lines, Line(words.t("now.no_places"))]


def carried(site: SiteNow, words: Localizer) -> list[str]:
    """What was found when an old logbook was carried over; nothing most of the time."""
    if not site.carried:
        return []
    return [words.t("now.carried"), *(words.sentence(said) for said in site.carried)]


def place_lines(place: PlaceNow, words: Localizer, width: int, monitor_is_dead: bool = False) -> list[Line]:
    """One place: its state, its values, since when, and what to do first."""
    state = place.state
    name = words.t("now.place", title=place.title, state=inside(words.t(f"state.{state}")))
    if state is PlaceState.EMPTY:
        return _entry(state, " ".join((f"{name}.", *_guard(place, words))), width)
    if state is PlaceState.UNKNOWN:
        advice = unknown(place, words)
        lines = _entry(state, " ".join((f"{name}. {advice.what}", *_guard(place, words))), width)
        # While the monitor is dead every place is unknown, and the one thing to do stands at the top.
        return lines if monitor_is_dead else lines + _do(advice.do, "", words, width)
    beyond = beyond_texts(place, words)
    values = (_value_text(quantity, words) for quantity in place.without_alarm)
    aside = (_overlaid(alarm, words) for alarm in place.alarms if not alarm.stands)
    said = [line for text in _guard(place, words) for line in entry(" " * _INDENT, text, width, _INDENT)]
    lines = [Line(line) for line in said]
    if place.standing:
        return _alarm_lines(place.title, place.gravest, (*beyond, *values, *aside), words, width) + lines
    return _entry(state, words.clauses((name, *beyond, *values, *aside)), width) + lines


def beyond_texts(place: PlaceNow, words: Localizer) -> list[str]:
    """Values beyond their limit of which no alarm stands: since when, and when or why not it comes."""
    return [_beyond_text(alarm, words) for alarm in place.beyond]


def _beyond_text(alarm: ActiveAlarm, words: Localizer) -> str:
    held = alarm.state.status is AlarmStatus.SUPPRESSED_BY_DESIGN
    since_ms = alarm.state.since_ms
    length = "" if since_ms is None else words.length(words.now_ms - since_ms)
    parts = (
        inside(condition(alarm.rule, alarm.value, words)),
        "" if since_ms is None else words.t("alarm.since", at=words.clock(since_ms), length=length),
        words.t("alarm.held_back") if held else turning(alarm.phase, alarm.delay, words),
    )
    return ", ".join(part for part in parts if part)


def _guard(place: PlaceNow, words: Localizer) -> list[str]:
    return [*unguarded(place, words), *question_lines(place, words)]


def guard_lines(place: PlaceNow, words: Localizer, width: int) -> Iterator[str]:
    """Whether a place is guarded; if not, why, who said so and how to undo it."""
    state = place.state
    if state is PlaceState.UNKNOWN:
        known, why = words.t("state.unknown"), [unknown(place, words).what]
    elif place.unguarded is None:
        state, known, why = PlaceState.FINE, words.t("guard.guarded"), []
    else:
        known, why = words.t(f"state.{state}"), []
    title = place.id if place.title == place.id else f"{place.title} ({place.id})"
    head = words.t("now.place", title=title, state=inside(known))
    yield from entry(f"{SIGNS[state]} ", " ".join((f"{head}.", *why, *_guard(place, words))), width, 4)


def _alarm_lines(
    title: str, alarms: Iterable[ActiveAlarm], others: Iterable[str], words: Localizer, width: int
) -> list[Line]:
    """Alarms of one place, the gravest first, with what to do about that one."""
    alarms = list(alarms)
    first = alarms[0].rule
    text = words.clauses((*(_alarm_text(alarm, words) for alarm in alarms), *others))
    priority = words.t(f"priority.{first.priority}")
    lines = _entry(first.priority, words.t("list.stands", priority=priority, title=title, what=text), width)
    return lines + _do(words.text(first.response), words.text(first.caution), words, width)


def _alarm_text(alarm: ActiveAlarm, words: Localizer) -> str:
    trend = inside(alarm_outlook(alarm, words)).rstrip(".")
    parts = (inside(condition(alarm.rule, alarm.value, words)), *notes(alarm, words), trend)
    return ", ".join(part for part in parts if part)


def alarm_outlook(alarm: ActiveAlarm, words: Localizer) -> str:
    """Where the value of an alarm is heading; "" where it does not stand, or no newer reading tells."""
    if not alarm.stands or alarm.state.stale:
        return ""
    return outlook(alarm.rule.quantity, alarm.value, alarm.per_hour, words)


def _overlaid(alarm: ActiveAlarm, words: Localizer) -> str:
    state = words.t(f"state.{OVERLAID.get(alarm.state.status, 'over')}")
    # A shelved one says until when itself.
    first = [] if alarm.state.status is AlarmStatus.SHELVED else [inside(state)]
    if alarm.state.status is AlarmStatus.RETURNED_UNACKNOWLEDGED:
        first.append(inside(what_is_so(alarm, words)))
    text = ", ".join((*first, *notes(alarm, words)))
    return words.t("now.aside", quantity=words.quantity_name(alarm.rule.quantity), state=text)


def _value_text(quantity: QuantityNow, words: Localizer) -> str:
    value = shown(quantity, words)
    way = words.t(f"way.{value.way}") if value.way and value.way != "steady" else ""
    extra = ", ".join(part for part in (way, value.note) if part)
    return f"{inside(value.name)} {value.value}" + (f" ({extra})" if extra else "")


def _do(do: str, caution: str, words: Localizer, width: int) -> list[Line]:
    texts = [f"{words.t('alarm.do')} {do}", f"{words.t('alarm.caution')} {caution}" if caution else ""]
    return [Line(line) for text in texts if text for line in entry(" " * _INDENT, text, width, _INDENT)]


def _entry(state: str, text: str, width: int) -> list[Line]:
    first, *more = entry(f"{SIGNS[state]} ", text, width, _INDENT)
    return [Line(first, _STYLES.get(state, "quiet")), *(Line(line) for line in more)]
