"""The page in a real browser: phone and wide screen, light and dark, scripts on and off.

With REARING_AXE naming the file axe.min.js of axe-core, every part is checked for accessibility too.
"""

from __future__ import annotations

import os
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from page_farm import PASSWORD, PageFarm

from monitor.page.server import PageServer
from monitor.records import MS_PER_MINUTE

if TYPE_CHECKING:
    from playwright.sync_api import Browser, ConsoleMessage, Page

playwright_api = pytest.importorskip("playwright.sync_api")
CHROMIUM = Path("/usr/bin/chromium")
QUIET = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)
PHONE, WIDE = {"width": 360, "height": 740}, {"width": 1280, "height": 800}
PARTS = (
    "/",
    "/places/bin-3",
    "/places/bin-3?span=year",
    "/night",
    "/alarms",
    "/alarms/health",
    "/nodes",
    "/me",
)
WAYS = [
    pytest.param(size, scheme, scripts, id=f"{size['width']}-{scheme}-{'scripts' if scripts else 'plain'}")
    for size in (PHONE, WIDE)
    for scheme in ("light", "dark")
    for scripts in (True, False)
]
pytestmark = [pytest.mark.browser, pytest.mark.slow]


@dataclass
class Visitor:
    """A browser tab, what it complained about, and where it went."""

    page: Page
    address: str
    complaints: list[str] = field(default_factory=list)
    asked: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.page.on("console", self._console)
        self.page.on("pageerror", lambda error: self.complaints.append(str(error)))
        self.page.on("request", lambda request: self.asked.append(request.url))

    def _console(self, message: ConsoleMessage) -> None:
        if message.type == "error":
            self.complaints.append(message.text)

    def log_in(self) -> None:
        self.page.goto(self.address)
        self.page.get_by_label("Your name").fill("Ann")
        self.page.get_by_label("Password").fill(PASSWORD)
        self.page.get_by_role("button", name="Log in").click()

    def part(self, name: str) -> None:
        navigation = self.page.get_by_role("navigation", name="Parts of the page")
        link = navigation.get_by_role("link", name=name).locator("visible=true")
        if link.count() == 0:
            navigation.locator("summary").click()
        link.first.click()

    def overflow(self) -> int:
        return int(
            self.page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
        )


@pytest.fixture(scope="module")
def chromium() -> Iterator[Browser]:
    """Debian's Chromium, without a window."""
    if not CHROMIUM.exists():
        pytest.skip("Chromium is not installed (Debian package chromium)")
    with playwright_api.sync_playwright() as play:
        browser = play.chromium.launch(executable_path=str(CHROMIUM), args=list(QUIET))
        yield browser
        browser.close()


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


NewVisitor = Callable[..., Visitor]


@pytest.fixture
def new_visitor(chromium: Browser, fresh_server: PageServer) -> Iterator[NewVisitor]:
    """Opens a browser of the given size, scheme and scripts."""
    contexts = []

    def new(size: Any, scheme: Any = "light", scripts: bool = True, **more: Any) -> Visitor:
        context = chromium.new_context(
            viewport=size, color_scheme=scheme, java_script_enabled=scripts, locale="en-GB", **more
        )
        context.set_default_timeout(10_000)
        contexts.append(context)
        return Visitor(context.new_page(), fresh_server.address)

    yield new
    for context in contexts:
        context.close()


@pytest.mark.parametrize(("size", "scheme", "scripts"), WAYS)
def test_a_morning_on_the_farm(
    fresh_farm: PageFarm, new_visitor: NewVisitor, size: dict[str, int], scheme: str, scripts: bool
) -> None:
    visitor = new_visitor(size, scheme, scripts)
    page = visitor.page
    visitor.log_in()
    first = page.locator("main section").first
    playwright_api.expect(first.get_by_role("heading")).to_contain_text("Act now")
    playwright_api.expect(first.get_by_role("heading")).to_contain_text("Grow-out bin 3")
    playwright_api.expect(first).to_contain_text("Spread or split the substrate")
    box = first.bounding_box()
    assert box is not None and box["y"] < 250, "the worst is on the first screen"
    first.get_by_role("button", name="I have seen it").first.click()
    playwright_api.expect(page.get_by_role("status")).to_have_text("Done.")
    playwright_api.expect(page.locator("main section").first).to_contain_text("somebody has acknowledged it")

    visitor.part("Night")
    playwright_api.expect(page.get_by_role("heading", level=1)).to_contain_text("alarms in the night")
    playwright_api.expect(page.get_by_role("img", name=re.compile("Substrate temperature"))).to_have_count(6)
    page.get_by_role("link", name="night before").click()
    playwright_api.expect(page.locator("main")).to_contain_text("Tue 22 Sep 18:00 to Wed 23 Sep 06:30")

    visitor.part("Alarms")
    playwright_api.expect(page.locator("main")).to_contain_text("If nobody acts: The bin heats itself")

    visitor.part("Boards")
    page.get_by_label("It is in").select_option(label="Love cage 1")
    page.get_by_role("button", name="Put it there").click()
    playwright_api.expect(page.get_by_role("status")).to_contain_text("node-77 has its place")
    assert 'id = "node-77"' in fresh_farm.settings_path.read_text()
    assert visitor.complaints == []
    assert [url for url in visitor.asked if not url.startswith(visitor.address)] == []


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_nothing_sticks_out_at_any_width_or_size_of_letters(new_visitor: NewVisitor, scheme: str) -> None:
    visitor = new_visitor(PHONE, scheme)
    visitor.log_in()
    for path in PARTS:
        visitor.page.goto(visitor.address + path)
        for width in (320, 360, 640, 1280):
            visitor.page.set_viewport_size({"width": width, "height": 740})
            assert visitor.overflow() == 0, f"{path} at {width}"
        visitor.page.set_viewport_size({"width": 640, "height": 400})
        visitor.page.evaluate("document.styleSheets[0].insertRule('html { font-size: 200% }')")
        assert visitor.overflow() == 0, f"{path} with large letters"


def test_a_finger_on_a_curve_reads_the_nearest_value(new_visitor: NewVisitor) -> None:
    visitor = new_visitor(PHONE, has_touch=True)
    visitor.log_in()
    visitor.page.goto(visitor.address + "/places/bin-3")
    plot, reading = visitor.page.locator(".plot").first, visitor.page.locator(".reading").first
    playwright_api.expect(reading).to_be_hidden()
    plot.scroll_into_view_if_needed()
    box = plot.bounding_box()
    assert box is not None
    visitor.page.touchscreen.tap(box["x"] + box["width"] - 2, box["y"] + 60)
    playwright_api.expect(reading).to_have_text(re.compile(r"Thu,? 24 Sept?,? 06:[34]0: 4[34]\.\d\s°C"))
    plot.focus()
    visitor.page.keyboard.press("PageUp")
    playwright_api.expect(reading).to_have_text(re.compile(r"Wed,? 23 Sept?.*: 3\d\.\d\s°C"))
    assert visitor.complaints == []


def test_the_figures_are_there_without_scripts(new_visitor: NewVisitor) -> None:
    visitor = new_visitor(PHONE, scripts=False)
    visitor.log_in()
    visitor.page.goto(visitor.address + "/places/bin-3")
    visitor.page.get_by_text("The figures").first.click()
    playwright_api.expect(visitor.page.get_by_role("table").first).to_contain_text("Thu 06:00")


def test_an_open_page_follows_what_happens(fresh_farm: PageFarm, new_visitor: NewVisitor) -> None:
    visitor = new_visitor(PHONE)
    visitor.log_in()
    heading = visitor.page.get_by_role("heading", level=1)
    playwright_api.expect(heading).to_have_text("2 places need you")
    with visitor.page.expect_response("**/live"):
        visitor.page.reload()
    fresh_farm.cool_down("bin-3")
    playwright_api.expect(heading).to_have_text("1 place needs you")
    assert visitor.complaints == []


def test_everything_is_within_reach_of_the_keyboard(new_visitor: NewVisitor) -> None:
    visitor = new_visitor(WIDE)
    visitor.log_in()
    keyboard, page = visitor.page.keyboard, visitor.page
    page.bring_to_front()
    keyboard.press("Tab")
    playwright_api.expect(page.get_by_role("link", name="To the content")).to_be_focused()
    reached = []
    for _ in range(14):
        keyboard.press("Tab")
        reached.append(page.evaluate("document.activeElement.textContent.trim().slice(0, 14)"))
    assert {"Now", "Night", "Alarms", "Boards", "You", "Grow-out bin 3", "I have seen it"} <= set(reached)


def test_more_parts_open_without_scripts_on_a_phone(new_visitor: NewVisitor) -> None:
    visitor = new_visitor(PHONE, scripts=False)
    visitor.log_in()
    visitor.page.locator("nav summary").click()
    visitor.page.get_by_role("link", name="You").click()
    playwright_api.expect(visitor.page.get_by_role("heading", level=1)).to_have_text("You")


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("size", [PHONE, WIDE], ids=["phone", "wide"])
def test_no_barrier_is_found_by_axe(new_visitor: NewVisitor, size: dict[str, int], scheme: str) -> None:
    source = os.environ.get("REARING_AXE", "")
    if not source:
        pytest.skip("REARING_AXE does not name axe.min.js (npm package axe-core)")
    visitor = new_visitor(size, scheme, bypass_csp=True)
    found = _axe(visitor, "/login", source)
    visitor.log_in()
    for path in PARTS:
        found += _axe(visitor, path, source)
    assert found == []


def _axe(visitor: Visitor, path: str, source: str) -> list[str]:
    page = visitor.page
    page.goto(visitor.address + path)
    page.evaluate("document.querySelectorAll('details').forEach((each) => { each.open = true; })")
    page.add_script_tag(content=Path(source).read_text(encoding="utf-8"))
    result = page.evaluate("axe.run(document)")
    assert len(result["passes"]) > 5, "axe looked at nothing"
    return [f"{path}: {each['id']}: {each['nodes'][0]['html'][:200]}" for each in result["violations"]]
