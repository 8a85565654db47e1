"""The larvae of one bin through its logbook: put in, counted, fed, taken out; between these they live."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from monitor.bins.conditions import Conditions
from monitor.bins.growth import ALIVE_AT_HARVEST, Brood, Ways, grown_since_days
from monitor.bins.substrate import BinFacts, Larvae, number_of
from monitor.records import MS_PER_DAY

SAME_AGE_DAYS = 1.0
"""Larvae of which an entry speaks are those that are there already where their ages are no further apart [d].
Source: own choice."""

RESIDUE_DRY_SHARE = 0.4
"""Dry share of residue that is taken out, to know what of the feed goes with it [1]. Source: own choice."""


@dataclass(slots=True)
class Herd:
    """Who lives in a bin and what feed is before them, up to the entry `taken` of its conditions.

    `larvae` are those of the logbook, `waits` that they
    are not there yet (eggs); `put_kg` is the dry feed that was given in all [kg].
    """

    facts: BinFacts
    brood: Brood
    larvae: Larvae | None = None
    waits: bool = False
    put_kg: float = 0.0
    taken: int = 0

    def copy(self) -> Herd:
        """The same, to try another future."""
        return replace(self, brood=replace(self.brood))

    @property
    def is_counted(self) -> bool:
        """Whether somebody counted the larvae, so that their mass is known."""
        return self.larvae is not None and self.larvae.count > 0.0

    def take(self, conditions: Sequence[Conditions], until_ms: int) -> None:
        """All that was written down up to a time [ms], the time itself included."""
        while self.taken < len(conditions) and conditions[self.taken].from_ms <= until_ms:
            self._feed(conditions[self.taken])
            self._change(conditions[self.taken])
            self.taken += 1
        if self.waits and self.larvae is not None and self.larvae.since_ms <= until_ms:
            self._settle(self.larvae)

    def _feed(self, condition: Conditions) -> None:
        brood, edible = self.brood, self.facts.substrate.edible_share * condition.fed_kg
        self.put_kg += condition.fed_kg
        brood.edible_kg += edible
        brood.feed_kg += edible
        if condition.residue_out_kg > 0.0:
            there_kg = max(self.put_kg - brood.eaten_kg, 1e-9) / RESIDUE_DRY_SHARE
            left = 1.0 - min(condition.residue_out_kg / there_kg, 1.0)
            brood.edible_kg, brood.feed_kg = left * brood.edible_kg, left * brood.feed_kg

    def _change(self, condition: Conditions) -> None:
        old, new, brood = self.larvae, condition.larvae, self.brood
        self.larvae = new
        if condition.follows:
            if self.is_counted and brood.kg > 0.0:
                brood.count *= max(0.0, 1.0 - condition.larvae_out_kg / brood.kg)
        elif new is old:
            return
        elif new is None:
            brood.count = 0.0
        elif old is not None and brood.count > 0.0 and _same_age(old, new):
            anew = new.count != old.count or not old.share
            brood.count = self._number(new) if anew else brood.count * new.share / old.share
        else:
            self.waits = True

    def _number(self, larvae: Larvae) -> float:
        return number_of(larvae, self.put_kg, self.facts.surface_m2)

    def _settle(self, larvae: Larvae) -> None:
        """Larvae that are there from now on."""
        brood, substrate, self.waits = self.brood, self.facts.substrate, False
        peak_mg = larvae.peak_mg(substrate.peak_mg)
        rate = larvae.rate_per_day(substrate.growth_per_day, substrate.peak_mg)
        brood.ways = replace(brood.ways, peak_mg=peak_mg, rate_per_day=rate)
        brood.count, brood.mass_mg = self._number(larvae), larvae.first_mg(peak_mg)
        brood.highest_mg, brood.lived_days = brood.mass_mg, 0.0
        brood.grown_days = grown_since_days(larvae.age_days, peak_mg) if larvae.start_mg is None else 0.0


def herd_of(facts: BinFacts, alive_at_harvest: float = ALIVE_AT_HARVEST, breath_factor: float = 1.0) -> Herd:
    """The herd of a bin before anything was put in; `take` puts in what its conditions say."""
    substrate = facts.substrate
    ways = Ways(
        peak_mg=substrate.peak_mg,
        rate_per_day=substrate.growth_per_day,
        dry_share=1.0 - substrate.larva_moisture,
        dry_per_carbon_dioxide=substrate.dry_kg_carbon_dioxide,
        breath_factor=breath_factor,
        alive_at_harvest=alive_at_harvest,
    )
    return Herd(facts, Brood(ways))


def _same_age(old: Larvae, new: Larvae) -> bool:
    older_days = (new.since_ms - old.since_ms) / MS_PER_DAY
    return abs(old.age_days + older_days - new.age_days) < SAME_AGE_DAYS
