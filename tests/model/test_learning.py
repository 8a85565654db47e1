"""The whole logbook at once, and what a forecast says about itself."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from development_builders import FLY, NOW_MS, clocks_of, cohort, daily_wave, steady, without

from monitor.model.belief import learned_constants, prior_belief
from monitor.model.courses import forecast_basis
from monitor.model.events import Event, Observation
from monitor.model.forecast import CohortForecast, Heat, forecast_cohorts
from monitor.model.forecast_words import remarks
from monitor.model.individuals import emerged_share
from monitor.model.learning import DayCount, WatchedCohort, farm_lesson
from monitor.model.rates import DrivenBy
from monitor.records import MS_PER_DAY, Stage

PRIOR = prior_belief(FLY)


def hatched(start_day: float, name: str) -> WatchedCohort:
    """Hatched a sixth later than the table says, at 27 °C."""
    seen = Observation(Event.HATCH, round((start_day + 60.0 / 15.0) * MS_PER_DAY), 0.1)
    return WatchedCohort(cohort(start_day, name), (seen,))


def counted(start_day: float, middle_days: float, log_sd: float) -> WatchedCohort:
    """A thousand flies, counted every day from the first to the last."""
    days = np.arange(20.0, 80.0)
    edges = np.append(days, 80.0) * MS_PER_DAY
    females, males = emerged_share(edges, 0.0, np.array([middle_days * MS_PER_DAY]), log_sd, FLY.adult)
    flies = 1000.0 * np.diff(females + males)[0]
    counts = tuple(
        DayCount(round((start_day + day) * MS_PER_DAY), n) for day, n in zip(days, flies, strict=True)
    )
    return WatchedCohort(cohort(start_day), counts=counts, counted_out=True)


def test_all_cohorts_teach_the_farm() -> None:
    logbook = [hatched(10.0 * n, f"c{n}") for n in range(5)]

    lesson = farm_lesson(logbook, FLY, clocks_of(room=steady(27.0)), NOW_MS)

    egg = learned_constants(PRIOR, lesson.belief)[0]
    assert egg.cohorts == 5
    assert egg.own == pytest.approx(59.0, abs=1.0)
    assert [case.track.cohort for case in lesson.cases] == ["c0", "c1", "c2", "c3", "c4"]


def test_counts_teach_spread_and_half_emergence() -> None:
    lesson = farm_lesson(
        [counted(0.0, 44.0, 0.12)], FLY, clocks_of(room=steady(27.0, days=100.0)), 100 * MS_PER_DAY
    )

    assert lesson.belief.spread_log_sd == pytest.approx(
        np.sqrt((3 * PRIOR.spread_log_sd**2 + 0.12**2) / 4.0), rel=0.02
    )
    evidence = lesson.cases[0].evidence
    assert evidence is not None
    mismatch = evidence.values[0] - evidence.weights[0] @ PRIOR.mean
    assert mismatch == pytest.approx(np.log(44.0 / 39.8), abs=0.02)


def test_counts_that_go_on_teach_nothing_yet() -> None:
    running = replace(counted(0.0, 44.0, 0.12), counted_out=False)

    lesson = farm_lesson([running], FLY, clocks_of(room=steady(27.0)), NOW_MS)

    assert lesson.belief.spread_cohorts == 0
    assert lesson.cases[0].evidence is None


def test_few_flies_teach_nothing() -> None:
    few = WatchedCohort(cohort(0.0), counts=(DayCount(40 * MS_PER_DAY, 3.0),), counted_out=True)

    assert farm_lesson([few], FLY, clocks_of(room=steady(27.0)), NOW_MS).belief.spread_cohorts == 0


def test_an_empty_logbook_leaves_the_prior() -> None:
    lesson = farm_lesson([], FLY, clocks_of(room=steady(27.0)), NOW_MS)

    assert lesson.belief.mean == pytest.approx(PRIOR.mean)
    assert lesson.cases == ()


def test_a_cohort_with_a_long_gap_is_set_right_by_its_next_event() -> None:
    clocks = clocks_of(room=without(daily_wave(27.0, 3.0), 42.0, 46.0))
    half = Observation(Event.HALF_PREPUPAE, 57 * MS_PER_DAY, 0.5)

    lost = farm_lesson([WatchedCohort(cohort(35.0))], FLY, clocks, NOW_MS)
    found = farm_lesson([WatchedCohort(cohort(35.0), (half,))], FLY, clocks, NOW_MS)

    basis = forecast_basis(clocks, NOW_MS)
    assert forecast_cohorts(lost.cases, FLY, lost.belief, basis)[0].unknown_since_ms == 42 * MS_PER_DAY
    again = forecast_cohorts(found.cases, FLY, found.belief, basis)[0]
    assert (again.stage, again.unknown_since_ms) == (Stage.PREPUPA, None)
    assert again.event(Event.HALF_EMERGED) is not None


BARE = CohortForecast(
    cohort="c",
    made_ms=0,
    stage=Stage.LARVA,
    progress=0.5,
    units_done=150.0,
    units_needed=300.0,
    events=(),
    emergence=(),
    estimated_hours=0.0,
    heat_hours=0.0,
    heat=Heat.NONE,
    used=DrivenBy.SUBSTRATE,
    without_probe=False,
    cohorts=0,
)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({}, "published numbers"),
        ({"cohorts": 1}, "Rests on 1 cohort of your own, read from the substrate temperature."),
        ({"cohorts": 4}, "4 cohorts of your own"),
        ({"without_probe": True}, "a dense bin can run many degrees hotter"),
        ({"estimated_hours": 20.0}, "20 hours were estimated"),
        ({"heat": Heat.WARNING, "heat_hours": 1.0}, "About an hour above the heat limit"),
        ({"heat": Heat.MAY_FAIL, "heat_hours": 30.0}, "30 hours above the heat limit so far: many"),
        ({"unknown_since_ms": 5}, "no temperature came for more than two days"),
    ],
)
def test_remarks(change: dict[str, object], words: str) -> None:
    assert any(words in sentence for sentence in remarks(replace(BARE, **change)))  # type: ignore[arg-type]


def test_a_plain_forecast_says_only_what_it_rests_on() -> None:
    assert len(remarks(BARE)) == 1
