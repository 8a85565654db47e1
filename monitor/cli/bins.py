"""`bin`: the logbook of bins, trays and boxes, looked at, written into and corrected.

Each command adds one entry; nothing that was written is ever lost.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from monitor.bins.evaporation import Cover
from monitor.bins.events import SQUEEZE_SD, Taken
from monitor.cli.entries import (
    correct_entry,
    known_bin,
    larvae_body,
    mixed,
    net_kg,
    say_log,
    write_entry,
)
from monitor.development.progress import Ending
from monitor.errors import UsageError
from monitor.farm.bins import BinsView, BinView, bins_view, view_of_bin
from monitor.farm.book import book_of
from monitor.farm.entries import Body
from monitor.logbook.amounts import SHARES, parse_kg, parse_mass_or_count, parse_share, read_values
from monitor.logbook.animals import USUAL_ENDING
from monitor.logbook.bin_entries import BinEntryKind
from monitor.logbook.entry import in_force
from monitor.records import LogbookEntry, SubjectKind
from monitor.settings.species import available_substrates
from monitor.terminal.context import (
    AgeOption,
    BinArgument,
    CohortOption,
    ConfigOption,
    CorrectionOptions,
    DepthOption,
    EmptiedOption,
    EntryOptions,
    JsonOption,
    KilogramsArgument,
    LarvaeOption,
    MaterialsArgument,
    MeanOption,
    SiteContext,
    SizeOption,
    UseOption,
    WithdrawOption,
    looking,
    say_lines,
    with_options,
    working,
    write_picture,
)
from monitor.terminal.json_records import bin_json, bins_json
from monitor.terminal.output import say, say_json, width
from monitor.words.bins import bin_sentences, bin_summary, filling_words, state_word
from monitor.words.entries import refused_sentence
from monitor.words.localizer import Localizer, entry

FeedKindOption = Annotated[
    str, typer.Option("--kind", metavar="FEED", help="What it was, such as 'brewery grain'.")
]
MOST_LOGGED = 12
"""Entries that `bin show` prints without --all."""


class Squeeze(StrEnum):
    """What a handful does when it is squeezed."""

    CRUMBLES = "crumbles"
    HOLDS = "holds"
    DROPS = "drops"
    RUNS = "runs"


SQUEEZED: Mapping[Squeeze, float] = {
    Squeeze.CRUMBLES: 0.45,
    Squeeze.HOLDS: 0.58,
    Squeeze.DROPS: 0.68,
    Squeeze.RUNS: 0.80,
}
"""Moisture of bran by the squeeze of a handful [ratio], rough. Own choice; compare it with an oven once."""


class Switch(StrEnum):
    """A fan."""

    ON = "on"
    OFF = "off"


_FILL_EXAMPLES = (
    "Examples: [bold]rearing-monitor bin fill bin-3 '3.4 kg at 12 %' '7 l' --size '60 x 40 cm' "
    "--larvae 10000 --age 5[/bold]\n\n[bold]rearing-monitor bin fill bin-3 '10 kg at 68 %' "
    "--at 'yesterday 18:00'[/bold]"
)
_WATER_EXAMPLE = "Example: [bold]rearing-monitor bin water bin-3 '1.5 l'[/bold]"
_WEIGH_EXAMPLE = "Example: [bold]rearing-monitor bin weigh bin-3 '11.9 kg' --box '1.6 kg'[/bold]"
_TEST_EXAMPLES = (
    "Examples: [bold]bin test bin-3 --wet '120 g' --dry '41 g'[/bold] (a handful before and after the oven), "
    "[bold]bin test bin-3 '66 %'[/bold], [bold]bin test bin-3 --squeeze drops[/bold]"
)
_EMPTY_EXAMPLE = (
    "Examples: [bold]rearing-monitor bin empty bin-3 --grams '2.1 kg' --stays b7[/bold], "
    "[bold]bin empty bin-3 --grams '2.1 kg' --for sold --residue '6.5 kg' --moisture '50 %'[/bold]"
)
_FEED_EXAMPLE = "Example: [bold]rearing-monitor bin feed bin-3 '2 kg at 70 %' --kind 'brewery grain'[/bold]"
_TAKE_EXAMPLES = (
    "Examples: [bold]bin take bin-3 '4.2 kg' larvae --for sold --mean '180 mg'[/bold], "
    "[bold]bin take bin-3 800 prepupae[/bold], [bold]bin take bin-3 '6 kg' residue --moisture '50 %'[/bold]"
)
_STIR_EXAMPLE = "Example: [bold]rearing-monitor bin stir bin-3 --spread[/bold]"


def register(app: typer.Typer) -> None:
    """Add the commands of this module."""
    group = typer.Typer(no_args_is_help=True, rich_markup_mode="rich")
    for name, command, epilog in (
        ("fill", fill, _FILL_EXAMPLES),
        ("water", water, _WATER_EXAMPLE),
        ("feed", feed, _FEED_EXAMPLE),
        ("weigh", weigh, _WEIGH_EXAMPLE),
        ("test", test, _TEST_EXAMPLES),
        ("stir", stir, _STIR_EXAMPLE),
        ("cover", cover, None),
        ("fan", fan, None),
        ("larvae", larvae, None),
        ("take", take, _TAKE_EXAMPLES),
        ("finish", finish, None),
        ("empty", empty, _EMPTY_EXAMPLE),
        ("list", list_bins, None),
        ("show", show_bin, None),
        ("correct", correct, None),
    ):
        group.command(name, epilog=epilog)(command)
    group.callback()(bin)
    app.add_typer(group, name="bin")


def bin() -> None:
    """Bins and trays: fill, water, weigh; how long until dry, and how many litres they need."""


def _enter(
    options: EntryOptions, place: str, kind: BinEntryKind, body: Callable[[SiteContext], Body]
) -> None:
    """Write an entry and print what follows for the bin.

    `body` is called with the site, so that what it refuses is said in the language of the site.
    """
    with working(options.config) as site:
        _say_bin(site, write_entry(site, place, kind, options, body(site)).subject)


@with_options
def fill(
    options: EntryOptions,
    place: BinArgument,
    materials: MaterialsArgument,
    size: SizeOption = "",
    depth: DepthOption = "",
    cover: Annotated[Cover, typer.Option("--cover", help="What lies over it.")] = Cover.OPEN,
    fan: Annotated[bool, typer.Option("--fan", help="A fan blows over it.")] = False,
    number: LarvaeOption = "",
    age: AgeOption = "",
    cohort: CohortOption = "",
    substrate: Annotated[
        str,
        typer.Option("--substrate", metavar="NAME", help=f"One of {', '.join(available_substrates())}."),
    ] = "",
    probe_depth: Annotated[
        str, typer.Option("--probe-depth", metavar="LENGTH", help="How deep its thermometer sits.")
    ] = "",
    kind: FeedKindOption = "",
    rough: Annotated[bool, typer.Option("--rough", help="The moisture is a guess by the hand.")] = False,
) -> None:
    """Fill a bin: what was put in with its moisture, its size, and the larvae."""

    def body(site: SiteContext) -> Body:
        return {
            **mixed(materials),
            "moisture_sd": SQUEEZE_SD if rough else None,
            **read_values({"surface_m2": size, "depth_m": depth, "probe_depth_m": probe_depth}),
            "cover": cover.value,
            "fan": fan or None,
            "substrate": substrate,
            "feed": kind,
            **larvae_body(site, number, age, cohort),
        }

    _enter(options, place, BinEntryKind.FILL, body)


@with_options
def water(
    options: EntryOptions,
    place: BinArgument,
    amount: Annotated[str, typer.Argument(metavar="LITRES", help="Such as 1.5 l or 300 ml.")],
    back_to: Annotated[
        str,
        typer.Option(
            "--back-to", metavar="AMOUNT", help="Contents weighed afterwards, or the mark it was filled to."
        ),
    ] = "",
) -> None:
    """Water that was poured on."""

    def body(_site: SiteContext) -> Body:
        return {"kg": parse_kg(amount), "back_to_kg": parse_kg(back_to) if back_to else None}

    _enter(options, place, BinEntryKind.WATER, body)


@with_options
def feed(
    options: EntryOptions,
    place: BinArgument,
    materials: MaterialsArgument,
    kind: FeedKindOption = "",
) -> None:
    """Feed that was put on, with its moisture; dry bran against wetness too."""
    _enter(options, place, BinEntryKind.FEED, lambda _: {**mixed(materials), "feed": kind})


@with_options
def weigh(
    options: EntryOptions,
    place: BinArgument,
    amount: KilogramsArgument,
    box: Annotated[str, typer.Option("--box", metavar="AMOUNT", help="Weight of the empty box.")] = "",
    scale: Annotated[
        str, typer.Option("--scale", metavar="AMOUNT", help="What the scale may be off, such as 50 g.")
    ] = "",
) -> None:
    """A weighing of the contents; it makes everything about this bin far surer."""

    def body(_site: SiteContext) -> Body:
        return {"kg": net_kg(amount, box), "sd_kg": parse_kg(scale) if scale else None}

    _enter(options, place, BinEntryKind.WEIGH, body)


@with_options
def test(
    options: EntryOptions,
    place: BinArgument,
    moisture: Annotated[
        str, typer.Argument(metavar="[MOISTURE]", help=f"Such as {SHARES}.", show_default=False)
    ] = "",
    wet: Annotated[str, typer.Option("--wet", metavar="AMOUNT", help="A handful before the oven.")] = "",
    dry: Annotated[str, typer.Option("--dry", metavar="AMOUNT", help="The same after 24 h at 105 °C.")] = "",
    squeeze: Annotated[
        Squeeze | None,
        typer.Option("--squeeze", help="What a squeezed handful does; counts as rough."),
    ] = None,
    rough: Annotated[bool, typer.Option("--rough", help="The moisture is a guess by the hand.")] = False,
) -> None:
    """A test of moisture: by the oven, by another instrument, or by the squeeze of a handful."""

    def body(_site: SiteContext) -> Body:
        share = _tested(moisture, wet, dry, squeeze)
        return {"moisture": share, "rough": rough or squeeze is not None or None}

    _enter(options, place, BinEntryKind.TEST, body)


def _tested(moisture: str, wet: str, dry: str, squeeze: Squeeze | None) -> float:
    given = [bool(moisture), bool(wet or dry), squeeze is not None]
    if sum(given) != 1:
        raise UsageError("give one of: a moisture, --wet with --dry, or --squeeze")
    if squeeze is not None:
        return SQUEEZED[squeeze]
    if moisture:
        return parse_share(moisture)
    if not (wet and dry):
        raise UsageError("--wet and --dry belong together: a handful before and after the oven")
    before, after = parse_kg(wet), parse_kg(dry)
    if after >= before:
        raise UsageError(
            "dry ({dry}) is not below wet ({wet}); a handful loses weight in the oven", dry=dry, wet=wet
        )
    return round(1.0 - after / before, 4)


@with_options
def stir(
    options: EntryOptions,
    place: BinArgument,
    spread: Annotated[
        bool, typer.Option("--spread", help="It was spread thinner too, so that it loses its heat.")
    ] = False,
) -> None:
    """The bin was stirred: its crust is broken."""
    _enter(options, place, BinEntryKind.STIR, lambda _: {"spread": True} if spread else {})


@with_options
def finish(options: EntryOptions, place: BinArgument) -> None:
    """From now on the bin is dried on purpose, for sieving: it does not alarm as too dry any more."""
    _enter(options, place, BinEntryKind.FINISH, lambda _: {})


@with_options
def cover(
    options: EntryOptions,
    place: BinArgument,
    what: Annotated[Cover, typer.Argument(help="What lies over it now.")],
) -> None:
    """The bin was covered, or opened."""
    _enter(options, place, BinEntryKind.COVER, lambda _: {"cover": what.value})


@with_options
def fan(
    options: EntryOptions,
    place: BinArgument,
    switch: Annotated[Switch, typer.Argument(help="What it was switched to.")],
) -> None:
    """The fan over the bin was switched. Keep fan, lead and plug dry and off the wet floor."""
    _enter(options, place, BinEntryKind.FAN, lambda _: {"on": switch is Switch.ON})


@with_options
def larvae(
    options: EntryOptions,
    place: BinArgument,
    number: Annotated[str, typer.Argument(metavar="[NUMBER]", help="How many.", show_default=False)] = "",
    age: AgeOption = "",
    cohort: CohortOption = "",
) -> None:
    """Larvae were put in; they take the place of those that the bin knew of."""
    _enter(
        options,
        place,
        BinEntryKind.LARVAE,
        lambda site: larvae_body(site, number, age, cohort),
    )


@with_options
def take(
    options: EntryOptions,
    place: BinArgument,
    amount: Annotated[
        str, typer.Argument(metavar="AMOUNT", help="Such as 4.2 kg or 800 g; of prepupae a number too.")
    ],
    what: Annotated[Taken, typer.Argument(help="What was taken out.")],
    use: UseOption = None,
    mean: MeanOption = "",
    moisture: Annotated[
        str, typer.Option("--moisture", metavar="MOISTURE", help=f"Of the residue, such as {SHARES}.")
    ] = "",
) -> None:
    """Larvae, prepupae from the ramp, or residue were taken out."""

    def body(_site: SiteContext) -> Body:
        weighed = parse_mass_or_count(amount) if what is Taken.PREPUPAE else {"kg": parse_kg(amount)}
        said = read_values({"mean_mg": mean, "moisture": moisture})
        return {**weighed, "what": what.value, "use": use, **said}

    _enter(options, place, BinEntryKind.TAKE, body)


@with_options
def empty(
    options: EntryOptions,
    place: BinArgument,
    how: Annotated[
        Ending, typer.Option("--how", help="How the cohorts ended that lived in it.")
    ] = USUAL_ENDING,
    grams: Annotated[
        str,
        typer.Option("--grams", metavar="AMOUNT", help="Weight of the animals taken out, such as 2.1 kg."),
    ] = "",
    stays: Annotated[
        list[str] | None,
        typer.Option("--stays", metavar="NAME", help="A cohort that stays in the place. Repeat it."),
    ] = None,
    use: UseOption = None,
    mean: MeanOption = "",
    residue: Annotated[
        str, typer.Option("--residue", metavar="AMOUNT", help="Weight of what was left, such as 6.5 kg.")
    ] = "",
    moisture: Annotated[
        str, typer.Option("--moisture", metavar="MOISTURE", help=f"Of the residue, such as {SHARES}.")
    ] = "",
    emptied: EmptiedOption = False,
) -> None:
    """The bin was emptied: its cohorts have ended, and nothing is computed until it is filled again."""
    with working(options.config) as site:
        weighed = {"grams": grams, "mean_mg": mean, "residue_kg": residue, "residue_moisture": moisture}
        body = {"how": how.value, "stays": stays or None, "use": use, **read_values(weighed)}
        write_entry(site, place, BinEntryKind.EMPTY, options, body, emptied=emptied)


def list_bins(config: ConfigOption = None, as_json: JsonOption = False) -> None:
    """Every filled bin: moisture, how long until it is dry, how many litres it needs, most urgent first."""
    with looking(config) as site:
        view = bins_view(site.store, site.plan, site.now_ms)
        if as_json:
            say_json(bins_json(view, site.zone))
            return
        say_lines(list(list_lines(view, site.words, width())))


def list_lines(view: BinsView, words: Localizer, columns: int) -> Iterator[str]:
    """Every filled bin in a line or two, those that need water first; then the entries that do not count."""
    if not view.bins:
        yield from entry("", words.t("bins.none_do", command="rearing-monitor bin fill"), columns)
    for filled in view.bins:
        heading = words.t("cohorts.heading", title=f"{filled.title} ({filled.place})")
        yield from entry(f"{heading} ", bin_summary(filled, words), columns)
    for refusal in view.refused:
        yield from entry("", refused_sentence(refusal, words), columns)


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
    with looking(config) as site:
        name = known_bin(place, site)
        if as_json:
            view = view_of_bin(site.store, site.plan, name, site.now_ms)
            say_json([] if view is None else [bin_json(view, site.zone)])
            return
        _say_bin(site, name, every=every)
        if draw is not None:
            _draw(site, name, draw)


def _draw(site: SiteContext, place: str, target: Path) -> None:
    from monitor.charts.bin import bin_svg

    view = view_of_bin(site.store, site.plan, place, site.now_ms)
    if view is None:
        raise UsageError("{place} is not filled; there is nothing to draw", place=place)
    write_picture(site, target, bin_svg(view, site.words))


def _say_bin(site: SiteContext, place: str, *, every: bool = False) -> None:
    view = view_of_bin(site.store, site.plan, place, site.now_ms)
    if view is None:
        filled = bool(book_of(site.store, site.plan, site.now_ms).fills.get(place))
        key = "show.bin_emptied" if filled else "show.bin_unknown"
        say(site.words.t(key, bin=site.plan.title(place), place=place))
        return
    head = f"{state_word(view, site.words)}. {filling_words(view, site.words)}"
    heading = site.words.t("cohorts.heading", title=f"{view.title} ({view.place})")
    say_lines(entry(f"{heading} ", head, width()))
    for sentence in bin_sentences(view, site.words):
        say_lines(entry("  ", sentence, width(), 4))
    _say_bin_log(site, view, every)


def _say_bin_log(site: SiteContext, view: BinView, every: bool) -> None:
    """The logbook of what stands in it, or with `every` all of it."""
    stored = site.store.logbook.every(SubjectKind.BIN, view.place)
    filled_ms = view.fill.facts.filled_ms
    shown = stored if every else [entry for entry in in_force(stored) if entry.at_ms >= filled_ms]
    left_out = 0 if every else max(0, len(shown) - MOST_LOGGED)
    say(site.words.t("show.logbook"), "heading")
    say_log(site, shown[left_out:], stored)
    if left_out:
        say(site.words.n("show.earlier", left_out))


@with_options
def correct(
    options: CorrectionOptions,
    number: Annotated[int, typer.Argument(metavar="ENTRY", help="Number of the entry, from `bin show`.")],
    what: Annotated[
        list[str] | None,
        typer.Argument(
            metavar="[WHAT]...",
            help="What is right, as in the command that entered it: 1.5 l, 2 kg at 12 %, 66 %, lid, on.",
            show_default=False,
        ),
    ] = None,
    size: Annotated[str, typer.Option("--size", metavar="SIZE", help="Of a filling: its size.")] = "",
    larvae: Annotated[
        str, typer.Option("--larvae", metavar="NUMBER", help="The number of larvae that is right.")
    ] = "",
    age: Annotated[
        str, typer.Option("--age", metavar="DAYS", help="The age of the larvae that is right.")
    ] = "",
    probe_depth: Annotated[
        str,
        typer.Option("--probe-depth", metavar="LENGTH", help="Of a filling: how deep its thermometer sits."),
    ] = "",
    cohort: Annotated[
        str,
        typer.Option("--cohort", metavar="NAME", help="Of whom the larvae are; a name that is new renames."),
    ] = "",
    withdraw: WithdrawOption = False,
) -> None:
    """Correct an entry, or withdraw it. What was first written stays in the logbook."""

    def changes_of(old: LogbookEntry) -> Body:
        texts = {"surface_m2": size, "larvae": larvae, "age_days": age, "probe_depth_m": probe_depth}
        return {
            **(_changes(old, what) if what else {}),
            **({"cohort": cohort} if cohort else {}),
            **read_values({key: text for key, text in texts.items() if text}),
        }

    with working(options.config) as site:
        entry = correct_entry(site, number, SubjectKind.BIN, changes_of, options, withdraw=withdraw)
        _say_bin(site, entry.subject)


def _changes(old: LogbookEntry, what: list[str]) -> dict[str, object]:
    """The values of an entry of this kind, as a person writes them."""
    kind = BinEntryKind(old.kind)
    if kind in (BinEntryKind.FILL, BinEntryKind.FEED):
        return mixed(what)
    if len(what) > 1:
        raise UsageError("{what} is more than one value; quote what has spaces", what=repr(" ".join(what)))
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
        "{what} cannot be a value of `{kind}`; `bin {kind} --help` shows what can",
        what=repr(what[0]),
        kind=kind.value,
    )
