"""Boards: heard when, battery, faults, calibration; an unknown one is given its place from here.

The place is written into the settings file itself: comments stay, the old file is kept beside it, and a
result that would be wrong changes nothing. The lines to paste are shown too, for whoever keeps the file
elsewhere.
"""

from __future__ import annotations

import threading
import time
from urllib.parse import quote

from starlette.responses import RedirectResponse, Response

from monitor.errors import UsageError
from monitor.farm.places import SiteReader
from monitor.page.boards import BOARD_PAGES, FOLLOWED_S, POLL_S
from monitor.page.serving import Access, Page, Part, RequestContext
from monitor.words import boards

_writing = threading.Lock()


def show_nodes(request: RequestContext) -> Response:
    """All boards, those that need somebody first."""
    store, plan, words = request.store, request.plan, request.words
    reader = SiteReader(store, plan, request.now_ms)
    rows = reader.boards()
    unknown = [row for row in rows if not row.known]
    sensors = store.readings.sensors() if unknown else ()
    names = [row.facts.node for row in unknown]
    writable = request.app.context.settings_path is not None
    return request.render(
        "nodes.html",
        board_words=boards,
        broker_fault=boards.broker_fault(reader.alarms(), words),
        unknown=unknown,
        lines={name: "\n".join(boards.toml_lines(name, sensors, plan, words)) for name in names},
        care=[row for row in rows if row.known and row.needs_care],
        fine=[row for row in rows if row.known and not row.needs_care],
        places=[(place.id, plan.title(place.id)) for place in plan.settings.places],
        can_write=writable and request.session.owner,
        writable=writable,
        said=_said(request),
        is_owner=request.session.owner,
    )


def _said(request: RequestContext) -> str:
    """What was done just now."""
    placed, removed = request.query("placed"), request.query("removed")
    if removed:
        return request.words.t("board.removed", node=removed)
    return request.words.t("nodes.placed", node=placed) if placed else ""


def place_board(request: RequestContext) -> Response:
    """Write the place of a board into the settings."""
    node, place = request.form.get("node", ""), request.field("place")
    known = {facts.node for facts in request.store.nodes.every()} | request.plan.nodes.keys()
    if place not in request.plan.places:
        raise UsageError(request.words.t("nodes.choose_place"))
    if node not in known:
        raise UsageError(request.words.t("nodes.not_heard"))
    if request.app.context.settings_path is None:
        raise UsageError(request.words.t("nodes.no_file"))
    with _writing:
        request.app.context.place_node(node, place)
    _wait_for(request, node, place)
    if request.came_from == f"/boards/{node}":
        return RedirectResponse(f"/boards/{quote(node)}?moved=yes", 303)
    return RedirectResponse(f"/nodes?placed={quote(node)}", 303)


def _wait_for(request: RequestContext, node: str, place: str) -> None:
    """Wait a moment until the service follows the settings, so that the next page shows the new place."""
    until = time.monotonic() + FOLLOWED_S
    while time.monotonic() < until:
        known = request.app.context.plan().nodes.get(node)
        if known is not None and known.place == place:
            break
        time.sleep(POLL_S)


NODES = Part(
    "nodes",
    "/nodes",
    (
        Page("/nodes", get=show_nodes),
        Page("/nodes/place", post=place_board, post_access=Access.OWNER),
        *BOARD_PAGES,
    ),
    main=False,
)
