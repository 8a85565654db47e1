"""What `check` says of the broker's files and the farm's keys: missing, ending, of another name or site."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from pathlib import Path

from monitor.boards import broker_config, broker_files, certificates, users
from monitor.boards.broker_files import BrokerFiles, BrokerPlan
from monitor.boards.broker_trial import TRIAL_USERS
from monitor.boards.enrolment import CARDS
from monitor.errors import Sentence, UsageError, sentence
from monitor.intake.broker_check import thrown_off_by_itself
from monitor.settings.schema import Node, Settings

SETUP = "rearing-monitor broker setup"


def broker_warnings(settings: Settings, now: datetime) -> Iterator[Sentence]:
    """What is wrong with the broker that `broker setup` made; nothing where others keep the broker."""
    broker = settings.broker
    if broker.embedded or broker.files is None:
        return
    files = BrokerFiles.of(broker.files)
    yield from _certificate(settings, files, now)
    yield from _rules(settings, files)
    yield from _users(settings, files)
    yield from _monitor_listener(files, broker.port)


def _certificate(settings: Settings, files: BrokerFiles, now: datetime) -> Iterator[Sentence]:
    folder = settings.broker.boards_folder
    try:
        authority = certificates.load_authority(folder, now)
        wanted = certificates.all_names([*settings.broker.boards_hosts, *certificates.own_names()])
    except UsageError as error:
        yield error.said
        return
    if authority is None:
        yield _missing(str(folder / certificates.CA))
    elif not certificates.server_fits(folder, authority, wanted, now):
        yield sentence(
            "the broker's certificate is missing, ends soon, or does not bear all names of this computer "
            "({names}). To mend: {command}",
            names=", ".join(wanted),
            command=SETUP,
        )
    elif _differ(folder / certificates.SERVER, files.folder / certificates.SERVER):
        yield sentence(
            "mosquitto has another certificate than the one in {folder}. To mend: {command}",
            folder=str(folder),
            command=SETUP,
        )


def _missing(path: str) -> Sentence:
    return sentence("{file} is missing. To mend: {command}", file=path, command=SETUP)


def _differ(first: Path, second: Path) -> bool:
    try:
        return first.read_bytes() != second.read_bytes()
    except PermissionError:
        return False  # It is mosquitto's, and this user may not look.
    except OSError:
        return True


def _rules(settings: Settings, files: BrokerFiles) -> Iterator[Sentence]:
    broker = settings.broker
    plan = BrokerPlan(settings.site.id, broker.topic_root, broker.username or users.MONITOR)
    try:
        text = files.access.read_text(encoding="utf-8")
    except PermissionError:
        return
    except OSError:
        yield _missing(str(files.access))
        return
    if text != broker_files.access_text(plan):
        yield sentence(
            "the access rules in {file} are not those of this site. To mend: {command}",
            file=str(files.access),
            command=SETUP,
        )


def _users(settings: Settings, files: BrokerFiles) -> Iterator[Sentence]:
    try:
        files.users.read_bytes()
        known = set(broker_files.user_names(files))
    except PermissionError:
        return
    except (OSError, UsageError):
        yield _missing(str(files.users))
        return
    boards = [node for node in settings.nodes if node.id not in known]
    if boards:
        yield sentence(
            "the broker does not know these boards, and lets none of them in: {boards}. To mend, for the "
            "first: {command}",
            boards=", ".join(node.id for node in boards),
            command=_card_command(settings, boards[0]),
        )
    if (settings.broker.username or users.MONITOR) not in known:
        yield sentence("the broker does not know the monitor itself. To mend: {command}", command=SETUP)
    if known & set(TRIAL_USERS):
        yield sentence(
            "the users of a trial that was ended in the middle are still there. To mend: "
            "rearing-monitor broker test"
        )


def _card_command(settings: Settings, board: Node) -> str:
    """What gives a board its user and its card: a new password where it has a card, else a card."""
    if (settings.broker.boards_folder / CARDS / f"{board.id}.json").exists():
        return f"rearing-monitor board card {board.id}"
    return f"rearing-monitor board add {board.id} --place {board.place or 'PLACE'} --sensor SENSOR"


def _monitor_listener(files: BrokerFiles, port: int) -> Iterator[Sentence]:
    """A listener that takes the user name for the client id, with the monitor behind it."""
    lines, _ = broker_config.lines_of_others(files)
    at = ""
    for line in [*lines, *broker_config.own_lines(files)]:
        if line.key in ("listener", "port"):
            at = line.value.split()[0] if line.value else ""
        elif (line.key, line.value, at) == ("use_username_as_clientid", "true", str(port)):
            yield thrown_off_by_itself(port)
