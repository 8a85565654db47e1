"""The rules of a place follow the cohort that lives in it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from service_farm import MINUTE, T0, farm

from monitor.demo.history import write_history
from monitor.demo.runner import DemoPlan, demo_environment, write_settings
from monitor.farm.occupancy import NOTED, STAGES, last_known_plan, occupied_plan
from monitor.records import MS_PER_DAY, AlarmStatus, LogbookEntry, SubjectKind
from monitor.service import Service
from monitor.service.place_watch import OccupancyWatch
from monitor.settings.loading import load
from monitor.settings.plan import Plan, Said, build_plan
from monitor.settings.schema import Settings
from monitor.store import Store
from monitor.store.logbook import Logbook


def test_a_bin_that_its_cohort_has_left_is_suppressed_and_others_have_their_stage(tmp_path: Path) -> None:
    demo = DemoPlan(tmp_path)
    settings = load(write_settings(demo, 1883), demo_environment(tmp_path))
    write_history(settings, demo.start_ms, demo.seed)
    now = {"ms": demo.start_ms}
    service = Service(settings, clock=lambda: now["ms"], inline=True)
    service.prepare()
    for _ in range(3):
        now["ms"] += 60_000
        service.settle(0)
    places = service.processor.site.plan.places
    plan = service.processor.site.plan
    assert plan.stage_of(places["bin-4"]) == "larva"
    assert plan.stage_of(places["tray-1"]) == "egg"
    empty = [place.id for place in places.values() if place.empty]
    for place in empty:
        states = [
            state for name, state in service.processor.site.states.items() if name.startswith(f"{place}/")
        ]
        assert {state.status for state in states} <= {AlarmStatus.SUPPRESSED_BY_DESIGN}
    service.stop()
    with Store.read_only(settings.store.path) as store:
        assert store.meta.get(STAGES)
        assert store.meta.get(NOTED)
        assert last_known_plan(store, settings, now["ms"]).said == plan.said
        assert occupied_plan(store, settings, now["ms"]).said == plan.said


class QuietFarm:
    """Five bins and a watch over them; counts what it reads and builds."""

    def __init__(self, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        self.settings = farm(folder)
        self.store = Store.open(self.settings.store.path)
        self.watch = OccupancyWatch(self.store, lambda: self.settings, lambda _: None)
        self.holds = build_plan(self.settings)
        self.read: list[int] = []
        self.built: list[int] = []
        after, build = Logbook.after, build_plan

        def counted_after(logbook: Logbook, entry_id: int) -> tuple[LogbookEntry, ...]:
            self.read.append(entry_id)
            return after(logbook, entry_id)

        def counted_build(settings: Settings, said: Said) -> Plan:
            self.built.append(1)
            return build(settings, said)

        monkeypatch.setattr(Logbook, "after", counted_after)
        monkeypatch.setattr("monitor.service.place_watch.build_plan", counted_build)

    def say(self, kind: str, at_ms: int, about: SubjectKind = SubjectKind.PLACE, **body: object) -> int:
        """An entry of another program, which has a connection of its own."""
        subject = "b1" if about is SubjectKind.COHORT else "bin-1"
        with Store.open(self.settings.store.path, create=False, check=False) as other:
            return other.logbook.add(LogbookEntry(about, subject, kind, at_ms, T0, "keeper", body))

    def look(self, now_ms: int) -> bool:
        """Whether a look brought another plan, which is then the same as one that is read whole."""
        plan = self.watch.plan(self.holds, now_ms)
        whole = last_known_plan(self.store, self.settings, now_ms)
        self.holds = plan or self.holds
        assert (self.holds.said, self.holds.unguarded) == (whole.said, whole.unguarded)
        return plan is not None


@pytest.fixture
def quiet(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[QuietFarm]:
    made = QuietFarm(tmp_path, monkeypatch)
    yield made
    made.store.close()


def test_an_entry_is_read_once_and_a_plan_is_built_only_when_what_is_said_differs(quiet: QuietFarm) -> None:
    quiet.say("in_use", T0)
    assert quiet.look(T0)
    assert [quiet.look(T0 + half * 30_000) for half in range(1, 5)] == [False] * 4
    assert quiet.read == [0, 1, 1, 1, 1]
    assert len(quiet.built) == 1
    number = quiet.say("empty", T0 + 1)
    assert quiet.look(T0 + 120_001), "an entry of another program counts at once"
    assert set(quiet.holds.unguarded) == {"bin-1"}
    assert quiet.read[-1] == number - 1
    quiet.settings = quiet.settings.model_copy(update={"nodes": quiet.settings.nodes[:4]})
    assert quiet.look(T0 + 150_001), "changed settings count though nothing was said"
    assert len(quiet.built) == 3


def test_aside_ends_and_a_planned_move_comes_to_the_moment_without_an_entry(quiet: QuietFarm) -> None:
    until_ms, moves_ms = T0 + 20 * MINUTE + 7000, T0 + 40 * MINUTE + 7000
    quiet.say("aside", T0, until_ms=until_ms)
    quiet.say("start", T0 - MS_PER_DAY, SubjectKind.COHORT, place="bin-2", stage="larva")
    quiet.say("planned_move", moves_ms, SubjectKind.COHORT, place="bin-3")
    assert quiet.look(T0)
    assert set(quiet.holds.unguarded) == {"bin-1"}
    for turn_ms in (until_ms, moves_ms):
        for before_ms in (10_000, 1):
            quiet.watch.plan(quiet.holds, turn_ms - before_ms)
        assert not quiet.look(turn_ms - 1)
        assert quiet.look(turn_ms)
    assert not quiet.holds.unguarded
    assert quiet.holds.words_of("bin-3").lived_in


def test_the_logbook_is_read_whole_after_new_settings_and_where_entries_are_gone(quiet: QuietFarm) -> None:
    quiet.say("in_use", T0)
    quiet.look(T0)
    quiet.watch.start_over()
    quiet.look(T0 + 1)
    assert quiet.read == [0, 0]
    quiet.watch._read = (replace(quiet.watch._read[0], entry_id=9),)
    quiet.look(T0 + 2 * MINUTE)
    assert quiet.read == [0, 0, 0]
    quiet.say("start", T0 - MS_PER_DAY, SubjectKind.COHORT, place="bin-2", stage="larva")
    quiet.look(T0 + 3 * MINUTE)
    assert quiet.read[3:] == [0], "with the stages, once an hour"


def test_where_nothing_is_to_end_what_is_said_is_looked_at_each_half_minute_and_no_oftener(
    quiet: QuietFarm,
) -> None:
    quiet.say("in_use", T0)
    quiet.look(T0)
    for passed_ms, looks in ((1, 1), (15_000, 1), (29_999, 1), (30_000, 2), (59_999, 2), (60_000, 3)):
        quiet.watch.plan(quiet.holds, T0 + passed_ms)
        assert len(quiet.read) == looks, passed_ms
