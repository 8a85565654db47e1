"""SIGKILL at any moment: what was acknowledged is there once, every message whole or not at all."""

from __future__ import annotations

import random
import subprocess
import sys
import time
from pathlib import Path

import pytest
from store_samples import START_MS

from monitor.records import SensorKey
from monitor.store import Store

ROUNDS = 20
READINGS = 3
CHILD = """
import sys
from pathlib import Path
from store_samples import START_MS, batch, flagged, message
from monitor.records import SensorKey
from monitor.store import Store

store = Store.open(Path(sys.argv[1]), archive=True)
number = int(sys.argv[2])
while True:
    some = [
        message(
            *(
                flagged(SensorKey("node-1", f"p{probe}", "air_temperature"), START_MS + item * 1000, 20.0)
                for probe in range(3)
            ),
            boot=1,
            sequence=item,
        )
        for item in range(number, number + 20)
    ]
    store.commit(batch(*some))
    number += 20
    print(number, flush=True)
"""


def _run_and_kill(path: Path, start: int, life_s: float) -> int:
    """Let a child commit from a number on, kill it, and give the number up to which it acknowledged."""
    child = subprocess.Popen(
        [sys.executable, "-c", CHILD, str(path), str(start)],
        stdout=subprocess.PIPE,
        text=True,
        env={"PYTHONPATH": ":".join([str(Path(__file__).parent), *sys.path])},
    )
    assert child.stdout is not None
    first = child.stdout.readline()
    time.sleep(life_s)
    child.kill()
    told = [first, *child.stdout.read().splitlines()]
    child.stdout.close()
    child.wait(10)
    complete = [line for line in told if line.strip()]
    return int(complete[-1])


@pytest.mark.slow
def test_twenty_kills_lose_nothing_and_double_nothing(tmp_path: Path) -> None:
    path = tmp_path / "rearing.sqlite"
    Store.open(path).close()
    luck = random.Random(11)
    acknowledged = 0
    for _ in range(ROUNDS):
        acknowledged = _run_and_kill(path, acknowledged, luck.uniform(0, 0.06))
        with Store.open(path) as store:
            counts = [_count(store, probe) for probe in range(READINGS)]
            facts = store.nodes.one("node-1")
            assert facts is not None
            assert counts[0] >= acknowledged
            assert len(set(counts)) == 1 and counts[0] % 20 == 0
            assert facts.messages == counts[0] and facts.missing == 0
            assert store.archive_queue.status().waiting == sum(counts)
    with Store.open(path) as store:
        sensor = SensorKey("node-1", "p0", "air_temperature")
        assert sum(hour.count for hour in store.summaries.hours(sensor, 0, 2 * START_MS)) == counts[0]


def _count(store: Store, probe: int) -> int:
    sensor = SensorKey("node-1", f"p{probe}", "air_temperature")
    return len(store.readings.series(sensor, 0, 2 * START_MS))
