"""Sums of one filling of a bin: what went in, what came out, and the ratios that follow."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

from monitor.records import MS_PER_DAY
from monitor.yields.assumptions import MOISTURE_SD, SAMPLE_CV, Assumptions
from monitor.yields.definitions import (
    MG_PER_KG,
    PERCENT,
    Basis,
    bioconversion,
    conversion_efficiency,
    dry,
    feed_conversion,
    larvae_left,
    reduction,
    specific_growth_rate,
    survival,
    waste_reduction_index,
)
from monitor.yields.figures import (
    Figure,
    Lack,
    is_some,
    reasons,
    relative_sd,
    total,
    unknown,
    wanting,
    worked,
)
from monitor.yields.records import (
    FeedGiven,
    LarvaeIn,
    LarvaeOut,
    LarvaeUse,
    PrepupaeOut,
    Residue,
    Takings,
)

FillingKey = tuple[str, int]
"""A bin and the time at which it was filled [ms]."""


@dataclass(frozen=True, slots=True)
class FillingSum:
    """One filling. Masses in kg; shares and ratios as numbers, the index and the growth in percent a day.

    `ends_ms` is when larvae last came out; where none did, when the bin was emptied. `is_over` says that it
    was emptied, its residue weighed, or the bin filled anew; before, all figures are of what was taken so
    far.
    """

    place: str
    filling_ms: int
    cohort: str | None
    ends_ms: int | None
    is_over: bool
    feed: Figure
    feed_dry: Figure
    larvae: Figure
    uses: Mapping[LarvaeUse | None, float]
    residue: Figure
    gain: Figure
    gain_dry: Figure
    days: Figure
    bioconversion_wet: Figure
    bioconversion_dry: Figure
    conversion_wet: Figure
    conversion_dry: Figure
    conversion_dry_fresh: Figure
    reduction: Figure
    index: Figure
    efficiency: Figure
    survival: Figure
    growth_rate: Figure


@dataclass(slots=True)
class _Filling:
    """What was written down of one filling."""

    place: str
    filling_ms: int
    feed: list[FeedGiven] = field(default_factory=list)
    put_in: list[LarvaeIn] = field(default_factory=list)
    out: list[LarvaeOut] = field(default_factory=list)
    residues: list[Residue] = field(default_factory=list)
    prepupae: list[PrepupaeOut] = field(default_factory=list)
    next_ms: int | None = None
    emptied_ms: int | None = None

    @property
    def is_over(self) -> bool:
        return bool(self.residues) or self.next_ms is not None or self.emptied_ms is not None

    @property
    def cohort(self) -> str | None:
        """The cohort, where it is one only."""
        every = (*self.put_in, *self.feed, *self.out, *self.residues)
        named = {each.cohort for each in every if each.cohort is not None}
        return named.pop() if len(named) == 1 else None

    @property
    def ends_ms(self) -> int | None:
        """When larvae last came out; where none did, when the residue was weighed or the bin was emptied."""
        if self.last_larvae_ms is not None:
            return self.last_larvae_ms
        return max((each.at_ms for each in self.residues), default=self.emptied_ms)

    @property
    def last_larvae_ms(self) -> int | None:
        """When larvae last came out."""
        return max((each.at_ms for each in (*self.out, *self.prepupae)), default=None)


def filling_sums(
    takings: Takings, assumed: Assumptions, emptied_ms: Mapping[FillingKey, int]
) -> tuple[FillingSum, ...]:
    """The sums of every filling, in order of time; `emptied_ms` says when which was emptied."""
    fillings = _fillings(takings)
    for each in fillings:
        each.emptied_ms = emptied_ms.get((each.place, each.filling_ms))
    return tuple(_sum(each, assumed) for each in fillings)


def _fillings(takings: Takings) -> list[_Filling]:
    found: dict[FillingKey, _Filling] = {}

    def filling(each: FeedGiven | LarvaeIn | LarvaeOut | Residue) -> _Filling:
        key = (each.place, each.filling_ms)
        return found.setdefault(key, _Filling(*key))

    for fed in takings.feed:
        filling(fed).feed.append(fed)
    for put in takings.larvae_in:
        filling(put).put_in.append(put)
    for out in takings.larvae_out:
        filling(out).out.append(out)
    for left in takings.residues:
        filling(left).residues.append(left)
    return _in_time(found, takings.prepupae)


def _in_time(found: Mapping[FillingKey, _Filling], prepupae: Iterable[PrepupaeOut]) -> list[_Filling]:
    """Fillings in order of time, each with the next of its bin and the prepupae that left it meanwhile."""
    by_place: dict[str, list[_Filling]] = {}
    for key in sorted(found):
        by_place.setdefault(key[0], []).append(found[key])
    for fillings in by_place.values():
        for one, following in pairwise(fillings):
            one.next_ms = following.filling_ms
    for each in prepupae:
        holder = [one for one in by_place.get(each.place, ()) if one.filling_ms <= each.at_ms]
        if holder:
            holder[-1].prepupae.append(each)
    return sorted(found.values(), key=lambda one: (one.filling_ms, one.place))


def _sum(filling: _Filling, assumed: Assumptions) -> FillingSum:
    open_lacks = () if filling.is_over else (Lack.STILL_FILLED,)
    feed = total((each.kg for each in filling.feed), Lack.FEED)
    feed_dry = _dried(filling.feed, feed, Lack.FEED_MOISTURE)
    larvae = _larvae(filling, assumed)
    gain, gain_dry = _gains(filling, larvae.also(*open_lacks), assumed)
    residue = total((each.kg for each in filling.residues), Lack.RESIDUE)
    days = _days(filling)
    reduced = _reduction(feed_dry, _dried(filling.residues, residue, Lack.RESIDUE_MOISTURE))
    return FillingSum(
        place=filling.place,
        filling_ms=filling.filling_ms,
        cohort=filling.cohort,
        ends_ms=filling.ends_ms,
        is_over=filling.is_over,
        feed=feed,
        feed_dry=feed_dry,
        larvae=larvae,
        uses=larva_uses(filling.out),
        residue=residue,
        gain=gain,
        gain_dry=gain_dry,
        days=days,
        bioconversion_wet=converted(gain, feed, Basis.WET),
        bioconversion_dry=converted(gain_dry, feed_dry, Basis.DRY),
        conversion_wet=conversion(feed, gain, Basis.WET),
        conversion_dry=conversion(feed_dry, gain_dry, Basis.DRY),
        conversion_dry_fresh=conversion(feed_dry, gain, Basis.DRY_FRESH),
        reduction=reduced,
        index=_index(reduced, days),
        efficiency=_efficiency(gain_dry, feed_dry, reduced),
        survival=_survival(filling),
        growth_rate=_growth(filling),
    )


def _dried(every: Sequence[FeedGiven | Residue], wet: Figure, lack: Lack) -> Figure:
    """Dry mass [kg]; unknown where one moisture is: a guess there would be read as reduction."""
    if wet.value is None:
        return unknown(*wet.lacks)
    known = [(each.kg, each.moisture) for each in every if each.moisture is not None]
    if len(known) < len(every):
        return unknown(lack, entries=len(every))
    mass = math.fsum(dry(kg, moisture) for kg, moisture in known)
    return worked(mass, wet, sd=MOISTURE_SD * math.sqrt(math.fsum(kg * kg for kg, _ in known)))


def prepupae_kg(every: Iterable[PrepupaeOut], assumed: Assumptions) -> Figure:
    """Prepupae by mass [kg]; those that were counted only at the assumed mass of one."""
    weighed, counted = 0.0, 0.0
    entries = 0
    for each in every:
        entries += each.kg is not None or each.count is not None
        weighed += each.kg or 0.0
        counted += 0.0 if each.kg is not None else each.count or 0.0
    if not entries:
        return unknown(Lack.PREPUPAE)
    figure = Figure(weighed + counted * assumed.prepupa_mg / MG_PER_KG, entries)
    if not counted:
        return figure
    sd = counted * assumed.prepupa_mg_sd / MG_PER_KG
    return worked(figure.value or 0.0, figure, sd=sd).also(Lack.PREPUPA_MASS)


def _larvae(filling: _Filling, assumed: Assumptions) -> Figure:
    """Larvae and prepupae that came out, wet [kg]."""
    taken = total((each.kg for each in filling.out), Lack.LARVAE_OUT)
    if not filling.prepupae:
        return taken
    crawled = prepupae_kg(filling.prepupae, assumed)
    if taken.value is None or crawled.value is None:
        return crawled if taken.value is None else taken
    return worked(taken.value + crawled.value, taken, crawled, sd=crawled.sd)


def larva_uses(out: Iterable[LarvaeOut]) -> dict[LarvaeUse | None, float]:
    """Kilograms of larvae by what became of them; None where nobody said."""
    kg: dict[LarvaeUse | None, float] = {}
    for each in out:
        kg[each.use] = kg.get(each.use, 0.0) + each.kg
    return kg


def _gains(filling: _Filling, larvae: Figure, assumed: Assumptions) -> tuple[Figure, Figure]:
    """What the larvae gained, wet and dry [kg]. Where nobody weighed what was put in, it counts as nothing,
    which is said: young larvae are 1 to 4 % of the harvest (Fuhrmann: 0.04 to 0.14 kg against 1.7 to 1.9).
    """
    if larvae.value is None:
        nothing = unknown(*larvae.lacks)
        return nothing, nothing
    out, weighed = larvae.value, [each.kg for each in filling.put_in if each.kg is not None]
    if not weighed or len(weighed) < len(filling.put_in):
        larvae = larvae.also(Lack.LARVAE_IN)
    started = math.fsum(weighed)
    young = Figure(started, len(weighed))
    dried = out * assumed.larva_dry_share - started * assumed.young_dry_share
    sd = out * assumed.larva_dry_share_sd
    return (
        worked(out - started, larvae, young, sd=larvae.sd),
        worked(dried, larvae, young, sd=sd).also(Lack.LARVA_DRY_SHARE),
    )


def converted(gain: Figure, feed: Figure, basis: Basis) -> Figure:
    """Net bioconversion from gain and feed of one basis."""
    if gain.value is None or not is_some(feed.value):
        return unknown(*wanting(feed, Lack.FEED, gain), basis=basis)
    value = bioconversion(max(gain.value, 0.0), max(-gain.value, 0.0), feed.value)
    if basis is Basis.DRY and value > 1.0:
        return unknown(Lack.MORE_OUT_THAN_IN, entries=gain.entries + feed.entries, basis=basis)
    return worked(value, gain, feed, sd=_spread(value, gain, feed), basis=basis)


def conversion(feed: Figure, gain: Figure, basis: Basis) -> Figure:
    """Feed conversion from feed and gain."""
    if gain.value is None or not is_some(feed.value):
        return unknown(*wanting(feed, Lack.FEED, gain), basis=basis)
    if not is_some(gain.value):
        return unknown(Lack.NO_GAIN, entries=gain.entries + feed.entries, basis=basis)
    value = feed_conversion(feed.value, gain.value)
    return worked(value, feed, gain, sd=_spread(value, feed, gain), basis=basis)


def _spread(value: float, *inputs: Figure) -> float | None:
    share = relative_sd(*inputs)
    return None if share is None else abs(value) * share


def _reduction(feed_dry: Figure, residue_dry: Figure) -> Figure:
    if residue_dry.value is None or not is_some(feed_dry.value):
        return unknown(*wanting(feed_dry, Lack.FEED, residue_dry), basis=Basis.DRY)
    if residue_dry.value > feed_dry.value:
        return unknown(Lack.MORE_OUT_THAN_IN, entries=feed_dry.entries + residue_dry.entries, basis=Basis.DRY)
    left = residue_dry.value / feed_dry.value
    value = reduction(feed_dry.value, residue_dry.value)
    return worked(value, feed_dry, residue_dry, sd=_spread(left, feed_dry, residue_dry), basis=Basis.DRY)


def _days(filling: _Filling) -> Figure:
    """Days from the filling until larvae last came out."""
    last_ms = filling.last_larvae_ms
    if last_ms is None or last_ms <= filling.filling_ms:
        return unknown(Lack.LARVAE_OUT)
    return Figure((last_ms - filling.filling_ms) / MS_PER_DAY, 1)


def _index(reduced: Figure, days: Figure) -> Figure:
    if reduced.value is None or days.value is None:
        return unknown(*reasons(reduced, days), basis=Basis.DRY)
    value = waste_reduction_index(reduced.value, days.value)
    sd = None if reduced.sd is None else PERCENT * reduced.sd / days.value
    return worked(value, reduced, days, sd=sd, basis=Basis.DRY)


def _efficiency(gain_dry: Figure, feed_dry: Figure, reduced: Figure) -> Figure:
    if gain_dry.value is None or feed_dry.value is None or reduced.value is None:
        return unknown(*reasons(gain_dry, reduced), basis=Basis.DRY)
    residue_dry = feed_dry.value * (1.0 - reduced.value)
    if not is_some(gain_dry.value):
        return unknown(Lack.NO_GAIN, basis=Basis.DRY)
    if gain_dry.value > feed_dry.value - residue_dry:
        return unknown(Lack.MORE_OUT_THAN_IN, basis=Basis.DRY)
    value = conversion_efficiency(gain_dry.value, feed_dry.value, residue_dry)
    return worked(value, gain_dry, reduced, sd=_spread(value, gain_dry, reduced), basis=Basis.DRY)


def _survival(filling: _Filling) -> Figure:
    """Survival from a counted sample of what was taken out and the count of what was put in."""
    counts = [each.count for each in filling.put_in if is_some(each.count)]
    if not counts or len(counts) < len(filling.put_in):
        return unknown(Lack.LARVAE_COUNT)
    sampled = [(each.kg, each.mean_mg) for each in filling.out if is_some(each.mean_mg)]
    if not sampled or len(sampled) < len(filling.out):
        return unknown(Lack.COUNTED_SAMPLE if filling.out else Lack.LARVAE_OUT)
    lefts = [larvae_left(kg, mg) for kg, mg in sampled]
    value = survival(math.fsum(lefts), math.fsum(counts))
    sd = SAMPLE_CV * math.sqrt(math.fsum(left * left for left in lefts)) / math.fsum(counts)
    figure = Figure(value, len(counts) + len(lefts), (), sd)
    figure = figure if filling.is_over else figure.also(Lack.STILL_FILLED)
    return figure.also(Lack.COUNTS_DISAGREE) if value > 1.0 + 2.0 * sd else figure


def _growth(filling: _Filling) -> Figure:
    """Growth from the mean mass put in to that of the last counted sample."""
    starts = [(each.kg, each.count) for each in filling.put_in if is_some(each.kg) and is_some(each.count)]
    if not starts or len(starts) < len(filling.put_in):
        return unknown(Lack.LARVAE_IN)
    ends = [(each.at_ms, each.mean_mg) for each in filling.out if is_some(each.mean_mg)]
    if not ends or ends[-1][0] <= filling.filling_ms:
        return unknown(Lack.COUNTED_SAMPLE if filling.out else Lack.LARVAE_OUT)
    start_mg = MG_PER_KG * math.fsum(kg for kg, _ in starts) / math.fsum(count for _, count in starts)
    days = (ends[-1][0] - filling.filling_ms) / MS_PER_DAY
    value = specific_growth_rate(start_mg, ends[-1][1], days)
    return Figure(value, len(starts) + 1, (), PERCENT * SAMPLE_CV * math.sqrt(2.0) / days)
