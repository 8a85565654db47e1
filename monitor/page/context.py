"""What the page has from the program around it: store, plan, clock, its own secrets, and live updates."""

from __future__ import annotations

import asyncio
import hashlib
import hmac
import json
import logging
import os
import secrets
import threading
import time
from collections import Counter, OrderedDict
from collections.abc import AsyncIterator, Callable, Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path

from monitor.boards.first_word import Mark
from monitor.errors import StoreError
from monitor.farm.forecast_cache import ForecastCache
from monitor.page.security import Role
from monitor.records import Command
from monitor.settings.plan import Plan
from monitor.settings.writing import place_node
from monitor.store import Store
from monitor.store.meta import HELPER_PASSWORD, LINK_KEY, PAGE_KEY

log = logging.getLogger(__name__)

_ENDED = "ended_sessions"
_KEY_BYTES = 32
LOOK_S = 1.0
TICK_S = 20.0
LONGEST_S = 600.0
MOST_STREAMS = 24
MOST_OF_ONE = 4
MOST_REMEMBERED = 500


class LiveFeed:
    """Tells open pages that something has changed, by a bounded number of server-sent event streams.

    `note` may be called from any thread.
    """

    def __init__(self, look_s: float = LOOK_S, tick_s: float = TICK_S, longest_s: float = LONGEST_S) -> None:
        self.look_s, self.tick_s, self.longest_s = look_s, tick_s, longest_s
        self._lock = threading.Lock()
        self._changes = 0
        self._streams: Counter[str] = Counter()
        self._closing = False

    def note(self, _event: object = None) -> None:
        """Something that a page shows has changed."""
        with self._lock:
            self._changes += 1

    def open(self) -> None:
        """Streams may begin: the server starts."""
        self._closing = False

    def close(self) -> None:
        """End all streams: the server stops."""
        self._closing = True

    def enter(self, who: str) -> bool:
        """Take a place for a stream; False when there is none."""
        with self._lock:
            if self._streams.total() >= MOST_STREAMS or self._streams[who] >= MOST_OF_ONE:
                return False
            self._streams[who] += 1
            return True

    def leave(self, who: str) -> None:
        """Give the place back."""
        with self._lock:
            self._streams[who] -= 1
            self._streams += Counter()

    async def stream(self, who: str) -> AsyncIterator[str]:
        """The text of one stream, from a place that was taken with `enter`; it ends after a while."""
        loop = asyncio.get_running_loop()
        end, seen = loop.time() + self.longest_s, self._changes
        try:
            yield "retry: 5000\n\n"
            sent_s = loop.time()
            while loop.time() < end and not self._closing:
                await asyncio.sleep(self.look_s)
                if self._changes != seen or loop.time() - sent_s >= self.tick_s:
                    seen, sent_s = self._changes, loop.time()
                    yield f"event: changed\ndata: {seen}\n\n"
        finally:
            with suppress(RuntimeError):
                self.leave(who)


class IdempotencyGuard:
    """One form, one entry: a second tap on the same button finds what the first one wrote."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._done: OrderedDict[str, str] = OrderedDict()

    def do(self, mark: str, work: Callable[[], str]) -> str:
        """Do the work unless the form with this mark has done it; gives where to go. One at a time."""
        with self._lock:
            if mark and mark in self._done:
                return self._done[mark]
            result = work()
            if mark:
                self._done[mark] = result
                while len(self._done) > MOST_REMEMBERED:
                    self._done.popitem(last=False)
            return result


def _nothing() -> None:
    return None


def _unknown(_number: int) -> str | None:
    return None


def kept_key(store: Store, name: str) -> bytes:
    """The key of that name from the store, made and kept when it is asked for the first time."""
    with store.database.write():
        known = store.meta.get(name)
        if known is None:
            known = secrets.token_hex(_KEY_BYTES)
            store.meta.put(name, known)
    return bytes.fromhex(known)


@dataclass(slots=True)
class PageContext:
    """`password` is the hash of the owner's password; `environ` holds what the settings file refers to.

    `ask` hands a request to the service without the database, `outcome` says what is not on disk yet.
    `enrolled` are the boards whose card was made on this page, with what was known of them then.
    """

    store_path: Path
    plan: Callable[[], Plan]
    clock: Callable[[], int]
    password: str
    settings_path: Path | None = None
    request_reload: Callable[[], None] = _nothing
    environ: Mapping[str, str] = field(default_factory=lambda: os.environ)
    invented: bool = False
    wait_s: float = 3.0
    ask: Callable[[Command], int] | None = None
    outcome: Callable[[int], str | None] = _unknown
    pause: Callable[[float], None] = time.sleep
    feed: LiveFeed = field(default_factory=LiveFeed)
    forecasts: ForecastCache = field(default_factory=ForecastCache)
    idempotency: IdempotencyGuard = field(default_factory=IdempotencyGuard)
    enrolled: dict[str, Mark] = field(default_factory=dict)
    link_key: bytes = b""
    _key: bytes = b""
    _helper: str | None = None

    def prepare(self) -> None:
        """Read the page's own secrets from the store; the first time, make them."""
        with self.writing() as store:
            self._key, self.link_key = kept_key(store, PAGE_KEY), kept_key(store, LINK_KEY)
            self._helper = store.meta.get(HELPER_PASSWORD) or None

    def reading(self) -> Store:
        """The store for one answer."""
        return Store.read_only(self.store_path)

    def writing(self) -> Store:
        """The store for one short change."""
        return Store.open(self.store_path, create=False, check=False)

    @property
    def helper_password(self) -> str | None:
        """The hash of the helpers' password, or None while helpers cannot log in."""
        return self._helper

    def change_helper_password(self, hashed: str | None) -> None:
        """Give the helpers a password, or take it away; either way their sessions end."""
        with self.writing() as store:
            store.meta.put(HELPER_PASSWORD, hashed or "")
        self._helper = hashed

    def ended_sessions(self) -> Mapping[str, int]:
        """The sessions that were ended before, with their last moment."""
        with self.reading() as store:
            return dict(json.loads(store.meta.get(_ENDED) or "{}"))

    def keep_ended(self, ended: Mapping[str, int]) -> None:
        """Write down which sessions were ended; while the disk is full they are known here all the same."""
        try:
            with self.writing() as store:
                store.meta.put(_ENDED, json.dumps(ended))
        except StoreError as error:
            log.warning("a session that was ended could not be written down: %s", error)

    def key_for(self, role: Role) -> bytes:
        """The key that signs the cookies of a role: another one with each new password."""
        words = {Role.OWNER: self.password, Role.HELPER: self._helper or "", Role.VISITOR: ""}
        return hmac.digest(self._key, f"{role} {words[role]}".encode(), hashlib.sha256)

    def place_node(self, node: str, place: str) -> None:
        """Write the place of a board into the settings file and have it read again."""
        if self.settings_path is None:
            raise RuntimeError("the page was given no settings file")
        place_node(self.settings_path, node, place, self.environ)
        self.request_reload()
