"""Boards on the page: the owner adds one and sees its card once; helpers see why they cannot."""

from __future__ import annotations

import html
import re
import time
from pathlib import Path
from typing import Any

import httpx
import pytest
from enrolled_farm import EnrolledFarm, EnrolledPage, running_farm
from page_farm import PASSWORD, form_token

from monitor.boards import enrolment, users
from monitor.boards.card import Card, read_card
from monitor.errors import BrokerRefused
from monitor.page.boards import SHOWN_AGAIN_S, CardsShown
from monitor.page.server import PageServer
from monitor.records import (
    Batch,
    Flag,
    FlaggedMessage,
    FlaggedReading,
    NodeMessage,
    Reading,
    SensorKey,
    TimeSource,
)
from monitor.terminal.context import clock_ms

FORM = {
    "name": "node-03",
    "place": "bin-4",
    "lies_in": "substrate_temperature",
    "sensor-sht4x": "on",
    "probes": "p1=bin-4 p2=bin-5",
    "interval": "60 s",
    "send_every": "1",
    "power": "mains",
    "wifi": "Yard",
    "wifi_password": "wet thumbs 12",
}


@pytest.fixture
def farm(tmp_path: Path) -> EnrolledFarm:
    return EnrolledFarm(tmp_path)


@pytest.fixture
def page_farm(farm: EnrolledFarm) -> EnrolledPage:
    return EnrolledPage(farm)


def mark_in(page: str) -> str:
    found = re.search(r'name="mark" value="([^"]+)"', page)
    assert found is not None
    return found[1]


def add(owner: httpx.Client, **changes: str) -> httpx.Response:
    """Fill in the form as it is shown, and send it."""
    shown = owner.get("/boards/new").text
    data = {"form_token": form_token(shown), "mark": mark_in(shown), **FORM, **changes}
    return owner.post("/boards/new", data=data)


def change(owner: httpx.Client, what: str, name: str = "node-03") -> httpx.Response:
    shown = owner.get(f"/boards/{name}").text
    data = {"form_token": form_token(shown), "mark": f"{mark_in(shown)}-{what}"}
    return owner.post(f"/boards/{name}/{what}", data=data)


def card_on(page: str) -> Card:
    found = re.search(r"<textarea[^>]*>(.*?)</textarea>", page, re.DOTALL)
    assert found is not None
    return read_card(html.unescape(found[1]))


def test_the_owner_adds_a_board_and_sees_its_card(owner: httpx.Client, farm: EnrolledFarm) -> None:
    shown = owner.get("/boards/new").text
    assert 'name="name" value="node-02"' in shown, "the next name"
    answer = add(owner)
    assert answer.status_code == 200 and answer.headers["cache-control"] == "no-store"
    card = card_on(answer.text)
    assert card == farm.cards()["node-03"]
    assert (card.sensors, card.probes) == (("sht4x", "ds18b20:substrate_temperature"), ("p1", "p2"))
    assert 'class="qr"' in answer.text and "<title>Card of node-03 as a QR code</title>" in answer.text
    assert "The broker does not know of it yet" in answer.text, "it does not run here"
    assert farm.settings.nodes[-1].probes == {"p2": "bin-5"}
    nodes = owner.get("/nodes").text
    assert "/boards/node-03" in nodes and 'href="/boards/new"' in nodes


def test_the_card_stands_under_no_address(
    owner: httpx.Client, farm: EnrolledFarm, caplog: pytest.LogCaptureFixture
) -> None:
    answer = add(owner)
    card = card_on(answer.text)
    pages = [owner.get(path).text for path in ("/boards/new", "/boards/node-03", "/nodes", "/logbook", "/me")]
    for secret in (card.password, "wet thumbs 12", card.ca):
        assert not any(secret in page for page in pages)
        assert secret not in caplog.text
    assert card.password.encode() not in farm.settings.store.path.read_bytes()


def test_a_second_tap_shows_the_same_card_for_a_moment(owner: httpx.Client, farm: EnrolledFarm) -> None:
    shown = owner.get("/boards/new").text
    data = {"form_token": form_token(shown), "mark": mark_in(shown), **FORM}
    first, second = owner.post("/boards/new", data=data), owner.post("/boards/new", data=data)
    assert card_on(first.text) == card_on(second.text)
    assert len(farm.cards()) == 1


def test_a_form_is_done_once_and_its_card_forgotten() -> None:
    now_s, done = 0.0, 0
    shown = CardsShown(steady_s=lambda: now_s)

    def work() -> Any:
        nonlocal done
        done += 1
        return f"card {done}"

    assert shown.do("a", work) == "card 1" == shown.do("a", work)
    now_s = SHOWN_AGAIN_S
    assert shown.do("a", work) is None, "shown longer ago"
    assert shown.do("b", work) == "card 2" and done == 2
    assert not any("card 1" in str(kept) for kept in shown._done.values())


def test_a_refused_form_comes_back_with_every_problem(owner: httpx.Client, farm: EnrolledFarm) -> None:
    before = farm.tree()
    answer = add(owner, name="sounder", interval="2 s", probes="p 1=nowhere", wifi_password="short")
    assert answer.status_code == 400
    page = html.unescape(answer.text)
    assert "problems, and nothing was changed" in page
    for part in (
        "is a name that the monitor needs itself",
        "the interval is 2 s",
        "is no place",
        "the password",
    ):
        assert part in page
    assert 'name="name" value="sounder"' in page and 'name="sensor-sht4x" value="on" checked' in page
    assert "short" not in page
    assert farm.tree() == before


def test_the_wifi_is_remembered_for_the_next_board(owner: httpx.Client, farm: EnrolledFarm) -> None:
    add(owner)
    shown = owner.get("/boards/new").text
    assert 'name="wifi" value="Yard"' in shown and "wet thumbs" not in shown
    assert add(owner, name="node-04", wifi_password="", probes="").status_code == 200
    assert add(owner, name="node-05", wifi="", wifi_password="", probes="").status_code == 200
    assert farm.cards()["node-04"].wifi_password == "wet thumbs 12"
    assert farm.cards()["node-05"].wifi == ""


def test_a_new_card_another_board_and_none(owner: httpx.Client, farm: EnrolledFarm) -> None:
    first = card_on(add(owner).text)
    second = card_on(change(owner, "card").text)
    third = card_on(change(owner, "replace").text)
    assert len({first.password, second.password, third.password}) == 3
    page = owner.get("/boards/node-03").text
    assert "Without it no board guards By the door." in page
    answer = change(owner, "remove")
    assert answer.status_code == 303 and answer.headers["location"] == "/nodes?removed=node-03"
    assert "node-03 is gone from the settings" in owner.get(answer.headers["location"]).text
    assert farm.users() == (users.MONITOR,) and farm.cards() == {}
    assert owner.get("/boards/node-03").status_code == 404


def test_what_cannot_be_done_is_said_on_the_page_of_the_board(
    owner: httpx.Client, farm: EnrolledFarm
) -> None:
    add(owner)
    (farm.broker.boards / "cards" / "node-03.json").unlink()
    answer = change(owner, "card")
    assert answer.status_code == 400 and "the card of node-03 is gone" in answer.text
    assert owner.post("/boards/node-03/sell", data={"form_token": form_token(answer.text)}).status_code == 404


@pytest.mark.parametrize("path", ["/boards/new", "/boards/node-01/card", "/boards/node-01/remove"])
def test_helpers_and_foreign_forms_are_refused(
    owner: httpx.Client, helper: httpx.Client, farm: EnrolledFarm, path: str
) -> None:
    before = farm.tree()
    token = form_token(helper.get("/me").text)
    assert helper.post(path, data={"form_token": token, **FORM}).status_code == 403
    assert owner.post(path, data=FORM).status_code == 403, "without the token of a form"
    token = form_token(owner.get("/me").text)
    elsewhere = {"origin": "http://elsewhere.example"}
    assert owner.post(path, data={"form_token": token, **FORM}, headers=elsewhere).status_code == 403
    assert farm.tree() == before


def test_helpers_see_why_not(helper: httpx.Client) -> None:
    assert helper.get("/boards/new").status_code == 403
    nodes = helper.get("/nodes").text
    assert "The owner can add boards" in nodes and "/boards/new" not in nodes
    page = helper.get("/boards/node-01").text
    assert "The owner can make its card again" in page and "<form" not in page


def test_without_a_broker_for_boards_the_page_says_what_to_run(
    farm: EnrolledFarm, page_farm: EnrolledPage, owner: httpx.Client
) -> None:
    lines = farm.path.read_text().splitlines()
    farm.path.write_text("\n".join(line for line in lines if not line.startswith("files")))
    page_farm.context.request_reload()
    shown = owner.get("/boards/new").text
    assert "rearing-monitor broker setup" in shown and "<form" not in shown
    page = owner.get("/boards/node-01").text
    assert "Take it away" in page and "Make its card again" not in page


def test_a_service_without_the_right_says_the_command(
    owner: httpx.Client, farm: EnrolledFarm, monkeypatch: pytest.MonkeyPatch
) -> None:
    shut = farm.broker.files.folder
    monkeypatch.setattr(enrolment, "_may_write", lambda folder: folder != shut)
    page = html.unescape(add(owner).text)
    assert f"{shut} cannot be written by this user" in page
    assert "sudo " in page and "board add node-03 --config" in page and "wet thumbs" not in page
    assert farm.users() == (users.MONITOR,)


def heard(farm: EnrolledFarm) -> None:
    now_ms = clock_ms()
    reading = Reading(SensorKey("node-03", "p1", "substrate_temperature"), now_ms, 31.25)
    message = NodeMessage("node-03", now_ms, (reading,), TimeSource.NODE, boot=1, sequence=1)
    with farm.store() as store:
        store.commit(
            Batch(now_ms, messages=(FlaggedMessage(message, (FlaggedReading(reading, Flag.PASS, 31.25),)),))
        )


def test_the_page_of_the_board_tells_how_far_it_has_come(owner: httpx.Client, farm: EnrolledFarm) -> None:
    answer = add(owner)
    assert 'data-follow="/boards/node-03"' in answer.text and "The monitor does not run" in answer.text
    heard(farm)
    page = owner.get("/boards/node-03").text
    assert "Heard: node-03 sends." in page and "data-heard" in page
    assert "p1 substrate temperature: 31.2" in page
    assert "Expected and not heard yet: air_temperature, air_humidity, p2/substrate_temperature" in page


def test_french(owner: httpx.Client) -> None:
    owner.headers["accept-language"] = "fr"
    page = owner.get("/boards/new").text
    assert "Ajouter une carte" in page and "Elle pend dans" in page
    assert "Fiche de node-03" in add(owner).text


@pytest.mark.mosquitto
def test_a_board_taken_away_on_the_page_is_let_in_no_more(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with running_farm(tmp_path) as farm:
        page = EnrolledPage(farm)
        server = PageServer(page.context, port=0)
        server.start()
        try:
            with httpx.Client(base_url=server.address, trust_env=False, timeout=30) as owner:
                data = {
                    "form_token": form_token(owner.get("/login").text),
                    "password": PASSWORD,
                    "name": "Ann",
                }
                owner.post("/login", data=data)
                answer = add(owner)
                assert "lets node-03 in" in answer.text
                card = card_on(answer.text)
                assert change(owner, "remove").status_code == 303
        finally:
            server.stop()
        monkeypatch.setattr(enrolment, "PATIENCE_S", 0.0)
        until_s = time.monotonic() + 5
        with pytest.raises(BrokerRefused):
            while time.monotonic() < until_s:
                enrolment.lets_in(farm.settings, card, farm.broker.ca_file)
