"""Random farms: whatever is written, changed, restarted or set, a place with animals keeps its heat alarm.

What must hold is worked out here from the deeds alone (`Expected`), by other rules than the program's: a
place is guarded unless the last word of a person about it says otherwise.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from service_farm import pack

from monitor.errors import UsageError
from monitor.farm.entries import EntryWriter
from monitor.logbook.bin_entries import BinEntryKind
from monitor.logbook.cohort_entries import CohortEntryKind
from monitor.logbook.place_entries import NodeEntryKind, PlaceEntryKind
from monitor.logbook.questions import EVERYTHING
from monitor.records import (
    MS_PER_DAY,
    MS_PER_HOUR,
    MS_PER_MINUTE,
    MS_PER_SECOND,
    OVERLAYS,
    AlarmRule,
    AlarmStatus,
    IncomingMessage,
    LogbookEntry,
    Priority,
    Quantity,
    Side,
    Stage,
)
from monitor.service import Service
from monitor.service.ingest import ClockWatch
from monitor.settings.schema import Settings

T0 = 1_790_000_000_000
# 2,000 in CI. A longer study: REARING_GUARD_SEQUENCES=100000, which draws other sequences each time.
SEQUENCES = int(os.environ.get("REARING_GUARD_SEQUENCES", "2000"))
LONGEST = 30
PLACES = ("bin-1", "bin-2", "tray-1", "box-1", "cage-1")
KINDS = ("grow_out_bin", "grow_out_bin", "hatching_tray", "pupation_box", "love_cage")
KIND_OF = dict(zip(PLACES, KINDS, strict=True))
FARMS = (
    ("bin-1", "cage-1"),
    ("bin-1", "bin-2"),
    ("tray-1", "bin-1"),
    ("box-1", "cage-1"),
    ("bin-1", "box-1"),
)
"""Two places each, so that what is done meets what was done before."""
NAMES = ("b1", "b2", "b3")
"""Deeds name a cohort by one of these: of those that live the first, second or third."""
HEAT = {
    place: Quantity.SUBSTRATE_TEMPERATURE if place[:3] == "bin" else Quantity.AIR_TEMPERATURE
    for place in PLACES
}
GRAVEST = {place: Priority.MEDIUM if place == "tray-1" else Priority.HIGH for place in PLACES}
"""The priority of the gravest heat rule of a place. One of medium priority may be held back for a while after
its place was filled or its limit moved; one of high priority never."""
FOLDER = "/dev/shm" if Path("/dev/shm").is_dir() else None
HOT_C = 47.0
HOT_READINGS, HOT_MINUTES = 4, 5


@dataclass(frozen=True)
class Deed:
    """One thing that a person, the clock or the power does. Numbers choose among what there is."""

    what: str
    place: str = "bin-1"
    name: str = "b1"
    other: str = "b2"
    number: int = 0
    detail: str = ""


def _deeds(places: tuple[str, ...]) -> st.SearchStrategy[Deed]:
    place, name = st.sampled_from(places), st.sampled_from(NAMES)
    stage = st.sampled_from([stage.value for stage in Stage])
    days_ago = st.sampled_from((0, 1, 3, 4, 20, 41))
    some = st.integers(0, 30)
    minutes = st.sampled_from((1, 20, 90, 600, 2880, 7 * 1440, 60 * 1440))
    steps = st.sampled_from((-400 * 1440, -2880, -90, -10, -10, 10, 10, 90, 2880, 400 * 1440))
    return st.one_of(
        st.builds(Deed, st.just("start"), place, name, name, days_ago, stage),
        st.builds(Deed, st.just("start"), place, name, name, days_ago, stage),
        st.builds(Deed, st.just("move"), place, name, name, st.sampled_from((0, 0, 0, 2))),
        st.builds(Deed, st.just("plan"), place, name, name, st.integers(1, 72)),
        st.builds(Deed, st.just("split"), place, name, name),
        st.builds(Deed, st.just("merge"), place, name, name),
        st.builds(
            Deed,
            st.just("end"),
            place,
            name,
            detail=st.sampled_from(("emerged", "harvested", "sold", "lost")),
        ),
        st.builds(Deed, st.just("fill"), place, name, number=st.integers(0, 2)),
        st.builds(Deed, st.just("larvae"), place),
        st.builds(Deed, st.just("bin_empty"), place),
        st.builds(Deed, st.just("say_empty"), place),
        st.builds(Deed, st.just("say_empty"), place),
        st.builds(Deed, st.just("say_in_use"), place),
        st.builds(Deed, st.just("aside"), place, number=st.sampled_from((15, 60, 240))),
        st.builds(Deed, st.just("board_aside"), place, number=st.sampled_from((15, 600, 1440))),
        st.builds(Deed, st.just("withdraw"), number=some),
        st.builds(Deed, st.just("correct"), place, number=some),
        st.builds(Deed, st.just("file"), place),
        st.builds(Deed, st.just("edit"), place, number=st.integers(0, 3), detail=stage),
        st.builds(Deed, st.just("restart"), number=st.sampled_from((0, 0, 5, 600))),
        st.builds(Deed, st.just("pass"), number=minutes),
        st.builds(Deed, st.just("clock"), number=steps),
        st.builds(Deed, st.just("hot"), place),
        st.builds(Deed, st.just("forecast")),
    )


def _sequences(places: tuple[str, ...]) -> st.SearchStrategy[tuple[tuple[str, ...], list[Deed]]]:
    """Short sequences and long ones, up to 30 deeds."""
    short, long = (
        st.lists(_deeds(places), max_size=8),
        st.lists(_deeds(places), min_size=14, max_size=LONGEST - 2),
    )
    opening = st.sampled_from(
        (
            [],
            [Deed("start", place, number=3, detail=Stage.EGG) for place in places],
            [Deed("start", places[0], number=20, detail=Stage.LARVA)],
            [Deed("fill", places[0], number=1), Deed("start", places[1], number=4, detail=Stage.LARVA)],
        )
    )
    rest = st.one_of(short, long, long)
    return st.tuples(st.just(places), st.builds(lambda first, then: first + then, opening, rest))


@dataclass
class Expected:
    """What must be guarded, by the deeds alone."""

    file_empty: set[str] = field(default_factory=set)
    animals_ever: set[str] = field(default_factory=set)
    said_empty: dict[str, set[int]] = field(default_factory=dict)
    aside_until: dict[str, int] = field(default_factory=dict)
    taken_out: dict[int, tuple[str, str]] = field(default_factory=dict)
    """Of an entry that ended a cohort: which, and where it lived; "" where a correction made that unsure."""
    asides: dict[int, tuple[str, int]] = field(default_factory=dict)
    asides_ended: dict[int, tuple[str, int]] = field(default_factory=dict)
    unheard_until: dict[str, int] = field(default_factory=dict)
    home: dict[str, str] = field(default_factory=dict)
    lived_ms: int = 0

    def animals_in(self, place: str | None) -> None:
        if place:
            self.animals_ever.add(place)
            self.said_empty.pop(place, None)

    def must_be_guarded(self, place: str) -> bool:
        """Whether nobody's word says that it is not; what was put aside may be until its time has passed."""
        if self.said_empty.get(place) or self.lived_ms < self.aside_until.get(place, 0):
            return False
        return place in self.animals_ever or place not in self.file_empty


class Farm:
    """A farm that runs on a clock of its own."""

    def __init__(self, folder: Path, places: tuple[str, ...]) -> None:
        self.folder = folder
        self.now_ms = T0
        self.cohorts = 0
        self.sequence = 0
        self.expected = Expected()
        self.places: dict[str, dict[str, Any]] = {
            place: {"id": place, "kind": KIND_OF[place]} for place in places
        }
        self.service = self._started()
        self.written: list[LogbookEntry] = []

    def _settings(self) -> Settings:
        nodes = [{"id": f"node-{place}", "place": place, "interval_s": 60.0} for place in self.places]
        return Settings.model_validate(
            {
                "site": {"id": "yard", "title": "Yard", "time_zone": "Africa/Gaborone"},
                "store": {"path": str(self.folder / "yard.sqlite")},
                "report": {"enabled": False},
                "places": list(self.places.values()),
                "nodes": nodes,
            }
        )

    def _started(self) -> Service:
        service = Service(self._settings(), clock=lambda: self.now_ms, inline=True)
        # Stages and the forecasts of the day are worked out by a deed of their own: they take long.
        service._launch = lambda _job: None
        service.send_night_report = lambda: None  # type: ignore[method-assign]
        service._clock_watch = ClockWatch(lambda: self.now_ms, lambda: self.expected.lived_ms / MS_PER_SECOND)
        service.prepare()
        return service

    def look(self) -> None:
        """Let the service look at its clock and process a batch without messages, as it does all the time."""
        self.service._follow_clock(self.now_ms)
        self.service.settle(0)

    # What people do. Each gives whether it was accepted.

    def write(self, subject: str, kind: Any, at_ms: int, body: dict[str, object]) -> bool:
        return self._try(lambda writer: writer.write(subject, kind, at_ms, body))

    def _try(self, work: Callable[[EntryWriter], LogbookEntry]) -> bool:
        plan = self.service.processor.site.plan
        writer = EntryWriter(self.service.store, plan, "keeper", self.now_ms, EVERYTHING)
        try:
            self.written.append(work(writer))
        except UsageError:
            return False
        return True

    def do(self, deed: Deed) -> None:
        getattr(self, f"_{deed.what}")(deed)

    def _living(self, name: str) -> str:
        """The cohort that is meant, one of those that live where there is any."""
        living = sorted(self.expected.home)
        return living[NAMES.index(name) % len(living)] if living else name

    def _new(self) -> str:
        self.cohorts += 1
        return f"c{self.cohorts}"

    def _elsewhere(self, deed: Deed, name: str) -> str:
        """The place of a deed; another one where the cohort lives there already."""
        others = [place for place in self.places if place != self.expected.home.get(name)]
        return deed.place if deed.place in others else others[0]

    def _start(self, deed: Deed) -> None:
        body: dict[str, object] = {
            "stage": deed.detail,
            "place": deed.place,
            "purpose": "breeding",
            "animals": 900,
        }
        if deed.number % 2 and "cage-1" in self.places:
            body["cage"] = "cage-1"
        name = self._new()
        if self.write(name, CohortEntryKind.START, self.now_ms - deed.number * MS_PER_DAY, body):
            self.expected.home[name] = deed.place
            self.expected.animals_in(deed.place)

    def _move(self, deed: Deed) -> None:
        at_ms = self.now_ms - deed.number * MS_PER_HOUR
        name = self._living(deed.name)
        place = self._elsewhere(deed, name)
        if self.write(name, CohortEntryKind.MOVE, at_ms, {"place": place}):
            self.expected.home[name] = place
            self.expected.animals_in(place)

    def _plan(self, deed: Deed) -> None:
        # That a plan whose time has come only ever starts a guard is checked by tests of its own.
        at_ms = self.now_ms + deed.number * MS_PER_HOUR
        self.write(self._living(deed.name), CohortEntryKind.PLANNED_MOVE, at_ms, {"place": deed.place})

    def _split(self, deed: Deed) -> None:
        new, name = self._new(), self._living(deed.name)
        body: dict[str, object] = {"into": new, "percent": 40, "place": deed.place}
        if self.write(name, CohortEntryKind.SPLIT, self.now_ms, body):
            self.expected.home[new] = deed.place
            self.expected.animals_in(deed.place)

    def _merge(self, deed: Deed) -> None:
        name, other = self._living(deed.name), self._living(deed.other)
        if self.write(name, CohortEntryKind.MERGE, self.now_ms, {"other": other}):
            self._taken_out(other)
            self.expected.animals_in(self.expected.home.get(name))

    def _end(self, deed: Deed) -> None:
        name = self._living(deed.name)
        if self.write(name, CohortEntryKind.END, self.now_ms, {"how": deed.detail}):
            self._taken_out(name)

    def _taken_out(self, name: str) -> None:
        self.expected.taken_out[self.written[-1].entry_id or 0] = (name, self.expected.home.pop(name, ""))

    def _fill(self, deed: Deed) -> None:
        body: dict[str, object] = {"kg": 9.0, "moisture": 0.68, "surface_m2": 0.24}
        if deed.number == 1:
            body |= {"larvae": 9000, "age_days": 6.0}
        if deed.number == 2:
            body |= {"larvae": 900, "age_days": 6.0, "cohort": self._living(deed.name)}
        if self.write(deed.place, BinEntryKind.FILL, self.now_ms, body) and deed.number:
            self.expected.animals_in(deed.place)

    def _larvae(self, deed: Deed) -> None:
        if self.write(deed.place, BinEntryKind.LARVAE, self.now_ms, {"larvae": 500, "age_days": 5.0}):
            self.expected.animals_in(deed.place)

    def _bin_empty(self, deed: Deed) -> None:
        # A harvest alone is no word that nothing lives there any more: the guard goes on.
        self.write(deed.place, BinEntryKind.EMPTY, self.now_ms, {})

    def _say_empty(self, deed: Deed) -> None:
        if self.write(deed.place, PlaceEntryKind.EMPTY, self.now_ms, {}):
            self.expected.said_empty.setdefault(deed.place, set()).add(self.written[-1].entry_id or 0)

    def _say_in_use(self, deed: Deed) -> None:
        if self.write(deed.place, PlaceEntryKind.IN_USE, self.now_ms, {}):
            self.expected.animals_in(deed.place)
            ended_ms = self.expected.aside_until.pop(deed.place, 0)
            for number in [n for n, (where, _) in self.expected.asides.items() if where == deed.place]:
                del self.expected.asides[number]
            self.expected.asides_ended[self.written[-1].entry_id or 0] = (deed.place, ended_ms)

    def _aside(self, deed: Deed) -> None:
        until_ms = self.now_ms + deed.number * MS_PER_MINUTE
        if self.write(deed.place, PlaceEntryKind.ASIDE, self.now_ms, {"until_ms": until_ms}):
            ends_ms = self.expected.lived_ms + deed.number * MS_PER_MINUTE
            self.expected.aside_until[deed.place] = ends_ms
            self.expected.asides[self.written[-1].entry_id or 0] = (deed.place, ends_ms)

    def _board_aside(self, deed: Deed) -> None:
        until_ms = self.now_ms + deed.number * MS_PER_MINUTE
        if self.write(f"node-{deed.place}", NodeEntryKind.ASIDE, self.now_ms, {"until_ms": until_ms}):
            self.expected.unheard_until[deed.place] = self.expected.lived_ms + deed.number * MS_PER_MINUTE

    def _withdraw(self, deed: Deed) -> None:
        if not self.written:
            return
        old = self.written[deed.number % len(self.written)]
        if self._try(lambda writer: writer.withdraw(old, "a slip")):
            for numbers in self.expected.said_empty.values():
                numbers.discard(old.entry_id or 0)
            if old.entry_id in self.expected.taken_out:
                name, home = self.expected.taken_out.pop(old.entry_id)
                self.expected.home[name] = home
                self.expected.animals_in(home)
            elif old.subject in self.expected.home:
                self.expected.home[old.subject] = ""
            self._aside_undone(old.entry_id or 0)
            for place, until_ms in [self.expected.asides_ended.get(old.entry_id or 0, ("", 0))]:
                # What "in use" had ended holds again.
                before_ms = self.expected.aside_until.get(place, 0)
                self.expected.aside_until[place] = max(until_ms, before_ms)

    def _aside_undone(self, number: int) -> None:
        """An "aside" from before the one that was undone holds again."""
        place, _ = self.expected.asides.pop(number, ("", 0))
        left = [until_ms for where, until_ms in self.expected.asides.values() if where == place]
        if place:
            self.expected.aside_until[place] = max(left, default=0)

    def _correct(self, deed: Deed) -> None:
        moved = [
            entry for entry in self.written if entry.kind in (CohortEntryKind.START, CohortEntryKind.MOVE)
        ]
        if not moved:
            return
        old = moved[deed.number % len(moved)]
        if self._try(lambda writer: writer.correct(old, None, {"place": deed.place})):
            self.expected.animals_in(deed.place)
            if old.subject in self.expected.home:
                self.expected.home[old.subject] = ""

    # What the file, the power and the clock do.

    def _edit(self, deed: Deed) -> None:
        place = self.places[deed.place]
        match deed.number:
            case 0:
                place["finishing"] = not place.get("finishing", False)
            case 1:
                place["stage"] = deed.detail
            case 2:
                place.pop("stage", None)
            case 3:
                place["response_minutes"] = 90.0 if place.get("response_minutes") == 20.0 else 20.0
        self._reload()

    def _file(self, deed: Deed) -> None:
        """`empty` is written into the file, or taken out of it."""
        place = self.places[deed.place]
        place["empty"] = not place.get("empty", False)
        self.expected.file_empty ^= {deed.place}
        self._reload()

    def _reload(self) -> None:
        self.service._take_over(self._settings(), self.now_ms)

    def _restart(self, deed: Deed) -> None:
        self.service.stop()
        self._let_pass(deed.number)
        self.service = self._started()

    def _pass(self, deed: Deed) -> None:
        self._let_pass(deed.number)

    def _let_pass(self, minutes: int) -> None:
        self.now_ms += minutes * MS_PER_MINUTE
        self.expected.lived_ms += minutes * MS_PER_MINUTE

    def _clock(self, deed: Deed) -> None:
        self.now_ms += deed.number * MS_PER_MINUTE

    def _hot(self, deed: Deed) -> None:
        self._measure(deed.place, HOT_C)

    def _measure(self, place: str, temperature_c: float) -> None:
        self.sequence += 1
        payload = pack(self.now_ms, temperature_c, self.sequence)
        payload = payload.replace(b"substrate_temperature", HEAT[place].encode())
        self.service._queue.put(IncomingMessage(f"rearing/yard/node-{place}/readings", payload, self.now_ms))
        self.service.settle(self.service.processor.taken + 1)

    def _forecast(self, _deed: Deed) -> None:
        """The stages are worked out, as the service does each hour in a thread of its own."""
        self.service._occupancy._launch = lambda job: job()
        self.service._occupancy.start_over()
        self.look()
        self.service._occupancy._launch = lambda _job: None

    # What must hold.

    def unguarded(self) -> list[str]:
        """Places whose heat rule is not live though it must be."""
        site = self.service.processor.site
        wrong = []
        for place in self.places:
            if not self.expected.must_be_guarded(place):
                continue
            rules = [
                rule
                for rule in site.plan.rules_of(place, HEAT[place])
                if rule.side is Side.HIGH and rule.priority is GRAVEST[place]
            ]
            if not rules or any(self._is_suppressed(rule) for rule in rules):
                wrong.append(place)
        return wrong

    def _is_suppressed(self, rule: AlarmRule) -> bool:
        site = self.service.processor.site
        held = rule.priority is Priority.HIGH and site.state(rule.alarm_id).status in OVERLAYS
        return held or rule.alarm_id in site.plan.suppressed_by_design

    def check_alarm(self, place: str) -> None:
        """Where the place must be guarded, heat raises its alarm in the end."""
        if GRAVEST[place] is not Priority.HIGH or self.sequence or not self.expected.must_be_guarded(place):
            return
        if self.expected.lived_ms < self.expected.unheard_until.get(place, 0):
            return
        for _ in range(HOT_READINGS):
            self._let_pass(HOT_MINUTES)
            self._measure(place, HOT_C)
        site = self.service.processor.site
        rules = [rule for rule in site.plan.rules_of(place, HEAT[place]) if rule.side is Side.HIGH]
        graves = [site.state(rule.alarm_id) for rule in rules if rule.priority is Priority.HIGH]
        assert graves
        assert all(state.active and state.status is AlarmStatus.UNACKNOWLEDGED for state in graves), graves


def play(places: tuple[str, ...], deeds: list[Deed]) -> None:
    """Do one after the other; after each one what must be guarded is."""
    with TemporaryDirectory(dir=FOLDER) as folder:
        farm = Farm(Path(folder), places)
        try:
            farm.look()
            for at, deed in enumerate(deeds):
                farm.do(deed)
                farm.look()
                farm.look()
                assert not farm.unguarded(), (at, deed)
            farm.check_alarm(places[0])
        finally:
            farm.service.stop()


@pytest.mark.timeout(max(1200, SEQUENCES))
@settings(
    max_examples=SEQUENCES,
    deadline=None,
    derandomize="REARING_GUARD_SEQUENCES" not in os.environ,
    suppress_health_check=list(HealthCheck),
    database=None,
    phases=(Phase.generate,) if "REARING_GUARD_SEQUENCES" in os.environ else (Phase.generate, Phase.shrink),
)
@given(st.one_of(*map(_sequences, FARMS)))
def test_a_place_with_animals_that_nobody_called_empty_is_guarded_against_heat(
    farm: tuple[tuple[str, ...], list[Deed]],
) -> None:
    play(*farm)
