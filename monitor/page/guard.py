"""What a person says of a place on the page: empty, in use, put aside for a while. A doubt is asked once."""

from __future__ import annotations

import secrets
import time
from functools import partial

from starlette.responses import RedirectResponse, Response

from monitor.errors import UsageError
from monitor.farm.places import SiteReader
from monitor.logbook.place_entries import PlaceEntryKind
from monitor.page.bins import bins_now
from monitor.page.entries import LONGEST_NOTE, entry_writer
from monitor.page.serving import Access, Page, RequestContext, local_path, problem
from monitor.records import MS_PER_MINUTE
from monitor.words.guard import doubts

ASIDE_MINUTES = (15, 60, 120, 240)
FOLLOWED_S, POLL_S = 1.0, 0.05
"""For how long the page waits until the service follows an entry."""


def say_empty(request: RequestContext) -> Response:
    """No animals are in it; where something speaks against that, a second step asks."""
    place = _place(request)
    if place is None:
        return problem(request, 404, "problem.not_here")
    reader = SiteReader(request.store, request.plan, request.now_ms, partial(bins_now, request))
    odd = doubts(reader.place(place), request.words)
    if odd and request.field("confirmed") != "yes":
        return request.render(
            "guard.html",
            place=place,
            title=request.plan.title(place),
            odd=odd,
            note=request.field("note", LONGEST_NOTE),
            leave=local_path(request.field("back")) or f"/places/{place}",
            mark=request.mark or secrets.token_urlsafe(9),
        )
    return _say(request, place, PlaceEntryKind.EMPTY)


def say_in_use(request: RequestContext) -> Response:
    """Animals are in it, whatever was said before."""
    place = _place(request)
    if place is None:
        return problem(request, 404, "problem.not_here")
    return _say(request, place, PlaceEntryKind.IN_USE)


def say_aside(request: RequestContext) -> Response:
    """Put aside for a stated time; the guard comes back by itself."""
    place, minutes = _place(request), request.field("minutes")
    if place is None:
        return problem(request, 404, "problem.not_here")
    if minutes not in {str(choice) for choice in ASIDE_MINUTES}:
        raise UsageError(request.words.t("guard.minutes_wrong"))
    until_ms = request.made_ms + int(minutes) * MS_PER_MINUTE
    if until_ms <= request.now_ms:
        raise UsageError(request.words.t("guard.aside_over", at=request.words.moment(until_ms)))
    return _say(request, place, PlaceEntryKind.ASIDE, until_ms)


def _place(request: RequestContext) -> str | None:
    place = str(request.http.path_params["place"])
    return place if place in request.plan.places else None


def _say(request: RequestContext, place: str, kind: PlaceEntryKind, until_ms: int | None = None) -> Response:
    """Write it once, wait until the service follows it, and go back to where the form came from."""
    back = local_path(request.field("back")) or f"/places/{place}"

    body = {"note": request.field("note", LONGEST_NOTE), "until_ms": until_ms}
    with entry_writer(request) as writer:
        written = writer.write(place, kind, request.made_ms, body).entry_id or 0
    until = time.monotonic() + FOLLOWED_S
    while request.app.context.plan().words_of(place).newest_entry < written and time.monotonic() < until:
        time.sleep(POLL_S)
    request.app.context.feed.note()
    return RedirectResponse(f"{back}?wrote={written}", 303)


GUARD_PAGES = (
    Page("/places/{place}/empty", post=say_empty, post_access=Access.OWNER),
    Page("/places/{place}/aside", post=say_aside, post_access=Access.OWNER),
    Page("/places/{place}/in-use", post=say_in_use),
)
