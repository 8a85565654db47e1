"""The broker that comes along: started, kept alive, ended."""

from __future__ import annotations

import os
import signal
from collections.abc import Iterator

import psutil
import pytest
from service_farm import wait_until

from monitor.intake.broker import EmbeddedBroker
from monitor.settings.schema import BrokerSettings


@pytest.fixture
def own(free_port: int) -> Iterator[EmbeddedBroker]:
    """Started."""
    settings = {"embedded": True, "listen": "127.0.0.1", "port": free_port}
    broker = EmbeddedBroker.wanted(BrokerSettings.model_validate(settings))
    assert broker is not None
    broker.start()
    yield broker
    broker.stop()


def test_a_broker_that_has_ended_is_started_again(own: EmbeddedBroker) -> None:
    said: list[str] = []
    own.keep_running(said.append)
    assert said == []
    child = next(one for one in psutil.Process().children() if "iotcore" in " ".join(one.cmdline()))
    os.kill(child.pid, signal.SIGKILL)
    assert wait_until(lambda: not own.running)
    own.keep_running(said.append)
    assert said == ["the embedded broker has ended and is started again"]
    assert own.running


def test_somebody_elses_broker_is_left_alone() -> None:
    assert EmbeddedBroker.wanted(BrokerSettings()) is None
