"""The list of cohorts waits for nobody: what was entered is shown at once, its forecasts follow."""

from __future__ import annotations

import re
import threading
from collections.abc import Iterator
from contextlib import contextmanager

import httpx
import pytest
from grown_farm import GrownFarm, Size, grown_farm
from year_page import PASSWORD, about

from monitor.farm.book import book_of
from monitor.farm.cohorts import ForecastView, as_entered, forecast_view
from monitor.farm.forecast_cache import ForecastCache
from monitor.page.context import PageContext
from monitor.page.security import hash_password
from monitor.page.server import PageServer
from monitor.records import LogbookEntry, SubjectKind
from monitor.store import Store

HASH = hash_password(PASSWORD)
NONE_YET, WORKING_IN = "The forecasts are being worked out", "What was written down last is being worked in"


@pytest.fixture(scope="module")
def farm(tmp_path_factory: pytest.TempPathFactory) -> GrownFarm:
    return grown_farm(tmp_path_factory.mktemp("soon"), Size(10, 8, days=1))


@contextmanager
def held_up(monkeypatch: pytest.MonkeyPatch) -> Iterator[threading.Event]:
    """Forecasts that are not ready before the event is set."""
    goes_on, work = threading.Event(), ForecastCache._cohorts_ahead

    def late(*given: object) -> object:
        goes_on.wait(30.0)
        return work(*given)  # type: ignore[arg-type]

    with monkeypatch.context() as patched:
        patched.setattr(ForecastCache, "_cohorts_ahead", late)
        yield goes_on
        goes_on.set()


@contextmanager
def served(context: PageContext) -> Iterator[httpx.Client]:
    server = PageServer(context, port=0)
    server.start()
    try:
        with httpx.Client(base_url=server.address, trust_env=False, timeout=60.0) as client:
            token = re.search('name="form_token" value="([^"]+)"', client.get("/login").text)
            assert token is not None
            client.post("/login", data={"form_token": token[1], "password": PASSWORD})
            yield client
    finally:
        server.stop()


def context_of(farm: GrownFarm, patience_s: float | None) -> PageContext:
    path = farm.plan.settings.store.path
    return PageContext(path, lambda: farm.plan, lambda: farm.now_ms, HASH, patience_s=patience_s)


def enter(farm: GrownFarm, entry: LogbookEntry) -> None:
    with Store.open(farm.plan.settings.store.path, create=False, check=False) as store:
        store.logbook.add(entry)


def test_the_first_look_shows_the_logbook_and_follows_by_itself(
    farm: GrownFarm, monkeypatch: pytest.MonkeyPatch
) -> None:
    with held_up(monkeypatch) as goes_on:
        context = context_of(farm, 0.0)
        told = threading.Event()
        context.forecasts.tell_when_caught_up(told.set)
        with served(context) as client:
            first = client.get("/cohorts").text
            assert NONE_YET in first
            assert all(f"/cohorts/c-{number}" in first for number in range(8)), "all are there"
            goes_on.set()
            assert told.wait(30.0), "open pages are told"
            after = client.get("/cohorts").text
    assert NONE_YET not in after
    assert WORKING_IN not in after

    with served(context_of(farm, None)) as client:
        waited = client.get("/cohorts").text
    assert without_marks(after) == without_marks(waited), "the same as for those who wait"


def row_of(name: str) -> str:
    return f'<li><p><a href="/cohorts/{name}">'


def without_marks(page: str) -> str:
    return re.sub(r'(name="(mark|form_token)"|value)="[^"]{12,}"', "", re.sub(r'value="[^"]{12,}"', "", page))


def test_what_was_seen_is_not_asked_for_again_while_it_is_worked_in(
    farm: GrownFarm, monkeypatch: pytest.MonkeyPatch
) -> None:
    context = context_of(farm, 0.0)
    context.forecasts.make_ready(farm.plan, farm.now_ms, context.reading)
    context.patience_s = 30.0
    with served(context) as client:
        before = client.get("/cohorts").text
        asked = re.search(r'href="/cohorts/(c-\d)/write\?what=saw&amp;event=(\w+)"', before)
        assert asked is not None, "something is due"
        name, event = asked[1], asked[2]

        context.patience_s = 0.0
        with held_up(monkeypatch):
            enter(farm, about(SubjectKind.COHORT, name, "saw", farm.now_ms, event=event))
            during = client.get("/cohorts").text
            assert WORKING_IN in during
            assert f"/cohorts/{name}/write?what=saw&amp;event={event}" not in during
            assert row_of(name) in during, "it lives on"

            enter(farm, about(SubjectKind.COHORT, name, "end", farm.now_ms, how="lost"))
            ended = client.get("/cohorts").text
            assert row_of(name) not in ended, "it ended"
        context.patience_s = 30.0
        newest = client.get("/cohorts").text
        assert WORKING_IN not in newest
        assert row_of(name) not in newest


def test_without_new_entries_what_was_entered_is_what_was_forecast(farm: GrownFarm) -> None:
    """Laid over the same logbook nothing of it changes."""
    with Store.read_only(farm.plan.settings.store.path) as store:
        view = forecast_view(store, farm.plan, farm.now_ms, 50)
        book = book_of(store, farm.plan, farm.now_ms)
    laid_over = as_entered(view, book, farm.plan, farm.now_ms)
    assert names_and_events(laid_over) == names_and_events(view)
    assert (laid_over.today, laid_over.week, laid_over.overdue) == (view.today, view.week, view.overdue)
    assert (laid_over.ask, laid_over.midnight_ms) == (view.ask, view.midnight_ms)


def names_and_events(view: ForecastView) -> set[tuple[str, str, object, object]]:
    return {(each.cohort.name, each.place_title, each.expected, each.seen) for each in view.cohorts}
