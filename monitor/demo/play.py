"""Joins the demo to the real service: the same parts as on a farm, on the simulated clock."""

from __future__ import annotations

import os
from collections.abc import Callable

from rich.console import Console

from monitor.demo.history import BinDiary, write_bins, write_history
from monitor.demo.narrator import PageOpened
from monitor.demo.runner import DemoPlan, SimulatedClock, demo_environment, run_demo, write_settings
from monitor.errors import UsageError
from monitor.service import Service
from monitor.service.page_door import PageDoor
from monitor.settings.loading import load
from monitor.settings.schema import Settings
from monitor.store import Store
from monitor.store.meta import DEMO_CLOCK

CONNECT_S = 15.0
ANY_PORT = 1883
"""Stands in the settings until the demo's own broker has its port."""


class PlayedMonitor:
    """The service as the demo drives it."""

    def __init__(self, settings: Settings, clock: SimulatedClock, on_event: Callable[[object], None]) -> None:
        path = settings.store.path.parent / "farm.toml"
        self._door = PageDoor(settings, path, invented=True)
        self._on_event = on_event
        self._service = Service(settings, settings_path=path, clock=clock, on_event=self._event, inline=True)
        self._service.start()
        self._service.subscriber.wait_connected(CONNECT_S)
        if settings.page.enabled:
            on_event(PageOpened(self._door.open(self._service, clock), self._door.first_password))

    def _event(self, event: object) -> None:
        self._on_event(event)
        self._door.note(event)

    def wait_idle(self, published: int) -> None:
        """Return when so many messages have been taken in and acted on."""
        self._service.settle(published)
        if self._service.failed is not None:
            raise UsageError(f"the monitor stopped: {self._service.failed!r}")

    def stop(self) -> None:
        """Stop in order."""
        self._door.close()
        self._service.stop()


def play(plan: DemoPlan, console: Console) -> int:
    """Play the invented farm, its invented past included; returns the number of messages published."""
    # The page reads the settings file again when a board is placed, and then needs the addresses too.
    os.environ.update(demo_environment(plan.folder))
    settings = load(write_settings(plan, ANY_PORT), demo_environment(plan.folder))
    if plan.past:
        write_history(settings, plan.start_ms, plan.seed)
    write_bins(settings, plan.start_ms)
    with BinDiary(settings.store.path) as diary:
        published = run_demo(plan, PlayedMonitor, console, diary.write)
    with Store.open(settings.store.path, check=False) as store:
        store.meta.put(DEMO_CLOCK, str(plan.until_ms))
    return published
