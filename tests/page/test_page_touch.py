"""For wet thumbs and poor eyes, in a real browser at 360 px: how large targets are, and that nothing is cut.

A target is tried as a thumb would: 20 px above, below, left and right of its middle it is still the one hit.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

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
    "/alarms",
    "/alarms/health",
    "/logbook",
    "/logbook/3/correct",
    "/nodes",
    "/boards/node-03",
    "/me",
    "/nothing-here",
)
OPEN = "document.querySelectorAll('main details').forEach((each) => { each.open = true; })"
SMALL = """() => {
  const shown = (each) => each.checkVisibility({ visibilityProperty: true }) && !each.closest(".unseen, .skip");
  const name = (each) => `${each.tagName} ${each.className} ${(each.getAttribute("href") || each.name || "")} ${each.textContent.trim().slice(0, 30)}`;
  const wrong = [];
  for (const found of document.querySelectorAll("a[href], button, summary, select, textarea, input:not([type=hidden])")) {
    if (!shown(found)) continue;
    const target = ["checkbox", "radio"].includes(found.type) ? found.closest("label") : found;
    target.scrollIntoView({ block: "center", inline: "nearest" });
    const boxes = [...target.getClientRects()].filter((box) => box.width > 0);
    const box = boxes[0], x = (box.left + box.right) / 2, y = (box.top + box.bottom) / 2;
    const whole = target.getBoundingClientRect();
    if (whole.width < 43.5 || box.height < 43.5) { wrong.push(`${whole.width.toFixed(0)}x${box.height.toFixed(0)} ${name(target)}`); continue; }
    for (const [dx, dy] of [[0, 0], [0, -20], [0, 20], ...(boxes.length > 1 ? [] : [[-20, 0], [20, 0]])]) {
      const hit = document.elementFromPoint(x + dx, y + dy);
      if (!hit || !(target.contains(hit) || hit.contains(target) && target.closest("label") === hit)) { wrong.push(`at ${dx},${dy} covered by ${hit ? name(hit) : "nothing"}: ${name(target)}`); break; }
    }
  }
  return wrong;
}"""
CUT = """() => {
  const wrong = [], width = document.documentElement.clientWidth;
  if (document.documentElement.scrollWidth > width) wrong.push(`page ${document.documentElement.scrollWidth}: ${[...document.querySelectorAll("main *")].filter((each) => each.checkVisibility() && each.getBoundingClientRect().right > width + 1).map((each) => each.outerHTML.slice(0, 60)).slice(0, 3)}`);
  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  for (let node = walker.nextNode(); node; node = walker.nextNode()) {
    const parent = node.parentElement;
    if (!node.data.trim() || parent.closest("script, .unseen, .skip, svg, select, textarea") || !parent.checkVisibility({ visibilityProperty: true })) continue;
    const range = document.createRange();
    range.selectNodeContents(node);
    for (const box of range.getClientRects()) {
      let clip = { left: 0, right: width };
      for (let each = parent; each; each = each.parentElement) {
        const style = getComputedStyle(each);
        if (style.overflowX === "auto" || style.overflowX === "scroll") { clip = null; break; }
        if (style.overflowX === "hidden" || each.matches("body > nav > ul > li, button")) {
          const frame = each.getBoundingClientRect();
          clip = { left: Math.max(clip.left, frame.left), right: Math.min(clip.right, frame.right) };
        }
      }
      if (clip && (box.left < clip.left - 1 || box.right > clip.right + 1)) { wrong.push(`${parent.tagName} ${parent.className} ${node.data.trim().slice(0, 40)}: ${box.left.toFixed(0)}..${box.right.toFixed(0)} of ${clip.left.toFixed(0)}..${clip.right.toFixed(0)}`); break; }
    }
  }
  scrollTo(0, document.body.scrollHeight);
  const bar = document.querySelector("body > nav"), last = document.querySelector("main").getBoundingClientRect().bottom;
  if (bar && last > bar.getBoundingClientRect().top + 1) wrong.push("the bar covers the end of the page");
  return wrong;
}"""
COVERED = """(reading) => {
  const box = reading.getBoundingClientRect(), hit = [];
  const walker = document.createTreeWalker(document.querySelector("main"), NodeFilter.SHOW_TEXT);
  for (let node = walker.nextNode(); node; node = walker.nextNode()) {
    if (!node.data.trim() || reading.contains(node) || node.parentElement.closest(".unseen") || !node.parentElement.checkVisibility()) continue;
    const range = document.createRange();
    range.selectNodeContents(node);
    for (const other of range.getClientRects()) {
      if (other.left < box.right - 1 && other.right > box.left + 1 && other.top < box.bottom - 1 && other.bottom > box.top + 1) hit.push(node.data.trim());
    }
  }
  return hit;
}"""


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
    context = chromium.new_context(viewport=PHONE, has_touch=True, locale="en-GB")
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
        found += [f"{path}: {each}" for each in tab.page.evaluate(SMALL)]
    assert not found, "\n".join(found)


@pytest.mark.parametrize("language", ["en", "fr", "sw"])
def test_nothing_is_cut_with_letters_twice_as_large(tab: Tab, language: str) -> None:
    speak(tab, language)
    found = []
    for path in PATHS:
        tab.page.goto(tab.address + path)
        tab.page.evaluate("document.styleSheets[0].insertRule('html { font-size: 200% }')")
        tab.page.evaluate(OPEN)
        found += [f"{path}: {each}" for each in tab.page.evaluate(CUT)]
    assert not found, "\n".join(found)


def test_the_reading_under_a_finger_covers_no_text(tab: Tab) -> None:
    tab.page.goto(tab.address + "/places/bin-3")
    for plot, reading in zip(tab.page.locator(".plot").all(), tab.page.locator(".reading").all(), strict=True):
        plot.scroll_into_view_if_needed()
        box = plot.bounding_box()
        assert box is not None
        tab.page.touchscreen.tap(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
        assert reading.is_visible()
        assert reading.evaluate(COVERED) == []
        moved = plot.bounding_box()
        assert moved is not None
        assert abs(moved["height"] - box["height"]) < 1, "nothing jumps under the finger"
