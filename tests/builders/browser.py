"""A tab of Debian's Chromium for tests of the page, with what it complained about and what it requested."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from page_farm import PASSWORD

if TYPE_CHECKING:
    from playwright.sync_api import Browser, BrowserContext, ConsoleMessage, Page

CHROMIUM = Path("/usr/bin/chromium")
ARGUMENTS = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)
PHONE, WIDE = {"width": 360, "height": 740}, {"width": 1280, "height": 800}
WAYS = [
    pytest.param(size, scheme, scripts, id=f"{size['width']}-{scheme}-{'scripts' if scripts else 'plain'}")
    for size in (PHONE, WIDE)
    for scheme in ("light", "dark")
    for scripts in (True, False)
]


@contextmanager
def open_chromium() -> Iterator[Browser]:
    """Chromium without a window; the test is skipped where it or playwright is missing."""
    playwright = pytest.importorskip("playwright.sync_api")
    if not CHROMIUM.exists():
        pytest.skip("Chromium is not installed (Debian package chromium)")
    with playwright.sync_playwright() as play:
        browser = play.chromium.launch(executable_path=str(CHROMIUM), args=list(ARGUMENTS))
        yield browser
        browser.close()


@contextmanager
def phone_at(profile: Path, name: str, home: Path | None = None) -> Iterator[BrowserContext]:
    """A phone that keeps what it keeps in `profile`, and finds this computer under `name`, not localhost.

    `home` is the folder with the certificates that its browser trusts.
    """
    playwright = pytest.importorskip("playwright.sync_api")
    if not CHROMIUM.exists():
        pytest.skip("Chromium is not installed (Debian package chromium)")
    with playwright.sync_playwright() as play:
        context = play.chromium.launch_persistent_context(
            str(profile),
            executable_path=str(CHROMIUM),
            args=[*ARGUMENTS, f"--host-resolver-rules=MAP {name} 127.0.0.1"],
            viewport=PHONE,
            locale="en-GB",
            env={**os.environ, "HOME": str(home)} if home else None,
        )
        context.set_default_timeout(10_000)
        yield context
        context.close()


class Tab:
    """A tab at an address."""

    def __init__(self, page: Page, address: str) -> None:
        self.page, self.address = page, address
        self.complaints: list[str] = []
        self.requested: list[str] = []
        page.context.set_default_timeout(10_000)
        page.on("console", self._console)
        page.on("pageerror", lambda error: self.complaints.append(str(error)))
        page.on("request", lambda request: self.requested.append(request.url))

    def _console(self, message: ConsoleMessage) -> None:
        if message.type == "error":
            self.complaints.append(message.text)

    def log_in(self) -> None:
        """Log in as Ann, the owner, and wait for the page behind it."""
        self.page.goto(self.address)
        self.page.get_by_label("Your name").fill("Ann")
        self.page.get_by_label("Password").fill(PASSWORD)
        self.page.get_by_role("button", name="Log in").click()
        self.page.get_by_role("navigation", name="Parts of the page").wait_for(state="attached")

    def part(self, name: str) -> None:
        """Open a part of the page by its navigation."""
        navigation = self.page.get_by_role("navigation", name="Parts of the page")
        link = navigation.get_by_role("link", name=name).locator("visible=true")
        if link.count() == 0:
            navigation.locator("summary").click()
        link.first.click()

    def main(self) -> str:
        """The text of the page's main part."""
        return str(self.page.locator("main").inner_text()).replace("\u00a0", " ")

    def overflow(self) -> int:
        """By how many pixels the page is wider than the screen."""
        wide = "document.documentElement.scrollWidth - document.documentElement.clientWidth"
        return int(self.page.evaluate(wide))
