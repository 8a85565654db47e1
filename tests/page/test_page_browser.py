"""The page in a real browser: phone and wide screen, light and dark, scripts on and off."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from browser import PHONE, WAYS, WIDE, Tab
from page_farm import PageFarm

from monitor.page.server import PageServer
from monitor.records import MS_PER_MINUTE

if TYPE_CHECKING:
    from playwright.sync_api import Browser

playwright_api = pytest.importorskip("playwright.sync_api")
PARTS = (
    "/",
    "/places/bin-3",
    "/places/bin-3?span=year",
    "/night",
    "/alarms",
    "/alarms/health",
    "/nodes",
    "/me",
    "/me/messages",
)
pytestmark = [pytest.mark.browser, pytest.mark.slow]


@pytest.fixture
def fresh_farm(tmp_path: Path) -> Iterator[PageFarm]:
    """The farm on its bad morning, with nothing done about it yet."""
    farm = PageFarm(tmp_path, step_ms=10 * MS_PER_MINUTE)
    farm.build()
    farm.context.feed.look_s = 0.05
    with farm.turning():
        yield farm
    farm.close()


@pytest.fixture
def fresh_server(fresh_farm: PageFarm) -> Iterator[PageServer]:
    """Its page."""
    server = PageServer(fresh_farm.context, port=0)
    server.start()
    yield server
    server.stop()


NewTab = Callable[..., Tab]


@pytest.fixture
def new_tab(chromium: Browser, fresh_server: PageServer) -> Iterator[NewTab]:
    """Opens a browser of the given size, scheme and scripts."""
    contexts = []

    def new(size: Any, scheme: Any = "light", scripts: bool = True, **more: Any) -> Tab:
        context = chromium.new_context(
            viewport=size, color_scheme=scheme, java_script_enabled=scripts, locale="en-GB", **more
        )
        contexts.append(context)
        return Tab(context.new_page(), fresh_server.address)

    yield new
    for context in contexts:
        context.close()


@pytest.mark.parametrize(("size", "scheme", "scripts"), WAYS)
def test_a_morning_on_the_farm(
    fresh_farm: PageFarm, new_tab: NewTab, size: dict[str, int], scheme: str, scripts: bool
) -> None:
    tab = new_tab(size, scheme, scripts)
    page = tab.page
    tab.log_in()
    first = page.locator("main section").first
    playwright_api.expect(first.get_by_role("heading")).to_contain_text("Act now")
    playwright_api.expect(first.get_by_role("heading")).to_contain_text("Grow-out bin 3")
    playwright_api.expect(first).to_contain_text("Spread or split the substrate")
    box = first.bounding_box()
    assert box is not None and box["y"] < 250, "the worst is on the first screen"
    first.get_by_role("button", name="I have seen it").first.click()
    playwright_api.expect(page.get_by_role("status")).to_have_text("Done.")
    playwright_api.expect(page.locator("main section").first).to_contain_text("seen by Ann, 06:40")

    tab.part("Night")
    playwright_api.expect(page.get_by_role("heading", level=1)).to_contain_text("alarms in the night")
    playwright_api.expect(page.get_by_role("img", name=re.compile("Substrate temperature"))).to_have_count(2)
    page.get_by_role("link", name="night before").click()
    playwright_api.expect(page.locator("main")).to_contain_text("Tue 22 Sep 18:00 to Wed 23 Sep 06:30")

    tab.part("Alarms")
    playwright_api.expect(page.locator("main")).to_contain_text("If nobody acts: Larvae crawl out")

    tab.part("Boards")
    page.get_by_label("It is in").select_option(label="Love cage 1")
    page.get_by_role("button", name="Put it there").click()
    playwright_api.expect(page.get_by_role("status")).to_contain_text("node-77 has its place")
    assert 'id = "node-77"' in fresh_farm.settings_path.read_text()
    assert tab.complaints == []
    assert [url for url in tab.requested if not url.startswith(tab.address)] == []


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_nothing_sticks_out_at_any_width_or_size_of_letters(new_tab: NewTab, scheme: str) -> None:
    tab = new_tab(PHONE, scheme)
    tab.log_in()
    for path in PARTS:
        tab.page.goto(tab.address + path)
        for width in (320, 360, 640, 1280):
            tab.page.set_viewport_size({"width": width, "height": 740})
            assert tab.overflow() == 0, f"{path} at {width}"
        tab.page.set_viewport_size({"width": 640, "height": 400})
        tab.page.evaluate("document.styleSheets[0].insertRule('html { font-size: 200% }')")
        assert tab.overflow() == 0, f"{path} with large letters"


def test_a_finger_on_a_curve_reads_the_nearest_value(new_tab: NewTab) -> None:
    tab = new_tab(PHONE, has_touch=True)
    tab.log_in()
    tab.page.goto(tab.address + "/places/bin-3")
    plot, reading = tab.page.locator(".plot").first, tab.page.locator(".reading").first
    playwright_api.expect(reading).to_be_hidden()
    plot.scroll_into_view_if_needed()
    box = plot.bounding_box()
    assert box is not None
    tab.page.touchscreen.tap(box["x"] + box["width"] - 2, box["y"] + 60)
    playwright_api.expect(reading).to_have_text(re.compile(r"Thu,? 24 Sept?,? 06:[34]0: 4[34]\.\d\s°C"))
    plot.focus()
    tab.page.keyboard.press("PageUp")
    playwright_api.expect(reading).to_have_text(re.compile(r"Wed,? 23 Sept?.*: 3\d\.\d\s°C"))
    assert tab.complaints == []


def test_the_figures_are_there_without_scripts(new_tab: NewTab) -> None:
    tab = new_tab(PHONE, scripts=False)
    tab.log_in()
    tab.page.goto(tab.address + "/places/bin-3")
    tab.page.get_by_text("The figures").first.click()
    playwright_api.expect(tab.page.get_by_role("table").first).to_contain_text("Thu 06:00")


def test_an_open_page_follows_what_happens(fresh_farm: PageFarm, new_tab: NewTab) -> None:
    tab = new_tab(PHONE)
    tab.log_in()
    heading = tab.page.get_by_role("heading", level=1)
    playwright_api.expect(heading).to_have_text("2 places need you")
    with tab.page.expect_response("**/live"):
        tab.page.reload()
    fresh_farm.cool_down("bin-3")
    playwright_api.expect(heading).to_have_text("1 place needs you")
    assert tab.complaints == []


def test_a_card_that_was_unfolded_follows_too_and_what_was_typed_is_not_lost(
    fresh_farm: PageFarm, new_tab: NewTab
) -> None:
    tab = new_tab(PHONE)
    tab.log_in()
    with tab.page.expect_response("**/live"):
        tab.page.reload()
    heading = tab.page.get_by_role("heading", level=1)
    tray = tab.page.locator("section.card").filter(has_text="Hatching tray 2")
    tray.locator("summary").first.click()
    fresh_farm.cool_down("bin-3")
    playwright_api.expect(heading).to_have_text("1 place needs you")
    playwright_api.expect(tray.get_by_role("button", name="I have seen it").first).to_be_visible()
    tab.part("Alarms")
    reason = tab.page.get_by_label("Why").first
    tab.page.locator("details.shelve summary").first.click()
    reason.fill("washing")
    reason.blur()
    fresh_farm.context.feed.note()
    tab.page.wait_for_timeout(1000)
    assert reason.input_value() == "washing"
    assert tab.complaints == []


def test_everything_is_within_reach_of_the_keyboard(new_tab: NewTab) -> None:
    tab = new_tab(WIDE)
    tab.log_in()
    keyboard, page = tab.page.keyboard, tab.page
    page.bring_to_front()
    keyboard.press("Tab")
    playwright_api.expect(page.get_by_role("link", name="To the content")).to_be_focused()
    reached = []
    for _ in range(14):
        keyboard.press("Tab")
        reached.append(page.evaluate("document.activeElement.textContent.trim().slice(0, 14)"))
    assert {"Now", "Night", "Alarms", "Boards", "You", "Grow-out bin 3", "I have seen it"} <= set(reached)


def test_more_parts_open_without_scripts_on_a_phone(new_tab: NewTab) -> None:
    tab = new_tab(PHONE, scripts=False)
    tab.log_in()
    tab.page.locator("nav summary").click()
    tab.page.get_by_role("link", name="You").click()
    playwright_api.expect(tab.page.get_by_role("heading", level=1)).to_have_text("You")


MOST_SCREENS, SCREEN = 4, 640
TEXTS = """() => [...document.querySelectorAll(".night-place .plot text")].map((text) => {
  const box = text.getBoundingClientRect();
  return [box.left, box.right, box.top, box.bottom, parseFloat(getComputedStyle(text).fontSize)];
})"""


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_a_quiet_night_of_fifteen_places_takes_at_most_four_screens(new_tab: NewTab, scheme: str) -> None:
    """The night before the bad one; counted with all that stands round it, at 360 by 640."""
    tab = new_tab({"width": 360, "height": SCREEN}, scheme)
    tab.log_in()
    tab.page.goto(f"{tab.address}/night?date=2026-09-23")
    assert tab.page.locator(".quiet-places li").count() == 15
    height = int(tab.page.evaluate("document.documentElement.scrollHeight"))
    assert height <= MOST_SCREENS * SCREEN
    assert tab.overflow() == 0
    assert all(box["height"] <= 50 for box in map(_box, tab.page.locator(".quiet-places li").all()))


def _box(found: Any) -> dict[str, float]:
    box = found.bounding_box()
    assert box is not None
    return dict(box)


def test_numbers_on_charts_of_the_night_can_be_read_on_a_phone(new_tab: NewTab) -> None:
    tab = new_tab(PHONE)
    tab.log_in()
    tab.page.goto(f"{tab.address}/night")
    boxes = tab.page.evaluate(TEXTS)
    assert len(boxes) >= 12
    assert all(size >= 12 and left >= 0 and right <= 360 for left, right, _, _, size in boxes)
    for at, one in enumerate(boxes):
        for other in boxes[at + 1 :]:
            apart = (
                one[1] <= other[0] or other[1] <= one[0] or one[3] <= other[2] + 2 or other[3] <= one[2] + 2
            )
            assert apart, (one, other)
