"""How the flies of a box spread, held against open counts, and what daily counts of a farm teach of it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from development_builders import FLY, NOW_MS, clocks_of, cohort, steady

from monitor.climate.arrays import FloatArray
from monitor.development.courses import CohortCase, CohortCourses, courses_of, drawn_spread, forecast_basis
from monitor.development.events import (
    EmergenceSpread,
    Event,
    Observation,
    spread_of,
    summary_of_counts,
    time_of_share,
)
from monitor.development.farm_learning import observations_of
from monitor.development.forecast import CohortForecast, EventForecast, event_forecasts, forecast_cohorts
from monitor.development.posterior import FarmPosterior, evidence_of, learn, learn_spread, prior_posterior
from monitor.development.progress import Cohort, FlyCount, Origin
from monitor.development.rates import AdultLife, SpeciesParameters
from monitor.records import MS_PER_DAY, Stage
from monitor.settings.species import load_species, species_parameters

PRIOR = prior_posterior(FLY)
PLAIN = AdultLife(female_share=0.575, male_lead_days=(1.0, 2.0))
"""Adults of the release before: log-normal from the beginning of life."""
BOXES, FLIES = 1500, 59
LIFE_DAYS = 35.0
"""From larvae of 1.6 to 2 mg to half emergence: first fly on day 30.5, the middle one 4 d later."""
# Open counts of ReproLab's common garden (survival.csv, github.com/ReproLab/
# BSF_stage_sex_specific_plasticity_common_garden, 2504d5f), counted by us: 48 boxes, 2,823 flies, share that
# was out at the end of a day since the first fly of the box; and the quartiles of the boxes' robust SD.
COUNTED = {0: 0.0475, 1: 0.1258, 2: 0.2919, 4: 0.6235, 8: 0.846, 11: 0.903, 16: 0.9504, 24: 0.9857}
DAY_OF_SHARE = {0.1: 1, 0.5: 4, 0.9: 11, 0.95: 16}
SD_QUARTILES = (1.5, 2.85, 4.4)


def boxes_of(spread: EmergenceSpread, life_days: float = LIFE_DAYS) -> FloatArray:
    """Whole days since the first fly of its box on which each fly was counted, shape (boxes, flies)."""
    random = np.random.default_rng(48)
    normals, female = random.standard_normal((BOXES, FLIES)), random.random((BOXES, FLIES))
    share, lead = (
        np.reshape(np.broadcast_to(each, BOXES), (-1, 1)) for each in (spread.female_share, spread.lead_days)
    )
    middle = life_days + np.where(female < share, (1.0 - share) * lead, -share * lead)
    own = spread.own_origin_share * middle
    log_sd = np.reshape(np.broadcast_to(spread.log_sd, BOXES), (-1, 1))
    days = np.floor(own + (middle - own) * np.exp(log_sd * normals) + random.random((BOXES, 1)))
    return np.asarray(days - days.min(axis=1, keepdims=True))


def robust_sds(days: FloatArray) -> FloatArray:
    low, high = np.percentile(days, [25, 75], axis=1)
    return np.asarray((high - low) / 1.349)


def drawn(posterior: FarmPosterior = PRIOR, species: SpeciesParameters = FLY) -> EmergenceSpread:
    basis = forecast_basis(clocks_of(room=steady(27.0)), NOW_MS, draws=BOXES)
    own = np.random.default_rng(2).standard_normal(BOXES)
    return drawn_spread(posterior, species.adult, basis.farm_flies, own)


class TestOpenCounts:
    """A box's first fly is the first of some 59: model boxes of that size are counted in the same way."""

    def test_flies_come_out_as_in_48_boxes(self) -> None:
        """Within a day, since boxes were looked at once a day; shares within 0.06, a third of the best day's
        0.19, since the flies of 48 boxes are no more than 48 draws of what differs between boxes.
        """
        days = boxes_of(drawn())

        for share, day in DAY_OF_SHARE.items():
            assert np.quantile(days, share, method="inverted_cdf") == pytest.approx(day, abs=1.0), share
        for day, share in COUNTED.items():
            assert (days <= day).mean() == pytest.approx(share, abs=0.06), day

    def test_boxes_differ_as_the_48_did(self) -> None:
        """Whole days make steps of 0.74 d in a robust SD: within one of them."""
        found = np.percentile(robust_sds(boxes_of(drawn())), [25, 50, 75])

        assert found == pytest.approx(SD_QUARTILES, abs=0.74)

    def test_a_log_normal_from_the_beginning_of_life_does_not_do_it(self) -> None:
        days = boxes_of(spread_of(PRIOR.spread_log_sd, PLAIN))

        assert np.quantile(days, 0.5) > DAY_OF_SHARE[0.5] + 1
        assert np.quantile(days, 0.95) < DAY_OF_SHARE[0.95] - 3
        assert (days <= 4).mean() < COUNTED[4] - 0.25
        assert np.ptp(np.percentile(robust_sds(days), [25, 75])) < 1.0

    def test_the_first_flies_of_a_box_are_steadier_than_its_middle(self) -> None:
        """30.5 d with an SD of 1.8 d between the boxes, in which the middles themselves differ."""
        spread = drawn()
        first = spread.time_of_share(0.0, LIFE_DAYS * MS_PER_DAY, 1.0 / FLIES) / MS_PER_DAY

        assert float(np.median(first)) == pytest.approx(30.5, abs=0.7)
        assert float(first.std()) < 1.8


def test_the_first_fly_depends_little_on_the_number_of_animals() -> None:
    """The own origin bounds it: 1 % stands for the first fly of 30 to 1,000 within a day and a half."""
    spread = spread_of(PRIOR.spread_log_sd, FLY.adult)
    found = [float(spread.time_of_share(0.0, 40.0 * MS_PER_DAY, share)) / MS_PER_DAY for share in (0.01,)]

    for number in (30, 59, 300, 1000):
        typical = 1.0 - 0.5 ** (1.0 / number)
        first = float(spread.time_of_share(0.0, 40.0 * MS_PER_DAY, typical)) / MS_PER_DAY
        assert first == pytest.approx(found[0], abs=1.5)


@pytest.mark.parametrize("lead_days", [0.0, 0.5, 1.0, 2.0])
@pytest.mark.parametrize("share", [0.01, 0.5, 0.9])
def test_dates_follow_the_curve_of_both_sexes(lead_days: float, share: float) -> None:
    """Agreement within a quarter of a day, for narrow boxes and broad ones."""
    times = np.linspace(25.0, 120.0, 40_001) * MS_PER_DAY
    for log_sd in (0.2, 0.4, 0.9):
        spread = EmergenceSpread(log_sd, 0.5, lead_days, 0.8)
        females, males = spread.emerged_share(times, 0.0, np.array([40.0 * MS_PER_DAY]))
        exact = float(np.interp(share, (females + males)[0], times))
        found = float(spread.time_of_share(0.0, 40.0 * MS_PER_DAY, share))
        assert found == pytest.approx(exact, abs=0.25 * MS_PER_DAY)


def test_half_of_the_animals_lie_as_close_as_without_an_own_origin() -> None:
    plain = [float(time_of_share(0.0, 40.0, 0.08, share)) for share in (0.25, 0.75)]
    own = [float(time_of_share(0.0, 40.0, 0.08, share, 0.8)) for share in (0.25, 0.75)]

    assert own[1] - own[0] == pytest.approx(plain[1] - plain[0], rel=1e-6)


def test_a_species_without_counts_keeps_the_plain_log_normal() -> None:
    cricket = species_parameters(load_species("two_spotted_cricket"))
    spread = drawn(prior_posterior(cricket), cricket)

    found = spread.time_of_share(0.0, 40.0, 0.9)

    assert np.ptp(found) == 0.0
    assert found[0] == pytest.approx(40.0 * np.exp(1.2816 * np.sqrt(np.log1p(0.12**2))), rel=1e-4)


class TestFirstFliesSeen:
    """First flies that were seen say how far this box spreads, beside the date of half emergence."""

    def forecast(self, days_before_expected: float, aware: bool = True) -> CohortForecast:
        clocks, track = (
            clocks_of(room=steady(27.0)),
            replace(cohort(54.0), start_stage=Stage.PUPA, age_days=30.0),
        )
        basis = forecast_basis(clocks, NOW_MS)
        expected = event_of(forecast_cohorts([CohortCase(track)], FLY, PRIOR, basis)[0], Event.FIRST_EMERGED)
        at_ms = round(expected.median_ms - days_before_expected * MS_PER_DAY)
        seen = Observation(Event.FIRST_EMERGED, at_ms, 0.5)
        evidence = evidence_of(track, FLY, [seen], clocks.of, PRIOR)
        assert evidence is not None
        case = CohortCase(track, evidence, None, seen if aware else None)
        return forecast_cohorts([case], FLY, learn(PRIOR, evidence), basis)[0]

    def test_the_curve_begins_where_they_were_seen(self) -> None:
        for early_days in (-1.5, 0.0, 2.0):
            expected = self.forecast(early_days, aware=False)
            found = event_of(self.forecast(early_days), Event.FIRST_EMERGED)
            blind = event_of(expected, Event.FIRST_EMERGED)
            assert width_days(found) < 0.5 * width_days(blind)
            assert width_days(found) < 2.5

    def test_half_emergence_is_said_by_the_evidence_alone(self) -> None:
        aware, blind = (event_of(self.forecast(1.0, each), Event.HALF_EMERGED) for each in (True, False))

        assert aware == blind

    def test_early_first_flies_tell_of_a_broad_box(self) -> None:
        early, late = (
            event_of(found, Event.HALF_EMERGED).median_ms - event_of(found, Event.FIRST_EMERGED).median_ms
            for found in (self.forecast(2.0), self.forecast(-2.0))
        )

        assert early > late + MS_PER_DAY


def event_of(found: CohortForecast, name: Event) -> EventForecast:
    wanted = found.event(name)
    assert wanted is not None
    return wanted


def width_days(found: EventForecast) -> float:
    return (found.high_ms - found.low_ms) / MS_PER_DAY


class TestConflicts:
    """What sources disagree about is drawn for each course."""

    def test_the_males_lead_by_none_to_two_days(self) -> None:
        """0.1 d in the open counts, 1 to 2 d in Tomberlin, Sheppard & Joyce 2002."""
        lead = np.asarray(drawn().lead_days)

        assert np.percentile(lead, [2.5, 97.5]) == pytest.approx((0.05, 1.95), abs=0.05)
        assert ((lead >= 0.0) & (lead <= 2.0)).all()

    def test_the_share_of_females_holds_both_sources(self) -> None:
        """0.45 in the open counts, 0.55 to 0.60 in Tomberlin, Sheppard & Joyce 2002."""
        low, high = np.percentile(np.asarray(drawn().female_share), [10, 90])

        assert low < 0.45 < 0.575 < high

    def test_all_boxes_of_a_farm_share_them(self) -> None:
        one, other = courses("a"), courses("b")

        assert np.array_equal(one.spread.lead_days, other.spread.lead_days)
        assert np.array_equal(one.spread.female_share, other.spread.female_share)
        assert np.corrcoef(np.log(one.spread.log_sd), np.log(other.spread.log_sd))[0, 1] < 0.5


def courses(name: str = "c", posterior: FarmPosterior = PRIOR) -> CohortCourses:
    track = replace(cohort(58.0, name), start_stage=Stage.PUPA, age_days=30.0)
    basis = forecast_basis(clocks_of(room=steady(27.0)), NOW_MS)
    return courses_of([CohortCase(track)], FLY, posterior, basis)[0]


def gap_days(posterior: FarmPosterior) -> FloatArray:
    """From first flies to half emergence, quartiles over the courses [d]."""
    found = courses(posterior=posterior)
    half = found.half_emerged_ms(FLY)
    assert half is not None
    gaps = half - found.event_ms(Event.FIRST_EMERGED, FLY, posterior.early_log_sd)
    return np.asarray(np.percentile(gaps / MS_PER_DAY, [25, 75]))


class TestOwnCounts:
    """Daily counts of a farm: stragglers count by their number, and own boxes narrow what is believed."""

    def summary(self, days: FloatArray, until: float = 200.0) -> tuple[float, float]:
        starts = np.arange(float(np.floor(days.min())), min(float(np.ceil(days.max())), until) + 1.0)
        counts = np.histogram(days, np.append(starts, starts[-1] + 1.0))[0].astype(float)
        found = summary_of_counts(starts * MS_PER_DAY, counts, 0.0, FLY.adult)
        return found.log_sd, found.half_ms / MS_PER_DAY

    def box(self, stragglers: float, number: int = 2000) -> FloatArray:
        """Truth of another form than the model's: a normal body, and an exponential tail of some flies."""
        random = np.random.default_rng(6)
        late = np.where(random.random(number) < stragglers, random.exponential(8.0, number), 0.0)
        return np.asarray(40.0 + 2.0 * random.standard_normal(number) + late)

    @pytest.mark.parametrize("stragglers", [0.0, 0.1, 0.3])
    def test_the_spread_is_that_of_the_middle_half(self, stragglers: float) -> None:
        days = self.box(stragglers)
        low, half, high = np.percentile(days, [25, 50, 75])
        within = np.sqrt(((high - low) / 1.349) ** 2 - 0.25 * FLY.adult.lead_days**2)

        log_sd, found_half = self.summary(days)

        assert log_sd * half == pytest.approx(within, rel=0.05)
        assert found_half == pytest.approx(half, abs=0.1)

    def test_a_few_flies_weeks_late_do_not_blow_it_up(self) -> None:
        """One in twenty thirty days late: the standard deviation would grow from 2 to 7 d."""
        days = self.box(0.0)
        late = days.copy()
        late[::20] += 30.0

        assert late.std() > 3.0 * days.std()
        assert self.summary(late)[0] < 1.15 * self.summary(days)[0]

    def test_what_comes_after_the_last_count_is_allowed_for(self) -> None:
        """A keeper stops when a day brings a tenth of the best one: spread and middle stay."""
        own = 32.0 + 8.0 * np.exp(0.4 * np.random.default_rng(4).standard_normal(4000))
        log_sd, half = self.summary(own)
        stopped_log_sd, stopped_half = self.summary(own[own < 47.0], until=46.0)

        assert (own >= 47.0).mean() > 0.04
        assert stopped_log_sd == pytest.approx(log_sd, rel=0.06)
        assert stopped_half == pytest.approx(half, abs=0.15)

    def test_own_boxes_that_agree_narrow_the_dates(self) -> None:
        alike = learn_spread(PRIOR, [0.08] * 12, counted=[600.0] * 12)

        before, after = np.diff(gap_days(PRIOR))[0], np.diff(gap_days(alike))[0]

        assert alike.spread_log_sd == pytest.approx(0.08, rel=0.01)
        assert after < 0.75 * before

    def test_own_boxes_that_differ_keep_them_wide(self) -> None:
        unlike = learn_spread(PRIOR, [0.03, 0.2] * 6, counted=[600.0] * 12)

        assert np.diff(gap_days(unlike))[0] > np.diff(gap_days(PRIOR))[0]

    def test_one_broad_box_does_not_carry_the_farm_away(self) -> None:
        """The mean of variances would be 0.127."""
        found = learn_spread(PRIOR, [0.07, 0.08, 0.08, 0.09, 0.35])

        assert found.spread_log_sd < 0.1

    def test_a_box_of_few_flies_says_less(self) -> None:
        few, many = (learn_spread(PRIOR, [0.16], counted=[number]) for number in (20.0, 2000.0))

        assert PRIOR.spread_log_sd < few.spread_log_sd < many.spread_log_sd

    def test_counts_of_flies_say_nothing_of_prepupae(self) -> None:
        narrow = learn_spread(PRIOR, [0.03] * 12)
        before, after = (event_forecasts(courses(posterior=each), FLY, each) for each in (PRIOR, narrow))

        assert narrow.early_log_sd == PRIOR.early_log_sd
        assert [e for e in before if e.event is Event.HALF_EMERGED] == [
            e for e in after if e.event is Event.HALF_EMERGED
        ]


def test_the_first_flies_of_a_counted_cohort_stand_for_their_share() -> None:
    """Three flies of 1,000 pupae, of which 780 come out: 0.4 %, and the first of a known 60 is 1.7 %."""
    track = replace(cohort(20.0, count=1000.0), start_stage=Stage.PUPA, count_stage=Stage.PUPA)
    counted = Cohort("c", track, Origin.BOUGHT, flies=(FlyCount(30 * MS_PER_DAY, 3.0),))
    unknown = replace(counted, track=replace(track, count=None))

    share = observations_of(counted, FLY, None)[0].share

    assert share == pytest.approx(3.0 / 780.0)
    assert observations_of(unknown, FLY, None)[0].share is None
    assert observations_of(unknown, FLY, None)[0].share_seen == 0.01
