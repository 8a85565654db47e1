"""Possible courses of a cohort, and its emergence curve: the share that comes out on each day, with its band.

Each course draws its thermal constants from the posterior and its future out of past days.
"""

from __future__ import annotations

import zlib
from collections.abc import Collection, Sequence
from dataclasses import dataclass, fields, replace
from functools import partial

import numpy as np

from monitor.climate.arrays import BoolArray, FloatArray, IntArray, Values, mean_and_band
from monitor.development.bin_days import CohortFutures, SelfHeating
from monitor.development.clocks import ClockOf, Clocks, Journey, Ways, heat_stage
from monitor.development.ensemble import DRAWS, HORIZON_DAYS, FutureDraws, ensemble_clocks, future_draws
from monitor.development.events import (
    EmergenceSpread,
    Event,
    Observation,
    ended_stage,
    event_at_ms,
    own_log_sd,
    spread_of,
)
from monitor.development.kept import Kept, comparable
from monitor.development.posterior import Evidence, FarmPosterior, cohort_draws, farm_draws, start_draws
from monitor.development.progress import CohortTrack, stage_ends_ms
from monitor.development.rates import (
    AdultLife,
    SpeciesParameters,
    StageParameters,
    ThermalDeath,
)
from monitor.records import MS_PER_DAY

# Of every number here: own choice.
CURVE_COURSES = 41
"""Courses that stand for the ensemble in a curve, evenly spaced through its order [1]."""
MOST_KEPT = 100
"""Cohorts whose courses are kept for the next look; each takes 180 kB [1]."""
SMALLEST_SHARE = 0.001
"""Days on which less than this share comes out are left off the ends of a curve [1]. Own choice."""
CURVE_AFTER_DAYS = 40
"""Days after the latest half emergence that a curve looks at [d]. Own choice: of 2,823 flies in 48 boxes
two came more than 40 days after the first (open counts of ReproLab's common garden)."""
FLIES_STREAM = 2
"""Number of the random stream of `farm_flies`."""
SLOPE_STEP, MOST_CHANGE = 0.1, 1.5
"""Step of the log of a spread for its slope, and how far first flies move it at most [1]. Own choice."""
BROADEST_LOG_SD = 1.2
"""Broadest box, log-sd from the own origin [1]. Own choice: 99 % of the flies of model boxes of 59 are then
out on day 31 after their first; day 27 in the open counts of ReproLab's common garden."""
LEAST_FEMALES, MOST_FEMALES = 0.2, 0.8
"""Share of females is drawn between these [1]. Own choice: beyond them the normal has nothing to say."""


@dataclass(frozen=True, slots=True)
class EmergenceDay:
    """One day of the curve: share of the cohort and, where a number is known, flies; mean and 80 % band."""

    day_start_ms: int
    share: float
    share_low: float
    share_high: float
    flies: float | None = None
    flies_low: float | None = None
    flies_high: float | None = None


def survivors(
    track: CohortTrack, species: SpeciesParameters, generator: np.random.Generator, draws: int
) -> FloatArray:
    """Share of the counted animals that lives to emerge, shape (draws,) [1].

    It is the product over the stages from the counted one to the last before the adult, each uniform in the
    range of the species file.
    """
    counted = track.count_stage or track.start_stage
    last = ended_stage(Event.HALF_EMERGED, species)
    share = np.ones(draws)
    for index in range(species.index_of(counted), -1 if last is None else last + 1):
        low, high = species.stages[index].survival
        share *= generator.uniform(low, high, draws)
    return share


def emergence_days(
    half_ms: FloatArray,
    origin_ms: float,
    log_sd: Values,
    adult: AdultLife,
    day_origin_ms: int,
    flies: FloatArray | None = None,
    spread: EmergenceSpread | None = None,
) -> tuple[EmergenceDay, ...]:
    """Share of a cohort that comes out on each day, with its band.

    Parameters
    ----------
    half_ms : array
        Half emergence of each course, shape (courses,) [ms since 1970 UTC].
    origin_ms : float
        Beginning of the cohort's life [ms since 1970 UTC].
    log_sd : float
        Log standard deviation between animals of a sex [1].
    adult : AdultLife
        Share of females, lead of the males [d], own origin of the emergence.
    day_origin_ms : int
        Any midnight [ms since 1970 UTC]; a day is 24 hours from it.
    flies : array or None
        Flies that each course gives in all, shape (courses,) [1].
    spread : EmergenceSpread or None
        The spread of each course, shape (courses,); None: that of `log_sd` and `adult` for all of them.

    Returns
    -------
    tuple of EmergenceDay
        From the first to the last day that matters; empty when half of the courses never emerge. A band is
        taken day by day; its bounds on all days are not one possible curve.

    Source
    ------
    Own choice (`EmergenceSpread`).
    """
    finite = np.flatnonzero(np.isfinite(half_ms))
    if 2 * len(finite) < len(half_ms):
        return ()
    order = finite[np.argsort(half_ms[finite])]
    picked = order[np.linspace(0, len(order) - 1, min(CURVE_COURSES, len(order))).astype(int)]
    own = spread_of(log_sd, adult) if spread is None else spread.of_courses(picked)
    edges = _edges(half_ms[picked], origin_ms, own, day_origin_ms)
    females, males = own.emerged_share(edges, origin_ms, half_ms[picked])
    daily = np.diff(females + males, axis=1)
    shares = mean_and_band(daily)
    kept = np.flatnonzero(shares[0] >= SMALLEST_SHARE)
    if not len(kept):
        return ()
    days = slice(kept[0], kept[-1] + 1)
    figures = shares
    if flies is not None:
        figures = np.vstack([shares, mean_and_band(daily * _of_all(flies[finite], flies[picked]))])
    starts_ms, rows = edges[:-1][days].astype(np.int64).tolist(), figures[:, days].T.tolist()
    return tuple(EmergenceDay(start_ms, *row) for start_ms, row in zip(starts_ms, rows, strict=True))


def _of_all(flies: FloatArray, picked: FloatArray) -> FloatArray:
    """Flies of the picked courses, shape (picked, 1), in all as many as all courses have on the mean.

    Else the few that stand for the rest would put their own chance into the number: 2 % with 41 of them.
    """
    mean = float(picked.mean())
    return picked[:, None] * (float(flies.mean()) / mean if mean > 0.0 else 1.0)


def _edges(half_ms: FloatArray, origin_ms: float, spread: EmergenceSpread, day_origin_ms: int) -> FloatArray:
    first, last = (spread.time_of_share(origin_ms, half_ms, share) for share in (0.001, 0.999))
    latest = min(float(last.max()), float(half_ms.max()) + CURVE_AFTER_DAYS * MS_PER_DAY)
    low = np.floor((float(first.min()) - 2 * MS_PER_DAY - day_origin_ms) / MS_PER_DAY)
    high = np.ceil((latest + 2 * MS_PER_DAY - day_origin_ms) / MS_PER_DAY)
    return np.asarray(day_origin_ms + np.arange(low, high + 1) * MS_PER_DAY)


@dataclass(frozen=True, slots=True, eq=False)
class CohortCourses:
    """The courses of one cohort: ends of its stages, shape (stages, draws), survival to emergence (draws,),
    heat counted in, and how its flies spread in each.

    `halvings` is how often heat halves it, None where it is never hot. `later_ms` is how much later than
    written down each course began, shape (draws,) [ms]; None where the start is sure.
    """

    track: CohortTrack
    ends_ms: FloatArray
    survival: FloatArray
    spread: EmergenceSpread
    halvings: FloatArray | None = None
    later_ms: FloatArray | None = None

    def half_emerged_ms(self, species: SpeciesParameters) -> FloatArray | None:
        """Half emergence of each course, shape (draws,); None when the cohort has none to come."""
        index = ended_stage(Event.HALF_EMERGED, species)
        if index is None or index < species.index_of(self.track.start_stage):
            return None
        half: FloatArray = self.ends_ms[index]
        return half

    def event_ms(self, event: Event, species: SpeciesParameters, log_sd: float) -> FloatArray:
        """An event of each course, shape (draws,) [ms since 1970 UTC]; see `event_at_ms`."""
        return event_at_ms(event, species, self.track.origin_ms, self.ends_ms, self.spread, log_sd)


@dataclass(frozen=True, slots=True, eq=False)
class ForecastBasis:
    """What all forecasts of a site rest on: the clocks of its places, random numbers, now, and its midnight.

    `day_origin_ms` is any local midnight. The same seed gives the same forecasts. `farm_flies` are random
    numbers of what all flies of a farm share, shape (3, draws): see `drawn_spread`.
    """

    clocks: Clocks
    draws: FutureDraws
    now_ms: int
    day_origin_ms: int
    seed: int
    ensemble: ClockOf
    farm_flies: FloatArray
    futures: CohortFutures | None = None

    def clock_of(self, track: CohortTrack) -> ClockOf:
        """A lookup of the clocks of one cohort's places."""
        return self.ensemble if self.futures is None else self.futures.of(track)

    def let_go(self) -> None:
        """Hold no futures any more, the largest arrays of all; what is needed again is made as it was."""
        for each in (self.ensemble, self.futures):
            getattr(each, "let_go", lambda: None)()

    @property
    def rests(self) -> tuple[object, ...]:
        """All that every course rests on: not the moment of a look, those in the bins, or the seed."""
        own = ("now_ms", "futures", "farm_flies")
        return tuple(getattr(self, each.name) for each in fields(self) if each.name not in own)


@dataclass(frozen=True, slots=True, eq=False)
class CohortCase:
    """One cohort and what was seen of it.

    `anchor` is the cohort from the last event of half its animals that was seen: what follows is counted from
    there. `first_flies` were seen: they tell how far this box spreads.
    """

    track: CohortTrack
    evidence: Evidence | None = None
    anchor: CohortTrack | None = None
    first_flies: Observation | None = None


def forecast_basis(
    clocks: Clocks,
    now_ms: int,
    day_origin_ms: int = 0,
    seed: int = 1,
    draws: int = DRAWS,
    alike: Collection[str] = (),
    heating: SelfHeating | None = None,
    larva: StageParameters | None = None,
) -> ForecastBasis:
    """What all forecasts of a site rest on; the clocks reach to now (`future_draws`, `ensemble_clocks`).

    With `heating` the future of a place that heats itself follows the growth of each cohort in it; `larva` is
    the stage by which that is counted.
    """
    random = future_draws(seed, draws)
    ensemble = ensemble_clocks(clocks, random, now_ms, alike)
    generator = np.random.default_rng([seed, FLIES_STREAM])
    normals = generator.standard_normal((2, draws))
    farm_flies = np.vstack([normals, generator.random((1, draws))])
    basis = ForecastBasis(clocks, random, now_ms, day_origin_ms, seed, ensemble, farm_flies)
    return basis if heating is None or larva is None else with_heating(basis, heating, larva)


def with_heating(basis: ForecastBasis, heating: SelfHeating, larva: StageParameters) -> ForecastBasis:
    """The same basis with the future of places that heat themselves by what lives in them."""
    futures = CohortFutures(heating, basis.clocks, basis.ensemble, basis.draws, basis.now_ms, larva)
    return replace(basis, futures=futures)


def courses_of(
    cases: Sequence[CohortCase],
    species: SpeciesParameters,
    posterior: FarmPosterior,
    basis: ForecastBasis,
    extra_log_sd: FloatArray | None = None,
    kept: Kept | None = None,
) -> list[CohortCourses]:
    """Possible courses of some cohorts; course 7 of each has the same weather and the same farm.

    `extra_log_sd` widens ln K, shape (cases, stages) [1]; None widens nothing. `kept` holds those of an
    earlier look.
    """
    stages, shared = len(species.stages), _Shared(species, posterior, basis)
    extra = np.zeros((len(cases), stages)) if extra_log_sd is None else extra_log_sd
    farm = species, comparable(posterior), basis.rests

    def made(case: CohortCase, wider: FloatArray) -> CohortCourses:
        if kept is None or len(cases) > MOST_KEPT:
            return _course(case, shared, wider)
        futures = None if basis.futures is None else basis.futures.rests(case.track)
        rests = comparable(case), *farm, futures
        name = "course", case.track.cohort, wider.tobytes()
        return kept.of(name, rests, partial(_course, case, shared, wider))

    # Neighbours one after the other: few futures are held at once.
    order = sorted(
        range(len(cases)), key=lambda at: [stay.place for stay in cases[at].track.residences[::-1]]
    )
    courses = {at: made(cases[at], extra[at]) for at in order}
    return [courses[at] for at in range(len(cases))]


class _Shared:
    """What the courses of all cohorts of a look share; each thing is worked out when it is first needed."""

    def __init__(self, species: SpeciesParameters, posterior: FarmPosterior, basis: ForecastBasis) -> None:
        self.species, self.posterior, self.basis = species, posterior, basis
        # Where no place was ever hot enough to harm animals, nothing of it needs to be counted.
        by_key = basis.clocks.by_key.items()
        hot = (isinstance(law.shape, ThermalDeath) and clock.units[-1] > 0.0 for (_, law, _), clock in by_key)
        self.hot = species.death is not None and any(hot)
        self.recorded_to_ms = _recorded_to_ms(basis)
        self.heats = [heat_stage(species, stage) for stage in species.stages]
        self._farm: FloatArray | None = None
        self._runs: dict[tuple[str, int], bool] = {}

    def constants(self, case: CohortCase, normals: FloatArray, extra_log_sd: FloatArray) -> FloatArray:
        """Draws of ln K of one cohort, shape (stages, draws)."""
        farm_normals = self.basis.draws.farm_normals[: len(self.posterior.stages)]
        if self._farm is None:
            self._farm = farm_draws(self.posterior, farm_normals)
        return cohort_draws(self.posterior, case.evidence, farm_normals, normals, extra_log_sd, self._farm)

    def may_be_hot(self, track: CohortTrack, index: int) -> bool:
        """Whether heat counts for a stage in any place on the way."""
        return any(self._heat_runs(stay.place, index) for stay in track.residences)

    def _heat_runs(self, place: str, index: int) -> bool:
        key = place, index
        if key not in self._runs:
            heat = self.heats[index]
            clock = None if heat is None else self.basis.ensemble(place, heat)
            self._runs[key] = clock is not None and clock.runs()
        return self._runs[key]


def _halvings_by_heat(track: CohortTrack, ends_ms: FloatArray, shared: _Shared) -> FloatArray:
    """How often heat halves the counted animals until they emerge, shape (draws,) [1]; 1 is half of them.

    Each stage stands in its own temperature, larvae of a bin in that which they choose; courses that never
    end are followed to the horizon of the forecast. Where no move was planned they stay where they are: a
    move that is assumed takes no warning away. Animals that died before a count in the same stage are
    counted again, since only the stage of a count is known.

    Source: thermal death time (`ThermalDeath`), own choice of what counts.
    """
    species, draws = shared.species, ends_ms.shape[1]
    horizon_ms = shared.recorded_to_ms + HORIZON_DAYS * MS_PER_DAY
    first, last = species.index_of(track.start_stage), ended_stage(Event.HALF_EMERGED, species)
    counted = species.index_of(track.count_stage or track.start_stage)
    ways = Ways(track.stays(), track.start_ms, shared.basis.ensemble, draws)
    total, begin_ms = np.zeros(draws), np.full(draws, float(track.start_ms))
    for index in range(first, -1 if last is None else last + 1):
        end_ms = np.minimum(ends_ms[index], horizon_ms)
        heat = shared.heats[index]
        if heat is not None and index >= counted and shared.may_be_hot(track, index):
            way = ways.of(heat)
            total += way.units_at(end_ms) - way.units_at(begin_ms)
        begin_ms = end_ms
    return np.maximum(total, 0.0)


def _believable_ends(track: CohortTrack, ends_ms: FloatArray, shared: _Shared, ways: Ways) -> FloatArray:
    """The ends of stages, infinite from the first stage on that would last longer than is credible.

    `ends_ms` has shape (stages, draws) [ms since 1970 UTC]. A stage lasts as long as it would take at the
    pace that it has from now on: larvae that stood in the cold and are warm again go on. `ways` are the
    journeys of the track.

    Source: `longest_days` of the species file.
    """
    species, ends, begin_ms = shared.species, ends_ms, np.full(ends_ms.shape[1], float(track.start_ms))
    for index in range(species.index_of(track.start_stage), len(species.stages)):
        with np.errstate(invalid="ignore"):
            late = ends[index] - begin_ms > species.stages[index].longest_days * MS_PER_DAY
        if late.any():
            stage, courses = species.stages[index], np.flatnonzero(late)
            span_ms = begin_ms[courses], ends[index, courses]
            slow = courses[_too_slow(ways.of(stage), courses, *span_ms, stage, shared.recorded_to_ms)]
            ends = ends.copy() if ends is ends_ms else ends
            ends[index:, slow] = np.inf
        begin_ms = ends[index]
    return ends


def _recorded_to_ms(basis: ForecastBasis) -> float:
    """The end of the record [ms]; courses are kept while the moment of the look moves on, so not that."""
    ends = (float(clock.times_ms[-1]) for clock in basis.clocks.by_key.values())
    return max(ends, default=float(basis.now_ms))


def _too_slow(
    way: Journey,
    courses: IntArray,
    begin_ms: FloatArray,
    end_ms: FloatArray,
    stage: StageParameters,
    now_ms: float,
) -> BoolArray:
    """Whether a stage of some courses would last too long at the pace that it has from now on, by course."""
    finite = np.where(np.isfinite(end_ms), end_ms, now_ms)
    begin_ms = np.minimum(begin_ms, finite)
    ahead_ms = np.minimum(np.maximum(begin_ms, now_ms), finite)
    at_ms = np.concatenate([begin_ms, ahead_ms, finite])
    at_begin, at_ahead, at_end = way.units_at(at_ms, np.concatenate([courses] * 3)).reshape(3, -1)
    whole, left = at_end - at_begin, at_end - at_ahead
    left_ms = finite - ahead_ms
    lasts_ms = left_ms * whole / np.where(left > 0.0, left, 1.0)
    return np.asarray(lasts_ms > stage.longest_days * MS_PER_DAY)


def drawn_spread(
    posterior: FarmPosterior, adult: AdultLife, farm_flies: FloatArray, box_normals: FloatArray
) -> EmergenceSpread:
    """How the flies of one box spread in each course.

    Parameters
    ----------
    posterior : FarmPosterior
        The middle spread, how unsure it is, and how far boxes differ.
    adult : AdultLife
        Share of females with its standard deviation, range of the males' lead [d].
    farm_flies : array
        What all boxes of the farm share, shape (3, draws) [1]: standard normals of the share of females and
        of the spread, and where in its range the lead lies, 0 to 1.
    box_normals : array
        Those of this box, shape (draws,) [1].

    Returns
    -------
    EmergenceSpread
        Arrays of shape (draws,). Any lead in the range is as likely.

    Source
    ------
    Own choice; the figures stand in the species file.
    """
    females, farm, lead = farm_flies
    share = np.clip(adult.female_share + adult.female_share_sd * females, LEAST_FEMALES, MOST_FEMALES)
    low, high = adult.male_lead_days
    unsure = posterior.spread_farm_log_sd * farm + posterior.spread_between_log_sd * box_normals
    drawn = own_log_sd(posterior.spread_log_sd * np.exp(unsure), adult.own_origin_share)
    log_sd = np.minimum(drawn, BROADEST_LOG_SD)
    return EmergenceSpread(log_sd, share, low + (high - low) * lead, adult.own_origin_share)


def spread_seen(
    spread: EmergenceSpread,
    seen: Observation,
    origin_ms: float,
    half_ms: FloatArray,
    unsure_log_sd: float,
    normals: FloatArray,
) -> EmergenceSpread:
    """The spread of each course given its half emergence and when first flies were seen.

    Parameters
    ----------
    spread : EmergenceSpread
        As drawn before first flies were seen, shape (courses,).
    seen : Observation
        First flies.
    origin_ms : float
        Beginning of the cohort's life [ms since 1970 UTC].
    half_ms : array
        Half emergence of each course, shape (courses,) [ms since 1970 UTC].
    unsure_log_sd : float
        How unsure the logarithm of the spread is [1], above 0.
    normals : array
        Standard normals, shape (courses,) [1].

    Returns
    -------
    EmergenceSpread
        Broader where the first flies came long before half of them, narrower where they came shortly before.

    Source
    ------
    Conjugate normal updating of each draw (Matheron's rule), made linear; what first flies say of the date of
    half emergence is said by `evidence_of`.
    """
    known = np.isfinite(half_ms)
    half = np.where(known, half_ms, origin_ms + MS_PER_DAY)
    broader = replace(spread, log_sd=spread.log_sd * np.exp(SLOPE_STEP))
    then, more = (each.time_of_share(origin_ms, half, seen.share_seen) for each in (spread, broader))
    slope_days = (more - then) / (SLOPE_STEP * MS_PER_DAY)
    gain = unsure_log_sd**2 * slope_days / (slope_days**2 * unsure_log_sd**2 + seen.sd_days**2)
    off_days = (seen.at_ms - then) / MS_PER_DAY + seen.sd_days * normals
    change = np.clip(gain * off_days, -MOST_CHANGE, MOST_CHANGE)
    log_sd = np.minimum(spread.log_sd * np.exp(change), BROADEST_LOG_SD)
    return replace(spread, log_sd=np.where(known, log_sd, spread.log_sd))


def _counted_from(
    anchor: CohortTrack,
    ends_ms: FloatArray,
    species: SpeciesParameters,
    constants: FloatArray,
    basis: ForecastBasis,
) -> FloatArray:
    """The ends of the stages counted from what was seen, as unsure as its day; what was before it stays."""
    number = zlib.crc32(anchor.cohort.encode())
    unsure = np.random.default_rng([basis.seed, number, 1]).standard_normal(ends_ms.shape[1])
    seen = stage_ends_ms(anchor, species, constants, basis.clock_of(anchor))
    seen = seen + unsure * anchor.start_sd_days * MS_PER_DAY
    return np.where(np.isnan(seen), ends_ms, seen)


def _course(case: CohortCase, shared: _Shared, extra_log_sd: FloatArray) -> CohortCourses:
    species, posterior, basis = shared.species, shared.posterior, shared.basis
    own = np.random.default_rng([basis.seed, zlib.crc32(case.track.cohort.encode())])
    stages, draws = len(posterior.stages), basis.draws.draws
    log_constants = shared.constants(case, own.standard_normal((stages, draws)), extra_log_sd)
    constants, clock_of = np.exp(log_constants), basis.clock_of(case.track)
    ways = Ways(case.track.stays(), case.track.start_ms, clock_of, draws)
    ends = stage_ends_ms(case.track, species, constants, clock_of, ways)
    normals = own.standard_normal(draws)
    later_ms = start_draws(case.evidence, log_constants, normals) * (case.track.start_sd_days * MS_PER_DAY)
    ends = ends + later_ms
    if case.anchor is not None:
        ends = _counted_from(case.anchor, ends, species, constants, basis)
    ends = _believable_ends(case.track, ends, shared, ways)
    survival = survivors(case.track, species, own, draws)
    spread = drawn_spread(posterior, species.adult, basis.farm_flies, own.standard_normal(len(survival)))
    found = CohortCourses(case.track, ends, survival, spread, later_ms=later_ms)
    if case.first_flies is not None:
        found = _with_first_flies(found, case.first_flies, species, posterior, own)
    if not shared.hot or species.death is None:
        return found
    unsure = np.exp(species.death.log_sd * own.standard_normal(draws))
    halvings = _halvings_by_heat(case.track, ends, shared) * unsure
    return replace(found, survival=found.survival * 0.5**halvings, halvings=halvings)


def _with_first_flies(
    found: CohortCourses,
    seen: Observation,
    species: SpeciesParameters,
    posterior: FarmPosterior,
    own: np.random.Generator,
) -> CohortCourses:
    half_ms, unsure = found.half_emerged_ms(species), posterior.spread_unsure_log_sd
    if half_ms is None or unsure == 0.0:
        return found
    noise = own.standard_normal(len(half_ms))
    return replace(
        found, spread=spread_seen(found.spread, seen, found.track.origin_ms, half_ms, unsure, noise)
    )
