"""Bins on the page: what is said of each, and water, weight and stirring written down."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator

import httpx
import pytest
from logbook_farm import NASTY_NOTE, keep_logbook
from page_farm import MORNING, PageFarm, form_token

from monitor.records import LogbookEntry, SubjectKind
from monitor.store import Store

LogIn = Callable[..., httpx.Client]


@pytest.fixture(scope="module", autouse=True)
def _with_logbook(page_farm: PageFarm) -> Iterator[None]:
    keep_logbook(page_farm)
    yield


def texts(page: str) -> str:
    return " ".join(re.sub(r"<[^>]+>", " ", page).replace("\u00a0", " ").split())


def fields(page: str) -> dict[str, str]:
    """What the first form of a page holds when it is opened."""
    form = page[page.index('<form class="entry"') : page.index("</form>", page.index('<form class="entry"'))]
    found = dict(re.findall(r'<input[^>]*name="([^"]+)"[^>]*?value="([^"]*)"', form))
    return found | {"form_token": form_token(form)}


def entries(farm: PageFarm, place: str) -> list[LogbookEntry]:
    with Store.read_only(farm.context.store_path) as store:
        return list(store.logbook.every(SubjectKind.BIN, place))


def hours_left(page: str) -> str:
    found = re.search(r"Too dry (in about [0-9]+ \w+|in 10 days or more|already|not within 10 days)", page)
    assert found is not None, page
    return found[1]


def test_the_bin_that_dries_first_stands_first_with_litres(owner: httpx.Client) -> None:
    page = texts(owner.get("/bins").text)
    assert page.index("Grow-out bin 1") < page.index("Grow-out bin 2")
    assert re.search(r"\d+ % to \d+ %", page)
    assert re.search(r"Add [\d.]+ litres: back to 68 %", page)
    assert re.search(r"Heat: \d+\.\d °C", page)
    assert "Empty, as far as the logbook knows" in page


def test_a_bin_has_a_picture_with_figures_and_its_logbook(owner: httpx.Client) -> None:
    page = owner.get("/bins/bin-1").text
    assert 'role="img"' in page
    assert "<table>" in page
    said = texts(page)
    assert "filled with 6 kg at 50 %, 800 larvae" in said
    assert re.search(r"It loses \d+ g of water an hour", said)
    assert re.search(r"Larvae: about [\d.]+ k?g now", said)


def test_water_in_two_taps_moves_the_hours_left(page_farm: PageFarm, owner: httpx.Client) -> None:
    before = hours_left(texts(owner.get("/bins/bin-1").text))
    form = fields(owner.get("/bins/bin-1/write?what=water").text)
    assert float(form["kg"]) > 0.0, "the litres that are wanted stand there"
    assert form["at"].startswith(f"{MORNING:%Y-%m-%dT}")
    answer = owner.post("/bins/bin-1/write", data=form | {"kg": "1"})
    assert answer.status_code == 303
    page = texts(owner.get(answer.headers["location"]).text)
    written = entries(page_farm, "bin-1")[-1]
    assert (written.kind, written.body, written.author) == ("water", {"kg": 1.0}, "Ann")
    assert f"Written as entry {written.entry_id}, Grow-out bin 1: 1 litre of water." in page
    assert "Too dry: before in" in page
    assert hours_left(page) != before


def test_a_second_tap_writes_nothing_more(page_farm: PageFarm, owner: httpx.Client) -> None:
    form = fields(owner.get("/bins/bin-2/write?what=stir").text)
    first = owner.post("/bins/bin-2/write", data=form)
    count = len(entries(page_farm, "bin-2"))
    second = owner.post("/bins/bin-2/write", data=form)
    assert second.headers["location"] == first.headers["location"]
    assert len(entries(page_farm, "bin-2")) == count


@pytest.mark.parametrize(
    ("what", "typed", "kind", "body"),
    [
        ("weigh", {"kg": "9,4"}, "weigh", {"kg": 9.4}),
        ("weigh", {"kg": "9 100 g"}, "weigh", {"kg": 9.1}),
        ("feed", {"kg": "800 g", "moisture": "12"}, "feed", {"kg": 0.8, "moisture": 0.12}),
        ("test", {"moisture": "66 %", "rough": "on"}, "test", {"moisture": 0.66, "rough": True}),
        ("cover", {"cover": "net"}, "cover", {"cover": "net"}),
        ("fan", {"on": "off"}, "fan", {"on": False}),
        ("take", {"kg": "1", "what": "larvae"}, "take", {"kg": 1.0, "what": "larvae"}),
        ("stir", {"note": "well", "spread": ""}, "stir", {"note": "well"}),
        ("stir", {"spread": "on"}, "stir", {"spread": True}),
    ],
)
def test_everything_else_can_be_written_too(
    page_farm: PageFarm,
    helper: httpx.Client,
    what: str,
    typed: dict[str, str],
    kind: str,
    body: dict[str, object],
) -> None:
    form = fields(helper.get(f"/bins/bin-2/write?what={what}").text)
    answer = helper.post("/bins/bin-2/write", data=form | typed)
    assert answer.status_code == 303, texts(answer.text)
    written = max(entries(page_farm, "bin-2"), key=lambda each: each.entry_id or 0)
    assert (written.kind, written.body, written.author) == (kind, body, "Ben")


def test_a_time_that_was_typed_is_by_the_clock_of_the_farm(page_farm: PageFarm, owner: httpx.Client) -> None:
    form = fields(owner.get("/bins/bin-1/write?what=stir").text)
    owner.post("/bins/bin-1/write", data=form | {"at": "2026-09-24T05:30"})
    at_ms = round(MORNING.replace(hour=5, minute=30).timestamp() * 1000)
    assert at_ms in {each.at_ms for each in entries(page_farm, "bin-1")}


@pytest.mark.parametrize(
    ("what", "typed", "reason"),
    [
        ("water", {"kg": "a lot"}, "How much (litres): “a lot” is no amount"),
        ("water", {"kg": ""}, "How much (litres): this is needed"),
        ("water", {"kg": "-3"}, "“-3” is no amount"),
        ("weigh", {"kg": "1e999"}, "“1e999” is no weight"),
        ("water", {"kg": "1", "at": "2030-01-01T00:00"}, "2030"),
        ("water", {"kg": "1", "at": "0001-01-01T00:00"}, "is no time"),
        ("water", {"kg": "1", "at": "999999 weeks ago"}, "is no time"),
        ("cover", {"cover": "lead"}, "is not among what can be chosen"),
        ("test", {"moisture": "140"}, "is no moisture"),
        ("water", {"kg": "2,500 ml"}, "How much (litres): 2,500: 2500 or 2.5? write 2500 or 2.5"),
        ("weigh", {"kg": "1,500 g"}, "How much (kg): 1,500: 1500 or 1.5? write 1500 or 1.5"),
        ("larvae", {"larvae": "10,000"}, "Number of larvae: 10,000: 10000 or 10? write 10000 or 10"),
        ("larvae", {"larvae": "100", "age_days": "1,500"}, "1,500: 1500 or 1.5? write 1500 or 1.5"),
    ],
)
def test_what_is_refused_says_why_and_stays_in_the_form(
    page_farm: PageFarm, owner: httpx.Client, what: str, typed: dict[str, str], reason: str
) -> None:
    count = len(entries(page_farm, "bin-1"))
    form = fields(owner.get(f"/bins/bin-1/write?what={what}").text)
    answer = owner.post("/bins/bin-1/write", data=form | typed | {"note": "kept"})
    assert answer.status_code == 400
    assert "Not written" in texts(answer.text)
    assert reason in texts(answer.text)
    assert fields(answer.text)["note"] == "kept"
    for key, value in typed.items():
        if key != "cover":
            assert fields(answer.text)[key] == value
    assert len(entries(page_farm, "bin-1")) == count


def test_all_that_is_wrong_is_said_at_once(owner: httpx.Client) -> None:
    form = fields(owner.get("/bins/bin-1/write?what=feed").text)
    answer = texts(owner.post("/bins/bin-1/write", data=form | {"kg": "x", "moisture": "y", "at": "z"}).text)
    assert "“x” is no weight" in answer
    assert "“y” is no moisture" in answer
    assert "“z” is no time" in answer


def test_an_empty_place_is_filled_from_the_page(page_farm: PageFarm, owner: httpx.Client) -> None:
    assert "Nothing is in it" in texts(owner.get("/bins/tray-1").text)
    form = fields(owner.get("/bins/tray-1/write?what=fill").text)
    without_size = owner.post("/bins/tray-1/write", data=form | {"kg": "2", "moisture": "68"})
    assert without_size.status_code == 400
    form = fields(owner.get("/bins/tray-1/write?what=fill").text)
    answer = owner.post(
        "/bins/tray-1/write",
        data=form | {"kg": "2", "moisture": "68", "surface_m2": "40 x 30 cm", "depth_m": "3 cm"},
    )
    assert answer.status_code == 303
    assert entries(page_farm, "tray-1")[-1].body == {
        "kg": 2.0,
        "moisture": 0.68,
        "surface_m2": 0.12,
        "depth_m": 0.03,
    }
    assert "Too dry" in texts(owner.get("/bins/tray-1").text)


def test_notes_are_escaped(owner: httpx.Client) -> None:
    page = owner.get("/bins/bin-2").text
    assert NASTY_NOTE not in page
    assert "&lt;script&gt;alert" in page
    typed = fields(owner.get("/bins/bin-2/write?what=water").text) | {"kg": NASTY_NOTE, "note": NASTY_NOTE}
    assert NASTY_NOTE not in owner.post("/bins/bin-2/write", data=typed).text


def test_without_the_token_of_the_form_nothing_is_written(page_farm: PageFarm, owner: httpx.Client) -> None:
    count = len(entries(page_farm, "bin-1"))
    form = fields(owner.get("/bins/bin-1/write?what=stir").text)
    assert owner.post("/bins/bin-1/write", data=form | {"form_token": ""}).status_code == 403
    assert owner.post("/bins/bin-1/write", data=form | {"form_token": "x"}).status_code == 403
    assert len(entries(page_farm, "bin-1")) == count


@pytest.mark.parametrize(
    "path",
    [
        "/bins/room-a",
        "/bins/nothing",
        "/bins/bin-1/write?what=nothing",
        "/bins/bin-1/write",
        "/bins/..%2fnodes",
    ],
)
def test_what_is_not_there_is_not_there(owner: httpx.Client, path: str) -> None:
    assert owner.get(path).status_code == 404


def test_in_french_and_fahrenheit(owner: httpx.Client) -> None:
    owner.cookies.set("rearing_view", "fr-f")
    page = texts(owner.get("/bins").text)
    assert "Chaleur :" in page
    assert "°F" in page
    assert "°C" not in page
    for english in ("Heat:", "litres: back", "Too dry"):
        assert english not in page


@pytest.mark.parametrize(
    ("what", "typed", "said"),
    [
        ("water", {"kg": "400"}, "cm deep even as heavy as water"),
        ("weigh", {"kg": "800"}, "at most are in it by the book; nothing becomes heavier"),
        ("take", {"kg": "300", "what": "residue"}, "at most are in it by the book"),
    ],
)
def test_what_cannot_be_is_refused_and_stays_in_the_form(
    page_farm: PageFarm, owner: httpx.Client, what: str, typed: dict[str, str], said: str
) -> None:
    count = len(entries(page_farm, "bin-1"))
    form = fields(owner.get(f"/bins/bin-1/write?what={what}").text)
    answer = owner.post("/bins/bin-1/write", data=form | typed | {"confirmed": "deep heavier more_taken *"})
    assert answer.status_code == 400
    assert said in texts(answer.text)
    assert fields(answer.text)["kg"] == typed["kg"]
    assert len(entries(page_farm, "bin-1")) == count


def test_the_unlikely_is_asked_in_a_second_step_that_keeps_what_was_typed(
    page_farm: PageFarm, owner: httpx.Client
) -> None:
    count = len(entries(page_farm, "bin-1"))
    form = fields(owner.get("/bins/bin-1/write?what=water").text)
    asked = owner.post("/bins/bin-1/write", data=form | {"kg": "45", "note": "<b>hose</b>"})
    assert asked.status_code == 200
    said = texts(asked.text)
    assert "Is that right? Nothing is written yet. This is unlikely:" in said
    assert re.search(r"45 litres into [\d.]+ kg would make it \d+ % water; up to 92 % are believable", said)
    assert "How much (litres): 45" in said
    assert "<b>hose" not in asked.text
    assert len(entries(page_farm, "bin-1")) == count
    second = fields(asked.text)
    assert (second["kg"], second["note"], second["kind"]) == ("45", "&lt;b&gt;hose&lt;/b&gt;", "water")
    second["note"] = "hose"

    changed = owner.post("/bins/bin-1/write", data=second | {"change": "yes"})
    assert changed.status_code == 200
    assert (fields(changed.text)["kg"], fields(changed.text)["note"]) == ("45", "hose")
    assert "Not written" not in texts(changed.text)
    assert "confirmed" not in fields(changed.text), "a changed form is asked anew"
    assert len(entries(page_farm, "bin-1")) == count

    answer = owner.post("/bins/bin-1/write", data=second)
    assert answer.status_code == 303
    again = owner.post("/bins/bin-1/write", data=second)
    assert again.headers["location"] == answer.headers["location"], "a second tap writes nothing more"
    written = entries(page_farm, "bin-1")
    assert len(written) == count + 1
    assert written[-1].body == {"kg": 45.0, "note": "hose"}
    number = written[-1].entry_id
    form = {"form_token": second["form_token"], "withdraw": "yes"}
    assert owner.post(f"/logbook/{number}/correct", data=form).status_code == 303


def test_an_answer_without_the_token_of_the_form_writes_nothing(
    page_farm: PageFarm, owner: httpx.Client
) -> None:
    count = len(entries(page_farm, "bin-1"))
    answer = owner.post("/bins/bin-1/write", data={"kind": "water", "kg": "45", "confirmed": "soup"})
    assert answer.status_code == 403
    assert len(entries(page_farm, "bin-1")) == count


def test_nobody_confirms_everything_at_once_on_the_page(owner: httpx.Client) -> None:
    form = fields(owner.get("/bins/bin-1/write?what=water").text)
    answer = owner.post("/bins/bin-1/write", data=form | {"kg": "45", "confirmed": "*"})
    assert answer.status_code == 200
    assert "Is that right?" in texts(answer.text)
