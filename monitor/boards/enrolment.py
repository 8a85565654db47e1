"""What a board needs to be heard: its lines in the settings, a user at the broker, its card; all or none.

Everything is checked before anything is written, and every problem is said at once. When a step fails
afterwards (a file, the reload, the broker that does not know the new user, the database), each file is put
back as it was and the broker reads its users again.
"""

from __future__ import annotations

import base64
import itertools
import json
import os
import re
import shlex
import shutil
import sys
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import nullcontext, suppress
from dataclasses import dataclass, field, replace
from enum import StrEnum
from pathlib import Path

from cryptography.hazmat.primitives.serialization import Encoding
from pydantic import SecretStr

from monitor.boards import broker_files, certificates, users
from monitor.boards.broker_client import cut_off
from monitor.boards.broker_files import BrokerFiles, Reload
from monitor.boards.card import Card, authority_problems, card_in_file
from monitor.boards.draft import BoardDraft, Trouble, Wanted
from monitor.errors import (
    BrokerRefused,
    BrokerUnreachable,
    CardError,
    MonitorError,
    SeveralProblems,
    UsageError,
    sentence,
)
from monitor.intake.connection import Publisher
from monitor.records import MS_PER_SECOND, Quantity
from monitor.settings.checking import NEEDED, measured, silent_places
from monitor.settings.loading import FarmFile, read
from monitor.settings.node_lines import with_node, without_node
from monitor.settings.schema import BrokerSettings, Node, Settings
from monitor.settings.writing import NewFile, write_all
from monitor.store import Store

OWNER_ONLY = 0o600
CARDS, WIFI = "cards", "wifi.json"
PATIENCE_S, AGAIN_S = 10.0, 0.3
"""Own choices: mosquitto reads its users within a second; a systemd unit that tells it may take some."""
SETUP = "rearing-monitor broker setup"
_NUMBERED = re.compile(r"([A-Za-z][A-Za-z_.-]*?)(\d{1,4})")


class Change(StrEnum):
    """What is done to a board. The values are the names of the commands."""

    ADD = "add"
    CARD = "card"
    REPLACE = "replace"
    REMOVE = "remove"


@dataclass(frozen=True, slots=True)
class EnrolmentPlan:
    """What will be written. `forgets`: the boot numbers of an earlier board of that name count no more.

    `unguarded` are places that no board is in any more; `unmeasured` what no board measures in a place.
    """

    change: Change
    node: str
    files: tuple[NewFile, ...]
    gone: tuple[Path, ...] = ()
    card: Card | None = None
    card_file: Path | None = None
    forgets: bool = False
    unguarded: tuple[str, ...] = ()
    unmeasured: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class Done:
    """What was done, and whether the broker knows of it already."""

    plan: EnrolmentPlan
    reload: Reload
    proven: bool
    """the broker let the new user in, and will the board"""
    is_out: bool | None = None
    """the open connection of a board that was removed has ended; None where nobody could try"""


@dataclass(frozen=True, slots=True)
class BoardEntry:
    """A board: whether its card lies here and the broker knows it; None where its users cannot be read."""

    name: str
    has_card: bool
    has_user: bool | None


def lets_in(settings: Settings, card: Card, ca_file: Path) -> bool:
    """Log in as a board does: True when the broker lets it in, False when nothing answers there now.

    A broker that was told to read its users again needs a moment; BrokerRefused when it goes on refusing.
    """
    facts = {"port": card.port, "username": card.user, "password": SecretStr(card.password)}
    way = {"tls": True, "ca_file": ca_file, "client_certificate": None, "client_key": None}
    broker, until_s = settings.broker.model_copy(update={**facts, **way}), time.monotonic() + PATIENCE_S
    while True:
        try:
            with Publisher(broker, card.user):
                return True
        except BrokerUnreachable:
            return False
        except BrokerRefused:
            if time.monotonic() >= until_s:
                raise
        time.sleep(AGAIN_S)


@dataclass(frozen=True, slots=True)
class Office:
    """Enrols the boards of one farm. `prove` logs in as a board and raises where the broker refuses it."""

    farm: FarmFile
    now_ms: int
    environ: Mapping[str, str] = field(default_factory=lambda: os.environ, repr=False)
    prove: Callable[[Settings, Card, Path], bool] = lets_in
    reload: Callable[[BrokerFiles], Reload] = broker_files.reload
    cut_off: Callable[[BrokerSettings, str], bool] = cut_off

    @property
    def settings(self) -> Settings:
        """The settings as they are now."""
        return self.farm.settings

    @property
    def folder(self) -> Path:
        """The folder of keys and cards."""
        return self.settings.broker.boards_folder

    @property
    def files(self) -> BrokerFiles:
        """The files from which the broker reads its users; UsageError while it was not set up for boards."""
        return self.files_of(self.settings.broker)

    @staticmethod
    def files_of(broker: BrokerSettings) -> BrokerFiles:
        """The same from the settings of the broker."""
        if broker.files is None:
            raise UsageError(
                "the broker was not set up for boards yet: it cannot tell them apart. To mend: {setup}",
                setup=SETUP,
            )
        return BrokerFiles.of(broker.files)

    @property
    def is_set_up(self) -> bool:
        """Whether `broker setup` has been here."""
        return self.settings.broker.files is not None

    def free_name(self) -> str:
        """A name for the next board, in the manner of the last one."""
        names = set(self.boards())
        numbered = [match for match in map(_NUMBERED.fullmatch, names) if match]
        last = max(numbered, key=lambda match: int(match[2]), default=None)
        head, width = (last[1], len(last[2])) if last else ("node-", 2)
        numbers = (f"{head}{number:0{width}d}" for number in itertools.count(int(last[2]) + 1 if last else 1))
        return next(name for name in numbers if name not in names)

    def card_file(self, name: str) -> Path:
        """Where the card of a board lies."""
        return self.folder / CARDS / f"{name}.json"

    def enrol(self, change: Change, wanted: Wanted) -> Done:
        """Check, write, reload and prove, one board at a time on this computer."""
        self.plan(change, wanted)  # Before the wait for others, since it may be the broker that is missing.
        with broker_files.changing(self.files) if self.is_set_up else nullcontext():
            now = replace(self, farm=read(self.farm.path, self.environ))
            return now._carry_out(now.plan(change, wanted))

    # The plan.

    def plan(self, change: Change, wanted: Wanted) -> EnrolmentPlan:
        """What would be written; SeveralProblems with all that speaks against it."""
        troubles = [*self._writing_troubles(change, wanted), *self._name_troubles(change, wanted.name)]
        if change is Change.REMOVE:
            return self._removal(wanted.name, troubles)
        old = self._old_card(change, wanted, troubles)
        draft = BoardDraft(self.settings, wanted, self._node(wanted.name), old, self.remembered_wifi())
        are_known = change is Change.ADD or bool(wanted.sensors) or old is not None
        troubles += [*draft.troubles(sensors=are_known), *self._key_troubles()]
        if troubles:
            raise SeveralProblems(troubles)
        return self._addition(change, draft)

    def _addition(self, change: Change, draft: BoardDraft) -> EnrolmentPlan:
        card = draft.card(self.authority())
        text, after = with_node(self.farm.path, draft.node(), self.environ)
        with_user = broker_files.added if change is Change.ADD else broker_files.replaced
        card_file = self.card_file(card.node)
        written = [] if text == self._text() else self._settings_files(text)
        written.append(NewFile(card_file, f"{card.text}\n".encode(), OWNER_ONLY))
        if draft.wanted.wifi:
            known = json.dumps({"wifi": card.wifi, "wifi_password": card.wifi_password}, ensure_ascii=False)
            written.append(NewFile(self.folder / WIFI, f"{known}\n".encode(), OWNER_ONLY))
        # The user last: a power cut before it leaves a board that can simply be added again.
        written.append(with_user(self.files, card.user, card.password))
        plan = EnrolmentPlan(change, card.node, tuple(written), card=card, card_file=card_file)
        unguarded = _unguarded(self.settings, after)
        is_new = change in (Change.ADD, Change.REPLACE)
        return replace(
            plan, forgets=is_new, unguarded=unguarded, unmeasured=_unmeasured(self.settings, after, card.node)
        )

    def _text(self) -> str:
        return self.farm.path.read_text(encoding="utf-8-sig")

    def _node(self, name: str) -> Node | None:
        return next((node for node in self.settings.nodes if node.id == name), None)

    def _has_user(self, name: str) -> bool:
        with suppress(MonitorError):
            return name in broker_files.user_names(self.files)
        return False

    def boards(self) -> tuple[str, ...]:
        """Every board of the settings, then those of which only a card is left."""
        cards = sorted(path.stem for path in (self.folder / CARDS).glob("*.json"))
        return tuple(dict.fromkeys([*(node.id for node in self.settings.nodes), *cards]))

    def entries(self) -> tuple[BoardEntry, ...]:
        """Every board with what it has of what it needs."""
        known: tuple[str, ...] | None = None
        with suppress(MonitorError):
            known = broker_files.user_names(self.files)
        return tuple(
            BoardEntry(name, _is_there(self.card_file(name)), None if known is None else name in known)
            for name in self.boards()
        )

    def _name_troubles(self, change: Change, name: str) -> Iterator[Trouble]:
        try:
            users.refuse_unusable_name(name)
        except UsageError as error:
            yield error if change is Change.ADD else self._unknown(name)
            return
        has_user = self._has_user(name)
        is_here = has_user or _is_there(self.card_file(name)) or self._node(name) is not None
        if change is not Change.ADD and not is_here:
            yield self._unknown(name)
        if change is Change.ADD and has_user:
            yield UsageError(
                "there is a board {name} already; choose another name, or give that one a new card: "
                "{card} (the same board), {replace} (another board in its place)",
                name=name,
                card=f"rearing-monitor board card {name}",
                replace=f"rearing-monitor board replace {name}",
            )

    def _unknown(self, name: str) -> UsageError:
        known = ", ".join(self.boards()) or sentence("none")
        return UsageError('there is no board "{name}"; known: {known}', name=name, known=known)

    def _writing_troubles(self, change: Change, wanted: Wanted) -> Iterator[Trouble]:
        """Why the files cannot be written by whom runs this, with the command that can."""
        folders = [self.farm.path.absolute().parent]
        if self.is_set_up:
            folders += [self.files.folder, self.folder]
        shut = [folder for folder in folders if _is_shut(folder)]
        if shut:
            yield UsageError(
                "{folders} cannot be written by this user, and nothing was changed. To mend, run: {command}",
                folders=", ".join(map(str, shut)),
                command=command_line(change, wanted, self.farm.path, sudo=True),
            )
        elif self.is_set_up or change is not Change.REMOVE:
            try:
                broker_files.user_names(self.files)
            except UsageError as error:
                yield error

    def _old_card(self, change: Change, wanted: Wanted, troubles: list[Trouble]) -> Card | None:
        """The card that the board has; it must be there where the sensors are not named again."""
        path = self.card_file(wanted.name)
        if change is Change.ADD or troubles or (wanted.sensors and not _is_there(path)):
            return None
        if not _is_there(path):
            troubles.append(
                UsageError(
                    "the card of {name} is gone ({file}), and with it what its sensors are; name them again "
                    "with {option}",
                    name=wanted.name,
                    file=path,
                    option="--sensor",
                )
            )
            return None
        try:
            return card_in_file(path, self.settings.broker.topic_root, self.settings.site.id)
        except CardError as error:
            troubles.extend(() if wanted.sensors else error.problems)
            return None

    def _key_troubles(self) -> Iterator[Trouble]:
        """What is wrong with what stands on each card: the farm's own authority, and where boards find us."""
        if not self.is_set_up:
            return
        if not (self.settings.broker.boards_hosts or certificates.own_names()):
            yield UsageError(
                "no name or address is known at which boards find this computer; name it in {file}: {line}",
                file=self.farm.path.name,
                line='[broker] boards_hosts = ["192.168.1.20"]',
            )
        try:
            ca = self.authority()
        except MonitorError as error:
            yield error
            return
        yield from authority_problems(ca, self.now_ms / MS_PER_SECOND)

    def remembered_wifi(self) -> tuple[str, str]:
        """The network of the last card and its password; empty where none was given yet."""
        try:
            known = json.loads((self.folder / WIFI).read_text(encoding="utf-8"))
            return str(known["wifi"]), str(known["wifi_password"])
        except (OSError, ValueError, KeyError, TypeError):
            return "", ""

    def authority(self) -> str:
        """The certificate of the farm's own authority as it stands on a card."""
        certificate = certificates.ca_certificate(self.folder)
        return base64.b64encode(certificate.public_bytes(Encoding.DER)).decode("ascii")

    def _settings_files(self, text: str) -> list[NewFile]:
        """The new settings file, and the old one beside it."""
        path = self.farm.path
        rights = path.stat().st_mode & 0o777
        backup = path.with_name(f"{path.name}.backup")
        return [NewFile(backup, path.read_bytes(), rights), NewFile(path, text.encode(), rights)]

    def _removal(self, name: str, troubles: Sequence[Trouble]) -> EnrolmentPlan:
        if troubles:
            raise SeveralProblems(troubles)
        card_file = self.card_file(name)
        written = [broker_files.removed(self.files, name)] if self._has_user(name) else []
        after = self.settings
        if self._node(name) is not None:
            text, after = without_node(self.farm.path, name, self.environ)
            written += self._settings_files(text)
        gone = (card_file,) if _is_there(card_file) else ()
        unguarded, unmeasured = _unguarded(self.settings, after), _unmeasured(self.settings, after, name)
        return EnrolmentPlan(
            Change.REMOVE, name, tuple(written), gone, unguarded=unguarded, unmeasured=unmeasured
        )

    # Carrying out.

    def _carry_out(self, plan: EnrolmentPlan) -> Done:
        way_back = _WayBack.of([*(file.path for file in plan.files), *plan.gone])
        try:
            for file in plan.files:
                _make_folder(file.path.parent, self.folder)
            write_all(plan.files)
            for path in plan.gone:
                path.unlink()
            told = self.reload(self.files) if self.is_set_up else Reload.DONE
            is_told = self.is_set_up and told is not Reload.WANTED
            is_proven = plan.card is not None and is_told and self._is_known(plan.card)
            self._note_in_store(plan)
        except BaseException:
            way_back.go()
            with suppress(Exception):
                self.reload(self.files)
            raise
        is_removed = plan.change is Change.REMOVE and is_told
        return Done(plan, told, is_proven, self._is_out(plan.node) if is_removed else None)

    def _is_out(self, name: str) -> bool | None:
        # A new card needs no such step: the proof took the name over, and only the new password lets it in.
        if self.settings.broker.password is None:
            return None
        return self.cut_off(self.settings.broker, name)

    def _is_known(self, card: Card) -> bool:
        try:
            return self.prove(self.settings, card, self.folder / certificates.CA)
        except BrokerRefused as error:
            raise UsageError(
                "the broker read its users again and still refuses {user} ({why}); everything was put back "
                "as it was. To mend: {command}",
                user=card.user,
                why=error.said,
                command="rearing-monitor broker test",
            ) from None

    def _note_in_store(self, plan: EnrolmentPlan) -> None:
        """The numbers of an earlier board of that name are forgotten; a removed one is no new board."""
        path = self.settings.store.path
        if not path.is_file():
            return
        with Store.open(path, create=False, check=False) as store:
            if plan.change is Change.REMOVE:
                store.nodes.retire(plan.node, self.now_ms)
            elif plan.forgets:
                store.nodes.start_anew(plan.node)


def _is_there(path: Path) -> bool:
    """Whether there is such a file; one in a folder that is shut is none."""
    with suppress(OSError):
        path.stat()
        return True
    return False


def _is_shut(folder: Path) -> bool:
    """Whether there is such a folder and this user may not write in it."""
    try:
        folder.stat()
    except FileNotFoundError:
        return False
    except OSError:
        return True
    return not _may_write(folder)


def _may_write(folder: Path) -> bool:
    return os.access(folder, os.W_OK)


def _make_folder(folder: Path, ours: Path) -> None:
    if not folder.is_dir() and ours in (folder, *folder.parents):
        certificates.make_folder(folder)


@dataclass(frozen=True, slots=True)
class _WayBack:
    """What stood in the files before."""

    before: tuple[tuple[Path, NewFile | None], ...]

    @classmethod
    def of(cls, paths: Sequence[Path]) -> _WayBack:
        return cls(tuple((path, _as_it_is(path)) for path in paths))

    def go(self) -> None:
        """Put every file back; what cannot be put back does not keep the others from it."""
        for path, old in self.before:
            with suppress(OSError):
                if old is None:
                    path.unlink(missing_ok=True)
                elif _as_it_is(path) != old:
                    write_all([old])


def _as_it_is(path: Path) -> NewFile | None:
    if not path.exists():
        return None
    facts = path.stat()
    return NewFile(path, path.read_bytes(), facts.st_mode & 0o7777, facts.st_gid)


def _unguarded(before: Settings, after: Settings) -> tuple[str, ...]:
    """The places that no board is in any more."""
    return tuple(sorted(_guarded(before) - _guarded(after)))


def _unmeasured(before: Settings, after: Settings, name: str) -> tuple[tuple[str, str], ...]:
    """What the places of a board need, or had, and no board measures there after the change."""
    places = (_places_of(before, name) | _places_of(after, name)) & _guarded(after)
    had, has, unknown = measured(before), measured(after), silent_places(after)
    return tuple(
        (place.id, quantity)
        for place in after.places
        if place.id in places - unknown
        for quantity in sorted(
            (set(NEEDED[place.kind]) | had.get(place.id, set())) - has.get(place.id, set())
        )
        if quantity != Quantity.BATTERY
    )


def _places_of(settings: Settings, name: str) -> set[str]:
    node = next((node for node in settings.nodes if node.id == name), None)
    return {place for place in (node.place, *node.probes.values()) if place} if node else set()


def _guarded(settings: Settings) -> set[str]:
    return {place for node in settings.nodes for place in (node.place, *node.probes.values()) if place}


def command_line(change: Change, wanted: Wanted, config: Path, *, sudo: bool = False) -> str:
    """The command that does the same, to be given by another user; a Wi-Fi password is never in it."""
    program = shutil.which("rearing-monitor")
    words = [program] if program else [sys.executable, "-m", "monitor"]
    words += ["board", change.value, wanted.name, "--config", str(config.absolute())]
    named = {"--place": wanted.place, "--interval": wanted.interval, "--power": wanted.power}
    named["--send-every"] = "" if wanted.send_every is None else str(wanted.send_every)
    named["--wifi"] = wanted.wifi or ""
    words += [word for option, value in named.items() if value for word in (option, value)]
    words += [word for sensor in wanted.sensors for word in ("--sensor", sensor)]
    words += [word for probe in wanted.probes for word in ("--probe", probe)]
    return shlex.join([*(["sudo"] if sudo else []), *words])
