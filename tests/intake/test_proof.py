"""When the monitor sends itself a message, and what follows from what comes back."""

from __future__ import annotations

import pytest

from monitor.intake.payload import PROOF, Topics, understand
from monitor.intake.proof import AGAIN_S, EVERY_S, REST_S, WAIT_S, Way, WayProof
from monitor.records import IncomingMessage
from monitor.settings.schema import BrokerSettings


class Trial:
    """A proof on a clock that the test moves."""

    def __init__(self, **broker: object) -> None:
        self.now_s = 0.0
        settings = BrokerSettings.model_validate(broker)
        self.proof = WayProof(settings, Topics("yard"), lambda: self.now_s)

    def after(self, seconds: float) -> bytes | None:
        self.now_s += seconds
        return self.proof.due()


def test_nothing_is_sent_without_a_connection() -> None:
    trial = Trial()
    assert trial.after(0) is None
    assert trial.after(WAIT_S * 2) is None
    assert trial.proof.way is Way.UNKNOWN


def test_the_message_that_comes_back_proves_the_way() -> None:
    trial = Trial()
    trial.proof.begin()
    sent = trial.after(0)
    assert sent is not None
    assert trial.proof.came(sent)
    assert trial.proof.way is Way.PROVEN
    assert trial.after(EVERY_S - 1) is None
    again = trial.after(1)
    assert again not in (None, sent)
    assert trial.proof.way is Way.PROVEN, "until it is known otherwise"


def test_a_message_that_is_only_late_says_nothing() -> None:
    trial = Trial()
    trial.proof.begin()
    first = trial.after(0)
    assert trial.after(AGAIN_S - 0.1) is None
    assert trial.after(0.1) == first
    trial.after(WAIT_S - AGAIN_S - 0.1)
    assert trial.proof.way is Way.UNKNOWN
    assert first is not None
    trial.proof.came(first)
    trial.after(1)
    assert trial.proof.way is Way.PROVEN


def test_a_message_that_comes_too_late_takes_the_alarm_back() -> None:
    trial = Trial()
    trial.proof.begin()
    first = trial.after(0)
    trial.after(WAIT_S)
    assert trial.proof.way is Way.CLOSED
    assert first is not None
    trial.proof.came(first)
    assert trial.proof.way is Way.PROVEN
    assert trial.proof.problem is None


def test_a_message_of_an_earlier_connection_proves_nothing() -> None:
    trial = Trial()
    trial.proof.begin()
    old = trial.after(0)
    trial.proof.lost()
    trial.proof.begin()
    assert old is not None
    assert trial.proof.came(old)
    assert trial.proof.way is Way.UNKNOWN


def test_a_closed_way_stays_closed_over_a_reconnect_until_it_is_proven() -> None:
    trial = Trial()
    trial.proof.begin()
    trial.after(0)
    trial.after(WAIT_S)
    trial.proof.lost()
    assert trial.proof.way is Way.CLOSED
    trial.proof.begin()
    assert trial.proof.way is Way.CLOSED


def test_what_a_board_sends_proves_the_way_as_well() -> None:
    trial = Trial()
    trial.proof.begin()
    trial.after(0)
    trial.after(WAIT_S)
    assert not trial.proof.came(b"[]")
    assert trial.proof.way is Way.PROVEN


def test_a_broker_that_hangs_up_on_the_message_is_left_in_peace() -> None:
    trial = Trial()
    for _ in range(2):
        trial.proof.begin()
        assert trial.after(0) is not None
        trial.now_s += 1
        trial.proof.lost()
    trial.proof.begin()
    assert trial.after(WAIT_S) is None
    assert trial.proof.way is Way.CLOSED
    assert trial.after(REST_S) is not None


@pytest.mark.parametrize(
    ("broker", "levels"),
    [
        ({}, ["rearing-monitor"]),
        ({"username": "monitor"}, ["monitor", "rearing-monitor"]),
        ({"username": "rearing-monitor"}, ["rearing-monitor"]),
        ({"username": "farm/one"}, ["rearing-monitor"]),
    ],
)
def test_the_topics_are_those_that_rules_for_boards_let_through(
    broker: dict[str, object], levels: list[str]
) -> None:
    assert Trial(**broker).proof.topics == tuple(f"rearing/yard/{level}/readings" for level in levels)


def test_what_to_check_names_site_user_and_root() -> None:
    trial = Trial(username="monitor")
    trial.proof.begin()
    trial.after(0)
    trial.proof.refused()
    trial.after(WAIT_S)
    said = str(trial.proof.problem)
    assert said.startswith("the broker takes what boards send, but does not pass it on: topic or rights.")
    for part in ("rearing/yard/+/readings", 'for the user "monitor"', '("yard")', '("rearing")'):
        assert part in said


def test_a_proof_is_nobodys_reading() -> None:
    message = IncomingMessage("rearing/yard/monitor/readings", PROOF + b"1", 0)
    assert understand(message, Topics("yard")) is None


def test_one_message_goes_out_on_each_connection_even_when_a_board_came_first() -> None:
    """What comes behind it did not wait in the broker."""
    trial = Trial()
    trial.proof.begin()
    assert not trial.proof.came(b"[]")
    assert trial.proof.way is Way.PROVEN
    sent = trial.after(0)
    assert sent is not None and trial.proof.is_own(sent)
    assert trial.after(AGAIN_S) is None, "once is enough"
    trial.proof.came(sent)
    trial.proof.lost()
    trial.proof.begin()
    trial.proof.came(b"[]")
    assert not trial.proof.is_own(sent), "that was the earlier connection's"
    assert trial.after(0) is not None


def test_a_broker_that_hangs_up_on_it_is_left_in_peace_while_boards_prove_the_way() -> None:
    trial = Trial()
    for _ in range(2):
        trial.proof.begin()
        trial.proof.came(b"[]")
        assert trial.after(0) is not None
        trial.proof.lost()
        trial.after(1)
    for _ in range(3):
        trial.proof.begin()
        trial.proof.came(b"[]")
        assert trial.after(0) is None
        trial.proof.lost()
        trial.after(REST_S)
