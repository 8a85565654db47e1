"""A form is handed in once, however often it comes: after a restart, from two devices."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import httpx
import pytest
from page_farm import PageFarm, form_token, wait_for

from monitor.farm.entries import EntryWriter
from monitor.logbook.cohort_entries import CohortEntryKind
from monitor.page.context import MOST_REMEMBERED, OnceGuard
from monitor.page.server import PageServer
from monitor.records import (
    MS_PER_DAY,
    MS_PER_HOUR,
    MS_PER_MINUTE,
    STANDING,
    AlarmStatus,
    LogbookEntry,
    local,
)
from monitor.store import Store
from monitor.store.meta import HandedIn

pytestmark = pytest.mark.usefixtures("filled")

LogIn = Callable[..., httpx.Client]
DATA = {"accept": "application/json"}
WATER = {"kind": "water", "kg": "1.5", "note": ""}


def hand_in(client: httpx.Client, path: str, data: dict[str, Any], **more: Any) -> httpx.Response:
    token = form_token(client.get("/me").text)
    return client.post(path, data={"form_token": token, **data}, **more)


def entries(farm: PageFarm) -> list[LogbookEntry]:
    return sorted(farm.service.store.logbook.every(), key=lambda entry: entry.entry_id or 0)


def test_the_same_mark_writes_once_from_two_people_and_after_a_restart(
    page_farm: PageFarm, owner: httpx.Client, helper: httpx.Client
) -> None:
    before, form = len(entries(page_farm)), {**WATER, "mark": "twice"}
    first = hand_in(owner, "/bins/bin-1/write", form)
    assert first.status_code == 303 and "wrote=" in first.headers["location"]
    assert hand_in(helper, "/bins/bin-1/write", form).headers["location"] == first.headers["location"]
    page_farm.context.once = OnceGuard()
    server = PageServer(page_farm.context, port=0)
    server.start()
    with httpx.Client(base_url=server.address, cookies=owner.cookies, trust_env=False) as later:
        again = hand_in(later, "/bins/bin-1/write", form, headers=DATA).json()
    server.stop()
    assert again["state"] == "done" and again["to"] == first.headers["location"].split("&")[0]
    assert len(entries(page_farm)) == before + 1


def test_a_mark_with_other_values_is_said_and_writes_nothing(
    page_farm: PageFarm, owner: httpx.Client
) -> None:
    hand_in(owner, "/bins/bin-1/write", {**WATER, "mark": "other"})
    before = len(entries(page_farm))
    answer = hand_in(owner, "/bins/bin-1/write", {**WATER, "kg": "2.5", "mark": "other"}, headers=DATA)
    assert answer.status_code == 409 and answer.json()["state"] == "refused"
    assert "other values" in answer.json()["said"][0] and len(entries(page_farm)) == before


def test_a_mark_stands_with_its_entry_or_not_at_all(page_farm: PageFarm, owner: httpx.Client) -> None:
    store = page_farm.service.store
    asked = hand_in(owner, "/bins/bin-1/write", {**WATER, "kg": "150", "mark": "asked"}, headers=DATA)
    assert asked.json()["state"] in ("asked", "refused") and store.form_marks.find("asked") is None
    refused = hand_in(owner, "/bins/bin-1/write", {**WATER, "kg": "much", "mark": "asked"}, headers=DATA)
    assert refused.json()["state"] == "refused" and "much" in refused.json()["said"][0]
    assert store.form_marks.find("asked") is None
    assert 'name="mark" value="asked"' in refused.json()["page"], "it goes on with the same mark"
    assert (
        hand_in(owner, "/bins/bin-1/write", {**WATER, "mark": "asked"}, headers=DATA).json()["state"]
        == "done"
    )
    known = store.form_marks.find("asked")
    assert known is not None and known.target == f"/bins/bin-1?wrote={entries(page_farm)[-1].entry_id}"


@pytest.mark.parametrize("ahead_ms", [0, 7 * MS_PER_HOUR, -400 * MS_PER_DAY], ids=["right", "hours", "year"])
def test_what_waited_stands_at_the_time_it_was_made_by_our_clock(
    page_farm: PageFarm, owner: httpx.Client, ahead_ms: int
) -> None:
    now_ms = page_farm.clock()
    sent_ms = now_ms + ahead_ms
    form = {**WATER, "mark": f"waited{ahead_ms}", "at": "2026-09-24T06:40", "at_shown": "2026-09-24T06:40"}
    form |= {"made_at_ms": str(sent_ms - 90 * MS_PER_MINUTE), "sent_at_ms": str(sent_ms)}
    assert hand_in(owner, "/bins/bin-2/write", form, headers=DATA).json()["state"] == "done"
    assert abs(entries(page_farm)[-1].at_ms - (now_ms - 90 * MS_PER_MINUTE)) < 5000
    assert entries(page_farm)[-1].entered_ms >= now_ms
    place = {"mark": f"in-use{ahead_ms}", "made_at_ms": form["made_at_ms"], "sent_at_ms": form["sent_at_ms"]}
    assert hand_in(owner, "/places/tray-1/in-use", place, headers=DATA).json()["state"] == "done"
    assert abs(entries(page_farm)[-1].at_ms - (now_ms - 90 * MS_PER_MINUTE)) < 5000


def test_a_phone_whose_clock_is_days_off_is_asked_once_and_so_is_what_waited_a_month(
    page_farm: PageFarm, owner: httpx.Client
) -> None:
    page_farm.context.invented, now_ms = False, page_farm.clock()
    try:
        for mark, ahead_ms, age_ms in (("off", 3 * MS_PER_DAY, 0), ("old", 0, 29 * MS_PER_DAY)):
            sent_ms, before = now_ms + ahead_ms, len(entries(page_farm))
            form = {"mark": mark, "made_at_ms": str(sent_ms - age_ms), "sent_at_ms": str(sent_ms)}
            asked = hand_in(owner, "/places/tray-1/in-use", form, headers=DATA).json()
            assert asked["state"] == "asked" and len(asked["said"]) == 1
            assert len(entries(page_farm)) == before
            form["confirmed"] = "phone_clock waited_long"
            assert hand_in(owner, "/places/tray-1/in-use", form, headers=DATA).json()["state"] == "done"
    finally:
        page_farm.context.invented = True


def test_a_clock_that_was_set_while_something_waited_is_asked(
    page_farm: PageFarm, owner: httpx.Client
) -> None:
    page_farm.context.invented, now_ms = False, page_farm.clock()
    try:
        form = {"mark": "set", "made_at_ms": str(now_ms), "sent_at_ms": str(now_ms + 3 * MS_PER_HOUR)}
        form["clock_set"] = "yes"
        asked = hand_in(owner, "/places/tray-1/in-use", form, headers=DATA).json()
        assert asked["state"] == "asked" and "clock of your phone was set" in asked["said"][0]
        assert "03:4" in asked["said"][0].replace("\u202f", " "), "three hours ago, by the older clock"
        form["confirmed"] = "clock_set"
        assert hand_in(owner, "/places/tray-1/in-use", form, headers=DATA).json()["state"] == "done"
        assert abs(entries(page_farm)[-1].at_ms - (now_ms - 3 * MS_PER_HOUR)) < 5000
    finally:
        page_farm.context.invented = True


def test_a_tick_counts_for_the_day_on_which_it_was_made(page_farm: PageFarm, owner: httpx.Client) -> None:
    now_ms, store = page_farm.clock(), page_farm.service.store
    made_ms = now_ms - 9 * MS_PER_HOUR
    days = [f"{local(at_ms, page_farm.plan().zone).date()}" for at_ms in (made_ms, now_ms)]
    assert days[0] < days[1]
    store.day_tasks.keep(days[0], ["board:late", "water:bin-1"], made_ms)
    waited = {"made_at_ms": str(made_ms), "sent_at_ms": str(now_ms)}
    for task, state in (("board:late", "done"), ("water:bin-1", "refused"), ("board:never", "refused")):
        form = {**waited, "task": task, "mark": f"tick-{task}", "back": "/"}
        assert hand_in(owner, "/today/tick", form, headers=DATA).json()["state"] == state, task
        page_farm.context.once = OnceGuard()
        assert hand_in(owner, "/today/tick", form, headers=DATA).json()["state"] == state, "once more"
    done = {row.task: (row.done_ms, row.who) for row in store.day_tasks.of(days[0])}
    assert abs((done["board:late"][0] or 0) - made_ms) < 5000 and done["board:late"][1] == "Ann"
    assert "board:late" not in {row.task for row in store.day_tasks.of(days[1])}


def test_what_somebody_ended_meanwhile_is_said_and_what_was_before_is_written(
    page_farm: PageFarm, owner: httpx.Client
) -> None:
    now_ms = page_farm.clock()
    with Store.open(page_farm.context.store_path, create=False) as store:
        writer = EntryWriter(store, page_farm.plan(), "Ben", now_ms)
        start = {"place": "room-a", "stage": "larva", "animals": 5000}
        writer.write("gone", CohortEntryKind.START, now_ms - 9 * MS_PER_DAY, start)
        writer.write("gone", CohortEntryKind.END, now_ms - MS_PER_HOUR, {"how": "harvested"})
    before = len(entries(page_farm))
    for hours, mark in ((0.5, "after"), (2.0, "before")):
        form = {"kind": "count", "animals": "4700", "stage": "larva", "note": "", "mark": mark}
        form |= {"made_at_ms": str(now_ms - round(hours * MS_PER_HOUR)), "sent_at_ms": str(now_ms)}
        answer = hand_in(owner, "/cohorts/gone/write", form, headers=DATA).json()
        assert (answer["state"] == "done") is (mark == "before"), answer["state"]
        assert mark == "before" or ("ended" in answer["said"][0] and 'value="4700"' in answer["page"])
    assert len(entries(page_farm)) == before + 1


def test_nobody_takes_back_what_another_put_aside_meanwhile(page_farm: PageFarm, owner: httpx.Client) -> None:
    now_ms, store = page_farm.clock(), page_farm.service.store
    alarm = next(key for key, state in store.journal.states().items() if state.status in STANDING)
    hand_in(owner, "/alarms/shelve", {"alarm": alarm, "hours": "4", "mark": "shelf"})
    assert wait_for(lambda: store.journal.states()[alarm].status is AlarmStatus.SHELVED)
    for ago_ms, state in ((MS_PER_HOUR, "refused"), (-MS_PER_MINUTE // 2, "done")):
        form = {"alarm": alarm, "mark": f"back{ago_ms}", "sent_at_ms": str(page_farm.clock())}
        form["made_at_ms"] = str(page_farm.clock() - ago_ms) if ago_ms > 0 else form["sent_at_ms"]
        answer = hand_in(owner, "/alarms/unshelve", form, headers=DATA).json()
        assert answer["state"] == state, (now_ms, answer.get("said"))
        assert state == "done" or "Ann put this alarm aside" in answer["said"][0]


def test_another_session_than_a_moment_ago_is_no_refusal_and_a_fault_of_ours_waits(
    owner: httpx.Client, helper: httpx.Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    form = {**WATER, "mark": "other-session", "form_token": form_token(owner.get("/me").text)}
    answer = helper.post("/bins/bin-1/write", data=form, headers=DATA)
    assert (answer.status_code, answer.json()) == (401, {"state": "login"})
    assert helper.post("/bins/bin-1/write", data=form).status_code == 403

    def broken(*_: object) -> None:
        raise RuntimeError("on purpose")

    monkeypatch.setattr("monitor.page.bins.read_form", broken)
    answer = hand_in(owner, "/bins/bin-1/write", {**WATER, "mark": "broken"}, headers=DATA)
    assert answer.status_code == 500 and answer.json()["state"] == "later" and answer.json()["said"]


def test_an_aside_that_is_over_and_an_alarm_that_began_anew_are_refused(
    page_farm: PageFarm, owner: httpx.Client
) -> None:
    now_ms = page_farm.clock()
    long_ago = {"made_at_ms": str(now_ms - 5 * MS_PER_HOUR), "sent_at_ms": str(now_ms)}
    aside = hand_in(owner, "/places/tray-1/aside", {**long_ago, "mark": "as", "minutes": "60"}, headers=DATA)
    assert aside.json()["state"] == "refused" and "over" in aside.json()["said"][0]
    hand_in(owner, "/places/tray-2/in-use", {"mark": "iu"})
    soon = {**long_ago, "mark": "as2", "minutes": "240", "made_at_ms": str(now_ms - 2 * MS_PER_HOUR)}
    aside = hand_in(owner, "/places/tray-2/aside", soon, headers=DATA)
    assert aside.json()["state"] == "refused" and "in use" in aside.json()["said"][0]
    states = page_farm.service.store.journal.states()
    alarm = next(
        key for key, state in states.items() if state.since_ms and state.since_ms > now_ms - 4 * MS_PER_HOUR
    )
    answer = hand_in(owner, "/alarms/acknowledge", {**long_ago, "mark": "ac", "alarm": alarm}, headers=DATA)
    assert answer.json()["state"] == "refused" and "anew" in answer.json()["said"][0]


def test_an_acknowledgement_is_asked_of_the_service_once(page_farm: PageFarm, owner: httpx.Client) -> None:
    alarm = next(iter(page_farm.plan().rules))
    form = {"alarm": alarm, "mark": "seen", "back": "/alarms"}
    first = hand_in(owner, "/alarms/acknowledge", form).headers["location"]
    page_farm.context.once = OnceGuard()
    assert hand_in(owner, "/alarms/acknowledge", form).headers["location"] == first
    assert first.startswith("/alarms?command=")


def test_a_script_learns_that_it_must_log_in_and_whose_session_it_has(
    owner: httpx.Client, served: PageServer
) -> None:
    assert owner.get("/session").json()["who"] == "owner:Ann"
    with httpx.Client(base_url=served.address, trust_env=False) as stranger:
        assert stranger.get("/session").json() == {"who": "", "form_token": ""}
        answer = stranger.post("/bins/bin-1/write", data=WATER, headers=DATA)
    assert (answer.status_code, answer.json()) == (401, {"state": "login"})


def test_old_marks_go_and_what_is_remembered_is_bounded(page_farm: PageFarm) -> None:
    store: Store = page_farm.service.store
    now_ms = 400 * MS_PER_DAY
    store.form_marks.keep(HandedIn("aged", "c", now_ms - 32 * MS_PER_DAY, "/"))
    store.form_marks.keep(HandedIn("young", "c", now_ms - 30 * MS_PER_DAY, "/"))
    store.form_marks.keep(HandedIn("new", "c", now_ms, "/"))
    assert store.form_marks.find("aged") is None and store.form_marks.find("young") is not None
    guard = OnceGuard()
    for number in range(MOST_REMEMBERED + 1):
        guard.remember(HandedIn(f"n{number}", "c", 0, "/"))
    assert guard.find("n0") is None and guard.find("n1") is not None


def test_the_owner_ends_all_sessions_of_a_person_whose_phone_then_hands_in_nothing(
    page_farm: PageFarm, owner: httpx.Client, log_in: LogIn
) -> None:
    stolen, other = log_in(helper=True, name="Cleo"), log_in(helper=True, name="Ben")
    before, token = len(entries(page_farm)), form_token(stolen.get("/me").text)
    assert other.post("/me/sessions", data={"form_token": token, "name": "Ann"}).status_code == 403
    said = hand_in(owner, "/me/sessions", {"name": "cleo"}, follow_redirects=True).text
    assert "All sessions of cleo have ended" in said
    answer = stolen.post("/bins/bin-1/write", data={"form_token": token, **WATER}, headers=DATA)
    assert answer.json() == {"state": "login"} and not stolen.get("/session").json()["who"]
    again = PageServer(page_farm.context, port=0)
    again.start()
    with httpx.Client(base_url=again.address, cookies=stolen.cookies, trust_env=False) as later:
        assert not later.get("/session").json()["who"], "after a restart too"
    again.stop()
    assert other.get("/session").json()["who"] == "helper:Ben" and len(entries(page_farm)) == before
    assert log_in(helper=True, name="Cleo").get("/session").json()["who"] == "helper:Cleo"
