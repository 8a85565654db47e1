"""The true state of the invented farm: rooms, bins and enclosures, before any sensor reads them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from random import Random

from monitor.demo.bins import BinPlan, BinState, step_bin, stir, water_to
from monitor.demo.rooms import (
    HATCHING_TRAY,
    LOVE_CAGE,
    PUPATION_BOX,
    EnclosurePlan,
    EnclosureState,
    RoomLoads,
    RoomPlan,
    RoomState,
    refill,
    step_enclosure,
    step_room,
)
from monitor.demo.script import PLACES, UTC_OFFSET_H, IncidentKind, Script
from monitor.demo.weather import Outdoor, Surroundings, Weather
from monitor.records import MS_PER_DAY, MS_PER_HOUR, PlaceKind, Quantity

WARM_UP_H = 48
WARM_UP_STEP_S = 600.0
WATERING_HOUR = 7.5
WEIGHING_HOUR = 16.5
SCALE_SD_KG = 0.02
LAMPS_FROM_HOUR, LAMPS_TO_HOUR = 6.0, 18.0
DRAUGHT_OUTDOOR_SHARE = 0.6
DRAUGHT_CHANGES_H = 3.0

ROOM_PLANS = {"room-a": RoomPlan(), "room-b": RoomPlan(heat_to_c=26.0, moisten_to_percent=52.0)}
ENCLOSURE_PLANS: dict[PlaceKind, EnclosurePlan] = {
    PlaceKind.LOVE_CAGE: LOVE_CAGE,
    PlaceKind.HATCHING_TRAY: HATCHING_TRAY,
    PlaceKind.PUPATION_BOX: PUPATION_BOX,
}
BIN_PLANS = {f"bin-{number}": BinPlan(fan=number == 6) for number in range(1, 7)}
# Water [kg], dry matter [kg] and age of the fill [d] when the demo starts.
BIN_FILLS = {
    "bin-1": (7.6, 3.0, 2.0),
    "bin-2": (7.4, 3.1, 4.5),
    "bin-3": (7.2, 3.0, 6.0),
    "bin-4": (7.0, 3.1, 8.0),
    "bin-5": (5.4, 2.7, 12.5),
    "bin-6": (2.85, 3.05, 13.5),
}
TRAY_WATER_KG = {"tray-3": 0.03}
ENCLOSURES = tuple(place for place in PLACES if place.kind in ENCLOSURE_PLANS)
LAMP_LX = 3500.0
DAYLIGHT_LX_PER_W_M2 = 110.0
DAYLIGHT_SHARE = {"cage-1": 0.06, "cage-2": 0.04}


@dataclass(frozen=True, slots=True)
class KeeperAction:
    """What the keeper did to a bin and enters in the logbook (water, stir, weigh), with the kilograms."""

    at_ms: int
    place: str
    kind: str
    kg: float = 0.0


class FarmPhysics:
    """The state of the whole farm, stepped by real intervals."""

    def __init__(self, seed: int, start_ms: int, script: Script) -> None:
        self._weather = Weather(seed)
        self._script = script
        self._rooms = {name: RoomState(26.0, 1500.0, mass_c=26.0, roof_c=20.0) for name in ROOM_PLANS}
        self._bins = {name: _fill(name, 30.0) for name in BIN_PLANS}
        self._enclosures = {
            place.id: EnclosureState(27.0, 2000.0, ENCLOSURE_PLANS[place.kind].water_full_kg)
            for place in ENCLOSURES
        }
        self._from_bins = (0.0, 0.0)
        self._outdoor = self._weather.at(start_ms)
        self._at_ms = start_ms - WARM_UP_H * MS_PER_HOUR
        self._actions: list[KeeperAction] = []
        self._scale = Random(seed)
        self._warm_up(start_ms)

    def step(self, now_ms: int) -> None:
        """Bring the whole farm to this time in one step."""
        before_ms, interval_s = self._at_ms, (now_ms - self._at_ms) / 1000.0
        self._outdoor = self._weather.at(now_ms)
        self._at_ms = now_ms
        air_before = dict(self._rooms)
        self._step_rooms(interval_s)
        self._step_bins(air_before["room-b"], interval_s)
        self._step_enclosures(air_before, interval_s)
        self._keeper(before_ms, now_ms)

    def value(self, place: str, quantity: str) -> float:
        """The true value of a quantity at a place, now."""
        match quantity:
            case Quantity.AIR_TEMPERATURE:
                return self._air(place).air_c
            case Quantity.AIR_HUMIDITY:
                return self._air(place).humidity_percent
            case Quantity.SUBSTRATE_TEMPERATURE:
                return self._bins[place].core_c
            case Quantity.SUBSTRATE_MOISTURE:
                return self._bins[place].moisture
            case Quantity.SURFACE_TEMPERATURE:
                return self._lid_c(place)
            case Quantity.LIGHT:
                return self._light_lx(place)
        raise KeyError(quantity)

    def room(self, name: str) -> RoomState:
        return self._rooms[name]

    def take_actions(self) -> tuple[KeeperAction, ...]:
        """What the keeper did to the bins since the last call."""
        done = tuple(self._actions)
        self._actions.clear()
        return done

    def _warm_up(self, start_ms: int) -> None:
        """Simulate two days before the start, so that walls, air and bins have consistent temperatures."""
        step_ms = round(WARM_UP_STEP_S * 1000)
        for at_ms in range(self._at_ms + step_ms, start_ms + 1, step_ms):
            self.step(at_ms)
        self._bins = {name: _fill(name, state.core_c) for name, state in self._bins.items()}
        self._actions.clear()
        for place in ENCLOSURES:
            full = ENCLOSURE_PLANS[place.kind].water_full_kg
            water = TRAY_WATER_KG.get(place.id, full)
            self._enclosures[place.id] = replace(self._enclosures[place.id], water_kg=water)

    def _step_rooms(self, interval_s: float) -> None:
        heat_w, water_kg_s = self._from_bins
        power = self._power()
        door = {place.room for place in ENCLOSURES if self._is(IncidentKind.DRAUGHT, place.id)}
        loads = {
            "room-a": RoomLoads(power=power, door_changes_h=DRAUGHT_CHANGES_H * ("room-a" in door)),
            "room-b": RoomLoads(heat_w, water_kg_s, power, DRAUGHT_CHANGES_H * ("room-b" in door)),
        }
        for name, plan in ROOM_PLANS.items():
            self._rooms[name] = step_room(plan, self._rooms[name], self._outdoor, loads[name], interval_s)

    def _step_bins(self, air: Surroundings, interval_s: float) -> None:
        heat_w, water_kg_s = 0.0, 0.0
        for name, plan in BIN_PLANS.items():
            result = step_bin(
                plan, self._bins[name], air, interval_s, covered=self._is(IncidentKind.COVERED, name)
            )
            self._bins[name] = result.state
            heat_w += result.heat_to_room_w
            water_kg_s += result.evaporated_kg_s
        self._from_bins = (heat_w, water_kg_s)

    def _step_enclosures(self, rooms: Mapping[str, Surroundings], interval_s: float) -> None:
        for place in ENCLOSURES:
            plan = ENCLOSURE_PLANS[place.kind]
            lamp_on = self._lamps() if place.kind is PlaceKind.LOVE_CAGE else self._power()
            air = rooms[place.room or "room-a"]
            if self._is(IncidentKind.DRAUGHT, place.id):
                air = _mixed(air, self._outdoor, DRAUGHT_OUTDOOR_SHARE)
            self._enclosures[place.id] = step_enclosure(
                plan, self._enclosures[place.id], air, interval_s, lamp_on
            )

    def _keeper(self, before_ms: int, now_ms: int) -> None:
        if _passes_hour(before_ms, now_ms, WATERING_HOUR):
            self._water_all()
        if _passes_hour(before_ms, now_ms, WEIGHING_HOUR):
            self._weigh_all()
        for place in ENCLOSURES:
            if self._script.ended(IncidentKind.FORGOTTEN, place.id, before_ms, now_ms):
                self._enclosures[place.id] = refill(ENCLOSURE_PLANS[place.kind], self._enclosures[place.id])
        for name in BIN_PLANS:
            if self._script.ended(IncidentKind.COVERED, name, before_ms, now_ms):
                self._bins[name] = stir(self._bins[name], cool_to_c=36.5)
                self._actions.append(KeeperAction(now_ms, name, "stir"))

    def _water_all(self) -> None:
        for place in ENCLOSURES:
            if not self._is(IncidentKind.FORGOTTEN, place.id):
                self._enclosures[place.id] = refill(ENCLOSURE_PLANS[place.kind], self._enclosures[place.id])
        for name, state in self._bins.items():
            if state.moisture < 0.66 and not self._is(IncidentKind.FORGOTTEN, name):
                self._bins[name] = water_to(state, 0.70)
                added_kg = self._bins[name].water_kg - state.water_kg
                self._actions.append(KeeperAction(self._at_ms, name, "water", round(added_kg, 1)))

    def _weigh_all(self) -> None:
        for name, state in self._bins.items():
            kg = state.water_kg + state.dry_kg + self._scale.gauss(0.0, SCALE_SD_KG)
            self._actions.append(KeeperAction(self._at_ms, name, "weigh", round(kg, 2)))

    def _is(self, kind: IncidentKind, target: str) -> bool:
        return self._script.active(kind, target, self._at_ms)

    def _power(self) -> bool:
        return not self._is(IncidentKind.POWER_CUT, "farm")

    def _lamps(self) -> bool:
        hour = (self._at_ms / MS_PER_HOUR + UTC_OFFSET_H) % 24.0
        return self._power() and LAMPS_FROM_HOUR <= hour < LAMPS_TO_HOUR

    def _air(self, place: str) -> Surroundings:
        return self._rooms[place] if place in self._rooms else self._enclosures[place]

    def _lid_c(self, place: str) -> float:
        room = self._rooms["room-a"]
        return self._enclosures[place].air_c + 0.06 * (room.roof_c - room.air_c) - 0.3

    def _light_lx(self, place: str) -> float:
        daylight_lx = DAYLIGHT_LX_PER_W_M2 * self._outdoor.sun_w_m2 * DAYLIGHT_SHARE[place]
        return daylight_lx + (LAMP_LX if self._lamps() else 0.0)


def _fill(name: str, core_c: float) -> BinState:
    water_kg, dry_kg, age_days = BIN_FILLS[name]
    return BinState(core_c, core_c - 1.0, water_kg, dry_kg, age_days)


def _mixed(inside: Surroundings, outdoor: Outdoor, share: float) -> Surroundings:
    return Surroundings(
        inside.air_c + share * (outdoor.temperature_c - inside.air_c),
        inside.vapour_pressure_pa + share * (outdoor.vapour_pressure_pa - inside.vapour_pressure_pa),
    )


def _passes_hour(before_ms: int, now_ms: int, hour: float) -> bool:
    shift_ms = round((UTC_OFFSET_H - hour) * MS_PER_HOUR)
    return (before_ms + shift_ms) // MS_PER_DAY < (now_ms + shift_ms) // MS_PER_DAY
