"""What a board must survive, each with the real program, a real mosquitto with TLS and a real `run`.

All boards of this file share one farm and run side by side; each test waits for its own. The clock of a board
in lockstep begins hours ago and is real again when its outage ends.
"""

from __future__ import annotations

import base64
import http.client
import json
import socket
import time
from collections.abc import Callable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from board_bench import TEN_TIMES, Bench, TrialBoard, wait_for
from board_witness import Key, Verdict
from cryptography.hazmat.primitives.serialization import Encoding
from micropython_run import DEEP_SLEEP, RESTART, WATCHDOG, run_script

from monitor.boards import certificates
from monitor.boards.card import checksum

pytestmark = [pytest.mark.micropython, pytest.mark.mosquitto, pytest.mark.slow]

HOUR_MS = 3_600_000
CHIP: dict[str, Any] = {
    "world": {"chips": ["sht4x", "ds3231"]},
    "card": {"sensors": ("sht4x", "battery", "ds3231")},
}
SOON = """
import rounds
real_lost = rounds.Node._lost
def lost(self, error):
    real_lost(self, error)
    self.next_try = min(self.next_try, self.clock.uptime_ms() + 10000)
rounds.Node._lost = lost
"""
"""After hours of outage a board of the product tries every two to three minutes; here every ten seconds."""
SPOIL = """
import hardware, os, settings
board = hardware.Board()
def spoil(path, at, length):
    with open(board.folder + path, "rb") as file:
        data = bytearray(file.read())
    for i in range(at, min(at + length, len(data))):
        data[i] ^= 0xA5
    with open(board.folder + path, "wb") as file:
        file.write(data)
first = min(entry[0] for entry in os.ilistdir(board.folder + "backlog") if len(entry[0]) == 8)
spoil("backlog/" + first, 150, 9)
spoil("state0", 0, 40)
one = settings.Settings(board)
for payload in {good}:
    print(one.take(payload.encode()))
spoil("settings0", 0, 40)
print(settings.Settings(board).sum)
"""
"""Damage in the waiting rounds, in one copy of the boot counter, in the newer copy of the settings."""


NOBODY = """
import mqtt
real_open = mqtt.Client.open
mqtt.Client.open = lambda self, host, port, user, password, *more: real_open(self, host, port, "", "", *more)
"""


def real_ms() -> int:
    return time.time_ns() // 1_000_000


class Farm:
    """One bench with a scene for each board, played at once. A scene gives what its test looks at."""

    def __init__(self, folder: Path) -> None:
        self.scenes: dict[str, Callable[[str], Any]] = {
            name.removeprefix("scene_"): getattr(self, name)
            for name in dir(self)
            if name.startswith("scene_")
        }
        self.names = {scene: f"node-{number:02d}" for number, scene in enumerate(self.scenes, start=1)}
        self.bench = Bench(folder, [*self.names.values(), "node-98", "node-99"])
        self.bench.start()
        wait_for(lambda: "guarding" in self.bench.monitor.log, "the monitor's connection")
        self.pool = ThreadPoolExecutor(len(self.scenes))
        self.running: dict[str, Future[Any]] = {
            scene: self.pool.submit(play, self.names[scene]) for scene, play in self.scenes.items()
        }

    def result(self, scene: str) -> Any:
        return self.running[scene].result(150)

    def close(self) -> None:
        for job in self.running.values():
            job.cancel()
        self.bench.close()
        self.pool.shutdown(wait=False, cancel_futures=True)

    def board(self, name: str, **how: Any) -> TrialBoard:
        """Measures every two seconds, unless it is said otherwise: rounds are dated to the second."""
        return self.bench.board(name, **{**how, "card": {"interval_s": 20, **how.get("card", {})}})

    def wait_stored(self, board: TrialBoard, count: int, seconds: float = 90.0) -> None:
        wait_for(lambda: self.bench.stored(board) >= count, f"{count} packs of {board.name}", seconds)

    def end(self, board: TrialBoard) -> Verdict:
        """All that was promised until now is confirmed; then the board ends, and the witness speaks."""
        owed = board.witness.owed()
        wait_for(lambda: not owed & board.witness.owed(), f"the confirmation of {board.name}", 90)
        board.power_cut()
        time.sleep(1.0)  # what was on its way is stored
        return self.bench.verdict(board)

    # Scenes.

    def scene_silence(self, name: str) -> tuple[Verdict, int]:
        """Packets vanish without a word for 30 s."""
        board = self.board(name)
        board.power_on()
        self.wait_stored(board, 4)
        assert board.wire is not None
        board.wire.swallow()
        time.sleep(30)
        board.wire.carry()
        measured = len(board.witness.rounds())
        self.wait_stored(board, measured)
        return self.end(board), measured

    def scene_pubacks(self, name: str) -> tuple[Verdict, int]:
        """The broker's confirmations are lost, five times; seen on a connection without TLS."""
        board = self.board(name, tls=False)
        assert board.wire is not None
        board.power_on()
        self.wait_stored(board, 2)
        board.wire.drop_pubacks = 5
        wait_for(lambda: board.wire is not None and board.wire.dropped_pubacks == 5, "five lost PUBACKs", 60)
        self.wait_stored(board, len(board.witness.rounds()) + 3)
        return self.end(board), board.wire.dropped_pubacks

    def scene_hang(self, name: str) -> tuple[Verdict, int, dict[str, Any]]:
        """A sensor holds the program until the watchdog bites."""
        board = self.board(name)
        board.power_on()
        self.wait_stored(board, 3)
        board.node.write(faults={"sht4x": "hang"})
        code = board.node.wait(30)
        board.node.write(faults={})
        board.power_on()
        self.wait_stored(board, len(board.witness.rounds()) + 3)
        wait_for(lambda: self.bench.reports(name).get("reset") == "watchdog", "the report of the reset", 30)
        return self.end(board), code, self.bench.reports(name)

    def scene_sleeps(self, name: str) -> tuple[Verdict, set[int], int]:
        """Thirty sleeps, five of them while nothing answers."""
        board = self.board(name, card={"power": "battery"})
        assert board.wire is not None
        board.power_on()
        for sleeps in range(30):
            assert board.node.wait(60) == DEEP_SLEEP, board.node.errors()
            board.wire.refuses = 5 <= sleeps < 10
            time.sleep(board.node.slept_ms() / 1000)
            board.power_on()
        self.wait_asleep(board)
        return self.bench.verdict(board), {key[0] for key in board.witness.rounds()}, self.bench.stored(board)

    def wait_asleep(self, board: TrialBoard) -> None:
        """Further wakes until all is confirmed, since a board that asked in vain asks less often."""
        for _ in range(40):
            assert board.node.wait(60) == DEEP_SLEEP
            if all(one.confirmed for one in board.witness.rounds().values()):
                return
            time.sleep(board.node.slept_ms() / 1000)
            board.power_on()
        raise AssertionError("not all was confirmed")

    def scene_spoilt(self, name: str) -> tuple[Verdict, int, dict[str, Any], set[int]]:
        """Damage in the backlog, the boot counter and the settings, while a backlog waits."""
        board = self.board(name, **_slow(CHIP, 10))
        assert board.wire is not None
        board.wire.refuses = True
        board.power_on_at(real_ms() - HOUR_MS // 6)
        board.play(real_ms() - HOUR_MS // 6, real_ms())
        board.power_cut()
        kept = board.witness.owed()
        settings = [_settings(interval_s=seconds) for seconds in (11, 12)]
        said = run_script(SPOIL.format(good=settings), {"NODE_WORLD": str(board.folder)})
        board.forget_rtc()
        board.wire.refuses = False
        board.power_on_at(real_ms())
        board.go_real()
        wait_for(lambda: self.bench.reports(name).get("damaged"), "the report of the damage", 60)
        wait_for(lambda: self.bench.stored(board) >= len(kept) - 2, "the rest of the backlog", 60)
        wait_for(lambda: len({key[0] for key in board.witness.rounds()}) == 2, "a round of the next boot", 60)
        boots = {key[0] for key in board.witness.rounds()}
        # Looked at before the start: once it is there, the monitor gives the board its own settings.
        report = {**self.bench.reports(name), "settings": said.split()[-1]}
        return self.end_lockstep(board), len(kept), report, boots

    def end_lockstep(self, board: TrialBoard) -> Verdict:
        time.sleep(2.0)
        board.power_cut()
        time.sleep(1.0)
        return self.bench.verdict(board)

    def scene_full(self, name: str) -> tuple[Verdict, int, int, list[Key]]:
        """A flash of 15 blocks, and more rounds than it can hold."""
        board = self.board(name, **_slow(CHIP, 10, flash_blocks=15))
        assert board.wire is not None
        board.wire.refuses = True
        start_ms = real_ms() - 6 * HOUR_MS
        board.power_on_at(start_ms)
        board.play(start_ms, real_ms(), 10_000)
        board.power_cut()
        waiting, lost, _ = board.counted()
        board.forget_rtc()
        board.wire.refuses = False
        board.power_on_at(real_ms())
        board.go_real()
        self.wait_stored(board, waiting)
        wait_for(lambda: self.bench.reports(name).get("lost") == lost, "the report of what was lost", 30)
        return self.end_lockstep(board), waiting, lost, sorted(board.witness.rounds())

    def scene_hours(self, name: str) -> tuple[Verdict, int]:
        """Three hours without the broker, a round each 30 s, in one life of the board."""
        board = self.board(name, **_slow(CHIP, 30))
        assert board.wire is not None
        board.wire.refuses = True
        start_ms = real_ms() - 3 * HOUR_MS
        board.power_on_at(start_ms)
        board.play(start_ms, real_ms())
        measured = len(board.witness.rounds())
        board.wire.refuses = False
        board.go_real()
        self.wait_stored(board, measured)
        return self.end_lockstep(board), measured

    def scene_refused(self, name: str) -> dict[str, tuple[str, int]]:
        """Each board that must not come in: what it says, and how many of its packs came in."""
        other = certificates.make_authority("another farm").certificate.public_bytes(Encoding.DER)
        wrong: dict[str, dict[str, Any]] = {
            "password": {"password": "not-the-password"},
            "user": {"user": "node-77"},
            "anonymous": {},
            "authority": {"ca": base64.b64encode(other).decode()},
            "host name": {"tls_name": "farm-pc.example"},
            "as another": {"node": "node-98"},
        }
        said = {}
        for what, changes in wrong.items():
            more = NOBODY if what == "anonymous" else ""
            wire = self.bench.wire()
            card = replace(self.bench.card(name, wire.port), **changes)
            board = TrialBoard(self.bench.folder / f"refused {what}", card, wire, lower=TEN_TIMES, more=more)
            self.bench.boards.append(board)
            board.power_on()
            self._wait_for_try(board, what)
            said[what] = (board.node.output(), sum(one.confirmed for one in board.witness.rounds().values()))
            board.power_cut()
            assert not any(one.given_up for one in board.witness.rounds().values())
        return said

    def _wait_for_try(self, board: TrialBoard, what: str) -> None:
        wait_for(
            lambda: "connect" in board.node.output() and len(board.witness.rounds()) > 3,
            f"the refusal of {what}",
        )

    def scene_settings(self, name: str) -> dict[str, Any]:
        """Good and hostile settings, sent with the monitor's own rights."""
        board = self.board(name)
        board.power_on()
        self.wait_stored(board, 2)
        wait_for(lambda: self.bench.reports(name), "the first report")
        good = _settings(interval_s=20, buzzer=False)
        self.bench.publish(f"{name}/settings", good, retain=False)
        wait_for(lambda: self.bench.reports(name).get("settings") == checksum_of(good), "good settings", 40)
        for payload in HOSTILE.values():
            self.bench.publish(f"{name}/settings", payload, retain=False)
        wait_for(lambda: self.bench.reports(name)["refused"], "the report of the refusal", 40)
        measured = len(board.witness.rounds())
        self.wait_stored(board, measured + 3)
        return {"board": self.end(board), "last": self.bench.reports(name), "good": good}

    def scene_setup_page(self, name: str) -> dict[str, Any]:
        """A board without a card: hostile forms, a slow client beside, then the card, and it is heard."""
        with socket.socket() as probe:
            probe.bind(("127.0.0.1", 0))
            port = int(probe.getsockname()[1])
        wire = self.bench.wire()
        card = self.bench.card(name, wire.port)
        board = TrialBoard(
            self.bench.folder / name, None, wire, name=name, lower=TEN_TIMES, world={"setup_port": port}
        )
        self.bench.boards.append(board)
        board.power_on()
        wait_for(lambda: _is_open(port), "the set-up page")
        stalled = socket.create_connection(("127.0.0.1", port))
        stalled.sendall(b"POST / HTTP/1.0\r\n")
        answers = {}
        for what, text in {
            "nothing": "",
            "cut in half": card.text[: len(card.text) // 2],
            "changed": card.text.replace('"port":', '"port":1'),
            "too large": card.text + " " * 8000,
            "no card": "<script>alert(1)</script>",
        }.items():
            answers[what] = _post(port, card=text, wifi="farm", password="korma-quill-77")
        answers["no wifi"] = _post(port, card=card.text)
        answers["good"] = _post(port, card=card.text, wifi="farm", password="korma-quill-77")
        stalled.close()
        code = board.node.wait(30)
        board.power_on()
        self.wait_stored(board, 3)
        return {"answers": answers, "code": code, "verdict": self.end(board)}


def _slow(how: dict[str, Any], interval_s: int, **world: Any) -> dict[str, Any]:
    return {
        "card": {**how["card"], "interval_s": interval_s},
        "world": {**how["world"], **world},
        "clock": "lockstep",
        "step_ms": interval_s * 1000,
        "lower": "",
        "more": SOON,
    }


def _settings(**values: Any) -> str:
    return json.dumps({**values, "sum": checksum(values)})


def checksum_of(settings: str) -> str:
    return str(json.loads(settings)["sum"])


HOSTILE = {
    "no JSON": "{",
    "too long": "{" + " " * 1000 + "}",
    "an interval out of bounds": _settings(interval_s=0),
    "a way to another broker": _settings(hosts=["198.51.100.7"]),
    "a wrong sum": '{"interval_s":30,"sum":"00000000"}',
    "two probes of one name": _settings(probes={"28ff641dc11603bf": "core", "28ff641dc11603c0": "core"}),
}


def _is_open(port: int) -> bool:
    with socket.socket() as probe:
        return probe.connect_ex(("127.0.0.1", port)) == 0


EMPTY = {"card": "", "wifi": "", "password": ""}


def _post(port: int, **fields: str) -> tuple[int, str]:
    """What the page says to a form."""
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=8)
    try:
        typed = {**EMPTY, **fields}
        connection.request("POST", "/", "".join(f"{key}={value}\r\n" for key, value in typed.items()))
        answer = connection.getresponse()
        return answer.status, answer.read().decode()
    finally:
        connection.close()


@pytest.fixture(scope="module")
def farm(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Farm]:
    made = Farm(tmp_path_factory.mktemp("outages"))
    yield made
    made.close()


def test_packets_that_vanish_for_thirty_seconds_lose_nothing(farm: Farm) -> None:
    verdict, measured = farm.result("silence")
    assert verdict.problems == []
    assert verdict.stored >= measured >= 12


def test_lost_pubacks_lose_and_double_nothing(farm: Farm) -> None:
    verdict, dropped = farm.result("pubacks")
    assert verdict.problems == []
    assert dropped == 5


def test_a_hang_ends_by_the_watchdog_and_is_reported(farm: Farm) -> None:
    verdict, code, report = farm.result("hang")
    assert code == WATCHDOG
    assert verdict.problems == []
    assert report["reset"] == "watchdog"


def test_thirty_sleeps_across_an_outage_are_one_boot_and_lose_nothing(farm: Farm) -> None:
    verdict, boots, stored = farm.result("sleeps")
    assert verdict.problems == []
    assert len(boots) == 1
    assert stored == verdict.rounds >= 31


def test_a_spoilt_flash_loses_what_was_hit_and_says_so(farm: Farm) -> None:
    verdict, kept, report, boots = farm.result("spoilt")
    assert 1 <= len(verdict.missing) <= 2, "nine bytes hit one round, or two that are neighbours"
    assert (
        all(f"round {verdict.missing[0]}" in problem for problem in verdict.problems) or verdict.missing[1:]
    )
    assert kept > 40
    assert 1 <= report["damaged"] <= 400
    assert len(boots) == 2
    assert report["settings"] == checksum({"interval_s": 11}), "the older copy holds"


def test_a_full_flash_keeps_the_newest_and_counts_the_rest(farm: Farm) -> None:
    verdict, waiting, lost, oldest = farm.result("full")
    measured = len(oldest)
    assert lost > 100
    assert verdict.rounds == measured
    assert len(verdict.missing) <= lost, "what is not there was counted"
    assert verdict.missing == oldest[: len(verdict.missing)], "the oldest gave way"
    assert verdict.stored >= waiting


def test_three_hours_without_the_broker_lose_nothing(farm: Farm) -> None:
    verdict, measured = farm.result("hours")
    assert verdict.problems == []
    assert measured >= 350
    assert verdict.stored >= measured


def test_who_must_not_come_in_stays_out_and_keeps_its_readings(farm: Farm) -> None:
    said = farm.result("refused")
    assert {what for what, (_, confirmed) in said.items() if confirmed} == set()
    tried = {what: output for what, (output, _) in said.items() if what != "as another"}
    assert {what for what, output in tried.items() if "connected to" in output} == set()
    assert all("no connection: refused_5" in tried[what] for what in ("password", "user", "anonymous"))
    assert "no connection: refused" not in tried["authority"] + tried["host name"]
    # It is let in by its own name and password, and what it says in another's name reaches nobody.
    assert "connected to" in said["as another"][0]


def test_settings_hold_when_they_are_good_and_change_nothing_when_not(farm: Farm) -> None:
    seen = farm.result("settings")
    assert seen["last"]["refused"]
    assert seen["last"]["settings"] == checksum_of(seen["good"])
    assert seen["board"].problems == []


def test_the_set_up_page_refuses_what_is_no_card_and_takes_the_card(farm: Farm) -> None:
    seen = farm.result("setup_page")
    answers = seen["answers"]
    refused = {what: status for what, (status, _) in answers.items()}
    assert {what for what, status in refused.items() if status == 200} == {"good"}
    assert not any("<script>" in text or "korma-quill-77" in text for _, text in answers.values())
    assert seen["code"] == RESTART
    assert seen["verdict"].problems == []
