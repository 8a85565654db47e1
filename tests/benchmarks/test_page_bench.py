"""Each part of the page over a year of minute readings from 40 sensors: milliseconds and bytes."""

from __future__ import annotations

import statistics
from collections.abc import Iterator
from typing import Any

import httpx
import pytest
from pytest_benchmark.fixture import BenchmarkFixture
from year_page import MOST_BYTES, MOST_MS, NOW, NOW_MS, PASSWORD, Loaded, fill_history, fill_year, load

from monitor.demo.runner import DemoPlan, demo_environment, demo_settings
from monitor.page.context import PageContext
from monitor.page.security import hash_password
from monitor.page.server import PageServer
from monitor.settings.loading import load as load_settings
from monitor.settings.plan import build_plan
from monitor.store import Store

PARTS = (
    "/",
    "/places/bin-3",
    "/places/bin-3?span=7d",
    "/places/bin-3?span=30d",
    "/places/bin-3?span=year",
    "/night",
    "/alarms",
    "/alarms/health",
    "/nodes",
    "/me",
)


@pytest.fixture(scope="module")
def year(tmp_path_factory: pytest.TempPathFactory) -> Iterator[httpx.Client]:
    """A browser that is logged in at the page over the year."""
    folder = tmp_path_factory.mktemp("year")
    settings_path = folder / "farm.toml"
    settings_path.write_text(demo_settings(DemoPlan(folder, start=NOW), 1883), encoding="utf-8")
    plan = build_plan(load_settings(settings_path, demo_environment(folder)))
    with Store.open(plan.settings.store.path) as store:
        fill_year(store, plan)
        fill_history(store, plan)
        context = PageContext(store.path, lambda: plan, lambda: NOW_MS, hash_password(PASSWORD))
        server = PageServer(context, port=0)
        server.start()
        with httpx.Client(base_url=server.address, trust_env=False) as client:
            page = client.get("/login").text
            token = page.partition('name="form_token" value="')[2].partition('"')[0]
            client.post("/login", data={"form_token": token, "password": PASSWORD})
            yield client
        server.stop()


@pytest.mark.benchmark(group="page")
@pytest.mark.parametrize("path", PARTS)
def test_a_part_over_a_year(benchmark: BenchmarkFixture, figure: Any, year: httpx.Client, path: str) -> None:
    assets = sum(
        len(year.get(f"/static/{name}").content) for name in ("page.css", "page.js", "offline.js", "icon.svg")
    )
    times: list[float] = []

    def ask() -> Loaded:
        found = load(year, path, 1)
        times.extend(found.milliseconds)
        return found

    found = benchmark.pedantic(ask, rounds=60, warmup_rounds=1)
    slowest = statistics.quantiles(times[1:], n=100, method="inclusive")[98]
    figure(f"{path}, 99 % of answers", slowest, "ms", at_most=MOST_MS)
    figure(f"{path}, first load", found.page_bytes + assets, "bytes", at_most=MOST_BYTES)
    assert found.page_bytes + assets < MOST_BYTES
