"""Now as the list of the day: what one tap does, what is ticked off, how many taps a deed takes."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from html.parser import HTMLParser
from pathlib import Path
from typing import TYPE_CHECKING

import httpx
import pytest
from browser import Tab
from logbook_farm import about_cohort, keep_logbook
from page_farm import PageFarm, form_token

from monitor.farm.places import SiteReader
from monitor.farm.records import PlaceState
from monitor.page.server import PageServer
from monitor.records import MS_PER_MINUTE, AlarmStatus, SubjectKind
from monitor.store import Store

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Locator

LogIn = Callable[..., httpx.Client]
HOT, WARM = (f"bin-3/substrate_temperature/high/{priority}" for priority in ("high", "medium"))
SMALL = {"width": 360, "height": 640}
BAR = 60
"""The navigation at the bottom of a phone hides so much of a screen."""


@pytest.fixture(scope="module")
def page_farm(tmp_path_factory: pytest.TempPathFactory) -> Iterator[PageFarm]:
    """A farm of its own with its logbook, since these tests write into it."""
    farm = PageFarm(Path(tmp_path_factory.mktemp("farm")), step_ms=10 * MS_PER_MINUTE)
    farm.build()
    keep_logbook(farm)
    with farm.turning():
        yield farm
    farm.close()


def text_of(page: str) -> str:
    return " ".join(re.sub(r"<[^>]+>", " ", page).replace("\u00a0", " ").split())


def form_of(page: str, button: str) -> tuple[str, dict[str, str]]:
    """Where the form with that button is sent, and what it holds when it is opened."""
    for form in re.findall(r"<form.*?</form>", page, re.DOTALL):
        if re.search(rf"<button[^>]*>{re.escape(button)}", form):
            action = re.search(r'action="([^"]+)"', form)
            assert action is not None
            return action[1], dict(re.findall(r'<input[^>]*name="([^"]+)"[^>]*?value="([^"]*)"', form))
    raise AssertionError(f"no form has the button {button}")


def water_entries(farm: PageFarm) -> list[dict[str, object]]:
    with Store.read_only(farm.context.store_path) as store:
        entries = store.logbook.every(SubjectKind.BIN, "bin-1")
    return [dict(entry.body) for entry in entries if entry.kind == "water"]


def test_one_tap_waters_and_ticks_off_once_however_often_it_is_sent(
    owner: httpx.Client, page_farm: PageFarm
) -> None:
    before = owner.get("/").text
    main = text_of(before)
    assert main.index("Act now") < main.index("Today") < main.index("places are fine")
    assert "Water: Grow-out bin 1" in main.replace(" :", ":")
    action, fields = form_of(before, "Watered")
    assert action == "/bins/bin-1/write"
    assert 0.5 < float(fields["kg"]) < 8.0
    for _ in range(2):
        answer = owner.post(action, data=fields)
        assert answer.status_code == 303
        assert answer.headers["location"].startswith("/?wrote=")
    assert [body["kg"] for body in water_entries(page_farm)] == [float(fields["kg"])]
    after = owner.get("/").text
    assert "Watered" not in re.sub(r"<details.*?</details>", "", after, flags=re.DOTALL)
    assert re.search(r"Grow-out bin 1: [\d.]+ litres of water.*Ann", text_of(after))


class Forms(HTMLParser):
    """The alarms that a page offers to acknowledge, and whether their form is folded away."""

    def __init__(self) -> None:
        super().__init__()
        self.folds, self.inside = 0, False
        self.alarms: list[tuple[str, bool]] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        named = dict(attrs)
        self.folds += tag == "details"
        self.inside = named.get("action") == "/alarms/acknowledge" if tag == "form" else self.inside
        if tag == "input" and self.inside and named.get("name") == "alarm":
            self.alarms.append((str(named["value"]), self.folds > 0))

    def handle_endtag(self, tag: str) -> None:
        self.folds -= tag == "details"


def test_what_is_folded_is_acknowledged_with_one_tap_too(page_farm: PageFarm, owner: httpx.Client) -> None:
    page = owner.get("/").text
    found = Forms()
    found.feed(page)
    names = [name for name, _ in found.alarms]
    assert len(names) == len(set(names))
    assert 'class="folded"' in page
    reader = SiteReader(page_farm.context.reading(), page_farm.plan(), page_farm.clock())
    places = {place.id: place for place in reader.site().places}
    wanted = {
        next(alarm for alarm in place.alarms if alarm.stands and not alarm.state.acknowledged).rule.alarm_id
        for place in places.values()
        if place.state is not PlaceState.UNKNOWN
        and any(alarm.stands and not alarm.state.acknowledged for alarm in place.alarms)
    }
    assert len(wanted) > 1
    assert wanted - {name for name, folded in found.alarms if not folded} == set()


def test_a_page_that_was_made_before_an_alarm_came_anew_acknowledges_nothing(
    page_farm: PageFarm, owner: httpx.Client
) -> None:
    page, states = owner.get("/alarms").text, page_farm.service.processor.site.states
    began = re.search(rf'value="{HOT}">\s*<input type="hidden" name="began" value="(\d+)"', page)
    assert began is not None and int(began[1]) == states[HOT].since_ms
    data = {"form_token": form_token(page), "alarm": HOT, "began": str(int(began[1]) - 1)}
    refused = owner.post("/alarms/acknowledge", data=data)
    assert refused.status_code == 400 and "anew" in refused.text
    assert not states[HOT].acknowledged


def test_acknowledging_a_lower_alarm_leaves_the_higher_one_calling(
    page_farm: PageFarm, owner: httpx.Client
) -> None:
    """The lower one is folded beside the other: a tap there must not end what wakes people."""
    states = page_farm.service.processor.site.states
    data = {"form_token": form_token(owner.get("/").text), "alarm": WARM, "back": "/"}
    done = owner.post("/alarms/acknowledge", data=data).headers["location"]
    assert "Done." in owner.get(done).text
    assert states[WARM].acknowledged
    assert (states[HOT].status, states[HOT].acknowledged) == (AlarmStatus.UNACKNOWLEDGED, False)


def test_what_leaves_no_entry_has_a_slight_button(owner: httpx.Client) -> None:
    page = owner.get("/").text
    buttons = re.findall(r'action="/today/tick".*?<button([^>]*)>', page, re.DOTALL)
    assert buttons and set(buttons) == {' class="slight"'}


def test_every_task_leads_to_a_page_that_is_there(owner: httpx.Client) -> None:
    """A board to its own page; one that the settings do not name to where it is given a place."""
    page = owner.get("/").text
    links = dict(re.findall(r'</b> <a href="([^"]+)">([^<]+)</a>', page))
    assert links["/boards/node-12"] == "node-12"
    assert links["/nodes"] == "node-77"
    assert "say on the page under Boards where it is" in page
    assert {link: owner.get(link).status_code for link in links} == dict.fromkeys(links, 200)


def test_the_night_carries_the_same_list_and_earlier_ones_do_not(owner: httpx.Client) -> None:
    now, night = owner.get("/").text, owner.get("/night").text
    listed = night[night.index('<ul class="plain asked">') :].partition("</ul>")[0]
    links = re.findall(r'</b> <a href="([^"]+)">', now)
    assert len(links) > 3
    assert re.findall(r'<a href="([^"]+)">', listed) == links
    assert "Harvest: Grow-out bin 1" in text_of(listed)
    assert 'href="/#today"' in night
    assert "plain asked" not in owner.get("/night?date=2026-09-23").text


def test_an_amount_that_cannot_be_is_refused_and_leads_back_to_now(owner: httpx.Client) -> None:
    with_form = owner.get("/").text
    action, fields = form_of(with_form, "Harvested")
    answer = owner.post(action, data={**fields, "grams": "a bucket"})
    assert answer.status_code == 400
    assert "“a bucket” is no weight" in answer.text
    assert '<input type="hidden" name="back" value="/">' in answer.text


def test_a_form_leads_back_to_no_other_site(owner: httpx.Client) -> None:
    page = owner.get("/bins/bin-2/write?what=stir").text
    data = {"form_token": form_token(page), "kind": "stir", "back": "//elsewhere.example/", "mark": "m-back"}
    assert owner.post("/bins/bin-2/write", data=data).headers["location"].startswith("/bins/bin-2?")


def test_a_board_is_ticked_off_by_whoever_looked_after_it(helper: httpx.Client, owner: httpx.Client) -> None:
    page = helper.get("/").text
    assert "node-12" in text_of(page)
    data = {"form_token": form_token(page), "task": "board:node-12"}
    assert helper.post("/today/tick", data=data).status_code == 303
    assert helper.post("/today/tick", data=data).status_code == 303
    told = text_of(owner.get("/").text)
    assert re.search(r"Look after a board: node-12 – Ben, 06:4\d", told)
    assert not any(
        fields.get("task") == "board:node-12"
        for fields in (
            dict(re.findall(r'<input[^>]*name="([^"]+)"[^>]*?value="([^"]*)"', form))
            for form in re.findall(r"<form.*?</form>", owner.get("/").text, re.DOTALL)
        )
    )


@pytest.mark.parametrize("task", ["board:no-such", "water:bin-1", "", "x" * 500, "board:node-12:<b>"])
def test_what_is_no_task_of_today_is_not_ticked_off(owner: httpx.Client, task: str) -> None:
    token = form_token(owner.get("/").text)
    answer = owner.post("/today/tick", data={"form_token": token, "task": task})
    assert answer.status_code == 409
    assert "not on today’s list" in answer.text


def test_the_lists_of_earlier_days_say_who_did_what(owner: httpx.Client) -> None:
    told = text_of(owner.get("/today").text)
    assert "Wed 23 Sep: what was done" in told
    assert "Grow-out bin 2: stirred – keeper" in told
    assert "Nothing was written down on that day" in owner.get("/today?day=2026-08-01").text
    assert owner.get("/today?day=2031-01-01").status_code == 404
    assert owner.get("/today?day=nonsense").status_code == 200


def test_a_hot_bin_offers_stirred_and_spread_and_never_water(
    owner: httpx.Client, page_farm: PageFarm
) -> None:
    page = owner.get("/bins/bin-3/write?what=fill").text
    form = {
        "form_token": form_token(page),
        "kind": "fill",
        "kg": "8",
        "moisture": "50 %",
        "surface_m2": "60 x 40 cm",
        "mark": "m-fill",
        "at": "2026-09-23T06:40",
    }
    assert owner.post("/bins/bin-3/write", data=form).status_code == 303
    for path in ("/bins/bin-3", "/places/bin-3"):
        main = owner.get(path).text
        links = re.findall(r'<a class="(press|quiet)" href="[^"]*/write\?what=([^"]+)">', main)
        assert links[:2] == [("press", "stir"), ("quiet", "stir&amp;spread=on")], path
        assert "water" not in [what for _, what in links], path
    now = owner.get("/").text
    assert re.search(r"Cool down: Grow-out bin 3", text_of(now).replace(" :", ":"))
    action, fields = form_of(now, "Spread")
    assert owner.post(action, data=fields).status_code == 303
    assert "stirred and spread thinner" in text_of(owner.get("/").text)
    page_farm.context.feed.note()


def test_the_question_of_a_place_stands_above_its_curves_and_no_command_on_now(owner: httpx.Client) -> None:
    place = owner.get("/places/bin-3").text
    assert place.index("/places/bin-3/aside") < place.index('<figure class="curve">')
    assert "rearing-monitor place" not in owner.get("/").text


class Taps:
    """Counts the taps of one deed that begins on Now; each has to be within one screen below the first."""

    def __init__(self, tab: Tab) -> None:
        self.tab, self.count = tab, 0
        tab.page.goto(tab.address + "/")

    def tap(self, what: Locator) -> None:
        self._reachable(what)
        what.click()

    def choose(self, what: Locator, value: str) -> None:
        self._reachable(what)
        what.select_option(value)

    def type(self, label: str, text: str) -> None:
        self.tab.page.get_by_label(label).fill(text)

    def _reachable(self, what: Locator) -> None:
        self.count += 1
        bottom = what.evaluate("each => each.getBoundingClientRect().bottom + window.scrollY")
        fixed = what.evaluate("each => !!each.closest('body > nav')")
        assert fixed or bottom <= 2 * SMALL["height"] - BAR, f"{what} is {bottom} px down"

    def written(self) -> None:
        # The page may hand a form in by script, so the answer comes a moment later.
        self.tab.page.locator("[role=status]", has_text="Written as entry").first.wait_for()


def _acknowledge(taps: Taps) -> None:
    taps.tap(taps.tab.page.get_by_role("button", name="I have seen it").first)
    taps.tab.page.locator("[role=status]", has_text="Done.").first.wait_for()


def _water(taps: Taps) -> None:
    taps.tap(taps.tab.page.get_by_role("button", name=re.compile("Watered.*Grow-out bin 1")))
    taps.written()


def _first_flies(taps: Taps) -> None:
    taps.tap(taps.tab.page.get_by_role("link", name="First flies"))
    _write_down(taps)


def _move(taps: Taps) -> None:
    taps.tap(taps.tab.page.get_by_role("link", name="Moved"))
    taps.choose(taps.tab.page.locator("select[name=place]"), "bin-2")
    _write_down(taps)


def _new_cohort(taps: Taps) -> None:
    page = taps.tab.page
    taps.tap(page.get_by_role("link", name="New cohort"))
    page.locator("input[name=grams]").fill("2")
    taps.choose(page.locator("select[name=place]"), "tray-2")
    _write_down(taps)


def _count_flies(taps: Taps) -> None:
    taps.tap(taps.tab.page.get_by_role("link", name="Flies counted"))
    taps.tab.page.locator("input[name=flies]").fill("40")
    _write_down(taps)


def _eggs(taps: Taps) -> None:
    taps.tap(taps.tab.page.get_by_role("link", name="Eggs", exact=True))
    taps.tab.page.locator("input[name=grams]").fill("1.5")
    _write_down(taps)


def _correct(taps: Taps) -> None:
    taps.tap(taps.tab.page.get_by_role("link", name="Correct", exact=True))
    taps.tap(taps.tab.page.get_by_role("link", name=re.compile("^correct")).first)
    taps.tab.page.locator("input[name=grams]").fill("1.4")
    _write_down(taps, "Write the correction")


def _put_aside(taps: Taps) -> None:
    taps.tap(taps.tab.page.get_by_role("link", name="Grow-out bin 3").first)
    taps.tap(taps.tab.page.get_by_role("button", name="Put aside"))
    taps.written()


def _tonight(taps: Taps) -> None:
    taps.tab.part("Night")
    taps.count += 1
    taps.tab.page.get_by_role("heading", level=1).wait_for()


def _write_down(taps: Taps, button: str = "Write it down") -> None:
    taps.tap(taps.tab.page.get_by_role("button", name=button))
    taps.written()


DEEDS: tuple[tuple[Callable[[Taps], None], int], ...] = (
    *((_acknowledge, 1), (_water, 1), (_first_flies, 2), (_move, 3), (_new_cohort, 4), (_count_flies, 3)),
    *((_eggs, 2), (_correct, 3), (_put_aside, 2), (_tonight, 1)),
)


@pytest.mark.browser
@pytest.mark.slow
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_every_deed_takes_few_taps_on_a_small_phone(chromium: Browser, tmp_path: Path, scheme: str) -> None:
    farm = PageFarm(tmp_path, step_ms=10 * MS_PER_MINUTE)
    farm.build()
    keep_logbook(farm)
    with Store.open(farm.context.store_path, create=False, check=False) as store:
        flies = {"stage": "adult", "place": "cage-1", "animals": 900, "purpose": "breeding", "cage": "cage-1"}
        store.logbook.add(about_cohort("flies-1", "start", 1.4, **flies))
    server = PageServer(farm.context, port=0)
    server.start()
    try:
        with farm.turning():
            context = chromium.new_context(viewport=SMALL, color_scheme=scheme, locale="en-GB")  # type: ignore[arg-type]
            tab = Tab(context.new_page(), server.address)
            tab.log_in()
            needed = {}
            for deed, _ in DEEDS:
                taps = Taps(tab)
                deed(taps)
                needed[deed.__name__] = taps.count
            assert tab.complaints == []
            context.close()
    finally:
        server.stop()
        farm.close()
    most = {deed.__name__: count for deed, count in DEEDS}
    assert {name: count for name, count in needed.items() if count > most[name]} == {}
