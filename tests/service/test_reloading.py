"""Settings read again while the service runs: people, report time, boards; and what waits for a restart."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from datetime import time
from pathlib import Path

import pytest
from service_farm import MINUTE, NODES, STRICT, T0, farm, raw_message, wait_until

from monitor.errors import StoreFull
from monitor.farm.occupancy import plan_then
from monitor.records import Command, CommandKind
from monitor.service import Service, system_clock_ms
from monitor.settings.loading import load, waits_for_restart
from monitor.settings.plan import build_plan

TEXT = """\
[site]
id = "yard"
title = "Yard"
time_zone = "Africa/Gaborone"

[broker]
embedded = true
listen = "127.0.0.1"
port = {port}

[report]
time = "{report}"

[[places]]
id = "bin-1"
kind = "grow_out_bin"

[[nodes]]
id = "node-1"
place = "bin-1"

[[recipients]]
id = "{person}"
address_file = "{person}.txt"
"""


class Running:
    """A service with its threads, on a farm file that a test changes."""

    def __init__(self, folder: Path, port: int) -> None:
        self.folder, self.port = folder, port
        for person in ("anna", "ben"):
            secret = folder / f"{person}.txt"
            secret.write_text(f"folder://{folder / person}")
            secret.chmod(0o600)
        self.said: list[str] = []
        self.write("anna")
        self.service = Service(
            load(self.path), settings_path=self.path, on_event=lambda event: self.said.append(str(event))
        )
        self.service.start()

    @property
    def path(self) -> Path:
        return self.folder / "farm.toml"

    def write(self, person: str, report: str = "06:30", port: int | None = None) -> None:
        """Write the file anew."""
        self.path.write_text(TEXT.format(port=port or self.port, person=person, report=report))

    def reload(self) -> None:
        """Have it read again, and wait until that was done."""
        count = len([one for one in self.said if "settings read again" in one])
        self.service.reload_soon()
        assert wait_until(lambda: len([one for one in self.said if "settings read again" in one]) > count)


@pytest.fixture
def running(tmp_path: Path, free_port: int) -> Iterator[Running]:
    """The service, running."""
    found = Running(tmp_path, free_port)
    yield found
    found.service.stop()


def test_other_people_are_taken_over_and_the_service_lives_all_the_while(running: Running) -> None:
    ended, done = threading.Event(), threading.Event()

    def look() -> None:
        while not done.is_set():
            if not running.service.alive:
                ended.set()

    looking = threading.Thread(target=look)
    assert wait_until(lambda: running.service.alive)
    looking.start()
    for person in ("ben", "anna", "ben"):
        running.write(person)
        running.reload()
    done.set()
    looking.join()
    assert not ended.is_set()
    running.service.store.commands.add(Command(CommandKind.SEND_TEST, system_clock_ms(), "owner"))
    assert wait_until(lambda: (running.folder / "ben").is_dir() and list((running.folder / "ben").iterdir()))
    assert not (running.folder / "anna").exists()


def test_the_report_moves_and_a_broker_waits_for_the_next_start(running: Running) -> None:
    assert running.service._background is not None
    night = running.service._background._night
    running.write("anna", report="05:15", port=running.port + 1)
    running.reload()
    # The news is told before the new settings are taken over.
    assert wait_until(lambda: night._scheduler.get_job("night report").next_run_time.time() == time(5, 15))
    assert any("to take over [broker], stop the monitor and start it again" in one for one in running.said)


def test_what_waits_for_a_restart_is_named_and_nothing_else(tmp_path: Path) -> None:
    old = farm(tmp_path)
    other = farm(tmp_path, port=1999, report={"time": "05:00"}, store={"path": str(tmp_path / "b.sqlite")})
    assert waits_for_restart(old, other) == ["store.path", "[broker]"]
    assert waits_for_restart(old, farm(tmp_path, report={"time": "05:00"})) == []


def test_a_board_that_is_new_in_the_settings_has_its_time_to_be_heard(tmp_path: Path) -> None:
    now_ms = T0
    nodes = [{"id": node, "place": "bin-1", "interval_s": 600.0} for node in NODES[:3]]
    service = Service(farm(tmp_path, nodes=nodes), clock=lambda: now_ms, inline=True)
    service.prepare()
    out = {"id": "node-5", "place": "bin-5", "interval_s": 600.0, "out_of_service": True}
    new = {"id": "node-4", "place": "bin-4", "interval_s": 600.0}

    def minutes(count: int) -> None:
        nonlocal now_ms
        for _ in range(count):
            now_ms += MINUTE
            service.processor.process([raw_message(node, now_ms, 30.0, now_ms) for node in NODES[:3]], now_ms)

    def silent(node: str) -> bool:
        return service.processor.site.state(f"{node}/silent_minutes/high/medium").active

    service.processor.change_plan(build_plan(farm(tmp_path, nodes=[*nodes, out])), now_ms)
    minutes(120)
    service.processor.change_plan(
        build_plan(farm(tmp_path, nodes=[*nodes, new, {**out, "out_of_service": False}])), now_ms
    )
    minutes(20)
    assert not silent("node-4") and not silent("node-5")
    minutes(20)
    assert silent("node-4") and silent("node-5")
    service.processor.change_plan(build_plan(farm(tmp_path, nodes=nodes)), now_ms)
    assert "node-4" not in service.processor.self_watch.last_seen.nodes
    service.stop()


def test_settings_are_taken_over_while_the_database_refuses(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    service = Service(farm(tmp_path), clock=lambda: T0, inline=True)
    service.prepare()

    def full(*_: object) -> None:
        raise StoreFull("the disk is full")

    monkeypatch.setattr(service.store.meta, "get", full)
    monkeypatch.setattr(service.store, "commit", full)
    places = [{"id": "bin-9", "kind": "grow_out_bin"}]
    service._take_over(farm(tmp_path, places=places, nodes=[]), T0)
    assert list(service.processor.site.plan.places) == ["bin-9"]


def test_it_is_said_that_settings_were_read_again_once_they_hold(tmp_path: Path) -> None:
    """What people do on that line rests on the new settings: a place that they added is guarded then."""
    path = tmp_path / "farm.toml"
    (tmp_path / "anna.txt").write_text(f"folder://{tmp_path}/inbox")
    (tmp_path / "anna.txt").chmod(0o600)
    path.write_text(TEXT.format(port=1, report="06:30", person="anna"))
    seen: list[object] = []
    service = Service(load(path), settings_path=path, clock=lambda: T0, inline=True)
    service.prepare()

    def hear(event: object) -> None:
        if "settings read again" in str(event):
            seen.append("bin-2" in service.processor.site.plan.places)

    service._on_event = hear
    path.write_text(path.read_text() + '[[places]]\nid = "bin-2"\nkind = "grow_out_bin"\n')
    service.reload_soon()
    service._reload_if_wanted(T0)
    assert seen == [True]
    service.store.close()


def test_the_limits_of_a_night_are_kept_when_others_are_chosen(tmp_path: Path) -> None:
    service = Service(farm(tmp_path), clock=lambda: T0, inline=True)
    service.prepare()
    before = service.processor.site.plan
    rules = [{**rule, "setpoint": 43.0 if rule["priority"] == "high" else 39.0} for rule in STRICT]
    service._take_over(farm(tmp_path, rules=rules), T0 + MINUTE)
    after = service.processor.site.plan
    moved = [name for name, rule in after.rules.items() if before.rules[name].setpoint != rule.setpoint]
    assert moved
    then = plan_then(service.store, after, T0 + MINUTE - 1)
    assert all(then.rules[name].setpoint == before.rules[name].setpoint for name in moved)
    assert plan_then(service.store, after, T0 + MINUTE) is after
    service.stop()
