"""Who stands where on Saltbush Yard: the places, the boards and what they measure. All invented.

What happens on the invented farm, and when: a script in hours after the start of the demo.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum

from monitor.records import MS_PER_HOUR, PlaceKind, Quantity


class Kind(StrEnum):
    """Kinds of mishap that the simulation knows."""

    COVERED = "covered"
    FORGOTTEN = "forgotten"
    DRAUGHT = "draught"
    POWER_CUT = "power_cut"
    DEAD = "dead"
    OUT_OF_RANGE = "out_of_range"
    STUCK = "stuck"
    LOOSE_CABLE = "loose_cable"
    STRANGER = "stranger"


@dataclass(frozen=True, slots=True)
class Happening:
    """One mishap: to which place, room or node, from when to when, and in words."""

    kind: Kind
    target: str
    start_h: float
    end_h: float
    begins: str
    ends: str = ""


@dataclass(frozen=True, slots=True)
class News:
    """A line for the person who watches."""

    at_ms: int
    text: str


SCRIPT: tuple[Happening, ...] = (
    Happening(
        Kind.FORGOTTEN,
        "tray-3",
        0.0,
        10.5,
        "Nobody wets the pad of hatching tray 3 this morning.",
        "The keeper wets the pad of hatching tray 3.",
    ),
    Happening(Kind.FORGOTTEN, "bin-6", 0.0, 96.0, "Bin 6 stands under a fan and gets no water."),
    Happening(Kind.STRANGER, "node-15", 1.5, 96.0, "A board that is not in the settings starts to send."),
    Happening(
        Kind.LOOSE_CABLE,
        "node-10",
        3.0,
        5.0,
        "The probe cable of bin 3 works loose: the probe reads -127 and 85 now and then.",
        "The probe cable of bin 3 is pushed in again.",
    ),
    Happening(
        Kind.OUT_OF_RANGE,
        "node-06",
        5.0,
        9.0,
        "A steel door shuts off node-06 from the radio. It keeps its readings.",
        "The steel door opens; node-06 sends four hours of readings at once, in times before now.",
    ),
    Happening(
        Kind.STUCK,
        "node-12",
        7.0,
        31.0,
        "The probe of bin 5 sticks at one value.",
        "The probe of bin 5 is changed for a good one.",
    ),
    Happening(
        Kind.DEAD,
        "node-13",
        12.5,
        26.0,
        "The battery of node-13 is empty; the board on bin 6 falls silent.",
        "node-13 gets a new battery.",
    ),
    Happening(
        Kind.COVERED,
        "bin-4",
        13.0,
        20.0,
        "Another bin is stacked on bin 4, full of larvae in their hottest days: no air gets in.",
        "The keeper takes the upper bin off and stirs bin 4.",
    ),
    Happening(
        Kind.DRAUGHT,
        "cage-2",
        17.5,
        20.5,
        "The door beside love cage 2 blows open in the cold of the night.",
        "The door beside love cage 2 is shut.",
    ),
    Happening(
        Kind.POWER_CUT,
        "farm",
        30.0,
        31.5,
        "The power goes on the whole farm: heaters, lamps and the radio are off.",
        "The power is back. Some boards kept their readings, the others restart.",
    ),
)


class Script:
    """A script laid on a start time."""

    def __init__(self, start_ms: int, happenings: tuple[Happening, ...] = SCRIPT) -> None:
        self._start_ms = start_ms
        self._happenings = happenings

    def active(self, kind: Kind, target: str, at_ms: int) -> bool:
        """True while this kind of mishap befalls this target."""
        hour = (at_ms - self._start_ms) / MS_PER_HOUR
        return any(
            each.kind is kind and each.target == target and each.start_h <= hour < each.end_h
            for each in self._happenings
        )

    def ended(self, kind: Kind, target: str, after_ms: int, until_ms: int) -> bool:
        """True when this mishap is set right in (after, until]."""
        return any(
            each.kind is kind and each.target == target and after_ms < self._ms(each.end_h) <= until_ms
            for each in self._happenings
        )

    def news(self, from_ms: int, until_ms: int) -> tuple[News, ...]:
        """What begins and ends in [from, until), in the order of time."""
        told = (each for each in self._all_news() if from_ms <= each.at_ms < until_ms)
        return tuple(sorted(told, key=lambda each: each.at_ms))

    def _all_news(self) -> Iterator[News]:
        for each in self._happenings:
            yield News(self._ms(each.start_h), each.begins)
            if each.ends:
                yield News(self._ms(each.end_h), each.ends)

    def _ms(self, hour: float) -> int:
        return self._start_ms + round(hour * MS_PER_HOUR)


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
