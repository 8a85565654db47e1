"""The picture of the page in the README, from the invented farm: `readme_picture.py FILE.png`.

Plays the demo until one in the morning, when bin 4 overheats, and takes the page as a phone shows it.
"""

from __future__ import annotations

import base64
import re
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from playwright.sync_api import Browser, ViewportSize, sync_playwright

CHROMIUM = "/usr/bin/chromium"
ARGUMENTS = ["--no-sandbox", "--disable-gpu", "--disable-background-networking", "--disable-component-update"]
PHONE: ViewportSize = {"width": 360, "height": 740}
PARTS = ("/", "/bins", "/cohorts", "/places/bin-4")
DAYS = "0.75"
FRAME = "display:inline-block;margin:6px;border:1px solid #999"
WAIT_S = 300


def wait_for_page(log: Path) -> tuple[str, str]:
    """Address and password, once the farm goes on in real time."""
    until = time.monotonic() + WAIT_S
    while time.monotonic() < until:
        text = log.read_text()
        if "goes on in real time" in text:
            found = re.search(r"The page: (\S+)\s+\(first password: (\S+)\)", text)
            if found:
                return found[1], found[2]
        time.sleep(0.5)
    raise SystemExit(f"the demo did not come so far within {WAIT_S} s; see {log}")


def shots(browser: Browser, address: str, password: str) -> list[str]:
    """Each part as a PNG in base64."""
    context = browser.new_context(viewport=PHONE, locale="en-GB")
    page = context.new_page()
    page.goto(address)
    page.get_by_label("Password").fill(password)
    page.get_by_role("button", name="Log in").click()
    page.get_by_role("navigation", name="Parts of the page").wait_for(state="attached")
    found = []
    for path in PARTS:
        page.goto(address + path)
        found.append(base64.b64encode(page.screenshot()).decode())
    context.close()
    return found


def compose(browser: Browser, pictures: list[str], target: Path) -> None:
    """All parts side by side."""
    images = "".join(f'<img style="{FRAME}" src="data:image/png;base64,{one}">' for one in pictures)
    width = len(pictures) * (PHONE["width"] + 18) + 16
    page = browser.new_page(viewport={"width": width, "height": PHONE["height"] + 30})
    page.set_content(f'<body style="margin:0;padding:4px;background:#fff;white-space:nowrap">{images}')
    page.screenshot(path=target)


def main() -> None:
    """Play, look, compose, stop."""
    target = Path(sys.argv[1])
    with tempfile.TemporaryDirectory() as scratch, sync_playwright() as play:
        log = Path(scratch) / "demo.log"
        command = [sys.executable, "-u", "-m", "monitor", "demo", "--days", DAYS, "--stay"]
        with log.open("wb") as out:
            demo = subprocess.Popen([*command, "--folder", f"{scratch}/farm"], stdout=out, stderr=out)
        try:
            address, password = wait_for_page(log)
            browser = play.chromium.launch(executable_path=CHROMIUM, args=ARGUMENTS)
            compose(browser, shots(browser, address, password), target)
            browser.close()
        finally:
            demo.terminate()
            demo.wait(20)


if __name__ == "__main__":
    main()
