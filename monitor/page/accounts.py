"""Who somebody is to the page: login and logout, preferences, helpers, and the signed links of messages.

Programs that scan messages open links too, so looking spends nothing; only the tap does.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from urllib.parse import urlencode

from starlette.responses import RedirectResponse, Response

from monitor.errors import UsageError
from monitor.farm.places import SiteReader
from monitor.notify.links import LIFETIME_MS, Claim, new_nonce, redeem, sign, verify
from monitor.notify.policy import LinkFor
from monitor.page.alarms import alarm_card
from monitor.page.security import (
    LONGEST_PASSWORD,
    LONGEST_WAIT_S,
    SHORTEST_PASSWORD,
    Role,
    hash_password,
    matches,
)
from monitor.page.serving import (
    PREFERENCES_COOKIE,
    PREFERENCES_S,
    Access,
    Page,
    Part,
    RequestContext,
    local_path,
    problem,
    said_of_outcome,
    wait_for,
    with_session,
    write_command,
)
from monitor.records import MS_PER_SECOND, AlarmState, AlarmStatus, Command, CommandKind
from monitor.store import Store
from monitor.words.catalogue import LANGUAGES

LONGEST_NAME = 40
LINK_PATH = "/a/"
_SPENT, MOST_SPENT = "spent_links", 500


def show_login(request: RequestContext) -> Response:
    """The form; somebody who is known goes on to the page."""
    wanted = local_path(request.query("next"))
    if request.session.known:
        return RedirectResponse(wanted or "/", 303)
    return with_session(_form(request, wanted), request, request.session)


def _form(request: RequestContext, wanted: str, said: str = "", status: int = 200) -> Response:
    return request.render(
        "login.html", status, next=wanted, said=said, name=request.field("name", LONGEST_NAME)
    )


def log_in(request: RequestContext) -> Response:
    """Check the password, slower after each wrong one; a session of its own for whoever gets in."""
    throttle, words = request.app.throttle, request.words
    address = request.http.client.host if request.http.client else "unknown"
    wanted = local_path(request.field("next"))
    with throttle.turn(address) as may:
        if not may:
            length = words.length(round(LONGEST_WAIT_S * MS_PER_SECOND))
            response = _form(request, wanted, words.t("login.too_often", length=length), 429)
            response.headers["retry-after"] = f"{LONGEST_WAIT_S:.0f}"
            return response
        role = role_for(request, request.form.get("password", ""))
        if role is None:
            throttle.failed(address)
            return _form(request, wanted, words.t("login.wrong"), 403)
        throttle.succeeded(address)
    session = request.app.sessions.begin(role, request.field("name", LONGEST_NAME))
    request.app.sessions.end(request.session)
    return with_session(RedirectResponse(wanted or "/", 303), request, session)


def role_for(request: RequestContext, password: str) -> Role | None:
    """Whose password it is."""
    context = request.app.context
    if matches(password, context.password):
        return Role.OWNER
    return Role.HELPER if matches(password, context.helper_password) else None


def log_out(request: RequestContext) -> Response:
    """The session ends here and everywhere."""
    request.app.sessions.end(request.session)
    visitor = request.app.sessions.begin(Role.VISITOR)
    return with_session(RedirectResponse("/login", 303), request, visitor)


LOGIN_PAGES = (
    Page("/login", get=show_login, post=log_in, access=Access.OPEN, post_access=Access.OPEN),
    Page("/logout", post=log_out),
)


def show_me(request: RequestContext) -> Response:
    """The choices."""
    context = request.app.context
    ended = request.query("ended")
    return request.render(
        "me.html",
        helpers=context.helper_password is not None,
        shortest=SHORTEST_PASSWORD,
        said=request.words.t("me.ended", who=ended) if ended and request.session.owner else "",
    )


def keep_preferences(request: RequestContext) -> Response:
    """Language and unit, kept in the browser."""
    language = request.field("language")
    if language not in LANGUAGES:
        raise UsageError(request.words.t("me.language_wrong"))
    unit = "f" if request.field("unit") == "f" else "c"
    response = RedirectResponse("/me", 303)
    response.set_cookie(
        PREFERENCES_COOKIE,
        f"{language}-{unit}",
        max_age=PREFERENCES_S,
        httponly=True,
        samesite="lax",
        secure=request.http.url.scheme == "https",
    )
    return response


def change_helpers(request: RequestContext) -> Response:
    """A new password for helpers; an empty one shuts them out."""
    password = request.form.get("password", "")
    if password and not SHORTEST_PASSWORD <= len(password) <= LONGEST_PASSWORD:
        raise UsageError(request.words.t("me.password_short", least=SHORTEST_PASSWORD))
    request.app.context.change_helper_password(hash_password(password) if password else None)
    return RedirectResponse("/me", 303)


def end_sessions(request: RequestContext) -> Response:
    """All sessions of a person end, such as those of a phone that was stolen."""
    name = request.field("name", LONGEST_NAME)
    if not name:
        raise UsageError(request.words.t("me.end_whose"))
    request.app.sessions.end_all_of(name)
    return RedirectResponse(f"/me?{urlencode({'ended': name})}", 303)


ME = Part(
    "me",
    "/me",
    (
        Page("/me", get=show_me),
        Page("/me/preferences", post=keep_preferences),
        Page("/me/helpers", post=change_helpers, post_access=Access.OWNER),
        Page("/me/sessions", post=end_sessions, post_access=Access.OWNER),
    ),
    main=False,
)


def link_maker(
    key: bytes, public_address: str, since_ms: Callable[[str], int | None], clock: Callable[[], int]
) -> LinkFor:
    """Makes the links of messages: `since_ms(alarm_id)` says which occurrence of the alarm is meant."""

    def link_for(recipient: str, alarm_id: str) -> str:
        since = since_ms(alarm_id)
        if since is None:
            return ""
        claim = Claim(alarm_id, recipient, since, clock() + LIFETIME_MS, new_nonce())
        return f"{public_address.rstrip('/')}{LINK_PATH}{sign(claim, key)}"

    return link_for


def show_link(request: RequestContext) -> Response:
    """The alarm of a link that is valid."""
    try:
        claim = verify(request.http.path_params["token"], request.app.context.link_key, request.now_ms)
    except UsageError:
        return problem(request, 404, "link.not_valid")
    return _page(request, claim, "")


def _page(request: RequestContext, claim: Claim, said: str) -> Response:
    if claim.alarm_id not in request.plan.rules:
        return problem(request, 404, "link.no_alarm")
    alarm = SiteReader(request.store, request.plan, request.now_ms).alarm(claim.alarm_id)
    return request.render(
        "link.html",
        alarm=alarm_card(alarm, request.plan, request.words),
        normal=alarm.state.status is AlarmStatus.NORMAL,
        open=_is_meant(alarm.state, claim) and not said,
        token=request.http.path_params["token"],
        said=said,
    )


def _is_meant(state: AlarmState, claim: Claim) -> bool:
    return not state.acknowledged and state.since_ms == claim.since_ms


def acknowledge_by_link(request: RequestContext) -> Response:
    """Spend the link and acknowledge what it was about; a newer occurrence stays as it is."""
    context = request.app.context
    try:
        with context.writing() as store:
            claim = redeem(
                request.http.path_params["token"],
                request.app.context.link_key,
                request.now_ms,
                lambda nonce, expires_ms: spend(store, nonce, expires_ms, request.now_ms),
            )
    except UsageError:
        return problem(request, 410, "link.not_valid")
    state = request.store.journal.states().get(claim.alarm_id)
    if state is None or not _is_meant(state, claim):
        return _page(request, claim, request.words.t("link.nothing_to_do"))
    command = Command(CommandKind.ACKNOWLEDGE, request.now_ms, claim.recipient, claim.alarm_id)
    return _page(request, claim, said_of_outcome(request, wait_for(request, write_command(request, command))))


def spend(store: Store, nonce: str, expires_ms: int, now_ms: int) -> bool:
    """True the first time that a number is used; of many that are over the oldest are forgotten."""
    with store.database.write():
        spent = json.loads(store.meta.get(_SPENT) or "{}")
        if nonce in spent:
            return False
        over = [known for known, end in spent.items() if end <= now_ms]
        # By number, since a clock that is ahead for a while would have links spent twice.
        for known in over[: max(0, len(spent) - MOST_SPENT)]:
            del spent[known]
        store.meta.put(_SPENT, json.dumps(spent | {nonce: expires_ms}))
        return True


LINK_PAGE = Page(
    LINK_PATH + "{token}",
    get=show_link,
    post=acknowledge_by_link,
    access=Access.OPEN,
    post_access=Access.OPEN,
    proves_itself=True,
)
