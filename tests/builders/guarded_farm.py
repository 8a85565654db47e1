"""A farm whose service runs on a clock of the test: entries, readings, restarts, and what stands then."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import Any

from service_farm import MINUTE, T0, farm, message

from monitor.errors import UsageError
from monitor.farm.entries import EntryKind, EntryWriter
from monitor.farm.occupancy import occupied_plan
from monitor.farm.places import site_now
from monitor.farm.records import PlaceNow, SiteNow
from monitor.logbook.questions import EVERYTHING
from monitor.records import (
    MS_PER_DAY,
    MS_PER_HOUR,
    Batch,
    Command,
    CommandKind,
    Flag,
    FlaggedMessage,
    FlaggedReading,
    NodeMessage,
    OutboxMessage,
    Reading,
    SensorKey,
    TimeSource,
)
from monitor.service import Service
from monitor.service.batches import PendingBatch
from monitor.service.site_state import AlarmChanges
from monitor.settings.plan import Plan
from monitor.store import Store
from monitor.words.localizer import Localizer
from monitor.words.places import now_lines

PLACES: tuple[dict[str, Any], ...] = (
    {"id": "room-1", "kind": "room", "title": "Room 1"},
    *({"id": f"bin-{n}", "kind": "grow_out_bin", "title": f"Bin {n}", "room": "room-1"} for n in range(1, 5)),
    {"id": "tray-1", "kind": "hatching_tray", "title": "Tray 1"},
    {"id": "box-1", "kind": "pupation_box", "title": "Box 1"},
    {"id": "cage-1", "kind": "love_cage", "title": "Cage 1"},
)
QUANTITIES = {"grow_out_bin": "substrate_temperature"}
HIGH = "{place}/substrate_temperature/high/high"


class GuardedFarm:
    """Four bins, a tray, a box, a cage and their room, each with a board of its own ("node-bin-1")."""

    def __init__(self, folder: Path, places: Iterable[dict[str, Any]] = PLACES, **tables: Any) -> None:
        self.folder, self.now_ms = folder, T0
        self.places = list(places)
        nodes = [{"id": f"node-{place['id']}", "place": place["id"]} for place in self.places]
        self.settings = farm(folder, **{"places": self.places, "nodes": nodes, **tables})
        self._numbers: dict[str, int] = {}
        Store.open(self.settings.store.path).close()
        self.start()

    def start(self) -> None:
        """Start the service."""
        self.service = Service(self.settings, clock=lambda: self.now_ms, inline=True)
        self.service.prepare()
        self.service.settle(0)

    def restart(self, **places: dict[str, Any]) -> None:
        """End the service and start it again; `bin_1={"empty": True}` changes a place in the settings."""
        self.service.stop()
        self.change_places(**places)
        self.start()

    def change_places(self, **places: dict[str, Any]) -> None:
        """Other settings of some places, not taken over yet."""
        known = tuple(
            place.model_copy(update=places.get(place.id.replace("-", "_"), {}))
            for place in self.settings.places
        )
        self.settings = self.settings.model_copy(update={"places": known})

    def close(self) -> None:
        """End the service."""
        self.service.stop()

    @property
    def plan(self) -> Plan:
        """The plan that the service follows."""
        return self.service.processor.site.plan

    def _store(self) -> Store:
        return Store.open(self.settings.store.path, create=False, check=False)

    def say(
        self, subject: str, kind: EntryKind, ago_days: float = 0.0, by: str = "keeper", **body: object
    ) -> int:
        """Write an entry as a person does, dated so many days ago; gives its number."""
        with self._store() as store:
            plan = occupied_plan(store, self.settings, self.now_ms)
            writer = EntryWriter(store, plan, by, self.now_ms, EVERYTHING)
            entry = writer.write(subject, kind, self.now_ms - round(ago_days * MS_PER_DAY), body)
        return entry.entry_id or 0

    def withdraw(self, number: int) -> None:
        """Undo an entry."""
        with self._store() as store:
            old = store.logbook.one(number)
            assert old is not None
            EntryWriter(store, self.plan, "keeper", self.now_ms).withdraw(old, "")

    def refuses(self, subject: str, kind: EntryKind, **body: object) -> str:
        """Why an entry is refused."""
        try:
            self.say(subject, kind, **body)  # type: ignore[arg-type]
        except UsageError as error:
            return str(error)
        raise AssertionError("it was not refused")

    def take_out(self, alarm_id: str, by: str = "keeper") -> None:
        """Take an alarm out of service."""
        with self._store() as store:
            store.commands.add(Command(CommandKind.TAKE_OUT, self.now_ms, by, alarm_id))

    def pass_time(self, minutes: float = 1.0) -> None:
        """Let time pass without any reading."""
        self.now_ms += round(minutes * MINUTE)
        self.service.settle(self.service.processor.taken)

    def measure(self, minutes: int = 5, **values_c: float) -> None:
        """A temperature each minute in the places named (`bin_1=45.0`), and what the service makes of it."""
        for _ in range(minutes):
            self.now_ms += MINUTE
            pending = PendingBatch(self.now_ms, AlarmChanges())
            for place, value_c in values_c.items():
                self._take(place.replace("_", "-"), value_c, pending)
            self.service.processor.finish(pending)
            self.service.settle(self.service.processor.taken)

    def _take(self, place: str, value_c: float, pending: PendingBatch) -> None:
        node = f"node-{place}"
        self._numbers[node] = self._numbers.get(node, 0) + 1
        taken = message(node, self.now_ms, value_c, self._numbers[node])
        if place not in ("bin-1", "bin-2", "bin-3", "bin-4"):
            sensor = SensorKey(node, "", "air_temperature")
            taken = NodeMessage(
                node,
                self.now_ms,
                (Reading(sensor, self.now_ms, value_c),),
                TimeSource.NODE,
                1,
                taken.sequence,
            )
        flagged = self.service.processor.site.take(taken, self.now_ms, pending.changes)
        self.service.processor.self_watch.last_seen.note(flagged)

    def lived_through(self, days: int, **values_c: float) -> None:
        """Hourly temperatures of so many past days, so that forecasts have something to rest on."""
        messages = []
        for place, value_c in values_c.items():
            quantity = "substrate_temperature" if place.startswith("bin") else "air_temperature"
            sensor = SensorKey(f"node-{place.replace('_', '-')}", "", quantity)
            times = range(self.now_ms - days * MS_PER_DAY, self.now_ms, MS_PER_HOUR)
            readings = tuple(FlaggedReading(Reading(sensor, at, value_c), Flag.PASS, value_c) for at in times)
            raw = tuple(each.reading for each in readings)
            messages.append(
                FlaggedMessage(NodeMessage(sensor.node, self.now_ms, raw, TimeSource.NODE), readings)
            )
        self.service.store.commit(Batch(self.now_ms, tuple(messages)))

    def stands(self, place: str) -> bool:
        """Whether the alarm of the highest temperature of a bin stands."""
        return self.service.processor.site.state(HIGH.format(place=place)).status == "unacknowledged"

    def held_back(self, place: str) -> dict[str, str]:
        """The alarms of a place that are held back by design, with the state that they have."""
        states = self.service.processor.site.states
        return {
            name: state.status
            for name, state in states.items()
            if name.startswith(f"{place}/") and state.status == "suppressed_by_design"
        }

    def messages(self) -> list[OutboxMessage]:
        """Every message that was ever written, the oldest first."""
        with self._store() as store:
            rows = store.database.rows("SELECT title, body, kind, alarm_id, recipient FROM outbox")
        return [
            OutboxMessage(recipient, kind, title, body, 0, alarm_id=alarm)
            for title, body, kind, alarm, recipient in rows
        ]

    def now(self) -> SiteNow:
        """What every surface is given of the present."""
        with self._store() as store:
            return site_now(store, occupied_plan(store, self.settings, self.now_ms), self.now_ms)

    def place(self, place_id: str) -> PlaceNow:
        """One place of it."""
        return next(place for place in self.now().places if place.id == place_id)

    def now_text(self, language: str = "en") -> str:
        """What `now` says."""
        with self._store() as store:
            site = site_now(store, occupied_plan(store, self.settings, self.now_ms), self.now_ms)
            words = Localizer.plain(language, self.plan.zone, self.now_ms)
            return "\n".join(line.text for line in now_lines(site, words, 400))
