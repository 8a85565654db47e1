"""Errors of past forecasts, and the observation that would help most."""

from __future__ import annotations

import numpy as np
import pytest
from development_builders import FLY, NOW_MS, clocks_of, cohort, daily_wave

from monitor.development.courses import CohortCase, courses_of, forecast_basis
from monitor.development.events import Event, Observation
from monitor.development.posterior import evidence_of, learn, prior_posterior
from monitor.development.scoring import PastForecast, most_useful, score, scores_by_event
from monitor.records import MS_PER_DAY, Stage

PRIOR = prior_posterior(FLY)


def past(event: Event, late_days: float) -> PastForecast:
    middle = 100.0 * MS_PER_DAY
    seen = round(middle + late_days * MS_PER_DAY)
    return PastForecast("c", event, 0, middle, middle - 2 * MS_PER_DAY, middle + 2 * MS_PER_DAY, seen)


def test_bias_error_and_share_held() -> None:
    found = score([past(Event.HATCH, days) for days in (-1.0, 1.0, 3.0, 1.0)])

    assert found is not None
    assert (found.forecasts, found.bias_days) == (4, pytest.approx(1.0))
    assert found.mean_absolute_error_days == pytest.approx(1.5)
    assert found.held_share == 0.75


def test_event_by_event() -> None:
    found = scores_by_event([past(Event.HATCH, 1.0), past(Event.HALF_EMERGED, -1.0)])

    assert list(found) == [Event.HATCH, Event.HALF_EMERGED]
    assert found[Event.HALF_EMERGED].bias_days == pytest.approx(-1.0)


def test_no_forecasts_no_score() -> None:
    assert score([]) is None


def test_the_event_that_tells_most_is_named() -> None:
    """A cohort about to become prepupae has a long unsure stage behind it; eggs have little to tell yet."""
    basis = forecast_basis(clocks_of(room=daily_wave(27.0, 4.0)), NOW_MS)
    cases = [CohortCase(cohort(58.0, "eggs")), CohortCase(cohort(36.0, "nearly prepupae"))]

    found = most_useful(courses_of(cases, FLY, PRIOR, basis), FLY, NOW_MS)

    assert found is not None
    assert (found.cohort, found.event) == ("nearly prepupae", Event.HALF_PREPUPAE)
    assert found.gain_days > 0.5


def test_the_promised_gain_is_what_seeing_it_brings() -> None:
    """The narrowing that was promised is the narrowing after the event was logged on its expected day."""
    clocks = clocks_of(room=daily_wave(27.0, 4.0, days=80.0))
    basis, track = forecast_basis(clocks, NOW_MS), cohort(37.0)
    before = courses_of([CohortCase(track)], FLY, PRIOR, basis)
    promised = most_useful(before, FLY, NOW_MS)
    assert promised is not None

    seen = Observation(promised.event, round(promised.expected_ms), 0.5)
    evidence = evidence_of(track, FLY, [seen], clocks.of, PRIOR)
    assert evidence is not None
    after = courses_of([CohortCase(track, evidence)], FLY, learn(PRIOR, evidence), basis)

    pupa = FLY.index_of(Stage.PUPA)
    spreads = [float(np.std(course[0].ends_ms[pupa])) / MS_PER_DAY for course in (before, after)]
    assert spreads[0] - spreads[1] == pytest.approx(promised.gain_days, rel=0.25)


def test_nothing_near_nothing_asked() -> None:
    basis = forecast_basis(clocks_of(room=daily_wave(27.0, 4.0)), NOW_MS)

    assert most_useful(courses_of([CohortCase(cohort(49.0))], FLY, PRIOR, basis), FLY, NOW_MS, 0.5) is None
