"""What a plan says of each sensor and place, looked up once for each plan. No I/O, no clock."""

from __future__ import annotations

from dataclasses import dataclass

from monitor.records import Computed, Quantity, SensorKey, Side
from monitor.settings.plan import Plan

AIR_RULES = (Computed.VAPOUR_PRESSURE_DEFICIT, Computed.DEW_POINT, Computed.CONDENSATION_MARGIN)


@dataclass(frozen=True, slots=True)
class PlaceFacts:
    """What of a place is to be computed, and what holds its early heat alarm back.

    `needs_air`: a rule looks at what is computed of air temperature and humidity. `excess_room` is the room
    whose air its substrate is compared with. `heat_forecasts` and `heat_limits` are the alarms about heat
    that comes, and about the limit itself.
    """

    computes: bool
    needs_air: bool
    surface_colder_by_k: float | None
    excess_room: str | None
    heat_limit_c: float | None
    heat_forecasts: tuple[str, ...]
    heat_limits: tuple[str, ...]


class GuardIndex:
    """One plan, looked up by sensor and by place."""

    def __init__(self, plan: Plan) -> None:
        self._plan = plan
        self._places: dict[SensorKey, str | None] = {}
        self._facts: dict[str, PlaceFacts] = {}

    def place_of(self, sensor: SensorKey) -> str | None:
        """The place that a sensor guards, or None while it is not placed or its board is put aside."""
        try:
            return self._places[sensor]
        except KeyError:
            if self._plan.nodes.get(sensor.node) is None:
                # Of boards that the settings do not name nothing is kept.
                return None
            place = self._places[sensor] = self._plan.place_of(sensor)
            return place

    def facts(self, place: str) -> PlaceFacts:
        """The facts of a place or a board."""
        known = self._facts.get(place)
        if known is None:
            known = self._facts[place] = _facts(self._plan, place)
        return known


def _facts(plan: Plan, place: str) -> PlaceFacts:
    settings, limit_c = plan.places.get(place), plan.heat_limit_c(place)
    doubts = plan.rules_of(place, Computed.SUBSTRATE_EXCESS)
    limits = plan.rules_of(place, Quantity.SUBSTRATE_TEMPERATURE)
    return PlaceFacts(
        computes=plan.computes(place),
        needs_air=any(plan.rules_of(place, quantity) for quantity in AIR_RULES),
        surface_colder_by_k=None if settings is None else settings.surface_colder_by_k,
        excess_room=settings.room if settings is not None and doubts else None,
        heat_limit_c=limit_c,
        heat_forecasts=tuple(
            rule.alarm_id
            for rule in plan.rules_of(place, Computed.MINUTES_TO_OVERHEATING)
            if rule.alarm_id not in plan.suppressed_by_design
        ),
        heat_limits=tuple(
            rule.alarm_id for rule in limits if rule.side is Side.HIGH and rule.setpoint == limit_c
        ),
    )
