"""What protects the page: passwords, signed sessions, few attempts, safe headers, bounded requests."""

from __future__ import annotations

import asyncio
import base64
import hashlib
import hmac
import ipaddress
import secrets
import threading
import time
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import astuple, dataclass
from enum import StrEnum
from types import MappingProxyType

from itsdangerous import BadData
from starlette.datastructures import MutableHeaders
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from monitor.notify.links import serializer
from monitor.records import MS_PER_DAY

_N, _R, _P = 2**14, 8, 1
_SALT_BYTES, _KEY_BYTES = 16, 32
_SCHEME = "scrypt"
# Without letters and digits that look alike on paper.
_ALPHABET = "abcdefghjkmnpqrstuvwxyz23456789"
_GROUPS, _GROUP_LENGTH = 3, 4
LONGEST_PASSWORD = 200
SHORTEST_PASSWORD = 8
LIFETIME_MS = 30 * MS_PER_DAY
VISITOR_MS = MS_PER_DAY // 12
_LONGEST_COOKIE = 600
MOST_ENDED = 2000
_ALL_OF, _TIMES = "all of ", "."
"""Before the name of a person whose sessions were ended; before how often, in the number of a session."""
WINDOW_S = 900.0
"""Own choice, as the next lines: for so long a wrong password is remembered."""
FREE_TRIES, SHORTEST_WAIT_S, LONGEST_WAIT_S = 3, 2.0, 30.0
MOST_FROM_ALL, TURN_S = 100, 2.0
MOST_ADDRESSES = 2000
MOST_WAITING, MOST_AT_ONCE, PLACE_S = 8, 4, 5.0
DEVICE = "device "
"""Before the number of a phone on which the owner logged in before: it stands for its address."""
MOST_BODY_BYTES = 16 * 1024
BODY_S = 10.0
SEND_S = 30.0
POLICY = "; ".join(
    (
        "default-src 'none'",
        "style-src 'self'",
        "script-src 'self'",
        "img-src 'self'",
        "connect-src 'self'",
        "manifest-src 'self'",
        "form-action 'self'",
        "base-uri 'none'",
        "frame-ancestors 'none'",
    )
)
PICTURE_POLICY = "default-src 'none'; sandbox"
"""Of a photo that is opened by itself: whatever is hidden in it, nothing of it runs."""
HEADERS = {
    "content-security-policy": POLICY,
    "x-content-type-options": "nosniff",
    "x-frame-options": "DENY",
    "referrer-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "camera=(), microphone=(), geolocation=(), payment=(), usb=()",
}


def first_password() -> str:
    """A new password that can be read out and typed: three groups of four, about 59 bits."""
    groups = ("".join(secrets.choice(_ALPHABET) for _ in range(_GROUP_LENGTH)) for _ in range(_GROUPS))
    return "-".join(groups)


def hash_password(password: str) -> str:
    """The salted scrypt hash of a password, with the figures needed to check one against it."""
    salt = secrets.token_bytes(_SALT_BYTES)
    return "$".join((_SCHEME, str(_N), _text(salt), _text(_derive(password, salt, _N))))


def matches(password: str, stored: str | None) -> bool:
    """Whether the password is the one; without a stored one never, after the same work."""
    parts = (stored or hash_of_nothing()).split("$")
    if len(parts) != 4 or parts[0] != _SCHEME or len(password) > LONGEST_PASSWORD:
        return False
    derived = _derive(password, _bytes(parts[2]), int(parts[1]))
    return hmac.compare_digest(derived, _bytes(parts[3])) and stored is not None


def hash_of_nothing() -> str:
    """A hash that no password has."""
    return "$".join((_SCHEME, str(_N), _text(bytes(_SALT_BYTES)), _text(bytes(_KEY_BYTES))))


def _derive(password: str, salt: bytes, n: int) -> bytes:
    return hashlib.scrypt(
        password.encode("utf-8", "surrogatepass"), salt=salt, n=n, r=_R, p=_P, dklen=_KEY_BYTES
    )


def _text(data: bytes) -> str:
    return base64.urlsafe_b64encode(data).decode("ascii")


def _bytes(text: str) -> bytes:
    return base64.urlsafe_b64decode(text)


class Role(StrEnum):
    """What a person may do. A visitor has not logged in."""

    VISITOR = "visitor"
    HELPER = "helper"
    OWNER = "owner"


@dataclass(frozen=True, slots=True)
class Session:
    """One session: a number that nobody can guess, who it is, and until when."""

    nonce: str
    role: Role
    name: str
    expires_ms: int

    @property
    def known(self) -> bool:
        """Whether somebody logged in."""
        return self.role is not Role.VISITOR

    @property
    def owner(self) -> bool:
        """Whether settings may be changed."""
        return self.role is Role.OWNER


class Sessions:
    """Writes and reads the signed cookie: new at each login, ended by logout, by time and by a new password.

    `key_for(role)` changes with the password of the role. `ended` are sessions that were ended before, and
    `keep` writes them down, so that none is valid again after a restart.
    """

    def __init__(
        self,
        key_for: Callable[[Role], bytes],
        clock: Callable[[], int],
        ended: Mapping[str, int] = MappingProxyType({}),
        keep: Callable[[Mapping[str, int]], object] = lambda _ended: None,
    ) -> None:
        self._key_for, self._clock = key_for, clock
        self._ended, self._keep = dict(ended), keep

    def begin(self, role: Role, name: str = "") -> Session:
        """A session with a number of its own, whatever cookie came before."""
        length_ms = VISITOR_MS if role is Role.VISITOR else LIFETIME_MS
        times = self._times_ended(name)
        nonce = secrets.token_urlsafe(18) + (f"{_TIMES}{times}" if times else "")
        return Session(nonce, role, name, self._clock() + length_ms)

    def cookie(self, session: Session) -> str:
        """The cookie's value."""
        return str(serializer(self._key_for(session.role), "session").dumps(astuple(session)))

    def read(self, cookie: str | None) -> Session | None:
        """The session of a cookie that we signed, that has not expired and was not ended."""
        if not cookie or len(cookie) > _LONGEST_COOKIE or not cookie.isascii():
            return None
        sessions = (self._signed_as(role, cookie) for role in Role)
        session = next((session for session in sessions if session is not None), None)
        if session is None or session.nonce in self._ended or not self._may_go_on(session):
            return None
        left_ms = session.expires_ms - self._clock()
        # One that lasts longer than any began while the clock was ahead.
        return session if 0 < left_ms <= LIFETIME_MS + MS_PER_DAY else None

    def _signed_as(self, role: Role, cookie: str) -> Session | None:
        try:
            nonce, named, name, expires_ms = serializer(self._key_for(role), "session").loads(cookie)
        except (BadData, TypeError, ValueError):
            return None
        return Session(nonce, role, name, expires_ms) if named == role else None

    def end(self, session: Session) -> None:
        """No cookie of this session is taken any more; by number, since the clock may be wrong."""
        while len(self._ended) >= MOST_ENDED:
            self._ended.pop(next(each for each in self._ended if not each.startswith(_ALL_OF)))
        self._ended[session.nonce] = session.expires_ms
        if session.known:
            self._keep(self._ended)

    def end_all_of(self, name: str) -> None:
        """No session under this name goes on, on no phone; counted, since the clock may be wrong."""
        self._ended[_ALL_OF + name.casefold()] = self._times_ended(name) + 1
        self._keep(self._ended)

    def _times_ended(self, name: str) -> int:
        return self._ended.get(_ALL_OF + name.casefold(), 0)

    def _may_go_on(self, session: Session) -> bool:
        """Whether it began after all sessions of its person were ended the last time."""
        began = session.nonce.partition(_TIMES)[2] or "0"
        return began == str(self._times_ended(session.name))

    def device_cookie(self) -> str:
        """What marks a phone of the owner from a login on, until the password changes; it opens nothing."""
        return str(serializer(self._key_for(Role.OWNER), "device").dumps(secrets.token_urlsafe(12)))

    def device(self, cookie: str | None) -> str:
        """The phone of the owner that a cookie marks, as the throttle knows it; "" where it marks none."""
        if not cookie or len(cookie) > _LONGEST_COOKIE or not cookie.isascii():
            return ""
        try:
            return f"{DEVICE}{serializer(self._key_for(Role.OWNER), 'device').loads(cookie)}"
        except BadData:
            return ""

    def photo_token(self, session: Session, name: str) -> str:
        """What says in a form that a photo was laid down for this person, under that name."""
        who = f"{session.role}:{session.name}"
        return str(serializer(self._key_for(session.role), "photo").dumps([name, who]))

    def photo_name(self, session: Session, token: str) -> str:
        """The name of the photo that a form of this person means; "" for what we did not sign for them."""
        try:
            name, who = serializer(self._key_for(session.role), "photo").loads(token)
        except (BadData, TypeError, ValueError):
            return ""
        return str(name) if who == f"{session.role}:{session.name}" else ""

    def form_token(self, session: Session) -> str:
        """What every form of this session must bring along: other letters in each answer.

        Answers are compressed, and how long they get tells what in them is alike (BREACH, 2013): somebody who
        has text of his own stand in a page would guess a token that stays the same letter by letter.
        """
        pad = secrets.token_bytes(_KEY_BYTES)
        return _text(pad + _masked(self._form_secret(session), pad))

    def is_form_token(self, session: Session, token: str) -> bool:
        """Whether a form came from a page of this session."""
        try:
            told = base64.b64decode(token.encode("ascii"), b"-_", validate=True)
        except ValueError:
            return False
        pad, masked = told[:_KEY_BYTES], told[_KEY_BYTES:]
        secret = self._form_secret(session)
        return len(masked) == len(pad) == _KEY_BYTES and hmac.compare_digest(secret, _masked(masked, pad))

    def _form_secret(self, session: Session) -> bytes:
        return hmac.digest(self._key_for(session.role), f"form {session.nonce}".encode(), hashlib.sha256)


def _masked(data: bytes, pad: bytes) -> bytes:
    return bytes(one ^ other for one, other in zip(data, pad, strict=True))


class Throttle:
    """Wrong passwords have the next try wait: longer each time, half a minute at most, by the steady clock.

    What one address did costs no other one anything, until very many come from all of them together: then
    those that never got in take turns. Behind a tunnel or one router all have one address: a phone on which
    the owner logged in before is known by a mark of its own, and no try of others keeps it out.
    """

    def __init__(
        self,
        steady_s: Callable[[], float] = time.monotonic,
        pause: Callable[[float], None] = time.sleep,
    ) -> None:
        self._steady_s, self._pause = steady_s, pause
        self._failures: dict[str, list[float]] = {}
        self._trusted: dict[str, None] = {}
        self._waiting: set[str] = set()
        self._next_turn_s = 0.0
        self._lock = threading.Lock()
        # Checking a password takes work on purpose; only so many are checked at once.
        self._places = threading.BoundedSemaphore(MOST_AT_ONCE)

    @contextmanager
    def turn(self, address: str) -> Iterator[bool]:
        """Wait until a try from this address may be made; False where too many wait already."""
        who = _network(address)
        wait_s = self._enter(who)
        if wait_s is None:
            yield False
            return
        try:
            if wait_s > 0:
                self._pause(wait_s)
            may = self._places.acquire(timeout=PLACE_S)
            try:
                yield may
            finally:
                if may:
                    self._places.release()
        finally:
            with self._lock:
                self._waiting.discard(who)

    def _enter(self, who: str) -> float | None:
        with self._lock:
            now_s = self._steady_s()
            self._forget(now_s)
            wait_s = self._wait_s(who, now_s)
            if wait_s <= 0:
                return 0.0
            full = len(self._waiting) >= MOST_WAITING and not who.startswith(DEVICE)
            crowded = who in self._waiting or full
            if crowded or wait_s > LONGEST_WAIT_S:
                return None
            self._waiting.add(who)
            return wait_s

    def _wait_s(self, who: str, now_s: float) -> float:
        mine = self._failures.get(who, [])
        own_s = mine[-1] + _delay_s(len(mine)) - now_s if mine else 0.0
        everyone = sum(len(times) for times in self._failures.values())
        if everyone < MOST_FROM_ALL or who in self._trusted or who.startswith(DEVICE):
            return own_s
        turn_s = max(self._next_turn_s, now_s) + TURN_S
        if turn_s - now_s <= LONGEST_WAIT_S:
            self._next_turn_s = turn_s
        return max(own_s, turn_s - now_s)

    def failed(self, address: str) -> None:
        """A wrong password came from there."""
        with self._lock:
            times = self._failures.setdefault(_network(address), [])
            times.append(self._steady_s())
            del times[:-MOST_FROM_ALL]
            while len(self._failures) > MOST_ADDRESSES:
                self._failures.pop(next(iter(self._failures)))

    def succeeded(self, address: str, *, forgive: bool = True) -> None:
        """The right password came from there. Wrong ones are forgiven to the owner alone.

        Who knows the helpers' password would else buy guesses at the other one with it.
        """
        who = _network(address)
        with self._lock:
            if forgive:
                self._failures.pop(who, None)
            self._trusted[who] = None
            while len(self._trusted) > MOST_ADDRESSES:
                self._trusted.pop(next(iter(self._trusted)))

    def _forget(self, now_s: float) -> None:
        recent = {
            who: [at_s for at_s in times if now_s - at_s < WINDOW_S] for who, times in self._failures.items()
        }
        self._failures = {who: times for who, times in recent.items() if times}


def _delay_s(failures: int) -> float:
    """How long after so many wrong passwords the next try waits [s]."""
    over = failures - FREE_TRIES
    return 0.0 if over < 0 else min(LONGEST_WAIT_S, SHORTEST_WAIT_S * 2.0 ** min(over, 10))


def _network(address: str) -> str:
    """The address; of IPv6 the network, of whose addresses one phone has as many as it likes."""
    try:
        known = ipaddress.ip_address(address)
    except ValueError:
        return address
    return str(ipaddress.ip_network((known, 64), strict=False)) if known.version == 6 else address


class BodyTooLarge(Exception):
    """More came than a form of this page can hold."""


class _Gone(Exception):
    """Whoever sent it left before its end; half a form is none."""


@dataclass(frozen=True, slots=True)
class BodyBound:
    """How much of a body is kept, how much is read at most, and for how long."""

    kept_bytes: int
    read_bytes: int
    seconds: float | None = None


FORM = BodyBound(MOST_BODY_BYTES, MOST_BODY_BYTES)
MOST_PHOTOS_AT_ONCE = 4
"""Own choice."""


def _always_a_form(_scope: Scope) -> BodyBound:
    return FORM


class SafeHeaders:
    """Puts the headers on every answer; pages are never kept by a cache unless they say so."""

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass the request on."""

        async def send_with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                headers.update(HEADERS)
                if headers.get("content-type") == "image/jpeg":
                    headers["content-security-policy"] = PICTURE_POLICY
                headers.setdefault("cache-control", "no-store")
            await send(message)

        await self._app(scope, receive, send_with_headers if scope["type"] == "http" else send)


class Bounds:
    """Refuses bodies that are too large or come too slowly, and gives up on clients that do not read.

    `bound_of` tells which requests may bring a photo.
    """

    body_s, send_s = BODY_S, SEND_S

    def __init__(self, app: ASGIApp, bound_of: Callable[[Scope], BodyBound] = _always_a_form) -> None:
        self._app, self._bound_of = app, bound_of
        self._photos = 0

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Read the whole body first, then pass the request on."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        bound = self._bound_of(scope)
        try:
            with self._place(bound) as has_place:
                if not has_place:
                    await _refuse(503, "Too many photos come at once. Try again.")(scope, receive, send)
                    return
                await self._pass_on(scope, receive, send, bound)
        except BodyTooLarge:
            await _refuse(413, "This is more than a form of this page can hold.")(scope, receive, send)
        except TimeoutError:
            await _refuse(408, "The request came too slowly.")(scope, receive, send)
        except _Gone:
            return

    @contextmanager
    def _place(self, bound: BodyBound) -> Iterator[bool]:
        """Only so many photos are held at once."""
        if bound is FORM or self._photos >= MOST_PHOTOS_AT_ONCE:
            yield bound is FORM
            return
        self._photos += 1
        try:
            yield True
        finally:
            self._photos -= 1

    async def _pass_on(self, scope: Scope, receive: Receive, send: Send, bound: BodyBound) -> None:
        body = await asyncio.wait_for(_read(scope["headers"], receive, bound), bound.seconds or self.body_s)
        await self._app(scope, _Replay(body, receive), self._bounded(send))

    def _bounded(self, send: Send) -> Send:
        async def bounded(message: Message) -> None:
            await asyncio.wait_for(send(message), self.send_s)

        return bounded


class _Replay:
    """Gives the body that was read, then what the server says."""

    def __init__(self, body: bytes, receive: Receive) -> None:
        self._body: bytes | None = body
        self._receive = receive

    async def __call__(self) -> Message:
        """The body the first time."""
        body, self._body = self._body, None
        if body is None:
            return await self._receive()
        return {"type": "http.request", "body": body, "more_body": False}


def _refuse(status: int, text: str) -> PlainTextResponse:
    return PlainTextResponse(text, status, {"connection": "close"})


async def _read(headers: Iterable[tuple[bytes, bytes]], receive: Receive, bound: BodyBound) -> bytes:
    promised = dict(headers).get(b"content-length", b"0")
    if not promised.isdigit() or int(promised) > bound.read_bytes:
        raise BodyTooLarge
    kept, size, more = bytearray(), 0, True
    while more:
        message = await receive()
        if message["type"] != "http.request":
            raise _Gone
        part = message.get("body", b"")
        size += len(part)
        if size > bound.read_bytes:
            raise BodyTooLarge
        kept += part[: bound.kept_bytes - len(kept)]
        more = message.get("more_body", False)
    return bytes(kept)
