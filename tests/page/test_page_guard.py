"""Guarding on the page: a place is said to be empty, in use or put aside, and a doubt is asked once."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator

import httpx
import pytest
from logbook_farm import about_cohort, keep_logbook
from page_farm import PageFarm, form_token, wait_for

from monitor.records import LogbookEntry, SubjectKind
from monitor.store import Store

LogIn = Callable[..., httpx.Client]


@pytest.fixture(scope="module", autouse=True)
def _with_logbook(page_farm: PageFarm) -> Iterator[None]:
    keep_logbook(page_farm)
    yield


def texts(page: str) -> str:
    return " ".join(re.sub(r"<[^>]+>", " ", page).replace("\u00a0", " ").split())


def entries(farm: PageFarm) -> list[LogbookEntry]:
    with Store.read_only(farm.context.store_path) as store:
        return list(store.logbook.every(SubjectKind.PLACE))


def write(farm: PageFarm, *more: LogbookEntry) -> None:
    with Store.open(farm.context.store_path, create=False, check=False) as store:
        store.logbook.add_all(more)


def form(page: str, action: str) -> dict[str, str]:
    """What a form holds when it is opened."""
    found = re.search(rf'<form[^>]*action="{action}".*?</form>', page, re.DOTALL)
    assert found, f"no form for {action}"
    return dict(re.findall(r'<input[^>]*name="([^"]+)" value="([^"]*)"', found[0]))


def test_a_place_is_said_to_be_empty_and_in_use_again(owner: httpx.Client, page_farm: PageFarm) -> None:
    page = owner.get("/places/box-2").text
    answer = owner.post("/places/box-2/empty", data=form(page, "/places/box-2/empty"))
    assert answer.status_code == 303
    assert answer.headers["location"].startswith("/places/box-2?wrote=")
    newest = entries(page_farm)[-1]
    assert (newest.subject, newest.kind, newest.author) == ("box-2", "empty", "Ann")
    after = owner.get(answer.headers["location"]).text
    assert "No animals in it, said Ann" in texts(after)
    assert "Written as entry" in texts(after)
    assert "/places/box-2/aside" not in after, "what is empty needs not be put aside"
    twice = owner.post("/places/box-2/empty", data=form(page, "/places/box-2/empty"))
    assert twice.status_code == 303
    assert entries(page_farm)[-1] == newest, "the same form twice writes once"
    assert "said Ann" in texts(owner.get("/").text)
    owner.post("/places/box-2/in-use", data=form(after, "/places/box-2/in-use"))
    assert "said Ann" not in texts(owner.get("/places/box-2").text)
    assert entries(page_farm)[-1].kind == "in_use"


def test_a_place_in_which_animals_live_is_asked_about_once_more(
    owner: httpx.Client, page_farm: PageFarm
) -> None:
    before = len(entries(page_farm))
    page = owner.get("/places/bin-1").text
    asked = owner.post("/places/bin-1/empty", data={**form(page, "/places/bin-1/empty"), "note": "washed"})
    assert asked.status_code == 200
    assert "by the logbook animals live in it" in texts(asked.text)
    assert len(entries(page_farm)) == before, "nothing is written yet"
    second = form(asked.text, "/places/bin-1/empty")
    assert second["note"] == "washed", "what was typed is kept"
    assert owner.post("/places/bin-1/empty", data=second).status_code == 303
    assert entries(page_farm)[-1].body == {"note": "washed"}
    shown = owner.get("/places/bin-1").text
    assert "Reason: washed." in texts(shown)
    owner.post("/places/bin-1/in-use", data=form(shown, "/places/bin-1/in-use"))


def test_a_place_is_put_aside_for_a_time_that_is_offered(owner: httpx.Client, page_farm: PageFarm) -> None:
    page = owner.get("/places/tray-1").text
    typed = form(page, "/places/tray-1/aside")
    wrong = owner.post("/places/tray-1/aside", data={**typed, "minutes": "300"})
    assert wrong.status_code == 400
    assert not any(entry.kind == "aside" for entry in entries(page_farm))
    owner.post("/places/tray-1/aside", data={**typed, "minutes": "15", "note": "cleaning"})
    newest = entries(page_farm)[-1]
    assert newest.kind == "aside"
    assert newest.body["until_ms"] == newest.entered_ms + 15 * 60_000
    page = owner.get("/places/tray-1").text
    assert "Put aside until" in texts(page)
    assert "Not guarded" in texts(page)
    owner.post("/places/tray-1/in-use", data=form(page, "/places/tray-1/in-use"))


def test_a_place_without_animals_by_the_logbook_asks_on_now(
    owner: httpx.Client, log_in: LogIn, page_farm: PageFarm
) -> None:
    write(
        page_farm,
        about_cohort("gone", "start", 3.0, stage="egg", place="tray-3"),
        about_cohort("gone", "end", 0.01, how="sold"),
    )
    assert wait_for(lambda: "Is it empty?" in owner.get("/").text)
    page = owner.get("/").text
    assert "The logbook names no animals in it any more; it stays guarded. Is it empty?" in texts(page)
    helper = log_in(helper=True, name="Ben").get("/").text
    assert "/places/tray-3/empty" not in helper, "only the owner ends a guard"
    answer = owner.post("/places/tray-3/in-use", data=form(page, "/places/tray-3/in-use"))
    assert answer.headers["location"].startswith("/?wrote=")
    assert "Is it empty?" not in owner.get("/").text


def test_a_helper_starts_a_guard_and_ends_none(log_in: LogIn, page_farm: PageFarm) -> None:
    helper = log_in(helper=True, name="Ben")
    page = helper.get("/places/box-1").text
    assert "/places/box-1/empty" not in page
    data = {"form_token": form_token(helper.get("/me").text), "mark": "x"}
    assert helper.post("/places/box-1/empty", data=data).status_code == 403
    assert helper.post("/places/box-1/aside", data={**data, "minutes": "15"}).status_code == 403
    assert helper.post("/places/nowhere/in-use", data=data).status_code == 404
    assert helper.post("/places/box-1/in-use", data=data).status_code == 303
    assert entries(page_farm)[-1].author == "Ben"
