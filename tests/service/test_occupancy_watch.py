"""The rules of a place follow the cohort that lives in it."""

from __future__ import annotations

from pathlib import Path

from monitor.demo.history import write_history
from monitor.demo.runner import DemoPlan, demo_environment, write_settings
from monitor.farm.occupancy import NOTED, STAGES, last_known_plan, occupied_plan
from monitor.records import AlarmStatus
from monitor.service import Service
from monitor.settings.loading import load
from monitor.store import Store


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
