"""Sets mosquitto up for a farm: works out what to write, says all that stands against it, writes it whole.

Nothing is written before everything is known to fit: the program, its configuration, the ports, the keys, the
rights. Running it again changes nothing, or mends only what is missing; what is replaced is kept beside.
"""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import tempfile
import time
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path

from monitor.boards import broker_config, broker_files, certificates, users
from monitor.boards.broker_config import Program
from monitor.boards.broker_files import ETC, RELOAD_UNIT, UNITS, BrokerFiles, BrokerPlan
from monitor.errors import MonitorError, Sentence, UsageError, one_a_line, sentence
from monitor.settings.consistency import is_loopback
from monitor.settings.loading import FarmFile
from monitor.settings.schema import BrokerSettings
from monitor.settings.writing import NewFile, give_to_owner, set_in_table, write_all, write_secret

GROUP = "mosquitto"
LOOPBACK = "127.0.0.1"
PASSWORD_FILE = Path("secrets") / "broker-password"
START_S, POLL_S = 5.0, 0.05
_NO_USE = ("password", "password_env", "tls", "ca_file", "client_certificate", "client_key")
PATH_UNIT = """\
# rearing-monitor: mosquitto reads its users again when the monitor changes them.
[Unit]
Description=Watch the users that rearing-monitor keeps for mosquitto

[Path]
PathChanged={users}

[Install]
WantedBy=multi-user.target
"""
SERVICE_UNIT = """\
# rearing-monitor: started by the path unit of the same name.
[Unit]
Description=Let mosquitto read its users again

[Service]
Type=oneshot
ExecStart=/bin/systemctl reload mosquitto.service
"""


@dataclass(frozen=True, slots=True)
class Wish:
    """What a person asks for. No `names`: those of the settings, else those of this computer."""

    etc: Path = ETC
    names: tuple[str, ...] = ()
    monitor_port: int | None = None
    boards_port: int | None = None
    new_ca: bool = False
    reload_unit: bool = False
    units: Path = UNITS


@dataclass(frozen=True, slots=True)
class Prepared:
    """What will be written, in which folders, and what to say of it. No `changes`: all is as it should be.

    `password` is set where the monitor gets a new one. `settings` are the keys of [broker] that change,
    `gone` those that the monitor's own door has no use for.
    """

    farm: FarmFile
    files: BrokerFiles
    plan: BrokerPlan
    names: tuple[str, ...]
    changes: tuple[NewFile, ...]
    settings: Mapping[str, object]
    password: str
    new_ca: bool
    notes: tuple[Sentence, ...] = ()
    gone: tuple[str, ...] = ()

    @property
    def is_done(self) -> bool:
        """Whether nothing is left to be written."""
        return not self.changes and not self.changes_settings

    @property
    def changes_settings(self) -> bool:
        """Whether farm.toml gets other keys."""
        return bool(self.settings or self.gone)

    @property
    def needs_restart(self) -> bool:
        """Listeners are taken in at a start alone; users, rules and certificates by a reload."""
        return any(change.path == self.files.conf for change in self.changes)


def prepare(farm: FarmFile, wish: Wish, program: Program | None, now: datetime) -> Prepared:
    """Work out what to write. UsageError with every reason why that cannot be done."""
    files, broker = BrokerFiles(wish.etc), farm.settings.broker
    lines, problems = broker_config.lines_of_others(files)
    plan = _plan(farm, wish, lines)
    unusable = broker_config.program_problem(program)
    problems += [unusable] if unusable else []
    problems += broker_config.config_problems(files, lines)
    problems += broker_config.foreign_files(files, plan.site)
    problems += broker_config.port_problems(files, plan, broker.port if broker.embedded else None)
    names = tuple(dict.fromkeys([*(wish.names or broker.boards_hosts), *certificates.own_names()]))
    made: list[NewFile] = []
    new_ca = False
    try:
        keys = certificates.planned(broker.boards_folder, plan.site, names, now, new=wish.new_ca)
        names, made, new_ca = keys.names, keys.files, keys.new_authority
    except UsageError as error:
        problems.append(error.said)
    password, is_new = _password(farm)
    if not problems and program is not None:
        problems += _trial_start(program, plan)
    if problems:
        raise UsageError(one_a_line(problems))
    wanted = [*made, *_for_mosquitto(files, plan, broker.boards_folder, made, password)]
    wanted += _units(files, wish) if wish.reload_unit else []
    return Prepared(
        farm,
        files,
        plan,
        names,
        tuple(change for change in wanted if _differs(change)),
        _settings(broker, plan, files, wish, is_new),
        password if is_new else "",
        new_ca,
        tuple(_notes(program, lines, broker)),
        tuple(key for key in _NO_USE if key in _keys_of_file(farm.path)),
    )


def _plan(farm: FarmFile, wish: Wish, lines: Sequence[broker_config.ConfLine]) -> BrokerPlan:
    broker = farm.settings.broker
    on_this = not broker.embedded and not broker.tls
    return BrokerPlan(
        farm.settings.site.id,
        broker.topic_root,
        broker.username or users.MONITOR,
        wish.monitor_port or (broker.port if on_this else 1883),
        wish.boards_port or broker.boards_port,
        broker_config.storing_of(lines),
        broker_config.is_per_listener(lines),
    )


def _password(farm: FarmFile) -> tuple[str, bool]:
    """The monitor's password at the broker, and whether it is a new one: only a file of its own keeps one."""
    broker = farm.settings.broker
    if broker.username and broker.password and _keys_of_file(farm.path).get("password_file"):
        return broker.password.get_secret_value(), False
    return users.new_password(), True


def _keys_of_file(path: Path) -> Mapping[str, object]:
    import tomllib

    try:
        found = tomllib.loads(path.read_text(encoding="utf-8-sig")).get("broker", {})
    except (OSError, ValueError):
        return {}
    return found if isinstance(found, dict) else {}


def _for_mosquitto(
    files: BrokerFiles, plan: BrokerPlan, boards: Path, made: Sequence[NewFile], password: str
) -> Iterator[NewFile]:
    """The files that mosquitto reads."""
    group = group_number()
    for name in (certificates.SERVER, certificates.SERVER_KEY):
        new = next((file.content for file in made if file.path == boards / name), None)
        content = (boards / name).read_bytes() if new is None else new
        yield NewFile(files.folder / name, content, broker_files.FOR_GROUP, group)
    yield NewFile(files.users, _users_text(files, plan, password), broker_files.FOR_GROUP, group)
    access = broker_files.access_text(plan).encode()
    yield NewFile(files.access, access, broker_files.FOR_GROUP, group)
    yield NewFile(files.conf, broker_files.conf_text(files, plan).encode(), broker_files.FOR_ALL)


def _users_text(files: BrokerFiles, plan: BrokerPlan, password: str) -> bytes:
    """The users as they are, with the monitor among them; its line stays when its password does."""
    head = broker_files.marker("users", plan.site)
    lines = files.users.read_text(encoding="utf-8").splitlines() if files.users.exists() else [head]
    own = [line for line in lines if line.startswith(f"{plan.monitor_user}:")]
    if not (len(own) == 1 and users.matches(own[0], password)):
        others = [line for line in lines if line not in own]
        lines = [*others, users.password_line(plan.monitor_user, password)]
    return "".join(f"{line}\n" for line in lines).encode()


def _units(files: BrokerFiles, wish: Wish) -> list[NewFile]:
    path = PATH_UNIT.format(users=files.users).encode()
    return [
        NewFile(wish.units / f"{RELOAD_UNIT}.path", path, broker_files.FOR_ALL),
        NewFile(wish.units / f"{RELOAD_UNIT}.service", SERVICE_UNIT.encode(), broker_files.FOR_ALL),
    ]


def _differs(change: NewFile) -> bool:
    try:
        facts = change.path.stat()
        is_same = change.path.read_bytes() == change.content and facts.st_mode & 0o777 == change.mode
    except OSError:
        return True
    return not is_same or (change.group is not None and facts.st_gid != change.group)


def _settings(
    broker: BrokerSettings, plan: BrokerPlan, files: BrokerFiles, wish: Wish, new_password: bool
) -> dict[str, object]:
    """The keys of [broker] that have to change."""
    now: dict[str, object] = {
        "embedded": broker.embedded, "host": broker.host, "port": broker.port, "username": broker.username,
        "boards_port": broker.boards_port, "files": broker.files,
    }  # fmt: skip
    wanted: dict[str, object] = {
        "embedded": False, "host": LOOPBACK, "port": plan.monitor_port, "username": plan.monitor_user,
        "boards_port": plan.boards_port, "files": files.folder,
    }  # fmt: skip
    changed = {key: value for key, value in wanted.items() if now[key] != value}
    if wish.names and wish.names != broker.boards_hosts:
        changed["boards_hosts"] = list(wish.names)
    if new_password:
        changed["password_file"] = str(PASSWORD_FILE)
    return {key: str(value) if isinstance(value, Path) else value for key, value in changed.items()}


def _notes(
    program: Program | None, lines: Sequence[broker_config.ConfLine], broker: BrokerSettings
) -> Iterator[Sentence]:
    if not broker.embedded and not is_loopback(broker.host):
        yield sentence(
            "the settings name a broker on another computer, {host}; from now on the monitor listens to the "
            "one on this computer alone",
            host=broker.host,
        )
    yield from broker_config.weak_lines(lines)
    if program is not None and program.version[:2] != broker_config.TRIED:
        yield sentence(
            "mosquitto {version} was never tried with this program (2.0 was). It started with these files; "
            "`rearing-monitor broker test` shows whether it does what it should",
            version=program.shown,
        )


def is_root() -> bool:
    """Whether this is root, who may give files away and talk to systemd."""
    return hasattr(os, "geteuid") and os.geteuid() == 0


def group_number() -> int | None:
    """The group that mosquitto reads as; None where there is none, or where we may not give files to it."""
    try:
        import grp

        return grp.getgrnam(GROUP).gr_gid if is_root() else None
    except (ImportError, KeyError):
        return None


# A start on other ports.


def _trial_start(program: Program, plan: BrokerPlan) -> list[Sentence]:
    """Start this mosquitto for a moment with files like ours, on free ports; what it says if it cannot."""
    with tempfile.TemporaryDirectory(prefix="broker-trial-") as name:
        files = BrokerFiles(Path(name))
        storing = {**dict(plan.storing), "persistence": "true", "persistence_location": f"{name}/"}
        trial = replace(
            plan, monitor_port=_free_port(), boards_port=_free_port(), storing=tuple(storing.items())
        )
        try:
            _write_trial(files, trial)
            said = _start_for_a_moment(program, files, (trial.monitor_port, trial.boards_port))
        except OSError as error:
            return [_not_written(error, files.etc).said]
    if said is None:
        return []
    return [
        sentence(
            "mosquitto {version} does not start with our files: {said}. To mend: install mosquitto 2.0 of "
            "your system (sudo apt install mosquitto)",
            version=program.shown,
            said=said,
        )
    ]


def _write_trial(files: BrokerFiles, plan: BrokerPlan) -> None:
    for folder in (files.folder, files.conf.parent):
        folder.mkdir()
    keys = certificates.make_authority(plan.site)
    served = certificates.server_files(files.folder, keys, certificates.all_names(()))
    rights = "user root\n" if hasattr(os, "geteuid") and os.geteuid() == 0 else ""
    per_listener = "per_listener_settings true\n" if plan.per_listener else ""
    main = f"{rights}{per_listener}include_dir {files.conf.parent}\n"
    conf = broker_files.conf_text(files, plan)
    conf = conf.replace(f"listener {plan.boards_port}\n", f"listener {plan.boards_port} {LOOPBACK}\n")
    people = broker_files.marker("users", plan.site) + "\n" + users.password_line("a", "b") + "\n"
    texts = {
        files.main: main, files.conf: conf, files.access: broker_files.access_text(plan), files.users: people,
    }  # fmt: skip
    write_all([*served, *(NewFile(path, text.encode(), 0o600) for path, text in texts.items())])


def _start_for_a_moment(program: Program, files: BrokerFiles, ports: Iterable[int]) -> str | None:
    """None when every port answered; else what the program said last."""
    log = files.etc / "log"
    with log.open("wb") as output:
        command = [str(program.path), "-c", str(files.main)]
        process = subprocess.Popen(command, stdout=output, stderr=output)
        try:
            answered = all(_answers(port, process) for port in ports)
        finally:
            process.kill()
            process.wait(START_S)
    if answered:
        return None
    said = [line for line in log.read_text(errors="replace").splitlines() if "rror" in line]
    return said[0].strip() if said else "?"


def _answers(port: int, process: subprocess.Popen[bytes]) -> bool:
    deadline = time.monotonic() + START_S
    while process.poll() is None and time.monotonic() < deadline:
        with socket.socket() as probe:
            probe.settimeout(START_S)
            if probe.connect_ex((LOOPBACK, port)) == 0:
                return True
        time.sleep(POLL_S)
    return False


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind((LOOPBACK, 0))
        return int(probe.getsockname()[1])


# Writing.


def without_rights(prepared: Prepared) -> Path | None:
    """The first place where this user may not write what has to be written; None where all is allowed."""
    places = [change.path.parent for change in prepared.changes]
    places += [prepared.farm.path.absolute().parent] if prepared.changes_settings else []
    for place in dict.fromkeys(places):
        there = next(each for each in (place, *place.parents) if each.exists())
        if not os.access(there, os.W_OK | os.X_OK):
            return there
    return None


def apply(prepared: Prepared, environ: Mapping[str, str]) -> tuple[Path, ...]:
    """Write everything or nothing; gives where the old files are kept."""
    path, made = prepared.farm.path, _make_folders(prepared)
    secret = path.absolute().parent / PASSWORD_FILE
    had_secret = secret.read_bytes() if secret.exists() else None
    try:
        if prepared.password:
            write_secret(secret, prepared.password)
        changes = [*prepared.changes]
        if prepared.changes_settings:
            text = set_in_table(path, "broker", prepared.settings, prepared.gone, environ)
            changes.append(NewFile(path, text.encode(), path.stat().st_mode & 0o777))
        kept = _keep(changes)
        write_all(changes)
    except (OSError, MonitorError) as error:
        if prepared.password:
            _put_back(secret, had_secret)
        for folder in reversed(made):
            with suppress(OSError):
                folder.rmdir()
        if isinstance(error, OSError):
            raise _not_written(error, path) from None
        raise
    return kept


def _not_written(error: OSError, path: Path) -> UsageError:
    return UsageError(
        "{file} cannot be written: {why}; nothing was changed",
        file=str(error.filename or path),
        why=error.strerror or str(error),
    )


def _make_folders(prepared: Prepared) -> list[Path]:
    """The folders that are missing; they go to the owner of the settings, who adds boards without root."""
    boards, ours = prepared.farm.settings.broker.boards_folder, prepared.files.folder
    made = []
    for folder in (boards, ours):
        if any(change.path.parent == folder for change in prepared.changes) and not folder.exists():
            folder.mkdir(parents=True)
            made.append(folder)
            like = prepared.farm.path if folder == ours else boards.parent
            give_to_owner(folder, like, group_number() if folder == ours else None)
            folder.chmod(broker_files.FOLDER_FOR_GROUP if folder == ours else certificates.FOLDER_OF_OWNER)
    return made


def _put_back(secret: Path, content: bytes | None) -> None:
    with suppress(OSError):
        if content is None:
            secret.unlink(missing_ok=True)
            secret.parent.rmdir()  # Only an empty one goes.
        else:
            write_all([NewFile(secret, content, certificates.OWNER_ONLY)])


def _keep(changes: Sequence[NewFile]) -> tuple[Path, ...]:
    """Copy what will be replaced; keys that are made anew with a CA are kept, plain renewals are not."""
    serving = {certificates.SERVER, certificates.SERVER_KEY}
    old = [each for each in changes if each.path.exists() and each.path.name not in serving]
    copies = [
        NewFile(each.path.with_name(each.path.name + ".backup"), each.path.read_bytes(), _rights(each.path))
        for each in old
    ]
    write_all(copies)
    return tuple(copy.path for copy in copies)


def _rights(path: Path) -> int:
    return path.stat().st_mode & 0o777


def restart(prepared: Prepared, environ: Mapping[str, str]) -> bool:
    """Restart mosquitto where systemd runs it and we may; True when it answers again."""
    systemctl = shutil.which("systemctl", path=environ.get("PATH"))
    if systemctl is None or not is_root() or prepared.files.etc != ETC:
        return False
    action = "restart" if prepared.needs_restart else "reload"
    with suppress(OSError, subprocess.TimeoutExpired):
        done = subprocess.run([systemctl, action, "mosquitto"], capture_output=True, timeout=60, check=False)
        return done.returncode == 0
    return False
