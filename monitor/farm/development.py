"""How the cohorts stand: from the logbook and the temperatures of places to forecasts."""

from __future__ import annotations

import os
import pickle
import threading
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from functools import partial
from typing import NoReturn, TypeVar

import numpy as np

from monitor.bins.excess import expected_excess_k
from monitor.bins.substrate import BinFacts
from monitor.development.bin_days import SelfHeating
from monitor.development.clocks import Clocks, PlaceClimate, stage_clocks
from monitor.development.courses import (
    CohortCase,
    CohortCourses,
    ForecastBasis,
    courses_of,
    forecast_basis,
    with_heating,
)
from monitor.development.ensemble import DRAWS
from monitor.development.farm_learning import FarmLearning, Kinds, learn_farm
from monitor.development.forecast import CohortForecast, forecast_cohorts
from monitor.development.kept import Kept, comparable
from monitor.development.progress import Cohort, Ending, Leaving, Life, life_of, usual_leaving
from monitor.development.rates import SpeciesParameters
from monitor.development.supply import LOOK_BACK_DAYS
from monitor.development.temperature_series import (
    BIN_ABOVE_AIR_K,
    ExpectedExcess,
    TemperatureSeries,
    cooler_by,
    fill_gaps,
    series_of,
)
from monitor.errors import UsageError
from monitor.farm.book import book_of, farm_validation_context
from monitor.farm.place_reader import PlaceReader
from monitor.logbook.animals import flies_into, is_for_breeding
from monitor.logbook.cohort_entries import CohortValidationContext
from monitor.logbook.replay import FarmBook
from monitor.records import MS_PER_DAY, MS_PER_HOUR, PlaceKind, Quantity, Stage, midnight_ms
from monitor.settings.plan import Plan
from monitor.settings.species import species_parameters
from monitor.store import Store

Case = TypeVar("Case")
Made = TypeVar("Made")

PAST_DAYS_MS = 21 * MS_PER_DAY
"""Past days from which future ones are drawn, at least."""
TAUGHT_UP_TO_MS = 800 * MS_PER_DAY
"""Cohorts that began longer ago teach nothing any more: feed, stock and people have changed."""
SELF_HEATED = frozenset({PlaceKind.GROW_OUT_BIN, PlaceKind.HATCHING_TRAY})
"""Larvae in a tray are counted as in the bins, so trays share the days of the bins too."""
SHARED_FROM = 200
"""Cohorts from which two processes share the forecasts [1]; so many take half a second. Own choice."""
TELLS_FOR_MS = 120 * MS_PER_DAY
"""Cohorts that ended longer ago tell nothing of the heat of bins, nor of the usual move any more."""
EVEN_UNITS = 15.0
"""Degree-days of a day at about 27 °C: makes an age in days a share of the larval stage. Own choice."""
EXPECTED_DAYS = np.arange(-4.0, 41.0)
USUAL_AIR_C, REASONABLE_AIR_C = 26.0, (0.0, 45.0)
USUAL_FACTS = BinFacts(0.24, 0, 10.0, 0.7)
"""A filling as in the demo, where none was written down yet."""
LEFT_FOR = (PlaceKind.PUPATION_BOX, PlaceKind.LOVE_CAGE)
BREEDING_KINDS = frozenset({PlaceKind.PUPATION_BOX, PlaceKind.LOVE_CAGE})


@dataclass(frozen=True, eq=False)
class Development:
    """All cohorts at one moment: what the book says, what was learned, and what forecasts rest on.

    `record_ms` is up to when temperatures were read; `kept` holds what a later look may use again.
    """

    plan: Plan
    now_ms: int
    context: CohortValidationContext
    book: FarmBook
    kinds: Kinds
    learning: FarmLearning
    basis: ForecastBasis
    probed: frozenset[str]
    record_ms: int
    kept: Kept
    heating: SelfHeating | None = None

    def assumed_move(self, cohort: Cohort) -> Leaving | None:
        """The usual move that is assumed for a cohort of which none is planned; None where there is none."""
        if self.heating is None or cohort.ended is not None:
            return None
        return self.heating.move_of(cohort.track, self.record_ms)

    def forecasts(self, cohorts: Iterable[Cohort] | None = None) -> dict[str, CohortForecast]:
        """Forecasts by name, of the living cohorts or of those given."""
        forecasts: dict[str, CohortForecast] = {}
        for feed, group in self._by_feed(self.book.living if cohorts is None else cohorts).items():
            forecast = partial(
                forecast_cohorts,
                species=self.kinds[feed],
                posterior=self.learning.posteriors[feed],
                basis=self.basis,
                kept=self.kept,
            )
            made = shared_out(forecast, self._cases(group))
            forecasts.update({cohort.name: forecast for cohort, forecast in zip(group, made, strict=True)})
        return forecasts

    def courses(self, cohorts: Iterable[Cohort]) -> dict[str | None, list[CohortCourses]]:
        """Possible courses of some cohorts, by feed."""
        groups = self._by_feed(cohorts).items()
        return {
            feed: courses_of(
                self._cases(group),
                self.kinds[feed],
                self.learning.posteriors[feed],
                self.basis,
                kept=self.kept,
            )
            for feed, group in groups
        }

    def is_breeding(self, cohort: Cohort) -> bool:
        """Whether its flies are wanted in a cage."""
        places = frozenset(place.id for place in self.plan.settings.places if place.kind in BREEDING_KINDS)
        return is_for_breeding(cohort, places)

    def cage_of(self, cohort: Cohort) -> str | None:
        """The cage into which its flies go, or None where that is not known."""
        return flies_into(cohort, self.context.cages)

    def may_have_flies(self) -> tuple[Cohort, ...]:
        """Cohorts for breeding whose flies live now or will come."""
        return tuple(
            cohort
            for cohort in self.book.cohorts.values()
            if self.is_breeding(cohort) and _recent(cohort, self.now_ms)
        )

    def _cases(self, cohorts: Iterable[Cohort]) -> list[CohortCase]:
        return [self.learning.cases[cohort.name] for cohort in cohorts]

    @staticmethod
    def _by_feed(cohorts: Iterable[Cohort]) -> dict[str | None, list[Cohort]]:
        groups: dict[str | None, list[Cohort]] = {}
        for cohort in cohorts:
            groups.setdefault(cohort.feed, []).append(cohort)
        return groups


def shared_out(work: Callable[[list[Case]], list[Made]], cases: list[Case]) -> list[Made]:
    """The results of a work, in the order of its cases, which two processes share where there are many.

    A process costs some 10 ms and shares the memory of this one. Only a process without other threads divides
    itself: in the half that is born, whatever another thread held would stay held. So the service, whose
    answers are kept, never does.
    """
    alone = threading.active_count() == 1 and hasattr(os, "fork")
    if len(cases) < SHARED_FROM or not alone or len(os.sched_getaffinity(0)) < 2:
        return work(cases)
    reading, writing = os.pipe()
    child = os.fork()
    if child == 0:
        _send_and_end(writing, lambda: work(cases[1::2]))
    os.close(writing)
    mine = work(cases[::2])
    with os.fdopen(reading, "rb") as pipe:
        sent = pipe.read()
    _, status = os.waitpid(child, 0)
    theirs: list[Made] = work(cases[1::2]) if status else pickle.loads(sent)
    both = [*mine, *theirs]
    both[::2], both[1::2] = mine, theirs
    return both


def _send_and_end(writing: int, work: Callable[[], object]) -> NoReturn:
    """In the process that was born: send the result and end at once, without touching what is shared."""
    status = 1
    try:
        sent = pickle.dumps(work(), pickle.HIGHEST_PROTOCOL)
        with os.fdopen(writing, "wb") as pipe:
            pipe.write(sent)
        status = 0
    finally:
        os._exit(status)


def place_climate(reader: PlaceReader, place: str, from_ms: int) -> PlaceClimate:
    """Air and substrate of a place from a time until now, gaps filled.

    A place without a thermometer of its own goes by the air of the room in which it stands. Larvae do not
    stay in a hatching tray: there they are counted as in the grow-out bins, until they are moved. A pupation
    box has no heat of its own, so its air stands for its substrate.
    """
    air = _series(reader, [place], Quantity.AIR_TEMPERATURE, from_ms)
    substrate = _series(reader, [place], Quantity.SUBSTRATE_TEMPERATURE, from_ms)
    known = reader.plan.places.get(place)
    if air is None and substrate is None and known is not None and known.room is not None:
        air = _series(reader, [known.room], Quantity.AIR_TEMPERATURE, from_ms)
    if substrate is None and known is not None and known.kind is PlaceKind.HATCHING_TRAY:
        bins = [each.id for each in reader.plan.settings.places if each.kind is PlaceKind.GROW_OUT_BIN]
        substrate = _series(reader, bins, Quantity.SUBSTRATE_TEMPERATURE, from_ms)
    elif substrate is None and (known is None or known.kind is not PlaceKind.GROW_OUT_BIN):
        substrate = air
    return PlaceClimate(place, air, substrate, _refuge(reader, place, air, substrate, from_ms))


def _refuge(
    reader: PlaceReader,
    place: str,
    air: TemperatureSeries | None,
    substrate: TemperatureSeries | None,
    from_ms: int,
) -> TemperatureSeries | None:
    """The coolest that larvae of a bin can reach: its air, that of its room, else a usual bin's guess.

    A bin heats itself, so where no air is measured around its probe that air is taken to be as much cooler as
    in published bins; elsewhere nothing is guessed.
    """
    known = reader.plan.places.get(place)
    if known is None or known.kind not in SELF_HEATED or substrate is None or air is not None:
        return None
    room = None if known.room is None else _series(reader, [known.room], Quantity.AIR_TEMPERATURE, from_ms)
    return room or cooler_by(substrate, BIN_ABOVE_AIR_K)


def _series(
    reader: PlaceReader, places: Sequence[str], quantity: Quantity, from_ms: int
) -> TemperatureSeries | None:
    sensors = [sensor for place in places for sensor in reader.sensors.of(place, quantity)]
    hours, values = reader.hours_of(sensors, from_ms)
    if not len(hours):
        return None
    return fill_gaps(series_of(reader.middles(hours), values), from_ms, reader.now_ms)


def develop(
    store: Store,
    plan: Plan,
    now_ms: int,
    draws: int = DRAWS,
    *,
    known_ms: int | None = None,
    seed: int = 1,
    earlier: Development | None = None,
    assumes_moves: bool = True,
    book: FarmBook | None = None,
) -> Development:
    """Everything that forecasts need at a moment; with `known_ms` from what had been entered by then.

    Temperatures are read up to the last whole hour, so that an entry later in the hour changes nothing but
    what it speaks of. Of an `earlier` look the temperatures stay, and all that rests on the same; `book` is
    the logbook where it was read already. Without `assumes_moves` the animals stay where the logbook says:
    what is guarded rests on nothing else.
    """
    book = book_of(store, plan, now_ms, known_ms) if book is None else book
    used = [cohort for cohort in book.cohorts.values() if _counts(cohort, now_ms)]
    kept = Kept(None if earlier is None else earlier.kept)
    feeds = {None, *(cohort.feed for cohort in used)}
    kinds = {
        feed: kept.of(("kind", feed), plan.species, partial(species_parameters, plan.species, feed))
        for feed in feeds
    }
    record_ms = now_ms - now_ms % MS_PER_HOUR if earlier is None else earlier.record_ms
    reader = PlaceReader(store, plan, record_ms)
    climates = _climates(reader, _needed_from_ms(used, plan, record_ms), kept)
    if _knows_more(climates, newer := PlaceReader(store, plan, now_ms)):
        record_ms, kept = now_ms, Kept()
        climates = _climates(newer, _needed_from_ms(used, plan, now_ms), kept)
    clocks = kept.of("clocks", (climates, kinds), partial(stage_clocks, climates, kinds.values()))
    learning = learn_farm(used, kinds, clocks, plan.zone, now_ms, kept)
    bins = tuple(place.id for place in plan.settings.places if place.kind in SELF_HEATED)
    rests = record_ms, midnight_ms(now_ms, plan.zone), seed, draws, bins
    basis = kept.of("basis", (clocks, *rests), partial(forecast_basis, clocks, *rests))
    probed = reader.measured(Quantity.SUBSTRATE_TEMPERATURE)
    heating = _heating(plan, book, climates, clocks, learning, kinds, probed, record_ms, assumes_moves, kept)
    return Development(
        plan=plan,
        now_ms=now_ms,
        context=farm_validation_context(plan),
        book=book,
        kinds=kinds,
        learning=learning,
        basis=replace(_heated(basis, heating, kinds[None], kept), now_ms=now_ms),
        probed=probed,
        record_ms=record_ms,
        kept=kept,
        heating=heating,
    )


def _heated(
    basis: ForecastBasis, heating: SelfHeating, species: SpeciesParameters, kept: Kept
) -> ForecastBasis:
    """The basis with the futures of bins; they stay where nothing of what they rest on changed."""
    if not species.has(Stage.LARVA):
        return basis
    larva = species.stages[species.index_of(Stage.LARVA)]
    rests = basis, comparable(heating.expected), heating.leaving, heating.probed
    lives = {name: comparable(life) for name, life in heating.lives.items()}
    return kept.of("heated", (rests, lives), partial(with_heating, basis, heating, larva))


def _heating(
    plan: Plan,
    book: FarmBook,
    climates: Sequence[PlaceClimate],
    clocks: Clocks,
    learning: FarmLearning,
    kinds: Kinds,
    probed: frozenset[str],
    record_ms: int,
    assumes_moves: bool,
    kept: Kept,
) -> SelfHeating:
    heated = _around(plan, climates)
    air = [PlaceClimate(each.place, each.air) for each in heated.values()]
    lives = _lives(book, record_ms, kinds, learning, clocks, kept)
    return SelfHeating(
        heated,
        probed & heated.keys(),
        lives,
        _expected(book, learning, kinds[None], heated),
        _leaving(plan, lives, heated, {each.place for each in climates}, record_ms)
        if assumes_moves
        else None,
        kept.of("around", (climates, kinds), partial(stage_clocks, air, kinds.values())),
    )


def _lives(
    book: FarmBook, record_ms: int, kinds: Kinds, learning: FarmLearning, clocks: Clocks, kept: Kept
) -> dict[str, Life]:
    """The growth of every cohort that lives, or ended lately."""
    lives = {}
    for cohort in book.cohorts.values():
        if cohort.ended is not None and record_ms - cohort.ended.at_ms > TELLS_FOR_MS:
            continue
        mean = learning.posteriors[cohort.feed].mean
        rests = cohort, kinds[cohort.feed], clocks, mean.tobytes()
        life = kept.of(
            ("life", cohort.name), rests, partial(life_of, cohort, kinds[cohort.feed], mean, clocks)
        )
        if life is not None:
            lives[cohort.name] = life
    return lives


def _around(plan: Plan, climates: Iterable[PlaceClimate]) -> dict[str, PlaceClimate]:
    """Substrate of each place that heats itself, with the air around it: its own, else that of its room."""
    by_place = {climate.place: climate for climate in climates}
    found = {}
    for place in plan.settings.places:
        climate, room = by_place.get(place.id), by_place.get(place.room or "")
        if place.kind not in SELF_HEATED or climate is None:
            continue
        air = climate.air
        if air is None and room is not None:
            air = room.air
        found[place.id] = PlaceClimate(place.id, air, climate.substrate)
    return found


def _expected(
    book: FarmBook, learning: FarmLearning, species: SpeciesParameters, around: Mapping[str, PlaceClimate]
) -> ExpectedExcess | None:
    """What the heat balance of the bin that was filled last leads one to expect."""
    if not species.has(Stage.LARVA):
        return None
    fills = [fill for fills in book.fills.values() for fill in fills]
    facts = max(fills, key=lambda fill: fill.facts.filled_ms).facts if fills else USUAL_FACTS
    air = [float(each.air.temperatures_c[-1]) for each in around.values() if each.air is not None]
    air_c = float(np.clip(np.median(air), *REASONABLE_AIR_C)) if air else USUAL_AIR_C
    try:
        excess_k = expected_excess_k(facts, EXPECTED_DAYS, air_c)
    except (ArithmeticError, UsageError):
        # A filling that cannot be reckoned says nothing; the measured days do.
        return None
    needed = float(np.exp(learning.posteriors[None].mean[species.index_of(Stage.LARVA)]))
    return ExpectedExcess(EXPECTED_DAYS * EVEN_UNITS / needed, excess_k)


def _leaving(
    plan: Plan,
    lives: Mapping[str, Life],
    bins: Collection[str],
    known: Collection[str],
    now_ms: int,
) -> Leaving | None:
    """The usual move out of a bin, by default into the first box, else into the air of the room."""
    places = plan.settings.places
    into = [place.id for kind in LEFT_FOR for place in places if place.kind is kind]
    rooms = [place.room for place in places if place.id in bins and place.room in known]
    default = next(iter([*into, *rooms]), None)
    return None if default is None else usual_leaving(lives, bins, into, now_ms, default)


def _climates(reader: PlaceReader, needed: Mapping[str, int], kept: Kept) -> tuple[PlaceClimate, ...]:
    return tuple(
        kept.of(
            ("climate", place),
            (from_ms, reader.now_ms, reader.sensors.rests),
            partial(place_climate, reader, place, from_ms),
        )
        for place, from_ms in needed.items()
    )


def _knows_more(climates: Iterable[PlaceClimate], newer: PlaceReader) -> bool:
    """Whether a place of which no whole hour is known has been measured since: a farm in its first hour."""
    unknown = [each.place for each in climates if each.air is None and each.substrate is None]
    since = [place_climate(newer, place, newer.now_ms - PAST_DAYS_MS) for place in unknown]
    return any(each.air is not None or each.substrate is not None for each in since)


def _needed_from_ms(cohorts: Iterable[Cohort], plan: Plan, now_ms: int) -> dict[str, int]:
    needed = {place.id: now_ms - PAST_DAYS_MS for place in plan.settings.places}
    for cohort in cohorts:
        for stay in cohort.track.residences:
            if stay.place in needed:
                needed[stay.place] = min(needed[stay.place], stay.from_ms)
    return needed


def _counts(cohort: Cohort, now_ms: int) -> bool:
    return cohort.ended is None or now_ms - cohort.track.start_ms < TAUGHT_UP_TO_MS


def _recent(cohort: Cohort, now_ms: int) -> bool:
    if cohort.ended is None:
        return True
    return cohort.ended.how is Ending.EMERGED and now_ms - cohort.ended.at_ms < LOOK_BACK_DAYS * MS_PER_DAY


def local_day(at_ms: float, plan: Plan) -> str:
    return datetime.fromtimestamp(at_ms / 1000, plan.zone).date().isoformat()
