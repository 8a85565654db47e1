"""Alarms in words: what is so, what a rule watches for, and the journal.

The page, the command line and the night report take their sentences about alarms from here; messages have
shorter ones (`alarm_messages`), how good the alarms are stands in `alarm_health`.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Collection, Hashable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import TYPE_CHECKING

from monitor.alarms.system import STANDS_FOR_MANY
from monitor.alarms.timing import Delay, Phase, phase_of
from monitor.records import (
    MS_PER_HOUR,
    MS_PER_MINUTE,
    MS_PER_SECOND,
    QUANTITIES,
    AlarmEvent,
    AlarmRule,
    AlarmState,
    AlarmStatus,
    Computed,
    Excursion,
    Priority,
    Quantity,
    Side,
    Transition,
)
from monitor.words.localizer import Localizer, capitalised, entry, inside, plain

if TYPE_CHECKING:
    from monitor.alarms.price import Sounded
    from monitor.farm.records import ActiveAlarm
    from monitor.settings.checking import PlaceGuard
    from monitor.settings.plan import Plan
    from monitor.settings.schema import Place

SIGNS: Mapping[str, str] = {
    "high": "▲",
    "medium": "◆",
    "low": "●",
    "beyond": "△",
    "unknown": "?",
    "unguarded": "!",
    "fine": "○",
    "empty": "–",
}
SELF = "monitor"
_MS_OF_UNIT = {"min": MS_PER_MINUTE, "h": MS_PER_HOUR}
_OWN_SENTENCES = frozenset(
    {
        Computed.MINUTES_TO_OVERHEATING,
        Computed.HOURS_TO_DRY,
        Computed.SILENT_MINUTES,
        Computed.DEAD_SENSOR_MINUTES,
        Computed.SILENT_NODE_SHARE,
        Computed.UNHEARD_NODES,
        Computed.STORE_FAULT,
        Computed.BROKER_WAY_FAULT,
        Computed.ARCHIVE_LAG_HOURS,
        Computed.COPY_AGE_HOURS,
        Computed.COPY_BEHIND_HOURS,
        Computed.UNSENT_MESSAGE_MINUTES,
    }
)
_POSSIBLE: Mapping[str, tuple[float, float]] = {
    Quantity.AIR_HUMIDITY: (0.0, 100.0),
    Quantity.SUBSTRATE_MOISTURE: (0.0, 1.0),
    Quantity.LIGHT: (0.0, math.inf),
    Quantity.BATTERY: (0.0, math.inf),
    Quantity.CARBON_DIOXIDE: (0.0, math.inf),
    Quantity.AMMONIA: (0.0, math.inf),
}
"""Between what a quantity can be at all, in its canonical unit, where there are such bounds."""
_STATUS_IN_NOTES = (AlarmStatus.ACKNOWLEDGED, AlarmStatus.SHELVED)
_INDENT = 5
_ONE_LINE_A_PLACE = frozenset(AlarmEvent) - {AlarmEvent.ACTIVATE, AlarmEvent.CLEAR, AlarmEvent.ACKNOWLEDGE}
FOLD_MS = 10 * MS_PER_MINUTE
"""So long before the one alarm comes a board may be held back for it. Own choice."""


# One alarm.


def what_is_so(alarm: ActiveAlarm, words: Localizer) -> str:
    """What is so of an alarm now; of one that is over how far it went."""
    over = alarm.over
    if over is None:
        return condition(alarm.rule, alarm.value, words)
    rule = alarm.rule
    if has_own_sentence(rule):
        return over_of(rule, words)
    return words.t(
        f"alarm.was_{rule.side}",
        quantity=words.quantity(rule.quantity),
        value=words.value(rule.quantity, over.extreme_value, alarm.limit_passed),
        limit=words.limit(rule.quantity, alarm.limit_passed),
    )


def over_of(rule: AlarmRule, words: Localizer) -> str:
    """That a rule about a computed state is content again: "Boards send again"."""
    return capitalised(words.t(f"message.over_{rule.quantity}"))


def condition(rule: AlarmRule, value: float | None, words: Localizer) -> str:
    """What is so: "Substrate temperature 42.6 °C, should be below 42 °C"; without a value the rule alone."""
    if value is None or not math.isfinite(value):
        return capitalised(watched_for(rule, words))
    if has_own_sentence(rule) and phase_of(rule, True, value) is Phase.BACK:
        return over_of(rule, words)
    return said_of("alarm", rule, value, words, words.quantity(rule.quantity), _spoken(rule, value, words))


def said_of(group: str, rule: AlarmRule, value: float, words: Localizer, quantity: str, shown: str) -> str:
    """A rule with a value, by its quantity or else by its side, from one group of the catalogue."""
    key = f"{group}.{rule.quantity}"
    if _no_time_left(rule, value, words) and words.has(f"{key}_passed"):
        return words.t(f"{key}_passed")
    limit = words.limit(rule.quantity, rule.setpoint)
    if has_own_sentence(rule):
        return words.t(key, value=shown)
    side = "above" if rule.side is Side.HIGH else "below"
    return words.t(f"{group}.{side}", quantity=quantity, value=shown, limit=limit)


def _no_time_left(rule: AlarmRule, value: float, words: Localizer) -> bool:
    unit = QUANTITIES[rule.quantity].unit if rule.quantity in QUANTITIES else ""
    within_a_minute = value * _MS_OF_UNIT.get(unit, math.inf) < MS_PER_MINUTE
    return within_a_minute or words.shown_number(rule.quantity, value) <= 0


def has_own_sentence(rule: AlarmRule) -> bool:
    """Whether the rule is about a computed state, such as silence, and not about a value and its limit."""
    return rule.quantity in _OWN_SENTENCES


def _spoken(rule: AlarmRule, value: float, words: Localizer) -> str:
    unit = QUANTITIES[rule.quantity].unit if rule.quantity in QUANTITIES else ""
    if unit in _MS_OF_UNIT:
        return words.length(value * _MS_OF_UNIT[unit])
    return words.value(rule.quantity, value, rule.setpoint)


def watched_for(rule: AlarmRule, words: Localizer) -> str:
    """What a rule watches for, inside a sentence: "substrate temperature above 42 °C"."""
    limit = words.limit(rule.quantity, rule.setpoint)
    if rule.quantity == Computed.CONDENSATION_MARGIN and rule.setpoint == 0:
        return words.t("rule.condensation_margin_none")
    if words.has(f"rule.{rule.quantity}"):
        return words.t(f"rule.{rule.quantity}", limit=limit)
    side = "above" if rule.side is Side.HIGH else "below"
    return words.t(f"rule.{side}", quantity=words.quantity_name(rule.quantity), limit=limit)


def notes(alarm: ActiveAlarm, words: Localizer) -> list[str]:
    """From when to when, put aside until when, whether somebody has seen it, and how old the knowledge is."""
    state = alarm.state
    lines = [*((words.listing(list(alarm.boards)),) if alarm.boards else ()), *_when(alarm, words)]
    if state.status is AlarmStatus.SHELVED and state.shelved_until_ms is not None:
        lines.append(words.t("alarm.shelved_until", at=words.clock(state.shelved_until_ms)))
    if alarm.seen is not None:
        lines.append(words.t("alarm.seen_by", who=alarm.seen[0], at=words.clock(alarm.seen[1])))
    elif state.status is AlarmStatus.ACKNOWLEDGED:
        lines.append(words.t("alarm.acknowledged"))
    if state.stale or (alarm.stands and not alarm.fresh):
        last = state.last_true_ms
        lines.append(
            words.t("alarm.no_newer") if last is None else words.t("alarm.last_true", at=words.clock(last))
        )
    return lines


def _when(alarm: ActiveAlarm, words: Localizer) -> list[str]:
    """Since when it is beyond the limit, or back; of one that is over from when to when."""
    state = alarm.state
    if state.status is AlarmStatus.RETURNED_UNACKNOWLEDGED:
        return [] if alarm.over is None else [over_span(alarm.over, words)]
    if not alarm.is_out or state.since_ms is None:
        return []
    length = words.length(words.now_ms - state.since_ms)
    since = words.t("alarm.since", at=words.clock(state.since_ms), length=length)
    turns = turning(alarm.phase, alarm.delay, words) if alarm.stands else ""
    return [part for part in (since, turns) if part]


def over_line(alarm: ActiveAlarm, words: Localizer) -> str:
    """An alarm that is over, in one line without its place: how far it went, for how long, until when."""
    over, rule = alarm.over, alarm.rule
    if over is None:
        return what_is_so(alarm, words)
    what = words.t(
        "message.over",
        quantity=words.short_quantity(rule.quantity),
        value=words.value(rule.quantity, over.extreme_value, alarm.limit_passed),
        limit=words.limit(rule.quantity, alarm.limit_passed),
    )
    return words.t(
        "alarm.over_line",
        what=condition(rule, over.extreme_value, words) if has_own_sentence(rule) else what,
        length=words.length(over.ended_ms - over.began_ms),
        end=words.clock(over.ended_ms),
    )


def over_span(over: Excursion, words: Localizer) -> str:
    """From when to when an alarm stood that is over."""
    length = words.length(over.ended_ms - over.began_ms)
    start, end = words.clock(over.began_ms), words.clock(over.ended_ms)
    return words.t("alarm.over_span", start=start, end=end, length=length)


def turning(phase: Phase, delay: Delay | None, words: Localizer) -> str:
    """What a value is waited for: back since when and over when, or when its alarm comes; "" for neither."""
    if phase is Phase.BETWEEN:
        return words.t("alarm.between")
    if phase not in (Phase.BACK, Phase.COMING):
        return ""
    known = delay is not None and delay.until_ms > words.now_ms
    if phase is Phase.COMING:
        return words.t("alarm.comes_at", at=words.clock(delay.until_ms)) if delay and known else ""
    if delay is None:
        return words.t("alarm.back")
    back = words.t("alarm.back_since", at=words.clock(delay.since_ms))
    return f"{back}, {words.t('alarm.over_at', at=words.clock(delay.until_ms))}" if known else back


def outlook(quantity: str, value: float | None, per_hour: float | None, words: Localizer) -> str:
    """Rising or falling how fast, and what that makes of it in an hour; "" where the trend is not known."""
    if value is None or per_hour is None or not math.isfinite(per_hour):
        return ""
    way = direction(quantity, per_hour, words)
    if way == "steady":
        return words.t("trend.steady")
    rate = words.rate(quantity, per_hour)
    lowest, highest = _POSSIBLE.get(quantity, (-math.inf, math.inf))
    if not lowest <= value + per_hour <= highest:
        return words.t(f"trend.{way}_only", rate=rate)
    return words.t(f"trend.{way}", rate=rate, later=words.value(quantity, value + per_hour))


def direction(quantity: str, per_hour: float, words: Localizer) -> str:
    """rising, falling or steady: a change that the shown decimals do not show is none."""
    if words.rate(quantity, per_hour) == words.rate(quantity, 0.0):
        return "steady"
    return "rising" if per_hour > 0 else "falling"


# What a place is guarded for.


@dataclass(frozen=True, slots=True)
class GuardText:
    """What one place is guarded for, what no sensor measures, and why alarms are held back.

    `said` is what people said of it, and what they are asked; `heat` what warning of heat to expect, and what
    its limits would have meant lately.
    """

    place: Place
    name: str
    guarded: tuple[str, ...]
    unguarded: tuple[str, ...]
    held_back: tuple[str, ...]
    sensors_known: bool
    said: tuple[str, ...] = ()
    heat: tuple[str, ...] = ()


def guard_text(guard: PlaceGuard, words: Localizer) -> GuardText:
    """A place of `check` in words."""
    title, place_id = guard.place.title, guard.place.id
    lacking = [_lacking(rule, missing, words) for rule, missing in guard.unguarded]
    lacking += [_slow(rule, interval_s, words) for rule, interval_s in guard.too_slow]
    return GuardText(
        place=guard.place,
        name=f"{title} ({place_id})" if title and title != place_id else place_id,
        guarded=tuple(explain(rule, words, guard.told) for rule in guard.guarded),
        unguarded=tuple(dict.fromkeys(lacking)),
        held_back=tuple(words.text(reason) for reason in guard.held_back),
        sensors_known=guard.sensors_known,
        heat=tuple(_heat_warning(guard, words)),
    )


def _heat_warning(guard: PlaceGuard, words: Localizer) -> Iterator[str]:
    """What warning the early heat alarm gives with a board that sends as rarely as this one."""
    if guard.heat_interval_s is None:
        return
    # Only here, since it loads numpy, which no other sentence about alarms needs.
    from monitor.climate.heat import USUAL_RESPONSE_MIN, WARNING_MIN, expected_warning_min

    interval_ms, (longest_min, _) = guard.heat_interval_s * MS_PER_SECOND, WARNING_MIN[0]
    usual_min = expected_warning_min(interval_ms / MS_PER_MINUTE)
    if usual_min is not None:
        warning_min = max(0.0, usual_min + guard.place.response_minutes - USUAL_RESPONSE_MIN)
        yield words.t(
            "guard.heat_warning",
            every=words.length(interval_ms),
            warning=words.length(warning_min * MS_PER_MINUTE),
            longest=words.length(longest_min * MS_PER_MINUTE),
        )


def sounded_text(price: Sounded, words: Localizer) -> str:
    """What a limit would have meant: how often it would have sounded, and for how long."""
    what, days = watched_for(price.rule, words), words.number(max(1.0, price.days))
    if not price.times:
        return words.t("guard.sounded_never", what=what, days=days)
    length = words.length(price.hours * MS_PER_HOUR)
    return words.t("guard.sounded", what=what, days=days, count=price.times, length=length)


def explain(rule: AlarmRule, words: Localizer, told: Collection[Priority] = frozenset(Priority)) -> str:
    """What a rule guards for and whom it reaches: "air humidity below 50 % for 5 min wakes you."

    `told` are the priorities that reach somebody.
    """
    what, minutes = watched_for(rule, words), rule.on_delay_s * MS_PER_SECOND / MS_PER_MINUTE
    if minutes and not words.has(f"rule.{rule.quantity}"):
        length = words.t("length.minutes", count=plain(words, minutes))
        what = words.t("guard.lasting", what=what, length=length)
    if rule.priority not in told and rule.priority is not Priority.LOW:
        return words.t("guard.nobody", what=what)
    return words.t(f"guard.{rule.priority}", what=what)


def _slow(rule: AlarmRule, interval_s: float, words: Localizer) -> str:
    every = words.length(interval_s * MS_PER_SECOND)
    return words.t("guard.too_slow", what=watched_for(rule, words), every=every)


def _lacking(rule: AlarmRule, missing: Sequence[Quantity], words: Localizer) -> str:
    what = words.quantity_name(rule.quantity)
    if not missing:
        return words.t("guard.index", what=what)
    if list(missing) == [rule.quantity]:
        return words.t("guard.no_sensor", what=what)
    names = words.listing([words.quantity_name(quantity) for quantity in missing])
    return words.t("guard.no_sensor_for", what=what, quantities=names)


# Lists for the command line.


def open_lines(
    alarms: Iterable[ActiveAlarm], numbers: Mapping[str, int], words: Localizer, width: int = 80
) -> list[str]:
    """Every alarm that is not normal, with what to do and what to beware of."""
    lines: list[str] = []
    for alarm in alarms:
        rule = alarm.rule
        if alarm.state.status is AlarmStatus.RETURNED_UNACKNOWLEDGED:
            over = words.headed(alarm.title, inside(over_line(alarm, words)))
            text = words.clauses((over, words.t(f"status.{alarm.state.status}")))
            lines += entry(f"{numbers[rule.alarm_id]:>3}  ", f"  {text}", width, _INDENT)
            continue
        sign = SIGNS[rule.priority] if alarm.stands else " "
        lines += entry(
            f"{numbers[rule.alarm_id]:>3}  ", f"{sign} {_open_alarm(alarm, words)}", width, _INDENT
        )
        if alarm.stands:
            for key, text in (
                ("otherwise", rule.consequence),
                ("do", rule.response),
                ("caution", rule.caution),
            ):
                lines += _below(f"{words.t(f'alarm.{key}')} {words.text(text)}" if text else "", width)
        lines += _below(words.t("list.name", name=rule.alarm_id), width)
    return lines or [words.t("list.none_open")]


def _open_alarm(alarm: ActiveAlarm, words: Localizer) -> str:
    rule, state = alarm.rule, alarm.state
    what = inside(what_is_so(alarm, words)) if alarm.stands else watched_for(rule, words)
    status = () if state.status in _STATUS_IN_NOTES else (words.t(f"status.{state.status}"),)
    said = words.clauses((what, *status, *notes(alarm, words)))
    return words.t("list.stands", priority=words.t(f"priority.{rule.priority}"), title=alarm.title, what=said)


def _below(text: str, width: int) -> list[str]:
    return entry(" " * _INDENT, text, width, _INDENT) if text else []


def every_line(
    plan: Plan,
    states: Mapping[str, AlarmState],
    numbers: Mapping[str, int],
    words: Localizer,
    width: int = 80,
) -> list[str]:
    """Every alarm that the settings make, with its number and state."""
    lines: list[str] = []
    for alarm_id, rule in plan.rules.items():
        status = states[alarm_id].status if alarm_id in states else AlarmStatus.NORMAL
        text = f"{named(rule, plan, words)}, {words.t(f'priority.{rule.priority}').lower()}"
        text += "" if status is AlarmStatus.NORMAL else f"; {words.t(f'status.{status}')}"
        lines += entry(f"{numbers[alarm_id]:>3}  ", text, width, _INDENT)
    return lines or [words.t("list.none_made")]


def named(rule: AlarmRule, plan: Plan, words: Localizer) -> str:
    """An alarm by its place and what it watches for."""
    return words.headed(plan.title(rule.place), watched_for(rule, words))


# The journal.


@dataclass(frozen=True, slots=True)
class JournalRow:
    """One change of one alarm; `many` names what it stands for, "" where it stands for itself alone."""

    at: str
    title: str
    what: str
    event: str
    who: str
    reason: str
    shape: str
    many: str = ""


def folded(rows: Sequence[Transition]) -> list[tuple[Transition, tuple[str, ...]]]:
    """Changes in the order of time; boards for which one alarm stands are named with its change."""
    anchors = [at for at, row in enumerate(rows) if row.quantity in STANDS_FOR_MANY.values()]
    names: dict[int, dict[str, None]] = defaultdict(dict)
    held: dict[str, str] = {}
    inside_another = set[int]()
    for at, row in enumerate(rows):
        if row.actor == SELF and row.reason in STANDS_FOR_MANY:
            held[row.alarm_id] = row.reason
        meanwhile = row.before is row.after is AlarmStatus.SUPPRESSED_BY_DESIGN
        reason = held.get(row.alarm_id) if meanwhile else row.reason if row.actor == SELF else None
        anchor = _anchor(row, STANDS_FOR_MANY.get(reason or ""), rows, anchors)
        if anchor is not None:
            names[anchor][row.place] = None
            inside_another.add(at)
    return [(row, tuple(names[at])) for at, row in enumerate(rows) if at not in inside_another]


def _anchor(
    row: Transition, quantity: str | None, rows: Sequence[Transition], anchors: Iterable[int]
) -> int | None:
    """The change of the one alarm into which the change of a board belongs; None where it is told itself."""
    coming = row.event in (AlarmEvent.SUPPRESS, AlarmEvent.ACTIVATE)
    event = AlarmEvent.ACTIVATE if coming else AlarmEvent.CLEAR
    near = [at for at in anchors if rows[at].quantity == quantity and rows[at].at_ms <= row.at_ms + FOLD_MS]
    fitting = [at for at in near if rows[at].event is event]
    return max(fitting or near, key=lambda at: rows[at].at_ms, default=None)


def journal_rows(rows: Sequence[Transition], plan: Plan, words: Localizer) -> list[JournalRow]:
    """Changes in words, in the order of time, each with what it stands for."""
    return [_journal_row(same, plan, words, many) for same, many in _lines_of(rows)]


def _lines_of(rows: Sequence[Transition]) -> Iterator[tuple[Sequence[Transition], Sequence[str]]]:
    """One line each: what was held back or put aside at a place at one moment for one reason is one."""
    found = folded(rows)
    for _, places in groupby(range(len(found)), lambda at: _line_key(at, *found[at])):
        line = [found[at] for at in places]
        yield [row for row, _ in line], line[0][1]


def _line_key(at: int, row: Transition, many: Sequence[str]) -> Hashable:
    if many or row.event not in _ONE_LINE_A_PLACE:
        return at
    return row.place, row.at_ms, row.event, row.actor, row.reason


def _journal_row(
    same: Sequence[Transition], plan: Plan, words: Localizer, many: Sequence[str] = ()
) -> JournalRow:
    """Changes of one line; the monitor's own reasons are translated, those of people are not."""
    row, by_monitor = same[0], same[0].actor == SELF
    names = [plan.title(name) for name in many]
    return JournalRow(
        at=words.clock(row.at_ms),
        title=plan.title(row.place),
        what=_what_changed(same, plan, words),
        event=words.t(f"event.{row.event}"),
        who="" if by_monitor else row.actor,
        reason=words.text(row.reason) if by_monitor else row.reason,
        shape=str(min((each.priority for each in same), key=list(Priority).index)),
        many=words.t("list.many", names=words.listing(names)) if names else "",
    )


def _what_changed(same: Sequence[Transition], plan: Plan, words: Localizer) -> str:
    if len(same) > 1:  # the rules of the place, each quantity once
        names = dict.fromkeys(words.quantity_name(row.quantity) for row in same)
        return capitalised(words.listing(list(names)))
    row, rule = same[0], plan.rules.get(same[0].alarm_id)
    known = rule is not None and row.value is not None
    return condition(rule, row.value, words) if rule and known else words.quantity(row.quantity)


def journal_lines(rows: Sequence[Transition], plan: Plan, words: Localizer, width: int = 80) -> list[str]:
    """What became of alarms, one entry for each change, in the order of time."""
    lines: list[str] = []
    for same, many in _lines_of(rows):
        row, said = same[0], _journal_row(same, plan, words, many)
        priority = words.t(f"priority.{said.shape}")
        text = words.t(
            "list.journal", priority=priority, title=said.title, what=inside(said.what), event=said.event
        )
        text += f" {words.t('list.by', who=said.who)}" if said.who else ""
        text += f" ({said.reason})" if said.reason else ""
        text += f"; {said.many}" if said.many else ""
        lines += entry(f"{words.moment(row.at_ms)}  ", text, width, _INDENT)
    return lines or [words.t("list.none_happened")]
