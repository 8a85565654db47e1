"""A night as data: what happened at each place, its alarms, what it asks of the day, and the week."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import TYPE_CHECKING

from monitor.climate.heat import HeatPast
from monitor.farm.records import MATTERS, ActiveAlarm, NodeRow
from monitor.logbook.place_entries import Unguarded
from monitor.records import MS_PER_MINUTE, AlarmRule, PlaceKind, Priority, SensorKey

if TYPE_CHECKING:
    from monitor.farm.today import DueToday
    from monitor.farm.yields import YieldWeek
    from monitor.store.copies import CopyState

CONDENSING_NEAR_K = 1.0
"""A surface that came so near to the dew point is told [K]. Own choice."""
QUIET_GAP_MINUTES = 30.0
"""A night in which a quantity was silent for longer is not called quiet [min]. Own choice."""


@dataclass(frozen=True, slots=True)
class Span:
    """A night: [start, end), and the local date of its morning; `by_day`: the day between two nights."""

    start_ms: int
    end_ms: int
    date: str
    by_day: bool = False


@dataclass(frozen=True, slots=True)
class Extreme:
    """An extreme value and when it was measured."""

    value: float
    at_ms: int


@dataclass(frozen=True, slots=True)
class QuantityNight:
    """One quantity of one place over the night; `is_index`: of a moisture probe that is not calibrated."""

    quantity: str
    lowest: Extreme
    highest: Extreme
    mean: float
    minutes_out: float
    gap_minutes: float
    is_index: bool = False


@dataclass(frozen=True, slots=True)
class AirNight:
    """What the air of a place did to moisture: drying power and condensation."""

    mean_deficit_pa: float
    highest_deficit_pa: float
    dew_point_c: float
    lowest_margin_k: float
    margin_at_ms: int
    minutes_condensing: float


@dataclass(frozen=True, slots=True)
class DegreeDays:
    """Degree-days earned in the night above a threshold, with the hours that were not measured.

    `measured` is the quantity that they rest on. `in_doubt` is True where it is the air although the animals
    live in substrate, since a dense bin can run many degrees hotter.
    """

    earned: float
    threshold_c: float
    measured: str
    hours_missing: float
    in_doubt: bool = False


@dataclass(frozen=True, slots=True)
class PlaceNight:
    """One place over the night. `empty` is whether it was so all night, as people had said.

    `unguarded` is why it was not guarded at some time of it, and who said so. `missing` are guarded
    quantities of which no reading came; `known_at_end` tells whether the newest was fresh when the night
    ended; `failed` names the error of the program that left it unread. `heat` is that of a grow-out bin over
    the eight days before its end.
    """

    id: str
    title: str
    kind: PlaceKind
    empty: bool
    quantities: tuple[QuantityNight, ...]
    air: AirNight | None
    degree_days: DegreeDays | None
    unguarded: tuple[Unguarded, ...] = ()
    missing: tuple[str, ...] = ()
    known_at_end: bool = True
    failed: str = ""
    heat: HeatPast | None = None

    @property
    def out_minutes(self) -> float:
        """For how long the quantity that was out of range longest was so; 0 where nothing lives."""
        return 0.0 if self.empty else max((each.minutes_out for each in self.quantities), default=0.0)

    @property
    def gap_minutes(self) -> float:
        """The longest silence of any of its quantities; 0 where nothing lives."""
        return 0.0 if self.empty else max((each.gap_minutes for each in self.quantities), default=0.0)

    @property
    def quiet(self) -> bool:
        """Whether its lowest and highest values say all that is to be said of it."""
        wet = self.air is not None and self.air.lowest_margin_k < CONDENSING_NEAR_K
        silent = not self.quantities or self.missing or self.gap_minutes > QUIET_GAP_MINUTES
        unlit = self.failed or self.unguarded or (silent and not self.empty)
        return not (unlit or wet or self.out_minutes >= 1.0)

    @property
    def main(self) -> QuantityNight | None:
        """The measured quantity that matters most in it."""
        by_name = {each.quantity: each for each in self.quantities}
        return next((by_name[name] for name in MATTERS[self.kind] if name in by_name), None)

    @property
    def told(self) -> QuantityNight | None:
        """What a picture tells most of: what was out of range longest, else what matters most."""
        worst = max(self.quantities, key=lambda each: each.minutes_out, default=None)
        return worst if worst is not None and worst.minutes_out >= 1.0 else self.main

    def seen_minutes(self, night_minutes: float) -> float:
        """For how long the best measured quantity of the place was measured."""
        return max((night_minutes - quantity.gap_minutes for quantity in self.quantities), default=0.0)


@dataclass(frozen=True, slots=True)
class AlarmNight:
    """One annunciation of the night: what, when, how far, who acknowledged, when it ended or was hidden.

    One that stood when the night began is among them. `again_ms` is when it was annunciated anew after it had
    been put aside.
    """

    title: str
    rule: AlarmRule | None
    priority: Priority
    alarm_id: str
    began_ms: int
    value: float | None
    extreme: float | None = None
    acknowledged_by: str = ""
    acknowledged_ms: int | None = None
    cleared_ms: int | None = None
    reason: str = ""
    hidden: bool = False
    aside_by: str = ""
    aside_ms: int | None = None
    again_ms: int | None = None

    @property
    def over_ms(self) -> int | None:
        """When it was over, held back, or annunciated anew; None while it goes on."""
        return self.again_ms if self.cleared_ms is None else self.cleared_ms


@dataclass(frozen=True, slots=True)
class LateExcursion:
    """An excursion that was over before its readings arrived, so nobody was woken."""

    title: str
    rule: AlarmRule
    began_ms: int
    ended_ms: int
    extreme: float


@dataclass(frozen=True, slots=True)
class NightSummary:
    """What happened in one night. `until_ms` is how far a night that is not over yet has come.

    The newest night speaks of now (`of_now`); an earlier one of its own end: `still_active` and `set_aside`
    are the alarms that stood, and those shelved or out of service, then. `unsent_messages` were made since
    the report before. `unknown` is of how many places nothing is known then, `running` whether the
    monitor runs, `began_ms` its first start, `heartbeat_lost_ms` since when the heartbeat is not taken.
    `copies_failed` are the places for copies whose last try failed.
    `failed` names the parts that could not be worked out, each with the error of the program. `by_day` is
    the day between two nights.
    """

    title: str
    date: str
    start_ms: int
    end_ms: int
    places: tuple[PlaceNight, ...]
    alarms: tuple[AlarmNight, ...]
    found_late: tuple[LateExcursion, ...]
    still_active: tuple[ActiveAlarm, ...]
    downtime: tuple[tuple[int, int], ...]
    unsent_messages: int = 0
    set_aside: tuple[ActiveAlarm, ...] = ()
    until_ms: int | None = None
    of_now: bool = True
    unknown: int = 0
    running: bool = True
    began_ms: int | None = None
    heartbeat_lost_ms: int | None = None
    copies_failed: tuple[CopyState, ...] = ()
    failed: Mapping[str, str] = field(default_factory=dict)
    by_day: bool = False

    @property
    def told_to_ms(self) -> int:
        """Up to when it tells: the end of the night, or now while it lasts."""
        return self.end_ms if self.until_ms is None else self.until_ms

    @property
    def over(self) -> bool:
        return self.told_to_ms >= self.end_ms

    @property
    def blind_places(self) -> int:
        """Places with animals in which nothing was measured for half of the night or more."""
        minutes = (self.told_to_ms - self.start_ms) / MS_PER_MINUTE
        return sum(not place.empty and place.seen_minutes(minutes) <= minutes / 2 for place in self.places)

    @property
    def out_places(self) -> tuple[PlaceNight, ...]:
        """Places with animals that were out of range for a minute or more."""
        return tuple(place for place in self.places if place.out_minutes >= 1.0)

    @property
    def gap_places(self) -> tuple[PlaceNight, ...]:
        """Places with animals of which a quantity was silent for longer than a quiet night allows."""
        return tuple(
            place
            for place in self.places
            if place.gap_minutes > QUIET_GAP_MINUTES or (place.missing and not place.empty)
        )

    @property
    def worst_first(self) -> tuple[PlaceNight, ...]:
        """The places: alarms that stand, alarms of the night, what was out of range or silent, then quiet."""
        standing, came = self._gravest()
        order = [*Priority, None]

        quiet = self.quiet_places

        def rank(place: PlaceNight) -> tuple[object, ...]:
            alarms = order.index(standing.get(place.id)), order.index(came.get(place.id))
            return (place.empty, *alarms, place.id in quiet, -place.out_minutes, -place.gap_minutes)

        return tuple(sorted(self.places, key=rank))

    @property
    def quiet_places(self) -> frozenset[str]:
        """The places that need no more than one line: no alarm of them either."""
        standing, came = self._gravest()
        loud = standing.keys() | came.keys()
        return frozenset(place.id for place in self.places if place.id not in loud and place.quiet)

    def _gravest(self) -> tuple[dict[str, Priority], dict[str, Priority]]:
        """The gravest alarm by place: of those that stand, and of those that came."""
        order = list(Priority).index
        standing = [(alarm.rule.place, alarm.rule.priority) for alarm in self.still_active]
        came = [(alarm.rule.place, alarm.priority) for alarm in self.alarms if alarm.rule is not None]
        return (
            dict(sorted(standing, key=lambda each: order(each[1]), reverse=True)),
            dict(sorted(came, key=lambda each: order(each[1]), reverse=True)),
        )

    @property
    def known(self) -> bool:
        """Whether enough is known to say that all is well."""
        failed = self.failed or any(place.failed for place in self.places)
        return not (failed or self.blind_places or self.unknown or not self.running)

    @property
    def quiet(self) -> bool:
        """Whether nothing at all happened, and the monitor saw it."""
        happened = self.alarms or self.still_active or self.found_late or self.downtime
        return self.known and not (happened or self.out_places or self.gap_places)


@dataclass(frozen=True, slots=True)
class DoubtfulSensor:
    """A sensor that gave doubtful readings for so many minutes of the night."""

    sensor: SensorKey
    minutes: float


@dataclass(frozen=True, slots=True)
class BoardCare:
    """A board that a person should look after."""

    row: NodeRow
    doubtful: tuple[DoubtfulSensor, ...]


@dataclass(frozen=True, slots=True)
class NightReport:
    """A night, and what it asks of the day: boards to look after, bins to water, damp walls, cohorts.

    On a Monday also what the farm yielded in the week that is over.
    """

    night: NightSummary
    boards: tuple[BoardCare, ...] = ()
    due: DueToday | None = None
    boards_failed: str = ""
    yields: YieldWeek | None = None


class NightMark(StrEnum):
    """What a night was at a place, beyond a limit of it; `OTHER` is any quantity but heat and water."""

    HOT = "hot"
    COLD = "cold"
    DRY = "dry"
    HUMID = "humid"
    SILENT = "silent"
    OTHER = "other"


@dataclass(frozen=True, slots=True)
class MarkedPlaces:
    """The titles of the places that share a mark in a night, in the order of the settings."""

    mark: NightMark
    places: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class WeekNight:
    """One night of the week: what it was, and where; the gravest alarm. `known`: anything was measured."""

    date: str
    marks: tuple[MarkedPlaces, ...]
    worst: Priority | None
    known: bool
