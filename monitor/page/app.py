"""The page as a Starlette application, with its parts in the order of the navigation."""

from __future__ import annotations

import logging
from collections.abc import Awaitable, Callable, Iterable, Mapping

from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.middleware import Middleware
from starlette.middleware.gzip import GZipMiddleware
from starlette.requests import Request
from starlette.responses import JSONResponse, PlainTextResponse, Response, StreamingResponse
from starlette.routing import Route
from starlette.types import Scope

from monitor.page.accounts import JOIN_PAGE, LINK_PAGE, LOGIN_PAGES, ME, PHONE_PAGES
from monitor.page.alarms import ALARMS
from monitor.page.bins import BINS
from monitor.page.boards import NODES
from monitor.page.cohorts import COHORTS
from monitor.page.context import PageContext
from monitor.page.logbook import LOGBOOK
from monitor.page.now import DAY_PAGES, GUARD_PAGES, NIGHT, NOW_PAGE, PLACE_PAGE
from monitor.page.photos import bound_for
from monitor.page.security import BodyBound, Bounds, SafeHeaders, Sessions, Throttle
from monitor.page.serving import (
    AppState,
    Handler,
    Page,
    Part,
    Renderer,
    StaticFile,
    problem,
    request_context,
    route_of,
    session_cookie,
    static_files,
)
from monitor.page.yields import YIELDS

log = logging.getLogger(__name__)

NOW = Part("now", "/", (NOW_PAGE, *DAY_PAGES, PLACE_PAGE, *GUARD_PAGES))
PARTS: tuple[Part, ...] = (NOW, NIGHT, BINS, COHORTS, ALARMS, YIELDS, LOGBOOK, NODES, ME)
"""A new part is added here and nowhere else."""
ErrorHandler = Callable[[Request, Exception], Awaitable[Response]]
SHORT_NAME, GROUND = 12, "#2b2f33"
"""Own choice: letters below an icon; the ground of the icons."""
ICONS = (
    ("icon-192.png", 192, "any"),
    ("icon-512.png", 512, "any"),
    ("icon-maskable-512.png", 512, "maskable"),
)
KEEP_STATIC = "public, max-age=31536000, immutable"
GZIP_FROM_BYTES, GZIP_LEVEL = 500, 6
"""zlib's usual level: 9 takes twice as long and saves 1 %. Streams of events stay as they are."""


def build_app(context: PageContext) -> Starlette:
    """The application; reads the page's own secrets from the store, so that must be there."""
    context.prepare()
    files = static_files()
    app = AppState(
        context,
        Sessions(context.key_for, context.clock, context.ended_sessions(), context.keep_ended),
        Throttle(pause=lambda seconds: context.pause(seconds)),
        Renderer(files),
        PARTS,
    )
    pages = [
        *LOGIN_PAGES,
        LINK_PAGE,
        JOIN_PAGE,
        *PHONE_PAGES,
        *(page for part in PARTS for page in part.pages),
    ]
    return Starlette(
        routes=[
            *(route_of(app, page) for page in pages),
            Route("/live", _live(app)),
            Route("/session", _session(app)),
            Route("/manifest.webmanifest", _manifest(app, files)),
            Route("/sw.js", _worker(files["sw.js"])),
            *(Route(f"/static/{name}", _static(file)) for name, file in files.items()),
        ],
        middleware=[
            Middleware(SafeHeaders),
            Middleware(GZipMiddleware, minimum_size=GZIP_FROM_BYTES, compresslevel=GZIP_LEVEL),
            Middleware(Bounds, bound_of=_bound_of(app, pages)),
        ],
        exception_handlers={HTTPException: _not_here(app), Exception: _broken},
    )


def _bound_of(app: AppState, pages: Iterable[Page]) -> Callable[[Scope], BodyBound]:
    """Only forms that take a photo may bring one, and only of somebody who has logged in."""

    def is_known(http: Request) -> bool:
        session = app.sessions.read(session_cookie(http))
        return session is not None and session.known

    return bound_for((page.path for page in pages if page.photo), is_known)


def _live(app: AppState) -> Handler:
    async def live(http: Request) -> Response:
        session = app.sessions.read(session_cookie(http))
        if session is None or not session.known:
            return PlainTextResponse("Log in first.", 401)
        feed = app.context.feed
        if not feed.enter(session.nonce):
            return PlainTextResponse("Too many pages are open.", 503, {"retry-after": "60"})
        return StreamingResponse(feed.stream(session.nonce), media_type="text/event-stream")

    return live


def _session(app: AppState) -> Handler:
    """Whose session this is, so that a phone hands in only what waits there for this person, and our time."""

    async def session(http: Request) -> Response:
        known = app.sessions.read(session_cookie(http))
        if known is None or not known.known:
            return JSONResponse({"who": "", "form_token": ""})
        who, token = f"{known.role}:{known.name}", app.sessions.form_token(known)
        return JSONResponse({"who": who, "form_token": token, "now_ms": app.context.clock()})

    return session


def _manifest(app: AppState, files: Mapping[str, StaticFile]) -> Handler:
    """What a phone asks for before it installs the page (W3C, Web Application Manifest)."""

    async def manifest(_http: Request) -> Response:
        title = app.context.plan().settings.site.title
        about = {
            "id": "/",
            "name": title,
            "short_name": title if len(title) <= SHORT_NAME else f"{title[: SHORT_NAME - 1]}…",
            "start_url": "/",
            "scope": "/",
            "display": "standalone",
            "background_color": GROUND,
            "theme_color": GROUND,
            "icons": [
                {
                    "src": f"/static/{name}?v={files[name].version}",
                    "type": "image/png",
                    "sizes": f"{size}x{size}",
                    "purpose": purpose,
                }
                for name, size, purpose in ICONS
            ],
        }
        headers = {"cache-control": "no-cache"}
        return JSONResponse(about, headers=headers, media_type="application/manifest+json")

    return manifest


def _worker(file: StaticFile) -> Handler:
    """The service worker; looked for anew each time, since its address may not change."""

    async def worker(_http: Request) -> Response:
        return Response(file.content, media_type=file.media_type, headers={"cache-control": "no-cache"})

    return worker


def _static(file: StaticFile) -> Handler:
    async def static(_request: Request) -> Response:
        headers = {"cache-control": KEEP_STATIC}
        return Response(file.content, media_type=file.media_type, headers=headers)

    return static


def _not_here(app: AppState) -> ErrorHandler:
    async def not_here(http: Request, error: Exception) -> Response:
        status = error.status_code if isinstance(error, HTTPException) else 500
        request = await request_context(app, http)
        return problem(request, status, "problem.not_here" if status == 404 else "problem.not_so")

    return not_here


async def _broken(http: Request, error: Exception) -> Response:
    log.error("the page met an error of the program at %s", http.url.path, exc_info=error)
    said = "Something in the program failed. It is written in its log."
    if "application/json" in http.headers.get("accept", ""):
        return JSONResponse({"state": "later", "said": [said]}, 500)
    return PlainTextResponse(said, 500)
