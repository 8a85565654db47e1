"""Who stands where on Saltbush Yard: the places, the boards and what they measure. All invented."""

from __future__ import annotations

from dataclasses import dataclass

from monitor.records import PlaceKind, Quantity

SITE_ID = "saltbush-yard"
SITE_TITLE = "Saltbush Yard (invented)"
TIME_ZONE = "Africa/Gaborone"
UTC_OFFSET_H = 2
TOPIC_ROOT = "rearing"


@dataclass(frozen=True, slots=True)
class FarmPlace:
    """One place of the invented farm."""

    id: str
    kind: PlaceKind
    title: str
    room: str | None = None


@dataclass(frozen=True, slots=True)
class Sensor:
    """One sensor on a board: what it measures, where, and its probe name."""

    quantity: Quantity
    place: str
    probe: str = ""

    @property
    def name(self) -> str:
        """Its name in a message: quantity, or probe/quantity."""
        return f"{self.probe}/{self.quantity}" if self.probe else str(self.quantity)


@dataclass(frozen=True, slots=True)
class Board:
    """One node: its sensors, whether it has a clock, whether it keeps what it could not send."""

    id: str
    place: str
    sensors: tuple[Sensor, ...]
    clock: bool = True
    keeps_backlog: bool = True
    battery_start_v: float = 4.05
    battery_fall_v_h: float = 0.0012


def _places() -> tuple[FarmPlace, ...]:
    many = (
        (PlaceKind.LOVE_CAGE, "cage", "Love cage", "room-a", 2),
        (PlaceKind.HATCHING_TRAY, "tray", "Hatching tray", "room-a", 3),
        (PlaceKind.GROW_OUT_BIN, "bin", "Grow-out bin", "room-b", 6),
        (PlaceKind.PUPATION_BOX, "box", "Pupation box", "room-b", 2),
    )
    rooms = (
        FarmPlace("room-a", PlaceKind.ROOM, "Room A"),
        FarmPlace("room-b", PlaceKind.ROOM, "Room B"),
    )
    inside = (
        FarmPlace(f"{short}-{number}", kind, f"{title} {number}", room)
        for kind, short, title, room, count in many
        for number in range(1, count + 1)
    )
    return (*rooms, *inside)


PLACES = _places()

_AIR = (Quantity.AIR_TEMPERATURE, Quantity.AIR_HUMIDITY)
_BY_KIND: dict[PlaceKind, tuple[Quantity, ...]] = {
    PlaceKind.ROOM: _AIR,
    PlaceKind.LOVE_CAGE: (*_AIR, Quantity.LIGHT),
    PlaceKind.HATCHING_TRAY: (*_AIR, Quantity.SURFACE_TEMPERATURE),
    PlaceKind.GROW_OUT_BIN: (Quantity.SUBSTRATE_TEMPERATURE, Quantity.SUBSTRATE_MOISTURE),
    PlaceKind.PUPATION_BOX: _AIR,
}


def _sensors(place: FarmPlace, probe: str = "") -> tuple[Sensor, ...]:
    return tuple(Sensor(quantity, place.id, probe) for quantity in _BY_KIND[place.kind])


def _board(number: int, place: FarmPlace) -> Board:
    battery = Sensor(Quantity.BATTERY, place.id)
    # The board of the last bin is the one with the tired battery.
    tired = number == 13
    return Board(
        id=f"node-{number:02d}",
        place=place.id,
        sensors=(*_sensors(place), battery),
        clock=number not in {6, 9},
        keeps_backlog=number % 2 == 0,
        battery_start_v=3.48 if tired else 4.08 - 0.01 * number,
        battery_fall_v_h=0.012 if tired else 0.0012,
    )


def _boards() -> tuple[Board, ...]:
    first_box, second_box = PLACES[-2:]
    single = tuple(_board(number, place) for number, place in enumerate(PLACES[:-2], start=1))
    both = (
        *_sensors(first_box),
        *_sensors(second_box, probe="second"),
        Sensor(Quantity.BATTERY, first_box.id),
    )
    return (*single, Board("node-14", first_box.id, both))


BOARDS = _boards()
# A board that nobody entered in the settings: a neighbour's gift, switched on during the demo.
STRANGER = Board("node-15", "room-a", _sensors(PLACES[0]))
