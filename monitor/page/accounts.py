"""Where the signed link of a message lands: the alarm, what to do, and one tap to acknowledge it.

Programs that scan messages open links too, so looking spends nothing; only the tap does.

Logging in and out.

How a person wants the page, and who else may use it.
"""

from __future__ import annotations

import json
from collections.abc import Callable

from starlette.responses import RedirectResponse, Response

from monitor.errors import UsageError
from monitor.farm.records import ActiveAlarm
from monitor.notify.links import LIFETIME_MS, Claim, new_nonce, redeem, sign, verify
from monitor.notify.policy import LinkFor
from monitor.page.alarms import card
from monitor.page.security import LONGEST_PASSWORD, SHORTEST_PASSWORD, Role, hash_password, matches
from monitor.page.serving import (
    WISHES_COOKIE,
    WISHES_S,
    Access,
    Page,
    Part,
    RequestContext,
    hand_over,
    local_path,
    problem,
    with_visit,
)
from monitor.records import AlarmState, AlarmStatus, Command, CommandKind
from monitor.store import Store
from monitor.words.catalogue import LANGUAGES

LONGEST_NAME = 40


def show_login(asked: RequestContext) -> Response:
    """The form; somebody who is known goes on to the page."""
    wanted = local_path(asked.query("next"))
    if asked.visit.known:
        return RedirectResponse(wanted or "/", 303)
    return with_visit(_form(asked, wanted), asked, asked.visit)


def _form(asked: RequestContext, wanted: str, said: str = "", status: int = 200) -> Response:
    return asked.render("login.html", status, next=wanted, said=said, name=asked.field("name", LONGEST_NAME))


def log_in(asked: RequestContext) -> Response:
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


def role_for(asked: RequestContext, password: str) -> Role | None:
    """Whose password it is."""
    context = asked.farm.context
    if matches(password, context.password):
        return Role.OWNER
    return Role.HELPER if matches(password, context.helper_password) else None


def log_out(asked: RequestContext) -> Response:
    """The session ends here and everywhere."""
    asked.farm.sessions.end(asked.visit)
    visitor = asked.farm.sessions.begin(Role.VISITOR)
    return with_visit(RedirectResponse("/login", 303), asked, visitor)


LOGIN_PAGES = (
    Page("/login", get=show_login, post=log_in, access=Access.OPEN, post_access=Access.OPEN),
    Page("/logout", post=log_out),
)


def show_me(asked: RequestContext) -> Response:
    """The choices."""
    context = asked.farm.context
    return asked.render(
        "me.html", helpers=context.helper_password is not None, shortest=SHORTEST_PASSWORD, said=""
    )


def keep_preferences(asked: RequestContext) -> Response:
    """Language and unit, kept in the browser."""
    language = asked.field("language")
    if language not in LANGUAGES:
        raise UsageError(asked.words.t("me.language_wrong"))
    unit = "f" if asked.field("unit") == "f" else "c"
    response = RedirectResponse("/me", 303)
    response.set_cookie(
        WISHES_COOKIE,
        f"{language}-{unit}",
        max_age=WISHES_S,
        httponly=True,
        samesite="lax",
        secure=asked.request.url.scheme == "https",
    )
    return response


def change_helpers(asked: RequestContext) -> Response:
    """A new password for helpers; an empty one shuts them out."""
    password = asked.form.get("password", "")
    if password and not SHORTEST_PASSWORD <= len(password) <= LONGEST_PASSWORD:
        raise UsageError(asked.words.t("me.password_short", least=SHORTEST_PASSWORD))
    asked.farm.context.change_helper_password(hash_password(password) if password else None)
    return RedirectResponse("/me", 303)


ME = Part(
    "me",
    "/me",
    (
        Page("/me", get=show_me),
        Page("/me/preferences", post=keep_preferences),
        Page("/me/helpers", post=change_helpers, post_access=Access.OWNER),
    ),
    main=False,
)


LINK_PATH = "/a/"
_SPENT = "spent_links"


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


def link_key(asked: RequestContext) -> bytes:
    """The key that the service signs links with."""
    return asked.farm.context.link_key


def show_link(asked: RequestContext) -> Response:
    """The alarm of a link that is valid."""
    try:
        claim = verify(asked.request.path_params["token"], link_key(asked), asked.now_ms)
    except UsageError:
        return problem(asked, 404, "link.not_valid")
    return _page(asked, claim, "")


def _page(asked: RequestContext, claim: Claim, said: str) -> Response:
    rule = asked.plan.rules.get(claim.alarm_id)
    if rule is None:
        return problem(asked, 404, "link.no_alarm")
    state = asked.store.journal.states().get(claim.alarm_id) or AlarmState(claim.alarm_id)
    alarm = ActiveAlarm(rule, state, asked.plan.title(rule.place))
    return asked.render(
        "link.html",
        alarm=card(alarm, asked.plan, asked.words, {}),
        normal=state.status is AlarmStatus.NORMAL,
        open=_is_meant(state, claim) and not said,
        token=asked.request.path_params["token"],
        said=said,
    )


def _is_meant(state: AlarmState, claim: Claim) -> bool:
    return not state.acknowledged and state.since_ms == claim.since_ms


def acknowledge_by_link(asked: RequestContext) -> Response:
    """Spend the link and acknowledge what it was about; a newer occurrence stays as it is."""
    context = asked.farm.context
    try:
        with context.writing() as store:
            claim = redeem(
                asked.request.path_params["token"],
                link_key(asked),
                asked.now_ms,
                lambda nonce, expires_ms: spend(store, nonce, expires_ms, asked.now_ms),
            )
    except UsageError:
        return problem(asked, 410, "link.not_valid")
    state = asked.store.journal.states().get(claim.alarm_id)
    if state is None or not _is_meant(state, claim):
        return _page(asked, claim, asked.words.t("link.nothing_to_do"))
    command = Command(CommandKind.ACKNOWLEDGE, asked.now_ms, claim.recipient, claim.alarm_id)
    outcome = asked.store.commands.outcome(hand_over(asked, command))
    return _page(asked, claim, asked.words.t("asked.done" if outcome == "done" else "asked.waiting"))


def spend(store: Store, nonce: str, expires_ms: int, now_ms: int) -> bool:
    """True the first time that a number is used; numbers of expired links are forgotten."""
    with store.database.write():
        spent = json.loads(store.meta.get(_SPENT) or "{}")
        if nonce in spent:
            return False
        kept = {known: end for known, end in spent.items() if end > now_ms}
        store.meta.put(_SPENT, json.dumps(kept | {nonce: expires_ms}))
        return True


LINK_PAGE = Page(
    LINK_PATH + "{token}",
    get=show_link,
    post=acknowledge_by_link,
    access=Access.OPEN,
    post_access=Access.OPEN,
    proves_itself=True,
)
