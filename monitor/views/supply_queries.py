"""Flies in the love cages over the coming weeks, and what can still be done about a gap."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from monitor.model.cohort_records import Cohort
from monitor.model.courses import CohortCourses
from monitor.model.supply import CageSupply, HoldBack, LatestStart, cage_supply, hold_back, latest_starts
from monitor.records import PlaceKind, Stage
from monitor.settings.plan import Plan
from monitor.views.development import Development

SUPPLY_DAYS = 30
NO_CAGE = ""
_HOMES: Mapping[Stage, tuple[PlaceKind, ...]] = {
    Stage.EGG: (PlaceKind.HATCHING_TRAY, PlaceKind.GROW_OUT_BIN),
    Stage.LARVA: (PlaceKind.GROW_OUT_BIN,),
    Stage.PREPUPA: (PlaceKind.PUPATION_BOX, PlaceKind.GROW_OUT_BIN),
    Stage.PUPA: (PlaceKind.PUPATION_BOX, PlaceKind.GROW_OUT_BIN),
    Stage.ADULT: (PlaceKind.LOVE_CAGE,),
}


@dataclass(frozen=True, slots=True)
class CageView:
    """One cage: its coming days, its cohorts, and what would close the first gap.

    `supply.cage` is empty for flies of which no cage is known.
    """

    title: str
    supply: CageSupply
    cohorts: tuple[str, ...]
    starts: tuple[LatestStart, ...] = ()
    hold_backs: tuple[HoldBack, ...] = ()


@dataclass(frozen=True, slots=True)
class SupplyView:
    """All cages, and the cohorts of which nobody has said what they are for."""

    now_ms: int
    cages: tuple[CageView, ...]
    undecided: tuple[str, ...]


def supply_view(development: Development, least: float | None = None, days: int = SUPPLY_DAYS) -> SupplyView:
    """The coming days of every cage; `least` stands in for what the settings say of each."""
    cohorts = development.may_have_flies()
    by_cage: dict[str, list[Cohort]] = {cage: [] for cage in development.ground.cages}
    for cohort in cohorts:
        by_cage.setdefault(development.cage_of(cohort) or NO_CAGE, []).append(cohort)
    courses = {
        course.track.cohort: course for group in development.courses(cohorts).values() for course in group
    }
    cages = tuple(_cage(development, cage, mine, courses, least, days) for cage, mine in by_cage.items())
    undecided = tuple(
        cohort.name
        for cohort in development.replay.living
        if cohort.purpose is None and not development.is_breeding(cohort)
    )
    return SupplyView(development.now_ms, cages, undecided)


def _cage(
    development: Development,
    cage: str,
    cohorts: Iterable[Cohort],
    courses: Mapping[str, CohortCourses],
    least: float | None,
    days: int,
) -> CageView:
    names = tuple(cohort.name for cohort in cohorts)
    place = development.plan.places.get(cage)
    wanted = least if least is not None else (place.least_flies if place is not None else None) or 0.0
    supply = cage_supply(
        cage,
        [courses[name] for name in names],
        development.kinds[None],
        development.learning.beliefs[None],
        development.basis,
        wanted if cage != NO_CAGE else 0.0,
        days,
    )
    title = development.plan.title(cage) if cage != NO_CAGE else "no cage named"
    if supply.gap is None:
        return CageView(title, supply, names)
    return CageView(title, supply, names, _starts(development, supply), _hold_backs(development, supply))


def _starts(development: Development, supply: CageSupply) -> tuple[LatestStart, ...]:
    gap = supply.gap
    if gap is None:
        return ()
    missing = supply.least_flies - min(
        day.living for day in supply.short_days if day.day_start_ms >= gap.day_start_ms
    )
    return latest_starts(
        gap.day_start_ms,
        missing,
        _route(development.plan),
        development.kinds[None],
        development.learning.beliefs[None],
        development.basis,
    )


def _route(plan: Plan) -> dict[Stage, str]:
    """A place of the farm in which each stage would live."""
    first: dict[PlaceKind, str] = {}
    for place in plan.settings.places:
        first.setdefault(place.kind, place.id)
    found = {}
    for stage, kinds in _HOMES.items():
        known = [first[kind] for kind in kinds if kind in first]
        if known:
            found[stage] = known[0]
    return found


def _hold_backs(development: Development, supply: CageSupply) -> tuple[HoldBack, ...]:
    gap = supply.gap
    others = [cohort for cohort in development.replay.living if not development.is_breeding(cohort)]
    if gap is None or not others:
        return ()
    forecasts = list(development.forecasts(others).values())
    return hold_back(gap.day_start_ms, forecasts, development.kinds[None])
