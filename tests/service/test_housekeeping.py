"""Once a day: retention and the copy of the database."""

from __future__ import annotations

from pathlib import Path

import pytest
from service_farm import T0, message

from monitor.records import MS_PER_DAY, Batch, Flag, FlaggedMessage, FlaggedReading
from monitor.service.background import COPIES_KEPT, tend_if_due
from monitor.settings.schema import StoreSettings
from monitor.store import Store


def settings_of(tmp_path: Path, **more: object) -> StoreSettings:
    """Keep a week of raw readings."""
    return StoreSettings.model_validate({"path": str(tmp_path / "a.sqlite"), "keep_raw_days": 7, **more})


def put(store: Store, at_ms: int) -> None:
    """Store one reading."""
    sent = message("node-1", at_ms, 28.0)
    item = FlaggedReading(sent.readings[0], Flag.PASS, 28.0)
    store.commit(Batch(at_ms, messages=(FlaggedMessage(sent, (item,)),)))


def days_kept(store: Store) -> list[int]:
    """The raw readings that are left, as days before T0."""
    times = store.readings.series(store.readings.sensors()[0], 0, 2**50).at_ms.tolist()
    return [(T0 - at_ms) // MS_PER_DAY for at_ms in times]


def test_old_raw_readings_go_and_their_hours_stay(tmp_path: Path) -> None:
    with Store.open(tmp_path / "a.sqlite") as store:
        for day in range(8, -1, -1):
            put(store, T0 - day * MS_PER_DAY)
        assert tend_if_due(store, settings_of(tmp_path), T0)
        assert days_kept(store) == [7, 6, 5, 4, 3, 2, 1, 0]
        assert len(store.summaries.hours(store.readings.sensors()[0], 0, T0 + 1)) == 9


def test_a_clock_500_days_ahead_for_one_look_deletes_nothing(tmp_path: Path) -> None:
    with Store.open(tmp_path / "a.sqlite") as store:
        for day in range(6, -1, -1):
            put(store, T0 - day * MS_PER_DAY)
        ahead_ms = T0 + 500 * MS_PER_DAY
        put(store, ahead_ms)
        assert tend_if_due(store, settings_of(tmp_path), ahead_ms)
        assert tend_if_due(store, settings_of(tmp_path), T0)
        assert days_kept(store) == [6, 5, 4, 3, 2, 1, 0, -500]


@pytest.mark.parametrize(("days", "left"), [(8, 8), (9, 8), (10, 8), (11, 9), (40, 38)])
def test_at_most_the_two_oldest_days_go_at_once_and_never_more_days_than_are_to_be_kept(
    tmp_path: Path, days: int, left: int
) -> None:
    with Store.open(tmp_path / "a.sqlite") as store:
        for day in range(days - 1, -1, -1):
            put(store, T0 - day * MS_PER_DAY)
        assert tend_if_due(store, settings_of(tmp_path), T0 + 500 * MS_PER_DAY)
        assert days_kept(store) == list(range(left - 1, -1, -1))


def test_nothing_is_deleted_while_the_clock_is_in_doubt(tmp_path: Path) -> None:
    with Store.open(tmp_path / "a.sqlite") as store:
        for day in range(20, -1, -1):
            put(store, T0 - day * MS_PER_DAY)
        assert tend_if_due(store, settings_of(tmp_path), T0, clock_proven=False)
        assert len(days_kept(store)) == 21
        assert not tend_if_due(store, settings_of(tmp_path), T0 + MS_PER_DAY // 2, clock_proven=False)
        assert tend_if_due(store, settings_of(tmp_path), T0 + MS_PER_DAY, clock_proven=True)
        assert len(days_kept(store)) == 19


def test_it_is_done_once_in_24_hours(tmp_path: Path) -> None:
    with Store.open(tmp_path / "a.sqlite") as store:
        done = [tend_if_due(store, settings_of(tmp_path), T0 + hour * 3_600_000) for hour in (0, 1, 23, 24)]
    assert done == [True, False, False, True]


def test_the_newest_copies_are_kept(tmp_path: Path) -> None:
    folder = tmp_path / "copies"
    with Store.open(tmp_path / "a.sqlite") as store:
        put(store, T0)
        for day in range(COPIES_KEPT + 3):
            tend_if_due(store, settings_of(tmp_path, backup_folder=str(folder)), T0 + day * MS_PER_DAY)
    copies = sorted(folder.glob("*.sqlite"))
    assert len(copies) == COPIES_KEPT
    with Store.read_only(copies[-1]) as copy:
        assert len(copy.readings.sensors()) == 1


def test_a_copy_that_fails_is_said_and_harms_nothing(
    tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    blocked = tmp_path / "file"
    blocked.write_text("not a folder")
    with Store.open(tmp_path / "a.sqlite") as store:
        assert tend_if_due(store, settings_of(tmp_path, backup_folder=str(blocked / "x")), T0)
    assert "copy of the database failed" in caplog.text
