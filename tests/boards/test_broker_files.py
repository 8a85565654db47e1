"""The broker's files: users come and go, lines of others stay, what is not ours is left alone."""

from __future__ import annotations

import os
import shutil
import stat
import subprocess
import threading
from pathlib import Path

import pytest
from tls_broker import TlsBroker, said_by

from monitor.boards import broker_files, users
from monitor.boards.broker_files import BrokerFiles, BrokerPlan, Reload
from monitor.errors import UsageError

OTHERS = "# kept: by hand\nneighbour:$7$101$AAECAwQFBgcICQoL$AAAA\n\nodd line without a colon\n"


@pytest.fixture
def files(tmp_path: Path) -> BrokerFiles:
    """The files of a broker that does not run, with lines of somebody else among the users."""
    made = BrokerFiles(tmp_path)
    made.folder.mkdir()
    made.users.write_text(broker_files.marker("users", "saltbush-yard") + "\n" + OTHERS)
    made.users.chmod(0o640)
    return made


def test_a_user_comes_gets_another_password_and_goes(files: BrokerFiles) -> None:
    before = files.users.read_text()
    broker_files.add(files, "node-03", "wet bran 7")
    assert files.users.read_text().startswith(before)
    assert broker_files.user_names(files) == ("neighbour", "odd line without a colon", "node-03")
    (line,) = [each for each in files.users.read_text().splitlines() if each.startswith("node-03:")]
    assert users.matches(line, "wet bran 7")
    broker_files.replace(files, "node-03", "dry bran 8")
    (line,) = [each for each in files.users.read_text().splitlines() if each.startswith("node-03:")]
    assert users.matches(line, "dry bran 8")
    broker_files.remove(files, "node-03")
    assert files.users.read_text() == before
    assert stat.S_IMODE(files.users.stat().st_mode) == 0o640
    assert [path.name for path in files.folder.iterdir()] == ["users"], "nothing is left beside it"


def test_a_name_is_the_whole_name(files: BrokerFiles) -> None:
    broker_files.add(files, "node-1", "a")
    broker_files.add(files, "node-11", "b")
    broker_files.remove(files, "node-1")
    assert broker_files.user_names(files)[-1] == "node-11"
    broker_files.remove(files, "node")
    assert broker_files.user_names(files)[-1] == "node-11"


def test_a_name_that_exists_is_refused_and_nothing_changes(files: BrokerFiles) -> None:
    before = files.users.read_text()
    with pytest.raises(UsageError, match=r'a user "neighbour" already.*board replace neighbour'):
        broker_files.add(files, "neighbour", "x")
    assert files.users.read_text() == before


@pytest.mark.parametrize("text", ["", "neighbour:$7$x\n", "# users of the site saltbush-yard\n"])
def test_a_users_file_of_somebody_else_is_not_touched(files: BrokerFiles, text: str) -> None:
    files.users.write_text(text)
    for change in (broker_files.add, broker_files.replace):
        with pytest.raises(UsageError, match=r"was not written by this program.*move it away"):
            change(files, "node-03", "x")
    with pytest.raises(UsageError, match="was not written by this program"):
        broker_files.remove(files, "neighbour")
    assert files.users.read_text() == text


def test_without_the_files_it_is_said_which_command_makes_them(tmp_path: Path) -> None:
    with pytest.raises(UsageError, match=r"is not there\. To mend: `rearing-monitor broker setup`"):
        broker_files.add(BrokerFiles(tmp_path), "node-03", "x")
    (tmp_path / "rearing").mkdir()
    with pytest.raises(UsageError, match="users is not there"):
        broker_files.add(BrokerFiles(tmp_path), "node-03", "x")


def test_a_full_disk_leaves_the_users_as_they_were(
    files: BrokerFiles, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = files.users.read_text()

    def full(_descriptor: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(UsageError, match=r"users cannot be changed: No space left.*nothing was changed"):
        broker_files.add(files, "node-03", "x")
    assert files.users.read_text() == before
    assert [path.name for path in files.folder.iterdir()] == ["users"]


def test_many_at_once_lose_no_user(files: BrokerFiles) -> None:
    names = [f"node-{number:02d}" for number in range(12)]
    threads = [threading.Thread(target=broker_files.add, args=(files, name, "x")) for name in names]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert set(names) <= set(broker_files.user_names(files))


def test_the_site_of_a_file(tmp_path: Path) -> None:
    path = tmp_path / "x"
    assert broker_files.site_of(path) is None
    for site in ("saltbush-yard", "a.b_c", "x" * 40):
        for what in ("users", "access rules", "listeners"):
            path.write_text(broker_files.marker(what, site) + "\nsite other\n")
            assert broker_files.site_of(path) == site
    path.write_text("# somebody's site other\n# rearing-monitor: users of the site saltbush-yard.\n")
    assert broker_files.site_of(path) is None
    path.write_bytes(b"\xff\xfe\n")
    assert broker_files.site_of(path) is None


def test_users_and_rules_for_each_listener_where_another_file_asks_for_that() -> None:
    files, plan = BrokerFiles(Path("/etc/mosquitto")), BrokerPlan("saltbush-yard")
    for per_listener, count in ((False, 1), (True, 2)):
        text = broker_files.conf_text(
            files, BrokerPlan("saltbush-yard", per_listener=per_listener)
        ).splitlines()
        for line in ("allow_anonymous false", f"password_file {files.users}", f"acl_file {files.access}"):
            assert text.count(line) == count
    lines = broker_files.conf_text(files, plan).splitlines()
    first, second = (lines.index(f"listener {where}") for where in ("1883 127.0.0.1", "8883"))
    assert lines.index("use_username_as_clientid true") > second > first
    assert lines.index("allow_anonymous false") < first


@pytest.mark.mosquitto
def test_mosquitto_passwd_leaves_our_file_ours(files: BrokerFiles) -> None:
    tool = shutil.which("mosquitto_passwd")
    if tool is None:
        pytest.skip("mosquitto_passwd is not installed (Debian package mosquitto)")
    files.users.write_text(broker_files.marker("users", "saltbush-yard") + "\nneighbour:$7$101$AAAA$AAAA\n")
    subprocess.run([tool, "-b", str(files.users), "anna", "x"], check=True)
    assert broker_files.site_of(files.users) == "saltbush-yard"
    assert broker_files.user_names(files) == ("neighbour", "anna")


@pytest.mark.mosquitto
def test_a_reload_tells_a_running_broker_and_nobody_else(tmp_path: Path) -> None:
    with TlsBroker(tmp_path / "broker") as broker:
        files = broker.files
        assert broker.process is not None
        assert broker_files.broker_process(files) == broker.process.pid
        assert "Error" not in said_by(files)
        password = broker.add_user("node-03")
        assert "Reloading config" in said_by(files)
        line = next(each for each in files.users.read_text().splitlines() if each.startswith("node-03"))
        assert users.matches(line, password)
    units = tmp_path / "units"
    units.mkdir()
    assert broker_files.reload(files, units) is Reload.WANTED, "it has ended"
    (files.etc / "mosquitto.pid").write_text(f"{os.getpid()}\n")
    assert broker_files.reload(files, units) is Reload.WANTED, "this is no mosquitto"
    (units / f"{broker_files.RELOAD_UNIT}.path").touch()
    assert broker_files.reload(files, units) is Reload.BY_UNIT


def test_the_command_for_who_may_reload(tmp_path: Path) -> None:
    assert broker_files.reload_command(BrokerFiles()) == "sudo systemctl reload mosquitto"
    (tmp_path / "mosquitto.conf").write_text("# pid_file /x\npid_file /run/own.pid\n")
    assert broker_files.reload_command(BrokerFiles(tmp_path)) == "kill -HUP $(cat /run/own.pid)"
