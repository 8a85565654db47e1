"""An archive in memory with several sites, written under the names of `archive.series`."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from archive_memory import MemoryArchive

from monitor.archive.series import (
    ALARM,
    ALARM_STATUS,
    BIN,
    BOARD,
    FORECAST,
    PLACE,
    PLACE_VALUE,
    SITE,
    YIELD_AHEAD,
    Series,
)
from monitor.records import MS_PER_DAY, MS_PER_HOUR, MS_PER_MINUTE, AlarmStatus, Side
from monitor.sites.settings import SitesSettings

NOW_MS = 1_790_000_000_000
COUNTS = {"open_alarms": 0.0, "unacknowledged_alarms": 0.0, "boards_to_mend": 0.0}


def settings_of(**tables: object) -> SitesSettings:
    """Settings with an archive and whatever else a test needs."""
    whole = {"archive": {"url": "http://127.0.0.1:9", "bucket": "farms"}, **tables}
    return SitesSettings.model_validate(whole)


class ManySites:
    """`beat` writes what a site writes each minute, the others one kind of point each."""

    def __init__(self) -> None:
        self.archive = MemoryArchive()

    def write(self, series: Series, site: str, at_ms: int, fields: Mapping[str, float], **tags: str) -> None:
        """One point; names that the series does not have are refused."""
        assert set(tags) == set(series.tags), (series.measurement, tags)
        assert set(fields) <= set(series.fields), (series.measurement, fields)
        self.archive.write(series.measurement, {"site": site, **tags}, fields, at_ms)

    def beat(self, site: str, at_ms: int = NOW_MS, **counts: float) -> None:
        """The site is heard."""
        self.write(SITE, site, at_ms, {"heartbeat": 1.0, **COUNTS, **counts})

    def alarm(
        self,
        site: str,
        place: str,
        value: float,
        at_ms: int = NOW_MS,
        *,
        priority: str = "high",
        status: AlarmStatus = AlarmStatus.UNACKNOWLEDGED,
        quantity: str = "substrate_temperature",
        setpoint: float = 42.0,
        since_ms: int = NOW_MS - 20 * MS_PER_MINUTE,
    ) -> None:
        """An alarm that is not normal."""
        fields = {
            "status": float(ALARM_STATUS[status]),
            "value": value,
            "setpoint": setpoint,
            "since_ms": float(since_ms),
        }
        side = Side.HIGH.value
        self.write(ALARM, site, at_ms, fields, place=place, quantity=quantity, side=side, priority=priority)

    def hourly(self, site: str, at_ms: int = NOW_MS, *, dry_h: float = 60.0, eggs_g: float = 40.0) -> None:
        """A bin, a cohort, what is to come."""
        self.write(
            BIN,
            site,
            at_ms,
            {
                "state": 8.0,
                "moisture": 0.62,
                "dry_likely_h": dry_h,
                "litres": 1.5,
                "harvest_low_ms": float(at_ms + 3 * MS_PER_DAY),
                "harvest_ms": float(at_ms + 4 * MS_PER_DAY),
                "harvest_high_ms": float(at_ms + 6 * MS_PER_DAY),
                "harvest_low_kg": 8.0,
                "harvest_kg": 11.0,
                "harvest_high_kg": 14.0,
            },
            place="grow-out-1",
        )
        middle_ms = float(at_ms + 2 * MS_PER_DAY)
        self.write(
            FORECAST,
            site,
            at_ms,
            {
                "stage": 1.0,
                "event": 2.0,
                "low_ms": middle_ms - MS_PER_DAY,
                "middle_ms": middle_ms,
                "high_ms": middle_ms + MS_PER_DAY,
                "late": 0.0,
            },
            cohort="C7",
        )
        self.write(
            YIELD_AHEAD,
            site,
            at_ms,
            {
                "from_ms": float(at_ms),
                "to_ms": float(at_ms + 7 * MS_PER_DAY),
                "eggs_low_g": 0.75 * eggs_g,
                "eggs_middle_g": eggs_g,
                "eggs_high_g": 1.3 * eggs_g,
                "larvae_low_kg": 9.0,
                "larvae_middle_kg": 12.0,
                "larvae_high_kg": 15.0,
            },
            week="0",
        )

    def places(self, site: str, at_ms: int = NOW_MS) -> None:
        """Two places and a board."""
        for place, kind, state, celsius in (("grow-out-1", 3.0, 6.0, 31.5), ("grow-out-2", 3.0, 0.0, 47.1)):
            self.write(PLACE, site, at_ms, {"kind": kind, "stage": 1.0, "state": state}, place=place)
            self.write(
                PLACE_VALUE,
                site,
                at_ms,
                {"lowest": celsius - 0.5, "highest": celsius, "high_limit": 42.0, "at_ms": float(at_ms)},
                place=place,
                quantity="substrate_temperature",
            )
        fields = {"battery_v": 3.7, "silent": 0.0, "to_mend": 1.0, "last_heard_ms": float(at_ms)}
        self.write(BOARD, site, at_ms, fields, node="node-3")

    def a_few(self) -> None:
        """Five sites: one burns, one is silent, one has an alarm seen, one a bin soon dry, one is fine."""
        self.beat("fine-yard", open_alarms=0.0)
        self.hourly("fine-yard")
        self.beat("hot-yard", unacknowledged_alarms=1.0, open_alarms=1.0)
        self.alarm("hot-yard", "grow-out-2", 47.1)
        self.places("hot-yard")
        self.hourly("hot-yard")
        self.beat("seen-yard", open_alarms=1.0)
        self.alarm(
            "seen-yard", "room-1", 36.0, status=AlarmStatus.ACKNOWLEDGED, priority="medium", setpoint=35.0
        )
        self.beat("dry-yard", boards_to_mend=2.0)
        self.hourly("dry-yard", dry_h=5.0)
        silent_ms = NOW_MS - 3 * MS_PER_HOUR
        self.beat("quiet-yard", silent_ms, unacknowledged_alarms=1.0, open_alarms=1.0)
        self.alarm("quiet-yard", "grow-out-1", 43.0, silent_ms, priority="medium", since_ms=silent_ms)
        self.hourly("quiet-yard", silent_ms - MS_PER_MINUTE)


def write_settings(folder: Path, url: str, more: str = "") -> Path:
    """A file sites.toml that reads the archive at an address."""
    path = folder / "sites.toml"
    path.write_text(f'[archive]\nurl = "{url}"\nbucket = "farms"\n{more}', encoding="utf-8")
    path.chmod(0o600)
    return path
