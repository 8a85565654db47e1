"""Messages on phones: turned on by a tap on the installed page, tried, ended; and how each person is told.

Only over HTTPS (or on this computer itself) does a browser let a page take messages while it is closed.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from urllib.parse import urlencode

from starlette.responses import RedirectResponse, Response

from monitor.errors import UsageError
from monitor.notify.policy import way_of
from monitor.notify.push import LONGEST_ADDRESS, installed, problem_with_phone, public_key
from monitor.page.serving import Page, RequestContext, outcome_words, send_command
from monitor.records import CommandKind
from monitor.settings.schema import WEB_PUSH, Recipient
from monitor.store.outbox import Phone
from monitor.words.localizer import Localizer

PATH = "/me/messages"
MOST_OF_ONE, MOST = 8, 40
"""Own choice: phones of one person, and of all."""
LONGEST_KEY = 120
_DEVICES = {"iPhone": "iphone", "iPad": "iphone", "Android": "android"}
_SAID_BY_SCRIPT = ("cannot", "iphone", "denied", "no_service", "again", "this_phone")


@dataclass(frozen=True, slots=True)
class ShownPhone:
    """One phone that takes messages. By `digest` a browser knows itself; `ours`: who looks may end it."""

    phone_id: int
    title: str
    facts: tuple[str, ...]
    digest: str
    ours: bool


@dataclass(frozen=True, slots=True)
class ShownPerson:
    """How one person is told, and what is wrong with that."""

    name: str
    ways: str
    warnings: tuple[str, ...]
    phones: tuple[ShownPhone, ...]


def show_messages(request: RequestContext) -> Response:
    """The switch for this phone, and everybody's ways."""
    settings, words = request.plan.settings, request.words
    secure = _is_secure(request)
    people = tuple(_people(request))
    why_not = _why_not(request, secure)
    return request.render(
        "push.html",
        people=people,
        why_not=why_not,
        secure=secure,
        names=[person.id for person in settings.recipients],
        own=request.session.name,
        key=public_key(request.app.context.push_key),
        said=_said(request),
        script_words={key: words.t(f"push.{key}") for key in _SAID_BY_SCRIPT},
    )


def _said(request: RequestContext) -> str:
    turned, words = request.query("turned"), request.words
    if turned in ("on", "off"):
        return words.t(f"push.turned_{turned}")
    return outcome_words(request)


def _is_secure(request: RequestContext) -> bool:
    """Whether browsers take the connection for one that nobody listens to or changes."""
    host = request.http.url.hostname or ""
    return request.http.url.scheme == "https" or host in ("localhost", "127.0.0.1", "::1")


def _why_not(request: RequestContext, secure: bool) -> str:
    """Why messages cannot be turned on here, and what to do; "" where they can."""
    if not secure:
        return request.words.t("push.needs_https")
    if not installed():
        return request.words.t("push.needs_library", command="pip install 'rearing-monitor[push]'")
    if not request.plan.settings.recipients:
        return request.words.t("push.needs_people", address=WEB_PUSH)
    return ""


def _people(request: RequestContext) -> Iterator[ShownPerson]:
    words, store = request.words, request.store
    phones, gone = store.phones.every(), store.phones.gone()
    for person in request.plan.settings.recipients:
        own = [phone for phone in phones if phone.recipient == person.id]
        warnings = [words.t("push.alone", name=person.id)] if person.by_page_alone else []
        if person.by_page_alone and not own:
            warnings.append(words.t("push.alone_without", name=person.id))
        for lost in gone:
            if lost.recipient == person.id:
                device = words.t(f"push.device_{lost.device}")
                warnings.append(words.t("push.gone", device=device, at=words.clock(lost.gone_ms)))
        shown = tuple(_shown(request, phone) for phone in own)
        yield ShownPerson(person.id, _ways(person, len(own), words), tuple(warnings), shown)


def _ways(person: Recipient, phones: int, words: Localizer) -> str:
    """Such as "mailto, 2 phones"; of an address no more than its kind, the rest is secret."""
    kind = person.address.get_secret_value().partition(":")[0]
    by_address = [] if person.by_page_alone else [words.t("push.by_address", kind=kind)]
    return words.listing([*by_address, words.n("push.phones", phones)])


def _shown(request: RequestContext, phone: Phone) -> ShownPhone:
    words = request.words
    facts = [words.t("push.since", at=words.clock(phone.made_ms))]
    if phone.person:
        facts.append(words.t("push.turned_on_by", name=phone.person))
    if phone.last_ok_ms is not None:
        facts.append(words.t("push.last", at=words.clock(phone.last_ok_ms)))
    if phone.failures:
        facts.append(words.n("push.failures", phone.failures))
    return ShownPhone(
        phone.phone_id,
        words.t(f"push.device_{phone.device}"),
        tuple(facts),
        hashlib.sha256(phone.endpoint.encode()).hexdigest(),
        _is_ours(request, phone),
    )


def _is_ours(request: RequestContext, phone: Phone) -> bool:
    """The owner may end any, others what they turned on themselves."""
    session = request.session
    theirs = (phone.role, phone.person) == (session.role, session.name)
    return session.owner or (bool(session.name) and theirs)


def _device(agent: str) -> str:
    return next((device for mark, device in _DEVICES.items() if mark in agent), "computer")


def turn_on(request: RequestContext) -> Response:
    """Keep what the browser says of itself; one that was renewed takes the place of its old self."""
    old = request.field("old", LONGEST_ADDRESS + 1)
    known = {phone.endpoint: phone for phone in request.store.phones.every()}
    before = known.get(old) if old else None
    recipient = before.recipient if before else request.field("recipient")
    phone = Phone(
        recipient,
        request.session.name,
        str(request.session.role),
        _device(request.http.headers.get("user-agent", "")),
        request.field("endpoint", LONGEST_ADDRESS + 1),
        request.field("p256dh", LONGEST_KEY),
        request.field("auth", LONGEST_KEY),
        request.now_ms,
    )
    _refuse(request, phone, known, old)
    with request.app.context.writing() as store:
        store.phones.add(phone, replaces=before.endpoint if before else "")
    request.app.context.phones_changed()
    return _back("on")


def _refuse(request: RequestContext, phone: Phone, known: Mapping[str, Phone], old: str) -> None:
    """Raise UsageError for what cannot be kept."""
    words = request.words
    if not _is_secure(request):
        raise UsageError(words.t("push.needs_https"))
    if phone.recipient not in {person.id for person in request.plan.settings.recipients}:
        raise UsageError(words.t("push.whose"))
    problem = problem_with_phone(phone, request.app.context.push_reach)
    if problem is not None:
        raise UsageError(problem)
    others = [each for address, each in known.items() if address not in (phone.endpoint, old)]
    if len(others) >= MOST or sum(each.recipient == phone.recipient for each in others) >= MOST_OF_ONE:
        raise UsageError(words.t("push.too_many"))


def _back(turned: str) -> Response:
    return RedirectResponse(f"{PATH}?{urlencode({'turned': turned})}", 303)


def _meant(request: RequestContext) -> Phone:
    """The phone that a form is about; raises UsageError where it may not be touched."""
    number = request.field("phone", 20)
    found = [phone for phone in request.store.phones.every() if str(phone.phone_id) == number]
    if not found:
        raise UsageError(request.words.t("push.unknown"))
    if not _is_ours(request, found[0]):
        raise UsageError(request.words.t("push.not_yours"))
    return found[0]


def turn_off(request: RequestContext) -> Response:
    """Nothing is pushed to this phone any more."""
    phone = _meant(request)
    with request.app.context.writing() as store:
        store.phones.remove(phone.phone_id)
    request.app.context.phones_changed()
    return _back("off")


def try_out(request: RequestContext) -> Response:
    """A test message to this phone."""
    phone = _meant(request)
    way = way_of(phone.recipient, phone.phone_id)
    number = send_command(request, CommandKind.SEND_TEST, "", None, way)
    return RedirectResponse(f"{PATH}?command={number}", 303)


PUSH_PAGES = (
    Page(PATH, get=show_messages, post=turn_on),
    Page(f"{PATH}/off", post=turn_off),
    Page(f"{PATH}/test", post=try_out),
)
