"""What a farm yields, added up: each cage, filling, cohort, week and month."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime, time, timedelta, tzinfo
from enum import StrEnum
from itertools import pairwise

from monitor.records import MS_PER_DAY, local
from monitor.yields.assumptions import Assumptions
from monitor.yields.cages import (
    CageSum,
    Hatched,
    cage_sums,
    egg_uses,
    grams_of,
    hatch_of,
    hatched_eggs,
    per_female_day,
)
from monitor.yields.cohorts import CohortSum, Conversions, cohort_sums, conversions, days_from_egg, kept_count
from monitor.yields.figures import Figure, total
from monitor.yields.fillings import FillingKey, FillingSum, filling_sums, larva_uses, prepupae_kg
from monitor.yields.money import Income, Prices, income
from monitor.yields.records import (
    EggsCollected,
    EggUse,
    FliesPutIn,
    LarvaeUse,
    Takings,
)

DAYS_A_WEEK = 7


class Span(StrEnum):
    """Spans over which a farm adds up."""

    WEEK = "week"
    MONTH = "month"


def _weeks(start_ms: int, end_ms: int) -> float:
    return (end_ms - start_ms) / (DAYS_A_WEEK * MS_PER_DAY)


@dataclass(frozen=True, slots=True)
class Kept:
    """Larvae and prepupae kept for breeding, and how many are needed in that span, where that is known."""

    count: Figure
    needed: float | None

    @property
    def share(self) -> float | None:
        """Kept of needed [ratio], None where either is unknown."""
        if self.count.value is None or not self.needed:
            return None
        return self.count.value / self.needed


@dataclass(frozen=True, slots=True)
class PeriodSum:
    """One week or month by the farm's clock, until just before `end_ms`.

    Eggs and larvae by the day on which they were taken, hatch by the day on which it was seen, ratios of feed
    by fillings that were over, by the day on which the last larvae came out.
    """

    span: Span
    start_ms: int
    end_ms: int
    eggs: Figure
    egg_uses: Mapping[EggUse | None, float]
    eggs_by_cage: Mapping[str, Figure]
    eggs_per_female_day: Figure
    hatch: Figure
    larvae: Figure
    larva_uses: Mapping[LarvaeUse | None, float]
    prepupae: Figure
    feed: Figure
    residue: Figure
    flies: Figure
    dead_flies: Figure
    dead_flies_mass: Figure
    conversions: Conversions
    days_from_egg: Figure
    kept: Kept
    income: Income | None

    def needing(self, a_week: float) -> PeriodSum:
        """The same where so many larvae or prepupae have to be kept in a week."""
        return replace(self, kept=Kept(self.kept.count, a_week * _weeks(self.start_ms, self.end_ms)))


@dataclass(frozen=True, slots=True)
class FarmSums:
    """All sums of a farm; weeks and months in order of time, those without an entry too."""

    cages: tuple[CageSum, ...]
    fillings: tuple[FillingSum, ...]
    cohorts: tuple[CohortSum, ...]
    weeks: tuple[PeriodSum, ...]
    months: tuple[PeriodSum, ...]


@dataclass(frozen=True, slots=True)
class Wanted:
    """What sums are told beside the entries.

    `egg_ms` says when the eggs of a cohort were laid; without it, when they were collected. `emptied_ms` says
    when which filling was emptied, `needed_a_week` how many larvae or prepupae have to be kept in a week for
    what the farm wants to sell.
    """

    assumed: Assumptions
    egg_ms: Mapping[str, int] = field(default_factory=dict)
    emptied_ms: Mapping[FillingKey, int] = field(default_factory=dict)
    needed_a_week: float | None = None
    prices: Prices | None = None


def farm_sums(takings: Takings, zone: tzinfo, now_ms: int, wanted: Wanted) -> FarmSums:
    """Add up all that was written down until now.

    Parameters
    ----------
    takings : Takings
        The past of the farm.
    zone : tzinfo
        Of the farm: by its clock weeks begin on Monday and months on the first.
    now_ms : int
        What is written for later does not count.
    wanted : Wanted
        Assumptions about the species, days of eggs, the need, prices.
    """
    past = takings.between(0, now_ms + 1)
    hatched, fillings = hatched_eggs(past), filling_sums(past, wanted.assumed, wanted.emptied_ms)
    egg_ms = _egg_days(past.eggs, wanted.egg_ms)
    farm = _Farm(past, hatched, fillings, egg_ms, wanted)
    return FarmSums(
        cages=cage_sums(past, hatched, wanted.assumed),
        fillings=fillings,
        cohorts=cohort_sums(past, hatched, fillings, egg_ms, wanted.assumed),
        weeks=tuple(farm.period(Span.WEEK, *edges) for edges in _spans(past, zone, now_ms, Span.WEEK)),
        months=tuple(farm.period(Span.MONTH, *edges) for edges in _spans(past, zone, now_ms, Span.MONTH)),
    )


def _egg_days(eggs: Iterable[EggsCollected], said: Mapping[str, int]) -> dict[str, int]:
    first: dict[str, int] = {}
    for each in eggs:
        if each.into is not None:
            first.setdefault(each.into, each.at_ms)
    return {**first, **said}


def _spans(takings: Takings, zone: tzinfo, now_ms: int, span: Span) -> list[tuple[int, int]]:
    """Edges of each week or month from the first entry until now [ms]."""
    first_ms = min((each.at_ms for each in takings.all()), default=None)
    if first_ms is None:
        return []
    day = local(first_ms, zone).date()
    begins = day - timedelta(days=day.weekday()) if span is Span.WEEK else day.replace(day=1)
    edges = [_midnight_ms(begins, zone)]
    while edges[-1] <= now_ms:
        begins = _next(begins, span)
        edges.append(_midnight_ms(begins, zone))
    return list(pairwise(edges))


def _next(begins: date, span: Span) -> date:
    if span is Span.WEEK:
        return begins + timedelta(days=DAYS_A_WEEK)
    return (begins.replace(day=1) + timedelta(days=32)).replace(day=1)


def _midnight_ms(day: date, zone: tzinfo) -> int:
    return round(datetime.combine(day, time(), zone).timestamp() * 1000)


@dataclass(frozen=True, slots=True)
class _Farm:
    """The past of a farm while it is added up."""

    takings: Takings
    hatched: Sequence[Hatched]
    fillings: Sequence[FillingSum]
    egg_ms: Mapping[str, int]
    wanted: Wanted

    def period(self, span: Span, start_ms: int, end_ms: int) -> PeriodSum:
        """The sums of one week or month."""
        past, assumed = self.takings.between(start_ms, end_ms), self.wanted.assumed
        over = [each for each in self.fillings if each.is_over and start_ms <= (each.ends_ms or 0) < end_ms]
        hatched = [each for each in self.hatched if start_ms <= each.at_ms < end_ms]
        uses, larvae = egg_uses(past.eggs), larva_uses(past.larvae_out)
        cages = sorted({each.place for each in past.eggs})
        needed = self.wanted.needed_a_week
        return PeriodSum(
            span=span,
            start_ms=start_ms,
            end_ms=end_ms,
            eggs=grams_of(past.eggs),
            egg_uses=uses,
            eggs_by_cage={cage: grams_of(e for e in past.eggs if e.place == cage) for cage in cages},
            eggs_per_female_day=per_female_day(
                past.eggs, self._flies_of(start_ms, end_ms), start_ms, end_ms, assumed
            ),
            hatch=hatch_of(hatched, ()),
            larvae=total(each.kg for each in past.larvae_out),
            larva_uses=larvae,
            prepupae=prepupae_kg(past.prepupae, assumed),
            feed=total(each.kg for each in past.feed),
            residue=total(each.kg for each in past.residues),
            flies=total(each.count for each in past.flies),
            dead_flies=total(each.count for each in past.dead_flies if each.count is not None),
            dead_flies_mass=total(each.grams for each in past.dead_flies if each.grams is not None),
            conversions=conversions(over),
            days_from_egg=days_from_egg(past.larvae_out, self.egg_ms),
            kept=Kept(
                kept_count(past.larvae_out, past.prepupae, assumed),
                None if needed is None else needed * _weeks(start_ms, end_ms),
            ),
            income=self._income(past, uses, larvae),
        )

    def _flies_of(self, start_ms: int, end_ms: int) -> tuple[FliesPutIn, ...]:
        """The flies of which some lived in a span."""
        life_ms = round(self.wanted.assumed.female_life_days * MS_PER_DAY)
        return self.takings.between(start_ms - life_ms, end_ms).flies

    def _income(
        self,
        past: Takings,
        eggs: Mapping[EggUse | None, float],
        larvae: Mapping[LarvaeUse | None, float],
    ) -> Income | None:
        if self.wanted.prices is None:
            return None
        feed: dict[str | None, float] = {}
        for each in past.feed:
            feed[each.feed] = feed.get(each.feed, 0.0) + each.kg
        return income(eggs, larvae, feed, self.wanted.prices)
