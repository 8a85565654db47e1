"""Farms that give eggs and larvae, for trials of forecasts and of what the climate did; not the program's
model.

Flies are followed in small groups: when a group comes out (gamma), how much warmth its females need to their
eggs (Weibull, over hours), whether they live so long (Weibull), whether they lay again. Days of a cage have a
memory, rooms have cold spells and dry spells. The farmer misses days, forgets to write, counts flies badly,
and now and then writes milligrams for grams or slips a comma. Every effect of the climate has its true size,
0: none.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, fields, replace

import numpy as np

from monitor.climate.arrays import BoolArray, FloatArray, IntArray
from monitor.records import MS_PER_DAY, MS_PER_HOUR
from monitor.yields.records import (
    EggsCollected,
    EggUse,
    FeedGiven,
    FliesPutIn,
    HatchSeen,
    LarvaeIn,
    LarvaeOut,
    LarvaeUse,
    PrepupaeOut,
    Residue,
    Takings,
)

START_MS = 20_454 * MS_PER_DAY
DAYS = 216
FIRST_COHORT = 4
GROUPS = 60
COLD_NIGHT_C, HOT_DAY_C, DRY_PERCENT = 22.0, 35.0, 45.0
"""A night counts as cold whose mean from 20 to 6 h is below the first, a day as hot whose warmest hour is
above the second, an hour as dry below the third."""


@dataclass(frozen=True, slots=True)
class Effects:
    """True sizes: share of eggs lost on the two days after a cold night, and on a hot day and the next; share
    of the hatch lost for a day of dry hours at the tray; share of the flies lost for a day of hours above 35
    °C in the box; share of a harvest lost for a day of hours below 22 °C in the bin. 0: there is no such
    effect."""

    cold_nights: float = 0.0
    hot_days: float = 0.0
    dry_hours: float = 0.0
    hot_box: float = 0.0
    cold_bins: float = 0.0


NO_EFFECTS = Effects()


@dataclass(frozen=True, eq=False)
class HourlyClimate:
    """Hours of one place, all of shape (hours,); light as hours of lamp or sun in the hour, 0 or 1."""

    times_ms: IntArray
    temperature_c: FloatArray
    humidity_percent: FloatArray
    light: FloatArray


@dataclass(frozen=True, slots=True)
class Ways:
    """What one farm is like."""

    cages: int
    mode: str
    weekly: bool
    flies: float
    grams_per_female: float
    lag_units: float
    female_share: float
    pattern: str
    misses: float
    forgets: float
    slips: float
    miscount: float
    room_c: float
    conversion: float
    effects: Effects


@dataclass(frozen=True, eq=False)
class Cohort:
    """One lot of flies for one cage: true number, true time of each group [d] and its share."""

    name: str
    cage: int
    day: float
    flies: float
    written: float
    came_out: FloatArray
    females: FloatArray


@dataclass(frozen=True, eq=False)
class TrueCollecting:
    """What was truly collected, written down or not."""

    cage: str
    at_ms: int
    grams: float


@dataclass(frozen=True, eq=False)
class YieldFarm:
    """The truth of a farm and what was written down of it; `climate` by place, cages, trays and bins."""

    seed: int
    ways: Ways
    takings: Takings
    collected: tuple[TrueCollecting, ...]
    laid: FloatArray
    cohorts: tuple[Cohort, ...]
    climate: Mapping[str, HourlyClimate]
    cold_nights: BoolArray
    hot_days: BoolArray
    harvests: tuple[LarvaeOut, ...] = ()
    slipped: frozenset[int] = field(default_factory=frozenset)

    @property
    def cages(self) -> tuple[str, ...]:
        """Names of the cages."""
        return tuple(f"cage-{number}" for number in range(1, self.ways.cages + 1))

    def past(self, now_ms: int) -> Takings:
        """What was written by now."""
        return _until(self.takings, now_ms)

    def true_weeks(self, cage: str, now_ms: int, weeks: int) -> FloatArray:
        """Grams truly collected in the weeks from the midnight of today on, after now, shape (weeks,)."""
        first = now_ms - now_ms % MS_PER_DAY
        sums = np.zeros(weeks)
        for each in self.collected:
            week = (each.at_ms - first) // (7 * MS_PER_DAY)
            if each.cage == cage and each.at_ms >= now_ms and 0 <= week < weeks:
                sums[week] += each.grams
        return sums

    def coming(self, cage: str, now_ms: int, first_ms: int, days: int, courses: int = 200) -> FloatArray:
        """An honest guess of the females still to come into a cage, shape (courses, days), by day from
        `first_ms`.

        Its errors are those it says: of the time 0.5 d and 6 % of the time ahead, of the number 0.25
        (log-sd).
        """
        random = np.random.default_rng([self.seed, 77, now_ms // MS_PER_DAY])
        females = np.zeros((courses, days))
        put_in = {each.cohort for each in self.takings.flies if each.at_ms <= now_ms}
        edges = (first_ms - START_MS) / MS_PER_DAY + np.arange(days + 1)
        today = (now_ms - START_MS) / MS_PER_DAY
        for cohort in self.cohorts:
            written = cohort.name in put_in
            errors, normals = random.standard_normal(2), random.standard_normal((2, courses))
            middle = float(np.average(cohort.came_out, weights=cohort.females))
            is_over = middle < today - 8 or (written and self.ways.mode != "daily")
            if f"cage-{cohort.cage + 1}" != cage or is_over:
                continue
            sd = 0.5 + 0.06 * max(middle - today, 0.0)
            number = cohort.females.sum() * np.exp(0.25 * (errors[0] + normals[0]))
            centre = middle + sd * (errors[1] + normals[1])
            wide = 0.6 if self.ways.mode == "put in" else 2.8
            shape = 1.0 / (
                1.0 + np.exp(np.clip(-1.7 * (edges[None, :] - centre[:, None]) / wide, -50.0, 50.0))
            )
            daily = np.diff(shape, axis=1) * number[:, None]
            females += np.where(edges[:-1] >= np.floor(today), daily, 0.0)
        return females


def drawn_ways(random: np.random.Generator, effects: Effects) -> Ways:
    """A farm drawn at random."""
    return Ways(
        cages=int(random.integers(2, 6)),
        mode=str(random.choice(["put in", "box", "daily"])),
        weekly=bool(random.random() < 0.6),
        flies=float(np.exp(random.normal(np.log(1500.0), 0.4))),
        grams_per_female=float(np.exp(random.uniform(np.log(5e-3), np.log(27e-3)))),
        lag_units=float(56.0 * random.uniform(0.8, 1.25)),
        female_share=float(random.uniform(0.42, 0.58)),
        pattern=str(random.choice(["daily", "no sundays", "every other day"], p=[0.5, 0.25, 0.25])),
        misses=float(random.uniform(0.02, 0.15)),
        forgets=float(random.uniform(0.0, 0.06)),
        slips=float(random.uniform(0.0, 0.03)),
        miscount=float(random.uniform(0.08, 0.2)),
        room_c=float(random.uniform(24.0, 29.0)),
        conversion=float(0.24 * np.exp(random.normal(0.0, 0.2))),
        effects=effects,
    )


def yield_farm(
    seed: int, effects: Effects = NO_EFFECTS, days: int = DAYS, ways: Ways | None = None
) -> YieldFarm:
    """The whole truth of one farm over some days."""
    random = np.random.default_rng([seed, 13])
    ways = ways or drawn_ways(random, effects)
    climate = _climates(ways, days, random)
    climate["box-1"] = _box_climate(climate["tray-1"], seed)
    room = climate["cage-1"]
    cold, hot = _cold_nights(room.temperature_c), _hot_days(room.temperature_c)
    cohorts, prepupae = _boxed(ways, _cohorts(ways, days, random), climate["box-1"], seed)
    laid = _laid(ways, cohorts, climate, days, random) * _egg_factors(ways, climate)
    flies = _put_in(ways, cohorts, random)
    true, eggs, slipped = _collect(ways, laid, random)
    eggs, hatches = _set_to_hatch(ways, eggs, climate["tray-1"], random)
    feed, larvae_in, harvests, residues = _bins(ways, climate, days, random)
    takings = Takings(
        eggs=tuple(eggs),
        hatches=tuple(hatches),
        feed=tuple(feed),
        larvae_in=tuple(larvae_in),
        larvae_out=tuple(_written_kg(harvests, random)),
        prepupae=tuple(prepupae),
        residues=tuple(residues),
        flies=tuple(sorted(flies, key=lambda each: each.at_ms)),
    )
    return YieldFarm(
        seed, ways, takings, tuple(true), laid, tuple(cohorts), climate, cold, hot, tuple(harvests), slipped
    )


def _until(takings: Takings, now_ms: int) -> Takings:
    parts = {
        kind.name: tuple(each for each in getattr(takings, kind.name) if each.at_ms <= now_ms)
        for kind in fields(takings)
    }
    return replace(takings, **parts)


def _climates(ways: Ways, days: int, random: np.random.Generator) -> dict[str, HourlyClimate]:
    """One room whose days remember each other, with cold spells, heat and dry spells; places a little
    apart."""
    weather, damp = np.zeros(days + 1), np.zeros(days + 1)
    for day in range(1, days + 1):
        weather[day] = 0.75 * weather[day - 1] + random.normal(0.0, 0.9)
        damp[day] = 0.8 * damp[day - 1] + random.normal(0.0, 4.0)
    for day in np.flatnonzero(random.random(days) < 0.025):
        weather[day : day + int(random.integers(2, 6))] -= random.uniform(2.0, 5.0)
    for day in np.flatnonzero(random.random(days) < 0.015):
        weather[day : day + int(random.integers(1, 4))] += random.uniform(3.0, 6.0)
    for day in np.flatnonzero(random.random(days) < 0.03):
        damp[day : day + int(random.integers(2, 8))] -= random.uniform(10.0, 25.0)
    at = np.arange(days * 24) / 24.0
    swing = random.uniform(2.0, 4.5) * np.sin(2.0 * np.pi * (at - 0.375))
    room = ways.room_c + np.interp(at, np.arange(days + 1), weather) + swing
    humid = 66.0 + np.interp(at, np.arange(days + 1), damp) - 1.5 * swing
    hours = at * 24.0 % 24.0
    cloudy = np.repeat(random.random(days) < 0.2, 24)
    lit = ((hours >= 8.0) & (hours < np.where(cloudy, 13.0, 18.0))).astype(np.float64)
    times = START_MS + np.arange(days * 24, dtype=np.int64) * MS_PER_HOUR
    places = [f"cage-{number}" for number in range(1, ways.cages + 1)] + ["tray-1", "bin-1", "bin-2", "bin-3"]
    return {
        place: HourlyClimate(
            times,
            room + random.normal(0.0, 0.3) + random.normal(0.0, 0.1, len(at)),
            np.clip(humid + random.normal(0.0, 1.5) + random.normal(0.0, 1.0, len(at)), 12.0, 97.0),
            lit,
        )
        for place in places
    }


def _cold_nights(temperature_c: FloatArray) -> BoolArray:
    """Whether the night that ends on each day was cold, shape (days,)."""
    hours = temperature_c.reshape(-1, 24)
    before = np.vstack([hours[:1], hours[:-1]])
    night = np.hstack([before[:, 20:], hours[:, :6]]).mean(axis=1)
    return np.asarray(night < COLD_NIGHT_C)


def _hot_days(temperature_c: FloatArray) -> BoolArray:
    return np.asarray(temperature_c.reshape(-1, 24).max(axis=1) > HOT_DAY_C)


def _egg_factors(ways: Ways, climate: Mapping[str, HourlyClimate]) -> FloatArray:
    """What is left of the eggs of each day; flies of a cage feel its own air, shape (cages, days)."""
    factors = []
    for number in range(1, ways.cages + 1):
        air = climate[f"cage-{number}"].temperature_c
        cold, hot = (_or_the_day_before(which(air)) for which in (_cold_nights, _hot_days))
        factors.append((1.0 - ways.effects.cold_nights * cold) * (1.0 - ways.effects.hot_days * hot))
    return np.array(factors)


def _or_the_day_before(such: BoolArray) -> BoolArray:
    return np.asarray(such | np.concatenate([[False], such[:-1]]))


def _cohorts(ways: Ways, days: int, random: np.random.Generator) -> list[Cohort]:
    """One lot after the other, each into the cage whose turn it is."""
    cohorts: list[Cohort] = []
    at = FIRST_COHORT + random.uniform(0.0, 2.0)
    gap = 7.0 / max(1, round(ways.cages / 2))
    while at < days:
        flies = ways.flies * float(random.gamma(12.0, 1.0 / 12.0))
        share = float(np.clip(ways.female_share + random.normal(0.0, 0.05), 0.2, 0.8))
        after = random.gamma(2.2, 1.5, GROUPS) - 0.5
        if ways.mode == "put in":
            after = random.uniform(-1.5, 0.3, GROUPS)
        written = flies * float(np.exp(ways.miscount * random.normal()))
        if random.random() < 0.03:
            written *= float(random.choice([0.5, 2.0]))
        cohorts.append(
            Cohort(
                name=f"c{len(cohorts):03d}",
                cage=len(cohorts) % ways.cages,
                day=at,
                flies=flies,
                written=float(round(written)),
                came_out=np.sort(at + after),
                females=random.multinomial(round(flies * share), np.full(GROUPS, 1.0 / GROUPS)).astype(float),
            )
        )
        wait = random.uniform(0.85, 1.15) if ways.weekly else random.gamma(3.0, 1.0 / 3.0) + 0.15
        at += gap * float(wait)
    return cohorts


def _box_climate(tray: HourlyClimate, seed: int) -> HourlyClimate:
    """A box that stands higher and warmer than the trays of its room."""
    random = np.random.default_rng([seed, 15])
    warmer = random.uniform(2.5, 4.5) + random.normal(0.0, 0.1, len(tray.times_ms))
    return replace(tray, temperature_c=tray.temperature_c + warmer)


def _boxed(
    ways: Ways, cohorts: list[Cohort], box: HourlyClimate, seed: int
) -> tuple[list[Cohort], list[PrepupaeOut]]:
    """The cohorts as they come out of the box, fewer after hot hours, and the prepupae counted into it."""
    random = np.random.default_rng([seed, 16])
    left: list[Cohort] = []
    prepupae: list[PrepupaeOut] = []
    for cohort in cohorts:
        first = max(cohort.day - random.uniform(10.0, 14.0), 0.1)
        count = cohort.flies / random.beta(40.0, 6.0) * np.exp(0.1 * random.normal())
        hours = box.temperature_c[round(first * 24) : round(cohort.day * 24)]
        hot_days = np.count_nonzero(hours > HOT_DAY_C) / 24.0
        lives = float(np.exp(np.log1p(-ways.effects.hot_box) * hot_days))
        lived = replace(
            cohort,
            flies=cohort.flies * lives,
            written=float(round(cohort.written * lives)),
            females=cohort.females * lives,
        )
        left.append(lived)
        at_ms = START_MS + round(first * MS_PER_DAY)
        prepupae.append(
            PrepupaeOut(at_ms=at_ms, place="box-1", cohort=cohort.name, count=float(round(count)))
        )
    return left, sorted(prepupae, key=lambda each: each.at_ms)


def _laid(
    ways: Ways,
    cohorts: list[Cohort],
    climate: Mapping[str, HourlyClimate],
    days: int,
    random: np.random.Generator,
) -> FloatArray:
    """Grams laid in each cage on each day, shape (cages, days)."""
    laid = np.zeros((ways.cages, days))
    drift = np.cumsum(random.normal(0.0, 0.012, days))
    own = 0.1 * random.standard_t(6, ways.cages)
    for cohort in cohorts:
        warm = np.cumsum(np.clip(climate[f"cage-{cohort.cage + 1}"].temperature_c - 11.5, 0.0, 21.0)) / 24.0
        began = np.interp(cohort.came_out * 24.0, np.arange(len(warm)), warm)
        needed = ways.lag_units * random.weibull(3.6, GROUPS) / 0.9011
        laying_h = np.searchsorted(warm, began + needed).astype(float)
        lot = float(random.gamma(40.0, 1.0 / 40.0)) * np.exp(own[cohort.cage])
        grams = cohort.females * ways.grams_per_female * lot * random.gamma(4.0, 0.25, GROUPS)
        again = random.random(GROUPS) < 0.12
        later_h = laying_h + 24.0 * random.gamma(3.0, 1.2, GROUPS)
        first, second = np.where(again, 0.6, 1.0) * grams, np.where(again, 0.4, 0.0) * grams
        for hour, amount in ((laying_h, first), (later_h, second)):
            day = (hour // 24).astype(int)
            inside = (day < days) & (hour < len(warm))
            np.add.at(laid[cohort.cage], day[inside], amount[inside])
    return np.asarray(laid * np.exp(drift) * _day_factors(ways.cages, days, random))


def _day_factors(cages: int, days: int, random: np.random.Generator) -> FloatArray:
    """Days with memory: gamma by rank, CV 0.4 in all, a part of it the farm's."""
    normal = np.zeros((cages + 1, days))
    for day in range(1, days):
        normal[:, day] = 0.5 * normal[:, day - 1] + np.sqrt(0.75) * random.standard_normal(cages + 1)
    own, farm = np.exp(0.34 * normal[:-1]), np.exp(0.15 * normal[-1])
    factors = own * farm
    return np.asarray(factors / factors.mean())


def _put_in(ways: Ways, cohorts: list[Cohort], random: np.random.Generator) -> list[FliesPutIn]:
    """What was written of the flies: a lot at once, or each morning those of the day."""
    entries: list[FliesPutIn] = []
    for cohort in cohorts:
        place = f"cage-{cohort.cage + 1}"
        lots = [(cohort.day, cohort.written)]
        if ways.mode == "daily":
            days, groups = np.unique(np.ceil(cohort.came_out), return_counts=True)
            counts = cohort.written * groups / GROUPS
            lots = list(zip((days + 0.3).tolist(), counts.tolist(), strict=True))
        for day, count in lots:
            seen = ways.female_share if random.random() < 0.1 else None
            at_ms = START_MS + round(float(day) * MS_PER_DAY)
            entries.append(
                FliesPutIn(
                    at_ms=at_ms, place=place, cohort=cohort.name, count=float(round(count)), female_share=seen
                )
            )
    return entries


def _collect(
    ways: Ways, laid: FloatArray, random: np.random.Generator
) -> tuple[list[TrueCollecting], list[EggsCollected], frozenset[int]]:
    """The farmer's round: what was truly taken, what was written of it, and which entries slipped."""
    true: list[TrueCollecting] = []
    written: list[EggsCollected] = []
    slipped: set[int] = set()
    waiting = [[0.0] * 5 for _ in range(ways.cages)]
    for day in range(laid.shape[1]):
        comes = _comes(ways, day) and random.random() > ways.misses
        hour = random.uniform(15.5, 18.5)
        for cage in range(ways.cages):
            waiting[cage] = [*waiting[cage][-4:], float(laid[cage, day])]
            grams = sum(waiting[cage])
            if not comes or random.random() < 0.02 or grams < 0.03:
                continue
            waiting[cage] = [0.0] * 5
            at_ms = START_MS + day * MS_PER_DAY + round((hour + 0.1 * cage) * MS_PER_HOUR)
            place = f"cage-{cage + 1}"
            true.append(TrueCollecting(place, at_ms, grams))
            if random.random() < ways.forgets:
                continue
            shown = max(round(grams * float(np.exp(random.normal(0.0, 0.04))), 1), 0.1)
            entry_id = len(written) + 1
            if random.random() < ways.slips:
                shown *= float(random.choice([1000.0, 10.0, 0.1], p=[0.4, 0.4, 0.2]))
                slipped.add(entry_id)
            strips = int(random.integers(2, 8))
            written.append(
                EggsCollected(at_ms=at_ms, place=place, grams=shown, strips=strips, entry_id=entry_id)
            )
    return true, written, frozenset(slipped)


def _comes(ways: Ways, day: int) -> bool:
    if ways.pattern == "every other day":
        return day % 2 == 0
    return ways.pattern == "daily" or day % 7 != 3


def _set_to_hatch(
    ways: Ways, eggs: list[EggsCollected], tray: HourlyClimate, random: np.random.Generator
) -> tuple[list[EggsCollected], list[HatchSeen]]:
    """A third of the collectings goes to the tray; its hatch is seen some days later, worse where it was
    dry."""
    kept: list[EggsCollected] = []
    hatches: list[HatchSeen] = []
    for each in eggs:
        if random.random() > 0.35:
            kept.append(replace(each, use=EggUse.SOLD))
            continue
        lot = f"lot-{each.entry_id}"
        kept.append(replace(each, use=EggUse.HATCH, tray="tray-1", cohort=lot))
        first = (each.at_ms - START_MS) // MS_PER_HOUR
        dry_days = np.count_nonzero(tray.humidity_percent[first : first + 96] < DRY_PERCENT) / 24.0
        share = float(random.beta(12.0, 4.0)) * max(1.0 - ways.effects.dry_hours * dry_days, 0.02)
        if random.random() < 0.8 and first + 110 < len(tray.times_ms):
            at_ms = each.at_ms + round(random.uniform(100.0, 130.0)) * MS_PER_HOUR
            hatches.append(HatchSeen(at_ms=at_ms, place="tray-1", cohort=lot, share=round(share, 2)))
    return kept, sorted(hatches, key=lambda seen: seen.at_ms)


def _bins(
    ways: Ways, climate: Mapping[str, HourlyClimate], days: int, random: np.random.Generator
) -> tuple[list[FeedGiven], list[LarvaeIn], list[LarvaeOut], list[Residue]]:
    """Three bins filled in turn, fed four times, emptied when their larvae are about to darken."""
    feed: list[FeedGiven] = []
    larvae: list[LarvaeIn] = []
    harvests: list[LarvaeOut] = []
    residues: list[Residue] = []
    at = random.uniform(0.0, 4.0)
    number = 0
    while at < days - 22:
        place = f"bin-{number % 3 + 1}"
        filling_ms = START_MS + round(at) * MS_PER_DAY + 9 * MS_PER_HOUR
        warm = climate[place].temperature_c[round(at) * 24 :]
        earned = np.cumsum(np.clip(warm + 4.0 - 12.0, 0.0, 21.0)) / 24.0
        grown_h = np.searchsorted(earned, random.normal(215.0, 12.0))
        whole = 18.0 * float(random.gamma(25.0, 1.0 / 25.0))
        given = [whole * share for share in (0.3, 0.3, 0.25, 0.15)]
        for portion, kg in enumerate(given):
            at_ms = filling_ms + portion * 3 * MS_PER_DAY
            feed.append(
                FeedGiven(at_ms=at_ms, place=place, kg=round(kg, 1), filling_ms=filling_ms, moisture=0.72)
            )
        larvae.append(LarvaeIn(at_ms=filling_ms, place=place, count=8000.0, filling_ms=filling_ms))
        kg = whole * ways.conversion * float(random.gamma(80.0, 1.0 / 80.0))
        cold_days = np.count_nonzero(warm[: int(grown_h)] < COLD_NIGHT_C) / 24.0
        kg *= max(1.0 - ways.effects.cold_bins * cold_days, 0.2)
        out_ms = filling_ms + int(grown_h) * MS_PER_HOUR
        use = LarvaeUse.SOLD if random.random() < 0.5 else LarvaeUse.FEED
        harvests.append(LarvaeOut(at_ms=out_ms, place=place, kg=round(kg, 2), filling_ms=filling_ms, use=use))
        residues.append(Residue(at_ms=out_ms, place=place, kg=round(whole * 0.35, 1), filling_ms=filling_ms))
        at += random.uniform(5.5, 8.5)
        number += 1
    in_time = sorted(feed, key=lambda each: each.at_ms), sorted(harvests, key=lambda each: each.at_ms)
    return in_time[0], larvae, in_time[1], residues


def _written_kg(harvests: list[LarvaeOut], random: np.random.Generator) -> list[LarvaeOut]:
    """Harvests as written: one in forty in grams."""
    return [replace(each, kg=each.kg * 1000.0) if random.random() < 0.025 else each for each in harvests]
