"""Writing into the logbook: one way for cohorts, bins and probes, checked against what stands there."""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterator
from pathlib import Path
from threading import Barrier, BrokenBarrierError, Thread

import pytest
from cohort_farm import NOW_MS, CohortFarm, make_farm

from monitor.bins.probe import ProbePoint
from monitor.errors import MonitorError, UsageError
from monitor.farm.entries import EntryWriter, entry_to_correct
from monitor.farm.occupancy import occupied_plan
from monitor.farm.places import SiteReader
from monitor.farm.records import PlaceState
from monitor.logbook.bin_entries import PROBE_KIND, BinEntryKind
from monitor.logbook.cohort_entries import CohortEntryKind
from monitor.logbook.entry import WITHDRAWN
from monitor.records import MS_PER_DAY, MS_PER_HOUR, LogbookEntry, SensorKey, Stage, SubjectKind
from monitor.settings.loading import load
from monitor.store import Store

FILL = {"kg": 10.0, "moisture": 0.7, "surface_m2": 0.24, "note": ""}
EGGS = {"stage": "egg", "place": "tray-1", "grams": None}
Make = Callable[[EntryWriter], LogbookEntry]
AT_MS = NOW_MS - MS_PER_DAY
PROBE = SensorKey("node-09", "", "substrate_moisture")
POINTS = [ProbePoint(raw, raw) for raw in (0.4, 0.5, 0.6, 0.7)]


@pytest.fixture
def farm(tmp_path: Path) -> CohortFarm:
    return make_farm(tmp_path)


@pytest.fixture
def writer(farm: CohortFarm) -> Iterator[EntryWriter]:
    with Store.open(farm.database, check=False) as store:
        yield EntryWriter(store, farm.plan(), "ana", NOW_MS)


def _fill(writer: EntryWriter) -> LogbookEntry:
    return writer.write("bin-1", BinEntryKind.FILL, AT_MS, FILL)


def _start(writer: EntryWriter) -> LogbookEntry:
    return writer.write("eggs-1", CohortEntryKind.START, AT_MS, EGGS)


def test_the_kind_says_what_an_entry_is_about_and_empty_values_are_left_out(writer: EntryWriter) -> None:
    fill, start = _fill(writer), _start(writer)
    assert (fill.subject_kind, start.subject_kind) == (SubjectKind.BIN, SubjectKind.COHORT)
    assert start.body == {"stage": "egg", "place": "tray-1"}
    assert "note" not in fill.body
    assert writer.store.logbook.every() == (fill, start), "each comes back as it was stored"


@pytest.mark.parametrize("make", [_fill, _start])
def test_a_correction_keeps_the_rest_and_is_made_once(writer: EntryWriter, make: Make) -> None:
    first = make(writer)
    second = writer.correct(first, AT_MS + MS_PER_HOUR, {"note": "later"})
    assert (second.corrects, second.at_ms) == (first.entry_id, AT_MS + MS_PER_HOUR)
    assert second.body == {**first.body, "note": "later"}
    assert writer.store.logbook.in_force() == (second,)
    with pytest.raises(UsageError, match=r"entry 1 was corrected already by entry 2; correct that one"):
        writer.correct(first, None, {"note": "again"})
    with pytest.raises(UsageError, match=r"entry 1 was corrected already by entry 2; correct that one"):
        writer.withdraw(first, "")
    assert len(writer.store.logbook.every()) == 2


@pytest.mark.parametrize("make", [_fill, _start])
def test_a_withdrawn_entry_stays_and_a_withdrawal_cannot_be_corrected(
    writer: EntryWriter, make: Make
) -> None:
    first = make(writer)
    withdrawal = writer.withdraw(first, "another bin")
    assert (withdrawal.kind, withdrawal.at_ms, withdrawal.body) == (WITHDRAWN, AT_MS, {"note": "another bin"})
    assert writer.store.logbook.in_force() == ()
    with pytest.raises(UsageError, match="entry 2 withdraws another"):
        entry_to_correct(writer.store, 2, first.subject_kind)


def test_an_entry_of_another_kind_is_not_found(writer: EntryWriter) -> None:
    _fill(writer)
    with pytest.raises(UsageError, match=r"no entry 1 about a cohort; `cohort show NAME` lists"):
        entry_to_correct(writer.store, 1, SubjectKind.COHORT)
    with pytest.raises(UsageError, match=r"no entry 9 about a bin; `bin show BIN` lists"):
        entry_to_correct(writer.store, 9, SubjectKind.BIN)


def test_what_contradicts_the_logbook_is_not_written(writer: EntryWriter) -> None:
    with pytest.raises(UsageError, match="was not filled before that"):
        writer.write("bin-1", BinEntryKind.STIR, AT_MS, {})
    _fill(writer)
    with pytest.raises(UsageError, match="has been filled since"):
        _fill(writer)
    with pytest.raises(UsageError, match="there is no cohort eggs-1"):
        writer.write("eggs-1", CohortEntryKind.MOVE, AT_MS, {"place": "bin-1"})
    assert len(writer.store.logbook.every()) == 1


def test_a_probe_is_calibrated_like_everything_else(writer: EntryWriter) -> None:
    made = writer.calibrate(PROBE, POINTS, (0.0, 1.0), AT_MS)
    assert made.is_calibrated
    (entry,) = writer.store.logbook.every()
    assert (entry.kind, entry.subject, entry.entered_ms) == (PROBE_KIND, str(PROBE), NOW_MS)
    with pytest.raises(UsageError, match="lies ahead"):
        writer.calibrate(PROBE, POINTS, (0.0, 1.0), NOW_MS + 1)
    with pytest.raises(UsageError, match="a calibration needs 4 or more"):
        writer.calibrate(PROBE, POINTS[:2], (0.0, 1.0), AT_MS)
    with pytest.raises(UsageError, match=r"entry 1 \(probe\) cannot be corrected here"):
        entry_to_correct(writer.store, 1, SubjectKind.BIN)
    assert len(writer.store.logbook.every()) == 1


def _contradicting(writer: EntryWriter, make: Make, reading: Barrier, said: list[object]) -> Thread:
    """A thread that writes over a connection of its own; having read the logbook it waits for the other."""
    logbook, every = writer.store.logbook, writer.store.logbook.every

    def read_and_wait(*of: object) -> object:
        found = every(*of)  # type: ignore[arg-type]
        with contextlib.suppress(BrokenBarrierError):
            reading.wait(0.3)
        return found

    logbook.every = read_and_wait  # type: ignore[method-assign, assignment]

    def work() -> None:
        try:
            said.append(make(writer))
        except MonitorError as error:
            said.append(error)

    return Thread(target=work)


@pytest.mark.parametrize(
    ("make", "reason"), [(_fill, "has been filled since"), (_start, "there is a cohort eggs-1 already")]
)
def test_of_two_programs_that_contradict_each_other_one_is_refused(
    farm: CohortFarm, make: Make, reason: str
) -> None:
    said, reading = list[object](), Barrier(2)
    with Store.open(farm.database, check=False) as store, Store.open(farm.database, check=False) as other:
        writers = [EntryWriter(each, farm.plan(), "ana", NOW_MS) for each in (store, other)]
        threads = [_contradicting(writer, make, reading, said) for writer in writers]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        written = Store.read_only(farm.database)
    refused = [each for each in said if isinstance(each, UsageError)]
    assert len(refused) == 1, said
    assert reason in str(refused[0])
    with written:
        assert len(written.logbook.every()) == 1


def test_several_entries_are_written_all_or_none(writer: EntryWriter) -> None:
    fill = writer.made("bin-1", BinEntryKind.FILL, AT_MS, FILL)
    stir = writer.made("bin-1", BinEntryKind.STIR, AT_MS + MS_PER_HOUR, {})
    again = writer.made("bin-1", BinEntryKind.FILL, AT_MS + 2 * MS_PER_HOUR, FILL)
    with pytest.raises(UsageError, match="has been filled since"):
        writer.write_all((fill, stir, again))
    assert writer.store.logbook.every() == (), "not even the ones that could have been"
    written = writer.write_all((fill, stir))
    assert writer.store.logbook.every() == written
    assert [entry.entry_id for entry in written] == [1, 2]


def test_a_bin_that_was_harvested_and_filled_anew_has_animals_in_it(
    writer: EntryWriter, farm: CohortFarm
) -> None:
    start = {"stage": "larva", "place": "bin-1", "animals": 500}
    writer.write("b1", CohortEntryKind.START, AT_MS - 20 * MS_PER_DAY, start)
    writer.write("b1", CohortEntryKind.END, AT_MS - MS_PER_HOUR, {"how": "harvested"})
    writer.write("bin-1", BinEntryKind.FILL, AT_MS, {**FILL, "larvae": 10_000})
    plan = occupied_plan(writer.store, load(farm.folder / "farm.toml", {}), NOW_MS)
    bin_1 = SiteReader(writer.store, plan, NOW_MS).place("bin-1")
    assert bin_1.stage is Stage.LARVA
    assert bin_1.state is not PlaceState.EMPTY


def test_an_emptied_bin_is_asked_about_and_a_filling_from_another_bin_asks_for_that_one(
    writer: EntryWriter,
) -> None:
    first = writer.write("bin-1", BinEntryKind.FILL, AT_MS, {**FILL, "larvae": 10_000})
    name = first.body["cohort"]
    moved = writer.write("bin-2", BinEntryKind.FILL, AT_MS + MS_PER_HOUR, {**FILL, "cohort": name})
    assert writer.left_by(moved) == ("bin-1",)
    emptied = writer.write("bin-2", BinEntryKind.EMPTY, NOW_MS, {})
    assert writer.left_by(emptied) == ("bin-2",)
    assert emptied.body["ended"] == [name]
