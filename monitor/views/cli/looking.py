"""What commands need to look at one site: its settings, its plan, its store, and the time."""

from __future__ import annotations

import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from zoneinfo import ZoneInfo

from monitor.settings.loading import FarmFile
from monitor.settings.plan import Plan
from monitor.store import Store
from monitor.store.meta import DEMO_CLOCK
from monitor.views.alarm_names import numbers
from monitor.views.cli.farm import look_at_farm
from monitor.views.cli.output import console, say
from monitor.views.living import plan_as_lived

WIDEST = 100
"""Longer lines of prose are hard to read, however wide the terminal is."""


@dataclass(frozen=True)
class Look:
    """One site at one moment."""

    farm: FarmFile
    plan: Plan
    store: Store
    now_ms: int

    @property
    def zone(self) -> ZoneInfo:
        """The farm's time zone."""
        return self.plan.zone

    @property
    def numbers(self) -> dict[str, int]:
        """The short numbers of the alarms."""
        return dict(numbers(self.plan))


def clock_ms() -> int:
    """The machine's clock; the only one that the command line reads."""
    return time.time_ns() // 1_000_000


def now_of(store: Store) -> int:
    """The machine's clock; in the folder of a demo the time at which the demo stopped."""
    stopped = store.meta.get(DEMO_CLOCK)
    return clock_ms() if stopped is None else int(stopped)


@contextmanager
def looking(config: Path | None) -> Iterator[Look]:
    """The site, opened for reading beside a service that writes."""
    farm = look_at_farm(config)
    with Store.read_only(farm.settings.store.path) as store:
        yield Look(farm, plan_as_lived(store, farm.settings), store, now_of(store))


@contextmanager
def working(config: Path | None, *, create: bool = False) -> Iterator[Look]:
    """The site, opened for short writes beside the service; with `create` a new database is fine."""
    farm = look_at_farm(config)
    settings = farm.settings
    archive = settings.archive is not None
    with Store.open(settings.store.path, create=create, check=False, archive=archive) as store:
        yield Look(farm, plan_as_lived(store, settings), store, now_of(store))


def width() -> int:
    """Columns for prose: those of the terminal, 80 where there is none, never more than can be read well."""
    target = console()
    return min(target.width, WIDEST) if target.is_terminal else 80


def say_lines(lines: list[str]) -> None:
    """Print lines of plain text."""
    for line in lines:
        say(line)
