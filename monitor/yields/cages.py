"""Sums of eggs: which hatch belongs to which eggs, and what a cage gave for each female."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from monitor.records import MS_PER_DAY
from monitor.yields.assumptions import EGGS_LOG_SD, HATCH_SAMPLE_SD, Assumptions
from monitor.yields.definitions import eggs_counted, eggs_per_female, female_days, weighted_share
from monitor.yields.figures import (
    Figure,
    Lack,
    distinct,
    is_some,
    relative_sd,
    total,
    unknown,
    wanting,
    worked,
)
from monitor.yields.records import DeadFlies, EggsCollected, EggUse, FliesPutIn, HatchSeen, Taken, Takings

SOONEST_HATCH_MS, LATEST_HATCH_MS = 1 * MS_PER_DAY, 21 * MS_PER_DAY
"""A hatch belongs to eggs that were set this long before it. Source: own choice; eggs hatch after 3 to 4 days
when warm, and take longer when cool."""

MG_PER_GRAM = 1000.0


@dataclass(frozen=True, slots=True)
class Hatched:
    """Eggs of one collection and the share of them that was seen to hatch [ratio]."""

    eggs: EggsCollected
    share: float
    at_ms: int


@dataclass(frozen=True, slots=True)
class CageSum:
    """All that one cage gave. Grams of eggs by use, `per_female_mg` in mg of eggs for each female put in,
    eggs by count for each female, and for each female and day that she lived.
    """

    place: str
    first_ms: int
    last_ms: int
    grams: Figure
    uses: Mapping[EggUse | None, float]
    flies: Figure
    females: Figure
    per_female_mg: Figure
    eggs_per_female: Figure
    eggs_per_female_day: Figure
    hatch: Figure
    dead_flies: Figure
    dead_flies_mass: Figure


def cage_sums(takings: Takings, hatched: Sequence[Hatched], assumed: Assumptions) -> tuple[CageSum, ...]:
    """The sums of every cage from which eggs were collected or into which flies were put, by name."""
    eggs, flies = by_place(takings.eggs), by_place(takings.flies)
    dead = by_place(takings.dead_flies)
    by_cage: dict[str, list[Hatched]] = {}
    for each in hatched:
        by_cage.setdefault(each.eggs.place, []).append(each)
    return tuple(
        _cage(
            place,
            eggs.get(place, []),
            flies.get(place, []),
            by_cage.get(place, []),
            dead.get(place, []),
            assumed,
        )
        for place in sorted({*eggs, *flies})
    )


def _cage(
    place: str,
    eggs: Sequence[EggsCollected],
    flies: Sequence[FliesPutIn],
    hatched: Sequence[Hatched],
    dead: Sequence[DeadFlies],
    assumed: Assumptions,
) -> CageSum:
    grams, females = grams_of(eggs), females_of(flies, assumed)
    times = [each.at_ms for each in (*eggs, *flies)]
    return CageSum(
        place=place,
        first_ms=min(times),
        last_ms=max(times),
        grams=grams,
        uses=egg_uses(eggs),
        flies=total((each.count for each in flies), Lack.FLIES),
        females=females,
        per_female_mg=_per_female(grams, females).times(MG_PER_GRAM),
        eggs_per_female=per_female(grams, females, assumed),
        eggs_per_female_day=per_female_day(eggs, flies, min(times), max(times), assumed),
        hatch=hatch_of(hatched, eggs),
        dead_flies=total(each.count for each in dead if each.count is not None),
        dead_flies_mass=total(each.grams for each in dead if each.grams is not None),
    )


def by_place(every: Iterable[Taken]) -> dict[str, list[Taken]]:
    """Records grouped by their place."""
    found: dict[str, list[Taken]] = {}
    for each in every:
        found.setdefault(each.place, []).append(each)
    return found


def grams_of(eggs: Iterable[EggsCollected]) -> Figure:
    """Grams of eggs collected."""
    return total(each.grams for each in eggs)


def egg_uses(eggs: Iterable[EggsCollected]) -> dict[EggUse | None, float]:
    """Grams of eggs by what became of them; None where nobody said."""
    grams: dict[EggUse | None, float] = {}
    for each in eggs:
        grams[each.use] = grams.get(each.use, 0.0) + each.grams
    return grams


def females_of(flies: Sequence[FliesPutIn], assumed: Assumptions) -> Figure:
    """Females put in [1]; where nobody looked at the sexes, the assumed share, said and wider."""
    put_in = total((each.count for each in flies), Lack.FLIES)
    if put_in.value is None:
        return put_in
    unsexed = math.fsum(each.count for each in flies if each.female_share is None)
    females = math.fsum(each.count * _share(each, assumed) for each in flies)
    if not unsexed:
        return worked(females, put_in)
    return worked(females, put_in, sd=unsexed * assumed.female_share_sd).also(Lack.FEMALE_SHARE)


def _share(flies: FliesPutIn, assumed: Assumptions) -> float:
    return assumed.female_share if flies.female_share is None else flies.female_share


def _per_female(grams: Figure, females: Figure) -> Figure:
    if grams.value is None or not is_some(females.value):
        return unknown(*wanting(females, Lack.FLIES, grams))
    value = grams.value / females.value
    share = relative_sd(females)
    return worked(value, grams, females, sd=None if share is None else value * share)


def per_female(grams: Figure, females: Figure, assumed: Assumptions) -> Figure:
    """Eggs for each female put in [1]."""
    each = _per_female(grams, females)
    if each.value is None or grams.value is None or females.value is None:
        return each
    if not is_some(assumed.eggs_per_gram):
        return unknown(Lack.EGGS_PER_GRAM)
    value = eggs_per_female(grams.value, females.value, assumed.eggs_per_gram)
    return worked(value, each, sd=value * math.hypot(EGGS_LOG_SD, relative_sd(each) or 0.0))


def per_female_day(
    eggs: Sequence[EggsCollected],
    flies: Sequence[FliesPutIn],
    from_ms: int,
    until_ms: int,
    assumed: Assumptions,
) -> Figure:
    """Eggs for each female and day that she lived in the span [1/d], of cages whose flies were counted."""
    counted = {each.place for each in flies}
    known = [each for each in eggs if each.place in counted]
    if not known:
        return unknown(Lack.FLIES if eggs else Lack.NOTHING_WRITTEN)
    females = females_of(flies, assumed)
    lived = math.fsum(
        female_days(
            each.count * _share(each, assumed), each.at_ms, assumed.female_life_days, from_ms, until_ms
        )
        for each in flies
    )
    if not is_some(assumed.eggs_per_gram):
        return unknown(Lack.EGGS_PER_GRAM)
    if not is_some(lived):
        return unknown(Lack.FLIES, entries=len(known))
    value = eggs_counted(math.fsum(each.grams for each in known), assumed.eggs_per_gram) / lived
    sd = value * math.hypot(EGGS_LOG_SD, relative_sd(females) or 0.0)
    lacks = distinct((*females.lacks, *((Lack.FLIES,) if len(known) < len(eggs) else ())))
    return Figure(value, len(known) + len(flies), lacks, sd)


def hatched_eggs(takings: Takings) -> tuple[Hatched, ...]:
    """Each collection that was set to hatch, with the share that was seen, in order of hatching.

    A hatch of a cohort is that of its eggs. Where no cohort is named, it is that of the eggs set in its tray
    of which none was seen yet, else, looked at again, of those of the look before. The last look counts.
    """
    by_cohort: dict[str, list[EggsCollected]] = {}
    by_tray: dict[str, list[EggsCollected]] = {}
    for each in takings.eggs:
        if each.into is not None:
            by_cohort.setdefault(each.into, []).append(each)
        if each.use is EggUse.HATCH and each.tray is not None:
            by_tray.setdefault(each.tray, []).append(each)
    found: dict[int, Hatched] = {}
    for hatch in takings.hatches:
        if hatch.share is None:
            continue
        eggs = by_cohort.get(hatch.cohort or "") or _set_before(hatch, by_tray, found)
        found |= {id(each): Hatched(each, hatch.share, hatch.at_ms) for each in eggs}
    return tuple(sorted(found.values(), key=lambda each: each.at_ms))


def _set_before(
    hatch: HatchSeen, by_tray: Mapping[str, Sequence[EggsCollected]], found: Mapping[int, Hatched]
) -> list[EggsCollected]:
    here = [
        each
        for each in by_tray.get(hatch.place, ())
        if SOONEST_HATCH_MS <= hatch.at_ms - each.at_ms <= LATEST_HATCH_MS
    ]
    new = [each for each in here if id(each) not in found]
    if new or not here:
        return new
    last_ms = max(found[id(each)].at_ms for each in here)
    return [each for each in here if found[id(each)].at_ms == last_ms]


def hatch_of(hatched: Sequence[Hatched], eggs: Sequence[EggsCollected]) -> Figure:
    """The hatch share [ratio], weighted by grams, with the spread between samples."""
    hatched = [each for each in hatched if is_some(each.eggs.grams)]
    pairs = [(each.share, each.eggs.grams) for each in hatched]
    if not pairs:
        return unknown(Lack.HATCH)
    weight = math.fsum(grams for _, grams in pairs)
    samples = {(each.at_ms, each.eggs.tray): 0.0 for each in hatched}
    for each in hatched:
        samples[each.at_ms, each.eggs.tray] += each.eggs.grams
    sd = HATCH_SAMPLE_SD * math.sqrt(math.fsum(grams * grams for grams in samples.values())) / weight
    set_to_hatch = sum(each.use is EggUse.HATCH for each in eggs)
    figure = Figure(weighted_share(pairs), len(samples), (), sd)
    return figure.also(Lack.SOME_HATCH) if len(pairs) < set_to_hatch else figure
