"""A bin from its filling to now: every interval, every entry of the logbook, every weighing learned from."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from operator import attrgetter

import numpy as np

from monitor.bins.conditions import (
    ClimateSeries,
    Conditions,
    conditions_of,
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
from monitor.bins.intervals import Intervals, intervals_of
from monitor.bins.lessons import FactorPrior, Lesson, lesson_of
from monitor.bins.posterior import (
    FIRST,
    BinPosterior,
    Comparison,
    Members,
    Predict,
    carried,
    drawn,
    members_at,
    prior_posterior,
    surprise,
    updated,
)
from monitor.bins.substrate import BinFacts
from monitor.bins.water_balance import Books, Ensemble, after_event, close_books, run, substrate_moisture
from monitor.climate.arrays import FloatArray, IntArray
from monitor.records import MS_PER_DAY

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


@dataclass(frozen=True, slots=True)
class Stretch:
    """From one observation of a bin, or its filling, to the next, or to the end [ms]."""

    from_ms: int
    until_ms: int

    @property
    def days(self) -> float:
        """Its length [days]."""
        return (self.until_ms - self.from_ms) / MS_PER_DAY

    def shares(self, edges_ms: IntArray) -> FloatArray:
        """Where the middles between edges lie in it, 0 to 1, shape (edges - 1,)."""
        length_ms = max(self.until_ms - self.from_ms, 1)
        return np.asarray(((edges_ms[:-1] + edges_ms[1:]) / 2.0 - self.from_ms) / length_ms)


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
    `stretch` that `legs` make up, `ensemble` at its end. `prior` is what was believed of its factor at first.
    """

    course: Course
    times_ms: IntArray
    moisture: FloatArray
    water_kg: FloatArray
    dry_kg: FloatArray
    books: Books
    prior: BinPosterior
    posterior: BinPosterior
    stretch: Stretch
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
    facts: BinFacts,
    events: Sequence[BinEvent],
    climate: ClimateSeries,
    until_ms: int,
    taught: FactorPrior | None = None,
) -> BinHistory:
    """Follow a bin from its filling to a time.

    `events` is its logbook, corrections already applied; entries before the filling, after the time, or after
    the bin was emptied do not count. `taught` is what other fills of the farm say of its factor on
    evaporation, see `lessons`; None where nothing is known of the farm. Gaps of the climate are filled here.
    Raises UsageError for entries that cannot be, with all of them named, and BooksDoNotClose where the books
    are off by more than 1 g at the end.

    One state for each bin, water and dry matter; real intervals; rates first, then states.
    """
    require_bin(facts, events, until_ms)
    counted, end_ms, emptied = _counted_events(facts, events, until_ms)
    conditions = conditions_of(facts, counted)
    whole = without_gaps(climate, facts.filled_ms, end_ms)
    intervals = intervals_of(facts, conditions, whole, facts.filled_ms, end_ms)
    replay = _Replay.at_filling(
        Course(facts, conditions, intervals), _stretches(facts, counted, end_ms), taught
    )
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


def _stretches(facts: BinFacts, events: Sequence[BinEvent], end_ms: int) -> list[Stretch]:
    """The stretches of a fill: from its filling to its first observation, and so on to the end."""
    seen = [event.at_ms for event in events if is_observation(event)]
    edges = [facts.filled_ms, *seen, max(end_ms, facts.filled_ms)]
    return [Stretch(start, end) for start, end in pairwise(edges)]


def is_observation(event: BinEvent) -> bool:
    """Whether an entry says how heavy or moist the bin was."""
    match event:
        case Weighed() | MoistureTested():
            return True
        case WaterAdded(back_to_kg=mark):
            return mark is not None
    return False


def replayed(course: Course, stretch: Stretch, legs: Sequence[Leg], members: Members) -> Members:
    """The possible bins at the end of a stretch, from those at its start."""
    substrate, intervals = course.facts.substrate, course.intervals
    for leg in legs:
        if leg.event is not None:
            larvae = float(intervals.larvae_kg[leg.first])
            bins = after_event(members.bins, leg.event, larvae, substrate)
            members = members.with_masses(bins.water_kg, bins.dry_kg)
        elif leg.last > leg.first:
            bins = members.over(stretch.shares(intervals.edges_ms[leg.first : leg.last + 1]))
            done = run(bins, intervals, leg.first, leg.last, substrate, leg.put_kg)
            members = members.with_masses(done.water_kg[-1], done.dry_kg[-1])
    return members


def predictor(course: Course, stretch: Stretch, legs: Sequence[Leg], measure: Measure) -> Predict:
    """What would be measured at the end of a stretch, from points of the posterior at its start.

    For `updated` and `carried`; `measure` says what is measured of an ensemble.
    """
    done = tuple(legs)
    return lambda points: measure(replayed(course, stretch, done, members_at(points)).bins)


def history_lesson(history: BinHistory) -> Lesson | None:
    """What the measurements of a fill say of its factor, for the next fills; None where they say nothing."""
    before, after = history.prior, history.posterior
    prior = FactorPrior(float(before.mean[FIRST]), math.sqrt(float(before.covariance[FIRST, FIRST])))
    return lesson_of(prior, float(after.mean[FIRST]), math.sqrt(float(after.covariance[FIRST, FIRST])))


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
    stretches: list[Stretch]
    prior: BinPosterior
    posterior: BinPosterior
    members: Members
    books: Books
    put_kg: float
    legs: list[Leg] = field(default_factory=list)
    moisture: list[FloatArray] = field(default_factory=list)
    masses: list[FloatArray] = field(default_factory=list)
    comparisons: list[Comparison] = field(default_factory=list)
    edge: int = 0

    @classmethod
    def at_filling(cls, course: Course, stretches: list[Stretch], taught: FactorPrior | None) -> _Replay:
        """The state before anything happened."""
        prior = prior_posterior(course.facts, taught, stretches[0].days)
        members = drawn(prior)
        water, dry = float(members.bins.water_kg[0]), float(members.bins.dry_kg[0])
        replay = cls(course, stretches, prior, prior, members, Books(water, dry), dry)
        bins = members.bins
        replay._write(replay._moisture(bins)[None, :], bins.water_kg[None, :1], bins.dry_kg[None, :1])
        return replay

    @property
    def stretch(self) -> Stretch:
        """The stretch that is being gone through."""
        return self.stretches[0]

    def pass_time(self, last: int) -> None:
        """Let time pass to an edge and keep the books of the middle bin."""
        first, self.edge = self.edge, last
        if last == first:
            return
        substrate, intervals = self.course.facts.substrate, self.course.intervals
        self.legs.append(Leg(first, last, None, self.put_kg))
        bins = self.members.over(self.stretch.shares(intervals.edges_ms[first : last + 1]))
        done = run(bins, intervals, first, last, substrate, self.put_kg)
        water, dry = done.water_kg[1:], done.dry_kg[1:]
        larvae = intervals.larvae_kg[first + 1 : last + 1, None]
        self._write(
            substrate_moisture(water, dry, larvae, substrate.larva_moisture), water[:, :1], dry[:, :1]
        )
        self.members = self.members.with_masses(water[-1], dry[-1])
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
        bins = self.members.bins
        self.moisture[-1][:, -1] = np.quantile(self._moisture(bins), BAND)
        self.masses[-1][-1] = bins.water_kg[0], bins.dry_kg[0]

    def _touch(self, event: BinEvent) -> None:
        before, larvae = self.members.bins, float(self.course.intervals.larvae_kg[self.edge])
        self.legs.append(Leg(self.edge, self.edge, event, self.put_kg))
        after = after_event(before, event, larvae, self.course.facts.substrate)
        self.members = self.members.with_masses(after.water_kg, after.dry_kg)
        water = float(after.water_kg[0] - before.water_kg[0])
        dry = float(after.dry_kg[0] - before.dry_kg[0])
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
        predict, water, dry = (self._predictor(each) for each in (measure, WATER_KG, DRY_KG))
        self.comparisons.append(Comparison(at_ms, observed, *surprise(self.posterior, predict, observed, sd)))
        learnt = updated(self.posterior, predict, observed, sd)
        self.stretches, self.legs = self.stretches[1:], []
        self.posterior = carried(learnt, water, dry, self.stretch.days)
        before, self.members = self.members.bins, drawn(self.posterior)
        wetter = float(self.members.bins.water_kg[0] - before.water_kg[0])
        drier = float(self.members.bins.dry_kg[0] - before.dry_kg[0])
        self.books = self.books.plus(water_corrected_kg=wetter, dry_corrected_kg=drier)

    def _predictor(self, measure: Measure) -> Predict:
        return predictor(self.course, self.stretch, self.legs, measure)

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
            prior=self.prior,
            posterior=self.posterior,
            stretch=self.stretch,
            legs=tuple(self.legs),
            ensemble=self.members.now(1.0),
            put_kg=self.put_kg,
            comparisons=tuple(self.comparisons),
            finishing=finishing,
            emptied=emptied,
            estimated_hours=float(intervals.hours[intervals.estimated].sum()),
        )
