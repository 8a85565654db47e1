"""How phones reach the page: HTTPS by the farm's CA, what is needed to install it, a helper's first login."""

from __future__ import annotations

import json
import re
import ssl
import struct
from collections.abc import Callable, Iterator
from pathlib import Path

import httpx
import pytest
from cryptography.hazmat.primitives.serialization import Encoding
from page_farm import PASSWORD, PageFarm, form_token
from page_keys import encrypted, make_page_keys

from monitor.boards import certificates
from monitor.page.accounts import fingerprint
from monitor.page.server import PageServer
from monitor.page.serving import ENCRYPTED_COOKIE, SESSION_COOKIE
from monitor.records import MS_PER_HOUR


@pytest.fixture(scope="module")
def keys(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with the farm's CA and a certificate of the page."""
    folder = tmp_path_factory.mktemp("boards")
    make_page_keys(folder)
    return folder


@pytest.fixture(autouse=True)
def _no_helpers(page_farm: PageFarm) -> None:
    """Helpers have no password yet."""
    page_farm.context.change_helper_password(None)


@pytest.fixture
def both(page_farm: PageFarm, keys: Path) -> Iterator[PageServer]:
    """The page, plain and over HTTPS."""
    page_farm.context.ca = certificates.ca_certificate(keys).public_bytes(Encoding.DER)
    server = PageServer(page_farm.context, port=0, encrypted=encrypted(keys))
    server.start()
    yield server
    server.stop()
    page_farm.context.ca = b""


def trusting(keys: Path) -> ssl.SSLContext:
    return ssl.create_default_context(cafile=str(keys / "ca.pem"))


def log_in(client: httpx.Client) -> httpx.Response:
    data = {"form_token": form_token(client.get("/login").text), "password": PASSWORD, "name": "Ann"}
    return client.post("/login", data=data)


def test_the_page_is_served_over_https_beside_the_plain_one(both: PageServer, keys: Path) -> None:
    with httpx.Client(base_url=both.encrypted_address, verify=trusting(keys), trust_env=False) as client:
        answer = log_in(client)
        assert answer.status_code == 303
        cookie = answer.headers["set-cookie"]
        assert cookie.startswith(f"{ENCRYPTED_COOKIE}=")
        assert "Secure" in cookie and "HttpOnly" in cookie and "Path=/" in cookie and "omain" not in cookie
        assert client.get("/").status_code == 200
        assert client.get("/session").json()["who"] == "owner:Ann"
        # The same phone goes on with the plain address, which has a session of its own.
        plain = httpx.Client(base_url=both.address, cookies=client.cookies, trust_env=False)
        assert plain.get("/").headers["location"] == "/login"
        assert log_in(plain).headers["set-cookie"].startswith(f"{SESSION_COOKIE}=")
        plain.close()


def test_who_does_not_know_the_ca_is_told_by_the_browser(both: PageServer) -> None:
    with pytest.raises(httpx.ConnectError, match="certificate"):
        httpx.get(both.encrypted_address, trust_env=False)


def test_a_phone_gets_the_ca_and_the_steps_at_the_plain_address_without_a_login(
    both: PageServer, keys: Path
) -> None:
    plain = httpx.Client(base_url=both.address, trust_env=False)
    given = plain.get("/farm-ca.crt")
    assert given.headers["content-type"] == "application/x-x509-ca-cert"
    assert ssl.DER_cert_to_PEM_cert(given.content) == (keys / "ca.pem").read_text()
    steps = plain.get("/phone").text
    assert fingerprint(given.content) in steps
    port = both.encrypted_address.rpartition(":")[2]
    assert f'href="https://127.0.0.1:{port}/"' in steps
    assert f"{both.address}/phone" in steps
    assert steps.count('class="qr"') == 2
    assert "iPhone" in steps and "Android" in steps and "nobody has tried them" in steps
    plain.close()


def test_without_https_the_steps_say_what_that_costs_and_there_is_no_ca(served: PageServer) -> None:
    steps = httpx.get(f"{served.address}/phone", trust_env=False)
    assert steps.status_code == 200 and "not encrypted" in steps.text and "farm-ca.crt" not in steps.text
    assert httpx.get(f"{served.address}/farm-ca.crt", trust_env=False).status_code == 404


def test_a_foreign_host_makes_no_address(both: PageServer) -> None:
    answer = httpx.get(f"{both.address}/phone", headers={"host": 'evil"><b>'}, trust_env=False)
    assert answer.status_code in (200, 400)
    assert '"><b>' not in answer.text


def png_size(content: bytes) -> tuple[int, int]:
    assert content[:8] == b"\x89PNG\r\n\x1a\n" and content[12:16] == b"IHDR"
    width, height = struct.unpack(">II", content[16:24])
    return width, height


def test_the_page_can_be_installed(served: PageServer) -> None:
    """What Chromium asks of a manifest before it offers to install (web.dev, "What does it take to be
    installable?"): a name, icons of 192 and 512 pixels, a start address, a display of its own."""
    client = httpx.Client(base_url=served.address, trust_env=False)
    page = client.get("/login").text
    link = re.search(r'<link rel="manifest" href="([^"]+)">', page)
    assert link
    answer = client.get(link[1])
    assert answer.headers["content-type"].startswith("application/manifest+json")
    manifest = answer.json()
    assert manifest["name"] and manifest["short_name"] and len(manifest["short_name"]) <= 12
    assert manifest["start_url"] == manifest["scope"] == manifest["id"] == "/"
    assert manifest["display"] == "standalone"
    found = {(icon["sizes"], icon["purpose"]) for icon in manifest["icons"]}
    assert found == {("192x192", "any"), ("512x512", "any"), ("512x512", "maskable")}
    for icon in manifest["icons"]:
        content = client.get(icon["src"])
        assert content.headers["content-type"] == icon["type"] == "image/png"
        assert "{}x{}".format(*png_size(content.content)) == icon["sizes"]
    worker = client.get("/sw.js")
    assert worker.headers["content-type"].startswith("text/javascript")
    assert worker.headers["cache-control"] == "no-cache"
    client.close()


# A helper's first login.


def link_of(owner: httpx.Client) -> str:
    token = form_token(owner.get("/me").text)
    answer = owner.post("/me/invite", data={"form_token": token})
    assert answer.status_code == 200
    found = re.search(r"<textarea[^>]*>([^<]+)</textarea>", answer.text)
    assert found
    return found[1]


def test_a_link_makes_one_phone_a_helpers_and_no_second_one(
    owner: httpx.Client, new_client: Callable[[], httpx.Client], served: PageServer
) -> None:
    link = link_of(owner)
    assert link.startswith(f"{served.address}/join/")
    path = link.removeprefix(served.address)
    phone, other = new_client(), new_client()
    # Programs that scan messages look at it too.
    assert other.get(path).status_code == phone.get(path).status_code == 200
    assert phone.post(path, data={"name": " "}).status_code == 400
    assert phone.post(path, data={"name": "Ben"}).headers["location"] == "/"
    assert phone.get("/session").json()["who"] == "helper:Ben"
    assert phone.get("/me").status_code == 200
    answer = other.post(path, data={"name": "Eve"})
    assert answer.status_code == 410
    assert other.get("/session").json()["who"] == ""


def test_only_the_owner_makes_links(helper: httpx.Client, owner: httpx.Client) -> None:
    answer = helper.post("/me/invite", data={"form_token": form_token(helper.get("/me").text)})
    assert answer.status_code == 403
    assert owner.post("/me/invite", data={"form_token": "made-up"}).status_code == 403


def test_a_link_ends_after_a_day_and_a_changed_one_is_none(
    owner: httpx.Client,
    new_client: Callable[[], httpx.Client],
    page_farm: PageFarm,
    served: PageServer,
) -> None:
    path = link_of(owner).removeprefix(served.address)
    assert new_client().get(path[:-1] + ("A" if path[-1] != "A" else "B")).status_code == 404
    # What acknowledges an alarm lets nobody in.
    assert new_client().get(path.replace("/join/", "/a/")).status_code == 404
    page_farm.clock.now_ms += 24 * MS_PER_HOUR
    try:
        assert new_client().post(path, data={"name": "Ben"}).status_code == 410
    finally:
        page_farm.clock.now_ms -= 24 * MS_PER_HOUR


def test_a_helper_who_came_by_a_link_goes_with_the_others(
    log_in: Callable[..., httpx.Client],
    new_client: Callable[[], httpx.Client],
    page_farm: PageFarm,
    served: PageServer,
) -> None:
    page_farm.context.change_helper_password(None)
    owner = log_in()
    path = link_of(owner).removeprefix(served.address)
    phone = new_client()
    assert phone.post(path, data={"name": "Ben"}).status_code == 303
    late = link_of(owner).removeprefix(served.address)
    owner.post("/me/helpers", data={"form_token": form_token(owner.get("/me").text), "password": ""})
    assert json.loads(phone.get("/session").text)["who"] == ""
    assert new_client().get(late).status_code == 404
