"""Users of the broker: our lines against mosquitto's own, both ways, and passwords that can be typed."""

from __future__ import annotations

import math
import shutil
import subprocess
from pathlib import Path

import pytest
from tls_broker import TlsBroker

from monitor.boards import users
from monitor.errors import UsageError


@pytest.mark.mosquitto
@pytest.mark.parametrize("password", ["wet bran 7", "ü€: $7$", "x" * 63])
def test_a_line_of_mosquitto_is_understood(tmp_path: Path, password: str) -> None:
    tool = shutil.which("mosquitto_passwd")
    if tool is None:
        pytest.skip("mosquitto_passwd is not installed (Debian package mosquitto)")
    made = tmp_path / "made"
    subprocess.run([tool, "-b", "-c", str(made), "anna", password], check=True)
    (line,) = made.read_text().splitlines()
    assert line.startswith("anna:$7$101$")
    assert users.matches(line, password)
    assert not users.matches(line, password + "x")
    assert not users.matches(line, "")


@pytest.mark.mosquitto
@pytest.mark.parametrize("password", ["wet bran 7", "ü€$7$", "x" * 63])
def test_mosquitto_takes_a_line_of_ours(tmp_path: Path, password: str) -> None:
    with TlsBroker(tmp_path / "broker") as broker:
        broker.add_user("node-03", password)
        assert _login(broker, password) == 0
        assert _login(broker, password + "x") == 5
        broker.add_user("node-04")
        assert _login(broker, password) == 0


def _login(broker: TlsBroker, password: str) -> int:
    """0 when let in, 5 when the broker says: not authorised."""
    where = ["-h", "127.0.0.1", "-p", str(broker.monitor_port), "-u", "node-03", "-P", password]
    command = ["mosquitto_pub", *where, "-t", "x", "-m", "x"]
    return subprocess.run(command, capture_output=True, check=False).returncode


def test_a_line_is_the_same_for_the_same_salt_and_tells_its_iterations() -> None:
    salt = bytes(range(12))
    line = users.password_line("node-03", "wet bran 7", salt, 1000)
    assert line.startswith("node-03:$7$1000$AAECAwQFBgcICQoL$")
    assert line == users.password_line("node-03", "wet bran 7", salt, 1000)
    assert line != users.password_line("node-03", "wet bran 7", salt, 101)
    assert users.matches(line, "wet bran 7")
    assert users.password_line("a", "b") != users.password_line("a", "b"), "each has its own salt"


@pytest.mark.parametrize(
    "line",
    ["", "node-03", "node-03:plain", "node-03:$6$a$b", "node-03:$7$101$$", "a:$7$x$AA==$AA==", "# x: y"],
)
def test_what_is_no_such_line_matches_nothing(line: str) -> None:
    assert not users.matches(line, "wet bran 7")
    assert not users.matches(line, "")


def test_passwords_can_be_typed_and_not_guessed() -> None:
    drawn = {users.new_password() for _ in range(500)}
    assert len(drawn) == 500
    assert {len(each) for each in drawn} == {19}
    assert {sign for each in drawn for sign in each} == {*users.LETTERS, "-"}
    assert not set("01oOlIi") & set(users.LETTERS)
    assert math.log2(len(users.LETTERS) ** (users.GROUPS * users.GROUP_LETTERS)) > 78


@pytest.mark.parametrize("name", ["node-03", "n", "A.b_c-d", "x" * 40])
def test_names_of_boards(name: str) -> None:
    users.refuse_unusable_name(name)


@pytest.mark.parametrize(
    "name",
    [
        "",
        "service",
        "Sounder",
        "rearing-monitor",
        "rearing-trial-1",
        "a/b",
        "a+",
        "#",
        "a:b",
        "a b",
        "-a",
        "x" * 41,
        "é",
        "a\n",
    ],
)
def test_names_that_a_rule_would_read_otherwise_are_refused(name: str) -> None:
    with pytest.raises(UsageError, match="allowed: "):
        users.refuse_unusable_name(name)
