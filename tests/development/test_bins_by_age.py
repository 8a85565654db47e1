"""Bins that heat themselves: their future is that of animals as far grown, and then of the box.

The truth comes from two generators that are not the model (`bin_farms`). The study prints its figures, for
the drawing from all days of all bins (as it was) and for that by growth with the usual move.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import UTC

import numpy as np
import pytest
from bin_farms import BinFarm, bin_farm
from cohort_book import Book
from development_builders import FLY, NOW_MS, clocks_of, daily_wave, steady

from monitor.bins.excess import expected_excess_k
from monitor.bins.substrate import BinFacts
from monitor.climate.arrays import FloatArray
from monitor.development.bin_days import CohortFutures, SelfHeating
from monitor.development.clocks import Clock, Clocks, PlaceClimate, stage_clocks
from monitor.development.courses import ForecastBasis, forecast_basis
from monitor.development.ensemble import ensemble_clocks, future_draws
from monitor.development.events import Event
from monitor.development.farm_learning import FarmLearning, learn_farm
from monitor.development.forecast import as_seen, forecast_cohorts
from monitor.development.posterior import Evidence, learn_cohort_spread, prior_posterior
from monitor.development.progress import LEAVES_AT, Cohort, CohortTrack, Leaving, Life, life_of, usual_leaving
from monitor.development.temperature_series import ExpectedExcess, TemperatureSeries, series_of
from monitor.records import MS_PER_DAY, MS_PER_HOUR, Stage

LARVA = FLY.stages[FLY.index_of(Stage.LARVA)]
EGG = FLY.stages[FLY.index_of(Stage.EGG)]
PRIOR = prior_posterior(FLY).mean
AGES = np.arange(-4.0, 41.0)
DRAWS = 200


@dataclass(frozen=True)
class Scene:
    """What is known of a farm at a moment."""

    farm: BinFarm
    now_ms: int
    climates: Sequence[PlaceClimate]
    cohorts: Sequence[Cohort]
    learning: FarmLearning
    clocks: Clocks

    @property
    def places(self) -> tuple[str, ...]:
        return (*self.farm.substrate, "tray")


@dataclass(frozen=True)
class Miss:
    """One forecast of an event: how far ahead it lay, how late it was forecast [d], whether it was held."""

    event: Event
    from_bin: bool
    ahead_days: float
    late_days: float
    held: bool


Make = Callable[[Scene], ForecastBasis]


def by_all_days(scene: Scene) -> ForecastBasis:
    """As it was: all days of all bins, whatever lived in them, and no move that was not planned."""
    return forecast_basis(scene.clocks, scene.now_ms, 0, 1, DRAWS, scene.places)


def by_growth(scene: Scene) -> ForecastBasis:
    mean = scene.learning.posteriors[None].mean
    found = (life_of(cohort, FLY, mean, scene.clocks) for cohort in scene.cohorts)
    lives = {life.cohort: life for life in found if life is not None}
    heated = {each.place: each for each in scene.climates if each.place in scene.places}
    facts = BinFacts(0.24, 0, 10.0, 0.7)
    expected = ExpectedExcess(AGES * 15.0 / float(np.exp(mean[1])), expected_excess_k(facts, AGES, 26.0))
    leaving = usual_leaving(lives, scene.places, ("box",), scene.now_ms, "box")
    around = stage_clocks([PlaceClimate(place, each.air) for place, each in heated.items()], [FLY])
    heating = SelfHeating(heated, frozenset(scene.farm.substrate), lives, expected, leaving, around)
    return forecast_basis(scene.clocks, scene.now_ms, 0, 1, DRAWS, scene.places, heating, LARVA)


def scene_at(farm: BinFarm, day: int) -> Scene:
    now_ms = farm.at_ms(day * 24 + 9)
    climates, cohorts = farm.climates(now_ms), farm.book(now_ms)
    clocks = stage_clocks(climates, [FLY])
    return Scene(
        farm, now_ms, climates, cohorts, learn_farm(cohorts, {None: FLY}, clocks, UTC, now_ms), clocks
    )


def misses(scene: Scene, make: Make) -> list[Miss]:
    """Every event that lies ahead of a living cohort, against the truth."""
    living = [cohort for cohort in scene.cohorts if cohort.ended is None]
    cases = [scene.learning.cases[cohort.name] for cohort in living]
    made = forecast_cohorts(cases, FLY, scene.learning.posteriors[None], make(scene))
    lives = {life.name: life for life in scene.farm.lives}
    found = []
    for cohort, forecast in zip(living, made, strict=True):
        in_bin = cohort.track.residences[-1].place in scene.farm.substrate
        for event in as_seen(forecast, cohort.seen, laid=False).events:
            hour = lives[cohort.name].events.get(event.event)
            if hour is None or any(seen.event is event.event for seen in cohort.seen):
                continue
            true_ms = scene.farm.at_ms(hour)
            ahead, late = (true_ms - scene.now_ms) / MS_PER_DAY, (event.median_ms - true_ms) / MS_PER_DAY
            if ahead > 0.0:
                held = event.low_ms <= true_ms <= event.high_ms
                found.append(Miss(event.event, in_bin, ahead, late, held))
    return found


@dataclass(frozen=True)
class Score:
    """Mean lateness and mean error [d], share held [1], number."""

    late: float
    error: float
    held: float
    number: int

    def __str__(self) -> str:
        return f"late {self.late:+.2f} d, error {self.error:.2f} d, held {self.held:.0%} of {self.number}"


def score(found: Sequence[Miss], from_days: float, to_days: float, *events: Event) -> Score:
    """Of cohorts in bins, events so far ahead."""
    mine = [
        each
        for each in found
        if each.from_bin and from_days <= each.ahead_days <= to_days and (each.event in events or not events)
    ]
    late = np.array([each.late_days for each in mine])
    held = float(np.mean([each.held for each in mine]))
    return Score(float(late.mean()), float(np.abs(late).mean()), held, len(mine))


def played(farms: int, days: Sequence[int], *, growth: bool) -> dict[str, list[Miss]]:
    found: dict[str, list[Miss]] = {"all days": [], "by growth": []}
    for seed in range(farms):
        farm = bin_farm(seed, growth=growth, days=max(days) + 40)
        for day in days:
            scene = scene_at(farm, day)
            found["all days"] += misses(scene, by_all_days)
            found["by growth"] += misses(scene, by_growth)
    return found


@pytest.mark.study
@pytest.mark.parametrize("growth", [False, True], ids=["demo-like", "by-growth"])
def test_study_of_bins(growth: bool, capsys: pytest.CaptureFixture[str]) -> None:
    """40 farms, four origins each, settled and new ones; the held share has a standard error of about 3 %."""
    for days, of in (((92, 99, 106, 113), "settled"), ((26, 33), "new")):
        found = played(40, days, growth=growth)
        with capsys.disabled():
            for name, each in found.items():
                near, all_near, far = (
                    score(each, 4.0, 9.0, Event.FIRST_PREPUPAE),
                    score(each, 4.0, 9.0),
                    score(each, 16.0, 30.0),
                )
                sys.stdout.write(
                    f"\n{of} farms, growth {growth}, {name}:\n  first prepupae 4-9 d: {near}\n"
                    f"  all events 4-9 d: {all_near}\n  all events 16-30 d: {far}\n"
                )
        near, far = (
            score(found["by growth"], 4.0, 9.0, Event.FIRST_PREPUPAE),
            score(found["by growth"], 16.0, 30.0),
        )
        if of == "settled":
            assert abs(near.late) < 0.6, near
            assert near.error < 0.9, near
            assert 0.7 <= near.held <= 0.95, near
        assert far.error < 0.8 * score(found["all days"], 16.0, 30.0).error


@pytest.mark.parametrize("growth", [False, True], ids=["demo-like", "by-growth"])
def test_a_few_farms_with_bins(growth: bool) -> None:
    """Four farms of the study, quick enough for every run: much better far ahead, no worse near by."""
    found = played(4, (99,), growth=growth)
    before, after = (score(found[name], 16.0, 30.0) for name in ("all days", "by growth"))

    assert after.error < 0.8 * before.error, (before, after)
    assert abs(after.late) < 1.0, after
    assert after.held > before.held
    assert score(found["by growth"], 4.0, 9.0).error < score(found["all days"], 4.0, 9.0).error + 0.2


# One law of heat, steady weather: what is drawn can be told by hand.


def _bin_c(room_c: float, grown: FloatArray) -> FloatArray:
    return np.asarray(room_c + 6.0 * np.exp(-(((grown - 0.6) / 0.2) ** 2)))


def _life(name: str, place: str, start_day: float, until_day: float = np.inf) -> Life:
    """Larvae that need twenty days, evenly."""
    times = np.array([start_day, 60.0]) * float(MS_PER_DAY)
    stay = (place, start_day * MS_PER_DAY, until_day * MS_PER_DAY)
    return Life(name, times, np.array([0.0, (60.0 - start_day) / 20.0]), 300.0, (stay,), 1000.0)


def _series(place_c: Callable[[FloatArray], FloatArray]) -> TemperatureSeries:
    times = np.arange(0, 60 * 24 + 1, dtype=np.int64) * MS_PER_HOUR
    return series_of(times, place_c(times / MS_PER_DAY))


ROOM = steady(22.0, every_minutes=60)
FIRST = _series(lambda day: _bin_c(22.0, day % 20.0 / 20.0))
SECOND = _series(lambda day: _bin_c(22.0, (day - 54.0) / 20.0))
BOX = steady(20.0)


def _heating(leaving: Leaving | None = None, room: TemperatureSeries = ROOM) -> SelfHeating:
    lives = [_life(f"old-{n}", "bin-1", 20.0 * n, 20.0 * n + 20.0) for n in range(3)]
    lives.append(_life("young", "bin-2", 54.0))
    climates = {
        "bin-1": PlaceClimate("bin-1", room, FIRST),
        "bin-2": PlaceClimate("bin-2", room, SECOND),
    }
    probed = frozenset(climates)
    return SelfHeating(climates, probed, {life.cohort: life for life in lives}, None, leaving)


def _young() -> CohortTrack:
    """The cohort that lives in the second bin."""
    track = Book().eggs("young", 54.0).read().cohorts["young"].track
    return replace(track, residences=tuple(replace(stay, place="bin-2") for stay in track.residences))


def _clock(heating: SelfHeating, stage_of: object = LARVA) -> Clock:
    climates = [*heating.climates.values(), PlaceClimate("box", BOX, BOX)]
    clocks, draws = stage_clocks(climates, [FLY]), future_draws(1, 400)
    plain = ensemble_clocks(clocks, draws, NOW_MS, tuple(heating.climates))
    futures = CohortFutures(heating, clocks, plain, draws, NOW_MS, LARVA)
    clock = futures.of(_young())("bin-2", LARVA if stage_of is LARVA else EGG)
    assert clock is not None
    return clock


def _earned(clock: Clock, days: float) -> FloatArray:
    courses = np.arange(400)
    now, then = (np.full(400, at) for at in (float(NOW_MS), NOW_MS + days * MS_PER_DAY))
    return clock.units_at(then, courses) - clock.units_at(now, courses)


def _median(values: FloatArray) -> float:
    return float(np.median(values))


def test_a_bin_is_drawn_from_days_of_animals_as_far_grown() -> None:
    """At a share of 0.3 with the peak ahead: 12 days bring 10 units each, and the excess of those ages."""
    ahead = 0.3 + np.arange(0.0, 9.0, 1.0 / 24.0) / 20.0
    by_hand = float(np.mean(_bin_c(22.0, ahead) - 12.0)) * 9.0
    pooled = ensemble_clocks(
        stage_clocks(_heating().climates.values(), [FLY]), future_draws(1, 400), NOW_MS, ("bin-1", "bin-2")
    )("bin-2", LARVA)
    assert pooled is not None

    drawn, before = _earned(_clock(_heating()), 9.0), _earned(pooled, 9.0)
    assert _median(drawn) == pytest.approx(by_hand, rel=0.06)
    assert abs(_median(before) - by_hand) > 0.1 * by_hand


def test_the_weather_of_old_days_is_not_taken_for_heat_of_the_animals() -> None:
    """The room was 4 K warmer until ten days ago; the substrate fell with it."""
    room = _series(lambda day: np.where(day < 45.0, 26.0, 22.0))
    heating = _heating(room=room)
    first = heating.climates["bin-1"].substrate
    assert first is not None
    warm = series_of(
        first.times_ms, first.temperatures_c + np.where(first.times_ms < 45 * MS_PER_DAY, 4.0, 0.0)
    )
    moved = {**heating.climates, "bin-1": PlaceClimate("bin-1", room, warm)}
    drawn = _earned(_clock(replace(heating, climates=moved)), 9.0)
    steady_room = _earned(_clock(_heating()), 9.0)

    assert _median(drawn) == pytest.approx(_median(steady_room), rel=0.05)


def test_after_the_usual_move_it_goes_by_the_box() -> None:
    """8 units a day in the box of 20 °C."""
    stays, leaves = (_clock(_heating(each)) for each in (None, Leaving("box", 0.6, 0.01)))

    assert np.allclose(_earned(stays, 4.0), _earned(leaves, 4.0))
    assert _median(_earned(leaves, 30.0) - _earned(leaves, 20.0)) == pytest.approx(80.0, rel=0.02)


def test_a_day_in_a_bin_nobody_lives_in_tells_nothing() -> None:
    heating = _heating()
    empty = {
        name: replace(life, stays=tuple((place, a, min(b, a + 1.0)) for place, a, b in life.stays))
        for name, life in heating.lives.items()
        if name != "young"
    }
    young = {"young": heating.lives["young"]}
    drawn = _earned(_clock(replace(heating, lives=empty | young)), 9.0)
    own_c = float(SECOND.temperatures_c[-6 * 24 :].mean())
    assert float(drawn.max()) < 9.0 * (float(SECOND.temperatures_c.max()) - 12.0) * 1.1
    assert _median(drawn) == pytest.approx(9.0 * (own_c - 12.0), rel=0.15)


def test_growth_is_counted_from_hatching_and_is_one_at_the_prepupa() -> None:
    """At 27 °C each stage takes its constant by 15 days."""
    cohort = Book().eggs("x", 20.0).read().cohorts["x"]
    clocks = clocks_of(FLY, tray=steady(27.0))
    life = life_of(cohort, FLY, PRIOR, clocks)
    assert life is not None
    lasts = LARVA.thermal_constant / 15.0
    hatched = 20.0 + EGG.thermal_constant / 15.0
    at = np.array([20.0, hatched, hatched + lasts / 2.0, hatched + lasts]) * float(MS_PER_DAY)
    assert np.allclose(
        life.grown_at(at), [-EGG.thermal_constant / LARVA.thermal_constant, 0.0, 0.5, 1.0], atol=0.01
    )


def test_eggs_that_have_not_hatched_are_below_zero() -> None:
    cohort = Book().eggs("x", 58.0).read().cohorts["x"]
    life = life_of(cohort, FLY, PRIOR, clocks_of(FLY, tray=daily_wave(27.0, 2.0)))
    assert life is not None
    grown = float(life.grown_at(np.array([float(NOW_MS)]))[0])
    assert grown == pytest.approx(-(EGG.thermal_constant - 30.0) / LARVA.thermal_constant, abs=0.005)


def test_the_usual_move_is_the_default_until_some_were_made() -> None:
    assert usual_leaving({}, ("bin",), ("box",), NOW_MS, "room") == Leaving("room")
    lives = {}
    for number in range(8):
        times = np.array([0.0, 10.0, 60.0]) * float(MS_PER_DAY)
        stays = (("bin", 0.0, 10.0 * MS_PER_DAY), ("box", 10.0 * MS_PER_DAY, np.inf))
        lives[f"c{number}"] = Life(f"c{number}", times, np.array([0.0, 1.1, 2.0]), 300.0, stays)
    learned = usual_leaving(lives, ("bin",), ("box",), NOW_MS, "room")

    assert learned.place == "box"
    assert learned.moves == 8
    assert LEAVES_AT < learned.grown < 1.1
    assert learned.grown == pytest.approx(1.1, abs=0.03)
    assert learned.sd < 0.1


def test_the_heat_balance_follows_the_age_of_the_larvae() -> None:
    """A feeding bin rises, is warmest before its larvae are full grown, and cools when the feed is gone."""
    facts = BinFacts(0.24, 0, 10.0, 0.7)
    ages = np.arange(0.0, 31.0)
    excess_k = expected_excess_k(facts, ages, 26.0)

    assert float(expected_excess_k(facts, np.array([-2.0]), 26.0)[0]) == 0.0
    assert 3.0 < excess_k.max() < 20.0
    assert 9.0 <= ages[int(np.argmax(excess_k))] <= 18.0
    assert excess_k[30] < 0.3 * excess_k.max()


@pytest.mark.parametrize("true_sd", [0.03, 0.14])
def test_the_spread_between_cohorts_is_learned(true_sd: float) -> None:
    """Forty larval stages seen to within 2 %; the species file says 0.08."""
    random = np.random.default_rng(5)
    weights = np.zeros((1, len(FLY.stages)))
    weights[0, 1] = 1.0
    seen = [
        Evidence(weights, PRIOR[1:2] + random.normal(0.0, true_sd, 1), np.array([[0.02**2]]))
        for _ in range(40)
    ]
    learned = learn_cohort_spread(prior_posterior(FLY), seen)

    assert learn_cohort_spread(prior_posterior(FLY), ()).cohort_log_sd == FLY.cohort_log_sd
    assert learned.cohort_log_sd == pytest.approx(true_sd, rel=0.3)


def test_who_is_far_beyond_the_usual_move_seems_to_stay() -> None:
    """Grown to 0.3 now: far beyond a move at 0.1, and before one at 0.25 of which the farm is less sure."""
    moves = [
        _heating(Leaving("box", grown, sd)).move_of(_young(), NOW_MS)
        for grown, sd in ((0.1, 0.02), (0.25, 0.05))
    ]
    assert moves == [None, Leaving("box", 0.25, 0.05)]


def test_a_stage_by_the_air_leaves_for_the_box_too() -> None:
    stays, leaves = (_clock(_heating(each), EGG) for each in (None, Leaving("box", 0.6, 0.01)))
    tenth_day = [_median(_earned(each, 30.0) - _earned(each, 20.0)) for each in (stays, leaves)]
    assert tenth_day == pytest.approx([100.0, 80.0], rel=0.02)
