"""Logging in and out."""

from __future__ import annotations

from starlette.responses import RedirectResponse, Response

from monitor.views.page.passwords import matches
from monitor.views.page.serving import Access, Asked, Page, local_path, with_visit
from monitor.views.page.sessions import Role

LONGEST_NAME = 40


def show_login(asked: Asked) -> Response:
    """The form; somebody who is known goes on to the page."""
    wanted = local_path(asked.query("next"))
    if asked.visit.known:
        return RedirectResponse(wanted or "/", 303)
    return with_visit(_form(asked, wanted), asked, asked.visit)


def _form(asked: Asked, wanted: str, said: str = "", status: int = 200) -> Response:
    return asked.render("login.html", status, next=wanted, said=said, name=asked.field("name", LONGEST_NAME))


def log_in(asked: Asked) -> Response:
    """Check the password, slowly and not too often; a session of its own for whoever gets in."""
    throttle, words = asked.farm.throttle, asked.words
    address = asked.request.client.host if asked.request.client else "unknown"
    wanted = local_path(asked.field("next"))
    wait_ms = throttle.wait_ms(address)
    if wait_ms > 0 or not throttle.places.acquire(blocking=False):
        length = words.length(max(wait_ms, 60_000))
        response = _form(asked, wanted, words.t("login.too_often", length=length), 429)
        response.headers["retry-after"] = str(max(1, wait_ms // 1000))
        return response
    try:
        role = role_for(asked, asked.form.get("password", ""))
    finally:
        throttle.places.release()
    if role is None:
        throttle.failed(address)
        return _form(asked, wanted, words.t("login.wrong"), 403)
    throttle.succeeded(address)
    visit = asked.farm.sessions.begin(role, asked.field("name", LONGEST_NAME))
    asked.farm.sessions.end(asked.visit)
    return with_visit(RedirectResponse(wanted or "/", 303), asked, visit)


def role_for(asked: Asked, password: str) -> Role | None:
    """Whose password it is."""
    context = asked.farm.context
    if matches(password, context.password):
        return Role.OWNER
    return Role.HELPER if matches(password, context.helper_password) else None


def log_out(asked: Asked) -> Response:
    """The session ends here and everywhere."""
    asked.farm.sessions.end(asked.visit)
    visitor = asked.farm.sessions.begin(Role.VISITOR)
    return with_visit(RedirectResponse("/login", 303), asked, visitor)


LOGIN_PAGES = (
    Page("/login", get=show_login, post=log_in, access=Access.OPEN, post_access=Access.OPEN),
    Page("/logout", post=log_out),
)
