"""What stands in mosquitto's configuration already, which program it is, and what keeps ours from working.

mosquitto reads its main file and then every `.conf` of the folder that `include_dir` names. It refuses a text
that is given twice, such as `persistence_location`; of numbers the last one counts (tried with 2.0.11).
"""

from __future__ import annotations

import os
import re
import shutil
import socket
import subprocess
from collections.abc import Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from monitor.boards import broker_files
from monitor.boards.broker_files import STORING, BrokerFiles, BrokerPlan
from monitor.errors import Sentence, sentence

SAID_VERSION = re.compile(r"mosquitto version (\d+)\.(\d+)(?:\.(\d+))?")
TRIED = (2, 0)
FOLDERS = ("/usr/sbin", "/usr/local/sbin", "/opt/homebrew/sbin")
_WAIT_S = 10.0
# Given once for the whole broker; ours beside another would stop mosquitto or open a door.
_ALONE = ("listener", "port", "bind_address", "password_file", "acl_file", "plugin", "auth_plugin")


@dataclass(frozen=True, slots=True)
class ConfLine:
    """One line of mosquitto's configuration, and where it stands."""

    file: Path
    number: int
    key: str
    value: str

    @property
    def where(self) -> str:
        """File and line, for a person."""
        return f"{self.file}:{self.number}"

    @property
    def opens_a_door(self) -> bool:
        """Whether it lets in who gives no user name."""
        return (self.key, self.value) == ("allow_anonymous", "true")


@dataclass(frozen=True, slots=True)
class Program:
    """The mosquitto of this computer; no version where it does not say one."""

    path: Path
    version: tuple[int, ...] = ()

    @property
    def shown(self) -> str:
        """The version as people write it."""
        return ".".join(map(str, self.version))


def find_program(environ: Mapping[str, str] = os.environ) -> Program | None:
    """The broker's program and its version, as `mosquitto -h` says; None where there is none."""
    folders = os.pathsep.join([environ.get("PATH", ""), *FOLDERS])
    path = shutil.which("mosquitto", path=folders)
    if path is None:
        return None
    said = ""
    with suppress(OSError, subprocess.TimeoutExpired):
        done = subprocess.run([path, "-h"], capture_output=True, text=True, timeout=_WAIT_S, check=False)
        said = done.stdout + done.stderr
    found = SAID_VERSION.search(said)
    return Program(Path(path), tuple(int(part) for part in found.groups("0")) if found else ())


def program_problem(program: Program | None) -> Sentence | None:
    """Why this mosquitto cannot be used."""
    if program is None:
        return sentence("mosquitto is not installed. To mend: sudo apt install mosquitto")
    if not program.version:
        return sentence(
            "{path} does not say which version of mosquitto it is. To mend: install that of your system "
            "(sudo apt install mosquitto); `{path} -h` has to begin with: mosquitto version 2",
            path=str(program.path),
        )
    if program.version < TRIED:
        return sentence(
            "mosquitto {version} is too old: its files look different. To mend: install mosquitto 2.0 or "
            "newer",
            version=program.shown,
        )
    return None


def lines_of_others(files: BrokerFiles) -> tuple[list[ConfLine], list[Sentence]]:
    """Every line of the configuration that is not ours, and what could not be read."""
    lines: list[ConfLine] = []
    problems: list[Sentence] = []
    waiting = [files.main]
    while waiting:
        path = waiting.pop(0)
        try:
            found = [*_lines(path)]
        except OSError as error:
            problems.append(_unreadable(files, path, error))
            continue
        lines += found
        for line in found:
            if line.key == "include_dir":
                folder = Path(line.value)
                waiting += [each for each in sorted(folder.glob("*.conf")) if each != files.conf]
    return lines, problems


def own_lines(files: BrokerFiles) -> list[ConfLine]:
    """The lines of our part; none where it is not there."""
    try:
        return [*_lines(files.conf)]
    except OSError:
        return []


def _lines(path: Path) -> Iterator[ConfLine]:
    for number, text in enumerate(path.read_text(encoding="utf-8", errors="replace").splitlines(), 1):
        key, _, value = text.strip().partition(" ")
        if key and not key.startswith("#"):
            yield ConfLine(path, number, key, value.strip())


def _unreadable(files: BrokerFiles, path: Path, error: OSError) -> Sentence:
    if path == files.main and isinstance(error, FileNotFoundError):
        return sentence(
            "{file} is not there. To mend: sudo apt install mosquitto; or name the folder of its "
            "configuration with --etc",
            file=str(path),
        )
    return sentence(
        "{file} cannot be read: {why}. To mend: give the command with sudo",
        file=str(path),
        why=error.strerror or str(error),
    )


def config_problems(files: BrokerFiles, lines: Sequence[ConfLine]) -> Iterator[Sentence]:
    """What in other files would stop mosquitto, or open a door beside ours."""
    included = [Path(line.value) for line in lines if line.key == "include_dir"]
    if lines and files.conf.parent not in included:
        yield sentence(
            "{file} does not read the folder {folder}. To mend: add the line `include_dir {folder}` to it",
            file=str(files.main),
            folder=str(files.conf.parent),
        )
    beside = [line for line in lines if line.key in _ALONE or line.opens_a_door]
    for file in dict.fromkeys(line.file for line in beside):
        yield _beside_ours(files, [line for line in beside if line.file == file])
    for line in lines:
        if (line.key, line.value) == ("persistence", "false"):
            yield sentence(
                "{where} says `persistence false`: a broker that is restarted forgets what waited for the "
                "monitor. To mend: put a # before that line",
                where=line.where,
            )


def _beside_ours(files: BrokerFiles, lines: Sequence[ConfLine]) -> Sentence:
    """Lines of one file that cannot stand beside ours."""
    file = lines[0].file
    remedy = sentence("put a # before each")
    if file != files.main:
        remedy = sentence("move the file away: sudo mv {file} {file}.off", file=str(file))
    if any(line.key == "password_file" for line in lines):
        remedy = sentence(
            "{remedy}; lines of its users may be copied into {users} afterwards",
            remedy=remedy,
            users=str(files.users),
        )
    return sentence(
        "{where} has lines that would stand beside ours ({lines}): another door, or mosquitto does not "
        "start. To mend: {remedy}",
        where=lines[0].where,
        lines=", ".join(f"`{line.key} {line.value}`" for line in lines),
        remedy=remedy,
    )


def storing_of(lines: Sequence[ConfLine]) -> tuple[tuple[str, str], ...]:
    """The lines about keeping messages that no other file has."""
    given = {line.key for line in lines}
    return tuple((key, value) for key, value in STORING.items() if key not in given)


def is_per_listener(lines: Sequence[ConfLine]) -> bool:
    """Whether users and rules are given to each listener by itself."""
    return any((line.key, line.value) == ("per_listener_settings", "true") for line in lines)


def weak_lines(lines: Sequence[ConfLine]) -> Iterator[Sentence]:
    """Lines of others that keep less than ours would; they are left as they are."""
    for line in lines:
        wanted = STORING.get(line.key, "")
        if not wanted.isdecimal() or not line.value.isdecimal() or line.value == wanted:
            continue
        if (line.key == "autosave_interval") == (int(line.value) > int(wanted)):
            yield sentence(
                "{where} says `{line}`; `{wanted}` would keep more, and was left to you",
                where=line.where,
                line=f"{line.key} {line.value}",
                wanted=f"{line.key} {wanted}",
            )


def foreign_files(files: BrokerFiles, site: str) -> Iterator[Sentence]:
    """Files in our places that are not ours, or those of another site."""
    for path in (files.conf, files.users, files.access):
        owner = broker_files.site_of(path)
        if not path.exists() or owner == site:
            continue
        if owner is None:
            yield sentence(
                "{file} was not written by this program, so it is left alone. To mend: look at it, then move "
                "it away: sudo mv {file} {file}.off",
                file=str(path),
            )
        else:
            yield sentence(
                'the broker serves the site "{other}" already ({file}); yours is "{site}". To mend: see '
                "[site] id in the settings; if the other site is gone, move its files away: "
                "sudo mv {file} {file}.off",
                other=owner,
                file=str(path),
                site=site,
            )


def port_problems(files: BrokerFiles, plan: BrokerPlan, embedded_port: int | None) -> Iterator[Sentence]:
    """Ports that something else than this mosquitto listens on."""
    mosquitto = broker_files.broker_process(files)
    for address, port in (("127.0.0.1", plan.monitor_port), ("0.0.0.0", plan.boards_port)):
        if not _in_use(address, port):
            continue
        holder = port_holder(port)
        if port == embedded_port and (mosquitto is None or holder not in (None, mosquitto)):
            yield sentence(
                "port {port} is in use by the monitor's own small broker. To mend: stop the monitor first "
                "(sudo systemctl stop rearing-monitor, or Ctrl-C), and start it again afterwards",
                port=str(port),
            )
        elif mosquitto is None or holder not in (None, mosquitto):
            yield sentence(
                "port {port} is in use by {program}. To mend: stop that, or choose another port with "
                "--port or --boards-port",
                port=str(port),
                program=_program_name(holder),
            )


def _in_use(address: str, port: int) -> bool:
    with socket.socket() as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((address, port))
        except OSError:
            return True
    return False


def port_holder(port: int) -> int | None:
    """The process that listens at a port; None where the system does not tell us."""
    wanted = {f"socket:[{inode}]" for inode in _listening(port)}
    for process in Path("/proc").glob("[0-9]*"):
        with suppress(OSError):
            for handle in (process / "fd").iterdir():
                with suppress(OSError):
                    if str(handle.readlink()) in wanted:
                        return int(process.name)
    return None


def _listening(port: int) -> Iterator[str]:
    """Inodes of the sockets that listen at a port, see proc(5)."""
    for name in ("tcp", "tcp6"):
        with suppress(OSError):
            for line in Path(f"/proc/net/{name}").read_text(encoding="ascii").splitlines()[1:]:
                fields = line.split()
                if fields[3] == "0A" and int(fields[1].rpartition(":")[2], 16) == port:
                    yield fields[9]


def _program_name(process: int | None) -> Sentence:
    if process is None:
        return sentence("another program (`sudo ss -ltnp` shows which)")
    name = "?"
    with suppress(OSError):
        name = Path(f"/proc/{process}/comm").read_text(encoding="utf-8", errors="replace").strip()
    return sentence("{name} (process {number})", name=name, number=str(process))
