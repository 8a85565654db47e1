"""What goes wrong with what waits on a phone: strange answers, other people, no storage, second taps."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import httpx
import pytest
from browser import open_chromium
from page_farm import HELPER_PASSWORD, PASSWORD, PageFarm, form_token

from monitor.page.security import hash_password
from monitor.page.server import PageServer
from monitor.records import MS_PER_HOUR, MS_PER_MINUTE, LogbookEntry

if TYPE_CHECKING:
    from playwright.sync_api import Browser, BrowserContext, Dialog, Page, Route

pytestmark = [pytest.mark.browser, pytest.mark.slow, pytest.mark.timeout(200)]

WATER = "/bins/bin-1/write?what=water"
PORTAL = "<!doctype html><title>Wi-Fi</title><h1>Log in to the Wi-Fi of the market</h1>"
KEPT, ROWS = ".kept", "#waiting li"


class Phone:
    """A phone with the farm's page: what stands between them is chosen by each test."""

    def __init__(self, farm: PageFarm, context: BrowserContext, address: str) -> None:
        self.farm, self.context, self.address = farm, context, address

    def open(self, path: str) -> Page:
        page = self.context.new_page()
        page.goto(self.address + path)
        return page

    def log_in(self, name: str, password: str = PASSWORD) -> Page:
        page = self.open("/login")
        page.get_by_label("Your name").fill(name)
        page.get_by_label("Password").fill(password)
        page.get_by_role("button", name="Log in").click()
        page.get_by_role("navigation", name="Parts of the page").wait_for(state="attached")
        return page

    def entries(self) -> list[LogbookEntry]:
        return sorted(self.farm.service.store.logbook.every(), key=lambda entry: entry.entry_id or 0)


def pour(page: Page, litres: str) -> None:
    """Type it and send it."""
    page.locator("form.entry [name=kg]").fill(litres)
    page.locator("form.entry button:not([name=change])").first.click()


def kept(page: Page, litres: str) -> None:
    """The same, and it is kept on the phone."""
    page.evaluate("document.querySelectorAll('.kept').forEach((each) => each.remove())")
    pour(page, litres)
    page.locator(KEPT).wait_for(timeout=20_000)


def tick(page: Page) -> None:
    """The page looks whether it is live."""
    page.evaluate("dispatchEvent(new Event('online'))")


def becomes(page: Page, condition: str, timeout: float = 25_000) -> None:
    """Until it holds: asked from outside, since the page's own rules forbid what Playwright would do."""
    for _ in range(round(timeout / 200)):
        if page.evaluate(condition):
            return
        page.wait_for_timeout(200)
    raise AssertionError((condition, page.locator("#waiting").text_content()))


def all_in(page: Page) -> None:
    becomes(page, "document.querySelectorAll('#waiting li').length === 0")


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with open_chromium() as browser:
        yield browser


@pytest.fixture(scope="module")
def filled(filled: PageFarm) -> PageFarm:
    """The same with a password for helpers."""
    filled.context.change_helper_password(hash_password(HELPER_PASSWORD))
    return filled


@pytest.fixture
def phone(filled: PageFarm, browser: Browser) -> Iterator[Phone]:
    server = PageServer(filled.context, port=0)
    server.start()
    # As over plain http, where there is no service worker.
    context = browser.new_context(
        viewport={"width": 360, "height": 740},
        locale="en-GB",
        service_workers="block",
        timezone_id="Asia/Tokyo",
    )
    context.set_default_timeout(12_000)
    yield Phone(filled, context, server.address)
    context.close()
    server.stop()


class Between:
    """Something between phone and monitor, which answers in its place: where, and what."""

    def __init__(self, context: BrowserContext) -> None:
        self.where, self.status, self.body, self.content_type = tuple[str, ...](), 200, "", ""
        context.route("**/*", self._answer)

    def _answer(self, route: Route) -> None:
        if route.request.url.endswith(self.where):
            route.fulfill(status=self.status, body=self.body, content_type=self.content_type)
        else:
            route.continue_()


def refusing(page: Page) -> list[str]:
    """What the page asks from now on, each time answered with no."""
    asked: list[str] = []

    def answer(dialog: Dialog) -> None:
        asked.append(dialog.message or dialog.type)
        dialog.dismiss()

    page.on("dialog", answer)
    return asked


STRANGE = (
    (200, PORTAL, "text/html"),
    (200, '{"ok": true}', "application/json"),
    (200, '{"state": "thanks"}', "application/json"),
    (404, PORTAL, "text/html"),
    (502, "<h1>Bad Gateway</h1>", "text/html"),
    (511, PORTAL, "text/html"),
)
"""What a portal of a Wi-Fi or a web server in between answers in the monitor's place."""


def test_an_answer_that_is_not_the_monitors_is_taken_for_none(phone: Phone) -> None:
    page, known, litres = phone.log_in("Ann"), len(phone.entries()), list[float]()
    page.goto(phone.address + WATER)
    between = Between(phone.context)
    for where in (("/write",), ("/write", "/session")):
        for status, body, content_type in STRANGE:
            between.where, between.status, between.body = where, status, body
            between.content_type = content_type
            litres.append(1.0 + len(litres) / 10)
            kept(page, f"{litres[-1]:.1f}")
            if len(where) == 2:
                tick(page)
                becomes(page, "document.documentElement.classList.contains('stale')")
            assert page.locator(".fault").count() == 0 and len(phone.entries()) == known, (where, status)
    assert page.locator(ROWS).count() == len(litres)
    between.where = ()
    all_in(page)
    assert [entry.body["kg"] for entry in phone.entries()[known:]] == litres


def test_a_connection_that_hangs_is_noticed_within_ten_seconds_and_the_page_is_live_only_with_new_values(
    phone: Phone,
) -> None:
    page = phone.log_in("Ann")
    page.goto(f"{phone.address}/places/bin-3")
    page.wait_for_timeout(1000)
    assert not page.evaluate("document.documentElement.classList.contains('stale')")
    phone.context.route("**/*", lambda _route: None)
    becomes(page, "document.documentElement.classList.contains('stale')", 10_000)
    assert "No connection. What you see is" in page.locator("#waiting [role=status]").inner_text()
    assert page.evaluate("getComputedStyle(document.querySelector('main')).filter") == "grayscale(1)"
    # Somebody is about to type in the page: it stays as it is, and grey, when the connection is back.
    page.locator("main form [name=note]").first.focus()
    phone.context.unroute_all()
    becomes(page, "document.querySelector('#waiting [role=status]').textContent.includes('is back')")
    assert page.evaluate("document.documentElement.classList.contains('stale')")
    page.evaluate("document.activeElement.blur()")
    becomes(page, "!document.documentElement.classList.contains('stale')")


def test_a_server_that_fails_at_one_entry_holds_up_no_other_thing_for_good(
    phone: Phone, monkeypatch: pytest.MonkeyPatch
) -> None:
    page, known = phone.log_in("Ann"), len(phone.entries())
    stir = phone.open("/bins/bin-1/write?what=stir")
    place = phone.open("/places/tray-1")
    phone.context.set_offline(True)
    stir.bring_to_front()
    stir.locator("form.entry button").first.click()
    stir.locator(KEPT).wait_for()
    place.bring_to_front()
    place.locator("form[action$='/aside'] button").click()
    place.locator(KEPT).wait_for()

    def broken(*_: object) -> None:
        raise RuntimeError("on purpose")

    with monkeypatch.context() as patch:
        patch.setattr("monitor.page.bins.read_form", broken)
        phone.context.set_offline(False)
        becomes(place, "document.querySelectorAll('#waiting li').length === 1", 50_000)
        said = "document.querySelector('#waiting li').textContent.includes('in the program failed')"
        becomes(place, said)
    page.bring_to_front()
    becomes(page, "document.querySelectorAll('#waiting li').length === 0", 70_000)
    assert [entry.kind for entry in phone.entries()[known:]] == ["aside", "stir"]


def test_a_refused_entry_that_another_tab_handed_in_is_still_there_to_be_corrected(phone: Phone) -> None:
    page, known = phone.log_in("Ann"), len(phone.entries())
    page.goto(phone.address + WATER)
    phone.context.set_offline(True)
    kept(page, "much")
    kept(page, "1.3")
    stir = page.locator("form.entry")
    assert stir.locator("[name=kg]").input_value() != "1.3", "the form is as it was"
    phone.context.set_offline(False)
    becomes(page, "document.querySelectorAll('#waiting .fault').length > 0")
    assert "much" in (page.locator(ROWS).first.text_content() or "")
    assert len(phone.entries()) == known, "what follows about the same bin waits"
    page.locator("#waiting summary").click()
    page.locator(ROWS).first.get_by_role("button", name="Change").click()
    page.locator(f"{ROWS} [name=kg]").fill("1.2")
    page.locator(f"{ROWS} form button").first.click()
    all_in(page)
    assert [entry.body["kg"] for entry in phone.entries()[known:]] == [1.2, 1.3]


def test_a_second_tap_is_asked_and_a_change_after_handing_in_is_told(phone: Phone) -> None:
    page, known = phone.log_in("Ann"), len(phone.entries())
    page.goto(phone.address + WATER)
    asked = refusing(page)
    phone.context.set_offline(True)
    kept(page, "1.4")
    pour(page, "1.4")
    page.wait_for_timeout(300)
    assert len(asked) == 1 and "Keep it once more?" in asked[0] and page.locator(ROWS).count() == 1
    page.locator("#waiting summary").click()
    page.locator(ROWS).first.get_by_role("button", name="Change").click()
    page.locator(f"{ROWS} [name=kg]").fill("1.7")
    # The other tab hands it in as it was.
    other = phone.context.new_page()
    phone.context.set_offline(False)
    other.goto(f"{phone.address}/bins")
    other.bring_to_front()
    becomes(other, "document.getElementById('waiting').hidden")
    page.bring_to_front()
    page.locator(f"{ROWS} form button").first.click()
    becomes(page, "document.querySelectorAll('#waiting .fault').length > 0")
    assert "other values" in (page.locator(f"{ROWS} .fault").text_content() or "")
    assert [entry.body["kg"] for entry in phone.entries()[known:]] == [1.4]


@pytest.mark.parametrize("how", ["missing", "refuses", "full", "never answers"])
def test_a_browser_that_keeps_nothing_says_so_and_eats_no_form(phone: Phone, how: str) -> None:
    broken = {
        "missing": "Object.defineProperty(window, 'indexedDB', { value: undefined });",
        "refuses": "IDBFactory.prototype.open = () => { throw new DOMException('no', 'SecurityError') };",
        "full": "IDBObjectStore.prototype.put = () => { throw new DOMException('no', 'QuotaExceeded') };",
        "never answers": "IDBFactory.prototype.open = () => ({});",
    }[how]
    phone.context.add_init_script(broken)
    page, known = phone.log_in("Ann"), len(phone.entries())
    page.goto(phone.address + WATER)
    phone.context.set_offline(True)
    pour(page, "1.6")
    page.locator(KEPT).wait_for()
    assert "nothing was sent" in page.locator(KEPT).inner_text()
    assert page.locator("form.entry [name=kg]").input_value() == "1.6", "still there"
    becomes(page, "document.querySelector('#waiting [role=status]').textContent.includes('keeps nothing')")
    phone.context.set_offline(False)
    becomes(page, "!document.documentElement.classList.contains('stale')")
    # It is written, and the answer is lost; sent again it is known.
    lost: list[int] = []

    def lose(route: Route) -> None:
        if route.request.method == "POST" and not lost:
            lost.append(route.fetch().status)
            route.abort()
        else:
            route.continue_()

    phone.context.route("**/write", lose)
    page.locator("form.entry button").first.click()
    page.locator(KEPT, has_text="No answer came").wait_for()
    page.locator("form.entry button").first.click()
    page.wait_for_url("**/bins/bin-1?wrote=*")
    assert lost == [200] and [entry.body["kg"] for entry in phone.entries()[known:]] == [1.6]


@pytest.mark.parametrize("set_hours", [-26, 7], ids=["a day back", "hours ahead"])
def test_a_clock_that_is_set_while_something_waits_is_asked_with_the_time_by_the_older_clock(
    phone: Phone, set_hours: int
) -> None:
    phone.context.add_init_script(
        "const real = Date.now; Date.now = () => real() + Number(localStorage.getItem('shift') || 0);"
    )
    phone.farm.context.invented = False
    try:
        page, known = phone.log_in("Ann"), len(phone.entries())
        page.goto(phone.address + WATER)
        page.wait_for_timeout(500)
        phone.context.set_offline(True)
        kept(page, "1.8")
        page.evaluate(f"localStorage.setItem('shift', {set_hours * MS_PER_HOUR})")
        phone.context.set_offline(False)
        becomes(page, "document.querySelectorAll('#waiting .fault').length > 0")
        said = page.locator(f"{ROWS} .fault").text_content() or ""
        assert ("was set while this waited" in said) or ("differ by more than a day" in said)
        page.locator("#waiting summary").click()
        page.get_by_role("button", name="Answer").click()
        page.locator("main form.entry button").first.click()
        page.wait_for_url("**/bins/bin-1?wrote=*")
        entry = phone.entries()[-1]
        assert len(phone.entries()) == known + 1
        assert abs(entry.at_ms - phone.farm.clock()) < MS_PER_MINUTE, "made just now by the farm's clock"
    finally:
        phone.farm.context.invented = True


def test_a_stolen_phone_hands_in_nothing_and_the_next_person_reads_nothing_of_it(
    phone: Phone,
) -> None:
    page, known = phone.log_in("Cleo", HELPER_PASSWORD), len(phone.entries())
    page.goto(phone.address + WATER)
    phone.context.set_offline(True)
    kept(page, "1.9")
    # The owner ends all sessions of this person, on another phone.
    with httpx.Client(base_url=phone.address, trust_env=False) as owner:
        token = form_token(owner.get("/login").text)
        owner.post("/login", data={"form_token": token, "name": "Ann", "password": PASSWORD, "next": ""})
        token = form_token(owner.get("/me").text)
        assert owner.post("/me/sessions", data={"form_token": token, "name": "Cleo"}).status_code in (
            200,
            303,
        )
    phone.context.set_offline(False)
    tick(page)
    page.locator("#waiting summary", has_text="when Cleo logs in").wait_for()
    page.get_by_role("link", name="Log in").wait_for()
    kept(page, "2.9")
    page.wait_for_timeout(6_000)
    assert len(phone.entries()) == known and page.locator(ROWS).count() == 2
    # Whoever has another session there finds whose it is, and no word of it.
    other = phone.log_in("Ben", HELPER_PASSWORD)
    other.locator("#waiting summary", has_text="Cleo").wait_for()
    assert "2.9" not in (other.locator("#waiting").text_content() or "")
    other.wait_for_timeout(5_000)
    assert len(phone.entries()) == known
    # She has her phone again.
    phone.context.clear_cookies()
    own = phone.log_in("cleo", HELPER_PASSWORD)
    all_in(own)
    assert [entry.body["kg"] for entry in phone.entries()[known:]] == [1.9, 2.9]


def test_a_page_that_is_open_over_plain_http_is_not_lost_by_a_link_a_filter_or_a_reload(phone: Phone) -> None:
    page = phone.log_in("Ann")
    page.goto(f"{phone.address}/logbook")
    filtered = page.url
    form = phone.open(WATER)
    form.locator("form.entry [name=kg]").fill("2.2")
    phone.context.set_offline(True)
    page.bring_to_front()
    tick(page)
    becomes(page, "document.documentElement.classList.contains('stale')")
    page.get_by_role("button", name="Show").click()
    page.locator("#waiting [role=status]", has_text="cannot be opened").wait_for()
    page.locator("nav a").first.click()
    assert page.url == filtered and page.locator("h1").is_visible()
    form.bring_to_front()
    tick(form)
    becomes(form, "document.documentElement.classList.contains('stale')")
    asked = refusing(form)
    form.evaluate("setTimeout(() => location.reload(), 0)")
    form.wait_for_timeout(1_500)
    assert asked == ["beforeunload"] and form.locator("form.entry [name=kg]").input_value() == "2.2"


def test_a_question_stays_until_it_is_answered_whatever_changes_meanwhile(phone: Phone) -> None:
    """The page behind it renews itself when something changes; the question is no page of that kind."""
    page = phone.log_in("Ann")
    page.goto(f"{phone.address}/places/cage-2")
    known = len(phone.entries())
    page.evaluate(
        """() => { const form = document.querySelector("form[action$='/aside']");
        form.action = '/bins/bin-2/write'; form.querySelector('select').remove();
        for (const [name, value] of [['kind', 'water'], ['kg', '150']])
          form.append(Object.assign(document.createElement('input'), { type: 'hidden', name, value }));
        form.requestSubmit(); }"""
    )
    page.get_by_role("button", name="Yes").first.wait_for()
    for _ in range(3):
        phone.farm.context.feed.note()
        page.wait_for_timeout(2_000)
    page.get_by_role("button", name="Yes").first.click()
    page.wait_for_url("**wrote=*")
    assert [entry.body["kg"] for entry in phone.entries()[known:]] == [150.0]


def test_what_is_odd_is_asked_of_the_person_and_what_waits_can_be_changed_and_deleted(phone: Phone) -> None:
    page, known = phone.log_in("Ann"), len(phone.entries())
    page.goto(phone.address + WATER)
    phone.context.set_offline(True)
    for litres in ("150", "0.7", "0.8"):
        kept(page, litres)
    rows = page.locator(ROWS)
    page.locator("#waiting summary", has_text=": 3.").click()
    assert "150" in rows.nth(0).inner_text()
    # By the farm's clock and in its zone, wherever the phone thinks that it is.
    assert "Thu 06:4" in rows.nth(1).inner_text()
    rows.nth(1).get_by_role("button", name="Change").click()
    assert rows.nth(1).locator("[name=at]").input_value().startswith("2026-09-24T06:4")
    rows.nth(1).get_by_role("link", name="Leave it").click()
    rows.nth(1).get_by_role("button", name="Change").click()
    rows.nth(1).locator("[name=kg]").fill("0.9")
    rows.nth(1).locator("form button").first.click()
    rows.nth(1).locator("p", has_text="0.9").wait_for()
    page.once("dialog", lambda dialog: dialog.accept())
    rows.nth(2).get_by_role("button", name="Delete").click()
    page.locator("#waiting summary", has_text=": 2.").wait_for()
    phone.context.set_offline(False)
    rows.nth(0).get_by_role("button", name="Answer").click(timeout=20_000)
    assert len(phone.entries()) == known, "what comes after it about the same bin waits for the answer"
    page.get_by_role("button", name="Change it").click()
    page.locator("main [name=kg]").fill("1.1")
    page.locator("main form.entry button").first.click()
    page.locator(".said", has_text="1.1").first.wait_for()
    all_in(page)
    assert [entry.body["kg"] for entry in phone.entries()[known:]] == [1.1, 0.9]


def test_logging_out_with_something_waiting_asks(phone: Phone) -> None:
    page, known = phone.log_in("Ann"), len(phone.entries())
    page.goto(phone.address + WATER)
    other = phone.open("/me")
    page.bring_to_front()
    phone.context.route("**/write", lambda route: route.abort())
    kept(page, "2.1")
    other.bring_to_front()
    other.locator("#waiting summary", has_text=": 1.").wait_for()
    asked = refusing(other)
    other.get_by_role("button", name="Log out").click()
    other.wait_for_timeout(300)
    assert len(asked) == 1 and "Not handed in yet: 1" in asked[0] and other.url.endswith("/me")
    phone.context.unroute_all()
    all_in(other)
    other.get_by_role("button", name="Log out").click()
    other.wait_for_url("**/login")
    assert len(asked) == 1 and len(phone.entries()) == known + 1
