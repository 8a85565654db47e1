"""Cohorts, bins and logbook in a real browser: two taps on a phone, with scripts and without."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from browser import PHONE, WAYS, Tab
from logbook_farm import keep_logbook
from page_farm import PageFarm

from monitor.page.server import PageServer
from monitor.records import MS_PER_MINUTE

if TYPE_CHECKING:
    from playwright.sync_api import Browser

playwright_api = pytest.importorskip("playwright.sync_api")
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
pytestmark = [pytest.mark.browser, pytest.mark.slow]


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


@pytest.fixture
def tab(chromium: Browser, address: str, request: pytest.FixtureRequest) -> Iterator[Tab]:
    """A tab of the size, scheme and scripts that the test names."""
    way: Any = getattr(request, "param", (PHONE, "light", True))
    size, scheme, scripts = way
    context = chromium.new_context(
        viewport=size,
        color_scheme=scheme,
        java_script_enabled=scripts,
        locale="en-GB",
    )
    opened = Tab(context.new_page(), address)
    opened.log_in()
    yield opened
    context.close()


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
    row = page.locator("li").filter(has=page.get_by_role("link", name="pupae-1", exact=True)).first
    if not row.is_visible():
        page.locator("details.later summary").click()
    row.get_by_role("link", name="pupae-1", exact=True).click()
    page.get_by_role("link", name="first flies").click()
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
