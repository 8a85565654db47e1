"""From a request to an answer: who asks, in which words, whether they may, and what went wrong.

Templates become pages here; everything that comes from a person or a payload is escaped.
"""

from __future__ import annotations

import hashlib
import logging
import time
from collections.abc import Awaitable, Callable, Mapping, Sequence
from dataclasses import dataclass, field
from enum import IntEnum
from functools import cache, cached_property
from importlib import resources
from urllib.parse import parse_qsl, urlsplit

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import HTMLResponse, RedirectResponse, Response
from starlette.routing import Route

from monitor.climate.calibration import CalibrationTable
from monitor.errors import MonitorError, StoreError
from monitor.logbook.photos import MOST_KB
from monitor.logbook.replay import FarmBook
from monitor.page.context import (
    LONGEST_MARK,
    PageContext,
    in_data,
    led_in_data,
    made_at,
    marked,
    once,
    said_in,
)
from monitor.page.photos import FormPhoto, is_multipart, multipart_form, typed_photo
from monitor.page.security import Role, Session, Sessions, Throttle
from monitor.records import Command, CommandKind
from monitor.settings.plan import Plan
from monitor.store import Store
from monitor.store.kept_sentences import refusal_of
from monitor.words.catalogue import LANGUAGES, UNREAD
from monitor.words.localizer import DisplayPreferences, Localizer, preferred_language

log = logging.getLogger(__name__)

SESSION_COOKIE, PREFERENCES_COOKIE = "rearing_session", "rearing_view"
ENCRYPTED_COOKIE = f"__Host-{SESSION_COOKIE}"
"""The session over HTTPS. Cookies do not know ports: under one name the plain page could not be logged into,
and what somebody in between plants there would be read here (RFC 6265bis, cookie name prefixes)."""
MOST_FIELDS = 28
PREFERENCES_S = 365 * 86_400
_POLL_S = 0.05
_TYPES = {
    "page.css": "text/css; charset=utf-8",
    "page.js": "text/javascript; charset=utf-8",
    "offline.js": "text/javascript; charset=utf-8",
    "photo.js": "text/javascript; charset=utf-8",
    "install.js": "text/javascript; charset=utf-8",
    "push.js": "text/javascript; charset=utf-8",
    "sw.js": "text/javascript; charset=utf-8",
    "icon.svg": "image/svg+xml",
    "icon-192.png": "image/png",
    "icon-512.png": "image/png",
    "icon-maskable-512.png": "image/png",
}

Handler = Callable[[Request], Awaitable[Response]]


@dataclass(frozen=True, slots=True)
class StaticFile:
    """A file of the page, read once; its version is a part of its address."""

    content: bytes
    media_type: str
    version: str


def static_files() -> Mapping[str, StaticFile]:
    """The files that anybody may have: there are no others, so no path leads anywhere else."""
    folder = resources.files("monitor.page").joinpath("static")
    contents = {name: folder.joinpath(name).read_bytes() for name in _TYPES}
    return {
        name: StaticFile(content, _TYPES[name], hashlib.sha256(content).hexdigest()[:12])
        for name, content in contents.items()
    }


_PHONE_WORDS = (
    *("gone", "count", "of", "log_in", "asks", "kept", "not_sent", "no_page", "answer", "edit", "delete"),
    *("sure", "leave", "back", "keeps_nothing", "twice", "maybe", "no_answer"),
)


def phone_words(words: Localizer) -> Mapping[str, str]:
    """What the script says of an entry that waits on the phone; names in {braces} are put in there."""
    blanks = {name: f"{{{name}}}" for name in ("age", "count", "who", "at", "what")}
    said = {key: words.t(f"phone.{key}", **blanks) for key in _PHONE_WORDS}
    roles = {role.value: words.t(f"role.{role}") for role in (Role.OWNER, Role.HELPER)}
    return {
        **said,
        **roles,
        "moment": words.t("length.moment"),
        "login": words.t("login.do"),
        "colon": words.t("format.colon"),
        "photo": words.t("photo.with"),
    }


@cache
def _templates() -> Environment:
    """The templates, each compiled once as long as the program runs."""
    return Environment(
        loader=PackageLoader("monitor.page", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        auto_reload=False,
    )


def compile_templates() -> None:
    """Compile all of them, 10 ms each, before anybody waits for one."""
    for name in _templates().list_templates():
        _templates().get_template(name)


class Renderer:
    """Makes pages of templates and values."""

    def __init__(self, files: Mapping[str, StaticFile]) -> None:
        self._environment = _templates()
        addresses = {name: f"/static/{name}?v={file.version}" for name, file in files.items()}
        self._environment.globals.update(
            files=addresses,
            photo_kb=MOST_KB,
            languages=LANGUAGES,
            unread=sorted(UNREAD),
            phone_words=phone_words,
        )

    def page(
        self, request: RequestContext, template: str, status: int, values: Mapping[str, object]
    ) -> Response:
        """A whole page."""
        words = request.words
        text = self._environment.get_template(template).render(
            w=words,
            t=words.t,
            session=request.session,
            form_token=request.app.sessions.form_token(request.session),
            parts=request.app.parts if request.session.known else (),
            path=request.http.url.path,
            site_title=request.plan.settings.site.title,
            invented=request.app.context.invented,
            **values,
        )
        return HTMLResponse(text, status)


def drawn(svg: str) -> Markup:
    """A drawing of ours, whose words are escaped already."""
    return Markup(svg)


class Access(IntEnum):
    """Who may have a page."""

    OPEN = 0
    HELPER = 1
    OWNER = 2


@dataclass(frozen=True, slots=True)
class AppState:
    """The page as a whole: its context and what it is served with."""

    context: PageContext
    sessions: Sessions
    throttle: Throttle
    renderer: Renderer
    parts: tuple[Part, ...]


@dataclass(frozen=True)
class RequestContext:
    """One request, ready to be answered in a thread of its own."""

    app: AppState
    http: Request
    session: Session
    words: Localizer
    plan: Plan
    now_ms: int
    form: Mapping[str, str] = field(default_factory=dict)
    photo: FormPhoto = field(default_factory=FormPhoto)

    @cached_property
    def store(self) -> Store:
        """The database, opened when it is first needed; closed when the answer is ready."""
        return self.app.context.reading()

    @cached_property
    def calibrations(self) -> CalibrationTable:
        """The calibrations of all sensors, read once for the answer."""
        return self.store.calibrations.table()

    def book(self) -> FarmBook:
        """Cohorts and bins as the logbook tells of them now."""
        return self.app.context.forecasts.book_of(self.store, self.plan, self.now_ms)

    def close(self) -> None:
        """Close the database if it was opened."""
        if "store" in self.__dict__:
            self.store.close()

    def query(self, name: str) -> str:
        """A word of the address after the question mark."""
        return self.http.query_params.get(name, "")[:200]

    def field(self, name: str, most: int = 200) -> str:
        """A field of the form: one line, without blanks around it, cut to what makes sense."""
        return "".join(sign for sign in self.form.get(name, "") if sign.isprintable()).strip()[:most]

    @property
    def mark(self) -> str:
        """The mark of the form, which is handed in once; "" where it has none."""
        return self.field("mark", LONGEST_MARK)

    @cached_property
    def made_ms(self) -> int:
        """When the form was made: earlier than now where it waited on a phone without a connection."""
        made = made_at(self.form, self.now_ms)
        return self.now_ms if made is None else min(made[0], self.now_ms)

    @property
    def waited(self) -> bool:
        """Whether the form says when it was made."""
        return made_at(self.form, self.now_ms) is not None

    @property
    def came_from(self) -> str:
        """The page of ours that the form says it came from, else ""."""
        return local_path(self.field("back"))

    @property
    def scripted(self) -> bool:
        """Whether a script asks, which is answered in data."""
        return "application/json" in self.http.headers.get("accept", "")

    def render(self, template: str, status: int = 200, **values: object) -> Response:
        """A page with everything that each page needs; for a script the page in data."""
        page = self.app.renderer.page(self, template, status, values)
        return in_data(page, said_in(values)) if self.scripted else page


Answer = Callable[[RequestContext], Response]


@dataclass(frozen=True, slots=True)
class Page:
    """One address: what answers GET, what answers POST, who may, and whether a form may bring a photo."""

    path: str
    get: Answer | None = None
    post: Answer | None = None
    access: Access = Access.HELPER
    post_access: Access = Access.HELPER
    proves_itself: bool = False
    photo: bool = False


@dataclass(frozen=True, slots=True)
class Part:
    """One part of the navigation; `main` ones stand in the bar of a phone, the others behind "More"."""

    key: str
    path: str
    pages: tuple[Page, ...]
    main: bool = True


def route_of(app: AppState, page: Page) -> Route:
    """The route that serves a page."""
    methods = [name for name, work in (("GET", page.get), ("POST", page.post)) if work is not None]

    async def endpoint(http: Request) -> Response:
        return await _answer(app, page, http)

    return Route(page.path, endpoint, methods=methods)


async def _answer(app: AppState, page: Page, http: Request) -> Response:
    request = await request_context(app, http, page.photo)
    posting = http.method == "POST"
    work = page.post if posting else page.get
    response = _refusal(request, page, posting)
    if response is None:
        assert work is not None
        response = await run_in_threadpool(_guarded, request, work)
    return led_in_data(response) if posting and request.scripted else response


async def request_context(app: AppState, http: Request, photo_may_come: bool = False) -> RequestContext:
    """Who asks, in which words; a form is read whole."""
    now_ms, plan = app.context.clock(), app.context.plan()
    session = app.sessions.read(session_cookie(http)) or app.sessions.begin(Role.VISITOR)
    form, photo = await _form(http, photo_may_come) if http.method == "POST" else ({}, FormPhoto())
    return RequestContext(
        app, http, session, Localizer(preferences_of(http), plan.zone, now_ms), plan, now_ms, form, photo
    )


async def _form(http: Request, photo_may_come: bool) -> tuple[dict[str, str], FormPhoto]:
    """What was typed, and the photo that came with it; what tells the photo from others counts as typed."""
    body = await http.body()
    if not is_multipart(http):
        form, photo = _fields(body), FormPhoto()
    elif photo_may_come:
        form, photo = multipart_form(body, http.headers["content-type"], MOST_FIELDS)
    else:
        return {}, FormPhoto()
    digest = typed_photo(form, photo)
    return {**form, "photo": digest} if digest else form, photo


def cookie_name(http: Request) -> str:
    """The name of the session's cookie on this connection."""
    return ENCRYPTED_COOKIE if http.url.scheme == "https" else SESSION_COOKIE


def session_cookie(http: Request) -> str | None:
    """What the browser brought as its session."""
    return http.cookies.get(cookie_name(http))


def _fields(body: bytes) -> dict[str, str]:
    try:
        text = body.decode("utf-8")
        return dict(parse_qsl(text, keep_blank_values=True, max_num_fields=MOST_FIELDS))
    except ValueError:
        return {}


def preferences_of(http: Request) -> DisplayPreferences:
    """Language and unit as chosen before, else as the browser asks."""
    chosen = http.cookies.get(PREFERENCES_COOKIE, "")
    language, _, unit = chosen.partition("-")
    if not language:
        language = preferred_language(http.headers.get("accept-language", ""))
    return DisplayPreferences(language, unit == "f")


def _refusal(request: RequestContext, page: Page, posting: bool) -> Response | None:
    needed = page.post_access if posting else page.access
    if posting and from_elsewhere(request.http):
        return problem(request, 403, "problem.elsewhere")
    if needed > Access.OPEN and not request.session.known:
        return to_login(request)
    if posting and not page.proves_itself and not _is_our_form(request):
        # A phone that hands in found another session than a moment ago: what waits is not refused for that.
        return to_login(request) if request.scripted else problem(request, 403, "problem.form")
    if needed is Access.OWNER and not request.session.owner:
        return problem(request, 403, "problem.owner")
    return None


def _is_our_form(request: RequestContext) -> bool:
    return request.app.sessions.is_form_token(request.session, request.form.get("form_token", ""))


def from_elsewhere(http: Request) -> bool:
    """Whether the browser says that another site sent this form."""
    origin, site = http.headers.get("origin"), http.headers.get("sec-fetch-site", "same-origin")
    foreign = origin is not None and urlsplit(origin).netloc != http.headers.get("host")
    return foreign or site not in ("same-origin", "none")


def to_login(request: RequestContext) -> Response:
    """Send somebody who is not known to the login page, and back afterwards if they only looked."""
    path = request.http.url.path
    wanted = f"?next={path}" if request.http.method == "GET" and path != "/" else ""
    return RedirectResponse(f"/login{wanted}", 303)


def _guarded(request: RequestContext, work: Answer) -> Response:
    try:
        return once(request, work)
    except StoreError as error:
        log.error("the page cannot use the database: %s", error)
        return problem(request, 503, "problem.store")
    except MonitorError as error:
        return problem(request, 400, "problem.usage", request.words.error(error))
    finally:
        request.close()


def problem(request: RequestContext, status: int, key: str, text: str = "") -> Response:
    """A page that says what is wrong and what can be done."""
    words = request.words
    said = text or words.t(key)
    return request.render("problem.html", status, heading=words.t("problem.heading"), said=said)


def with_session(response: Response, request: RequestContext, session: Session) -> Response:
    """Hand the session to the browser: for this site alone, out of reach of scripts."""
    response.set_cookie(
        cookie_name(request.http),
        request.app.sessions.cookie(session),
        max_age=max(0, (session.expires_ms - request.now_ms) // 1000),
        path="/",
        httponly=True,
        samesite="lax" if session.known else "strict",
        secure=request.http.url.scheme == "https",
    )
    return response


def back(request: RequestContext, default: str, command: int | None = None) -> Response:
    """To the page that a form came from, if it is one of ours."""
    wanted = request.came_from or default
    mark = "" if command is None else f"?command={command}"
    return RedirectResponse(f"{wanted}{mark}", 303)


def local_path(path: str) -> str:
    """The path if it leads to a page here, else nothing; never to another site."""
    plain = path.replace("-", "").replace("_", "").replace(".", "").replace("/", "")
    inside = path.startswith("/") and not path.startswith("//") and ".." not in path
    return path if inside and (plain == "" or plain.isalnum()) and path.isascii() else ""


def send_command(
    request: RequestContext,
    kind: CommandKind,
    alarm_id: str,
    until_ms: int | None = None,
    reason: str = "",
) -> int:
    """Write a request to the service, in the name of whoever asks; gives its number."""
    return send_commands(request, kind, [(alarm_id, until_ms)], reason)


def send_commands(
    request: RequestContext, kind: CommandKind, alarms: Sequence[tuple[str, int | None]], reason: str = ""
) -> int:
    """The same about several alarms, each with its moment, all or none; gives the number of the last."""
    actor = request.session.name or request.words.t(f"role.{request.session.role}")
    commands = [Command(kind, request.now_ms, actor, name, until_ms, reason) for name, until_ms in alarms]
    return wait_for(request, write_commands(request, commands))


def write_commands(request: RequestContext, commands: Sequence[Command]) -> int:
    """Hand requests to the service, over the database in one transaction; gives the number of the last.

    The mark of the form that asks is kept with them. While the database takes nothing, the requests go to
    the service itself: an alarm can be acknowledged then too.
    """
    number = 0
    try:
        with request.app.context.writing() as store, marked(request, store, lambda: f"command={number}"):
            for command in commands:
                number = store.commands.add(command)
    except StoreError:
        if request.app.context.ask is None:
            raise
        for command in commands:
            number = request.app.context.ask(command)
    return number


def stored_outcome(request: RequestContext, number: int) -> str | None:
    """What came of a request, as the database has it; None where it has nothing yet."""
    return request.store.commands.outcome(number) if number > 0 else None


def wait_for(request: RequestContext, number: int) -> int:
    """Wait a moment for the service to carry out a request; gives its number again.

    Between carrying it out and the end of the transaction it stands in memory alone, for milliseconds: a
    request that the database has is waited for until its outcome is there too.
    """
    until = time.monotonic() + request.app.context.wait_s
    known = stored_outcome if number > 0 else _outcome_in_memory
    while known(request, number) is None and time.monotonic() < until:
        time.sleep(_POLL_S)
    return number


def _outcome_in_memory(request: RequestContext, number: int) -> str | None:
    return request.app.context.outcome(number)


def outcome_words(request: RequestContext) -> str:
    """What came of the request that the address names, in words; "" where it names none."""
    number = request.query("command")
    if not (number.isascii() and number.removeprefix("-").isdigit() and len(number) < 16):
        return ""
    return said_of_outcome(request, int(number))


def said_of_outcome(request: RequestContext, number: int) -> str:
    """What came of a request, in words, and whether that is on disk yet."""
    # Memory first: what is written between the two looks is then found in the database.
    in_memory = _outcome_in_memory(request, number)
    stored = stored_outcome(request, number)
    outcome, words = stored or in_memory, request.words
    if outcome is None:
        return words.t("command.waiting")
    why = refusal_of(outcome)
    if why is not None:
        return words.t("command.refused", why=words.sentence(why))
    done = words.t("command.done")
    return done if stored is not None else f"{done} {words.t('command.not_on_disk')}"
