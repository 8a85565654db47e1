"""Hours until a bin is dry as an alarm: raised, told with litres, ended by water, finishing or emptying."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from service_farm import MINUTE, T0, farm, watch_of

from monitor.alarms.rules import alarm_id
from monitor.errors import StoreDamaged
from monitor.farm.bins import bin_view
from monitor.farm.places import SiteReader, calibrated_probes
from monitor.records import (
    MS_PER_DAY,
    MS_PER_HOUR,
    AlarmStatus,
    Batch,
    Calibration,
    Computed,
    Flag,
    FlaggedMessage,
    FlaggedReading,
    LogbookEntry,
    NodeMessage,
    Priority,
    Quantity,
    Reading,
    SensorKey,
    Side,
    SubjectKind,
    TimeSource,
    Transition,
)
from monitor.service.messages import AlarmViewBuilder
from monitor.service.place_watch import MOST_AT_ONCE, BinWatch
from monitor.service.service import restore
from monitor.service.site_state import AlarmChanges
from monitor.settings.schema import Settings
from monitor.store import Store
from monitor.words import alarm_messages
from monitor.words.localizer import Localizer
from monitor.words.places import shown

DRY = alarm_id("bin-1", Computed.HOURS_TO_DRY, Side.LOW, Priority.MEDIUM)
PROBE_DRY = alarm_id("bin-1", Quantity.SUBSTRATE_MOISTURE, Side.LOW, Priority.MEDIUM)
FILL: dict[str, Any] = {"kg": 6.0, "moisture": 0.46, "moisture_sd": 0.005, "surface_m2": 0.24}


def _settings(folder: Path, bins: int = 1) -> Settings:
    places = [{"id": "room", "kind": "room"}]
    places += [{"id": f"bin-{n}", "kind": "grow_out_bin", "room": "room"} for n in range(1, bins + 1)]
    return farm(folder, places=places, nodes=[{"id": "node-1", "place": "room"}])


def _put_air(store: Store, days: float = 2.0) -> None:
    times = range(T0 - round(days * MS_PER_DAY), T0 + MS_PER_DAY, 30 * MINUTE)
    messages = []
    for at in times:
        pair = ((Quantity.AIR_TEMPERATURE, 28.0), (Quantity.AIR_HUMIDITY, 45.0))
        raw = tuple(Reading(SensorKey("node-1", "", quantity), at, value) for quantity, value in pair)
        flagged = tuple(FlaggedReading(each, Flag.PASS, each.value) for each in raw)
        messages.append(FlaggedMessage(NodeMessage("node-1", at, raw, TimeSource.NODE), flagged))
    store.commit(Batch(T0, tuple(messages)))


def _write(store: Store, kind: str, at_ms: int, place: str = "bin-1", **body: Any) -> None:
    store.logbook.add(LogbookEntry(SubjectKind.BIN, place, kind, at_ms, at_ms, "me", body))


class Yard:
    """A store with air, a watch, and ticks of a minute."""

    def __init__(self, folder: Path, bins: int = 1) -> None:
        settings = _settings(folder, bins)
        self.store = Store.open(settings.store.path)
        _put_air(self.store)
        self.watch = watch_of(settings)
        self.bins = BinWatch(self.store, self.watch)
        self.now_ms = T0

    @property
    def words(self) -> Localizer:
        """The words of the site now."""
        return Localizer.of_site(self.watch.plan.settings, self.now_ms)

    def minutes(self, count: int) -> list[Transition]:
        """Let time pass; gives what changed."""
        changes = AlarmChanges()
        for _ in range(count):
            self.now_ms += MINUTE
            self.bins.tick(self.now_ms, changes)
        return changes.transitions


@pytest.fixture
def yard(tmp_path: Path) -> Yard:
    """One bin, not filled yet."""
    return Yard(tmp_path)


def test_a_bin_that_the_logbook_does_not_know_never_alarms(yard: Yard) -> None:
    assert yard.minutes(60) == []
    assert yard.watch.state(DRY).last_at_ms is None


def test_a_bin_near_its_limit_alarms_and_the_message_names_litres(yard: Yard) -> None:
    _write(yard.store, "fill", T0 - MS_PER_HOUR, **FILL)
    raised = yard.minutes(30)
    assert [row.alarm_id for row in raised if row.announces] == [DRY]
    look = AlarmViewBuilder(yard.watch, yard.bins.advice)
    view = look(DRY)
    assert view is not None
    text = alarm_messages.alarm(view, yard.words)
    assert "may be too dry" in text.title
    assert "litres bring it back to 68 %." in text.body


def test_a_wet_bin_does_not(yard: Yard) -> None:
    _write(yard.store, "fill", T0 - MS_PER_HOUR, **{**FILL, "moisture": 0.7})
    assert yard.minutes(60) == []
    value = yard.watch.state(DRY).last_value
    assert value is not None and value > 24.0


def test_water_that_was_entered_ends_the_alarm(yard: Yard) -> None:
    _write(yard.store, "fill", T0 - MS_PER_HOUR, **FILL)
    yard.minutes(30)
    _write(yard.store, "water", yard.now_ms, kg=4.0)
    assert [row.alarm_id for row in yard.minutes(90) if row.after is not AlarmStatus.UNACKNOWLEDGED] == [DRY]
    assert not yard.watch.state(DRY).active


def test_a_finishing_bin_is_suppressed_by_design_and_not_for_ever(yard: Yard) -> None:
    _write(yard.store, "fill", T0 - MS_PER_HOUR, **FILL)
    _write(yard.store, "finish", T0)
    assert not any(row.announces for row in yard.minutes(60))
    assert yard.watch.state(DRY).status is AlarmStatus.SUPPRESSED_BY_DESIGN
    assert yard.watch.state(PROBE_DRY).status is AlarmStatus.SUPPRESSED_BY_DESIGN
    _write(yard.store, "empty", yard.now_ms)
    yard.minutes(40)
    assert yard.watch.state(DRY).status is AlarmStatus.NORMAL
    assert yard.watch.state(PROBE_DRY).status is AlarmStatus.NORMAL


def test_an_emptied_bin_ends_its_alarm_even_after_a_restart(yard: Yard) -> None:
    _write(yard.store, "fill", T0 - MS_PER_HOUR, **FILL)
    yard.minutes(30)
    assert yard.watch.state(DRY).active
    _write(yard.store, "empty", yard.now_ms)
    yard.bins = BinWatch(yard.store, yard.watch)
    yard.minutes(90)
    assert not yard.watch.state(DRY).active


@pytest.mark.parametrize(("moisture", "every_minutes"), [(0.46, 5), (0.8, 30)])
def test_a_bin_near_its_limit_is_looked_at_each_five_minutes_and_another_each_half_hour(
    yard: Yard, monkeypatch: pytest.MonkeyPatch, moisture: float, every_minutes: int
) -> None:
    looks: list[int] = []

    def counted(store: Store, plan: Any, reader: Any, fill: Any) -> Any:
        looks.append((yard.now_ms - T0) // MINUTE)
        return bin_view(store, plan, reader, fill)

    monkeypatch.setattr("monitor.service.place_watch.bin_view", counted)
    _write(yard.store, "fill", T0 - MS_PER_HOUR, **{**FILL, "kg": 20.0, "moisture": moisture})
    yard.minutes(62)

    assert looks == list(range(1, 63, every_minutes))


def test_a_few_bins_at_a_time_are_looked_at(tmp_path: Path) -> None:
    yard = Yard(tmp_path, bins=6)
    for number in range(1, 7):
        _write(yard.store, "fill", T0 - MS_PER_HOUR, f"bin-{number}", **FILL)
    yard.minutes(1)
    assert len(yard.bins.views) == MOST_AT_ONCE
    yard.minutes(1)
    assert len(yard.bins.views) == 6


def test_one_bin_that_cannot_be_worked_out_does_not_stop_the_others(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    yard = Yard(tmp_path, bins=2)
    for number in (1, 2):
        _write(yard.store, "fill", T0 - MS_PER_HOUR, f"bin-{number}", **FILL)

    def broken(store: Store, plan: Any, reader: Any, fill: Any) -> Any:
        if fill.place == "bin-1":
            raise ArithmeticError("no answer")
        return bin_view(store, plan, reader, fill)

    monkeypatch.setattr("monitor.service.place_watch.bin_view", broken)
    yard.minutes(2)
    assert list(yard.bins.views) == ["bin-2"]


def test_a_fault_of_the_store_leaves_everything_as_it_was(
    yard: Yard, monkeypatch: pytest.MonkeyPatch
) -> None:
    _write(yard.store, "fill", T0 - MS_PER_HOUR, **FILL)

    def damaged() -> int:
        raise StoreDamaged("the database is damaged")

    monkeypatch.setattr(yard.store.logbook, "newest_id", damaged)
    assert yard.minutes(5) == []


def test_other_alarms_get_no_advice_about_water(yard: Yard) -> None:
    _write(yard.store, "fill", T0 - MS_PER_HOUR, **FILL)
    yard.minutes(5)
    rules = yard.watch.plan.rules
    hot = rules[alarm_id("bin-1", Quantity.SUBSTRATE_TEMPERATURE, Side.HIGH, Priority.HIGH)]
    assert yard.bins.advice(hot, yard.words) == ""
    assert "litres" in yard.bins.advice(rules[PROBE_DRY], yard.words)


def _probe(yard: Yard, value: float, minutes: int) -> None:
    """The probe says so each minute, while the bins are worked out."""
    changes = AlarmChanges()
    for _ in range(minutes):
        yard.now_ms += MINUTE
        sensor = SensorKey("node-1", "core", Quantity.SUBSTRATE_MOISTURE)
        raw = (Reading(sensor, yard.now_ms, value),)
        flagged = yard.watch.take(
            NodeMessage("node-1", yard.now_ms, raw, TimeSource.NODE), yard.now_ms, changes
        )
        yard.store.commit(Batch(yard.now_ms, (flagged,)))
        yard.bins.tick(yard.now_ms, changes)


@pytest.fixture
def probed(tmp_path: Path) -> Yard:
    """One bin with a moisture probe in it."""
    places = [{"id": "room", "kind": "room"}, {"id": "bin-1", "kind": "grow_out_bin", "room": "room"}]
    nodes = [{"id": "node-1", "place": "room", "probes": {"core": "bin-1"}}]
    settings = farm(tmp_path, places=places, nodes=nodes)
    yard = Yard.__new__(Yard)
    yard.store = Store.open(settings.store.path)
    _put_air(yard.store)
    yard.watch, yard.now_ms = watch_of(settings), T0
    yard.bins = BinWatch(yard.store, yard.watch)
    return yard


def test_the_moisture_alarm_of_a_filled_bin_follows_its_one_figure(probed: Yard) -> None:
    """A probe that was never calibrated counts for nothing; the limit is 45 %."""
    _write(probed.store, "fill", T0 - MS_PER_HOUR, **{**FILL, "moisture": 0.6})
    probed.bins.tick(T0, AlarmChanges())
    _probe(probed, 0.30, 40)
    state = probed.watch.state(PROBE_DRY)
    moisture = probed.bins.views["bin-1"].moisture
    assert not state.active
    assert moisture is not None and state.last_value == moisture.share


def test_the_figure_below_the_limit_raises_the_alarm_and_the_message_says_what_it_rests_on(
    probed: Yard,
) -> None:
    _write(probed.store, "fill", T0 - MS_PER_HOUR, **{**FILL, "moisture": 0.42})
    probed.bins.tick(T0, AlarmChanges())
    _probe(probed, 0.80, 40)
    assert probed.watch.state(PROBE_DRY).active
    view = AlarmViewBuilder(probed.watch, probed.bins.advice)(PROBE_DRY)
    assert view is not None and view.state.last_value is not None
    text = alarm_messages.alarm(view, probed.words)
    share = probed.words.value("substrate_moisture", view.state.last_value)
    assert share in text.title
    assert f"Moisture {share} (" in text.body and "worked out from what was entered" in text.body


def test_without_a_filling_the_bare_reading_guards(probed: Yard) -> None:
    _probe(probed, 0.30, 15)
    assert probed.watch.state(PROBE_DRY).active


def test_while_bins_cannot_be_worked_out_the_bare_reading_guards(
    probed: Yard, monkeypatch: pytest.MonkeyPatch
) -> None:
    def damaged(*_: object) -> int:
        raise StoreDamaged("the database is damaged")

    _write(probed.store, "fill", T0 - MS_PER_HOUR, **{**FILL, "moisture": 0.6})
    probed.bins.tick(T0, AlarmChanges())
    monkeypatch.setattr(probed.store.logbook, "newest_id", damaged)
    _probe(probed, 0.30, 15)
    assert probed.watch.state(PROBE_DRY).active


def test_after_a_restart_no_bare_reading_steps_in_before_the_first_look(probed: Yard) -> None:
    _write(probed.store, "fill", T0 - MS_PER_HOUR, **{**FILL, "moisture": 0.6})
    probed.bins.tick(T0, AlarmChanges())
    _probe(probed, 0.30, 40)
    site, changes = restore(probed.store, probed.watch.plan, probed.now_ms, MINUTE)
    assert not site.state(PROBE_DRY).active
    assert changes.transitions == []


def test_the_index_of_a_probe_that_is_not_calibrated_is_no_moisture(probed: Yard) -> None:
    """Nothing was filled: the index is shown as an index, and no alarm on moisture follows from it."""
    _probe(probed, 0.30, 15)
    site, _ = restore(probed.store, probed.watch.plan, probed.now_ms, MINUTE)
    assert not site.state(PROBE_DRY).active
    assert calibrated_probes(probed.store) == frozenset()
    (now,) = SiteReader(probed.store, probed.watch.plan, probed.now_ms).place("bin-1").quantities
    value = shown(now, probed.words)
    assert (value.name, value.value, value.note) == ("Probe index", "0.30", "an index, not a moisture")

    sensor = SensorKey("node-1", "core", Quantity.SUBSTRATE_MOISTURE)
    offset = Calibration(sensor, T0 - MS_PER_DAY, 1.0, 0.01, "meter", T0)
    probed.store.calibrations.add(offset)
    site, _ = restore(probed.store, probed.watch.plan, probed.now_ms, MINUTE)
    assert site.state(PROBE_DRY).active
    (now,) = SiteReader(probed.store, probed.watch.plan, probed.now_ms).place("bin-1").quantities
    assert shown(now, probed.words).name == "Moisture"


def test_an_entry_has_only_the_bins_that_it_touches_looked_at(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    yard = Yard(tmp_path, bins=3)
    for number in (1, 2, 3):
        wet = {**FILL, "moisture": 0.7}
        _write(yard.store, "fill", T0 - MS_PER_HOUR, f"bin-{number}", **wet)
    yard.minutes(3)
    looked: list[str] = []

    def counted(*given: Any) -> Any:
        looked.append(given[3].place)
        return bin_view(*given)

    monkeypatch.setattr("monitor.service.place_watch.bin_view", counted)
    _write(yard.store, "water", yard.now_ms, "bin-2", kg=0.5)
    yard.minutes(2)
    assert looked == ["bin-2"]
    yard.store.calibrations.add(Calibration(SensorKey("node-1", "", "air_humidity"), T0, 1.0, 3.0, "", T0))
    _write(yard.store, "stir", yard.now_ms, "bin-1")
    yard.minutes(2)
    assert sorted(looked[1:]) == ["bin-1", "bin-2", "bin-3"], "a calibration of the room touches all of them"


def test_a_bin_of_which_nobody_can_say_what_it_rests_on_is_looked_at(
    yard: Yard, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*_given: Any) -> Any:
        raise ZeroDivisionError

    monkeypatch.setattr("monitor.service.place_watch.bin_rests", broken)
    _write(yard.store, "fill", T0 - MS_PER_HOUR, **FILL)
    assert [each.alarm_id for each in yard.minutes(30)][:1] == [DRY]
