"""A year of a farm's entries added up: the sums behind the page, worked out anew after each entry."""

from __future__ import annotations

import time
from typing import Any
from zoneinfo import ZoneInfo

from monitor.yields.assumptions import Assumptions
from monitor.yields.money import Prices
from monitor.yields.records import (
    EggsCollected,
    EggUse,
    FeedGiven,
    FliesPutIn,
    HatchSeen,
    LarvaeIn,
    LarvaeOut,
    LarvaeUse,
    Residue,
    Takings,
)
from monitor.yields.sums import Wanted, farm_sums

DAY, BEGAN_MS = 86_400_000, 1_700_000_000_000
GOAL_MS = 50.0
"""Half of the 100 ms in which a year has to open."""


def _year() -> Takings:
    """Five entries a day: eggs, feed, flies, and by turns hatch, larvae in or out, and residue."""
    days = [(day, BEGAN_MS + day * DAY, BEGAN_MS + day // 12 * 12 * DAY) for day in range(365)]
    return Takings(
        eggs=tuple(
            EggsCollected(
                at_ms=at,
                place=f"cage-{day % 3}",
                cohort=f"c-{day // 12}",
                grams=5.0,
                use=EggUse.HATCH if day % 2 else EggUse.SOLD,
                into=f"c-{day // 12 + 3}" if day % 2 else None,
            )
            for day, at, _ in days
        ),
        hatches=tuple(
            HatchSeen(at_ms=at, place="tray", cohort=f"c-{day // 12 + 2}", share=0.7)
            for day, at, _ in days
            if day % 3 == 0
        ),
        feed=tuple(
            FeedGiven(at_ms=at + 1, place=f"bin-{day % 4}", filling_ms=filled, kg=4.0, moisture=0.7)
            for day, at, filled in days
        ),
        larvae_in=tuple(
            LarvaeIn(
                at_ms=at + 2,
                place=f"bin-{day % 4}",
                filling_ms=filled,
                count=9_000.0,
                cohort=f"c-{day // 12}",
            )
            for day, at, filled in days
        ),
        larvae_out=tuple(
            LarvaeOut(
                at_ms=at + 3,
                place=f"bin-{day % 4}",
                filling_ms=filled,
                kg=1.5,
                mean_mg=180.0,
                use=LarvaeUse.FEED if day % 2 else LarvaeUse.BREEDING,
                cohort=f"c-{day // 12}",
            )
            for day, at, filled in days
        ),
        residues=tuple(
            Residue(at_ms=at + 4, place=f"bin-{day % 4}", filling_ms=filled, kg=0.5, moisture=0.5)
            for day, at, filled in days
            if day % 3 == 1
        ),
        flies=tuple(
            FliesPutIn(at_ms=at + 5, place=f"cage-{day % 3}", count=300.0, cohort=f"c-{day // 12}")
            for day, at, _ in days
            if day % 3 == 2
        ),
    )


def _milliseconds(takings: Takings) -> float:
    """CPU time of all sums, the best of five."""
    wanted = Wanted(
        Assumptions(38_000.0, 0.5, 0.07, 9.6),
        needed_a_week=700.0,
        prices=Prices("KES", 40.0, 60.0, {"": 10.0}),
    )
    times = []
    for _ in range(5):
        began = time.process_time()
        farm_sums(takings, ZoneInfo("Africa/Nairobi"), BEGAN_MS + 366 * DAY, wanted)
        times.append((time.process_time() - began) * 1e3)
    return min(times)


def test_a_year_of_five_entries_a_day_adds_up(benchmark: Any, figure: Any) -> None:
    takings = _year()
    assert sum(1 for _ in takings.all()) == 5 * 365
    spent_ms = benchmark.pedantic(lambda: _milliseconds(takings), rounds=1)
    figure("sums of a year of 5 entries a day, CPU", spent_ms, "ms", at_most=GOAL_MS)
