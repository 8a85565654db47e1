"""A logbook of the first release becomes one: nothing is changed, and what disagreed is said."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from cohort_farm import NOW_MS, CohortFarm, make_farm

from monitor.farm.book import SHOWN_MS, book_of, carried_over, carry_over
from monitor.farm.entries import EntryWriter
from monitor.farm.places import site_now
from monitor.logbook.bin_entries import BinEntryKind
from monitor.records import MS_PER_DAY, LogbookEntry
from monitor.store import Store, schema
from monitor.store.schema import MIGRATIONS

FILL = {"kg": 10.0, "moisture": 0.7, "surface_m2": 0.24}
Row = tuple[str, str, str, float, dict[str, Any]]


def _old_store(farm: CohortFarm, rows: list[Row]) -> Store:
    """The database as the first release left it, brought up to date."""
    farm.database.unlink()
    old = sqlite3.connect(farm.database, isolation_level=None)
    schema.migrate(old, farm.database, MIGRATIONS[:8])
    for about, subject, kind, days_ago, body in rows:
        at_ms = NOW_MS - round(days_ago * MS_PER_DAY)
        old.execute(
            "INSERT INTO logbook VALUES(NULL, ?, ?, ?, ?, ?, 'keeper', ?, NULL)",
            (about, subject, kind, at_ms, at_ms, json.dumps(body)),
        )
    old.close()
    return Store.open(farm.database, check=False)


@pytest.fixture
def farm(tmp_path: Path) -> Iterator[CohortFarm]:
    for each in make_farm(tmp_path).folder.glob("rearing.sqlite-*"):
        each.unlink()
    yield CohortFarm(tmp_path)


def _start(name: str, place: str, days_ago: float, **more: Any) -> Row:
    return "cohort", name, "start", days_ago, {"stage": "larva", "place": place, **more}


def _fill(place: str, days_ago: float, **more: Any) -> Row:
    return "bin", place, "fill", days_ago, {**FILL, **more}


def _said(store: Store) -> list[str]:
    return [str(each) for each in carried_over(store)]


def test_larvae_of_no_cohort_become_one_and_the_old_entry_stays(farm: CohortFarm) -> None:
    with _old_store(farm, [_fill("bin-1", 3.0, larvae=8000, age_days=6)]) as store:
        before = store.logbook.every()
        fill = book_of(store, farm.plan(), NOW_MS).filled("bin-1")
        assert fill is not None
        assert (fill.animals, fill.living) == (8000.0, ()), "they count before it is carried over too"
        assert len(carry_over(store, farm.plan(), NOW_MS)) == 1
        book = book_of(store, farm.plan(), NOW_MS)
        (cohort,) = book.living
        fill = book.filled("bin-1")
        assert fill is not None
        assert (fill.animals, fill.living) == (8000.0, (cohort.name,))
        assert cohort.name == "bin-1-2026-09-19"
        assert fill.facts.larvae is not None
        assert (fill.facts.larvae.count, fill.facts.larvae.age_days) == (8000.0, 6.0)
        assert store.logbook.every()[: len(before)] == before
        assert _said(store) == [
            "bin-1: its 8000 larvae have become the cohort bin-1-2026-09-19. If they are those of another, "
            "or for a better name: `bin correct 1 --cohort NAME`"
        ]


def test_the_number_of_the_cohort_stands_and_what_disagreed_is_said(farm: CohortFarm) -> None:
    rows = [_start("b19", "bin-1", 9.0, animals=60_000), _fill("bin-1", 3.0, larvae=800)]
    with _old_store(farm, rows) as store:
        entries = store.logbook.every()
        carry_over(store, farm.plan(), NOW_MS)
        assert store.logbook.every() == entries, "nothing needs to be added"
        fill = book_of(store, farm.plan(), NOW_MS).filled("bin-1")
        assert fill is not None
        assert (fill.animals, fill.living) == (60_000.0, ("b19",))
        (said,) = _said(store)
        for part in ("bin-1", "800 larvae", "b19", "60000 animals; 60000 count now", "`cohort count b19"):
            assert part in said


def test_a_cohort_without_a_number_gets_that_of_the_filling(farm: CohortFarm) -> None:
    rows = [_start("b19", "bin-1", 9.0), _fill("bin-1", 3.0, larvae=800)]
    with _old_store(farm, rows) as store:
        carry_over(store, farm.plan(), NOW_MS)
        fill = book_of(store, farm.plan(), NOW_MS).filled("bin-1")
        assert fill is not None
        assert (fill.animals, fill.living) == (800.0, ("b19",))
        assert "b19 had no number, so the 800 larvae of the filling count now" in _said(store)[0]


@pytest.mark.parametrize(
    "rows",
    [
        [],
        [_fill("bin-1", 3.0)],
        [_fill("bin-1", 9.0, larvae=800), ("bin", "bin-1", "empty", 2.0, {})],
        [_start("b19", "bin-1", 9.0, animals=800), _fill("bin-1", 3.0, larvae=800)],
        [
            _start("b19", "bin-1", 9.0, animals=800),
            _fill("bin-1", 3.0, larvae=900),
            ("cohort", "b19", "end", 1.0, {"how": "harvested"}),
        ],
    ],
)
def test_where_nothing_disagrees_nothing_is_added_or_said(farm: CohortFarm, rows: list[Row]) -> None:
    with _old_store(farm, rows) as store:
        entries = store.logbook.every()
        assert carry_over(store, farm.plan(), NOW_MS) == ()
        assert store.logbook.every() == entries
        assert _said(store) == []
        assert book_of(store, farm.plan(), NOW_MS).refused == ()


def test_it_is_done_once_and_said_on_now_for_a_week(farm: CohortFarm) -> None:
    with _old_store(farm, [_fill("bin-1", 3.0, larvae=8000)]) as store:
        assert len(carry_over(store, farm.plan(), NOW_MS)) == 1
        entries = store.logbook.every()
        assert carry_over(store, farm.plan(), NOW_MS + MS_PER_DAY) == ()
        assert store.logbook.every() == entries
        for at_ms, count in ((NOW_MS, 1), (NOW_MS + SHOWN_MS, 1), (NOW_MS + SHOWN_MS + 1, 0)):
            assert len(site_now(store, farm.plan(), at_ms).carried) == count


def test_the_emptying_of_the_old_logbook_ended_no_cohort_and_that_of_the_new_does(farm: CohortFarm) -> None:
    rows = [
        _start("b1", "bin-1", 9.0, animals=500),
        _fill("bin-1", 8.0),
        ("bin", "bin-1", "empty", 2.0, {}),
        ("cohort", "b1", "end", 1.0, {"how": "harvested", "grams": 70}),
        _start("b2", "bin-2", 9.0, animals=500),
        _fill("bin-2", 8.0),
    ]
    with _old_store(farm, rows) as store:
        carry_over(store, farm.plan(), NOW_MS)
        EntryWriter(store, farm.plan(), "ana", NOW_MS).write(
            "bin-2", BinEntryKind.EMPTY, NOW_MS, {"grams": 60}
        )
        book = book_of(store, farm.plan(), NOW_MS)
    assert book.refused == ()
    ended = {name: cohort.ended for name, cohort in book.cohorts.items()}
    assert [(each.at_ms, each.grams) for each in ended.values() if each] == [
        (NOW_MS - MS_PER_DAY, 70.0),
        (NOW_MS, 60.0),
    ]


def test_an_old_filling_can_still_be_put_right(farm: CohortFarm) -> None:
    rows = [_start("b19", "bin-1", 9.0, animals=60_000), _fill("bin-1", 3.0, larvae=800)]
    with _old_store(farm, rows) as store:
        carry_over(store, farm.plan(), NOW_MS)
        writer = EntryWriter(store, farm.plan(), "ana", NOW_MS)
        old: LogbookEntry = store.logbook.every()[1]
        again = writer.correct(old, None, {"kg": 11.0})
        assert again.body["kg"] == 11.0
        writer.correct(again, None, {"cohort": "b19"})
        fill = book_of(store, farm.plan(), NOW_MS).filled("bin-1")
    assert fill is not None
    assert (fill.animals, fill.facts.wet_kg) == (800.0, 11.0), "now they are said to be those of b19"
