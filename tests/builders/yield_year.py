"""A year of a small farm's logbook, five entries a day: eggs of two cages, feed, dead flies, notes, bins.

Nothing is drawn by chance: what is added up can be said beforehand.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from cohort_farm import NOW_MS, CohortFarm, make_farm

from monitor.records import MS_PER_DAY, MS_PER_HOUR, LogbookEntry, SubjectKind
from monitor.store import Store

YEAR_DAYS = 365
ROUND_DAYS = 14
"""A bin is filled, fed, harvested and emptied in this many days."""
Said = tuple[SubjectKind, str, str, dict[str, object]]


def year_farm(folder: Path, days: int = YEAR_DAYS) -> CohortFarm:
    """A farm whose logbook goes back so many days until yesterday."""
    farm = make_farm(folder)
    with Store.open(farm.database, check=False) as store, store.logbook.adding():
        for entry in year_of_entries(days):
            store.logbook.add(entry)
    return farm


def year_of_entries(days: int = YEAR_DAYS, first: int = 0) -> Iterator[LogbookEntry]:
    """The entries, the oldest first."""
    for number in range(first, days):
        at_ms = NOW_MS - (days - number) * MS_PER_DAY
        for hour, (kind, subject, what, body) in enumerate(_of_day(number, days)):
            when_ms = at_ms + hour * MS_PER_HOUR // 4
            yield LogbookEntry(kind, subject, what, when_ms, when_ms, "keeper", body)


def _of_day(number: int, days: int) -> Iterator[Said]:
    round_, day = divmod(number, ROUND_DAYS)
    place, bin_, cohort = SubjectKind.PLACE, SubjectKind.BIN, SubjectKind.COHORT
    if day == 0:
        body = {"kg": 5.0, "moisture": 0.7, "surface_m2": 0.24, "larvae": 6000.0, "cohort": f"lot-{round_}"}
        yield bin_, "bin-1", "fill", {**body, "begins": True, "age_days": 5.0}
        young = {
            "stage": "pupa",
            "place": "box-1",
            "animals": 12_000.0,
            "purpose": "breeding",
            "cage": "cage-1",
        }
        yield cohort, f"flies-{round_}", "start", young
    yield place, "cage-1", "collect", {"grams": 4.0 + number % 3, "use": "sold", "strips": 2}
    yield place, "cage-2", "collect", {"grams": 3.0}
    if day < ROUND_DAYS - 1:
        yield bin_, "bin-1", "feed", {"kg": 0.5, "moisture": 0.7}
    else:
        over = {"ended": [f"lot-{round_}"], "how": "harvested"}
        yield bin_, "bin-1", "take", {"kg": 2.0, "what": "larvae", "use": "feed"}
        yield bin_, "bin-1", "empty", {"residue_kg": 3.0, "residue_moisture": 0.6, **over}
    yield place, "cage-1", "dead", {"animals": 50.0}
    yield place, "bin-1", "note", {"note": f"day {number} of {days}"}
    if day == 7:
        yield cohort, f"flies-{round_}", "flies", {"flies": 11_000.0}
