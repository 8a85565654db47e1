"""Kilograms of larvae to come: the farm's own conversion, the best day, weeks, slips of units."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from development_builders import FLY, NOW_MS, clocks_of, cohort, known_level_basis, steady

from monitor.bins.harvest import HarvestOutlook, LarvaeKg
from monitor.development.courses import CohortCase, courses_of
from monitor.development.events import Event
from monitor.development.posterior import prior_posterior
from monitor.records import MS_PER_DAY
from monitor.yields.larvae import BinCase, dark_ms, forecast_larvae, open_fillings
from monitor.yields.records import FeedGiven, LarvaeOut, LarvaeUse, Residue, Takings


def farm(conversion: float = 0.2, fillings: int = 8, last_age_days: int = 6) -> Takings:
    """Bins filled each week with 5 kg on days 0, 3 and 6, emptied after 13 days, up to a filling that is
    open."""
    random = np.random.default_rng(2)
    feed: list[FeedGiven] = []
    out: list[LarvaeOut] = []
    for number in range(fillings + 1):
        start_ms = NOW_MS - (last_age_days + 7 * (fillings - number)) * MS_PER_DAY
        place = f"bin-{number % 3}"
        for day in (0, 3, 6):
            at_ms = start_ms + day * MS_PER_DAY
            if at_ms <= NOW_MS:
                feed.append(FeedGiven(at_ms=at_ms, place=place, kg=5.0, filling_ms=start_ms))
        end_ms = start_ms + 13 * MS_PER_DAY
        if end_ms < NOW_MS:
            kg = 15.0 * conversion * float(np.exp(0.08 * random.standard_normal()))
            use = LarvaeUse.FEED
            out.append(
                LarvaeOut(at_ms=end_ms, place=place, kg=kg, filling_ms=start_ms, use=use, entry_id=number)
            )
    return Takings(feed=tuple(feed), larvae_out=tuple(out))


def cases(takings: Takings) -> list[BinCase]:
    return [BinCase(place, filling_ms) for place, filling_ms in open_fillings(takings)]


@pytest.mark.parametrize("conversion", [0.1, 0.24, 0.3])
def test_the_farms_own_conversion_is_learned(conversion: float) -> None:
    takings = farm(conversion)
    found = forecast_larvae(takings, cases(takings), NOW_MS, 0)
    assert found.conversion.median == pytest.approx(conversion, rel=0.1)
    assert found.conversion.fillings == 7
    oldest = found.bins[0]
    assert oldest.kg.low < 15.0 * conversion < oldest.kg.high
    assert oldest.kg.median == pytest.approx(15.0 * conversion, rel=0.15)


def test_without_a_past_the_published_conversion_and_the_bins_alone() -> None:
    takings = farm(fillings=0)
    found = forecast_larvae(takings, cases(takings), NOW_MS, 0)
    assert found.conversion.median == pytest.approx(0.24)
    assert found.conversion.fillings == 0
    assert not found.goes_on
    (only,) = found.bins
    assert only.kg.high / only.kg.low > 2.0
    assert sum(week.high > 0.0 for week in found.weeks) <= 3


def test_feed_that_is_still_to_come_is_counted_as_it_came_before() -> None:
    """On its first day a filling has a third of its feed."""
    takings = farm(last_age_days=0)
    youngest = [case for case in cases(takings) if case.filling_ms == NOW_MS]
    (found,) = forecast_larvae(takings, youngest, NOW_MS, 0).bins
    assert found.kg.median == pytest.approx(3.0, rel=0.15)


def test_weeks_go_on_as_they_were() -> None:
    takings = farm(0.2)
    found = forecast_larvae(takings, cases(takings), NOW_MS, 0)
    assert found.goes_on
    total = sum(week.median for week in found.weeks)
    assert total == pytest.approx(8 * 3.0, rel=0.25)
    assert all(week.low <= week.median <= week.high for week in found.weeks)


def test_grams_for_kilograms_are_doubted_and_move_nothing() -> None:
    takings = farm(0.2)
    wrong = replace(takings.larvae_out[3], kg=takings.larvae_out[3].kg * 1000.0)
    changed = replace(
        takings, larvae_out=tuple(wrong if n == 3 else each for n, each in enumerate(takings.larvae_out))
    )
    clean = forecast_larvae(takings, cases(takings), NOW_MS, 0)
    found = forecast_larvae(changed, cases(changed), NOW_MS, 0)
    assert found.doubted == (3,)
    assert found.conversion.median == pytest.approx(clean.conversion.median, rel=0.05)


def test_a_bin_is_taken_before_many_are_dark() -> None:
    """In four courses of five not more than a tenth of the larvae are prepupae by the best day."""
    basis = known_level_basis(clocks_of(room=steady(27.0)))
    posterior = prior_posterior(FLY)
    (course,) = courses_of([CohortCase(cohort(48.0, count=5000.0))], FLY, posterior, basis)
    dark = dark_ms(course, FLY, posterior.early_log_sd)
    half = course.event_ms(Event.HALF_PREPUPAE, FLY, posterior.early_log_sd)
    first = course.event_ms(Event.FIRST_PREPUPAE, FLY, posterior.early_log_sd)
    assert (first < dark).all() and (dark < half).all()
    takings = farm(last_age_days=6)
    case = BinCase("bin-2", NOW_MS - 6 * MS_PER_DAY, dark_ms=dark)
    (found,) = forecast_larvae(takings, [case], NOW_MS, 0).bins
    assert float((dark > found.best_ms).mean()) == pytest.approx(0.82, abs=0.07)
    assert found.low_ms <= found.best_ms + MS_PER_DAY and found.best_ms < found.high_ms
    assert not found.is_late


def test_a_bin_that_is_dark_is_late_and_taken_today() -> None:
    takings = farm()
    dark = np.full(50, float(NOW_MS - 2 * MS_PER_DAY))
    case = BinCase("bin-2", NOW_MS - 6 * MS_PER_DAY, dark_ms=dark)
    (found,) = forecast_larvae(takings, [case], NOW_MS, 0).bins
    assert found.is_late
    assert found.best_ms == NOW_MS


def test_larvae_that_are_ripe_before_they_darken_are_taken_ripe() -> None:
    ripe_ms = NOW_MS + 2 * MS_PER_DAY
    outlook = HarvestOutlook(
        now=LarvaeKg(1.0, 1.5, 2.0, 100.0),
        ripe=LarvaeKg(2.7, 3.0, 3.3, 200.0),
        ripe_ms=ripe_ms,
        until_ms=NOW_MS + 10 * MS_PER_DAY,
        is_past=False,
        missing_feed_kg=0.0,
    )
    dark = np.full(50, float(NOW_MS + 6 * MS_PER_DAY))
    takings = farm(fillings=0)
    (found,) = forecast_larvae(takings, [BinCase("bin-0", NOW_MS, outlook, dark)], NOW_MS, 0).bins
    assert found.best_ms == ripe_ms
    assert (found.kg.low, found.kg.high) == pytest.approx((2.7, 3.3), rel=0.05)
    assert found.kg.each_mg == 200.0


def test_a_filling_is_open_until_larvae_leave_it_for_good() -> None:
    start_ms, later_ms = NOW_MS, NOW_MS + MS_PER_DAY
    filled = Takings(feed=(FeedGiven(at_ms=start_ms, place="bin-1", kg=5.0, filling_ms=start_ms),))
    some = LarvaeOut(at_ms=later_ms, place="bin-1", kg=0.2, filling_ms=start_ms, use=LarvaeUse.BREEDING)
    assert open_fillings(filled) == (("bin-1", start_ms),)
    assert open_fillings(replace(filled, larvae_out=(some,))) == (("bin-1", start_ms),)
    assert open_fillings(replace(filled, larvae_out=(replace(some, use=LarvaeUse.SOLD),))) == ()
    residue = Residue(at_ms=later_ms, place="bin-1", kg=2.0, filling_ms=start_ms)
    assert open_fillings(replace(filled, residues=(residue,))) == ()


def test_an_empty_farm_has_empty_weeks() -> None:
    found = forecast_larvae(Takings(), [], NOW_MS, 0)
    assert found.bins == () and all(week.high == 0.0 for week in found.weeks)
