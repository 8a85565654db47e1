"""The queue before the turns: batches, and what happens when it is full."""

from __future__ import annotations

import threading
from dataclasses import replace

import pytest
from service_farm import T0, raw_message

from monitor.errors import IntakeError
from monitor.intake.subscriber import Token
from monitor.records import IncomingMessage
from monitor.service.ingest import BATCH_MESSAGES, IngestQueue


def sent(number: int, qos: int = 1) -> IncomingMessage:
    return replace(raw_message("node-1", T0, 30.0, number), token=Token(1, number, number, qos))


def test_a_batch_holds_so_many_and_keeps_the_order() -> None:
    queue = IngestQueue()
    messages = [sent(number) for number in range(BATCH_MESSAGES + 20)]
    for one in messages:
        queue.put(one)
    assert queue.batch() == messages[:BATCH_MESSAGES]
    assert queue.batch() == messages[BATCH_MESSAGES:]
    assert queue.batch() == []


def test_so_many_are_waited_for_and_no_longer_than_asked() -> None:
    queue = IngestQueue()
    queue.put(sent(1))
    assert len(queue.exactly(1, 5.0)) == 1
    assert queue.exactly(1, 0.01) == []


def test_a_full_queue_drops_what_needs_no_acknowledgement_and_refuses_the_rest() -> None:
    queue = IngestQueue(most_waiting=3, patience_s=0.05)
    for number in range(3):
        queue.put(sent(number))
    queue.put(sent(4, qos=0))
    assert queue.dropped == 1
    with pytest.raises(IntakeError, match="stays in the broker"):
        queue.put(sent(5))
    assert len(queue.batch()) == 3
    queue.put(sent(6))
    assert len(queue.batch()) == 1


def test_with_no_room_the_network_thread_waits_and_nothing_is_refused() -> None:
    queue = IngestQueue(most_waiting=3, patience_s=10.0)
    messages = [sent(number) for number in range(10)]
    feeding = threading.Thread(target=lambda: list(map(queue.put, messages)))
    feeding.start()
    taken: list[IncomingMessage] = []
    while len(taken) < len(messages):
        taken += queue.batch()
    feeding.join(5)
    assert taken == messages
