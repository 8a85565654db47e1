"""The demo as a whole: with a stand-in for the monitor, and with the real one."""

import io
from collections.abc import Callable
from pathlib import Path

import pytest
from rich.console import Console

from monitor.demo import real_board
from monitor.demo.runner import DemoPlan, SimulatedClock, play, run_demo
from monitor.errors import BrokerUnreachable
from monitor.settings.schema import Settings
from monitor.store import Store


class FakeMonitor:
    """Stands for the service: has always heard everything."""

    def __init__(self, settings: Settings, clock: SimulatedClock, on_event: Callable[[object], None]) -> None:
        self.settings, self.clock, self.on_event = settings, clock, on_event
        self.stopped = False
        on_event("the monitor has started")

    def wait_idle(self, published: int) -> None:
        """Nothing to wait for."""

    def stop(self) -> None:
        """Remember it."""
        self.stopped = True


class FailingMonitor(FakeMonitor):
    """Breaks at the first turn."""

    def wait_idle(self, published: int) -> None:
        """Fail."""
        raise BrokerUnreachable(f"the broker has gone after {published} messages")


class Starter:
    """Starts a stand-in and remembers it."""

    def __init__(self, kind: type[FakeMonitor]) -> None:
        self._kind = kind
        self.made: list[FakeMonitor] = []

    def __call__(
        self, settings: Settings, clock: SimulatedClock, on_event: Callable[[object], None]
    ) -> FakeMonitor:
        self.made.append(self._kind(settings, clock, on_event))
        return self.made[0]


def _screen() -> tuple[io.StringIO, Console]:
    text = io.StringIO()
    return text, Console(file=text, width=200)


def test_the_whole_demo_with_a_stand_in_for_the_monitor(tmp_path: Path) -> None:
    starter, (screen, console) = Starter(FakeMonitor), _screen()
    plan = DemoPlan(tmp_path / "demo", days=0.125)
    published = run_demo(plan, starter, console)
    (made,) = starter.made
    assert published > 2500
    assert made.stopped
    assert made.clock() == plan.until_ms
    assert len(made.settings.nodes) == 14
    for words in (
        "invented",
        "Nobody wets the pad",
        "not in the settings starts to send",
        "monitor has started",
    ):
        assert words in screen.getvalue()


def test_the_other_commands_are_told_the_time_of_the_farm_while_it_is_played(tmp_path: Path) -> None:
    """Each hour, and at the end; before the first hour it is told already."""
    starter, (_, console) = Starter(FakeMonitor), _screen()
    plan, marks = DemoPlan(tmp_path / "demo", days=0.1), list[int]()
    run_demo(plan, starter, console, mark=marks.append)
    assert marks[:2] == [plan.start_ms + 3_600_000, plan.start_ms + 2 * 3_600_000]
    assert marks[-1] == plan.until_ms


def test_the_monitor_is_stopped_even_when_it_fails(tmp_path: Path) -> None:
    starter, (_, console) = Starter(FailingMonitor), _screen()
    with pytest.raises(BrokerUnreachable, match="has gone"):
        run_demo(DemoPlan(tmp_path, days=0.05), starter, console)
    assert starter.made[0].stopped


def test_three_hours_with_the_real_monitor_and_every_message_is_in_the_store(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Simulated boards alone: one with the real program also asks and reports (test_real_board)."""
    monkeypatch.setattr(real_board, "interpreter", lambda: None)
    screen, console = _screen()
    published = play(DemoPlan(tmp_path, days=0.125, past=False), console)
    store = Store.open(tmp_path / "rearing.sqlite")
    try:
        facts = {node.node: node for node in store.nodes.every()}
    finally:
        store.close()
    assert set(facts) == {f"node-{number:02d}" for number in range(1, 16)}
    statuses = 15
    assert sum(node.messages for node in facts.values()) == published - statuses
    assert all((node.missing, node.duplicates, node.rejected) == (0, 0, 0) for node in facts.values())
    assert f"{published} MQTT messages were published" in screen.getvalue()


@pytest.mark.slow
@pytest.mark.timeout(900)
def test_two_days_show_all_that_the_demo_promises(tmp_path: Path) -> None:
    """Overheating early and late, drying, a silent board, one alarm for a power cut, two night reports."""
    screen, console = _screen()
    play(DemoPlan(tmp_path, past=False), console)
    text = " ".join(screen.getvalue().split())
    for words in (
        "alarm bin-4: time to overheating",
        "alarm bin-4: substrate temperature",
        "over bin-4: substrate temperature",
        "alarm tray-3: air humidity",
        "alarm bin-6: substrate moisture",
        "alarm cage-2: air temperature",
        "alarm node-13: silence",
        "alarm site: share of silent boards",
        "message to keeper: HIGH Grow-out bin 4",
        "message to neighbour: HIGH Grow-out bin 4",
    ):
        assert words in text, words
    reports = [path for path in (tmp_path / "inbox" / "keeper").glob("*.txt") if "Night-report" in path.name]
    assert len(reports) == 2
    in_the_cut = text.partition("The power goes on the whole farm")[2].partition("The power is back")[0]
    assert in_the_cut.count(" alarm ") == 1
    after_the_cut = text.partition("The power is back")[2]
    assert "silence" not in after_the_cut.partition("night to")[0]
