"""The page of many sites: to each person the sites that they may see, worst first. Nothing changes by it.

It shows what the lookout knows, and asks the archive itself only for the site that somebody opens.
"""

from __future__ import annotations

import hashlib
import hmac
import logging
from collections.abc import Awaitable, Callable, Mapping
from dataclasses import dataclass
from functools import cache
from urllib.parse import parse_qsl

from jinja2 import ChoiceLoader, Environment, PackageLoader, StrictUndefined
from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.middleware import Middleware
from starlette.middleware.gzip import GZipMiddleware
from starlette.requests import Request
from starlette.responses import (
    HTMLResponse,
    PlainTextResponse,
    RedirectResponse,
    Response,
    StreamingResponse,
)
from starlette.routing import Route

from monitor.errors import ArchiveError, Sentence
from monitor.page.app import GZIP_FROM_BYTES, GZIP_LEVEL, KEEP_STATIC
from monitor.page.context import LiveFeed
from monitor.page.security import (
    LONGEST_PASSWORD,
    LONGEST_WAIT_S,
    Bounds,
    Role,
    SafeHeaders,
    Session,
    Sessions,
    Throttle,
)
from monitor.page.serving import StaticFile, from_elsewhere, local_path, preferences_of, static_files
from monitor.records import MS_PER_SECOND
from monitor.sites import wording
from monitor.sites.lookout import Lookout, picture_for, seen_by
from monitor.sites.overview import Overview, SiteLine, SitePicture, Standing
from monitor.sites.settings import Person
from monitor.words.localizer import Localizer

log = logging.getLogger(__name__)

COOKIE = "sites_session"
"""Another name than that of a farm's page: cookies do not know ports."""
MOST_SHOWN = 100
"""Sites on one page; the worst are first. Own choice."""
_FILES = ("page.css", "page.js", "icon.svg")
_CALM = (Standing.FINE, Standing.AWAITED)
_MARK = "|"
Handler = Callable[[Request], Awaitable[Response]]


@cache
def _templates() -> Environment:
    loader = ChoiceLoader(
        [PackageLoader("monitor.sites", "templates"), PackageLoader("monitor.page", "templates")]
    )
    return Environment(
        loader=loader, autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True
    )


@dataclass(frozen=True, slots=True)
class Visit:
    """One request: who asks, in which words."""

    http: Request
    session: Session
    person: Person | None
    words: Localizer


class SitesApp:
    """Handlers of the page; `key` signs its sessions."""

    def __init__(
        self,
        lookout: Lookout,
        key: bytes,
        clock_ms: Callable[[], int],
        feed: LiveFeed,
        throttle: Throttle | None = None,
    ) -> None:
        self._lookout, self._settings = lookout, lookout.settings
        self._key, self._clock_ms, self._feed = key, clock_ms, feed
        self._sessions = Sessions(lambda _role: key, clock_ms)
        self._throttle = throttle or Throttle()
        self._files: Mapping[str, StaticFile] = {
            name: file for name, file in static_files().items() if name in _FILES
        }

    def build(self) -> Starlette:
        """The application."""
        return Starlette(
            routes=[
                Route("/", self._known(self._overview)),
                Route("/sites/{site}", self._known(self._site)),
                Route("/login", self._login, methods=["GET", "POST"]),
                Route("/logout", self._logout, methods=["POST"]),
                Route("/live", self._live),
                *(Route(f"/static/{name}", _static(file)) for name, file in self._files.items()),
            ],
            middleware=[
                Middleware(SafeHeaders),
                Middleware(GZipMiddleware, minimum_size=GZIP_FROM_BYTES, compresslevel=GZIP_LEVEL),
                Middleware(Bounds),
            ],
            exception_handlers={HTTPException: self._not_here, Exception: _broken},
        )

    # Who asks.

    def _visit(self, http: Request) -> Visit:
        now_ms = self._clock_ms()
        session = self._sessions.read(http.cookies.get(_cookie_name(http)))
        session = session or self._sessions.begin(Role.VISITOR)
        words = Localizer(preferences_of(http), self._settings.zone, now_ms)
        return Visit(http, session, self._person_of(session), words)

    def _person_of(self, session: Session) -> Person | None:
        """The person of a session; None once the password is another one, or the person is gone."""
        name, _, mark = session.name.partition(_MARK)
        person = self._settings.person(name) if session.known else None
        if person is None or person.password is None:
            return None
        return person if hmac.compare_digest(mark, self._mark(person)) else None

    def _mark(self, person: Person) -> str:
        """What ties a session to the password with which it began."""
        secret = person.password.get_secret_value() if person.password is not None else ""
        return hmac.digest(self._key, f"{person.id}\n{secret}".encode(), hashlib.sha256).hex()[:24]

    def _known(self, work: Callable[[Visit, Person], Response]) -> Handler:
        async def handler(http: Request) -> Response:
            visit = self._visit(http)
            if visit.person is None:
                wanted = local_path(http.url.path)
                return RedirectResponse(f"/login?next={wanted}" if wanted != "/" else "/login", 303)
            return await run_in_threadpool(work, visit, visit.person)

        return handler

    async def _login(self, http: Request) -> Response:
        visit = self._visit(http)
        if http.method == "GET":
            if visit.person is not None:
                return RedirectResponse("/", 303)
            wanted = local_path(http.query_params.get("next", ""))
            return self._with_session(self._login_form(visit, wanted), visit.http, visit.session)
        form = _fields(await http.body())
        if from_elsewhere(http) or not self._sessions.is_form_token(
            visit.session, form.get("form_token", "")
        ):
            return self._problem(visit, 403, visit.words.t("problem.form"))
        return await run_in_threadpool(self._log_in, visit, form)

    def _log_in(self, visit: Visit, form: Mapping[str, str]) -> Response:
        wanted, name = local_path(form.get("next", "")), form.get("name", "").strip()[:40]
        address = visit.http.client.host if visit.http.client else "unknown"
        with self._throttle.turn(address) as may:
            if not may:
                length = visit.words.length(round(LONGEST_WAIT_S * MS_PER_SECOND))
                said = visit.words.t("login.too_often", length=length)
                return self._login_form(visit, wanted, said, name, 429)
            person = self._settings.person(name)
            if person is None or not _is_password(person, form.get("password", "")):
                self._throttle.failed(address)
                return self._login_form(visit, wanted, visit.words.t("sites.wrong"), name, 403)
            self._throttle.succeeded(address)
        self._sessions.end(visit.session)
        session = self._sessions.begin(Role.HELPER, f"{person.id}{_MARK}{self._mark(person)}")
        return self._with_session(RedirectResponse(wanted or "/", 303), visit.http, session)

    def _login_form(
        self, visit: Visit, wanted: str, said: str = "", name: str = "", status: int = 200
    ) -> Response:
        return self._render("sites_login.html", visit, status, next=wanted, said=said, name=name)

    async def _logout(self, http: Request) -> Response:
        visit = self._visit(http)
        form = _fields(await http.body())
        if from_elsewhere(http) or not self._sessions.is_form_token(
            visit.session, form.get("form_token", "")
        ):
            return self._problem(visit, 403, visit.words.t("problem.form"))
        self._sessions.end(visit.session)
        return self._with_session(RedirectResponse("/login", 303), http, self._sessions.begin(Role.VISITOR))

    def _with_session(self, response: Response, http: Request, session: Session) -> Response:
        response.set_cookie(
            _cookie_name(http),
            self._sessions.cookie(session),
            max_age=max(0, (session.expires_ms - self._clock_ms()) // 1000),
            path="/",
            httponly=True,
            samesite="lax",
            secure=http.url.scheme == "https",
        )
        return response

    # What is shown.

    def _overview(self, visit: Visit, person: Person) -> Response:
        known, words = self._lookout.known, visit.words
        find = "".join(sign for sign in visit.http.query_params.get("find", "") if sign.isprintable())[:60]
        overview = None if known.overview is None else seen_by(known.overview, person)
        lines = [] if overview is None else _found(overview, find)
        first = _whole(visit.http.query_params.get("from", ""))
        shown = lines[first : first + MOST_SHOWN]
        left = max(0, len(lines) - first - len(shown))
        return self._render(
            "sites_overview.html",
            visit,
            overview=overview,
            read_ms=overview.read_ms if overview else words.now_ms,
            heading=wording.heading(overview, words) if overview else words.t("sites.title"),
            as_of=_as_of(overview, known.trouble, words),
            trouble=known.trouble is not None,
            needing=[line for line in shown if line.standing not in _CALM],
            others=[line for line in shown if line.standing in _CALM],
            find=find,
            more=left,
            next_from=first + MOST_SHOWN,
        )

    def _site(self, visit: Visit, person: Person) -> Response:
        site, words = str(visit.http.path_params["site"]), visit.words
        known = self._lookout.known
        trouble: Sentence | None = None
        try:
            picture = self._lookout.picture(site, words.now_ms)
        except ArchiveError as error:
            trouble, picture = error.said, None
            line = known.overview.line(site) if known.overview else None
            if known.overview is not None and line is not None:
                picture = SitePicture(line, known.overview.read_ms)
        shown = picture_for(picture, person) if picture is not None else None
        if shown is None:
            return self._problem(visit, 404, words.t("sites.unknown"))
        age = words.t("sites.no_answer", at=words.ago(shown.read_ms), why=words.phrase(trouble or ""))
        return self._render(
            "sites_one.html",
            visit,
            line=shown.line,
            said=wording.sentences(shown.line, shown.read_ms, words),
            groups=wording.groups(shown, words),
            trouble=trouble is not None,
            as_of=age,
        )

    def _render(self, template: str, visit: Visit, status: int = 200, **values: object) -> Response:
        text = (
            _templates()
            .get_template(template)
            .render(
                w=visit.words,
                t=visit.words.t,
                files={name: f"/static/{name}?v={file.version}" for name, file in self._files.items()},
                form_token=self._sessions.form_token(visit.session),
                group_title=self._settings.group.title,
                person=visit.person,
                shapes=wording.SHAPES,
                words_of=wording,
                **{"trouble": False, **values},
            )
        )
        return HTMLResponse(text, status)

    def _problem(self, visit: Visit, status: int, said: str) -> Response:
        return self._render("sites_problem.html", visit, status, said=said)

    async def _not_here(self, http: Request, error: Exception) -> Response:
        visit = self._visit(http)
        status = error.status_code if isinstance(error, HTTPException) else 500
        key = "problem.not_here" if status == 404 else "problem.not_so"
        return self._problem(visit, status, visit.words.t(key))

    async def _live(self, http: Request) -> Response:
        visit = self._visit(http)
        if visit.person is None:
            return PlainTextResponse("Log in first.", 401)
        if not self._feed.enter(visit.session.nonce):
            return PlainTextResponse("Too many pages are open.", 503, {"retry-after": "60"})
        return StreamingResponse(self._feed.stream(visit.session.nonce), media_type="text/event-stream")


def _as_of(overview: Overview | None, trouble: Sentence | None, words: Localizer) -> str:
    if overview is not None:
        return wording.as_of(overview, words, trouble)
    if trouble is None:
        return words.t("sites.not_read_yet")
    return words.t("sites.never_read", why=words.sentence(trouble))


def _found(overview: Overview, find: str) -> list[SiteLine]:
    """The lines whose name has what is looked for."""
    wanted = find.casefold().strip()
    return [
        line for line in overview.lines if wanted in line.title.casefold() or wanted in line.site.casefold()
    ]


def _whole(text: str) -> int:
    return int(text) if text.isascii() and text.isdigit() and len(text) < 7 else 0


def _is_password(person: Person, typed: str) -> bool:
    if person.password is None or len(typed) > LONGEST_PASSWORD:
        return False
    return hmac.compare_digest(
        typed.encode("utf-8", "surrogatepass"), person.password.get_secret_value().encode()
    )


def _cookie_name(http: Request) -> str:
    return f"__Host-{COOKIE}" if http.url.scheme == "https" else COOKIE


def _fields(body: bytes) -> dict[str, str]:
    try:
        return dict(parse_qsl(body.decode("utf-8"), keep_blank_values=True, max_num_fields=8))
    except ValueError:
        return {}


def _static(file: StaticFile) -> Handler:
    async def static(_http: Request) -> Response:
        return Response(file.content, media_type=file.media_type, headers={"cache-control": KEEP_STATIC})

    return static


async def _broken(http: Request, error: Exception) -> Response:
    log.error("the page met an error of the program at %s", http.url.path, exc_info=error)
    return PlainTextResponse("Something in the program failed. It is written in its log.", 500)
