"""What a person may call a sensor: node, node/quantity, node/probe/quantity, place, quantity. Pure.

What a person may call an alarm: its number, its whole id, or its place while only one comes into question.

The number is the position of the alarm in the settings, so it stays the same while other alarms come and go
between two commands; it can change only when the settings do. Pure.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence

from monitor.errors import UsageError
from monitor.records import AlarmRule, SensorKey
from monitor.settings.plan import Plan
from monitor.settings.problems import suggestion
from monitor.words.alarms import subject


def numbers(plan: Plan) -> Mapping[str, int]:
    """The number of each alarm, from 1."""
    return {alarm_id: number for number, alarm_id in enumerate(plan.rules, 1)}


def find_alarms(wanted: str, plan: Plan, fitting: Collection[str], verb: str) -> tuple[str, ...]:
    """The ids of what is meant; `fitting` are those that can be `verb`, for names of places.

    It is more than one only where all tell of the same thing, such as a bin above 38 and above 42 °C.
    """
    if wanted.isascii() and wanted.isdigit():
        return (_by_number(int(wanted), plan),)
    if wanted in plan.rules:
        return (wanted,)
    there = [rule.alarm_id for rule in plan.rules.values() if _is_meant(wanted, rule, plan)]
    if not there:
        raise UsageError(_unknown(wanted, plan))
    choices = tuple(alarm_id for alarm_id in there if alarm_id in fitting)
    if is_one_thing(choices, plan):
        return choices
    if not choices:
        raise UsageError(
            f"{wanted}: no alarm there can be {verb} now; see `rearing-monitor alarms`, or all with --all"
        )
    raise UsageError(
        f"{wanted}: several alarms can be {verb}; say which by its number:\n{listed(choices, plan)}"
    )


def is_one_thing(alarm_ids: Iterable[str], plan: Plan) -> bool:
    """Whether they look at the same side of the same quantity of the same place."""
    rules = [plan.rules[alarm_id] for alarm_id in alarm_ids]
    return len({(rule.place, rule.quantity, rule.side) for rule in rules}) == 1


def _by_number(number: int, plan: Plan) -> str:
    ids = list(plan.rules)
    if not 1 <= number <= len(ids):
        raise UsageError(
            f"there is no alarm number {number}; allowed: 1 to {len(ids)}, see `rearing-monitor alarms --all`"
        )
    return ids[number - 1]


def _is_meant(wanted: str, rule: AlarmRule, plan: Plan) -> bool:
    asked = wanted.strip().rstrip("/").casefold()
    name = rule.alarm_id.casefold()
    return name == asked or name.startswith(f"{asked}/") or plan.title(rule.place).casefold() == asked


def _unknown(wanted: str, plan: Plan) -> str:
    near = suggestion(wanted, {rule.place for rule in plan.rules.values()} | set(plan.rules))
    hint = f"; did you mean {near}?" if near else ""
    return (
        f"there is no alarm and no place called {wanted!r}{hint}\n"
        "Allowed: a number or a name from `rearing-monitor alarms`, or a place such as bin-1"
    )


def listed(alarm_ids: Iterable[str], plan: Plan) -> str:
    """One line for each alarm: number, id, name for people."""
    known = numbers(plan)
    return "\n".join(
        f"  {known[alarm_id]:>3}  {alarm_id}  ({plan.title(rule.place)}: {subject(rule)})"
        for alarm_id in alarm_ids
        if (rule := plan.rules[alarm_id])
    )


MOST_LISTED = 20


def known_sensors(heard: Iterable[SensorKey], plan: Plan) -> tuple[SensorKey, ...]:
    """Sensors that have sent something, and those that the settings say exist."""
    expected = (
        SensorKey(node.id, *_split(measured)) for node in plan.nodes.values() for measured in node.measures
    )
    return tuple(sorted({*heard, *expected}))


def _split(measured: str) -> tuple[str, str]:
    probe, _, quantity = measured.rpartition("/")
    return probe, quantity


def matching(wanted: str, sensors: Sequence[SensorKey], plan: Plan) -> tuple[SensorKey, ...]:
    """All sensors that the name fits; UsageError when it fits none."""
    found = tuple(sensor for sensor in sensors if wanted in _names(sensor, plan))
    if not found:
        near = suggestion(wanted, {name for sensor in sensors for name in _names(sensor, plan)})
        hint = f"; did you mean {near}?" if near else ""
        raise UsageError(f"there is no sensor called {wanted!r}{hint}\n{_listed(sensors)}")
    return found


def only_one(wanted: str, sensors: Sequence[SensorKey], plan: Plan) -> SensorKey:
    """The sensor that is meant; UsageError with the choices when several are."""
    found = matching(wanted, sensors, plan)
    if len(found) > 1:
        raise UsageError(f"{wanted} can mean {len(found)} sensors; say which\n{_listed(found)}")
    return found[0]


def _names(sensor: SensorKey, plan: Plan) -> set[str]:
    place = plan.place_of(sensor)
    names = {str(sensor), sensor.node, f"{sensor.node}/{sensor.quantity}", sensor.quantity}
    return names if place is None else names | {place, f"{place}/{sensor.quantity}"}


def _listed(sensors: Sequence[SensorKey]) -> str:
    if not sensors:
        return "No sensor is known yet: nothing was heard, and the settings name none"
    more = len(sensors) - MOST_LISTED
    lines = [f"  {sensor}" for sensor in sensors[:MOST_LISTED]]
    return "\n".join(["Allowed:", *lines, *([f"  and {more} more"] if more > 0 else [])])
