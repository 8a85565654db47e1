"""How far a new board has come: each step from what is known, and what it says first."""

from __future__ import annotations

import time
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest
from enrolled_farm import NOW_MS, EnrolledFarm, running_farm, wanted
from tls_broker import made_keys

from monitor.boards import broker_log, certificates, enrolment
from monitor.boards.broker_log import Came, Sighting, last_sighting
from monitor.boards.enrolment import Change
from monitor.boards.first_word import FirstWord, Mark, Step, first_word, mark_of
from monitor.errors import BrokerRefused
from monitor.records import (
    Batch,
    Flag,
    FlaggedMessage,
    FlaggedReading,
    NodeMessage,
    NodeStatus,
    Reading,
    Rejected,
    SensorKey,
    TimeSource,
)
from monitor.settings.plan import build_plan
from monitor.store import Store
from monitor.store.meta import AWAY, BROKER_WAY


@pytest.fixture
def farm(tmp_path: Path) -> EnrolledFarm:
    farm = EnrolledFarm(tmp_path)
    farm.store().close()
    farm.office().enrol(Change.ADD, wanted())
    return farm


@pytest.fixture
def store(farm: EnrolledFarm) -> Iterator[Store]:
    with farm.store() as store:
        store.meta.put(BROKER_WAY, "proven")
        yield store


def word(
    farm: EnrolledFarm, store: Store, *, running: bool = True, seen: Sighting | None = None
) -> FirstWord:
    plan = build_plan(farm.settings)
    return first_word(store, plan, "node-03", Mark(NOW_MS), running, lambda: seen)


def sent(*names: str, sequence: int = 1) -> Batch:
    readings = []
    for name in names:
        probe, _, quantity = name.rpartition("/")
        reading = Reading(SensorKey("node-03", probe, quantity), NOW_MS + 1000, 27.5)
        readings.append(FlaggedReading(reading, Flag.PASS, 27.5))
    raw = tuple(each.reading for each in readings)
    message = NodeMessage("node-03", NOW_MS + 1000, raw, TimeSource.NODE, boot=1, sequence=sequence)
    return Batch(NOW_MS + 1000, messages=(FlaggedMessage(message, tuple(readings)),))


def test_each_step_in_its_turn(farm: EnrolledFarm, store: Store) -> None:
    assert word(farm, store, running=False).step is Step.STOPPED
    store.meta.put(BROKER_WAY, AWAY)
    assert word(farm, store).step is Step.AWAY
    store.meta.put(BROKER_WAY, "proven")
    assert word(farm, store).step is Step.UNSEEN
    shut = word(farm, store, seen=Sighting(Came.REFUSED, "192.168.1.77"))
    assert (shut.step, shut.reason) == (Step.WRONG_CARD, "192.168.1.77")
    assert word(farm, store, seen=Sighting(Came.NO_TRUST, "192.168.1.77")).step is Step.NO_TRUST
    assert word(farm, store, seen=Sighting(Came.LET_IN)).step is Step.LOGGED_IN
    store.commit(Batch(NOW_MS, statuses=(NodeStatus("node-03", NOW_MS, False),)))
    assert word(farm, store).step is Step.UNSEEN
    store.commit(Batch(NOW_MS, statuses=(NodeStatus("node-03", NOW_MS, True),)))
    assert word(farm, store).step is Step.LOGGED_IN
    store.commit(Batch(NOW_MS, rejected=(Rejected("node-03", "t", NOW_MS, "no unit", b"x"),)))
    assert word(farm, store) == FirstWord("node-03", Step.REFUSED, reason="no unit")
    store.commit(sent("p1/substrate_temperature"))
    assert word(farm, store, running=False).step is Step.HEARD, "heard is heard"


def test_the_first_values_and_what_differs_from_the_settings(farm: EnrolledFarm, store: Store) -> None:
    store.commit(sent("p1/substrate_temperature", "p9/substrate_temperature", "air_temperature"))
    first = word(farm, store)
    assert [str(key) for key, _ in first.values] == sorted(str(key) for key, _ in first.values)
    assert len(first.values) == 3 and first.values[0][1].calibrated == 27.5
    assert first.missing == ("p2/substrate_temperature", "air_humidity")
    assert first.strange == ("p9/substrate_temperature",)


def test_what_came_before_the_card_tells_nothing(farm: EnrolledFarm, store: Store) -> None:
    store.commit(sent("air_temperature"))
    store.commit(Batch(NOW_MS, rejected=(Rejected("node-03", "t", NOW_MS, "no unit", b"x"),)))
    mark = mark_of(store, "node-03", NOW_MS)
    assert (mark.messages, mark.rejected) == (1, 1)
    assert first_word(store, build_plan(farm.settings), "node-03", mark, True).step is Step.UNSEEN
    assert mark_of(store, "node-99", 5) == mark_of(None, "node-99", 5) == Mark(5)


def sighting(farm: EnrolledFarm, user: str = "node-03", since_s: float = 0) -> Sighting | None:
    return last_sighting(farm.broker.files, user, farm.broker.boards_port, since_s)


def soon(farm: EnrolledFarm, user: str, came: Came) -> Sighting | None:
    """What the log tells once it tells this, or after five seconds."""
    until_s = time.monotonic() + 5
    while (seen := sighting(farm, user)) is None or seen.came is not came:
        if time.monotonic() > until_s:
            break
        time.sleep(0.05)
    return seen


@pytest.mark.mosquitto
def test_the_brokers_own_log_tells_who_came(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The lines are those of the broker that is installed."""
    monkeypatch.setattr(enrolment, "PATIENCE_S", 0.0)
    with running_farm(tmp_path) as farm:
        card = farm.office().enrol(Change.ADD, wanted()).plan.card
        assert card is not None
        assert soon(farm, "node-03", Came.LET_IN) == Sighting(Came.LET_IN)
        assert sighting(farm, since_s=9e9) is None, "only what came later"
        assert sighting(farm, "node-0") is None
        with pytest.raises(BrokerRefused):
            enrolment.lets_in(farm.settings, replace(card, user="node-0"), farm.broker.ca_file)
        assert soon(farm, "node-0", Came.REFUSED) == Sighting(Came.REFUSED, "127.0.0.1")
        made_keys(tmp_path / "other", "other", (), datetime.now(UTC))
        assert not enrolment.lets_in(farm.settings, card, tmp_path / "other" / certificates.CA)
        assert soon(farm, "node-0", Came.NO_TRUST) == Sighting(Came.NO_TRUST, "127.0.0.1")
        assert sighting(farm) == Sighting(Came.LET_IN), "a board that was let in is not who was refused"


def test_a_log_that_cannot_be_read_tells_nothing(farm: EnrolledFarm, monkeypatch: pytest.MonkeyPatch) -> None:
    assert sighting(farm) is None
    (farm.broker.files.etc / "mosquitto.log").write_bytes(b"\xff\n: \n1: x\n" + b"9" * 40)
    assert sighting(farm) is None
    farm.broker.files.main.unlink()
    monkeypatch.setattr(broker_log, "USUAL_LOG", farm.folder / "none")
    assert broker_log.log_file(farm.broker.files) is None
