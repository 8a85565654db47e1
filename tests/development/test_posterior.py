"""Learning from the farm: conjugate updates against textbook formulas, evidence, anchors, spread, scores."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from development_builders import (
    EGG_DD,
    FLY,
    LARVA_DD,
    NOW_MS,
    PREPUPA_DD,
    PUPA_DD,
    TO_FLY_DD,
    clocks_of,
    cohort,
    daily_wave,
    steady,
    without,
)

from monitor.development.clocks import Clocks
from monitor.development.events import (
    Event,
    Observation,
    emerged_share,
    emergence_log_sd,
    log_sd_of,
    middle_from_share,
    normal_share,
    summary_of_counts,
    time_of_share,
)
from monitor.development.posterior import (
    Evidence,
    FarmPosterior,
    anchored,
    cohort_draws,
    cohort_mean,
    evidence_of,
    learn,
    learn_spread,
    learned_constants,
    prior_posterior,
    start_draws,
)
from monitor.development.rates import AdultLife
from monitor.errors import UsageError
from monitor.records import MS_PER_DAY, Stage

PRIOR = prior_posterior(FLY)
EGG = 0
HATCHED_DAY = 4.0


def hatch(day: float, sd_days: float = 0.25) -> Observation:
    return Observation(Event.HATCH, round(day * MS_PER_DAY), sd_days)


def evidence(
    observations: list[Observation], start_sd: float = 0.0, posterior: FarmPosterior = PRIOR
) -> Evidence:
    found = evidence_of(
        replace(cohort(0.0), start_sd_days=start_sd),
        FLY,
        observations,
        clocks_of(room=steady(27.0)).of,
        posterior,
    )
    assert found is not None
    return found


class TestOneStage:
    """With one stage everything is the textbook's conjugate normal."""

    def test_the_value_is_the_log_of_the_units_earned(self) -> None:
        found = evidence([hatch(HATCHED_DAY)])

        assert found.weights.tolist() == [[1.0, 0.0, 0.0, 0.0, 0.0]]
        assert found.values[0] == pytest.approx(np.log(HATCHED_DAY * 15.0), abs=1e-4)
        assert found.error[0, 0] == pytest.approx((0.25 / HATCHED_DAY) ** 2)

    def test_the_start_adds_its_own_error(self) -> None:
        found = evidence([hatch(HATCHED_DAY)], start_sd=0.5)

        assert found.error[0, 0] == pytest.approx((0.25 / HATCHED_DAY) ** 2 + (0.5 / HATCHED_DAY) ** 2)

    def test_posterior_of_the_farm(self) -> None:
        prior_variance, noise = FLY.stages[EGG].log_sd ** 2, 0.08**2 + (0.25 / HATCHED_DAY) ** 2
        precision = 1.0 / prior_variance + 1.0 / noise
        mean = (np.log(EGG_DD) / prior_variance + np.log(60.0) / noise) / precision

        found = learn(PRIOR, evidence([hatch(HATCHED_DAY)]))

        assert found.mean[EGG] == pytest.approx(mean, abs=1e-4)
        assert found.covariance[EGG, EGG] == pytest.approx(1.0 / precision, rel=1e-3)
        assert found.cohorts == (1, 0, 0, 0, 0)

    def test_other_stages_stay_as_they_were(self) -> None:
        found = learn(PRIOR, evidence([hatch(HATCHED_DAY)]))

        assert found.mean[1:] == pytest.approx(PRIOR.mean[1:])
        assert found.covariance[1:, 1:] == pytest.approx(PRIOR.covariance[1:, 1:])

    def test_two_levels(self) -> None:
        """The cohort goes most of the way to what was seen of it, the farm less."""
        seen = evidence([hatch(HATCHED_DAY)])
        farm = learn(PRIOR, seen)

        assert PRIOR.mean[EGG] < farm.mean[EGG] < cohort_mean(farm, seen)[EGG] < np.log(60.0)


def test_after_five_cohorts_the_farms_own_number_dominates() -> None:
    posterior = PRIOR
    for _ in range(5):
        posterior = learn(posterior, evidence([hatch(HATCHED_DAY)], posterior=posterior))

    own_weight = (posterior.mean[EGG] - PRIOR.mean[EGG]) / (np.log(60.0) - PRIOR.mean[EGG])
    assert own_weight > 0.85
    assert posterior.cohorts[EGG] == 5


def test_order_of_cohorts_does_not_matter() -> None:
    early, late = evidence([hatch(3.4)]), evidence([hatch(4.2)])

    one, other = learn(learn(PRIOR, early), late), learn(learn(PRIOR, late), early)

    assert one.mean == pytest.approx(other.mean)
    assert one.covariance == pytest.approx(other.covariance)


def test_a_late_event_speaks_about_all_stages_by_their_length() -> None:
    expected_days = TO_FLY_DD / 15.0
    seen = Observation(Event.HALF_EMERGED, round(expected_days * 1.1 * MS_PER_DAY), 0.5)

    found = evidence([seen])

    assert found.weights[0] == pytest.approx(
        np.array([EGG_DD, LARVA_DD, PREPUPA_DD, PUPA_DD, 0.0]) / TO_FLY_DD, abs=1e-6
    )
    assert found.values[0] - found.weights[0] @ PRIOR.mean == pytest.approx(np.log(1.1), abs=1e-3)


def test_prior_values_teach_nothing_new() -> None:
    expected_days = EGG_DD / 15.0

    assert learn(PRIOR, evidence([hatch(expected_days)])).mean == pytest.approx(PRIOR.mean, abs=1e-6)


def test_two_events_tell_the_stage_between_them() -> None:
    """Hatch as expected, prepupae a fifth late: the larva took longer, not the egg."""
    half = Observation(Event.HALF_PREPUPAE, round((EGG_DD + 1.2 * LARVA_DD) / 15.0 * MS_PER_DAY), 0.25)

    found = learn(PRIOR, evidence([hatch(EGG_DD / 15.0), half]))

    assert found.mean[1] > PRIOR.mean[1] + 0.1
    assert abs(found.mean[0] - PRIOR.mean[0]) < 0.02


def test_first_seen_stands_for_the_first_animals() -> None:
    """The first prepupae come before the middle ones; seen on that earlier day, K is as in the prior."""
    middle_days = (EGG_DD + LARVA_DD) / 15.0
    first = float(time_of_share(0.0, middle_days * MS_PER_DAY, PRIOR.spread_log_sd, 0.01))

    found = learn(PRIOR, evidence([Observation(Event.FIRST_PREPUPAE, round(first), 0.25)]))

    assert first < (middle_days - 3.0) * MS_PER_DAY
    assert found.mean == pytest.approx(PRIOR.mean, abs=1e-4)


def test_events_that_say_nothing_give_no_evidence() -> None:
    pupae = replace(cohort(0.0), start_stage=Stage.PUPA)
    clocks = clocks_of(room=steady(27.0))

    assert evidence_of(pupae, FLY, [hatch(4.0)], clocks.of, PRIOR) is None
    assert evidence_of(cohort(0.0), FLY, [], clocks.of, PRIOR) is None
    assert evidence_of(cohort(0.0), FLY, [hatch(4.0)], clocks_of(room=steady(5.0)).of, PRIOR) is None


def test_draws_follow_the_posterior() -> None:
    generator = np.random.default_rng(3)
    normals = generator.standard_normal((2, 5, 40_000))
    seen = evidence([hatch(HATCHED_DAY)])
    farm = learn(PRIOR, seen)

    fresh = cohort_draws(farm, None, normals[0], normals[1], np.zeros(5))
    watched = cohort_draws(farm, seen, normals[0], normals[1], np.zeros(5))
    wider = cohort_draws(farm, seen, normals[0], normals[1], np.full(5, 0.2))

    assert fresh[1].std() == pytest.approx(np.hypot(0.20, 0.08), rel=0.02)
    mean = cohort_mean(farm, seen)
    assert watched[:4].mean(axis=1) == pytest.approx(mean[:4], abs=0.01)
    assert np.median(watched[4]) == pytest.approx(mean[4], abs=0.05)  # first eggs: skewed, the median stays
    assert watched[EGG].std() < fresh[EGG].std()
    assert wider[EGG].std() == pytest.approx(np.hypot(watched[EGG].std(), 0.2), rel=0.02)


def test_joint_posterior_of_a_watched_cohort_is_the_textbooks() -> None:
    """One stage, farm and cohort together: ln K of the cohort has prior s^2 + t^2, seen once."""
    seen = evidence([hatch(HATCHED_DAY)])
    total, noise = FLY.stages[EGG].log_sd ** 2 + 0.08**2, (0.25 / HATCHED_DAY) ** 2
    normals = np.random.default_rng(4).standard_normal((2, 5, 40_000))

    drawn = cohort_draws(learn(PRIOR, seen), seen, normals[0], normals[1], np.zeros(5))[EGG]

    precision = 1.0 / total + 1.0 / noise
    mean = (np.log(EGG_DD) / total + np.log(60.0) / noise) / precision
    assert drawn.mean() == pytest.approx(mean, abs=1e-3)
    assert drawn.std() == pytest.approx(precision**-0.5, rel=0.02)


class TestStart:
    """When a cohort truly began, given what was written down and what was seen."""

    EGG_DAYS = FLY.stages[EGG].thermal_constant / 15.0
    NORMALS = np.random.default_rng(7).standard_normal(4000)

    def test_without_an_observation_it_is_as_unsure_as_was_written(self) -> None:
        assert start_draws(None, np.zeros((5, 4000)), self.NORMALS) is self.NORMALS

    def test_a_late_event_of_a_known_farm_tells_of_a_late_start(self) -> None:
        """Two normals: 0.4 d late, seen to 0.25 d, start to 0.5 d, so 0.4 * 0.5² / (0.5² + 0.25²) d late."""
        found = evidence([hatch(self.EGG_DAYS + 0.4)], start_sd=0.5)
        known = np.repeat(PRIOR.mean[:, None], 4000, axis=1)

        later_days = 0.5 * start_draws(found, known, self.NORMALS)

        assert later_days.mean() == pytest.approx(0.4 * 0.25 / 0.3125, abs=0.03)
        assert later_days.std() == pytest.approx(0.5 * 0.25 / 0.3125**0.5, abs=0.01)

    def test_a_late_event_of_late_constants_does_not(self) -> None:
        found = evidence([hatch(self.EGG_DAYS + 0.4)], start_sd=0.5)
        slow = np.repeat(PRIOR.mean[:, None], 4000, axis=1)
        slow[EGG] = np.log((self.EGG_DAYS + 0.4) * 15.0)

        assert start_draws(found, slow, self.NORMALS).mean() == pytest.approx(0.0, abs=0.05)


def test_table_of_learned_constants() -> None:
    lines = learned_constants(PRIOR, learn(PRIOR, evidence([hatch(HATCHED_DAY)])))

    egg = lines[EGG]
    assert (egg.stage, egg.prior, egg.cohorts) == (Stage.EGG, pytest.approx(EGG_DD), 1)
    assert egg.prior < egg.own < 60.0
    assert egg.own_high - egg.own_low < egg.prior_high - egg.prior_low
    assert lines[1].own == pytest.approx(LARVA_DD)


class TestAnchors:
    """After more than two days without temperature a cohort begins anew at the next event that is seen."""

    def clocks(self) -> Clocks:
        return clocks_of(room=without(daily_wave(27.0, 3.0), 10.0, 14.0))

    def test_without_an_observation_nothing_changes(self) -> None:
        track, left = anchored(cohort(0.0), FLY, [hatch(4.0)], self.clocks(), PRIOR, NOW_MS)

        assert track == cohort(0.0)
        assert left == (hatch(4.0),)

    def test_the_next_event_sets_it_right(self) -> None:
        half = Observation(Event.HALF_PREPUPAE, 25 * MS_PER_DAY, 0.5)
        later = Observation(Event.HALF_MOTIONLESS, 33 * MS_PER_DAY, 0.5)

        track, left = anchored(cohort(0.0), FLY, [later, hatch(4.0), half], self.clocks(), PRIOR, NOW_MS)

        assert (track.start_stage, track.start_ms) == (Stage.LARVA, 25 * MS_PER_DAY)
        assert track.age_days == pytest.approx(25.0)
        assert track.origin_ms == pytest.approx(0.0)
        assert left == (later,)

    def test_an_event_inside_the_gap_does_not_help(self) -> None:
        inside = Observation(Event.HALF_PREPUPAE, 12 * MS_PER_DAY, 0.5)
        after = Observation(Event.HALF_MOTIONLESS, 30 * MS_PER_DAY, 0.5)

        track, _ = anchored(cohort(0.0), FLY, [inside, after], self.clocks(), PRIOR, NOW_MS)

        assert track.start_stage is Stage.PREPUPA


class TestIndividuals:
    """Spread between animals, the lead of the males, and what daily counts say."""

    adult = AdultLife(female_share=0.575, male_lead_days=(1.0, 2.0))

    def test_shares_of_a_normal(self) -> None:
        assert normal_share(np.array([-1.2816, 0.0, 1.96])) == pytest.approx([0.1, 0.5, 0.975], abs=1e-4)

    def test_time_of_share_and_back(self) -> None:
        at_ms = float(time_of_share(5.0, 40.0 * MS_PER_DAY, 0.08, 0.01))

        assert middle_from_share(5.0, at_ms, 0.08, 0.01) == pytest.approx(40.0 * MS_PER_DAY)

    def test_coefficient_of_variation(self) -> None:
        draws = np.exp(log_sd_of(0.3) * np.random.default_rng(1).standard_normal(200_000))

        assert draws.std() / draws.mean() == pytest.approx(0.3, rel=0.01)

    def test_one_log_normal_stands_for_both_sexes(self) -> None:
        """Agreement: within a tenth of a day at 1 %, 50 % and 90 %."""
        middle = 41.0 * MS_PER_DAY
        times = np.linspace(20.0, 70.0, 20_001) * MS_PER_DAY
        females, males = emerged_share(times, 0.0, np.array([middle]), 0.08, self.adult)
        spread = float(emergence_log_sd(0.08, self.adult, 41.0))
        for share in (0.01, 0.5, 0.9):
            exact = np.interp(share, (females + males)[0], times)
            assert float(time_of_share(0.0, middle, spread, share)) == pytest.approx(
                exact, abs=0.1 * MS_PER_DAY
            )

    def test_males_come_first(self) -> None:
        times = np.linspace(20.0, 70.0, 20_001) * MS_PER_DAY
        females, males = emerged_share(times, 0.0, np.array([41.0 * MS_PER_DAY]), 0.08, self.adult)

        halves = [np.interp(0.5, part[0] / part[0, -1], times) / MS_PER_DAY for part in (females, males)]
        assert halves[0] - halves[1] == pytest.approx(1.5, abs=0.05)
        assert females[0, -1] + males[0, -1] == pytest.approx(1.0, abs=1e-4)

    def test_counts_give_back_what_they_were_drawn_from(self) -> None:
        generator = np.random.default_rng(8)
        sexes = np.where(generator.random(4000) < 0.575, 0.425 * 1.5, -0.575 * 1.5)
        days = (41.0 + sexes) * np.exp(0.10 * generator.standard_normal(4000))
        starts = np.arange(20.0, 75.0)
        counts = np.histogram(days, np.append(starts, 75.0))[0].astype(float)

        found = summary_of_counts(starts * MS_PER_DAY, counts, 0.0, self.adult)

        assert found.log_sd == pytest.approx(0.10, abs=0.004)
        assert found.half_ms / MS_PER_DAY == pytest.approx(41.0, abs=0.3)
        assert found.counted == 4000

    def test_few_flies_say_nothing(self) -> None:
        with pytest.raises(UsageError, match="5 counted flies are too few"):
            summary_of_counts(np.array([0.0]), np.array([5.0]), 0.0, self.adult)

    def test_counted_cohorts_move_the_spread(self) -> None:
        found = learn_spread(PRIOR, [0.12, 0.12, 0.12])

        assert found.spread_log_sd == pytest.approx(np.sqrt(0.08 * 0.12), rel=0.01)
        assert found.spread_cohorts == 3


def test_how_sure_the_day_is_must_be_above_zero() -> None:
    with pytest.raises(UsageError, match="must be above 0 days"):
        Observation(Event.HATCH, 0, 0.0)
