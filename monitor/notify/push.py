"""Web Push to the page that is installed on a phone, through the push service of the phone's maker.

A message is encrypted for one browser (RFC 8291) and signed with the site's own key (RFC 8292), so that the
service in between reads nothing and nobody else can send. The address of a phone is a secret, and no error or
log line here holds a part of it beyond the name of the service.
"""

from __future__ import annotations

import base64
import hashlib
import importlib.util
import ipaddress
import json
import logging
import re
import time
from collections.abc import Callable, Container, Iterable, Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from email.utils import parsedate_to_datetime
from typing import Any, Protocol
from urllib.parse import urlsplit

from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat

from monitor.errors import ChannelBusy, ChannelError, Sentence, StoreError, sentence
from monitor.notify.channels import Channel, Pushed
from monitor.notify.policy import way_of
from monitor.records import MS_PER_SECOND, MessageKind, Priority
from monitor.settings.schema import Settings
from monitor.store import Store
from monitor.store.meta import PUSH_KEY
from monitor.store.outbox import Phone
from monitor.words.alarm_messages import Text
from monitor.words.catalogue import ENGLISH
from monitor.words.localizer import Localizer, shortened

ENCRYPTED_BYTES = 3900
"""What may be sent at most: services must take 4096 bytes (RFC 8030, section 7.2), some count headers in."""
AROUND_BYTES = 16 + 4 + 1 + 65 + 1 + 16
"""What encryption adds: salt, record size, length and key, end mark, tag (RFC 8188, section 2; RFC 8291)."""
TITLE_CHARACTERS = 120
LONGEST_ADDRESS = 1000
TIMEOUT_S = 20.0
LONGEST_WAIT_S = 3600.0
"""Own choice: a service that asks for more is asked again after an hour."""
P256_ORDER = 0xFFFFFFFF00000000FFFFFFFFFFFFFFFFBCE6FAADA7179E84F3B9CAC2FC632551
"""SEC 2, section 2.4.2."""
CONTACT = "mailto:farm@example.org"
"""Whom a push service may write to (RFC 8292, section 2.1), where the page has no public address."""
_LIFE_S = {Priority.HIGH: 24 * 3600, Priority.MEDIUM: 12 * 3600, Priority.LOW: 6 * 3600}
"""For how long a service keeps a message for a phone that is off [s]. Own choice, as the urgencies."""
_URGENCY = {Priority.HIGH: "high", Priority.MEDIUM: "normal", Priority.LOW: "low"}
_SAID_ONCE = {MessageKind.NIGHT_REPORT: (12 * 3600, "normal"), MessageKind.TEST: (3600, "high")}
_CALLS = (MessageKind.ALARM, MessageKind.ESCALATION, MessageKind.REMINDER)
_LEADS = {MessageKind.NIGHT_REPORT: "/night", MessageKind.TEST: "/me"}
_OWN_NAMES = frozenset({"local", "localhost", "internal", "lan", "home", "corp", "test", "invalid", "onion"})
_LAST_LABEL = re.compile(r"[a-z][a-z0-9-]*")
_NOT_OUTSIDE = sentence(
    "the push service has no address on the internet, so nothing is sent there: {host} is of the own network"
)


@dataclass(frozen=True, slots=True)
class Reach:
    """Where messages may go. Tests alone allow this computer itself, with a certificate of their own."""

    loopback: bool = False
    certificates: str = ""


INTERNET = Reach()


class PhoneBook(Protocol):
    """Where the phones are kept."""

    def lost(self, phone_id: int, now_ms: int) -> None:
        """Its service knows the phone no more."""

    def note(self, phone_id: int, now_ms: int, *, taken: bool) -> None:
        """What became of one message."""


def installed() -> bool:
    """Whether the library is there that encrypts and sends."""
    return importlib.util.find_spec("pywebpush") is not None


def _plain(data: bytes) -> str:
    return base64.urlsafe_b64encode(data).rstrip(b"=").decode("ascii")


def _raw(text: str) -> bytes:
    return base64.b64decode(text + "=" * (-len(text) % 4), b"-_", validate=True)


def private_key(key: bytes) -> ec.EllipticCurvePrivateKey:
    """The site's signing key, out of the secret that the store keeps."""
    return ec.derive_private_key(int.from_bytes(key, "big") % (P256_ORDER - 1) + 1, ec.SECP256R1())


def public_key(key: bytes) -> str:
    """What a browser is given to know this site by."""
    point = private_key(key).public_key()
    return _plain(point.public_bytes(Encoding.X962, PublicFormat.UncompressedPoint))


def contact_of(settings: Settings) -> str:
    """Whom a push service may turn to: the page where it has a name on the internet."""
    public = settings.page.public_address or ""
    parts = urlsplit(public)
    # Without a path: the library takes no other, nor a port (tried with py-vapid 1.9.6).
    named = parts.scheme == "https" and _is_outside(parts.hostname or "")
    return f"https://{parts.hostname}" if named else CONTACT


# Which addresses are taken.


def is_global(address: str) -> bool:
    """Whether an address of the network is one of the internet."""
    known = ipaddress.ip_address(address.partition("%")[0])
    if isinstance(known, ipaddress.IPv6Address):
        inside = known.ipv4_mapped or known.sixtofour
        return is_global(str(inside)) if inside else known.is_global and not known.is_multicast
    return known.is_global and not known.is_multicast


def _is_outside(host: str) -> bool:
    try:
        return is_global(host)
    except ValueError:
        *before, last = host.rstrip(".").lower().split(".")
        return bool(before) and last not in _OWN_NAMES and _LAST_LABEL.fullmatch(last) is not None


def problem_with_phone(phone: Phone, reach: Reach = INTERNET) -> Sentence | None:
    """Why nothing can be sent to what a browser says of itself; None where it can."""
    try:
        parts = urlsplit(phone.endpoint)
        host, port = parts.hostname or "", parts.port
        ec.EllipticCurvePublicKey.from_encoded_point(ec.SECP256R1(), _raw(phone.p256dh))
        keys = len(_raw(phone.p256dh)) == 65 and len(_raw(phone.auth)) == 16
    except ValueError:
        host, port, keys = "", None, False
    written = phone.endpoint.isascii() and phone.endpoint.isprintable() and " " not in phone.endpoint
    whole = keys and written and len(phone.endpoint) <= LONGEST_ADDRESS and not parts.fragment
    if not (whole and parts.scheme == "https" and host and "@" not in parts.netloc):
        return sentence("what the browser says of its push service cannot be used; turn it on again")
    if not reach.loopback and (port not in (None, 443) or not _is_outside(host)):
        return sentence(_NOT_OUTSIDE.english, host=host)
    return None


class _OwnNetwork(Exception):
    """The name of a push service leads into the own network."""


@dataclass(frozen=True, slots=True)
class _Answer:
    """What is read of an answer: never its body, which may be anything."""

    status_code: int
    headers: Mapping[str, str]
    reason: str = ""
    text: str = ""


def _session(reach: Reach) -> Any:
    """Posts over HTTPS alone, follows nobody elsewhere, and looks where a name has led before it speaks."""
    import requests
    from requests.adapters import HTTPAdapter
    from urllib3.connection import HTTPSConnection
    from urllib3.connectionpool import HTTPSConnectionPool

    class CheckedConnection(HTTPSConnection):
        def _new_conn(self) -> Any:
            found = super()._new_conn()
            if not reach.loopback and not is_global(found.getpeername()[0]):
                found.close()
                raise _OwnNetwork
            return found

    class CheckedPool(HTTPSConnectionPool):
        ConnectionCls = CheckedConnection

    class CheckedAdapter(HTTPAdapter):
        def init_poolmanager(self, *arguments: Any, **options: Any) -> None:
            super().init_poolmanager(*arguments, **options)
            self.poolmanager.pool_classes_by_scheme = {"https": CheckedPool}

    class Session(requests.Session):
        def post(self, url: Any, data: Any = None, json: Any = None, **options: Any) -> Any:  # noqa: ARG002
            options["timeout"] = options.get("timeout") or TIMEOUT_S
            found = super().post(url, data, stream=True, allow_redirects=False, **options)
            found.close()
            return _Answer(found.status_code, found.headers)

    # They write addresses into the log, line by line.
    for name in ("urllib3", "requests"):
        logging.getLogger(name).setLevel(logging.ERROR)
    session = Session()
    # A proxy named by the environment would hide where a name leads.
    session.trust_env = False
    session.adapters.clear()
    session.mount("https://", CheckedAdapter())
    if reach.certificates:
        session.verify = reach.certificates
    return session


# What is sent.


def payload(text: Text, about: Pushed, leads_to: str) -> bytes:
    """What the page's worker on the phone is told, in the words of the person; cut to what services take."""
    words, calls = about.words, about.kind in _CALLS
    said: dict[str, object] = {
        "title": shortened(text.title, TITLE_CHARACTERS),
        "body": text.body,
        "lang": words.language,
        "tag": about.alarm_id or about.kind.value,
        "to": leads_to,
        "stays": calls and about.priority is Priority.HIGH,
        "at": words.now_ms,
    }
    if about.acknowledge:
        said["seen"] = {
            "to": about.acknowledge,
            "button": words.t("alarm.acknowledge"),
            "done": words.t("push.acknowledged"),
            "failed": words.t("push.not_acknowledged"),
        }
    return _fitted(said, words.t("push.more"))


def _fitted(said: dict[str, object], more: str) -> bytes:
    """Whole lines go from the end of the text; one line alone is cut where it has to be."""
    most = ENCRYPTED_BYTES - AROUND_BYTES
    whole, kept = _packed(said), str(said["body"])
    while len(whole) > most and kept:
        kept = kept.rpartition("\n")[0].rstrip() or kept[: len(kept) * 9 // 10].rstrip()
        whole = _packed({**said, "body": f"{kept} …\n{more}"})
    return whole


def _packed(said: Mapping[str, object]) -> bytes:
    return json.dumps(said, ensure_ascii=False, separators=(",", ":")).encode("utf-8", "replace")


def headers_of(about: Pushed) -> tuple[int, dict[str, str]]:
    """How long the service keeps a message, how urgent it is, and which one it takes the place of."""
    life_s, urgency = _SAID_ONCE.get(about.kind) or (_LIFE_S[about.priority], _URGENCY[about.priority])
    headers = {"Urgency": urgency}
    if about.alarm_id:
        # RFC 8030, section 5.4: at most 32 characters of base64url; here 24 bytes of a digest.
        headers["Topic"] = _plain(hashlib.sha256(about.alarm_id.encode()).digest()[:24])
    return life_s, headers


def _nothing() -> None:
    return None


def system_clock_ms() -> int:
    """The time of this computer."""
    return time.time_ns() // 1_000_000


@dataclass(frozen=True, slots=True)
class PushSender:
    """Sends to phones. `changed` is called when one was lost, so that nobody waits for it any more."""

    book: PhoneBook
    key: bytes
    contact: str = CONTACT
    places: Callable[[], Container[str]] = tuple
    changed: Callable[[], None] = _nothing
    clock: Callable[[], int] = system_clock_ms
    reach: Reach = INTERNET

    def channels(self, phones: Iterable[Phone]) -> dict[str, Channel]:
        """Each phone as a way to its person."""
        return {way_of(phone.recipient, phone.phone_id): PhoneChannel(self, phone) for phone in phones}

    def leads_to(self, about: Pushed) -> str:
        """The page that a tap on the message opens."""
        if about.place and about.place in self.places():
            return f"/places/{about.place}"
        return _LEADS.get(about.kind, "/alarms" if about.alarm_id else "/")

    def send(self, phone: Phone, text: Text, about: Pushed) -> None:
        """Hand over one message; raises ChannelError."""
        problem = problem_with_phone(phone, self.reach)
        if problem is not None:
            raise ChannelError(problem)
        host = urlsplit(phone.endpoint).hostname or ""
        answer = _handed_over(self, phone, payload(text, about, self.leads_to(about)), about, host)
        if 200 <= answer.status_code < 300:
            self._note(phone, taken=True)
            return
        if answer.status_code in (404, 410):
            self._lose(phone)
            raise ChannelError("{host} says that this phone takes messages no more", host=host)
        self._note(phone, taken=False)
        wait_s = _wait_s(answer.headers, self.clock())
        refused = sentence(
            "{host} did not take it (answer {status})", host=host, status=str(answer.status_code)
        )
        raise ChannelBusy(wait_s, refused) if wait_s else ChannelError(refused)

    def _note(self, phone: Phone, *, taken: bool) -> None:
        with suppress(StoreError):
            self.book.note(phone.phone_id, self.clock(), taken=taken)

    def _lose(self, phone: Phone) -> None:
        with suppress(StoreError):
            self.book.lost(phone.phone_id, self.clock())
        self.changed()


def _wait_s(headers: Mapping[str, str], now_ms: int) -> float:
    """After how many seconds the service wants to be asked again (RFC 9110, section 10.2.3), else 0."""
    said = headers.get("retry-after", "").strip()
    seconds = 0.0
    if said.isascii() and said.isdigit():
        seconds = float(said[:9])
    elif said:
        with suppress(ValueError, TypeError):
            until = parsedate_to_datetime(said)
            until = until if until.tzinfo else until.replace(tzinfo=UTC)
            seconds = (until - datetime.fromtimestamp(now_ms / MS_PER_SECOND, UTC)).total_seconds()
    return min(max(seconds, 0.0), LONGEST_WAIT_S)


def _handed_over(sender: PushSender, phone: Phone, data: bytes, about: Pushed, host: str) -> _Answer:
    """The answer of the push service; raises ChannelError where there is none."""
    if not installed():
        raise ChannelError(
            "messages to phones need a library that is not installed. To mend: pip install {package}",
            package="'rearing-monitor[push]'",
        )
    from py_vapid import Vapid
    from pywebpush import WebPushException, webpush
    from requests import exceptions

    life_s, headers = headers_of(about)
    try:
        answer = webpush(
            {"endpoint": phone.endpoint, "keys": {"p256dh": phone.p256dh, "auth": phone.auth}},
            data=data,
            vapid_private_key=Vapid(private_key(sender.key)),
            vapid_claims={"sub": sender.contact},
            ttl=life_s,
            headers=headers,
            timeout=TIMEOUT_S,
            requests_session=_session(sender.reach),
        )
        return _Answer(answer.status_code, answer.headers)
    except WebPushException as error:
        if error.response is not None:
            return _Answer(error.response.status_code, error.response.headers)
        raise ChannelError("the message to the phone could not be encrypted") from None
    except _OwnNetwork:
        raise ChannelError(_NOT_OUTSIDE.english, host=host) from None
    except exceptions.Timeout:
        raise ChannelError("{host} does not answer", host=host) from None
    except exceptions.RequestException:
        raise ChannelError("{host} cannot be reached; see whether the internet works", host=host) from None


@dataclass(frozen=True, slots=True)
class PhoneChannel:
    """One phone with the installed page."""

    sender: PushSender
    phone: Phone

    def push(self, text: Text, about: Pushed) -> None:
        """Hand over the message; raises ChannelError."""
        self.sender.send(self.phone, text, about)

    def send(self, title: str, body: str) -> None:
        """The same for words of which no more is known."""
        words = Localizer.plain(ENGLISH, UTC, self.sender.clock())
        self.push(Text(title, body), Pushed(MessageKind.ALARM, Priority.HIGH, words))


@contextmanager
def phones_of(settings: Settings) -> Iterator[tuple[tuple[Phone, ...], Mapping[str, Channel]]]:
    """The phones and the ways to them, where no service runs; none where the database cannot be opened."""
    try:
        store = Store.open(settings.store.path, create=False, check=False)
    except StoreError:
        yield (), {}
        return
    with store:
        phones = store.phones.every()
        sender = PushSender(store.phones, store.meta.kept_key(PUSH_KEY), contact_of(settings))
        yield phones, sender.channels(phones)
