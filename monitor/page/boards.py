"""Boards: heard when, battery, faults; and for the owner those that come, go, and get another place.

A card stands in the answer to its form alone: under no address, in no log, in no cache. A place is written
into the settings file itself: comments stay, the old file is kept beside it, and a result that would be wrong
changes nothing. The lines to paste are shown too, for whoever keeps the file elsewhere.
"""

from __future__ import annotations

import secrets
import threading
import time
from collections import OrderedDict
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from functools import partial
from urllib.parse import quote

from starlette.responses import RedirectResponse, Response

from monitor.boards.broker_files import Reload, reload_command
from monitor.boards.broker_log import last_sighting
from monitor.boards.card import BATTERY, MAINS, qr_as_svg
from monitor.boards.draft import Wanted
from monitor.boards.enrolment import Change, Done, Office
from monitor.boards.first_word import FirstWord, Mark, Step, first_word, mark_of
from monitor.boards.sensors import KINDS, ONE_WIRE, PROBE_QUANTITIES, allowed_specs
from monitor.errors import MonitorError, SeveralProblems, StoreError, UsageError
from monitor.farm.places import SiteReader, sign_of_life
from monitor.logbook.place_entries import NodeEntryKind
from monitor.page.entries import entry_writer
from monitor.page.serving import Access, Page, Part, RequestContext, drawn, problem
from monitor.records import MS_PER_SECOND
from monitor.settings.loading import FarmFile, read
from monitor.words import boards as board_words
from monitor.words.enrolment import done_lines, heard_lines, step_line
from monitor.words.localizer import Localizer

INTERVALS = ("30 s", "60 s", "120 s", "300 s", "600 s", "900 s", "3600 s")
SENDINGS = (1, 2, 5, 10, 30)
USUAL = {"interval": "60 s", "send_every": "1", "power": MAINS}
FOLLOWED_S, POLL_S = 2.0, 0.05
"""For how long the page waits until the service follows changed settings."""
SHOWN_AGAIN_S, MOST_REMEMBERED = 60.0, 100
"""A second tap on the same button shows the same card; after a minute it does not any more."""


class CardsShown:
    """One form, one card: what a second tap finds, for a moment, in memory alone."""

    def __init__(self, steady_s: Callable[[], float] = time.monotonic) -> None:
        self._steady_s, self._lock = steady_s, threading.Lock()
        self._done: OrderedDict[str, tuple[float, Done]] = OrderedDict()
        self._used: OrderedDict[str, None] = OrderedDict()

    def do(self, mark: str, work: Callable[[], Done]) -> Done | None:
        """What the form did, now or a moment ago; None where that was longer ago."""
        with self._lock:
            now_s = self._steady_s()
            for old in [one for one, (at_s, _) in self._done.items() if now_s - at_s >= SHOWN_AGAIN_S]:
                del self._done[old]
            if mark in self._used:
                return self._done[mark][1] if mark in self._done else None
            done = work()
            if mark:
                self._used[mark], self._done[mark] = None, (self._steady_s(), done)
                while len(self._used) > MOST_REMEMBERED:
                    self._used.popitem(last=False)
            return done


_shown = CardsShown()
_writing = threading.Lock()


def office_of(request: RequestContext) -> Office:
    """Where boards are enrolled; the file itself is read when something is to be written."""
    context = request.app.context
    if context.settings_path is None:
        raise UsageError(request.words.t("nodes.no_file"))
    farm = FarmFile(context.settings_path, request.plan.settings)
    if request.http.method == "POST":
        farm = read(context.settings_path, context.environ)
    return Office(farm, request.now_ms, context.environ)


# A new board.


def show_new(request: RequestContext) -> Response:
    """The form, with a name that is free."""
    office = office_of(request)
    return _form(request, office, {**USUAL, "name": office.free_name(), "wifi": office.remembered_wifi()[0]})


def _form(
    request: RequestContext,
    office: Office,
    values: Mapping[str, str],
    refused: Sequence[str] = (),
    status: int = 200,
) -> Response:
    words, plan = request.words, request.plan
    return request.render(
        "board_new.html",
        status,
        values=values,
        refused=refused,
        is_set_up=office.is_set_up,
        places=[(place.id, plan.title(place.id)) for place in plan.settings.places],
        sensors=[(name, sensor_words(name, words)) for name in KINDS if name != ONE_WIRE],
        others=[(name, sensor_words(name, words)) for name in allowed_specs() if "@" in name],
        lies_in=[(each, words.quantity_name(each)) for each in PROBE_QUANTITIES],
        intervals=[(each, words.length(int(each.split()[0]) * MS_PER_SECOND)) for each in INTERVALS],
        sendings=SENDINGS,
        powers=[(each, words.t(f"board.power_{each}")) for each in (MAINS, BATTERY)],
        known_wifi=office.remembered_wifi()[0],
        mark=secrets.token_urlsafe(9),
    )


def sensor_words(spec: str, words: Localizer) -> str:
    """A sensor as its owner knows it: type, what it measures, its address where that is not the usual one."""
    kind, _, address = spec.partition("@")
    measured = [words.quantity_name(each) for each in KINDS[kind].measures]
    said = (
        f"{words.t(f'board.sensor_{kind}')}: {', '.join(measured)}"
        if measured
        else words.t(f"board.sensor_{kind}")
    )
    return words.t("board.at_address", sensor=said, address=f"0x{address}") if address else said


def _wanted(request: RequestContext, office: Office) -> Wanted:
    """What the form says."""
    field = request.field
    specs = [spec for spec in allowed_specs() if field(f"sensor-{spec}") == "on"]
    lies_in = field("lies_in")
    if lies_in:
        specs.append(f"{ONE_WIRE}:{lies_in}")
    known, wifi, password = office.remembered_wifi()[0], field("wifi"), request.form.get("wifi_password", "")
    sending = field("send_every")
    return Wanted(
        field("name", 60),
        field("place"),
        tuple(specs),
        tuple(field("probes").replace(",", " ").split()),
        field("interval"),
        int(sending) if sending.isascii() and sending.isdigit() else None,
        field("power"),
        None if wifi and wifi == known and not password else wifi,
        password,
    )


def add_board(request: RequestContext) -> Response:
    """Enrol it and show its card; a form that is refused comes back as it was, without the password."""
    office = office_of(request)
    board = _wanted(request, office)
    try:
        done = _shown.do(request.field("mark", 60), lambda: _enrol(request, office, Change.ADD, board))
    except MonitorError as error:
        values = {name: request.field(name) for name in request.form if name != "wifi_password"}
        return _form(request, office, {**USUAL, **values}, _lines(error, request.words), 400)
    return _answer(request, board.name, done)


def _lines(error: MonitorError, words: Localizer) -> list[str]:
    several = error.problems if isinstance(error, SeveralProblems) else (error,)
    return [words.sentence(each.said) for each in several]


# One board.


def show_board(request: RequestContext) -> Response:
    """What is known of it, how far it has come, and for the owner what can be done."""
    name = str(request.http.path_params["node"])
    if name not in request.plan.nodes:
        return problem(request, 404, "problem.not_here")
    return _board(request, name)


def _board(request: RequestContext, name: str, refused: Sequence[str] = (), status: int = 200) -> Response:
    words, plan = request.words, request.plan
    reader = SiteReader(request.store, plan, request.now_ms)
    row = next(each for each in reader.boards() if each.facts.node == name)
    first = _word(request, name)
    changes = _changes(request) if request.session.owner else ()
    return request.render(
        "board.html",
        status,
        board_words=board_words,
        row=row,
        refused=refused,
        step=step_line(first, words),
        is_heard=first.step is Step.HEARD,
        values=list(heard_lines(first, plan, words)),
        changes=[(each, words.t(f"board.do_{each}"), words.t(f"board.explains_{each}")) for each in changes],
        why_not="" if changes else words.t(_why_not(request)),
        moves=_moves(request),
        stands_in=plan.nodes[name].place or "",
        said=words.t("board.moved", node=name) if request.query("moved") else "",
        unguards=_unguards(request, name) if changes else (),
        mark=secrets.token_urlsafe(9),
    )


def _changes(request: RequestContext) -> tuple[str, ...]:
    """What its owner may do to it now."""
    try:
        is_set_up = office_of(request).is_set_up
    except MonitorError:
        return ()
    return tuple(map(str, (Change.CARD, Change.REPLACE, Change.REMOVE) if is_set_up else (Change.REMOVE,)))


def _moves(request: RequestContext) -> list[tuple[str, str]]:
    """The places to which its owner may move it: id and name."""
    if not request.session.owner or request.app.context.settings_path is None:
        return []
    return [(place.id, request.plan.title(place.id)) for place in request.plan.settings.places]


def _why_not(request: RequestContext) -> str:
    return "nodes.no_file" if request.session.owner else "board.owner_only"


def _unguards(request: RequestContext, name: str) -> list[str]:
    """The places that nothing would guard without it."""
    nodes = request.plan.nodes
    left = {
        place for node in nodes.values() if node.id != name for place in (node.place, *node.probes.values())
    }
    here = dict.fromkeys((nodes[name].place, *nodes[name].probes.values()))
    return [request.plan.title(place) for place in here if place and place not in left]


def _word(request: RequestContext, name: str) -> FirstWord:
    """How far it has come since its card was made here, else since ever."""
    store, mark = request.store, request.app.context.enrolled.get(name)
    running = sign_of_life(store, request.now_ms)[0]
    if mark is None:
        return first_word(store, request.plan, name, Mark(0), running)
    broker = request.plan.settings.broker
    seen = partial(
        last_sighting, Office.files_of(broker), name, broker.boards_port, mark.at_ms / MS_PER_SECOND
    )
    return first_word(store, request.plan, name, mark, running, seen if broker.files else lambda: None)


def change_board(request: RequestContext) -> Response:
    """A new card, another board, or none: by the last word of the address."""
    name, what = str(request.http.path_params["node"]), str(request.http.path_params["change"])
    if what not in (Change.CARD, Change.REPLACE, Change.REMOVE) or name not in request.plan.nodes:
        return problem(request, 404, "problem.not_here")
    change, office = Change(what), office_of(request)
    try:
        done = _shown.do(request.field("mark", 60), lambda: _enrol(request, office, change, Wanted(name)))
    except MonitorError as error:
        return _board(request, name, _lines(error, request.words), 400)
    if change is Change.REMOVE:
        return RedirectResponse(f"/nodes?removed={quote(name)}", 303)
    return _answer(request, name, done)


# What is done, and its card.


def _enrol(request: RequestContext, office: Office, change: Change, board: Wanted) -> Done:
    """Do it, have the service follow, and remember from when on the board is waited for."""
    context = request.app.context
    done = office.enrol(change, board)
    context.enrolled.pop(board.name, None)
    if change is not Change.REMOVE:
        context.enrolled[board.name] = Mark(context.clock())
        # The card is shown whatever the database says now.
        with suppress(StoreError), context.reading() as store:
            context.enrolled[board.name] = mark_of(store, board.name, context.clock())
    context.request_reload()
    until = time.monotonic() + FOLLOWED_S
    while (board.name in context.plan().nodes) is (change is Change.REMOVE) and time.monotonic() < until:
        time.sleep(POLL_S)
    context.feed.note()
    return done


def _answer(request: RequestContext, name: str, done: Done | None) -> Response:
    """The card, this once; to the page of the board where it was shown longer ago."""
    if done is None or done.plan.card is None:
        return RedirectResponse(f"/boards/{quote(name)}", 303)
    words, plan = request.words, request.app.context.plan()
    text = done.plan.card.text
    warning = ""
    if done.reload is Reload.WANTED:
        files = Office.files_of(plan.settings.broker)
        warning = words.t("board.reload", command=reload_command(files))
    elif not done.proven:
        warning = words.t("board.broker_silent", port=done.plan.card.port)
    return request.render(
        "board_card.html",
        name=name,
        done=list(done_lines(done, plan, words)),
        warning=warning,
        text=text,
        picture=drawn(qr_as_svg(text, words.t("board.qr_title", node=name))),
        step=step_line(_word(request, name), words),
    )


def say_in_use(request: RequestContext) -> Response:
    """A board that was put aside is listened to again; anybody may say what makes the monitor guard."""
    name = str(request.http.path_params["node"])
    if name not in request.plan.nodes:
        return problem(request, 404, "problem.not_here")
    with entry_writer(request) as writer:
        writer.write(name, NodeEntryKind.IN_USE, request.made_ms, {})
    request.app.context.feed.note()
    return RedirectResponse(f"/boards/{quote(name)}", 303)


BOARD_PAGES = (
    Page("/boards/new", get=show_new, post=add_board, access=Access.OWNER, post_access=Access.OWNER),
    Page("/boards/{node}", get=show_board),
    Page("/boards/{node}/in-use", post=say_in_use),
    Page("/boards/{node}/{change}", post=change_board, post_access=Access.OWNER),
)


# All of them, and the place of one.


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
        board_words=board_words,
        broker_fault=board_words.broker_fault(reader.alarms(), words),
        unknown=unknown,
        lines={name: "\n".join(board_words.toml_lines(name, sensors, plan, words)) for name in names},
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
