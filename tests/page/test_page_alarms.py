"""The page of alarms: what is over in one line each and seen at once, what helps, what is put aside."""

from __future__ import annotations

import html
import re
from collections.abc import Callable

import httpx
import pytest
from page_farm import PageFarm, form_token, wait_for

from monitor.errors import StoreFull
from monitor.farm.entries import EntryWriter
from monitor.logbook.place_entries import NodeEntryKind
from monitor.records import COMMAND_DONE, MS_PER_HOUR, AlarmStatus, Command, CommandKind
from monitor.store import Store
from monitor.store.meta import Commands

LogIn = Callable[..., httpx.Client]
HOT = "bin-3/substrate_temperature/high/high"
WARM = "bin-3/substrate_temperature/high/medium"
DRY = "tray-2/air_humidity/low/medium"


def texts(page: str) -> str:
    """The words of a page, without its tags."""
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", page)).replace("\u00a0", " ").split())


def forms(page: str, action: str) -> list[dict[str, str]]:
    """What each form with this address holds when it is opened."""
    found = re.findall(rf'<form[^>]*action="{action}".*?</form>', page, re.DOTALL)
    return [dict(re.findall(r'<input[^>]*name="([^"]+)" value="([^"]*)"', one)) for one in found]


def status(farm: PageFarm, alarm: str) -> AlarmStatus:
    return farm.service.processor.site.state(alarm).status


def test_every_form_carries_a_mark_of_its_own(owner: httpx.Client) -> None:
    for path in ("/alarms", "/", "/places/bin-3"):
        page = owner.get(path).text
        marks = [fields.get("mark", "") for fields in forms(page, '/(?:alarms|places)/[^"]*')]
        assert marks
        assert all(marks), path
        assert len(set(marks)) == len(marks), path


def test_a_place_is_put_aside_from_here_and_the_guard_comes_back_by_itself(
    owner: httpx.Client, page_farm: PageFarm
) -> None:
    [typed, *_] = forms(owner.get("/alarms").text, "/places/tray-2/aside")
    assert typed["back"] == "/alarms"
    answer = owner.post("/places/tray-2/aside", data={**typed, "minutes": "60", "note": "washing"})
    assert answer.headers["location"].startswith("/alarms?wrote=")
    assert "put aside" in texts(owner.get(answer.headers["location"]).text).lower()
    said = page_farm.plan().unguarded["tray-2"]
    assert said.until_ms is not None
    assert abs(said.until_ms - page_farm.clock() - MS_PER_HOUR) < 60_000
    token = form_token(owner.get("/me").text)
    owner.post("/places/tray-2/in-use", data={"form_token": token})
    assert wait_for(lambda: "tray-2" not in page_farm.plan().unguarded)


def test_a_helper_sees_why_it_cannot_be_put_aside(helper: httpx.Client) -> None:
    page = helper.get("/alarms").text
    assert forms(page, "/places/bin-3/aside") == []
    assert "The owner can put places and alarms aside" in texts(page)


def test_a_hot_bin_offers_here_what_helps_and_never_water(owner: httpx.Client) -> None:
    typed = {"form_token": form_token(owner.get("/me").text), "kind": "fill", "kg": "8", "mark": "fill"}
    more = {"moisture": "50 %", "surface_m2": "60 x 40 cm", "at": "2026-09-23T06:40"}
    assert owner.post("/bins/bin-3/write", data=typed | more).status_code == 303
    page = owner.get("/alarms").text
    links = re.findall(r'<a class="(press|quiet)" href="/bins/bin-3/write\?what=([^"]+)">', page)
    assert links[:2] == [("press", "stir"), ("quiet", "stir&amp;spread=on")]
    assert "water" not in [what for _, what in links]
    assert [what for _, what in links].count("stir") == 1, "once for a place"


def test_what_was_taken_out_of_service_leads_to_its_button(owner: httpx.Client, page_farm: PageFarm) -> None:
    with Store.open(page_farm.context.store_path, create=False, check=False) as store:
        taken = Command(CommandKind.TAKE_OUT, page_farm.clock(), "Ann", DRY, reason="broken")
        number = store.commands.add(taken)
        assert wait_for(lambda: store.commands.outcome(number) == COMMAND_DONE)
    for path in ("/", "/places/tray-2"):
        page = owner.get(path).text
        assert "taken out of service" in texts(page), path
        assert "rearing-monitor put-back" not in page, path
        assert 'href="/alarms#aside"' in page, path
    page = owner.get("/alarms").text
    assert 'id="aside"' in page
    [typed] = [each for each in forms(page, "/alarms/put-back") if each["alarm"] == DRY]
    assert owner.post("/alarms/put-back", data=typed).status_code == 303
    assert status(page_farm, DRY) is not AlarmStatus.OUT_OF_SERVICE


def test_a_board_that_was_put_aside_leads_to_its_button(helper: httpx.Client, page_farm: PageFarm) -> None:
    board = next(node.id for node in page_farm.plan().nodes_in("bin-1"))
    now_ms = page_farm.clock()
    with Store.open(page_farm.context.store_path, create=False, check=False) as store:
        writer = EntryWriter(store, page_farm.plan(), "Ann", now_ms)
        writer.write(board, NodeEntryKind.ASIDE, now_ms, {"until_ms": now_ms + MS_PER_HOUR})
    assert wait_for(lambda: board in page_farm.plan().said.boards_aside)
    for path in ("/", "/places/bin-1", "/nodes", f"/boards/{board}"):
        page = helper.get(path).text
        assert "put aside, said Ann" in texts(page), path
        assert "rearing-monitor board" not in page, path
        assert f'"/boards/{board}' in page, path
    [typed] = forms(helper.get(f"/boards/{board}").text, f"/boards/{board}/in-use")
    assert helper.post(f"/boards/{board}/in-use", data=typed).status_code == 303
    assert wait_for(lambda: board not in page_farm.plan().said.boards_aside)


def test_what_is_over_takes_one_line_and_is_seen_at_once(
    owner: httpx.Client, page_farm: PageFarm, monkeypatch: pytest.MonkeyPatch
) -> None:
    page_farm.cool_down("bin-3")
    assert {status(page_farm, name) for name in (HOT, WARM)} == {AlarmStatus.RETURNED_UNACKNOWLEDGED}
    page = owner.get("/alarms").text
    listed = page[page.index('<ul class="plain over">') :].split("</ul>")[0]
    lines = re.findall(r"<li>(.*?)</li>", listed, re.DOTALL)
    said = [texts(line) for line in lines]
    pattern = r"Grow-out bin 3 Substrate 44\.\d °C, limit {} °C · (\d h )?\d+ min, until \d\d:\d\d"
    assert any(re.fullmatch(pattern.format(42), line) for line in said), said
    assert any(re.fullmatch(pattern.format(38), line) for line in said), said
    [typed] = forms(page, "/alarms/seen-all")
    stale = re.sub(rf"{WARM}@\d+", f"{WARM}@1", typed["seen"])

    add, count = Commands.add, [0]

    def full(self: Commands, command: Command) -> int:
        count[0] += 1
        if count[0] > 1:
            raise StoreFull("full")
        return add(self, command)

    with monkeypatch.context() as patched:
        patched.setattr(Commands, "add", full)
        assert owner.post("/alarms/seen-all", data={**typed, "mark": "broken"}).status_code >= 400
    assert status(page_farm, HOT) is AlarmStatus.RETURNED_UNACKNOWLEDGED, "all or none"

    owner.post("/alarms/seen-all", data={**typed, "mark": "stale", "seen": stale})
    assert status(page_farm, HOT) is AlarmStatus.NORMAL
    assert status(page_farm, WARM) is AlarmStatus.RETURNED_UNACKNOWLEDGED, "what came meanwhile stays"
    first = owner.post("/alarms/seen-all", data=typed).headers["location"]
    assert "Done." in owner.get(first).text
    assert status(page_farm, WARM) is AlarmStatus.NORMAL
    assert owner.post("/alarms/seen-all", data=typed).headers["location"] == first


def test_the_journal_names_places_and_never_rules(owner: httpx.Client) -> None:
    for path in ("/alarms", "/alarms/health"):
        page = owner.get(path).text
        journal = page[page.index('<ol class="journal">') :].split("</ol>")[0]
        assert "Grow-out bin 3" in journal, path
        assert "/high" not in journal and "/low" not in journal, path
