"""What all cohorts of a farm teach together: the right direction, nothing twice, nothing across a gap."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC

import numpy as np
import pytest
from cohort_book import Book, ms
from development_builders import FLY, clocks_of, steady

from monitor.development.clocks import Clocks
from monitor.development.events import Event
from monitor.development.farm_learning import FarmLearning, counted, learn_farm, observations_of
from monitor.records import MS_PER_HOUR, Stage, midnight_ms
from monitor.settings.species import load_species, species_parameters

AT_27 = steady(27.0, days=100.0)
CLOCKS: Clocks = clocks_of(FLY, tray=AT_27, bin=AT_27, box=AT_27)
GRAIN = species_parameters(load_species("black_soldier_fly"), "brewery_grain")
LARVA = 1


def _learned(book: Book, clocks: Clocks = CLOCKS) -> FarmLearning:
    kinds = {None: FLY, "brewery_grain": GRAIN}
    return learn_farm(book.read().cohorts.values(), kinds, clocks, UTC, ms(100.0))


def _slow(book: Book, name: str, start: float, feed: str | None = None) -> None:
    """A cohort whose larvae took 24 days at 27 °C in place of the 20 of the table (360 in place of 300)."""
    said = {} if feed is None else {"feed": feed}
    book.eggs(name, start, **said)
    book.write(name, "saw", start + 52.0 / 15.0, event="hatch", sure_days=0.3)
    book.write(name, "saw", start + 52.0 / 15.0 + 24.0, event="half_prepupae", sure_days=0.5)


def test_slow_larvae_move_the_farm_s_own_constant_towards_what_was_seen() -> None:
    book = Book()
    one = _learned(book.eggs("x", 5.0)).posteriors[None]
    for number in range(6):
        _slow(book, f"c{number}", 10.0 + 5.0 * number)
    six = _learned(book)

    assert one.cohorts[LARVA] == 0
    assert six.posteriors[None].cohorts[LARVA] == 6
    assert 345.0 < np.exp(six.posteriors[None].mean[LARVA]) < 362.0
    assert six.taught == tuple(f"c{number}" for number in range(6))
    assert six.cases["x"].evidence is None
    assert six.priors[None].mean[LARVA] == np.log(300.0)


def test_a_split_cohort_teaches_nothing_twice() -> None:
    book = Book()
    _slow(book, "c", 10.0)
    before = _learned(book).posteriors[None]
    book.write("c", "split", 40.0, into="d", percent=10.0, place="box")
    after = _learned(book)

    assert after.taught == ("c",)
    assert np.array_equal(before.mean, after.posteriors[None].mean)
    assert after.cases["d"].evidence is not None, "for its own forecast what was inherited counts"


def test_another_feed_learns_too_and_stays_apart_in_its_level() -> None:
    book = Book()
    for number in range(6):
        _slow(book, f"c{number}", 10.0 + 5.0 * number)
    found = _learned(book).posteriors

    ratio = np.exp(found["brewery_grain"].mean[LARVA]) / 333.0
    own = np.exp(found[None].mean[LARVA]) / 300.0
    assert 1.0 < ratio < own
    wide = [np.sqrt(found[feed].covariance[LARVA, LARVA]) for feed in (None, "brewery_grain")]
    assert wide[0] < wide[1]


def test_nothing_is_learned_across_a_time_of_unknown_temperature() -> None:
    """The thermometers were hung up on day 20; the cohort began before."""
    late = replace(AT_27, unknown=((0, ms(20.0)),))
    book = Book()
    _slow(book, "c", 10.0)
    assert _learned(book, clocks_of(FLY, tray=late, bin=late, box=late)).taught == ()


def _with_flies(flies: tuple[int, ...]) -> Book:
    book = Book().eggs("c", 10.0, animals=1000)
    for number, count in enumerate(flies):
        book.write("c", "flies", 50.4 + number, flies=count)
    return book


def test_complete_counts_give_half_emergence_and_their_number() -> None:
    book = _with_flies((4, 30, 80, 120, 80, 30, 4))
    cohort = book.read().cohorts["c"]
    counts = counted(cohort, FLY, UTC)
    assert counts is not None
    events = {seen.event: seen.at_ms for seen in observations_of(cohort, FLY, counts)}
    learning = _learned(book)

    assert counts.half_ms == pytest.approx(ms(53.5), abs=MS_PER_HOUR)
    assert events == {Event.FIRST_EMERGED: ms(50.4), Event.HALF_EMERGED: counts.half_ms}
    track = learning.cases["c"].track
    assert (track.count, track.count_stage) == (348.0, Stage.ADULT)
    assert learning.posteriors[None].spread_cohorts == 1


@pytest.mark.parametrize("flies", [(4, 30, 80, 120), (1, 2, 3, 2, 0), (30, 40)])
def test_counts_that_are_not_complete_say_only_when_the_first_came(flies: tuple[int, ...]) -> None:
    cohort = _with_flies(flies).read().cohorts["c"]
    assert counted(cohort, FLY, UTC) is None
    assert [seen.event for seen in observations_of(cohort, FLY, None)] == [Event.FIRST_EMERGED]


def test_what_was_seen_by_eye_is_not_taken_from_the_counts_again() -> None:
    book = _with_flies((4, 30, 80, 120, 80, 30, 4))
    book.write("c", "saw", 50.0, event="first_emerged", sure_days=0.2)
    book.write("c", "eggs", 60.0, grams=2.0)
    cohort = book.read().cohorts["c"]
    found = {seen.event: seen for seen in observations_of(cohort, FLY, counted(cohort, FLY, UTC))}

    assert found[Event.FIRST_EMERGED].sd_days == 0.2
    assert found[Event.FIRST_EGGS].at_ms == ms(60.0)


def test_a_day_begins_at_midnight() -> None:
    assert midnight_ms(ms(3.7), UTC) == ms(3.0)


@pytest.mark.parametrize(("after_days", "watched"), [(3.0, True), (14.0, True), (14.1, False)])
def test_first_eggs_count_as_the_onset_only_where_flies_came_out_shortly_before(
    after_days: float, watched: bool
) -> None:
    book = _with_flies((4, 30))
    book.write("c", "eggs", 50.4 + after_days, grams=2.0)
    events = [seen.event for seen in observations_of(book.read().cohorts["c"], FLY, None)]
    assert (Event.FIRST_EGGS in events) is watched


def test_first_eggs_with_which_the_note_taking_began_teach_nothing() -> None:
    """Eggs entered 8 days after the forecast would have them, of cohorts whose flies nobody noted."""
    book = Book()
    for number in range(6):
        book.eggs(f"c{number}", 10.0 + number)
        book.write(f"c{number}", "eggs", 10.0 + number + 52.0, grams=2.0)
    learned = _learned(book)
    adult = learned.posteriors[None].stages.index(Stage.ADULT)
    assert learned.taught == ()
    assert learned.posteriors[None].mean[adult] == learned.priors[None].mean[adult]
    book.write("c0", "saw", 62.0, event="first_eggs")
    assert _learned(book).taught == ("c0",), "unless the keeper says that they were the first"
