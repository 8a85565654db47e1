"""A small farm with forty days of temperatures and a clock that stands still, for tests of cohorts."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from monitor.cli import run
from monitor.records import (
    MS_PER_DAY,
    MS_PER_HOUR,
    Batch,
    Flag,
    FlaggedMessage,
    FlaggedReading,
    LogbookEntry,
    NodeMessage,
    Reading,
    SensorKey,
    SubjectKind,
    TimeSource,
)
from monitor.settings.loading import load
from monitor.settings.plan import Plan, build_plan
from monitor.store import Store
from monitor.store.meta import DEMO_CLOCK

ZONE = ZoneInfo("Africa/Gaborone")
NOW_MS = round(datetime(2026, 9, 22, 7, 0, tzinfo=ZONE).timestamp() * 1000)
DAYS = 90
PLACES = (
    ("tray-1", "hatching_tray", "node-01", "air_temperature"),
    ("bin-1", "grow_out_bin", "node-02", "substrate_temperature"),
    ("bin-2", "grow_out_bin", None, None),
    ("box-1", "pupation_box", "node-03", "air_temperature"),
    ("cage-1", "love_cage", "node-04", "air_temperature"),
    ("cage-2", "love_cage", None, None),
)
_HEAD = """\
[site]
id = "sand-hill"
title = "Sand Hill"
time_zone = "Africa/Gaborone"

[broker]
embedded = true

[[places]]
id = "room-1"
kind = "room"
"""


def settings_text() -> str:
    """The settings file."""
    lines = [_HEAD]
    for place, kind, node, _ in PLACES:
        least = "least_flies = 300\n" if place == "cage-1" else ""
        title = place.replace("-", " ").capitalize()
        lines.append(
            f'[[places]]\nid = "{place}"\nkind = "{kind}"\ntitle = "{title}"\nroom = "room-1"\n{least}'
        )
        if node is not None:
            lines.append(f'[[nodes]]\nid = "{node}"\nplace = "{place}"\n')
    lines.append('[[nodes]]\nid = "node-05"\nplace = "room-1"\n')
    return "\n".join(lines)


@dataclass(frozen=True)
class CohortFarm:
    """The folder of the farm, and ways to write into its logbook and to ask it."""

    folder: Path

    @property
    def database(self) -> Path:
        """The database."""
        return self.folder / "rearing.sqlite"

    def plan(self) -> Plan:
        """What its settings mean."""
        return build_plan(load(self.folder / "farm.toml", {}))

    def ask(self, *words: str) -> int:
        """Run one command."""
        return run([*words, "--config", str(self.folder / "farm.toml")])

    def write(self, name: str, kind: str, days_ago: float, **body: Any) -> None:
        """Write an entry into the logbook as it stands, as if it had been entered in time."""
        at_ms = NOW_MS - round(days_ago * MS_PER_DAY)
        entry = LogbookEntry(SubjectKind.COHORT, name, kind, at_ms, min(at_ms, NOW_MS), "keeper", body)
        with Store.open(self.database, check=False) as store:
            store.logbook.add(entry)

    def entries(self) -> tuple[LogbookEntry, ...]:
        """Every entry of the logbook."""
        with Store.read_only(self.database) as store:
            return store.logbook.every(SubjectKind.COHORT)

    def bin_entries(self) -> tuple[LogbookEntry, ...]:
        """Every entry about bins."""
        with Store.read_only(self.database) as store:
            return store.logbook.every(SubjectKind.BIN)


def make_farm(folder: Path, temperature_c: Callable[[str, float], float] | None = None) -> CohortFarm:
    """A farm whose places are 27 °C with a day's swing of 2 °C, unless said otherwise by place and day."""
    (folder / "farm.toml").write_text(settings_text(), encoding="utf-8")
    with Store.open(folder / "rearing.sqlite") as store:
        nodes = [(place, node, quantity) for place, _, node, quantity in PLACES if node and quantity]
        for place, node, quantity in (*nodes, ("room-1", "node-05", "air_temperature")):
            readings = tuple(_readings(place, SensorKey(node, "", quantity), temperature_c))
            message = NodeMessage(node, NOW_MS, tuple(each.reading for each in readings), TimeSource.NODE)
            store.commit(Batch(NOW_MS, (FlaggedMessage(message, readings),)))
        store.meta.put(DEMO_CLOCK, str(NOW_MS))
    return CohortFarm(folder)


def _readings(
    place: str, sensor: SensorKey, temperature_c: Callable[[str, float], float] | None
) -> list[FlaggedReading]:
    hours = np.arange(-24 * DAYS, 0)
    swing = 2.0 * np.sin(2.0 * np.pi * hours / 24.0)
    found = []
    for hour, wave in zip(hours.tolist(), swing.tolist(), strict=True):
        middle = 27.0 if temperature_c is None else temperature_c(place, hour / 24.0)
        if not np.isnan(middle):
            reading = Reading(sensor, NOW_MS + hour * MS_PER_HOUR, middle + wave)
            found.append(FlaggedReading(reading, Flag.PASS, reading.value))
    return found


def printed_json(capsys: pytest.CaptureFixture[str]) -> Any:
    """What a command printed, read as JSON."""
    return json.loads(capsys.readouterr().out)
