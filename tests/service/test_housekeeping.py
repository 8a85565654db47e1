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


def test_old_raw_readings_go_and_their_hours_stay(tmp_path: Path) -> None:
    with Store.open(tmp_path / "a.sqlite") as store:
        put(store, T0 - 8 * MS_PER_DAY)
        put(store, T0)
        assert tend_if_due(store, settings_of(tmp_path), T0)
        sensor = store.readings.sensors()[0]
        assert store.readings.series(sensor, 0, T0 + 1).at_ms.tolist() == [T0]
        assert len(store.summaries.hours(sensor, 0, T0 + 1)) == 2


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
