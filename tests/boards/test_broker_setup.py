"""`broker setup` as a person gives it: what it writes, what it refuses, and that it is written whole or not.

Each farm lies in a folder of its own, with a configuration of mosquitto like Debian's and free ports.
"""

from __future__ import annotations

import grp
import os
import pwd
import shutil
import socket
import stat
import subprocess
import tempfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

import pytest
from command_fixtures import Call, call
from cryptography import x509
from tls_broker import free_port, mosquitto_path, run_mosquitto, said_by, write_main_configuration

from monitor.boards import broker_files, broker_setup, certificates, users
from monitor.boards.broker_config import Program
from monitor.boards.broker_files import BrokerFiles
from monitor.settings.loading import load
from monitor.settings.template import Counts, FarmPlan, farm_tables, render
from monitor.settings.writing import NewFile, write_all
from monitor.terminal.context import wait_until

__all__ = ["call"]
pytestmark = pytest.mark.mosquitto
IS_ROOT = os.geteuid() == 0
OWNER = (65534, 65534) if IS_ROOT else (os.getuid(), os.getgid())
"""To whom the settings belong: with root somebody else, as on a real computer."""
OWN = '[site]\nid = "sand-hill"\ntitle = "Sand Hill"\ntime_zone = "Africa/Gaborone"\n'


@dataclass
class Yard:
    """A farm as `init` writes it, and a mosquitto that was just installed."""

    folder: Path
    call: Call
    running: list[subprocess.Popen[bytes]] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.settings = self.folder / "farm.toml"
        self.files = BrokerFiles(self.folder / "mosquitto")
        self.port, self.boards_port = free_port(), free_port()
        plan = FarmPlan("Sand Hill", "Africa/Gaborone", counts=Counts(rooms=1))
        self.settings.write_text(render(farm_tables(plan)))
        write_main_configuration(self.files)

    def setup(self, *options: str) -> tuple[int, str]:
        """The command; gives its exit code and all that it said."""
        ports = ["--port", str(self.port), "--boards-port", str(self.boards_port)]
        where = ["--config", str(self.settings), "--etc", str(self.files.etc)]
        code, out, err = self.call("broker", "setup", *where, *ports, *options)
        return code, out + err

    def test(self, *options: str) -> tuple[int, str]:
        """`broker test`; gives its exit code and all that it said."""
        code, out, err = self.call("broker", "test", "--config", str(self.settings), *options)
        return code, out + err

    def start(self) -> None:
        """Start the broker."""
        self.running.append(run_mosquitto(self.files, self.port, self.boards_port))

    def stop(self) -> None:
        """End it."""
        for process in self.running:
            process.terminate()
            process.wait(10)
        self.running.clear()

    def contents(self) -> dict[str, bytes]:
        """Every file that the command may touch."""
        paths = (path for path in self.folder.rglob("*") if path.is_file())
        noise = ("mosquitto.log", "output", "mosquitto.pid", "mosquitto.db")
        return {str(p.relative_to(self.folder)): p.read_bytes() for p in paths if p.name not in noise}


@pytest.fixture
def yard(tmp_path: Path, call: Call, monkeypatch: pytest.MonkeyPatch) -> Iterator[Yard]:
    """A farm and a mosquitto without our files."""
    mosquitto_path()
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("REARING_CONFIG", raising=False)
    monkeypatch.setattr(certificates, "own_names", lambda: ("farm-pc.local", "192.168.1.20"))
    made = Yard(tmp_path, call)
    yield made
    made.stop()


def mode(path: Path) -> int:
    return stat.S_IMODE(path.stat().st_mode)


def test_from_an_empty_folder_to_a_broker_that_is_proven(yard: Yard) -> None:
    before = yard.settings.read_text()
    code, said = yard.setup("--yes")
    assert code == 0, said
    assert "certificate bears: rearing-broker, farm-pc.local, 192.168.1.20, localhost, 127.0.0.1" in said
    for what in ("Keep a copy of that folder", "rearing-monitor broker test", "rearing-monitor board add"):
        assert what in said
    yard.start()
    assert "Error" not in said_by(yard.files)
    code, said = yard.test()
    assert code == 0, said
    assert "The broker keeps boards apart, and they are heard." in said

    broker = load(yard.settings).broker
    assert (broker.embedded, broker.host, broker.port) == (False, "127.0.0.1", yard.port)
    assert (broker.username, broker.boards_port, broker.files) == (
        "rearing-monitor", yard.boards_port, yard.files.folder,
    )  # fmt: skip
    assert (yard.folder / "farm.toml.backup").read_text() == before
    comments = [line for line in before.splitlines() if line.startswith("# ") and " = " not in line]
    assert [line for line in yard.settings.read_text().splitlines() if line in comments] == comments
    secret = yard.folder / "secrets" / "broker-password"
    assert (mode(secret), mode(yard.folder / "boards")) == (0o600, 0o700)
    assert {path.name: mode(path) for path in yard.files.folder.iterdir()} == dict.fromkeys(
        ("users", "access", "server.pem", "server.key"), 416
    )
    assert secret.read_text().strip() not in said + yard.settings.read_text() + said_by(yard.files)


def test_given_again_it_changes_nothing_and_mends_what_is_missing(yard: Yard) -> None:
    yard.setup("--yes")
    broker_files.add(yard.files, "node-03", "x")
    before = yard.contents()
    assert yard.setup("--yes") == (0, "The broker's files are as they should be; nothing was changed.\n")
    assert yard.contents() == before
    yard.files.access.unlink()
    yard.files.conf.write_text(yard.files.conf.read_text().replace("allow_anonymous false", ""))
    (yard.files.folder / "server.key").chmod(0o600)
    code, said = yard.setup("--yes")
    assert code == 0
    written = [line.strip() for line in said.splitlines() if line.startswith("  ")]
    assert {Path(line).name for line in written} == {"access", "rearing.conf", "server.key"}
    after = yard.contents()
    assert {name: data for name, data in after.items() if not name.endswith(".backup")} == {
        name: data for name, data in before.items() if not name.endswith(".backup")
    }
    assert b"allow_anonymous" not in after["mosquitto/conf.d/rearing.conf.backup"]


def test_a_changed_address_renews_the_certificate_while_the_broker_runs(
    yard: Yard, monkeypatch: pytest.MonkeyPatch
) -> None:
    yard.setup("--yes")
    yard.start()
    ca = (yard.folder / "boards" / "ca.pem").read_bytes()
    monkeypatch.setattr(certificates, "own_names", lambda: ("farm-pc.local", "192.168.7.4"))
    code, said = yard.setup("--yes")
    assert code == 0
    assert "192.168.7.4" in said
    assert "mosquitto -c" not in said, "it was told to read it again, and needs no restart"
    assert (yard.folder / "boards" / "ca.pem").read_bytes() == ca
    wanted = {"192.168.7.4", "rearing-broker"}
    assert wait_until(lambda: wanted <= certificates.names_of(_served(yard.boards_port)), 5)
    assert yard.test("--quiet") == (0, "")


def _served(port: int) -> x509.Certificate:
    import ssl

    context = ssl.create_default_context()
    context.check_hostname, context.verify_mode = False, ssl.CERT_NONE
    with socket.create_connection(("127.0.0.1", port), 5) as plain, context.wrap_socket(plain) as encrypted:
        der = encrypted.getpeercert(binary_form=True)
    assert der is not None
    return x509.load_der_x509_certificate(der)


def test_a_new_ca_on_demand_alone_and_the_old_one_is_kept(yard: Yard) -> None:
    yard.setup("--yes")
    yard.start()
    old = (yard.folder / "boards" / "ca.pem").read_bytes()
    (yard.folder / "boards" / "cards").mkdir()
    code, said = yard.setup("--yes", "--new-ca")
    assert code == 0
    assert "Every card that was made before is void" in said
    assert (yard.folder / "boards" / "ca.pem").read_bytes() != old
    assert (yard.folder / "boards" / "ca.pem.backup").read_bytes() == old
    assert mode(yard.folder / "boards" / "ca.key.backup") == 0o600
    assert yard.test("-q") == (0, ""), said_by(yard.files)
    assert yard.setup("--yes")[1].startswith("The broker's files are as they should be")


def test_names_by_option_come_first_and_stand_in_the_settings(yard: Yard) -> None:
    code, said = yard.setup("--yes", "--name", "barn.lan", "--name", "10.0.0.7")
    assert code == 0
    assert "bears: rearing-broker, barn.lan, 10.0.0.7, farm-pc.local, 192.168.1.20" in said
    assert load(yard.settings).broker.boards_hosts == ("barn.lan", "10.0.0.7")
    assert yard.setup()[1].startswith("The broker's files are as they should be")
    code, said = yard.setup("--yes", "--name", "barn lan")
    assert (code, '"barn lan" is no name or address' in said) == (2, True)


def test_a_dry_run_and_a_missing_yes_write_nothing(yard: Yard) -> None:
    before = yard.contents()
    code, said = yard.setup("--dry-run")
    assert code == 0
    assert str(yard.files.conf) in said
    assert "Nothing was written" in said
    code, said = yard.setup()
    assert (code, "give the command again with --yes" in said) == (2, True)
    assert yard.contents() == before
    assert not (yard.folder / "boards").exists()
    assert not yard.files.folder.exists()


def test_a_no_at_the_terminal_writes_nothing(yard: Yard, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("monitor.cli.doors.at_terminal", lambda: True)
    answers = iter(["n", "y"])
    monkeypatch.setattr("builtins.input", lambda: next(answers))
    before = yard.contents()
    assert yard.setup()[0] == 2
    assert yard.contents() == before
    assert yard.setup()[0] == 0
    assert yard.files.conf.exists()


def test_a_broker_of_another_computer_is_not_left_without_a_word(yard: Yard) -> None:
    yard.settings.write_text(OWN + '[broker]\nhost = "192.168.1.9"\n')
    code, said = yard.setup("--dry-run")
    assert code == 0
    assert "the settings name a broker on another computer, 192.168.1.9" in said


def test_tls_to_the_own_computer_goes_even_where_nothing_else_changes(yard: Yard) -> None:
    yard.setup("--yes")
    text = yard.settings.read_text()
    yard.settings.write_text(text.replace("\n[broker]\n", "\n[broker]\ntls = true\n"))
    code, said = yard.setup("--yes")
    assert code == 0
    assert "[broker] -tls" in said
    assert yard.settings.read_text() == text


def test_a_password_of_the_farms_own_user_is_kept(yard: Yard) -> None:
    secret = yard.folder / "own-password"
    secret.touch(mode=0o600)
    secret.write_text("wet bran 7\n")
    text = OWN + '[broker]\nhost = "old"\nusername = "anna"\npassword_file = "own-password"\n'
    yard.settings.write_text(text + "# after\n[page]\nenabled = false\n")
    assert yard.setup("--yes")[0] == 0
    (line,) = [each for each in yard.files.users.read_text().splitlines() if each.startswith("anna:")]
    assert users.matches(line, "wet bran 7")
    assert "user anna\n" in yard.files.access.read_text()
    broker = load(yard.settings).broker
    assert (broker.host, broker.username) == ("127.0.0.1", "anna")
    assert not (yard.folder / "secrets").exists()
    yard.start()
    assert yard.test("-q") == (0, ""), said_by(yard.files)


@pytest.mark.parametrize(
    "table",
    [
        '[broker]\nusername = "anna"\npassword_env = "NOT_SET"\ntls = true\n',
        '[broker] # own\nusername = "anna"\npassword = "x"\n',
        'broker = { username = "anna", password_env = "NOT_SET" }\n',
        'broker.username = "anna"\nbroker.password_env = "NOT_SET"\n',
        "",
    ],
)
def test_a_password_that_stood_elsewhere_gets_a_file(yard: Yard, table: str) -> None:
    """Root does not have the environment of the service."""
    yard.settings.write_text(table + OWN if table.startswith("broker") else OWN + table)
    code, said = yard.setup("--yes")
    assert code == 0, said
    broker = load(yard.settings).broker
    assert broker.password is not None
    assert broker.password.get_secret_value() == (yard.folder / "secrets/broker-password").read_text().strip()
    assert broker.tls is False
    assert "password_env" not in yard.settings.read_text()
    assert ("-tls" in said) == ("tls = true" in table)
    assert yard.setup("--yes")[1].startswith("The broker's files are as they should be")


def _append(path: Path, text: str) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    with path.open("a") as file:
        file.write(text + "\n")


def _spoil_ca(yard: Yard) -> None:
    yard.folder.joinpath("boards").mkdir()
    _append(yard.folder / "boards" / "ca.pem", "rubbish")
    _append(yard.folder / "boards" / "ca.key", "rubbish")


REFUSED: dict[str, tuple[Callable[[Yard], object], tuple[str, ...]]] = {
    "a listener of somebody else": (
        lambda yard: _append(yard.files.conf.parent / "own.conf", "# mine\nlistener 1884"),
        ("own.conf:2 has lines", "(`listener 1884`)", "sudo mv", "own.conf.off"),
    ),
    "a password file of somebody else": (
        lambda yard: _append(yard.files.main, "password_file /etc/mosquitto/passwd"),
        (
            "mosquitto.conf:",
            "`password_file /etc/mosquitto/passwd`",
            "put a # before each; lines of its users",
        ),
    ),
    "an open door": (
        lambda yard: _append(yard.files.conf.parent / "own.conf", "allow_anonymous true"),
        ("own.conf:1 has lines", "`allow_anonymous true`"),
    ),
    "a broker that forgets": (
        lambda yard: yard.files.main.write_text(
            yard.files.main.read_text().replace("persistence true", "persistence false")
        ),
        ("says `persistence false`", "put a # before that line"),
    ),
    "our place taken": (
        lambda yard: _append(yard.files.conf, "listener 1883"),
        ("rearing.conf was not written by this program", "sudo mv"),
    ),
    "users of somebody else": (
        lambda yard: _append(yard.files.users, "anna:$7$101$AAAA$AAAA"),
        ("users was not written by this program",),
    ),
    "another site": (
        lambda yard: _append(yard.files.access, broker_files.marker("access rules", "other-yard")),
        ('serves the site "other-yard" already', 'yours is "sand-hill"'),
    ),
    "what the README of before wrote": (
        lambda yard: _append(
            yard.files.conf.parent / "farm.conf",
            "listener 1883\npassword_file /etc/mosquitto/farm.passwords\nacl_file /etc/mosquitto/farm.rules",
        ),
        ("farm.conf:1 has lines", "(`listener 1883`, `password_file", "rearing/users afterwards"),
    ),
    "no include": (
        lambda yard: yard.files.main.write_text("persistence true\n"),
        ("does not read the folder", "add the line `include_dir "),
    ),
    "no configuration": (
        lambda yard: yard.files.main.unlink(),
        ("mosquitto.conf is not there. To mend: sudo apt install mosquitto", "--etc"),
    ),
    "a CA that is none": (_spoil_ca, ("ca.pem is not a certificate", "--new-ca")),
}


@pytest.mark.parametrize("what", REFUSED)
def test_what_stands_against_it_is_said_with_the_way_to_mend_it(yard: Yard, what: str) -> None:
    spoil, said_parts = REFUSED[what]
    spoil(yard)
    before = yard.contents()
    code, said = yard.setup("--yes")
    assert code == 2
    assert [part for part in said_parts if part not in said] == []
    assert "To mend: " in said
    assert yard.contents() == before


def test_all_that_stands_against_it_is_said_at_once(yard: Yard) -> None:
    for what in ("a listener of somebody else", "another site", "a CA that is none"):
        REFUSED[what][0](yard)
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", yard.port))
        taken.listen()
        _, said = yard.setup("--yes")
    assert f"port {yard.port} is in use by " in said
    assert f"(process {os.getpid()})" in said
    for part in ("own.conf:2", "other-yard", "--new-ca", "--port or --boards-port"):
        assert part in said


def test_the_ports_of_this_very_broker_are_no_reason(yard: Yard) -> None:
    yard.setup("--yes")
    yard.start()
    yard.files.access.unlink()
    assert yard.setup("--yes")[0] == 0
    yard.boards_port = free_port()
    assert yard.setup("--yes")[0] == 0


def test_the_monitors_own_broker_is_named(yard: Yard) -> None:
    text = OWN + f"[broker]\nembedded = true\nport = {yard.port}\n"
    yard.settings.write_text(text)
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", yard.port))
        taken.listen()
        code, said = yard.setup("--yes")
    assert code == 2
    assert "in use by the monitor's own small broker. To mend: stop the monitor first" in said


@pytest.mark.parametrize(
    ("says", "found"),
    [
        ("mosquitto version 1.6.12", "mosquitto 1.6.12 is too old"),
        ("hello", "does not say which version of mosquitto it is"),
        ("", "does not say which version of mosquitto it is"),
    ],
)
def test_another_mosquitto(
    yard: Yard, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, says: str, found: str
) -> None:
    program = tmp_path / "bin" / "mosquitto"
    program.parent.mkdir()
    program.write_text(f"#!/bin/sh\necho '{says}'\n")
    program.chmod(0o755)
    monkeypatch.setenv("PATH", str(program.parent))
    before = yard.contents()
    code, said = yard.setup("--yes")
    assert (code, found in said) == (2, True)
    assert yard.contents() == before
    monkeypatch.setattr("monitor.boards.broker_config.FOLDERS", ())
    monkeypatch.setenv("PATH", "/nowhere")
    assert "mosquitto is not installed. To mend: sudo apt install mosquitto" in yard.setup("--yes")[1]


def test_a_newer_mosquitto_is_tried_on_other_ports_and_said(
    yard: Yard, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    program = tmp_path / "bin" / "mosquitto"
    program.parent.mkdir()
    real = mosquitto_path()
    program.write_text(
        f'#!/bin/sh\n[ "$1" = -h ] && echo "mosquitto version 2.9.1" && exit\nexec {real} "$@"\n'
    )
    program.chmod(0o755)
    monkeypatch.setenv("PATH", f"{program.parent}:{os.environ['PATH']}")
    code, said = yard.setup("--yes")
    assert (code, "mosquitto 2.9.1 was never tried with this program" in said) == (0, True)


def test_a_mosquitto_that_does_not_understand_our_lines_is_said_with_its_own_words(
    yard: Yard, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(broker_files, "CONF", broker_files.CONF + "new_fashion true\n")
    before = yard.contents()
    code, said = yard.setup("--yes")
    assert code == 2
    assert "does not start with our files: " in said
    assert "new_fashion" in said
    assert yard.contents() == before


def test_without_the_rights_it_says_the_whole_command_for_root(
    yard: Yard, monkeypatch: pytest.MonkeyPatch
) -> None:
    yard.files.conf.parent.chmod(0o555)
    really = os.access

    def access(path: Path, wanted: int) -> bool:
        return Path(path) != yard.files.conf.parent and really(path, wanted)

    monkeypatch.setattr(os, "access", access)
    program = yard.folder / "rearing-monitor"
    program.touch()
    monkeypatch.setattr("sys.argv", [str(program), "broker", "setup", "--yes", "--etc", str(yard.files.etc)])
    before = yard.contents()
    code, said = yard.setup("--yes")
    assert code == 2
    assert f"you may not write in {yard.files.conf.parent}; nothing was written" in said
    assert f"sudo {program} broker setup --yes --etc {yard.files.etc} --config {yard.settings}" in said
    assert yard.contents() == before


@pytest.mark.parametrize("fails_at", [1, 2, 3, 6, 11, 12])
def test_a_disk_that_fills_up_leaves_everything_as_it_was(
    yard: Yard, monkeypatch: pytest.MonkeyPatch, fails_at: int
) -> None:
    before = yard.contents()
    rename, done = Path.replace, [0]

    def full(own: Path, target: Path) -> Path:
        done[0] += target.is_relative_to(yard.folder)
        if done[0] == fails_at and target.is_relative_to(yard.folder):
            raise OSError(28, "No space left on device", str(target))
        return rename(own, target)

    monkeypatch.setattr(Path, "replace", full)
    code, said = yard.setup("--yes")
    assert (code, "No space left on device; nothing was changed" in said) == (2, True)
    monkeypatch.undo()
    left = {name for name in yard.contents() if not name.endswith(".backup")}
    assert {name: data for name, data in yard.contents().items() if name in left} == before
    assert not (yard.folder / "boards").exists()
    assert not (yard.folder / "secrets").exists()


def test_settings_that_would_be_wrong_are_not_written(yard: Yard, monkeypatch: pytest.MonkeyPatch) -> None:
    before = yard.contents()
    monkeypatch.setattr(broker_setup, "LOOPBACK", "")
    code, said = yard.setup("--yes")
    assert (code, "broker.host" in said) == (2, True)
    assert yard.contents() == before


def test_persistence_is_given_where_nobody_gives_it(yard: Yard) -> None:
    text = yard.files.main.read_text()
    kept = [line for line in text.splitlines() if not line.startswith("persistence")]
    yard.files.main.write_text(
        "\n".join([*kept, "autosave_interval 600", "max_queued_messages 200000"]) + "\n"
    )
    code, said = yard.setup("--yes")
    assert code == 0
    lines = yard.files.conf.read_text().splitlines()
    assert {"persistence true", "persistence_location /var/lib/mosquitto/"} <= set(lines)
    assert "autosave_interval 1" not in lines
    assert "says `autosave_interval 600`; `autosave_interval 1` would keep more" in said
    assert "max_queued" not in said


def test_rules_for_each_listener(yard: Yard) -> None:
    _append(yard.files.conf.parent / "a.conf", "per_listener_settings true")
    assert yard.setup("--yes")[0] == 0
    yard.start()
    assert yard.test("-q") == (0, ""), said_by(yard.files)


def test_the_unit_that_reloads(yard: Yard) -> None:
    units = yard.folder / "units"
    units.mkdir()
    code, said = yard.setup("--yes", "--reload-unit", "--units", str(units))
    assert code == 0
    assert "sudo systemctl enable --now rearing-broker-reload.path" in said
    watched = (units / "rearing-broker-reload.path").read_text()
    assert f"PathChanged={yard.files.users}\n" in watched
    assert "systemctl reload mosquitto" in (units / "rearing-broker-reload.service").read_text()
    assert broker_files.reload(yard.files, units) is broker_files.Reload.BY_UNIT


def test_root_tells_mosquitto_itself(yard: Yard, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """There is no systemd here: a stand-in notes what it was asked for."""
    program, asked = tmp_path / "bin" / "systemctl", tmp_path / "asked"
    program.parent.mkdir()
    program.write_text(f'#!/bin/sh\necho "$@" >> {asked}\n')
    program.chmod(0o755)
    monkeypatch.setenv("PATH", f"{program.parent}:{os.environ['PATH']}")
    monkeypatch.setattr(broker_setup, "is_root", lambda: True)
    monkeypatch.setattr(broker_setup, "ETC", yard.files.etc)
    monkeypatch.setattr(broker_setup, "group_number", lambda: None)
    _, said = yard.setup("--yes")
    assert "mosquitto was told and runs with the new files" in said
    yard.setup("--yes", "--name", "barn.lan")
    assert asked.read_text() == "restart mosquitto\nreload mosquitto\n"


def test_what_root_writes_belongs_to_the_owner_of_the_settings(yard: Yard) -> None:
    for path in (yard.folder, yard.settings):
        os.chown(path, *OWNER)
    assert yard.setup("--yes")[0] == 0
    ours = [yard.settings, yard.folder / "boards", *(yard.folder / "boards").iterdir()]
    ours += [yard.folder / "secrets" / "broker-password", yard.files.folder, *yard.files.folder.iterdir()]
    assert {path.stat().st_uid for path in ours} == {OWNER[0]}
    assert yard.files.conf.stat().st_uid == os.getuid()


@pytest.fixture
def system_yard(call: Call, monkeypatch: pytest.MonkeyPatch) -> Iterator[Yard]:
    """As on a real computer: root sets up, mosquitto reads as a user of its own. Without root: as we are."""
    monkeypatch.delenv("REARING_CONFIG", raising=False)
    with tempfile.TemporaryDirectory() as name:
        Path(name).chmod(0o755)
        yard = Yard(Path(name), call)
        main = yard.files.main.read_text().replace("user root\n", "")
        yard.files.main.write_text(main)
        if IS_ROOT:
            for path in (yard.files.etc, yard.files.etc / "data"):
                shutil.chown(path, "mosquitto", "mosquitto")
        for path in (yard.folder, yard.settings):
            os.chown(path, *OWNER)
        yield yard
        yard.stop()


def test_mosquitto_reads_its_files_as_its_own_user_and_nobody_else_does(system_yard: Yard) -> None:
    yard = system_yard
    assert yard.setup("--yes")[0] == 0
    group = grp.getgrnam("mosquitto").gr_gid if IS_ROOT else OWNER[1]
    for path in (yard.files.folder, *yard.files.folder.iterdir()):
        facts = path.stat()
        assert (facts.st_uid, facts.st_gid, facts.st_mode & 0o007) == (OWNER[0], group, 0), path
    yard.start()
    status = Path(f"/proc/{yard.running[0].pid}/status").read_text()
    user = pwd.getpwnam("mosquitto").pw_uid if IS_ROOT else OWNER[0]
    assert f"Uid:\t{user}\t" in status, "it has given up the rights of root"
    assert yard.test("-q") == (0, ""), said_by(yard.files)
    for path in yard.files.folder.iterdir():
        assert (path.stat().st_uid, path.stat().st_gid) == (OWNER[0], group), f"{path} after a trial by root"
    (yard.files.folder / "users").chmod(0o600)
    assert "users" in yard.setup("--yes")[1], "what mosquitto cannot read is mended"
    assert mode(yard.files.users) == 0o640
    if IS_ROOT:
        os.chown(yard.files.access, OWNER[0], 0)
        assert "access" in yard.setup("--yes")[1]
        assert yard.files.access.stat().st_gid == group


def test_a_part_of_several_files_that_cannot_be_written_takes_all_back(tmp_path: Path) -> None:
    (tmp_path / "a").write_text("old")
    wanted = [NewFile(tmp_path / "a", b"new", 0o644), NewFile(tmp_path / "no" / "b", b"new", 0o644)]
    with pytest.raises(OSError, match="No such file"):
        write_all(wanted)
    assert (tmp_path / "a").read_text() == "old"
    assert [path.name for path in tmp_path.iterdir()] == ["a"]


def test_program_versions_are_shown_as_people_write_them() -> None:
    assert Program(Path("x"), (2, 0, 11)).shown == "2.0.11"
