"""A bin from its filling to now: every interval, every entry of the logbook, every weighing learned from."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from operator import attrgetter

import numpy as np

from monitor.bins.conditions import (
    ClimateSeries,
    Conditions,
    Intervals,
    conditions_of,
    intervals_of,
    without_gaps,
)
from monitor.bins.events import (
    MARK_SD_SHARE,
    BinEvent,
    Emptied,
    FeedAdded,
    Finishing,
    MoistureTested,
    TakenOut,
    WaterAdded,
    Weighed,
    require_bin,
)
from monitor.bins.posterior import (
    BinPosterior,
    Comparison,
    Predict,
    carried,
    drawn,
    ensemble_at,
    prior_posterior,
    surprise,
    updated,
)
from monitor.bins.substrate import BinFacts
from monitor.bins.water_balance import Books, Ensemble, after_event, close_books, run, substrate_moisture
from monitor.climate.arrays import FloatArray, IntArray

POUR_ERROR_SHARE = 0.02
"""How far litres and kilograms that were added may be off [1]. Source: own choice."""

BAND = (0.1, 0.5, 0.9)
LEAST_SD_KG = 0.005

Measure = Callable[[Ensemble], FloatArray]
"""What a scale, an oven or a probe would say of each bin of an ensemble."""
WATER_KG: Measure = attrgetter("water_kg")
DRY_KG: Measure = attrgetter("dry_kg")


@dataclass(frozen=True, slots=True)
class Leg:
    """A piece of a stretch: time from one edge to another, or an event at one."""

    first: int
    last: int
    event: BinEvent | None
    put_kg: float


@dataclass(frozen=True, slots=True, eq=False)
class Course:
    """What a history rests on: the bin, its conditions, its intervals."""

    facts: BinFacts
    conditions: tuple[Conditions, ...]
    intervals: Intervals


@dataclass(frozen=True, slots=True, eq=False)
class BinHistory:
    """A bin up to a time.

    `moisture` has shape (3, n), the 10, 50 and 90 % quantiles of the possible bins at `times_ms`, shape (n,);
    `water_kg`, `dry_kg` and `books` are those of the middle bin. `posterior` stands at the start of the
    stretch that `legs` make up, `ensemble` at its end.
    """

    course: Course
    times_ms: IntArray
    moisture: FloatArray
    water_kg: FloatArray
    dry_kg: FloatArray
    books: Books
    posterior: BinPosterior
    legs: tuple[Leg, ...]
    ensemble: Ensemble
    put_kg: float
    comparisons: tuple[Comparison, ...]
    finishing: bool
    emptied: bool
    estimated_hours: float

    @property
    def now_ms(self) -> int:
        """The time that it reaches to [ms]."""
        return int(self.times_ms[-1])


def simulate(
    facts: BinFacts, events: Sequence[BinEvent], climate: ClimateSeries, until_ms: int
) -> BinHistory:
    """Follow a bin from its filling to a time.

    `events` is its logbook, corrections already applied; entries before the filling, after the time, or after
    the bin was emptied do not count. Gaps of the climate are filled here. Raises UsageError for entries that
    cannot be, with all of them named, and BooksDoNotClose where the books are off by more than 1 g at the
    end.

    One state for each bin, water and dry matter; real intervals; rates first, then states.
    """
    require_bin(facts, events, until_ms)
    counted, end_ms, emptied = _counted_events(facts, events, until_ms)
    conditions = conditions_of(facts, counted)
    whole = without_gaps(climate, facts.filled_ms, end_ms)
    intervals = intervals_of(facts, conditions, whole, facts.filled_ms, end_ms)
    replay = _Replay.at_filling(Course(facts, conditions, intervals))
    for event in counted:
        replay.pass_time(int(np.searchsorted(intervals.edges_ms, event.at_ms)))
        replay.take(event)
    replay.pass_time(len(intervals.edges_ms) - 1)
    return replay.history(any(isinstance(event, Finishing) for event in counted), emptied)


def _counted_events(
    facts: BinFacts, events: Sequence[BinEvent], until_ms: int
) -> tuple[tuple[BinEvent, ...], int, bool]:
    inside = sorted((e for e in events if facts.filled_ms <= e.at_ms <= until_ms), key=lambda e: e.at_ms)
    for index, event in enumerate(inside):
        if isinstance(event, Emptied):
            return tuple(inside[:index]), event.at_ms, True
    return tuple(inside), until_ms, False


def replayed(course: Course, legs: Sequence[Leg], ensemble: Ensemble) -> Ensemble:
    """The ensemble at the end of a stretch, from the ensemble at its start."""
    substrate = course.facts.substrate
    for leg in legs:
        if leg.event is not None:
            ensemble = after_event(
                ensemble, leg.event, float(course.intervals.larvae_kg[leg.first]), substrate
            )
        elif leg.last > leg.first:
            done = run(ensemble, course.intervals, leg.first, leg.last, substrate, leg.put_kg)
            ensemble = replace(ensemble, water_kg=done.water_kg[-1], dry_kg=done.dry_kg[-1])
    return ensemble


def predictor(course: Course, legs: Sequence[Leg], measure: Measure) -> Predict:
    """What would be measured at the end of a stretch, from points of the posterior at its start.

    For `updated` and `carried`; `measure` says what is measured of an ensemble.
    """
    stretch = tuple(legs)
    return lambda points: measure(replayed(course, stretch, ensemble_at(points)))


def moisture_measure(course: Course, edge: int) -> Measure:
    """Moisture of the substrate [ratio] as a measure, at an edge of the intervals, without larvae."""
    larvae, share = float(course.intervals.larvae_kg[edge]), course.facts.substrate.larva_moisture
    return lambda ensemble: substrate_moisture(ensemble.water_kg, ensemble.dry_kg, larvae, share)


def _mass(ensemble: Ensemble) -> FloatArray:
    return ensemble.water_kg + ensemble.dry_kg


@dataclass(slots=True)
class _Replay:
    """Goes through the logbook once; it lives for one call of `simulate`."""

    course: Course
    posterior: BinPosterior
    ensemble: Ensemble
    books: Books
    put_kg: float
    legs: list[Leg] = field(default_factory=list)
    moisture: list[FloatArray] = field(default_factory=list)
    masses: list[FloatArray] = field(default_factory=list)
    comparisons: list[Comparison] = field(default_factory=list)
    edge: int = 0

    @classmethod
    def at_filling(cls, course: Course) -> _Replay:
        """The state before anything happened."""
        posterior = prior_posterior(course.facts)
        ensemble = drawn(posterior)
        water, dry = float(ensemble.water_kg[0]), float(ensemble.dry_kg[0])
        replay = cls(course, posterior, ensemble, Books(water, dry), dry)
        replay._write(
            replay._moisture(ensemble)[None, :], ensemble.water_kg[None, :1], ensemble.dry_kg[None, :1]
        )
        return replay

    def pass_time(self, last: int) -> None:
        """Let time pass to an edge and keep the books of the middle bin."""
        first, self.edge = self.edge, last
        if last == first:
            return
        substrate, intervals = self.course.facts.substrate, self.course.intervals
        self.legs.append(Leg(first, last, None, self.put_kg))
        done = run(self.ensemble, intervals, first, last, substrate, self.put_kg)
        water, dry = done.water_kg[1:], done.dry_kg[1:]
        larvae = intervals.larvae_kg[first + 1 : last + 1, None]
        self._write(
            substrate_moisture(water, dry, larvae, substrate.larva_moisture), water[:, :1], dry[:, :1]
        )
        self.ensemble = replace(self.ensemble, water_kg=water[-1], dry_kg=dry[-1])
        self.books = self.books.plus(
            evaporated_kg=float(done.evaporated_kg[0]),
            condensed_kg=float(done.condensed_kg[0]),
            metabolic_kg=float(done.metabolic_kg[0]),
            burnt_kg=float(done.burnt_kg[0]),
        )

    def _write(self, moisture: FloatArray, water: FloatArray, dry: FloatArray) -> None:
        self.moisture.append(np.quantile(moisture, BAND, axis=1))
        self.masses.append(np.hstack([water, dry]))

    def take(self, event: BinEvent) -> None:
        """One entry of the logbook, at the edge reached."""
        if isinstance(event, WaterAdded | FeedAdded | TakenOut):
            self._touch(event)
        match event:
            case WaterAdded(back_to_kg=float(mark)):
                self._weigh(event.at_ms, mark, MARK_SD_SHARE * mark)
            case Weighed(kg=kg, sd_kg=sd_kg):
                self._weigh(event.at_ms, kg, sd_kg)
            case MoistureTested(moisture=moisture, sd=sd):
                self._observe(event.at_ms, moisture_measure(self.course, self.edge), moisture, sd)
        self.moisture[-1][:, -1] = np.quantile(self._moisture(self.ensemble), BAND)
        self.masses[-1][-1] = self.ensemble.water_kg[0], self.ensemble.dry_kg[0]

    def _touch(self, event: BinEvent) -> None:
        before, larvae = self.ensemble, float(self.course.intervals.larvae_kg[self.edge])
        self.legs.append(Leg(self.edge, self.edge, event, self.put_kg))
        self.ensemble = after_event(before, event, larvae, self.course.facts.substrate)
        water = float(self.ensemble.water_kg[0] - before.water_kg[0])
        dry = float(self.ensemble.dry_kg[0] - before.dry_kg[0])
        self.put_kg = max(self.put_kg + dry, 0.0)
        self.books = self.books.plus(
            water_added_kg=max(water, 0.0),
            dry_added_kg=max(dry, 0.0),
            water_taken_kg=max(-water, 0.0),
            dry_taken_kg=max(-dry, 0.0),
        )

    def _moisture(self, ensemble: Ensemble) -> FloatArray:
        return moisture_measure(self.course, self.edge)(ensemble)

    def _weigh(self, at_ms: int, kg: float, sd_kg: float) -> None:
        poured = sum(leg.event.kg for leg in self.legs if isinstance(leg.event, WaterAdded | FeedAdded))
        self._observe(at_ms, _mass, kg, math.hypot(sd_kg, POUR_ERROR_SHARE * poured, LEAST_SD_KG))

    def _observe(self, at_ms: int, measure: Measure, observed: float, sd: float) -> None:
        """Learn from a weighing or test; the correction is written into the books."""
        predict = predictor(self.course, self.legs, measure)
        self.comparisons.append(Comparison(at_ms, observed, *surprise(self.posterior, predict, observed, sd)))
        learnt = updated(self.posterior, predict, observed, sd)
        water, dry = (predictor(self.course, self.legs, measure) for measure in (WATER_KG, DRY_KG))
        self.posterior, self.legs = carried(learnt, water, dry), []
        before, self.ensemble = self.ensemble, drawn(self.posterior)
        wetter = float(self.ensemble.water_kg[0] - before.water_kg[0])
        drier = float(self.ensemble.dry_kg[0] - before.dry_kg[0])
        self.books = self.books.plus(water_corrected_kg=wetter, dry_corrected_kg=drier)

    def history(self, finishing: bool, emptied: bool) -> BinHistory:
        """The whole history; its books are closed first."""
        masses, intervals = np.vstack(self.masses), self.course.intervals
        close_books(self.books, float(masses[-1, 0]), float(masses[-1, 1]))
        return BinHistory(
            course=self.course,
            times_ms=intervals.edges_ms,
            moisture=np.hstack(self.moisture),
            water_kg=masses[:, 0],
            dry_kg=masses[:, 1],
            books=self.books,
            posterior=self.posterior,
            legs=tuple(self.legs),
            ensemble=self.ensemble,
            put_kg=self.put_kg,
            comparisons=tuple(self.comparisons),
            finishing=finishing,
            emptied=emptied,
            estimated_hours=float(intervals.hours[intervals.estimated].sum()),
        )
