"""A few weeks of the invented keeper's logbook for the farm of these tests."""

from __future__ import annotations

from page_farm import NOW_MS, PageFarm

from monitor.records import MS_PER_DAY, MS_PER_HOUR, LogbookEntry, SubjectKind
from monitor.store import Store

NASTY_NOTE = "<script>alert('note')</script>"
FILLED_MS = NOW_MS - 30 * MS_PER_HOUR


def about_cohort(name: str, kind: str, days_ago: float, **body: object) -> LogbookEntry:
    at_ms = NOW_MS - round(days_ago * MS_PER_DAY)
    return LogbookEntry(SubjectKind.COHORT, name, kind, at_ms, at_ms, "keeper", body)


def about_bin(place: str, kind: str, at_ms: int, **body: object) -> LogbookEntry:
    return LogbookEntry(SubjectKind.BIN, place, kind, at_ms, at_ms, "keeper", body)


ENTRIES = (
    about_cohort("old-1", "start", 40.0, stage="egg", place="tray-1", grams=4.0),
    about_cohort("old-1", "end", 12.0, how="harvested", grams=5200),
    about_cohort(
        "feed-1", "start", 1.4, stage="larva", place="bin-1", animals=2000, purpose="feed", through_percent=60
    ),
    about_cohort(
        "pupae-1",
        "start",
        1.4,
        stage="pupa",
        place="box-1",
        animals=1400,
        purpose="breeding",
        cage="cage-1",
        through_percent=12,
    ),
    about_cohort("eggs-1", "start", 1.0, stage="egg", place="tray-1", grams=2.0, note=NASTY_NOTE),
    about_bin(
        "bin-1",
        "fill",
        FILLED_MS,
        kg=6.0,
        moisture=0.5,
        surface_m2=0.24,
        depth_m=0.08,
        larvae=800,
        age_days=9,
    ),
    about_bin("bin-2", "fill", FILLED_MS, kg=10.0, moisture=0.7, surface_m2=0.24, note=NASTY_NOTE),
    about_bin("bin-2", "stir", FILLED_MS + MS_PER_HOUR),
)


def keep_logbook(farm: PageFarm) -> None:
    """Write the entries into the farm's store."""
    with Store.open(farm.context.store_path, create=False, check=False) as store:
        store.logbook.add_all(ENTRIES)
