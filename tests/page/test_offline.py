"""What is written on a phone without a connection waits there: handed in once, in order, at its time."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from browser import Tab, phone_at
from farm_wire import HandingIn, Wire, kill_browser
from page_farm import PageFarm
from page_keys import encrypted, make_page_keys, trusting_home

from monitor.farm.entries import EntryWriter
from monitor.logbook.bin_entries import BinEntryKind
from monitor.logbook.cohort_entries import CohortEntryKind
from monitor.logbook.place_entries import PlaceEntryKind
from monitor.page.server import PageServer
from monitor.records import MS_PER_DAY, MS_PER_HOUR, MS_PER_MINUTE, LogbookEntry, local

if TYPE_CHECKING:
    from playwright.sync_api import BrowserContext, Page

pytestmark = [pytest.mark.browser, pytest.mark.slow, pytest.mark.timeout(280)]

NAME = "farm.test"
SHIFTED = "const real = Date.now; Date.now = () => real() + Number(localStorage.getItem('shift') || 0);"
STEP_MS = 7 * MS_PER_MINUTE
WAIT_MS = 60_000


class Yard:
    """The farm behind a bad connection: one address, a server that comes and goes, a phone's clock."""

    def __init__(self, farm: PageFarm, keys: Path | None = None) -> None:
        self.farm, self._keys = farm, keys
        self.wire = Wire(0)
        self.start()
        scheme = "http" if keys is None else "https"
        self.address = f"{scheme}://{NAME}:{self.wire.port}"

    def start(self) -> None:
        """A server of its own again, which knows what is written and nothing else."""
        own = None if self._keys is None else encrypted(self._keys)
        self.server = PageServer(self.farm.context, port=0, encrypted=own)
        self.server.start()
        address = self.server.address if own is None else self.server.encrypted_address
        self.wire.to_port = int(str(address).rpartition(":")[2])
        self.wire.up = True

    def stop(self) -> None:
        """Nobody answers."""
        self.wire.up = False
        self.wire.cut()
        self.server.stop()

    def close(self) -> None:
        """For good."""
        self.stop()
        self.wire.close()

    def entries(self) -> list[LogbookEntry]:
        """All that was written, in the order in which it was."""
        return sorted(self.farm.service.store.logbook.every(), key=lambda entry: entry.entry_id or 0)

    def later(self, page: Page) -> int:
        """Some minutes go by, for the phone and for the farm; gives what time it is then."""
        self.farm.clock.now_ms += STEP_MS
        shift = "localStorage.setItem('shift', Number(localStorage.getItem('shift') || 0) + %d)"
        page.evaluate(shift % STEP_MS)
        return self.farm.clock()


@pytest.fixture
def farm(tmp_path: Path) -> Iterator[PageFarm]:
    """Bins are full, cohorts of three ages live, a tray is put aside."""
    farm = PageFarm(tmp_path / "farm", step_ms=10 * MS_PER_MINUTE)
    farm.folder.mkdir()
    farm.build()
    now_ms = farm.clock()
    writer = EntryWriter(farm.service.store, farm.plan(), "Ann", now_ms)
    fill = {"kg": 20.0, "moisture": 0.65, "surface_m2": 0.24}
    for place in ("bin-1", "bin-2"):
        writer.write(place, BinEntryKind.FILL, now_ms - MS_PER_DAY, fill)
        writer.write(place, BinEntryKind.WATER, now_ms - 20 * MS_PER_HOUR, {"kg": 1.0})
    for name, days, start in (
        ("larvae", 20, {"place": "room-a", "stage": "larva", "animals": 5000}),
        ("pupae", 9, {"place": "box-1", "stage": "pupa", "animals": 3000}),
        ("flies", 4, {"place": "cage-1", "stage": "adult", "animals": 2000, "cage": "cage-1"}),
    ):
        writer.write(name, CohortEntryKind.START, now_ms - days * MS_PER_DAY, start)
    aside = {"note": None, "until_ms": now_ms + 4 * MS_PER_HOUR}
    writer.write("tray-1", PlaceEntryKind.ASIDE, now_ms - MS_PER_HOUR, aside)
    with farm.turning():
        yield farm
    farm.close()


def logged_in(context: BrowserContext, yard: Yard) -> Page:
    """A page of the owner, whose phone's clock can be moved."""
    context.add_init_script(SHIFTED)
    page = context.new_page()
    Tab(page, yard.address).log_in()
    return page


def waiting(page: Page) -> int:
    """How much waits in the phone's own database."""
    text = """() => new Promise((resolve) => {
      const asked = indexedDB.open("rearing", 1);
      asked.onsuccess = () => {
        const count = asked.result.transaction("waiting").objectStore("waiting").count();
        count.onsuccess = () => { asked.result.close(); resolve(count.result); };
      }; })"""
    return int(page.evaluate(text))


def nothing_waits(page: Page) -> bool:
    """Whether all is handed in within a minute."""
    for _ in range(WAIT_MS // 500):
        page.wait_for_timeout(500)
        with suppress(Exception):  # A page that was kept is loaded anew meanwhile.
            if waiting(page) == 0:
                return True
    return False


def until(page: Page, condition: Callable[[], bool]) -> bool:
    """Whether it becomes so within a minute, while the browser goes on."""
    for _ in range(WAIT_MS // 200):
        if condition():
            return True
        page.wait_for_timeout(200)
    return condition()


@dataclass(frozen=True)
class Work:
    """One piece of work: the page of its form, the form, what is typed, and what the logbook then says."""

    path: str
    form: str = "form.entry"
    typed: tuple[tuple[str, str], ...] = ()
    says: str = ""

    def do(self, page: Page) -> None:
        """Type it and send it; it is kept."""
        form = page.locator(self.form).first
        for name, value in self.typed:
            field = form.locator(f"[name={name}]").first
            if field.evaluate("each => each.tagName") == "SELECT":
                field.select_option(value)
            else:
                field.fill(value)
        # As a finger would, but wherever it stands.
        form.locator("button:not([name=change])").first.evaluate("each => each.click()")
        page.locator(".kept").first.wait_for(timeout=20_000)


def typed(**values: str) -> tuple[tuple[str, str], ...]:
    """Fields with what is typed into them."""
    return tuple(values.items())


BIN, COHORT = "/bins/bin-1/write?what=", "/cohorts/larvae/write?what="
WORK = (
    Work(f"{BIN}water", typed=typed(kg="1.5"), says="bin-1 water"),
    Work(f"{BIN}weigh", typed=typed(kg="21"), says="bin-1 weigh"),
    Work("/bins/bin-2/write?what=feed", typed=typed(kg="2", moisture="70 %"), says="bin-2 feed"),
    Work(f"{BIN}stir", typed=typed(note="by hand"), says="bin-1 stir"),
    Work("/alarms", "form[action='/alarms/acknowledge']"),
    Work(f"{COHORT}count", typed=typed(animals="4800", stage="larva"), says="larvae count"),
    Work("/cohorts/pupae/write?what=saw", typed=typed(event="first_emerged"), says="pupae saw"),
    Work(f"{COHORT}move", typed=typed(place="box-2"), says="larvae move"),
    Work("/cohorts/start", typed=typed(name="new", grams="30", place="tray-2"), says="new start"),
    Work("/cages/cage-1/write?what=eggs", typed=typed(grams="12"), says="cage-1 collect"),
    Work("/cages/cage-1/write?what=flies", typed=typed(flies="1500"), says="flies flies"),
    Work("/", "form[action='/today/tick']"),
    Work("/logbook/1/correct", typed=typed(kg="19"), says="bin-1 fill"),
    Work("/logbook/4/correct", "form.entry.stack", typed(reason="the other bin"), "bin-2 withdrawn"),
    Work("/places/bin-4", "form[action='/places/bin-4/aside']", typed(minutes="240"), "bin-4 aside"),
    Work("/places/tray-1", "form[action='/places/tray-1/in-use']", says="tray-1 in_use"),
    Work("/places/cage-2", "form[action='/places/cage-2/empty']", says="cage-2 empty"),
    Work("/places/cage-1/write?what=collect", typed=typed(grams="9", use="sold"), says="cage-1 collect"),
    Work("/bins/bin-2/write?what=take", typed=typed(kg="1", what="larvae", use="feed"), says="bin-2 take"),
    Work("/places/site/write?what=note", typed=typed(note="rain"), says="site note"),
    Work(f"{BIN}water", typed=typed(kg="0.5"), says="bin-1 water"),
)
AFTER_THE_ONE_THAT_WAS_LOST, AFTER_A_RESTART, AFTER_A_KILL = 3, 7, 12


def hand_in_with_trouble(yard: Yard, profile: Path, home: Path | None, taken: HandingIn, path: str) -> None:
    """Two tabs hand in; an answer is lost, the server ends and begins anew, the browser is killed."""
    ended, killed = threading.Event(), threading.Event()

    def down() -> None:
        yard.wire.up = False
        yard.wire.cut()
        ended.set()

    def kill() -> None:
        kill_browser(profile)
        killed.set()

    taken.after.update(
        {AFTER_THE_ONE_THAT_WAS_LOST: yard.wire.cut, AFTER_A_RESTART: down, AFTER_A_KILL: kill}
    )
    with suppress(Exception), phone_at(profile, NAME, home) as phone:
        phone.add_init_script(SHIFTED)
        tabs = [phone.new_page(), phone.new_page()]
        for tab in tabs:
            with suppress(Exception):
                tab.goto(yard.address + path)
        until(tabs[1], ended.is_set)
        yard.server.stop()
        yard.start()
        until(tabs[1], killed.is_set)
    assert ended.is_set() and killed.is_set(), taken.paths
    with phone_at(profile, NAME, home) as phone:
        phone.add_init_script(SHIFTED)
        tabs = [phone.new_page(), phone.new_page()]
        for tab in tabs:
            tab.goto(yard.address + path)
        assert nothing_waits(tabs[1]), tabs[1].locator("#waiting").text_content()
        tabs[0].bring_to_front()
        assert until(tabs[0], lambda: tabs[0].locator("#waiting li").count() == 0), (
            "the other tab hears of it"
        )


def check_all_are_there_once(yard: Yard, known: int, made: list[int]) -> None:
    """Everything that was done, in order, at its time, by its author; and what no entry tells of."""
    written, store = yard.entries()[known:], yard.farm.service.store
    done = [(work, at_ms) for work, at_ms in zip(WORK, made, strict=True) if work.says]
    assert [f"{entry.subject} {entry.kind}" for entry in written] == [work.says for work, _ in done]
    for entry, (work, at_ms) in zip(written, done, strict=True):
        # The farm's clock stands between the steps, the phone's goes on.
        expected = entry.at_ms if entry.corrects else at_ms
        assert abs(entry.at_ms - expected) < STEP_MS / 2, work
        assert entry.author == "Ann" and entry.entered_ms >= made[-1]
    assert [entry.corrects for entry in written if entry.corrects] == [1, 4]
    assert any(state.acknowledged for state in store.journal.states().values() if state.since_ms)
    ticks = [row for row in store.day_tasks.of("2026-09-24") if row.done_ms is not None]
    assert len(ticks) == 1 and ticks[0].who == "Ann"
    at_ms = next(at_ms for work, at_ms in zip(WORK, made, strict=True) if "tick" in work.form)
    assert abs((ticks[0].done_ms or 0) - at_ms) < STEP_MS / 2


def test_all_kinds_of_work_without_a_connection_are_there_once_in_order_over_plain_http(
    farm: PageFarm, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    yard, profile, made = Yard(farm), tmp_path / "profile", list[int]()
    taken, known = HandingIn(monkeypatch), len(yard.entries())
    try:
        with phone_at(profile, NAME) as phone:
            first = logged_in(phone, yard)
            assert first.evaluate("isSecureContext") is False, "served under a name like any phone's"
            tabs = [first, phone.new_page()]
            # A page comes through now and then; nothing can be handed in.
            phone.route("**/session", lambda route: route.abort())
            for tab in tabs:
                tab.on("dialog", lambda dialog: dialog.accept())
            for number, work in enumerate(WORK):
                tab = tabs[number % 2]
                phone.set_offline(False)
                tab.bring_to_front()
                tab.goto(yard.address + work.path)
                phone.set_offline(True)
                made.append(yard.later(tab))
                work.do(tab)
            assert waiting(first) == len(WORK) and len(yard.entries()) == known and not taken.paths
            first.bring_to_front()
            first.locator("#waiting summary", has_text=f": {len(WORK)}.").wait_for()
            assert "No connection" in first.locator("#waiting [role=status]").inner_text()
        hand_in_with_trouble(yard, profile, None, taken, "/bins")
        check_all_are_there_once(yard, known, made)
        # What was lost, cut off and killed came once more, and what a busy computer answered too late;
        # but two tabs did not hand in side by side.
        assert len(WORK) < len(taken.paths) < 1.5 * len(WORK), taken.paths
    finally:
        yard.close()


def test_all_kinds_of_work_on_pages_that_open_without_a_connection_over_https(
    farm: PageFarm, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    keys = tmp_path / "boards"
    keys.mkdir()
    make_page_keys(keys)
    home, profile = trusting_home(tmp_path / "home", keys), tmp_path / "profile"
    yard, made = Yard(farm, keys), list[int]()
    taken, known = HandingIn(monkeypatch), len(yard.entries())
    try:
        with phone_at(profile, NAME, home) as phone:
            page = logged_in(phone, yard)
            assert until(page, lambda: bool(page.evaluate("navigator.serviceWorker.controller !== null")))
            for work in WORK:
                page.goto(yard.address + work.path)
        yard.stop()
        with phone_at(profile, NAME, home) as phone:
            phone.add_init_script(SHIFTED)
            tabs = [phone.new_page(), phone.new_page()]
            for number, work in enumerate(WORK):
                tab = tabs[number % 2]
                tab.bring_to_front()
                tab.goto(yard.address + work.path)
                assert tab.evaluate("Number(document.documentElement.dataset.kept) > 0"), work.path
                if work.path == f"{BIN}water":
                    # When it is filled in, not when its page was kept.
                    shown = datetime.fromisoformat(tab.locator("form.entry [name=at]").first.input_value())
                    now = local(farm.clock(), farm.plan().zone).replace(tzinfo=None)
                    assert abs(shown - now) < timedelta(minutes=3)
                made.append(yard.later(tab))
                work.do(tab)
            assert waiting(tabs[0]) == len(WORK) and len(yard.entries()) == known
        yard.start()
        hand_in_with_trouble(yard, profile, home, taken, "/bins")
        check_all_are_there_once(yard, known, made)
    finally:
        yard.close()
