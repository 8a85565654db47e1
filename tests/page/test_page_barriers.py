"""Barriers, sideways scrolling and jumps: each page in a real browser, in every language and both schemes.

With REARING_AXE naming the file axe.min.js of axe-core (npm package axe-core) it looks for barriers.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from browser import PHONE, WIDE, Tab
from every_page import BOARDS, HELPER, MAIN, NOBODY, OWNER, EveryPage, Stop, every_page

from monitor.words.catalogue import LANGUAGES

if TYPE_CHECKING:
    from playwright.sync_api import Browser, BrowserContext, Page

pytest.importorskip("playwright.sync_api")
pytestmark = [pytest.mark.browser, pytest.mark.slow]
OPEN = "document.querySelectorAll('details').forEach((each) => { each.open = true; })"
MEASURES = (Path(__file__).parents[1] / "builders" / "page_measures.js").read_text(encoding="utf-8")
WIDTH, LEAST_CHECKS = 360, 5
CONTRAST = ["color-contrast"]
MOST_SHIFT = 0.05
"""Half of what is called good (web.dev, "Cumulative Layout Shift": 0.1 for three quarters of visits)."""


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> Iterator[EveryPage]:
    """A farm with all that a page can speak of."""
    with every_page(Path(tmp_path_factory.mktemp("whole"))) as served:
        yield served


@pytest.fixture(scope="module")
def axe() -> str:
    """The checker of barriers."""
    source = os.environ.get("REARING_AXE", "")
    if not source:
        pytest.skip("REARING_AXE does not name axe.min.js (npm package axe-core)")
    return Path(source).read_text(encoding="utf-8")


def opened(
    browser: Browser, whole: EveryPage, who: str, language: str, size: Any, scheme: Any = "light"
) -> BrowserContext:
    """A browser of theirs in which they have logged in and chosen the language."""
    # A checker of barriers is a script from outside, which the page's own policy refuses.
    context = browser.new_context(viewport=size, color_scheme=scheme, locale="en-GB", bypass_csp=True)
    context.set_default_timeout(10_000)
    held = {**whole.cookies(who), "rearing_view": f"{language}-c"}
    address = whole.addresses[who]
    context.add_cookies([{"name": name, "value": value, "url": address} for name, value in held.items()])
    return context


def go(page: Page, whole: EveryPage, stop: Stop) -> None:
    """Open the page, or hand in its form and wait for the answer."""
    page.goto(whole.addresses[stop.who] + stop.path)
    if stop.form:
        with page.expect_navigation():
            page.evaluate(f"(each) => {MEASURES}.fill(each)", [stop.form, dict(stop.values)])


def barriers(page: Page, axe: str, rules: tuple[str, ...] | list[str] = ()) -> list[str]:
    """What axe finds with everything unfolded."""
    page.evaluate(OPEN)
    if not page.evaluate("typeof axe !== 'undefined'"):
        page.add_script_tag(content=axe)
    passes, found = page.evaluate(f"(rules) => {MEASURES}.barriers(rules)", list(rules))
    assert passes >= (1 if rules else LEAST_CHECKS), "axe looked at nothing"
    return list(found)


WAYS = [
    pytest.param("en", PHONE, "light", "dark", id="en-phone"),
    pytest.param("fr", WIDE, "dark", "", id="fr-wide"),
    pytest.param("sw", PHONE, "light", "", id="sw-phone"),
]


@pytest.mark.parametrize(("language", "size", "scheme", "other"), WAYS)
def test_no_page_has_a_barrier_or_sticks_out(
    chromium: Browser, whole: EveryPage, axe: str, language: str, size: Any, scheme: Any, other: Any
) -> None:
    """Everything in one scheme; colours, which know no language, in English in the other one too."""
    found = []
    with ExitStack() as stack:
        pages = {}
        for who in (OWNER, HELPER, NOBODY, BOARDS):
            context = stack.enter_context(opened(chromium, whole, who, language, size, scheme))
            pages[who] = context.new_page()
        for stop in whole.stops():
            page = pages[stop.who]
            page.set_viewport_size(size)
            page.emulate_media(color_scheme=scheme)
            go(page, whole, stop)
            assert page.evaluate("document.documentElement.lang") == language, str(stop)
            found += [f"{stop}: {each}" for each in barriers(page, axe)]
            if other:
                page.emulate_media(color_scheme=other)
                found += [f"{stop} {other}: {each}" for each in barriers(page, axe, CONTRAST)]
            page.set_viewport_size({"width": WIDTH, "height": 640})
            if wide := page.evaluate("document.documentElement.scrollWidth - innerWidth"):
                found.append(f"{stop}: {wide} px wider than the screen")
    assert not found, "\n".join(found)


@pytest.mark.parametrize("language", ["en", "fr", "sw"])
def test_the_list_of_what_waits_has_no_barrier(
    chromium: Browser, whole: EveryPage, axe: str, language: str
) -> None:
    """Three forms wait: one as it was written, one that is being changed, one that the farm asks about."""
    with opened(chromium, whole, OWNER, language, PHONE) as context:
        page = context.new_page()
        page.goto(whole.addresses[OWNER] + "/bins/bin-2/write?what=water")
        context.set_offline(True)
        found = []
        for litres in ("150", "0.7"):
            page.locator("form.entry [name=kg]").fill(litres)
            page.locator("form.entry button").first.click()
            page.locator(".kept").wait_for()
            for scheme in ("light", "dark"):
                page.emulate_media(color_scheme=scheme)
                found += barriers(page, axe)
            page.locator(".kept").evaluate("each => each.remove()")
        page.locator("html.stale").wait_for()
        found += barriers(page, axe)
        rows = page.locator("#waiting li")
        rows.nth(1).locator("button").first.click()
        rows.nth(1).locator("form").wait_for()
        found += barriers(page, axe)
        assert page.evaluate("document.documentElement.scrollWidth") <= PHONE["width"]
        rows.nth(1).locator("form button").first.click()
        # Else it would be handed in, and the farm of the other tests would change.
        page.once("dialog", lambda dialog: dialog.accept())
        rows.nth(1).locator("button").last.click()
        rows.nth(1).wait_for(state="detached")
        context.set_offline(False)
        rows.nth(0).locator(".fault").first.wait_for(timeout=20_000)
        for scheme in ("light", "dark"):
            page.emulate_media(color_scheme=scheme)  # type: ignore[arg-type]
            found += barriers(page, axe)
        assert page.evaluate("document.documentElement.scrollWidth") <= PHONE["width"]
    assert not found, "\n".join(found)


@pytest.mark.parametrize("size", [PHONE, WIDE], ids=["phone", "wide"])
def test_nothing_jumps_while_a_page_loads(chromium: Browser, whole: EveryPage, size: Any) -> None:
    """Each in a browser that has kept nothing, as at its first load."""
    shifts = {}
    for number, path in enumerate(
        ("/login", *MAIN, "/places/bin-3", "/today", "/bins/bin-1/write?what=water")
    ):
        language = list(LANGUAGES)[number % len(LANGUAGES)]
        with opened(chromium, whole, NOBODY if path == "/login" else OWNER, language, size) as context:
            page = context.new_page()
            page.goto(whole.addresses[OWNER] + path)
            shifts[path] = page.evaluate(f"{MEASURES}.shift()")
    assert {path: shift for path, shift in shifts.items() if shift > MOST_SHIFT} == {}


def test_the_checks_themselves_find_faults(chromium: Browser, whole: EveryPage, axe: str) -> None:
    with opened(chromium, whole, OWNER, "en", PHONE) as context:
        page = context.new_page()
        tab = Tab(page, whole.addresses[OWNER])
        page.goto(tab.address + "/bins")
        page.evaluate(f"{MEASURES}.spoil()")
        assert {each.partition(":")[0] for each in barriers(page, axe)} == {"image-alt", "color-contrast"}
        assert tab.overflow() > 0
        assert page.evaluate(f"{MEASURES}.shift()") > MOST_SHIFT
