"""Each figure of the logbook that a person would feel, on both of its sides."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from cohort_book import CONTEXT as COHORTS
from cohort_book import Book, ms
from development_builders import EGG_DD

from monitor.bins.events import TakenOut, WaterAdded, Weighed
from monitor.bins.substrate import SubstrateParameters
from monitor.errors import UsageError
from monitor.logbook.amounts import (
    parse_grams,
    parse_kg,
    parse_length_m,
    parse_number,
    parse_share,
    parse_surface_m2,
)
from monitor.logbook.bin_entries import (
    BinFill,
    BinValidationContext,
    calibration_body,
    calibration_of,
)
from monitor.logbook.entry import number
from monitor.logbook.place_entries import place_words
from monitor.logbook.replay import FarmBook, FarmContext, check_entry, farm_book
from monitor.logbook.times import TimeReader, parse_length
from monitor.records import MS_PER_DAY, MS_PER_HOUR, LogbookEntry, Stage, SubjectKind

# --- one number ---


@pytest.mark.parametrize(
    ("value", "above", "whole", "taken"),
    [
        (1, False, False, True),
        (0.999, False, False, False),
        (1, True, False, False),
        (1.001, True, False, True),
        (9, False, False, True),
        (9.001, False, False, False),
        (2.5, False, True, False),
        (2.0, False, True, True),
        (True, False, False, False),
        ("5", False, False, False),
        (math.inf, False, False, False),
        (math.nan, False, False, False),
        (None, False, False, True),
    ],
)
def test_a_number_lies_within_its_limits(value: object, above: bool, whole: bool, taken: bool) -> None:
    entry = LogbookEntry(SubjectKind.COHORT, "c", "k", 0, 0, "me", {"key": value})
    if taken:
        assert number(entry, "key", 1.0, 9.0, above=above, whole=whole) == value
    else:
        with pytest.raises(UsageError, match=r"allowed: a (whole )?number (above|from) 1 to 9"):
            number(entry, "key", 1.0, 9.0, above=above, whole=whole)


# --- amounts ---


@pytest.mark.parametrize(
    ("parse", "least", "too_little", "most", "too_much"),
    [
        (parse_kg, "0.001", "0", "50", "50.1"),
        (parse_share, "0.01", "0", "0.99", "1"),
        (parse_share, "1.01", "0 %", "99 %", "100 %"),
        (parse_surface_m2, "10 cm2", "9 cm2", "100 m2", "100.1 m2"),
        (parse_length_m, "0 cm", "-1 cm", "2 m", "2.01 m"),
        (parse_number, "-1e99", "-1e999", "1e99", "1e999"),
    ],
)
def test_an_amount_lies_within_what_can_be(
    parse: Callable[[str], float], least: str, too_little: str, most: str, too_much: str
) -> None:
    assert parse(least) < parse(most)
    for wrong in (too_little, too_much):
        with pytest.raises(UsageError):
            parse(wrong)


def test_a_bare_share_above_one_is_a_percentage() -> None:
    assert parse_share("1.01") == pytest.approx(0.0101)
    assert parse_share("0.5 %") == pytest.approx(0.005)
    assert parse_share("0.99") == pytest.approx(0.99)


def test_grams_are_kept_to_a_millionth() -> None:
    assert parse_grams("0.0000014") == 0.000001
    assert parse_grams("2") == 2
    assert isinstance(parse_grams("2"), int)


@pytest.mark.parametrize(
    ("text", "area_m2"),
    [
        ("1 m x 2 m", 2.0),
        ("50 x 1 m", 50.0),
        ("500 mm x 1 m", 0.5),
        ("1 m round", math.pi / 4.0),
        ("2 m2", 2.0),
    ],
)
def test_a_size_without_a_unit_of_its_own_takes_that_of_the_other_side(text: str, area_m2: float) -> None:
    assert parse_surface_m2(text) == pytest.approx(area_m2)


# --- times ---

ZONE = ZoneInfo("Africa/Gaborone")
NOW = 1_790_000_000_000


@pytest.mark.parametrize(
    ("text", "length_ms"),
    [
        ("1 min", 60_000),
        ("1 h", 3_600_000),
        ("1 d", 86_400_000),
        ("2 weeks", 14 * 86_400_000),
        ("1 h 1 min", 3_660_000),
        ("0.01 h", 36_000),
        ("999999 min", 999_999 * 60_000),
    ],
)
def test_lengths_of_time_add_up(text: str, length_ms: int) -> None:
    assert parse_length(text) == length_ms


def test_a_time_of_day_that_is_now_is_past_and_not_ahead() -> None:
    reader = TimeReader(NOW - NOW % 60_000, ZONE)
    clock = f"{(reader._now_here):%H:%M}"
    assert reader.moment(clock) == reader.now_ms
    assert replace(reader, ahead=True).moment(clock) == reader.now_ms + MS_PER_DAY


# --- cohorts ---


def start(**body: Any) -> Book:
    book = Book()
    book.write("c", "start", 20.0, **{"stage": "larva", "place": "bin", **body})
    return book


def taken(book: Book, name: str = "c") -> bool:
    return not book.read().refused and name in book.read().cohorts


@pytest.mark.parametrize(
    ("key", "good", "bad"),
    [
        ("animals", (1, 100_000_000), (0, 100_000_001, 1.5)),
        ("grams", (0.001, 1_000_000), (0, 1_000_001)),
        ("window_hours", (0, 240), (-0.1, 240.1)),
        ("through_percent", (0, 99), (-0.1, 99.1)),
        ("age_days", (0, 365), (-0.1, 365.1)),
        ("sure_days", (0.01, 30), (0, 30.1)),
    ],
)
def test_the_start_of_a_cohort_lies_within_what_can_be(
    key: str, good: tuple[float, ...], bad: tuple[float, ...]
) -> None:
    assert all(taken(start(**{key: value})) for value in good)
    assert not any(taken(start(**{key: value})) for value in bad)


def test_a_name_has_up_to_forty_letters() -> None:
    for name, good in (("a" * 40, True), ("a" * 41, False), ("-a", False), ("a.b_c-1", True), ("", False)):
        book = Book()
        book.write(name, "start", 20.0, stage="egg", place="tray")
        assert taken(book, name) is good


@pytest.mark.parametrize(
    ("origin", "sd_days"),
    [("laid", 0.25), ("hatched", 0.5), ("bought", 2.0), ("caught", 1.5), ("found", 2.0)],
)
def test_how_sure_a_start_is_unless_the_keeper_says_it(origin: str, sd_days: float) -> None:
    assert start(origin=origin).read().cohorts["c"].track.start_sd_days == sd_days
    assert start(origin=origin, sure_days=0.75).read().cohorts["c"].track.start_sd_days == 0.75
    window = start(origin=origin, window_hours=48).read().cohorts["c"].track
    assert window.start_sd_days == pytest.approx(math.hypot(2 / math.sqrt(12), 0.1))
    assert window.start_ms == ms(21.0)


@pytest.mark.parametrize(
    ("age_days", "progress"),
    [
        (0.0, 0.0),
        (EGG_DD / 15, 0.0),
        (EGG_DD / 15 + 5, 0.25),
        (EGG_DD / 15 + 19.8, 0.99),
        (EGG_DD / 15 + 30, 0.99),
    ],
)
def test_an_age_says_how_far_through_its_first_stage_a_cohort_is(age_days: float, progress: float) -> None:
    track = start(age_days=age_days).read().cohorts["c"].track
    assert track.start_progress == pytest.approx(progress)
    assert track.age_days == pytest.approx(age_days)


@pytest.mark.parametrize(("apart_days", "merged"), [(5.0, True), (5.01, False), (-5.0, True), (-5.01, False)])
def test_cohorts_whose_lives_began_five_days_apart_are_merged(apart_days: float, merged: bool) -> None:
    book = Book().eggs("a", 30.0, animals=1000).eggs("b", 30.0 + apart_days, animals=3000)
    book.write("a", "merge", 40.0, other="b")
    found = book.read()
    assert (not found.refused) is merged
    if merged:
        track = found.cohorts["a"].track
        assert track.count == 4000
        assert track.start_sd_days == pytest.approx(math.hypot(0.25, 0.75 * apart_days))


@pytest.mark.parametrize(
    ("counts", "weight"), [((1000, None), 0.5), ((None, None), 0.5), ((1000, 1000), 0.5)]
)
def test_of_unknown_numbers_each_counts_half_and_the_sum_is_not_known(
    counts: tuple[int | None, int | None], weight: float
) -> None:
    book = Book()
    for name, day, animals in (("a", 30.0, counts[0]), ("b", 32.0, counts[1])):
        body = {} if animals is None else {"animals": animals}
        book.eggs(name, day, **body)
    book.write("a", "merge", 40.0, other="b")
    track = book.read().cohorts["a"].track
    assert track.start_sd_days == pytest.approx(math.hypot(0.25, weight * 2.0))
    assert track.count == (2000 if None not in counts else None)
    assert track.count_stage is (Stage.EGG if None not in counts else None)


@pytest.mark.parametrize(
    ("said", "left", "own"),
    [
        ({"percent": 99.9}, 1.0, 999.0),
        ({"percent": 0.1}, 999.0, 1.0),
        ({"percent": 100}, None, None),
        ({"percent": 0}, None, None),
        ({"animals": 999}, 1.0, 999.0),
        ({"animals": 1000}, None, None),
        ({"animals": 0}, None, None),
        ({"animals": 10, "percent": 1}, None, None),
        ({}, None, None),
    ],
)
def test_a_part_is_more_than_nothing_and_less_than_all(
    said: dict[str, float], left: float | None, own: float | None
) -> None:
    book = start(animals=1000)
    book.write("c", "split", 25.0, into="d", **said)
    found = book.read()
    thinned = start(animals=1000)
    thinned.write("c", "thin", 25.0, **said)
    if left is None:
        assert len(found.refused) == len(thinned.read().refused) == 1
        return
    assert found.cohorts["c"].track.count == pytest.approx(left)
    assert found.cohorts["d"].track.count == pytest.approx(own)
    assert thinned.read().cohorts["c"].track.count == pytest.approx(left)


def test_an_observation_is_sure_by_half_a_day_unless_said() -> None:
    for said, sd_days in (({}, 0.5), ({"sure_days": 2}, 2.0), ({"sure_days": 30}, 30.0)):
        book = start()
        book.write("c", "saw", 30.0, event="first_prepupae", **said)
        assert book.read().cohorts["c"].seen[0].sd_days == sd_days
    for wrong in (0, 30.1):
        book = start()
        book.write("c", "saw", 30.0, event="first_prepupae", sure_days=wrong)
        assert book.read().refused


def test_flies_are_counted_once_an_hour() -> None:
    book = start()
    hour = 40 * MS_PER_DAY
    for number_of, at_ms in ((3, hour), (4, hour + MS_PER_HOUR - 1), (5, hour + MS_PER_HOUR)):
        book.write("c", "flies", at_ms / MS_PER_DAY, flies=number_of)
    assert [count.flies for count in book.read().cohorts["c"].flies] == [3, 5]


def test_a_stage_from_before_the_start_cannot_be_counted() -> None:
    for stage, good in (("egg", False), ("larva", True), ("prepupa", True)):
        book = start()
        book.write("c", "count", 30.0, animals=0, stage=stage)
        assert (not book.read().refused) is good


@pytest.mark.parametrize(
    ("day", "good"), [(20.0, False), (20.0001, True), (19.9, False), (100.0, True), (100.1, False)]
)
def test_a_move_lies_after_the_start_and_not_ahead(day: float, good: bool) -> None:
    if good:
        assert not start().check("c", "move", day, entered=min(day, 100.0), place="box").refused
    else:
        with pytest.raises(UsageError, match=r"came to|is before its start|lies ahead"):
            start().check("c", "move", day, entered=min(day, 100.0), place="box")


def test_what_happens_at_one_moment_has_an_order() -> None:
    """What begins a cohort comes first, what ends one last, whatever was written first."""
    book = Book()
    book.write("c", "end", 20.0, how="harvested")
    book.write("c", "count", 20.0, animals=500, stage="larva")
    book.write("c", "split", 20.0, into="d", percent=50)
    book.write("c", "start", 20.0, stage="larva", place="bin", animals=1000)
    found = book.read()
    assert not found.refused
    assert found.cohorts["c"].ended is not None
    assert (found.cohorts["c"].track.count, found.cohorts["d"].track.count) == (500, 500)


def test_a_planned_move_counts_from_the_moment_after_the_last_real_one() -> None:
    book = start()
    book.write("c", "move", 30.0, place="box")
    for day in (29.0, 30.0, 31.0):
        book.write("c", "planned_move", day, entered=25.0, place="cage")
    stays = book.read().cohorts["c"].track.residences
    assert [(stay.place, stay.from_ms) for stay in stays] == [
        ("bin", ms(20.0)),
        ("box", ms(30.0)),
        ("cage", ms(31.0)),
    ]


def test_a_plan_must_lie_ahead_of_its_writing() -> None:
    for entered, good in ((30.0, False), (29.999, True)):
        book = start()
        book.write("c", "planned_move", 30.0, entered=entered, place="cage")
        assert (not book.read().refused) is good


# --- bins ---

T0 = 1_790_000_000_000
BIN = BinValidationContext(
    titles={"bin-1": "Bin 1", "bin-2": "Bin 2"},
    zone=ZONE,
    substrates={"wheat_bran": SubstrateParameters()},
    usual_substrate="wheat_bran",
    probed=frozenset({"bin-1"}),
    pressure_pa=89_000.0,
)
FARM = FarmContext(replace(COHORTS.cohorts, places=BIN.titles), BIN)
FILL: dict[str, Any] = {"kg": 10.0, "moisture": 0.7, "surface_m2": 0.24}


def about(kind: str, hours: float, number_of: int, place: str = "bin-1", **body: object) -> LogbookEntry:
    at_ms = T0 + round(hours * MS_PER_HOUR)
    return LogbookEntry(SubjectKind.BIN, place, kind, at_ms, at_ms, "me", body, None, number_of)


def book_with(*entries: LogbookEntry) -> FarmBook:
    return farm_book(entries, FARM, T0 + 5 * MS_PER_DAY)


def filled(place: str = "bin-1", **body: object) -> BinFill:
    book = book_with(about("fill", 0, 1, place, **{**FILL, **body}))
    fill = book.filled(place)
    assert fill is not None, book.refused
    return fill


@pytest.mark.parametrize(
    ("key", "good", "bad"),
    [
        ("kg", (0.001, 10_000), (0, 10_000.1)),
        ("moisture", (0.01, 0.99), (0.009, 0.991)),
        ("moisture_sd", (0.001, 0.3), (-0.1, 0.301)),
        ("surface_m2", (0.001, 100), (0.0009, 100.1)),
        ("depth_m", (0.01, 2.0), (0, 2.01)),
        ("probe_depth_m", (0.0, 1.0), (-0.01, 1.01)),
        ("larvae", (1, 1e8), (0, 1.1e8)),
    ],
)
def test_a_filling_lies_within_what_can_be(key: str, good: tuple[float, ...], bad: tuple[float, ...]) -> None:
    # A bin of which depth and probe are said with its mass must also be possible as a whole.
    for value in good:
        assert not [one for one in _refused(**{key: value}) if f"{key.replace('_', ' ')} is" in one]
    for value in bad:
        assert [one for one in _refused(**{key: value}) if f"{key.replace('_', ' ')} is" in one]


def _refused(**body: object) -> list[str]:
    book = book_with(about("fill", 0, 1, **{**FILL, **body}))
    return [refusal.reason.english.format(**refusal.reason.values) for refusal in book.refused]


def test_what_was_not_said_of_a_filling_is_as_usual() -> None:
    facts = filled().facts
    assert (facts.moisture_sd, facts.probe_depth_m) == (0.03, 0.05)
    assert filled(moisture_sd=0.02).facts.moisture_sd == 0.02
    assert filled(depth_m=0.10).facts.probe_depth_m == 0.05
    assert filled(depth_m=0.10, probe_depth_m=0.0).facts.probe_depth_m == 0.0
    assert filled("bin-2", depth_m=0.10).facts.probe_depth_m is None
    assert filled("bin-2", probe_depth_m=0.03).facts.probe_depth_m == 0.03


@pytest.mark.parametrize(
    ("age_days", "first_mg"), [(None, 5.0), (5, 5.0), (8.3, 95.6), (14, 219.3), (100, 220.0), (0, 0.0255)]
)
def test_larvae_put_in_old_are_heavy_already(age_days: float | None, first_mg: float) -> None:
    """They weigh 5 mg on their fifth day and grow on a logistic curve to 220 mg."""
    said: dict[str, Any] = {} if age_days is None else {"age_days": age_days}
    larvae = filled(larvae=1000, **said).facts.larvae
    assert larvae is not None
    assert larvae.age_days == (5.0 if age_days is None else age_days)
    assert larvae.first_mg() == pytest.approx(first_mg, rel=0.02)
    with pytest.raises(AssertionError):
        filled(larvae=1000, age_days=100.1)


@pytest.mark.parametrize(("kg", "sd_kg"), [(6.0, 0.02), (20 / 3, 0.02), (10.0, 0.03), (20.0, 0.06)])
def test_a_scale_is_off_by_three_thousandths_and_twenty_grams_at_least(kg: float, sd_kg: float) -> None:
    def weighed(**body: Any) -> Weighed:
        fill = book_with(about("fill", 0, 1, **FILL), about("weigh", 1, 2, kg=kg, **body)).filled("bin-1")
        assert fill is not None
        [event] = fill.events
        assert isinstance(event, Weighed)
        return event

    assert weighed().sd_kg == pytest.approx(sd_kg)
    assert weighed(sd_kg=10.0).sd_kg == 10.0
    for wrong in (0, 10.1):
        with pytest.raises(ValueError, match="unpack"):
            weighed(sd_kg=wrong)


def test_each_entry_says_its_own() -> None:
    fill = book_with(
        about("fill", 0, 1, **FILL),
        about("water", 1, 2, kg=1.5, back_to_kg=11.0),
        about("take", 2, 3, kg=2.0, what="residue"),
    ).filled("bin-1")
    assert fill is not None
    water, took = fill.events
    assert isinstance(water, WaterAdded) and isinstance(took, TakenOut)
    assert (water.at_ms, water.kg) == (T0 + MS_PER_HOUR, 1.5)
    assert (took.kg, took.what.value) == (2.0, "residue")


def test_an_entry_of_this_moment_is_past_and_one_of_the_next_lies_ahead() -> None:
    now_ms = T0 + MS_PER_HOUR
    stored = (about("fill", 0, 1, **FILL),)
    for hours, good in ((1.0, True), (1.001, False)):
        new = replace(about("stir", hours, 2), entry_id=None)
        if good:
            assert not check_entry(stored, new, FARM, now_ms).refused
        else:
            with pytest.raises(UsageError, match="lies ahead"):
                check_entry(stored, new, FARM, now_ms)


def test_a_place_that_cannot_be_filled_is_refused_only_in_what_is_new() -> None:
    stored = about("fill", 0, 1, "shelf", **FILL)
    assert book_with(stored).filled("shelf") is not None
    with pytest.raises(UsageError, match="cannot be filled; allowed: bin-1, bin-2"):
        check_entry((), replace(stored, entry_id=None), FARM, T0)


def test_a_probe_is_calibrated_by_what_it_said() -> None:
    said: dict[str, Any] = calibration_body([], 0.1, 0.9)
    alone = calibration_of(about("probe", 0, 1, **said))
    assert (alone.raw_air, alone.raw_water) == (0.1, 0.9)


# --- where a cohort lives ---


@pytest.mark.parametrize(
    ("stage", "cage", "lives"),
    [("adult", "cage", "cage"), ("adult", None, "box"), ("larva", "cage", "box"), ("larva", None, "box")],
)
def test_flies_live_in_the_cage_that_is_named_and_all_others_where_they_are(
    stage: str, cage: str | None, lives: str
) -> None:
    body = {"stage": stage, "place": "box", **({} if cage is None else {"cage": cage})}
    entry = LogbookEntry(SubjectKind.COHORT, "c", "start", T0, T0, "me", body, None, 1)
    lived_in = {place for place, words in place_words([entry], T0).items() if words.lived_in}
    assert lived_in == {lives}
