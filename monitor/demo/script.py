"""The layout of the invented farm, Saltbush Yard, and the script of what happens on it during the demo.

Places and boards are those of the example settings file (`monitor.settings.template`); all of it is invented.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

from monitor.records import MS_PER_HOUR, PlaceKind, Quantity
from monitor.settings.template import saltbush_yard

SITE_TITLE = "Saltbush Yard (invented)"
UTC_OFFSET_H = 2
TOPIC_ROOT = "rearing"
BOARDS_WITHOUT_CLOCK = frozenset({"node-06", "node-09"})
# The board of the last bin has the weak battery.
WEAK_BATTERY = "node-13"


@dataclass(frozen=True, slots=True)
class FarmPlace:
    id: str
    kind: PlaceKind
    room: str | None = None


@dataclass(frozen=True, slots=True)
class Sensor:
    """One sensor of a board. `name` is its name in a message: quantity, or probe/quantity."""

    name: str
    quantity: Quantity
    place: str
    probe: str = ""


@dataclass(frozen=True, slots=True)
class Board:
    """One node: its sensors, whether it has a clock, and whether it stores what it could not send."""

    id: str
    sensors: tuple[Sensor, ...]
    clock: bool = True
    keeps_backlog: bool = True
    battery_start_v: float = 4.05
    battery_fall_v_h: float = 0.0012


def _board(number: int, table: dict[str, Any]) -> Board:
    # The battery is last, so that a change of the settings file does not change the random numbers.
    names = sorted(table["measures"], key=lambda name: name == Quantity.BATTERY)
    weak, shared = table["id"] == WEAK_BATTERY, "probes" in table
    return Board(
        id=table["id"],
        sensors=tuple(_sensor(name, table) for name in names),
        clock=table["id"] not in BOARDS_WITHOUT_CLOCK,
        keeps_backlog=number % 2 == 0,
        battery_start_v=3.48 if weak else 4.05 if shared else 4.08 - 0.01 * number,
        battery_fall_v_h=0.012 if weak else 0.0012,
    )


def _sensor(name: str, table: dict[str, Any]) -> Sensor:
    probe, _, quantity = name.rpartition("/")
    return Sensor(name, Quantity(quantity), table["probes"][probe] if probe else table["place"], probe)


_TABLES = saltbush_yard()
SITE_ID: str = _TABLES["site"]["id"]
TIME_ZONE: str = _TABLES["site"]["time_zone"]
PLACES = tuple(
    FarmPlace(place["id"], PlaceKind(place["kind"]), place.get("room")) for place in _TABLES["places"]
)
BOARDS = tuple(_board(number, node) for number, node in enumerate(_TABLES["nodes"], start=1))
# A board that is in no settings file, switched on during the demo.
UNKNOWN_BOARD = Board("node-15", tuple(s for s in BOARDS[0].sensors if s.quantity is not Quantity.BATTERY))


class IncidentKind(StrEnum):
    COVERED = "covered"
    FORGOTTEN = "forgotten"
    DRAUGHT = "draught"
    POWER_CUT = "power_cut"
    DEAD = "dead"
    OUT_OF_RANGE = "out_of_range"
    STUCK = "stuck"
    LOOSE_CABLE = "loose_cable"
    UNKNOWN_BOARD = "unknown_board"


@dataclass(frozen=True, slots=True)
class Incident:
    """One incident at a place, a room or a node, from hour to hour after the start of the demo.

    The catalogue has a sentence for its beginning and, where `ends_aloud`, one for its end.
    """

    kind: IncidentKind
    target: str
    start_h: float
    end_h: float
    ends_aloud: bool = True

    def key(self, part: str) -> str:
        """Key of the sentence for its `begins` or `ends` in the catalogue."""
        return f"demo.{self.kind}.{self.target}.{part}"


@dataclass(frozen=True, slots=True)
class News:
    """The beginning or the end of an incident, by the key of its sentence."""

    at_ms: int
    key: str


SCRIPT: tuple[Incident, ...] = (
    Incident(IncidentKind.FORGOTTEN, "tray-3", 0.0, 10.5),
    Incident(IncidentKind.FORGOTTEN, "bin-6", 0.0, 96.0, ends_aloud=False),
    Incident(IncidentKind.UNKNOWN_BOARD, "node-15", 1.5, 96.0, ends_aloud=False),
    Incident(IncidentKind.LOOSE_CABLE, "node-10", 3.0, 5.0),
    Incident(IncidentKind.OUT_OF_RANGE, "node-06", 5.0, 9.0),
    Incident(IncidentKind.STUCK, "node-12", 7.0, 31.0),
    Incident(IncidentKind.DEAD, "node-13", 12.5, 26.0),
    Incident(IncidentKind.COVERED, "bin-4", 11.5, 20.0),
    Incident(IncidentKind.DRAUGHT, "cage-2", 17.5, 20.5),
    Incident(IncidentKind.POWER_CUT, "farm", 30.0, 31.5),
)


class Script:
    """The incidents of a demo that starts at a given time."""

    def __init__(self, start_ms: int, incidents: tuple[Incident, ...] = SCRIPT) -> None:
        self._start_ms = start_ms
        self._incidents = incidents

    def active(self, kind: IncidentKind, target: str, at_ms: int) -> bool:
        hour = (at_ms - self._start_ms) / MS_PER_HOUR
        return any(incident.start_h <= hour < incident.end_h for incident in self._of(kind, target))

    def ended(self, kind: IncidentKind, target: str, after_ms: int, until_ms: int) -> bool:
        """Whether this incident ends in (after, until]."""
        return any(after_ms < self._ms(incident.end_h) <= until_ms for incident in self._of(kind, target))

    def news(self, from_ms: int, until_ms: int) -> tuple[News, ...]:
        """What begins and ends in [from, until), in the order of time."""
        due = (news for news in self._all_news() if from_ms <= news.at_ms < until_ms)
        return tuple(sorted(due, key=lambda news: news.at_ms))

    def _of(self, kind: IncidentKind, target: str) -> Iterator[Incident]:
        return (each for each in self._incidents if each.kind is kind and each.target == target)

    def _all_news(self) -> Iterator[News]:
        for incident in self._incidents:
            yield News(self._ms(incident.start_h), incident.key("begins"))
            if incident.ends_aloud:
                yield News(self._ms(incident.end_h), incident.key("ends"))

    def _ms(self, hour: float) -> int:
        return self._start_ms + round(hour * MS_PER_HOUR)
