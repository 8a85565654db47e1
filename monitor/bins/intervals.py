"""The intervals of a bin: what its animals make, how warm that makes it, and what the air takes: one balance.

Heat that is made leaves with the water, by convection and radiation from the surface, and through the sides,
or warms the bin. A probe in it says how warm it is, and then the heat follows from that; without one the
warmth follows from the heat. How much water is left plays no part, so all is worked out at once.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from monitor.bins.conditions import ClimateSeries, Conditions
from monitor.bins.energy_balance import (
    conductance_w_m2_k,
)
from monitor.bins.evaporation import evaporation_kg_m2_s
from monitor.bins.herd import Herd, herd_of
from monitor.bins.shell import (
    COLDEST_C,
    HOTTEST_C,
    Loss,
    Moments,
    Shell,
    closed,
    inert_c,
    losses_of,
    more_by_heat_kg_m2_s,
    shell_of,
    surface_above_c,
    told_by_probe,
    warming_w_m2,
)
from monitor.bins.substrate import BinFacts, heat_by_table_w_m2, moisture_in_balance
from monitor.climate.arrays import BoolArray, FloatArray, IntArray
from monitor.records import MS_PER_HOUR

COLDEST_SORPTION_C = 0.0
LONGEST_INTERVAL_MS = 3 * MS_PER_HOUR

HEAT_TOLERANCE = 5.0, 0.05
"""Largest gap of the heat without a probe, in the mean over all intervals [W/m²], and as a share of what is
made [1]. Source: own choice; usual bins stay below 2 W/m² in each interval."""


@dataclass(frozen=True, slots=True)
class Standing:
    """How a bin stands at the end of its intervals: its larvae with the feed before them, and its warmth."""

    herd: Herd
    core_c: float


@dataclass(frozen=True, slots=True, eq=False)
class Intervals:
    """n intervals between n + 1 edges; `larvae_kg`, `larva_mg` and `feed_kg` (the edible dry feed that is
    left) have shape (n + 1,) at the edges, all else shape (n,).

    `free_kg` is the water that leaves in each [kg] with a bin factor of 1 and enough free water,
    `free_by_heat_kg` how much more for each 100 % of heat more, `carbon_dioxide_kg` what is breathed out,
    `rate_kg_m2_s` the rate of free water, `exposed_m2` the surface that is wet and uncovered, `end_moisture`
    where drying ends [ratio]. Heat in W for each m² of surface: made, and gone with water (`latent`), from
    the surface (`sensible`), through sides and bottom, and into the bin itself (`stored`).
    """

    edges_ms: IntArray
    free_kg: FloatArray
    free_by_heat_kg: FloatArray
    carbon_dioxide_kg: FloatArray
    end_moisture: FloatArray
    larvae_kg: FloatArray
    larva_mg: FloatArray
    feed_kg: FloatArray
    rate_kg_m2_s: FloatArray
    exposed_m2: FloatArray
    surface_c: FloatArray
    core_c: FloatArray
    air_c: FloatArray
    humidity_percent: FloatArray
    heat_w_m2: FloatArray
    latent_w_m2: FloatArray
    sensible_w_m2: FloatArray
    sides_w_m2: FloatArray
    stored_w_m2: FloatArray
    estimated: BoolArray
    end: Standing

    @property
    def hours(self) -> FloatArray:
        """Length of each interval [h]."""
        return np.diff(self.edges_ms) / MS_PER_HOUR

    @property
    def heat_gap_w_m2(self) -> FloatArray:
        """Heat that is made and that the balance does not find again, shape (n,) [W/m²]."""
        found = self.latent_w_m2 + self.sensible_w_m2 + self.sides_w_m2 + self.stored_w_m2
        return self.heat_w_m2 - found


def intervals_of(
    facts: BinFacts,
    conditions: Sequence[Conditions],
    climate: ClimateSeries,
    from_ms: int,
    until_ms: int,
    standing: Standing | None = None,
) -> Intervals:
    """Cut a span at every reading and every event, and work out each interval.

    The climate is without gaps and taken at the middle of each interval; conditions are those at its start.
    At least one interval. `standing` is how the bin stood at `from_ms`; without it, it begins there.
    """
    starts = np.array([condition.from_ms for condition in conditions], dtype=np.int64)
    edges = _edges(climate.times_ms, starts, from_ms, until_ms)
    at = _moments(edges, starts, climate)
    shell = shell_of(facts, conditions, at)
    surface_c, core_c, made_w_m2 = told_by_probe(facts, at, shell)
    course = _Course(facts, conditions, at, shell, standing)
    course.run(edges, core_c, made_w_m2)
    done = course.intervals(edges, surface_c, climate)
    if np.isnan(surface_c).all():
        close_heat(done)
    return done


def close_heat(done: Intervals) -> None:
    """Raise an ArithmeticError where the heat that is made is not found again; see `HEAT_TOLERANCE`."""
    gap = float(np.average(np.abs(done.heat_gap_w_m2), weights=done.hours))
    made = float(np.average(done.heat_w_m2, weights=done.hours))
    if not gap <= HEAT_TOLERANCE[0] + HEAT_TOLERANCE[1] * made:
        raise ArithmeticError(f"the heat of a bin does not close: {gap:.1f} W/m² of {made:.1f} are not found")


def _edges(times_ms: IntArray, starts: IntArray, from_ms: int, until_ms: int) -> IntArray:
    """Every reading and event of the span, and ticks where these lie further apart than three hours."""
    ticks = np.arange(from_ms, until_ms, LONGEST_INTERVAL_MS, dtype=np.int64)
    cuts = np.concatenate([times_ms, starts, [from_ms, until_ms]])
    edges = np.unique(cuts[(cuts >= from_ms) & (cuts <= until_ms)])
    after = np.minimum(np.searchsorted(edges, ticks), len(edges) - 1)
    lonely = edges[after] - edges[np.maximum(after - 1, 0)] > LONGEST_INTERVAL_MS
    edges = np.union1d(edges, ticks[lonely])
    return np.append(edges, edges[0] + 1) if len(edges) == 1 else edges


def _moments(edges: IntArray, starts: IntArray, climate: ClimateSeries) -> Moments:
    middle = (edges[:-1] + edges[1:]) // 2
    air, humid, probe = (
        np.interp(middle, climate.times_ms, column)
        for column in (climate.air_c, climate.humidity_percent, climate.substrate_c)
    )
    which = np.searchsorted(starts, middle, side="right") - 1
    return Moments(middle, which, air, humid, probe, np.diff(edges) / MS_PER_HOUR)


class _Course:
    """Goes through the intervals once, animals and warmth together; it lives for one call."""

    def __init__(
        self,
        facts: BinFacts,
        conditions: Sequence[Conditions],
        at: Moments,
        shell: Shell,
        standing: Standing | None,
    ) -> None:
        self._facts, self._conditions, self._at, self._shell = facts, conditions, at, shell
        self._herd = herd_of(facts) if standing is None else standing.herd.copy()
        self._core_c = float("nan") if standing is None else standing.core_c
        self.carbon_dioxide_kg: list[float] = []
        self.made_w_m2: list[float] = []
        self.core_c: list[float] = []
        self.stored_w_m2: list[float] = []
        self.at_edges: list[tuple[float, float, float]] = []

    def run(self, edges: IntArray, probe_c: FloatArray, by_probe_w_m2: FloatArray) -> None:
        """Let all intervals pass."""
        losses = losses_of(self._at, self._shell, np.isnan(probe_c))
        if self._core_c != self._core_c:
            self._core_c = inert_c(float(self._at.air_c[0]), Loss(*(column[0] for column in losses)))
        stored = warming_w_m2(self._at.middle_ms, probe_c, self._shell).tolist()
        rows = zip(
            self._at.which.tolist(),
            self._at.middle_ms.tolist(),
            self._at.hours.tolist(),
            self._at.air_c.tolist(),
            probe_c.tolist(),
            by_probe_w_m2.tolist(),
            stored,
            *losses,
            strict=True,
        )
        for which, middle_ms, hours, air_c, core_c, told_w_m2, stored_w_m2, *loss in rows:
            if which >= self._herd.taken or self._herd.waits:
                self._herd.take(self._conditions, middle_ms)
            self._note_edge()
            known = core_c == core_c
            if known:
                self._core_c = core_c
            made_w_m2 = self._live(middle_ms, hours, told_w_m2)
            if not known:
                stored_w_m2 = self._warm(made_w_m2, hours, air_c, Loss(*loss))
            self.stored_w_m2.append(stored_w_m2)
            self.made_w_m2.append(made_w_m2)
            self.core_c.append(self._core_c)
        self._herd.take(self._conditions, int(edges[-1]))
        self._note_edge()

    def _note_edge(self) -> None:
        brood = self._herd.brood
        kg = brood.kg if self._herd.is_counted else 0.0
        self.at_edges.append((kg, brood.mass_mg if brood.count else 0.0, brood.feed_kg))

    def _live(self, middle_ms: int, hours: float, told_w_m2: float) -> float:
        """Animals for one interval; the heat that they make, or that the probe told [W/m²]."""
        substrate, area_m2 = self._facts.substrate, self._facts.surface_m2
        by_heat = area_m2 * hours * 3600.0 / substrate.heat_j_kg_carbon_dioxide
        told = told_w_m2 == told_w_m2
        if not told and substrate.heat_by_age:
            told_w_m2 = heat_by_table_w_m2(self._herd.larvae, substrate.heat_by_age, middle_ms)
        breathed = told_w_m2 * by_heat if told or substrate.heat_by_age else None
        breath_kg = self._herd.brood.pass_time(hours, self._core_c, breathed)
        self.carbon_dioxide_kg.append(breath_kg)
        return told_w_m2 if told else breath_kg / by_heat

    def _warm(self, made_w_m2: float, hours: float, air_c: float, loss: Loss) -> float:
        """The bin after an interval without a probe, implicit in its warmth; the heat that it took up."""
        inert = self._shell.heat_j_m2_k / (hours * 3600.0)
        excess = self._core_c - air_c
        rise = (made_w_m2 - loss.at(excess)) / (inert + loss.by_kelvin(excess))
        self._core_c = min(max(self._core_c + rise, COLDEST_C), HOTTEST_C)
        return inert * rise

    def intervals(self, edges: IntArray, by_probe_c: FloatArray, climate: ClimateSeries) -> Intervals:
        """All that was worked out, with what the air takes at the warmth that came about."""
        at, shell, facts = self._at, self._shell, self._facts
        core_c, made = np.array(self.core_c), np.array(self.made_w_m2)
        core_c, stored = closed(at, shell, core_c, by_probe_c, made, np.array(self.stored_w_m2))
        self._core_c = float(core_c[-1])
        surface_c = surface_above_c(at, shell, core_c, by_probe_c)
        rate = evaporation_kg_m2_s(surface_c, shell.air, shell.fan)
        by_heat = more_by_heat_kg_m2_s(shell, surface_c, rate, made)
        top = shell.top_w_m2(surface_c)
        exposed_m2, seconds = shell.wet_share * facts.surface_m2, at.hours * 3600.0
        sensible = conductance_w_m2_k(shell.air, shell.surface(0.0)) * (surface_c - at.air_c)
        larvae_kg, larva_mg, feed_kg = np.array(self.at_edges).T
        nearest = np.minimum(np.searchsorted(climate.times_ms, at.middle_ms), len(climate.times_ms) - 1)
        return Intervals(
            edges_ms=edges,
            free_kg=rate * exposed_m2 * seconds,
            free_by_heat_kg=np.where(np.isfinite(by_probe_c), 0.0, by_heat) * exposed_m2 * seconds,
            carbon_dioxide_kg=np.array(self.carbon_dioxide_kg),
            end_moisture=moisture_in_balance(np.maximum(at.air_c, COLDEST_SORPTION_C), at.humid),
            larvae_kg=larvae_kg,
            larva_mg=larva_mg,
            feed_kg=feed_kg,
            rate_kg_m2_s=rate,
            exposed_m2=exposed_m2,
            surface_c=surface_c,
            core_c=core_c,
            air_c=at.air_c,
            humidity_percent=at.humid,
            heat_w_m2=made,
            latent_w_m2=top - sensible,
            sensible_w_m2=sensible,
            sides_w_m2=shell.side_w_m2_k * (core_c - at.air_c),
            stored_w_m2=stored,
            estimated=climate.estimated[nearest],
            end=Standing(self._herd, self._core_c),
        )
