"""Boards: heard when, battery, faults, calibration; an unknown one is given its place from here.

The place is written into the settings file itself: comments stay, the old file is kept beside it, and a
result that would be wrong changes nothing. The lines to paste are shown too, for whoever keeps the file
elsewhere.
"""

from __future__ import annotations

import threading
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from urllib.parse import quote

from starlette.responses import RedirectResponse, Response

from monitor.errors import UsageError
from monitor.farm.places import node_rows
from monitor.farm.records import NodeRow
from monitor.page.serving import Access, Page, Part, RequestContext
from monitor.records import MS_PER_DAY, Calibration
from monitor.words.boards import is_unknown, toml_lines
from monitor.words.localizer import Localizer

CALIBRATE_AFTER_DAYS = 365
_writing = threading.Lock()


@dataclass(frozen=True, slots=True)
class Board:
    """One board as the page shows it."""

    name: str
    shape: str
    word: str
    place: str
    facts: tuple[str, ...]
    faults: tuple[str, ...]
    brief: tuple[str, ...] = ()
    lines: str = ""

    @property
    def needs_care(self) -> bool:
        """Whether somebody should look after it."""
        return self.shape == "unknown" or bool(self.faults)


def show_nodes(request: RequestContext) -> Response:
    """All boards, those that need somebody first."""
    rows = node_rows(request.store, request.plan, request.now_ms)
    boards = known_boards(request, rows)
    placed = request.query("placed")
    writable = request.app.context.settings_path is not None
    return request.render(
        "nodes.html",
        unknown=[_unknown(request, row) for row in rows if is_unknown(row, request.plan)],
        care=[board for board in boards if board.needs_care],
        fine=[board for board in boards if not board.needs_care],
        places=[(place.id, request.plan.title(place.id)) for place in request.plan.settings.places],
        can_write=writable and request.session.owner,
        writable=writable,
        said=request.words.t("nodes.placed", node=placed) if placed else "",
    )


def known_boards(request: RequestContext, rows: Sequence[NodeRow]) -> list[Board]:
    """The boards that the settings name, in the words of the person who looks."""
    calibrated_ms = newest_calibrations(request.store.calibrations.every())
    return [_board(request, row, calibrated_ms) for row in rows if not is_unknown(row, request.plan)]


def newest_calibrations(calibrations: tuple[Calibration, ...]) -> dict[str, int]:
    """When each board was last calibrated."""
    found: dict[str, int] = {}
    for each in calibrations:
        found[each.sensor.node] = max(found.get(each.sensor.node, 0), each.valid_from_ms)
    return found


def _board(request: RequestContext, row: NodeRow, calibrated_ms: dict[str, int]) -> Board:
    node, words = request.plan.nodes[row.facts.node], request.words
    shape = "out_of_service" if node.out_of_service else "unknown" if row.silent else "fine"
    heard = row.facts.messages > 0
    facts = [
        words.t("nodes.heard", at=words.ago(row.facts.last_heard_ms)) if heard else words.t("nodes.never"),
        ""
        if row.battery_v is None
        else words.t("nodes.battery", value=words.value("battery", row.battery_v)),
        words.n("nodes.messages", row.facts.messages) if heard else "",
        _calibrated(calibrated_ms.get(row.facts.node), words) if heard else "",
    ]
    word = words.t(f"board.{shape}")
    faults = tuple(_faults(row, node.battery_low_v, words))
    place = row.place or words.t("nodes.no_place")
    brief = (words.clock(row.facts.last_heard_ms) if heard else facts[0], *facts[1:2], *facts[3:])
    return Board(
        row.facts.node, shape, word, place, tuple(filter(None, facts)), faults, tuple(filter(None, brief))
    )


def _calibrated(at_ms: int | None, words: Localizer) -> str:
    if at_ms is None:
        return words.t("nodes.not_calibrated")
    days = (words.now_ms - at_ms) // MS_PER_DAY
    key = "nodes.calibration_due" if days >= CALIBRATE_AFTER_DAYS else "nodes.calibrated"
    return words.t(key, days=words.n("length.days", days))


def _faults(row: NodeRow, low_v: float | None, words: Localizer) -> Iterator[str]:
    facts = row.facts
    if low_v is not None and row.battery_v is not None and row.battery_v < low_v:
        yield words.t("nodes.battery_low", limit=words.value("battery", low_v))
    if facts.clock_fault:
        yield words.t("nodes.clock", fault=facts.clock_fault)
    if facts.missing:
        yield words.n("nodes.missing", facts.missing)
    if facts.conflicts:
        yield words.n("nodes.conflicts", facts.conflicts)
    if facts.rejected:
        yield words.n("nodes.rejected", facts.rejected, why=facts.last_reject_reason)


def _unknown(request: RequestContext, row: NodeRow) -> Board:
    words, name = request.words, row.facts.node
    facts = (
        words.t("nodes.heard", at=words.ago(row.facts.last_heard_ms)),
        words.n("nodes.messages", row.facts.messages),
    )
    lines = "\n".join(toml_lines(name, request.store.readings.sensors(), request.plan))
    faults = tuple(_faults(row, None, words))
    return Board(name, "unknown", words.t("board.new"), "", facts, faults, (), lines)


def place_board(request: RequestContext) -> Response:
    """Write the place of a board into the settings."""
    node, place = request.form.get("node", ""), request.field("place")
    known = {row.facts.node for row in node_rows(request.store, request.plan, request.now_ms)}
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
