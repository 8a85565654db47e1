"""`broker test` against a real mosquitto: what must be refused is refused, and each hole is found."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from service_farm import farm
from tls_broker import MONITOR_PASSWORD, TlsBroker, made_keys

from monitor.boards import broker_client, broker_files, broker_trial, certificates, users
from monitor.boards.broker_client import Door, Entry, TrialClient, cut_off
from monitor.boards.broker_trial import TRIAL_USERS
from monitor.errors import BrokerUnreachable, UsageError
from monitor.intake.broker_check import Step
from monitor.settings.schema import Settings

pytestmark = pytest.mark.mosquitto
GOOD = [
    "who gives no user name is refused",
    "a wrong password is refused",
    "an unknown user is refused",
    "what is not encrypted is refused",
    "a board that trusts another CA does not speak to this broker",
    "a board that asks for another name does not speak to this broker",
    "what a board sends comes to the monitor",
    "a board's message to itself arrives",
    "what the monitor says to a board arrives",
    "a board that speaks as another board is not heard",
    "a board that speaks as the monitor, or as nobody, is not heard",
    "a board cannot read what another sends",
    "a board cannot throw another off by its client id",
    "the monitor may have a second connection",
]


@pytest.fixture
def broker(tmp_path: Path) -> Iterator[TlsBroker]:
    """A broker with our files; it is started by the test."""
    made = TlsBroker(tmp_path / "broker", "yard")
    yield made
    made.stop()


def settings_of(broker: TlsBroker, /, **keys: Any) -> Settings:
    table = broker.settings()
    table.pop("password_file")
    return farm(broker.folder, broker={**table, "password": MONITOR_PASSWORD, **keys})


def steps(broker: TlsBroker, **keys: Any) -> list[Step]:
    return list(broker_trial.trials(settings_of(broker, **keys), broker.folder / "farm.toml"))


def failed(found: list[Step]) -> str:
    return "\n".join(str(step.said) for step in found if not step.good)


def change(path: Path, old: str, new: str) -> None:
    text = path.read_text()
    assert old in text
    path.write_text(text.replace(old, new))


def test_everything_is_refused_that_must_be_and_the_way_is_open(broker: TlsBroker) -> None:
    broker.start()
    before = {path: path.read_bytes() for path in broker.files.folder.iterdir()}
    found = steps(broker)
    assert failed(found) == ""
    said = "\n".join(str(step.said) for step in found)
    assert [line for line in GOOD if line not in said] == []
    assert len(found) == len(GOOD) + 3, "three of them at both ports"
    assert {path: path.read_bytes() for path in broker.files.folder.iterdir()} == before
    assert _entry(broker, TRIAL_USERS[0]) is Entry.REFUSED


def _entry(broker: TlsBroker, user: str, password: str = "x") -> Entry:
    client = TrialClient(Door("127.0.0.1", broker.monitor_port), "probe", user, password)
    entry = client.connect()
    client.close()
    return entry


def _open_conf(old: str, new: str) -> Callable[[TlsBroker], None]:
    return lambda broker: change(broker.files.conf, old, new)


def _open_access(old: str, new: str) -> Callable[[TlsBroker], None]:
    return lambda broker: change(broker.files.access, old, new)


def _plain(broker: TlsBroker) -> None:
    for line in ("certfile", "keyfile", "tls_version"):
        lines = broker.files.conf.read_text().splitlines()
        kept = [each for each in lines if not each.startswith(line)]
        broker.files.conf.write_text("\n".join(kept) + "\n")


def _other_ca(broker: TlsBroker) -> None:
    other = broker.folder / "other"
    made_keys(other, "yard", (), datetime.now(UTC))
    for name in (certificates.SERVER, certificates.SERVER_KEY):
        (broker.files.folder / name).write_bytes((other / name).read_bytes())


def _unnamed(broker: TlsBroker) -> None:
    certificate, key = certificates.make_server(broker.keys.authority, ["farm-pc.local"])
    from cryptography.hazmat.primitives import serialization

    pem = serialization.Encoding.PEM
    plain, kind = serialization.NoEncryption(), serialization.PrivateFormat.PKCS8
    (broker.files.folder / certificates.SERVER).write_bytes(certificate.public_bytes(pem))
    (broker.files.folder / certificates.SERVER_KEY).write_bytes(key.private_bytes(pem, kind, plain))


HOLES: dict[str, tuple[Callable[[TlsBroker], None], str]] = {
    "anonymous": (
        _open_conf("allow_anonymous false", "allow_anonymous true"),
        "no user name is refused; but it was let",
    ),
    "not encrypted": (_plain, "it does not speak TLS there"),
    "certificate of another CA": (_other_ca, "its certificate is not of the farm's CA"),
    "certificate without our name": (_unnamed, "does not bear the name of the broker"),
    "speaks as another": (
        _open_access("pattern read rearing", "pattern write rearing/yard/+/readings\npattern read rearing"),
        "a board that speaks as another board is not heard; but it is not",
    ),
    "speaks as the monitor": (
        _open_access("pattern read rearing/yard/sounder", "pattern readwrite rearing/yard/sounder"),
        "a board that speaks as the monitor, or as nobody, is not heard; but it is not",
    ),
    "reads everything": (
        _open_access("pattern read rearing/yard/service", "pattern read rearing/yard/#"),
        "a board cannot read what another sends; but it is not",
    ),
    "no rules at all": (
        lambda broker: change(broker.files.conf, f"acl_file {broker.files.access}\n", ""),
        "a board cannot read what another sends; but it is not",
    ),
    "rules of another site": (
        lambda broker: change(broker.files.access, "rearing/yard", "rearing/other"),
        "what a board sends comes to the monitor; but it is not",
    ),
    "boards may not hear": (
        _open_access("pattern readwrite", "pattern write"),
        "what the monitor says to a board arrives; but it is not",
    ),
    "monitor may not hear": (
        _open_access("topic readwrite rearing", "topic write rearing"),
        "what a board sends comes to the monitor; but it is not",
    ),
    "client ids are free": (
        _open_conf("use_username_as_clientid true", ""),
        "throw another off by its client id; but it is not",
    ),
    "the monitor is thrown off": (
        _open_conf("# Boards, encrypted", "use_username_as_clientid true\n# Boards"),
        "the monitor may have a second connection; but it is not. To mend: take use_username_as",
    ),
}  # fmt: skip


@pytest.mark.parametrize("hole", HOLES)
def test_each_hole_is_found_and_named_and_no_trace_stays(
    broker: TlsBroker, monkeypatch: pytest.MonkeyPatch, hole: str
) -> None:
    monkeypatch.setattr(broker_client, "DELIVERY_S", 0.5)
    open_it, said = HOLES[hole]
    open_it(broker)
    broker.start()
    before = broker.files.users.read_bytes()
    found = failed(steps(broker))
    assert said in found
    assert "To mend: " in found
    assert broker.files.users.read_bytes() == before


def test_a_broker_that_is_not_there_or_is_another_is_said(broker: TlsBroker) -> None:
    with pytest.raises(
        BrokerUnreachable, match=r"nothing listens at 127.0.0.1:\d+\. To mend: start mosquitto"
    ):
        steps(broker)
    broker.start()
    number = (broker.files.etc / "mosquitto.pid").read_text()
    (broker.files.etc / "mosquitto.pid").write_text("1\n")
    with pytest.raises(UsageError, match=r"may not tell mosquitto.*with sudo.*--reload-unit"):
        steps(broker)
    (broker.files.etc / "mosquitto.pid").write_text(number)
    before = broker.files.users.read_bytes()
    assert "nothing listens there" in failed(steps(broker, boards_port=1))
    with pytest.raises(BrokerUnreachable, match=r"nothing listens at 127.0.0.1:1\b"):
        steps(broker, port=1)
    for keys in ({"files": None}, {"username": None}):
        with pytest.raises(UsageError, match="do not name the broker's files"):
            steps(broker, **keys)
    with pytest.raises(UsageError, match="has no rules for each board"):
        steps(broker, embedded=True)
    assert broker.files.users.read_bytes() == before


def test_a_broker_that_does_not_take_new_users_is_said(
    broker: TlsBroker, monkeypatch: pytest.MonkeyPatch
) -> None:
    broker.start()
    monkeypatch.setattr(broker_trial, "RELOAD_S", 0.3)
    monkeypatch.setattr(broker_files, "reload", lambda *_: broker_files.Reload.BY_UNIT)
    assert "does not let in a user that was just added. To mend: kill -HUP" in failed(steps(broker))


def test_files_of_another_site_are_left_alone(broker: TlsBroker) -> None:
    broker.start()
    change(broker.files.access, "the site yard", "the site other-yard")
    with pytest.raises(UsageError, match="access belongs to another site"):
        steps(broker)


@pytest.mark.parametrize("number", [signal.SIGKILL, signal.SIGINT, signal.SIGTERM, signal.SIGHUP])
def test_a_trial_that_ends_in_the_middle_leaves_nothing_for_long(
    broker: TlsBroker, number: signal.Signals
) -> None:
    broker.start()
    before = broker.files.users.read_bytes()
    program = (
        "import signal, sys, time; from pathlib import Path; from monitor.boards import broker_trial as t;"
        "from monitor.boards.broker_files import BrokerFiles; from service_farm import farm\n"
        # Whatever started the tests may have it ignored, as a shell does for what runs behind it.
        "signal.signal(signal.SIGINT, signal.default_int_handler)\n"
        "with t.trial_users(BrokerFiles(Path(sys.argv[1])), farm(Path(sys.argv[1]))):\n"
        "    print('in the middle', flush=True); time.sleep(60)\n"
    )
    paths = os.pathsep.join([str(Path(broker_trial.__file__).parents[2]), *sys.path])
    child = subprocess.Popen(
        [sys.executable, "-c", program, str(broker.files.etc)],
        stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, env={**os.environ, "PYTHONPATH": paths},
    )  # fmt: skip
    assert child.stdout is not None
    assert child.stdout.readline() == b"in the middle\n"
    assert set(TRIAL_USERS) <= set(broker_files.user_names(broker.files))
    child.send_signal(number)
    child.wait(10)
    child.stdout.close()
    if number == signal.SIGKILL:
        assert set(TRIAL_USERS) <= set(broker_files.user_names(broker.files))
        broker_trial.remove_trial_users(broker.files)
    assert broker.files.users.read_bytes() == before


@pytest.mark.parametrize("how", ["removed", "new password"])
def test_the_open_connection_of_a_removed_board_ends_and_those_of_others_stay(
    broker: TlsBroker, how: str
) -> None:
    broker.start()
    settings = settings_of(broker).broker
    passwords = {name: broker.add_user(name) for name in ("node-03", "node-04")}
    trust = _trust(broker)
    door = Door("127.0.0.1", broker.boards_port, trust, certificates.BROKER_NAME)
    stolen, other = (TrialClient(door, "any", name, password) for name, password in passwords.items())
    monitor = TrialClient(Door.of_monitor(settings), "rearing-monitor", users.MONITOR, MONITOR_PASSWORD)
    assert [client.connect() for client in (stolen, other, monitor)] == [Entry.LET_IN] * 3
    if how == "removed":
        broker.remove_user("node-03")
    else:
        broker_files.replace(broker.files, "node-03", "another-one")
        broker_files.reload(broker.files)
    assert cut_off(settings, "node-03", 0.3)
    assert not stolen.is_connected()
    assert stolen.connect() is Entry.REFUSED
    assert other.is_connected()
    assert monitor.is_connected()
    for client in (other, monitor):
        client.close()


def _trust(broker: TlsBroker) -> Any:
    import ssl

    return ssl.create_default_context(cafile=str(broker.ca_file))


def test_a_board_whose_user_is_still_there_comes_back_and_that_is_said(
    broker: TlsBroker, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(broker_client, "MOST_TAKEOVERS", 2)
    broker.start()
    settings = settings_of(broker).broker
    password = broker.add_user("node-03")
    script = [
        "mosquitto_sub",
        "-h",
        "127.0.0.1",
        "-p",
        str(broker.boards_port),
        "--cafile",
        str(broker.ca_file),
    ]
    login = ["-u", "node-03", "-P", password, "-t", "rearing/yard/node-03/#"]
    board = subprocess.Popen([*script, *login], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    try:
        time.sleep(0.3)
        assert not cut_off(settings, "node-03", 1.5), "mosquitto_sub comes again after a second"
    finally:
        board.terminate()
        board.wait(10)
    assert not cut_off(settings_of(broker, password="wrong").broker, "node-03", 0.1)


def test_a_password_of_the_monitor_that_the_broker_does_not_have_is_named(broker: TlsBroker) -> None:
    broker.start()
    said = failed(steps(broker, password="wrong"))
    assert "the monitor itself (rearing-monitor) is refused" in said and "fell silent" not in said
