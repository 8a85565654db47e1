"""The logbook on the page: everything that was written, found again, corrected, withdrawn."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator

import httpx
import pytest
from logbook_farm import NASTY_NOTE, keep_logbook
from page_farm import NOW_MS, PageFarm, form_token
from page_outline import Outline

from monitor.bins.evaporation import Cover
from monitor.bins.events import Taken
from monitor.bins.substrate import Zone
from monitor.development.events import Event
from monitor.development.progress import Ending
from monitor.logbook.bin_entries import BinEntryKind
from monitor.logbook.cohort_entries import CohortEntryKind
from monitor.page.entries import kinds_of
from monitor.records import MS_PER_DAY, LogbookEntry, Stage, SubjectKind
from monitor.store import Store
from monitor.words.catalogue import catalogue

LogIn = Callable[..., httpx.Client]


@pytest.fixture(scope="module", autouse=True)
def _with_logbook(page_farm: PageFarm) -> Iterator[None]:
    keep_logbook(page_farm)
    yield


def texts(page: str) -> str:
    return " ".join(re.sub(r"<[^>]+>", " ", page).replace("\u00a0", " ").split())


def forms(page: str) -> list[dict[str, str]]:
    """What the forms that write hold when they are opened."""
    found = []
    for form in re.findall(r'<form class="entry.*?</form>', page, re.DOTALL):
        values = dict(re.findall(r'<input[^>]*name="([^"]+)"[^>]*?value="([^"]*)"', form))
        for name, options in re.findall(r'<select name="([^"]+)"[^>]*>(.*?)</select>', form):
            chosen = re.search(r'value="([^"]*)" selected', options)
            values[name] = chosen[1] if chosen else ""
        found.append(values | {"form_token": form_token(form)})
    return found


def add(farm: PageFarm, kind: str, days_ago: float = 0.5, place: str = "bin-2", **body: object) -> int:
    at_ms = NOW_MS - round(days_ago * MS_PER_DAY)
    entry = LogbookEntry(SubjectKind.BIN, place, kind, at_ms, at_ms, "keeper", body)
    with Store.open(farm.context.store_path, create=False, check=False) as store:
        return store.logbook.add(entry)


def one(farm: PageFarm, number: int) -> LogbookEntry:
    with Store.read_only(farm.context.store_path) as store:
        found = store.logbook.one(number)
    assert found is not None
    return found


def test_everything_is_there_with_who_and_when_newest_first(owner: httpx.Client) -> None:
    page = texts(owner.get("/logbook?days=100").text)
    assert page.index("filled with 10 kg at 70 %") < page.index("began as eggs in Hatching tray 1, 4 g")
    assert "ended: harvested, 5200 g" in page
    assert "keeper, entry" in page


def test_a_filter_finds_what_is_wanted(owner: httpx.Client) -> None:
    entries = owner.get("/logbook?about=bin:bin-2&kind=fill&days=30").text
    page = texts(entries[entries.index('class="plain entries"') :])
    assert "filled with 10 kg" in page
    assert "stirred" not in page
    assert "eggs-1" not in page
    recent = owner.get("/logbook?days=7").text
    assert "old-1" not in texts(recent[recent.index('class="plain entries"') :])


def test_a_filter_that_makes_no_sense_harms_nothing(owner: httpx.Client) -> None:
    page = owner.get(f"/logbook?about={NASTY_NOTE}&kind=%00&days=x&skip=-1")
    assert page.status_code == 200
    assert NASTY_NOTE not in page.text


def test_long_books_come_in_parts(page_farm: PageFarm, owner: httpx.Client) -> None:
    for number in range(60):
        add(page_farm, "stir", 3.0 + number / 1000.0, "bin-4")
    page = owner.get("/logbook?kind=stir").text
    older = re.search(r'href="(/logbook\?[^"]*skip=50[^"]*)"', page)
    assert older is not None
    second = owner.get(older[1].replace("&amp;", "&")).text
    assert "later" in texts(second)


def test_a_correction_keeps_and_shows_the_first_entry(page_farm: PageFarm, helper: httpx.Client) -> None:
    number = add(page_farm, "water", kg=15.0)
    form = forms(helper.get(f"/logbook/{number}/correct").text)[0]
    assert form["kg"] == "15"
    answer = helper.post(f"/logbook/{number}/correct", data=form | {"kg": "1,5", "note": "typed wrongly"})
    assert answer.status_code == 303, texts(answer.text)
    made = int(answer.headers["location"].rpartition("=")[2])
    new, old = one(page_farm, made), one(page_farm, number)
    assert (new.corrects, new.body, new.at_ms, new.author) == (
        number,
        {"kg": 1.5, "note": "typed wrongly"},
        old.at_ms,
        "Ben",
    )
    assert old.body == {"kg": 15.0}
    page = helper.get(answer.headers["location"]).text
    assert "<s>15 litres of water</s>" in page.replace("\u00a0", " ")
    assert f"corrected by entry {made}" in texts(page)
    assert f"in place of entry {number}" in texts(page)
    again = helper.get(f"/logbook/{number}/correct")
    assert again.status_code == 409
    assert f"corrected already by entry {made}" in texts(again.text)


@pytest.mark.parametrize(
    ("kg", "shown"), [(1.235, "1.2350"), (1.2, "1.2"), (12.0, "12"), (1.23456, "1.2346")]
)
def test_a_form_holds_numbers_that_can_be_read_one_way_only(
    page_farm: PageFarm, owner: httpx.Client, kg: float, shown: str
) -> None:
    number = add(page_farm, "feed", kg=kg, moisture=0.123)
    assert forms(owner.get(f"/logbook/{number}/correct").text)[0]["kg"] == shown


def test_a_correction_that_changes_nothing_is_refused(page_farm: PageFarm, owner: httpx.Client) -> None:
    number = add(page_farm, "feed", kg=1.23456, moisture=0.123)
    form = forms(owner.get(f"/logbook/{number}/correct").text)[0]
    answer = owner.post(f"/logbook/{number}/correct", data=form)
    assert answer.status_code == 400
    assert "Nothing is different" in texts(answer.text)
    assert forms(answer.text)[0]["moisture"] == "12.3 %"


def test_a_time_is_corrected_alone(page_farm: PageFarm, owner: httpx.Client) -> None:
    number = add(page_farm, "weigh", kg=9.9)
    form = forms(owner.get(f"/logbook/{number}/correct").text)[0]
    answer = owner.post(f"/logbook/{number}/correct", data=form | {"at": "2026-09-23T20:15"})
    new = one(page_farm, int(answer.headers["location"].rpartition("=")[2]))
    assert new.body == {"kg": 9.9}
    assert new.at_ms != one(page_farm, number).at_ms


def test_a_withdrawn_entry_stays_in_the_book(page_farm: PageFarm, owner: httpx.Client) -> None:
    number = add(page_farm, "water", kg=2.0)
    form = forms(owner.get(f"/logbook/{number}/correct").text)[1]
    answer = owner.post(f"/logbook/{number}/correct", data=form | {"reason": "it was bin 3"})
    assert answer.status_code == 303, texts(answer.text)
    page = texts(owner.get(answer.headers["location"]).text)
    assert f"entry {number} withdrawn" in page
    assert "it was bin 3" in page
    with Store.read_only(page_farm.context.store_path) as store:
        counting = store.logbook.in_force(SubjectKind.BIN, "bin-2")
    assert number not in {each.entry_id for each in counting}


def test_a_correction_that_cannot_be_so_is_refused_with_its_reason(
    page_farm: PageFarm, owner: httpx.Client
) -> None:
    number = add(page_farm, "water", kg=1.0)
    form = forms(owner.get(f"/logbook/{number}/correct").text)[0]
    answer = owner.post(f"/logbook/{number}/correct", data=form | {"at": "2026-09-01T08:00"})
    assert answer.status_code == 400
    assert "Not written" in texts(answer.text)
    assert forms(answer.text)[0]["at"] == "2026-09-01T08:00"


def test_a_refusal_is_said_in_the_language_of_the_reader(page_farm: PageFarm, owner: httpx.Client) -> None:
    number = add(page_farm, "water", kg=1.0)
    owner.cookies.set("rearing_view", "fr-c")
    form = forms(owner.get(f"/logbook/{number}/correct").text)[0]
    answer = owner.post(f"/logbook/{number}/correct", data=form | {"at": "2026-09-01T08:00"})
    assert "il n’était pas rempli avant" in texts(answer.text)
    assert "Rien n’est écrit" in texts(answer.text)


def test_an_entry_of_a_cohort_is_corrected_too(page_farm: PageFarm, owner: httpx.Client) -> None:
    with Store.read_only(page_farm.context.store_path) as store:
        number = store.logbook.every(SubjectKind.COHORT, "pupae-1")[0].entry_id
    form = forms(owner.get(f"/logbook/{number}/correct").text)[0]
    assert (form["stage"], form["animals"], form["cage"]) == ("pupa", "1400", "cage-1")
    answer = owner.post(f"/logbook/{number}/correct", data=form | {"animals": "1500"})
    assert answer.status_code == 303, texts(answer.text)
    new = one(page_farm, int(answer.headers["location"].rpartition("=")[2]))
    assert new.body["animals"] == 1500
    assert new.body["place"] == "box-1"


def test_without_the_token_of_the_form_nothing_is_written(page_farm: PageFarm, owner: httpx.Client) -> None:
    number = add(page_farm, "water", kg=3.0)
    answer = owner.post(f"/logbook/{number}/correct", data={"kg": "1"})
    assert answer.status_code == 403
    assert f"corrected by entry {number + 1}" not in texts(owner.get("/logbook").text)


@pytest.mark.parametrize(
    "path", ["/logbook/0/correct", "/logbook/x/correct", "/logbook/99999999999999999/correct"]
)
def test_what_is_not_there_is_not_there(owner: httpx.Client, path: str) -> None:
    assert owner.get(path).status_code == 404


def test_notes_are_escaped(page_farm: PageFarm, owner: httpx.Client) -> None:
    number = add(page_farm, "stir", note='"><script>alert(2)</script>')
    for path in ("/logbook", f"/logbook/{number}/correct"):
        assert "<script>alert" not in owner.get(path).text


@pytest.mark.parametrize(
    "path",
    [
        "/cohorts",
        "/cohorts/pupae-1",
        "/cohorts/old-1",
        "/cohorts/start",
        "/cohorts/pupae-1/write?what=split",
        "/bins",
        "/bins/bin-1",
        "/bins/tray-3",
        "/bins/bin-1/write?what=feed",
        "/bins/bin-1/write?what=test",
        "/logbook",
        "/logbook/1/correct",
    ],
)
@pytest.mark.parametrize("language", ["en", "fr"])
def test_pages_are_well_formed(owner: httpx.Client, path: str, language: str) -> None:
    owner.cookies.set("rearing_view", f"{language}-c")
    page = owner.get(path)
    assert page.status_code == 200
    outline = Outline()
    outline.feed(page.text)
    assert outline.faults == []
    assert outline.open == []
    assert [name for name, count in outline.ids.items() if count > 1] == []


def test_every_kind_of_entry_has_its_words() -> None:
    wanted = [f"kind_of.{kind}" for kind in (*BinEntryKind, *CohortEntryKind)]
    wanted += [f"told.{kind}" for kind in (*BinEntryKind, *CohortEntryKind)]
    wanted += [f"seen.{event}" for event in Event]
    wanted += [f"stage.{stage}" for stage in Stage]
    wanted += [f"ending.{how}" for how in Ending]
    wanted += [f"cover.{cover}" for cover in Cover]
    wanted += [f"taken.{what}" for what in Taken]
    wanted += [f"zone.{zone}" for zone in Zone]
    for about in SubjectKind:
        for fields in kinds_of(about).values():
            wanted += [f"field.{each.key}" for each in fields]
            wanted += [f"write.wrong_{each.type}" for each in fields if each.type not in ("flag", "text")]
    known = catalogue("en")
    assert [key for key in wanted if not known.has(key.replace(".", "-"))] == []


def test_an_import_is_one_line_and_is_taken_back_as_one(page_farm: PageFarm, helper: httpx.Client) -> None:
    first = add(page_farm, "water", 0.2, kg=0.4, **{"import": "import-1"})
    second = add(page_farm, "stir", 0.1, **{"import": "import-1"})
    page = helper.get("/logbook").text
    assert "import-1: 2 entries of a notebook" in texts(page)
    assert f"/logbook/{first}/correct" not in page, "its entries stand behind one line"
    alone = helper.get("/logbook?run=import-1").text
    assert f"/logbook/{first}/correct" in alone and f"/logbook/{second}/correct" in alone
    assert helper.post("/logbook/undo", data={"run": "import-1"}).status_code == 403
    undo = next(form for form in forms(page) if form.get("run") == "import-1")
    answer = helper.post("/logbook/undo", data=undo)
    assert answer.status_code == 303
    after = helper.get(answer.headers["location"]).text
    assert "Taken back; it does not count any more." in texts(after)
    assert f"/logbook/{first}/correct" not in after
    again = helper.post("/logbook/undo", data=undo)
    assert again.status_code == 409 and "no entry of import-1 counts" in texts(again.text)


def test_the_calibration_of_a_probe_can_be_withdrawn(page_farm: PageFarm, owner: httpx.Client) -> None:
    number = add(page_farm, "probe", place="node-01/substrate_moisture", raw_air=0.1, raw_water=0.9)
    page = owner.get(f"/logbook/{number}/correct").text
    withdraw = forms(page)
    assert len(withdraw) == 1 and withdraw[0]["withdraw"] == "yes"
    assert owner.post(f"/logbook/{number}/correct", data=withdraw[0] | {"reason": "bad"}).status_code == 303
    assert "Withdrawn" in texts(owner.get("/logbook?days=7").text)
