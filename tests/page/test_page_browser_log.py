"""Cohorts, bins and logbook in a real browser: two taps on a phone, with scripts and without."""

from __future__ import annotations

import os
import re
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from logbook_farm import keep_logbook
from page_farm import PASSWORD, PageFarm

from monitor.page.server import PageServer
from monitor.records import MS_PER_MINUTE

if TYPE_CHECKING:
    from playwright.sync_api import Browser

playwright_api = pytest.importorskip("playwright.sync_api")
CHROMIUM = Path("/usr/bin/chromium")
QUIET = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
)
PHONE, WIDE = {"width": 360, "height": 740}, {"width": 1280, "height": 800}
PARTS = (
    "/cohorts",
    "/cohorts/pupae-1",
    "/cohorts/start",
    "/cohorts/pupae-1/write?what=saw",
    "/bins",
    "/bins/bin-1",
    "/bins/bin-1/write?what=water",
    "/bins/bin-4/write?what=fill",
    "/logbook",
    "/logbook/3/correct",
)
WAYS = [
    pytest.param(size, scheme, scripts, id=f"{size['width']}-{scheme}-{'scripts' if scripts else 'plain'}")
    for size in (PHONE, WIDE)
    for scheme in ("light", "dark")
    for scripts in (True, False)
]
pytestmark = [pytest.mark.browser, pytest.mark.slow]


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
def address(tmp_path: Path) -> Iterator[str]:
    """The page of a farm with a logbook."""
    farm = PageFarm(tmp_path, step_ms=10 * MS_PER_MINUTE)
    farm.build()
    keep_logbook(farm)
    with farm.turning():
        server = PageServer(farm.context, port=0)
        server.start()
        yield server.address
        server.stop()
    farm.close()


class Tab:
    """A browser tab that has logged in, and what it complained about."""

    def __init__(self, chromium: Browser, address: str, **preferences: Any) -> None:
        self.address = address
        self.context = chromium.new_context(locale="en-GB", **preferences)
        self.context.set_default_timeout(10_000)
        self.page = self.context.new_page()
        self.complaints: list[str] = []
        self.page.on(
            "console", lambda said: self.complaints.append(said.text) if said.type == "error" else None
        )
        self.page.on("pageerror", lambda error: self.complaints.append(str(error)))
        self.page.goto(address)
        self.page.get_by_label("Your name").fill("Ann")
        self.page.get_by_label("Password").fill(PASSWORD)
        self.page.get_by_role("button", name="Log in").click()

    def part(self, name: str) -> None:
        navigation = self.page.get_by_role("navigation", name="Parts of the page")
        link = navigation.get_by_role("link", name=name).locator("visible=true")
        if link.count() == 0:
            navigation.locator("summary").click()
        link.first.click()

    def main(self) -> str:
        return str(self.page.locator("main").inner_text()).replace("\u00a0", " ")

    def overflow(self) -> int:
        wide = "document.documentElement.scrollWidth - document.documentElement.clientWidth"
        return int(self.page.evaluate(wide))


@pytest.fixture
def tab(chromium: Browser, address: str, request: pytest.FixtureRequest) -> Iterator[Tab]:
    """A tab of the size, scheme and scripts that the test names."""
    size, scheme, scripts = getattr(request, "param", (PHONE, "light", True))
    # A checker of barriers is a script from outside, which the page's own policy refuses.
    preferences = {"bypass_csp": "axe" in request.node.name, "java_script_enabled": scripts}
    opened = Tab(chromium, address, viewport=size, color_scheme=scheme, **preferences)
    yield opened
    opened.context.close()


@pytest.mark.parametrize("tab", [pytest.param(way.values, id=way.id) for way in WAYS], indirect=True)
def test_a_litre_of_water_moves_the_hours_and_first_flies_narrow_the_window(tab: Tab) -> None:
    page = tab.page
    tab.part("Bins")
    card = page.locator("section").filter(has_text="Grow-out bin 1").first
    before = re.search(r"Too dry ([^\n]+)", card.inner_text())
    card.get_by_role("link", name="Water").click()
    amount = page.get_by_label("How much (litres)")
    assert float(amount.input_value()) > 0.0
    amount.fill("1")
    page.get_by_role("button", name="Write it down").click()
    playwright_api.expect(page.get_by_role("status")).to_contain_text("1 litre of water")
    playwright_api.expect(page.get_by_role("status")).to_contain_text("Too dry: before in")
    after = re.search(r"Too dry ([^:\n][^\n]+)\n", tab.main()[tab.main().index("%") :])
    assert before is not None
    assert after is not None
    assert before[1] != after[1]

    tab.part("Cohorts")
    playwright_api.expect(page.get_by_role("heading", level=1)).to_have_text("3 cohorts")
    page.get_by_role("link", name=re.compile(r"Seen: first flies\s*: pupae-1")).click()
    page.get_by_role("button", name="Write it down").click()
    said = page.get_by_role("status").inner_text().replace("\u00a0", " ")
    found = re.search(r"The window of the flies: before ([\d.]+) days?, now ([\d.]+) days?", said)
    assert found is not None, said
    assert float(found[2]) < float(found[1])

    tab.part("Logbook")
    assert "Ann, entry" in tab.main()
    page.get_by_role("link", name="correct").first.click()
    playwright_api.expect(page.get_by_role("heading", level=1)).to_contain_text("Correct entry")
    assert tab.complaints == []


def test_what_is_refused_is_said_beside_the_form(tab: Tab) -> None:
    tab.page.goto(tab.address + "/bins/bin-1/write?what=water")
    tab.page.get_by_label("How much (litres)").fill("three buckets")
    tab.page.get_by_label("Note").fill("from the tank")
    tab.page.get_by_role("button", name="Write it down").click()
    playwright_api.expect(tab.page.get_by_role("alert")).to_contain_text("“three buckets” is no amount")
    assert tab.page.get_by_label("Note").input_value() == "from the tank"
    assert tab.page.get_by_label("How much (litres)").input_value() == "three buckets"


@pytest.mark.parametrize("tab", [(PHONE, "light", True)], ids=["phone"], indirect=True)
def test_nothing_sticks_out_at_any_width_or_size_of_letters(tab: Tab) -> None:
    for path in PARTS:
        tab.page.goto(tab.address + path)
        for width in (320, 360, 640, 1280):
            tab.page.set_viewport_size({"width": width, "height": 740})
            assert tab.overflow() == 0, f"{path} at {width}"
        tab.page.set_viewport_size({"width": 640, "height": 400})
        tab.page.evaluate("document.styleSheets[0].insertRule('html { font-size: 200% }')")
        assert tab.overflow() == 0, f"{path} with large letters"
    assert tab.complaints == []


@pytest.mark.parametrize(
    "tab",
    [(PHONE, "light", True), (PHONE, "dark", True), (WIDE, "light", True), (WIDE, "dark", True)],
    indirect=True,
)
def test_no_barrier_is_found_by_axe(tab: Tab) -> None:
    source = os.environ.get("REARING_AXE", "")
    if not source:
        pytest.skip("REARING_AXE does not name axe.min.js (npm package axe-core)")
    found = []
    for path in PARTS:
        tab.page.goto(tab.address + path)
        tab.page.evaluate("document.querySelectorAll('details').forEach((each) => { each.open = true; })")
        tab.page.add_script_tag(content=Path(source).read_text(encoding="utf-8"))
        result = tab.page.evaluate("axe.run(document)")
        assert len(result["passes"]) > 5, "axe looked at nothing"
        found += [f"{path}: {each['id']}: {each['nodes'][0]['html'][:200]}" for each in result["violations"]]
    assert found == []
