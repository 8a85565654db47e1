"""The demo farm with weeks of hours behind it, random entries about it, and records compared bit by bit."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields, is_dataclass
from datetime import datetime
from pathlib import Path
from random import Random
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np

from monitor.demo.runner import DemoPlan, demo_environment, demo_settings
from monitor.logbook.entry import WITHDRAWN
from monitor.records import MS_PER_DAY, MS_PER_HOUR, MS_PER_MINUTE, LogbookEntry, SensorKey, SubjectKind
from monitor.settings.loading import load
from monitor.settings.plan import Plan, build_plan
from monitor.store import Store, readings

MORNING = datetime(2026, 9, 24, 6, 0, tzinfo=ZoneInfo("Africa/Gaborone"))
NOW_MS = round(MORNING.timestamp() * 1000)
DAYS = 40
MOISTER = """
[[rules]]
place = "bin-1"
quantity = "substrate_moisture"
side = "low"
priority = "medium"
setpoint = 0.5
"""
BINS = ("bin-1", "bin-2", "bin-3")
_MIDDLE = {"air_temperature": 27.0, "air_humidity": 60.0, "substrate_temperature": 30.0}


def kept_plan(folder: Path, more: str = "") -> Plan:
    """The plan of the demo farm, with some more settings."""
    path = folder / "farm.toml"
    path.write_text(demo_settings(DemoPlan(folder, start=MORNING), 1883) + more, encoding="utf-8")
    return build_plan(load(path, demo_environment(folder)))


def fill_weeks(store: Store, plan: Plan) -> None:
    """Hours of all sensors over some weeks, and single readings of the last ones."""
    for node in plan.nodes.values():
        for measured in node.measures:
            _fill(store, SensorKey(node.id, *measured.rpartition("/")[::2]))


def _fill(store: Store, key: SensorKey) -> None:
    row = readings.find_or_add(store.database, key)
    middle = _MIDDLE.get(key.quantity, 0.5)
    last = NOW_MS // MS_PER_HOUR + 26
    hours = np.arange(last - DAYS * 24 - 26, last)
    # A day's swing, and something of its own for each sensor and hour.
    wave = 1.0 + 0.08 * np.sin(2.0 * np.pi * hours / 24.0) + 0.01 * np.sin(hours * (1.0 + row.sensor_id))
    steps = np.round(middle * wave * row.per_unit).astype(int).tolist()
    minutes = range(NOW_MS - 6 * MS_PER_HOUR, NOW_MS + 26 * MS_PER_HOUR, 10 * MS_PER_MINUTE)
    with store.database.write() as connection:
        connection.executemany(
            "INSERT INTO hourly VALUES(?, ?, 6, ?, ?, ?, 0)",
            [(row.sensor_id, hour, v, 6 * v, v) for hour, v in zip(hours.tolist(), steps, strict=True)],
        )
        connection.executemany(
            "INSERT INTO reading VALUES(?, ?, ?, 1)",
            [(row.sensor_id, at_ms, steps[-26 + (at_ms - NOW_MS) // MS_PER_HOUR]) for at_ms in minutes],
        )


def cohort(name: str, kind: str, at_ms: int, **body: object) -> LogbookEntry:
    return LogbookEntry(SubjectKind.COHORT, name, kind, at_ms, at_ms, "keeper", body)


def of_bin(place: str, kind: str, at_ms: int, **body: object) -> LogbookEntry:
    return LogbookEntry(SubjectKind.BIN, place, kind, at_ms, at_ms, "keeper", body)


def beginning() -> list[LogbookEntry]:
    """What the farm's logbook holds before anything is tried: three bins, six cohorts, one of them over."""
    day = MS_PER_DAY
    found = [
        of_bin(place, "fill", NOW_MS - (2 + n) * day, kg=9.0, moisture=0.7, surface_m2=0.24, depth_m=0.08)
        for n, place in enumerate(BINS)
    ]
    for n, days_ago in enumerate((38, 30, 22, 15, 9, 3)):
        start_ms = NOW_MS - days_ago * day
        place = "box-1" if n < 3 else BINS[n - 3]
        larva: dict[str, Any] = {"stage": "larva", "place": place, "animals": 2000, "purpose": "breeding"}
        found.append(cohort(f"c-{n}", "start", start_ms, **larva))
    found.append(cohort("c-0", "saw", NOW_MS - 26 * day, event="first_prepupae"))
    found.append(cohort("c-0", "end", NOW_MS - 2 * day, how="harvested"))
    return found


@dataclass
class RandomPerson:
    """Writes entries at random; some of them cannot be, and are refused at the replay."""

    random: Random
    cohorts: int = 6

    def entry(self, store: Store, now_ms: int) -> LogbookEntry:
        """One more entry, a correction or a withdrawal."""
        at_ms = now_ms - self.random.choice((0, 1, 40, 3000)) * MS_PER_MINUTE
        kind = self.random.randrange(10)
        if kind < 2:
            return self._undone(store, now_ms) or self._of_bin(at_ms)
        return self._of_bin(at_ms) if kind < 6 else self._of_cohort(at_ms)

    def _undone(self, store: Store, now_ms: int) -> LogbookEntry | None:
        every = store.logbook.every()
        corrected = {each.corrects for each in every}
        open_ = [each for each in every if each.entry_id not in corrected and each.kind != WITHDRAWN]
        one = self.random.choice(open_[3:] or open_)
        kind = WITHDRAWN if self.random.random() < 0.7 else one.kind
        at_ms = one.at_ms - (0 if kind == WITHDRAWN else MS_PER_MINUTE)
        body = {} if kind == WITHDRAWN else one.body
        return LogbookEntry(
            one.subject_kind, one.subject, kind, at_ms, now_ms, "keeper", body, corrects=one.entry_id
        )

    def _of_bin(self, at_ms: int) -> LogbookEntry:
        place = self.random.choice(BINS)
        kind, body = self.random.choice(
            (
                ("water", {"kg": 0.4}),
                ("weigh", {"kg": 8.0 + self.random.random()}),
                ("stir", {}),
                ("feed", {"kg": 0.5, "moisture": 0.6}),
                ("test", {"moisture": 0.6}),
                ("larvae", {"larvae": 700, "age_days": 6, "cohort": f"n-{at_ms}"}),
                ("take", {"kg": 0.1, "what": "larvae"}),
                ("empty", {}),
                ("fill", {"kg": 8.0, "moisture": 0.68, "surface_m2": 0.24, "depth_m": 0.08}),
            )
        )
        return of_bin(place, kind, at_ms, **body)

    def _of_cohort(self, at_ms: int) -> LogbookEntry:
        name = f"c-{self.random.randrange(self.cohorts)}"
        kind, body = self.random.choice(
            (
                (
                    "saw",
                    {"event": self.random.choice(("first_prepupae", "half_prepupae", "first_motionless"))},
                ),
                ("count", {"animals": 1500.0 + self.random.randrange(300), "stage": "larva"}),
                ("move", {"place": self.random.choice((*BINS, "box-1"))}),
                ("flies", {"flies": 40.0}),
                ("end", {"how": "harvested"}),
                ("start", {"stage": "larva", "place": "bin-2", "animals": 900}),
            )
        )
        if kind == "start":
            name, self.cohorts = f"c-{self.cohorts}", self.cohorts + 1
        return cohort(name, kind, at_ms, **body)


def differences(found: object, fresh: object, path: str = "") -> list[str]:
    """Where two values differ, arrays bit by bit; empty where they are the same."""
    if isinstance(found, np.ndarray) or isinstance(fresh, np.ndarray):
        same = np.array_equal(
            np.asarray(found), np.asarray(fresh), equal_nan=np.asarray(found).dtype.kind == "f"
        )
        return [] if same else [path]
    if is_dataclass(found) and not isinstance(found, type) and type(found) is type(fresh):
        parts = [(each.name, getattr(found, each.name), getattr(fresh, each.name)) for each in fields(found)]
        return [line for name, a, b in parts for line in differences(a, b, f"{path}.{name}")]
    if isinstance(found, Mapping) and isinstance(fresh, Mapping) and found.keys() == fresh.keys():
        return [line for key in found for line in differences(found[key], fresh[key], f"{path}[{key}]")]
    if isinstance(found, tuple | list) and isinstance(fresh, tuple | list) and len(found) == len(fresh):
        pairs = enumerate(zip(found, fresh, strict=True))
        return [line for n, (a, b) in pairs for line in differences(a, b, f"{path}[{n}]")]
    return [] if found == fresh or (found != found and fresh != fresh) else [f"{path}: {found} / {fresh}"]
