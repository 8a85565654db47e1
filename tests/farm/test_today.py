"""What a day asks for: which tasks, in which order, what does them, and who did what."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from bin_builders import DAY_MS, put_days
from cli_farm import Farm
from cohort_farm import NOW_MS
from cohort_farm import make_farm as make_cohort_farm

from monitor.farm.bins import BinState
from monitor.farm.cohorts import forecast_view
from monitor.farm.today import (
    CALLING,
    COOLS_MS,
    HELPS,
    SPREAD,
    Outlook,
    Task,
    TaskKind,
    Today,
    day_of,
    earlier_day,
    keep_tasks,
    new_tasks,
)
from monitor.logbook.bin_entries import BinEntryKind
from monitor.records import MS_PER_HOUR, MS_PER_MINUTE, LogbookEntry, SubjectKind
from monitor.store import Store
from monitor.words.localizer import Localizer
from monitor.words.today import done_text, task_line, task_text

FILL: dict[str, Any] = {"kg": 10.4, "moisture": 0.70, "surface_m2": 0.24, "depth_m": 0.08}


def _write(farm: Farm, kind: str, at_ms: int, place: str = "bin-1", who: str = "Ann", **body: Any) -> int:
    with farm.store() as store:
        return store.logbook.add(LogbookEntry(SubjectKind.BIN, place, kind, at_ms, at_ms, who, body))


def _today(farm: Farm, at_ms: int) -> Today:
    with farm.store() as store:
        return Outlook(store, farm.plan(), at_ms).tasks()


def _words(farm: Farm, at_ms: int) -> Localizer:
    return Localizer.plain("en", farm.plan().zone, at_ms)


@pytest.fixture
def dry(farm: Farm) -> tuple[Farm, int]:
    end_ms = put_days(farm)
    _write(farm, "fill", end_ms - 2 * DAY_MS, **FILL)
    _write(farm, "test", end_ms - MS_PER_HOUR, moisture=0.5)
    return farm, end_ms


@pytest.fixture
def hot(farm: Farm) -> tuple[Farm, int]:
    """A bin far above its limit, and dry besides."""
    end_ms = put_days(farm, substrate_c=47.0)
    _write(farm, "fill", end_ms - 2 * DAY_MS, **FILL)
    _write(farm, "test", end_ms - MS_PER_HOUR, moisture=0.5)
    return farm, end_ms


def test_the_table_knows_every_state_and_never_waters_a_hot_or_wet_bin_first() -> None:
    assert set(HELPS) == set(BinState)
    assert set(BinState) >= CALLING
    for state in (BinState.TOO_HOT, BinState.HOT_SOON):
        assert HELPS[state][:2] == (BinEntryKind.STIR, SPREAD)
        assert BinEntryKind.WATER not in HELPS[state]
    for state in (BinState.WET, BinState.TOO_WET, BinState.FINISHING):
        assert BinEntryKind.WATER not in HELPS[state]
    for state in (BinState.DRY, BinState.TOO_DRY, BinState.DRY_SOON):
        assert HELPS[state][0] == BinEntryKind.WATER
    assert BinState.RIGHT not in CALLING and BinState.FINISHING not in CALLING


def test_a_dry_bin_is_to_be_watered_with_the_litres_filled_in(dry: tuple[Farm, int]) -> None:
    farm, end_ms = dry
    (task,) = _today(*dry).left
    assert (task.kind, task.subject, task.leads_to) == (TaskKind.WATER, "bin-1", "/bins/bin-1")
    (entry,) = task.entries
    assert entry.path == "/bins/bin-1/write"
    assert entry.fields["kind"] == "water"
    assert entry.changeable == "kg"
    litres = entry.fields["kg"]
    assert isinstance(litres, float) and 0.5 < litres < 6.0
    assert task.due_ms == end_ms, "it is dry now"
    assert "litres" in task_line(task, _words(farm, end_ms))


def test_a_bin_that_is_hot_and_dry_is_to_be_stirred_not_watered(hot: tuple[Farm, int]) -> None:
    (task,) = _today(*hot).left
    assert task.kind is TaskKind.COOL
    assert [entry.name for entry in task.entries] == ["stir", "spread"]
    assert task.entries[1].fields == {"kind": "stir", "spread": "on"}


def test_the_entry_ticks_the_task_off_with_the_person_and_the_time(dry: tuple[Farm, int]) -> None:
    farm, end_ms = dry
    number = _write(farm, "water", end_ms + MS_PER_MINUTE, kg=3.5)
    later_ms = end_ms + 2 * MS_PER_MINUTE
    today = _today(farm, later_ms)
    assert [task.kind for task in today.left] == []
    (done,) = today.done
    assert done.done is not None and done.done.entry is not None
    assert (done.kind, done.subject, done.done.who) == (TaskKind.WATER, "bin-1", "Ann")
    assert (done.done.at_ms, done.done.entry.entry_id) == (end_ms + MS_PER_MINUTE, number)
    text = done_text(done, _words(farm, later_ms))
    assert "3.5 litres" in text and "Ann" in text


def test_a_stirred_bin_is_left_alone_for_an_hour_and_then_asked_for_again(hot: tuple[Farm, int]) -> None:
    farm, end_ms = hot
    _write(farm, "stir", end_ms, spread=True)
    assert _today(farm, end_ms + COOLS_MS // 2).left == ()
    put_days(farm, 0.2, end_ms=end_ms + 2 * MS_PER_HOUR, substrate_c=47.0)
    assert [task.kind for task in _today(farm, end_ms + COOLS_MS + MS_PER_MINUTE).left] == [TaskKind.COOL]


def test_an_entry_that_was_withdrawn_ticks_nothing_off(dry: tuple[Farm, int]) -> None:
    farm, end_ms = dry
    number = _write(farm, "water", end_ms, kg=3.5)
    with farm.store() as store:
        old = store.logbook.one(number)
        assert old is not None
        store.logbook.add(
            LogbookEntry(
                SubjectKind.BIN, "bin-1", "withdrawn", end_ms, end_ms + 1, "Ann", {}, corrects=number
            )
        )
    today = _today(farm, end_ms + MS_PER_MINUTE)
    assert today.done == ()
    assert [task.kind for task in today.left] == [TaskKind.WATER]


def test_what_is_entered_late_for_yesterday_stands_on_yesterdays_list(dry: tuple[Farm, int]) -> None:
    farm, end_ms = dry
    with farm.store() as store:
        entry = LogbookEntry(SubjectKind.BIN, "bin-1", "stir", end_ms - DAY_MS, end_ms, "Ben", {})
        store.logbook.add(entry)
        plan = farm.plan()
        day = day_of(end_ms, plan)
        assert Outlook(store, plan, end_ms).tasks().done == ()
        past = earlier_day(store, plan, day - timedelta(days=1), end_ms)
    assert [(task.kind, task.done.who) for task in past.done if task.done] == [(TaskKind.COOL, "Ben")]


def test_what_was_asked_for_and_not_done_can_be_seen_the_day_after(dry: tuple[Farm, int]) -> None:
    farm, end_ms = dry
    plan = farm.plan()
    today = _today(*dry)
    with farm.store() as store:
        assert new_tasks(store, today)
        keep_tasks(store, today, end_ms)
        assert not new_tasks(store, today)
        past = earlier_day(store, plan, day_of(end_ms, plan), end_ms + DAY_MS)
        words = _words(farm, end_ms + DAY_MS)
        assert [task_text(task, words) for task in past.left] == ["Water: bin-1"]
        _write(farm, "water", end_ms, kg=2.0)
        past = earlier_day(store, plan, day_of(end_ms, plan), end_ms + DAY_MS)
    assert past.left == ()
    assert [task.kind for task in past.done] == [TaskKind.WATER]


def test_the_first_tick_stays(dry: tuple[Farm, int]) -> None:
    farm, end_ms = dry
    day = day_of(end_ms, farm.plan()).isoformat()
    with farm.store() as store:
        store.day_tasks.keep(day, ["board:node-1"], end_ms)
        store.day_tasks.tick(day, "board:node-1", "Ann", end_ms + 1)
        store.day_tasks.tick(day, "board:node-1", "Ben", end_ms + 2)
        (done,) = Outlook(store, farm.plan(), end_ms + 3).tasks().done
    assert done.done is not None
    assert (done.kind, done.done.who, done.done.at_ms) == (TaskKind.BOARD, "Ann", end_ms + 1)


def test_a_cohort_that_is_due_asks_for_its_event_until_it_was_seen(tmp_path: Path) -> None:
    farm = make_cohort_farm(tmp_path)
    farm.write("eggs", "start", 3.8, stage="egg", place="tray-1", animals=2000)
    plan = farm.plan()

    def tasks(known: bool = True) -> tuple[Task, ...]:
        with Store.read_only(farm.database) as store:
            stale = forecast_view(store, plan, NOW_MS, known_ms=None if known else NOW_MS - 1)
            return Outlook(store, plan, NOW_MS, forecast=lambda: stale).tasks().left

    (task,) = tasks()
    assert (task.kind, task.subject, task.detail) == (TaskKind.SEE, "eggs", "hatch")
    assert task.entries[0].fields == {"kind": "saw", "event": "hatch"}
    farm.write("eggs", "saw", 0.0, event="hatch")
    assert tasks() == ()
    assert tasks(known=False) == (), "a forecast from before the entry asks no more either"
