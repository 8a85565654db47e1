"""A day on the farm in a real browser, from the morning's list to the evening, read as a farmer reads it.

Sizes, schemes, scripts on and off, and languages: every two of them meet in one of the six ways.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import suppress
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from browser import Tab
from logbook_farm import about_cohort, keep_logbook
from page_farm import NOW_MS, PASSWORD, ZONE, PageFarm

from monitor.page.server import PageServer
from monitor.records import MS_PER_MINUTE, MS_PER_SECOND, LogbookEntry
from monitor.store import Store
from monitor.words.localizer import Localizer

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Locator

playwright_api = pytest.importorskip("playwright.sync_api")
pytestmark = [pytest.mark.browser, pytest.mark.slow]
SMALL, DESK = {"width": 360, "height": 640}, {"width": 1280, "height": 800}
WAYS = [
    pytest.param("en", SMALL, "light", True, id="en-small-light-scripts"),
    pytest.param("en", DESK, "dark", False, id="en-desk-dark-plain"),
    pytest.param("fr", SMALL, "dark", False, id="fr-small-dark-plain"),
    pytest.param("fr", DESK, "light", True, id="fr-desk-light-scripts"),
    pytest.param("sw", SMALL, "light", False, id="sw-small-light-plain"),
    pytest.param("sw", DESK, "dark", True, id="sw-desk-dark-scripts"),
]
PATIENCE = 50
EVENING_MS = round(datetime(2026, 9, 24, 18, 50, tzinfo=ZONE).timestamp() * MS_PER_SECOND)


@pytest.fixture
def farm(tmp_path: Path) -> Iterator[PageFarm]:
    """The farm on its bad morning, with a logbook and flies in a cage."""
    farm = PageFarm(tmp_path, step_ms=10 * MS_PER_MINUTE)
    farm.build()
    farm.context.feed.look_s = 0.05
    keep_logbook(farm)
    with Store.open(farm.context.store_path, create=False, check=False) as store:
        flies = {"stage": "adult", "place": "cage-1", "animals": 900, "purpose": "breeding", "cage": "cage-1"}
        store.logbook.add(about_cohort("flies-1", "start", 1.4, **flies))
    with farm.turning():
        yield farm
    farm.close()


class Day:
    """A farmer with the page: what is read on it, what is tapped, in the language of the farmer."""

    def __init__(self, farm: PageFarm, tab: Tab, language: str, *, scripts: bool) -> None:
        self.farm, self.tab, self.page, self.scripts = farm, tab, tab.page, scripts
        self.words = Localizer.plain(language, ZONE, NOW_MS)
        self.in_english = language == "en"

    def says(self, key: str, **values: object) -> str:
        return self.words.t(key, **values)

    def text(self) -> str:
        """All that the page says, as one line; a page that is just being left is read once more."""
        for _ in range(3):
            with suppress(playwright_api.Error):
                wide, text = self.tab.overflow(), self.tab.main()
                break
            self.page.wait_for_load_state()
        assert wide == 0, f"{self.page.url} is wider than the screen"
        return " ".join(text.split())

    def reads(self, *texts: str) -> None:
        """Each of these stands on the page in this order, at the latest a moment after a tap."""
        lacks = "-"
        for _ in range(PATIENCE):
            lacks = self._lacks(texts)
            if not lacks:
                return
            self.page.wait_for_timeout(100)
        raise AssertionError(lacks)

    def _lacks(self, texts: tuple[str, ...]) -> str:
        text, at = self.text(), 0
        for each in texts:
            found = text.find(each, at)
            if found < 0:
                return f"{each!r} does not stand after {text[max(0, at - 80) : at]!r} in {text!r}"
            at = found + len(each)
        return ""

    def part(self, key: str) -> None:
        """Open a part by the navigation."""
        navigation = self.page.get_by_role("navigation", name=self.says("base.parts"))
        name = re.compile(f"^{re.escape(self.says(f'part.{key}'))}$")
        link = navigation.get_by_role("link", name=name).locator("visible=true")
        if link.count() == 0:
            navigation.locator("summary").click()
        link.first.click()
        self.page.locator(f"nav a[aria-current=page][href='{link_of(key)}']").first.wait_for(state="attached")

    def quick(self, key: str) -> None:
        """Tap one of what is written down most often, on Now."""
        self.part("now")
        self.page.locator(".quick").get_by_role("link", name=self.says(f"task_do.{key}"), exact=True).click()
        self.page.locator("form.entry").wait_for()

    def write_down(self, **values: str) -> LogbookEntry:
        """Fill the form, hand it in, and give what was written."""
        for name, value in values.items():
            found = self.page.locator(f"form.entry [name={name}]").first
            if found.evaluate("each => each.tagName") == "SELECT":
                found.select_option(value)
            else:
                found.fill(value)
        self.page.locator("form.entry button").first.click()
        return self.written()

    def written(self) -> LogbookEntry:
        """The newest entry, as the page itself names it."""
        newest = max(self.entries(), key=lambda entry: entry.entry_id or 0)
        said = self.page.get_by_role("status").filter(has_text=re.compile(rf"\b{newest.entry_id}\b"))
        if said.count() == 0:
            # With scripts the page hands a form in beside itself, so the answer comes a moment later.
            said = self.page.get_by_role("status").filter(has_text=re.compile(r"\d"))
            said.first.wait_for()
            newest = max(self.entries(), key=lambda entry: entry.entry_id or 0)
        assert re.search(rf"\b{newest.entry_id}\b", said.first.inner_text()), said.first.inner_text()
        assert newest.author == "Ann"
        return newest

    def entries(self) -> list[LogbookEntry]:
        with Store.read_only(self.farm.context.store_path) as store:
            return list(store.logbook.every())

    def tasks(self) -> list[str]:
        """The day's list as it stands on Now: what and about what, in order."""
        rows = self.page.locator("#today .tasks > li > p")
        return [" ".join(row.locator("b, a").all_inner_texts()).replace("\u00a0", " ") for row in rows.all()]

    def task(self, kind: str, subject: str) -> Locator:
        return self.page.locator("#today .tasks > li").filter(has_text=self.asked(kind, subject))

    def asked(self, kind: str, subject: str) -> re.Pattern[str]:
        return re.compile(rf"{re.escape(self.says(f'today.{kind}'))}\s*: ?\s*{subject}")


def link_of(key: str) -> str:
    return "/" if key == "now" else f"/{key}"


@pytest.fixture
def day(chromium: Browser, farm: PageFarm, request: pytest.FixtureRequest) -> Iterator[Day]:
    """The browser of the way, before anybody has logged in."""
    language, size, scheme, scripts = request.param
    server = PageServer(farm.context, port=0)
    server.start()
    context = chromium.new_context(
        viewport=size,
        color_scheme=scheme,
        java_script_enabled=scripts,
        locale={"en": "en-GB"}.get(language, language),
    )
    yield Day(farm, Tab(context.new_page(), server.address), language, scripts=scripts)
    context.close()
    server.stop()


@pytest.mark.parametrize("day", [pytest.param(way.values, id=way.id) for way in WAYS], indirect=True)
def test_a_day_from_the_morning_to_the_evening(day: Day) -> None:
    log_in(day)
    read_the_morning(day)
    do_the_list(day)
    write_of_cohorts(day)
    put_a_place_aside(day)
    day.farm.pass_time(EVENING_MS)
    look_in_the_evening(day)
    assert day.tab.complaints == []
    assert [url for url in day.tab.requested if not url.startswith(day.tab.address)] == []


def log_in(day: Day) -> None:
    """The browser's own language is taken before anybody has chosen one."""
    page = day.page
    page.goto(day.tab.address + "/night")
    assert page.locator("html").get_attribute("lang") == day.words.language
    page.get_by_label(day.says("login.name"), exact=True).fill("Ann")
    page.get_by_label(day.says("login.password"), exact=True).fill(PASSWORD)
    page.get_by_role("button", name=day.says("login.do")).click()
    page.wait_for_url("**/night")


def read_the_morning(day: Day) -> None:
    """The night, and Now with what is wrong before what is to be done, in the order of the list."""
    wrong, alarms = day.words.n("night.wrong_now", 5), day.words.n("night.alarms", 7)
    hot = day.words.value("substrate_temperature", 44.3)
    day.reads(
        *(day.says("night.last"), wrong, alarms, day.says("night.wrong_heading"), "Grow-out bin 3", hot),
        *("node-12", "Hatching tray 2", day.says("today.title"), "Grow-out bin 1"),
        *(day.says("night.alarms_heading"), day.says("night.places_heading"), day.says("night.week_heading")),
    )
    if day.in_english:
        day.reads(
            "5 things wrong now, 7 alarms in the night", "Look after these boards", "The week at a glance"
        )
    day.part("now")
    day.reads(
        *(day.words.n("now.need", 2), day.says("state.high"), "Grow-out bin 3", hot, day.says("alarm.do")),
        *(day.says("today.title"), day.says("today.water"), day.words.n("now.fine_places", 11)),
    )
    board = day.says("today.board")
    assert [re.sub(r"\s*: ?", ":", task) for task in day.tasks()] == [
        f"{day.says('today.water')}: Grow-out bin 1".replace(": ", ":"),
        *(
            f"{day.says('today.harvest')}:Grow-out bin 1",
            *(f"{board}:node-{each}" for each in ("04", "12", "14", "77")),
        ),
    ]


def do_the_list(day: Day) -> None:
    """The alarm is acknowledged, the proposed litres given, a board looked after; each is ticked off."""
    page, first = day.page, day.page.locator("main section").first
    first.get_by_role("button", name=day.says("alarm.acknowledge")).first.click()
    page.get_by_role("status").filter(has_text=day.says("command.done")).first.wait_for()
    day.reads("Grow-out bin 3", day.says("alarm.seen_by", who="Ann", at="06:40"))
    water = day.task("water", "Grow-out bin 1")
    litres = water.locator("[name=kg]").input_value()
    water.get_by_role("button", name=day.says("task_do.water")).click()
    entry = day.written()
    assert (entry.subject, entry.kind) == ("bin-1", "water")
    assert entry.body["kg"] == float(litres.replace(",", "."))
    day.task("board", "node-12").get_by_role("button").click()
    playwright_api.expect(day.task("board", "node-12")).to_have_count(0)
    playwright_api.expect(day.task("water", "Grow-out bin 1")).to_have_count(0)
    page.locator("#today .did summary").click()
    done = " ".join(page.locator("#today .did").inner_text().replace("\u00a0", " ").split())
    assert re.search(rf"Grow-out bin 1 ?: .*{re.escape(litres)}.* – Ann, 06:4\d", done), done
    assert re.search(r"node-12 – Ann, 06:4\d", done), done


def write_of_cohorts(day: Day) -> None:
    """First flies, a move, a new cohort, flies, eggs, and a slip that is corrected."""
    page = day.page
    day.quick("first_flies")
    day.reads("pupae-1", day.says("field.event"), day.says("seen.first_emerged"))
    saw = day.write_down()
    assert (saw.subject, saw.kind, saw.body["event"]) == ("pupae-1", "saw", "first_emerged")
    day.part("cohorts")
    assert not re.search(rf"{re.escape(day.says('seen.first_emerged'))}[^.]*pupae-1", day.text())
    day.quick("move")
    moved = day.write_down(place="bin-2")
    assert (moved.kind, moved.body["place"]) == ("move", "bin-2")
    day.reads(moved.subject, "Grow-out bin 2")
    day.quick("start")
    name = page.locator("form.entry [name=name]").input_value()
    begun = day.write_down(grams="2", place="tray-3")
    assert (begun.subject, begun.kind, begun.body["grams"], begun.body["stage"]) == (
        name,
        "start",
        2.0,
        "egg",
    )
    day.reads(name, day.says("stage.egg"), "Hatching tray 3")
    day.quick("flies")
    counted = day.write_down(flies="40")
    assert (counted.kind, counted.body["flies"]) == ("flies", 40)
    day.quick("eggs")
    eggs = day.write_down(grams="15")
    assert (eggs.kind, eggs.body["grams"]) == ("collect", 15)
    correct(day, eggs)


def correct(day: Day, slip: LogbookEntry) -> None:
    """It was 1.5 grams; the book keeps both, and only the newer one counts."""
    page = day.page
    day.part("now")
    page.locator(".quick").get_by_role("link", name=day.says("task_do.correct"), exact=True).click()
    page.locator(f"a[href='/logbook/{slip.entry_id}/correct']").click()
    page.locator("form.entry").first.wait_for()
    mended = day.write_down(grams="1.5")
    assert (mended.corrects, mended.body["grams"]) == (slip.entry_id, 1.5)
    day.part("logbook")
    amount = day.words.number(1.5, 1)
    assert re.search(rf"Love cage 1[^0-9]*{re.escape(amount)} ", day.text())


def put_a_place_aside(day: Day) -> None:
    """A tray is washed for an hour, and Now says who said so and until when."""
    day.part("now")
    tray = day.page.locator("section.card").filter(has_text="Hatching tray 2")
    tray.locator("summary").first.click()
    tray.get_by_role("link", name="Hatching tray 2").first.click()
    day.page.locator("form[action='/places/tray-2/aside'] button").click()
    entry = day.written()
    assert (entry.subject, entry.kind) == ("tray-2", "aside")
    day.part("now")
    until = day.words.clock(entry.body["until_ms"])  # type: ignore[arg-type]
    day.reads(day.words.n("now.need", 1), "Grow-out bin 3", day.says("state.unguarded"), "Hatching tray 2")
    tray.locator("summary").first.click()
    day.reads(
        "Hatching tray 2", day.says("unguarded.aside", until=until, who="Ann", at="").partition("Ann")[0]
    )


def look_in_the_evening(day: Day) -> None:
    """The page that is open follows; the running night begins, and what is over can be seen all at once."""
    if day.scripts:
        # The tray that was put aside is unfolded, and follows all the same.
        hot = day.words.number(44.3, 1)
        playwright_api.expect(day.page.locator("main")).not_to_contain_text(hot, timeout=20_000)
    day.part("now")
    day.reads(day.words.n("now.need", 1), "Hatching tray 2", day.says("today.title"), "node-77")
    assert day.words.value("substrate_temperature", 44.3) not in day.text(), "the bin has cooled down"
    assert not any("node-12" in task or day.says("today.water") in task for task in day.tasks())
    day.part("night")
    day.reads(day.says("night.so_far"), day.says("night.week_heading"))
    if day.in_english:
        day.reads("Tonight so far", "Thu 24 Sep 18:00 until now")
    day.part("alarms")
    day.reads(day.says("alarms.over"), "node-04", day.says("alarms.journal"), "Grow-out bin 3")
    day.page.get_by_role("button", name=day.says("alarms.see_all")).click()
    day.page.get_by_role("status").filter(has_text=day.says("command.done")).first.wait_for()
    assert day.says("alarms.over") not in day.text()
    day.part("logbook")
    # What was said of the tray is the newest; the first watering of the morning the oldest of the day.
    day.reads("Hatching tray 2", "flies-1", day.words.number(1.5, 1), "pupae-1", "Grow-out bin 1")
