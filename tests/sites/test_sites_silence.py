"""Silence of sites: told once, to those who may know, and not while the archive itself is away."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

import pytest
from many_sites import NOW_MS, ManySites, settings_of

from monitor.errors import ChannelError, sentence
from monitor.records import MS_PER_DAY, MS_PER_HOUR, MS_PER_MINUTE
from monitor.sites.lookout import Known
from monitor.sites.overview import SiteFigures
from monitor.sites.overview_reader import SitesReader, overview_of
from monitor.sites.settings import SitesSettings
from monitor.sites.silence import AWAY_MS, SilenceNews
from monitor.sites.watch import STATE, SilenceWatch, open_store
from monitor.store import Store
from monitor.words.catalogue import LANGUAGES

TROUBLE = sentence("the archive server does not answer ({reason})", reason="refused")
PEOPLE = [
    {"id": "amina", "sites": {"*": "full"}, "address": "folder:///tmp/amina"},
    {"id": "ben", "sites": {"north-*": "care"}, "address": "folder:///tmp/ben", "language": "fr"},
]


class Inbox:
    """A channel that keeps what it was handed; refuses while `down`."""

    def __init__(self) -> None:
        self.texts: list[tuple[str, str]] = []
        self.down = False

    def send(self, title: str, body: str) -> None:
        if self.down:
            raise ChannelError("down")
        self.texts.append((title, body))


class Watched:
    """Sites that were heard at some time, a watch, and the inboxes of its people."""

    def __init__(self, folder: Path, heard: dict[str, int], **tables: object) -> None:
        self.settings: SitesSettings = settings_of(**{"people": PEOPLE, **tables})
        self.heard = dict(heard)
        self.folder = folder
        self.boxes = {"amina": Inbox(), "ben": Inbox()}
        self.now_ms = NOW_MS
        self.begin()

    def begin(self) -> None:
        """As at a start of the program."""
        self.store: Store = open_store(self.folder)
        self.watch = SilenceWatch(self.store, self.settings, self.boxes, lambda: self.now_ms)
        self.watch.worker._launch = lambda job: job()

    def again(self) -> None:
        """The program ends, whichever way, and is started again."""
        self.store.close()
        self.begin()

    def look(self, at_ms: int, *, away: bool = False) -> SilenceNews:
        """One look; whatever it tells is sent."""
        self.now_ms = at_ms
        figures = {site: SiteFigures(site, heard_ms=heard_ms) for site, heard_ms in self.heard.items()}
        overview = overview_of(figures, self.settings, at_ms)
        news = self.watch.follow(Known(overview, TROUBLE if away else None), at_ms)
        self.send()
        return news

    def send(self) -> None:
        for _ in range(4):
            self.watch.worker.step(self.now_ms)

    def titles(self, person: str) -> list[str]:
        return [title for title, _ in self.boxes[person].texts]


@pytest.fixture
def watched(tmp_path: Path) -> Iterator[Watched]:
    """Two sites, both heard just now, and a first look."""
    made = Watched(tmp_path, {"north-1": NOW_MS, "south-1": NOW_MS})
    made.look(NOW_MS)
    yield made
    made.store.close()


def minutes(count: float) -> int:
    return NOW_MS + round(count * MS_PER_MINUTE)


def keep_heard(watched: Watched, at_ms: int, *but: str) -> None:
    for site in watched.heard:
        if site not in but:
            watched.heard[site] = at_ms


def look_each_five_minutes(watched: Watched, first: int, last: int, *silent: str, away: bool = False) -> None:
    for at in range(first, last + 1, 5):
        keep_heard(watched, minutes(at), *silent)
        watched.look(minutes(at), away=away)


def test_silence_is_told_once_to_those_who_may_know(watched: Watched) -> None:
    look_each_five_minutes(watched, 5, 60, "south-1")
    assert watched.titles("amina") == [], "an hour is the limit, not over it"
    look_each_five_minutes(watched, 65, 200, "south-1")
    assert watched.titles("amina") == ["south-1: silent"]
    assert watched.titles("ben") == []
    body = watched.boxes["amina"].texts[0][1]
    assert "call somebody there" in body and "(1 h 5 min)" in body


def test_who_may_see_it_is_told_in_the_own_language(watched: Watched) -> None:
    look_each_five_minutes(watched, 5, 70, "north-1")
    assert watched.titles("ben") == ["north-1 : se tait"]
    assert watched.titles("amina") == ["north-1: silent"]


def test_a_site_that_is_heard_again_is_told_and_may_fall_silent_anew(watched: Watched) -> None:
    look_each_five_minutes(watched, 5, 90, "south-1")
    look_each_five_minutes(watched, 95, 100)
    assert watched.titles("amina") == ["south-1: silent", "south-1: heard again"]
    assert "after 1 h 35 min" in watched.boxes["amina"].texts[1][1]
    look_each_five_minutes(watched, 105, 190, "south-1")
    assert watched.titles("amina")[2:] == ["south-1: silent"]


def test_a_restart_tells_nothing_twice_and_forgets_nothing(watched: Watched) -> None:
    watched.boxes["amina"].down = True
    look_each_five_minutes(watched, 5, 70, "south-1")
    watched.again()
    look_each_five_minutes(watched, 75, 80, "south-1")
    watched.boxes["amina"].down = False
    watched.now_ms = minutes(90)
    watched.send()
    assert watched.titles("amina") == ["south-1: silent"]


def test_while_the_archive_is_away_no_site_is_silent_and_that_is_told_once(watched: Watched) -> None:
    for at in range(1, 240, 5):
        watched.look(minutes(at), away=True)
    assert watched.titles("amina") == ["The archive of the sites does not answer"]
    assert "refused" in watched.boxes["amina"].texts[0][1]
    assert watched.titles("ben") == ["L’archive des sites ne répond pas"]


def test_a_short_absence_of_the_archive_is_no_news_and_delays_nothing(watched: Watched) -> None:
    look_each_five_minutes(watched, 5, 50, "south-1")
    watched.look(minutes(54), away=True)
    assert minutes(55) - minutes(50) < AWAY_MS
    look_each_five_minutes(watched, 55, 65, "south-1")
    assert watched.titles("amina") == ["south-1: silent"]


def test_after_a_long_absence_sites_have_their_limit_to_send_what_they_kept(watched: Watched) -> None:
    look_each_five_minutes(watched, 5, 240, away=True)
    watched.heard = {"north-1": NOW_MS, "south-1": NOW_MS}
    for at in range(245, 300, 5):
        keep_heard(watched, minutes(at), "south-1", *(["north-1"] if at < 270 else []))
        watched.look(minutes(at))
    assert watched.titles("amina")[1:] == ["The archive answers again"], "nobody is called silent yet"
    look_each_five_minutes(watched, 300, 310, "south-1")
    assert watched.titles("amina")[2:] == ["south-1: silent"], "who stays silent is told then"


def test_many_at_once_are_one_message_that_names_the_likelier_cause(tmp_path: Path) -> None:
    heard = {f"north-{number}": NOW_MS for number in range(30)}
    watched = Watched(tmp_path, heard)
    look_each_five_minutes(watched, 0, 60, *heard)
    news = watched.look(minutes(61))
    assert news.together and len(news.silent) == 30
    assert watched.titles("amina") == ["30 sites are silent"]
    body = watched.boxes["amina"].texts[0][1]
    assert "network or the archive" in body and "and 10 more" in body
    watched.store.close()


def test_a_few_of_many_are_one_message_too_but_blame_no_network(tmp_path: Path) -> None:
    watched = Watched(tmp_path, {f"north-{number}": NOW_MS for number in range(30)})
    look_each_five_minutes(watched, 0, 60, "north-3", "north-7")
    news = watched.look(minutes(61))
    assert len(news.silent) == 2 and not news.together
    assert watched.titles("amina") == ["2 sites are silent"]
    assert "network" not in watched.boxes["amina"].texts[0][1]
    watched.store.close()


def test_a_site_that_is_not_watched_is_told_to_nobody(tmp_path: Path) -> None:
    watched = Watched(tmp_path, {"north-1": NOW_MS}, sites=[{"id": "north-1", "watched": False}])
    look_each_five_minutes(watched, 0, 500, "north-1")
    assert watched.titles("amina") == []
    watched.store.close()


def test_in_quiet_hours_the_message_waits_and_goes_when_the_site_is_heard_before(tmp_path: Path) -> None:
    night = {"start": "00:00", "end": "23:59"}
    watched = Watched(tmp_path, {"north-1": NOW_MS}, people=[{**PEOPLE[0], "quiet_hours": night}])
    look_each_five_minutes(watched, 0, 65, "north-1")
    assert watched.titles("amina") == [] and len(watched.store.outbox.waiting()) == 1
    keep_heard(watched, minutes(70))
    watched.look(minutes(70))
    watched.now_ms = NOW_MS + 2 * MS_PER_DAY
    watched.send()
    assert watched.titles("amina") == []
    watched.store.close()


def test_sites_that_are_silent_at_the_very_first_look_are_told(tmp_path: Path) -> None:
    watched = Watched(tmp_path, {"north-1": NOW_MS - 5 * MS_PER_HOUR, "north-2": NOW_MS})
    watched.look(NOW_MS)
    assert watched.titles("amina") == ["north-1: silent"]
    watched.store.close()


def test_a_message_tells_how_it_was_before_but_no_yields_to_who_may_not_know(tmp_path: Path) -> None:
    many = ManySites()
    many.a_few()
    settings = settings_of(people=PEOPLE[:1])
    watched = Watched(tmp_path, {}, people=PEOPLE[:1])
    overview = SitesReader(many.archive, settings).look(NOW_MS)
    watched.watch.follow(Known(overview), NOW_MS)
    watched.send()
    title, body = watched.boxes["amina"].texts[0]
    assert title == "quiet-yard: silent"
    assert "When it was heard last: 1 alarm that nobody has seen; grow-out-1: Substrate temperature" in body
    assert "eggs" not in body
    watched.store.close()


def test_many_that_are_heard_again_are_one_message(tmp_path: Path) -> None:
    heard = {f"north-{number}": NOW_MS for number in range(30)}
    watched = Watched(tmp_path, heard)
    look_each_five_minutes(watched, 0, 65, *heard)
    look_each_five_minutes(watched, 70, 70)
    assert watched.titles("amina")[1:] == ["30 sites are heard again"]
    assert "north-0, north-1" in watched.boxes["amina"].texts[1][1]
    watched.store.close()


def test_what_was_told_is_kept_in_plain_numbers(watched: Watched) -> None:
    look_each_five_minutes(watched, 5, 70, "south-1")
    kept = json.loads(watched.store.meta.get(STATE) or "")
    assert kept["told"] == {"south-1": NOW_MS}


@pytest.mark.parametrize("language", LANGUAGES)
def test_each_message_can_be_said_in_each_language(tmp_path: Path, language: str) -> None:
    people = [{**PEOPLE[0], "language": language}]
    watched = Watched(tmp_path, {f"north-{number}": NOW_MS for number in range(9)}, people=people)
    look_each_five_minutes(watched, 0, 65, *watched.heard)
    look_each_five_minutes(watched, 70, 70)
    watched.now_ms = minutes(140)
    watched.send()
    look_each_five_minutes(watched, 140, 210, "north-1")
    look_each_five_minutes(watched, 300, 320, away=True)
    watched.look(minutes(330))
    titles = watched.titles("amina")
    assert len(titles) == 6 and len(set(titles)) == 6, titles
    watched.store.close()
