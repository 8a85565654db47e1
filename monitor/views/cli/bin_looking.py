"""`bin list`, `bin show`, `bin correct`: looking at bins, and putting right what was entered."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from monitor.errors import UsageError
from monitor.model.amounts import parse_kg, parse_length_m, parse_share, parse_surface_m2
from monitor.model.bin_records import BinEntryKind
from monitor.records import LogbookEntry, SubjectKind
from monitor.views.bin_json import bins_json
from monitor.views.bin_queries import BinView, bins_view, book_of
from monitor.views.bin_text import bin_lines, list_lines
from monitor.views.bin_writing import bin_correction, bin_withdrawal, enter_about_bin, old_bin_entry
from monitor.views.cli.asking import person
from monitor.views.cli.bin_options import BinArgument, known_bin, mixed, told
from monitor.views.cli.cohort_options import ByOption, NoteOption, moment_of
from monitor.views.cli.looking import Look, looking, say_lines, width, working
from monitor.views.cli.options import ConfigOption, JsonOption
from monitor.views.cli.output import say, say_json


def list_bins(config: ConfigOption = None, as_json: JsonOption = False) -> None:
    """Every filled bin: moisture, how long until it is dry, how many litres it needs, most urgent first."""
    with looking(config) as look:
        view = bins_view(look.store, look.plan, look.now_ms)
        if as_json:
            say_json(bins_json(view, look.zone))
            return
        say_lines(list(list_lines(view, look.zone, width())))


def show_bin(
    place: BinArgument,
    config: ConfigOption = None,
    every: Annotated[bool, typer.Option("--all", help="The whole logbook, corrected entries too.")] = False,
    draw: Annotated[
        Path | None, typer.Option("--picture", metavar="FILE", help="Draw it into an SVG file.")
    ] = None,
    as_json: JsonOption = False,
) -> None:
    """One bin: moisture with its band, loss, hours to the dry limits, litres to add, heat, logbook."""
    with looking(config) as look:
        name = known_bin(place, look)
        if as_json:
            view = bins_view(look.store, look.plan, look.now_ms)
            say_json([one for one in bins_json(view, look.zone)["bins"] if one["place"] == name])
            return
        say_bin(look, name, every=every)
        if draw is not None:
            _draw(look, name, draw)


def _draw(look: Look, place: str, target: Path) -> None:
    from monitor.views.pictures import bin_svg

    view = bins_view(look.store, look.plan, look.now_ms).of(place)
    if view is None:
        raise UsageError(f"{place} is not filled; there is nothing to draw")
    try:
        target.write_text(bin_svg(view, look.zone), encoding="utf-8")
    except OSError as error:
        raise UsageError(f"{target} cannot be written: {error.strerror}") from None
    say(f"{target} written", "good")


def say_bin(look: Look, place: str, *, every: bool = False) -> None:
    """Print one bin."""
    view = bins_view(look.store, look.plan, look.now_ms).of(place)
    if view is None:
        _say_empty(look, place)
        return
    say_lines(list(bin_lines(view, _log(look, view, every), look.zone, width(), whole_log=every)))


def _say_empty(look: Look, place: str) -> None:
    fills = book_of(look.store, look.plan, look.now_ms).fills.get(place)
    title = look.plan.title(place)
    if fills:
        say(f"{title} was emptied and not filled since. To fill it: rearing-monitor bin fill {place}")
    else:
        say(f"{title}: nothing in the logbook. To enter a filling: rearing-monitor bin fill {place}")


def _log(look: Look, view: BinView, every: bool) -> list[LogbookEntry]:
    logbook = look.store.logbook
    if every:
        return list(logbook.every(SubjectKind.BIN, view.place))
    found = logbook.in_force(SubjectKind.BIN, view.place)
    return [entry for entry in found if entry.at_ms >= view.fill.facts.filled_ms]


def correct(
    number: Annotated[int, typer.Argument(metavar="ENTRY", help="Number of the entry, from `bin show`.")],
    what: Annotated[
        list[str] | None,
        typer.Argument(
            metavar="[WHAT]...",
            help="What is right, as in the command that entered it: 1.5 l, 2 kg at 12 %, 66 %, lid, on.",
            show_default=False,
        ),
    ] = None,
    config: ConfigOption = None,
    at: Annotated[str, typer.Option("--at", metavar="TIME", help="The time that is right.")] = "",
    size: Annotated[str, typer.Option("--size", metavar="SIZE", help="Of a filling: its size.")] = "",
    larvae: Annotated[
        int | None, typer.Option("--larvae", metavar="NUMBER", help="The number of larvae that is right.")
    ] = None,
    age: Annotated[
        float | None, typer.Option("--age", metavar="DAYS", help="The age of the larvae that is right.")
    ] = None,
    probe_depth: Annotated[
        str,
        typer.Option("--probe-depth", metavar="LENGTH", help="Of a filling: how deep its thermometer sits."),
    ] = "",
    withdraw: Annotated[bool, typer.Option("--withdraw", help="It does not count any more.")] = False,
    by: ByOption = "",
    note: NoteOption = "",
) -> None:
    """Correct an entry, or withdraw it. What was first written stays in the logbook."""
    with working(config) as look:
        old = old_bin_entry(look.store, number)
        changes = {
            **(_changes(old, what) if what else {}),
            **({"surface_m2": round(parse_surface_m2(size), 5)} if size else {}),
            **({"larvae": larvae} if larvae is not None else {}),
            **({"age_days": age} if age is not None else {}),
            **({"probe_depth_m": parse_length_m(probe_depth)} if probe_depth else {}),
        }
        if withdraw == bool(changes or at):
            raise UsageError("give what is right, --at, or another value; or --withdraw alone")
        author, said = person(by), {**changes, **({"note": note} if note else {})}
        if withdraw:
            entry = bin_withdrawal(old, note, author, look.now_ms)
        else:
            entry = bin_correction(old, moment_of(at, look) if at else None, said, author, look.now_ms)
        _enter(look, old, entry)


def _enter(look: Look, old: LogbookEntry, entry: LogbookEntry) -> None:
    made, _ = enter_about_bin(look.store, look.plan, entry, look.now_ms)
    if entry.kind == "withdrawn":
        say(f"Entry {made}: entry {old.entry_id} does not count any more; it stays in the book", "good")
    else:
        told(look, made, entry)
    say_bin(look, entry.subject)


def _changes(old: LogbookEntry, what: list[str]) -> dict[str, object]:
    """The values of an entry of this kind, as a person writes them."""
    kind = BinEntryKind(old.kind)
    if kind in (BinEntryKind.FILL, BinEntryKind.FEED):
        return mixed(what)
    if len(what) > 1:
        raise UsageError(f"{' '.join(what)!r} is more than one value; quote what has spaces")
    match kind:
        case BinEntryKind.WATER | BinEntryKind.WEIGH | BinEntryKind.TAKE:
            return {"kg": parse_kg(what[0])}
        case BinEntryKind.TEST:
            return {"moisture": parse_share(what[0])}
        case BinEntryKind.COVER:
            return {"cover": what[0].lower()}
        case BinEntryKind.FAN if what[0].lower() in ("on", "off"):
            return {"on": what[0].lower() == "on"}
    raise UsageError(
        f"{what[0]!r} cannot be a value of `{kind.value}`; `bin {kind.value} --help` shows what can"
    )
