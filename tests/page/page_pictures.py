"""Pictures of the page on the invented farm for documents: python tests/page/page_pictures.py FOLDER."""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

from page_farm import PASSWORD, PageFarm
from playwright.sync_api import Browser, sync_playwright

from monitor.views.page import PageServer

CHROMIUM = "/usr/bin/chromium"
ARGUMENTS = ["--no-sandbox", "--disable-gpu", "--disable-background-networking", "--disable-component-update"]
PHONE = {"width": 360, "height": 740}
PARTS = {"now": "/", "place": "/places/bin-3", "night": "/night", "alarms": "/alarms", "boards": "/nodes"}


def take(browser: Browser, address: str, folder: Path, scheme: str) -> None:
    """One picture of each part in one scheme."""
    context = browser.new_context(viewport=PHONE, color_scheme=scheme, device_scale_factor=2, locale="en-GB")
    page = context.new_page()
    page.goto(address)
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Log in").click()
    for name, path in PARTS.items():
        page.goto(address + path)
        if name == "place":
            page.locator(".spans").scroll_into_view_if_needed()
            page.locator(".spans").evaluate("(each) => each.scrollIntoView()")
        page.screenshot(path=folder / f"page-{name}-{scheme}.png")
    context.close()


def main() -> None:
    """Build the farm, serve its page, look at it."""
    folder = Path(sys.argv[1])
    folder.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as scratch, sync_playwright() as play:
        farm = PageFarm(Path(scratch))
        farm.build()
        server = PageServer(farm.context, port=0)
        server.start()
        browser = play.chromium.launch(executable_path=CHROMIUM, args=ARGUMENTS)
        for scheme in ("light", "dark"):
            take(browser, server.address, folder, scheme)
        browser.close()
        server.stop()
        farm.close()


if __name__ == "__main__":
    main()
