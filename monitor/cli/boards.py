"""`board`: what a person says of a board, and what a board needs to be heard."""

from __future__ import annotations

import getpass
import os
import sys
import time
from contextlib import suppress
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import Annotated, Any

import typer

from monitor.boards.battery import (
    DRAWS,
    VOLTAGES,
    Assumed,
    BoardKind,
    Cell,
    Chemistry,
    Draw,
    average_ma,
    days,
    hours_without_mains,
)
from monitor.boards.broker_files import Reload, broker_process, pid_file, reload_command
from monitor.boards.broker_log import last_sighting
from monitor.boards.card import qr_in_terminal, qr_width
from monitor.boards.draft import Wanted, seconds_of
from monitor.boards.enrolment import Change, Done, Office
from monitor.boards.first_word import FirstWord, Mark, Step, first_word, mark_of
from monitor.boards.program import copy_program, mpy_cross
from monitor.cli.alarms import SayingOptions, say_of
from monitor.errors import StoreError, UsageError, sentence
from monitor.farm.places import SiteReader, sign_of_life
from monitor.farm.records import NodeRow
from monitor.logbook.place_entries import NodeEntryKind
from monitor.logbook.times import parse_length
from monitor.records import MS_PER_SECOND
from monitor.settings.plan import Plan, build_plan
from monitor.store import Store
from monitor.terminal.context import (
    ConfigOption,
    JsonOption,
    QuietOption,
    WithoutSecrets,
    clock_ms,
    command_words,
    have_settings_read,
    look_at_farm,
    say_lines,
    terminal_words,
    with_options,
    working,
)
from monitor.terminal.json_records import nodes_json
from monitor.terminal.output import (
    asked,
    at_terminal,
    columns,
    complain,
    has_colour,
    is_wanted,
    say,
    say_json,
    waiting,
    width,
)
from monitor.words import boards as board_words
from monitor.words.battery import battery_lines
from monitor.words.enrolment import copied_lines, done_lines, heard_lines, list_lines, step_line
from monitor.words.localizer import Localizer, entry

_BOARD_EXAMPLE = 'Example: [bold]rearing-monitor board aside n3 --for 8h --note "in the salt jar"[/bold]'

BoardArgument = Annotated[str, typer.Argument(metavar="BOARD", help="Id of a board in the settings.")]
BoardAsideOption = Annotated[
    str, typer.Option("--for", metavar="LENGTH", help="How long: 15 min to 24 h. Then it counts again.")
]

_BATTERY_EXAMPLE = (
    "Example: [bold]rearing-monitor board battery --interval 5min --board development-board[/bold]"
)


@dataclass(frozen=True, slots=True)
class DrawOptions:
    """What a person measured on an own board, in place of what is assumed."""

    asleep: Annotated[
        float | None, typer.Option("--asleep", metavar="MA", help="Current asleep, if you measured it.")
    ] = None
    awake: Annotated[
        float | None,
        typer.Option("--awake", metavar="MA", help="Current awake without radio, if you measured it."),
    ] = None
    awake_s: Annotated[
        float | None,
        typer.Option("--awake-for", metavar="SECONDS", help="How long one measuring takes, if you know it."),
    ] = None
    sending: Annotated[
        float | None,
        typer.Option("--sending", metavar="MA", help="Current while it sends, if you measured it."),
    ] = None
    sending_s: Annotated[
        float | None,
        typer.Option("--sending-for", metavar="SECONDS", help="How long the radio is on, if you know it."),
    ] = None

    def over(self, draw: Draw) -> Draw:
        """The assumptions, with what was measured in their place."""
        said = {
            "asleep_ma": self.asleep,
            "measuring_ma": self.awake,
            "measuring_s": self.awake_s,
            "sending_ma": self.sending,
            "sending_s": self.sending_s,
        }
        own = {name: Assumed(value, _OWN_FIGURE) for name, value in said.items() if value is not None}
        return replace(draw, **own)


_OWN_FIGURE = sentence("your own figure")


def register(app: typer.Typer) -> None:
    """Add the commands of this module."""
    boards = typer.Typer(no_args_is_help=True, rich_markup_mode="rich")
    boards.command("aside", epilog=_BOARD_EXAMPLE)(board_aside)
    boards.command("in-use")(board_in_use)
    boards.command("battery", epilog=_BATTERY_EXAMPLE)(board_battery)
    boards.command("add", epilog=_ADD_EXAMPLE)(board_add)
    boards.command("card")(board_card)
    boards.command("replace")(board_replace)
    boards.command("remove")(board_remove)
    boards.command("list")(board_list)
    boards.command("files", epilog=_FILES_EXAMPLE)(board_files)
    boards.callback()(board)
    app.add_typer(boards, name="board")


def board() -> None:
    """Boards: add, replace or remove one, make its card, put it aside, work out its battery."""


@with_options
def board_aside(options: SayingOptions, name: BoardArgument, length: BoardAsideOption = "8 h") -> None:
    """Put a board aside: its readings and its silence drive no alarm. It ends by itself."""
    with working(options.config) as site:
        say_of(site, name, NodeEntryKind.ASIDE, options, site.now_ms + parse_length(length))


@with_options
def board_in_use(options: SayingOptions, name: BoardArgument) -> None:
    """A board is back in its place: its readings count again."""
    with working(options.config) as site:
        say_of(site, name, NodeEntryKind.IN_USE, options)


@with_options
def board_battery(
    options: DrawOptions,
    capacity: Annotated[
        float, typer.Option("--capacity", metavar="MAH", help="What is printed on the cell, in mAh.")
    ] = 2500.0,
    usable: Annotated[
        float, typer.Option("--usable", metavar="PERCENT", help="How much of it is used.")
    ] = 80.0,
    lost: Annotated[
        float, typer.Option("--self-discharge", metavar="PERCENT", help="What it loses by itself in a month.")
    ] = 5.0,
    interval: Annotated[
        str, typer.Option("--interval", metavar="LENGTH", help="How often it measures: 10 s to 1 h.")
    ] = "60 s",
    send_every: Annotated[
        int, typer.Option("--send-every", metavar="NUMBER", help="How many measurings go into one message.")
    ] = 1,
    board: Annotated[BoardKind, typer.Option("--board", help="What is hung up.")] = BoardKind.MODULE,
    cell: Annotated[
        Chemistry, typer.Option("--cell", help="What the cell is made of.")
    ] = Chemistry.LITHIUM_ION,
    as_json: JsonOption = False,
) -> None:
    """Say how many days a board lives on one cell, and what that rests on. It needs no settings."""
    draw, store = options.over(DRAWS[board]), Cell(capacity, usable / 100.0, lost / 100.0)
    rhythm = (float(seconds_of(interval)), send_every)
    lines = list(battery_lines(store, VOLTAGES[cell], draw, rhythm, terminal_words()))
    if not as_json:
        for line in lines:
            head = line[: len(line) - len(line.lstrip())]
            say_lines(entry(head, line.strip(), width(), len(head) + 2))
        return
    say_json(
        {
            "days": round(days(store, draw, *rhythm), 2),
            "average_ma": round(average_ma(draw, *rhythm), 4),
            "hours_without_mains": round(hours_without_mains(store, draw), 1),
            "interval_s": rhythm[0],
            "send_every": send_every,
            "cell": store,
            "voltages": VOLTAGES[cell],
            "draw": draw,
        }
    )


_ADD_EXAMPLE = (
    "Example: [bold]rearing-monitor board add node-03 --place bin-4 --sensor ds18b20 --sensor sht4x[/bold]"
)
_FILES_EXAMPLE = "Example: [bold]rearing-monitor board files files-for-board[/bold]"
WAIT, POLL_S = "5 min", 0.5


@dataclass(frozen=True, slots=True)
class CardOptions:
    """What every command that makes a card is given."""

    config: ConfigOption = None
    sensor: Annotated[
        list[str] | None,
        typer.Option(
            "--sensor",
            metavar="SENSOR",
            help="What is wired to it, once for each: sht3x, sht4x, bme280 (@45 or @77: its other address), "
            "ds18b20, moisture, battery, ds3231.",
        ),
    ] = None
    probe: Annotated[
        list[str] | None,
        typer.Option(
            "--probe",
            metavar="NAME=PLACE",
            help="A name for each one-wire probe of several, and where it hangs if that is another place.",
        ),
    ] = None
    interval: Annotated[
        str,
        typer.Option(
            "--interval", metavar="LENGTH", help="How often it measures: 10 s to 1 h, usually 60 s."
        ),
    ] = ""
    send_every: Annotated[
        int | None,
        typer.Option(
            "--send-every", metavar="NUMBER", help="Measurings that are sent in one go, for batteries."
        ),
    ] = None
    power: Annotated[str, typer.Option("--power", metavar="POWER", help="mains or battery.")] = ""
    wifi: Annotated[
        str | None,
        typer.Option("--wifi", metavar="NAME", help="Its Wi-Fi. Without it: that of the board before it."),
    ] = None
    wifi_password_file: Annotated[
        Path | None,
        typer.Option(
            "--wifi-password-file",
            metavar="FILE",
            help="A file with its password. Without it: asked for, hidden.",
        ),
    ] = None
    qr: Annotated[bool, typer.Option("--qr/--no-qr", help="Draw the card as a QR code.")] = True
    wait: Annotated[
        str,
        typer.Option("--wait", metavar="LENGTH", help="How long to wait until it is heard; 0: not at all."),
    ] = WAIT
    as_json: JsonOption = False
    with_card: Annotated[
        bool, typer.Option("--with-card", help="With --json: the card too, which holds a password.")
    ] = False
    quiet: QuietOption = False

    def wanted(self, name: str, place: str) -> Wanted:
        """What the person wants; the password of the Wi-Fi only where a file has it."""
        password = ""
        if self.wifi_password_file is not None:
            if self.wifi is None:
                raise UsageError(
                    "--wifi-password-file belongs to a Wi-Fi; name it with {option}", option="--wifi"
                )
            password = _first_line(self.wifi_password_file)
        sensors, probes = tuple(self.sensor or ()), tuple(self.probe or ())
        rhythm = (self.interval, self.send_every)
        return Wanted(name, place, sensors, probes, *rhythm, self.power, self.wifi, password)

    def with_wifi(self, wanted: Wanted, office: Office, words: Localizer) -> Wanted:
        """With the Wi-Fi and its password: as given, as remembered, else asked for."""
        (known, password), wifi = office.remembered_wifi(), wanted.wifi
        may_ask = at_terminal() and not self.as_json
        has_card = any(each.has_card for each in office.entries() if each.name == wanted.name)
        if wifi is None and not known and may_ask and not has_card:
            wifi = asked(words.t("board.ask_wifi"))
        if not wifi or wanted.wifi_password:
            return replace(wanted, wifi=wifi)
        if wifi != known:
            question = words.t("board.ask_password", wifi=wifi) + " "
            password = getpass.getpass(question) if may_ask else ""
        return replace(wanted, wifi=wifi, wifi_password=password)

    @property
    def wait_s(self) -> float:
        """How long to wait."""
        return float(seconds_of(self.wait))


def _first_line(path: Path) -> str:
    try:
        lines = path.read_text(encoding="utf-8").splitlines()
    except (OSError, UnicodeDecodeError) as error:
        why = error.strerror if isinstance(error, OSError) else sentence("it is no text")
        raise UsageError("{file} cannot be read: {why}", file=path, why=why or "?") from None
    return lines[0].strip() if lines else ""


def _office(config: Path | None) -> Office:
    return Office(look_at_farm(config), clock_ms(), WithoutSecrets(os.environ))


NewBoardArgument = Annotated[
    str, typer.Argument(metavar="BOARD", help="A name for it: letters, digits, dots, dashes, underscores.")
]
BoardPlaceOption = Annotated[
    str, typer.Option("--place", metavar="PLACE", help="Where it hangs: id or title of a place.")
]


@with_options
def board_add(options: CardOptions, name: NewBoardArgument, place: BoardPlaceOption = "") -> None:
    """Add a board: its lines in the settings, its user at the broker, its card; then wait until it is heard.

    The card is shown once, as text to paste into the set-up page of the board
    and as a QR code. It holds a password: whoever has it can send as this
    board.
    """
    _enrol(Change.ADD, options, name, place)


@with_options
def board_card(options: CardOptions, name: BoardArgument, place: BoardPlaceOption = "") -> None:
    """Make the card of a board again, with a new password. The card that it has ends at once.

    What is not named again stays as it is.
    """
    _enrol(Change.CARD, options, name, place)


@with_options
def board_replace(options: CardOptions, name: BoardArgument, place: BoardPlaceOption = "") -> None:
    """Another board takes the place and the name of one that is broken or stolen.

    The card of the old one ends at once. Its readings stay, and the new one
    goes on with them.
    """
    _enrol(Change.REPLACE, options, name, place)


def _enrol(change: Change, options: CardOptions, name: str, place: str) -> None:
    wait_s = options.wait_s
    office = _office(options.config)
    words = command_words(office.settings)
    wanted = options.wanted(name, place)
    office.plan(change, wanted)  # Everything that is wrong is said before anything is asked.
    wanted = options.with_wifi(wanted, office, words)
    with waiting(words.t("board.asks_broker", port=office.settings.broker.boards_port)):
        done = office.enrol(change, wanted)
    now = _office(options.config)
    plan = build_plan(now.settings)
    mark = _mark(now, name)
    if not options.as_json and not options.quiet:
        _show(done, plan, options, words)
    _warn(now, done, words)
    first = _wait_for(now, plan, mark, name, wait_s, words, shown=not (options.as_json or options.quiet))
    if options.as_json:
        say_json(_as_json(done, first, with_card=options.with_card))


def _mark(office: Office, name: str) -> Mark:
    """What is known of it now; the card is shown whatever the database says."""
    with suppress(StoreError), Store.read_only(office.settings.store.path) as store:
        return mark_of(store, name, clock_ms())
    return mark_of(None, name, clock_ms())


def _warn(office: Office, done: Done, words: Localizer) -> None:
    """What is not in force yet, and what brings it there."""
    if done.reload is Reload.WANTED and pid_file(office.files) and broker_process(office.files) is None:
        complain(words.t("board.broker_silent", port=office.settings.broker.boards_port), "warning")
    elif done.reload is Reload.WANTED:
        complain(words.t("board.reload", command=reload_command(office.files)), "warning")
    elif done.plan.card is not None and not done.proven:
        complain(words.t("board.broker_silent", port=office.settings.broker.boards_port), "warning")
    elif done.is_out is False:
        complain(words.t("board.still_connected", node=done.plan.node), "warning")
    if not have_settings_read(office.settings):
        complain(words.t("board.reload_monitor"), "warning")


def _show(done: Done, plan: Plan, options: CardOptions, words: Localizer) -> None:
    for line in done_lines(done, plan, words):
        say(line, "good")
    card = done.plan.card
    if card is None:
        return
    say()
    say(words.t("board.paste"))
    say()
    say(card.text)
    say()
    if options.qr and qr_width(card.text) <= columns():
        say(qr_in_terminal(card.text, coloured=has_colour(sys.stdout)))
        say(words.t("board.scan"))
    elif options.qr and columns():
        say(words.t("board.too_narrow", columns=qr_width(card.text)), "quiet")
    say(words.t("board.secret"), "warning")
    say(words.t("board.next"))


def _wait_for(
    office: Office, plan: Plan, mark: Mark, name: str, wait_s: float, words: Localizer, *, shown: bool
) -> FirstWord:
    """Look until the board is heard, saying each step that it takes; Ctrl-C ends the waiting alone."""
    until_s, told = time.monotonic() + wait_s, None
    first = FirstWord(name, Step.STOPPED)
    try:
        while True:
            first = _look(office, plan, mark, first)
            if shown and first.step is not told:
                say(step_line(first, words), "good" if first.step is Step.HEARD else "")
            told = first.step
            if told in (Step.HEARD, Step.STOPPED) or time.monotonic() >= until_s:
                break
            time.sleep(POLL_S)
    except KeyboardInterrupt:
        say()
    if shown and told is Step.HEARD:
        _show_heard(office, plan, first, words)
    elif shown:
        say(words.t("board.later", command="rearing-monitor board list"))
    return first


def _look(office: Office, plan: Plan, mark: Mark, last: FirstWord) -> FirstWord:
    try:
        with Store.read_only(office.settings.store.path) as store:
            is_running = sign_of_life(store, clock_ms())[0]
            since_s, port = mark.at_ms / MS_PER_SECOND, office.settings.broker.boards_port
            seen = partial(last_sighting, office.files, last.node, port, since_s)
            return first_word(store, plan, last.node, mark, is_running, seen)
    except StoreError:
        return last


def _show_heard(office: Office, plan: Plan, first: FirstWord, words: Localizer) -> None:
    say_lines([f"  {line}" for line in heard_lines(first, plan, words)])
    row = _rows(office).get(first.node)
    for fault in board_words.faults(row, words) if row is not None else ():
        say(f"  {fault}", "warning")


def _as_json(done: Done, first: FirstWord | None, *, with_card: bool) -> dict[str, Any]:
    plan, known = done.plan, done.plan.card
    said: dict[str, Any] = {
        "board": plan.node,
        "change": plan.change,
        "broker_reads_users": done.reload,
        "broker_lets_it_in": done.proven,
        "card_file": None if known is None else plan.card_file,
        "unguarded": plan.unguarded,
        "not_measured": plan.unmeasured,
    }
    if with_card and known is not None:
        said["card"] = known.text
    if first is not None:
        values = {str(key): reading.calibrated for key, reading in first.values}
        said |= {
            "step": first.step,
            "values": values,
            "missing": first.missing,
            "not_expected": first.strange,
        }
        said["reason"] = first.reason
    return said


SureOption = Annotated[bool, typer.Option("--yes", help="Do it without a question.")]


def board_remove(
    name: BoardArgument,
    config: ConfigOption = None,
    yes: SureOption = False,
    as_json: JsonOption = False,
    quiet: QuietOption = False,
) -> None:
    """Take a board away: its user at the broker, its lines in the settings, its card. Its readings stay.

    Its open connection ends. So does the guard of a place that no other board
    is in.
    """
    office = _office(config)
    words, plan = command_words(office.settings), build_plan(office.settings)
    planned = office.plan(Change.REMOVE, Wanted(name))
    for place in planned.unguarded:
        complain(words.t("board.would_unguard", place=plan.title(place)), "warning")
    if not yes and not (at_terminal() and is_wanted(words.t("board.ask_remove", node=name))):
        raise UsageError("{name} was left as it is; say {option} to remove it", name=name, option="--yes")
    with waiting(words.t("board.asks_broker", port=office.settings.broker.boards_port)):
        done = office.enrol(Change.REMOVE, Wanted(name))
    _warn(office, done, words)
    if as_json:
        say_json(_as_json(done, None, with_card=False))
    elif not quiet:
        say_lines(list(done_lines(done, plan, words)))


def board_list(config: ConfigOption = None, as_json: JsonOption = False) -> None:
    """Show every board: its place, whether it has a card and a user at the broker, when it was heard."""
    office = _office(config)
    words, entries, heard = command_words(office.settings), office.entries(), _rows(office)
    plan = build_plan(office.settings)
    if as_json:
        known = {row["node"]: row for row in nodes_json(heard.values(), {}, None, words)["nodes"]}
        say_json([{"board": entry, "heard": known.get(entry.name)} for entry in entries])
        return
    say_lines([*list_lines(entries, heard, plan, words)] or [words.t("nodes.none_named")])


def _rows(office: Office) -> dict[str, NodeRow]:
    """What is known of each board; nothing before the monitor has run for the first time."""
    with suppress(StoreError), Store.read_only(office.settings.store.path) as store:
        rows = SiteReader(store, build_plan(office.settings), clock_ms()).boards()
        return {row.facts.node: row for row in rows}
    return {}


def board_files(
    folder: Annotated[
        Path, typer.Argument(metavar="FOLDER", help="A folder to copy them into, made if need be.")
    ],
    as_json: JsonOption = False,
    quiet: QuietOption = False,
) -> None:
    """Copy the board's program into a folder, to go over USB; precompiled where mpy-cross is installed."""
    copied = copy_program(folder, mpy_cross())
    if as_json:
        say_json(copied)
    elif not quiet:
        say_lines(list(copied_lines(copied, terminal_words())))
