"""What a person may call an alarm or a sensor.

An alarm has a number, its position in the settings: it stays the same while other alarms come and go between
two commands, and changes only when the settings do.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence

from monitor.errors import Sentence, UsageError, sentence
from monitor.logbook.amounts import place_key
from monitor.records import AlarmRule, SensorKey
from monitor.settings.plan import Plan
from monitor.settings.problems import suggestion

MOST_LISTED = 20


def numbers(plan: Plan) -> Mapping[str, int]:
    """The number of each alarm, from 1."""
    return {alarm_id: number for number, alarm_id in enumerate(plan.rules, 1)}


def find_alarms(name: str, plan: Plan, fitting: Collection[str], verb: Sentence) -> tuple[str, ...]:
    """The ids of what is meant; `fitting` are those that can be `verb`, for names of places.

    It is more than one only where all tell of the same thing, such as a bin above 38 and above 42 °C.
    """
    if name.isascii() and name.isdigit():
        return (_by_number(int(name), plan),)
    if name in plan.rules:
        return (name,)
    there = [rule.alarm_id for rule in plan.rules.values() if _is_meant(name, rule, plan)]
    if not there:
        raise UsageError(
            'there is no alarm and no place called "{name}"{hint}\n'
            "Allowed: a number or a name from `rearing-monitor alarms`, or a place such as bin-1",
            name=name,
            hint=_hint(name, {rule.place for rule in plan.rules.values()} | set(plan.rules)),
        )
    choices = tuple(alarm_id for alarm_id in there if alarm_id in fitting)
    if is_one_thing(choices, plan):
        return choices
    if not choices:
        raise UsageError(
            "{name}: no alarm there can be {verb} now; see `rearing-monitor alarms`, or all with --all",
            name=name,
            verb=verb,
        )
    raise UsageError(
        "{name}: several alarms can be {verb}; say which by its number:\n{alarms}",
        name=name,
        verb=verb,
        alarms=listed(choices, plan),
    )


def is_one_thing(alarm_ids: Iterable[str], plan: Plan) -> bool:
    """Whether they look at the same side of the same quantity of the same place."""
    rules = [plan.rules[alarm_id] for alarm_id in alarm_ids]
    return len({(rule.place, rule.quantity, rule.side) for rule in rules}) == 1


def listed(alarm_ids: Iterable[str], plan: Plan) -> str:
    """One line for each alarm: number, id, place."""
    known = numbers(plan)
    return "\n".join(
        f"  {known[alarm_id]:>3}  {alarm_id}  ({plan.title(plan.rules[alarm_id].place)})"
        for alarm_id in alarm_ids
    )


def _by_number(number: int, plan: Plan) -> str:
    ids = list(plan.rules)
    if not 1 <= number <= len(ids):
        raise UsageError(
            "there is no alarm number {number}; allowed: 1 to {most}, see `rearing-monitor alarms --all`",
            number=number,
            most=len(ids),
        )
    return ids[number - 1]


def _is_meant(name: str, rule: AlarmRule, plan: Plan) -> bool:
    plain = name.strip().rstrip("/").casefold()
    alarm_id = rule.alarm_id.casefold()
    named = place_key(name) in (place_key(rule.place), place_key(plan.title(rule.place)))
    return named or alarm_id == plain or alarm_id.startswith(f"{plain}/")


def _hint(name: str, known: set[str]) -> Sentence | str:
    near = suggestion(name, known)
    return sentence("; did you mean {near}?", near=near) if near else ""


def known_sensors(heard: Iterable[SensorKey], plan: Plan) -> tuple[SensorKey, ...]:
    """Sensors that have sent something, and those that the settings say exist."""
    expected = (
        SensorKey(node.id, *_split(measured)) for node in plan.nodes.values() for measured in node.measures
    )
    return tuple(sorted({*heard, *expected}))


def _split(measured: str) -> tuple[str, str]:
    probe, _, quantity = measured.rpartition("/")
    return probe, quantity


def matching(name: str, sensors: Sequence[SensorKey], plan: Plan) -> tuple[SensorKey, ...]:
    """All sensors that the name fits; UsageError when it fits none."""
    meant = tuple(sensor for sensor in sensors if name in _names(sensor, plan))
    if not meant:
        raise UsageError(
            'there is no sensor called "{name}"{hint}\n{sensors}',
            name=name,
            hint=_hint(name, {known for sensor in sensors for known in _names(sensor, plan)}),
            sensors=_allowed(sensors),
        )
    return meant


def only_one(name: str, sensors: Sequence[SensorKey], plan: Plan) -> SensorKey:
    """The sensor that is meant; UsageError with the choices when several are."""
    meant = matching(name, sensors, plan)
    if len(meant) > 1:
        raise UsageError(
            "{name} can mean {count} sensors; say which\n{sensors}",
            name=name,
            count=len(meant),
            sensors=_allowed(meant),
        )
    return meant[0]


def _names(sensor: SensorKey, plan: Plan) -> set[str]:
    place = plan.place_of(sensor)
    names = {str(sensor), sensor.node, f"{sensor.node}/{sensor.quantity}", sensor.quantity}
    return names if place is None else names | {place, f"{place}/{sensor.quantity}"}


def _allowed(sensors: Sequence[SensorKey]) -> Sentence:
    if not sensors:
        return sentence("No sensor is known yet: nothing was heard, and the settings name none")
    lines = "\n".join(f"  {sensor}" for sensor in sensors[:MOST_LISTED])
    more = len(sensors) - MOST_LISTED
    if more > 0:
        return sentence("Allowed:\n{sensors}\n  and {more} more", sensors=lines, more=more)
    return sentence("Allowed:\n{sensors}", sensors=lines)
