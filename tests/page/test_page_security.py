"""What the page refuses, and what it never shows."""

from __future__ import annotations

import logging
import re
import threading
from collections.abc import Callable

import httpx
import pytest
from page_farm import HELPER_PASSWORD, NASTY, NOW_MS, OWNER_HASH, PASSWORD, PageFarm, form_token
from starlette.applications import Starlette
from starlette.routing import Route

from monitor.errors import UsageError
from monitor.notify.links import Claim, new_nonce, sign
from monitor.page.accounts import link_maker
from monitor.page.app import build_app
from monitor.page.context import MOST_OF_ONE, MOST_STREAMS, LiveFeed, kept_key
from monitor.page.security import (
    DEVICE,
    FREE_TRIES,
    LONGEST_WAIT_S,
    MOST_ADDRESSES,
    MOST_ENDED,
    MOST_FROM_ALL,
    WINDOW_S,
    Role,
    Session,
    Sessions,
    Throttle,
    first_password,
    hash_password,
    matches,
)
from monitor.page.server import PageServer, refuse_open_door
from monitor.records import (
    MS_PER_HOUR,
    MS_PER_MINUTE,
    Batch,
    Flag,
    FlaggedMessage,
    FlaggedReading,
    NodeMessage,
    Reading,
    Rejected,
    SensorKey,
    TimeSource,
)
from monitor.store.meta import LINK_KEY

NewClient = Callable[[], httpx.Client]
LogIn = Callable[..., httpx.Client]
HOT = "bin-3/substrate_temperature/high/high"
DRY = "tray-2/air_humidity/low/medium"
PAGES = ("/", "/places/bin-3", "/night", "/alarms", "/alarms/health", "/nodes", "/me", "/me/messages")
OPEN = {"/login", "/a/{token}", "/join/{token}"}


def routes(farm: PageFarm) -> list[Route]:
    app: Starlette = build_app(farm.context)
    return [route for route in app.routes if isinstance(route, Route)]


def link(farm: PageFarm, alarm_id: str = HOT, *, since_ms: int | None = None, age_ms: int = 0) -> str:
    state = farm.service.processor.site.states[alarm_id]
    since = since_ms if since_ms is not None else state.since_ms or 0
    claim = Claim(alarm_id, "keeper", since, farm.clock() + MS_PER_HOUR - age_ms, new_nonce())
    return "/a/" + sign(claim, farm.context.link_key)


def test_without_login_there_is_the_login_page_and_nothing_else(
    page_farm: PageFarm, new_client: NewClient
) -> None:
    client = new_client()
    answers = {}
    for route in routes(page_farm):
        path = route.path.replace("{place}", "bin-3").replace("{token}", "nonsense")
        for method in (route.methods or set()) - {"HEAD"}:
            answers[f"{method} {route.path}"] = client.request(method, path)
    let_in = {name for name, answer in answers.items() if answer.status_code == 200}
    assert let_in == {"GET /login", "GET /static/page.css", "GET /static/page.js", "GET /static/icon.svg"} | {
        "GET /static/offline.js",
        "GET /session",
        "GET /phone",
        "GET /not-kept",
        "GET /manifest.webmanifest",
        "GET /sw.js",
        "GET /static/sw.js",
        "GET /static/install.js",
        "GET /static/photo.js",
        "GET /static/push.js",
        "GET /static/icon-192.png",
        "GET /static/icon-512.png",
        "GET /static/icon-maskable-512.png",
    }
    sent_away = [answer for answer in answers.values() if answer.status_code == 303]
    assert all(answer.headers["location"].startswith("/login") for answer in sent_away)
    for answer in answers.values():
        assert "Grow-out bin" not in answer.text
        assert "node-" not in answer.text


def test_a_form_without_its_token_does_nothing(page_farm: PageFarm, owner: httpx.Client) -> None:
    before = page_farm.settings_path.read_text()
    for route in routes(page_farm):
        if "POST" in (route.methods or set()) and route.path not in OPEN:
            answer = owner.post(route.path, data={"alarm": HOT, "node": "node-77", "place": "bin-1"})
            assert answer.status_code == 403, route.path
            assert "nothing was done" in answer.text
    assert page_farm.settings_path.read_text() == before
    assert page_farm.service.store.commands.pending() == ()
    assert owner.get("/").status_code == 200, "not even logged out"


def test_a_form_token_of_another_session_is_refused(owner: httpx.Client, log_in: LogIn) -> None:
    other = form_token(log_in().get("/me").text)
    answer = owner.post("/alarms/acknowledge", data={"form_token": other, "alarm": HOT})
    assert answer.status_code == 403


def test_the_token_of_a_form_stands_in_no_two_answers_alike_and_holds(page_farm: PageFarm) -> None:
    """Answers are compressed: what stays the same in them can be guessed by how long they get (BREACH)."""
    sessions = Sessions(page_farm.context.key_for, lambda: NOW_MS)
    session = sessions.begin(Role.OWNER, "Ann")
    tokens = [sessions.form_token(session) for _ in range(20)]
    assert len({token[:8] for token in tokens} | {token[-8:] for token in tokens}) == 40
    assert all(sessions.is_form_token(session, token) for token in tokens)
    assert not any(session.nonce in token for token in tokens)
    other = sessions.begin(Role.OWNER, "Ann")
    assert not sessions.is_form_token(other, tokens[0])
    good = tokens[0]
    for wrong in (
        "",
        "AAAA",
        "é",
        "\ud800",
        good[:-4],
        good + "AAAA",
        good[43:] + good[:43],
        "A" * len(good),
    ):
        assert not sessions.is_form_token(session, wrong), wrong


@pytest.mark.parametrize(
    "headers",
    [{"origin": "http://elsewhere.example"}, {"origin": "null"}, {"sec-fetch-site": "cross-site"}],
)
def test_a_form_from_another_site_is_refused(owner: httpx.Client, headers: dict[str, str]) -> None:
    data = {"form_token": form_token(owner.get("/me").text), "alarm": HOT}
    assert owner.post("/alarms/acknowledge", data=data, headers=headers).status_code == 403


def test_a_login_form_from_another_site_is_refused(new_client: NewClient) -> None:
    client = new_client()
    client.get("/login")
    assert client.post("/login", data={"password": PASSWORD}).status_code == 403


def test_a_login_makes_a_session_of_its_own(new_client: NewClient) -> None:
    client = new_client()
    page = client.get("/login").text
    planted = client.cookies["rearing_session"]
    answer = client.post("/login", data={"form_token": form_token(page), "password": PASSWORD})
    assert answer.status_code == 303
    assert client.cookies["rearing_session"] != planted
    intruder = new_client()
    intruder.cookies.set("rearing_session", planted)
    assert intruder.get("/").headers["location"] == "/login"


def test_a_cookie_is_taken_only_as_it_was_signed(owner: httpx.Client, new_client: NewClient) -> None:
    payload, _, signature = owner.cookies["rearing_session"].partition(".")
    for forged in (
        payload,
        f"{payload}.",
        f"{payload}.{signature[:-2]}xx",
        f"x{payload}.{signature}",
        ".",
        "é.",
    ):
        client = new_client()
        answer = client.get("/", headers=[(b"cookie", f"rearing_session={forged}".encode())])
        assert answer.status_code == 303, forged


def test_a_visitor_cannot_become_owner_by_renaming_the_role(page_farm: PageFarm) -> None:
    sessions = Sessions(page_farm.context.key_for, page_farm.clock)
    visitor = sessions.begin(Role.VISITOR)
    promoted = type(visitor)(visitor.nonce, Role.OWNER, "", visitor.expires_ms)
    forged = sessions.cookie(promoted).partition(".")[0] + "." + sessions.cookie(visitor).partition(".")[2]
    assert sessions.read(forged) is None
    assert sessions.read(sessions.cookie(visitor)) == visitor


def test_logging_out_ends_the_session_wherever_its_cookie_is(
    owner: httpx.Client, new_client: NewClient
) -> None:
    kept = owner.cookies["rearing_session"]
    owner.post("/logout", data={"form_token": form_token(owner.get("/me").text)})
    thief = new_client()
    thief.cookies.set("rearing_session", kept)
    assert thief.get("/").status_code == 303


def test_a_session_ends_by_itself(page_farm: PageFarm) -> None:
    now = [NOW_MS]
    sessions = Sessions(page_farm.context.key_for, lambda: now[0])
    cookie = sessions.cookie(sessions.begin(Role.OWNER, "Ann"))
    assert sessions.read(cookie) is not None
    now[0] += 31 * 24 * MS_PER_HOUR
    assert sessions.read(cookie) is None


def test_a_new_password_for_helpers_ends_their_sessions(page_farm: PageFarm, helper: httpx.Client) -> None:
    assert helper.get("/").status_code == 200
    page_farm.context.change_helper_password(hash_password("another-password"))
    assert helper.get("/").status_code == 303
    page_farm.context.change_helper_password(hash_password(HELPER_PASSWORD))


def test_the_cookie_is_out_of_reach_of_scripts_and_other_sites(new_client: NewClient) -> None:
    client = new_client()
    data = {"form_token": form_token(client.get("/login").text), "password": PASSWORD}
    cookie = client.post("/login", data=data).headers["set-cookie"].lower()
    assert "httponly" in cookie
    assert "samesite=lax" in cookie
    assert "secure" not in cookie, "over plain http the browser would never send it back"


@pytest.mark.parametrize(("proxies", "secure"), [((), False), (("127.0.0.1",), True)])
def test_over_https_the_cookie_goes_over_https_alone(
    page_farm: PageFarm, proxies: tuple[str, ...], secure: bool
) -> None:
    """What a proxy says of the way to it is believed only where the settings name the proxy."""
    server = PageServer(page_farm.context, port=0, proxies=proxies)
    server.start()
    answer = httpx.get(f"{server.address}/login", headers={"x-forwarded-proto": "https"}, trust_env=False)
    server.stop()
    assert ("secure" in answer.headers["set-cookie"].lower()) is secure


class Steady:
    """A steady clock that goes on when somebody waits."""

    def __init__(self) -> None:
        self.now_s, self.waits = 1000.0, list[float]()

    def pause(self, seconds: float) -> None:
        self.waits.append(seconds)
        self.now_s += seconds

    def throttle(self) -> Throttle:
        return Throttle(lambda: self.now_s, self.pause)


def guess(throttle: Throttle, address: str = "192.0.2.7", *, right: bool = False) -> bool:
    """One try; True when the password was looked at."""
    with throttle.turn(address) as may:
        if may:
            (throttle.succeeded if right else throttle.failed)(address)
        return may


def test_wrong_passwords_wait_longer_each_time_and_the_right_one_gets_in_after_half_a_minute() -> None:
    steady = Steady()
    throttle = steady.throttle()
    assert all(guess(throttle) for _ in range(FREE_TRIES))
    assert steady.waits == []
    assert all(guess(throttle) for _ in range(7))
    assert steady.waits == [2, 4, 8, 16, 30, 30, 30]
    assert guess(throttle, right=True)
    assert steady.waits[-1] == 30
    assert guess(throttle, right=True)
    assert len(steady.waits) == 8, "who got in waits no more"


def test_the_guesses_of_one_phone_cost_another_one_nothing() -> None:
    steady = Steady()
    throttle = steady.throttle()
    for _ in range(40):
        guess(throttle, "192.0.2.7")
    waited = len(steady.waits)
    assert guess(throttle, "192.0.2.8", right=True)
    assert len(steady.waits) == waited


def test_wrong_passwords_are_forgotten_after_a_quarter_of_an_hour_by_the_steady_clock() -> None:
    steady = Steady()
    throttle = steady.throttle()
    for _ in range(5):
        guess(throttle)
    steady.now_s += WINDOW_S + 1
    steady.waits.clear()
    guess(throttle)
    assert steady.waits == []


def test_one_address_cannot_have_several_tries_wait_at_once() -> None:
    throttle = Throttle(lambda: 1000.0, lambda _seconds: None)
    for _ in range(FREE_TRIES):
        guess(throttle)
    with throttle.turn("192.0.2.7") as first:
        assert first
        assert not guess(throttle)
        assert guess(throttle, "192.0.2.8")
    assert guess(throttle)


@pytest.mark.parametrize(("before", "waits"), [(MOST_FROM_ALL - 2, False), (MOST_FROM_ALL - 1, True)])
def test_many_addresses_together_take_turns_but_a_known_one_gets_in(before: int, waits: bool) -> None:
    steady = Steady()
    throttle = steady.throttle()
    throttle.succeeded("192.0.2.1")
    for number in range(before):
        throttle.failed(f"198.51.{number // 200}.{number % 200}")
    assert guess(throttle, "203.0.113.9")
    assert guess(throttle, "203.0.113.10")
    assert bool(steady.waits) is waits
    assert max(steady.waits, default=0) <= LONGEST_WAIT_S
    seen = len(steady.waits)
    assert guess(throttle, "192.0.2.1", right=True)
    assert len(steady.waits) == seen


def test_a_helper_who_gets_in_buys_no_more_guesses_at_the_password_of_the_owner(
    page_farm: PageFarm, new_client: NewClient, log_in: LogIn, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Knowing one password must not make the other one free to guess."""
    waits: list[float] = []
    log_in(helper=True)
    monkeypatch.setattr(page_farm.context, "pause", waits.append)
    for _ in range(3):
        for password in ("guess", "guess", HELPER_PASSWORD):
            client = new_client()
            data = {"form_token": form_token(client.get("/login").text), "password": password}
            client.post("/login", data=data)
    assert len(waits) >= 4


def test_a_phone_of_the_owner_gets_in_whatever_others_try_from_the_same_address(
    page_farm: PageFarm, owner: httpx.Client, new_client: NewClient
) -> None:
    """Behind a tunnel or one router all have one address; somebody there guesses all the time."""
    owner.post("/logout", data={"form_token": form_token(owner.get("/me").text)})
    guessing, done = threading.Event(), threading.Event()

    def pause(_seconds: float) -> None:
        guessing.set()
        done.wait(20)

    page_farm.context.pause, before = pause, page_farm.context.pause
    stranger = new_client()
    data = {"form_token": form_token(stranger.get("/login").text), "password": "guess"}
    for _ in range(FREE_TRIES):
        stranger.post("/login", data=data)
    thread = threading.Thread(target=lambda: stranger.post("/login", data=data, timeout=30))
    thread.start()
    try:
        assert guessing.wait(10)
        token = form_token(owner.get("/login").text)
        assert owner.post("/login", data={"form_token": token, "password": PASSWORD}).status_code == 303
        unknown = new_client()
        token = form_token(unknown.get("/login").text)
        answer = unknown.post("/login", data={"form_token": token, "password": PASSWORD})
        assert answer.status_code == 429, "who is not known waits for the turn of the address"
    finally:
        done.set()
        thread.join()
        page_farm.context.pause = before


def test_what_marks_a_phone_of_the_owner_is_signed_and_opens_nothing(
    page_farm: PageFarm, owner: httpx.Client, helper: httpx.Client, new_client: NewClient
) -> None:
    marked = owner.cookies["rearing_device"]
    assert "rearing_device" not in helper.cookies
    sessions = Sessions(page_farm.context.key_for, lambda: NOW_MS)
    assert sessions.device(marked)
    for forged in (None, "", "x", marked[:-2] + "xx", marked * 20, "é"):
        assert sessions.device(forged) == ""
    alone = new_client()
    alone.cookies.set("rearing_device", marked)
    assert alone.get("/").status_code == 303, "it is no session"


def test_a_phone_of_the_owner_waits_too_where_its_own_tries_are_wrong() -> None:
    steady = Steady()
    throttle = steady.throttle()
    for _ in range(FREE_TRIES + 2):
        guess(throttle, f"{DEVICE}one")
    assert steady.waits == [2, 4]
    guess(throttle, f"{DEVICE}two")
    assert len(steady.waits) == 2


@pytest.mark.parametrize("everybody", ["*", "0.0.0.0/0", "::/0"])
def test_nobody_names_everybody_a_proxy_to_pass_the_limit(page_farm: PageFarm, everybody: str) -> None:
    """With everybody believed, a header would give each guess an address of its own."""
    server = PageServer(page_farm.context, port=0, proxies=(everybody,))
    waits: list[float] = []
    page_farm.context.pause, before = waits.append, page_farm.context.pause
    server.start()
    with httpx.Client(base_url=server.address, trust_env=False) as client:
        data = {"form_token": form_token(client.get("/login").text), "password": "guess"}
        for number in range(FREE_TRIES + 1):
            client.post("/login", data=data, headers={"x-forwarded-for": f"198.51.100.{number}"})
    server.stop()
    page_farm.context.pause = before
    assert len(waits) == 1


@pytest.mark.parametrize(
    ("password", "said"),
    [
        ("short7!", "at least 8"),
        ("password2024", "tried first"),
        ("P4ssw0rd!", "tried first"),
        ("motdepasse1", "tried first"),
        ("nenolasiri", "tried first"),
        ("abcdefghij", "tried first"),
        ("98765432", "tried first"),
        ("wet1wet1wet1", "tried first"),
        ("{title} 7", "tried first"),
        ("{place}", "tried first"),
        (PASSWORD, "another one than your own"),
    ],
)
def test_a_password_for_helpers_that_is_soon_guessed_is_refused(
    page_farm: PageFarm, owner: httpx.Client, password: str, said: str
) -> None:
    before, plan = page_farm.context.helper_password, page_farm.plan()
    password = password.format(title=plan.settings.site.title, place=plan.title("bin-3"))
    data = {"form_token": form_token(owner.get("/me").text), "password": password}
    answer = owner.post("/me/helpers", data=data)
    assert answer.status_code == 400
    assert said in answer.text
    assert page_farm.context.helper_password == before


def test_addresses_of_one_network_of_ipv6_are_one() -> None:
    steady = Steady()
    throttle = steady.throttle()
    for number in range(FREE_TRIES + 1):
        guess(throttle, f"2001:db8:1:2::{number:x}")
    assert steady.waits == [2]


def test_a_hundred_thousand_addresses_do_not_fill_the_memory() -> None:
    throttle = Steady().throttle()
    for number in range(100_000):
        throttle.failed(str(number))
    assert len(throttle._failures) <= MOST_ADDRESSES
    assert max(len(times) for times in throttle._failures.values()) <= MOST_FROM_ALL


@pytest.mark.parametrize("forwarded", [False, True], ids=["plain", "with a made-up address"])
def test_a_password_cannot_be_guessed_by_trying(
    page_farm: PageFarm, new_client: NewClient, forwarded: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    waits: list[float] = []
    monkeypatch.setattr(page_farm.context, "pause", waits.append)
    client = new_client()
    token = form_token(client.get("/login").text)
    for number in range(FREE_TRIES + 1):
        headers = {"x-forwarded-for": f"198.51.100.{number}"} if forwarded else {}
        data = {"form_token": token, "password": "guess"}
        assert client.post("/login", data=data, headers=headers).status_code == 403
    assert len(waits) == 1
    assert client.post("/login", data={"form_token": token, "password": PASSWORD}).status_code == 303
    assert waits[-1] <= 4.0


def test_a_session_that_was_ended_stays_ended_after_a_restart(
    page_farm: PageFarm, owner: httpx.Client
) -> None:
    kept = owner.cookies["rearing_session"]
    owner.post("/logout", data={"form_token": form_token(owner.get("/me").text)})
    again = PageServer(page_farm.context, port=0)
    again.start()
    answer = httpx.get(again.address, cookies={"rearing_session": kept}, trust_env=False)
    again.stop()
    assert answer.status_code == 303


def test_a_new_password_ends_sessions_for_good(page_farm: PageFarm) -> None:
    context = page_farm.context
    context.change_helper_password(hash_password("first-password"))
    sessions = Sessions(context.key_for, lambda: NOW_MS)
    cookie = sessions.cookie(sessions.begin(Role.HELPER, "Ann"))
    assert sessions.read(cookie) is not None
    context.change_helper_password(hash_password("other-password"))
    context.change_helper_password(hash_password("first-password"))
    context.prepare()
    assert Sessions(context.key_for, lambda: NOW_MS).read(cookie) is None
    context.change_helper_password(None)


def test_a_clock_that_was_ahead_neither_lengthens_a_session_nor_revives_an_ended_one(
    page_farm: PageFarm,
) -> None:
    now, kept = [NOW_MS], dict[str, int]()
    sessions = Sessions(page_farm.context.key_for, lambda: now[0], kept, kept.update)
    ended = sessions.begin(Role.OWNER, "Ann")
    sessions.end(ended)
    now[0] += 500 * 24 * MS_PER_HOUR
    far = sessions.begin(Role.OWNER, "Ann")
    sessions.end(sessions.begin(Role.OWNER, "Ben"))
    now[0] = NOW_MS
    assert sessions.read(sessions.cookie(ended)) is None
    assert sessions.read(sessions.cookie(far)) is None
    again = Sessions(page_farm.context.key_for, lambda: now[0], kept, kept.update)
    assert again.read(again.cookie(ended)) is None


def test_a_hundred_thousand_ended_sessions_do_not_fill_the_memory() -> None:
    sessions = Sessions(lambda _role: b"key", lambda: NOW_MS)
    for number in range(100_000):
        sessions.end(Session(str(number), Role.OWNER, "Ann", NOW_MS + 1))
    assert len(sessions._ended) <= MOST_ENDED


@pytest.mark.parametrize(
    "path",
    [
        "/static/../context.py",
        "/static/%2e%2e/context.py",
        "/static/..%2f..%2fpage%2fcontext.py",
        "/static/%2fetc%2fpasswd",
        "/static/page.css/../../app.py",
        "/places/..%2f..%2f..%2fetc%2fpasswd",
        "/places/%00",
        "/../../etc/passwd",
        "/night?date=../../etc/passwd",
    ],
)
def test_no_path_leads_to_a_file(owner: httpx.Client, path: str) -> None:
    answer = owner.get(path)
    assert answer.status_code in (200, 404)
    assert "root:" not in answer.text
    assert "import" not in answer.text
    assert answer.status_code == 404 or "/night" in path


@pytest.mark.parametrize(
    ("wanted", "location"),
    [
        ("/alarms", "/alarms"),
        ("//elsewhere.example", "/"),
        ("https://elsewhere.example/", "/"),
        ("/\\elsewhere.example", "/"),
        ("/a/../b", "/"),
        ("javascript:alert(1)", "/"),
    ],
)
def test_a_login_leads_only_to_this_page(new_client: NewClient, wanted: str, location: str) -> None:
    client = new_client()
    token = form_token(client.get("/login").text)
    answer = client.post("/login", data={"form_token": token, "password": PASSWORD, "next": wanted})
    assert answer.headers["location"] == location


def test_what_comes_from_outside_is_text_and_never_markup(page_farm: PageFarm, log_in: LogIn) -> None:
    farm = page_farm
    reading = Reading(SensorKey(NASTY, NASTY, "air_temperature"), NOW_MS, 20.0)
    message = NodeMessage(NASTY, NOW_MS, (reading,), TimeSource.NODE, 1, 1)
    refused = Rejected("node-02", "t", NOW_MS, f"not understood {NASTY}", NASTY.encode())
    flagged = FlaggedMessage(message, (FlaggedReading(reading, Flag.PASS, 20.0),))
    farm.service.store.commit(Batch(NOW_MS, messages=(flagged,), rejected=(refused,)))
    client = log_in(name=NASTY)
    token = form_token(client.get("/me").text)
    data = {"form_token": token, "alarm": DRY, "hours": "1", "reason": NASTY}
    assert client.post("/alarms/shelve", data=data).status_code == 303
    pages = [client.get(path).text for path in PAGES]
    assert sum("&lt;script&gt;alert" in page for page in pages) >= 3
    assert not any("<script>alert" in page for page in pages)
    assert "<script>alert" not in client.get("/nodes", params={"placed": NASTY}).text
    assert "<script>alert" not in client.get("/login", params={"next": NASTY}).text
    assert "<script>alert" not in client.get("/places/" + "%3Cscript%3Ealert(1)").text
    client.post("/alarms/unshelve", data={"form_token": token, "alarm": DRY})


def test_a_body_that_no_form_can_hold_is_refused(owner: httpx.Client) -> None:
    data = {"form_token": form_token(owner.get("/me").text), "alarm": HOT, "back": "x" * 20_000}
    assert owner.post("/alarms/acknowledge", data=data).status_code == 413
    chunks = (b"x" * 1000 for _ in range(30))
    assert owner.post("/alarms/acknowledge", content=chunks).status_code == 413
    assert owner.post("/login", content=b"\xff\xfe").status_code == 403
    many = "&".join(f"a{number}=1" for number in range(200))
    assert owner.post("/alarms/acknowledge", content=many).status_code == 403


def test_every_answer_carries_the_safe_headers(owner: httpx.Client) -> None:
    for path in (*PAGES, "/nothing", "/static/page.css", "/login"):
        headers = owner.get(path).headers
        policy = headers["content-security-policy"]
        assert "default-src 'none'" in policy
        assert "frame-ancestors 'none'" in policy
        assert "unsafe" not in policy
        assert headers["x-content-type-options"] == "nosniff"
        assert headers["referrer-policy"] == "same-origin"
        assert "server" not in headers
        assert "no-store" in headers["cache-control"] or "static" in path


def test_pages_need_nothing_from_outside_and_nothing_inline(owner: httpx.Client) -> None:
    for path in PAGES:
        page = owner.get(path).text
        assert not re.search(r"<[^>]*\s(style|on[a-z]+)=", page)
        assert not re.search(r"<script(?![^>]*\ssrc=)", page)
        assert not re.search(r"""(src|href|action)=["']?(https?:)?//""", page)
    for name in ("page.css", "page.js", "icon.svg"):
        text = owner.get(f"/static/{name}").text.replace("http://www.w3.org/2000/svg", "")
        assert "http" not in text
        assert "//" not in re.sub(r"// .*", "", text)


def test_no_secret_is_in_a_page_a_log_or_an_error(
    page_farm: PageFarm, owner: httpx.Client, new_client: NewClient, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level(logging.DEBUG)
    client = new_client()
    token = form_token(client.get("/login").text)
    texts = [client.post("/login", data={"form_token": token, "password": "guess-of-somebody"}).text]
    texts += [owner.get(path).text for path in (*PAGES, "/nothing", "/alarms?command=1", "/alarms?command=x")]
    texts.append(owner.post("/me/helpers", data={"form_token": "x", "password": "helper-guess"}).text)
    texts.append(caplog.text)
    address = page_farm.service.settings.recipients[0].address.get_secret_value()
    secrets = (
        PASSWORD,
        OWNER_HASH,
        HELPER_PASSWORD,
        "guess-of-somebody",
        "helper-guess",
        address,
        "folder://",
    )
    keys = (page_farm.context.link_key.hex(), page_farm.context.key_for(Role.OWNER).hex())
    assert [secret for secret in (*secrets, *keys) for text in texts if secret in text] == []


def test_an_error_of_the_program_shows_no_inside(page_farm: PageFarm, new_client: NewClient) -> None:
    client = new_client()

    def broken() -> object:
        raise RuntimeError(f"secret {PASSWORD}")

    kept, page_farm.context.plan = page_farm.context.plan, broken  # type: ignore[assignment]
    try:
        answer = client.get("/login")
    finally:
        page_farm.context.plan = kept
    assert answer.status_code == 500
    assert PASSWORD not in answer.text
    assert "Traceback" not in answer.text


def test_a_helper_acknowledges_but_changes_no_settings(page_farm: PageFarm, helper: httpx.Client) -> None:
    token = form_token(helper.get("/me").text)
    before = page_farm.settings_path.read_text()
    for path in ("/alarms/shelve", "/alarms/unshelve", "/nodes/place", "/me/helpers"):
        data = {"form_token": token, "alarm": HOT, "hours": "1", "node": "node-77", "place": "bin-1"}
        answer = helper.post(path, data=data)
        assert answer.status_code == 403
        assert "Only the owner" in answer.text
    assert page_farm.settings_path.read_text() == before
    assert 'action="/nodes/place"' not in helper.get("/nodes").text
    alarm = "node-14/battery/low/medium"
    assert helper.post("/alarms/acknowledge", data={"form_token": token, "alarm": alarm}).status_code == 303
    row = page_farm.service.store.journal.last(1, alarm)[0]
    assert (row.event, row.actor) == ("acknowledge", "Ben")


@pytest.mark.parametrize("listen", ["0.0.0.0", "192.168.1.5", "::", "farm.example"])
def test_a_page_without_a_password_stays_on_this_computer(listen: str) -> None:
    with pytest.raises(UsageError, match="without a password"):
        refuse_open_door(listen, has_password=False)
    refuse_open_door(listen, has_password=True)


@pytest.mark.parametrize("listen", ["127.0.0.1", "127.0.0.5", "::1", "localhost"])
def test_this_computer_alone_needs_no_password_of_the_owners_choosing(listen: str) -> None:
    refuse_open_door(listen, has_password=False)


def test_passwords_are_kept_as_salted_hashes() -> None:
    first, second = hash_password(PASSWORD), hash_password(PASSWORD)
    assert first != second
    assert PASSWORD not in first
    assert matches(PASSWORD, first)
    assert not matches(PASSWORD + "x", first)
    assert not matches("", None)
    assert not matches(PASSWORD, "plain text")
    assert re.fullmatch(r"([a-z2-9]{4}-){2}[a-z2-9]{4}", first_password())
    assert first_password() != first_password()


def test_streams_are_bounded_for_one_and_for_all(new_client: NewClient) -> None:
    feed = LiveFeed()
    assert all(feed.enter("ann") for _ in range(MOST_OF_ONE))
    assert not feed.enter("ann")
    others = [feed.enter(f"visitor {number}") for number in range(MOST_STREAMS)]
    assert sum(others) == MOST_STREAMS - MOST_OF_ONE
    feed.leave("ann")
    assert feed.enter("ann")
    assert new_client().get("/live").status_code == 401


# The signed link of a message.


def test_a_link_shows_its_alarm_and_one_tap_acknowledges_it(
    page_farm: PageFarm, new_client: NewClient
) -> None:
    client, address = new_client(), link(page_farm, DRY)
    page = client.get(address).text
    assert "Hatching tray 2" in page
    assert "Wet the cloth" in page
    assert page_farm.service.processor.site.states[DRY].acknowledged is False, "looking changes nothing"
    assert "Done." in client.post(address).text
    row = page_farm.service.store.journal.last(1, DRY)[0]
    assert (row.event, row.actor) == ("acknowledge", "keeper")
    assert client.post(address).status_code == 410, "a link is good for one tap"


def test_a_link_opens_nothing_else(page_farm: PageFarm, new_client: NewClient) -> None:
    client = new_client()
    page = client.get(link(page_farm)).text
    assert "Substrate temperature 44.3\u00a0°C" in page, "the value now"
    assert "<nav" not in page
    assert "Grow-out bin 1" not in page
    assert client.get("/").status_code == 303


def test_a_link_that_is_forged_expired_or_old_acknowledges_nothing(
    page_farm: PageFarm, new_client: NewClient
) -> None:
    client = new_client()
    good = link(page_farm)
    assert client.get(good[:-3] + "xxx").status_code == 404
    assert client.post(good[:-3] + "xxx").status_code == 410
    assert client.get(link(page_farm, age_ms=2 * MS_PER_HOUR)).status_code == 404
    assert client.post(link(page_farm, age_ms=2 * MS_PER_HOUR)).status_code == 410
    old = link(page_farm, since_ms=NOW_MS - 90 * MS_PER_MINUTE)
    assert "nothing to acknowledge" in client.post(old).text
    assert page_farm.service.processor.site.states[HOT].acknowledged is False
    assert client.get("/a/" + "x" * 5000).status_code == 404


def test_links_in_messages_lead_here(page_farm: PageFarm, new_client: NewClient) -> None:
    states = page_farm.service.processor.site.states
    key = kept_key(page_farm.service.store, LINK_KEY)
    maker = link_maker(key, "https://farm.example/", lambda alarm: states[alarm].since_ms, page_farm.clock)
    address = maker("keeper", HOT)
    assert address.startswith("https://farm.example/a/")
    assert "Grow-out bin 3" in new_client().get(address.removeprefix("https://farm.example")).text
    assert link_maker(key, "https://farm.example", lambda _: None, page_farm.clock)("keeper", HOT) == ""


def test_a_name_is_one_line(page_farm: PageFarm, log_in: LogIn) -> None:
    client = log_in(name="Ann\r\nBcc: all\u202e" + "x" * 99)
    alarm = "node-12/silent_minutes/high/medium"
    client.post(
        "/alarms/acknowledge", data={"form_token": form_token(client.get("/me").text), "alarm": alarm}
    )
    actor = page_farm.service.store.journal.last(1, alarm)[0].actor
    assert actor == ("AnnBcc: all" + "x" * 99)[:40]


def test_a_link_in_the_settings_no_more(page_farm: PageFarm, new_client: NewClient) -> None:
    claim = Claim("gone/air/high/high", "keeper", 1, page_farm.clock() + MS_PER_HOUR, new_nonce())
    assert new_client().get("/a/" + sign(claim, page_farm.context.link_key)).status_code == 404
