"""For wet thumbs and poor eyes, in a real browser at 360 px: how large targets are, and that nothing is cut.

A target is tried as a thumb would: 20 px above, below, left and right of its middle it is still the one hit.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from browser import PHONE, Tab
from logbook_farm import keep_logbook
from page_farm import PageFarm

from monitor.page.server import PageServer
from monitor.records import MS_PER_MINUTE

if TYPE_CHECKING:
    from playwright.sync_api import Browser

pytest.importorskip("playwright.sync_api")
pytestmark = [pytest.mark.browser, pytest.mark.slow]
PATHS = (
    "/",
    "/today",
    "/places/bin-3",
    "/night",
    "/night?date=2026-09-23",
    "/bins",
    "/bins/bin-1",
    "/bins/bin-1/write?what=water",
    "/bins/bin-4/write?what=fill",
    "/cohorts",
    "/cohorts/pupae-1",
    "/cohorts/start",
    "/cohorts/pupae-1/write?what=saw",
    "/yields?grams=50",
    "/places/cage-1/write?what=collect",
    "/alarms",
    "/alarms/health",
    "/logbook",
    "/logbook/3/correct",
    "/nodes",
    "/boards/node-03",
    "/me",
    "/me/messages",
    "/nothing-here",
)
MEASURES = (Path(__file__).parents[1] / "builders" / "page_measures.js").read_text(encoding="utf-8")
OPEN = "document.querySelectorAll('main details').forEach((each) => { each.open = true; })"


@pytest.fixture(scope="module")
def address(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """The page of a farm with a logbook on its bad morning."""
    farm = PageFarm(Path(tmp_path_factory.mktemp("touch")), step_ms=10 * MS_PER_MINUTE)
    farm.build()
    keep_logbook(farm)
    with farm.turning():
        server = PageServer(farm.context, port=0)
        server.start()
        yield server.address
        server.stop()
    farm.close()


@pytest.fixture
def tab(chromium: Browser, address: str) -> Iterator[Tab]:
    """A phone that is touched, logged in as the owner."""
    size: Any = PHONE
    context = chromium.new_context(viewport=size, has_touch=True, locale="en-GB")
    opened = Tab(context.new_page(), address)
    opened.log_in()
    yield opened
    context.close()


def speak(tab: Tab, language: str) -> None:
    """Choose a language as the page itself does."""
    tab.page.context.add_cookies([{"name": "rearing_view", "value": f"{language}-c", "url": tab.address}])


@pytest.mark.parametrize("language", ["en", "fr", "sw"])
def test_every_target_is_large_enough_for_a_thumb_and_hit_by_it(tab: Tab, language: str) -> None:
    speak(tab, language)
    found = []
    for path in PATHS:
        tab.page.goto(tab.address + path)
        tab.page.evaluate(OPEN)
        found += [f"{path}: {each}" for each in tab.page.evaluate(f"{MEASURES}.small()")]
    assert not found, "\n".join(found)


@pytest.mark.parametrize("language", ["en", "fr", "sw"])
def test_nothing_is_cut_with_letters_twice_as_large(tab: Tab, language: str) -> None:
    speak(tab, language)
    found = []
    for path in PATHS:
        tab.page.goto(tab.address + path)
        tab.page.evaluate("document.styleSheets[0].insertRule('html { font-size: 200% }')")
        tab.page.evaluate(OPEN)
        found += [f"{path}: {each}" for each in tab.page.evaluate(f"{MEASURES}.cut()")]
    assert not found, "\n".join(found)


def test_the_reading_under_a_finger_covers_no_text(tab: Tab) -> None:
    tab.page.goto(tab.address + "/places/bin-3")
    for plot, reading in zip(
        tab.page.locator(".plot").all(), tab.page.locator(".reading").all(), strict=True
    ):
        plot.scroll_into_view_if_needed()
        box = plot.bounding_box()
        assert box is not None
        tab.page.touchscreen.tap(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
        assert reading.is_visible()
        assert reading.evaluate(f"(reading) => {MEASURES}.covered(reading)") == []
        moved = plot.bounding_box()
        assert moved is not None
        assert abs(moved["height"] - box["height"]) < 1, "nothing jumps under the finger"
