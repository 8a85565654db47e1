"""The files of mosquitto that are ours: its configuration, the users, the access rules; and their reload.

Each begins with a line that says so and names the site; a file without that line is never written over. Lines
that others added to the users file stay. A change of several files is written whole or not at all.
"""

from __future__ import annotations

import os
import re
import signal
from collections.abc import Collection, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path

from monitor.boards import users
from monitor.boards.certificates import SERVER, SERVER_KEY
from monitor.errors import UsageError
from monitor.settings.writing import NewFile, write_all

ETC = Path("/etc/mosquitto")
UNITS = Path("/etc/systemd/system")
RELOAD_UNIT = "rearing-broker-reload"
FOR_GROUP, FOLDER_FOR_GROUP, FOR_ALL = 0o640, 0o2750, 0o644
# A colon has to stand in it: mosquitto_passwd 2.0.11 calls a line without one corrupt and loses the file.
MARKER = "# rearing-monitor:"
_SITE_OF_MARKER = re.compile(rf"{MARKER} .*?\bsite ([A-Za-z0-9_.-]*[A-Za-z0-9_-])")
MARKER_LINE = f"{MARKER} {{what}} of the site {{site}}, written by `rearing-monitor broker setup`."
CONF = """\
{marker}
# Changes by hand are lost when that command is run again.
{settings}
# The monitor on this computer.
listener {monitor_port} 127.0.0.1
{monitor_access}
# Boards, encrypted. A board is known by its user name alone, so that none can throw another off.
listener {boards_port}
certfile {server}
keyfile {server_key}
tls_version tlsv1.2
use_username_as_clientid true
{boards_access}"""
ACCESS_OF_LISTENER = """\
allow_anonymous false
password_file {users}
acl_file {access}
"""
ACCESS = """\
{marker}
# The monitor reads and writes everything of its site.
user {user}
topic readwrite {base}/#

# A board: what stands under its own name, and whether the monitor and the alarm are on.
pattern readwrite {base}/%u/#
pattern read {base}/service
pattern read {base}/sounder
"""
# A killed broker loses what came since the last time that it wrote; boards of ours send it again.
STORING = {
    "persistence": "true",
    "persistence_location": "/var/lib/mosquitto/",
    "autosave_interval": "1",
    "max_queued_messages": "100000",
    "max_inflight_messages": "1000",
    # A payload of 16 KiB with its topic.
    "max_packet_size": "20000",
}


@dataclass(frozen=True, slots=True)
class BrokerFiles:
    """Where mosquitto's files lie, from the folder of its configuration."""

    etc: Path = ETC

    @classmethod
    def of(cls, folder: Path) -> BrokerFiles:
        """From the folder that the settings name as `files`."""
        return cls(folder.parent)

    @property
    def main(self) -> Path:
        """The configuration that the system's package brings."""
        return self.etc / "mosquitto.conf"

    @property
    def conf(self) -> Path:
        """Our part of the configuration."""
        return self.etc / "conf.d" / "rearing.conf"

    @property
    def folder(self) -> Path:
        """Our folder, which mosquitto may read."""
        return self.etc / "rearing"

    @property
    def users(self) -> Path:
        """The users with their hashed passwords."""
        return self.folder / "users"

    @property
    def access(self) -> Path:
        """Who may read and write which topics."""
        return self.folder / "access"


@dataclass(frozen=True, slots=True)
class BrokerPlan:
    """What the broker's files say. `storing` are the lines that no other file of mosquitto has already.

    `per_listener`: another file says that users and rules are given to each listener by itself.
    """

    site: str
    topic_root: str = "rearing"
    monitor_user: str = users.MONITOR
    monitor_port: int = 1883
    boards_port: int = 8883
    storing: tuple[tuple[str, str], ...] = tuple(STORING.items())
    per_listener: bool = False

    @property
    def base(self) -> str:
        """The topic above all of the site."""
        return f"{self.topic_root}/{self.site}"


def marker(what: str, site: str) -> str:
    """The first line of a file of ours."""
    return MARKER_LINE.format(what=what, site=site)


def conf_text(files: BrokerFiles, plan: BrokerPlan) -> str:
    """Our part of mosquitto's configuration."""
    access = ACCESS_OF_LISTENER.format(users=files.users, access=files.access)
    storing = "".join(f"{key} {value}\n" for key, value in plan.storing)
    return CONF.format(
        marker=marker("listeners", plan.site),
        settings=storing + ("" if plan.per_listener else access),
        monitor_port=plan.monitor_port,
        monitor_access=access if plan.per_listener else "",
        boards_port=plan.boards_port,
        server=files.folder / SERVER,
        server_key=files.folder / SERVER_KEY,
        boards_access=access if plan.per_listener else "",
    )


def access_text(plan: BrokerPlan) -> str:
    """The access rules; they never change when boards come and go."""
    return ACCESS.format(marker=marker("access rules", plan.site), user=plan.monitor_user, base=plan.base)


def site_of(path: Path) -> str | None:
    """The site that a file of ours was written for; None where the file is not ours or not there."""
    try:
        with path.open(encoding="utf-8", errors="replace") as file:
            found = _SITE_OF_MARKER.match(file.readline())
    except OSError:
        return None
    return found[1] if found else None


# Users.


def user_names(files: BrokerFiles) -> tuple[str, ...]:
    """Everybody whom the broker knows, the monitor and users of others too."""
    return tuple(_name(line) for line in _lines(files) if _name(line))


def added(files: BrokerFiles, user: str, password: str) -> NewFile:
    """The users file with one more; UsageError where there is one of that name."""
    if user in user_names(files):
        raise UsageError(
            '{file}: there is a user "{name}" already; nothing was changed. To mend: choose another name, or '
            "give that board a new card with `rearing-monitor board replace {name}`",
            file=str(files.users),
            name=user,
        )
    return _with_lines(files, [*_lines(files), users.password_line(user, password)])


def replaced(files: BrokerFiles, user: str, password: str) -> NewFile:
    """The users file with another password for a user, who is added if need be."""
    return with_users(files, {user: password})


def removed(files: BrokerFiles, user: str) -> NewFile:
    """The users file without a user."""
    return without_users(files, [user])


def with_users(files: BrokerFiles, passwords: Mapping[str, str]) -> NewFile:
    """The users file with these users, who get these passwords if they are there already."""
    others = [line for line in _lines(files) if _name(line) not in passwords]
    return _with_lines(files, [*others, *(users.password_line(*each) for each in passwords.items())])


def without_users(files: BrokerFiles, names: Collection[str]) -> NewFile:
    """The users file without these users."""
    return _with_lines(files, [line for line in _lines(files) if _name(line) not in names])


def add(files: BrokerFiles, user: str, password: str) -> None:
    """Add a user. mosquitto knows it after `reload`."""
    with changing(files):
        write_all([added(files, user, password)])


def replace(files: BrokerFiles, user: str, password: str) -> None:
    """Give a user another password; who is connected stays so until `reload` and `cut_off`."""
    with changing(files):
        write_all([replaced(files, user, password)])


def remove(files: BrokerFiles, user: str) -> None:
    """Take a user away; who is connected stays so until `reload` and `cut_off`."""
    with changing(files):
        write_all([removed(files, user)])


@contextmanager
def changing(files: BrokerFiles) -> Iterator[None]:
    """Only one at a time, page and command line alike, changes the users file."""
    try:
        descriptor = os.open(files.folder, os.O_RDONLY)
    except OSError as error:
        raise _unusable(files.folder, error) from None
    try:
        _lock(descriptor)
        yield
    except OSError as error:
        raise _unusable(files.users, error) from None
    finally:
        os.close(descriptor)


def _lock(descriptor: int) -> None:
    try:
        import fcntl
    except ImportError:
        return
    fcntl.flock(descriptor, fcntl.LOCK_EX)


def _unusable(path: Path, error: OSError) -> UsageError:
    if isinstance(error, FileNotFoundError):
        return UsageError(
            "{file} is not there. To mend: `rearing-monitor broker setup` on the computer of the broker",
            file=str(path),
        )
    return UsageError(
        "{file} cannot be changed: {why}; nothing was changed. To mend: give the command as the user who "
        "owns the settings, or with sudo",
        file=str(path),
        why=error.strerror or str(error),
    )


def _lines(files: BrokerFiles) -> list[str]:
    try:
        text = files.users.read_text(encoding="utf-8", errors="surrogateescape")
    except OSError as error:
        raise _unusable(files.users, error) from None
    if site_of(files.users) is None:
        raise UsageError(
            "{file} was not written by this program, and nothing was changed. To mend: move it away, then "
            "`rearing-monitor broker setup`",
            file=str(files.users),
        )
    return text.splitlines()


def _name(line: str) -> str:
    return "" if line.startswith("#") else line.partition(":")[0].strip()


def _with_lines(files: BrokerFiles, lines: Sequence[str]) -> NewFile:
    text = "".join(f"{line}\n" for line in lines)
    return NewFile(files.users, text.encode("utf-8", "surrogateescape"), FOR_GROUP)


# Reload.


class Reload(StrEnum):
    """Whether mosquitto has been told to read its users again."""

    DONE = "done"
    BY_UNIT = "by unit"
    """systemd tells it when the file changes."""
    WANTED = "wanted"
    """Somebody with more rights has to: `reload_command`."""


def reload(files: BrokerFiles, units: Path = UNITS) -> Reload:
    """Have mosquitto read its users, rules and certificates again; connections of others stay."""
    process = broker_process(files)
    if process is not None:
        with suppress(PermissionError, ProcessLookupError):
            os.kill(process, signal.SIGHUP)
            return Reload.DONE
    return Reload.BY_UNIT if (units / f"{RELOAD_UNIT}.path").exists() else Reload.WANTED


def reload_command(files: BrokerFiles) -> str:
    """What a person types where `reload` was not allowed."""
    if files.etc == ETC:
        return "sudo systemctl reload mosquitto"
    return f"kill -HUP $(cat {pid_file(files) or 'PID_FILE'})"


def broker_process(files: BrokerFiles) -> int | None:
    """The process of the mosquitto that runs with these files; None where that is not known."""
    path = pid_file(files)
    if path is None:
        return None
    try:
        number = int(path.read_text(encoding="ascii").strip())
        is_mosquitto = Path(f"/proc/{number}/comm").read_text(encoding="utf-8").strip() == "mosquitto"
    except (OSError, ValueError):
        return None
    return number if is_mosquitto and number > 1 else None


def pid_file(files: BrokerFiles) -> Path | None:
    """Where mosquitto writes its process number, as its main configuration says."""
    with suppress(OSError):
        for line in files.main.read_text(encoding="utf-8", errors="replace").splitlines():
            key, _, value = line.strip().partition(" ")
            if key == "pid_file":
                return Path(value.strip())
    return None
