"""What people said of places: what ends the guard, what starts it again, and what does neither."""

from __future__ import annotations

from contextlib import nullcontext
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from monitor.errors import UsageError
from monitor.farm.entries import KINDS
from monitor.logbook.entry import WITHDRAWN
from monitor.logbook.place_entries import (
    ANIMALS,
    Noted,
    PlaceEntryKind,
    PlaceWords,
    Unguarded,
    Why,
    arrived_ms,
    boards_aside,
    check_place_entry,
    place_words,
)
from monitor.records import MS_PER_HOUR, MS_PER_MINUTE, LogbookEntry, SubjectKind

HOUR = MS_PER_HOUR
NOW = 1_000 * HOUR
ZONE = ZoneInfo("Africa/Gaborone")
COHORT, BIN, PLACE, NODE = SubjectKind.COHORT, SubjectKind.BIN, SubjectKind.PLACE, SubjectKind.NODE


class Log:
    """A logbook: an entry is dated and entered so many hours after a beginning; nothing is refused."""

    def __init__(self) -> None:
        self.entries: list[LogbookEntry] = []

    def add(
        self,
        about: SubjectKind,
        subject: str,
        kind: str,
        at: float,
        entered: float | None = None,
        corrects: int | None = None,
        **body: Any,
    ) -> int:
        entered_ms = round((at if entered is None else entered) * HOUR)
        number = len(self.entries) + 1
        self.entries.append(
            LogbookEntry(about, subject, kind, round(at * HOUR), entered_ms, "ann", body, corrects, number)
        )
        return number

    def start(self, name: str, at: float, place: str, **more: Any) -> int:
        return self.add(COHORT, name, "start", at, **{"stage": "larva", "place": place, **more})

    def empty(self, at: float, entered: float | None = None, place: str = "bin", **more: Any) -> int:
        return self.add(PLACE, place, "empty", at, entered, **more)

    def aside(self, at: float, hours: float, place: str = "bin") -> int:
        return self.add(PLACE, place, "aside", at, until_ms=round((at + hours) * HOUR))

    def words(self, at: float = 1_000, noted: Noted | None = None, place: str = "bin") -> PlaceWords:
        return place_words(self.entries, round(at * HOUR), noted or Noted()).get(place, PlaceWords())

    def is_empty(self, at: float = 1_000, noted: Noted | None = None, place: str = "bin") -> bool:
        return self.words(at, noted, place).empty is not None


@pytest.fixture
def log() -> Log:
    return Log()


def test_the_word_of_a_person_ends_the_guard_and_says_who_when_and_how_to_undo(log: Log) -> None:
    log.start("c", 1, "bin")
    assert not log.is_empty()
    number = log.empty(2, note="harvested")
    assert log.words().empty == Unguarded(
        Why.EMPTY, "ann", 2 * HOUR, None, "harvested", "place in-use bin", number
    )
    assert not log.words(place="other").empty


@pytest.mark.parametrize(
    ("about", "kind", "body"),
    [
        (COHORT, "start", {"stage": "larva", "place": "bin"}),
        (COHORT, "start", {"stage": "adult", "place": "box", "cage": "bin"}),
        (COHORT, "move", {"place": "bin"}),
        (COHORT, "planned_move", {"place": "bin"}),
        (COHORT, "split", {"into": "d", "place": "bin", "percent": 50}),
        (BIN, "fill", {"larvae": 100, "kg": 3.0}),
        (BIN, "fill", {"kg": 3.0}),
        (BIN, "feed", {"kg": 3.0}),
        (BIN, "larvae", {"larvae": 100}),
        (BIN, "water", {"litres": 1.0}),
        (BIN, "stir", {}),
        (BIN, "finish", {}),
        (PLACE, "in_use", {}),
    ],
)
@pytest.mark.parametrize("case", ["later", "dated later", "entered later", "before"])
def test_every_entry_that_says_that_animals_are_there_starts_the_guard_again(
    log: Log, about: SubjectKind, kind: str, body: dict[str, Any], case: str
) -> None:
    log.start("bin" if about is BIN else "c", 1, "tray")
    subject = "bin" if about in (BIN, PLACE) else "d" if kind == "start" else "c"
    at, entered, empty_first = {
        "later": (6, 6, True),
        "dated later": (6, 6, False),
        "entered later": (4, 8, True),
        "before": (4, 4, False),
    }[case]
    if empty_first:
        log.empty(5)
    log.add(about, subject, kind, at, entered, **body)
    if not empty_first:
        log.empty(5, entered=9)
    assert log.is_empty() is (case == "before")


@pytest.mark.parametrize("kind", ["merge", "split"])
def test_a_merge_and_a_split_speak_of_the_place_in_which_the_cohort_lives(log: Log, kind: str) -> None:
    log.start("c", 1, "bin")
    log.start("d", 1, "other")
    for place in ("bin", "other"):
        log.empty(2, place=place)
    body: dict[str, Any] = {"other": "d"} if kind == "merge" else {"into": "e", "place": "third"}
    log.add(COHORT, "c", kind, 3, **body)
    assert not log.is_empty()
    assert log.is_empty(place="other")
    if kind == "split":
        assert log.words(place="third").lived_in


@pytest.mark.parametrize("kind", ["saw", "count", "thin", "eggs", "flies", "end"])
def test_what_was_seen_of_a_cohort_moves_no_animals(log: Log, kind: str) -> None:
    log.start("c", 1, "bin")
    log.empty(2)
    log.add(COHORT, "c", kind, 3)
    assert log.is_empty()


def test_a_merge_speaks_of_where_the_cohort_lived_when_it_was_written(log: Log) -> None:
    """The guard that a merge started again does not end when the move before it is undone."""
    log.start("c1", 1.0, "bin-1")
    log.start("c2", 1.0, "bin-1")
    move = log.add(COHORT, "c1", "move", 2.0, place="cage-1")
    log.add(PLACE, "cage-1", PlaceEntryKind.EMPTY, 3.0)
    assert place_words(log.entries, NOW)["cage-1"].empty is not None

    log.add(COHORT, "c1", "merge", 4.0, other="c2")
    assert place_words(log.entries, NOW)["cage-1"].empty is None
    log.add(COHORT, "c1", WITHDRAWN, 2.0, entered=5.0, corrects=move)

    assert place_words(log.entries, NOW)["cage-1"].empty is None
    assert place_words(log.entries, NOW)["bin-1"].empty is None


def test_a_merge_after_a_move_was_undone_does_not_speak_of_its_place(log: Log) -> None:
    log.start("c1", 1.0, "bin-1")
    log.start("c2", 1.0, "bin-1")
    move = log.add(COHORT, "c1", "move", 2.0, place="cage-1")
    log.add(COHORT, "c1", WITHDRAWN, 2.0, entered=2.5, corrects=move)
    log.add(PLACE, "cage-1", PlaceEntryKind.EMPTY, 3.0)
    log.add(COHORT, "c1", "merge", 4.0, other="c2")

    assert place_words(log.entries, NOW)["cage-1"].empty is not None


def test_an_emptied_bin_an_ended_cohort_and_a_merge_only_ask(log: Log) -> None:
    log.start("c", 1, "bin")
    log.add(BIN, "bin-2", "fill", 1, larvae=100)
    log.start("d", 1, "bin-3")
    assert not any(log.words(place=place).asks for place in ("bin", "bin-2", "bin-3", "never"))
    log.add(COHORT, "c", "end", 2)
    log.add(BIN, "bin-2", "empty", 2)
    log.add(COHORT, "c2", "merge", 2, other="d")
    for place in ("bin", "bin-2", "bin-3"):
        words = log.words(place=place)
        assert (words.empty, words.asks) == (None, True)
        log.empty(3, place=place)
        assert not log.words(place=place).asks


def test_animals_are_still_in_it_answers_the_question_until_the_next_ones_leave(log: Log) -> None:
    log.start("c", 1, "bin")
    log.add(COHORT, "c", "end", 2)
    assert log.words().asks
    log.add(PLACE, "bin", "in_use", 3)
    assert not log.words().asks
    log.start("d", 4, "bin")
    log.add(COHORT, "d", "move", 5, place="other")
    assert log.words().asks


def test_a_filled_bin_holds_animals_until_it_is_emptied_or_its_last_cohort_has_left(log: Log) -> None:
    log.add(BIN, "bin", "fill", 1, kg=3.0)
    assert log.words().lived_in
    log.start("c", 2, "bin")
    log.start("d", 2, "bin")
    log.add(COHORT, "c", "move", 3, place="other")
    assert log.words().lived_in
    log.add(COHORT, "d", "end", 4)
    assert log.words().asks


@pytest.mark.parametrize("undone", [True, False])
def test_an_empty_that_is_withdrawn_does_not_count_and_one_that_is_corrected_does(
    log: Log, undone: bool
) -> None:
    log.start("c", 1, "bin")
    number = log.empty(5)
    if undone:
        log.add(PLACE, "bin", WITHDRAWN, 5, 6, corrects=number)
    else:
        log.empty(4, 6, corrects=number)
    assert log.is_empty() is not undone


def test_a_corrected_empty_counts_as_said_when_it_was_said_first(log: Log) -> None:
    number = log.empty(5)
    log.start("c", 4, "bin")
    log.empty(5, 7, corrects=number)
    assert not log.is_empty(), "the animals were entered after it"
    log.empty(8)
    assert log.is_empty()


def test_of_two_words_one_that_still_holds_is_enough(log: Log) -> None:
    log.start("c", 4, "bin")
    first = log.empty(5)
    log.empty(3, 6)
    empty = log.words().empty
    assert empty is not None and empty.entry_id == first
    assert log.words().filled_ms is None, "it is empty, so nothing has filled it"


@pytest.mark.parametrize("kind", [WITHDRAWN, "start"])
def test_animals_that_were_entered_by_mistake_leave_the_guard_and_a_question(log: Log, kind: str) -> None:
    log.empty(1)
    number = log.start("c", 2, "bin")
    log.add(COHORT, "c", kind, 2, 3, corrects=number, place="other", stage="larva")
    assert log.words().empty is None
    assert log.words().asks


# --- what took animals away is put right ---

TAKEN_AWAY: dict[str, tuple[SubjectKind, str, str, dict[str, Any], dict[str, Any]]] = {
    "end": (COHORT, "c", "end", {"how": "harvested"}, {}),
    "move": (COHORT, "c", "move", {"place": "other"}, {}),
    "planned move": (COHORT, "c", "planned_move", {"place": "other"}, {}),
    "merge": (COHORT, "d", "merge", {"other": "c"}, {"other": "e"}),
    "harvest": (BIN, "bin", "empty", {"how": "harvested", "ended": ["c"]}, {"stays": ["c"], "ended": []}),
    "put into another bin": (BIN, "third", "fill", {"cohort": "c", "begins": False}, {"cohort": "e"}),
}


@pytest.mark.parametrize("what", TAKEN_AWAY)
@pytest.mark.parametrize("corrected", [False, True])
def test_who_undoes_what_took_animals_away_says_that_they_are_there(
    log: Log, what: str, corrected: bool
) -> None:
    about, subject, kind, body, right = TAKEN_AWAY[what]
    for name, place in (("c", "bin"), ("d", "far"), ("e", "away")):
        log.start(name, 1, place)
    number = log.add(about, subject, kind, 5, **body)
    log.empty(6)
    assert log.is_empty()
    if not corrected:
        log.add(about, subject, WITHDRAWN, 5, 7, corrects=number)
    elif right:
        log.add(about, subject, kind, 5, 7, corrects=number, **body | right)
    else:
        log.add(about, subject, kind, 5, 7, corrects=number, **body, note="in the evening")
    assert log.is_empty() is (corrected and not right)
    if log.is_empty():
        return
    assert log.words().lived_in and log.words().filled_ms is None
    log.add(COHORT, "c", "end", 8, how="harvested")
    assert not log.is_empty() and log.words().asks, "what was said before does not count any more"
    log.empty(9)
    assert log.is_empty(), "said again, it counts again"


def test_a_planned_move_that_is_put_off_leaves_the_animals_where_they_were(log: Log) -> None:
    log.start("c", 1, "bin")
    number = log.add(COHORT, "c", "planned_move", 5, 2, place="other")
    log.empty(6)
    assert log.is_empty(7)
    log.add(COHORT, "c", "planned_move", 20, 7, corrects=number, place="other")
    assert not log.is_empty(8)
    assert not log.is_empty(21), "somebody has to say again that it is empty"


def test_flies_whose_end_is_undone_live_in_their_cage_again(log: Log) -> None:
    log.start("c", 1, "box", stage="pupa", cage="cage")
    noted = Noted(flies_ms={"cage": 3 * HOUR})
    number = log.add(COHORT, "c", "end", 5)
    log.empty(6, place="cage")
    assert log.is_empty(7, noted, "cage")
    log.add(COHORT, "c", WITHDRAWN, 5, 7, corrects=number)
    assert not log.is_empty(8, noted, "cage")


# --- planned moves ---


def test_a_planned_move_starts_the_guard_when_its_time_has_come_and_not_before(log: Log) -> None:
    log.start("c", 1, "tray")
    log.add(COHORT, "c", "planned_move", 10, 2, place="bin")
    log.empty(3)
    assert log.is_empty(9.99)
    assert not log.is_empty(10)


def test_a_clock_that_is_set_back_does_not_undo_a_planned_move(log: Log) -> None:
    log.start("c", 1, "tray")
    log.add(COHORT, "c", "planned_move", 10, 2, place="bin")
    log.empty(3)
    noted = Noted(arrived_ms=arrived_ms(log.entries, 11 * HOUR))
    assert noted.arrived_ms == 10 * HOUR
    assert arrived_ms(log.entries, 9 * HOUR) == 0
    assert not log.is_empty(5, noted)


@pytest.mark.parametrize(
    ("what", "guarded"),
    [("withdrawn before", False), ("withdrawn after", True), ("ended", False), ("moved there", False)],
)
def test_a_planned_move_that_was_called_off_or_made_before_does_not_count(
    log: Log, what: str, guarded: bool
) -> None:
    log.start("c", 1, "tray")
    number = log.add(COHORT, "c", "planned_move", 10, 2, place="bin")
    match what:
        case "withdrawn before":
            log.add(COHORT, "c", WITHDRAWN, 10, 9, corrects=number)
        case "withdrawn after":
            log.add(COHORT, "c", WITHDRAWN, 10, 11, corrects=number)
        case "ended":
            log.add(COHORT, "c", "end", 8)
        case "moved there":
            log.add(COHORT, "c", "move", 4, place="bin")
            log.add(COHORT, "c", "move", 5, place="other")
    log.empty(6, 6)
    assert log.is_empty() is not guarded
    assert not log.words().lived_in or guarded


# --- flies by a forecast ---


def test_a_forecast_of_flies_only_starts_the_guard_of_a_cage(log: Log) -> None:
    log.start("c", 1, "bin", cage="cage")
    log.empty(5, place="cage")
    assert log.is_empty(noted=Noted(flies_ms={"cage": 5 * HOUR}), place="cage"), "said when they might be out"
    assert not log.is_empty(noted=Noted(flies_ms={"cage": 5 * HOUR + 1}), place="cage")
    words = log.words(noted=Noted(flies_ms={"cage": 6 * HOUR}), place="cage")
    assert (words.spoken, words.lived_in) == (True, True)
    assert log.words(noted=Noted(flies_ms={"cage": 6 * HOUR})).lived_in, "the bin that they left is guarded"


def test_a_cage_asks_when_the_cohort_of_its_flies_has_ended(log: Log) -> None:
    log.start("c", 1, "bin", cage="cage")
    log.add(COHORT, "c", "end", 8)
    assert log.words(noted=Noted(flies_ms={"cage": 6 * HOUR}), place="cage").asks


# --- newly filled ---


def test_newly_filled_counts_from_the_entry_that_filled_an_empty_place(log: Log) -> None:
    log.start("c", 1, "bin")
    assert log.words().filled_ms is None, "it was not said to be empty before"
    log.empty(2)
    assert log.words().filled_ms is None
    log.start("d", 7, "bin")
    log.add(BIN, "bin", "fill", 8, larvae=10)
    assert log.words().filled_ms == 7 * HOUR
    log.add(PLACE, "bin", "in_use", 9)
    assert log.words().filled_ms is None, "they had been there all the time"


def test_only_the_last_empty_counts_for_newly_filled(log: Log) -> None:
    log.empty(1)
    log.start("c", 2, "bin")
    log.empty(3)
    log.start("d", 4, "bin")
    assert log.words().filled_ms == 4 * HOUR


# --- put aside ---


def test_aside_lasts_from_its_entry_to_its_end(log: Log) -> None:
    log.aside(10, 2)
    aside = log.words(11).aside
    assert aside is not None
    assert (aside.why, aside.said_by, aside.until_ms) == (Why.ASIDE, "ann", 12 * HOUR)
    assert log.words(10).aside
    assert not log.words(12).aside
    assert not log.words(9.99).aside, "by a clock that was set back it is over"
    assert not log.words(11, Noted(asides_over=1)).aside


def test_aside_never_lasts_longer_than_it_may(log: Log) -> None:
    log.aside(10, 30)
    assert log.words(13.99).aside
    assert not log.words(14).aside
    log.add(NODE, "n3", "aside", 10, until_ms=90 * HOUR)
    assert boards_aside(log.entries, 34 * HOUR - 1)
    assert not boards_aside(log.entries, 34 * HOUR)
    log.add(PLACE, "box", "aside", 10, until_ms="soon")
    assert not log.words(10.1, place="box").aside


def test_an_aside_that_waited_on_a_phone_does_not_undo_what_was_said_meanwhile(log: Log) -> None:
    log.add(PLACE, "bin", "in_use", 11)
    log.add(PLACE, "bin", "aside", 10, entered=12, until_ms=14 * HOUR)
    assert not log.words(13).aside
    log.add(NODE, "n3", "in_use", 11)
    log.add(NODE, "n3", "aside", 10, entered=12, until_ms=14 * HOUR)
    assert not boards_aside(log.entries, 13 * HOUR)
    log.aside(13, 1)
    assert log.words(13.5).aside


def test_in_use_or_a_newer_aside_ends_an_aside(log: Log) -> None:
    log.aside(10, 4)
    log.aside(10.5, 1)
    assert not log.words(12).aside, "the newer one says when it ends"
    log.aside(12, 2)
    log.add(PLACE, "bin", "in_use", 12.5)
    assert not log.words(13).aside
    number = log.aside(13, 2)
    log.add(PLACE, "bin", WITHDRAWN, 13, 13.5, corrects=number)
    assert not log.words(14).aside
    log.add(NODE, "n3", "aside", 10, until_ms=20 * HOUR)
    assert boards_aside(log.entries, 11 * HOUR)["n3"].undo == "board in-use n3"
    assert not boards_aside(log.entries, 11 * HOUR, Noted(asides_over=99))
    log.add(NODE, "n3", "in_use", 11)
    assert not boards_aside(log.entries, 12 * HOUR)


def test_what_fills_a_place_does_not_end_its_being_put_aside(log: Log) -> None:
    log.aside(10, 4)
    log.start("c", 11, "bin")
    assert log.words(12).aside


# --- what is refused ---


@pytest.mark.parametrize(
    ("about", "subject", "kind", "at", "minutes", "said"),
    [
        (PLACE, "nowhere", "empty", 0, None, "'nowhere' is not in the settings; known: bin"),
        (PLACE, "bin", "full", 0, None, "'full' is no kind of entry; allowed: empty, in_use, aside"),
        (NODE, "bin", "empty", 0, None, "'empty' is no kind of entry; allowed: in_use, aside"),
        (PLACE, "bin", "empty", 1, None, "lies ahead"),
        (PLACE, "bin", "aside", 0, None, "until ms is missing; allowed: from 15 minutes to 4 hours"),
        (PLACE, "bin", "aside", 0, 14, "14 minutes is no time .* allowed: from 15 minutes to 4 hours"),
        (PLACE, "bin", "aside", 0, 241, "241 minutes is no time"),
        (NODE, "bin", "aside", 0, 1441, "1441 minutes is no time .* from 15 minutes to 24 hours"),
    ],
)
def test_what_cannot_be_is_refused_with_what_is_allowed(
    about: SubjectKind, subject: str, kind: str, at: int, minutes: int | None, said: str
) -> None:
    body = {} if minutes is None else {"until_ms": NOW + minutes * MS_PER_MINUTE}
    entry = LogbookEntry(about, subject, kind, NOW + at, NOW, "ann", body)
    with pytest.raises(UsageError, match=said):
        check_place_entry(entry, ["bin"], NOW, ZONE)


@pytest.mark.parametrize(("left", "good"), [(1, True), (14, True), (0, False), (-5, False)])
def test_what_waited_on_a_phone_counts_from_when_it_was_said_while_some_of_it_is_left(
    left: int, good: bool
) -> None:
    body = {"until_ms": NOW + left * MS_PER_MINUTE}
    entry = LogbookEntry(PLACE, "bin", "aside", NOW - 20 * MS_PER_MINUTE, NOW, "ann", body)
    with nullcontext() if good else pytest.raises(UsageError, match="no time for which"):
        check_place_entry(entry, ["bin"], NOW, ZONE)


@pytest.mark.parametrize(("about", "minutes"), [(PLACE, 15), (PLACE, 240), (NODE, 1440)])
def test_the_shortest_and_the_longest_time_are_allowed(about: SubjectKind, minutes: int) -> None:
    body = {"until_ms": NOW + minutes * MS_PER_MINUTE}
    check_place_entry(LogbookEntry(about, "bin", "aside", NOW, NOW, "ann", body), ["bin"], NOW, ZONE)
    check_place_entry(LogbookEntry(about, "gone", WITHDRAWN, NOW, NOW, "ann"), ["bin"], NOW, ZONE)


def test_the_table_of_what_speaks_of_animals_knows_only_kinds_that_there_are() -> None:
    assert all(kind in KINDS[about] for about, kind in ANIMALS)


@pytest.mark.parametrize("kind", ["merge", "split"])
def test_an_entry_by_a_clock_that_was_set_back_speaks_of_the_place_of_its_cohort(log: Log, kind: str) -> None:
    log.start("b1", 500, "bin")
    log.empty(600)
    assert log.is_empty()
    log.add(COHORT, "b1", kind, 100, other="b2", into="b3", place="tray" if kind == "split" else None)
    assert not log.is_empty()
