"""What the page has from the program around it: store, plan, clock, its own secrets, and live updates.

Each form is handed in once, however often it comes: its mark is kept in the transaction that writes what it
says. A script is answered in data: done, asked, refused, log in first, or later.
"""

from __future__ import annotations

import asyncio
import hashlib
import hmac
import json
import logging
import os
import threading
import time
from collections import Counter, OrderedDict
from collections.abc import AsyncIterator, Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from starlette.responses import JSONResponse, RedirectResponse, Response

from monitor.boards.first_word import Mark
from monitor.errors import StoreError
from monitor.farm.forecast_cache import ForecastCache
from monitor.notify.push import INTERNET, Reach
from monitor.page.photos import KEPT, carried, laid_down
from monitor.page.security import Role
from monitor.records import MS_PER_DAY, MS_PER_MINUTE, Command
from monitor.settings.plan import Plan
from monitor.settings.writing import place_node
from monitor.store import Store
from monitor.store.logbook import LogbookMemory
from monitor.store.meta import HELPER_PASSWORD, KEEP_MARKS_DAYS, LINK_KEY, PAGE_KEY, PUSH_KEY, HandedIn

if TYPE_CHECKING:
    from monitor.page.serving import RequestContext

log = logging.getLogger(__name__)

_ENDED = "ended_sessions"
LOOK_S = 1.0
TICK_S = 20.0
LONGEST_S = 600.0
MOST_STREAMS = 24
MOST_OF_ONE = 4


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


MOST_REMEMBERED = 500
LONGEST_MARK = 80
LONGEST_WAIT_DAYS = KEEP_MARKS_DAYS - 3
"""What waited longer is asked: its mark may be forgotten by now [d]."""
CLOCK_OFF_MS = MS_PER_DAY
"""A phone whose clock is farther off is asked for the time. Own choice."""
PHONE_CLOCK, CLOCK_SET, WAITED_LONG = "phone_clock", "clock_set", "waited_long"
_LOCKS = 16
_NOT_TYPED = frozenset(
    {
        "form_token",
        "mark",
        "confirmed",
        "change",
        "made_at_ms",
        "sent_at_ms",
        CLOCK_SET,
        "at_shown",
        "back",
        KEPT,
    }
)
"""Fields that may differ between two tries to hand in the same form."""
_CARRIED_APART = frozenset({"form_token", "confirmed", "photo", KEPT})


class OnceGuard:
    """Holds a mark while its form is worked on, and remembers the newest answers as long as the page runs.

    In memory also stands what was asked of the service while the database could not be written.
    """

    def __init__(self) -> None:
        self._locks = tuple(threading.Lock() for _ in range(_LOCKS))
        self._lock = threading.Lock()
        self._done: OrderedDict[str, HandedIn] = OrderedDict()

    @contextmanager
    def holding(self, mark: str) -> Iterator[None]:
        """One at a time for the same mark."""
        with self._locks[hash(mark) % _LOCKS]:
            yield

    def find(self, mark: str) -> HandedIn | None:
        """The answer that this mark had."""
        return self._done.get(mark)

    def remember(self, done: HandedIn) -> None:
        """Remember an answer; the oldest are forgotten."""
        with self._lock:
            self._done[done.mark] = done
            while len(self._done) > MOST_REMEMBERED:
                self._done.popitem(last=False)


def _nothing() -> None:
    return None


def _unknown(_number: int) -> str | None:
    return None


def kept_key(store: Store, name: str) -> bytes:
    """The key of that name from the store, made and kept when it is asked for the first time."""
    return store.meta.kept_key(name)


@dataclass(slots=True)
class PageContext:
    """`password` is the hash of the owner's password; `environ` holds what the settings file refers to.

    `patience_s` is how long a list waits for what its newest entry changes; None waits for all of it.
    `ask` hands a request to the service without the database, `outcome` says what is not on disk yet.
    `enrolled` are the boards whose card was made on this page, with what was known of them then. `ca` is the
    certificate of the farm's CA (DER), which a phone needs for the page over HTTPS; the ports are set when
    the page is served.
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
    patience_s: float | None = None
    ask: Callable[[Command], int] | None = None
    outcome: Callable[[int], str | None] = _unknown
    pause: Callable[[float], None] = time.sleep
    feed: LiveFeed = field(default_factory=LiveFeed)
    forecasts: ForecastCache = field(default_factory=ForecastCache)
    once: OnceGuard = field(default_factory=OnceGuard)
    ca: bytes = b""
    plain_port: int = 0
    https_port: int | None = None
    phones_changed: Callable[[], None] = _nothing
    push_reach: Reach = INTERNET
    push_key: bytes = b""
    enrolled: dict[str, Mark] = field(default_factory=dict)
    link_key: bytes = b""
    _entries: LogbookMemory = field(default_factory=LogbookMemory)
    _key: bytes = b""
    _helper: str | None = None

    def __post_init__(self) -> None:
        self.forecasts.tell_when_caught_up(self.feed.note)

    def prepare(self) -> None:
        """Read the page's own secrets from the store; the first time, make them."""
        with self.writing() as store:
            self._key, self.link_key = kept_key(store, PAGE_KEY), kept_key(store, LINK_KEY)
            self.push_key = kept_key(store, PUSH_KEY)
            self._helper = store.meta.get(HELPER_PASSWORD) or None

    def reading(self) -> Store:
        """The store for one answer."""
        return Store.read_only(self.store_path, self._entries)

    def writing(self) -> Store:
        """The store for one short change."""
        return Store.open(self.store_path, create=False, check=False)

    @property
    def helper_password(self) -> str | None:
        """The hash of the helpers' password, or None while helpers cannot log in."""
        return self._helper

    def change_helper_password(self, hashed: str | None) -> None:
        """Give the helpers a password, or take it away; either way their sessions end, on phones too."""
        with self.writing() as store:
            store.meta.put(HELPER_PASSWORD, hashed or "")
            store.phones.remove_role(Role.HELPER)
        self._helper = hashed
        self.phones_changed()

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


# Each form once.


def content_of(path: str, form: Mapping[str, str]) -> str:
    """A digest of where a form is sent and what was typed into it."""
    typed = sorted((name, value) for name, value in form.items() if name not in _NOT_TYPED)
    return hashlib.sha256(json.dumps([path, typed]).encode()).hexdigest()[:32]


def once(request: RequestContext, work: Callable[[RequestContext], Response]) -> Response:
    """Answer; a form that was handed in before is answered as it was then, and does nothing more."""
    mark = request.mark
    if request.http.method != "POST" or not mark:
        return work(request)
    guard = request.app.context.once
    with guard.holding(mark):
        known = guard.find(mark) or request.store.form_marks.find(mark)
        if known is not None:
            return _as_before(request, known)
        asked = _odd_time(request)
        if asked is not None:
            return asked
        response = work(request)
        if response.status_code == 303:
            target = response.headers["location"]
            guard.remember(HandedIn(mark, _content(request), request.now_ms, target))
    return response


def _as_before(request: RequestContext, known: HandedIn) -> Response:
    if known.content == _content(request):
        return RedirectResponse(known.target, 303)
    words = request.words
    said = words.t("once.changed", at=words.moment(known.done_ms))
    return request.render("problem.html", 409, heading=words.t("problem.heading"), said=said, to=known.target)


def _content(request: RequestContext) -> str:
    return content_of(request.http.url.path, request.form)


@contextmanager
def marked(request: RequestContext, store: Store, number: Callable[[], str]) -> Iterator[None]:
    """One transaction: what is written inside, and the mark of the form that says it.

    `number` gives the part of the address that names what was written.
    """
    with store.database.write():
        yield
        if request.mark:
            target = f"{landing(request)}?{number()}"
            store.form_marks.keep(HandedIn(request.mark, _content(request), request.now_ms, target))


def landing(request: RequestContext) -> str:
    """Where a form leads that was written down: to where it came from, else to what it is about."""
    path = str(request.http.url.path)
    about = "/logbook" if path.startswith("/logbook") else path.rpartition("/")[0]
    return request.came_from or about or "/"


def made_at(form: Mapping[str, str], now_ms: int) -> tuple[int, int] | None:
    """When a form was made by our clock, and how far the phone's is ahead; None where it does not say."""
    made_ms, sent_ms = (_whole(form.get(name, "")) for name in ("made_at_ms", "sent_at_ms"))
    if made_ms is None:
        return None
    ahead_ms = 0 if sent_ms is None else sent_ms - now_ms
    return made_ms - ahead_ms, ahead_ms


def _whole(text: str) -> int | None:
    return int(text) if text.isascii() and text.isdigit() and len(text) < 15 else None


def _odd_time(request: RequestContext) -> Response | None:
    """The question where it is not sure when a form was made, unless it was answered or a time was given."""
    made = made_at(request.form, request.now_ms)
    given = request.field("at", 40) != request.field("at_shown", 40)
    if made is None or given or request.field("change"):
        return None
    known = frozenset(request.field("confirmed", 500).split())
    asked = {key: text for key, text in _odd(request, *made) if key not in known}
    if not asked or not laid_down(request):
        return None
    path = str(request.http.url.path)
    return request.render(
        "asked.html",
        questions=list(asked.values()),
        action=path,
        leave=landing(request),
        can_change="at" in request.form,
        typed=[
            *((name, text) for name, text in request.form.items() if name not in _CARRIED_APART),
            *carried(request),
        ],
        confirmed=" ".join(sorted(known | asked.keys())),
    )


def _odd(request: RequestContext, made_ms: int, ahead_ms: int) -> Iterator[tuple[str, str]]:
    words, now_ms = request.words, request.now_ms
    # The clock of a demonstration stands where it likes.
    trusted = request.app.context.invented
    if (abs(ahead_ms) > CLOCK_OFF_MS and not trusted) or made_ms > now_ms + MS_PER_MINUTE:
        yield PHONE_CLOCK, words.t("once.phone_clock", at=words.moment(min(made_ms, now_ms)))
    elif request.field(CLOCK_SET) and not trusted:
        yield CLOCK_SET, words.t("once.clock_set", at=words.moment(made_ms))
    if now_ms - made_ms > LONGEST_WAIT_DAYS * MS_PER_DAY:
        yield WAITED_LONG, words.t("once.waited_long", at=words.moment(made_ms))


def in_data(page: Response, said: Sequence[str]) -> Response:
    """A page that asks or refuses, for a script: what it says, and the page itself to be shown."""
    state = "asked" if page.status_code == 200 else "later" if page.status_code >= 500 else "refused"
    text = bytes(page.body).decode("utf-8")
    return JSONResponse({"state": state, "said": list(said), "page": text}, page.status_code)


def led_in_data(response: Response) -> Response:
    """A form that was done or needs a login, for a script; other answers as they are."""
    if response.status_code != 303:
        return response
    to = response.headers["location"]
    if to.startswith("/login"):
        return JSONResponse({"state": "login"}, 401)
    return JSONResponse({"state": "done", "to": to})


def said_in(values: Mapping[str, object]) -> list[str]:
    """What a page asks or refuses, as lines."""
    for name in ("refused", "questions", "odd"):
        lines = values.get(name)
        if isinstance(lines, list | tuple) and lines:
            return [str(line) for line in lines]
    return [str(values["said"])] if values.get("said") else []
