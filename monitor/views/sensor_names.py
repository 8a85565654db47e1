"""What a person may call a sensor: node, node/quantity, node/probe/quantity, place, quantity. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from monitor.errors import UsageError
from monitor.records import SensorKey
from monitor.settings.plan import Plan
from monitor.settings.problems import suggestion

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
