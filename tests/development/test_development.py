"""Clocks and cohorts: exact boundaries, moves, gaps, heat, and which temperature drives a stage."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import numpy.typing as npt
import pytest
from development_builders import (
    EGG_DD,
    FLY,
    LARVA_DD,
    NOW_MS,
    PUPA_DD,
    clocks_of,
    cohort,
    daily_wave,
    steady,
    without,
)
from hypothesis import given
from hypothesis import strategies as st

from monitor.development.clocks import Clocks, PlaceClimate, stage_clocks
from monitor.development.progress import CohortTrack, Residence, advance, stage_ends_ms
from monitor.development.rates import DrivenBy
from monitor.errors import UsageError
from monitor.records import MS_PER_DAY, MS_PER_HOUR, MS_PER_MINUTE, Stage

CONSTANTS = np.array([stage.thermal_constant for stage in FLY.stages])
AT_27 = CONSTANTS / 15.0


def ends_days(track: CohortTrack, clocks: Clocks) -> npt.NDArray[np.float64]:
    ends = stage_ends_ms(track, FLY, CONSTANTS[:, None], clocks.of)[:, 0]
    return np.asarray((ends - track.start_ms) / MS_PER_DAY)


@pytest.mark.parametrize("every_minutes", [1, 30, 360])
def test_stages_end_where_the_constant_temperature_says(every_minutes: int) -> None:
    """The step of the readings must not matter: nothing is dropped at a boundary."""
    found = ends_days(cohort(0.0), clocks_of(room=steady(27.0, every_minutes=every_minutes)))

    assert found == pytest.approx(np.cumsum(AT_27), abs=1e-9)


def test_the_remainder_of_a_step_belongs_to_the_next_stage() -> None:
    """With one reading a day, dropping the overshoot would lose up to a day at each boundary."""
    coarse = ends_days(cohort(0.0), clocks_of(room=daily_wave(27.0, 0.0, every_minutes=1440)))
    fine = ends_days(cohort(0.0), clocks_of(room=daily_wave(27.0, 0.0, every_minutes=1)))

    assert coarse == pytest.approx(fine, abs=1e-9)


@given(st.lists(st.floats(0.01, 0.99), min_size=1, max_size=6), st.floats(0.0, 8.0))
def test_many_small_steps_are_one_large_step(cuts: list[float], swing: float) -> None:
    clocks, track = clocks_of(room=daily_wave(26.0, swing)), cohort(0.0)
    state = None
    for cut in sorted([*cuts, 1.0]):
        to_ms = round(cut * NOW_MS)
        state = advance(track, FLY, CONSTANTS, clocks, to_ms, state)
        direct = advance(track, FLY, CONSTANTS, clocks, to_ms)
        assert state.stage is direct.stage
        assert state.progress == pytest.approx(direct.progress, abs=1e-6)


def test_one_cohort_changes_its_stage_when_the_ensemble_does() -> None:
    clocks, track = clocks_of(room=daily_wave(26.0, 6.0)), cohort(0.0)
    ends_ms = [round(day * MS_PER_DAY) for day in ends_days(track, clocks) if np.isfinite(day)]
    inside = [at_ms for at_ms in ends_ms if at_ms < NOW_MS - 1000]
    assert inside
    for index, at_ms in enumerate(inside):
        before = advance(track, FLY, CONSTANTS, clocks, at_ms - 1000)
        after = advance(track, FLY, CONSTANTS, clocks, at_ms + 1000)
        assert before.stage is FLY.stages[index].stage
        assert (
            after.progress == 1.0
            if index + 1 == len(FLY.stages)
            else after.stage is FLY.stages[index + 1].stage
        )


def test_books_balance() -> None:
    """What the cohort earned in its stages is what the clock counted."""
    clocks, track = clocks_of(room=daily_wave(26.0, 6.0)), cohort(3.3)
    state = advance(track, FLY, CONSTANTS, clocks, 30 * MS_PER_DAY)
    index = FLY.index_of(state.stage)
    clock = clocks.of("room", FLY.stages[0])
    assert clock is not None

    counted = clock.units_at(np.array([30.0 * MS_PER_DAY])) - clock.units_at(
        np.array([float(track.start_ms)])
    )
    assert CONSTANTS[:index].sum() + state.progress * CONSTANTS[index] == pytest.approx(counted[0], abs=1e-5)


def test_moves_are_followed() -> None:
    """Half a larva's time at 22 °C takes longer than at 27 °C, by the ratio of the two rates."""
    clocks = clocks_of(warm=steady(27.0), cool=steady(22.0))
    moved_ms = round((AT_27[0] + 10.0) * MS_PER_DAY)
    track = CohortTrack("c", 0, (Residence("warm", 0), Residence("cool", moved_ms)))

    found = ends_days(track, clocks)

    assert found[0] == pytest.approx(AT_27[0])
    assert found[1] == pytest.approx(AT_27[0] + 10.0 + 150.0 / 10.0)


def test_many_sets_of_constants_use_the_same_arithmetic_as_one() -> None:
    clocks = clocks_of(warm=daily_wave(27.0, 4.0), cool=daily_wave(22.0, 3.0))
    stays = (
        Residence("warm", MS_PER_DAY),
        Residence("cool", 9 * MS_PER_DAY),
        Residence("warm", 70 * MS_PER_DAY),
    )
    track = CohortTrack("a", MS_PER_DAY, stays)
    factors = np.array([0.8, 1.0, 1.3, 3.0])

    together = stage_ends_ms(track, FLY, CONSTANTS[:, None] * factors, clocks.of)

    for column, factor in enumerate(factors):
        alone = stage_ends_ms(track, FLY, (CONSTANTS * factor)[:, None], clocks.of)[:, 0]
        assert together[:, column] == pytest.approx(alone)


def test_a_cohort_may_begin_part_of_the_way_through() -> None:
    track = replace(cohort(0.0), start_stage=Stage.PUPA, start_progress=0.5)

    found = ends_days(track, clocks_of(room=steady(27.0)))

    assert found[FLY.index_of(Stage.PUPA)] == pytest.approx(PUPA_DD / 30.0)


def test_larvae_go_by_the_substrate_and_eggs_by_the_air() -> None:
    clocks = stage_clocks([PlaceClimate("bin", steady(24.0), steady(30.0))], [FLY])

    egg, larva = clocks.of("bin", FLY.stages[0]), clocks.of("bin", FLY.stages[1])

    assert egg is not None and larva is not None
    assert (egg.used, larva.used) == (DrivenBy.AIR, DrivenBy.SUBSTRATE)
    assert ends_days(cohort(0.0, place="bin"), clocks)[:2] == pytest.approx(
        [EGG_DD / 12, EGG_DD / 12 + LARVA_DD / 18]
    )


def test_without_a_probe_the_air_stands_in_and_says_so() -> None:
    clocks = stage_clocks([PlaceClimate("bin", air=steady(24.0))], [FLY])
    larva = clocks.of("bin", FLY.stages[1])

    assert larva is not None
    assert larva.used is DrivenBy.AIR


def test_stages_with_one_law_share_one_clock() -> None:
    clocks = clocks_of(room=steady(27.0))

    assert clocks.of("room", FLY.stages[0]) is clocks.of("room", FLY.stages[3])


def test_estimated_hours_are_counted() -> None:
    track = cohort(0.0)
    state = advance(track, FLY, CONSTANTS, clocks_of(room=without(daily_wave(26, 4), 10, 11)), NOW_MS)

    assert state.estimated_hours == pytest.approx(24.0)
    assert state.unknown_since_ms is None


def test_a_filled_gap_is_growth() -> None:
    whole = ends_days(cohort(0.0), clocks_of(room=daily_wave(26.0, 4.0)))
    holed = ends_days(cohort(0.0), clocks_of(room=without(daily_wave(26.0, 4.0), 12.0, 13.9)))

    assert holed == pytest.approx(whole, abs=0.1)


def test_after_a_long_gap_the_progress_is_unknown() -> None:
    track = cohort(0.0)
    clocks = clocks_of(room=without(daily_wave(26.0, 4.0), 10.0, 12.5))

    before = advance(track, FLY, CONSTANTS, clocks, 10 * MS_PER_DAY)
    after = advance(track, FLY, CONSTANTS, clocks, NOW_MS)

    assert before.unknown_since_ms is None
    assert after.unknown_since_ms == 10 * MS_PER_DAY
    assert after.stage is FLY.stages[FLY.index_of(Stage.EGG) + 1].stage


def test_a_gap_before_the_cohort_came_does_not_matter() -> None:
    track = cohort(13.0)
    clocks = clocks_of(room=without(daily_wave(26.0, 4.0), 10.0, 12.5))

    assert advance(track, FLY, CONSTANTS, clocks, NOW_MS).unknown_since_ms is None


def test_a_place_without_any_reading_is_unknown() -> None:
    track = cohort(1.0, place="elsewhere")

    state = advance(track, FLY, CONSTANTS, clocks_of(room=steady(27.0)), NOW_MS)

    assert state.unknown_since_ms == MS_PER_DAY
    assert np.isinf(ends_days(track, clocks_of(room=steady(27.0)))).all()


def test_heat_hours_count_in_every_stage_before_the_fly() -> None:
    """Eggs count too: they cannot flee. Flies do not."""
    eggs, flies = cohort(0.0), replace(cohort(0.0), start_stage=Stage.ADULT)
    hot = clocks_of(room=steady(36.0))

    assert advance(eggs, FLY, CONSTANTS, hot, 4 * MS_PER_DAY).heat_hours == pytest.approx(96.0)
    assert advance(flies, FLY, CONSTANTS, hot, 2 * MS_PER_DAY).heat_hours == 0.0


def test_a_cold_place_never_ends() -> None:
    found = ends_days(cohort(0.0), clocks_of(room=steady(10.0)))

    assert np.isinf(found).all()


def test_after_the_end_of_the_last_stage_nothing_changes() -> None:
    clocks, track = clocks_of(room=steady(31.0)), cohort(0.0)
    state = advance(track, FLY, CONSTANTS, clocks, NOW_MS)

    assert (state.stage, state.progress) == (FLY.stages[-1].stage, 1.0)
    assert state.at_ms < NOW_MS
    assert advance(track, FLY, CONSTANTS, clocks, NOW_MS, state) == state


def test_clock_reads_both_ways() -> None:
    clock = clocks_of(room=daily_wave(20.0, 14.0)).of("room", FLY.stages[0])
    assert clock is not None
    times = np.linspace(0.0, NOW_MS + 5.0 * MS_PER_DAY, 500)

    back = clock.time_at(clock.units_at(times))

    running = clock.units_at(times) - clock.units_at(times - MS_PER_MINUTE) > 1e-6
    assert np.abs(back - times)[running].max() < 1.0
    assert (back <= times + 1.0).all()


def test_thinned_clock_keeps_its_readings() -> None:
    clock = clocks_of(room=daily_wave(27.0, 4.0, every_minutes=1)).of("room", FLY.stages[0])
    assert clock is not None
    thin = clock.thinned(15 * MS_PER_MINUTE)
    times = np.arange(0.0, NOW_MS, MS_PER_HOUR)

    assert len(thin.times_ms) < len(clock.times_ms) / 14
    assert np.abs(thin.units_at(times) - clock.units_at(times)).max() < 1e-9


def test_constant_temperature_never_warm_enough() -> None:
    ends = stage_ends_ms(cohort(0.0), FLY, CONSTANTS[:, None], clocks_of(room=steady(12.0)).of)

    assert np.isinf(ends).all()


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"residences": ()}, "cohort c lives nowhere"),
        ({"residences": (Residence("a", 5), Residence("b", 5))}, "moves must be in the order of time"),
        ({"start_progress": 1.0}, "start_progress is 1; allowed: 0 up to 1"),
    ],
)
def test_refused_cohorts(change: dict[str, object], message: str) -> None:
    with pytest.raises(UsageError, match=message):
        replace(cohort(0.0), **change)  # type: ignore[arg-type]
