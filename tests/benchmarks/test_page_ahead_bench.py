"""Cohorts, bins and logbook over a year of minute readings from 40 sensors: milliseconds and bytes."""

from __future__ import annotations

import statistics
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import httpx
import pytest
from pytest_benchmark.fixture import BenchmarkFixture
from year_page import (
    BINS,
    COHORTS,
    MOST_BYTES,
    MOST_MS,
    NOW,
    NOW_MS,
    PASSWORD,
    about,
    animals,
    fill_history,
    fill_year,
    load,
)

from monitor.demo.runner import DemoPlan, demo_environment, demo_settings
from monitor.farm.bins import bins_view
from monitor.farm.forecast_cache import CohortsAhead
from monitor.page.context import PageContext
from monitor.page.security import hash_password
from monitor.page.server import PageServer
from monitor.records import SubjectKind
from monitor.settings.loading import load as load_settings
from monitor.settings.plan import Plan, build_plan
from monitor.store import Store

PARTS = (
    "/cohorts",
    "/cohorts/c-23",
    "/cohorts/c-23/write?what=saw",
    "/bins",
    "/bins/bin-3",
    "/bins/bin-3/write?what=water",
    "/logbook?days=400",
    "/logbook/1/correct",
)
LIVING = 6


@pytest.fixture(scope="module")
def plan(tmp_path_factory: pytest.TempPathFactory) -> Plan:
    """The demo farm with a year behind it."""
    folder = Path(tmp_path_factory.mktemp("ahead"))
    path = folder / "farm.toml"
    path.write_text(demo_settings(DemoPlan(folder, start=NOW), 1883), encoding="utf-8")
    plan = build_plan(load_settings(path, demo_environment(folder)))
    with Store.open(plan.settings.store.path) as store:
        fill_year(store, plan)
        fill_history(store, plan)
        store.logbook.add_all(animals(LIVING))
    return plan


@pytest.fixture(scope="module")
def client(plan: Plan) -> Iterator[httpx.Client]:
    """A browser that is logged in."""
    path = plan.settings.store.path
    server = PageServer(PageContext(path, lambda: plan, lambda: NOW_MS, hash_password(PASSWORD)), port=0)
    server.start()
    with httpx.Client(base_url=server.address, trust_env=False) as client:
        token = client.get("/login").text.partition('name="form_token" value="')[2].partition('"')[0]
        client.post("/login", data={"form_token": token, "password": PASSWORD})
        yield client
    server.stop()


@pytest.mark.benchmark(group="page")
@pytest.mark.parametrize("path", PARTS)
def test_a_part_over_a_year(
    benchmark: BenchmarkFixture, figure: Any, client: httpx.Client, path: str
) -> None:
    assets = sum(len(client.get(f"/static/{name}").content) for name in ("page.css", "page.js", "icon.svg"))
    times: list[float] = []
    size = 0

    def ask() -> None:
        nonlocal size
        found = load(client, path, 1)
        times.extend(found.milliseconds)
        size = found.page_bytes + assets

    benchmark.pedantic(ask, rounds=100, warmup_rounds=1)
    slowest = statistics.quantiles(times[1:], n=100)[98]
    figure(f"{path}, 99 % of answers", slowest, "ms", at_most=MOST_MS)
    figure(f"{path}, first load", size, "bytes", at_most=MOST_BYTES)
    assert size < MOST_BYTES


@pytest.mark.benchmark(group="page after an entry")
@pytest.mark.parametrize(
    ("path", "whom"),
    [
        ("/", "bin"),
        ("/bins", "bin"),
        ("/bins/bin-1", "bin"),
        ("/bins/bin-1/write?what=water", "bin"),
        ("/bins", "cohort"),
        ("/cohorts", "cohort"),
        ("/cohorts/c-23", "cohort"),
        ("/cohorts/c-23/write?what=count", "cohort"),
    ],
)
def test_the_first_look_after_an_entry(
    benchmark: BenchmarkFixture, figure: Any, client: httpx.Client, plan: Plan, path: str, whom: str
) -> None:
    """By another program, as from the command line: what was kept before knows nothing of it."""
    times: list[float] = []
    load(client, path, 2)

    def enter() -> None:
        number = len(times)
        entry = about(SubjectKind.BIN, f"bin-{1 + number % BINS}", "water", NOW_MS, kg=0.1)
        if whom == "cohort":
            count = {"animals": 1900.0 - number, "stage": "larva"}
            entry = about(SubjectKind.COHORT, f"c-{COHORTS - 1 - number % LIVING}", "count", NOW_MS, **count)
            if number % 4 == 0:
                seen = {"event": "half_prepupae"}
                entry = about(SubjectKind.COHORT, f"c-{COHORTS - 2}", "saw", NOW_MS, **seen)
        with Store.open(plan.settings.store.path, create=False, check=False) as store:
            store.logbook.add(entry)

    benchmark.pedantic(
        lambda: times.extend(load(client, path, 1).milliseconds), setup=enter, rounds=30, warmup_rounds=1
    )
    slowest = statistics.quantiles(times[1:], n=100, method="inclusive")[98]
    figure(f"{path}, first look after an entry about a {whom}, 99 %", slowest, "ms", at_most=MOST_MS)


@pytest.mark.benchmark(group="page made anew")
def test_what_is_kept_is_made_anew(benchmark: BenchmarkFixture, figure: Any, plan: Plan) -> None:
    """All of it from nothing, as after a start or when nobody has looked for long."""
    with Store.read_only(plan.settings.store.path) as store:
        started = time.perf_counter()
        view = bins_view(store, plan, NOW_MS)
        bins_ms = 1000 * (time.perf_counter() - started)
        ahead = benchmark.pedantic(lambda: CohortsAhead(store, plan, NOW_MS), rounds=5)
        assert (len(ahead.forecast.cohorts), len(view.bins)) == (LIVING, BINS)
    figure("all bins from nothing", bins_ms, "ms")
    figure("all cohorts from nothing", 1000 * figure.median_s(), "ms")
