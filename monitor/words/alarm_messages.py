"""Messages about alarms, as a person reads them on a lock screen, in the words of that person.

A title holds the essentials (how bad, where, what, limit) and stands first; a body says since when, where
it is heading, what to do and what to beware of. Some channels show only the first hundred characters.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date

from monitor.alarms.timing import Phase, past_excursion, phase_of, running_delay
from monitor.logbook.place_entries import Unguarded
from monitor.records import MS_PER_SECOND, AlarmRule, AlarmState, SensorKey, Side
from monitor.words.alarms import has_own_sentence, outlook, said_of, turning
from monitor.words.guard import unguarded_texts
from monitor.words.localizer import Localizer, capitalised, shortened

PLACE_CHARACTERS = 32
FOLDED_LINES = 12


@dataclass(frozen=True, slots=True)
class Text:
    """One message as the person gets it."""

    title: str
    body: str


def no_advice(words: Localizer) -> str:  # noqa: ARG001
    """Nothing to add to the response of the rule."""
    return ""


@dataclass(frozen=True, slots=True)
class AlarmView:
    """All that is known now about one alarm, as far as a message may say it.

    `returned_ms` and the two `acknowledged_` fields tell of the last such change in the journal.
    `common_cause` is true while another alarm (power or network failed) stands in for this one.
    `dead_sensors` are those of the board that an alarm about dead sensors is about, `boards` those that
    one alarm names; `advice` adds numbers to the response of the rule, such as litres. A value older than
    `fresh_s` is told as old.
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
    dead_sensors: tuple[SensorKey, ...] = ()
    boards: tuple[str, ...] = ()
    advice: Callable[[Localizer], str] = no_advice
    fresh_s: float = math.inf

    def is_old(self, now_ms: int) -> bool:
        """Whether no newer value comes: its board is silent, or its probe fails."""
        last_ms = self.state.last_at_ms
        overdue = last_ms is not None and now_ms - last_ms > self.fresh_s * MS_PER_SECOND
        return self.state.stale or (overdue and not has_own_sentence(self.rule))


@dataclass(frozen=True, slots=True)
class Notified:
    """Somebody who was told before; `reached` is false while the message could not be delivered."""

    name: str
    at_ms: int
    reached: bool = True


def breach(rule: AlarmRule, value: float | None, words: Localizer) -> str:
    """What is wrong, as short as it can be: "substrate 42.6 °C, limit 42 °C, too high"; or "back"."""
    phase = phase_of(rule, True, value)
    if has_own_sentence(rule) and phase is Phase.BACK:
        return words.t(f"message.over_{rule.quantity}")
    if not has_own_sentence(rule) and phase is not Phase.BEYOND:
        return words.t(f"message.{phase}", what=_over(rule, value, words))
    known = float("nan") if value is None else value
    against = None if has_own_sentence(rule) else rule.setpoint
    shown = words.value(rule.quantity, value, against)
    return said_of("message", rule, known, words, _short_name(rule.quantity, words), shown)


def _short_name(quantity: str, words: Localizer) -> str:
    key = f"message.name_{quantity}"
    return words.t(key) if words.has(key) else words.quantity_name(quantity)


def _place(view: AlarmView, words: Localizer) -> str:
    sensors = [
        f"{sensor.probe} {words.quantity_name(sensor.quantity)}".strip() for sensor in view.dead_sensors
    ]
    title = view.place_title or view.rule.place
    return shortened(f"{title} {words.listing(sensors)}" if sensors else title, PLACE_CHARACTERS)


def headline(view: AlarmView, words: Localizer) -> str:
    """How bad, where and what, in about eighty characters."""
    doubt = "_stale" if view.is_old(words.now_ms) else "_suspect" if view.suspect else ""
    return words.t(
        f"message.title{doubt}",
        priority=words.t(f"priority.{view.rule.priority}"),
        place=_place(view, words),
        what=breach(view.rule, view.state.last_value, words),
    )


def _since(view: AlarmView, words: Localizer) -> str:
    since_ms = view.state.since_ms
    if since_ms is None:
        return ""
    length = words.length(words.now_ms - since_ms)
    return words.t("message.since", at=words.clock(since_ms), length=length)


def _turning(view: AlarmView, words: Localizer) -> str:
    """Back since when, and when it is over if it stays so."""
    state = view.state
    phase = phase_of(view.rule, state.active, state.last_value)
    if view.is_old(words.now_ms) or phase not in (Phase.BACK, Phase.BETWEEN):
        return ""
    said = turning(phase, running_delay(state, view.rule), words)
    return f"{capitalised(said)}."


def _outlook(view: AlarmView, words: Localizer) -> str:
    if view.is_old(words.now_ms) or has_own_sentence(view.rule):
        return ""
    return outlook(view.rule.quantity, view.state.last_value, view.change_per_hour, words)


def _worst(view: AlarmView, words: Localizer, so_far: str) -> str:
    over, rule = past_excursion(view.state), view.rule
    worst = view.state.extreme_value if so_far or over is None else over.extreme_value
    if worst is None or worst == view.state.last_value or has_own_sentence(rule):
        return ""
    side = "highest" if rule.side is Side.HIGH else "lowest"
    return words.t(f"message.{side}{so_far}", value=words.value(rule.quantity, worst, rule.setpoint))


def _trust(view: AlarmView, words: Localizer) -> str:
    last_ms, stale = view.state.last_true_ms, ""
    is_old = view.is_old(words.now_ms)
    if is_old and last_ms is not None:
        stale = words.t("message.stale_since", at=words.clock(last_ms))
    elif is_old:
        stale = words.t("message.stale")
    return _sentences(stale, words.t("message.suspect") if view.suspect else "")


def _advice(view: AlarmView, words: Localizer) -> list[str]:
    rule = view.rule
    response = _sentences(words.text(rule.response), view.advice(words))
    parts = (
        ("do", response),
        ("caution", words.text(rule.caution)),
        ("otherwise", words.text(rule.consequence)),
    )
    return [words.t(f"message.{key}", text=text) for key, text in parts if text]


def _lines(*parts: str) -> str:
    return "\n".join(part for part in parts if part)


def _sentences(*parts: str) -> str:
    return " ".join(part for part in parts if part)


def _late(wait_since_ms: int | None, words: Localizer) -> str:
    return "" if wait_since_ms is None else words.t("message.late", at=words.clock(wait_since_ms))


def alarm(
    view: AlarmView,
    words: Localizer,
    *,
    lead: str = "",
    note: str = "",
    late_since_ms: int | None = None,
    link: str = "",
) -> Text:
    """An alarm that stands now. `lead` comes first in the body, `note` after the facts."""
    facts = _sentences(
        _since(view, words), _turning(view, words), _outlook(view, words), _worst(view, words, "_so_far")
    )
    trust, late = _trust(view, words), _late(late_since_ms, words)
    boards = words.t("alarm.boards", boards=words.listing(list(view.boards))) if view.boards else ""
    facts = _sentences(facts, boards)
    seen = words.t("message.seen", link=link) if link else ""
    return Text(headline(view, words), _lines(lead, facts, trust, note, late, *_advice(view, words), seen))


def reminder(view: AlarmView, words: Localizer, *, late_since_ms: int | None = None, link: str = "") -> Text:
    """The alarm still stands and nobody has acknowledged it."""
    lead = words.t("message.reminder")
    text = alarm(view, words, lead=lead, late_since_ms=late_since_ms, link=link)
    return Text(words.t("message.title_still", title=text.title), text.body)


def escalation(
    view: AlarmView,
    notified: Sequence[Notified],
    words: Localizer,
    *,
    late_since_ms: int | None = None,
    link: str = "",
) -> Text:
    """The next person is told, and whom it was tried with before."""
    lead = _sentences(*(_notified(person, words) for person in notified))
    return alarm(view, words, lead=lead, late_since_ms=late_since_ms, link=link)


def _notified(person: Notified, words: Localizer) -> str:
    key = "message.was_told" if person.reached else "message.not_reached"
    return words.t(key, name=person.name, at=words.clock(person.at_ms))


def returned(
    view: AlarmView, returned_ms: int | None, words: Localizer, *, late_since_ms: int | None = None
) -> Text:
    """The alarm is over; says from when to when, how far it went, and if the message is late."""
    body = _lines(
        _sentences(_period(view, returned_ms, words), _worst(view, words, "")),
        words.t("message.suspect_returned") if view.suspect else "",
        _late(late_since_ms, words),
    )
    what = _over(view.rule, view.state.last_value, words)
    return Text(words.t("message.title_returned", place=_place(view, words), what=what), body)


def unguarded(view: AlarmView, why: Unguarded, words: Localizer) -> Text:
    """A person ended the guard of a place while its alarm stood: what stood, who said what, the way back."""
    body = _lines(_sentences(_since(view, words), *unguarded_texts(why, words)), words.t("message.unguarded"))
    title = words.t(
        "message.title_unguarded",
        place=_place(view, words),
        what=breach(view.rule, view.state.last_value, words),
    )
    return Text(title, body)


def _over(rule: AlarmRule, value: float | None, words: Localizer) -> str:
    if has_own_sentence(rule):
        return words.t(f"message.over_{rule.quantity}")
    return words.t(
        "message.over",
        quantity=_short_name(rule.quantity, words),
        value=words.value(rule.quantity, value, rule.setpoint),
        limit=words.limit(rule.quantity, rule.setpoint),
    )


def _period(view: AlarmView, returned_ms: int | None, words: Localizer) -> str:
    over = past_excursion(view.state)
    since_ms = view.state.since_ms if over is None else over.began_ms
    if returned_ms is None:
        return words.t("message.returned")
    end = words.clock(returned_ms)
    if since_ms is None or since_ms > returned_ms:
        return words.t("message.returned_at", at=end)
    length = words.length(returned_ms - since_ms)
    return words.t("message.out_of_range", start=words.clock(since_ms), end=end, length=length)


def acknowledged_note(view: AlarmView, words: Localizer) -> str:
    """Who has acknowledged it, and when; "" where the journal does not say."""
    if view.acknowledged_ms is None:
        return ""
    who = view.acknowledged_by or words.t("message.somebody")
    return words.t("message.acknowledged", who=who, at=words.clock(view.acknowledged_ms))


def came_and_went(times_ms: Sequence[int], words: Localizer) -> str:
    """The earlier times at which the alarm came and went while messages could not be sent."""
    times = words.listing([words.clock(at_ms) for at_ms in times_ms])
    return words.t("message.came_and_went", times=times) if times_ms else ""


def folded(titles: Sequence[str], most_per_hour: int, words: Localizer) -> Text:
    """One summary in place of the messages that the hourly cap holds back."""
    shown = [f"- {title}" for title in titles[:FOLDED_LINES]]
    if len(titles) > FOLDED_LINES:
        shown.append(f"- {words.t('message.folded_more', count=len(titles) - FOLDED_LINES)}")
    reason = words.t("message.folded_reason", most=most_per_hour)
    title = words.n("message.folded_title", len(titles), first=titles[0])
    return Text(title, _lines(reason, *shown, words.t("message.folded_all")))


def night_report(site_title: str, night: date, report: str, words: Localizer) -> Text:
    """The night report as a message; the report itself is written elsewhere."""
    day = f"{words.weekday(night)} {words.day(night)}"
    return Text(words.t("message.night_title", site=shortened(site_title, PLACE_CHARACTERS), day=day), report)


def cannot_start(site_title: str, problem: str, words: Localizer) -> Text:
    """The monitor itself does not start, so nothing is guarded."""
    title = words.t("message.cannot_start_title", priority=words.t("priority.high"), site=site_title)
    return Text(title, words.t("message.cannot_start", problem=problem))


def trial(site_title: str, recipient: str, words: Localizer) -> Text:
    """A message that only shows that the way to the person works."""
    body = words.t("message.test", at=words.clock(words.now_ms), name=recipient)
    return Text(words.t("message.test_title", site=shortened(site_title, PLACE_CHARACTERS)), body)
