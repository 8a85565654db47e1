"""The page of many sites: to each person the own sites, a login, and how old what it shows is."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import httpx
import pytest
from html5lib import HTMLParser
from many_sites import NOW_MS, ManySites, settings_of

from monitor.page.context import LiveFeed
from monitor.page.security import Throttle
from monitor.page.server import Door
from monitor.records import MS_PER_MINUTE
from monitor.sites.lookout import Lookout
from monitor.sites.page import SitesApp
from monitor.sites.settings import SitesFile
from monitor.words.catalogue import LANGUAGES

PEOPLE: list[dict[str, object]] = [
    {"id": "amina", "sites": {"*": "full"}, "password": "four plain words here"},
    {"id": "ben", "sites": {"*": "care", "hot-yard": "none"}, "password": "another four plain words"},
    {"id": "cho", "sites": {"fine-yard": "full"}, "address": "folder:///tmp/cho"},
]


class Farms:
    """The page over an archive in memory, at a clock that stands."""

    def __init__(self, folder: Path, many: ManySites, people: list[dict[str, object]] = PEOPLE) -> None:
        self.many, self.now_ms = many, NOW_MS
        settings = settings_of(people=people, group={"title": "Valley farms"})
        self.lookout = Lookout(SitesFile(folder / "sites.toml", settings), lambda _settings: many.archive)
        app = SitesApp(
            self.lookout,
            b"k" * 32,
            lambda: self.now_ms,
            LiveFeed(),
            Throttle(pause=lambda _seconds: None),
        ).build()
        self.door = Door("127.0.0.1", 0)
        self.door.listen()
        self.door.serve(app, [])
        self.client = httpx.Client(base_url=self.door.address, trust_env=False)

    def __enter__(self) -> Farms:
        return self

    def __exit__(self, *_error: object) -> None:
        self.client.close()
        self.door.close()

    def log_in(self, name: str, password: str, to: str = "") -> httpx.Response:
        form = self.client.get("/login" + (f"?next={to}" if to else "")).text
        found = re.search(r'name="form_token" value="([^"]+)"', form)
        assert found
        values = {"form_token": found[1], "name": name, "password": password, "next": to}
        return self.client.post("/login", data=values)

    def text(self, path: str = "/", language: str = "en") -> str:
        answer = self.client.get(path, headers={"accept-language": language})
        assert answer.status_code == 200, answer.text
        return answer.text.replace("\u00a0", " ")


@pytest.fixture
def farms(tmp_path: Path) -> Iterator[Farms]:
    many = ManySites()
    many.a_few()
    made = Farms(tmp_path, many)
    made.lookout.look(NOW_MS)
    with made:
        yield made


def test_nobody_sees_a_site_without_a_login(farms: Farms) -> None:
    for path in ("/", "/sites/hot-yard"):
        answer = farms.client.get(path)
        assert answer.status_code == 303 and answer.headers["location"].startswith("/login")
    assert farms.client.get("/live").status_code == 401
    assert "hot-yard" not in farms.client.get("/login").text


@pytest.mark.parametrize(
    ("name", "password"),
    [
        ("amina", "another four plain words"),
        ("nobody", "four plain words here"),
        ("", ""),
        ("cho", ""),
        ("AMINA", "four plain words here"),
        ("amina", "x" * 5000),
    ],
)
def test_a_wrong_name_or_password_opens_nothing(farms: Farms, name: str, password: str) -> None:
    answer = farms.log_in(name, password)
    assert answer.status_code == 403
    assert "The name or the password is not right." in answer.text
    assert farms.client.get("/").status_code == 303


def test_the_worst_stands_first_with_what_is_to_be_had(farms: Farms) -> None:
    assert farms.log_in("amina", "four plain words here", "/").headers["location"] == "/"
    page = farms.text()
    assert [
        page.index(site) for site in ("hot-yard", "quiet-yard", "seen-yard", "dry-yard", "fine-yard")
    ] == sorted(page.index(site) for site in ("hot-yard", "quiet-yard", "seen-yard", "dry-yard", "fine-yard"))
    assert "Substrate temperature 47.1 °C, should be below 42 °C" in page
    assert "eggs 40 g (30 to 52), larvae 12 kg (9 to 15)" in page
    assert "5 sites: 1 needs somebody, 1 is silent" in page


def test_each_person_sees_the_own_sites_and_no_more_of_them(farms: Farms) -> None:
    farms.log_in("ben", "another four plain words")
    page = farms.text()
    assert "hot-yard" not in page and "fine-yard" in page
    assert "eggs" not in page and "larvae" not in page
    assert farms.client.get("/sites/hot-yard").status_code == 404
    assert farms.client.get("/sites/none-such").status_code == 404
    one = farms.text("/sites/dry-yard")
    assert "62 %" in one and "harvest" not in one and "eggs" not in one
    hidden = farms.client.get("/sites/hot-yard").text.replace("hot-yard", "")
    unknown = farms.client.get("/sites/none-such").text.replace("none-such", "")
    strip = re.compile(r'value="[^"]*"')
    assert strip.sub("", hidden) == strip.sub("", unknown), "nobody learns which sites there are"


def test_a_site_whole_in_the_words_of_its_own_page(farms: Farms) -> None:
    farms.log_in("amina", "four plain words here")
    page = farms.text("/sites/hot-yard")
    for text in ("Act now", "Substrate 46.6 to 47.1 °C", "node-3: needs a hand", "half of the larvae dark"):
        assert text in page


def test_while_the_archive_is_away_the_page_says_how_old_it_is(farms: Farms) -> None:
    farms.log_in("amina", "four plain words here")
    farms.many.archive.is_silent = True
    farms.now_ms = NOW_MS + 25 * MS_PER_MINUTE
    farms.lookout.look(farms.now_ms)
    page = farms.text()
    assert "The archive has not answered since" in page and "(25 min ago)" in page
    assert 'class="stale"' in page and "hot-yard" in page
    one = farms.text("/sites/hot-yard")
    assert "The archive has not answered since" in one and "47.1 °C" in one


def test_before_the_first_answer_the_page_says_so(tmp_path: Path) -> None:
    many = ManySites()
    made = Farms(tmp_path, many)
    with made:
        made.log_in("amina", "four plain words here")
        assert "asked for the first time" in made.text()
        many.archive.is_silent = True
        made.lookout.look(NOW_MS)
        assert "nothing was read before" in made.text()


def test_what_was_known_is_shown_after_a_restart(farms: Farms, tmp_path: Path) -> None:
    farms.lookout.close()
    farms.many.archive.is_silent = True
    again = Farms(tmp_path, farms.many)
    again.now_ms = NOW_MS + 60 * MS_PER_MINUTE
    again.lookout.look(again.now_ms)
    with again:
        again.log_in("amina", "four plain words here")
        page = again.text()
    assert "hot-yard" in page and "(1 h ago)" in page
    assert (tmp_path / "sites" / "last.json").stat().st_mode & 0o777 == 0o600


def test_a_torn_memory_is_asked_anew(farms: Farms, tmp_path: Path) -> None:
    farms.lookout.close()
    kept = tmp_path / "sites" / "last.json"
    kept.write_bytes(kept.read_bytes()[:300])
    with Farms(tmp_path, farms.many) as again:
        assert again.lookout.known.overview is None
        assert again.lookout.look(NOW_MS).overview is not None


def test_a_session_ends_with_the_password_and_with_a_log_out(farms: Farms, tmp_path: Path) -> None:
    farms.log_in("amina", "four plain words here")
    farms.text()
    changed = Farms(tmp_path, farms.many, [{**PEOPLE[0], "password": "other words"}])
    with changed:
        changed.client.cookies = farms.client.cookies
        assert changed.client.get("/").status_code == 303
    token = re.search(r'name="form_token" value="([^"]+)"', farms.text())
    assert token
    assert farms.client.post("/logout", data={"form_token": "x"}).status_code == 403
    assert farms.client.post("/logout", data={"form_token": token[1]}).status_code == 303
    assert farms.client.get("/").status_code == 303


def test_a_form_from_elsewhere_is_refused(farms: Farms) -> None:
    answer = farms.client.post("/login", data={"name": "amina", "password": "four plain words here"})
    assert answer.status_code == 403
    headers = {"origin": "https://elsewhere.example"}
    assert farms.client.post("/login", data={}, headers=headers).status_code == 403


def test_of_many_sites_the_worst_are_on_the_first_page_and_any_can_be_found(tmp_path: Path) -> None:
    many = ManySites()
    for number in range(1200):
        many.beat(f"farm-{number:04}")
    many.beat("farm-0777", unacknowledged_alarms=1.0, open_alarms=1.0)
    many.alarm("farm-0777", "grow-out-2", 47.1)
    made = Farms(tmp_path, many)
    made.lookout.look(NOW_MS)
    with made:
        made.log_in("amina", "four plain words here")
        page = made.text()
        assert page.index("farm-0777") < page.index("farm-0000")
        assert "farm-0500" not in page and len(page.encode()) < 100_000
        assert "1100 more stand below" in page
        assert "farm-0150" in made.text("/?from=100")
        assert "farm-0500" in made.text("/?find=0500") and "farm-0777" not in made.text("/?find=0500")
        assert "No site of that name." in made.text("/?find=%3Cscript%3E")
        assert "<script>" not in made.text("/?find=%3Cscript%3E")


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_page_is_valid_in_each_language(farms: Farms, language: str) -> None:
    farms.log_in("amina", "four plain words here")
    for path in ("/", "/sites/hot-yard", "/sites/quiet-yard", "/?find=x"):
        HTMLParser(strict=True).parse(farms.text(path, language))
    farms.client.cookies.clear()
    HTMLParser(strict=True).parse(farms.text("/login", language))
    missing = farms.client.get("/nothing/here", headers={"accept-language": language})
    assert missing.status_code == 404
    HTMLParser(strict=True).parse(missing.text)
