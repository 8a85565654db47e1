"""What each part of the page says of the invented farm on its bad morning."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from typing import NoReturn

import httpx
import pytest
from page_farm import NOW_MS, PageFarm, form_token
from page_outline import Outline

from monitor.board_records import BoardReport
from monitor.errors import StoreFull
from monitor.records import COMMAND_DONE, AlarmStatus, Batch
from monitor.settings.loading import load
from monitor.store.meta import Commands
from monitor.words.catalogue import LANGUAGES

LogIn = Callable[..., httpx.Client]
HOT = "bin-3/substrate_temperature/high/high"
WARM = "bin-3/substrate_temperature/high/medium"
PAGES = (
    "/login",
    "/",
    "/places/bin-3",
    "/places/bin-3?span=7d",
    "/places/bin-3?span=30d",
    "/places/bin-3?span=year",
    "/places/box-2",
    "/places/bin-5",
    "/night",
    "/night?date=2026-09-20",
    "/alarms",
    "/alarms/health",
    "/nodes",
    "/me",
    "/nothing",
)


@pytest.mark.parametrize("path", PAGES)
def test_pages_are_well_formed(log_in: LogIn, path: str) -> None:
    page = log_in().get(path, follow_redirects=path != "/login")
    outline = Outline()
    outline.feed(page.text)
    assert outline.faults == []
    assert outline.open == []
    assert [name for name, count in outline.ids.items() if count > 1] == []


def texts(page: str) -> str:
    """The words of a page, without its tags."""
    return " ".join(re.sub(r"<[^>]+>", " ", page).replace("\u00a0", " ").split())


def test_now_shows_the_worst_first_with_what_to_do(owner: httpx.Client) -> None:
    page = texts(owner.get("/").text)
    assert page.index("Grow-out bin 3") < page.index("Hatching tray 2") < page.index("Grow-out bin 5")
    assert page.index("Grow-out bin 5") < page.index("Room A")
    assert "2 places need you" in page
    assert "Substrate temperature 44.3 °C, should be below 42 °C" in page
    assert "since 05:55 (45 min)" in page
    assert "Rising 2.4 °C an hour, about 46.7 °C" in page
    assert "Do: Spread or split the substrate" in page
    assert "Take care: Keep fans, leads and plugs dry" in page


def test_what_is_not_known_looks_different_from_what_is_fine(owner: httpx.Client) -> None:
    page = owner.get("/").text
    unknown = page[page.index("is-unknown") :]
    assert "Not known" in unknown
    assert "No usable reading; the last one was at 01:40 (5" in texts(unknown)
    fine = page[page.index('<ul class="fine">') :]
    assert "Grow-out bin 5" not in fine
    assert "30.4" in fine


def test_a_place_that_is_fine_takes_one_line(owner: httpx.Client) -> None:
    page = owner.get("/").text
    fine = page[page.index('<ul class="fine">') : page.index("</main>")]
    assert fine.count("<li>") == 12
    assert "Do:" not in fine


def test_acknowledging_one_alarm_acknowledges_the_lower_ones_of_the_same_thing(
    page_farm: PageFarm, log_in: LogIn
) -> None:
    client = log_in(name="Zoe")
    data = {"form_token": form_token(client.get("/").text), "alarm": HOT, "back": "/"}
    answer = client.post("/alarms/acknowledge", data=data)
    assert answer.status_code == 303
    assert answer.headers["location"].startswith("/?command=")
    page = client.get(answer.headers["location"]).text
    assert "Done." in page
    assert "seen by Zoe, 06:40" in page
    states = page_farm.service.processor.site.states
    assert {states[alarm].status for alarm in (HOT, WARM)} == {AlarmStatus.ACKNOWLEDGED}
    assert "acknowledged, by Zoe" in texts(client.get("/alarms").text)


def test_a_request_that_cannot_be_done_says_why(owner: httpx.Client) -> None:
    token = form_token(owner.get("/me").text)
    data = {"form_token": token, "alarm": "bin-1/substrate_temperature/high/high"}
    answer = owner.post("/alarms/acknowledge", data=data)
    assert "Not done: an alarm that is normal" in owner.get(answer.headers["location"]).text
    answer = owner.post("/alarms/acknowledge", data={"form_token": token, "alarm": "nothing"})
    assert answer.status_code == 400
    assert "There is no such alarm" in answer.text


def test_an_alarm_is_put_aside_with_an_end_and_taken_up_again(
    page_farm: PageFarm, owner: httpx.Client
) -> None:
    alarm = "tray-2/air_humidity/low/medium"
    token = form_token(owner.get("/me").text)
    data = {"form_token": token, "alarm": alarm, "hours": "4", "reason": "cloth is being washed"}
    assert "Done." in owner.get(owner.post("/alarms/shelve", data=data).headers["location"]).text
    state = page_farm.service.processor.site.states[alarm]
    assert state.status is AlarmStatus.SHELVED
    assert state.shelved_until_ms is not None
    assert abs(state.shelved_until_ms - page_farm.clock() - 4 * 3_600_000) < 60_000
    page = texts(owner.get("/alarms").text)
    assert "put aside until" in page
    assert "cloth is being washed" in page
    assert owner.post("/alarms/shelve", data=data | {"hours": "9999"}).status_code == 400
    owner.post("/alarms/unshelve", data={"form_token": token, "alarm": alarm})
    assert page_farm.service.processor.site.states[alarm].status is not AlarmStatus.SHELVED


def test_alarm_health_names_the_measures(owner: httpx.Client) -> None:
    page = texts(owner.get("/alarms/health").text)
    assert "Alarms a day" in page
    assert "Under 30 days of data these figures are no ground for a verdict." in page
    assert "Grow-out bin 3: substrate temperature above 42 °C" in page


def test_the_night_tells_the_worst_first_and_each_quiet_place_in_one_line(owner: httpx.Client) -> None:
    page = owner.get("/night").text
    words = texts(page)
    assert "Last night · Wed 23 Sep 18:00 to Thu 24 Sep 06:30" in words
    assert "Alarms of the night" in words
    assert "no readings for 4 h 50 min" in words
    assert page.count("chart strip") == page.count('<section class="night-place">') == 4
    quiet = page[page.index('<ul class="quiet-places">') :]
    quiet = quiet[: quiet.index("</ul>")]
    assert quiet.count("<li>") == 11
    assert re.search(r"Grow-out bin 1 29\.\d \d\d:\d\d – 3\d\.\d °C \d\d:\d\d", texts(quiet))
    places = words[words.index("Places") :]
    assert places.index("Grow-out bin 3") < places.index("Room A")


def test_every_place_is_told_in_full_where_that_is_asked_for(owner: httpx.Client) -> None:
    page = owner.get("/night?places=full").text
    assert page.count("chart strip") == 15
    assert 'aria-label="Substrate temperature. Lowest 29.7' in page
    assert "degree-days above 12" in texts(page)


def test_charts_of_the_night_have_values_with_their_unit_and_times(owner: httpx.Client) -> None:
    page = owner.get("/night").text
    for drawn in re.findall(r'<div class="plot">(.*?)</div>', page, flags=re.DOTALL):
        said = re.findall(r"<text[^>]*>([^<]*)</text>", drawn)
        assert len([each for each in said if re.search(r"\d.(°C|%)$", each)]) >= 2, said
        assert {"18:00", "00:00", "06:00"} <= set(said)


def test_by_day_a_link_leads_to_what_has_passed_of_the_day(owner: httpx.Client) -> None:
    page = owner.get("/night").text
    assert 'href="/night?part=day"' in page
    words = texts(owner.get("/night?part=day").text)
    assert "Today so far · Thu 24 Sep 06:30 until now" in words
    assert "in the night" not in words[: words.index("The week at a glance")]


def test_earlier_nights_are_found_by_date(owner: httpx.Client) -> None:
    page = texts(owner.get("/night?date=2026-09-23").text)
    assert "Tue 22 Sep 18:00 to Wed 23 Sep 06:30" in page
    assert "Wrong now" not in page
    for odd in ("2026-13-45", "x", "9999-01-01", "0001-01-01", ""):
        assert owner.get("/night", params={"date": odd}).status_code == 200


def test_the_week_stands_newest_night_first(owner: httpx.Client) -> None:
    page = owner.get("/night").text
    week = texts(page[page.index('class="week"') : page.index("</table>")])
    assert re.search("Thu 24.*Wed 23.*Tue 22.*Mon 21.*Sun 20.*Sat 19.*Fri 18", week)
    assert week.startswith(
        'class="week" aria-labelledby="week"> Night to It was Thu 24 Act now hot Grow-out bin 3'
    )
    assert re.search("dry Hatching tray 2.*silent .*Grow-out bin 5.*Wed 23", week)
    assert "Fri 18 no readings" in week


def test_boards_that_need_somebody_stand_before_those_that_send(owner: httpx.Client) -> None:
    page = texts(owner.get("/nodes").text)
    assert page.index("node-12 Grow-out bin 5 · silent") < page.index("These send")
    assert "Its battery is below 3.40 V: charge or change it." in page
    assert "messages of it never arrived" in page
    assert "1 new board" in page


def test_the_page_shows_what_a_board_says_of_itself(page_farm: PageFarm, log_in: LogIn) -> None:
    well = BoardReport("node-01", NOW_MS, "9.1", 3, chip="esp32", rssi_dbm=-60, clock="chip", reset="power")
    broken = replace(well, node="node-02", faults={"ds18b20": "power_on_value"}, refused="<b>interval_s</b>")
    page_farm.service.store.commit(Batch(NOW_MS, reports=(well, broken)))
    raw = log_in(name="Zoe").get("/nodes").text
    outline = Outline()
    outline.feed(raw)
    assert (outline.faults, outline.open) == ([], [])
    page = texts(raw)
    fine = page[page.index("These send") :]
    assert "program 9.1 on esp32; began when power came; time from its clock chip; signal good" in fine
    assert "Its sensor ds18b20 says only its value at power-on: look at supply and pull-up." in page
    assert "It refuses its settings: &lt;b&gt;interval_s&lt;/b&gt;" in raw


def test_a_new_board_is_placed_and_the_settings_keep_their_comments(
    page_farm: PageFarm, owner: httpx.Client
) -> None:
    before = page_farm.settings_path.read_text()
    token = form_token(owner.get("/nodes").text)
    data = {"form_token": token, "node": "node-77", "place": "cage-1"}
    answer = owner.post("/nodes/place", data=data)
    assert answer.headers["location"] == "/nodes?placed=node-77"
    assert "node-77 has its place" in owner.get(answer.headers["location"]).text
    after = page_farm.settings_path.read_text()
    assert page_farm.settings_path.with_name("farm.toml.backup").read_text() == before
    assert [line for line in before.splitlines() if line.startswith("#") and line not in after] == []
    settings = load(page_farm.settings_path, page_farm.context.environ)
    assert {node.id: node.place for node in settings.nodes}["node-77"] == "cage-1"
    assert page_farm.plan().nodes["node-77"].place == "cage-1", "the service has taken it over"
    assert "new board" not in owner.get("/nodes").text


@pytest.mark.parametrize(("node", "place"), [("node-77", "nowhere"), ("never-heard", "cage-1"), ("", "")])
def test_a_board_is_placed_only_where_there_is_one_and_a_place(
    page_farm: PageFarm, owner: httpx.Client, node: str, place: str
) -> None:
    before = page_farm.settings_path.read_text()
    data = {"form_token": form_token(owner.get("/me").text), "node": node, "place": place}
    assert owner.post("/nodes/place", data=data).status_code == 400
    assert page_farm.settings_path.read_text() == before


def test_the_owner_moves_a_board_from_its_page(page_farm: PageFarm, owner: httpx.Client) -> None:
    page = owner.get("/boards/node-02").text
    form = page[page.index('action="/nodes/place"') :].partition("</form>")[0]
    stood = re.search(r'<option value="([^"]+)" selected>', form)
    assert stood is not None
    assert stood[1] == page_farm.plan().nodes["node-02"].place, "where it is now is chosen"
    data = dict(re.findall(r'name="([^"]+)" value="([^"]*)"', form)) | {"place": "cage-1"}
    answer = owner.post("/nodes/place", data=data)
    assert answer.headers["location"] == "/boards/node-02?moved=yes"
    assert "node-02 is in its new place" in texts(owner.get(answer.headers["location"]).text)
    assert page_farm.plan().nodes["node-02"].place == "cage-1"
    owner.post("/nodes/place", data={**data, "place": stood[1], "mark": "back-again"})
    assert page_farm.plan().nodes["node-02"].place == stood[1]


def test_a_helper_moves_no_board_and_reads_what_the_owner_may_do(
    page_farm: PageFarm, helper: httpx.Client
) -> None:
    before = page_farm.settings_path.read_text()
    page = helper.get("/boards/node-02").text
    assert 'action="/nodes/place"' not in page
    assert "The owner can make its card again, move it" in texts(page)
    data = {"form_token": form_token(helper.get("/me").text), "node": "node-02", "place": "cage-1"}
    assert helper.post("/nodes/place", data=data).status_code == 403
    assert page_farm.settings_path.read_text() == before
    said = {
        "/places/bin-1": "The owner can put this place aside",
        "/alarms": "The owner can put places and alarms aside",
        "/me": "The owner can give the helpers a password",
    }
    for path, why in said.items():
        assert why in texts(helper.get(path).text), path


def test_curves_of_every_length_come_with_their_figures(owner: httpx.Client) -> None:
    for span, rows in (("24h", 24), ("7d", 2), ("30d", 2), ("year", 1)):
        page = owner.get(f"/places/bin-3?span={span}").text
        assert page.count('role="img"') == 2
        assert page.count("<tbody><tr>") == 2
        assert page.count('<tr><th scope="row">') >= 2 * rows
        assert "Good from 20 °C to 38 °C." in texts(page)
    day = owner.get("/places/bin-3").text
    assert day.count('class="mark"') >= 1
    assert 'class="night"' in day
    assert "Probe index" in texts(day), "it is not calibrated"
    assert "Substrate moisture" not in texts(day)
    assert "Good from 45 % to 85 %." not in texts(day)


def test_a_place_that_is_not_there_is_said_so(owner: httpx.Client) -> None:
    answer = owner.get("/places/bin-99")
    assert answer.status_code == 404
    assert "There is no such page." in answer.text


def wish(client: httpx.Client, language: str, unit: str) -> None:
    data = {"form_token": form_token(client.get("/me").text), "language": language, "unit": unit}
    assert client.post("/me/preferences", data=data).status_code == 303


def test_temperatures_in_fahrenheit(owner: httpx.Client) -> None:
    wish(owner, "en", "f")
    page = texts(owner.get("/").text)
    assert "Substrate temperature 111.7 °F, should be below 107.6 °F" in page
    assert re.search(r"Rising 4\.\d °F an hour, about 116\.\d °F", page)
    assert "°C" not in re.sub(r"below 40 °C", "", page), "only in sentences of the rules"
    curve = owner.get("/places/bin-3").text
    assert "Good from 68 °F to 100.4 °F." in texts(curve)
    assert 'data-unit="°F"' in curve


def test_the_page_in_french(owner: httpx.Client) -> None:
    wish(owner, "fr", "c")
    page = texts(owner.get("/").text)
    assert "2 lieux ont besoin de vous" in page
    assert "Température du substrat 44,3 °C, devrait être sous 42 °C" in page
    assert "Étaler ou partager le substrat" in page
    assert 'lang="fr"' in owner.get("/").text
    for path in PAGES:
        words = texts(owner.get(path, follow_redirects=True).text)
        assert not re.search(r"\b(the|should|Board|Alarm|since|night|acknowledged)\b", words), path


def test_the_page_in_kiswahili(owner: httpx.Client) -> None:
    wish(owner, "sw", "c")
    page = texts(owner.get("/").text)
    assert "Sehemu 2 zinakuhitaji" in page
    assert "Joto la lishe 44.3 °C, inapaswa kuwa chini ya 42 °C" in page
    assert "Tandaza au gawanya lishe" in page
    assert 'lang="sw"' in owner.get("/").text
    for path in PAGES:
        words = texts(owner.get(path, follow_redirects=True).text)
        english = re.findall(r"\b(the|should|Board|Alarm|since|night|acknowledged|of|and|no|with)\b", words)
        assert not english, path


@pytest.mark.parametrize("language", LANGUAGES)
def test_a_language_that_no_native_speaker_has_read_is_marked(owner: httpx.Client, language: str) -> None:
    wish(owner, language, "c")
    page = texts(owner.get("/me").text)
    assert "Kiswahili *" in page and "Français *" not in page
    note = {"en": "no native speaker has read it", "fr": "ne l’a encore relu", "sw": "aliyeisoma bado"}
    assert note[language] in page


def test_the_browser_says_which_language(log_in: LogIn, new_client: Callable[[], httpx.Client]) -> None:
    client = new_client()
    page = client.get("/login", headers={"accept-language": "fr-CA,fr;q=0.9,en;q=0.5"}).text
    assert "Mot de passe" in page
    assert "Password" in client.get("/login", headers={"accept-language": "xx"}).text
    answer = log_in().post("/me/preferences", data={"form_token": "x", "language": "tlh"})
    assert answer.status_code == 403


def test_a_service_that_is_dead_is_the_first_thing_said(page_farm: PageFarm, owner: httpx.Client) -> None:
    page_farm.clock.now_ms += 600_000
    try:
        page = texts(owner.get("/").text)
    finally:
        page_farm.clock.now_ms -= 600_000
    assert page.index("The monitor does not run") < page.index("Grow-out bin 3")
    assert "Nobody is warned of anything" in page
    assert page_farm.clock.now_ms >= NOW_MS


def test_an_alarm_is_acknowledged_while_the_disk_is_full_and_the_answer_says_so(
    page_farm: PageFarm, log_in: LogIn, monkeypatch: pytest.MonkeyPatch
) -> None:
    client, service = log_in(name="Zoe"), page_farm.service
    site = service.processor.site
    site.states[HOT] = replace(
        site.state(HOT), status=AlarmStatus.UNACKNOWLEDGED, active=True, acknowledged=False
    )

    def full(*_: object, **__: object) -> NoReturn:
        raise StoreFull("the disk is full")

    monkeypatch.setattr(page_farm.context, "ask", service.processor.desk.ask)
    monkeypatch.setattr(page_farm.context, "outcome", service.processor.desk.outcome)
    monkeypatch.setattr(page_farm.context, "wait_s", 0.0)
    token = form_token(client.get("/alarms").text)
    with monkeypatch.context() as patch:
        patch.setattr(Commands, "add", full)
        patch.setattr(service.store, "commit", full)
        answer = client.post("/alarms/acknowledge", data={"form_token": token, "alarm": HOT})
        page_farm.clock.now_ms += 2000
        service.processor.process([], page_farm.clock())
        said = texts(client.get(answer.headers["location"]).text)
        assert service.processor.site.state(HOT).acknowledged
    assert "Done. It is not on disk yet" in said


def test_what_is_carried_out_a_moment_before_it_is_on_disk_is_not_called_lost(
    page_farm: PageFarm, log_in: LogIn, monkeypatch: pytest.MonkeyPatch
) -> None:
    client = log_in(name="Zoe")
    answers = iter((None, None))
    monkeypatch.setattr(page_farm.context, "outcome", lambda _number: COMMAND_DONE)
    monkeypatch.setattr(page_farm.context, "wait_s", 30.0)
    monkeypatch.setattr(Commands, "outcome", lambda *_: next(answers, COMMAND_DONE))
    token = form_token(client.get("/alarms").text)
    answer = client.post("/alarms/acknowledge", data={"form_token": token, "alarm": HOT})
    said = texts(client.get(answer.headers["location"]).text)
    assert "Done." in said
    assert "not on disk yet" not in said


def test_boards_say_first_that_the_broker_passes_nothing_on(
    owner: httpx.Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert "does not pass it on" not in owner.get("/nodes").text
    said = ("The broker takes what boards send, but does not pass it on.", "Do: Run check --broker.")
    monkeypatch.setattr("monitor.words.boards.broker_fault", lambda *_: said)
    text = owner.get("/nodes").text
    assert 0 < text.index(said[0]) < text.index(said[1]) < text.index("node-01")
