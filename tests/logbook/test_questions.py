"""What is unlikely is asked, what cannot be is refused, what is usual passes: both sides of each limit."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC

import pytest
from development_builders import EGG_DD, FIRST_EGGS_DD, LARVA_DD, TO_FLY_DD

from monitor.bins.events import FeedAdded, TakenOut, WaterAdded, Weighed
from monitor.bins.substrate import BinFacts, SubstrateParameters
from monitor.development.events import Event, Observation
from monitor.development.progress import Cohort, CohortTrack, FlyCount, Origin, Residence
from monitor.errors import UsageError
from monitor.logbook.bin_entries import BinFill, BinValidationContext
from monitor.logbook.case import Case, Question, Unconfirmed, content_of
from monitor.logbook.cohort_entries import validation_context_of
from monitor.logbook.entry import WITHDRAWN
from monitor.logbook.questions import EVERYTHING, questions_of, require_confirmed
from monitor.logbook.replay import FarmContext, farm_book
from monitor.records import MS_PER_DAY, LogbookEntry, Stage, SubjectKind
from monitor.settings.species import load_species, species_parameters

NOW_MS = 1_790_000_000_000
PLACES = {"tray-1": "Tray 1", "bin-1": "Bin 1", "cage-1": "Cage 1"}
COHORTS = validation_context_of(
    PLACES, ("cage-1",), UTC, species_parameters(load_species("black_soldier_fly")), ()
)
BINS = BinValidationContext(
    PLACES, UTC, {"wheat_bran": SubstrateParameters()}, "wheat_bran", frozenset(), 101_325.0
)

CONTEXT = FarmContext(COHORTS, BINS)


def cohort(stage: Stage, days_old: float, count: float | None = 3000.0, **more: object) -> Cohort:
    start_ms = NOW_MS - round(days_old * MS_PER_DAY)
    track = CohortTrack(
        "c",
        start_ms,
        (Residence("bin-1", start_ms),),
        stage,
        start_sd_days=0.1,
        count=count,
        count_stage=None if count is None else stage,
    )
    return Cohort("c", track, Origin.LAID, **more)  # type: ignore[arg-type]


def fill(*events: object, kg: float = 5.9, moisture: float = 0.65, surface_m2: float = 0.24) -> BinFill:
    facts = BinFacts(surface_m2=surface_m2, filled_ms=NOW_MS - MS_PER_DAY, wet_kg=kg, moisture=moisture)
    return BinFill("bin-1", facts, events=events)  # type: ignore[arg-type]


def written(kind: str, about: SubjectKind, days_ago: float = 0.0, **body: object) -> LogbookEntry:
    at_ms = NOW_MS - round(days_ago * MS_PER_DAY)
    subject = "c" if about is SubjectKind.COHORT else "bin-1"
    return LogbookEntry(about, subject, kind, at_ms, NOW_MS, "keeper", body)


def asked(
    entry: LogbookEntry,
    *,
    of: Cohort | None = None,
    filled: BinFill | None = None,
    history: tuple[LogbookEntry, ...] = (),
    bulk: bool = False,
) -> Mapping[str, bool]:
    """The keys of what is odd, each with whether it is refused."""
    case = Case(
        entry,
        {} if of is None else {"c": of},
        {} if filled is None else {"bin-1": (filled,)},
        history,
        CONTEXT,
        NOW_MS,
        bulk,
    )
    return {question.key: question.refused for question in questions_of(case)}


def of_cohort(kind: str, about: Cohort | None, days_ago: float = 0.0, **body: object) -> Mapping[str, bool]:
    return asked(written(kind, SubjectKind.COHORT, days_ago, **body), of=about)


def of_bin(kind: str, filled: BinFill | None, days_ago: float = 0.0, **body: object) -> Mapping[str, bool]:
    return asked(written(kind, SubjectKind.BIN, days_ago, **body), filled=filled)


@pytest.mark.parametrize(
    ("kg", "surface_m2", "found"),
    [
        (400.0, 0.24, {"deep": True, "soup": False}),
        (66.0, 0.24, {"soup": False}),
        (67.0, 0.24, {"deep": False, "soup": False}),
        (233.0, 0.24, {"deep": False, "soup": False}),
        (235.0, 0.24, {"deep": True, "soup": False}),
        (1.5, 0.24, {}),
        (19.0, 0.24, {}),
        (21.0, 0.24, {"soup": False}),
    ],
)
def test_water_into_a_bin(kg: float, surface_m2: float, found: Mapping[str, bool]) -> None:
    """5.9 kg at 65 % hold 2.065 kg of dry matter: 92 % water is reached with 19.9 litres more."""
    assert of_bin("water", fill(surface_m2=surface_m2), kg=kg) == found


@pytest.mark.parametrize(
    ("kg", "found"),
    [(2.0, {}), (66.0, {}), (67.0, {"deep": False}), (1800.0, {"deep": True})],
)
def test_feed_that_a_bin_does_not_hold(kg: float, found: Mapping[str, bool]) -> None:
    assert of_bin("feed", fill(), kg=kg, moisture=0.6) == found


@pytest.mark.parametrize(
    ("kg", "found"),
    [(10.0, {}), (71.0, {}), (73.0, {"deep": False}), (241.0, {"deep": True})],
)
def test_a_filling_that_a_bin_does_not_hold(kg: float, found: Mapping[str, bool]) -> None:
    assert of_bin("fill", None, kg=kg, moisture=0.6, surface_m2=0.24) == found


def test_a_filling_takes_the_size_of_the_one_before() -> None:
    assert of_bin("fill", fill(), kg=241.0, moisture=0.6) == {"deep": True}


@pytest.mark.parametrize(
    ("kg", "found"),
    [
        (800.0, {"heavier": True}),
        (80.31, {"heavier": True}),
        (80.29, {"heavier": False}),
        (10.0, {"heavier": False}),
        (9.91, {"heavier": False}),
        (9.89, {}),
        (8.0, {}),
        (1.61, {}),
        (1.59, {"lighter": False}),
        (0.008, {"lighter": False}),
    ],
)
def test_weight_on_the_scale_of_a_bin_that_holds_eight_kilograms(
    kg: float, found: Mapping[str, bool]
) -> None:
    assert of_bin("weigh", fill(kg=8.0), kg=kg) == found


def test_a_weight_is_compared_with_the_last_one_and_what_came_since() -> None:
    weighed = fill(Weighed(NOW_MS - 2, 6.0), WaterAdded(NOW_MS - 1, 2.0), kg=20.0)
    assert of_bin("weigh", weighed, kg=9.8) == {}
    assert of_bin("weigh", weighed, kg=10.0) == {"heavier": False}
    assert of_bin("weigh", weighed, kg=1.5) == {"lighter": False}


@pytest.mark.parametrize(
    ("kg", "found"),
    [
        (2.0, {}),
        (6.19, {}),
        (6.21, {"more_taken": False}),
        (7.37, {"more_taken": False}),
        (7.39, {"more_taken": True}),
    ],
)
def test_more_taken_out_than_is_in(kg: float, found: Mapping[str, bool]) -> None:
    assert of_bin("take", fill(), kg=kg, what="residue") == found


def test_what_a_bin_holds_follows_its_events() -> None:
    held = content_of(
        fill(
            WaterAdded(NOW_MS, 2.0),
            FeedAdded(NOW_MS, 1.0, 0.5),
            TakenOut(NOW_MS, 5.0, "residue"),  # type: ignore[arg-type]
            kg=7.0,
            moisture=0.5,
        )
    )
    assert (held.kg, held.dry_kg) == pytest.approx((5.0, 2.0))


@pytest.mark.parametrize(
    ("larvae", "found"), [(10_000, {}), (48_000, {}), (48_100, {"crowded": False}), (1e6, {"crowded": False})]
)
def test_larvae_on_a_surface(larvae: float, found: Mapping[str, bool]) -> None:
    assert of_bin("larvae", fill(), larvae=larvae) == found
    assert of_bin("fill", None, kg=8.0, moisture=0.6, surface_m2=0.24, larvae=larvae) == found
    start = written("start", SubjectKind.COHORT, stage="larva", place="bin-1", animals=larvae)
    assert asked(start, filled=fill()) == found
    moved = written("move", SubjectKind.COHORT, place="bin-1")
    assert asked(moved, of=cohort(Stage.LARVA, 3.0, larvae), filled=fill()) == found


@pytest.mark.parametrize(
    ("grams", "found"),
    [(5.0, {}), (100.0, {}), (101.0, {"many_eggs": False}), (1800.0, {"many_eggs": False})],
)
def test_eggs_in_a_tray(grams: float, found: Mapping[str, bool]) -> None:
    assert of_cohort("start", None, stage="egg", place="tray-1", grams=grams) == found


@pytest.mark.parametrize(
    ("grams", "found"),
    [
        (20.0, {}),
        (62.0, {}),
        (63.0, {"many_eggs": False}),
        (269.0, {"many_eggs": False}),
        (280.0, {"eggs_too_heavy": True}),
    ],
)
def test_eggs_of_three_thousand_flies(grams: float, found: Mapping[str, bool]) -> None:
    """787 eggs of each and 38,000 on a gram are 62.1 g; flies of 90 mg weigh 270 g."""
    assert of_cohort("eggs", cohort(Stage.ADULT, 8.0), grams=grams) == found


def test_eggs_are_added_up() -> None:
    laid = cohort(Stage.ADULT, 8.0, eggs_grams=((NOW_MS - 1, 60.0),))
    assert of_cohort("eggs", laid, grams=6.0) == {"many_eggs": False}


@pytest.mark.parametrize(("count", "found"), [(None, {"many_eggs": False}), (3000.0, {})])
def test_eggs_are_compared_with_the_flies_that_there_can_be(
    count: float | None, found: Mapping[str, bool]
) -> None:
    """Of a counted cohort all may have come out, whoever was counted then."""
    out = cohort(Stage.PUPA, 30.0, count, flies=(FlyCount(NOW_MS - 1, 100.0),))
    assert of_cohort("eggs", out, grams=3.0) == found


# At the best temperature 20 degree-days are earned in a day.
FASTEST_DAYS = {
    "hatch": EGG_DD / 20.0,
    "first_prepupae": (EGG_DD + LARVA_DD) / 20.0,
    "first_emerged": TO_FLY_DD / 20.0,
    "first_eggs": (TO_FLY_DD + FIRST_EGGS_DD) / 20.0,
}


@pytest.mark.parametrize(("event", "days"), FASTEST_DAYS.items())
def test_an_event_sooner_than_animals_can_be(event: str, days: float) -> None:
    for share, found in ((0.0, True), (0.29, True), (0.31, False), (0.69, False), (0.72, None)):
        eggs = cohort(Stage.EGG, share * days - 0.2 if share else 0.0)
        expected = {} if found is None else {"too_soon": found}
        assert of_cohort("saw", eggs, event=event) == expected, share


@pytest.mark.parametrize(
    ("stage", "days_old", "found"),
    [
        (Stage.LARVA, 0.0, True),
        (Stage.LARVA, 7.7, True),
        (Stage.LARVA, 8.2, False),
        (Stage.LARVA, 18.5, False),
        (Stage.LARVA, 19.4, None),
        (Stage.PUPA, 1.5, True),
        (Stage.PUPA, 4.2, False),
        (Stage.PUPA, 5.0, None),
    ],
)
def test_flies_out_of_larvae_and_pupae(stage: Stage, days_old: float, found: bool | None) -> None:
    expected = {} if found is None else {"too_soon": found}
    assert of_cohort("flies", cohort(stage, days_old), flies=140) == expected
    assert of_cohort("count", cohort(stage, days_old), animals=140, stage="adult") == expected


@pytest.mark.parametrize(
    ("percent", "fastest", "found"),
    [(None, "15", True), (10.0, "14", True), (60.0, "6", True), (88.0, "2", False), (95.0, "1", None)],
)
def test_how_far_through_its_stage_a_cohort_began_counts_and_is_said(
    percent: float | None, fastest: str, found: bool | None
) -> None:
    body = {} if percent is None else {"through_percent": percent}
    start = written("start", SubjectKind.COHORT, 0.0, stage="larva", place="bin-1", **body)
    [begun] = farm_book((start,), CONTEXT, NOW_MS).cohorts.values()
    saw = written("saw", SubjectKind.COHORT, 0.0, event="first_prepupae")
    asked_for = questions_of(Case(saw, {begun.name: begun}, {}, (), CONTEXT, NOW_MS))
    assert [each.refused for each in asked_for] == ([] if found is None else [found])
    for each in asked_for:
        said = str(UsageError(each.sentence))
        assert f"about {fastest} days" in said
        assert (f"of which {percent:.0f} % were behind them" in said) if percent else "of which" not in said


def test_what_was_seen_outranks_the_start() -> None:
    seen = cohort(Stage.EGG, 40.0, seen=(Observation(Event.HALF_PREPUPAE, NOW_MS - MS_PER_DAY, 0.1),))
    assert of_cohort("saw", seen, event="first_emerged") == {"too_soon": True}


@pytest.mark.parametrize(("flies", "found"), [(2900, {}), (3000, {}), (3001, {"more_animals": False})])
def test_more_flies_than_animals(flies: int, found: Mapping[str, bool]) -> None:
    assert of_cohort("flies", cohort(Stage.PUPA, 12.0), flies=flies) == found
    some = cohort(Stage.PUPA, 12.0, flies=(FlyCount(NOW_MS - 1, 1000.0),))
    assert of_cohort("flies", some, flies=flies - 1000) == found


@pytest.mark.parametrize(("animals", "found"), [(3600, {}), (3601, {"more_animals": False})])
def test_animals_do_not_become_more(animals: int, found: Mapping[str, bool]) -> None:
    assert of_cohort("count", cohort(Stage.LARVA, 5.0), animals=animals, stage="larva") == found
    assert of_cohort("end", cohort(Stage.LARVA, 5.0), how="sold", animals=animals) == found
    rough = cohort(Stage.LARVA, 5.0, rough_count=True)
    assert of_cohort("count", rough, animals=animals, stage="larva") == {}


@pytest.mark.parametrize(("grams", "found"), [(600.0, {}), (1020.0, {}), (1030.0, {"heavy_larvae": False})])
def test_a_harvest_heavier_than_its_larvae(grams: float, found: Mapping[str, bool]) -> None:
    """3,000 larvae of 340 mg are 1,020 g."""
    assert of_cohort("end", cohort(Stage.LARVA, 15.0), how="harvested", grams=grams) == found


@pytest.mark.parametrize(
    ("kg", "past", "found"),
    [
        (10.01, (1.0, 1.0, 1.2), {"unusual_kg": False}),
        (10.0, (1.0, 1.0, 1.2), {}),
        (10.5, (1.0, 1.0), {}),
    ],
)
def test_ten_times_the_usual(kg: float, past: tuple[float, ...], found: Mapping[str, bool]) -> None:
    history = tuple(written("feed", SubjectKind.BIN, 3.0, kg=each, moisture=0.6) for each in past)
    assert (
        asked(written("feed", SubjectKind.BIN, kg=kg, moisture=0.6), filled=fill(), history=history) == found
    )


@pytest.mark.parametrize(
    ("days_ago", "bulk", "found"),
    [
        (90.0, False, {}),
        (90.01, False, {"long_ago": False}),
        (400.0, True, {}),
        (400.01, True, {"long_ago": False}),
    ],
)
def test_a_date_long_ago(days_ago: float, bulk: bool, found: Mapping[str, bool]) -> None:
    entry = written("start", SubjectKind.COHORT, days_ago, stage="egg", place="tray-1")
    assert asked(entry, bulk=bulk) == found


def test_a_withdrawal_is_not_asked() -> None:
    assert asked(written(WITHDRAWN, SubjectKind.BIN, 200.0, kg=4000.0), filled=fill()) == {}


def test_an_answer_holds_for_its_question_alone() -> None:
    entry = written("water", SubjectKind.BIN, kg=70.0)
    case = Case(entry, {}, {"bin-1": (fill(),)}, (), CONTEXT, NOW_MS)
    questions = questions_of(case)
    with pytest.raises(Unconfirmed) as both:
        require_confirmed(questions, frozenset())
    assert [each.key for each in both.value.questions] == ["deep", "soup"]
    assert "--sure" in str(both.value)
    with pytest.raises(Unconfirmed) as one:
        require_confirmed(questions, frozenset({"deep"}))
    assert [each.key for each in one.value.questions] == ["soup"]
    require_confirmed(questions, frozenset({"deep", "soup"}))
    require_confirmed(questions, EVERYTHING)


def test_what_cannot_be_is_refused_whatever_is_confirmed() -> None:
    case = Case(
        written("weigh", SubjectKind.BIN, kg=800.0), {}, {"bin-1": (fill(kg=8.0),)}, (), CONTEXT, NOW_MS
    )
    questions: tuple[Question, ...] = questions_of(case)
    with pytest.raises(
        UsageError, match=r"800 kg weighed, and 8\.0 kg at most are in it by the book"
    ) as refused:
        require_confirmed(questions, EVERYTHING)
    assert not isinstance(refused.value, Unconfirmed)
