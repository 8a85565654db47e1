"""What a person is promised about alarms, through whole turns: requests, shelves, empty places, quiet."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from service_farm import MINUTE, NODES, T0, farm, raw_message

from monitor.records import MS_PER_HOUR, AlarmStatus, Command, CommandKind, MessageKind
from monitor.service import Service
from monitor.settings.schema import Settings
from monitor.store.kept_sentences import refusal_of

HOT = "bin-1/substrate_temperature/high/high"
WARM = "bin-1/substrate_temperature/high/medium"
PEOPLE = [{"id": "anna", "order": 1}, {"id": "ben", "order": 2}]


@dataclass
class Yard:
    """A service on a clock that the test moves; its boards report each minute."""

    folder: Path
    now_ms: int = T0
    temperature_c: float = 30.0
    tables: dict[str, Any] = field(default_factory=dict)
    sequence: int = 0

    def __post_init__(self) -> None:
        self.start()

    def settings(self, **tables: object) -> Settings:
        people = [{**one, "address": f"folder://{self.folder / str(one['id'])}"} for one in PEOPLE]
        return farm(self.folder, recipients=people, **{**self.tables, **tables})

    def start(self) -> None:
        """Start the service on what the database holds."""
        self.service = Service(self.settings(), clock=lambda: self.now_ms, inline=True)
        self.service.prepare()

    def minutes(self, count: int, temperature_c: float | None = None) -> None:
        """Minutes pass."""
        self.temperature_c = self.temperature_c if temperature_c is None else temperature_c
        for _ in range(count):
            self.now_ms += MINUTE
            self.sequence += 1
            batch = [raw_message("node-1", self.now_ms, self.temperature_c, self.sequence)]
            batch += [raw_message(node, self.now_ms, 30.0, self.sequence) for node in NODES[1:]]
            self.service.processor.process(batch, self.now_ms)
            self.service.worker.step(self.now_ms)

    def ask(self, kind: CommandKind, alarm_id: str, **more: object) -> str:
        """What a person's command does; gives what came of it."""
        command = Command(kind, self.now_ms, "anna", alarm_id, **more)  # type: ignore[arg-type]
        number = self.service.store.commands.add(command)
        self.minutes(1)
        outcome = self.service.store.commands.outcome(number) or ""
        why = refusal_of(outcome)
        return outcome if why is None else f"refused: {why}"

    def change(self, **tables: object) -> None:
        """Changed settings are taken over."""
        self.tables.update(tables)
        self.service._take_over(self.settings(), self.now_ms)

    def status(self, alarm_id: str = HOT) -> AlarmStatus:
        return self.service.processor.site.state(alarm_id).status

    def told(self, person: str, alarm_id: str = HOT) -> list[MessageKind]:
        """Kinds of message that reached a person about an alarm, in their order."""
        rows = self.service.store.outbox.messages_for(alarm_id)
        return [one.kind for one in rows if one.recipient == person and one.sent_ms is not None]

    def places(self, **of_bin_1: object) -> list[dict[str, object]]:
        places: list[dict[str, object]] = [{"id": f"bin-{n}", "kind": "grow_out_bin"} for n in range(1, 6)]
        places[0].update(of_bin_1)
        return places


def test_the_next_person_is_told_when_nobody_answers_and_a_restart_forgets_nothing(tmp_path: Path) -> None:
    yard = Yard(tmp_path)
    yard.minutes(10, 43.0)
    assert (yard.told("anna"), yard.told("ben")) == ([MessageKind.ALARM], [])
    yard.service.store.close()
    yard.start()
    yard.minutes(12)
    assert yard.told("ben") == [MessageKind.ESCALATION]
    assert yard.ask(CommandKind.ACKNOWLEDGE, HOT) == "done"
    yard.minutes(70)
    assert (yard.told("anna"), yard.told("ben")) == ([MessageKind.ALARM], [MessageKind.ESCALATION])
    yard.minutes(30, 30.0)
    assert yard.told("anna")[-1] is MessageKind.RETURNED
    assert yard.status() is AlarmStatus.NORMAL


def test_a_shelf_ends_by_itself_and_the_alarm_is_told_again_if_it_still_stands(tmp_path: Path) -> None:
    yard = Yard(tmp_path)
    yard.minutes(10, 43.0)
    assert yard.ask(CommandKind.SHELVE, HOT, until_ms=yard.now_ms + MS_PER_HOUR) == "done"
    assert yard.status() is AlarmStatus.SHELVED
    assert not yard.service.processor.sounder.sounding
    yard.minutes(55)
    assert yard.told("anna") == [MessageKind.ALARM]
    yard.minutes(10)
    assert yard.status() is AlarmStatus.UNACKNOWLEDGED
    assert yard.told("anna") == [MessageKind.ALARM, MessageKind.ALARM]
    assert yard.service.processor.sounder.sounding


def test_a_shelf_without_an_end_or_of_a_year_is_refused(tmp_path: Path) -> None:
    yard = Yard(tmp_path)
    yard.minutes(10, 43.0)
    far_ms = yard.now_ms + 400 * 24 * MS_PER_HOUR
    for until_ms in (None, far_ms, yard.now_ms - MINUTE):
        assert "at most 7 days" in yard.ask(CommandKind.SHELVE, HOT, until_ms=until_ms)
    assert yard.status() is AlarmStatus.UNACKNOWLEDGED


def test_out_of_service_is_quiet_until_it_is_put_back(tmp_path: Path) -> None:
    yard = Yard(tmp_path)
    yard.minutes(2)
    assert yard.ask(CommandKind.TAKE_OUT, HOT, reason="probe broken") == "done"
    yard.minutes(30, 43.0)
    assert yard.told("anna") == []
    assert yard.ask(CommandKind.PUT_BACK, HOT) == "done"
    yard.minutes(2)
    assert yard.told("anna") == [MessageKind.ALARM]


def test_an_empty_place_is_quiet_and_one_newly_filled_is_guarded_where_it_matters(tmp_path: Path) -> None:
    yard = Yard(tmp_path)
    yard.minutes(2)
    yard.change(places=yard.places(empty=True))
    yard.minutes(30, 43.0)
    assert yard.status() is AlarmStatus.SUPPRESSED_BY_DESIGN
    assert yard.told("anna") == []
    yard.change(places=yard.places(empty=False))
    yard.minutes(2)
    assert yard.told("anna") == [MessageKind.ALARM], "a bin too hot from the start wakes somebody"
    assert yard.status(WARM) is AlarmStatus.SUPPRESSED_BY_DESIGN
    yard.minutes(121)
    assert yard.status(WARM) is AlarmStatus.UNACKNOWLEDGED


def test_a_moved_setpoint_holds_its_alarm_for_a_while(tmp_path: Path) -> None:
    yard = Yard(tmp_path)
    yard.minutes(5, 35.0)
    rule = {"place": "bin-1", "quantity": "substrate_temperature", "side": "high", "priority": "medium"}
    yard.change(rules=[{**rule, "setpoint": 34.0}])
    yard.minutes(60)
    assert yard.status(WARM) is AlarmStatus.SUPPRESSED_BY_DESIGN
    yard.minutes(30)
    assert yard.status(WARM) is AlarmStatus.UNACKNOWLEDGED


def test_quiet_hours_hold_what_is_not_high_and_drop_what_is_over(tmp_path: Path) -> None:
    quiet = {"start": "00:00", "end": "23:59"}
    yard = Yard(tmp_path, tables={})
    people = [{"id": "anna", "address": f"folder://{tmp_path / 'anna'}", "quiet_hours": quiet}]
    yard.service._take_over(farm(tmp_path, recipients=people), yard.now_ms)
    yard.minutes(20, 39.0)
    assert yard.status(WARM) is AlarmStatus.UNACKNOWLEDGED
    assert yard.told("anna", WARM) == []
    yard.minutes(10, 43.0)
    assert yard.told("anna") == [MessageKind.ALARM]


def test_the_sounder_follows_and_is_told_again_after_a_new_connection(tmp_path: Path) -> None:
    yard = Yard(tmp_path)
    said: list[tuple[str, bytes, bool]] = []
    yard.service.processor.sounder._publish = lambda *words: said.append(words)
    yard.minutes(10, 43.0)
    yard.ask(CommandKind.ACKNOWLEDGE, HOT)
    yard.service.processor.sounder.repeat()
    topic = "rearing/yard/sounder"
    assert said == [(topic, b"on", True), (topic, b"off", True), (topic, b"off", True)]
