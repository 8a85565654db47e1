"""Cohorts out of the logbook: what each entry does, what is refused and why, and that nothing is lost."""

from __future__ import annotations

from typing import Any

import pytest
from cohort_book import CONTEXT, Book, ms
from development_builders import EGG_DD

from monitor.development.events import Event
from monitor.development.progress import Ending, Origin, Purpose
from monitor.errors import UsageError
from monitor.logbook.animals import (
    flies_by_cage,
    flies_into,
    home_of,
    is_for_breeding,
    stages_by_place,
    youngest_by_place,
)
from monitor.logbook.entry import WITHDRAWN
from monitor.records import MS_PER_HOUR, Stage


def test_eggs_are_counted_from_their_weight_and_that_is_rough() -> None:
    cohort = Book().eggs(grams=2.0, purpose="breeding", cage="cage").read().cohorts["c"]

    assert cohort.track.count == 2.0 * 38_000.0
    assert cohort.track.count_stage is Stage.EGG
    assert cohort.rough_count
    assert (cohort.purpose, cohort.cage, cohort.origin) == (Purpose.BREEDING, "cage", Origin.LAID)
    assert cohort.track.start_sd_days == 0.25


def test_a_laying_window_starts_in_its_middle_and_is_as_unsure_as_it_is_long() -> None:
    track = Book().eggs(window_hours=24.0).read().cohorts["c"].track

    assert track.start_ms == ms(10.5)
    # An even spread over one day has the standard deviation 1 / sqrt(12) = 0.289 d.
    assert 0.289 < track.start_sd_days < 0.32


@pytest.mark.parametrize(
    ("said", "age_days", "progress"),
    [
        ({}, EGG_DD / 15.0, 0.0),
        ({"through_percent": 50.0}, EGG_DD / 15.0 + 10.0, 0.5),
        ({"age_days": EGG_DD / 15.0 + 5.0}, EGG_DD / 15.0 + 5.0, 0.25),
        ({"age_days": 3.0, "through_percent": 10.0}, 3.0, 0.1),
    ],
)
def test_bought_larvae_have_an_age_behind_them(
    said: dict[str, float], age_days: float, progress: float
) -> None:
    """At 27 °C an egg takes 56 / 15 days and a larva 300 / 15 = 20 days, by the table of the species."""
    book = Book()
    book.write("c", "start", 20.0, stage="larva", place="bin", origin="bought", **said)
    track = book.read().cohorts["c"].track

    assert track.age_days == pytest.approx(age_days)
    assert track.start_progress == pytest.approx(progress)
    assert track.start_sd_days == 2.0


def test_moves_follow_one_another_and_the_plan_comes_last() -> None:
    book = Book().eggs()
    book.write("c", "move", 14.0, place="bin", cage="cage")
    book.write("c", "planned_move", 120.0, entered=30.0, place="box")
    cohort = book.read().cohorts["c"]

    assert [(stay.place, stay.from_ms) for stay in cohort.track.residences] == [
        ("tray", ms(10.0)),
        ("bin", ms(14.0)),
        ("box", ms(120.0)),
    ]
    assert cohort.place_at(ms(13.0)) == "tray"
    assert cohort.place_at(ms(100.0)) == "bin"
    assert cohort.next_move(ms(100.0)) == cohort.track.residences[-1]
    assert cohort.cage == "cage"


def test_a_plan_whose_day_has_come_counts_until_the_move_is_entered() -> None:
    book = Book().eggs()
    book.write("c", "planned_move", 20.0, entered=12.0, place="bin")
    waiting = book.read().cohorts["c"]
    book.write("c", "move", 21.0, place="bin")
    done = book.read().cohorts["c"]

    assert waiting.unconfirmed_move(ms(25.0)) is not None
    assert waiting.place_at(ms(25.0)) == "bin"
    assert done.unconfirmed_move(ms(25.0)) is None
    assert [stay.from_ms for stay in done.track.residences] == [ms(10.0), ms(21.0)]


def test_a_plan_is_void_when_the_cohort_ended_before_its_day() -> None:
    book = Book().eggs()
    book.write("c", "planned_move", 20.0, entered=12.0, place="bin")
    book.write("c", "end", 15.0, how="lost")

    assert book.read().refused == ()
    assert [stay.place for stay in book.read().cohorts["c"].track.residences] == ["tray"]


def test_a_split_by_number_leaves_the_rest_and_keeps_the_past() -> None:
    book = Book().eggs(animals=5000)
    book.write("c", "saw", 14.0, event="hatch")
    book.write(
        "c", "split", 30.0, into="d", animals=1000, place="box", purpose="breeding", animals_stage="prepupa"
    )
    cohorts = book.read().cohorts

    assert cohorts["c"].track.count == pytest.approx(4000.0)
    assert cohorts["d"].track.count == 1000.0
    assert cohorts["d"].track.count_stage is Stage.PREPUPA
    assert [stay.place for stay in cohorts["d"].track.residences] == ["tray", "box"]
    assert (cohorts["d"].parent, cohorts["d"].inherited, len(cohorts["d"].seen)) == ("c", 1, 1)
    assert (cohorts["c"].purpose, cohorts["d"].purpose) == (None, Purpose.BREEDING)


def test_a_split_by_share_of_an_unknown_number_stays_unknown() -> None:
    book = Book().eggs()
    book.write("c", "split", 30.0, into="d", percent=25.0)
    assert [book.read().cohorts[name].track.count for name in "cd"] == [None, None]


def test_thinning_and_counting() -> None:
    book = Book().eggs(animals=5000)
    book.write("c", "thin", 20.0, percent=40.0)
    thinned = book.read().cohorts["c"]
    book.write("c", "count", 25.0, animals=2500, stage="larva")
    counted = book.read().cohorts["c"]

    assert thinned.track.count == pytest.approx(3000.0)
    assert (counted.track.count, counted.track.count_stage) == (2500.0, Stage.LARVA)


def test_merging_adds_up_ends_the_other_and_makes_the_age_less_sure() -> None:
    book = Book().eggs(animals=3000).eggs("d", 12.0, animals=1000)
    book.write("c", "merge", 20.0, other="d")
    cohorts = book.read().cohorts

    assert cohorts["c"].track.count == 4000.0
    assert cohorts["c"].merged == ("d",)
    # A quarter of the animals is two days younger: 0.25 * 2 d beside the 0.25 d of the laying.
    assert cohorts["c"].track.start_sd_days == pytest.approx((0.25**2 + 0.5**2) ** 0.5)
    assert cohorts["d"].ended is not None
    assert cohorts["d"].ended.how is Ending.MERGED


def test_what_was_seen_counted_and_collected() -> None:
    book = Book().eggs()
    book.write("c", "saw", 14.0, event="hatch", sure_days=1.5)
    book.write("c", "flies", 60.0, flies=12)
    book.write("c", "eggs", 70.0, grams=3.5)
    book.write("c", "end", 75.0, how="emerged", animals=900)
    cohort = book.read().cohorts["c"]

    assert (cohort.seen[0].event, cohort.seen[0].sd_days) == (Event.HATCH, 1.5)
    assert [count.flies for count in cohort.flies] == [12.0]
    assert cohort.eggs_grams == ((ms(70.0), 3.5),)
    assert cohort.ended is not None
    assert (cohort.ended.how, cohort.ended.animals) == (Ending.EMERGED, 900.0)
    assert book.read().living == ()


def _started() -> Book:
    """Eggs of day 10 that moved to the bin on day 14, hatched on day 13, and another cohort that ended."""
    book = Book().eggs(animals=5000).eggs("gone", 10.0).eggs("young", 40.0)
    book.write("c", "saw", 13.0, event="hatch")
    book.write("c", "move", 14.0, place="bin")
    book.write("c", "flies", 60.0, flies=5)
    book.write("c", "saw", 62.0, event="half_emerged")
    book.write("gone", "end", 20.0, how="lost")
    return book


@pytest.mark.parametrize(
    ("name", "kind", "day", "body", "reason"),
    [
        ("c", "start", 50.0, {"stage": "egg", "place": "tray"}, "there is a cohort c already"),
        ("a b", "start", 50.0, {"stage": "egg", "place": "tray"}, "is no name for a cohort"),
        (
            "n",
            "start",
            101.0,
            {"stage": "egg", "place": "tray", "entered": 99.0},
            "lies ahead .* allowed: times that are past",
        ),
        (
            "n",
            "start",
            50.0,
            {"place": "tray"},
            "stage is missing; allowed: egg, larva, prepupa, pupa, adult",
        ),
        ("n", "start", 50.0, {"stage": "worm", "place": "tray"}, "stage is 'worm'; allowed: egg"),
        (
            "n",
            "start",
            50.0,
            {"stage": "egg", "place": "shed"},
            "place is 'shed'; allowed: tray, bin, box, cage",
        ),
        (
            "n",
            "start",
            50.0,
            {"stage": "egg", "place": "tray", "cage": "box"},
            "cage is 'box'; allowed: cage",
        ),
        (
            "n",
            "start",
            50.0,
            {"stage": "egg", "place": "tray", "feed": "x"},
            "feed is 'x'; allowed: brewery_grain",
        ),
        (
            "n",
            "start",
            50.0,
            {"stage": "egg", "place": "tray", "grams": 0},
            "grams is 0; allowed: a number above 0",
        ),
        ("n", "start", 50.0, {"stage": "egg", "place": "tray", "animals": 1.5}, "allowed: a whole number"),
        (
            "n",
            "start",
            50.0,
            {"stage": "egg", "place": "tray", "grams": "two"},
            "grams is 'two'; allowed: a number",
        ),
        ("n", "start", 50.0, {"stage": "egg", "place": "tray", "window_hours": 300}, "window hours is 300"),
        ("c", "move", 9.0, {"place": "box"}, "is before its start .1970-01-11"),
        ("c", "move", 50.0, {"place": "bin"}, "it has lived in Grow-out bin since"),
        ("c", "move", 12.0, {"place": "bin"}, "then entry .* could not be: it has lived in Grow-out bin"),
        ("c", "move", 50.0, {}, "place is missing"),
        ("c", "planned_move", 90.0, {"place": "box", "entered": 95.0}, "is past; a planned move lies ahead"),
        ("gone", "move", 50.0, {"place": "bin"}, "gone ended on 1970-01-21 00:00 .lost."),
        ("nobody", "move", 50.0, {"place": "bin"}, "there is no cohort nobody at that time; known then: c"),
        ("c", "split", 50.0, {"into": "young", "percent": 10}, "there is a cohort young already"),
        ("c", "split", 50.0, {"percent": 10}, "into is missing; allowed: the name of a cohort"),
        ("c", "split", 50.0, {"into": "d"}, "say how many: a number of animals or a share in percent"),
        ("c", "split", 50.0, {"into": "d", "animals": 1, "percent": 1}, "one of the two"),
        (
            "c",
            "split",
            50.0,
            {"into": "d", "animals": 6000},
            "it has about 5000 animals and 6000 of them cannot",
        ),
        ("c", "split", 50.0, {"into": "d", "percent": 100}, "To take all, move the cohort"),
        ("young", "thin", 50.0, {"animals": 10}, "its number is not known, so say which share"),
        ("c", "merge", 50.0, {"other": "c"}, "cannot be merged with itself"),
        ("c", "merge", 50.0, {"other": "young"}, "their lives began 30 days apart"),
        ("c", "saw", 50.0, {"event": "hatch"}, "hatch was entered already, for 1970-01-14 00:00"),
        ("c", "saw", 65.0, {"event": "half_prepupae"}, "cannot come after half_emerged, which was seen on"),
        ("c", "saw", 50.0, {"event": "dancing"}, "event is 'dancing'; allowed: hatch, first_prepupae"),
        (
            "c",
            "saw",
            50.0,
            {"event": "half_prepupae", "sure_days": 0},
            "sure days is 0; allowed: a number above 0",
        ),
        ("c", "count", 50.0, {"animals": 10}, "stage is missing"),
        ("c", "count", 50.0, {"animals": -1, "stage": "larva"}, "animals is -1; allowed: a number from 0"),
        ("c", "flies", 60.0, {"flies": 7}, "flies were entered for 1970-03-02 00:00 already"),
        ("c", "eggs", 50.0, {"grams": 0}, "grams is 0; allowed: a number above 0"),
        ("c", "end", 99.0, {"how": "merged"}, "how is 'merged'; allowed: emerged, harvested, sold, lost"),
        ("c", "end", 50.0, {"how": "sold"}, "then entry .* could not be: c ended on"),
        ("c", "danced", 50.0, {}, "'danced' is no kind of entry; allowed: start, move"),
    ],
)
def test_what_cannot_be_is_refused_with_the_reason(
    name: str, kind: str, day: float, body: dict[str, Any], reason: str
) -> None:
    with pytest.raises(UsageError, match=reason) as refused:
        _started().check(name, kind, day, **body)
    assert str(refused.value).endswith("Nothing was written")


def test_pupae_that_were_found_cannot_be_seen_hatching_or_counted_as_larvae() -> None:
    book = Book()
    book.write("p", "start", 10.0, stage="pupa", place="box")

    with pytest.raises(UsageError, match="it began as pupa, so hatch cannot be seen of it"):
        book.check("p", "saw", 12.0, event="hatch")
    with pytest.raises(UsageError, match="it began as pupa; larva cannot be counted in it"):
        book.check("p", "count", 12.0, animals=10, stage="larva")


def test_a_correction_counts_and_the_first_entry_stays() -> None:
    book = Book()
    number = book.write("c", "start", 10.0, stage="egg", place="tray", grams=2.0)
    book.write("c", "start", 11.0, entered=20.0, corrects=number, stage="egg", place="tray", grams=3.0)

    assert book.read().cohorts["c"].track.start_ms == ms(11.0)
    assert book.read(15.0).cohorts["c"].track.start_ms == ms(10.0), "what was known on day 15"
    assert [entry.body["grams"] for entry in book.entries] == [2.0, 3.0]


def test_a_withdrawn_entry_does_not_count() -> None:
    book = Book().eggs()
    number = book.write("c", "saw", 14.0, event="hatch")
    book.write("c", WITHDRAWN, 14.0, entered=20.0, corrects=number)
    assert book.read().cohorts["c"].seen == ()


def test_a_correction_may_not_make_another_entry_impossible() -> None:
    book = Book()
    number = book.write("c", "start", 10.0, stage="egg", place="tray")
    book.write("c", "saw", 14.0, event="hatch")

    with pytest.raises(
        UsageError, match=r"then entry 2 .saw of c, 1970-01-15 00:00. could not be: .* before its"
    ):
        book.check("c", "start", 20.0, corrects=number, stage="egg", place="tray")
    with pytest.raises(UsageError, match=r"then entry 2 .* there is no cohort c at that time"):
        book.check("c", WITHDRAWN, 10.0, corrects=number)


def test_a_stored_entry_that_cannot_be_is_reported_and_the_rest_counts() -> None:
    book = Book().eggs()
    book.write("c", "move", 14.0, place="bin")
    book.write("c", "move", 15.0, place="bin")
    found = book.read()

    assert [refusal.entry.entry_id for refusal in found.refused] == [3]
    assert [stay.place for stay in found.cohorts["c"].track.residences] == ["tray", "bin"]


def test_a_place_that_was_taken_out_of_the_settings_is_still_known_for_its_past() -> None:
    book = Book()
    book.write("c", "start", 10.0, stage="egg", place="old-tray", cage="old-cage")
    assert book.read().refused == ()
    assert book.read().cohorts["c"].cage == "old-cage"


def test_every_stage_that_may_be_in_a_place_counts_and_flies_live_in_their_cage() -> None:
    book = Book().eggs().eggs("d", 11.0, cage="cage").eggs("e", 12.0)
    book.write("e", "move", 15.0, place="bin")
    cohorts = book.read().cohorts
    larva, pupa, adult = (frozenset({stage}) for stage in (Stage.LARVA, Stage.PUPA, Stage.ADULT))
    stages = {"c": larva, "d": pupa | adult, "e": frozenset({Stage.PREPUPA})}

    found = stages_by_place(cohorts.values(), stages, {"cage"}, ms(50.0))
    assert found == {"tray": larva | pupa, "cage": adult, "bin": {Stage.PREPUPA}}
    stages["d"] = adult
    found = stages_by_place(cohorts.values(), stages, {"cage"}, ms(50.0))
    assert found["tray"] == frozenset(), "a forecast alone emptied it, so any stage may be there"
    assert found["cage"] == adult
    assert stages_by_place(cohorts.values(), {}, {"cage"}, ms(50.0))["bin"] == frozenset()
    assert home_of(cohorts["d"], None, ms(50.0)) == "tray"


def test_the_likeliest_stage_of_a_place_is_the_youngest_in_it() -> None:
    book = Book().eggs().eggs("d", 11.0, cage="cage").eggs("e", 12.0)
    book.write("e", "move", 15.0, place="bin")
    cohorts = book.read().cohorts
    stages = {"c": Stage.LARVA, "d": Stage.ADULT, "e": Stage.PREPUPA}

    found = youngest_by_place(cohorts.values(), stages, ms(50.0))
    assert found == {"tray": Stage.LARVA, "cage": Stage.ADULT, "bin": Stage.PREPUPA}
    stages["d"] = Stage.EGG
    assert youngest_by_place(cohorts.values(), stages, ms(50.0))["tray"] is Stage.EGG


def test_flies_come_into_the_cage_that_their_cohort_names_and_the_last_ones_count() -> None:
    cohorts = Book().eggs().eggs("d", 11.0, cage="cage").eggs("e", 12.0, cage="cage").read().cohorts.values()
    assert flies_by_cage(cohorts, {"c": ms(1.0), "d": ms(2.0), "e": ms(3.0)}) == {"cage": ms(3.0)}
    assert flies_by_cage(cohorts, {"c": ms(1.0), "d": None}) == {}


@pytest.mark.parametrize(
    ("said", "place", "wanted"),
    [
        ({}, "bin", False),
        ({}, "box", True),
        ({"purpose": "feed"}, "box", False),
        ({"purpose": "breeding"}, "bin", True),
        ({"cage": "cage"}, "bin", True),
    ],
)
def test_whose_flies_are_wanted(said: dict[str, str], place: str, wanted: bool) -> None:
    book = Book()
    book.write("c", "start", 10.0, stage="larva", place=place, **said)
    assert is_for_breeding(book.read().cohorts["c"], frozenset({"box", "cage"})) is wanted


def test_harvested_animals_give_no_flies_and_emerged_ones_do() -> None:
    book = Book().eggs("sold", 10.0, purpose="breeding").eggs("out", 10.0, purpose="breeding")
    book.write("sold", "end", 30.0, how="sold")
    book.write("out", "end", 60.0, how="emerged")
    cohorts = book.read().cohorts

    wanted = [is_for_breeding(cohorts[name], frozenset()) for name in ("sold", "out")]
    assert wanted == [False, True]
    assert flies_into(cohorts["out"], CONTEXT.cohorts.cages) == "cage"
    assert flies_into(cohorts["out"], ("one", "two")) is None


def test_an_hour_is_the_finest_count_of_flies() -> None:
    book = Book().eggs()
    book.write("c", "flies", 60.0, flies=7)
    later = 60.0 + MS_PER_HOUR / 86_400_000
    assert len(book.check("c", "flies", later, flies=9).cohorts["c"].flies) == 2
