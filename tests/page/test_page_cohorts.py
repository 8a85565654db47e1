"""Cohorts on the page: what comes when, what the cages hold, and what was seen written down."""

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
    """What the first form of a page holds when it is opened, the chosen ones too."""
    form = page[page.index('<form class="entry"') : page.index("</form>", page.index('<form class="entry"'))]
    found = dict(re.findall(r'<input[^>]*name="([^"]+)"[^>]*?value="([^"]*)"', form))
    for name, options in re.findall(r'<select name="([^"]+)"[^>]*>(.*?)</select>', form):
        chosen = re.search(r'value="([^"]*)" selected', options)
        found[name] = chosen[1] if chosen else ""
    return found | {"form_token": form_token(form)}


def entries(farm: PageFarm, name: str) -> list[LogbookEntry]:
    with Store.read_only(farm.context.store_path) as store:
        found = store.logbook.every(SubjectKind.COHORT, name)
        return sorted(found, key=lambda each: each.entry_id or 0)


def window_days(page: str, event: str) -> float:
    """The length of the window of an event in the table."""
    found = re.search(rf">{event}</th><td>[^<]*</td><td>([^<]*)</td>", page)
    assert found is not None
    days = re.findall(r"(\d+)\W(\w{3})", found[1].replace("\u00a0", " "))
    months = {"Sep": 0, "Oct": 30, "Nov": 61}
    ends = [months[month] + int(day) for day, month in days]
    return float(ends[-1] - ends[0])


def test_each_cohort_has_its_bar_its_next_event_and_its_window(owner: httpx.Client) -> None:
    page = owner.get("/cohorts").text
    said = texts(page)
    assert "3 cohorts" in said
    assert "old-1" not in said
    assert re.search(r"eggs-1 hatching \d+( Sep)?( to \d+ Sep)?", said)
    bar = owner.get("/cohorts/eggs-1").text.replace("\u00a0", " ")
    assert re.search(r"eggs, \d+ % through this stage", bar)
    assert "Flies in the cages, next 30 days" in said
    assert re.search(r"Love cage 1 .*Most on \w{3} \d+ \w{3}, about \d+", said)
    assert "Nothing learned yet" in said


def test_a_cohort_has_its_curve_its_events_and_what_that_rests_on(owner: httpx.Client) -> None:
    page = owner.get("/cohorts/pupae-1").text
    assert "Flies coming out, day by day" in page
    assert "first flies" in page
    said = texts(page)
    assert "Rests on: numbers from papers, none of your own yet; air temperature" in said
    assert re.search(r"About \d+ flies on the best day", said)


def test_a_cohort_for_feed_is_harvested_before_it_leaves(owner: httpx.Client) -> None:
    page = texts(owner.get("/cohorts/feed-1").text)
    assert "first dark larvae" in page
    assert "Flies coming out" not in page


def test_first_flies_in_two_taps_narrow_the_window(page_farm: PageFarm, owner: httpx.Client) -> None:
    page = owner.get("/cohorts").text
    tap = '/cohorts/pupae-1/write?what=saw&amp;event=first_emerged"'
    assert tap in page or tap in owner.get("/cohorts/pupae-1").text
    earlier = owner.get("/cohorts/pupae-1").text
    form = fields(owner.get("/cohorts/pupae-1/write?what=saw&event=first_emerged").text)
    assert form["event"] == "first_emerged"
    assert form["at"].startswith(f"{MORNING:%Y-%m-%d}")
    answer = owner.post("/cohorts/pupae-1/write", data=form)
    assert answer.status_code == 303
    after = owner.get(answer.headers["location"]).text
    written = entries(page_farm, "pupae-1")[-1]
    assert (written.kind, written.body, written.author) == ("saw", {"event": "first_emerged"}, "Ann")
    assert f"Written as entry {written.entry_id}, pupae-1: seen: first flies." in texts(after)
    assert "The window of the flies: before" in texts(after)
    assert window_days(after, "first eggs") < window_days(earlier, "first eggs")
    half = "half of the flies out"
    assert window_days(after, half) <= window_days(earlier, half)


@pytest.mark.parametrize(
    ("what", "typed", "body"),
    [
        ("flies", {"flies": "40"}, {"flies": 40}),
        ("eggs", {"grams": "2,5", "confirmed": "too_soon"}, {"grams": 2.5}),
        ("count", {"animals": "1300", "stage": "pupa"}, {"animals": 1300, "stage": "pupa"}),
        ("move", {"place": "box-2"}, {"place": "box-2"}),
        ("thin", {"percent": "10"}, {"percent": 10}),
        ("split", {"into": "kept-1", "percent": "20"}, {"into": "kept-1", "percent": 20}),
    ],
)
def test_a_helper_writes_everything(
    page_farm: PageFarm, helper: httpx.Client, what: str, typed: dict[str, str], body: dict[str, object]
) -> None:
    form = fields(helper.get(f"/cohorts/pupae-1/write?what={what}").text)
    answer = helper.post("/cohorts/pupae-1/write", data=form | typed)
    assert answer.status_code == 303, texts(answer.text)
    written = entries(page_farm, "pupae-1")[-1]
    assert (written.kind, written.body, written.author) == (what, body, "Ben")


def test_a_planned_move_lies_ahead(page_farm: PageFarm, owner: httpx.Client) -> None:
    form = fields(owner.get("/cohorts/eggs-1/write?what=planned_move").text)
    answer = owner.post("/cohorts/eggs-1/write", data=form | {"place": "bin-4"})
    assert answer.status_code == 303, texts(answer.text)
    planned = entries(page_farm, "eggs-1")[-1]
    assert planned.at_ms > planned.entered_ms


def test_a_cohort_begins_and_ends_on_the_page(page_farm: PageFarm, owner: httpx.Client) -> None:
    form = fields(owner.get("/cohorts/start").text)
    typed = {"name": "new-1", "stage": "egg", "place": "tray-2", "grams": "3"}
    answer = owner.post("/cohorts/start", data=form | typed)
    assert answer.headers["location"].startswith("/cohorts/new-1?wrote=")
    assert "new-1" in texts(owner.get("/cohorts").text)
    form = fields(owner.get("/cohorts/new-1/write?what=end").text)
    assert owner.post("/cohorts/new-1/write", data=form | {"how": "lost"}).status_code == 303
    assert "Ended" in texts(owner.get("/cohorts/new-1").text)
    assert [each.kind for each in entries(page_farm, "new-1")] == ["start", "end"]


@pytest.mark.parametrize(
    ("typed", "reason"),
    [
        ({"name": "", "stage": "egg", "place": "tray-1"}, "Name of the cohort: this is needed."),
        ({"name": "no/such name", "stage": "egg", "place": "tray-1"}, "is no name for a cohort"),
        ({"name": "feed-1", "stage": "egg", "place": "tray-1"}, "there is a cohort feed-1 already"),
        ({"name": "x-1", "stage": "", "place": ""}, "Place: this is needed."),
        ({"name": "x-1", "stage": "egg", "place": "moon"}, "“moon” is not among what can be chosen."),
        ({"name": "x-1", "stage": "egg", "place": "tray-1", "grams": "nan"}, "“nan” is no weight"),
        (
            {"name": "x-1", "stage": "egg", "place": "tray-1", "grams": "1,500"},
            "Weight (g): 1,500: 1500 or 1.5? write 1500 or 1.5",
        ),
        (
            {"name": "x-1", "stage": "egg", "place": "tray-1", "animals": "10,000"},
            "Number of animals: 10,000: 10000 or 10? write 10000 or 10",
        ),
    ],
)
def test_a_start_that_is_refused_says_why_and_keeps_what_was_typed(
    owner: httpx.Client, typed: dict[str, str], reason: str
) -> None:
    form = fields(owner.get("/cohorts/start").text)
    answer = owner.post("/cohorts/start", data=form | typed | {"note": "kept"})
    assert answer.status_code == 400
    assert reason in texts(answer.text)
    again = fields(answer.text)
    assert (again["name"], again["note"]) == (typed["name"], "kept")


def test_what_the_book_refuses_is_said_beside_the_form(page_farm: PageFarm, owner: httpx.Client) -> None:
    count = len(entries(page_farm, "feed-1"))
    form = fields(owner.get("/cohorts/feed-1/write?what=saw&event=half_prepupae").text)
    answer = owner.post("/cohorts/feed-1/write", data=form | {"at": "2026-01-01T12:00"})
    assert answer.status_code == 400
    assert "is before its start" in texts(answer.text)
    assert fields(answer.text)["event"] == "half_prepupae"
    assert fields(answer.text)["at"] == "2026-01-01T12:00"
    assert len(entries(page_farm, "feed-1")) == count


def test_notes_are_escaped(owner: httpx.Client) -> None:
    page = owner.get("/cohorts/eggs-1").text
    assert NASTY_NOTE not in page
    assert "&lt;script&gt;alert" in page


def test_without_the_token_of_the_form_nothing_is_written(page_farm: PageFarm, owner: httpx.Client) -> None:
    count = len(entries(page_farm, "feed-1"))
    form = fields(owner.get("/cohorts/feed-1/write?what=saw&event=first_prepupae").text)
    for path in ("/cohorts/feed-1/write", "/cohorts/start"):
        assert owner.post(path, data=form | {"form_token": ""}).status_code == 403
    assert len(entries(page_farm, "feed-1")) == count


@pytest.mark.parametrize(
    "path", ["/cohorts/nobody", "/cohorts/nobody/write?what=saw", "/cohorts/feed-1/write?what=start"]
)
def test_what_is_not_there_is_not_there(owner: httpx.Client, path: str) -> None:
    assert owner.get(path).status_code == 404


def test_an_event_that_the_address_makes_up_is_not_chosen(owner: httpx.Client) -> None:
    page = owner.get('/cohorts/feed-1/write?what=saw&event="><script>')
    assert fields(page.text)["event"] == ""
    assert "<script>" not in page.text.replace('<script src="', "")


def test_in_french(owner: httpx.Client) -> None:
    owner.cookies.set("rearing_view", "fr-c")
    page = texts(owner.get("/cohorts").text)
    assert "Mouches dans les cages, 30 jours" in page
    assert "éclosion" in page
    for english in ("hatching", "Love cage 1 Most", "Rests on"):
        assert english not in page


@pytest.mark.parametrize(
    ("cohort", "what", "typed", "said"),
    [
        (
            "eggs-1",
            "saw",
            {"event": "first_emerged"},
            "even at the best temperature that takes about 31 days",
        ),
        ("feed-1", "flies", {"flies": "140"}, "even at the best temperature the rest takes about"),
        ("pupae-1", "eggs", {"grams": "280"}, "g of eggs weigh more than the "),
    ],
)
def test_what_is_out_of_the_order_of_life_is_refused(
    page_farm: PageFarm, owner: httpx.Client, cohort: str, what: str, typed: dict[str, str], said: str
) -> None:
    count = len(entries(page_farm, cohort))
    form = fields(owner.get(f"/cohorts/{cohort}/write?what={what}").text)
    answer = owner.post(f"/cohorts/{cohort}/write", data=form | typed)
    assert said in texts(answer.text)
    assert answer.status_code in (200, 400)
    assert len(entries(page_farm, cohort)) == count


def test_a_start_that_is_unlikely_is_asked_with_everything_that_was_typed(
    page_farm: PageFarm, owner: httpx.Client
) -> None:
    form = fields(owner.get("/cohorts/start").text)
    typed = {"name": "many-1", "stage": "egg", "place": "tray-3", "grams": "1 800", "at": "2026-05-08T12:00"}
    asked = owner.post("/cohorts/start", data=form | typed)
    said = texts(asked.text)
    assert "1800 g of eggs are about 64800000 animals; up to 100 g at once are usual" in said
    assert "that was 139 days ago" in said, "all questions at once"
    assert entries(page_farm, "many-1") == []
    second = fields(asked.text)
    assert {key: second[key] for key in typed} == typed
    assert owner.post("/cohorts/start", data=second).status_code == 303
    assert entries(page_farm, "many-1")[0].body["grams"] == 1800


def test_what_is_due_stands_first_in_one_line_with_its_window_and_seen(owner: httpx.Client) -> None:
    page = owner.get("/cohorts").text
    due, _, rest = page.partition("<h2>Flies in the cages")
    line = re.search(r'<li><p><a href="/cohorts/feed-1">.*?</li>', due, re.DOTALL)
    assert line is not None
    assert re.fullmatch(
        r"feed-1 harvest before \d+( \w{3})? to \d+ \w{3} Harvested : feed-1", texts(line[0])
    ), texts(line[0])
    assert "Seen" not in re.sub(r"<p class=.ask.*", "", rest, flags=re.DOTALL), "only where it is due"


def test_what_was_seen_is_offered_no_more_nor_anything_before_it(
    page_farm: PageFarm, owner: httpx.Client
) -> None:
    """The last of the events that the entries above speak of is eggs collected: nothing comes after it."""
    kinds = [each.kind for each in entries(page_farm, "pupae-1")]
    assert "eggs" in kinds
    page = owner.get("/cohorts/pupae-1").text
    assert "what=saw&amp;event=" not in page
    form = fields(owner.get("/cohorts/feed-1/write?what=saw&event=first_prepupae").text)
    asked = owner.post("/cohorts/feed-1/write", data=form)
    answer = owner.post("/cohorts/feed-1/write", data=fields(asked.text))
    assert answer.status_code == 303, texts(answer.text)
    after = owner.get(answer.headers["location"]).text
    assert "event=half_prepupae" in after
    assert "event=first_prepupae" not in after
    assert "event=first_prepupae" not in owner.get("/cohorts").text


def test_nothing_is_said_of_a_window_that_stayed_as_it_was(owner: httpx.Client) -> None:
    page = texts(owner.get("/cohorts/eggs-1").text)
    days = 10 * round(float(window_days(owner.get("/cohorts/eggs-1").text, "half of the flies out")))
    said = {texts(owner.get(f"/cohorts/eggs-1?before={days + at}").text) for at in range(-20, 21)}
    assert any("The window of the flies" in each for each in said)
    for each in said:
        found = re.search(r"before (.+?), now (.+?)\.", each)
        assert found is None or found[1] != found[2]
    assert "The window of the flies" not in page


def test_a_move_and_an_end_suggest_what_is_usual(page_farm: PageFarm, owner: httpx.Client) -> None:
    assert fields(owner.get("/cohorts/eggs-1/write?what=move").text)["place"].startswith("bin-")
    assert fields(owner.get("/cohorts/feed-1/write?what=end").text)["how"] == "harvested"
    page = owner.get("/cohorts/eggs-1").text
    form = re.search(
        r'<form class="row" method="post" action="/cohorts/eggs-1/write">.*?</form>', page, re.DOTALL
    )
    assert form is not None
    chosen = re.search(r'value="(bin-\d)" selected', form[0])
    assert chosen is not None
    hidden = dict(re.findall(r'name="([^"]+)" value="([^"]*)"', form[0]))
    answer = owner.post("/cohorts/eggs-1/write", data=hidden | {"place": chosen[1]})
    assert answer.status_code == 303, texts(answer.text)
    written = entries(page_farm, "eggs-1")[-1]
    assert (written.kind, written.body) == ("move", {"place": chosen[1]})


def test_a_new_cohort_needs_a_name_a_place_and_grams_only(page_farm: PageFarm, owner: httpx.Client) -> None:
    page = owner.get("/cohorts/start").text
    form = fields(page)
    assert re.fullmatch(r"[a-z]+-\d+", form["name"])
    assert owner.get(f"/cohorts/{form['name']}").status_code == 404
    whole = page[page.index('<form class="entry"') :]
    open_part = re.sub(r'<input type="hidden"[^>]*>', "", whole.partition("<details")[0])
    assert re.findall(r'<(?:input|select) name="(\w+)"', open_part) == ["name", "place", "grams"]
    answer = owner.post("/cohorts/start", data=form | {"grams": "3", "place": "tray-2"})
    assert answer.status_code == 303, texts(answer.text)
    started = entries(page_farm, form["name"])[0]
    assert started.body == {"stage": "egg", "place": "tray-2", "grams": 3}
    assert fields(owner.get("/cohorts/start").text)["name"] != form["name"]


def test_in_a_room_it_has_to_be_said_as_what_a_cohort_begins(
    owner: httpx.Client, page_farm: PageFarm
) -> None:
    rooms = [each.id for each in page_farm.plan().settings.places if each.kind == "room"]
    if not rooms:
        pytest.skip("the farm of these tests has no room")
    form = fields(owner.get("/cohorts/start").text)
    answer = owner.post("/cohorts/start", data=form | {"place": rooms[0]})
    assert "As what: this is needed." in texts(answer.text)


def test_what_a_cohort_is_for_is_said_with_one_tap(page_farm: PageFarm, owner: httpx.Client) -> None:
    page = owner.get("/cohorts").text
    found = re.search(
        r'<form class="row" method="post" action="/cohorts/eggs-1/write">.*?</form>', page, re.DOTALL
    )
    assert found is not None
    assert "for breeding" in found[0]
    hidden = dict(re.findall(r'<input[^>]*name="([^"]+)" value="([^"]*)"', found[0]))
    answer = owner.post("/cohorts/eggs-1/write", data=hidden | {"purpose": "feed"})
    assert answer.status_code == 303, texts(answer.text)
    assert "said to be for feed" in texts(owner.get(answer.headers["location"]).text)
    assert entries(page_farm, "eggs-1")[-1].body == {"purpose": "feed"}
    assert 'action="/cohorts/eggs-1/write"' not in owner.get("/cohorts").text
    again = owner.post("/cohorts/eggs-1/write", data=hidden | {"purpose": "feed"})
    assert again.headers["location"] == answer.headers["location"], "the same mark answers the same"


def test_flies_of_a_cage_are_counted_there(page_farm: PageFarm, owner: httpx.Client) -> None:
    # An hour later: in one hour flies of a cohort are counted once.
    page_farm.clock.now_ms += 2 * 3_600_000
    assert "/cages/cage-1/write?what=flies" in owner.get("/cohorts").text
    page = owner.get("/cages/cage-1/write?what=flies").text
    assert "Written to" in texts(page)
    assert "pupae-1" in texts(page)
    answer = owner.post("/cages/cage-1/write", data=fields(page) | {"flies": "41"})
    assert answer.status_code == 303, texts(answer.text)
    numbers = [int(each) for each in answer.headers["location"].partition("wrote=")[2].split("-")]
    with Store.read_only(page_farm.context.store_path) as store:
        written = [store.logbook.one(number) for number in numbers]
    assert sum(float(str(each.body["flies"])) for each in written if each is not None) == 41
    assert "pupae-1" in {each.subject for each in written if each is not None}
    for path in (
        "/cages/tray-1/write?what=flies",
        "/cages/cage-1/write?what=end",
        "/cages/moon/write?what=eggs",
    ):
        assert owner.get(path).status_code == 404
