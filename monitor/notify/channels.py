"""Channels to people: anything that apprise can address, and a folder as an inbox.

An address is a secret (it holds tokens and passwords), and apprise's own masking leaves some in clear (the
headers and the path of a webhook), so no error or log line here ever holds a part of an address.
"""

from __future__ import annotations

import logging
import os
import re
import secrets
import tempfile
import time
import warnings
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import cache
from pathlib import Path
from typing import Any, Protocol, runtime_checkable
from urllib.parse import unquote, urlsplit

from monitor.errors import ChannelError, MonitorError, Sentence, sentence
from monitor.notify.policy import RecipientPolicy
from monitor.records import MessageKind, Priority
from monitor.settings.schema import WEB_PUSH, Recipient, Settings
from monitor.words import alarm_messages
from monitor.words.alarm_messages import Text
from monitor.words.localizer import Localizer

log = logging.getLogger(__name__)

FOLDER = "folder://"
SEND_TIMEOUT_S = 20.0
SHORTEST_SECRET = 4
MOST_SECONDS_BETWEEN_SENDS = 1.0
TITLE_IN_FILE_NAME = 40
MOST_CHARACTERS_OF_AN_ERROR = 300
TELL_AGAIN_S = 6 * 3600.0
"""A service manager starts the monitor again every few seconds; people are told this often at most."""

NO_PHONE = sentence(
    "no phone takes messages yet: open the page over HTTPS on the phone, choose You, "
    "and turn on messages on this phone"
)

_KNOWN_SECRETS: set[str] = set()


class Channel(Protocol):
    """One way to one person."""

    def send(self, title: str, body: str) -> None:
        """Hand over the message; raises ChannelError."""


@dataclass(frozen=True, slots=True)
class Pushed:
    """What a message is about, for a channel that can do more with it than hand over its words.

    `acknowledge` is the path on the page with which its alarm is acknowledged; "" where there is nothing to.
    """

    kind: MessageKind
    priority: Priority
    words: Localizer
    alarm_id: str = ""
    place: str = ""
    acknowledge: str = ""


@runtime_checkable
class PushChannel(Protocol):
    """A way to the installed page, which shows more than words."""

    def push(self, text: Text, about: Pushed) -> None:
        """Hand over the message; raises ChannelError."""


class FolderChannel:
    """An inbox in a folder: one text file per message. Several channels and processes may share it."""

    def __init__(self, folder: Path, clock_ms: Callable[[], int] | None = None) -> None:
        self._folder, self._count = folder, 0
        self._clock_ms = clock_ms or (lambda: time.time_ns() // 1_000_000)

    def send(self, title: str, body: str) -> None:
        """Write the message; the file appears whole or not at all."""
        try:
            self._folder.mkdir(parents=True, exist_ok=True)
            half = self._folder / f".{secrets.token_hex(8)}.part"
            try:
                with half.open("x", encoding="utf-8") as file:
                    file.write(f"{title}\n\n{body}\n")
                    file.flush()
                    os.fsync(file.fileno())
                self._give_name(half, title)
            finally:
                half.unlink(missing_ok=True)
        except OSError as error:
            raise ChannelError(
                "the inbox folder cannot be written: {reason}", reason=str(error.strerror)
            ) from None

    def _give_name(self, half: Path, title: str) -> None:
        """A link never takes the name of another message; where the disk knows none, chance has to do."""
        at = datetime.fromtimestamp(self._clock_ms() / 1000, UTC)
        words = re.sub(r"[^\w.-]+", "-", title)[:TITLE_IN_FILE_NAME].strip("-.") or "message"
        while True:
            self._count += 1
            start = self._folder / f"{at:%Y%m%dT%H%M%SZ}-{self._count:04}-{words}"
            try:
                os.link(half, f"{start}.txt")
            except FileExistsError:
                continue
            except OSError:
                half.replace(f"{start}-{secrets.token_hex(6)}.txt")
            return


def _hide_secrets(record: logging.LogRecord) -> bool:
    record.msg, record.args = scrubbed(record.getMessage(), tuple(_KNOWN_SECRETS)), ()
    return True


@cache
def _apprise() -> Any:
    import apprise

    with warnings.catch_warnings():
        # A plug-in asks for a module that newer Pythons lack, and manages without; nobody can act on it.
        warnings.simplefilter("ignore", DeprecationWarning)
        apprise.Apprise().details()
    own = logging.getLogger("apprise")
    own.propagate = False
    own.setLevel(logging.WARNING)
    own.addHandler(logging.NullHandler())
    own.addFilter(_hide_secrets)
    for name in ("urllib3", "requests"):
        logging.getLogger(name).setLevel(logging.ERROR)
    return apprise


class AppriseChannel:
    def __init__(self, address: str, timeout_s: float = SEND_TIMEOUT_S) -> None:
        apprise = _apprise()
        asset = apprise.AppriseAsset(
            app_id="rearing-monitor", app_desc="Rearing monitor", app_url="", storage_mode="memory"
        )
        plugin = _plugin(address, asset)
        if plugin is None:
            raise _unusable(problem_with(address) or sentence("the address cannot be used"))
        # Apprise waits 5.5 s between two sends of most services, against floods. The hourly cap and one
        # sender per person do that here, and the second of two alarms must not wait.
        plugin.request_rate_per_sec = min(plugin.request_rate_per_sec, MOST_SECONDS_BETWEEN_SENDS)
        # A night report can be longer than a service allows; in parts it arrives, whole it would be refused.
        if "overflow=" not in address:
            plugin.overflow_mode = apprise.OverflowMode.SPLIT
        self._service = str(plugin.service_name or plugin.schema())
        self._timeout_s = timeout_s
        self._sender = apprise.Apprise(asset=asset)
        self._sender.add(plugin)

    def send(self, title: str, body: str) -> None:
        """Hand the message to the service; raises ChannelError with a text that holds no secret."""
        try:
            result = self._sender.notify(title=title, body=body, body_format="text", timeout=self._timeout_s)
        except Exception as error:
            # A plug-in may raise anything; the kind of error says enough, its text may hold the address.
            raise ChannelError(
                "{service}: the message was refused ({kind})",
                service=self._service,
                kind=type(error).__name__,
            ) from None
        if not result:
            raise ChannelError("{service}: {reason}", service=self._service, reason=self._reason(result))

    def _reason(self, result: Any) -> Sentence | str:
        said = [entry.message for entry in result.logs() if str(entry.level) in ("WARNING", "ERROR")]
        if said:
            return " ".join(" ".join(said).split())[:MOST_CHARACTERS_OF_AN_ERROR]
        return sentence("the message was not taken ({status})", status=result.status.name.lower())


def _plugin(address: str, asset: object = None) -> Any:
    apprise = _apprise()
    _KNOWN_SECRETS.update(_secrets(address))
    try:
        return apprise.Apprise.instantiate(address, asset=asset, suppress_exceptions=True)
    except Exception:
        return None


def _secrets(address: str) -> Iterator[str]:
    """Every part of an address that could be a secret: all but the scheme and the names of its options."""
    plain, _, options = address.partition("://")[2].partition("?")
    values = [option.partition("=")[2] for option in options.split("&")]
    for part in (piece for text in (plain, *values) for piece in re.split(r"[/:@?&=,;]+", text)):
        for secret in {part, unquote(part)}:
            if len(secret) >= SHORTEST_SECRET:
                yield secret


def scrubbed(text: str, secrets: Sequence[str]) -> str:
    """The text with every secret put out of sight, the longest first."""
    for secret in sorted(set(secrets), key=len, reverse=True):
        text = text.replace(secret, "***")
    return text


def problem_with(address: str) -> Sentence | None:
    """Why an address cannot be used and how to mend it, without the address itself; None when it loads."""
    scheme, separator, rest = address.strip().partition("://")
    if address.strip() == WEB_PUSH:
        return None
    if not separator or not scheme:
        return sentence("it is not an address like mailtos://..., tgram://... or folder:///home/me/inbox")
    if scheme == "folder":
        is_whole = unquote(urlsplit(address).path).startswith("/")
        return None if is_whole else sentence("a folder needs its whole path: folder:///home/me/inbox")
    if scheme.lower() not in _known_schemes():
        return sentence("nothing is known that begins in this way; see the list of services of apprise")
    if not rest or _plugin(address) is None:
        return sentence(
            "the service {service} does not take it; compare it with apprise's page on that service",
            service=scheme.lower(),
        )
    return None


@cache
def _known_schemes() -> frozenset[str]:
    plugins: list[dict[str, Any]] = _apprise().Apprise().details()["schemas"]
    names = (plugin[kind] or () for plugin in plugins for kind in ("protocols", "secure_protocols"))
    return frozenset(name for group in names for name in group)


def _unusable(problem: Sentence) -> ChannelError:
    return ChannelError(problem.english, **problem.values)


def open_channel(address: str) -> Channel:
    """The channel for an address; raises ChannelError where it cannot be used."""
    problem = problem_with(address)
    if problem:
        raise _unusable(problem)
    if address.strip() == WEB_PUSH:
        raise ChannelError(NO_PHONE.english)
    if address.startswith(FOLDER):
        return FolderChannel(Path(unquote(urlsplit(address).path)))
    return AppriseChannel(address)


class BrokenChannel:
    """Stands in for an address that cannot be used: its messages wait, and the error says why."""

    def __init__(self, recipient: str, error: ChannelError) -> None:
        self._recipient, self._error = recipient, error

    def send(self, title: str, body: str) -> None:  # noqa: ARG002
        """Always refuses."""
        raise ChannelError(
            "the address of {recipient} cannot be used: {problem}",
            recipient=self._recipient,
            problem=self._error.said,
        )


def open_channels(recipients: Sequence[Recipient]) -> tuple[Mapping[str, Channel], Mapping[str, str]]:
    """All channels by recipient, and the problems by recipient; one bad address does not stop the others."""
    channels: dict[str, Channel] = {}
    problems: dict[str, str] = {}
    for recipient in recipients:
        try:
            channels[recipient.id] = open_channel(recipient.address.get_secret_value())
        except ChannelError as error:
            problems[recipient.id] = str(error)
            channels[recipient.id] = BrokenChannel(recipient.id, error)
    return channels, problems


def tell_people(settings: Settings, error: MonitorError) -> None:
    """Send one message to everybody who is told first, unless that was done within hours."""
    stamps = _stamps(settings.store.path)
    if any(_is_fresh(stamp) for stamp in stamps):
        return
    policy = RecipientPolicy.of(settings)
    first = min((person.order for person in settings.recipients), default=1)
    from monitor.notify.push import phones_of

    with phones_of(settings) as (phones, channels):
        people = policy.with_phones(phones).recipients
        for person in (person for person in people if person.order == first):
            words = policy.words(person, time.time_ns() // 1_000_000)
            text = alarm_messages.cannot_start(settings.site.title, words.error(error), words)
            try:
                channel = channels.get(person.id) or open_channel(person.address.get_secret_value())
                channel.send(text.title, text.body)
                log.warning("%s was told that the monitor cannot start", person.id)
            except ChannelError as refusal:
                log.error("%s could not be told: %s", person.id, refusal)
    _stamp(stamps)


def forget(settings: Settings) -> None:
    """The monitor has started: the next time that it cannot is told at once."""
    for stamp in _stamps(settings.store.path):
        with suppress(OSError):
            stamp.unlink(missing_ok=True)


def _stamps(store_path: Path) -> tuple[Path, Path]:
    """Beside the database, and where that disk is full, in the folder for temporary files."""
    name = f"{store_path.name}.not-started"
    return store_path.with_name(name), Path(tempfile.gettempdir()) / f"rearing-monitor-{name}"


def _is_fresh(stamp: Path) -> bool:
    with suppress(OSError):
        return 0 <= time.time() - stamp.stat().st_mtime < TELL_AGAIN_S
    return False


def _stamp(stamps: tuple[Path, ...]) -> None:
    for stamp in stamps:
        with suppress(OSError):
            stamp.touch()
            return
