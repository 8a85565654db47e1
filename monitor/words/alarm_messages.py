"""Texts that a person reads on a lock screen. Pure: everything that a text says comes in as an argument.

A title holds the essentials (how bad, where, what, limit) and stands first; a body says since when, where
it is heading, what to do and what to beware of. Some channels show only the first hundred characters.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, tzinfo

from monitor.records import AlarmRule, AlarmState, Computed, Quantity, Side
from monitor.words import phrases

PLACE_CHARACTERS = 32
FOLDED_LINES = 12


@dataclass(frozen=True, slots=True)
class Text:
    """One message as the person gets it."""

    title: str
    body: str


@dataclass(frozen=True, slots=True)
class AlarmView:
    """All that is known now about one alarm, as far as a message may say it.

    `returned_ms` and the two `acknowledged_` fields tell of the last such change in the journal.
    `common_cause` is true while another alarm (power or network failed) stands in for this one.
    `advice` adds numbers to the response of the rule, such as litres.
    """

    rule: AlarmRule
    state: AlarmState
    place_title: str
    suspect: bool = False
    change_per_hour: float | None = None
    returned_ms: int | None = None
    acknowledged_ms: int | None = None
    acknowledged_by: str = ""
    common_cause: bool = False
    advice: str = ""


@dataclass(frozen=True, slots=True)
class Notified:
    """Somebody who was told before; `reached` is false while the message could not be delivered."""

    name: str
    at_ms: int
    reached: bool = True


_SHORT_NAMES: Mapping[str, str] = {
    Quantity.AIR_TEMPERATURE: "air",
    Quantity.SUBSTRATE_TEMPERATURE: "substrate",
    Quantity.SURFACE_TEMPERATURE: "surface",
    Quantity.SUBSTRATE_MOISTURE: "moisture",
}
_Phrase = Callable[[str], str]


def _dry(hours: str) -> str:
    """The hours are the earliest credible ones, so nothing is certain."""
    return "may be too dry already" if hours.startswith("0 ") else f"may be too dry in {hours}"


_COMPUTED: Mapping[str, _Phrase] = {
    Computed.MINUTES_TO_OVERHEATING: lambda value: f"overheats in about {value}",
    Computed.HOURS_TO_DRY: _dry,
    Computed.SILENT_MINUTES: lambda value: f"no readings for {value}",
    Computed.DEAD_SENSOR_MINUTES: lambda value: f"no good reading for {value}",
    Computed.SILENT_NODE_SHARE: lambda value: f"{value} of the boards silent, power or network has failed",
    Computed.STORE_FAULT: lambda _: "readings cannot be stored",
    Computed.ARCHIVE_LAG_HOURS: lambda value: f"archive is {value} behind",
    Computed.UNSENT_MESSAGE_MINUTES: lambda value: f"messages waiting unsent for {value}",
}


def _name(quantity: str) -> str:
    if quantity in _SHORT_NAMES:
        return _SHORT_NAMES[quantity]
    return phrases.quantity_title(quantity)


def breach(rule: AlarmRule, value: float | None) -> str:
    """What is wrong: "substrate 42.6 °C, limit 42 °C, too high"."""
    if rule.quantity in _COMPUTED:
        return _COMPUTED[rule.quantity](phrases.measured(rule.quantity, value))
    shown = phrases.measured(rule.quantity, value, against=rule.setpoint)
    side = "too high" if rule.side is Side.HIGH else "too low"
    return f"{_name(rule.quantity)} {shown}, limit {phrases.limit(rule.quantity, rule.setpoint)}, {side}"


def _place(view: AlarmView) -> str:
    return phrases.shortened(view.place_title or view.rule.place, PLACE_CHARACTERS)


def _doubt(view: AlarmView) -> str:
    if view.state.stale:
        return " (no fresh readings)"
    return " (suspect reading)" if view.suspect else ""


def headline(view: AlarmView) -> str:
    """How bad, where and what, in about eighty characters."""
    what = breach(view.rule, view.state.last_value)
    return f"{view.rule.priority.value.upper()} {_place(view)} {what}{_doubt(view)}"


def _since(view: AlarmView, now_ms: int, zone: tzinfo) -> str:
    since_ms = view.state.since_ms
    if since_ms is None:
        return ""
    lasted = phrases.length_of_time(now_ms - since_ms)
    return f"Since {phrases.clock_time(since_ms, now_ms, zone)} ({lasted})."


def _outlook(view: AlarmView) -> str:
    if view.state.stale or view.rule.quantity in _COMPUTED:
        return ""
    return phrases.outlook(view.rule.quantity, view.state.last_value, view.change_per_hour)


def _worst(view: AlarmView) -> str:
    worst, rule = view.state.extreme_value, view.rule
    if worst is None or worst == view.state.last_value or rule.quantity in _COMPUTED:
        return ""
    word = "Highest" if rule.side is Side.HIGH else "Lowest"
    return f"{word} so far {phrases.measured(rule.quantity, worst, against=rule.setpoint)}."


def _trust(view: AlarmView, now_ms: int, zone: tzinfo) -> str:
    parts = []
    if view.state.stale:
        last = view.state.last_true_ms
        known = (
            f"last known to be true at {phrases.clock_time(last, now_ms, zone)}" if last is not None else ""
        )
        parts.append(f"No fresh readings{': ' + known if known else ''}. Take it as still true.")
    if view.suspect:
        parts.append("The reading is suspect. Take it as true until you have looked, and check the sensor.")
    return " ".join(parts)


def _advice(view: AlarmView) -> list[str]:
    rule = view.rule
    caution = f"Caution: {rule.caution}" if rule.caution else ""
    otherwise = f"If nothing is done: {rule.consequence}" if rule.consequence else ""
    response = _sentences(rule.response, view.advice)
    return [f"Do: {response}" if response else "", caution, otherwise]


def _lines(*parts: str) -> str:
    return "\n".join(part for part in parts if part)


def _sentences(*parts: str) -> str:
    return " ".join(part for part in parts if part)


def _late(wait_since_ms: int | None, now_ms: int, zone: tzinfo) -> str:
    if wait_since_ms is None:
        return ""
    return f"This message is late: it has waited since {phrases.clock_time(wait_since_ms, now_ms, zone)}."


def alarm(
    view: AlarmView,
    now_ms: int,
    zone: tzinfo,
    *,
    lead: str = "",
    note: str = "",
    late_since_ms: int | None = None,
    link: str = "",
) -> Text:
    """An alarm that stands now. `lead` comes first in the body, `note` after the facts."""
    now_text = _sentences(_since(view, now_ms, zone), _outlook(view), _worst(view))
    trust, late = _trust(view, now_ms, zone), _late(late_since_ms, now_ms, zone)
    seen = f"I have seen it: {link}" if link else ""
    return Text(headline(view), _lines(lead, now_text, trust, note, late, *_advice(view), seen))


def reminder(
    view: AlarmView, now_ms: int, zone: tzinfo, *, late_since_ms: int | None = None, link: str = ""
) -> Text:
    """The alarm still stands and nobody has acknowledged it."""
    lead = "Reminder: nobody has acknowledged this yet."
    text = alarm(view, now_ms, zone, lead=lead, late_since_ms=late_since_ms, link=link)
    return Text(f"STILL {text.title}", text.body)


def _told(told: Notified, now_ms: int, zone: tzinfo) -> str:
    at = phrases.clock_time(told.at_ms, now_ms, zone)
    if told.reached:
        return f"{told.name} was told at {at} and has not answered."
    return f"{told.name} could not be reached since {at}."


def escalation(
    view: AlarmView,
    told: Sequence[Notified],
    now_ms: int,
    zone: tzinfo,
    *,
    late_since_ms: int | None = None,
    link: str = "",
) -> Text:
    """The next person is told, and whom it was tried with before."""
    lead = _sentences(*(_told(one, now_ms, zone) for one in told))
    return alarm(view, now_ms, zone, lead=lead, late_since_ms=late_since_ms, link=link)


def _period(view: AlarmView, returned_ms: int | None, now_ms: int, zone: tzinfo) -> str:
    since_ms = view.state.since_ms
    end = phrases.clock_time(returned_ms, now_ms, zone) if returned_ms is not None else ""
    if since_ms is None or returned_ms is None or since_ms > returned_ms:
        return f"Back to normal since {end}." if end else "Back to normal."
    start = phrases.clock_time(since_ms, now_ms, zone)
    return f"Out of range from {start} to {end} ({phrases.length_of_time(returned_ms - since_ms)})."


def returned(
    view: AlarmView, returned_ms: int | None, now_ms: int, zone: tzinfo, *, late_since_ms: int | None = None
) -> Text:
    """The alarm is over; says from when to when, how far it went, and if the message is late."""
    rule = view.rule
    subject = "" if rule.quantity in _COMPUTED else f" {_now_value(view)}"
    topic = _COMPUTED_OVER.get(rule.quantity, f"{_name(rule.quantity)}{subject}")
    worst = _worst(view).replace(" so far", "")
    body = _lines(
        _sentences(_period(view, returned_ms, now_ms, zone), worst),
        "The reading is suspect: check the sensor." if view.suspect else "",
        _late(late_since_ms, now_ms, zone),
    )
    return Text(f"BACK TO NORMAL {_place(view)} {topic}", body)


_COMPUTED_OVER: Mapping[str, str] = {
    Computed.MINUTES_TO_OVERHEATING: "no longer heading for overheating",
    Computed.HOURS_TO_DRY: "no longer about to dry out",
    Computed.SILENT_MINUTES: "sends readings again",
    Computed.DEAD_SENSOR_MINUTES: "reads well again",
    Computed.SILENT_NODE_SHARE: "boards send again",
    Computed.STORE_FAULT: "readings are stored again",
    Computed.ARCHIVE_LAG_HOURS: "archive has caught up",
    Computed.UNSENT_MESSAGE_MINUTES: "messages go out again",
}


def _now_value(view: AlarmView) -> str:
    rule = view.rule
    value = phrases.measured(rule.quantity, view.state.last_value, against=rule.setpoint)
    return f"{value}, limit {phrases.limit(rule.quantity, rule.setpoint)}"


def acknowledged_note(view: AlarmView, now_ms: int, zone: tzinfo) -> str:
    """Who has acknowledged it, and when; "" where the journal does not say."""
    if view.acknowledged_ms is None:
        return ""
    by = view.acknowledged_by or "somebody"
    return f"Acknowledged by {by} at {phrases.clock_time(view.acknowledged_ms, now_ms, zone)}."


def found_later(
    rule: AlarmRule, place_title: str, start_ms: int, end_ms: int, worst: float, now_ms: int, zone: tzinfo
) -> str:
    """One line about an excursion that is over and came to light with late readings."""
    start, end = phrases.clock_time(start_ms, now_ms, zone), phrases.clock_time(end_ms, now_ms, zone)
    lasted = phrases.length_of_time(end_ms - start_ms)
    return f"Found later: {place_title} {breach(rule, worst)}, from {start} to {end} ({lasted})."


def folded(titles: Sequence[str], most_per_hour: int) -> Text:
    """One summary in place of the messages that the hourly cap holds back."""
    shown = [f"- {title}" for title in titles[:FOLDED_LINES]]
    if len(titles) > FOLDED_LINES:
        shown.append(f"- and {len(titles) - FOLDED_LINES} more")
    reason = f"More than {most_per_hour} messages in an hour, so these come as one:"
    body = _lines(reason, *shown, "All of them: rearing-monitor alarms")
    return Text(f"{len(titles)} messages in one. First: {titles[0]}" if titles else "No messages", body)


def night_report(site_title: str, night: date, report: str) -> Text:
    """The night report as a message; the report itself is written elsewhere."""
    day = f"{phrases.WEEKDAYS[night.weekday()]} {night.day} {phrases.MONTHS[night.month - 1]}"
    return Text(f"Night report {phrases.shortened(site_title, PLACE_CHARACTERS)}, {day}", report)


def trial(site_title: str, recipient: str, now_ms: int, zone: tzinfo) -> Text:
    """A message that only shows that the way to the person works."""
    at = phrases.clock_time(now_ms, now_ms, zone)
    body = (
        f"Sent at {at} for {recipient}. Nothing is wrong. "
        "An alarm comes the same way; it says what is wrong and what to do."
    )
    return Text(f"TEST from {phrases.shortened(site_title, PLACE_CHARACTERS)}: messages reach you", body)
