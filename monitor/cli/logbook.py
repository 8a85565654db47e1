"""`logbook`: the entries of all kinds with their numbers, and what takes them back."""

from __future__ import annotations

import re
from typing import Annotated

import typer

from monitor.cli.context import looking, working
from monitor.cli.entries import confirmed, say_log, say_written
from monitor.cli.json_records import entry_json
from monitor.cli.options import ByOption, ConfigOption, EntryOptions, JsonOption, NoteOption
from monitor.cli.output import say, say_json
from monitor.errors import UsageError
from monitor.farm.entries import entry_to_correct
from monitor.logbook.entry import in_force
from monitor.records import MS_PER_DAY

_RUN = re.compile(r"import-\d+")


def register(app: typer.Typer) -> None:
    """Add the commands of this module."""
    group = typer.Typer(no_args_is_help=True, rich_markup_mode="rich")
    group.command("list")(list_entries)
    group.command("undo")(undo)
    group.callback()(logbook)
    app.add_typer(group, name="logbook")


def logbook() -> None:
    """All that was written down, with the numbers of the entries; take an entry or an import back."""


def list_entries(
    config: ConfigOption = None,
    days: Annotated[int, typer.Option("--days", min=1, help="Of how many days.")] = 30,
    show_all: Annotated[bool, typer.Option("--all", help="Those that do not count any more too.")] = False,
    as_json: JsonOption = False,
) -> None:
    """List the entries of all kinds with their numbers, the newest last."""
    with looking(config) as site:
        stored = site.store.logbook.every()
        from_ms = site.now_ms - days * MS_PER_DAY
        chosen = [
            entry
            for entry in (stored if show_all else in_force(stored))
            if max(entry.at_ms, entry.entered_ms) >= from_ms
        ]
        if as_json:
            say_json({"entries": [entry_json(entry, site.zone) for entry in chosen]})
        elif chosen:
            say_log(site, chosen, stored, with_subject=True)
        else:
            say(site.words.t("logbook.nothing"))


def undo(
    what: Annotated[
        str,
        typer.Argument(metavar="ENTRY", help="Number of an entry, or an import such as import-1."),
    ],
    config: ConfigOption = None,
    by: ByOption = "",
    note: NoteOption = "",
) -> None:
    """Take an entry back, or all that an import wrote. It stays in the logbook, and counts no more."""
    options = EntryOptions(config=config, by=by, note=note)
    with working(config) as site:
        if _RUN.fullmatch(what):
            undone = confirmed(site, options, lambda writer: writer.undo_import(what, note))
            say(site.words.n("logbook.undone", len(undone), run=what), "good")
            return
        if not (what.isascii() and what.isdigit()):
            raise UsageError(
                "{what} is neither the number of an entry nor an import; `logbook list` shows both",
                what=repr(what),
            )
        old = entry_to_correct(site.store, int(what), None, withdraw=True)
        say_written(site, confirmed(site, options, lambda writer: writer.withdraw(old, note)))
