"""The demo farm's bins in the logbook: they fit the simulation, and the keeper's actions become entries."""

from __future__ import annotations

from pathlib import Path

import pytest

from monitor.bins.events import Stirred, WaterAdded, Weighed
from monitor.demo.history import NOT_CALIBRATED, record_actions, write_bins
from monitor.demo.physics import BIN_FILLS, FarmPhysics, KeeperAction
from monitor.demo.runner import DemoPlan, demo_environment, write_settings
from monitor.demo.script import Script
from monitor.farm.bins import probe_calibration
from monitor.farm.book import book_of
from monitor.records import MS_PER_HOUR, MS_PER_MINUTE, SensorKey
from monitor.settings.loading import load
from monitor.settings.plan import build_plan
from monitor.settings.schema import Settings
from monitor.store import Store


@pytest.fixture
def settings(tmp_path: Path) -> Settings:
    """The settings of a demo in a folder of its own."""
    plan = DemoPlan(tmp_path)
    return load(write_settings(plan, 1), demo_environment(tmp_path))


def test_every_bin_is_filled_with_what_the_simulation_starts_from(settings: Settings) -> None:
    start_ms = DemoPlan(Path()).start_ms
    assert write_bins(settings, start_ms, past=False) == 11
    with Store.open(settings.store.path) as store:
        book = book_of(store, build_plan(settings), start_ms)
    assert book.refused == ()
    for fill in book.standing:
        water_kg, dry_kg, age_days = BIN_FILLS[fill.place]
        assert fill.facts.wet_kg == pytest.approx(water_kg + dry_kg, abs=0.01)
        assert fill.facts.wet_kg * fill.facts.moisture == pytest.approx(water_kg, abs=0.01)
        assert fill.facts.larvae is not None and fill.facts.larvae.age_days == age_days
        assert fill.living == (f"{fill.place}-larvae",)
        assert fill.facts.fan is (fill.place == "bin-6")
    assert len(book.standing) == len(BIN_FILLS)


def test_all_probes_but_one_are_calibrated(settings: Settings) -> None:
    write_bins(settings, DemoPlan(Path()).start_ms, past=False)
    plan = build_plan(settings)
    with Store.open(settings.store.path) as store:
        probes = [SensorKey(f"node-{number:02d}", "", "substrate_moisture") for number in range(8, 14)]
        calibrated = {plan.place_of(key): probe_calibration(store, key).is_calibrated for key in probes}
    assert [place for place, known in calibrated.items() if not known] == [NOT_CALIBRATED]


def test_what_the_keeper_does_becomes_entries(settings: Settings) -> None:
    start_ms = DemoPlan(Path()).start_ms
    write_bins(settings, start_ms, past=False)
    actions = (
        KeeperAction(start_ms, "bin-1", "water", 0.8),
        KeeperAction(start_ms, "bin-1", "weigh", 10.2),
        KeeperAction(start_ms, "bin-1", "stir"),
    )
    with Store.open(settings.store.path) as store:
        record_actions(store, actions)
        record_actions(store, ())
        fill = book_of(store, build_plan(settings), start_ms + MS_PER_HOUR).filled("bin-1")
    assert fill is not None
    assert [type(event) for event in fill.events] == [WaterAdded, Weighed, Stirred]


def test_the_keeper_weighs_every_bin_once_a_day_and_says_what_he_did_once() -> None:
    start_ms = DemoPlan(Path()).start_ms
    nature = FarmPhysics(7, start_ms, Script(start_ms))
    assert nature.take_actions() == (), "what happens before anybody looks is not written down"
    for minute in range(10, 24 * 60, 10):
        nature.step(start_ms + minute * MS_PER_MINUTE)
    weighed = {action.place: action.kg for action in nature.take_actions() if action.kind == "weigh"}
    assert set(weighed) == set(BIN_FILLS)
    assert 4.0 < weighed["bin-6"] < sum(BIN_FILLS["bin-6"][:2])
    assert nature.take_actions() == ()
