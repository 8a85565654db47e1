"""The broker in a child process: sizes, passwords, taken port, and that it never outlives its parent."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading
from collections.abc import Callable
from pathlib import Path
from typing import Any

import psutil
import pytest

from monitor.errors import BrokerRefused, IntakeError
from monitor.intake.broker import EmbeddedBroker
from monitor.intake.payload import MOST_BYTES

Make = Callable[..., Any]
ROOT = Path(__file__).parents[2]
PARENT = """
import sys, time
from monitor.intake.broker import EmbeddedBroker
broker = EmbeddedBroker("127.0.0.1", int(sys.argv[1]))
broker.start()
print("ready", flush=True)
time.sleep(60)
"""


def test_largest_payload_goes_through(embedded_broker: EmbeddedBroker, listen: Make, board: Make) -> None:
    listener = listen(embedded_broker.port).start()
    board(embedded_broker.port).publish("x" * MOST_BYTES)
    assert len(listener.take(1)[0].payload) == MOST_BYTES


def test_password_with_awkward_signs(free_port: int, listen: Make) -> None:
    word = 'a"b\\c\n€ñ'
    broker = EmbeddedBroker("127.0.0.1", free_port, "farm", word)
    broker.start()
    try:
        assert listen(free_port, username="farm", password=word).start().subscriber.connected
        wrong = listen(free_port, username="farm", password="other", client_id="other")
        wrong.subscriber.start()
        with pytest.raises(
            BrokerRefused, match="hung up without an answer; perhaps: wrong or missing user name"
        ):
            wrong.subscriber.wait_connected(1)
    finally:
        broker.stop()
    assert not broker.running


def test_taken_port_is_said_in_words(embedded_broker: EmbeddedBroker) -> None:
    second = EmbeddedBroker("127.0.0.1", embedded_broker.port)
    with pytest.raises(
        IntakeError, match=f"cannot listen on 127.0.0.1:{embedded_broker.port}.*embedded = false"
    ):
        second.start()
    assert not second.running


def test_start_and_stop_twice(embedded_broker: EmbeddedBroker) -> None:
    embedded_broker.start()
    assert embedded_broker.running
    embedded_broker.stop()
    embedded_broker.stop()
    assert not embedded_broker.running


@pytest.mark.parametrize("ending", [signal.SIGKILL, signal.SIGTERM])
def test_child_ends_with_its_parent(ending: signal.Signals, free_port: int) -> None:
    command = [sys.executable, "-c", PARENT, str(free_port)]
    with subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE) as parent:
        assert parent.stdout is not None
        assert parent.stdout.readline() == b"ready\n"
        children = psutil.Process(parent.pid).children(recursive=True)
        assert len(children) == 1
        parent.send_signal(ending)
        parent.wait(10)
    gone, alive = psutil.wait_procs(children, timeout=10)
    assert (len(gone), alive) == (1, [])


def test_interrupt_from_the_terminal_does_not_end_the_broker(embedded_broker: EmbeddedBroker) -> None:
    """Ctrl-C reaches the whole group; the broker must still take the monitor's last words."""
    (child,) = (
        one
        for one in psutil.Process(os.getpid()).children()
        if str(embedded_broker.port) in " ".join(one.cmdline())
    )
    child.send_signal(signal.SIGINT)
    threading.Event().wait(0.3)
    assert child.is_running() and child.status() != psutil.STATUS_ZOMBIE
