"""`board`: what a person says of a board, and what a board needs to be heard."""

from __future__ import annotations

from typing import Annotated

import typer

from monitor.cli.alarms import SayingOptions, say_of
from monitor.cli.context import with_options, working
from monitor.logbook.place_entries import NodeEntryKind
from monitor.logbook.times import parse_length

_BOARD_EXAMPLE = 'Example: [bold]rearing-monitor board aside n3 --for 8h --note "in the salt jar"[/bold]'

BoardArgument = Annotated[str, typer.Argument(metavar="BOARD", help="Id of a board in the settings.")]
BoardAsideOption = Annotated[
    str, typer.Option("--for", metavar="LENGTH", help="How long: 15 min to 24 h. Then it counts again.")
]


def register(app: typer.Typer) -> None:
    """Add the commands of this module."""
    boards = typer.Typer(no_args_is_help=True, rich_markup_mode="rich")
    boards.command("aside", epilog=_BOARD_EXAMPLE)(board_aside)
    boards.command("in-use")(board_in_use)
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
