"""The board's program as a whole, under MicroPython with a real mosquitto, sixty times faster than time."""

from __future__ import annotations

import base64
import json
import time
from collections.abc import Callable, Iterator
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
from board_farm import QUICK, SPEED, BoardFarm, flash_of, starts_again
from hostile_broker import Authority
from micropython_run import DEEP_SLEEP, PROBE, RESTART, WATCHDOG, Node, run_script
from monitor_stand_in import FIRST_MS, MonitorStandIn

import monitor
from monitor.boards.card import checksum

pytestmark = [pytest.mark.micropython, pytest.mark.mosquitto]


@pytest.fixture
def farm(tmp_path: Path, mosquitto_broker: Any) -> Iterator[BoardFarm]:
    """A broker without passwords, the monitor's stand-in, no board yet."""
    made = BoardFarm(tmp_path, mosquitto_broker)
    yield made
    made.close()


def has(count: int) -> Callable[[MonitorStandIn], bool]:
    return lambda heard: len(heard.packs) >= count


def settings_message(**values: Any) -> str:
    return json.dumps({**values, "sum": checksum(values)})


def test_each_minute_a_pack_dated_by_the_monitor_and_nothing_touches_the_flash(farm: BoardFarm) -> None:
    board = farm.board(interval_s=20).start()
    farm.monitor.wait(has(20))
    board.kill()
    sequences = farm.monitor.sequences()
    packs = [pack for _, pack in sorted(farm.monitor.packs.items())]
    assert sequences == list(range(1, len(sequences) + 1))
    assert all(count == 1 for count in farm.monitor.copies.values())
    assert packs[1]["air_temperature"] == 27.4
    assert packs[1]["substrate_temperature"] == pytest.approx(31.2, abs=0.07)
    assert {pack["ut"] for pack in packs} == {20}
    dated = [pack["at_ms"] for pack in packs if not pack["relative"]]
    assert len(dated) >= len(packs) - 1, "only what was measured before the first answer may count from now"
    assert all(abs(later - at - 20_000) <= 9_000 for at, later in pairwise(dated))
    assert "backlog/00" not in flash_of(board, "[e[0] for e in __import__('os').ilistdir('/flash/backlog')]")
    assert max(ask.get("first", 0) for ask in farm.monitor.asks) > 1, "what is confirmed is asked no more"
    farm.monitor.wait(lambda heard: heard.states == ["online", "offline"])


def test_the_report_says_how_the_board_is(farm: BoardFarm) -> None:
    farm.board(world={"faults": {"sht4x": "silent"}}).start()
    farm.monitor.wait(lambda heard: heard.reports)
    report = farm.monitor.reports[0]
    wanted = ("version", "chip", "reset", "clock", "lost", "damaged", "faults")
    assert {key: report[key] for key in wanted} == {
        "version": monitor.__version__, "chip": "unix", "reset": "power", "clock": "monitor",
        "lost": 0, "damaged": 0, "faults": {"sht4x": "no_answer"},
    }  # fmt: skip
    assert set(report) == {
        "version", "chip", "boot", "reset", "uptime_s", "clock", "waiting", "lost", "damaged", "faults",
        "probes", "rssi_dbm", "heap_bytes", "settings", "refused",
    }  # fmt: skip
    farm.boards[0].write(faults={})
    farm.monitor.wait(lambda heard: heard.reports[-1]["faults"] == {})
    assert len(json.dumps(farm.monitor.reports[-1])) <= 1000


@pytest.mark.slow
def test_an_outage_of_the_broker_loses_nothing_and_doubles_nothing(farm: BoardFarm) -> None:
    farm.board().start()
    farm.monitor.wait(has(3))
    farm.broker.stop()
    time.sleep(6)
    farm.broker.start()
    farm.monitor.wait(lambda heard: heard.sequences()[:11] == list(range(1, 12)))
    times = [farm.monitor.packs[key]["at_ms"] for key in sorted(farm.monitor.packs)[:11]]
    assert all(40_000 <= later - at <= 80_000 for at, later in pairwise(times[1:]))
    farm.monitor.wait(lambda heard: heard.asks[-1].get("first", 0) > 8)


@pytest.mark.slow
def test_a_broker_that_is_killed_and_forgets_gets_everything_again(farm: BoardFarm) -> None:
    """Nothing is deleted before the monitor has confirmed it, whatever the broker acknowledged."""
    farm.monitor.answers = False
    farm.monitor.drop = lambda key: key[1] % 3 == 0
    farm.board().start()
    farm.monitor.wait(has(6))
    farm.broker.kill()
    farm.monitor.drop = lambda _: False
    farm.monitor.answers = True
    farm.broker.start()
    farm.monitor.wait(lambda heard: heard.sequences()[:12] == list(range(1, 13)), 30)


def test_live_rounds_go_out_while_nobody_gives_the_time_and_are_confirmed_later(farm: BoardFarm) -> None:
    farm.monitor.knows_time = False
    farm.board().start()
    farm.monitor.wait(has(4))
    assert all(pack["relative"] for pack in farm.monitor.packs.values())
    assert all(farm.monitor.packs[key]["at_ms"] > FIRST_MS for key in farm.monitor.packs)
    farm.monitor.knows_time = True
    farm.monitor.wait(lambda heard: any(not pack["relative"] for pack in heard.packs.values()))
    count = len(farm.monitor.packs)
    farm.monitor.wait(has(count + 2))
    sequences = farm.monitor.sequences()
    assert sequences == list(range(1, sequences[-1] + 1))


def test_what_was_measured_before_the_time_was_known_is_dated_afterwards(farm: BoardFarm) -> None:
    farm.broker.stop()
    board = farm.board().start()
    time.sleep(5)
    farm.broker.start()
    farm.monitor.wait(has(6))
    board.kill()
    early = sorted(farm.monitor.packs.items())[:4]
    assert not any(pack["relative"] for _, pack in early)
    times = [pack["at_ms"] for _, pack in early]
    # The board's clock runs 60 times faster: 20 s of it are a third of a second of a busy computer.
    assert all(40_000 <= later - at <= 80_000 for at, later in pairwise(times))


@pytest.mark.slow
def test_the_newest_round_does_not_wait_behind_a_backlog(farm: BoardFarm) -> None:
    """With the monitor silent nothing of the backlog goes out, but each new round does."""
    farm.broker.stop()
    farm.board(interval_s=10).start()
    time.sleep(3)
    farm.monitor.answers = False
    farm.broker.start()
    farm.monitor.wait(has(3))
    first = farm.monitor.sequences()[0]
    assert first > 8
    farm.monitor.answers = True
    farm.monitor.wait(lambda heard: heard.sequences()[: first + 2] == list(range(1, first + 3)), 40)


def test_a_pack_that_never_arrives_is_given_up_after_five_sendings_and_counted(farm: BoardFarm) -> None:
    farm.monitor.drop = lambda key: key[1] == 2
    quick = "import sender; sender.SHORT_S = 0; " + QUICK
    farm.board(code=quick, power="battery").start()
    board = farm.boards[0]
    for _ in range(3):
        assert starts_again(board) == DEEP_SLEEP
        board.start()
    farm.monitor.wait(lambda heard: heard.reports[-1]["lost"] == 1)
    (boot,) = {key[0] for key in farm.monitor.packs}
    assert 5 <= farm.monitor.copies[boot, 2] <= 6
    assert {1, 3} <= set(farm.monitor.sequences())


def test_good_settings_hold_at_once_and_over_a_power_cut(farm: BoardFarm) -> None:
    board = farm.board().start()
    farm.monitor.wait(lambda heard: heard.reports)
    wanted = settings_message(interval_s=20, send_every=1, probes={PROBE: "bin-4"}, buzzer=False)
    farm.monitor.publish("node-03/settings", wanted, retain=True)
    is_named = "bin-4/substrate_temperature"
    farm.monitor.wait(lambda heard: [pack for pack in heard.packs.values() if is_named in pack])
    farm.monitor.wait(lambda heard: heard.reports[-1]["settings"] == json.loads(wanted)["sum"])
    assert farm.monitor.reports[-1]["probes"] == {PROBE: "bin-4"}
    count = len(farm.monitor.packs)
    farm.monitor.wait(has(count + 6), 4.0)
    assert [pack["ut"] for _, pack in sorted(farm.monitor.packs.items())][-1] == 20
    farm.monitor.publish("node-03/settings", b"", retain=True)
    board.kill()
    known = set(farm.monitor.packs)
    board.start()
    farm.monitor.wait(lambda heard: set(heard.packs) - known)
    assert all(is_named in farm.monitor.packs[key] for key in set(farm.monitor.packs) - known)


@pytest.mark.parametrize(
    "payload",
    [
        b"{", b"\xff\xfe\x00", b"[]", b"[" * 900, b"x" * 60_000,
        settings_message(interval_s=1).encode(),
        settings_message(interval_s=20, host="203.0.113.7").encode(),
        settings_message(password="other", user="other").encode(),
        settings_message(probes={PROBE: "../x"}).encode(),
        json.dumps({"interval_s": 20, "sum": "00000000"}).encode(),
    ],
    ids=range(10),
)  # fmt: skip
def test_hostile_settings_change_nothing_and_the_report_says_why(farm: BoardFarm, payload: bytes) -> None:
    farm.monitor.publish("node-03/settings", payload, retain=True)
    for topic in ("sounder", "service", "node-03/time"):
        farm.monitor.publish(topic, payload)
    farm.board(world={"faults": {"sht4x": "silent"}}).start()
    farm.monitor.wait(has(3))
    if len(payload) < 2000:
        assert farm.monitor.reports[-1]["refused"] != ""
        assert "other" not in farm.monitor.reports[-1]["refused"]
    assert farm.monitor.reports[-1]["settings"] == ""
    assert {pack["ut"] for pack in farm.monitor.packs.values()} == {60}
    assert farm.boards[0].errors() == ""


def test_a_hang_ends_by_the_watchdog_and_the_next_start_is_a_new_boot(farm: BoardFarm) -> None:
    board = farm.board().start()
    farm.monitor.wait(has(2))
    board.write(faults={"sht4x": "hang"})
    assert starts_again(board) == WATCHDOG
    board.write(faults={})
    board.start()
    farm.monitor.wait(lambda heard: len({key[0] for key in heard.packs}) == 2)
    farm.monitor.wait(lambda heard: heard.reports[-1]["reset"] == "watchdog")
    boots = sorted({key[0] for key in farm.monitor.packs})
    assert farm.monitor.sequences(boots[1])[0] == 1
    assert farm.monitor.sequences(boots[0]) == list(range(1, len(farm.monitor.sequences(boots[0])) + 1))


def test_a_slip_of_the_program_starts_the_board_anew(farm: BoardFarm) -> None:
    broken = "import sensors\nsensors.measure = lambda *_: 1 / 0\nimport main"
    board = farm.board(code=broken).start()
    assert starts_again(board) == RESTART
    assert "ZeroDivisionError" in board.output() + board.errors()


def sleeps(board: Node, count: int) -> None:
    """So many wakes of a board on a battery."""
    for _ in range(count):
        assert starts_again(board) == DEEP_SLEEP
        slept_s = board.slept_ms() / 1000
        assert slept_s <= 10
        time.sleep(slept_s / SPEED)
        board.start()


def test_thirty_wakes_across_an_outage_are_one_boot_and_no_reading_is_lost(farm: BoardFarm) -> None:
    board = farm.board(power="battery", interval_s=10, sensors=("sht4x", "battery")).start()
    sleeps(board, 8)
    farm.broker.stop()
    sleeps(board, 10)
    farm.broker.start()
    sleeps(board, 12)
    board.wait()
    farm.monitor.wait(has(30))
    sequences = farm.monitor.sequences()
    assert sequences[:30] == list(range(1, 31))
    assert max(farm.monitor.copies.values()) == 1
    times = [farm.monitor.packs[key]["at_ms"] for key in sorted(farm.monitor.packs)][1:]
    assert all(later - at >= 9_000 for at, later in pairwise(times))
    assert farm.monitor.states.count("offline") == 0, "a board that sleeps has said good-bye"
    assert {report["reset"] for report in farm.monitor.reports} == {"power"}


def test_a_board_on_a_battery_sends_each_third_time(farm: BoardFarm) -> None:
    board = farm.board(power="battery", interval_s=10, send_every=3, sensors=("sht4x",)).start()
    sleeps(board, 9)
    board.wait()
    assert farm.monitor.sequences() in (list(range(1, 10)), [1])
    assert len(farm.monitor.asks) <= 8
    assert {pack["ut"] for pack in farm.monitor.packs.values()} == {30}


def test_the_sounder_sounds_and_the_board_beeps_when_nobody_watches(farm: BoardFarm) -> None:
    board = farm.board().start()
    farm.monitor.wait(has(1))
    farm.monitor.publish("sounder", "on", retain=True)
    farm.monitor.wait(lambda _: board.log()[-1] == "buzzer on")
    farm.monitor.publish("sounder", "off", retain=True)
    farm.monitor.wait(lambda _: board.log()[-1] == "buzzer off")
    quiet = board.log().count("buzzer on")
    farm.monitor.publish("service", "offline", retain=True)
    time.sleep(4)
    assert board.log().count("buzzer on") == quiet
    time.sleep(3.5)
    beeps = board.log().count("buzzer on") - quiet
    assert 1 <= beeps <= 4
    farm.monitor.publish("service", "online", retain=True)
    time.sleep(0.5)
    heard = board.log().count("buzzer on")
    time.sleep(1.5)
    assert board.log().count("buzzer on") == heard


def test_a_board_without_leave_to_sound_is_quiet(farm: BoardFarm) -> None:
    board = farm.board().start()
    farm.monitor.wait(lambda heard: heard.reports)
    farm.monitor.publish("node-03/settings", settings_message(buzzer=False), retain=True)
    farm.monitor.wait(lambda heard: heard.reports[-1]["settings"])
    farm.monitor.publish("sounder", "on", retain=True)
    count = len(farm.monitor.packs)
    farm.monitor.wait(has(count + 2))
    assert "buzzer on" not in board.log()


def test_the_hosts_of_the_card_are_tried_in_turn(farm: BoardFarm) -> None:
    board = farm.board(hosts=("no-such-name.invalid", "127.0.0.2", "127.0.0.1")).start()
    farm.monitor.wait(has(1), 30)
    assert "no connection: [Errno 111] ECONNREFUSED 127.0.0.2" in board.output()
    assert "connected to 127.0.0.1" in board.output()


def test_wifi_that_is_lost_is_joined_again(farm: BoardFarm) -> None:
    board = farm.board().start()
    farm.monitor.wait(has(2))
    board.write(wifi=False)
    farm.monitor.wait(lambda _: "no connection: no_wifi" in board.output())
    board.write(wifi=True)
    count = len(farm.monitor.packs)
    farm.monitor.wait(has(count + 5))
    sequences = farm.monitor.sequences()
    assert sequences == list(range(1, sequences[-1] + 1))


def test_tls_and_a_password_with_the_card_alone(make_mosquitto: Callable[..., Any], tmp_path: Path) -> None:
    """And a card with another farm's CA: nothing is sent, the board says why on its console."""
    authority = Authority()
    port = make_mosquitto(*authority.save(tmp_path / "tls")).port
    plain = make_mosquitto()
    farm = BoardFarm(tmp_path, plain)
    try:
        ours = farm.board(port=port, ca=base64.b64encode(authority.der).decode()).start()
        other = farm.board(port=port, ca=base64.b64encode(Authority().der).decode()).start()
        farm.monitor.wait(lambda _: "connected to 127.0.0.1" in ours.output())
        farm.monitor.wait(
            lambda _: (
                "no connection: The certificate is not correctly signed by the trusted CA 127.0.0.1"
                in other.output()
            )
        )
        assert "connected" not in other.output()
    finally:
        farm.close()


def test_the_pack_is_senml_that_the_monitor_takes() -> None:
    from monitor.intake.payload import Topics, understand
    from monitor.records import IncomingMessage, NodeMessage

    values = "{'air': '27.4', 'p1/sub': '31.1875', 'moi': '0.4'}"
    text = run_script(f"import sender; print(sender.pack(7, 41, 1790000000, {values}, 60))").strip()
    taken = understand(
        IncomingMessage("rearing/saltbush-yard/node-03/readings", text.encode(), 1_790_000_001_000),
        Topics("saltbush-yard"),
    )
    assert isinstance(taken, NodeMessage)
    assert (taken.boot, taken.sequence) == (7, 41)
    assert {reading.at_ms for reading in taken.readings} == {1_790_000_000_000}
    assert sorted(reading.value for reading in taken.readings) == [0.4, 27.4, 31.1875]


@pytest.mark.slow
def test_what_an_earlier_boot_could_not_date_is_counted_and_what_could_be_is_kept(farm: BoardFarm) -> None:
    """Three power-ons: dated, then two without broker and clock; the last one meets the monitor again."""
    board = farm.board(interval_s=10).start()
    farm.monitor.wait(has(3))
    (first,) = {key[0] for key in farm.monitor.packs}
    farm.broker.stop()
    time.sleep(5)
    board.kill()
    for _ in range(2):
        board.start()
        time.sleep(4)
        board.kill()
    waiting = int(flash_of(board, "b.waiting()"))
    undated = int(flash_of(board, "len([r for r in b.oldest(999) if not r[3]])"))
    assert waiting > undated > 9
    farm.broker.start()
    board.start()
    farm.monitor.wait(lambda heard: heard.reports[-1]["lost"] == undated, 40)
    farm.monitor.wait(lambda heard: len(heard.sequences(first)) >= waiting - undated)
    assert farm.monitor.sequences(first) == list(range(1, len(farm.monitor.sequences(first)) + 1))
    assert not any(pack["relative"] for key, pack in farm.monitor.packs.items() if key[0] == first)
