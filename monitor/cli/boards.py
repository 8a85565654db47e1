"""`board`: what a person says of a board, and what a board needs to be heard."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from typing import Annotated

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
from monitor.cli.alarms import SayingOptions, say_of
from monitor.cli.context import JsonOption, say_lines, terminal_words, with_options, working
from monitor.cli.output import say_json, width
from monitor.errors import sentence
from monitor.logbook.place_entries import NodeEntryKind
from monitor.logbook.times import parse_length
from monitor.records import MS_PER_SECOND
from monitor.words.battery import battery_lines
from monitor.words.localizer import entry

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
_SECONDS = re.compile(r"(\d{1,6})\s*s?")


def _seconds(text: str) -> float:
    """An interval as people write it: 60, 60 s, 5 min."""
    written = _SECONDS.fullmatch(text.strip())
    return float(written[1]) if written else parse_length(text) / MS_PER_SECOND


def register(app: typer.Typer) -> None:
    """Add the commands of this module."""
    boards = typer.Typer(no_args_is_help=True, rich_markup_mode="rich")
    boards.command("aside", epilog=_BOARD_EXAMPLE)(board_aside)
    boards.command("in-use")(board_in_use)
    boards.command("battery", epilog=_BATTERY_EXAMPLE)(board_battery)
    boards.callback()(board)
    app.add_typer(boards, name="board")


def board() -> None:
    """Boards: put one aside while it is in the salt jar or on the bench."""


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
    rhythm = (_seconds(interval), send_every)
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
