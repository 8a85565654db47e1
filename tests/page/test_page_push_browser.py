"""In Chromium: turned on by a tap, a message is shown by the worker, its button acknowledges, a tap leads on.

The service of a phone's maker is not reached from here: what the browser would have from it is stood in for
by keys of the test, and what was sent to that address is read with them and delivered by the browser itself.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import pytest
from browser import PHONE, Tab
from page_farm import PageFarm
from push_service import Browser as Keys
from push_service import PushService, plain, point, push_service, wait_for

from monitor.notify.policy import person_of, phone_of
from monitor.notify.push import INTERNET
from monitor.page.accounts import link_maker
from monitor.page.server import PageServer
from monitor.records import AlarmStatus, MessageKind, OutboxMessage, Priority

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

pytestmark = [pytest.mark.browser, pytest.mark.slow, pytest.mark.timeout(240)]

STAND_IN = """(() => {
  const keys = KEYS, plain = (text) => atob(text.replace(/-/g, "+").replace(/_/g, "/"));
  const bytes = (text) => Uint8Array.from(plain(text), (sign) => sign.charCodeAt(0));
  const subscription = (key) => ({
    endpoint: keys.endpoint, options: { applicationServerKey: key.buffer },
    getKey: (name) => bytes(keys[name]).buffer,
  });
  PushManager.prototype.getSubscription = async () => {
    const key = sessionStorage.getItem("made");
    return key ? subscription(bytes(key)) : null;
  };
  PushManager.prototype.subscribe = async (options) => {
    sessionStorage.setItem("made", document.getElementById("push").dataset.key);
    return subscription(options.applicationServerKey);
  };
})();"""
SHOWN = """async () => (await (await navigator.serviceWorker.ready).getNotifications()).map((one) => ({
  title: one.title, body: one.body, tag: one.tag, lang: one.lang, stays: one.requireInteraction,
  actions: one.actions.map((each) => each.title),
}))"""
CLOSE = """async (tag) => {
  const worker = await navigator.serviceWorker.ready;
  for (const one of await worker.getNotifications()) if (!tag || one.tag === tag) one.close();
}"""
CLICK = """async (action) => {
  const [notification] = await registration.getNotifications();
  dispatchEvent(new NotificationEvent("notificationclick", { notification, action }));
}"""


class Yard:
    """The farm, its page, a push service on loopback, and a browser tab with its keys."""

    def __init__(self, farm: PageFarm, server: PageServer, service: PushService, browser: Browser) -> None:
        self.farm, self.service, self.keys = farm, service, Keys()
        made = farm.service
        made.people._sender = replace(made.people._sender, reach=service.reach)
        farm.context.push_reach, farm.context.phones_changed = service.reach, made.people.changed.set
        made.link_for = self._link
        self.address = server.address
        self.context = browser.new_context(viewport=PHONE, locale="en-GB")  # type: ignore[arg-type]
        self.context.grant_permissions(["notifications"], origin=self.address)
        keys = {
            "endpoint": service.endpoint("phone"),
            "p256dh": plain(point(self.keys.private.public_key())),
            "auth": plain(self.keys.auth),
        }
        self.context.add_init_script(STAND_IN.replace("KEYS", json.dumps(keys)))
        self.page = self.context.new_page()
        self.tab = Tab(self.page, self.address)
        self.tab.log_in()
        self._registration = ""

    def _link(self, way: str, alarm_id: str) -> str:
        since_ms = self.farm.service.processor.site.state(alarm_id).since_ms
        link = link_maker(self.farm.context.link_key, "", lambda _: since_ms, self.farm.clock)
        return link(person_of(way), alarm_id) if phone_of(way) else ""

    def turn_on(self) -> None:
        self.page.goto(f"{self.address}/me/messages")
        self.page.get_by_role("button", name="Turn on messages on this phone").click()
        self.page.get_by_text("Turned on.").wait_for()
        self.farm.service._reload_if_wanted(self.farm.clock())

    def sent(self) -> bytes:
        """What the push service was handed last, as the browser reads it."""
        self.farm.service.worker.step(self.farm.clock())
        wait_for(lambda: self.service.came("phone"))
        return self.keys.read(self.service.came("phone")[-1].body)

    def deliver(self, data: bytes) -> None:
        """Have the browser wake the worker with it."""
        session = self.context.new_cdp_session(self.page)
        found = list[str]()

        def registered(event: dict[str, Any]) -> None:
            found.extend(each["registrationId"] for each in event["registrations"])

        session.on("ServiceWorker.workerRegistrationUpdated", registered)
        session.send("ServiceWorker.enable")
        for _ in range(50):
            if found:
                break
            self.page.wait_for_timeout(100)
        about = {"origin": self.address, "registrationId": found[0], "data": data.decode()}
        session.send("ServiceWorker.deliverPushMessage", about)

    def shown(self, count: int = 1) -> list[dict[str, Any]]:
        for _ in range(100):
            notes: list[dict[str, Any]] = self.page.evaluate(SHOWN)
            if len(notes) == count:
                return notes
            self.page.wait_for_timeout(100)
        raise AssertionError(notes)

    def click(self, action: str = "") -> None:
        self.context.service_workers[0].evaluate(CLICK, action)


@pytest.fixture(scope="module")
def service(tmp_path_factory: pytest.TempPathFactory) -> Iterator[PushService]:
    with push_service(tmp_path_factory.mktemp("push")) as opened:
        yield opened


@pytest.fixture
def yard(page_farm: PageFarm, served: PageServer, service: PushService, chromium: Browser) -> Iterator[Yard]:
    service.taken.clear()
    opened = Yard(page_farm, served, service, chromium)
    yield opened
    opened.context.close()
    for phone in page_farm.service.store.phones.every():
        page_farm.service.store.phones.remove(phone.phone_id)
    page_farm.context.push_reach = INTERNET


def hot(farm: PageFarm) -> str:
    """The high alarm about bin 3."""
    rules = farm.plan().rules
    return next(
        name
        for name, rule in rules.items()
        if (rule.place, rule.priority, rule.quantity) == ("bin-3", Priority.HIGH, "substrate_temperature")
    )


def alarm_message(yard: Yard) -> str:
    """An alarm that stands, waiting for the phone."""
    farm = yard.farm
    (phone,) = farm.service.store.phones.every()
    way, alarm_id = f"{phone.recipient}#{phone.phone_id}", hot(farm)
    message = OutboxMessage(
        way, MessageKind.ALARM, "HIGH Bin 3", "Spread it.", farm.clock(), Priority.HIGH, alarm_id
    )
    farm.service.store.outbox.add([message])
    return alarm_id


def wait_until_at(page: Page, path: str) -> None:
    for _ in range(100):
        with suppress(Exception):
            if page.evaluate("location.pathname") == path:
                return
        page.wait_for_timeout(100)
    raise AssertionError(page.url)


def test_from_the_tap_to_the_acknowledged_alarm(yard: Yard) -> None:
    page, farm = yard.page, yard.farm
    yard.turn_on()
    assert page.get_by_text("This phone: messages are on.").is_visible()
    assert not page.get_by_role("button", name="Turn on messages on this phone").is_visible()
    assert yard.tab.overflow() <= 0
    alarm_id = alarm_message(yard)
    data = yard.sent()
    yard.deliver(data)
    (note,) = yard.shown()
    assert (note["title"], note["body"]) == ("HIGH Bin 3", "Spread it.")
    assert (note["tag"], note["stays"], note["actions"]) == (alarm_id, True, ["I have seen it"])
    # The same again takes the place of the one before; another stands beside it.
    yard.deliver(data)
    page.wait_for_timeout(500)
    assert len(yard.shown()) == 1
    yard.deliver(
        json.dumps({"title": "Night", "body": "quiet", "tag": "night_report", "to": "/night"}).encode()
    )
    assert {note["tag"] for note in yard.shown(2)} == {alarm_id, "night_report"}
    page.evaluate(CLOSE, "night_report")
    yard.shown(1)
    assert farm.service.processor.site.state(alarm_id).status is AlarmStatus.UNACKNOWLEDGED
    yard.click("seen")
    wait_for(lambda: farm.service.processor.site.state(alarm_id).status is AlarmStatus.ACKNOWLEDGED)
    for _ in range(50):
        (note,) = yard.shown()
        if "Noted" in note["body"]:
            break
        page.wait_for_timeout(100)
    assert note["body"] == "Noted: you have seen it." and note["actions"] == []
    # A tap on it leads to the place.
    yard.click()
    wait_until_at(page, "/places/bin-3")
    assert yard.tab.complaints == []


def test_a_button_that_reaches_nobody_says_so_and_can_be_tried_again(yard: Yard) -> None:
    yard.page.goto(f"{yard.address}/me/messages")
    yard.page.evaluate("navigator.serviceWorker.ready.then(() => true)")
    said = {"title": "HIGH Bin 3", "body": "hot", "tag": "a", "to": "/places/bin-3", "stays": True}
    seen = {"to": "/a/not-a-token", "button": "Seen", "done": "done", "failed": "not noted"}
    yard.deliver(json.dumps({**said, "seen": seen}).encode())
    yard.shown()
    yard.click("seen")
    for _ in range(50):
        (note,) = yard.shown()
        if note["body"] == "not noted":
            break
        yard.page.wait_for_timeout(100)
    assert (note["body"], note["stays"], note["actions"]) == ("not noted", True, ["Seen"])


def test_what_is_no_message_of_ours_is_shown_all_the_same_and_leads_nowhere_else(yard: Yard) -> None:
    """A browser takes the right to push from a page that shows nothing."""
    yard.page.goto(f"{yard.address}/me/messages")
    yard.page.evaluate("navigator.serviceWorker.ready.then(() => true)")
    yard.deliver(b"no json")
    (note,) = yard.shown()
    assert note["title"]
    yard.page.evaluate(CLOSE, "")
    yard.shown(0)
    yard.deliver(json.dumps({"title": "t", "to": "https://elsewhere.example/x"}).encode())
    yard.shown()
    yard.click()
    wait_until_at(yard.page, "/")
    assert yard.page.url.startswith(yard.address)


def test_a_browser_that_was_told_no_is_told_how_to_change_that(
    page_farm: PageFarm, served: PageServer, chromium: Browser
) -> None:
    assert page_farm.clock()
    context = chromium.new_context(viewport=PHONE, locale="en-GB")  # type: ignore[arg-type]
    context.add_init_script("Object.defineProperty(Notification, 'permission', { get: () => 'denied' });")
    page = context.new_page()
    Tab(page, served.address).log_in()
    page.goto(f"{served.address}/me/messages")
    page.get_by_text("Allow notifications").wait_for()
    assert not page.get_by_role("button", name="Turn on messages on this phone").is_visible()
    context.close()
