"""Many sites as one list, worst first. Pure: what the archive said goes in.

Each figure keeps the moment at which its site wrote it, so that nobody takes last week's for today's.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from enum import StrEnum

from monitor.development.events import Event
from monitor.farm.bins import BinState
from monitor.farm.records import PlaceState
from monitor.records import MS_PER_HOUR, STANDING, AlarmStatus, PlaceKind, Priority, Side, Stage


class Standing(StrEnum):
    """How a site stands, the worst first."""

    HIGH = "high"
    """an alarm of high priority that nobody has acknowledged"""
    SILENT = "silent"
    ALARM = "alarm"
    """another alarm that nobody has acknowledged"""
    SEEN = "seen"
    """alarms stand, and somebody has seen each"""
    MEND = "mend"
    """boards to mend, or a bin that may be too dry today"""
    FINE = "fine"
    AWAITED = "awaited"
    """named in the settings, and never heard"""


_WORST_FIRST = {standing: place for place, standing in enumerate(Standing)}
_GRAVEST_FIRST = {priority: place for place, priority in enumerate(Priority)}
NOBODY_SAW = (AlarmStatus.UNACKNOWLEDGED, AlarmStatus.RETURNED_UNACKNOWLEDGED)
BIN_HOURS = 12.0
"""A bin that may be too dry within so many hours needs somebody today. Own choice."""


@dataclass(frozen=True, slots=True)
class Known:
    """A number that a site wrote, and when."""

    value: float
    at_ms: int


@dataclass(frozen=True, slots=True)
class Window:
    """What is to be had within seven days: the median and its 80 % window, and when that was worked out."""

    low: float
    median: float
    high: float
    at_ms: int


@dataclass(frozen=True, slots=True)
class SiteAlarm:
    """An alarm of a site that is not normal, as its site wrote it last."""

    place: str
    quantity: str
    side: Side
    priority: Priority
    status: AlarmStatus
    setpoint: float | None
    value: float | None
    since_ms: int | None
    at_ms: int

    @property
    def stands(self) -> bool:
        """Whether it is so now."""
        return self.status in STANDING

    @property
    def is_unseen(self) -> bool:
        """Whether nobody has acknowledged it."""
        return self.status in NOBODY_SAW


@dataclass(frozen=True, slots=True)
class DryBin:
    """The bin of a site that will be too dry first, and when most likely."""

    place: str
    dry_ms: int
    at_ms: int


@dataclass(frozen=True, slots=True)
class SiteFigures:
    """What the archive knows of one site. None: it never wrote that."""

    site: str
    heard_ms: int | None = None
    open_alarms: Known | None = None
    unacknowledged: Known | None = None
    to_mend: Known | None = None
    alarms: tuple[SiteAlarm, ...] = ()
    """those that stand or that nobody has seen, the worst first"""
    dry_bin: DryBin | None = None
    eggs_g: Window | None = None
    larvae_kg: Window | None = None


@dataclass(frozen=True, slots=True)
class Habits:
    """What the settings say of one site."""

    title: str
    silent_after_ms: int
    watched: bool = True


@dataclass(frozen=True, slots=True)
class SiteLine:
    """One site in the overview. `silent_ms` is for how long nothing was heard; None where it is heard."""

    figures: SiteFigures
    title: str
    standing: Standing
    silent_ms: int | None
    watched: bool = True

    @property
    def site(self) -> str:
        """Its short name."""
        return self.figures.site

    @property
    def worst(self) -> SiteAlarm | None:
        """The alarm that needs somebody first."""
        return next(iter(self.figures.alarms), None)


@dataclass(frozen=True, slots=True)
class Overview:
    """All sites, worst first, as they were when the archive answered last, at `read_ms`."""

    lines: tuple[SiteLine, ...]
    read_ms: int

    def line(self, site: str) -> SiteLine | None:
        """The line of one site."""
        return next((line for line in self.lines if line.site == site), None)

    def count(self, *standings: Standing) -> int:
        """How many sites stand so."""
        return sum(line.standing in standings for line in self.lines)

    @property
    def needs_somebody(self) -> bool:
        """Whether a site has an alarm that nobody has seen, or is silent."""
        return self.count(Standing.HIGH, Standing.SILENT, Standing.ALARM) > 0


def site_line(figures: SiteFigures, habits: Habits, read_ms: int) -> SiteLine:
    """How a site stood when the archive answered."""
    quiet_ms = None if figures.heard_ms is None else max(0, read_ms - figures.heard_ms)
    silent_ms = quiet_ms if quiet_ms is not None and quiet_ms > habits.silent_after_ms else None
    return SiteLine(figures, habits.title, _standing(figures, silent_ms, read_ms), silent_ms, habits.watched)


def _standing(figures: SiteFigures, silent_ms: int | None, read_ms: int) -> Standing:
    if figures.heard_ms is None:
        return Standing.AWAITED
    if any(alarm.is_unseen and alarm.priority is Priority.HIGH for alarm in figures.alarms):
        return Standing.HIGH
    if silent_ms is not None:
        return Standing.SILENT
    if _some(figures.unacknowledged):
        return Standing.ALARM
    if _some(figures.open_alarms):
        return Standing.SEEN
    return Standing.MEND if is_dry_soon(figures.dry_bin, read_ms) or _some(figures.to_mend) else Standing.FINE


def is_dry_soon(dry_bin: DryBin | None, now_ms: int) -> bool:
    """Whether the driest bin needs somebody today."""
    return dry_bin is not None and dry_bin.dry_ms - now_ms <= BIN_HOURS * MS_PER_HOUR


def _some(known: Known | None) -> bool:
    return known is not None and known.value > 0


def gravest_first(alarms: Iterable[SiteAlarm]) -> tuple[SiteAlarm, ...]:
    """Alarms that stand or that nobody has seen: unseen ones first, by priority, the longest first."""
    told = (alarm for alarm in alarms if alarm.stands or alarm.is_unseen)
    return tuple(
        sorted(
            told,
            key=lambda alarm: (
                not alarm.is_unseen,
                _GRAVEST_FIRST[alarm.priority],
                not alarm.stands,
                alarm.since_ms or alarm.at_ms,
                alarm.place,
                alarm.quantity,
            ),
        )
    )


def worst_first(lines: Iterable[SiteLine], read_ms: int) -> Overview:
    """The worst first: by standing, then by how much of it, then by name, so that nothing jumps about."""
    return Overview(tuple(sorted(lines, key=_rank)), read_ms)


def _rank(line: SiteLine) -> tuple[int, int, int, float, str]:
    alarms, dry_bin = line.figures.alarms, line.figures.dry_bin
    if line.standing is Standing.HIGH:
        alarms = tuple(alarm for alarm in alarms if alarm.priority is Priority.HIGH)
    return (
        _WORST_FIRST[line.standing],
        -sum(alarm.is_unseen for alarm in alarms) if line.standing is not Standing.SILENT else 0,
        -(line.silent_ms or 0),
        float("inf") if dry_bin is None else dry_bin.dry_ms,
        line.title.casefold(),
    )


def without_yields(line: SiteLine) -> SiteLine:
    """The line for somebody who may not know what the site yields."""
    return replace(line, figures=replace(line.figures, eggs_g=None, larvae_kg=None))


@dataclass(frozen=True, slots=True)
class PlaceValue:
    """What is measured at a place: lowest and highest of its sensors, and the limits that guard it."""

    quantity: str
    lowest: float
    highest: float
    low_limit: float | None
    high_limit: float | None
    at_ms: int


@dataclass(frozen=True, slots=True)
class PlaceFigures:
    """A place of a site; None: a newer program wrote what we do not know, or nothing lives there."""

    place: str
    kind: PlaceKind | None
    stage: Stage | None
    state: PlaceState | None
    values: tuple[PlaceValue, ...]
    at_ms: int


@dataclass(frozen=True, slots=True)
class BoardFigures:
    """A board of a site."""

    node: str
    battery_v: float | None
    is_silent: bool
    is_to_mend: bool
    heard_ms: int | None
    at_ms: int


@dataclass(frozen=True, slots=True)
class BinFigures:
    """A filled bin: when it will be too dry, litres it can take, its harvest [ms since 1970; kg]."""

    place: str
    state: BinState | None
    moisture: float | None
    dry_ms: int | None
    litres: float | None
    harvest_ms: Window | None
    harvest_kg: Window | None
    at_ms: int


@dataclass(frozen=True, slots=True)
class CohortFigures:
    """What comes next of a cohort, and when [ms since 1970]."""

    cohort: str
    stage: Stage | None
    event: Event | None
    when_ms: Window
    is_late: bool


@dataclass(frozen=True, slots=True)
class WeekFigures:
    """What is to be had in one week."""

    from_ms: int
    to_ms: int
    eggs_g: Window | None
    larvae_kg: Window | None


@dataclass(frozen=True, slots=True)
class SitePicture:
    """One site whole, as the archive knows it."""

    line: SiteLine
    read_ms: int
    places: tuple[PlaceFigures, ...] = ()
    boards: tuple[BoardFigures, ...] = ()
    bins: tuple[BinFigures, ...] = ()
    cohorts: tuple[CohortFigures, ...] = ()
    weeks: tuple[WeekFigures, ...] = ()
