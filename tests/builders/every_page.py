"""Every page that a person can come to, as owner, as helper and as nobody, with the answers to forms."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from contextlib import closing, contextmanager
from dataclasses import dataclass, field
from pathlib import Path

import httpx
from cryptography.hazmat.primitives.serialization import Encoding
from enrolled_farm import EnrolledFarm, EnrolledPage
from logbook_farm import about_cohort, keep_logbook
from page_farm import HELPER_PASSWORD, PASSWORD, PageFarm, form_token
from page_keys import encrypted, make_page_keys
from photo_files import jpeg
from push_service import Browser

from monitor.boards import certificates
from monitor.notify.links import Claim, new_nonce, sign
from monitor.page.entries import BIN_FIELDS, COHORT_FIELDS
from monitor.page.security import hash_password
from monitor.page.server import PageServer
from monitor.records import MS_PER_HOUR, MS_PER_MINUTE
from monitor.store import Store

HOT = "bin-3/substrate_temperature/high/high"
OWNER, HELPER, NOBODY, BOARDS = "owner", "helper", "nobody", "boards"
"""Who looks: `BOARDS` is the owner of a farm whose broker is set up."""


@dataclass(frozen=True, slots=True)
class Stop:
    """A page, or the answer to a form on it: the form is named by its action and filled with values."""

    path: str
    who: str = OWNER
    form: str = ""
    values: Mapping[str, str] = field(default_factory=dict)

    def __str__(self) -> str:
        filled = " with " + ", ".join(f"{key}={text}" for key, text in self.values.items())
        return f"{self.who} {self.path}" + (
            f" -> {self.form}{filled if self.values else ''}" if self.form else ""
        )


MAIN = ("/", "/night", "/bins", "/cohorts", "/alarms", "/yields", "/logbook", "/nodes", "/me")
OWNERS = (
    *MAIN,
    *("/today", "/today?day=2026-09-01", "/places/bin-3", "/places/bin-3?span=year", "/places/cage-1"),
    *("/places/bin-5", "/places/box-2", "/night?date=2026-09-23", "/night?places=full", "/night?part=day"),
    *("/bins/bin-1", "/bins/bin-2", "/bins/bin-4", "/cohorts/pupae-1", "/cohorts/old-1", "/cohorts/flies-1"),
    *("/cohorts/start", "/cages/cage-1/write?what=flies", "/cages/cage-1/write?what=eggs", "/alarms/health"),
    *("/logbook?about=bin:bin-1&days=400", "/logbook/3/correct", "/logbook/6/correct", "/boards/node-03"),
    *(
        "/boards/node-12",
        "/boards/new",
        "/me?ended=Ben",
        "/me/messages?turned=on",
        "/phone",
        "/not-kept",
        "/nothing-here",
    ),
    *(f"/bins/bin-1/write?what={kind}" for kind in BIN_FIELDS if kind != "fill"),
    "/bins/bin-4/write?what=fill",
    *(f"/cohorts/pupae-1/write?what={kind}" for kind in COHORT_FIELDS if kind != "start"),
    "/cohorts/pupae-1/write?what=saw&event=hatch",
    *(f"/places/cage-1/write?what={kind}" for kind in ("collect", "dead", "note")),
    *("/places/bin-1/write?what=note", "/places/site/write?what=note", "/yields?grams=50&day=2026-10-01"),
    "/yields?grams=much&day=2031-10-01",
)
HELPERS = (
    *("/", "/yields", "/places/bin-3", "/alarms", "/logbook", "/nodes", "/boards/node-03", "/me"),
    "/me/messages",
)
WATER, CORRECT = "/bins/bin-1/write", "/logbook/6/correct"
STIR = "/bins/bin-1/write?what=stir"
ANSWERS = (
    Stop("/bins/bin-1/write?what=water", form=WATER, values={"kg": "three buckets"}),
    Stop("/bins/bin-1/write?what=water", form=WATER, values={"kg": "150"}),
    # It waited on a phone for years, or the phone's clock is wrong.
    Stop("/bins/bin-1/write?what=water", form=WATER, values={"kg": "1", "made_at_ms": "1000000000000"}),
    Stop("/cohorts/start", form="/cohorts/start", values={"grams": "-1"}),
    Stop("/places/cage-1/write?what=collect", form="/places/cage-1/write", values={"grams": "two strips"}),
    Stop("/places/cage-1/write?what=collect", form="/places/cage-1/write", values={"grams": "4000"}),
    Stop(CORRECT, form=CORRECT, values={"kg": "much"}),
    Stop("/places/bin-1", form="/places/bin-1/empty"),
    Stop("/me", form="/me/invite"),
    Stop("/me", form="/me/helpers", values={"password": "short"}),
)
OF_BOARDS = (
    Stop("/boards/new", BOARDS),
    Stop("/boards/new", BOARDS, "/boards/new", {"name": "node 3!", "place": "bin-5"}),
    Stop(
        "/boards/new",
        BOARDS,
        "/boards/new",
        {"place": "bin-5", "sensor-sht4x": "on", "wifi": "Yard", "wifi_password": "wet thumbs 12"},
    ),
    Stop("/boards/node-01", BOARDS),
    Stop("/nodes", BOARDS),
)


def stops(farm: PageFarm, join: str) -> tuple[Stop, ...]:
    """All of them; `join` is the path of a helper's link."""
    state = farm.service.processor.site.states[HOT]
    claim = Claim(HOT, "keeper", state.since_ms or 0, farm.clock() + MS_PER_HOUR, new_nonce())
    link = "/a/" + sign(claim, farm.context.link_key)
    nobodys = (
        *(Stop(path, NOBODY) for path in ("/login", "/login?next=/night", "/phone", "/not-kept", link, join)),
        *(Stop(path, NOBODY) for path in ("/a/nonsense", "/join/nonsense")),
        Stop("/login", NOBODY, "/login", {"password": "a guess"}),
        Stop(join, NOBODY, join, {"name": " "}),
    )
    return (
        *nobodys,
        *(Stop(path) for path in OWNERS),
        *ANSWERS,
        *(Stop(path, HELPER) for path in HELPERS),
        *OF_BOARDS,
    )


@dataclass(slots=True)
class EveryPage:
    """The farm on its bad morning with its logbook, and one whose broker is set up, both served."""

    farm: PageFarm
    addresses: Mapping[str, str]
    photo: str = ""
    _known: dict[str, dict[str, str]] = field(default_factory=dict)

    def client(self, who: str, language: str = "en") -> httpx.Client:
        """A browser of theirs that has logged in and chosen a language."""
        view = {"rearing_view": f"{language}-c"}
        client = httpx.Client(base_url=self.addresses[who], trust_env=False, cookies=view)
        if who != NOBODY:
            data = {
                "form_token": form_token(client.get("/login").text),
                "password": HELPER_PASSWORD if who == HELPER else PASSWORD,
                "name": "Ben" if who == HELPER else "Ann",
            }
            assert client.post("/login", data=data).status_code == 303
        return client

    def cookies(self, who: str) -> Mapping[str, str]:
        """Those of a session of theirs, the same each time."""
        if who not in self._known:
            with closing(self.client(who)) as client:
                self._known[who] = {each.name: each.value or "" for each in client.cookies.jar}
        return self._known[who]

    def take_photo(self) -> None:
        """The owner stirred a bin and took a photo of it."""
        with closing(self.client(OWNER)) as owner:
            data = {"form_token": form_token(owner.get(STIR).text), "kind": "stir"}
            photo = {"photo": ("photo.jpg", jpeg(), "image/jpeg")}
            assert owner.post(WATER, data=data, files=photo).status_code == 303
        with Store.open(self.farm.context.store_path, create=False, check=False) as store:
            self.photo = f"/photos/{store.logbook.newest_id()}"

    def stops(self) -> tuple[Stop, ...]:
        """All pages of both."""
        with closing(self.client(OWNER)) as owner:
            answer = owner.post("/me/invite", data={"form_token": form_token(owner.get("/me").text)})
        found = re.search(r"<textarea[^>]*>https?://[^/]+([^<]+)</textarea>", answer.text)
        assert found is not None, answer.text
        return (*stops(self.farm, found[1]), Stop(self.photo))


@contextmanager
def every_page(folder: Path) -> Iterator[EveryPage]:
    """Built, and served while inside."""
    (folder / "farm").mkdir()
    (folder / "boards").mkdir()
    (folder / "keys").mkdir()
    farm = PageFarm(folder / "farm", step_ms=10 * MS_PER_MINUTE)
    farm.build()
    keep_logbook(farm)
    with Store.open(farm.context.store_path, create=False, check=False) as store:
        flies = {"stage": "adult", "place": "cage-1", "animals": 900, "purpose": "breeding", "cage": "cage-1"}
        store.logbook.add(about_cohort("flies-1", "start", 1.4, **flies))
        for name in ("a", "b", "c"):
            phone = Browser().phone(f"https://updates.push.example.com/{name}", "keeper", device="android")
            store.phones.add(phone)
        store.phones.lost(3, farm.clock())
    farm.context.change_helper_password(hash_password(HELPER_PASSWORD))
    make_page_keys(folder / "keys")
    farm.context.ca = certificates.ca_certificate(folder / "keys").public_bytes(Encoding.DER)
    server = PageServer(farm.context, port=0, encrypted=encrypted(folder / "keys"))
    boards = PageServer(EnrolledPage(EnrolledFarm(folder / "boards")).context, port=0)
    server.start()
    boards.start()
    addresses = {**dict.fromkeys((OWNER, HELPER, NOBODY), server.address), BOARDS: boards.address}
    try:
        with farm.turning():
            whole = EveryPage(farm, addresses)
            whole.take_photo()
            yield whole
    finally:
        server.stop()
        boards.stop()
        farm.close()
