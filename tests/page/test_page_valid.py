"""Every page is valid HTML in every language: html5lib finds no error in strict mode, no id stands twice."""

from __future__ import annotations

import re
from collections import Counter, deque
from collections.abc import Iterator, Mapping
from contextlib import ExitStack, closing
from html import unescape
from pathlib import Path

import html5lib
import httpx
import pytest
from every_page import BOARDS, HELPER, NOBODY, OWNER, EveryPage, Stop, every_page
from starlette.responses import Response
from starlette.routing import Route

from monitor.page import serving
from monitor.page.app import build_app
from monitor.page.serving import Renderer, RequestContext

MOST_PAGES = 80
TEMPLATES = Path(serving.__file__).parent / "templates"
PARTS_OF_PAGES = {"base.html", "shapes.html", "ahead.html"}
NOT_PAGES = {
    *("/live", "/session", "/manifest.webmanifest", "/sw.js", "/farm-ca.crt"),
    *("/photos/{number}/{size}.jpg", "/yields/days.csv"),
}


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> Iterator[EveryPage]:
    """A farm with all that a page can speak of."""
    with every_page(Path(tmp_path_factory.mktemp("whole"))) as served:
        yield served


def crawl(client: httpx.Client, first: str = "/") -> dict[str, str]:
    """Pages that can be reached by links, by path."""
    found: dict[str, str] = {}
    waiting = deque([first])
    while waiting and len(found) < MOST_PAGES:
        path = waiting.popleft()
        if path in found:
            continue
        answer = client.get(path)
        if answer.headers.get("content-type", "").startswith("text/html"):
            found[path] = answer.text
            waiting += [unescape(link) for link in re.findall(r'href="(/[^"#]*)', answer.text)]
    return found


def looked_at(client: httpx.Client, stop: Stop) -> str:
    """The page, or the answer to its form as it was filled in."""
    page = client.get(stop.path).text
    if not stop.form:
        return page
    parsed = html5lib.parse(page, namespaceHTMLElements=False)
    form = next(each for each in parsed.iter("form") if each.get("action") == stop.form)
    held = {
        each.get("name"): each.get("value", "")
        for each in form.iter("input")
        if each.get("name") and each.get("type") not in ("checkbox", "radio")
    }
    chosen = {
        each.get("name"): option.get("value", "")
        for each in form.iter("select")
        for option in each.iter("option")
        if option.get("selected") is not None
    }
    return client.post(stop.form, data={**held, **chosen, **stop.values}).text


def problems(text: str) -> list[str]:
    """What is wrong with one page."""
    parser = html5lib.HTMLParser(strict=False)
    parser.parse(text)
    wrong = [f"{code} at {place}" for place, code, _ in parser.errors]
    ids = Counter(re.findall(r'\sid="([^"]+)"', text))
    return wrong + [f"id {name} stands {count} times" for name, count in ids.items() if count > 1]


@pytest.fixture
def laid_out(monkeypatch: pytest.MonkeyPatch) -> set[str]:
    """Names of the templates that were used."""
    used: set[str] = set()
    real = Renderer.page

    def page(
        self: Renderer, request: RequestContext, template: str, status: int, values: Mapping[str, object]
    ) -> Response:
        used.add(template)
        return real(self, request, template, status, values)

    monkeypatch.setattr(Renderer, "page", page)
    return used


@pytest.mark.parametrize("language", ["en", "fr", "sw"])
def test_every_page_is_valid_in_every_language(whole: EveryPage, laid_out: set[str], language: str) -> None:
    with ExitStack() as stack:
        clients = {
            who: stack.enter_context(closing(whole.client(who, language)))
            for who in (OWNER, HELPER, NOBODY, BOARDS)
        }
        pages = {str(stop): looked_at(clients[stop.who], stop) for stop in whole.stops()}
    assert len(pages) > 80
    assert {path.name for path in TEMPLATES.glob("*.html")} - laid_out == PARTS_OF_PAGES
    assert [stop for stop, text in pages.items() if f'<html lang="{language}">' not in text] == []
    assert {stop: problems(text) for stop, text in pages.items() if problems(text)} == {}


def test_no_page_is_left_out(whole: EveryPage) -> None:
    """Each address that shows something is among those that are looked at."""
    app = build_app(whole.farm.context)
    routes = [route for route in app.routes if isinstance(route, Route) and "GET" in (route.methods or ())]
    shown = [
        route
        for route in routes
        if route.path not in NOT_PAGES and not route.path.startswith("/static/") and route.path
    ]
    assert len(shown) > 20
    paths = {stop.path.partition("?")[0] for stop in whole.stops()}
    left_out = [route.path for route in shown if not any(route.path_regex.match(path) for path in paths)]
    assert left_out == []


def test_every_page_that_links_lead_to_is_valid(owner: httpx.Client) -> None:
    pages = crawl(owner)
    assert len(pages) > 15
    assert {path: problems(text) for path, text in pages.items() if problems(text)} == {}


def test_the_check_itself_finds_faults() -> None:
    assert problems("<!doctype html><title>x</title><p id=a><p id='b'><div></p>")
