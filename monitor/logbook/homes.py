"""Where animals live by their stage: flies in the cage of their cohort, all others in its place."""

from __future__ import annotations

from collections.abc import Container, Iterable, Mapping

from monitor.development.progress import Cohort, Ending, Purpose
from monitor.records import Stage


def stages_by_place(
    cohorts: Iterable[Cohort], stages: Mapping[str, frozenset[Stage]], cages: Container[str], now_ms: int
) -> dict[str, frozenset[Stage]]:
    """The stages in which animals may be in each place at `now_ms` [ms since 1970 UTC]; empty: not known.

    `stages` are those of the living cohorts by name. Where a forecast alone says that all have come out as
    flies, the place that they were in may hold any stage.
    """
    found: dict[str, list[frozenset[Stage]]] = {}
    for cohort in cohorts:
        possible, place = stages.get(cohort.name, frozenset()), cohort.place_at(now_ms)
        here = possible
        if Stage.ADULT in possible and place not in cages:
            here = possible - {Stage.ADULT}
        found.setdefault(place, []).append(here)
        if Stage.ADULT in possible and cohort.cage is not None and cohort.cage != place:
            found.setdefault(cohort.cage, []).append(frozenset({Stage.ADULT}))
    return {place: frozenset().union(*each) if all(each) else frozenset() for place, each in found.items()}


def youngest_by_place(
    cohorts: Iterable[Cohort], stages: Mapping[str, Stage], now_ms: int
) -> dict[str, Stage]:
    """The stage in each place at `now_ms` [ms since 1970 UTC]; the youngest where there are several.

    `stages` are those of the living cohorts by name.
    """
    order, youngest = list(Stage), dict[str, Stage]()
    for cohort in cohorts:
        stage = stages.get(cohort.name)
        if cohort.ended is not None or stage is None:
            continue
        place = home_of(cohort, stage, now_ms)
        if place not in youngest or order.index(stage) < order.index(youngest[place]):
            youngest[place] = stage
    return youngest


def flies_by_cage(cohorts: Iterable[Cohort], flies_ms: Mapping[str, int | None]) -> dict[str, int]:
    """When flies came last into each cage by the forecasts of cohorts [ms since 1970 UTC]."""
    found: dict[str, int] = {}
    for cohort in cohorts:
        came_ms = flies_ms.get(cohort.name)
        if cohort.cage is not None and came_ms is not None:
            found[cohort.cage] = max(came_ms, found.get(cohort.cage, 0))
    return found


def home_of(cohort: Cohort, stage: Stage | None, now_ms: int) -> str:
    """Where a cohort lives at `now_ms` [ms since 1970 UTC]; flies live in the cage of their cohort."""
    if stage is Stage.ADULT and cohort.cage is not None:
        return cohort.cage
    return cohort.place_at(now_ms)


def flies_into(cohort: Cohort, cages: tuple[str, ...]) -> str | None:
    """The cage into which the flies of a cohort go: the one it names, the one it lives in, the only one."""
    if cohort.cage is not None:
        return cohort.cage
    last = cohort.track.residences[-1].place
    if last in cages:
        return last
    return cages[0] if len(cages) == 1 else None


def is_for_breeding(cohort: Cohort, breeding_places: frozenset[str]) -> bool:
    """Whether the flies of a cohort are wanted: as was said, else whether it lives where flies come out."""
    if cohort.ended is not None and cohort.ended.how is not Ending.EMERGED:
        return False
    if cohort.purpose is not None:
        return cohort.purpose is Purpose.BREEDING
    return cohort.cage is not None or cohort.track.residences[-1].place in breeding_places
