"""Messages on phones: turned on over HTTPS alone, listed, tried, ended; a stolen phone gets no more."""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Callable, Iterator
from dataclasses import replace

import httpx
import pytest
from page_farm import PageFarm, form_token
from push_service import Browser, PushService, push_service, raw, signed_claims, wait_for

from monitor.notify.push import INTERNET, public_key
from monitor.page import push
from monitor.records import MessageKind
from monitor.store.meta import PUSH_KEY
from monitor.store.outbox import Phone

ANDROID = "Mozilla/5.0 (Linux; Android 14) Chrome/126.0 Mobile"
PUBLIC = "https://updates.push.example.com/wpush/v2/"


@pytest.fixture(scope="module")
def service(tmp_path_factory: pytest.TempPathFactory) -> Iterator[PushService]:
    with push_service(tmp_path_factory.mktemp("push")) as opened:
        yield opened


@pytest.fixture
def farm(page_farm: PageFarm) -> Iterator[PageFarm]:
    """Nobody's phone is known."""
    yield page_farm
    for phone in page_farm.service.store.phones.every():
        page_farm.service.store.phones.remove(phone.phone_id)
    page_farm.context.push_reach = INTERNET
    page_farm.context.change_helper_password(None)


@pytest.fixture
def client(log_in: Callable[..., httpx.Client]) -> httpx.Client:
    return log_in()


def people(farm: PageFarm) -> list[str]:
    return [person.id for person in farm.plan().settings.recipients]


def fields(client: httpx.Client, phone: Phone, **more: str) -> dict[str, str]:
    token = form_token(client.get("/me/messages").text)
    keys = {"endpoint": phone.endpoint, "p256dh": phone.p256dh, "auth": phone.auth}
    return {"form_token": token, "recipient": phone.recipient, **keys, **more}


def turn_on(client: httpx.Client, phone: Phone, **more: str) -> httpx.Response:
    return client.post("/me/messages", data=fields(client, phone, **more), headers={"user-agent": ANDROID})


def known(farm: PageFarm) -> tuple[Phone, ...]:
    return farm.service.store.phones.every()


def test_a_phone_is_kept_with_whom_it_is_for_and_who_turned_it_on(
    farm: PageFarm, client: httpx.Client
) -> None:
    told = list[bool]()
    farm.context.phones_changed = lambda: told.append(True)
    first = people(farm)[0]
    phone = Browser().phone(f"{PUBLIC}a", first)
    answer = turn_on(client, phone)
    assert answer.status_code == 303 and told == [True]
    (kept,) = known(farm)
    assert (kept.recipient, kept.person, kept.role, kept.device) == (first, "Ann", "owner", "android")
    assert (kept.endpoint, kept.p256dh, kept.auth) == (phone.endpoint, phone.p256dh, phone.auth)
    page = client.get(answer.headers["location"]).text
    assert "Turned on." in page and "Android phone" in page and "turned on by Ann" in page
    assert hashlib.sha256(phone.endpoint.encode()).hexdigest() in page
    for secret in (phone.endpoint, phone.p256dh, phone.auth):
        assert secret not in page


def test_the_page_gives_the_public_key_and_never_the_secret(farm: PageFarm, client: httpx.Client) -> None:
    secret = farm.service.store.meta.kept_key(PUSH_KEY)
    page = client.get("/me/messages").text
    given = re.search(r'data-key="([^"]+)"', page)
    assert given is not None and given[1] == public_key(secret)
    assert secret.hex() not in page


def test_without_https_the_page_says_why_and_what_to_do(farm: PageFarm, client: httpx.Client) -> None:
    """As a phone asks over the farm's Wi-Fi, under a name that is not this computer's own."""
    token = form_token(client.get("/me/messages").text)
    elsewhere = {"host": "farm.test:8460"}
    page = client.get("/me/messages", headers=elsewhere).text
    assert "rearing-monitor page setup" in page and 'href="/phone"' in page
    assert 'id="push"' not in page and "push.js" not in page
    data = fields(client, Browser().phone(f"{PUBLIC}a", people(farm)[0])) | {"form_token": token}
    refused = client.post("/me/messages", data=data, headers=elsewhere)
    assert refused.status_code == 400 and known(farm) == ()


def test_it_says_that_it_is_never_the_only_way(client: httpx.Client) -> None:
    page = client.get("/me/messages").text
    assert "without internet" in page and "Never rely on them alone" in page
    assert "is told by phones with this page alone" not in page


def test_who_has_nothing_else_is_warned_of(
    farm: PageFarm, client: httpx.Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    settings = farm.plan().settings
    alone = settings.recipients[0].model_copy(
        update={"address": type(settings.recipients[0].address)("webpush://")}
    )
    plan = replace(farm.plan(), settings=settings.model_copy(update={"recipients": (alone,)}))
    monkeypatch.setattr(farm.context, "plan", lambda: plan)
    page = client.get("/me/messages").text
    assert f"{alone.id} is told by phones with this page alone" in page
    assert f"No phone takes messages for {alone.id} yet" in page
    turn_on(client, Browser().phone(f"{PUBLIC}a", alone.id))
    page = client.get("/me/messages").text
    assert "is told by phones with this page alone" in page and "No phone takes messages" not in page


def test_without_the_library_or_people_it_says_what_is_missing(
    farm: PageFarm, client: httpx.Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(push, "installed", lambda: False)
    assert "pip install &#39;rearing-monitor[push]&#39;" in client.get("/me/messages").text
    monkeypatch.undo()
    settings = farm.plan().settings.model_copy(update={"recipients": ()})
    monkeypatch.setattr(farm.context, "plan", lambda: replace(farm.plan(), settings=settings))
    assert "[[recipients]]" in client.get("/me/messages").text


def test_the_same_browser_is_one_phone_whoever_it_is_for(farm: PageFarm, client: httpx.Client) -> None:
    first, second = people(farm)[:2]
    phone = Browser().phone(f"{PUBLIC}a", first)
    turn_on(client, phone)
    turn_on(client, replace(phone, recipient=second))
    assert [(one.recipient, one.endpoint) for one in known(farm)] == [(second, phone.endpoint)]


def test_a_renewed_address_takes_the_place_of_the_old_one_and_keeps_its_person(
    farm: PageFarm, client: httpx.Client
) -> None:
    second = people(farm)[1]
    old, new = Browser().phone(f"{PUBLIC}old", second), Browser().phone(f"{PUBLIC}new", "")
    turn_on(client, old)
    token = client.get("/session").json()["form_token"]
    data = fields(client, new, old=old.endpoint) | {"form_token": token}
    answer = client.post("/me/messages", data=data, headers={"accept": "application/json"})
    assert answer.json()["state"] == "done"
    assert [(one.recipient, one.endpoint) for one in known(farm)] == [(second, new.endpoint)]
    # Of an address that nobody knows, nothing follows.
    other = turn_on(client, replace(new, endpoint=f"{PUBLIC}other"), old=f"{PUBLIC}unknown")
    assert other.status_code == 400 and len(known(farm)) == 1


@pytest.mark.parametrize(
    "endpoint", ["https://127.0.0.1/x", "https://192.168.1.1/", "http://updates.push.example.com/x", ""]
)
def test_an_address_in_the_own_network_is_refused(
    farm: PageFarm, client: httpx.Client, endpoint: str
) -> None:
    assert turn_on(client, Browser().phone(endpoint, people(farm)[0])).status_code == 400
    assert known(farm) == ()


def test_somebody_who_is_not_in_the_settings_is_refused(farm: PageFarm, client: httpx.Client) -> None:
    for name in ("nobody", "", "ann#3"):
        assert turn_on(client, Browser().phone(f"{PUBLIC}a", name)).status_code == 400
    assert known(farm) == ()


def test_no_more_phones_than_make_sense(farm: PageFarm, client: httpx.Client) -> None:
    first, browser = people(farm)[0], Browser()
    for number in range(push.MOST_OF_ONE):
        farm.service.store.phones.add(browser.phone(f"{PUBLIC}{number}", first))
    assert turn_on(client, browser.phone(f"{PUBLIC}more", first)).status_code == 400
    assert turn_on(client, browser.phone(f"{PUBLIC}0", first)).status_code == 303
    assert len(known(farm)) == push.MOST_OF_ONE


def test_without_a_session_or_the_token_nothing_is_kept(
    farm: PageFarm, client: httpx.Client, new_client: Callable[[], httpx.Client]
) -> None:
    phone = Browser().phone(f"{PUBLIC}a", people(farm)[0])
    data = fields(client, phone)
    assert new_client().post("/me/messages", data=data).headers["location"].startswith("/login")
    assert client.post("/me/messages", data=data | {"form_token": "other"}).status_code == 403
    foreign = client.post("/me/messages", data=data, headers={"origin": "https://elsewhere.example"})
    assert foreign.status_code == 403 and known(farm) == ()


def test_a_helper_ends_own_phones_and_the_owner_any(
    farm: PageFarm, client: httpx.Client, log_in: Callable[..., httpx.Client]
) -> None:
    first, browser = people(farm)[0], Browser()
    helper = log_in(helper=True, name="Ben")
    turn_on(client, browser.phone(f"{PUBLIC}ann", first))
    turn_on(helper, browser.phone(f"{PUBLIC}ben", first))
    (anns, bens) = known(farm)
    token = form_token(helper.get("/me/messages").text)
    refused = helper.post("/me/messages/off", data={"form_token": token, "phone": str(anns.phone_id)})
    assert refused.status_code == 400 and len(known(farm)) == 2
    shown = helper.get("/me/messages").text
    assert f'name="phone" value="{bens.phone_id}"' in shown
    assert f'name="phone" value="{anns.phone_id}"' not in shown
    token = form_token(client.get("/me/messages").text)
    done = client.post("/me/messages/off", data={"form_token": token, "phone": str(bens.phone_id)})
    assert done.status_code == 303 and known(farm) == (anns,)
    again = client.post("/me/messages/off", data={"form_token": token, "phone": str(bens.phone_id)})
    assert again.status_code == 400


def test_ending_the_sessions_of_a_person_ends_messages_to_the_phones_too(
    farm: PageFarm, client: httpx.Client, log_in: Callable[..., httpx.Client]
) -> None:
    told = list[bool]()
    first, browser = people(farm)[0], Browser()
    stolen = log_in(helper=True, name="Ben")
    turn_on(client, browser.phone(f"{PUBLIC}ann", first))
    turn_on(stolen, browser.phone(f"{PUBLIC}ben", first))
    farm.context.phones_changed = lambda: told.append(True)
    token = form_token(client.get("/me").text)
    client.post("/me/sessions", data={"form_token": token, "name": "BEN"})
    assert [phone.person for phone in known(farm)] == ["Ann"] and told == [True]
    # And it cannot turn them on again.
    data = fields(client, browser.phone(f"{PUBLIC}ben", first))
    assert stolen.post("/me/messages", data=data).headers["location"].startswith("/login")


def test_another_password_for_helpers_ends_messages_to_their_phones(
    farm: PageFarm, client: httpx.Client, log_in: Callable[..., httpx.Client]
) -> None:
    first, browser = people(farm)[0], Browser()
    helper = log_in(helper=True, name="Ben")
    turn_on(client, browser.phone(f"{PUBLIC}ann", first))
    turn_on(helper, browser.phone(f"{PUBLIC}ben", first))
    token = form_token(client.get("/me").text)
    client.post("/me/helpers", data={"form_token": token, "password": "four-words-by-chance"})
    assert [phone.role for phone in known(farm)] == ["owner"]


def test_a_phone_that_is_gone_is_named(farm: PageFarm, client: httpx.Client) -> None:
    store, first = farm.service.store, people(farm)[0]
    number = store.phones.add(Browser().phone(f"{PUBLIC}a", first, device="iphone"))
    store.phones.lost(number, farm.clock())
    page = client.get("/me/messages").text
    assert "iPhone or iPad: takes messages no more" in page
    turn_on(client, Browser().phone(f"{PUBLIC}b", first))
    assert "takes messages no more" in client.get("/me/messages").text  # another kind of phone
    store.phones.add(Browser().phone(f"{PUBLIC}c", first, device="iphone"))
    assert "takes messages no more" not in client.get("/me/messages").text


def test_words_of_people_are_text(farm: PageFarm, client: httpx.Client) -> None:
    nasty = '"><script>alert(1)</script>'
    farm.service.store.phones.add(Browser().phone(f"{PUBLIC}a", people(farm)[0], person=nasty))
    assert nasty not in client.get("/me/messages").text


@pytest.mark.parametrize("language", ["en", "fr", "sw"])
def test_it_stands_in_each_language(farm: PageFarm, client: httpx.Client, language: str) -> None:
    farm.service.store.phones.add(Browser().phone(f"{PUBLIC}a", people(farm)[0]))
    client.cookies.set("rearing_view", f"{language}-c")
    page = client.get("/me/messages").text
    heading = {
        "en": "Messages on this phone",
        "fr": "Messages sur ce téléphone",
        "sw": "Jumbe kwenye simu hii",
    }
    assert f"<h1>{heading[language]}</h1>" in page


# From the tap to the message.


def test_from_the_tap_to_the_message_on_the_phone(
    farm: PageFarm, client: httpx.Client, service: PushService
) -> None:
    """The service itself sends a test to the phone that was just turned on."""
    made, browser = farm.service, Browser()
    made.people._sender = replace(made.people._sender, reach=service.reach)
    farm.context.push_reach, farm.context.phones_changed = service.reach, made.people.changed.set
    first = people(farm)[0]
    turn_on(client, browser.phone(service.endpoint("ann"), first))
    made._reload_if_wanted(farm.clock())
    (kept,) = known(farm)
    token = form_token(client.get("/me/messages").text)
    answer = client.post("/me/messages/test", data={"form_token": token, "phone": str(kept.phone_id)})
    assert "command=" in answer.headers["location"]
    made.worker.step(farm.clock())
    wait_for(lambda: service.came("ann"))
    (got,) = service.came("ann")
    said = json.loads(browser.read(got.body))
    assert said["tag"] == "test" and said["to"] == "/me"
    assert signed_claims(got.headers["authorization"], raw(public_key(farm.context.push_key)))
    sent = [row for row in made.store.outbox.since(0) if row.recipient == f"{first}#{kept.phone_id}"]
    assert [row.kind for row in sent] == [MessageKind.TEST]
