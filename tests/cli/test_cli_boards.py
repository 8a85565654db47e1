"""`board add`, `card`, `replace`, `remove`, `list`, `files` as a person gives them."""

from __future__ import annotations

import getpass
import json
import os
import signal
import time
from pathlib import Path

import pytest
from command_fixtures import Call
from enrolled_farm import EnrolledFarm, running_farm

from monitor.boards import enrolment, users
from monitor.boards.card import read_card
from monitor.boards.draft import Wanted
from monitor.boards.enrolment import Change, Done, Office
from monitor.cli import boards as commands
from monitor.errors import BrokerRefused
from monitor.records import (
    Batch,
    Flag,
    FlaggedMessage,
    FlaggedReading,
    NodeMessage,
    Reading,
    SensorKey,
    TimeSource,
)
from monitor.store import Store
from monitor.store.meta import BROKER_WAY
from monitor.terminal.context import clock_ms
from monitor.terminal.output import waiting

PLAIN = ("--place", "bin-4", "--sensor", "ds18b20", "--wait", "0")


@pytest.fixture(autouse=True)
def board_farm(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> EnrolledFarm:
    """A farm whose broker does not run; the folder is the present one."""
    monkeypatch.chdir(tmp_path)
    return EnrolledFarm(tmp_path)


def test_a_board_is_added_and_its_card_shown_once(board_farm: EnrolledFarm, call: Call) -> None:
    code, out, err = call("board", "add", "node-03", *PLAIN)
    assert code == 0
    (line,) = [each for each in out.splitlines() if each.startswith("{")]
    card = read_card(line)
    assert card == board_farm.cards()["node-03"]
    assert "node-03 is in the settings (By the door), has a user at the broker and a card." in out
    assert "The monitor does not run, so nobody would hear node-03. Start it: rearing-monitor run" in out
    assert "Start it: sudo systemctl start mosquitto" in err, "a broker that is not there cannot be told"
    assert "The QR code needs" not in out, "no terminal, no picture"


def test_what_is_waited_for_is_said_where_the_broker_takes_its_time(
    call: Call, monkeypatch: pytest.MonkeyPatch
) -> None:
    enrol = Office.enrol

    def slowly(office: Office, change: Change, wanted: Wanted) -> Done:
        time.sleep(0.3)
        return enrol(office, change, wanted)

    waits = "Waiting for the broker at port"
    assert waits not in call("board", "add", "node-03", *PLAIN)[2]
    monkeypatch.setattr(commands, "waiting", lambda text: waiting(text, after_s=0.05))
    monkeypatch.setattr(Office, "enrol", slowly)
    code, out, err = call("board", "replace", "node-03", "--wait", "0", "--json")
    assert code == 0 and waits in err and json.loads(out)
    assert waits in call("board", "remove", "node-03", "--yes")[2]


def test_every_problem_is_said_at_once_and_nothing_is_changed(board_farm: EnrolledFarm, call: Call) -> None:
    before = board_farm.tree()
    code, out, err = call(
        "board", "add", "sounder", "--place", "bin-44", "--sensor", "bme999", "--power", "sun"
    )
    assert code == 2 and out == ""
    assert err.startswith("4 problems, and nothing was changed:")
    assert board_farm.tree() == before


def test_a_terminal_that_is_wide_enough_shows_the_code(call: Call, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(commands, "columns", lambda: 200)
    out = call("board", "add", "node-03", *PLAIN)[1]
    assert out.count("█") > 500 and "Scan it with a phone" in out
    assert "█" not in call("board", "card", "node-03", "--no-qr", "--wait", "0")[1]
    monkeypatch.setattr(commands, "columns", lambda: 80)
    out = call("board", "card", "node-03", "--wait", "0")[1]
    assert "█" not in out and "The QR code needs 1" in out


def test_quiet_and_json_show_no_secret(board_farm: EnrolledFarm, call: Call) -> None:
    code, out, _ = call("board", "add", "node-03", *PLAIN, "--quiet")
    assert (code, out) == (0, "")
    code, out, _ = call("board", "card", "node-03", "--wait", "0", "--json")
    said = json.loads(out)
    assert said["board"] == "node-03" and said["step"] == "stopped" and said["broker_reads_users"] == "wanted"
    assert board_farm.cards()["node-03"].password not in out and "card" not in said
    out = call("board", "card", "node-03", "--wait", "0", "--json", "--with-card")[1]
    assert read_card(json.loads(out)["card"]) == board_farm.cards()["node-03"]


def test_the_password_of_the_wifi_comes_from_a_file_or_is_asked_for(
    board_farm: EnrolledFarm, call: Call, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[str] = []

    def ask(question: str) -> str:
        asked.append(question)
        return "asked for it"

    monkeypatch.setattr(getpass, "getpass", ask)
    secret = board_farm.folder / "wifi-password"
    secret.write_text("wet thumbs 12\n")
    wifi = ("--wifi", "Yard", "--wifi-password-file", str(secret))
    assert call("board", "add", "node-03", *PLAIN, *wifi)[0] == 0
    assert call("board", "add", "node-04", *PLAIN, "--wifi", "Yard")[0] == 0
    assert call("board", "add", "node-05", *PLAIN)[0] == 0
    assert {card.wifi_password for card in board_farm.cards().values()} == {"wet thumbs 12"}
    assert asked == []
    monkeypatch.setattr(commands, "at_terminal", lambda: True)
    assert call("board", "add", "node-06", *PLAIN, "--wifi", "Barn")[0] == 0
    assert asked == ["Password of the Wi-Fi “Barn” (it is not shown): "]
    assert board_farm.cards()["node-06"].wifi_password == "asked for it"
    assert "belongs to a Wi-Fi" in call("board", "add", "n-9", *PLAIN, "--wifi-password-file", str(secret))[2]
    gone = ("--wifi", "Yard", "--wifi-password-file", "none")
    assert "cannot be read" in call("board", "add", "n-9", *PLAIN, *gone)[2]


def test_the_first_board_at_a_terminal_asks_for_the_wifi_once(
    board_farm: EnrolledFarm, call: Call, monkeypatch: pytest.MonkeyPatch
) -> None:
    answers = ["Yard"]
    monkeypatch.setattr(commands, "at_terminal", lambda: True)
    monkeypatch.setattr("builtins.input", lambda: answers.pop())
    monkeypatch.setattr(getpass, "getpass", lambda _: "wet thumbs 12")
    assert call("board", "add", "node-03", "--place", "bin-44", "--sensor", "ds18b20")[0] == 2
    assert answers == ["Yard"], "nothing is asked for what is refused anyway"
    assert call("board", "add", "node-03", *PLAIN)[0] == 0
    assert call("board", "add", "node-04", *PLAIN)[0] == 0
    assert call("board", "card", "node-04", "--wait", "0")[0] == 0
    assert {(card.wifi, card.wifi_password) for card in board_farm.cards().values()} == {
        ("Yard", "wet thumbs 12")
    }


def test_removing_asks_and_names_what_is_unguarded(
    board_farm: EnrolledFarm, call: Call, monkeypatch: pytest.MonkeyPatch
) -> None:
    call("board", "add", "node-03", *PLAIN)
    before = board_farm.tree()
    code, _, err = call("board", "remove", "node-03")
    assert code == 2 and "Without it no board guards By the door." in err and "--yes" in err
    assert board_farm.tree() == before
    monkeypatch.setattr(commands, "at_terminal", lambda: True)
    monkeypatch.setattr("builtins.input", lambda: "n")
    assert call("board", "remove", "node-03")[0] == 2
    monkeypatch.setattr("builtins.input", lambda: "y")
    code, out, _ = call("board", "remove", "node-03")
    assert code == 0 and "node-03 is gone" in out and "By the door is no longer guarded" in out
    assert board_farm.users() == (users.MONITOR,) and board_farm.cards() == {}
    assert "there is no board" in call("board", "remove", "node-03", "--yes")[2]


def test_the_list_says_what_each_board_lacks(call: Call) -> None:
    call("board", "add", "node-03", *PLAIN)
    lines = call("board", "list")[1].splitlines()
    assert lines == [
        "node-03: By the door; not heard yet",
        "Planned in the settings, not there yet: node-01 (room-1)",
        "When you have one: rearing-monitor board add NAME. "
        "One that you will not have: rearing-monitor board remove NAME",
    ]
    listed = json.loads(call("board", "list", "--json")[1])
    assert [each["board"]["name"] for each in listed] == ["node-01", "node-03"]


def test_files_are_copied_and_listed_with_their_sizes(board_farm: EnrolledFarm, call: Call) -> None:
    code, out, _ = call("board", "files", "for-board")
    assert code == 0
    for path in (board_farm.folder / "for-board").iterdir():
        assert f"{path.stat().st_size:>6}  {path.name}" in out
    assert "mpremote cp for-board/* :" in out
    assert call("board", "files", "for-board", "--quiet")[1] == ""
    assert call("board", "files", ".")[0] == 2, "the folder of the farm is not for that"


def test_french(board_farm: EnrolledFarm, call: Call) -> None:
    path = board_farm.path
    path.write_text(path.read_text().replace("time_zone", 'language = "fr"\ntime_zone'))
    out = call("board", "add", "node-03", *PLAIN)[1]
    assert "node-03 est dans les réglages (By the door), a un compte chez le courtier et une fiche." in out


def heard(farm: EnrolledFarm, name: str = "node-03") -> None:
    """The service writes what the board sent."""
    now_ms = clock_ms()
    reading = Reading(SensorKey(name, "", "substrate_temperature"), now_ms, 31.25)
    message = NodeMessage(name, now_ms, (reading,), TimeSource.NODE, boot=1, sequence=1)
    with farm.store() as store:
        flagged = FlaggedMessage(message, (FlaggedReading(reading, Flag.PASS, 31.25),))
        store.commit(Batch(now_ms, messages=(flagged,)))


def running_service(farm: EnrolledFarm, process: int) -> Store:
    """A store that says that a service of this process runs and hears the broker."""
    store = farm.store()
    store.runs.start(clock_ms())
    store.meta.put(BROKER_WAY, "proven")
    store.path.with_name(f"{store.path.name}.lock").write_text(f"{process}\n")
    return store


def test_waiting_ends_when_the_board_is_heard(
    board_farm: EnrolledFarm, call: Call, monkeypatch: pytest.MonkeyPatch
) -> None:
    signals: list[tuple[int, int]] = []
    monkeypatch.setattr(os, "kill", lambda process, number: signals.append((process, number)))
    running_service(board_farm, 4242).close()
    monkeypatch.setattr(time, "sleep", lambda _: heard(board_farm))
    code, out, _ = call("board", "add", "node-03", *PLAIN[:-2], "--sensor", "sht4x")
    assert code == 0
    assert signals == [(4242, signal.SIGHUP)], "the service takes the settings over"
    steps = out[out.index("Waiting. ") :].splitlines()
    assert steps[1:] == [
        "Heard: node-03 sends.",
        "  substrate temperature: 31.2 °C (By the door)",
        "  Expected and not heard yet: air_temperature, air_humidity",
    ]


def test_ctrl_c_ends_the_waiting_alone(
    board_farm: EnrolledFarm, call: Call, monkeypatch: pytest.MonkeyPatch
) -> None:
    def stopped(_: float) -> None:
        raise KeyboardInterrupt

    def not_ours(*_: object) -> None:
        raise PermissionError

    monkeypatch.setattr(os, "kill", not_ours)
    running_service(board_farm, 4242).close()
    monkeypatch.setattr(time, "sleep", stopped)
    code, out, err = call("board", "add", "node-03", *PLAIN[:-1], "60 s")
    assert code == 0 and "see whether it is heard: rearing-monitor board list" in out
    assert "sudo systemctl reload rearing-monitor" in err
    assert "node-03" in board_farm.users()


@pytest.mark.parametrize("wait", ["soon", "-3", "60 parsecs"])
def test_a_wait_that_is_no_length_changes_nothing(board_farm: EnrolledFarm, call: Call, wait: str) -> None:
    before = board_farm.tree()
    assert call("board", "add", "node-03", *PLAIN[:-1], wait)[0] == 2
    assert board_farm.tree() == before


def test_a_board_that_was_removed_is_no_new_board(board_farm: EnrolledFarm, call: Call) -> None:
    call("board", "add", "node-03", *PLAIN)
    heard(board_farm)
    call("board", "remove", "node-03", "--yes")
    assert "node-03" not in call("nodes")[1]
    time.sleep(0.01)
    heard_again = Reading(SensorKey("node-03", "", "substrate_temperature"), clock_ms() + 60_000, 31.25)
    message = NodeMessage("node-03", clock_ms() + 60_000, (heard_again,), TimeSource.NODE, boot=1, sequence=2)
    with board_farm.store() as store:
        flagged = FlaggedMessage(message, (FlaggedReading(heard_again, Flag.PASS, 31.25),))
        store.commit(Batch(clock_ms(), messages=(flagged,)))
    assert "node-03" in call("nodes")[1], "it sends all the same"


@pytest.mark.mosquitto
def test_with_a_real_broker_the_new_board_is_let_in_and_the_removed_one_is_not(
    tmp_path: Path, call: Call, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "real").mkdir()
    monkeypatch.chdir(tmp_path / "real")
    with running_farm(tmp_path / "real") as farm:
        out = call("board", "add", "node-03", *PLAIN)[1]
        assert "The broker has read its users again and lets node-03 in." in out
        card = farm.cards()["node-03"]
        assert call("board", "remove", "node-03", "--yes")[0] == 0
        monkeypatch.setattr(enrolment, "PATIENCE_S", 0.0)
        with pytest.raises(BrokerRefused):
            for _ in range(50):
                enrolment.lets_in(farm.settings, card, farm.broker.ca_file)
