"""Sums of a cohort, and the ratios of several fillings together."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from monitor.development.progress import Cohort
from monitor.records import MS_PER_DAY, Stage
from monitor.yields.assumptions import SAMPLE_CV, Assumptions
from monitor.yields.cages import Hatched, females_of, grams_of, hatch_of, per_female
from monitor.yields.definitions import MG_PER_KG, Basis, emergence, larvae_left
from monitor.yields.figures import Figure, Lack, is_some, reasons, total, unknown, worked
from monitor.yields.fillings import FillingSum, conversion, converted, larva_uses
from monitor.yields.records import (
    EggsCollected,
    FliesPutIn,
    LarvaeOut,
    LarvaeUse,
    PrepupaeOut,
    Takings,
)

COUNT_SD = 0.25
"""How far the mass of one animal may be off that nobody counted, as a share [1]. Source: own choice."""


@dataclass(frozen=True, slots=True)
class Conversions:
    """Ratios over several fillings: the sum of all feed to the sum of all gain, never a mean of ratios."""

    fillings: int
    bioconversion_wet: Figure
    bioconversion_dry: Figure
    conversion_wet: Figure
    conversion_dry: Figure
    conversion_dry_fresh: Figure
    reduction: Figure


@dataclass(frozen=True, slots=True)
class CohortSum:
    """One cohort: the share of its eggs that hatched, its larvae and what they ate, its flies and what
    they laid, and the share of that which hatched (`laid_hatch`).
    """

    cohort: str
    hatch: Figure
    larvae: Figure
    larva_uses: Mapping[LarvaeUse | None, float]
    days_from_egg: Figure
    conversions: Conversions
    kept: Figure
    flies: Figure
    emergence: Figure
    eggs: Figure
    eggs_per_female: Figure
    laid_hatch: Figure


@dataclass(slots=True)
class _Cohort:
    """What was written down of one cohort: what it gave, its fillings, and what hatched of its eggs (`own`)
    and of those that its flies laid.
    """

    first_ms: int
    eggs: list[EggsCollected] = field(default_factory=list)
    out: list[LarvaeOut] = field(default_factory=list)
    prepupae: list[PrepupaeOut] = field(default_factory=list)
    flies: list[FliesPutIn] = field(default_factory=list)
    over: list[FillingSum] = field(default_factory=list)
    own: list[Hatched] = field(default_factory=list)
    laid: list[Hatched] = field(default_factory=list)


def cohort_sums(
    takings: Takings,
    hatched: Sequence[Hatched],
    fillings: Sequence[FillingSum],
    egg_ms: Mapping[str, int],
    assumed: Assumptions,
) -> tuple[CohortSum, ...]:
    """The sums of every cohort, in the order in which it was first spoken of."""
    found = _written(takings)
    for filling in fillings:
        if filling.cohort in found and filling.is_over:
            found[filling.cohort].over.append(filling)
    for each in hatched:
        if each.eggs.into in found:
            found[each.eggs.into].own.append(each)
        if each.eggs.cohort in found:
            found[each.eggs.cohort].laid.append(each)
    order = sorted(found, key=lambda name: (found[name].first_ms, name))
    return tuple(_cohort_sum(name, found[name], egg_ms, assumed) for name in order)


def _written(takings: Takings) -> dict[str, _Cohort]:
    """What was written down of each cohort; eggs set to hatch are the first of one."""
    found: dict[str, _Cohort] = {}
    for eggs in takings.eggs:
        if eggs.into is not None:
            found.setdefault(eggs.into, _Cohort(eggs.at_ms))
    for each in takings.all():
        if each.cohort is None:
            continue
        cohort = found.setdefault(each.cohort, _Cohort(each.at_ms))
        cohort.first_ms = min(each.at_ms, cohort.first_ms)
        match each:
            case EggsCollected():
                cohort.eggs.append(each)
            case LarvaeOut():
                cohort.out.append(each)
            case PrepupaeOut():
                cohort.prepupae.append(each)
            case FliesPutIn():
                cohort.flies.append(each)
    return found


def _cohort_sum(name: str, mine: _Cohort, egg_ms: Mapping[str, int], assumed: Assumptions) -> CohortSum:
    eggs = grams_of(mine.eggs)
    return CohortSum(
        cohort=name,
        hatch=hatch_of(mine.own, ()),
        larvae=total(each.kg for each in mine.out),
        larva_uses=larva_uses(mine.out),
        days_from_egg=days_from_egg(mine.out, egg_ms),
        conversions=conversions(mine.over),
        kept=kept_count(mine.out, mine.prepupae, assumed),
        flies=total((each.count for each in mine.flies), Lack.FLIES),
        emergence=_emergence(mine.flies, mine.prepupae),
        eggs=eggs,
        eggs_per_female=per_female(eggs, females_of(mine.flies, assumed), assumed),
        laid_hatch=hatch_of(mine.laid, mine.eggs),
    )


def egg_days(cohorts: Iterable[Cohort]) -> dict[str, int]:
    """When the eggs of cohorts were laid [ms], of those whose age is known."""
    return {
        each.name: each.track.start_ms - round(each.track.age_days * MS_PER_DAY)
        for each in cohorts
        if each.track.start_stage is Stage.EGG or each.track.age_days
    }


def days_from_egg(out: Iterable[LarvaeOut], egg_ms: Mapping[str, int]) -> Figure:
    """Days from egg to harvest [d], weighted by kg."""
    out = list(out)
    known = [
        (each.kg, (each.at_ms - egg_ms[each.cohort]) / MS_PER_DAY)
        for each in out
        if each.cohort is not None and each.cohort in egg_ms and is_some(each.kg)
    ]
    if not known:
        return unknown(Lack.EGG_DAY if out else Lack.LARVAE_OUT)
    kg = math.fsum(mass for mass, _ in known)
    figure = Figure(math.fsum(mass * days for mass, days in known) / kg, len(known))
    return figure.also(Lack.EGG_DAY) if len(known) < len(out) else figure


def conversions(fillings: Sequence[FillingSum]) -> Conversions:
    """The ratios of several fillings. Each uses those fillings alone that know both of its sides."""
    return Conversions(
        fillings=len(fillings),
        bioconversion_wet=converted(*_both(fillings, "gain", "feed"), Basis.WET),
        bioconversion_dry=converted(*_both(fillings, "gain_dry", "feed_dry"), Basis.DRY),
        conversion_wet=conversion(*_both(fillings, "feed", "gain"), Basis.WET),
        conversion_dry=conversion(*_both(fillings, "feed_dry", "gain_dry"), Basis.DRY),
        conversion_dry_fresh=conversion(*_both(fillings, "feed_dry", "gain"), Basis.DRY_FRESH),
        reduction=_reduced(fillings),
    )


def _both(fillings: Iterable[FillingSum], first: str, second: str) -> tuple[Figure, Figure]:
    """The sums of two figures over the fillings that have both; what the others lack is said with them."""
    ones: list[Figure] = []
    others: list[Figure] = []
    lost: dict[Lack, None] = {}
    for filling in fillings:
        one, other = getattr(filling, first), getattr(filling, second)
        lacks = reasons(one, other)
        lost.update(dict.fromkeys(lacks))
        if not lacks:
            ones.append(one)
            others.append(other)
    return _added(ones, tuple(lost)), _added(others, tuple(lost))


def _added(figures: Sequence[Figure], lost: tuple[Lack, ...]) -> Figure:
    if not figures:
        return unknown(*(lost or (Lack.NOTHING_WRITTEN,)))
    squares = [each.sd**2 for each in figures if each.sd is not None]
    value = math.fsum(each.value or 0.0 for each in figures)
    return worked(value, *figures, sd=math.sqrt(math.fsum(squares)) if squares else None).also(*lost)


def _reduced(fillings: Sequence[FillingSum]) -> Figure:
    """Waste reduction over several fillings, weighted by their dry feed."""
    known = [
        (each.reduction, each.feed_dry.value or 0.0) for each in fillings if each.reduction.value is not None
    ]
    if not known:
        lacks = [lack for each in fillings for lack in each.reduction.lacks]
        return unknown(*(lacks or [Lack.NOTHING_WRITTEN]), basis=Basis.DRY)
    mass = math.fsum(kg for _, kg in known)
    value = math.fsum((each.value or 0.0) * kg for each, kg in known) / mass
    sd = math.sqrt(math.fsum(((each.sd or 0.0) * kg) ** 2 for each, kg in known)) / mass
    return worked(value, *(each for each, _ in known), sd=sd, basis=Basis.DRY)


def kept_count(out: Iterable[LarvaeOut], prepupae: Iterable[PrepupaeOut], assumed: Assumptions) -> Figure:
    """Larvae and prepupae kept for breeding [1]: counted, or by weight and the mass of one."""
    counts: list[tuple[float, float, bool]] = []
    for larvae in out:
        if larvae.use is LarvaeUse.BREEDING:
            sampled = is_some(larvae.mean_mg)
            each_mg = larvae.mean_mg if is_some(larvae.mean_mg) else assumed.prepupa_mg
            count = larvae_left(larvae.kg, each_mg)
            counts.append((count, count * (SAMPLE_CV if sampled else COUNT_SD), not sampled))
    for each in prepupae:
        if each.count is not None:
            counts.append((each.count, 0.0, False))
        elif each.kg is not None:
            count = each.kg * MG_PER_KG / assumed.prepupa_mg
            counts.append((count, count * COUNT_SD, True))
    if not counts:
        return unknown(Lack.NOTHING_WRITTEN)
    sd = math.sqrt(math.fsum(each * each for _, each, _ in counts))
    figure = Figure(math.fsum(count for count, _, _ in counts), len(counts), (), sd or None)
    return figure.also(Lack.PREPUPA_MASS) if any(guessed for _, _, guessed in counts) else figure


def _emergence(flies: Sequence[FliesPutIn], prepupae: Sequence[PrepupaeOut]) -> Figure:
    boxed = math.fsum(each.count for each in prepupae if each.count is not None)
    if not is_some(boxed):
        return unknown(Lack.PREPUPAE)
    if not flies:
        return unknown(Lack.FLIES)
    value = emergence(math.fsum(each.count for each in flies), boxed)
    figure = Figure(value, len(flies) + len(prepupae))
    return figure.also(Lack.COUNTS_DISAGREE) if value > 1.0 else figure
