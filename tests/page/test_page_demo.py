"""The running demo, as a person tries it: its own process, its printed address and first password."""

from __future__ import annotations

import re
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from browser import PHONE, WIDE

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

playwright_api = pytest.importorskip("playwright.sync_api")
WAIT_S = 240.0
pytestmark = [pytest.mark.browser, pytest.mark.slow, pytest.mark.timeout(400)]


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[str, str, Path]]:
    """The demo at one in the morning, going on in real time: address, password, folder."""
    folder = tmp_path_factory.mktemp("demo")
    command = [sys.executable, "-u", "-m", "monitor", "demo", "--days", "0.75", "--stay"]
    log = folder / "demo.log"
    with log.open("wb") as out:
        process = subprocess.Popen([*command, "--folder", str(folder / "farm")], stdout=out, stderr=out)
    until = time.monotonic() + WAIT_S
    while "goes on in real time" not in log.read_text() and time.monotonic() < until:
        assert process.poll() is None, log.read_text()
        time.sleep(0.5)
    found = re.search(r"The page: (\S+)\s+\(first password: (\S+)\)", log.read_text())
    assert found is not None
    yield found[1], found[2], folder / "farm"
    process.terminate()
    process.wait(20)


@pytest.fixture(params=[(PHONE, "light"), (WIDE, "dark")], ids=["phone", "wide"])
def page(chromium: Browser, request: pytest.FixtureRequest, demo: tuple[str, str, Path]) -> Iterator[Page]:
    """Logged in."""
    size, scheme = request.param
    opened = chromium.new_context(viewport=size, color_scheme=scheme, locale="en-GB").new_page()
    opened.goto(demo[0])
    opened.get_by_label("Password").fill(demo[1])
    opened.get_by_role("button", name="Log in").click()
    yield opened
    opened.context.close()


def test_a_night_in_the_demo(demo: tuple[str, str, Path], page: Page) -> None:
    address, _, folder = demo
    expect = playwright_api.expect
    first = page.locator("main section").first
    expect(first.get_by_role("heading")).to_contain_text("Grow-out bin 4")
    expect(first).to_contain_text(re.compile("Spread or split the substrate|stir it, spread it"))
    seen = first.get_by_role("button", name="I have seen it")
    if seen.count():
        seen.first.click()
        expect(page.get_by_role("status")).to_have_text("Done.")
    expect(page.locator("main section").first).to_contain_text(re.compile(r"seen by .+, \d\d:\d\d"))

    page.goto(f"{address}/bins/bin-6/write?what=water")
    page.get_by_label("How much (litres)").fill("1")
    page.get_by_role("button", name="Write it down").click()
    expect(page.get_by_role("status")).to_contain_text("1 litre of water")

    page.goto(f"{address}/cohorts/b15-flies")
    offered = page.get_by_role("link", name="first flies", exact=True)
    if offered.count():
        offered.click()
        page.get_by_role("button", name="Write it down").click()
        expect(page.get_by_role("status")).to_contain_text("first flies")
        page.goto(f"{address}/cohorts/b15-flies")
    # Written down in this size or in the other one before it: seen, and not offered any more.
    expect(page.get_by_role("row", name=re.compile("^first flies"))).to_contain_text("seen")
    expect(offered).to_have_count(0)

    page.goto(f"{address}/night")
    expect(page.get_by_role("heading", level=1)).to_be_visible()
    page.goto(f"{address}/nodes")
    if 'id = "node-15"' not in (folder / "farm.toml").read_text():
        page.get_by_label("It is in").first.select_option(label="Love cage 1")
        page.get_by_role("button", name="Put it there").first.click()
        expect(page.get_by_role("status")).to_contain_text("node-15 has its place")
    assert 'id = "node-15"' in (folder / "farm.toml").read_text()
