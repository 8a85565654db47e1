"""What stands around every request: safe headers, bounded bodies, no patience for clients that dawdle."""

from __future__ import annotations

import asyncio
from collections.abc import Iterable

from starlette.datastructures import MutableHeaders
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

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
HEADERS = {
    "content-security-policy": POLICY,
    "x-content-type-options": "nosniff",
    "x-frame-options": "DENY",
    "referrer-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "camera=(), microphone=(), geolocation=(), payment=(), usb=()",
}


class BodyTooLarge(Exception):
    """More came than a form of this page can hold."""


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
                headers.setdefault("cache-control", "no-store")
            await send(message)

        await self._app(scope, receive, send_with_headers if scope["type"] == "http" else send)


class Bounds:
    """Refuses bodies that are too large or come too slowly, and gives up on clients that do not read."""

    body_s, send_s = BODY_S, SEND_S

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Read the whole body first, then pass the request on."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        try:
            body = await asyncio.wait_for(_read(scope["headers"], receive), self.body_s)
        except BodyTooLarge:
            await _refuse(413, "This is more than a form of this page can hold.")(scope, receive, send)
        except TimeoutError:
            await _refuse(408, "The request came too slowly.")(scope, receive, send)
        else:
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


async def _read(headers: Iterable[tuple[bytes, bytes]], receive: Receive) -> bytes:
    promised = dict(headers).get(b"content-length", b"0")
    if not promised.isdigit() or int(promised) > MOST_BODY_BYTES:
        raise BodyTooLarge
    parts, size, more = [], 0, True
    while more:
        message = await receive()
        if message["type"] != "http.request":
            break
        parts.append(message.get("body", b""))
        size += len(parts[-1])
        if size > MOST_BODY_BYTES:
            raise BodyTooLarge
        more = message.get("more_body", False)
    return b"".join(parts)
