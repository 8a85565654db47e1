"""How the farm's cohorts stand: from logbook and temperatures to forecasts. Read once, for every view."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import datetime

from monitor.model.clocks import stage_clocks
from monitor.model.cohort_entries import Ending, Ground, ground_of
from monitor.model.cohort_records import Cohort
from monitor.model.cohorts import Replay, flies_into, is_for_breeding, replay
from monitor.model.courses import CohortCase, CohortCourses, ForecastBasis, courses_of, forecast_basis
from monitor.model.ensemble import DRAWS
from monitor.model.farm_learning import FarmLearning, Kinds, day_start_ms, learn_farm
from monitor.model.forecast import CohortForecast, forecast_cohorts
from monitor.model.pooled_futures import pooled_clocks
from monitor.model.supply import LOOK_BACK_DAYS
from monitor.records import MS_PER_DAY, PlaceKind, SubjectKind
from monitor.settings.development import species_parameters
from monitor.settings.plan import Plan
from monitor.store import Store
from monitor.views.place_climates import place_climates, places_with_probe

PAST_DAYS_MS = 21 * MS_PER_DAY
"""Past days from which future ones are drawn, at least."""
TAUGHT_UP_TO_MS = 800 * MS_PER_DAY
"""Cohorts that began longer ago teach nothing any more: feed, stock and people have changed."""
SELF_HEATED = frozenset({PlaceKind.GROW_OUT_BIN, PlaceKind.HATCHING_TRAY})
"""Larvae in a tray are counted as in the bins, so trays share the days of the bins too."""
BREEDING_KINDS = frozenset({PlaceKind.PUPATION_BOX, PlaceKind.LOVE_CAGE})


@dataclass(frozen=True, eq=False)
class Development:
    """All cohorts at one moment: what the book says, what was learned, and what forecasts rest on."""

    plan: Plan
    now_ms: int
    ground: Ground
    replay: Replay
    kinds: Kinds
    learning: FarmLearning
    basis: ForecastBasis
    probed: frozenset[str]

    def forecasts(self, cohorts: Iterable[Cohort] | None = None) -> dict[str, CohortForecast]:
        """Forecasts by name, of the living cohorts or of those given."""
        found: dict[str, CohortForecast] = {}
        for feed, group in self._by_feed(self.replay.living if cohorts is None else cohorts).items():
            made = forecast_cohorts(
                self._cases(group), self.kinds[feed], self.learning.beliefs[feed], self.basis
            )
            found.update({cohort.name: each for cohort, each in zip(group, made, strict=True)})
        return found

    def courses(self, cohorts: Iterable[Cohort]) -> dict[str | None, list[CohortCourses]]:
        """Possible courses of some cohorts, by feed."""
        groups = self._by_feed(cohorts).items()
        return {
            feed: courses_of(self._cases(group), self.kinds[feed], self.learning.beliefs[feed], self.basis)
            for feed, group in groups
        }

    def is_breeding(self, cohort: Cohort) -> bool:
        """Whether its flies are wanted in a cage."""
        places = frozenset(place.id for place in self.plan.settings.places if place.kind in BREEDING_KINDS)
        return is_for_breeding(cohort, places)

    def cage_of(self, cohort: Cohort) -> str | None:
        """The cage into which its flies go, or None where that is not known."""
        return flies_into(cohort, self.ground.cages)

    def may_have_flies(self) -> tuple[Cohort, ...]:
        """Cohorts for breeding whose flies live now or will come."""
        return tuple(
            cohort
            for cohort in self.replay.cohorts.values()
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


def farm_ground(plan: Plan) -> Ground:
    """What entries about cohorts are checked against on this farm."""
    places = {place.id: plan.title(place.id) for place in plan.settings.places}
    cages = tuple(place.id for place in plan.settings.places if place.kind is PlaceKind.LOVE_CAGE)
    return ground_of(places, cages, plan.zone, species_parameters(plan.species), tuple(plan.species.diets))


def cohorts_of(store: Store, plan: Plan, now_ms: int) -> Replay:
    """The cohorts as the logbook tells of them, without any forecast."""
    return replay(store.logbook.every(SubjectKind.COHORT), farm_ground(plan), now_ms)


def develop(store: Store, plan: Plan, now_ms: int, draws: int = DRAWS, seed: int = 1) -> Development:
    """Everything that forecasts need at a moment; an earlier moment gives what was known then."""
    book = cohorts_of(store, plan, now_ms)
    used = [cohort for cohort in book.cohorts.values() if _counts(cohort, now_ms)]
    feeds = {None, *(cohort.feed for cohort in used)}
    kinds = {feed: species_parameters(plan.species, feed) for feed in feeds}
    needed = _needed_from_ms(used, plan, now_ms)
    climates = place_climates(store, plan, needed, now_ms)
    clocks = stage_clocks(climates, kinds.values())
    learning = learn_farm(used, kinds, clocks, plan.zone, now_ms)
    midnight_ms = day_start_ms(now_ms, plan.zone)
    plain = forecast_basis(clocks, now_ms, midnight_ms, seed, draws)
    bins = tuple(place.id for place in plan.settings.places if place.kind in SELF_HEATED)
    pooled = pooled_clocks(clocks, bins, plain.draws, now_ms, plain.ensemble)
    basis = replace(plain, ensemble=pooled)
    probed = places_with_probe(store, plan)
    return Development(plan, now_ms, farm_ground(plan), book, kinds, learning, basis, probed)


def _needed_from_ms(cohorts: Iterable[Cohort], plan: Plan, now_ms: int) -> dict[str, int]:
    """From when on the temperature of each place is needed: every place may be moved into."""
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
    """The local date of a moment, ISO."""
    return datetime.fromtimestamp(at_ms / 1000, plan.zone).date().isoformat()
