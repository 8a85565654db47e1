"""Clocks that count development instead of hours: one for each place and law, and the way of a cohort through
them.

A stage begins at one reading of such a clock and ends at another. All cohorts of a place share its clocks.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Protocol

import numpy as np

from monitor.climate.arrays import FloatArray, IntArray, interpolated
from monitor.development.degree_days import hours_above_of_steps
from monitor.development.rates import (
    DrivenBy,
    RateLaw,
    SpeciesParameters,
    StageParameters,
    units_of_steps,
    units_per_day,
)
from monitor.development.temperature_series import Span, TemperatureSeries, chosen_by_animals
from monitor.records import MS_PER_DAY, MS_PER_HOUR

NEVER_MS = float("inf")
NO_COURSES: IntArray = np.zeros(0, dtype=np.int64)

ClockKey = tuple[str, RateLaw, DrivenBy]
Stay = tuple[str, float, float]


@dataclass(frozen=True, slots=True, eq=False)
class PlaceClimate:
    """The filled temperatures of one place: of its air, of its substrate, or both.

    `refuge` is the coolest that larvae in it can reach, where that is not its air. Where nothing is known of
    what lies around a probe, they cannot flee from what it measures.
    """

    place: str
    air: TemperatureSeries | None = None
    substrate: TemperatureSeries | None = None
    refuge: TemperatureSeries | None = None


class Clock(Protocol):
    """Counts development instead of time; where it runs, `time_at` is the inverse of `units_at`.

    A clock may show a different reading to each course of an ensemble; `courses` holds the course of each
    value.
    """

    @property
    def times_ms(self) -> FloatArray:
        """Times of the record that all courses share; none for a clock without a record."""
        ...

    @property
    def units(self) -> FloatArray:
        """Readings at these times."""
        ...

    def units_at(self, at_ms: FloatArray, courses: IntArray) -> FloatArray:
        """Reading of the clock at times."""
        ...

    def time_at(self, units: FloatArray, courses: IntArray) -> FloatArray:
        """First times at which the clock shows these readings."""
        ...

    def readings_at(self, at_ms: float, courses: int) -> FloatArray:
        """Reading of each of all courses at one time."""
        ...

    def runs(self) -> bool:
        """Whether it ever moves in any course; a clock of heat in a cool place never does."""
        ...


ClockOf = Callable[[str, StageParameters], Clock | None]


@dataclass(frozen=True, slots=True, eq=False)
class StageClock:
    """Clock of one place and one law over the recorded past; beyond its end it runs on at `tail_per_ms`.

    `fled_share` is the share of the last week in which animals fled from what the probe measured [1]. `ahead`
    is the clock of which days to come are drawn, where the heat of these days is not going to last.
    """

    times_ms: FloatArray
    units: FloatArray
    estimated_hours: FloatArray
    heat_hours: FloatArray
    unknown: tuple[Span, ...]
    used: DrivenBy
    tail_per_ms: float
    fled_share: float = 0.0
    ahead: StageClock | None = None

    def units_at(self, at_ms: FloatArray, courses: IntArray = NO_COURSES) -> FloatArray:
        """Reading at times, run on at the tail rate after the last one; the same for every course."""
        del courses
        inside = np.interp(at_ms, self.times_ms, self.units)
        late_ms = np.maximum(at_ms - self.times_ms[-1], 0.0)
        return np.asarray(inside + late_ms * self.tail_per_ms)

    def time_at(self, units: FloatArray, courses: IntArray = NO_COURSES) -> FloatArray:
        """First time at each reading; infinite where the clock stands still before it."""
        del courses
        upper = np.searchsorted(self.units, units, side="left")
        beyond = upper >= len(self.units)
        index = np.clip(upper, 1, len(self.units) - 1)
        gained = self.units[index] - self.units[index - 1]
        part = (units - self.units[index - 1]) / np.where(gained > 0.0, gained, 1.0)
        step = self.times_ms[index] - self.times_ms[index - 1]
        inside = self.times_ms[index - 1] + np.clip(part, 0.0, 1.0) * step
        return np.where(beyond, self._tail_time(units), np.where(upper == 0, self.times_ms[0], inside))

    def readings_at(self, at_ms: float, courses: int) -> FloatArray:
        """The same reading for each course."""
        return np.full(courses, self.reading_at(at_ms))

    def reading_at(self, at_ms: float) -> float:
        """As `units_at`, for one time."""
        inside = float(np.interp(at_ms, self.times_ms, self.units))
        return inside + max(at_ms - float(self.times_ms[-1]), 0.0) * self.tail_per_ms

    def first_time(self, units: float) -> float:
        """As `time_at`, for one reading."""
        upper = int(self.units.searchsorted(units, side="left"))
        if upper == len(self.units):
            return float(self._tail_time(np.array(units)))
        if upper == 0:
            return float(self.times_ms[0])
        low, high = self.units[upper - 1 : upper + 1].tolist()
        begin_ms, end_ms = self.times_ms[upper - 1 : upper + 1].tolist()
        return float(begin_ms + min((units - low) / (high - low), 1.0) * (end_ms - begin_ms))

    def runs(self) -> bool:
        """Whether it moves in the record or after it."""
        return bool(self.units[-1] > self.units[0]) or self.tail_per_ms > 0.0

    def thinned(self, step_ms: int) -> StageClock:
        """The same clock with fewer points, for ensembles; between them it runs evenly."""
        number = max(int((self.times_ms[-1] - self.times_ms[0]) // step_ms), 1)
        times = np.linspace(self.times_ms[0], self.times_ms[-1], number + 1)
        sums = [
            np.interp(times, self.times_ms, sums)
            for sums in (self.units, self.estimated_hours, self.heat_hours)
        ]
        return replace(self, times_ms=times, units=sums[0], estimated_hours=sums[1], heat_hours=sums[2])

    def _tail_time(self, units: FloatArray) -> FloatArray:
        if self.tail_per_ms <= 0.0:
            return np.full(np.shape(units), NEVER_MS)
        return np.asarray(self.times_ms[-1] + (units - self.units[-1]) / self.tail_per_ms)


@dataclass(frozen=True, slots=True, eq=False)
class Clocks:
    """All clocks of a site, shared between the cohorts of a place."""

    by_key: Mapping[ClockKey, StageClock]

    def of(self, place: str, stage: StageParameters) -> StageClock | None:
        """Clock of a place for a stage; None where no temperature of the place is known."""
        return self.by_key.get((place, stage.law, stage.driven_by))


def stage_clocks(climates: Iterable[PlaceClimate], species: Iterable[SpeciesParameters]) -> Clocks:
    """Clocks of every place for every law that the species use [°C d, or d for a Logan-10 shape].

    `species` may be one species on several feeds. Egg and pupa go by the air, larva and prepupa by the
    substrate where it is measured; each falls back on the other, and the clock says which one it used.

    Source: Padmanabha et al. 2023, Comput. Electron. Agric. 206:107649: substrate temperature governs larvae.
    """
    kinds = list(species)
    stages = [each for kind in kinds for stage in kind.stages for each in (stage, heat_stage(kind, stage))]
    laws = {(stage.law, stage.driven_by) for stage in stages if stage is not None}
    laws_in_order = sorted(laws, key=lambda each: each[0].flees_above_c is not None)
    heat_c = min((kind.heat_damage_c for kind in kinds), default=NEVER_MS)
    cools_to_c = min((law.flees_above_c for law, _ in laws if law.flees_above_c is not None), default=None)
    by_key: dict[ClockKey, StageClock] = {}
    for climate in climates:
        place = _PlaceClocks(climate, heat_c)
        for law, wanted in laws_in_order:
            clock = place.clock(law, wanted, cools_to_c)
            if clock is not None:
                by_key[climate.place, law, wanted] = clock
    return Clocks(by_key)


class _PlaceClocks:
    """The clocks of one place; laws that read the same temperatures in the same way share one."""

    def __init__(self, climate: PlaceClimate, heat_c: float) -> None:
        self._climate, self._heat_c = climate, heat_c
        self._lived: dict[tuple[DrivenBy, float | None], _Lived] = {}
        self._clocks: dict[tuple[RateLaw, int], StageClock] = {}  # by identity of what is kept in `_lived`

    def clock(self, law: RateLaw, wanted: DrivenBy, cools_to_c: float | None) -> StageClock | None:
        """The clock of a law, None without a temperature.

        A bin is hot from larvae that feed. Animals that lie in it later are not going to be in that heat, so
        their days to come are drawn as if they could flee from it.
        """
        chosen = temperature_for(self._climate, wanted)
        if chosen is None:
            return None
        plain = replace(law, flees_above_c=None)
        here = self._where(*chosen, law.flees_above_c)
        ahead = here if law.flees_above_c is not None else self._where(*chosen, cools_to_c)
        if (plain, id(here)) not in self._clocks:
            later = None if ahead is here else self._made(plain, ahead)
            self._clocks[plain, id(here)] = replace(self._made(plain, here), ahead=later)
        return self._clocks[plain, id(here)]

    def _made(self, plain: RateLaw, lived: _Lived) -> StageClock:
        key = plain, id(lived)
        if key not in self._clocks:
            self._clocks[key] = _clock(lived, plain)
        return self._clocks[key]

    def _where(self, series: TemperatureSeries, used: DrivenBy, above_c: float | None) -> _Lived:
        if (used, above_c) not in self._lived:
            self._lived[used, above_c] = _lived_in(
                self._climate, series, used, above_c, self._heat_c, self._lived
            )
        return self._lived[used, above_c]


def heat_stage(species: SpeciesParameters, stage: StageParameters) -> StageParameters | None:
    """The stage as heat counts for it, so that a clock counts halvings; None where heat is not counted."""
    if species.death is None or stage.stage not in species.heat_stages:
        return None
    law = RateLaw(species.death.from_c, shape=species.death, flees_above_c=stage.law.flees_above_c)
    return replace(stage, law=law)


@dataclass(frozen=True, slots=True, eq=False)
class _Lived:
    """The temperatures in which animals of a place live, and what every clock of them shares."""

    series: TemperatureSeries
    used: DrivenBy
    times_ms: FloatArray
    estimated_hours: FloatArray
    heat_hours: FloatArray
    fled_share: float


def _lived_in(
    climate: PlaceClimate,
    series: TemperatureSeries,
    used: DrivenBy,
    above_c: float | None,
    heat_c: float,
    known: Mapping[tuple[DrivenBy, float | None], _Lived],
) -> _Lived:
    """What animals live in: what a probe measures, unless they can flee from it."""
    refuge, fled = climate.refuge or climate.air, series
    if above_c is not None and refuge is not None and used is DrivenBy.SUBSTRATE:
        fled = chosen_by_animals(series, refuge, above_c)
    if fled is series and (used, None) in known:
        return known[used, None]
    hours = np.diff(fled.times_ms) * (1.0 / MS_PER_HOUR)
    estimated = _summed(np.where(fled.estimated[1:], hours, 0.0))
    heat = _summed(hours_above_of_steps(fled.times_ms, fled.temperatures_c, heat_c))
    return _Lived(fled, used, fled.times_ms.astype(np.float64), estimated, heat, _fled_share(series, fled))


def _fled_share(series: TemperatureSeries, fled: TemperatureSeries) -> float:
    if fled is series:
        return 0.0
    last = series.times_ms >= series.times_ms[-1] - 7 * MS_PER_DAY
    return float(np.mean(fled.temperatures_c[last] < series.temperatures_c[last]))


def temperature_for(climate: PlaceClimate, wanted: DrivenBy) -> tuple[TemperatureSeries, DrivenBy] | None:
    """The temperatures of a place that drive a stage, and their kind; the other kind where one is missing."""
    ranked = [(climate.substrate, DrivenBy.SUBSTRATE), (climate.air, DrivenBy.AIR)]
    if wanted is DrivenBy.AIR:
        ranked.reverse()
    for series, used in ranked:
        if series is not None:
            return series, used
    return None


def _clock(lived: _Lived, law: RateLaw) -> StageClock:
    times, values = lived.series.times_ms, lived.series.temperatures_c
    units = _summed(units_of_steps(times, values, law))
    return StageClock(
        lived.times_ms,
        units,
        lived.estimated_hours,
        lived.heat_hours,
        lived.series.unknown,
        lived.used,
        _tail_rate(times, values, units, law),
        lived.fled_share,
    )


def _summed(steps: FloatArray) -> FloatArray:
    total = np.empty(len(steps) + 1)
    total[0] = 0.0
    np.cumsum(steps, out=total[1:])
    return total


def _tail_rate(times_ms: IntArray, values: FloatArray, units: FloatArray, law: RateLaw) -> float:
    """Mean rate of the last seven days, per ms; of the mean temperature when less than an hour is known."""
    first = int(np.searchsorted(times_ms, times_ms[-1] - 7 * MS_PER_DAY))
    span = float(times_ms[-1] - times_ms[first])
    if span < MS_PER_HOUR:
        return float(units_per_day(float(values.mean()), law)) / MS_PER_DAY
    return float(units[-1] - units[first]) / span


def first_unknown_ms(clock: StageClock, from_ms: float, to_ms: float) -> int | None:
    """Where the first stretch without known temperature begins between two times [ms]; None without any."""
    starts = [max(start, int(from_ms)) for start, end in clock.unknown if start < to_ms and end > from_ms]
    if from_ms < clock.times_ms[0]:
        starts.append(int(from_ms))
    return min(starts) if starts else None


class _Leg:
    """A stay beyond the record: its clock, its span, and what each course had earned before it, shape
    (courses,). Most cohorts end a stage before their last stays, so these are worked out when needed.
    """

    def __init__(
        self, clock: Clock | None, from_ms: float, until_ms: float, earlier: _Leg | float, courses: int
    ) -> None:
        self.clock, self.from_ms, self.until_ms, self._earlier, self._courses = (
            clock,
            from_ms,
            until_ms,
            earlier,
            courses,
        )
        self._before: FloatArray | None = None
        self._at_start: FloatArray | None = None

    @property
    def before(self) -> FloatArray:
        """What each course had earned when the stay began."""
        if self._before is None:
            earlier = self._earlier
            self._before = (
                earlier.readings_at(self.from_ms)
                if isinstance(earlier, _Leg)
                else np.full(self._courses, earlier)
            )
        return self._before

    @property
    def at_start(self) -> FloatArray:
        """Readings of the clock when the stay began."""
        if self._at_start is None:
            self._at_start = (
                np.zeros(self._courses)
                if self.clock is None
                else self.clock.readings_at(self.from_ms, self._courses)
            )
        return self._at_start

    def units_at(self, at_ms: FloatArray, courses: IntArray) -> FloatArray:
        if self.clock is None:
            return self.before[courses]
        return self.before[courses] + self.clock.units_at(at_ms, courses) - self.at_start[courses]

    def readings_at(self, at_ms: float) -> FloatArray:
        if self.clock is None:
            return self.before
        return self.before + self.clock.readings_at(at_ms, len(self.before)) - self.at_start

    def time_at(self, units: FloatArray, courses: IntArray) -> FloatArray:
        if self.clock is None:
            return np.full(len(units), NEVER_MS)
        return self.clock.time_at(units - self.before[courses] + self.at_start[courses], courses)


@dataclass(frozen=True, slots=True, eq=False)
class Journey:
    """Counts development along a cohort's way: the record, which all courses share, and the legs after it."""

    times_ms: FloatArray
    units: FloatArray
    legs: tuple[_Leg, ...]

    def units_at(self, at_ms: FloatArray, courses: IntArray | None = None) -> FloatArray:
        """Reading of each course at its own time, not before the journey begins.

        `courses` holds the course of each time; None: there is one time for each of all courses.
        """
        first_ms, last_ms, ends_ms = at_ms.min(), at_ms.max(), self.times_ms[-1]
        if first_ms > ends_ms:
            units = np.full(len(at_ms), self.units[-1])
        else:
            units = interpolated(np.minimum(at_ms, ends_ms), self.times_ms, self.units)
        numbers = np.arange(len(at_ms)) if courses is None else courses
        for leg in self.legs:
            if last_ms <= leg.from_ms or first_ms > leg.until_ms:
                continue
            if first_ms > leg.from_ms and last_ms <= leg.until_ms:
                return leg.units_at(at_ms, numbers)
            here = ((at_ms > leg.from_ms) & (at_ms <= leg.until_ms)).nonzero()[0]
            units[here] = leg.units_at(at_ms[here], numbers[here])
        return units

    def time_at(self, units: FloatArray) -> FloatArray:
        """First time at which each course shows its own reading; infinite where it never does."""
        recorded = units <= self.units[-1]
        if recorded.all():
            return interpolated(units, self.units, self.times_ms)
        times_ms = np.full(len(units), NEVER_MS)
        if recorded.any():
            times_ms[recorded] = interpolated(units[recorded], self.units, self.times_ms)
        courses = (~recorded).nonzero()[0]
        for number, leg in enumerate(self.legs):
            if not len(courses):
                break
            done = courses
            if number + 1 < len(self.legs):
                here = units[courses] <= self.legs[number + 1].before[courses]
                done, courses = courses[here], courses[~here]
            if len(done):
                times_ms[done] = leg.time_at(units[done], done)
        return times_ms


def journey(
    stays: tuple[Stay, ...], start_ms: float, stage: StageParameters, clock_of: ClockOf, courses: int
) -> Journey:
    """The clock of a cohort for the law and the driving temperature of one stage, for `courses` courses.

    `stays` are in order and the last one never ends. The reading is the sum of the clocks' differences over
    the stays [°C d, or d for a Logan-10 shape]. It stands still in a place of which no temperature is known.
    """
    times, units = [np.array([start_ms])], [np.zeros(1)]
    legs: list[_Leg] = []
    for place, from_ms, until_ms in stays:
        if until_ms <= start_ms:
            continue
        clock, begin_ms = clock_of(place, stage), max(from_ms, start_ms)
        if not legs:
            begin_ms = _along_record(clock, begin_ms, until_ms, times, units)
        if begin_ms < until_ms:
            earlier = legs[-1] if legs else float(units[-1][-1])
            legs.append(_Leg(clock, begin_ms, until_ms, earlier, courses))
    return Journey(np.concatenate(times), np.concatenate(units), tuple(legs))


class Ways:
    """The journeys of one cohort, each made when it is first needed.

    Stages that read the same clocks in every place share their way: most do, whatever their laws.
    """

    def __init__(self, stays: tuple[Stay, ...], start_ms: float, clock_of: ClockOf, courses: int) -> None:
        self._stays, self._start_ms, self._courses = stays, start_ms, courses
        self._clock_of = clock_of
        self._made: dict[tuple[int, ...], Journey] = {}
        self._known: list[tuple[StageParameters, Journey]] = []
        self._read: list[Clock | None] = []

    def of(self, stage: StageParameters) -> Journey:
        """The journey by which a stage is counted (`journey`)."""
        for other, way in self._known:
            if other.driven_by is stage.driven_by and other.law == stage.law:
                return way
        self._known.append((stage, self._by_clocks(stage)))
        return self._known[-1][1]

    def _by_clocks(self, stage: StageParameters) -> Journey:
        clocks = [self._clock_of(place, stage) for place, _, _ in self._stays]
        key = tuple(id(clock) for clock in clocks)
        if key not in self._made:
            self._read += clocks  # Held, so that no other clock gets its identity.
            self._made[key] = journey(self._stays, self._start_ms, stage, self._clock_of, self._courses)
        return self._made[key]


def _along_record(
    clock: Clock | None, from_ms: float, until_ms: float, times: list[FloatArray], units: list[FloatArray]
) -> float:
    """Add the recorded part of a stay to `times` and `units`; returns the time up to which it reached."""
    if clock is None:
        return from_ms
    recorded_ms = clock.times_ms
    if not len(recorded_ms) or recorded_ms[-1] <= from_ms:
        return from_ms
    end_ms = min(until_ms, float(recorded_ms[-1]))
    first, last = (int(recorded_ms.searchsorted(at_ms, side="right")) for at_ms in (from_ms, end_ms))
    start, end = np.interp([from_ms, end_ms], recorded_ms, clock.units)
    offset = units[-1][-1] - start
    times += [recorded_ms[first:last], np.array([end_ms])]
    units += [clock.units[first:last] + offset, np.array([end + offset])]
    return end_ms
