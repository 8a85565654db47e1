"""Boards: heard when, battery, faults, calibration; an unknown one is given its place from here.

The place is written into the settings file itself: comments stay, the old file is kept beside it, and a
result that would be wrong changes nothing. The lines to paste are shown too, for whoever keeps the file
elsewhere.
"""

from __future__ import annotations

import threading
from dataclasses import dataclass
from urllib.parse import quote

from starlette.responses import RedirectResponse, Response

from monitor.errors import UsageError
from monitor.farm.places import SiteReader
from monitor.farm.records import NodeRow
from monitor.page.serving import Access, Page, Part, RequestContext
from monitor.words import boards
from monitor.words.localizer import Localizer

_writing = threading.Lock()


@dataclass(frozen=True, slots=True)
class Board:
    """One board as the page shows it; `lines` place an unknown one in the settings."""

    name: str
    shape: str
    word: str
    place: str
    facts: tuple[str, ...]
    faults: tuple[str, ...]
    brief: tuple[str, ...] = ()
    lines: str = ""


def show_nodes(request: RequestContext) -> Response:
    """All boards, those that need somebody first."""
    rows = SiteReader(request.store, request.plan, request.now_ms).boards()
    placed = request.query("placed")
    writable = request.app.context.settings_path is not None
    return request.render(
        "nodes.html",
        unknown=[_unknown(request, row) for row in rows if not row.known],
        care=[board_of(row, request.words) for row in rows if row.known and row.needs_care],
        fine=[board_of(row, request.words) for row in rows if row.known and not row.needs_care],
        places=[(place.id, request.plan.title(place.id)) for place in request.plan.settings.places],
        can_write=writable and request.session.owner,
        writable=writable,
        said=request.words.t("nodes.placed", node=placed) if placed else "",
    )


def board_of(row: NodeRow, words: Localizer) -> Board:
    """A board that the settings name, in the words of the person who looks."""
    heard = words.clock(row.facts.last_heard_ms) if row.heard else boards.heard(row, words)
    calibration = boards.calibration(row, words) if row.heard else ""
    brief = (heard, boards.battery(row, words), calibration)
    shape = boards.shape(row)
    return Board(
        name=row.facts.node,
        shape=shape,
        word=words.t(f"board.{shape}"),
        place=row.place or words.t("nodes.no_place"),
        facts=tuple(boards.facts(row, words)),
        faults=tuple(boards.faults(row, words)),
        brief=tuple(part for part in brief if part),
    )


def _unknown(request: RequestContext, row: NodeRow) -> Board:
    words, name = request.words, row.facts.node
    lines = boards.toml_lines(name, request.store.readings.sensors(), request.plan, words)
    return Board(
        name=name,
        shape=boards.shape(row),
        word=words.t("board.new"),
        place="",
        facts=tuple(boards.facts(row, words)),
        faults=tuple(boards.faults(row, words)),
        lines="\n".join(lines),
    )


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
    return RedirectResponse(f"/nodes?placed={quote(node)}", 303)


NODES = Part(
    "nodes",
    "/nodes",
    (
        Page("/nodes", get=show_nodes),
        Page("/nodes/place", post=place_board, post_access=Access.OWNER),
    ),
    main=False,
)
