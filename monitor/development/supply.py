"""Living flies of a love cage over the coming weeks, the days with too few, and what can still be done.

Eggs of a day are those of the females that came out one female's lag before: the spread of a cage is that of
the emergence with that of one female's lag upon it.

All cohorts are added up course by course: they share their farm and their weather, so the band of the sum is
honest.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from monitor.climate.arrays import FloatArray, Values, mean_and_band
from monitor.development.clocks import Clock
from monitor.development.courses import CohortCase, CohortCourses, ForecastBasis, courses_of
from monitor.development.events import Event, ended_stage, log_sd_of, normal_share, spread_of
from monitor.development.forecast import CohortForecast, quantiles
from monitor.development.posterior import FarmPosterior
from monitor.development.progress import CohortTrack, Residence
from monitor.development.rates import AdultLife, SpeciesParameters, StageParameters
from monitor.records import MS_PER_DAY, Stage

SUPPLY_COURSES = 200
"""Courses that are added up [1]; they carry no order, so the first ones stand for all. Own choice."""
LOOK_BACK_DAYS = 40
"""Flies that came out up to this long ago are counted, if they still live [d]."""


@dataclass(frozen=True, slots=True)
class SupplyDay:
    """One day of one cage: living flies at midday with their 80 % band; eggs are a rough figure."""

    day_start_ms: int
    living: float
    low: float
    high: float
    eggs: float


@dataclass(frozen=True, slots=True)
class CageSupply:
    """The coming days of one cage; `uncounted` are cohorts left out because their number is not known."""

    cage: str
    days: tuple[SupplyDay, ...]
    least_flies: float
    uncounted: tuple[str, ...]

    @property
    def short_days(self) -> tuple[SupplyDay, ...]:
        """Days on which the cage is expected to hold fewer flies than it should."""
        return tuple(day for day in self.days if day.living < self.least_flies)

    @property
    def gap(self) -> SupplyDay | None:
        """The first short day after a day with enough; the first short day when there was none."""
        enough = next((i for i, day in enumerate(self.days) if day.living >= self.least_flies), 0)
        return next((day for day in self.days[enough:] if day.living < self.least_flies), None)


@dataclass(frozen=True, slots=True)
class LatestStart:
    """When animals of a stage must be set aside to fill a gap.

    Nine times in ten they come in time until `safe_ms`, one time in two until `even_ms`. `animals` of the
    stage fill the gap at its peak; a rough figure.
    """

    stage: Stage
    safe_ms: float
    even_ms: float
    animals: float


@dataclass(frozen=True, slots=True)
class HoldBack:
    """A cohort whose flies would fill the gap, and the latest day to decide that it is kept for breeding."""

    cohort: str
    latest_ms: float
    half_emerged_ms: float


def living_share(age_days: Values, mean_life_days: float, variation: float) -> FloatArray:
    """Share of adults that still live at an age [d]; 0 at a negative age, before they have come out.

    Log-normal length of life with a mean [d] and a coefficient of variation [1]. Source: own choice; means
    from Tomberlin, Sheppard & Joyce 2002 for black soldier fly.
    """
    age = np.asarray(age_days, dtype=np.float64)
    log_sd = log_sd_of(variation)
    middle = np.log(mean_life_days) - log_sd**2 / 2.0
    lived = normal_share((np.log(np.maximum(age, 1e-6)) - middle) / log_sd)
    return np.where(age < 0.0, 0.0, 1.0 - lived)


def cage_supply(
    cage: str,
    courses: Sequence[CohortCourses],
    species: SpeciesParameters,
    posterior: FarmPosterior,
    basis: ForecastBasis,
    least_flies: float,
    days: int = 30,
) -> CageSupply:
    """Living flies of a cage on each of the coming days: mean, 80 % band, and rough eggs a day.

    `courses` are the cohorts whose flies go into it, also those that came out lately. living(d) is the sum
    over days e <= d of emergence(e) times the share that lives d - e days.
    """
    first = (basis.now_ms - basis.day_origin_ms) // MS_PER_DAY - LOOK_BACK_DAYS
    edges = basis.day_origin_ms + (first + np.arange(LOOK_BACK_DAYS + days + 1)) * float(MS_PER_DAY)
    del posterior  # Each course carries its own spread; the argument stays for those who call this.
    counted = [course for course in courses if course.track.count is not None]
    uncounted = tuple(course.track.cohort for course in courses if course.track.count is None)
    shape = (min(SUPPLY_COURSES, basis.draws.draws), len(edges) - 1)
    living, eggs = np.zeros(shape), np.zeros(shape)
    for course in counted:
        parts = daily_flies(course, species, edges, shape[0])
        living += _living(parts, species.adult)
        eggs += _eggs(parts[0], course, species)
    return CageSupply(cage, _supply_days(edges, living, eggs, days), least_flies, uncounted)


def daily_flies(
    course: CohortCourses, species: SpeciesParameters, edges: FloatArray, number: int
) -> tuple[FloatArray, FloatArray]:
    """Females and males that come out on each day between edges [ms], each of shape (number, days)."""
    if course.track.start_stage is Stage.ADULT:
        return _put_in(course, species, edges, number)
    half = course.half_emerged_ms(species)
    if half is None or course.track.count is None:
        nothing = np.zeros((number, len(edges) - 1))
        return nothing, nothing
    some = np.where(np.isfinite(half[:number]), half[:number], edges[-1] + 1e6 * MS_PER_DAY)
    spread = course.spread.of_courses(slice(number))
    shares = spread.emerged_share(edges, course.track.origin_ms, some)
    flies = course.track.count * course.survival[:number, None]
    return np.diff(shares[0], axis=1) * flies, np.diff(shares[1], axis=1) * flies


def _put_in(
    course: CohortCourses, species: SpeciesParameters, edges: FloatArray, number: int
) -> tuple[FloatArray, FloatArray]:
    """Females and males that began as flies: all of them on the day on which they came out."""
    females, males = (np.zeros((number, len(edges) - 1)) for _ in range(2))
    day = int(np.searchsorted(edges, _came_out_ms(course, species), side="right")) - 1
    if 0 <= day < len(edges) - 1:
        flies = course.track.count or 0.0
        females[:, day] = flies * np.asarray(course.spread.of_courses(slice(number)).female_share)
        males[:, day] = flies - females[:, day]
    return females, males


def _came_out_ms(course: CohortCourses, species: SpeciesParameters) -> float:
    """When flies that were put in came out: before the start by what they had lived of their stage."""
    track = course.track
    began_ms = track.start_ms + (0.0 if course.later_ms is None else course.later_ms)
    left = course.ends_ms[species.index_of(Stage.ADULT)] - began_ms
    known = left[np.isfinite(left)]
    if not track.start_progress or not len(known):
        return float(track.start_ms)
    return track.start_ms - float(np.median(known)) * track.start_progress / (1.0 - track.start_progress)


def _living(parts: tuple[FloatArray, FloatArray], adult: AdultLife) -> FloatArray:
    ages = np.arange(parts[0].shape[1])[None, :] - np.arange(parts[0].shape[1])[:, None]
    females = parts[0] @ living_share(ages, adult.female_life_days, adult.life_variation)
    males = parts[1] @ living_share(ages, adult.male_life_days, adult.life_variation)
    return np.asarray(females + males)


def _eggs(females: FloatArray, course: CohortCourses, species: SpeciesParameters) -> FloatArray:
    """Eggs of each day, shape (courses, days): of all females that came out, over their days of laying."""
    adult, eggs = species.adult, np.zeros(females.shape)
    if not species.has(Stage.ADULT) or sum(adult.eggs_per_female) == 0.0:
        return eggs
    laid = laid_share(_lags_days(course, species)[: len(females)], adult, females.shape[1])
    lives = living_share(np.arange(float(laid.shape[1])), adult.female_life_days, adult.life_variation)
    for age in np.flatnonzero(laid.any(axis=0)):
        eggs[:, age:] += females[:, : females.shape[1] - age] * laid[:, age : age + 1] * lives[age]
    return np.asarray(eggs * (sum(adult.eggs_per_female) / 2.0))


def _lags_days(course: CohortCourses, species: SpeciesParameters) -> FloatArray:
    """Middle lag from emergence to eggs in each course [d]; infinite where it is too cold to lay."""
    index = species.index_of(Stage.ADULT)
    put_in = course.track.start_stage is Stage.ADULT
    came_out_ms = _came_out_ms(course, species) if put_in else course.ends_ms[index - 1]
    some = np.where(np.isfinite(came_out_ms), came_out_ms, 0.0)
    known = np.isfinite(came_out_ms) & np.isfinite(course.ends_ms[index])
    return np.asarray(np.where(known, (course.ends_ms[index] - some) / MS_PER_DAY, np.inf))


def laid_share(lag_days: FloatArray, adult: AdultLife, days: int) -> FloatArray:
    """Share of its eggs that a female lays on each day of its life.

    Parameters
    ----------
    lag_days : array
        Middle lag from emergence to eggs, shape (courses,) [d]; infinite where none are laid.
    adult : AdultLife
        Variation of the lag between females.
    days : int
        Days of life to look at; day 0 is that on which the female came out.

    Returns
    -------
    array
        Shape (courses, days) [1]; the days of a course sum to 1 unless its lag is too long for them.

    Source
    ------
    Own choice (log-normal); the variation stands in the species file.
    """
    known = np.isfinite(lag_days)
    log_sd = max(log_sd_of(adult.laying_variation), 1e-3)
    middle = np.log(np.maximum(np.where(known, lag_days, days), 1e-3))
    ends = np.log(np.maximum(np.arange(days + 1) - 0.5, 1e-6))
    laid = np.diff(normal_share((ends[None, :] - middle[:, None]) / log_sd), axis=1)
    return np.asarray(np.where(known[:, None], laid, 0.0))


def _supply_days(edges: FloatArray, living: FloatArray, eggs: FloatArray, days: int) -> tuple[SupplyDay, ...]:
    (mean, low, high), laid = mean_and_band(living), eggs.mean(axis=0)
    numbers = range(len(edges) - 1 - days, len(edges) - 1)
    return tuple(
        SupplyDay(int(edges[i]), float(mean[i]), float(low[i]), float(high[i]), float(laid[i]))
        for i in numbers
    )


def latest_starts(
    gap_ms: float,
    missing_flies: float,
    route: Mapping[Stage, str],
    species: SpeciesParameters,
    posterior: FarmPosterior,
    basis: ForecastBasis,
) -> tuple[LatestStart, ...]:
    """Until when eggs, larvae, prepupae or pupae must be set aside so that a gap does not open.

    `route` says where each stage would live. One for each stage before the adult: the gap less a quantile of
    the time from the beginning of the stage to half emergence, as the places are now. A time in the past
    means too late.
    """

    def clock_on_route(place: str, stage: StageParameters) -> Clock | None:
        return basis.ensemble(route.get(stage.stage, place), stage)

    routed = replace(basis, ensemble=clock_on_route, futures=None)
    last = ended_stage(Event.HALF_EMERGED, species)
    stages = species.stages[: 0 if last is None else last + 1]
    return tuple(
        _latest_start(stage.stage, gap_ms, missing_flies, species, posterior, routed) for stage in stages
    )


def _latest_start(
    stage: Stage,
    gap_ms: float,
    missing_flies: float,
    species: SpeciesParameters,
    posterior: FarmPosterior,
    basis: ForecastBasis,
) -> LatestStart:
    here = (Residence("", basis.now_ms),)
    track = CohortTrack(f"new {stage}", basis.now_ms, here, stage, start_sd_days=0.0)
    course = courses_of([CohortCase(track)], species, posterior, basis)[0]
    half = course.half_emerged_ms(species)
    waits = np.array([np.inf]) if half is None else half - basis.now_ms
    even, safe = quantiles(waits, (0.5, 0.9))
    animals = missing_flies / _peak_share(course, species, posterior)
    return LatestStart(stage, gap_ms - safe, gap_ms - even, animals)


def _peak_share(course: CohortCourses, species: SpeciesParameters, posterior: FarmPosterior) -> float:
    """Largest share of a cohort's animals that live as flies at the same time, in the middle course."""
    half = course.half_emerged_ms(species)
    if half is None or not np.isfinite(np.median(half)):
        return float("nan")
    origin, middle = course.track.start_ms, float(np.median(half))
    edges = middle + np.arange(-30, 31) * float(MS_PER_DAY)
    spread = spread_of(posterior.spread_log_sd, species.adult)
    shares = spread.emerged_share(edges, origin, np.array([middle]))
    living = _living((np.diff(shares[0], axis=1), np.diff(shares[1], axis=1)), species.adult)
    return float(living.max() * course.survival.mean())


def hold_back(
    gap_ms: float, forecasts: Sequence[CohortForecast], species: SpeciesParameters
) -> tuple[HoldBack, ...]:
    """Cohorts, meant for feed or harvest, whose flies would live in the gap if they are kept for breeding.

    The earliest decision first; only those that have not left their larval stage yet. Half emergence lies
    before the gap by no more than a female's life; the decision must fall before the first prepupae leave, at
    the early end of their window.
    """
    options = []
    for forecast in forecasts:
        half = forecast.event(Event.HALF_EMERGED)
        leaving = forecast.event(Event.FIRST_PREPUPAE) or half
        if half is None or leaving is None or leaving.low_ms <= forecast.made_ms:
            continue
        if gap_ms - species.adult.female_life_days * MS_PER_DAY <= half.median_ms <= gap_ms:
            options.append(HoldBack(forecast.cohort, leaving.low_ms, half.median_ms))
    return tuple(sorted(options, key=lambda option: option.latest_ms))
