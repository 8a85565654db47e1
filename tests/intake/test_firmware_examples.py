"""Every payload under firmware_notes/examples does what its index says."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest

from monitor.intake.payload import Topics, compile_routes, understand
from monitor.records import IncomingMessage, NodeMessage, NodeStatus, Rejected, TimeSource
from monitor.settings.schema import PlainMapping

FOLDER = Path(__file__).parents[2] / "firmware_notes" / "examples"
INDEX = (FOLDER / "README.md").read_text(encoding="utf-8")
GOOD = re.findall(r"^\| \[.*?\]\((good/[^)]+)\) \| `([^`]+)` \| (\d+) \|", INDEX, re.M)
BAD = re.findall(r"^\| \[.*?\]\((bad/[^)]+)\) \| `([^`]+)` \| (.+?) \|$", INDEX, re.M)
RECEIVED_MS = 1_790_000_001_000
TOPICS = Topics("saltbush-yard")
_MAPPINGS = tomllib.loads(re.findall(r"```toml\n(.*?)```", INDEX, re.S)[0])["intake"]["plain"]
ROUTES = compile_routes(PlainMapping(**mapping) for mapping in _MAPPINGS)


def _understand(file: str, topic: str) -> object:
    return understand(IncomingMessage(topic, (FOLDER / file).read_bytes(), RECEIVED_MS), TOPICS, ROUTES)


def test_index_names_every_file() -> None:
    on_disk = {f"{path.parent.name}/{path.name}" for path in FOLDER.glob("*/*")}
    assert {file for file, *_ in [*GOOD, *BAD]} == on_disk


@pytest.mark.parametrize(("file", "topic", "readings"), GOOD)
def test_good_example_is_taken(file: str, topic: str, readings: str) -> None:
    understood = _understand(file, topic)
    if topic.endswith("/status"):
        assert understood == NodeStatus("node-01", RECEIVED_MS, online=True)
        return
    assert isinstance(understood, NodeMessage), understood
    assert len(understood.readings) == int(readings)
    assert all(reading.sensor.node == topic.split("/")[-2] for reading in understood.readings)


@pytest.mark.parametrize(("file", "topic", "reason"), BAD)
def test_bad_example_is_refused_with_its_reason(file: str, topic: str, reason: str) -> None:
    understood = _understand(file, topic)
    assert isinstance(understood, Rejected), understood
    assert understood.node == "node-01"
    assert reason in understood.reason
    assert understood.sample == (FOLDER / file).read_bytes()[:512]


def test_values_and_times_of_single_examples() -> None:
    backlog = _understand("good/backlog_with_clock.json", GOOD[0][1])
    assert isinstance(backlog, NodeMessage)
    assert [(one.at_ms - 1_790_000_000_000, one.value) for one in backlog.readings] == [
        (-7_200_000, 36.2),
        (-3_600_000, 36.9),
        (0, 37.8),
    ]
    units = _understand("good/other_units.json", GOOD[0][1])
    assert isinstance(units, NodeMessage)
    assert {one.sensor.quantity: one.value for one in units.readings} == pytest.approx(
        {"battery": 3.92, "air_temperature": 27.4, "substrate_moisture": 0.64, "carbon_dioxide": 1240}
    )
    plain = _understand("good/plain_number.txt", "boards/shed-1/temperature")
    assert isinstance(plain, NodeMessage)
    assert plain.readings[0].value == pytest.approx((81.3 - 32) / 1.8)
    wrong = _understand("good/wrong_clock.json", GOOD[0][1])
    assert isinstance(wrong, NodeMessage)
    assert wrong.time_source is TimeSource.RECEIVED
    assert wrong.readings[0].at_ms == RECEIVED_MS
    assert wrong.clock_fault is not None and "behind" in wrong.clock_fault
