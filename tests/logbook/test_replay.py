"""Cohorts and bins as two views of the same entries: what one says, the other shows."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from cohort_book import CONTEXT, NOW_DAY, ms
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.bins.events import LarvaeChanged
from monitor.bins.substrate import larvae_kg
from monitor.development.progress import Ending
from monitor.errors import UsageError
from monitor.logbook.animals import linked
from monitor.logbook.bin_entries import BinEntryKind, BinFill
from monitor.logbook.cohort_entries import CohortEntryKind
from monitor.logbook.entry import WITHDRAWN
from monitor.logbook.replay import FarmBook, check_entry, farm_book
from monitor.records import LogbookEntry, Stage, SubjectKind

FILL: dict[str, Any] = {"kg": 10.0, "moisture": 0.7, "surface_m2": 0.24}
NOW_MS = ms(NOW_DAY)


class Keeper:
    """Writes entries as the one writer does: linked, checked, numbered."""

    def __init__(self, now_ms: int = NOW_MS) -> None:
        self.entries: list[LogbookEntry] = []
        self.now_ms = now_ms

    def write(self, subject: str, kind: str, day: float, old: int | None = None, **body: Any) -> int:
        about = SubjectKind.COHORT if kind in list(CohortEntryKind) and kind != "empty" else SubjectKind.BIN
        if old is not None:
            about = self.entries[old - 1].subject_kind
        at_ms = ms(day)
        made = LogbookEntry(about, subject, kind, at_ms, self.now_ms, "me", body, old)
        if kind in (BinEntryKind.FILL, BinEntryKind.LARVAE, BinEntryKind.EMPTY):
            before = None if old is None else self.entries[old - 1]
            others = [each for each in self.entries if each is not before]
            made = linked(made, before, farm_book(others, CONTEXT, self.now_ms).cohorts, CONTEXT.cohorts)
        check_entry(self.entries, made, CONTEXT, self.now_ms)
        self.entries.append(replace(made, entry_id=len(self.entries) + 1))
        return len(self.entries)

    def fill(self, place: str, day: float, **body: Any) -> int:
        return self.write(place, BinEntryKind.FILL, day, **FILL, **body)

    def start(self, name: str, place: str, day: float, **body: Any) -> int:
        return self.write(name, CohortEntryKind.START, day, **{"stage": "larva", "place": place, **body})

    @property
    def book(self) -> FarmBook:
        return farm_book(self.entries, CONTEXT, self.now_ms)

    def filled(self, place: str) -> BinFill:
        fill = self.book.filled(place)
        assert fill is not None
        return fill


@pytest.fixture
def keeper() -> Keeper:
    return Keeper()


def changes(fill: BinFill) -> list[LarvaeChanged]:
    return [event for event in fill.events if isinstance(event, LarvaeChanged)]


def test_larvae_put_in_without_a_cohort_begin_one_named_by_place_and_date(keeper: Keeper) -> None:
    keeper.fill("bin", 20.0, larvae=9000, age_days=6)
    (cohort,) = keeper.book.living
    assert (cohort.name, cohort.place_at(NOW_MS)) == ("bin-1970-01-21", "bin")
    assert (cohort.track.start_stage, cohort.track.count) == (Stage.LARVA, 9000.0)
    fill = keeper.filled("bin")
    assert (fill.animals, fill.living, fill.cohorts) == (9000.0, (cohort.name,), (cohort.name,))
    assert fill.facts.larvae is not None
    assert (fill.facts.larvae.count, fill.facts.larvae.age_days) == (9000.0, 6.0)


def test_a_second_cohort_of_one_day_has_a_name_of_its_own(keeper: Keeper) -> None:
    keeper.fill("bin", 20.0, larvae=900)
    keeper.write("bin", "empty", 20.1)
    keeper.fill("bin", 20.2, larvae=800)
    assert list(keeper.book.cohorts) == ["bin-1970-01-21", "bin-1970-01-21-2"]


def test_larvae_of_a_cohort_bring_it_there_with_its_number_and_age(keeper: Keeper) -> None:
    keeper.start("b19", "tray", 10.0, stage="egg", animals=3000)
    keeper.write("b19", "saw", 13.0, event="hatch")
    keeper.fill("bin", 20.0, cohort="b19")
    book = keeper.book
    assert [stay.place for stay in book.cohorts["b19"].track.residences] == ["tray", "bin"]
    fill = keeper.filled("bin")
    assert (fill.animals, fill.living) == (3000.0, ("b19",))
    assert fill.facts.larvae is not None
    assert fill.facts.larvae.age_days == pytest.approx(7.0), "since the hatching that was seen"


def test_the_number_that_the_filling_says_is_that_of_its_cohort(keeper: Keeper) -> None:
    keeper.start("b19", "tray", 10.0, stage="egg", grams=0.2)
    keeper.fill("bin", 20.0, cohort="b19", larvae=800)
    cohort = keeper.book.cohorts["b19"]
    assert (cohort.track.count, cohort.track.count_stage, cohort.rough_count) == (800.0, Stage.LARVA, False)
    assert keeper.filled("bin").animals == 800.0


def test_more_larvae_than_the_cohort_has_cannot_be_put_in(keeper: Keeper) -> None:
    keeper.start("b19", "tray", 10.0, animals=800)
    with pytest.raises(UsageError, match="b19 has 800 animals, so 801 of it cannot be put in"):
        keeper.fill("bin", 20.0, cohort="b19", larvae=801)
    keeper.fill("bin", 20.0, cohort="b19", larvae=800)


def test_a_filling_where_a_cohort_lives_must_say_whose_larvae_they_are(keeper: Keeper) -> None:
    keeper.start("b19", "bin", 10.0, animals=800)
    with pytest.raises(
        UsageError, match="b19 lives in it already; are these its larvae, say so: --cohort b19"
    ):
        keeper.fill("bin", 20.0, larvae=700)
    keeper.fill("bin", 20.0)
    assert keeper.filled("bin").animals == 800.0, "a filling without a number: those that live there"


def test_larvae_put_into_a_full_bin_are_those_of_the_one_cohort_in_it(keeper: Keeper) -> None:
    keeper.fill("bin", 20.0)
    assert keeper.filled("bin").animals == 0.0
    keeper.write("bin", "larvae", 21.0, larvae=500)
    keeper.write("bin", "larvae", 22.0, larvae=450)
    assert [each.track.count for each in keeper.book.living] == [450.0]
    keeper.start("b2", "bin", 23.0, animals=100)
    assert keeper.filled("bin").animals == 550.0
    with pytest.raises(UsageError, match="live in it; say whose larvae they are: --cohort bin-1970"):
        keeper.write("bin", "larvae", 24.0, larvae=300)
    keeper.write("bin", "larvae", 24.0, larvae=90, cohort="b2")
    assert keeper.filled("bin").animals == 540.0


def test_an_emptied_bin_ends_the_cohorts_in_it_but_those_that_stay(keeper: Keeper) -> None:
    keeper.fill("bin", 20.0, larvae=900)
    keeper.start("b2", "bin", 21.0, animals=300)
    keeper.start("b3", "bin", 22.0, animals=10)
    with pytest.raises(UsageError, match="b9 does not live in it, so it cannot stay"):
        keeper.write("bin", "empty", 30.0, stays=["b9"])
    number = keeper.write("bin", "empty", 30.0, stays=["b3"], grams=120.0)
    book = keeper.book
    ended = {name: cohort.ended for name, cohort in book.cohorts.items()}
    assert ended["b3"] is None
    told = [(each.how, each.grams) for each in ended.values() if each is not None]
    assert told == [(Ending.HARVESTED, 90.0), (Ending.HARVESTED, 30.0)], "shared out by their numbers"
    assert keeper.entries[number - 1].body["ended"] == ["bin-1970-01-21", "b2"]
    assert book.filled("bin") is None
    assert [each.name for each in book.living_in("bin", NOW_MS)] == ["b3"]


@pytest.mark.parametrize(
    ("kind", "body"), [("move", {"place": "box"}), ("end", {"how": "lost"}), ("merge", {"other": "c"})]
)
def test_a_cohort_that_leaves_a_full_bin_leaves_the_substrate_without_animals(
    keeper: Keeper, kind: str, body: dict[str, Any]
) -> None:
    keeper.fill("bin", 20.0, larvae=900)
    name = keeper.book.living[0].name
    keeper.start("c", "box", 20.0, animals=5)
    subject, body = ("c", {"other": name}) if kind == "merge" else (name, body)
    keeper.write(subject, kind, 22.0, **body)
    fill = keeper.filled("bin")
    assert (fill.animals, fill.living) == (0.0, ())
    assert changes(fill) == [LarvaeChanged(ms(22.0), None)], "so the model has no larvae from then on"


def test_a_part_that_is_taken_makes_less_heat_and_a_better_count_does_not(keeper: Keeper) -> None:
    keeper.fill("bin", 20.0, larvae=1000)
    name = keeper.book.living[0].name
    keeper.write(name, "count", 21.0, animals=800, stage="larva")
    keeper.write(name, "split", 22.0, into="flies", percent=25, place="box")
    counted, taken = changes(keeper.filled("bin"))
    assert counted.larvae is not None and taken.larvae is not None
    assert (counted.larvae.count, counted.larvae.share) == (800.0, 1.0)
    assert taken.larvae.count * taken.larvae.share == pytest.approx(600.0)
    assert taken.larvae.share == pytest.approx(0.75)
    assert keeper.filled("bin").animals == 600.0


def test_kilograms_of_larvae_taken_out_are_animals_taken_out(keeper: Keeper) -> None:
    keeper.fill("bin", 20.0, larvae=1000, age_days=14)
    keeper.write("bin", "take", 21.0, kg=0.045, what="larvae")
    fill = keeper.filled("bin")
    assert fill.animals == pytest.approx(1000.0 - 45_000.0 / 219.8, rel=1e-3), "219.8 mg each"
    (change,) = changes(fill)
    assert change.larvae is not None and fill.animals is not None
    assert change.larvae.share == pytest.approx(fill.animals / 1000.0)
    keeper.write("bin", "take", 22.0, kg=0.01, what="residue")
    assert keeper.filled("bin").animals == pytest.approx(fill.animals)
    keeper.write("bin", "take", 23.0, kg=3.0, what="larvae")
    assert keeper.filled("bin").animals is None, "more was taken than was reckoned to be there"


def test_a_planned_move_whose_time_has_come_counts_in_the_bin_too(keeper: Keeper) -> None:
    keeper.fill("bin", 20.0, larvae=900)
    name = keeper.book.living[0].name
    keeper.now_ms = ms(21.0)
    keeper.write(name, "planned_move", 22.0, place="box")
    assert keeper.filled("bin").animals == 900.0
    keeper.now_ms = ms(23.0)
    assert keeper.filled("bin").animals == 0.0


def test_a_withdrawn_filling_takes_its_cohort_along(keeper: Keeper) -> None:
    number = keeper.fill("bin", 20.0, larvae=900)
    keeper.write("bin", WITHDRAWN, 20.0, number)
    assert (keeper.book.cohorts, keeper.book.fills) == ({}, {})


def test_a_filling_is_not_withdrawn_while_other_entries_stand_on_it(keeper: Keeper) -> None:
    number = keeper.fill("bin", 20.0, larvae=900)
    name = keeper.book.living[0].name
    keeper.write(name, "saw", 25.0, event="first_prepupae")
    keeper.write("bin", "water", 26.0, kg=1.0)
    with pytest.raises(UsageError, match=r"entry 2 \(saw of bin-.*\n.*entry 3 \(water of bin,") as refused:
        keeper.write("bin", WITHDRAWN, 20.0, number)
    assert str(refused.value).endswith("Nothing was written")


def test_the_name_of_a_cohort_that_a_filling_began_can_be_corrected(keeper: Keeper) -> None:
    number = keeper.fill("bin", 20.0, larvae=900)
    keeper.write("bin", "fill", 20.0, number, **{**keeper.entries[0].body, "cohort": "autumn"})
    assert [each.name for each in keeper.book.living] == ["autumn"]
    keeper.start("b1", "tray", 10.0, animals=2000)
    keeper.write("bin", "fill", 20.0, 2, **{**keeper.entries[1].body, "cohort": "b1"})
    assert [(each.name, each.track.count) for each in keeper.book.living] == [("b1", 900.0)]


def test_what_ends_a_cohort_and_a_filling_of_one_moment_come_in_that_order(keeper: Keeper) -> None:
    keeper.start("old", "bin", 10.0, animals=5)
    keeper.write("old", "end", 20.0, how="lost")
    keeper.fill("bin", 20.0, larvae=900)
    keeper.write(keeper.book.living[0].name, "count", 20.0, animals=880, stage="larva")
    assert keeper.filled("bin").animals == 880.0


# --- a clock that went back ---


def test_an_entry_from_a_clock_that_was_ahead_counts_by_its_number() -> None:
    keeper = Keeper(ms(60.0))
    keeper.fill("bin", 59.0, larvae=900)
    keeper.write("bin-1970-03-01", "move", 60.0, place="box")
    keeper.now_ms = ms(20.0)
    book = keeper.book
    assert book.refused == ()
    assert [(each.name, each.place_at(ms(20.0))) for each in book.living] == [("bin-1970-03-01", "box")]
    fill = keeper.filled("bin")
    assert (fill.animals, fill.facts.filled_ms < ms(20.0)) == (0.0, True)
    keeper.write("bin-1970-03-01", "move", 20.0, place="tray")
    keeper.now_ms = ms(30.0)
    assert keeper.book.refused == ()
    assert keeper.book.living[0].place_at(ms(30.0)) == "tray", "entered later, so it is later"


def test_what_was_known_at_an_earlier_moment_is_asked_for_on_purpose(keeper: Keeper) -> None:
    keeper.now_ms = ms(30.0)
    keeper.fill("bin", 20.0, larvae=900)
    then = farm_book(keeper.entries, CONTEXT, ms(25.0), ms(25.0))
    assert (then.cohorts, then.fills, then.refused) == ({}, {}, ())


# --- any entries ---

PLACES = ("bin", "tray", "box")
NAMES = ("a", "b", "c")


def one_of(*each: Any) -> st.SearchStrategy[Any]:
    return st.sampled_from(each)


def name() -> st.SearchStrategy[str]:
    return st.sampled_from(NAMES)


def place() -> st.SearchStrategy[str]:
    return st.sampled_from(PLACES)


BODIES: dict[str, Any] = {
    "start": lambda draw: {"stage": "larva", "place": draw(place()), "animals": 400},
    "move": lambda draw: {"place": draw(place())},
    "split": lambda draw: {"into": draw(name()), "percent": 40, "place": draw(place())},
    "merge": lambda draw: {"other": draw(name())},
    "thin": lambda draw: {"percent": draw(st.integers(1, 99))},
    "count": lambda draw: {"animals": draw(st.integers(0, 999)), "stage": "larva"},
    "end": lambda _: {"how": "lost"},
    "fill": lambda draw: {
        **FILL,
        **draw(one_of({}, {"larvae": 300}, {"cohort": "a"}, {"cohort": "b", "larvae": 90})),
    },
    "larvae": lambda draw: draw(one_of({"larvae": 200}, {"larvae": 70, "cohort": "c"}, {"cohort": "a"})),
    "take": lambda draw: {"kg": draw(one_of(0.001, 5.0)), "what": draw(one_of("larvae", "residue"))},
    "water": lambda _: {"kg": 1.0},
    "empty": lambda draw: draw(one_of({}, {"stays": ["a"]})),
}


@settings(max_examples=150, deadline=None)
@given(st.data())
def test_whatever_is_entered_a_bin_holds_what_its_cohorts_count_and_nothing_is_lost(
    data: st.DataObject,
) -> None:
    keeper, written = Keeper(), 0
    for _ in range(data.draw(st.integers(1, 14))):
        kind = data.draw(st.sampled_from(sorted(BODIES)))
        bin_kind = kind in list(BinEntryKind)
        subject = data.draw(st.sampled_from(PLACES if bin_kind else NAMES))
        day = data.draw(st.integers(10, 60))
        try:
            keeper.write(subject, kind, float(day), **BODIES[kind](data.draw))
        except UsageError:
            continue
        written += 1
        book = keeper.book
        assert book.refused == ()
        assert len(keeper.entries) == written
        for fill in book.standing:
            there = book.living_in(fill.place, NOW_MS)
            counts = [cohort.track.count for cohort in there]
            total = None if None in counts else sum(each or 0.0 for each in counts)
            assert fill.animals == (total if total is None else pytest.approx(total))
            assert set(fill.living) == {cohort.name for cohort in there}
            _assert_model_follows(fill, total)


def _assert_model_follows(fill: BinFill, total: float | None) -> None:
    """The larvae of the heat and water model are those that live in it now."""
    events = changes(fill)
    larvae = events[-1].larvae if events else fill.facts.larvae
    if not fill.living:
        assert larvae is None
        return
    assert larvae is not None
    if total is not None:
        assert larvae.count * larvae.share == pytest.approx(total)
    times = np.array([NOW_MS])
    assert larvae_kg(larvae, times)[0] >= 0.0
