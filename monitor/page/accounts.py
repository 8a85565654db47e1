"""Who somebody is to the page: login and logout, preferences, helpers, and the signed links of messages.

Programs that scan messages open links too, so looking spends nothing; only the tap does.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable
from urllib.parse import urlencode

from itsdangerous import BadData
from starlette.responses import RedirectResponse, Response

from monitor.boards.card import qr_as_svg
from monitor.boards.certificates import is_usable
from monitor.errors import UsageError
from monitor.farm.places import SiteReader
from monitor.notify.links import (
    LIFETIME_MS,
    LONGEST_TOKEN,
    Claim,
    new_nonce,
    redeem,
    serializer,
    sign,
    verify,
)
from monitor.notify.policy import LinkFor
from monitor.page.alarms import alarm_card
from monitor.page.push import PUSH_PAGES
from monitor.page.security import (
    LONGEST_PASSWORD,
    LONGEST_WAIT_S,
    SHORTEST_PASSWORD,
    Role,
    first_password,
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
    drawn,
    local_path,
    problem,
    said_of_outcome,
    wait_for,
    with_session,
    write_commands,
)
from monitor.records import MS_PER_SECOND, AlarmState, AlarmStatus, Command, CommandKind
from monitor.settings.checking import is_soon_guessed
from monitor.store import Store
from monitor.words.catalogue import LANGUAGES

LONGEST_NAME = 40
LINK_PATH = "/a/"
JOIN_PATH, JOIN = "/join/", "join"
DEVICE_COOKIE = "rearing_device"
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
    device = request.app.sessions.device(request.http.cookies.get(device_cookie(request)))
    address = device or (request.http.client.host if request.http.client else "unknown")
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
        throttle.succeeded(address, forgive=role is Role.OWNER)
    session = request.app.sessions.begin(role, request.field("name", LONGEST_NAME))
    request.app.sessions.end(request.session)
    response = with_session(RedirectResponse(wanted or "/", 303), request, session)
    if role is Role.OWNER and not device:
        keep_device(response, request)
    return response


def device_cookie(request: RequestContext) -> str:
    """Its name: another one over HTTPS, since a browser lets no plain page replace a secure one."""
    return f"__Secure-{DEVICE_COOKIE}" if request.http.url.scheme == "https" else DEVICE_COOKIE


def keep_device(response: Response, request: RequestContext) -> None:
    """Mark the phone as one of the owner's: others' wrong passwords keep it out no more."""
    response.set_cookie(
        device_cookie(request),
        request.app.sessions.device_cookie(),
        max_age=PREFERENCES_S,
        path="/login",
        httponly=True,
        samesite="strict",
        secure=request.http.url.scheme == "https",
    )


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
    if password:
        _check_new(request, password)
    request.app.context.change_helper_password(hash_password(password) if password else None)
    return RedirectResponse("/me", 303)


def _check_new(request: RequestContext, password: str) -> None:
    """Raise UsageError for a helpers' password that is short, soon guessed, or the owner's own."""
    words, site = request.words, request.plan.settings.site
    if not SHORTEST_PASSWORD <= len(password) <= LONGEST_PASSWORD:
        raise UsageError(words.t("me.password_short", least=SHORTEST_PASSWORD))
    if is_soon_guessed(password, (site.id, site.title, *map(request.plan.title, request.plan.places))):
        raise UsageError(words.t("me.password_guessed"))
    # Whoever has it would be taken for the owner.
    if matches(password, request.app.context.password):
        raise UsageError(words.t("me.password_own"))


def end_sessions(request: RequestContext) -> Response:
    """All sessions of a person end, such as those of a phone that was stolen; it gets no message either."""
    name = request.field("name", LONGEST_NAME)
    if not name:
        raise UsageError(request.words.t("me.end_whose"))
    request.app.sessions.end_all_of(name)
    with request.app.context.writing() as store:
        store.phones.remove_all_of(name)
    request.app.context.phones_changed()
    return RedirectResponse(f"/me?{urlencode({'ended': name})}", 303)


# A helper's first login by a link.


def invite(request: RequestContext) -> Response:
    """A link with which one phone becomes a helper's, once, within a day."""
    context = request.app.context
    if context.helper_password is None:
        # Nobody knows it: helpers come by links until the owner gives them another.
        context.change_helper_password(hash_password(first_password()))
    until_ms = request.now_ms + LIFETIME_MS
    token = serializer(context.link_key, JOIN).dumps([new_nonce(), until_ms])
    address = f"{_address_for_phones(request)}{JOIN_PATH}{token}"
    return request.render(
        "invite.html",
        address=address,
        until=request.words.moment(until_ms),
        picture=drawn(qr_as_svg(address, request.words.t("join.qr_title"))),
    )


def _joining(request: RequestContext) -> tuple[str, int] | None:
    """The number and the end of the link that was opened; None where it is not valid."""
    token = str(request.http.path_params["token"])
    if len(token) > LONGEST_TOKEN or not token.isascii():
        return None
    try:
        nonce, until_ms = serializer(request.app.context.link_key, JOIN).loads(token)
    except (BadData, TypeError, ValueError):
        return None
    valid = isinstance(nonce, str) and isinstance(until_ms, int) and request.now_ms < until_ms
    return (nonce, until_ms) if valid and request.app.context.helper_password is not None else None


def show_join(request: RequestContext) -> Response:
    """Asks for a name; looking spends nothing, since programs that scan messages open links too."""
    if _joining(request) is None:
        return problem(request, 404, "join.not_valid")
    return request.render("join.html", token=request.http.path_params["token"], said="")


def join(request: RequestContext) -> Response:
    """Spend the link: this phone is the helper's from now on."""
    found, name = _joining(request), request.field("name", LONGEST_NAME)
    if found is None:
        return problem(request, 410, "join.not_valid")
    if not name:
        said = request.words.t("join.name_needed")
        return request.render("join.html", 400, token=request.http.path_params["token"], said=said)
    with request.app.context.writing() as store:
        first = spend(store, *found, request.now_ms)
    if not first:
        return problem(request, 410, "join.not_valid")
    request.app.sessions.end(request.session)
    session = request.app.sessions.begin(Role.HELPER, name)
    return with_session(RedirectResponse("/", 303), request, session)


JOIN_PAGE = Page(
    JOIN_PATH + "{token}",
    get=show_join,
    post=join,
    access=Access.OPEN,
    post_access=Access.OPEN,
    proves_itself=True,
)


# The page on a phone.


def _address_for_phones(request: RequestContext) -> str:
    """Under which address this page was asked for; from the computer itself the one that phones use."""
    host, public = _host(request), request.plan.settings.page.public_address
    if public is not None and host in ("localhost", "127.0.0.1", "::1", ""):
        return public.rstrip("/")
    return f"{request.http.url.scheme}://{request.http.url.netloc}"


def _host(request: RequestContext) -> str:
    host = request.http.url.hostname or ""
    return host if is_usable(host) else ""


def _by_port(request: RequestContext, scheme: str, port: int) -> str:
    host = _host(request)
    return f"{scheme}://{f'[{host}]' if ':' in host else host}:{port}"


def show_phone(request: RequestContext) -> Response:
    """The steps with which a phone gets the page; open to everybody, since nobody is logged in yet."""
    context, words = request.app.context, request.words
    own = bool(context.ca and context.https_port is not None and _host(request))
    page = _by_port(request, "https", context.https_port or 0) if own else _address_for_phones(request)
    start = f"{_by_port(request, 'http', context.plain_port)}/phone" if own else f"{page}/phone"
    return request.render(
        "phone.html",
        own=own,
        encrypted=page.startswith("https:"),
        page=f"{page}/",
        start=start,
        start_picture=drawn(qr_as_svg(start, words.t("reach.qr_start"))),
        page_picture=drawn(qr_as_svg(f"{page}/", words.t("reach.qr_page"))),
        fingerprint=fingerprint(context.ca) if own else "",
    )


def fingerprint(certificate: bytes) -> str:
    """The SHA-256 of a certificate, as phones and computers show it."""
    digest = hashlib.sha256(certificate).hexdigest().upper()
    return ":".join(digest[at : at + 2] for at in range(0, len(digest), 2))


def give_ca(request: RequestContext) -> Response:
    """The certificate of the farm's CA, in the form that phones take (RFC 5280, DER)."""
    if not request.app.context.ca:
        return problem(request, 404, "problem.not_here")
    headers = {"content-disposition": 'attachment; filename="farm-ca.crt"'}
    return Response(request.app.context.ca, media_type="application/x-x509-ca-cert", headers=headers)


def not_kept(request: RequestContext) -> Response:
    """What stands where a page was never opened while there was a connection."""
    words = request.words
    return request.render(
        "problem.html", heading=words.t("reach.no_connection"), said=words.t("reach.not_kept")
    )


PHONE_PAGES = (
    Page("/phone", get=show_phone, access=Access.OPEN),
    Page("/farm-ca.crt", get=give_ca, access=Access.OPEN),
    Page("/not-kept", get=not_kept, access=Access.OPEN),
)

ME = Part(
    "me",
    "/me",
    (
        Page("/me", get=show_me),
        Page("/me/preferences", post=keep_preferences),
        Page("/me/helpers", post=change_helpers, post_access=Access.OWNER),
        Page("/me/invite", post=invite, post_access=Access.OWNER),
        Page("/me/sessions", post=end_sessions, post_access=Access.OWNER),
        *PUSH_PAGES,
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
    number = wait_for(request, write_commands(request, [command]))
    return _page(request, claim, said_of_outcome(request, number))


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
