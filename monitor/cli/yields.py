"""`eggs`, `hatched`, `dead`, `note`: what a cage and a tray give; `yields`: all of it, and what comes.

Each of the first adds one entry to the logbook; feed and harvest of a bin are those of `bin`.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Annotated

import typer

from monitor.alarms.system import SITE
from monitor.cli.entries import known_place, write_entry, write_new
from monitor.development.events import Event
from monitor.errors import UsageError
from monitor.farm.book import book_of, prices_of_farm
from monitor.farm.development import develop
from monitor.farm.place_reader import PlaceReader
from monitor.farm.supply import kept_for
from monitor.farm.yields import (
    ClimateSaid,
    YieldsAhead,
    YieldsNow,
    climate_said,
    days_of_places,
    promise_day,
    yields_ahead,
    yields_now,
)
from monitor.logbook.amounts import parse_hatch, parse_mass_or_count, read_values
from monitor.logbook.cohort_entries import CohortEntryKind
from monitor.logbook.place_entries import NodeEntryKind
from monitor.logbook.yield_entries import YieldEntryKind
from monitor.records import Stage
from monitor.settings.plan import Plan
from monitor.terminal.context import (
    ConfigOption,
    EntryOptions,
    JsonOption,
    SiteContext,
    looking,
    say_lines,
    with_options,
    working,
)
from monitor.terminal.output import say, say_json, width
from monitor.terminal.yields_json import promise_json, yields_json
from monitor.words.localizer import Localizer
from monitor.words.localizer import entry as wrapped
from monitor.words.supply import climate_sentences
from monitor.words.yields import (
    SpanText,
    YieldLine,
    beside,
    bin_sentence,
    cage_days,
    cage_sentence,
    days_csv,
    doubt_lines,
    is_told,
    keep_sentence,
    larva_weeks,
    missing_sentences,
    promise_sentence,
    rests_sentences,
    span_text,
    sum_brief,
    sum_lines,
    sum_title,
    week_lines,
)
from monitor.yields.cages import CageSum
from monitor.yields.cohorts import CohortSum
from monitor.yields.fillings import FillingSum
from monitor.yields.records import EggUse
from monitor.yields.sums import PeriodSum

_EGGS_EXAMPLES = (
    "Examples: [bold]rearing-monitor eggs cage-1 '12.4 g' --to tray-1[/bold] (they begin a cohort there), "
    "[bold]rearing-monitor eggs cage-1 '12.4 g' --sold --strips 3[/bold]"
)
_HATCHED_EXAMPLES = (
    "Examples: [bold]rearing-monitor hatched tray-1 '80 %'[/bold], "
    "[bold]rearing-monitor hatched tray-1 '3.2 g'[/bold]"
)
_DEAD_EXAMPLES = (
    "Examples: [bold]rearing-monitor dead cage-1 350[/bold], [bold]rearing-monitor dead cage-1 '12 g'[/bold]"
)
_NOTE_EXAMPLE = "Example: [bold]rearing-monitor note bin-3 'the lid was off all night' --at yesterday[/bold]"
_YIELDS_EXAMPLES = (
    "Examples: [bold]rearing-monitor yields[/bold], [bold]rearing-monitor yields cage-1[/bold], "
    "[bold]rearing-monitor yields --grams-a-week 50 --promise 2026-12-18[/bold], "
    "[bold]rearing-monitor yields --csv days.csv[/bold]"
)
LAST_FILLINGS = 5


def register(app: typer.Typer) -> None:
    """Add the commands of this module."""
    app.command("eggs", epilog=_EGGS_EXAMPLES)(eggs)
    app.command("hatched", epilog=_HATCHED_EXAMPLES)(hatched)
    app.command("dead", epilog=_DEAD_EXAMPLES)(dead)
    app.command("note", epilog=_NOTE_EXAMPLE)(note)
    app.command("yields", epilog=_YIELDS_EXAMPLES)(yields)


GramsOption = Annotated[
    float | None,
    typer.Option(
        "--grams-a-week",
        min=0.1,
        metavar="GRAMS",
        help="How many prepupae to keep for so many eggs; else as eggs_g_a_week in the settings says.",
    ),
]
CageArgument = Annotated[str, typer.Argument(metavar="CAGE", help="Id or title of a love cage.")]


@with_options
def eggs(
    options: EntryOptions,
    cage: CageArgument,
    amount: Annotated[str, typer.Argument(metavar="AMOUNT", help="Such as 12.4 g; a bare number is grams.")],
    tray: Annotated[
        str, typer.Option("--to", metavar="TRAY", help="The tray in which they are set to hatch.")
    ] = "",
    sold: Annotated[bool, typer.Option("--sold", help="They were sold.")] = False,
    strips: Annotated[str, typer.Option("--strips", metavar="NUMBER", help="On how many strips.")] = "",
    clutches: Annotated[str, typer.Option("--clutches", metavar="NUMBER", help="How many clutches.")] = "",
    cohort: Annotated[
        str,
        typer.Option(
            "--cohort", metavar="NAME", help="Of which cohort they are; else that of the day, named by tray."
        ),
    ] = "",
) -> None:
    """Eggs were collected from a cage: weighed, and sold or set to hatch in a tray, as a cohort of eggs."""
    with working(options.config, create=True) as site:
        if sold and (tray or cohort):
            raise UsageError("--sold and --to do not go together; enter what was sold and what was set apart")
        body = {
            **read_values({"grams": amount, "strips": strips, "clutches": clutches}),
            "use": EggUse.SOLD.value if sold else None,
            "tray": known_place(tray, site) if tray else None,
            "cohort": cohort,
        }
        write_entry(site, known_place(cage, site), YieldEntryKind.COLLECT, options, body)


@with_options
def hatched(
    options: EntryOptions,
    where: Annotated[str, typer.Argument(metavar="TRAY", help="The tray, or the cohort that hatched in it.")],
    amount: Annotated[
        str,
        typer.Argument(metavar="[AMOUNT]", help="Share, such as 80 %; or young larvae, such as 3.2 g."),
    ] = "",
) -> None:
    """Eggs were seen to have hatched: when, and how many of them. A later count of them counts instead."""
    with working(options.config) as site:
        name = _eggs_in(where, site)
        body = {"event": Event.HATCH.value, **(parse_hatch(amount) if amount else {})}
        write_entry(site, name, CohortEntryKind.SAW, options, body)


def _eggs_in(where: str, site: SiteContext) -> str:
    """The cohort of eggs that is meant: by its own name, or as the one in a tray."""
    book = book_of(site.store, site.plan, site.now_ms)
    if where in book.cohorts:
        return where
    place = known_place(where, site)
    there = [cohort for cohort in book.living_in(place, site.now_ms) if cohort.track.start_stage is Stage.EGG]
    fresh = [cohort for cohort in there if not cohort.seen] or there
    if len(fresh) == 1:
        return fresh[0].name
    if fresh:
        raise UsageError(
            "several cohorts of eggs are in {place}; say which: {cohorts}",
            place=place,
            cohorts=", ".join(cohort.name for cohort in fresh),
        )
    raise UsageError(
        "no cohort of eggs is in {place}; set eggs to hatch there first: "
        "`eggs CAGE AMOUNT --to {place}`, or `cohort start NAME {place} --stage egg`",
        place=place,
    )


@with_options
def dead(
    options: EntryOptions,
    cage: CageArgument,
    amount: Annotated[str, typer.Argument(metavar="AMOUNT", help="Their number, or a weight such as 12 g.")],
) -> None:
    """Dead flies were swept out of a cage, counted or weighed."""
    with working(options.config, create=True) as site:
        said = parse_mass_or_count(amount)
        kg = said.pop("kg", None)
        if isinstance(kg, float):
            said["grams"] = round(kg * 1000.0, 3)
        write_entry(site, known_place(cage, site), YieldEntryKind.DEAD, options, said)


@with_options
def note(
    options: EntryOptions,
    about: Annotated[
        str, typer.Argument(metavar="ABOUT", help="A place, a cohort, a board; or farm for the whole farm.")
    ],
    text: Annotated[str, typer.Argument(metavar="TEXT", help="Anything worth knowing later.")],
) -> None:
    """Write down anything about a place, a cohort, a board or the whole farm; nothing is computed from it."""
    with working(options.config, create=True) as site:
        body = {"note": text}
        if about in book_of(site.store, site.plan, site.now_ms).cohorts:
            write_entry(site, about, CohortEntryKind.NOTE, options, body)
        elif about in site.plan.nodes:
            write_entry(site, about, NodeEntryKind.NOTE, options, body)
        else:
            subject = SITE if about.lower() == "farm" else known_place(about, site)
            write_entry(site, subject, YieldEntryKind.NOTE, options, body)


def yields(
    about: Annotated[
        str, typer.Argument(metavar="[ABOUT]", help="One cage, bin or cohort; left out: the whole farm.")
    ] = "",
    config: ConfigOption = None,
    grams_a_week: GramsOption = None,
    promise: Annotated[
        str, typer.Option("--promise", metavar="DAY", help="What can be promised to a buyer for that day.")
    ] = "",
    csv_file: Annotated[
        Path | None,
        typer.Option(
            "--csv", metavar="FILE", help="Write a row for each day and place: amounts, climate, entries."
        ),
    ] = None,
    as_json: JsonOption = False,
) -> None:
    """Add up eggs, larvae and feed of this week and month, and say what is to come and can be promised.

    Columns of the CSV carry their units: eggs in g, all else in kg, wet; the climate of a day is the lowest,
    mean and highest hour of the place, else of its room. What nobody wrote down is empty, not 0.
    """
    with looking(config) as site:
        if csv_file is not None:
            _write_csv(site, csv_file)
            return
        development = develop(site.store, site.plan, site.now_ms)
        now = yields_now(site.store, site.plan, development.book, site.now_ms)
        ahead = yields_ahead(development, now.takings)
        kept = ahead.keep if grams_a_week is None else kept_for(grams_a_week, development, ahead.eggs)
        now = now.needing(kept)
        day_ms = _promise_ms(promise, site) if promise else None
        said = climate_said(
            PlaceReader(site.store, site.plan, site.now_ms),
            development,
            now.takings,
            prices_of_farm(site.plan),
        )
        if as_json:
            told = None if day_ms is None else promise_json(day_ms, ahead.promised(day_ms), site.zone)
            say_json(yields_json(now, ahead, site.zone, kept, told, said))
            return
        is_asked = grams_a_week is not None or not about
        asked = [keep_sentence(kept, site.words)] if kept is not None and is_asked else []
        asked += [] if day_ms is None else [promise_sentence(ahead, day_ms, site.words)]
        lines = _about_lines(about, now, ahead, site) if about else _farm_lines(now, ahead, said, site)
        for text in asked:
            say_lines(wrapped("", text, width()))
        say_lines(list(lines))


def _promise_ms(text: str, site: SiteContext) -> int:
    return promise_day(site.times(ahead=True).entry_moment(text), site.now_ms, site.plan)


def _farm_lines(now: YieldsNow, ahead: YieldsAhead, said: ClimateSaid, site: SiteContext) -> Iterator[str]:
    words, plan = site.words, site.plan
    if not now.sums.weeks:
        yield from wrapped("", words.t("yields.none_yet"), width())
    for this, before in (now.weeks, now.months):
        if this is not None:
            yield from _span_lines(this, before, plan, words)
            yield ""
    for key, every in (
        ("cages", now.sums.cages),
        ("bins", [each for each in now.sums.fillings if is_told(each)][-LAST_FILLINGS:]),
        ("cohorts", [each for each in now.sums.cohorts if is_told(each)][-LAST_FILLINGS:]),
    ):
        if every:
            yield words.t("cohorts.heading", title=words.t(f"yields.{key}"))
            for each in every:
                yield from _headed(sum_title(each, plan, words), sum_brief(each, words), words)
            yield ""
    yield from _ahead_lines(ahead, plan, words)
    yield from _climate_lines(said, site)
    missing = missing_sentences(now, ahead, plan, words)
    for key, texts in (
        ("doubts", [text for text, _ in doubt_lines(ahead, plan, words)]),
        ("missing", missing),
    ):
        if texts:
            yield ""
            yield words.t("cohorts.heading", title=words.t(f"yields.{key}"))
        for text in texts:
            yield from wrapped("  ", text, width(), 4)


def _headed(head: str, text: str, words: Localizer) -> list[str]:
    return wrapped("  ", words.headed(head, text), width(), 4)


def _span_lines(this: PeriodSum, before: PeriodSum | None, plan: Plan, words: Localizer) -> Iterator[str]:
    text: SpanText = span_text(this, before, plan, words)
    yield words.t("cohorts.heading", title=text.heading)
    for line in text.lines:
        yield from wrapped("  ", beside(line, this.span, words), width(), 4)


def _ahead_lines(ahead: YieldsAhead, plan: Plan, words: Localizer) -> Iterator[str]:
    yield words.t("cohorts.heading", title=words.t("yields.ahead"))
    if not ahead.eggs.known and not ahead.larvae.bins:
        yield f"  {words.t('yields.ahead_none')}"
        return
    for cage in ahead.eggs.known:
        yield from _headed(plan.title(cage), cage_sentence(ahead, cage, words), words)
    if ahead.eggs.known:
        yield from _rows(words.t("yields.all_cages"), week_lines(ahead, None, words), words)
    for each in ahead.larvae.bins:
        yield from _headed(plan.title(each.place), bin_sentence(each, words), words)
    yield from _rows(words.t("yields.larva_weeks"), larva_weeks(ahead, words), words)
    for text in (*rests_sentences(ahead, words), words.t("yields.windows")):
        yield from wrapped("  ", text, width(), 4)


def _climate_lines(said: ClimateSaid, site: SiteContext) -> Iterator[str]:
    """What went with the climate; nothing where too little was compared."""
    prices = prices_of_farm(site.plan)
    texts = list(climate_sentences(said, site.words, "" if prices is None else prices.currency))
    if texts:
        yield ""
        yield site.words.t("cohorts.heading", title=site.words.t("climate.heading"))
    for text in texts:
        yield from wrapped("  ", text, width(), 4)


def _rows(title: str, lines: list[YieldLine], words: Localizer) -> Iterator[str]:
    if lines:
        yield f"  {words.t('cohorts.heading', title=title)}"
    for line in lines:
        yield from wrapped("    ", words.headed(line.name, line.value), width(), 6)


def _about_lines(about: str, now: YieldsNow, ahead: YieldsAhead, site: SiteContext) -> Iterator[str]:
    """Every figure of one cage, bin or cohort."""
    words, plan, sums = site.words, site.plan, now.sums
    cohorts = [each for each in sums.cohorts if each.cohort == about]
    place = "" if cohorts else known_place(about, site)
    cages = [each for each in sums.cages if each.place == place]
    fillings = [each for each in sums.fillings if each.place == place][-LAST_FILLINGS:]
    every: list[CageSum | FillingSum | CohortSum] = [*cohorts, *cages, *fillings]
    for each in every:
        yield from _rows(sum_title(each, plan, words), sum_lines(each, words), words)
    if not every:
        yield words.headed(about, words.t("yields.nothing_of_it"))
    if place in ahead.eggs.known:
        yield from _rows(words.t("yields.days_ahead"), cage_days(ahead, place, words), words)
        yield from _rows(words.t("yields.ahead"), week_lines(ahead, place, words), words)
    for harvest in ahead.larvae.bins:
        if harvest.place == place:
            yield from _headed(words.t("yields.ahead"), bin_sentence(harvest, words), words)


def _write_csv(site: SiteContext, target: Path) -> None:
    """The days of all places as CSV, into a new file."""
    book = book_of(site.store, site.plan, site.now_ms)
    now = yields_now(site.store, site.plan, book, site.now_ms)
    days = days_of_places(site.store, site.plan, now)
    write_new(target, days_csv(days, site.plan, site.words))
    say(site.words.t("yields.csv_written", file=str(target), count=len(days)), "good")
