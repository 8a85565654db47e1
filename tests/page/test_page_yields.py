"""The yield on the page: entries where they arise, the same rows as by command and sheet, what comes."""

from __future__ import annotations

import html
import re
from collections.abc import Iterator
from pathlib import Path

import httpx
import pytest
from cohort_farm import NOW_MS, CohortFarm, make_farm
from farm_yields import takings_of_farm
from page_farm import form_token
from week_played import COMMANDS, FORMS, TYPED, rows_of
from yield_page import YieldPage, yield_page
from yield_year import year_farm

from monitor.store import Store
from monitor.yields.records import EggUse, LarvaeUse, Takings

FILLED = ("--size", "60 x 40 cm", "--larvae", "9000", "--at", "2026-09-10 09:00")


@pytest.fixture
def farm(tmp_path: Path) -> CohortFarm:
    return _farm(tmp_path / "farm")


def _farm(folder: Path) -> CohortFarm:
    folder.mkdir()
    farm = make_farm(folder)
    assert farm.ask("bin", "fill", "bin-1", "10 kg at 70 %", *FILLED) == 0
    return farm


@pytest.fixture
def page(farm: CohortFarm) -> Iterator[YieldPage]:
    with yield_page(farm) as page:
        yield page


def _takings(farm: CohortFarm) -> Takings:
    with Store.read_only(farm.database) as store:
        return takings_of_farm(store, farm.plan(), NOW_MS)


def _said(text: str) -> str:
    """What a person reads of a page."""
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", text.partition("<main")[2])).split())


def test_a_week_gives_the_same_rows_by_page_command_and_sheet(
    farm: CohortFarm, page: YieldPage, tmp_path: Path
) -> None:
    by_command, by_sheet = _farm(tmp_path / "commands"), _farm(tmp_path / "sheet")
    for path, typed in FORMS:
        answer = page.write(path, **typed)
        assert answer.status_code == 303, (path, _said(answer.text))
    for command in COMMANDS:
        assert by_command.ask(*command) == 0, command
    sheet = tmp_path / "week.csv"
    sheet.write_text(TYPED, encoding="utf-8")
    assert by_sheet.ask("cohort", "import", str(sheet)) == 0
    assert rows_of(farm) == rows_of(by_command) == rows_of(by_sheet)
    said = _said(page.text("/yields"))
    assert "Eggs collected – the week before: 19.9 g" in said
    assert "Larvae harvested – the week before: 400 g" in said


def test_eggs_of_a_cage_of_several_cohorts_are_one_row_as_by_command(
    farm: CohortFarm, tmp_path: Path
) -> None:
    """They were once shared among its cohorts; a page that a phone kept still sends to that address."""
    other = _farm(tmp_path / "commands")
    for each in (farm, other):
        for name, flies in (("a", "1000"), ("b", "3000")):
            start = ("--stage", "adult", "--animals", flies, "--at", "2026-09-12 09:00")
            assert each.ask("cohort", "start", name, "cage-1", *start) == 0
    with yield_page(farm) as page:
        opened = page.text("/cages/cage-1/write?what=eggs")
        assert 'action="/places/cage-1/write"' in opened and 'value="collect"' in opened
        kept = {"form_token": form_token(opened), "mark": "m", "kind": "eggs", "grams": "9"}
        answer = page.client.post("/cages/cage-1/write", data={**kept, "at": "2026-09-20T07:30"})
        assert answer.status_code == 303, _said(answer.text)
        refused = page.client.post("/cages/cage-1/write", data={**kept, "mark": "n", "grams": "two strips"})
        assert refused.status_code == 400
    assert other.ask("eggs", "cage-1", "9 g", "--at", "2026-09-20 07:30") == 0
    assert rows_of(farm) == rows_of(other)
    assert [each.grams for each in _takings(farm).eggs] == [9.0]


def test_the_days_as_a_file_are_those_of_the_command(
    farm: CohortFarm, page: YieldPage, tmp_path: Path
) -> None:
    page.write("/places/cage-1/write?what=collect", grams="12.4", at="2026-09-14T07:30", note="=1+1")
    target = tmp_path / "days.csv"
    assert farm.ask("yields", "--csv", str(target)) == 0
    assert 'href="/yields/days.csv"' in page.text("/yields")
    answer = page.client.get("/yields/days.csv", headers={"accept-language": "fr"})
    assert answer.headers["content-type"].startswith("text/csv")
    assert "attachment" in answer.headers["content-disposition"]
    assert answer.content == target.read_bytes() and b"12.4" in answer.content


def test_the_days_are_for_those_who_logged_in(page: YieldPage) -> None:
    with httpx.Client(base_url=page.client.base_url) as stranger:
        answer = stranger.get("/yields/days.csv")
        assert answer.status_code in (303, 401, 403) and "date,place" not in answer.text


def test_what_was_put_right_is_doubted_no_more(farm: CohortFarm, page: YieldPage) -> None:
    start = ("--stage", "adult", "--animals", "6000", "--at", "2026-09-09 09:00", "--sure")
    assert farm.ask("cohort", "start", "flies", "cage-1", *start) == 0
    for day, grams in ((14, "11"), (15, "12"), (16, "10"), (17, "9"), (18, "80"), (19, "8")):
        page.write("/places/cage-1/write?what=collect", grams=grams, at=f"2026-09-{day}T07:30")
    eggs = next(each for each in _takings(farm).eggs if each.grams == 80.0)
    assert f"Entry {eggs.entry_id}, Cage 1" in _said(page.text("/yields"))
    path = f"/logbook/{eggs.entry_id}/correct?what=collect"
    assert page.write(path, grams="8", at="2026-09-18T07:30").status_code == 303
    assert "Entries to look at again" not in _said(page.text("/yields"))


def test_eggs_go_where_the_last_ones_went(farm: CohortFarm, page: YieldPage) -> None:
    form = "/places/cage-1/write?what=collect"
    assert page.write(form, grams="12.4", use="hatch", tray="tray-1").status_code == 303
    assert 'value="tray-1" selected' in page.text(form) and 'value="hatch" selected' in page.text(form)
    (eggs,) = _takings(farm).eggs
    assert (eggs.grams, eggs.use, eggs.tray) == (12.4, EggUse.HATCH, "tray-1")


def test_what_was_sold_hatches_in_no_tray(farm: CohortFarm, page: YieldPage) -> None:
    answer = page.write("/places/cage-1/write?what=collect", grams="5", use="sold", tray="tray-1")
    assert answer.status_code == 400 and "leave the tray out" in answer.text
    assert 'value="5"' in answer.text, "what was typed stays"
    assert not _takings(farm).eggs


@pytest.mark.parametrize(
    ("path", "typed", "said"),
    [
        ("/places/cage-1/write?what=collect", {"grams": "two strips"}, "is no weight"),
        ("/places/cage-1/write?what=dead", {}, "their number, or their weight in grams"),
        ("/places/site/write?what=note", {}, "any text"),
        ("/bins/bin-1/write?what=take", {"what": "larvae", "use": "feed"}, "kg"),
        ("/bins/bin-1/write?what=take", {"what": "larvae", "kg": "1", "mean_mg": "fat"}, "is no weight"),
    ],
)
def test_what_cannot_be_is_refused(page: YieldPage, path: str, typed: dict[str, str], said: str) -> None:
    answer = page.write(path, **typed)
    assert answer.status_code == 400 and said in _said(answer.text)


@pytest.mark.parametrize(
    "path",
    [
        "/places/bin-1/write?what=collect",
        "/places/cage-1/write?what=empty",
        "/places/site/write?what=dead",
        "/places/moon/write?what=note",
    ],
)
def test_what_is_not_there(page: YieldPage, path: str) -> None:
    assert page.client.get(path).status_code == 404


def test_ten_times_the_usual_is_asked_once(farm: CohortFarm, page: YieldPage) -> None:
    for day in ("10", "11", "12"):
        page.write("/places/cage-1/write?what=collect", grams="12", at=f"2026-09-{day}T07:00")
    opened = page.text("/places/cage-1/write?what=collect")
    data = {"form_token": form_token(opened), "mark": "m", "kind": "collect", "grams": "124"}
    asked = page.client.post("/places/cage-1/write", data=data)
    assert asked.status_code == 200 and "124" in _said(asked.text)
    assert len(_takings(farm).eggs) == 3, "nothing is written before it is confirmed"


def test_corrections_change_what_was_taken(farm: CohortFarm, page: YieldPage) -> None:
    page.write("/places/cage-1/write?what=collect", grams="12.4", use="sold")
    page.write("/bins/bin-1/write?what=take", kg="0.4", what="larvae", use="feed")
    eggs, larvae = _takings(farm).eggs[0], _takings(farm).larvae_out[0]
    for number, kind, changed in (
        (eggs.entry_id, "collect", {"grams": "10", "use": "hatch", "tray": "tray-1"}),
        (larvae.entry_id, "take", {"kg": "0.5", "what": "larvae", "use": "sold"}),
    ):
        path = f"/logbook/{number}/correct?what={kind}"
        assert page.write(path, **changed).status_code == 303
    takings = _takings(farm)
    assert [(each.grams, each.use, each.tray) for each in takings.eggs] == [(10.0, EggUse.HATCH, "tray-1")]
    assert [(each.kg, each.use) for each in takings.larvae_out] == [(0.5, LarvaeUse.SOLD)]
    said = _said(page.text("/yields"))
    assert "set to hatch: 10 g" in said and "sold: 500 g" in said


def test_hatch_has_its_own_fields_and_other_events_have_none(farm: CohortFarm, page: YieldPage) -> None:
    page.write("/places/cage-1/write?what=collect", grams="12", tray="tray-1", at="2026-09-14T07:30")
    (name,) = (each.into for each in _takings(farm).eggs)
    assert "Hatched of a sample (%)" in page.text(f"/cohorts/{name}/write?what=saw&event=hatch")
    assert "Hatched of a sample (%)" not in page.text(f"/cohorts/{name}/write?what=saw&event=first_prepupae")
    assert f"/cohorts/{name}/write?what=saw&amp;event=hatch" in page.text("/yields")
    path = f"/cohorts/{name}/write?what=saw&event=hatch"
    assert page.write(path, event="hatch", percent="80", at="2026-09-18T07:30").status_code == 303
    assert [each.share for each in _takings(farm).hatches] == [0.8]
    assert f"/cohorts/{name}/write?what=saw&amp;event=hatch" not in page.text("/yields"), "it was seen"
    number = _takings(farm).hatches[0].entry_id
    assert page.write(f"/logbook/{number}/correct?what=saw", event="hatch", percent="70").status_code == 303
    assert [each.share for each in _takings(farm).hatches] == [0.7]


def test_a_year_at_a_glance(tmp_path: Path) -> None:
    farm = year_farm(tmp_path)
    with yield_page(farm) as page:
        said = _said(page.text("/yields"))
        assert "This week, from Mon 21 Sep" in said and "Within seven days" in said
        assert "Best taken" in said and "Weigh the young larvae" in said
        asked = _said(page.text("/yields?grams=50&day=2026-10-01"))
        assert "For 50 g of eggs a week keep" in asked and "By Thu 1 Oct you can promise" in asked
        refused = page.client.get("/yields?grams=much&day=2031-10-01")
        assert refused.status_code == 400
        assert "“much” is no weight" in _said(refused.text) and "cannot be promised" in _said(refused.text)
        assert "Yield:" in _said(page.text("/bins/bin-1")) and "Within seven days" in _said(
            page.text("/places/cage-1")
        )
        assert "Yield:" in _said(page.text("/cohorts/lot-26"))
        before = said
        page.write("/places/cage-1/write?what=collect", grams="6", use="sold")
        assert _said(page.text("/yields")) != before, "the newest entry is in the sums at once"


def test_an_empty_farm_says_so(tmp_path: Path) -> None:
    with yield_page(make_farm(tmp_path)) as page:
        assert "Nothing was written down yet" in _said(page.text("/yields"))


def test_what_the_climate_went_with_stands_on_the_page(
    page: YieldPage, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert "What the climate went with" not in page.text("/yields"), "too little was ever compared"
    told = "Nights below 22 °C went with 35 % less eggs."
    monkeypatch.setattr("monitor.page.yields.climate_sentences", lambda *_: iter([told]))
    said = _said(page.text("/yields"))
    assert "What the climate went with" in said and told in said
