"""The yield over a year of five entries a day, on the page: as it stands, and after an entry."""

from __future__ import annotations

import statistics
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from cohort_farm import NOW_MS
from pytest_benchmark.fixture import BenchmarkFixture
from yield_page import YieldPage, yield_page
from yield_year import year_farm

from monitor.records import LogbookEntry, SubjectKind
from monitor.store import Store

GOAL_MS = 100.0


@pytest.fixture(scope="module")
def year(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[YieldPage, Path]]:
    """The page of a farm with a year behind it, made ready as the service does when it starts."""
    farm = year_farm(Path(tmp_path_factory.mktemp("year")))
    with yield_page(farm) as page:
        page.text("/yields")
        yield page, farm.database


@pytest.mark.benchmark(group="page")
@pytest.mark.parametrize("entered", [False, True])
def test_the_yield_of_a_year(
    benchmark: BenchmarkFixture, figure: Any, year: tuple[YieldPage, Path], entered: bool
) -> None:
    page, database = year
    times: list[float] = []

    def enter() -> None:
        time.sleep(1.0)
        if entered:
            at_ms, body = NOW_MS - 1000 + len(times), {"grams": 4.0, "use": "sold"}
            with Store.open(database, create=False, check=False) as store:
                store.logbook.add(
                    LogbookEntry(SubjectKind.PLACE, "cage-1", "collect", at_ms, at_ms, "keeper", body)
                )

    def look() -> None:
        began = time.perf_counter()
        page.text("/yields")
        times.append(1000.0 * (time.perf_counter() - began))

    benchmark.pedantic(look, setup=enter, rounds=20, warmup_rounds=1)
    slowest = statistics.quantiles(times[1:], n=20, method="inclusive")[18]
    what = "first look after an entry" if entered else "as it stands"
    figure(f"/yields of a year, {what}, 95 %", slowest, "ms", at_most=GOAL_MS)
