"""What is written on a phone without a connection waits there: handed in once, in order, at its time."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING

import httpx
import pytest
from browser import Tab, phone_at
from page_farm import PageFarm
from page_keys import encrypted, make_page_keys, trusting_home

from monitor.farm.entries import EntryWriter
from monitor.logbook.bin_entries import BinEntryKind
from monitor.logbook.cohort_entries import CohortEntryKind
from monitor.page.server import PageServer
from monitor.records import MS_PER_DAY, MS_PER_MINUTE, LogbookEntry

if TYPE_CHECKING:
    from playwright.sync_api import BrowserContext, Dialog, Page, Route

pytestmark = [pytest.mark.browser, pytest.mark.slow, pytest.mark.timeout(240)]

NAME = "farm.test"
SHIFTED = "const real = Date.now; Date.now = () => real() + Number(localStorage.getItem('shift') || 0);"
STEP_MS = 7 * MS_PER_MINUTE


class Yard:
    """The farm and its server on one port, which can go away and come back, with a phone's pages."""

    def __init__(self, farm: PageFarm) -> None:
        self.farm = farm
        self.server = PageServer(farm.context, port=0)
        self.server.start()
        self.port = int(self.server.address.rpartition(":")[2])
        self.address = f"http://{NAME}:{self.port}"

    def restart(self) -> None:
        """The same address again."""
        self.server.stop()
        self.server = PageServer(self.farm.context, port=self.port)
        self.server.start()

    def entries(self) -> list[LogbookEntry]:
        """All that was written, in the order in which it was."""
        return sorted(self.farm.service.store.logbook.every(), key=lambda entry: entry.entry_id or 0)

    def later(self, page: Page) -> None:
        """Some minutes go by, for the phone and for the farm."""
        self.farm.clock.now_ms += STEP_MS
        shift = "localStorage.setItem('shift', Number(localStorage.getItem('shift') || 0) + %d)"
        page.evaluate(shift % STEP_MS)


@pytest.fixture(scope="module")
def filled(page_farm: PageFarm) -> PageFarm:
    """Bins are full and a cohort lives since days."""
    now_ms = page_farm.clock()
    writer = EntryWriter(page_farm.service.store, page_farm.plan(), "Ann", now_ms)
    fill = {"kg": 20.0, "moisture": 0.65, "surface_m2": 0.24}
    for place in ("bin-1", "bin-2"):
        writer.write(place, BinEntryKind.FILL, now_ms - MS_PER_DAY, fill)
    start = {"place": "room-a", "stage": "larva", "animals": 5000}
    writer.write("c1", CohortEntryKind.START, now_ms - 20 * MS_PER_DAY, start)
    return page_farm


@pytest.fixture
def yard(filled: PageFarm) -> Iterator[Yard]:
    """The farm as the phone finds it."""
    yard = Yard(filled)
    yield yard
    yard.server.stop()


def opened(context: BrowserContext, address: str) -> Page:
    page = context.new_page()
    page.goto(address)
    return page


def tick(page: Page) -> None:
    """The page looks whether it is live."""
    page.evaluate("dispatchEvent(new Event('online'))")


def logged_in(context: BrowserContext, yard: Yard) -> Page:
    context.add_init_script(SHIFTED)
    page = context.new_page()
    Tab(page, yard.address).log_in()
    assert page.evaluate("isSecureContext") is False, "served under a name like any phone's"
    return page


class SecureYard(Yard):
    """The same over HTTPS, by the farm's own CA."""

    def __init__(self, farm: PageFarm, keys: Path) -> None:
        self.farm, self.keys, self.plain, self.port = farm, keys, 0, 0
        self.start()

    def start(self) -> None:
        """On the same ports again."""
        self.server = PageServer(
            self.farm.context, port=self.plain, encrypted=encrypted(self.keys, self.port)
        )
        self.server.start()
        addresses = (self.server.address, self.server.encrypted_address)
        self.plain, self.port = (int(address.rpartition(":")[2]) for address in addresses)
        self.address = f"https://{NAME}:{self.port}"


def waiting(page: Page) -> int:
    """How much waits in the phone's own database."""
    text = """() => new Promise((resolve) => {
      const asked = indexedDB.open("rearing", 1);
      asked.onsuccess = () => {
        const count = asked.result.transaction("waiting").objectStore("waiting").count();
        count.onsuccess = () => { asked.result.close(); resolve(count.result); };
      }; })"""
    return int(page.evaluate(text))


def submit(form: str, **values: str) -> Callable[[Page], None]:
    def fill(page: Page) -> None:
        for name, value in values.items():
            field = page.locator(f"{form} [name={name}]").first
            if field.evaluate("each => each.tagName") == "SELECT":
                field.select_option(value)
            else:
                field.fill(value)
        page.locator(f"{form} button:not([name=change])").first.click()

    return fill


ENTRY, WITHDRAW = "form.entry", "form.entry.stack"
WORK: list[tuple[str, Callable[[Page], None]]] = [
    ("/bins/bin-1/write?what=water", submit(ENTRY, kg="1.5")),
    ("/bins/bin-1/write?what=weigh", submit(ENTRY, kg="21")),
    ("/bins/bin-1/write?what=stir", submit(ENTRY, note="by hand")),
    ("/bins/bin-2/write?what=feed", submit(ENTRY, kg="2", moisture="70 %")),
    ("/bins/bin-2/write?what=test", submit(ENTRY, moisture="66 %")),
    ("/bins/bin-2/write?what=fan", submit(ENTRY, on="on")),
    ("/cohorts/c1/write?what=count", submit(ENTRY, animals="4800", stage="larva")),
    ("/cohorts/c1/write?what=saw", submit(ENTRY, event="first_prepupae")),
    ("/logbook/1/correct", submit(ENTRY, kg="19")),
    ("/logbook/2/correct", submit(ENTRY, note="was so")),
    ("/bins/bin-1/write?what=water", submit(ENTRY, kg="0.5")),
    ("/alarms", submit("form[action='/alarms/acknowledge']")),
]


class Meddler:
    """Loses one answer and ends the server in the middle of handing in."""

    def __init__(self, yard: Yard) -> None:
        self.yard, self.posts, self.lost = yard, list[str](), list[str]()

    def __call__(self, route: Route) -> None:
        if route.request.method != "POST":
            route.continue_()
            return
        self.posts.append(route.request.url)
        if len(self.posts) == 3:
            # It was written, but nobody hears of it.
            self._hand_in(route)
            self.lost.append(route.request.url)
            route.abort()
            return
        if len(self.posts) == 7:
            self.yard.server.stop()
        route.continue_()

    def _hand_in(self, route: Route) -> None:
        request = route.request
        address = request.url.replace(NAME, "127.0.0.1")
        headers = {**request.all_headers(), "host": f"{NAME}:{self.yard.port}"}
        answer = httpx.post(address, content=request.post_data, headers=headers, trust_env=False)
        assert answer.json()["state"] == "done"


def make_all(yard: Yard, first: Page) -> list[int]:
    """Each piece of work in a tab of its own while the network is off; gives when each was made."""
    made, phone = [], first.context
    pages = [opened(phone, yard.address + path) for path, _ in WORK]
    phone.set_offline(True)
    for page, (_, fill) in zip(pages, WORK, strict=True):
        yard.later(first)
        made.append(yard.farm.clock())
        page.bring_to_front()
        fill(page)
        page.locator(".kept").wait_for(timeout=20_000)
        assert "Kept on this phone" in page.locator(".kept").inner_text()
    return made


def all_handed_in(tab: Page) -> bool:
    """Whether nothing waits any more, within three quarters of a minute."""
    for _ in range(45):
        tab.wait_for_timeout(1_000)
        with suppress(Exception):  # A page that was kept is loaded anew meanwhile.
            if waiting(tab) == 0:
                return True
    return False


def test_twelve_of_every_kind_without_a_connection_are_there_once_in_order(
    yard: Yard, tmp_path: Path
) -> None:
    known = len(yard.entries())
    with phone_at(tmp_path, NAME) as phone:
        first = logged_in(phone, yard)
        made = make_all(yard, first)
        assert waiting(first) == 12 and len(yard.entries()) == known
        first.bring_to_front()
        first.locator("#waiting summary", has_text=": 12.").wait_for()
        first.locator("html.stale").wait_for()
        assert "No connection" in first.locator("#waiting [role=status]").inner_text()
    meddler = Meddler(yard)
    with phone_at(tmp_path, NAME) as phone:
        phone.add_init_script(SHIFTED)
        phone.route("**/*", meddler)
        tabs = [phone.new_page(), phone.new_page()]
        for tab in tabs:
            with suppress(Exception):
                tab.goto(yard.address + "/bins")
        tabs[0].wait_for_timeout(9_000)
        yard.restart()
        assert all_handed_in(tabs[1]), tabs[1].locator("#waiting").text_content()
    assert meddler.lost and len(meddler.posts) > 12
    written = yard.entries()[known:]
    kinds = [entry.kind for entry in written]
    assert kinds == ["water", "weigh", "stir", "feed", "test", "fan", "count", "saw", "fill", "fill", "water"]
    for entry, at_ms in zip(written, made, strict=False):
        if entry.corrects is None:
            # The farm's clock stands between the steps, the phone's goes on.
            assert abs(entry.at_ms - at_ms) < STEP_MS / 2, entry
    assert any(state.acknowledged for state in yard.farm.service.store.journal.states().values())


def kept_pages(page: Page) -> int:
    """How many pages the phone keeps for the yard."""
    return int(
        page.evaluate("caches.open('pages-1').then((pages) => pages.keys()).then((keys) => keys.length)")
    )


def test_over_https_twelve_are_made_on_pages_that_open_without_a_connection(
    filled: PageFarm, tmp_path: Path
) -> None:
    keys = tmp_path / "boards"
    keys.mkdir()
    make_page_keys(keys)
    home, profile = trusting_home(tmp_path / "home", keys), tmp_path / "profile"
    yard = SecureYard(filled, keys)
    now_ms = filled.clock()
    writer = EntryWriter(filled.service.store, filled.plan(), "Ann", now_ms)
    for place in ("bin-1", "bin-2"):
        writer.write(place, BinEntryKind.WATER, now_ms - STEP_MS, {"kg": 1.0})
    first, second = (entry.entry_id for entry in yard.entries()[-2:])
    # Another two entries are corrected, and a place is put aside instead of an alarm acknowledged.
    numbers = {
        "/logbook/1/correct": f"/logbook/{first}/correct",
        "/logbook/2/correct": f"/logbook/{second}/correct",
    }
    work = [(numbers.get(path, path), fill) for path, fill in WORK[:-1]]
    work.append(("/places/bin-4", submit("form[action='/places/bin-4/aside']")))
    try:
        with phone_at(profile, NAME, home) as phone:
            phone.add_init_script(SHIFTED)
            page = phone.new_page()
            Tab(page, yard.address).log_in()
            for _ in range(100):
                page.wait_for_timeout(300)
                if page.evaluate("navigator.serviceWorker.controller !== null"):
                    break
            for path, _ in work:
                page.goto(yard.address + path)
                page.wait_for_timeout(200)
            assert kept_pages(page) >= len(work)
        known, made = len(yard.entries()), []
        yard.server.stop()
        with phone_at(profile, NAME, home) as phone:
            phone.add_init_script(SHIFTED)
            page = phone.new_page()
            for path, fill in work:
                page.goto(yard.address + path)
                yard.later(page)
                made.append(yard.farm.clock())
                fill(page)
                page.locator(".kept").wait_for(timeout=20_000)
            assert waiting(page) == 12 and len(yard.entries()) == known
        with phone_at(profile, NAME, home) as phone:
            phone.add_init_script(SHIFTED)
            tabs = [phone.new_page(), phone.new_page()]
            for tab in tabs:
                tab.goto(yard.address + "/bins")
            yard.start()
            assert all_handed_in(tabs[1]), tabs[1].locator("#waiting").text_content()
        written = yard.entries()[known:]
        assert len(written) >= 11
        for entry, at_ms in zip(written, made, strict=False):
            if entry.corrects is None:
                assert abs(entry.at_ms - at_ms) < STEP_MS / 2, entry
    finally:
        yard.server.stop()


def test_what_is_odd_is_asked_of_the_person_and_what_waits_can_be_changed_and_deleted(
    yard: Yard, tmp_path: Path
) -> None:
    known = len(yard.entries())
    with phone_at(tmp_path, NAME) as phone:
        page = logged_in(phone, yard)
        page.goto(f"{yard.address}/bins/bin-1/write?what=water")
        phone.set_offline(True)
        for litres in ("150", "0.7", "0.8"):
            submit(ENTRY, kg=litres)(page)
            page.locator(".kept").wait_for()
            page.locator(".kept").evaluate("each => each.remove()")
        rows = page.locator("#waiting li")
        page.locator("#waiting summary", has_text=": 3.").click()
        assert "150" in rows.nth(0).inner_text()
        rows.nth(1).get_by_role("button", name="Change").click()
        rows.nth(1).locator("[name=kg]").fill("0.9")
        rows.nth(1).locator("form button").first.click()
        rows.nth(1).locator("p", has_text="0.9").wait_for()
        page.once("dialog", lambda dialog: dialog.accept())
        rows.nth(2).get_by_role("button", name="Delete").click()
        page.locator("#waiting summary", has_text=": 2.").wait_for()
        phone.set_offline(False)
        rows.nth(0).get_by_role("button", name="Answer").click(timeout=20_000)
        assert len(yard.entries()) == known, "what comes after it about the same bin waits for the answer"
        page.get_by_role("button", name="Change it").click()
        page.locator("main [name=kg]").fill("1.1")
        page.locator("main form.entry button").first.click()
        page.locator(".said", has_text="1.1").first.wait_for()
        page.wait_for_function("document.getElementById('waiting').hidden", timeout=20_000)
    written = yard.entries()[known:]
    assert [entry.body["kg"] for entry in written] == [1.1, 0.9]


def test_logging_out_asks_and_another_person_hands_in_nothing(yard: Yard, tmp_path: Path) -> None:
    known = len(yard.entries())
    with phone_at(tmp_path, NAME) as phone:
        page = logged_in(phone, yard)
        page.goto(f"{yard.address}/bins/bin-1/write?what=stir")
        other = opened(phone, f"{yard.address}/me")
        page.bring_to_front()
        phone.set_offline(True)
        submit(ENTRY)(page)
        page.locator(".kept").wait_for()
        page.close()
        yard.server.stop()
        phone.set_offline(False)
        other.locator("#waiting summary", has_text=": 1.").wait_for(timeout=15_000)
        asked: list[str] = []

        def stay(dialog: Dialog) -> None:
            asked.append(dialog.message)
            dialog.dismiss()

        other.once("dialog", stay)
        other.get_by_role("button", name="Log out").click()
        assert "Not handed in yet: 1" in asked[0]
        yard.farm.context.keep_ended({"all of ann": 1})
        yard.restart()
        other.goto(f"{yard.address}/login")
        other.locator("#waiting summary", has_text="Ann").wait_for()
        other.wait_for_timeout(6_000)
        assert len(yard.entries()) == known and waiting(other) == 1
        Tab(other, yard.address).log_in()
        other.locator("#waiting").wait_for(state="hidden", timeout=20_000)
    yard.farm.context.keep_ended({})
    assert [entry.kind for entry in yard.entries()[known:]] == ["stir"]
