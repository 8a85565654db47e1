"""Requests to the service from the page, and what came of them.

Templates to pages; everything that comes from a person or a payload is escaped.

From a request to an answer: who asks, in which words, whether they may, and what went wrong.
"""

from __future__ import annotations

import hashlib
import logging
import time
from collections.abc import Awaitable, Callable, Mapping
from dataclasses import dataclass, field
from enum import IntEnum
from functools import cached_property
from importlib import resources
from typing import TYPE_CHECKING
from urllib.parse import parse_qsl, urlsplit

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import HTMLResponse, RedirectResponse, Response
from starlette.routing import Route

from monitor.errors import MonitorError, StoreError, UsageError
from monitor.page.context import PageContext
from monitor.page.security import Role, Session, Sessions, Throttle
from monitor.records import Command, CommandKind
from monitor.settings.plan import Plan
from monitor.store import Store
from monitor.words.catalogue import LANGUAGES
from monitor.words.localizer import DisplayPreferences, Localizer, preferred_language

if TYPE_CHECKING:
    pass

_TYPES = {
    "page.css": "text/css; charset=utf-8",
    "page.js": "text/javascript; charset=utf-8",
    "icon.svg": "image/svg+xml",
}


@dataclass(frozen=True, slots=True)
class StaticFile:
    """A file of the page, read once; its version is a part of its address."""

    content: bytes
    media_type: str
    version: str


def static_files() -> Mapping[str, StaticFile]:
    """The files that anybody may have: there are no others, so no path leads anywhere else."""
    folder = resources.files("monitor.page").joinpath("static")
    return {name: _static(folder.joinpath(name).read_bytes(), kind) for name, kind in _TYPES.items()}


def _static(content: bytes, media_type: str) -> StaticFile:
    return StaticFile(content, media_type, hashlib.sha256(content).hexdigest()[:12])


class Renderer:
    """The templates, compiled once."""

    def __init__(self, files: Mapping[str, StaticFile]) -> None:
        self._environment = Environment(
            loader=PackageLoader("monitor.page", "templates"),
            autoescape=True,
            undefined=StrictUndefined,
            trim_blocks=True,
            lstrip_blocks=True,
            auto_reload=False,
        )
        addresses = {name: f"/static/{name}?v={file.version}" for name, file in files.items()}
        self._environment.globals.update(files=addresses, languages=LANGUAGES)

    def page(
        self, asked: RequestContext, template: str, status: int, values: Mapping[str, object]
    ) -> Response:
        """A whole page."""
        words = asked.words
        text = self._environment.get_template(template).render(
            w=words,
            t=words.t,
            visit=asked.visit,
            form_token=asked.farm.sessions.form_token(asked.visit),
            parts=asked.farm.parts if asked.visit.known else (),
            path=asked.request.url.path,
            site_title=asked.plan.settings.site.title,
            invented=asked.farm.context.invented,
            **values,
        )
        return HTMLResponse(text, status)


def drawn(svg: str) -> Markup:
    """A drawing of ours, whose words are escaped already."""
    return Markup(svg)


log = logging.getLogger(__name__)

VISIT_COOKIE, WISHES_COOKIE = "rearing_visit", "rearing_view"
MOST_FIELDS = 20
WISHES_S = 365 * 86_400


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

    farm: AppState
    request: Request
    visit: Session
    words: Localizer
    plan: Plan
    now_ms: int
    form: Mapping[str, str] = field(default_factory=dict)

    @cached_property
    def store(self) -> Store:
        """The database, opened when it is first needed; closed when the answer is ready."""
        return self.farm.context.reading()

    def close(self) -> None:
        """Close the database if it was opened."""
        if "store" in self.__dict__:
            self.store.close()

    def query(self, name: str) -> str:
        """A word of the address after the question mark."""
        return self.request.query_params.get(name, "")[:200]

    def field(self, name: str, most: int = 200) -> str:
        """A field of the form: one line, without blanks around it, cut to what makes sense."""
        return "".join(each for each in self.form.get(name, "") if each.isprintable()).strip()[:most]

    def render(self, template: str, status: int = 200, **values: object) -> Response:
        """A page with everything that each page needs."""
        return self.farm.renderer.page(self, template, status, values)


TurnWork = Callable[[RequestContext], Response]


@dataclass(frozen=True, slots=True)
class Page:
    """One address: what answers a look, what answers a form, and who may."""

    path: str
    get: TurnWork | None = None
    post: TurnWork | None = None
    access: Access = Access.HELPER
    post_access: Access = Access.HELPER
    proves_itself: bool = False


@dataclass(frozen=True, slots=True)
class Part:
    """One part of the navigation; `main` ones stand in the bar of a phone, the others behind "More"."""

    key: str
    path: str
    pages: tuple[Page, ...]
    main: bool = True


def route_of(farm: AppState, page: Page) -> Route:
    """The route that serves a page."""
    methods = [name for name, work in (("GET", page.get), ("POST", page.post)) if work is not None]

    async def endpoint(request: Request) -> Response:
        return await _answer(farm, page, request)

    return Route(page.path, endpoint, methods=methods)


async def _answer(farm: AppState, page: Page, request: Request) -> Response:
    asked = await asked_of(farm, request)
    posting = request.method == "POST"
    work = page.post if posting else page.get
    refusal = _refusal(asked, page, posting)
    if refusal is not None:
        return refusal
    assert work is not None
    return await run_in_threadpool(_guarded, asked, work)


async def asked_of(farm: AppState, request: Request) -> RequestContext:
    """Who asks, in which words; a form is read whole."""
    now_ms, plan = farm.context.clock(), farm.context.plan()
    visit = farm.sessions.read(request.cookies.get(VISIT_COOKIE)) or farm.sessions.begin(Role.VISITOR)
    form = _fields(await request.body()) if request.method == "POST" else {}
    return RequestContext(
        farm, request, visit, Localizer(preferences_of(request), plan.zone, now_ms), plan, now_ms, form
    )


def _fields(body: bytes) -> dict[str, str]:
    try:
        text = body.decode("utf-8")
        return dict(parse_qsl(text, keep_blank_values=True, max_num_fields=MOST_FIELDS))
    except ValueError:
        return {}


def preferences_of(request: Request) -> DisplayPreferences:
    """Language and unit as chosen before, else as the browser asks."""
    chosen = request.cookies.get(WISHES_COOKIE, "")
    language, _, unit = chosen.partition("-")
    if not language:
        language = preferred_language(request.headers.get("accept-language", ""))
    return DisplayPreferences(language, unit == "f")


def _refusal(asked: RequestContext, page: Page, posting: bool) -> Response | None:
    needed = page.post_access if posting else page.access
    if posting and _from_elsewhere(asked.request):
        return problem(asked, 403, "problem.elsewhere")
    if needed > Access.OPEN and not asked.visit.known:
        return to_login(asked)
    if posting and not page.proves_itself and not _is_our_form(asked):
        return problem(asked, 403, "problem.form")
    if needed is Access.OWNER and not asked.visit.owner:
        return problem(asked, 403, "problem.owner")
    return None


def _is_our_form(asked: RequestContext) -> bool:
    return asked.farm.sessions.is_form_token(asked.visit, asked.form.get("form_token", ""))


def _from_elsewhere(request: Request) -> bool:
    """Whether the browser says that another site sent this form."""
    origin, site = request.headers.get("origin"), request.headers.get("sec-fetch-site", "same-origin")
    foreign = origin is not None and urlsplit(origin).netloc != request.headers.get("host")
    return foreign or site not in ("same-origin", "none")


def to_login(asked: RequestContext) -> Response:
    """Send somebody who is not known to the login page, and back afterwards if they only looked."""
    path = asked.request.url.path
    wanted = f"?next={path}" if asked.request.method == "GET" and path != "/" else ""
    return RedirectResponse(f"/login{wanted}", 303)


def _guarded(asked: RequestContext, work: TurnWork) -> Response:
    try:
        return work(asked)
    except UsageError as error:
        return problem(asked, 400, "problem.usage", str(error))
    except StoreError as error:
        log.error("the page cannot use the database: %s", error)
        return problem(asked, 503, "problem.store")
    except MonitorError as error:
        return problem(asked, 400, "problem.usage", str(error))
    finally:
        asked.close()


def problem(asked: RequestContext, status: int, key: str, text: str = "") -> Response:
    """A page that says what is wrong and what can be done."""
    words = asked.words
    said = text or words.t(key)
    return asked.render("problem.html", status, heading=words.t("problem.heading"), said=said)


def with_visit(response: Response, asked: RequestContext, visit: Session) -> Response:
    """Hand the session to the browser: for this site alone, out of reach of scripts."""
    response.set_cookie(
        VISIT_COOKIE,
        asked.farm.sessions.cookie(visit),
        max_age=max(0, (visit.expires_ms - asked.now_ms) // 1000),
        path="/",
        httponly=True,
        samesite="lax" if visit.known else "strict",
        secure=asked.request.url.scheme == "https",
    )
    return response


def back(asked: RequestContext, default: str, command: int | None = None) -> Response:
    """To the page that a form came from, if it is one of ours."""
    wanted = local_path(asked.field("back")) or default
    mark = "" if command is None else f"?command={command}"
    return RedirectResponse(f"{wanted}{mark}", 303)


def local_path(path: str) -> str:
    """The path if it leads to a page here, else nothing; never to another site."""
    plain = path.replace("-", "").replace("_", "").replace(".", "").replace("/", "")
    inside = path.startswith("/") and not path.startswith("//") and ".." not in path
    return path if inside and (plain == "" or plain.isalnum()) and path.isascii() else ""


Handler = Callable[[Request], Awaitable[Response]]


_LOOK_S = 0.05
_DONE, _REFUSED = "done", "refused: "


def ask(
    asked: RequestContext, kind: CommandKind, alarm_id: str, until_ms: int | None = None, reason: str = ""
) -> int:
    """Write a request and wait a moment for the service to carry it out; gives its number."""
    return _wait(asked, ask_only(asked, kind, alarm_id, until_ms, reason))


def ask_only(
    asked: RequestContext, kind: CommandKind, alarm_id: str, until_ms: int | None = None, reason: str = ""
) -> int:
    """Write a request; gives its number."""
    actor = asked.visit.name or asked.words.t(f"role.{asked.visit.role}")
    return _write(asked, Command(kind, asked.now_ms, actor, alarm_id, until_ms, reason))


def hand_over(asked: RequestContext, command: Command) -> int:
    """Write a request as it is and wait a moment for its outcome."""
    return _wait(asked, _write(asked, command))


def _write(asked: RequestContext, command: Command) -> int:
    with asked.farm.context.writing() as store:
        return store.commands.add(command)


def _wait(asked: RequestContext, number: int) -> int:
    until = time.monotonic() + asked.farm.context.wait_s
    while asked.store.commands.outcome(number) is None and time.monotonic() < until:
        time.sleep(_LOOK_S)
    return number


def said_of_command(asked: RequestContext) -> str:
    """What came of the request that the address names, in words; "" where it names none."""
    number = asked.query("command")
    if not (number.isascii() and number.isdigit() and len(number) < 16):
        return ""
    outcome = asked.store.commands.outcome(int(number))
    if outcome is None:
        return asked.words.t("asked.waiting")
    if outcome == _DONE:
        return asked.words.t("asked.done")
    return asked.words.t("asked.refused", why=outcome.removeprefix(_REFUSED))
